#include "wetspan/plant/leaf.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>

#include "wetspan/errors.hpp"
#include "wetspan/properties/constants.hpp"
#include "wetspan/properties/water.hpp"

namespace wetspan {
namespace {

double fourth_power(double x) { return (x * x) * (x * x); }

/// Slope of saturation vapour density with temperature [kg/m3/K].
double vapour_density_slope(double temperature) {
  return air::vapour_density(air::saturation_pressure_slope(temperature), temperature) -
         air::saturation_vapour_density(temperature) / temperature;
}

}  // namespace

BoundaryLayers boundary_layers(double surface, double surface_vapour_pressure, const AirState& state,
                               double width, double turbulence, air::VapourDiffusivity diffusivity) {
  const double film = 0.5 * (surface + state.temperature);
  const double film_vapour = 0.5 * (surface_vapour_pressure + state.vapour_pressure);
  const double length = 0.72 * width;
  const double viscosity = air::kinematic_viscosity(film, film_vapour, state.pressure);
  const double heat_diffusivity = air::thermal_diffusivity(film, film_vapour, state.pressure);
  const double vapour_diffusivity = air::vapour_diffusivity(film, state.pressure, diffusivity);
  const double to_heat = air::thermal_conductivity(film) / length;
  const double to_vapour = std::cbrt(heat_diffusivity / vapour_diffusivity) * vapour_diffusivity / length;

  const double forced = 0.664 * turbulence * std::sqrt(state.speed * length / viscosity) *
                        std::cbrt(viscosity / heat_diffusivity);
  const double lighter = air::virtual_temperature(surface, surface_vapour_pressure, state.pressure) -
                         air::virtual_temperature(state.temperature, state.vapour_pressure, state.pressure);
  const double rayleigh = constants::gravity * std::abs(lighter) / film * length * length * length /
                          (viscosity * heat_diffusivity);
  const double buoyant = std::sqrt(std::sqrt(rayleigh));

  const auto mixed = [&](bool unstable) -> Conductance {
    constexpr double n = 3.5;
    const double free = (unstable ? 0.54 : 0.27) * buoyant;
    const double larger = std::max(forced, free), smaller = std::min(forced, free);
    const double nusselt =
        larger > 0.0 ? larger * std::pow(1.0 + std::pow(smaller / larger, n), 1.0 / n) : 0.0;
    return {.heat = nusselt * to_heat, .vapour = nusselt * to_vapour};
  };
  return {.upper = mixed(lighter > 0.0), .lower = mixed(lighter < 0.0)};
}

double absorbed_shortwave(double shortwave, const Leaf& leaf, const Canopy& canopy) {
  return shortwave * leaf.absorptance * outward_view(canopy);
}

double outward_view(const Canopy& canopy) { return leaf_interception(canopy) / leaf_area_index(canopy); }

double longwave(double leaf_temperature, const AirState& state, double view, double emissivity) {
  return view * emissivity * constants::stefan_boltzmann *
         (fourth_power(state.radiant_temperature) + fourth_power(state.temperature) -
          2.0 * fourth_power(leaf_temperature));
}

double stomatal_conductance(double absorbed, const Leaf& leaf) {
  return leaf.stomatal_conductance * absorbed / (absorbed + leaf.stomatal_half_light);
}

double dry_leaf_temperature(const Leaf& leaf, const Canopy& canopy, const AirState& state,
                            air::VapourDiffusivity diffusivity) {
  const double sun = absorbed_shortwave(state.shortwave, leaf, canopy), view = outward_view(canopy);
  const double stomata = stomatal_conductance(sun, leaf);
  const double air_vapour = air::vapour_density(state.vapour_pressure, state.temperature);
  const auto surplus = [&](double temperature) {
    const auto [upper, lower] =
        boundary_layers(temperature, state.vapour_pressure, state, leaf.width, leaf.turbulence, diffusivity);
    const double driver = std::max(0.0, air::saturation_vapour_density(temperature) - air_vapour);
    const double series =
        stomata + lower.vapour > 0.0 ? stomata * lower.vapour / (stomata + lower.vapour) : 0.0;
    return sun + longwave(temperature, state, view, leaf.emissivity) -
           (upper.heat + lower.heat) * (temperature - state.temperature) -
           water::latent_heat(temperature) * series * driver;
  };
  double low = state.temperature - 30.0, high = state.temperature + 40.0;
  if (surplus(low) < 0.0 || surplus(high) > 0.0) {
    std::ostringstream message;
    message << "no temperature of a dry leaf within -30 to +40 K of its air balances " << state.shortwave
            << " W/m2 of shortwave at " << state.speed << " m/s: check shortwave, surroundings and air speed";
    throw InputError(message.str());
  }
  while (high - low > 1e-6) {
    const double middle = 0.5 * (low + high);
    (surplus(middle) > 0.0 ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

double adiabatic_evaporation(const AirState& state, Conductance layer) {
  const double deficit = air::saturation_vapour_density(state.temperature) -
                         air::vapour_density(state.vapour_pressure, state.temperature);
  const double latent =
      water::latent_heat(state.temperature) * layer.vapour * vapour_density_slope(state.temperature);
  return layer.vapour * deficit * (layer.heat > 0.0 ? layer.heat / (layer.heat + latent) : 0.0);
}

}  // namespace wetspan
