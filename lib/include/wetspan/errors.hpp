// One exception type per kind of failure. Each message states what was given, what is allowed, and what to
// do. Python has the same types.
#pragma once

#include <stdexcept>
#include <string>

namespace wetspan {

/// An input outside what the model allows: wrong name, wrong kind, out of bounds, inconsistent.
struct InputError : std::invalid_argument {
  using std::invalid_argument::invalid_argument;
};

/// An integration that could not be finished within its step bounds. The message gives the time reached, the
/// state, and the input that most likely caused the failure.
struct IntegrationError : std::runtime_error {
  using std::runtime_error::runtime_error;
};

}  // namespace wetspan
