#include "wetspan/parameters.hpp"

#include <type_traits>
#include <vector>

namespace wetspan {
namespace {

template <class Type>
constexpr Kind kind_of() {
  if constexpr (std::is_enum_v<Type>) return Kind::choice;
  else if constexpr (std::is_same_v<Type, bool>) return Kind::toggle;
  else if constexpr (std::is_same_v<Type, int>) return Kind::count;
  else return Kind::number;
}

std::vector<Parameter> collect() {
  std::vector<Parameter> rows;
#define WETSPAN_ROW(type, name, standard, low, high, spread, unit, shown, grade, source, meaning)          \
  rows.push_back({section, #name, kind_of<type>(), static_cast<double>(standard), low, high, spread, unit, \
                  shown, Grade::grade, source, meaning, choice_names<type>});
#define WETSPAN_ROWS(member, Type, table, about)  \
  {                                               \
    constexpr std::string_view section = #member; \
    table(WETSPAN_ROW)                            \
  }
  WETSPAN_SECTIONS(WETSPAN_ROWS)
#undef WETSPAN_ROWS
#undef WETSPAN_ROW
  return rows;
}

constexpr Section section_rows[] = {
#define WETSPAN_SECTION(member, Type, table, about) Section{#member, about},
    WETSPAN_SECTIONS(WETSPAN_SECTION)
#undef WETSPAN_SECTION
};

}  // namespace

std::span<const Parameter> parameters() {
  static const std::vector<Parameter> rows = collect();
  return rows;
}

std::span<const Section> sections() { return section_rows; }

}  // namespace wetspan
