#include "wetspan/study/simulate.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>

#include "wetspan/errors.hpp"
#include "wetspan/plant/canopy.hpp"
#include "wetspan/plant/uptake.hpp"

namespace wetspan {
namespace {

/// Active ingredient per area of bench [kg/m2], by where it is while spans last.
struct Masses {
  double leaf = 0, stem = 0;  // taken up
  double substrate = 0, bench = 0, airborne = 0;
};

double on_leaves(const Load& load) {
  double sum = 0.0;
  for (const Load::Layer& layer : load.layers) sum += layer.active;
  return sum;
}

Load load_of(const Landing& landing, double volume, double concentration) {
  Load load;
  for (const LeafLayer& layer : landing.layers) {
    load.layers.push_back(
        {.liquid = layer.liquid, .active = concentration * layer.liquid, .droplets = layer.droplets});
  }
  load.stem_liquid = landing.split.stem * volume;
  load.stem_active = concentration * load.stem_liquid;
  load.bench_liquid = landing.split.bench * volume;
  load.air_vapour = std::max(0.0, landing.split.evaporated) * volume;
  return load;
}

/// Refuses a spray that evaporates more in flight than the house's air could ever hold.
void check_house_air(const Scenario& scenario, const AirState& air, double evaporated) {
  if (!scenario.house.enclosed || scenario.house.sprayed_share <= 0.0) return;
  const double floor = evaporated * scenario.house.sprayed_share;  // [m] of water on the house's floor
  const double holds = air::saturation_vapour_density(air.temperature) * scenario.house.height / 1000.0;
  if (floor <= holds) return;
  std::ostringstream message;
  message << "the spray would evaporate " << floor * 1e3
          << " L per m2 of floor before it lands, but the air of "
          << "the house holds " << holds * 1e3 << " L/m2 at most: lower application.volume_rate or "
          << "house.sprayed_share, or spray larger droplets";
  throw InputError(message.str());
}

/// Adds a pass of plain water to what is on the crop; what runs off takes dissolved active ingredient along.
void wet_again(const Scenario& scenario, const AirState& air, Load& load, Masses& masses) {
  const Rewetting& again = scenario.rewetting;
  const Droplets& droplets = scenario.droplets;
  std::vector<double> held;
  for (const Load::Layer& layer : load.layers) held.push_back(layer.liquid + layer.dew);
  const Landing pass =
      land(scenario, air, again.volume_rate,
           spectrum(droplets.distribution, again.dv50, droplets.relative_span, droplets.bins), held,
           load.stem_liquid);
  const Ground ground = ground_of(scenario.canopy);
  const bool has_stems = scenario.canopy.stem_area > 0.0;
  for (std::size_t k = 0; k < load.layers.size(); ++k) {
    Load::Layer& layer = load.layers[k];
    const LeafLayer& came = pass.layers[k];
    const double water = layer.liquid + layer.dew + came.liquid + came.run_off;
    const double washed =
        came.run_off > 0.0
            ? came.run_off * dissolved(layer.active, water, solubility(scenario.active, air.temperature))
            : 0.0;
    const double to_stems = has_stems ? scenario.retention.stemflow * washed : 0.0;
    layer.active -= washed;
    load.stem_active += to_stems;
    masses.substrate += (washed - to_stems) * ground.pot_below_crowns;
    masses.bench += (washed - to_stems) * (1.0 - ground.pot_below_crowns);
    if (came.liquid > 0.0) layer.droplets = came.droplets;
    layer.liquid += came.liquid;
  }
  check_house_air(scenario, air, std::max(0.0, pass.split.evaporated) * again.volume_rate);
  load.stem_liquid += pass.split.stem * again.volume_rate;
  load.bench_liquid += pass.split.bench * again.volume_rate;
  load.air_vapour += std::max(0.0, pass.split.evaporated) * again.volume_rate;
}

void append(History& history, const History& later, double delay) {
  for (const double time : later.time) history.time.push_back(time + delay);
  const auto put = [&](std::vector<double> History::* column) {
    (history.*column).insert((history.*column).end(), (later.*column).begin(), (later.*column).end());
  };
  for (const auto column : {&History::leaf_temperature, &History::air_temperature,
                            &History::relative_humidity, &History::leaf_water, &History::stem_water,
                            &History::wet_share, &History::leaf_uptake, &History::stem_uptake}) {
    put(column);
  }
}

/// Mean air temperature [K] of the record from `start` to its end.
double mean_temperature(const CropAir& air, double start) {
  double sum = 0.0, from = start, before = air.at(start).temperature;
  for (std::size_t i = 0; i < air.time.size(); ++i) {
    if (air.time[i] <= start) continue;
    sum += 0.5 * (air.time[i] - from) * (air.state[i].temperature + before);
    from = air.time[i], before = air.state[i].temperature;
  }
  return sum / (from - start);
}

/// Share of a residue of `mass` [kg per m2 that it covers] taken up in `rest` [s].
double from_residue(const Scenario& scenario, double mass, double rest, double temperature,
                    double relative_permeance) {
  if (mass <= 0.0 || rest <= 0.0) return 0.0;
  const double in_solution =
      std::min(scenario.application.concentration, solubility(scenario.active, temperature));
  const double rate =
      residue_rate(relative_permeance * permeance(scenario.active, scenario.uptake, temperature), in_solution,
                   mass, scenario.uptake.wet_to_dry);
  return -std::expm1(-rate * rest);
}

}  // namespace

Outcome simulate(const Scenario& scenario, const CropAir& air, double start, bool keep_history) {
  check(scenario);
  check(air);
  Outcome outcome;
  const bool drench = scenario.application.method == Method::drench;
  const double volume = scenario.application.volume_rate, concentration = scenario.application.concentration;
  outcome.landing = land(scenario, air.at(start));
  const Split& parts = outcome.landing.split;
  // what evaporates leaves its active ingredient behind; a spray that evaporates wholly leaves dust in the
  // air
  const double kept = parts.leaf + parts.stem + parts.substrate + parts.bench + parts.airborne;
  const double concentrated = kept > 0.0 ? concentration / kept : 0.0;
  Load load = load_of(outcome.landing, volume, concentrated);
  check_house_air(scenario, air.at(start), load.air_vapour);
  Masses masses{.substrate = parts.substrate * volume * concentrated,
                .bench = parts.bench * volume * concentrated,
                .airborne = (kept > 0.0 ? parts.airborne * concentrated : concentration) * volume};

  const auto span = [&](double when, const Following& following) {
    const double leaf_before = on_leaves(load), stem_before = load.stem_active;
    WetSpan result = wet_span(scenario, load, air, when, following, keep_history);
    load = result.left;
    masses.leaf += leaf_before - on_leaves(load);
    masses.stem += stem_before - load.stem_active;
    return result;
  };
  const bool humid = scenario.liquid.humectant * scenario.liquid.kappa > 0.0;  // its residue stays moist
  const double follow =
      std::max(scenario.numerics.follow, humid && !drench ? scenario.numerics.longest : 0.0);
  const double delay = scenario.rewetting.delay;
  const bool again = scenario.rewetting.volume_rate > 0.0 && !drench && start + delay < air.time.back();
  outcome.wet = span(start, again ? Following{delay, delay} : Following{.at_least = follow});
  double followed = outcome.wet.end;
  if (again) {
    wet_again(scenario, air.at(start + delay), load, masses);
    outcome.rewet = span(start + delay, {.at_least = std::max(0.0, follow - delay)});
    followed = delay + outcome.rewet.end;
    if (keep_history) append(outcome.wet.history, outcome.rewet.history, delay);
  }

  // the residue, for as long as it gives
  const double leaf_surface = on_leaves(load), stem_surface = load.stem_active;
  const double rest = scenario.uptake.residue_time - followed;
  const double temperature = mean_temperature(air, start);
  const double leaf_later =
      outcome.wet.cover > 0.0
          ? from_residue(scenario, leaf_surface / leaf_area_index(scenario.canopy) / outcome.wet.cover, rest,
                         temperature, 1.0)
          : 0.0;
  const double stem_later = stem_surface > 0.0
                                ? from_residue(scenario, stem_surface / stem_area_index(scenario.canopy),
                                               rest, temperature, scenario.uptake.stem_cuticle)
                                : 0.0;
  const RootUptake roots =
      root_uptake(scenario.active, scenario.uptake, scenario.substrate, scenario.uptake.horizon);

  const double all = concentration * volume;
  const auto share = [&](double mass) { return all > 0.0 ? mass / all : 0.0; };
  outcome.account = {.leaf_surface = share(leaf_surface * (1.0 - leaf_later)),
                     .leaf = share(masses.leaf + leaf_surface * leaf_later),
                     .stem_surface = share(stem_surface * (1.0 - stem_later)),
                     .stem = share(masses.stem + stem_surface * stem_later),
                     .substrate = share(masses.substrate * roots.left),
                     .root = share(masses.substrate * roots.root),
                     .lost = share(masses.substrate * roots.lost),
                     .bench = share(masses.bench),
                     .airborne = share(masses.airborne)};
  outcome.applied = all / scenario.canopy.plant_density;
  outcome.uptake = {.leaf = outcome.account.leaf * outcome.applied,
                    .stem = outcome.account.stem * outcome.applied,
                    .root = outcome.account.root * outcome.applied};
  outcome.tips = at_the_tips(outcome.uptake, scenario.crop);
  outcome.growth_control = growth_control(outcome.tips.sum(), scenario.crop);
  return outcome;
}

Outcome simulate(const Scenario& scenario, bool keep_history) {
  return simulate(scenario, steady_air(scenario.air, scenario.house, scenario.numerics.longest), 0.0,
                  keep_history);
}

}  // namespace wetspan
