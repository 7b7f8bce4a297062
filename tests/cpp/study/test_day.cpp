#include "wetspan/study/day.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>
#include <vector>

#include "approx.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/properties/air.hpp"
#include "wetspan/study/outcomes.hpp"
#include "wetspan/study/residue.hpp"
#include "wetspan/study/simulate.hpp"

using namespace wetspan;

namespace {

constexpr double hour = 3600.0;

/// Two clear days and nights outdoors, every ten minutes.
Outdoor two_days() {
  Outdoor weather;
  for (double t = 0.0; t <= 60.0 * hour; t += 600.0) {
    const double sun = std::sin(2.0 * std::numbers::pi * (t / hour - 6.0) / 24.0);
    const double temperature = 291.15 + 6.0 * sun;
    weather.time.push_back(t);
    weather.state.push_back({.temperature = temperature,
                             .vapour_pressure = air::vapour_pressure(0.6 - 0.2 * sun, temperature),
                             .pressure = 101325.0,
                             .wind_speed = 2.0,
                             .shortwave = 700.0 * std::max(0.0, sun)});
  }
  return weather;
}

}  // namespace

TEST_CASE("each time of a day is its own simulation") {
  Scenario scenario;
  scenario.house.sprayed_share = 0.5;
  const CropAir air = air_at_crop(scenario, two_days());
  const std::vector<double> starts{30.0 * hour, 37.0 * hour, 44.0 * hour};
  const Day day = compare_times(scenario, two_days(), starts);
  REQUIRE(day.outcomes.count == 3);
  const auto wet = day.outcomes.column("wet_time"), control = day.outcomes.column("growth_control");
  for (std::size_t i = 0; i < 3; ++i) {
    const Outcome alone = simulate(scenario, air, starts[i]);
    CHECK(wet[i] == alone.wet.wet_time);
    CHECK(day.air[i].temperature == air.at(starts[i]).temperature);
    CHECK(control[i] <= control[day.best]);
    CHECK(day.control_over_best[i] == control[i] / control[day.best]);
  }
  CHECK(wet[1] < wet[0]);  // noon dries faster than the morning, and than the evening
  CHECK(wet[1] < wet[2]);
  CHECK(day.control_over_best[day.best] == 1.0);
  const ResidueEnds ends = residue_ends(scenario);
  for (const auto& [end, given] : {std::pair{&ends.locked, &day.locked}, {&ends.mobile, &day.mobile}}) {
    const Day alone = compare_times(*end, two_days(), starts);
    const auto its = alone.outcomes.column("growth_control");
    CHECK(std::equal(its.begin(), its.end(), given->control.begin(), given->control.end()));
    CHECK(given->control_over_best == over_best(given->control, day.best));
  }

  // a record in two airs
  const CropAir* const airs[] = {&air, &air};
  const std::vector<std::uint64_t> air_of{1, 0, 1};
  std::vector<std::vector<double>> means;
  for (const double start : starts) means.push_back(daily_temperatures(air, start, scenario.uptake.horizon));
  const std::vector<std::uint64_t> weeks_of{0, 1, 2};
  const Weeks weeks{.means = {means.begin(), means.end()}, .of = weeks_of};
  CHECK(compare_times(scenario, airs, air_of, starts, {}, weeks).outcomes.values == day.outcomes.values);

  // a re-wetting at a delay of its own
  scenario.rewetting.volume_rate = 5e-5;
  const std::vector<double> delays{12.0 * hour, 5.0 * hour, 3.0 * hour};
  const Day again = compare_times(scenario, airs, air_of, starts, {}, weeks, delays);
  scenario.rewetting.delay = delays[1];
  CHECK(again.outcomes.column("growth_control")[1] ==
        simulate(scenario, air, starts[1], false, means[1]).growth.control);
}

TEST_CASE("the best time is the same one in any order") {
  const Scenario scenario;
  const std::vector<double> starts{30.0 * hour, 37.0 * hour}, turned{37.0 * hour, 30.0 * hour};
  const Day day = compare_times(scenario, two_days(), starts),
            other = compare_times(scenario, two_days(), turned);
  CHECK(other.best == 1 - day.best);
  CHECK(other.control_over_best[other.best] == 1.0);
}

TEST_CASE("the best time is one from which plants dry, if there is one") {
  RowTable table;
  table.count = 3;
  table.values.assign(outcome_variables().size() * 3, 0.0);
  table.status = {static_cast<std::uint8_t>(Status::dry), static_cast<std::uint8_t>(Status::wet_at_end),
                  static_cast<std::uint8_t>(Status::dry)};
  double* control = table.values.data() + 3 * outcome_index("growth_control");
  control[0] = 0.1, control[1] = 0.3, control[2] = 0.2;
  CHECK(best_time(table) == 2);
  table.status.assign(3, static_cast<std::uint8_t>(Status::wet_at_end));
  CHECK(best_time(table) == 1);
  CHECK_THROWS_AS(best_time({}), InputError);
}

TEST_CASE("days that cannot be are refused") {
  const Scenario scenario;
  const CropAir air = air_at_crop(scenario, two_days());
  const std::vector<double> none, late{100.0 * hour};
  CHECK_THROWS_WITH_AS(compare_times(scenario, air, none), doctest::Contains("a time of spraying"),
                       InputError);
  CHECK_THROWS_AS(compare_times(scenario, air, late), InputError);
  const CropAir* const one = &air;
  const std::vector<double> starts{30.0 * hour}, delays{3600.0, 3600.0};
  CHECK_THROWS_WITH_AS(compare_times(scenario, {&one, 1}, {}, starts, {}, {}, delays),
                       doctest::Contains("one entry for each time"), InputError);
  CHECK(over_best(std::vector{0.2, 0.0}, 1) == std::vector{1.0, 1.0});
  CHECK_THROWS_WITH_AS(over_best(std::vector{0.2}, 1), doctest::Contains("no time 1"), InputError);
}
