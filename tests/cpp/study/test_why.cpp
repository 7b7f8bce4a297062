#include "wetspan/study/why.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <string>

#include "approx.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/study/simulate.hpp"

using namespace wetspan;

namespace {

CropAir air_of(const Scenario& scenario) {
  return steady_air(scenario.air, scenario.house, scenario.numerics.longest);
}

const Lever& lever_named(std::string_view start) {
  for (const Lever& each : levers()) {
    if (each.change.starts_with(start)) return each;
  }
  FAIL("there is no such lever");
  return levers().front();
}

}  // namespace

TEST_CASE("each lever is a simulation with that change alone") {
  const Scenario scenario;
  const CropAir air = air_of(scenario);
  const Why told = why(scenario, air, 0.0, 100);
  const RowTable as_it_is = simulate_rows({.count = 1,
                                           .scenarios = {&scenario},
                                           .scenario_of = {},
                                           .inputs = {},
                                           .airs = {&air},
                                           .air_of = {},
                                           .starts = {}});
  CHECK(told.control == as_it_is.column("growth_control")[0]);
  CHECK(told.through.sum() == Approx(1.0).epsilon(1e-12));
  REQUIRE(told.levers.size() > 4);
  double last = std::numeric_limits<double>::infinity();
  for (const LeverEffect& each : told.levers) {
    CHECK(std::abs(each.gain) <= last);
    last = std::abs(each.gain);
    CHECK(each.gain == each.control - told.control);
    const auto other = moved(scenario, lever_named(each.change));
    REQUIRE(other.has_value());
    const RowTable alone = simulate_rows({.count = 1,
                                          .scenarios = {&*other},
                                          .scenario_of = {},
                                          .inputs = {},
                                          .airs = {&air},
                                          .air_of = {},
                                          .starts = {}});
    CHECK(each.control == alone.column("growth_control")[0]);
  }
  CHECK(why(scenario, air, 0.0, 2).levers.size() == 2);
}

TEST_CASE("a lever moves its inputs as far as they go") {
  Scenario scenario;
  const auto more = moved(scenario, lever_named("half as much again of the same liquid"));
  REQUIRE(more.has_value());
  CHECK(more->application.volume_rate == 1.5 * scenario.application.volume_rate);
  CHECK(more->application.concentration == scenario.application.concentration);
  const auto wetter = moved(scenario, lever_named("a wetting agent"));
  REQUIRE(wetter.has_value());
  CHECK(wetter->leaf.receding_angle <= wetter->leaf.contact_angle);

  const std::size_t volume = parameter_index("application.volume_rate");
  set(scenario, volume, parameters()[volume].high);
  CHECK_FALSE(moved(scenario, lever_named("half as much again of the same liquid")).has_value());
  scenario.rewetting.volume_rate = 2e-4;
  CHECK_FALSE(moved(scenario, lever_named("a light pass of water")).has_value());
}

TEST_CASE("what wets no leaves has levers on amount alone") {
  for (const Method method : {Method::drench, Method::continuous}) {
    Scenario scenario;
    scenario.application.method = method;
    for (const Lever& each : levers()) {
      bool amount = false;
      for (const InputChange& change : each.inputs)
        amount =
            amount || change.key == "application.volume_rate" || change.key == "application.concentration";
      CHECK(moved(scenario, each).has_value() == amount);
    }
    const Why told = why(scenario, air_of(scenario), 0.0);
    CHECK(told.through.root == 1.0);
  }
}

TEST_CASE("levers are tried in the weeks that the crop grows in") {
  const Scenario scenario;
  const std::vector<double> cool(30, 289.15);  // 16 degC
  const CropAir air = air_of(scenario);
  const Why told = why(scenario, air, 0.0, 100, cool);
  CHECK(told.control == Approx(simulate(scenario, air, 0.0, false, cool).growth.control).epsilon(1e-6));
  CHECK(std::abs(told.control - why(scenario, air, 0.0).control) > 0.005);
}

TEST_CASE("no substance comes no way, and what cannot be computed is refused") {
  Scenario scenario;
  scenario.application.concentration = 0.0;
  const Why told = why(scenario, air_of(scenario), 0.0);
  CHECK(told.control == 0.0);
  CHECK(told.through.sum() == 0.0);
  CHECK(told.levers.empty());
  CHECK_THROWS_AS(why(scenario, air_of(scenario), 1e9), InputError);
  for (const Lever& each : levers()) {
    for (const InputChange& change : each.inputs) CHECK_NOTHROW(parameter_index(change.key));
  }
}
