// Macros for the tables of inputs: they turn a row into a Parameter, and check the members of a struct
// against the rows that declare them.
#pragma once

#include <string_view>
#include <type_traits>

#include "wetspan/parameters.hpp"

namespace wetspan {

template <class Type>
constexpr Kind kind_of() {
  if constexpr (std::is_enum_v<Type>) return Kind::choice;
  else if constexpr (std::is_same_v<Type, bool>) return Kind::toggle;
  else if constexpr (std::is_same_v<Type, int>) return Kind::count;
  else return Kind::number;
}

}  // namespace wetspan

/// A row of a table as a Parameter; `section` must be in scope.
#define WETSPAN_ROW(type, name, standard, low, high, spread, unit, shown, grade, source, meaning)   \
  Parameter {                                                                                       \
    section, #name, kind_of<type>(), static_cast<double>(standard), low, high, spread, unit, shown, \
        Grade::grade, source, meaning, choice_names<type>                                           \
  }

#define WETSPAN_ADD_ROW(...) add(WETSPAN_ROW(__VA_ARGS__));
/// Appends the rows of `table` to `rows`.
#define WETSPAN_ADD_ROWS(rows, name, table)                              \
  {                                                                      \
    constexpr std::string_view section = name;                           \
    const auto add = [&](const Parameter& row) { rows.push_back(row); }; \
    table(WETSPAN_ADD_ROW)                                               \
  }

#define WETSPAN_CHECK_ROW(type, name, ...) \
  check(WETSPAN_ROW(type, name, __VA_ARGS__), static_cast<double>(value.name));
/// Checks the members of `value` against the rows of `table`.
#define WETSPAN_CHECK_ROWS(name, table)      \
  constexpr std::string_view section = name; \
  table(WETSPAN_CHECK_ROW)
