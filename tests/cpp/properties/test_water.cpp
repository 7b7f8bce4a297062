#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <string>

#include "approx.hpp"
#include "reference.hpp"
#include "wetspan/properties/air.hpp"
#include "wetspan/properties/water.hpp"

using namespace wetspan;
using reference::Row;

namespace {

/// Holds `model` against every row of tests/reference/water.csv with this quantity.
template <typename Model>
void hold(const std::string& quantity, Model model) {
  for (const Row& row : reference::rows("water", quantity)) {
    CAPTURE(quantity);
    CAPTURE(row.source);
    CAPTURE(row.value);
    CHECK(reference::holds(row, model(row)));
  }
}

}  // namespace

TEST_CASE("liquid water agrees with published values") {
  hold("density", [](const Row& row) { return water::density(row["T"]); });
  hold("dynamic viscosity", [](const Row& row) { return water::dynamic_viscosity(row["T"]); });
  hold("dynamic viscosity of density",
       [](const Row& row) { return water::dynamic_viscosity(row["T"], row["rho"]); });
  hold("specific heat", [](const Row& row) { return water::specific_heat(row["T"]); });
  hold("thermal conductivity", [](const Row& row) { return water::thermal_conductivity(row["T"]); });
  hold("surface tension", [](const Row& row) { return water::surface_tension(row["T"]); });
}

TEST_CASE("water in equilibrium with its vapour agrees with published values") {
  hold("saturation pressure", [](const Row& row) { return water::saturation_pressure(row["T"]); });
  hold("saturation pressure slope",
       [](const Row& row) { return water::saturation_pressure_slope(row["T"]); });
  hold("saturated liquid density", [](const Row& row) { return water::saturated_liquid_density(row["T"]); });
  hold("saturated vapour density", [](const Row& row) { return water::saturated_vapour_density(row["T"]); });
  hold("latent heat", [](const Row& row) { return water::latent_heat(row["T"]); });
}

TEST_CASE("water is densest near 4 C") {
  // 3.98 C: general knowledge, from memory.
  const auto slope = [](double T) { return water::density(T + 0.01) - water::density(T - 0.01); };
  CHECK(slope(273.15 + 3.93) > 0);
  CHECK(slope(273.15 + 4.03) < 0);
}

TEST_CASE("saturation slope is the derivative of the saturation pressure") {
  const double h = 1e-3;
  for (double T = 274.0; T < 640.0; T += 7.3)
    CHECK(water::saturation_pressure_slope(T) ==
          Approx((water::saturation_pressure(T + h) - water::saturation_pressure(T - h)) / (2 * h))
              .epsilon(1e-7));
}

TEST_CASE("the critical point is where liquid and vapour become one") {
  const double Tc = water::critical_temperature;
  CHECK(water::saturation_pressure(Tc) == water::critical_pressure);
  CHECK(water::saturated_liquid_density(Tc) == water::critical_density);
  CHECK(water::saturated_vapour_density(Tc) == water::critical_density);
  CHECK(water::surface_tension(Tc) == 0.0);
  for (double T = 274.0; T < Tc; T += 7.3) {
    CHECK(water::saturated_liquid_density(T) > water::saturated_vapour_density(T));
    CHECK(water::latent_heat(T) > 0);
  }
}

TEST_CASE("two independent standards agree over the temperatures of a greenhouse") {
  for (double T = 273.16; T < 323.15; T += 1.0) {
    CAPTURE(T);
    // Hyland & Wexler against IAPWS, each good to 0.1 % by its own account.
    CHECK(air::saturation_pressure(T) == Approx(water::saturation_pressure(T)).epsilon(3e-4));
    CHECK(air::saturation_pressure_slope(T) == Approx(water::saturation_pressure_slope(T)).epsilon(4e-4));
    // Real against ideal vapour: up to 0.5 % at 50 C.
    CHECK(air::saturation_vapour_density(T) == Approx(water::saturated_vapour_density(T)).epsilon(5e-3));
    // Compressed by 1 atm, water is 5e-5 denser than at saturation; Kell's own scatter is 1e-5.
    CHECK(water::density(T) / water::saturated_liquid_density(T) - 1 == Approx(4.7e-5).epsilon(0.3));
    // Clapeyron with an ideal vapour alone gives the latent heat to 0.5 %.
    const double clapeyron = constants::gas_constant_water * T * T * air::saturation_pressure_slope(T) /
                             air::saturation_pressure(T);
    CHECK(water::latent_heat(T) == Approx(clapeyron).epsilon(6e-3));
    // The fall of the latent heat is the heat capacity of vapour less that of water (Kirchhoff).
    const double fall = (water::latent_heat(T + 0.5) - water::latent_heat(T - 0.5));
    CHECK(fall == Approx(air::specific_heat_vapour - water::specific_heat(T)).epsilon(0.05));
  }
}

TEST_CASE("plain formulas pass NaN on, never a number") {
  const double not_a_number = std::numeric_limits<double>::quiet_NaN();
  CHECK(std::isnan(water::density(not_a_number)));
  CHECK(std::isnan(water::dynamic_viscosity(not_a_number)));
  CHECK(std::isnan(water::surface_tension(not_a_number)));
  CHECK(std::isnan(water::latent_heat(not_a_number)));
  CHECK(std::isnan(water::specific_heat(not_a_number)));
}
