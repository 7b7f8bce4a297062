#include "wetspan/plant/leaf.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "approx.hpp"
#include "boundary_layers.hpp"
#include "reference.hpp"
#include "wetspan/properties/water.hpp"

using namespace wetspan;
using reference::Row;

namespace {

constexpr auto massman = air::VapourDiffusivity::massman;
constexpr double molar_heat = 29.3;  // of air [J/mol/K]: Campbell and Norman 1998

AirState air_of(double temperature, double speed, double vapour_pressure = 0.0) {
  return {.temperature = temperature,
          .vapour_pressure = vapour_pressure,
          .pressure = 101325.0,
          .speed = speed,
          .shortwave = 0.0,
          .radiant_temperature = temperature,
          .air_changes = 0.0};
}

// The equations of the wet leaf, with one lane and exact properties.
using One = Lanes<1>;
const ExactAir exact_air{massman};

FreeAir<double> free_air_of(const AirState& air) { return wetspan::free_air_of(exact_air, air); }
double cylinder_heat(const AirState& state, double diameter) {
  const FreeAir<double> air = free_air_of(state);
  const CylinderTerms<double> stem = cylinder_terms(diameter, 1.0);
  return cylinder_layer_of<One>(exact_air, stem, cylinder_air<One>(exact_air, air)).heat;
}
double longwave(double leaf_temperature, const AirState& state, const Views& views, double emissivity) {
  Leaf leaf;
  leaf.emissivity = emissivity;
  return longwave_gain<One>(leaf_terms(leaf, 0.0, views, 1.0), fourth_power(leaf_temperature),
                            free_air_of(state));
}
double film_evaporation(const AirState& state, Conductance layer) {
  const double by_temperature = 1.0 / state.temperature;
  const double latent = exact_air.latent_heat(state.temperature);
  return evaporation_of_film<One>(air_deficit<One>(exact_air, free_air_of(state), by_temperature, latent),
                                  layer.heat, layer.vapour, 0.0);
}

double moles(const AirState& air) { return air.pressure / (constants::gas_constant * air.temperature); }

template <class Model>
void hold(const std::string& quantity, Model model) {
  for (const Row& row : reference::rows("leaf", quantity)) {
    CAPTURE(quantity);
    CAPTURE(row.source);
    const double value = model(row);
    CAPTURE(value);
    CAPTURE(row.value);
    CHECK(reference::holds(row, value));
  }
}

BoundaryLayers level(const AirState& air, double length, double turbulence, double warmer = 0.0) {
  return boundary_layers(air.temperature + warmer, air.vapour_pressure, air, length / 0.72, turbulence,
                         massman);
}

}  // namespace

TEST_CASE("boundary layers agree with published leaf conductances") {
  hold("forced heat conductance",
       [](const Row& row) { return level(air_of(293.15, row["u"]), row["d"], 1.0).upper.heat / molar_heat; });
  hold("forced vapour conductance", [](const Row& row) {
    const AirState air = air_of(293.15, row["u"]);
    return level(air, row["d"], 1.0).upper.vapour * moles(air);
  });
  hold("free heat conductance", [](const Row& row) {
    return level(air_of(293.15, 0.0), row["d"], 1.0, row["dT"]).upper.heat / molar_heat;
  });
  constexpr double bonan = 1.5 * 0.66 / 0.664;  // his coefficients as a factor on ours
  hold("Bonan heat conductance", [](const Row& row) {
    return level(air_of(row["T"], row["u"]), row["L"], bonan).upper.heat / molar_heat;
  });
  hold("Bonan vapour conductance", [](const Row& row) {
    const AirState air = air_of(row["T"], row["u"]);
    return level(air, row["L"], bonan).upper.vapour * moles(air);
  });
  hold("Monteith Nusselt over Re^(1/2)", [](const Row& row) {
    const AirState air = air_of(293.15, row["u"]);
    const double nusselt =
        level(air, row["L"], 1.0).upper.heat * row["L"] / air::thermal_conductivity(293.15);
    return nusselt / std::sqrt(row["u"] * row["L"] / air::kinematic_viscosity(293.15, 0.0, 101325.0));
  });
  hold("cylinder Nusselt", [](const Row& row) {
    constexpr double diameter = 0.004;
    const double viscosity = air::kinematic_viscosity(293.15, 0.0, 101325.0);
    const AirState air = air_of(293.15, row["Re"] * viscosity / diameter);
    return cylinder_heat(air, diameter) * diameter / air::thermal_conductivity(293.15);
  });
}

