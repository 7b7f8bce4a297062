#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "approx.hpp"
#include "reference.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/properties/air.hpp"

using namespace wetspan;
using reference::Row;

namespace {

constexpr double not_a_number = std::numeric_limits<double>::quiet_NaN();
constexpr double infinity = std::numeric_limits<double>::infinity();

/// Holds `model` against every row of tests/reference/air.csv with this quantity.
template <typename Model>
void hold(const std::string& quantity, Model model) {
  for (const Row& row : reference::rows("air", quantity)) {
    CAPTURE(quantity);
    CAPTURE(row.source);
    CAPTURE(row.value);
    CHECK(reference::holds(row, model(row)));
  }
}

double vapour_pressure_from_wet_bulb(const Row& row) {
  const double w = air::humidity_ratio_from_wet_bulb(row["T"], row["Twb"], row["P"]);
  return air::vapour_pressure_from_humidity_ratio(w, row["P"]);
}

std::vector<double> range(double first, double last, double step) {
  std::vector<double> result;
  for (int i = 0; first + i * step <= last; ++i) result.push_back(first + i * step);
  return result;
}

const std::vector<double> temperatures = range(253.15, 323.15, 3.7);
const std::vector<double> humidities = range(0.01, 1.0, 0.09);
const std::vector<double> pressures = {80e3, 95e3, 101325.0, 105e3};

/// Slope of f at x by central difference, good to about 1e-8 of its value.
template <typename Function>
double central_difference(Function f, double x) {
  const double h = 1e-3;
  return (f(x + h) - f(x - h)) / (2 * h);
}

}  // namespace

TEST_CASE("saturation curve agrees with published tables") {
  hold("saturation pressure", [](const Row& row) { return air::saturation_pressure(row["T"]); });
  hold("mean saturation pressure", [](const Row& row) {
    return 0.5 * (air::saturation_pressure(row["T_low"]) + air::saturation_pressure(row["T_high"]));
  });
  hold("saturation pressure slope", [](const Row& row) { return air::saturation_pressure_slope(row["T"]); });
  hold("saturation vapour density", [](const Row& row) { return air::saturation_vapour_density(row["T"]); });
}

TEST_CASE("saturation slope is the derivative of the saturation pressure on both branches") {
  for (const double T : range(174.0, 472.0, 3.3))
    CHECK(air::saturation_pressure_slope(T) ==
          Approx(central_difference(air::saturation_pressure, T)).epsilon(1e-7));
}

TEST_CASE("ice and water branches meet at 0 C to the last printed digit") {
  // ASHRAE 2017 ch. 1 table 3 prints 0.6112 kPa at 0 C over ice and over water alike: less than 0.1 Pa apart.
  const double over_ice = air::saturation_pressure(std::nextafter(273.15, 0.0));
  const double over_water = air::saturation_pressure(273.15);
  CHECK(std::abs(over_ice - 611.2) < 0.1);
  CHECK(std::abs(over_water - 611.2) < 0.1);
  CHECK(over_ice < over_water);
  CHECK(over_water - over_ice < 0.1);
}

TEST_CASE("humidity agrees with published tables and worked examples") {
  hold("saturation humidity ratio",
       [](const Row& row) { return air::saturation_humidity_ratio(row["T"], row["P"]); });
  hold("humidity ratio from wet bulb",
       [](const Row& row) { return air::humidity_ratio_from_wet_bulb(row["T"], row["Twb"], row["P"]); });
  hold("example 1 dew point",
       [](const Row& row) { return air::dew_point(vapour_pressure_from_wet_bulb(row)); });
  hold("example 1 relative humidity",
       [](const Row& row) { return air::relative_humidity(vapour_pressure_from_wet_bulb(row), row["T"]); });
  hold("psychrometer vapour pressure", vapour_pressure_from_wet_bulb);
  hold("vapour pressure from extremes", [](const Row& row) {
    return 0.5 * (air::vapour_pressure(row["rh_at_low"], row["T_low"]) +
                  air::vapour_pressure(row["rh_at_high"], row["T_high"]));
  });
  hold("vapour pressure from mean", [](const Row& row) {
    const double rh = 0.5 * (row["rh_at_low"] + row["rh_at_high"]);
    return 0.5 * (air::vapour_pressure(rh, row["T_low"]) + air::vapour_pressure(rh, row["T_high"]));
  });
}

