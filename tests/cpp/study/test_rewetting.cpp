#include "wetspan/study/rewetting.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "approx.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/study/residue.hpp"
#include "wetspan/study/simulate.hpp"

using namespace wetspan;

namespace {

constexpr double half_quart = 0.5 * 0.946352946e-3 / (100 * 0.3048 * 0.3048);  // of water per 100 ft2 [m]

Scenario wetted_again() {
  Scenario scenario;
  scenario.rewetting.volume_rate = half_quart;
  return scenario;
}

}  // namespace

TEST_CASE(
    "a calendar's water is that of the application that is wetted most, and all of it can be left out") {
  CHECK(rewetting_water(Scenario{}) == 0.0);
  Scenario scenario = wetted_again();
  CHECK(rewetting_water(scenario) == half_quart);
  const std::size_t water = parameter_index("rewetting.volume_rate");
  scenario.applications = {{0.0, {{water, 0.0}}}, {86400.0, {{water, 2.0 * half_quart}}}};
  CHECK(rewetting_water(scenario) == 2.0 * half_quart);
  const Scenario plain = without_rewetting(scenario);
  CHECK(rewetting_water(plain) == 0.0);
  CHECK(plain.applications.size() == 2);
  CHECK(plain.applications[1].changes.empty());
}

TEST_CASE(
    "the gain of a re-wetting is that of simulations with and without it, at both ends of the residue") {
  const Scenario scenario = wetted_again();
  const CropAir air = steady_air(scenario);
  const RewettingGain told = rewetting_gain(scenario, air, 0.0);
  const ResidueEnds ends = residue_ends(scenario);
  const auto control = [&](const Scenario& each) { return simulate(each, air, 0.0).growth.control; };
  CHECK(told.nominal.with == control(scenario));
  CHECK(told.nominal.without == control(Scenario{}));
  CHECK(told.locked.with == control(ends.locked));
  CHECK(told.mobile.without == control(without_rewetting(ends.mobile)));
  CHECK(told.wet_time == simulate(scenario, air, 0.0).rewet.wet_time);
  CHECK(told.locked.without == control(without_rewetting(ends.locked)));
  CHECK(told.mobile.with == control(ends.mobile));
  CHECK(told.nominal.gain() == told.nominal.with / told.nominal.without - 1.0);
  CHECK(RewettingGain::Control{.with = 3e-3, .without = 2e-3}.gain() ==
        Approx(0.5));                 // of small controls too
  CHECK(told.nominal.gain() > 0.05);  // common practice, no source: about a tenth
  CHECK(told.nominal.gain() < 0.2);
  CHECK(std::isnan(RewettingGain::Control{}.gain()));
  CHECK_THROWS_WITH_AS(rewetting_gain(Scenario{}, air, 0.0), doctest::Contains("no re-wetting"), InputError);
}

// The stand-in was fitted to the model's own computations (grade C), so this is no evidence for the model.
TEST_CASE("calibrated: a re-wetting acts like a larger mobile share within a tenth of its gain") {
  for (const double share : {0.02, 0.12, 0.4, 0.7}) {
    CAPTURE(share);
    Scenario scenario = wetted_again();
    scenario.uptake.mobile_share = share;
    Scenario plain = without_rewetting(scenario);
    const double without = simulate(plain).growth.control;
    const double gain = simulate(scenario).growth.control / without - 1.0;
    plain.uptake.mobile_share = mobile_share_if_rewetted(scenario);
    CHECK(plain.uptake.mobile_share > share);
    CHECK(simulate(plain).growth.control / without - 1.0 == Approx(gain).epsilon(0.1));
  }
  // What water dissolves again of the locked part is 0.35 of the default's, in proportion to solubility over
  // deposit, at most all. Of it, 0.02 enters in the default crop, and the rest dries with the mobile share of
  // any deposit.
  Scenario scenario;
  const Scenario usual;
  const auto stand_in = [&](double solubility, double cuticle, double share) {
    scenario.active.solubility = solubility * usual.active.solubility;
    scenario.uptake.cuticle = cuticle * usual.uptake.cuticle;
    scenario.uptake.mobile_share = share;
    return mobile_share_if_rewetted(scenario);
  };
  const double m = usual.uptake.mobile_share;
  CHECK(stand_in(1.0, 1.0, m) == Approx(m + (1.0 - m) * 0.35 * (0.02 + 0.98 * m)).epsilon(1e-14));
  CHECK(stand_in(0.5, 1.0, m) == Approx(m + (1.0 - m) * 0.175 * (0.02 + 0.98 * m)).epsilon(1e-14));
  CHECK(stand_in(1.0, 2.0, m) ==
        Approx(m + (1.0 - m) * 0.35 * (1.0 - 0.98 * 0.98 * (1.0 - m))).epsilon(1e-14));
  CHECK(stand_in(1.0, 1.0, 0.5) == Approx(0.5 + (1.0 - m) * 0.35 * (0.02 + 0.98 * 0.5)).epsilon(1e-14));
  // all of a little dissolves: what has not entered is locked twice
  CHECK(stand_in(1.0, 1.0, 0.9) == Approx(1.0 - 0.98 * 0.1 * 0.1).epsilon(1e-14));
  scenario = {};
  scenario.uptake.mobile_share = 1.0;  // nothing is locked
  CHECK(mobile_share_if_rewetted(scenario) == 1.0);
  scenario.uptake.mobile_share = 1.5;
  CHECK_THROWS_AS(mobile_share_if_rewetted(scenario), InputError);
}
