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

/// The air between a surface and the free air, at their mean.
struct Film {
  double temperature, viscosity, conductivity, heat_diffusivity;
  double vapour_conductivity;  // what the conductivity is for heat: Sh D, over Nu, by Sh = Nu (Sc/Pr)^(1/3)
                               // [m2/s]

  Film(double surface, double surface_vapour_pressure, const AirState& state,
       air::VapourDiffusivity diffusivity)
      : temperature(0.5 * (surface + state.temperature)) {
    const double vapour = 0.5 * (surface_vapour_pressure + state.vapour_pressure);
    const double density = air::density(temperature, vapour, state.pressure);
    viscosity = air::dynamic_viscosity(temperature) / density;
    conductivity = air::thermal_conductivity(temperature);
    heat_diffusivity =
        conductivity / (density * air::specific_heat(air::humidity_ratio(vapour, state.pressure)));
    const double vapour_diffusivity = air::vapour_diffusivity(temperature, state.pressure, diffusivity);
    vapour_conductivity = std::cbrt(heat_diffusivity / vapour_diffusivity) * vapour_diffusivity;
  }

  double prandtl() const { return viscosity / heat_diffusivity; }

  /// Conductances of a Nusselt number over `length` [m].
  Conductance conductance(double nusselt, double length) const {
    return {.heat = nusselt * conductivity / length, .vapour = nusselt * vapour_conductivity / length};
  }
};

}  // namespace

BoundaryLayers boundary_layers(double surface, double surface_vapour_pressure, const AirState& state,
                               double width, double turbulence, air::VapourDiffusivity diffusivity) {
  const Film film(surface, surface_vapour_pressure, state, diffusivity);
  const double length = 0.72 * width;
  const double forced =
      0.664 * turbulence * std::sqrt(state.speed * length / film.viscosity) * std::cbrt(film.prandtl());
  const double lighter = air::virtual_temperature(surface, surface_vapour_pressure, state.pressure) -
                         air::virtual_temperature(state.temperature, state.vapour_pressure, state.pressure);
  const double rayleigh = constants::gravity * std::abs(lighter) / film.temperature * length * length *
                          length / (film.viscosity * film.heat_diffusivity);
  const double buoyant = std::sqrt(std::sqrt(rayleigh));

  const auto mixed = [&](bool unstable) {
    const double free = (unstable ? 0.54 : 0.27) * buoyant;
    const double larger = std::max(forced, free), smaller = std::min(forced, free);
    const double ratio = larger > 0.0 ? smaller / larger : 0.0;
    return film.conductance(larger * std::pow(1.0 + ratio * ratio * ratio * std::sqrt(ratio), 1.0 / 3.5),
                            length);
  };
  return {.upper = mixed(lighter > 0.0), .lower = mixed(lighter < 0.0)};
}

Conductance cylinder_layer(const AirState& state, double diameter, air::VapourDiffusivity diffusivity) {
  const Film film(state.temperature, state.vapour_pressure, state, diffusivity);
  const double reynolds = state.speed * diameter / film.viscosity, prandtl = film.prandtl();
  const double laminar = 0.62 * std::sqrt(reynolds) * std::cbrt(prandtl) /
                         std::sqrt(std::sqrt(1.0 + std::cbrt(0.16 / (prandtl * prandtl))));
  const double turbulent = std::pow(1.0 + std::pow(reynolds / 282e3, 0.625), 0.8);
  return film.conductance(0.3 + laminar * turbulent, diameter);
}

double longwave(double leaf_temperature, const AirState& state, const Views& views, double emissivity) {
  const double leaf = fourth_power(leaf_temperature);
  return emissivity * constants::stefan_boltzmann *
         (views.above * (fourth_power(state.radiant_temperature) - leaf) +
          views.below * (fourth_power(state.temperature) - leaf));
}

double stomatal_conductance(double absorbed, const Leaf& leaf) {
  return leaf.stomatal_conductance * absorbed / (absorbed + leaf.stomatal_half_light);
}

double dry_leaf_temperature(const Leaf& leaf, double sun, const Views& views, const AirState& state,
                            air::VapourDiffusivity diffusivity) {
  const double stomata = stomatal_conductance(sun, leaf);
  const double air_vapour = air::vapour_density(state.vapour_pressure, state.temperature);
  const auto surplus = [&](double temperature) {
    const auto [upper, lower] =
        boundary_layers(temperature, state.vapour_pressure, state, leaf.width, leaf.turbulence, diffusivity);
    const double driver = std::max(0.0, air::saturation_vapour_density(temperature) - air_vapour);
    const double series =
        stomata + lower.vapour > 0.0 ? stomata * lower.vapour / (stomata + lower.vapour) : 0.0;
    return sun + longwave(temperature, state, views, leaf.emissivity) -
           (upper.heat + lower.heat) * (temperature - state.temperature) -
           water::latent_heat(temperature) * series * driver;
  };
  // It falls all the way, but for the stillest air: the secant method, by halves where that would leave what
  // is known to hold the root.
  const double coldest = state.temperature - 30.0, hottest = state.temperature + 40.0;
  double low = coldest, high = hottest, at = state.temperature, is = surplus(at);
  double next = at + is / 25.0;  // leaves give off some 25 W/m2/K
  for (int i = 0; i < 100; ++i) {
    (is > 0.0 ? low : high) = at;
    if (!(next >= low && next <= high)) next = 0.5 * (low + high);
    const double step = next - at, was = is;
    at = next;
    if (std::abs(step) < 1e-6) break;
    is = surplus(at);
    next = at - is * step / (is - was);
  }
  if (at - coldest < 1e-3 || hottest - at < 1e-3) {
    std::ostringstream message;
    message << "no temperature of a dry leaf within -30 to +40 K of its air balances " << state.shortwave
            << " W/m2 of shortwave at " << state.speed << " m/s: check shortwave, surroundings and air speed";
    throw InputError(message.str());
  }
  return at;
}

double adiabatic_evaporation(const AirState& state, Conductance layer) {
  const double deficit = air::saturation_vapour_density(state.temperature) -
                         air::vapour_density(state.vapour_pressure, state.temperature);
  const double latent = water::latent_heat(state.temperature) * layer.vapour *
                        air::saturation_vapour_density_slope(state.temperature);
  return layer.vapour * deficit * (layer.heat > 0.0 ? layer.heat / (layer.heat + latent) : 0.0);
}

}  // namespace wetspan