TEST_CASE("ways to state humidity invert one another") {
  for (const double T : temperatures)
    for (const double rh : humidities)
      for (const double P : pressures) {
        const double e = air::vapour_pressure(rh, T);
        CHECK(air::relative_humidity(e, T) == Approx(rh).epsilon(1e-14));
        CHECK(air::vapour_pressure_from_density(air::vapour_density(e, T), T) == Approx(e).epsilon(1e-14));
        CHECK(air::vapour_pressure_from_humidity_ratio(air::humidity_ratio(e, P), P) ==
              Approx(e).epsilon(1e-13));
      }
}

TEST_CASE("dew point inverts the saturation curve over its whole range") {
  for (const double T : range(173.15, 473.15, 0.37))
    CHECK(air::dew_point(air::saturation_pressure(T)) == Approx(T).epsilon(1e-11));
  CHECK(air::dew_point(air::saturation_pressure(473.15)) == Approx(473.15).epsilon(1e-11));
  CHECK(air::dew_point(0.5 * (air::saturation_pressure(std::nextafter(273.15, 0.0)) +
                              air::saturation_pressure(273.15))) == 273.15);
}

TEST_CASE("dew point refuses what has no dew point") {
  for (const double e : {not_a_number, infinity, -infinity, -1.0, 0.0, 1e-4, 2e6})
    CHECK_THROWS_AS(air::dew_point(e), InputError);
  CHECK_THROWS_WITH_AS(air::dew_point(0.0), doctest::Contains("e = 0 Pa is outside"), InputError);
}

TEST_CASE("wet bulb agrees with published values") {
  hold("wet bulb", [](const Row& row) {
    return air::wet_bulb(row["T"], air::vapour_pressure(row["rh"], row["T"]), row["P"]);
  });
  hold("wet bulb stull", [](const Row& row) { return air::wet_bulb_stull(row["T"], row["rh"]); });
}

TEST_CASE("Stull's fit stays within its published error of the wet bulb") {
  // -1.0..+0.65 K, Stull 2011; beyond 35 C the thermodynamic wet bulb lies further below the fit, 1.2 K at 50
  // C.
  for (const double T : range(278.15, 323.15, 2.5))
    for (const double rh : range(0.10, 0.99, 0.05)) {
      const double error =
          air::wet_bulb_stull(T, rh) - air::wet_bulb(T, air::vapour_pressure(rh, T), 101325.0);
      CAPTURE(T);
      CAPTURE(rh);
      CHECK(error > -1.0);
      CHECK(error < (T <= 308.15 ? 0.65 : 1.2));
    }
}

TEST_CASE("wet bulb lies between dew point and temperature, and solves the psychrometric equation") {
  for (const double T : temperatures)
    for (const double rh : humidities)
      for (const double P : pressures) {
        const double e = air::vapour_pressure(rh, T);
        const double Twb = air::wet_bulb(T, e, P);
        CAPTURE(T);
        CAPTURE(rh);
        CAPTURE(P);
        CHECK(Twb >= air::dew_point(e) - 1e-9);
        CHECK(Twb <= T + 1e-9);
        CHECK(air::humidity_ratio_from_wet_bulb(T, Twb, P) ==
              Approx(air::humidity_ratio(e, P)).epsilon(1e-8));
      }
}

TEST_CASE("wet bulb of saturated air is its temperature, whichever way saturation was reached") {
  for (const double T : temperatures)
    for (const double P : pressures) {
      CHECK(air::wet_bulb(T, air::saturation_pressure(T), P) == T);
      const double w = air::saturation_humidity_ratio(T, P);
      CHECK(air::wet_bulb(T, air::vapour_pressure_from_humidity_ratio(w, P), P) == Approx(T).epsilon(1e-11));
    }
}