TEST_CASE(
    "a cylinder across the wind follows Churchill and Bernstein's formula, in moist air and up to "
    "turbulence") {
  for (const double pressure : {0.0, 2300.0, 9000.0}) {
    for (const double speed : {0.1, 2.0, 30.0}) {
      constexpr double diameter = 0.02;
      const AirState state = air_of(318.15, speed, pressure);
      const double mu = air::dynamic_viscosity(state.temperature),
                   k = air::thermal_conductivity(state.temperature);
      const double Re = air::density(state.temperature, pressure, state.pressure) * speed * diameter / mu;
      const double Pr = mu * air::specific_heat(air::humidity_ratio(pressure, state.pressure)) / k;
      const double Nu = 0.3 + 0.62 * std::sqrt(Re) * std::cbrt(Pr) /
                                  std::pow(1.0 + std::pow(0.4 / Pr, 2.0 / 3.0), 0.25) *
                                  std::pow(1.0 + std::pow(Re / 282000.0, 0.625), 0.8);
      CHECK(cylinder_heat(state, diameter) * diameter / k == Approx(Nu).epsilon(1e-6));
    }
  }
}

TEST_CASE("warm or moist leaves loosen the air above them and hold it below") {
  const AirState still = air_of(293.15, 0.0, 1000.0);
  const BoundaryLayers warm = level(still, 0.036, 1.4, 5.0), cold = level(still, 0.036, 1.4, -5.0);
  CHECK(warm.upper.heat == Approx(2.0 * warm.lower.heat));
  CHECK(cold.lower.heat == Approx(2.0 * cold.upper.heat));
  const BoundaryLayers moist = boundary_layers(293.15, 2300.0, still, 0.05, 1.4, massman);
  CHECK(moist.upper.heat > moist.lower.heat);
}

TEST_CASE("mixed convection is a little more than the larger of its parts") {
  const double forced = level(air_of(293.15, 0.1, 1000.0), 0.036, 1.4).upper.heat;
  const double free = level(air_of(293.15, 0.0, 1000.0), 0.036, 1.4, 3.0).upper.heat;
  const double mixed = level(air_of(293.15, 0.1, 1000.0), 0.036, 1.4, 3.0).upper.heat;
  CHECK(mixed == Approx(std::pow(std::pow(forced, 3.5) + std::pow(free, 3.5), 1.0 / 3.5)).epsilon(5e-3));
}

TEST_CASE("heat and vapour follow the Lewis relation") {
  const AirState air = air_of(293.15, 0.5, 1000.0);
  const Conductance layer = level(air, 0.036, 1.4).upper;
  const double density = air::density(293.15, 1000.0, 101325.0);
  const double heat_capacity = air::specific_heat(air::humidity_ratio(1000.0, 101325.0));
  const double lewis =
      air::thermal_diffusivity(293.15, 1000.0, 101325.0) / air::vapour_diffusivity(293.15, 101325.0);
  CHECK(layer.heat / layer.vapour ==
        Approx(density * heat_capacity * std::pow(lewis, 2.0 / 3.0)).epsilon(1e-9));
}

TEST_CASE("longwave vanishes in surroundings as warm as the leaf, and cools under a cold sky") {
  AirState air = air_of(293.15, 0.5);
  const Views views{.above = 0.4, .below = 0.3};
  CHECK(std::abs(longwave(293.15, air, views, 0.96)) < 1e-9);
  air.radiant_temperature = 273.15;
  CHECK(longwave(293.15, air, views, 0.96) ==
        Approx(0.96 * 0.4 * 5.670374419e-8 * (std::pow(273.15, 4) - std::pow(293.15, 4))).epsilon(1e-12));
}

