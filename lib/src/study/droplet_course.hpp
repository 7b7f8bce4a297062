// The course of a drying droplet on its clock, which is that of all droplets of the same angles.
//
// A droplet of base radius R_0 is a function of sigma = clock / R_0^2 (docs/science/clocks.md). With t the
// tangent of half its angle and f(t) its evaporation factor, while the edge is pinned
//
//   dsigma/dt = -(1 + t^2) / (2 f),     dv/dsigma = -pi r f R_0^3 / V_0
//
// with v the volume and r the radius over the fresh ones.
#pragma once

#include <array>

#include "clock_kernel.hpp"

namespace wetspan::clocks {

struct DropletCourse {
  double contact = 0, receding_angle = 0;        // [rad]
  double fresh = 0, volume = 0;                  // t when landed; volume over R_0^3 [1]
  double pinned = 0;                             // sigma when the edge lets go
  double receding_share = 0;                     // volume left then
  double receding_factor = 0;                    // evaporation factor from then on
  double receding = 0;                           // fall of the base area with sigma
  std::array<double, course_terms> powers{};     // evaporation factor while pinned, in sigma / pinned
  std::array<double, course_terms + 1> share{};  // volume left, likewise
  double error = 0;                              // of the polynomial, relative

  DropletCourse() = default;
  DropletCourse(double contact_angle, double receding_to);

  struct Moment {
    double sigma;   // [1]
    double flow;    // evaporation factor x base radius, over the fresh one [1]
    double square;  // base area, likewise [1]
  };
  /// When that share of a droplet's volume is left.
  Moment when_left(double volume_share) const;
};

/// Of the droplets on a leaf; remembered until another leaf is asked for.
const DropletCourse& course_of(const Leaf& leaf);

}  // namespace wetspan::clocks
