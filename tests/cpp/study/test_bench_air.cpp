#include "../../lib/src/study/bench_air.hpp"

#include <doctest/doctest.h>

#include <vector>

#include "approx.hpp"
#include "wetspan/properties/air.hpp"

using namespace wetspan;

namespace {

/// A record in which temperature and vapour pressure rise linearly, with rows every 50 s.
CropAir rising() {
  CropAir air;
  for (int i = 0; i <= 20; ++i) {
    air.time.push_back(50.0 * i);
    air.state.push_back({.temperature = 293.15 + 0.1 * i,
                         .vapour_pressure = 1500.0 + 5.0 * i,
                         .pressure = 101325.0,
                         .speed = 0.2,
                         .shortwave = 100.0,
                         .radiant_temperature = 290.0,
                         .air_changes = 1e-4});
  }
  return air;
}

/// The history of a spray at `start`, which changes this record by `cooler` [K] and `moister` [Pa].
History spray(const CropAir& air, double start, const std::vector<double>& time,
              const std::vector<double>& cooler, const std::vector<double>& moister) {
  History course;
  for (std::size_t i = 0; i < time.size(); ++i) {
    const AirState state = air.at(start + time[i]);
    const double temperature = state.temperature - cooler[i];
    course.time.push_back(time[i]);
    course.air_temperature.push_back(temperature);
    course.relative_humidity.push_back(
        air::relative_humidity(state.vapour_pressure + moister[i], temperature));
  }
  return course;
}

}  // namespace

TEST_CASE("what a spray changed in the air is added to a record, and fades in the time that it took to dry") {
  const CropAir air = rising();
  const double start = 130.0;
  // at rest before the droplets land, then two straight lines
  const History course =
      spray(air, start, {0.0, 100.0, 100.0, 200.0}, {0.5, 2.0, 9.0, 1.0}, {10.0, 80.0, 999.0, 40.0});
  const CropAir changed = with_course(air, course, start);
  REQUIRE(changed.time.front() == start);
  CHECK(changed.time.back() == air.time.back());
  for (std::size_t i = 1; i < changed.time.size(); ++i) CHECK(changed.time[i] > changed.time[i - 1]);
  const auto cooler = [&](double after) {
    return air.at(start + after).temperature - changed.at(start + after).temperature;
  };
  const auto moister = [&](double after) {
    return changed.at(start + after).vapour_pressure - air.at(start + after).vapour_pressure;
  };
  CHECK(cooler(0.0) == 0.0);
  CHECK(cooler(10.0) ==
        Approx(0.5).epsilon(1e-9));  // as the first row has it, from a tenth of the first step on
  CHECK(cooler(5.0) == Approx(0.25).epsilon(1e-9));
  CHECK(cooler(55.0) == Approx(0.5 * (0.5 + 2.0)).epsilon(1e-9));
  CHECK(cooler(100.0) == Approx(2.0).epsilon(1e-9));
  CHECK(cooler(150.0) == Approx(1.5).epsilon(1e-9));
  CHECK(cooler(200.0) == Approx(1.0).epsilon(1e-9));
  CHECK(cooler(300.0) == Approx(0.5).epsilon(1e-9));  // the plant was dry after 200 s
  CHECK(cooler(350.0) == Approx(0.25).epsilon(1e-9));
  CHECK(std::abs(cooler(400.0)) < 1e-12);
  CHECK(std::abs(cooler(600.0)) < 1e-12);
  CHECK(moister(55.0) == Approx(45.0).epsilon(1e-9));
  CHECK(moister(100.0) == Approx(80.0).epsilon(1e-9));
  CHECK(moister(300.0) == Approx(20.0).epsilon(1e-9));
  CHECK(std::abs(moister(400.0)) < 1e-9);
  const AirState at = changed.at(start + 100.0), was = air.at(start + 100.0);
  CHECK(at.speed == was.speed);
  CHECK(at.air_changes == was.air_changes);
  CHECK(at.radiant_temperature == was.radiant_temperature);
}

TEST_CASE("a spray that changes nothing leaves a record as it is, and one at its end is followed to there") {
  const CropAir air = rising();
  const CropAir same = with_course(air, spray(air, 130.0, {0.0, 100.0}, {0.0, 0.0}, {0.0, 0.0}), 130.0);
  for (std::size_t i = 0; i < same.time.size(); ++i) {
    CHECK(same.state[i].temperature == Approx(air.at(same.time[i]).temperature).epsilon(1e-14));
    CHECK(same.state[i].vapour_pressure == Approx(air.at(same.time[i]).vapour_pressure).epsilon(1e-12));
  }
  // the wet span goes on after the record, in its last state
  History course;
  course.time = {0.0, 50.0, 150.0};
  course.air_temperature = {294.75, 294.65, 294.15};
  for (const double temperature : course.air_temperature)
    course.relative_humidity.push_back(air::relative_humidity(1580.0, temperature));
  const CropAir late = with_course(air, course, 950.0);
  CHECK(late.time.back() == 1000.0);
  CHECK(late.state.back().temperature == Approx(294.65).epsilon(1e-12));
}
