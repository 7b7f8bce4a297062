#include "droplet_course.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "../polynomials.hpp"
#include "wetspan/plant/drying.hpp"

namespace wetspan::clocks {
namespace {

using std::numbers::pi;

/// Gauss-Legendre quadrature of order 8.
template <class Function>
double integral(Function function, double from, double to) {
  constexpr double x[] = {0.3399810435848563, 0.8611363115940526},
                   w[] = {0.6521451548625461, 0.3478548451374538};
  const double middle = 0.5 * (from + to), half = 0.5 * (to - from);
  double sum = 0.0;
  for (int i = 0; i < 2; ++i) sum += w[i] * (function(middle - half * x[i]) + function(middle + half * x[i]));
  return half * sum;
}

/// -dsigma/dt at t = tan(contact angle / 2), while the contact line is pinned.
double per_tangent(double t) { return 0.5 * (1.0 + t * t) / evaporation_factor(t); }

/// Increase of sigma while t falls from one value to another.
double between(double from, double to) {
  constexpr int pieces = 8;
  double sum = 0.0;
  for (int i = 0; i < pieces; ++i) {
    const double a = to + (from - to) * i / pieces, b = to + (from - to) * (i + 1) / pieces;
    sum += integral(per_tangent, a, b);
  }
  return sum;
}

}  // namespace

DropletCourse::DropletCourse(double contact_angle, double receding_to)
    : contact(contact_angle), receding_angle(receding_to) {
  fresh = std::tan(0.5 * contact);
  volume = cap_volume(fresh);
  double last = std::min(fresh, std::tan(0.5 * receding_angle));
  // A drop with less volume than this at the receding angle counts as dry long before it recedes, and it
  // would recede within a time too short to resolve. It stays pinned.
  constexpr double next_to_nothing = 1e-12;
  if (cap_volume(last) < next_to_nothing * volume) last = 0.0;
  receding_share = cap_volume(last) / volume;
  receding_factor = evaporation_factor(last);
  receding = receding_share > 0.0 ? 2.0 / 3.0 * pi * receding_factor / (volume * receding_share) : 0.0;
  pinned = between(fresh, last);
  std::array<double, course_terms> values = nodes<course_terms>();
  double t = fresh, sigma = 0.0;
  for (double& value : values) {
    const double target = 0.5 * pinned * (1.0 + value), above = t;
    for (int i = 0; i < 4; ++i) {  // Newton's method from the node before: the slope is the integrand itself
      const double miss = target - sigma - integral(per_tangent, t, above);
      t -= miss / per_tangent(t);
    }
    sigma = target;
    value = evaporation_factor(t);
  }
  const auto fitted = through(values);
  powers = shifted(fitted.powers);
  error = fitted.tail / receding_factor;
  share[0] = 1.0;  // and dv/dsigma = -pi f / volume
  for (std::size_t i = 0; i < powers.size(); ++i) {
    share[i + 1] = -pinned * pi / volume * powers[i] / static_cast<double>(i + 1);
  }
}

DropletCourse::Moment DropletCourse::when_left(double volume_share) const {
  if (volume_share < receding_share) {
    const double square = std::pow(volume_share / receding_share, 2.0 / 3.0);
    return {pinned + (1.0 - square) / receding, receding_factor * std::sqrt(square), square};
  }
  const Cap now = cap({.radius = 1.0, .fullness = fresh * (3.0 + fresh * fresh), .receding = receding_share},
                      volume_share);
  return {between(fresh, now.half_tangent), now.factor, 1.0};
}

const DropletCourse& course_of(const Leaf& leaf) {
  thread_local DropletCourse course;
  if (course.contact != leaf.contact_angle || course.receding_angle != leaf.receding_angle) {
    course = DropletCourse(leaf.contact_angle, leaf.receding_angle);
  }
  return course;
}

}  // namespace wetspan::clocks
