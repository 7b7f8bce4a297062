// A scenario holds one value for every input in the table. It is a plain value type: it can be compared,
// copied, changed and saved.
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

/// All inputs of a simulation, in SI units. Members and defaults come from parameters.hpp.
struct Scenario {
#define WETSPAN_SECTION_MEMBER(member, Type, table, about) Type member{};
  WETSPAN_SECTIONS(WETSPAN_SECTION_MEMBER)
#undef WETSPAN_SECTION_MEMBER
  /// The calendar, in the order of time. If it is empty there is one application, at the start of growth,
  /// with the inputs of the scenario.
  std::vector<Treatment> applications;

  bool operator==(const Scenario&) const = default;
};

/// Position in `parameters()` of a key such as "air.temperature".
/// Throws InputError that suggests the nearest valid key.
std::size_t parameter_index(std::string_view key);

/// The value of input `index`, in the table's unit; a choice is given by its index, a toggle as 0 or 1.
double get(const Scenario& scenario, std::size_t index);

/// Sets input `index`. Throws InputError and leaves the scenario unchanged when the value is not allowed.
void set(Scenario& scenario, std::size_t index, double value);

/// The applications of a scenario, each as a scenario of its own without a calendar, and their times [s after
/// the start of growth].
struct Applications {
  std::vector<Scenario> scenarios;
  std::vector<double> times;
};
/// The applications of the calendar, or a single one if there is no calendar.
Applications applications_of(const Scenario& scenario);

/// Whether an application may differ from the scenario in input `index`. The application, its method and the
/// canopy may differ; the house, the active ingredient, the crop and the substrate are common to all.
bool may_change(std::size_t index);

/// Throws InputError for the first value out of bounds, for the first two inputs that contradict each other,
/// and for a calendar that is not in the order of time, extends beyond uptake.horizon, or changes an input
/// that `may_change` does not allow.
void check(const Scenario& scenario);

}  // namespace wetspan
