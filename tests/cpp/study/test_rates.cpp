#include "wetspan/study/rates.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <limits>
#include <vector>

#include "approx.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/study/simulate.hpp"

using namespace wetspan;

namespace {

/// A scenario in its own unchanging air.
struct Alone {
  Scenario scenario;
  CropAir air = steady_air(scenario);
  Job job() const { return {&scenario, &air, 0.0}; }
};

Scenario with_concentration(Scenario scenario, double concentration) {
  scenario.application.concentration = concentration;
  return scenario;
}

}  // namespace

TEST_CASE("each job's rate gives its own height, as when it is sought alone") {
  const Alone alone;
  const std::array jobs{alone.job(), alone.job(), alone.job()};
  const double check = alone.scenario.crop.final_height;
  const std::array wanted{0.9 * check, 0.7 * check, 1.01 * check};
  const auto found = rates_for_height(jobs, wanted);
  for (const std::size_t i : {0, 1}) {
    REQUIRE(found[i].reach == RateForHeight::Reach::found);
    CHECK(found[i].concentration == rates_for_height({&jobs[i], 1}, wanted[i]).front().concentration);
    CHECK(simulate(with_concentration(alone.scenario, found[i].concentration)).growth.treated ==
          Approx(wanted[i]).epsilon(1e-5));
  }
  CHECK(found[1].concentration > found[0].concentration);
  CHECK(found[2].reach == RateForHeight::Reach::none_needed);
  CHECK_THROWS_AS(rates_for_height(jobs, 0.0), InputError);
  CHECK_THROWS_AS(rates_for_height(jobs, std::array{0.2}), InputError);
}

TEST_CASE("a spray and the drench that it equals give the same height") {
  const Alone alone;
  const Job job = alone.job();
  const double volume = 118e-6;
  const Equivalent told = sprays_as_drenches({&job, 1}, volume).front();
  const Outcome sprayed = simulate(alone.scenario);
  CHECK(told.control == sprayed.growth.control);
  REQUIRE(told.same_control.reach == RateForHeight::Reach::found);
  const Alone drench{with_concentration(as_drench(alone.scenario, volume), told.same_control.concentration)};
  CHECK(simulate(drench.scenario).growth.treated == Approx(sprayed.growth.treated).epsilon(1e-5));

  // leaves and stems bring the rest of the control
  CHECK(told.same_amount > 0.0);
  CHECK(told.same_amount < told.same_control.concentration);

  // what is lost from the substrate later was applied all the same
  Alone losing = alone;
  losing.scenario.active.loss_rate = 1e-6;
  const Job loses = losing.job();
  CHECK(sprays_as_drenches({&loses, 1}, volume).front().same_amount ==
        Approx(told.same_amount).epsilon(1e-9));
  Scenario wetted = alone.scenario;
  wetted.rewetting.volume_rate = 1e-4;
  CHECK(as_drench(wetted, volume).rewetting.volume_rate == 0.0);

  const Job back = drench.job();
  const Scenario* spray = &alone.scenario;
  const Equivalent again = drenches_as_sprays({&back, 1}, {&spray, 1}).front();
  CHECK(std::isnan(again.same_amount));
  CHECK(again.same_control.concentration == Approx(alone.scenario.application.concentration).epsilon(1e-3));
}

TEST_CASE("the least height is that of the largest allowed concentration, and below it none is found") {
  const Alone alone;
  const Job job = alone.job();
  const double high = parameters()[parameter_index("application.concentration")].high;
  const double least = simulate(with_concentration(alone.scenario, high), alone.air, 0.0).growth.treated;
  const auto sought = [&](double height) { return rates_for_height({&job, 1}, height).front(); };
  const RateForHeight above = sought(1.05 * least), below = sought(0.99 * least);
  CHECK(above.reach == RateForHeight::Reach::found);
  CHECK(above.least_height == Approx(least).epsilon(1e-6));
  CHECK(above.height == Approx(1.05 * least).epsilon(1e-5));
  CHECK(below.reach == RateForHeight::Reach::too_late);
  CHECK(below.least_height == Approx(least).epsilon(1e-6));
  CHECK(std::isnan(below.concentration));
}