TEST_CASE("a dry leaf: sun warms it, transpiration, a cold sky and wind bring it down") {
  Leaf leaf;
  const Views views{.above = 0.5, .below = 0.5};
  const auto temperature = [&](double sun, const AirState& air) {
    return dry_leaf_temperature(leaf, sun, views, air, massman);
  };
  AirState air = air_of(298.15, 0.3, 1500.0);
  leaf.stomatal_conductance = 0.0;
  CHECK(temperature(0.0, air) == Approx(298.15).epsilon(1e-8));
  for (const double next_to_none : {5e-324, 2e-311, 1e-200, 1e-12}) {
    CHECK(temperature(next_to_none, air) == Approx(298.15).epsilon(1e-8));
  }
  const double sunny = temperature(100.0, air);
  CHECK(sunny > 298.15 + 1.0);
  CHECK(temperature(200.0, air) > sunny);
  AirState windy = air;
  windy.speed = 3.0;
  CHECK(temperature(100.0, windy) < sunny);
  CHECK(temperature(100.0, windy) > 298.15);
  AirState clear = air;
  clear.radiant_temperature = 280.0;
  CHECK(temperature(0.0, clear) < 298.15);
  leaf.stomatal_conductance = 5e-3;
  const double transpiring = temperature(100.0, air);
  CHECK(transpiring < sunny - 0.5);
  AirState humid = air;
  humid.vapour_pressure = air::saturation_pressure(298.15);
  CHECK(temperature(100.0, humid) > transpiring);

  // the balance closes at the temperature found
  const auto [upper, lower] =
      boundary_layers(transpiring, air.vapour_pressure, air, leaf.width, leaf.turbulence, massman);
  const double stomata = leaf.stomatal_conductance * 100.0 / (100.0 + leaf.stomatal_half_light);
  const double through = stomata * lower.vapour / (stomata + lower.vapour);
  const double latent = water::latent_heat(transpiring) * through *
                        (air::saturation_vapour_density(transpiring) - air::vapour_density(1500.0, 298.15));
  CHECK(100.0 + longwave(transpiring, air, views, leaf.emissivity) ==
        Approx((upper.heat + lower.heat) * (transpiring - 298.15) + latent).epsilon(1e-5));
}

TEST_CASE("stomata open with light, half way at the half light") {
  const Leaf leaf;
  constexpr double no_layer = 1e9;  // [m/s]: a boundary layer without resistance
  const auto conductance = [&](double sun, double bare) {
    return stomata_in_series<One>(stomata_terms(leaf), no_layer, sun, bare);
  };
  CHECK(conductance(0.0, 1.0) == 0.0);
  CHECK(conductance(leaf.stomatal_half_light, 1.0) == Approx(0.5 * leaf.stomatal_conductance));
  CHECK(conductance(1e6, 1.0) == Approx(leaf.stomatal_conductance).epsilon(1e-3));
  CHECK(conductance(1e6, 0.4) == Approx(0.4 * leaf.stomatal_conductance).epsilon(1e-3));  // under liquid
}

TEST_CASE("evaporation without other heat than the air's is that at its wet bulb") {
  for (const double rh : {0.3, 0.6, 0.9, 1.0}) {
    const AirState air = air_of(298.15, 0.3, air::vapour_pressure(rh, 298.15));
    const Conductance layer = level(air, 0.036, 1.4).upper;
    double low = 270.0, high = 298.15;  // the exact balance of the same conductances
    for (int i = 0; i < 60; ++i) {
      const double middle = 0.5 * (low + high);
      const double evaporation = layer.vapour * (air::saturation_vapour_density(middle) -
                                                 air::vapour_density(air.vapour_pressure, air.temperature));
      (layer.heat * (298.15 - middle) > water::latent_heat(middle) * evaporation ? low : high) = middle;
    }
    const double exact = layer.heat * (298.15 - low) / water::latent_heat(low);
    CAPTURE(rh);
    if (rh < 1.0) CHECK(film_evaporation(air, layer) == Approx(exact).epsilon(0.2));  // linearised
    else CHECK(std::abs(film_evaporation(air, layer)) < 1e-12);
  }
}
