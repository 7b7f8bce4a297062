#include "wetspan/study/measure.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <vector>

#include "approx.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/uptake.hpp"
#include "wetspan/study/simulate.hpp"

using namespace wetspan;

TEST_CASE("leaves that were wetted carry the depth asked for, and dry as after a spray that left as much") {
  Scenario scenario;
  scenario.retention.underleaf = 0.0;
  const CropAir air = steady_air(scenario);
  constexpr double depth = 5e-5;
  const Load load = wetted_leaves(scenario, depth);
  double carried = 0.0, active = 0.0;
  for (const Load::Layer& layer : load.layers) {
    carried += layer.liquid;
    active += layer.upper.sum() + layer.lower.sum() + layer.stem.sum() + layer.stem_liquid;
  }
  CHECK(carried == Approx(depth * scenario.canopy.leaf_area * scenario.canopy.plant_density).epsilon(1e-12));
  CHECK(active == 0.0);
  const double thin = wet_span(scenario, load, air, 0.0).wet_time;
  const double thick = wet_span(scenario, wetted_leaves(scenario, 2.0 * depth), air, 0.0).wet_time;
  CHECK(thin > 0.0);
  CHECK(thick > thin);
}

TEST_CASE("what stays of a dried deposit falls at the rates of its two parts") {
  Scenario scenario;
  scenario.uptake.mobile_share = 0.4;
  constexpr double mass = 1e-9, temperature = 293.15;  // small enough for the share to hold
  const std::array times{0.0, 86400.0, 5.0 * 86400.0};
  const std::vector<double> left = deposit_left(scenario, mass, temperature, times);
  const double rate = mobile_rate(scenario.uptake, temperature), loss = scenario.uptake.residue_loss;
  REQUIRE(left.size() == times.size());
  for (std::size_t i = 0; i < times.size(); ++i) {
    CHECK(left[i] ==
          Approx(0.4 * std::exp(-rate * times[i]) + 0.6 * std::exp(-loss * times[i])).epsilon(1e-5));
  }
}

TEST_CASE("water on a dried deposit changes nothing before it comes, and lets more enter after") {
  const Scenario scenario;
  constexpr double mass = 1e-6, temperature = 293.15, at = 43200.0;
  const std::array times{at / 2.0, at, at + 60.0, at + 7200.0};
  const auto dry = deposit_left(scenario, mass, temperature, times);
  const auto again = deposit_left(scenario, mass, temperature, times,
                                  SecondWetting{.at = at, .water = 2e-5, .wet_time = 3600.0});
  CHECK(again[0] == dry[0]);
  CHECK(again[1] == dry[1]);
  CHECK(again[2] < dry[2]);
  CHECK(again[3] < dry[3]);
}

TEST_CASE("a second wetting makes and loses nothing, and what is mobile does not mind it") {
  constexpr double temperature = 293.15;
  const SecondWetting second{.at = 43200.0, .water = 2e-5, .wet_time = 3600.0};
  const std::array times{0.0, 43200.0, 43260.0, 45000.0, 46800.0, 90000.0};
  Scenario inert;  // nothing enters and nothing is lost
  inert.uptake.mobile_rate = inert.uptake.residue_loss = inert.uptake.cuticle = 0.0;
  for (const double left : deposit_left(inert, 1e-6, temperature, times, second))
    CHECK(left == Approx(1.0).epsilon(1e-12));
  Scenario mobile;
  mobile.uptake.mobile_share = 1.0;
  constexpr double mass = 1e-12;  // so little that the wax takes all of it
  const double rate = mobile_rate(mobile.uptake, temperature);
  const auto left = deposit_left(mobile, mass, temperature, times, second);
  for (std::size_t i = 0; i < times.size(); ++i)
    CHECK(left[i] == Approx(std::exp(-rate * times[i])).epsilon(1e-5));
}

TEST_CASE("what a second wetting made mobile enters on, once it is dry, like any dry deposit") {
  // A small deposit dissolves whole. From the moment it is dry again it is mobile and locked in the usual
  // shares, beside what was mobile before, so that two times after drying tell both amounts, and a third is a
  // check.
  Scenario scenario;
  scenario.uptake.residue_loss = 0.0;
  constexpr double mass = 1e-9, temperature = 293.15, at = 43200.0, wet = 3600.0, week = 604800.0;
  const double rate = mobile_rate(scenario.uptake, temperature);
  const std::array times{at + wet, at + wet + week, at + wet + 2.0 * week, at + wet + 30.0 * week};
  const auto left = deposit_left(scenario, mass, temperature, times,
                                 SecondWetting{.at = at, .water = 2e-5, .wet_time = wet});
  const double fades = std::exp(-rate * week);
  CHECK((left[1] - left[2]) / (left[0] - left[1]) == Approx(fades).epsilon(1e-9));
  const double mobile = (left[0] - left[1]) / (1.0 - fades);
  // what was mobile at first, and in the end only the locked part is left
  CHECK(mobile > scenario.uptake.mobile_share * std::exp(-rate * (at + wet)));
  CHECK(left[3] == Approx(left[0] - mobile * (1.0 - std::pow(fades, 30.0))).epsilon(1e-9));
}

TEST_CASE("a measurement without mass, depth or warmth is refused") {
  const Scenario scenario;
  const std::array times{0.0};
  CHECK_THROWS_AS(wetted_leaves(scenario, 0.0), InputError);
  CHECK_THROWS_AS(deposit_left(scenario, 0.0, 293.15, times), InputError);
  CHECK_THROWS_AS(deposit_left(scenario, 1e-6, 0.0, times), InputError);
  CHECK_THROWS_AS(deposit_left(scenario, 1e-6, 293.15, times, SecondWetting{.at = 1.0, .water = 1e-5}),
                  InputError);
}

TEST_CASE("what a dry deposit lost and what was taken up is what is no longer there") {
  const Scenario scenario;
  const std::vector<double> times{0.0, 3600.0, 86400.0, 30.0 * 86400.0};
  const std::vector<double> left = deposit_left(scenario, 1e-6, 293.15, times);
  for (std::size_t i = 0; i < times.size(); ++i) {
    const DryDeposit gone = dry_deposit(scenario, 1e-6, 293.15, times[i]);
    CHECK(gone.taken_up + gone.lost + left[i] == Approx(1.0).epsilon(1e-12));
    CHECK(gone.taken_up >= 0.0);
    CHECK(gone.lost >= 0.0);
  }
}
