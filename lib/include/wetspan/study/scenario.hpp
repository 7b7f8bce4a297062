// A scenario: one value of every input in the table. A plain value: compare, copy, change, save.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

#include "wetspan/parameters.hpp"

namespace wetspan {

/// Everything one application needs to be computed, in SI. Members and defaults come from parameters.hpp.
struct Scenario {
#define WETSPAN_SECTION_MEMBER(member, Type, table, about) Type member{};
  WETSPAN_SECTIONS(WETSPAN_SECTION_MEMBER)
#undef WETSPAN_SECTION_MEMBER
  bool operator==(const Scenario&) const = default;
};

/// Position in `parameters()` of a key such as "air.temperature".
/// Throws InputError naming the nearest key there is.
std::size_t parameter_index(std::string_view key);

/// The value of input `index`, in the table's unit; a choice by its position, a toggle as 0 or 1.
double get(const Scenario& scenario, std::size_t index);

/// Sets input `index`. Throws InputError when the value is not allowed, leaving the scenario as it was.
void set(Scenario& scenario, std::size_t index, double value);

/// Throws InputError on the first value out of bounds or the first two inputs that contradict each other.
void check(const Scenario& scenario);

}  // namespace wetspan
