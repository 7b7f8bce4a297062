// How much shorter a plant stays.
#pragma once

#include <vector>

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

/// Heights over the weeks after the spray, of a treated plant and the untreated check.
struct HeightCourse {
  std::vector<double> time;       ///< [s]
  std::vector<double> untreated;  ///< [m]
  std::vector<double> treated;    ///< [m]
  std::vector<double> inhibited;  ///< share of the untreated plant's growth that is held back [1]
};

/// The course of heights from the spray to `horizon` [s], at `points` moments evenly spaced.
///
/// The untreated check grows from initial_height to final_height, at the horizon, along a logistic curve. The
/// substance at the tips arrives at once through leaf and stem and at the rate `root_rate` [1/s] through the
/// root, and is lost at ln 2 / tip_half_life; growth is held back in proportion to it, at most wholly. The
/// factor of proportion is the one that gives `control` at the horizon, so the course spreads the growth
/// control over time and adds nothing to it. Grade D in shape: a logistic of steepness 8 over
/// the horizon, its middle at 0.45 of it.
///
/// Throws InputError for a horizon not above 0 or fewer than two points, and when plants cannot end there: a
/// check that stands at initial_height at the spray can be held back by 1 - initial_height / final_height at
/// most.
HeightCourse heights(const Crop& crop, const BySite& tips, double root_rate, double control, double horizon,
                     int points = 57);

}  // namespace wetspan
