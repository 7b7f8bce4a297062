// Range check of numbers: a number outside the allowed range gives an InputError that states the number and
// the range.
#pragma once

#include <cmath>
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

/// Returns `value` if it is finite; throws InputError otherwise.
inline double require_finite(std::string_view name, double value) {
  if (std::isfinite(value)) return value;
  std::ostringstream message;
  message << name << " = " << value << " is not a finite number";
  throw InputError(message.str());
}

/// Returns `value` if it is finite and at least 0; throws InputError otherwise.
inline double require_amount(std::string_view name, double value) {
  if (value >= 0.0) return require_finite(name, value);
  std::ostringstream message;
  message << name << " = " << value << " is below 0, or not a number";
  throw InputError(message.str());
}

/// Returns `value` if it is finite and above 0; throws InputError otherwise.
inline double require_above_zero(std::string_view name, double value) {
  if (value > 0.0 && std::isfinite(value)) return value;
  std::ostringstream message;
  message << name << " = " << value << " must be above 0 and finite";
  throw InputError(message.str());
}

}  // namespace wetspan
