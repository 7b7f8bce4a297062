// The table of all numbers in an outcome, one row per number, for datasets, reports and documentation.
#pragma once

#include <cstddef>
#include <span>
#include <string_view>
#include <vector>

#include "wetspan/study/simulate.hpp"

namespace wetspan {

/// One number of an outcome. A dotted name belongs to a group: "uptake.root" is `root` among `uptake`.
struct OutcomeVariable {
  std::string_view name;
  std::string_view unit;     ///< SI
  std::string_view shown;    ///< unit for display
  std::string_view meaning;  ///< its long name
  double (*value)(const Outcome&);
};

/// Every row, in the order of the table.
std::span<const OutcomeVariable> outcome_variables();

/// Position in `outcome_variables()` of a name such as "uptake.root".
/// @throws InputError that suggests the nearest valid name
std::size_t outcome_index(std::string_view name);

/// A column of a time series other than its `time`.
template <class Course>
struct CourseVariable {
  std::string_view name;
  std::string_view unit;     ///< SI
  std::string_view meaning;  ///< its long name
  std::vector<double> Course::* values;
};

/// Every column of a wet span's history except time.
std::span<const CourseVariable<History>> history_variables();
/// Every column of the time series of heights except time.
std::span<const CourseVariable<HeightCourse>> height_variables();

/// A part of a total, such as one place where active ingredient is found.
template <class Whole>
struct Part {
  std::string_view name;
  double Whole::* value;
};

/// Every part of the mass balance of the active ingredient.
std::span<const Part<Account>> account_parts();
/// Every part of the active ingredient in the plant.
std::span<const Part<InPlant>> plant_parts();

}  // namespace wetspan
