#include "wetspan/study/why.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <numbers>
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
  CHECK(wetter->liquid.surface_tension == 0.030);
  CHECK(wetter->leaf.contact_angle == Approx(40.0 * std::numbers::pi / 180.0).epsilon(1e-14));
  scenario.leaf.receding_angle = 0.6;  // a wetting agent lowers it to 20 deg
  CHECK(moved(scenario, lever_named("a wetting agent"))->leaf.receding_angle ==
        Approx(std::numbers::pi / 9.0).epsilon(1e-14));
  scenario.leaf.receding_angle = 0.1;  // rad: a wetting agent makes no leaf less wettable
  CHECK(moved(scenario, lever_named("a wetting agent"))->leaf.receding_angle == 0.1);
  scenario.leaf.receding_angle = Scenario{}.leaf.receding_angle;

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

TEST_CASE("levers that raise and levers that lower control stand in one order, the largest change first") {
  // fine droplets on a sparse crop: larger ones lower control by amounts that lie between the gains of the
  // others
  Scenario scenario;
  int raised = 0, lowered = 0;
  for (const double dv50 : {60e-6, 100e-6, 200e-6, 350e-6}) {
    scenario.droplets.dv50 = dv50;
    const Why told = why(scenario, air_of(scenario), 0.0, 100);
    for (std::size_t i = 0; i < told.levers.size(); ++i) {
      (told.levers[i].gain > 0.0 ? raised : lowered) += 1;
      if (i > 0) CHECK(std::abs(told.levers[i - 1].gain) >= std::abs(told.levers[i].gain));
    }
  }
  CHECK(raised > 4);
  CHECK(lowered > 4);
}

TEST_CASE("a change of control below 0.0005 is not told, and one above it is") {
  // control is proportional to a small amount of active ingredient, and so are its changes
  Scenario scenario;
  const CropAir air = air_of(scenario);
  const std::string_view change = "a quarter more substance in the liquid";
  const auto gain_at = [&](double concentration) {
    scenario.application.concentration = concentration;
    const auto other = moved(scenario, lever_named(change));
    REQUIRE(other.has_value());
    return simulate(*other, air, 0.0).growth.control - simulate(scenario, air, 0.0).growth.control;
  };
  const auto told_at = [&](double concentration) {
    scenario.application.concentration = concentration;
    for (const LeverEffect& each : why(scenario, air, 0.0, 100).levers) {
      if (each.change == change) return true;
    }
    return false;
  };
  double concentration = Scenario{}.application.concentration;
  for (int i = 0; i < 8; ++i) concentration *= 0.0005 / gain_at(concentration);
  REQUIRE(gain_at(concentration) == Approx(0.0005).epsilon(1e-3));
  CHECK(told_at(1.02 * concentration));
  CHECK_FALSE(told_at(0.98 * concentration));
}

TEST_CASE("a lever that gives no valid spray is left out, and the others are told") {
  Scenario scenario;
  scenario.droplets.dv50 = 1e-3;
  const auto coarser = moved(scenario, lever_named("droplets half as large again"));
  REQUIRE(coarser.has_value());
  CHECK_NOTHROW(check(scenario));
  REQUIRE_THROWS_AS(check(*coarser), InputError);  // droplets above 6 mm
  const Why told = why(scenario, air_of(scenario), 0.0, 100);
  CHECK(told.levers.size() > 2);
  for (const LeverEffect& each : told.levers) CHECK(each.change != "droplets half as large again");
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
