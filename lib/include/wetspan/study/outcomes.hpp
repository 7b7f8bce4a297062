// The table of what a simulation tells: one row per number, for datasets, reports and documentation.
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
  std::string_view shown;    ///< the unit people are shown
  std::string_view meaning;  ///< its long name
  double (*value)(const Outcome&);
};

/// Every row, in the order of the table.
std::span<const OutcomeVariable> outcome_variables();

/// Position in `outcome_variables()` of a name such as "uptake.root".
/// @throws InputError naming the nearest there is
std::size_t outcome_index(std::string_view name);

/// A column of a course over time, beside its `time`.
template <class Course>
struct CourseVariable {
  std::string_view name;
  std::string_view unit;     ///< SI
  std::string_view meaning;  ///< its long name
  std::vector<double> Course::* values;
};

/// Every column of a wet span's history but its time.
std::span<const CourseVariable<History>> history_variables();
/// Every column of the course of heights but its time.
std::span<const CourseVariable<HeightCourse>> height_variables();

/// A part of a whole, such as a place where the active ingredient is.
template <class Whole>
struct Part {
  std::string_view name;
  double Whole::* value;
};

/// Every place of an account of the active ingredient.
std::span<const Part<Account>> account_parts();
/// Every place in the plant.
std::span<const Part<InPlant>> plant_parts();

}  // namespace wetspan