TEST_CASE(
    "the rates of a calendar are raised together, and by no more than its strongest application allows") {
  Alone alone;
  const std::size_t concentration = parameter_index("application.concentration"),
                    volume = parameter_index("application.volume_rate");
  const double usual = alone.scenario.application.concentration;
  alone.scenario.applications = {{0.0, {{volume, 1e-4}}}, {14.0 * 86400.0, {{concentration, 3.0 * usual}}}};
  alone.air = steady_air(alone.scenario.air, alone.scenario.house, 30.0 * 86400.0);
  const Job job = alone.job();
  const double wanted = 0.8 * alone.scenario.crop.final_height;
  const RateForHeight found = rates_for_height({&job, 1}, wanted).front();
  REQUIRE(found.reach == RateForHeight::Reach::found);
  const auto scaled = [&](double factor) {
    Scenario other = with_concentration(alone.scenario, factor * usual);
    other.applications[1].changes[0].value = factor * 3.0 * usual;
    return simulate(other, alone.air, 0.0).growth.treated;
  };
  CHECK(scaled(found.concentration / usual) == Approx(wanted).epsilon(1e-5));
  CHECK(found.least_height == Approx(scaled(parameters()[concentration].high / (3.0 * usual))).epsilon(1e-6));
}

TEST_CASE("what cannot be computed says why, and the others go on") {
  Alone alone, wrong, nothing{with_concentration({}, 0.0)};
  wrong.scenario.leaf.contact_angle = -1.0;
  const std::array jobs{wrong.job(), alone.job(), nothing.job()};
  const Scenario* spray = &alone.scenario;
  const std::array sprays{spray, spray, spray};
  const auto told = drenches_as_sprays(jobs, sprays);
  CHECK(told[0].same_control.reach == RateForHeight::Reach::failed);
  CHECK(told[0].same_control.reason.find("leaf.contact_angle") != std::string::npos);
  CHECK(std::isnan(told[0].control));
  CHECK(told[1].same_control.reach == RateForHeight::Reach::found);
  CHECK(told[2].same_control.reach == RateForHeight::Reach::none_needed);

  const Alone drench{as_drench(alone.scenario, 118e-6)};
  const Job drenched = drench.job(), sprayed = alone.job();
  CHECK_THROWS_AS(sprays_as_drenches({&drenched, 1}, 118e-6), InputError);
  CHECK_THROWS_AS(sprays_as_drenches({&sprayed, 1}, 0.0), InputError);
  const Scenario* poured = &drench.scenario;
  CHECK_THROWS_AS(drenches_as_sprays({&sprayed, 1}, {&poured, 1}), InputError);
  CHECK_THROWS_AS(drenches_as_sprays(jobs, {&spray, 1}), InputError);
}

TEST_CASE("the half amount that a drench of known effect tells gives this effect") {
  constexpr double volume = 118e-6, concentration = 0.002;
  for (const double each : {volume, 1e-3}) {  // of the second a part leaches
    Scenario drench = with_concentration(as_drench({}, each), concentration);
    for (const double control : {0.1, 0.3, 0.6}) {
      drench.crop.half_amount = half_amount_for(drench, each, concentration, control);
      CHECK(simulate(drench).growth.control == Approx(control).epsilon(1e-9));
    }
  }
  Scenario drench = with_concentration(as_drench({}, volume), concentration);
  CHECK(std::isnan(half_amount_for(drench, volume, concentration, 1.0)));  // more than any amount gives
  CHECK(std::isnan(half_amount_for(drench, volume, 0.0, 0.3)));
  constexpr double nan = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_AS(half_amount_for(drench, nan, concentration, 0.3), InputError);
  CHECK_THROWS_AS(half_amount_for(drench, volume, nan, 0.3), InputError);
  CHECK_THROWS_AS(half_amount_for(drench, volume, concentration, nan), InputError);
  CHECK_THROWS_AS(half_amount_for(drench, volume, concentration, 1.1), InputError);
  drench.crop.final_height = nan;
  CHECK_THROWS_AS(half_amount_for(drench, volume, concentration, 0.3), InputError);
}
