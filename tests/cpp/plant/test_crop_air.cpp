#include "wetspan/plant/crop_air.hpp"

#include <doctest/doctest.h>

#include <limits>

#include "approx.hpp"
#include "wetspan/errors.hpp"

using namespace wetspan;
using doctest::Contains;

namespace {

CropAir record() {
  const AirState morning{.temperature = 290.0,
                         .vapour_pressure = 1500.0,
                         .pressure = 1e5,
                         .speed = 0.2,
                         .shortwave = 0.0,
                         .radiant_temperature = 285.0,
                         .air_changes = 1e-4};
  AirState noon{.temperature = 300.0,
                .vapour_pressure = 2000.0,
                .pressure = 1.01e5,
                .speed = 0.6,
                .shortwave = 400.0,
                .radiant_temperature = 301.0,
                .air_changes = 3e-4};
  return {{100.0, 3700.0, 7300.0}, {morning, noon, morning}};
}

}  // namespace

TEST_CASE("a record is linear between its moments and exact at them") {
  const CropAir air = record();
  CHECK(air.at(100.0).temperature == 290.0);
  CHECK(air.at(3700.0).shortwave == Approx(400.0));
  CHECK(air.at(7300.0).temperature == Approx(290.0));
  const AirState between = air.at(1000.0);
  CHECK(between.temperature == Approx(292.5));
  CHECK(between.vapour_pressure == Approx(1625.0));
  CHECK(between.pressure == Approx(100250.0));
  CHECK(between.speed == Approx(0.3));
  CHECK(between.shortwave == Approx(100.0));
  CHECK(between.radiant_temperature == Approx(289.0));
  CHECK(between.air_changes == Approx(1.5e-4));
}

TEST_CASE("a record that cannot be is refused by its row") {
  CHECK_NOTHROW(check(record()));
  CropAir air = record();
  air.time[2] = air.time[1];
  CHECK_THROWS_WITH_AS(check(air), Contains("row 2"), InputError);
  air = record();
  air.time[0] = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_AS(check(air), InputError);
  air = record();
  air.state[1].temperature = 25.0;
  CHECK_THROWS_WITH_AS(check(air), Contains("row 1: temperature"), InputError);
  air = record();
  air.state[1].vapour_pressure = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_WITH_AS(check(air), Contains("row 1: vapour_pressure"), InputError);
  air = record();
  air.state.pop_back();
  CHECK_THROWS_AS(check(air), InputError);
  CHECK_THROWS_AS(check(CropAir{{0.0}, {record().state[0]}}), InputError);
}

TEST_CASE("the steady air of a scenario is what the scenario says, at any bounds of the table") {
  CropClimate climate;
  climate.temperature = 303.15;
  climate.relative_humidity = 0.5;
  climate.surroundings_offset = -7.0;
  House house;
  const CropAir air = steady_air(climate, house, 3600.0);
  CHECK_NOTHROW(check(air));
  const AirState state = air.at(1234.0);
  CHECK(state.temperature == 303.15);
  CHECK(air::relative_humidity(state.vapour_pressure, state.temperature) == Approx(0.5).epsilon(1e-14));
  CHECK(state.radiant_temperature == 296.15);
  CHECK(state.air_changes == house.air_changes);
  for (const double temperature : {263.15, 323.15}) {
    for (const double offset : {-40.0, 40.0}) {
      climate.temperature = temperature, climate.surroundings_offset = offset,
      climate.relative_humidity = 1.0;
      CHECK_NOTHROW(check(steady_air(climate, house, 60.0)));
    }
  }
}

TEST_CASE("conditions are what a state of the air is known by") {
  const AirState noon = record().at(3700.0);
  const Conditions known = conditions(noon);
  const double saturated = air::saturation_pressure(noon.temperature);
  CHECK(known.relative_humidity == Approx(noon.vapour_pressure / saturated).epsilon(1e-12));
  CHECK(known.vapour_pressure_deficit == Approx(saturated - noon.vapour_pressure).epsilon(1e-12));
  CHECK(known.temperature == noon.temperature);
  CHECK(known.shortwave == noon.shortwave);
  CHECK(known.air_changes == noon.air_changes);

  const CropClimate stated{.temperature = 297.15, .relative_humidity = 0.65, .shortwave = 300.0};
  const House house{.air_changes = 2e-4};
  const Conditions steady = conditions(stated, house);
  CHECK(steady.relative_humidity == 0.65);  // as it is stated, to the bit
  CHECK(steady.vapour_pressure_deficit == Approx(0.35 * air::saturation_pressure(297.15)).epsilon(1e-12));
  CHECK(steady.air_changes == 2e-4);
}