TEST_CASE("wet bulb stays bounded where the equation is hardest") {
  const double P = 101325.0;
  for (const double T : range(173.15, 373.0, 1.3)) {  // bone-dry air, up to just below boiling
    const double Twb = air::wet_bulb(T, 0.0, P);
    CHECK(Twb <= T);
    CHECK(std::abs(air::humidity_ratio_from_wet_bulb(T, Twb, P)) < 1e-10);
  }
  // Where a wet and an iced bulb are both possible, the wet one counts.
  const double T = 275.15, Twb = 273.25;
  const double w = air::humidity_ratio_from_wet_bulb(T, Twb, P);
  REQUIRE(air::humidity_ratio_from_wet_bulb(T, 273.14, P) > w);
  CHECK(air::wet_bulb(T, air::vapour_pressure_from_humidity_ratio(w, P), P) == Approx(Twb).epsilon(1e-11));
  // Air between the ice and the water branch, a few mK above freezing, has its wet bulb at 0 C.
  const double between = air::saturation_pressure(std::nextafter(273.15, 0.0)) + 0.01;
  CHECK(air::wet_bulb(273.15, between, P) == Approx(273.15).epsilon(1e-6));
}

TEST_CASE("wet bulb refuses impossible air and says what is allowed") {
  const double T = 298.15, e = 1500.0, P = 101325.0;
  CHECK_NOTHROW(air::wet_bulb(T, e, P));
  for (const double bad : {not_a_number, infinity, -infinity, -1.0}) {
    CHECK_THROWS_AS(air::wet_bulb(bad, e, P), InputError);
    CHECK_THROWS_AS(air::wet_bulb(T, bad, P), InputError);
    CHECK_THROWS_AS(air::wet_bulb(T, e, bad), InputError);
  }
  CHECK_THROWS_AS(air::wet_bulb(25.0, e, P), InputError);     // Celsius
  CHECK_THROWS_AS(air::wet_bulb(T, e, 101.325), InputError);  // kPa
  CHECK_THROWS_AS(air::wet_bulb(T, 0.0, air::saturation_pressure(T)), InputError);
  CHECK_THROWS_WITH_AS(air::wet_bulb(T, 1.001 * air::saturation_pressure(T), P),
                       doctest::Contains("saturation at T = 298.15 K"), InputError);
}

TEST_CASE("energy and density agree with published tables and worked examples") {
  hold("saturation enthalpy", [](const Row& row) {
    return air::enthalpy(row["T"], air::saturation_humidity_ratio(row["T"], row["P"]));
  });
  hold("example 1 enthalpy", [](const Row& row) {
    return air::enthalpy(row["T"], air::humidity_ratio_from_wet_bulb(row["T"], row["Twb"], row["P"]));
  });
  hold("example 1 specific volume", [](const Row& row) {
    const double w = air::humidity_ratio_from_wet_bulb(row["T"], row["Twb"], row["P"]);
    return air::specific_volume(row["T"], w, row["P"]);
  });
  hold("specific volume", [](const Row& row) { return air::specific_volume(row["T"], row["w"], row["P"]); });
  hold("density", [](const Row& row) {
    return air::density(row["T"], air::vapour_pressure_from_humidity_ratio(row["w"], row["P"]), row["P"]);
  });
  hold("psychrometric constant", [](const Row& row) {
    return air::psychrometric_constant(row["P"], row["latent_heat"], row["specific_heat"]);
  });
  hold("standard atmosphere pressure",
       [](const Row& row) { return air::standard_atmosphere_pressure(row["altitude"]); });
}

