// Inputs of the smaller tables (jug, bench), given by name.
#pragma once

#include <cmath>
#include <map>
#include <string>
#include <type_traits>

#include "wetspan/errors.hpp"

using Inputs = std::map<std::string, double>;

/// Sets a member of a table; whole numbers and choices, by their position, are whole.
template <class Type>
void assign(Type& member, double value, const char* name) {
  if constexpr (std::is_same_v<Type, double>) {
    member = value;
  } else {
    if (!(std::abs(value) < 2e9) || value != std::floor(value)) {
      throw wetspan::InputError(std::string(name) + " = " + std::to_string(value) + " is not a whole number");
    }
    member = static_cast<Type>(static_cast<int>(value));
  }
}

/// A row of a table read into `to` where `inputs` name it.
#define WETSPAN_TAKE(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  if (const auto found = inputs.find(#name); found != inputs.end()) assign(to.name, found->second, #name);
