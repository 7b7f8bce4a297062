// One door for numbers: inside the allowed range, or an InputError that says what was given and what is
// allowed.
#pragma once

#include <sstream>
#include <string_view>

#include "wetspan/errors.hpp"

namespace wetspan {

/// `value` if low <= value <= high; NaN is refused.
inline double require(std::string_view name, double value, double low, double high, std::string_view unit) {
  if (value >= low && value <= high) return value;
  std::ostringstream message;
  message << name << " = " << value << ' ' << unit << " is outside " << low << " .. " << high << ' ' << unit;
  throw InputError(message.str());
}

}  // namespace wetspan
