// Drying of a droplet as a function of its clock. It is the same function for all droplets with the same
// contact angles.
//
// The state of a droplet of base radius R_0 is a function of sigma = clock / R_0^2 (docs/science/clocks.md).
// With t = tan(contact angle / 2) and the evaporation factor f(t), it obeys, while the contact line is
// pinned,
//
//   dsigma/dt = -(1 + t^2) / (2 f),     dv/dsigma = -pi r f R_0^3 / V_0
//
// with v the volume and r the base radius, relative to the fresh droplet.
#pragma once

#include <array>

#include "clock_kernel.hpp"

namespace wetspan::clocks {

struct DropletCourse {
  double contact = 0, receding_angle = 0;        // [rad]
  double fresh = 0, volume = 0;                  // t when landed; volume over R_0^3 [1]
  double pinned = 0;                             // sigma at which the contact line begins to recede
  double receding_share = 0;                     // share of the volume left at that time
  double receding_factor = 0;                    // evaporation factor from then on
  double receding = 0;                           // rate of decrease of the base area with sigma
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
  /// The state of a droplet when `volume_share` of its volume is left.
  Moment when_left(double volume_share) const;
};

/// The function for droplets on a leaf. The last result is cached.
const DropletCourse& course_of(const Leaf& leaf);

}  // namespace wetspan::clocks
