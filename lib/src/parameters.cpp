#include "wetspan/parameters.hpp"

#include <cmath>
#include <sstream>
#include <string>
#include <vector>

#include "parameter_rows.hpp"
#include "wetspan/errors.hpp"

namespace wetspan {
namespace {

std::vector<Parameter> collect() {
  std::vector<Parameter> rows;
#define WETSPAN_ROWS(member, Type, table, about) WETSPAN_ADD_ROWS(rows, #member, table)
  WETSPAN_SECTIONS(WETSPAN_ROWS)
#undef WETSPAN_ROWS
  return rows;
}

constexpr Section section_rows[] = {
#define WETSPAN_SECTION(member, Type, table, about) Section{#member, about},
    WETSPAN_SECTIONS(WETSPAN_SECTION)
#undef WETSPAN_SECTION
};

[[noreturn]] void refuse(const Parameter& row, double value, const std::string& reason) {
  std::ostringstream message;
  message << key_of(row) << " = " << value << (row.unit == "1" ? "" : " ")
          << (row.unit == "1" ? "" : row.unit) << " " << reason;
  if (row.unit == "K" && value > -60.0 && value < 130.0) {
    message << ": temperatures are in kelvin here; did you mean " << value << " degC?";
  } else if (row.shown == "percent" && value > 1.0 && value <= 100.0) {
    message << ": it is a share of 1; did you mean " << value / 100.0 << "?";
  }
  throw InputError(message.str());
}

}  // namespace

std::span<const Parameter> parameters() {
  static const std::vector<Parameter> rows = collect();
  return rows;
}

std::span<const Section> sections() { return section_rows; }

std::string key_of(const Parameter& row) { return std::string(row.section) + "." + std::string(row.name); }

void check(const Parameter& row, double value) {
  if (!std::isfinite(value)) refuse(row, value, "is not a finite number");
  if (value < row.low || value > row.high) {
    const bool below = value < row.low;
    std::ostringstream reason;
    reason << "is " << (below ? "below " : "above ") << (below ? row.low : row.high);
    if (row.unit != "1") reason << " " << row.unit;
    refuse(row, value, reason.str());
  }
  if (row.kind != Kind::number && value != std::floor(value)) refuse(row, value, "is not a whole number");
}

}  // namespace wetspan
