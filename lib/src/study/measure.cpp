#include "wetspan/study/measure.hpp"

#include <algorithm>

#include "wetspan/errors.hpp"
#include "wetspan/plant/uptake.hpp"

namespace wetspan {
namespace {

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
  if (elapsed < second.wet_time) return now.mobile + now.locked + in_liquid;
  const double turned = turns_mobile(scenario.uptake, in_liquid);
  now.mobile += turned, now.locked += in_liquid - turned;
  const Deposit then = weathered(scenario.uptake, now, temperature, elapsed - wet).left;
  return then.mobile + then.locked;
}

}  // namespace

Load wetted_leaves(const Scenario& scenario, double depth) {
  if (!(depth > 0.0)) throw InputError("the depth of liquid on leaves is above 0 m");
  const Droplets& sizes = scenario.droplets;
  Load load;
  for (const LeafLayer& leaf : leaf_layers(scenario.canopy)) {
    load.layers.push_back(
        {.liquid = depth * leaf.area,
         .droplets = spectrum(sizes.distribution, sizes.dv50, sizes.relative_span, sizes.bins)});
  }
  return load;
}

std::vector<double> deposit_left(const Scenario& scenario, double mass, double temperature,
                                 std::span<const double> times, const std::optional<SecondWetting>& second) {
  if (!(mass > 0.0)) throw InputError("the mass of a deposit is above 0");
  if (!(temperature > 0.0)) throw InputError("the temperature of a deposit is above 0 K");
  if (second && !(second->water > 0.0 && second->wet_time > 0.0)) {
    throw InputError("a re-wetting needs a depth of water and a wet time above 0");
  }
  const double mobile = turns_mobile(scenario.uptake, mass);
  const Deposit fresh{.mobile = mobile, .locked = mass - mobile};
  Rewetted again{};
  if (second) {
    const Deposit dry = weathered(scenario.uptake, fresh, temperature, second->at).left;
    again = rewetted(scenario, dry, temperature, second->water);
  }
  std::vector<double> left;
  for (const double time : times) {
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
