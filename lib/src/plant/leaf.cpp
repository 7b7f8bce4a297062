#include "wetspan/plant/leaf.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>

#include "../properties/exact_air.hpp"
#include "../require.hpp"
#include "leaf_equations.hpp"
#include "wetspan/errors.hpp"

namespace wetspan {
namespace {

using One = Lanes<1>;

FreeAir<double> free_air_of(const ExactAir& of, const AirState& state) {
  return free_air<One>(of, state.temperature, air::vapour_density(state.vapour_pressure, state.temperature),
                       state.vapour_pressure, state.pressure, 1.0 / state.pressure, state.speed,
                       state.radiant_temperature);
}

}  // namespace

LeafTerms<double> leaf_terms(const Leaf& leaf, double light, const Views& views, double air_speed) {
  const double length = characteristic_length * leaf.width;
  const double strength = leaf.emissivity * constants::stefan_boltzmann;
  return {.forced = forced_nusselt * leaf.turbulence * std::sqrt(air_speed / length),
          .buoyancy = unstable_nusselt * std::sqrt(std::sqrt(constants::gravity / length)),
          .sun = leaf.absorptance * light,
          .above = strength * views.above,
          .below = strength * views.below};
}

StomataTerms<double> stomata_terms(const Leaf& leaf) {
  return {.open = leaf.stomatal_conductance, .half_light = leaf.stomatal_half_light};
}

CylinderTerms<double> cylinder_terms(double diameter, double air_speed) {
  const double sweep = diameter * air_speed;
  return {
      .root_diameter = std::sqrt(sweep), .turbulence = std::pow(sweep, 0.625), .by_diameter = 1.0 / diameter};
}

double dry_leaf_temperature(const Leaf& leaf, double sun, const Views& views, const AirState& state,
                            air::VapourDiffusivity diffusivity) {
  check(state);
  require("absorbed sun", sun, 0.0, 1e4, "W/m2");
  require("view of the cover", views.above, 0.0, 1.0, "");
  require("view of the ground", views.below, 0.0, 1.0, "");
  const ExactAir of{diffusivity};
  const FreeAir<double> air = free_air_of(of, state);
  const LeafTerms<double> terms = leaf_terms(leaf, 0.0, views, 1.0);
  const auto gain = [&](double temperature) {
    const auto surface = leaf_surface<One>(of, terms, temperature, air::saturation_pressure(temperature),
                                           air.vapour_pressure, air);
    return dry_heat_gain<One>(terms, stomata_terms(leaf), surface, air, sun);
  };
  const double found = dry_leaf<One>(gain, state.temperature, state.temperature - colder_leaf,
                                     state.temperature + hotter_leaf, true);
  if (std::isnan(found)) {
    std::ostringstream message;
    message << "no temperature of a dry leaf within -" << colder_leaf << " to +" << hotter_leaf
            << " K of its air balances " << state.shortwave << " W/m2 of shortwave at " << state.speed
            << " m/s: check shortwave, surroundings and air speed";
    throw InputError(message.str());
  }
  return found;
}

}  // namespace wetspan
