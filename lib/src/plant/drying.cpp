#include "wetspan/plant/drying.hpp"

#include <cmath>
#include <numbers>

namespace wetspan {

using std::numbers::pi;

double evaporation_factor(double half_tangent) {
  // cos(theta/2) f(theta) in powers of x = 2 theta / pi - 1
  constexpr double c[] = {1.41421356237,      -1.60632320327e-08, -0.0913311165472,  0.0611501684473,
                          0.00880747755774,   -0.00397156955907,  -0.00175042237645, -0.000648353365204,
                          -0.000227050656142, -6.59997458937e-05, 2.86488391337e-05, 6.31796437973e-05,
                          2.58563349991e-05};
  const double t = std::abs(half_tangent);
  const double x = std::atan(t) * (4.0 / pi) - 1.0;
  double sum = 0.0;
  for (int i = 12; i >= 0; --i) sum = sum * x + c[i];
  return sum * std::sqrt(1.0 + t * t);
}

double cap_volume(double half_tangent) {
  return pi / 6.0 * half_tangent * (3.0 + half_tangent * half_tangent);
}

Cap cap(const DropletClass& droplets, double share) {
  if (share < droplets.receding) {
    return {.radius = droplets.radius * std::cbrt(std::max(share, 0.0) / droplets.receding),
            .half_tangent = droplets.receding_tan,
            .factor = droplets.receding_factor};
  }
  // t^3 + 3 t = q has the one real root u - 1/u with u^3 = q/2 + sqrt(q^2/4 + 1), here without cancellation
  const double half = 0.5 * std::abs(share) * droplets.fullness;
  const double u = std::cbrt(half + std::sqrt(half * half + 1.0)), square = u * u;
  const double t = std::copysign(2.0 * half / (square + 1.0 + 1.0 / square), share);
  return {.radius = droplets.radius, .half_tangent = t, .factor = evaporation_factor(t)};
}

std::vector<DropletClass> deposit(const Spectrum& spectrum, double landed, double contact_angle,
                                  double receding_angle) {
  const double fresh = std::tan(0.5 * contact_angle), receding = std::tan(0.5 * receding_angle);
  std::vector<DropletClass> classes;
  if (landed <= 0.0) return classes;
  const double of_cap = cap_volume(fresh), radius = std::cbrt(pi / 6.0 / of_cap);  // over the diameter
  const double receding_share = cap_volume(receding) / of_cap, factor = evaporation_factor(receding);
  classes.reserve(spectrum.diameter.size());
  for (std::size_t i = 0; i < spectrum.diameter.size(); ++i) {
    const double diameter = spectrum.diameter[i], liquid = landed * spectrum.volume_share[i];
    if (liquid <= 0.0) continue;
    classes.push_back({.landed = liquid,
                       .number = liquid / (pi / 6.0 * diameter * diameter * diameter),
                       .radius = radius * diameter,
                       .fullness = fresh * (3.0 + fresh * fresh),
                       .receding = receding_share,
                       .receding_tan = receding,
                       .receding_factor = factor});
  }
  return classes;
}

double wet_share(double disc_area) { return -std::expm1(-disc_area); }

}  // namespace wetspan
