// The table of what a simulation tells: one row per number, for datasets, reports and documentation.
#pragma once

#include <cstddef>
#include <span>
#include <string_view>

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

}  // namespace wetspan
