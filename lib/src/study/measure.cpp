#include "wetspan/study/measure.hpp"

#include <algorithm>

#include "../require.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/uptake.hpp"

namespace wetspan {
namespace {

/// A deposit of `mass` [kg/m2] just after it dried. Its rates may lie beyond the bounds of the table, since
/// fits try such values.
Deposit dried(const Scenario& scenario, double mass, double temperature) {
  require("uptake.mobile_share", scenario.uptake.mobile_share, 0.0, 1.0, "");
  require_amount("uptake.mobile_rate [1/s]", scenario.uptake.mobile_rate);
  require_amount("uptake.residue_loss [1/s]", scenario.uptake.residue_loss);
  require_above_zero("the mass of a deposit", mass);
  require_above_zero("the temperature of a deposit", temperature);
  const double mobile = turns_mobile(scenario.uptake, mass);
  return {.mobile = mobile, .locked = mass - mobile};
}

/// A deposit just after it was wetted again.
struct Rewetted {
  Deposit kept;
  double dissolved;  // [kg/m2]
};

Rewetted rewetted(const Scenario& scenario, const Deposit& dry, double temperature, double water) {
  const double back = dry.locked * redissolved(dry.locked, water, solubility(scenario.active, temperature));
  return {.kept = {.mobile = dry.mobile, .locked = dry.locked - back}, .dissolved = back};
}

/// The amount on the surface [kg/m2] `elapsed` [s] after the second wetting.
double left_after(const Scenario& scenario, const Rewetted& again, double temperature,
                  const SecondWetting& second, double elapsed) {
  const double wet = std::min(elapsed, second.wet_time);
  const double in_liquid = left_in_liquid(scenario.active, scenario.uptake, again.dissolved, second.water,
                                          temperature, second.wet_time, wet);
  Deposit now = again.kept;
  now.mobile = weathered(scenario.uptake, {.mobile = now.mobile}, temperature, wet).left.mobile;
  const double turned = turns_mobile(scenario.uptake, in_liquid);
  now.mobile += turned, now.locked += in_liquid - turned;
  const Deposit then = weathered(scenario.uptake, now, temperature, elapsed - wet).left;
  return then.mobile + then.locked;
}

}  // namespace

Load wetted_leaves(const Scenario& scenario, double depth) {
  check(scenario);
  constexpr double deepest = 1.0;  // m, as for the liquid of an application
  require_above_zero("the depth of liquid on leaves [m]", depth);
  require("the depth of liquid on leaves", depth, 0.0, deepest, "m");
  const Droplets& sizes = scenario.droplets;
  Load load;
  for (const LeafLayer& leaf : leaf_layers(scenario.canopy)) {
    load.layers.push_back(
        {.liquid = depth * leaf.area,
         .droplets = spectrum(sizes.distribution, sizes.dv50, sizes.relative_span, sizes.bins)});
  }
  return load;
}

DryDeposit dry_deposit(const Scenario& scenario, double mass, double temperature, double duration) {
  const Deposit fresh = dried(scenario, mass, temperature);
  require_amount("the time after drying [s]", duration);
  const Weathered after = weathered(scenario.uptake, fresh, temperature, duration);
  return {.taken_up = after.taken_up / mass, .lost = after.lost / mass};
}

std::vector<double> deposit_left(const Scenario& scenario, double mass, double temperature,
                                 std::span<const double> times, const std::optional<SecondWetting>& second) {
  const Deposit fresh = dried(scenario, mass, temperature);
  if (second) {
    require_above_zero("the depth of a re-wetting's water", second->water);
    require_above_zero("the wet time of a re-wetting", second->wet_time);
    require_amount("the time after drying [s]", second->at);
  }
  Rewetted again{};
  if (second) {
    const Deposit dry = weathered(scenario.uptake, fresh, temperature, second->at).left;
    again = rewetted(scenario, dry, temperature, second->water);
  }
  std::vector<double> left;
  for (const double time : times) {
    require_amount("the time after drying [s]", time);
    if (second && time > second->at) {
      left.push_back(left_after(scenario, again, temperature, *second, time - second->at) / mass);
    } else {
      const Deposit now = weathered(scenario.uptake, fresh, temperature, time).left;
      left.push_back((now.mobile + now.locked) / mass);
    }
  }
  return left;
}

}  // namespace wetspan