TEST_CASE("energy and density are consistent with one another") {
  for (const double T : temperatures)
    for (const double rh : humidities)
      for (const double P : pressures) {
        const double e = air::vapour_pressure(rh, T), w = air::humidity_ratio(e, P);
        CHECK(air::density(T, e, P) == Approx((1 + w) / air::specific_volume(T, w, P)).epsilon(1e-13));
        CHECK(air::density(air::virtual_temperature(T, e, P), 0, P) ==
              Approx(air::density(T, e, P)).epsilon(1e-13));
        CHECK(central_difference([w](double x) { return air::enthalpy(x, w); }, T) ==
              Approx(air::specific_heat(w) * (1 + w)).epsilon(1e-7));
      }
}

TEST_CASE("transport properties agree with published values") {
  hold("dynamic viscosity", [](const Row& row) { return air::dynamic_viscosity(row["T"]); });
  hold("thermal conductivity", [](const Row& row) { return air::thermal_conductivity(row["T"]); });
  hold("kinematic viscosity",
       [](const Row& row) { return air::kinematic_viscosity(row["T"], row["e"], row["P"]); });
  hold("thermal diffusivity",
       [](const Row& row) { return air::thermal_diffusivity(row["T"], row["e"], row["P"]); });
  hold("vapour diffusivity massman",
       [](const Row& row) { return air::vapour_diffusivity_massman(row["T"], row["P"]); });
  hold("vapour diffusivity marrero mason",
       [](const Row& row) { return air::vapour_diffusivity_marrero_mason(row["T"], row["P"]); });
}

TEST_CASE("transport numbers follow from their definitions") {
  using enum air::VapourDiffusivity;
  for (const double T : temperatures)
    for (const double rh : humidities)
      for (const double P : pressures) {
        const double e = air::vapour_pressure(rh, T);
        const double nu = air::kinematic_viscosity(T, e, P);
        CHECK(nu * air::density(T, e, P) == Approx(air::dynamic_viscosity(T)).epsilon(1e-14));
        CHECK(air::prandtl(T, air::humidity_ratio(e, P)) ==
              Approx(nu / air::thermal_diffusivity(T, e, P)).epsilon(1e-13));
        CHECK(air::schmidt(T, e, P) == Approx(nu / air::vapour_diffusivity_massman(T, P)).epsilon(1e-14));
        CHECK(air::schmidt(T, e, P, marrero_mason) ==
              Approx(nu / air::vapour_diffusivity_marrero_mason(T, P)).epsilon(1e-14));
      }
}

TEST_CASE("vapour diffusivity: the choice selects the fit, and the fits differ as stated") {
  using enum air::VapourDiffusivity;
  const double P = 90e3;
  for (const double T : temperatures) {
    CHECK(air::vapour_diffusivity(T, P) == air::vapour_diffusivity_massman(T, P));
    CHECK(air::vapour_diffusivity(T, P, marrero_mason) == air::vapour_diffusivity_marrero_mason(T, P));
    CHECK(air::vapour_diffusivity(T, P) == Approx(2 * air::vapour_diffusivity(T, 2 * P)).epsilon(1e-14));
  }
  const auto excess = [P](double T) {
    return air::vapour_diffusivity_massman(T, P) / air::vapour_diffusivity_marrero_mason(T, P) - 1;
  };
  CHECK(excess(273.15) == Approx(0.04).epsilon(0.1));
  CHECK(excess(298.15) == Approx(0.02).epsilon(0.1));
  CHECK(excess(313.15) == Approx(0.005).epsilon(0.2));
}

TEST_CASE("plain formulas pass NaN on, never a number") {
  CHECK(std::isnan(air::saturation_pressure(not_a_number)));
  CHECK(std::isnan(air::saturation_pressure_slope(not_a_number)));
  CHECK(std::isnan(air::dynamic_viscosity(not_a_number)));
  CHECK(std::isnan(air::thermal_conductivity(not_a_number)));
  CHECK(std::isnan(air::vapour_diffusivity(not_a_number, 1e5)));
  CHECK(std::isnan(air::density(298.15, not_a_number, 1e5)));
}
