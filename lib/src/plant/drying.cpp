#include "wetspan/plant/drying.hpp"

#include <cmath>
#include <limits>
#include <numbers>

#include "../require.hpp"
#include "droplet_equations.hpp"

namespace wetspan {

using std::numbers::pi;

double evaporation_factor(double half_tangent) {
  return evaporation_factor_of<Lanes<1>>(std::abs(half_tangent));
}

double cap_volume(double half_tangent) {
  return pi / 6.0 * half_tangent * (3.0 + half_tangent * half_tangent);
}

DropletAngles angles_of(const DropletClass& droplets) {
  return {.fullness = droplets.fullness,
          .receding = droplets.receding,
          .receding_tan = droplets.receding_tan,
          .receding_factor = droplets.receding_factor};
}

Cap cap(const DropletClass& droplets, double share) {
  const CapShape<double> shape = cap_shape<Lanes<1>>(angles_of(droplets), share);
  return {
      .radius = droplets.radius * shape.radius, .half_tangent = shape.half_tangent, .factor = shape.factor};
}

std::vector<DropletClass> deposit(const Spectrum& spectrum, double landed, double contact_angle,
                                  double receding_angle) {
  require_finite("a deposit", landed);
  require("contact_angle", contact_angle, 1e-3, 3.14, "rad");
  require("receding_angle", receding_angle, 0.0, 3.14, "rad");
  if (spectrum.diameter.size() != spectrum.volume_share.size())
    throw InputError("a spectrum needs as many volume shares as diameters");
  const double fresh = std::tan(0.5 * contact_angle), receding = std::tan(0.5 * receding_angle);
  std::vector<DropletClass> classes;
  if (landed <= 0.0) return classes;
  const double of_cap = cap_volume(fresh), radius = std::cbrt(pi / 6.0 / of_cap);  // over the diameter
  const double receding_share = cap_volume(receding) / of_cap, factor = evaporation_factor(receding);
  classes.reserve(spectrum.diameter.size());
  for (std::size_t i = 0; i < spectrum.diameter.size(); ++i) {
    const double diameter = spectrum.diameter[i], liquid = landed * spectrum.volume_share[i];
    if (liquid <= 0.0) continue;
    require_finite("a share of a spectrum", liquid);
    require("diameter", diameter, std::numeric_limits<double>::min(), 1e-2, "m");
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
