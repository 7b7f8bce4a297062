// A scenario: one value of every input in the table. A plain value: compare, copy, change, save.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "wetspan/parameters.hpp"

namespace wetspan {

/// One application of a calendar.
struct Treatment {
  /// An input that differs from the scenario's.
  struct Change {
    std::size_t input = 0;  ///< position in parameters()
    double value = 0;       ///< in the table's unit
    bool operator==(const Change&) const = default;
  };
  double at = 0;  ///< after the start of growth [s]
  std::vector<Change> changes;
  bool operator==(const Treatment&) const = default;
};

/// Everything that is needed to compute what is applied to a crop and what it comes to, in SI. Members and
/// defaults come from parameters.hpp.
struct Scenario {
#define WETSPAN_SECTION_MEMBER(member, Type, table, about) Type member{};
  WETSPAN_SECTIONS(WETSPAN_SECTION_MEMBER)
#undef WETSPAN_SECTION_MEMBER
  /// The calendar, in the order of time; none: one application as the scenario tells it, at the start of
  /// growth.
  std::vector<Treatment> applications;

  bool operator==(const Scenario&) const = default;
};

/// Position in `parameters()` of a key such as "air.temperature".
/// Throws InputError naming the nearest key there is.
std::size_t parameter_index(std::string_view key);

/// The value of input `index`, in the table's unit; a choice by its position, a toggle as 0 or 1.
double get(const Scenario& scenario, std::size_t index);

/// Sets input `index`. Throws InputError when the value is not allowed, leaving the scenario as it was.
void set(Scenario& scenario, std::size_t index, double value);

/// The applications of a scenario, each as a scenario of its own without a calendar, and their times [s after
/// the start of growth].
struct Applications {
  std::vector<Scenario> scenarios;
  std::vector<double> times;
};
Applications applications_of(const Scenario& scenario);  ///< one alone where there is no calendar

/// Whether an application may differ from the scenario's in input `index`: what is applied, the way it is
/// applied, and the canopy it meets may; the house, the active ingredient, the crop and the substrate are the
/// same for all.
bool may_change(std::size_t index);

/// Throws InputError on the first value out of bounds, the first two inputs that contradict each other, and a
/// calendar out of order, beyond uptake.horizon, or that changes what no application may.
void check(const Scenario& scenario);

}  // namespace wetspan
