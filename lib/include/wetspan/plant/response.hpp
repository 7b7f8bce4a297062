// How much shorter a plant stays.
#pragma once

#include "wetspan/parameters.hpp"

namespace wetspan {

/// Active ingredient taken up by site; any one unit.
struct BySite {
  double leaf = 0, stem = 0, root = 0;

  double sum() const { return leaf + stem + root; }
  bool operator==(const BySite&) const = default;
};

/// The part of an uptake that reaches the growing tips, in its unit. What enters stem and root travels in the
/// xylem and reaches the tips with tip_share; what enters a mature blade stays there, so of the leaf uptake
/// only that of the leaves still growing acts.
BySite at_the_tips(const BySite& uptake, const Crop& crop);

/// Growth control [1], 1 - height / height of the untreated check, of a `dose` [kg per plant] at the growing
/// tips: log-logistic, largest_control / (1 + (half_dose / dose)^slope).
double growth_control(double dose, const Crop& crop);

}  // namespace wetspan
