// Range check of numbers: a number outside the allowed range gives an InputError that states the number and
// the range.
#pragma once

#include <sstream>
#include <string_view>

#include "wetspan/errors.hpp"

namespace wetspan {

/// Returns `value` if low <= value <= high; throws InputError otherwise, and for NaN.
inline double require(std::string_view name, double value, double low, double high, std::string_view unit) {
  if (value >= low && value <= high) return value;
  std::ostringstream message;
  message << name << " = " << value << ' ' << unit << " is outside " << low << " .. " << high << ' ' << unit;
  throw InputError(message.str());
}

}  // namespace wetspan
