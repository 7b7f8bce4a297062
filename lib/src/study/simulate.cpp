#include "wetspan/study/simulate.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>
#include <utility>

#include "simulation.hpp"
#include "unchecked.hpp"
#include "wet_crop.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/canopy.hpp"
#include "wetspan/plant/uptake.hpp"
#include "wetspan/properties/water.hpp"
#include "wetspan/study/batch.hpp"
#include "wetspan/study/clock.hpp"

namespace wetspan {
namespace {

double on_leaves(const Load& load) {
  double sum = 0.0;
  for (const Load::Layer& layer : load.layers) sum += layer.active;
  return sum;
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

/// Re-wetted before it was dry, the crop is wet from the spray until the water of both has dried.
void join(WetSpan& wet, const WetSpan& again, double delay) {
  if (wet.status == Status::wet_at_end) wet.status = again.status;
  const auto until = [&](double& time, double later) {
    if (std::isinf(time)) time = delay + later;
  };
  until(wet.wet_time, again.wet_time);
  until(wet.last_drop_time, again.last_drop_time);
  until(wet.stem_wet_time, again.stem_wet_time);
  for (std::size_t k = 0; k < wet.layer_wet_time.size(); ++k) {
    until(wet.layer_wet_time[k], again.layer_wet_time[k]);
  }
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

/// Mean air temperature [K] of the record between two times [s], in so far as it covers them.
double mean_temperature(const CropAir& air, double from, double to) {
  from = std::min(from, air.time.back()), to = std::min(to, air.time.back());
  if (from >= to) return air.at(to).temperature;
  double sum = 0.0, time = from, before = air.at(from).temperature;
  const auto add = [&](double until, double temperature) {
    sum += 0.5 * (until - time) * (temperature + before);
    time = until, before = temperature;
  };
  const auto first = std::upper_bound(air.time.begin(), air.time.end(), from) - air.time.begin();
  for (auto i = static_cast<std::size_t>(first); i < air.time.size() && air.time[i] < to; ++i) {
    add(air.time[i], air.state[i].temperature);
  }
  add(to, air.at(to).temperature);
  return sum / (to - from);
}

/// Share of a residue of `mass` [kg/m2], that `liquid` [m] left on `cover` [1] of a surface, taken up in
/// `rest` [s].
double from_residue(const Scenario& scenario, double mass, double liquid, double cover, double rest,
                    double temperature, double relative_permeance) {
  if (!(mass > 0.0 && liquid > 0.0 && cover > 0.0 && rest > 0.0)) return 0.0;
  const double rate =
      residue_rate(relative_permeance * permeance(scenario.active, scenario.uptake, temperature),
                   dissolved(mass, liquid, solubility(scenario.active, temperature)), mass / cover,
                   scenario.uptake.wet_to_dry);
  return -std::expm1(-rate * rest);
}

/// Active ingredient in the liquid that comes to rest [kg/m3]: what evaporates in flight leaves its own
/// behind; 0 when all does.
double concentrated(const Scenario& scenario, const Split& parts) {
  const double kept = parts.leaf + parts.stem + parts.substrate + parts.bench + parts.airborne;
  return kept > 0.0 ? scenario.application.concentration / kept : 0.0;
}

}  // namespace

Load load_of(const Scenario& scenario, const Landing& landing) {
  const double volume = scenario.application.volume_rate, water = 1.0 - scenario.liquid.humectant;
  const double concentration = concentrated(scenario, landing.split);
  Load load;
  for (const LeafLayer& layer : landing.layers) {
    load.layers.push_back(
        {.liquid = layer.liquid, .active = concentration * layer.liquid, .droplets = layer.droplets});
  }
  load.stem_liquid = landing.split.stem * volume * water;
  load.stem_active = landing.split.stem * volume * concentration;
  load.bench_liquid = landing.split.bench * volume * water;
  load.air_vapour = std::max(0.0, landing.split.evaporated) * volume;
  return load;
}

Simulation::Simulation(const Scenario& scenario, const CropAir& air, double start)
    : scenario_(scenario),
      air_(air),
      start_(start),
      again_(scenario.rewetting.volume_rate > 0.0 && scenario.application.method == Method::spray) {
  check_start(air, start);
  const double delay = scenario.rewetting.delay;
  if (again_ && start + delay >= air.time.back()) {
    std::ostringstream message;
    message << "the re-wetting " << delay << " s after the spray at " << start
            << " s lies beyond the air record, which ends at " << air.time.back() << " s";
    throw InputError(message.str());
  }
  const bool moist = scenario.liquid.humectant * scenario.liquid.kappa > 0.0 &&  // its residue stays moist
                     scenario.application.method == Method::spray;
  following_.at_least = std::max(scenario.numerics.follow, moist ? scenario.numerics.longest : 0.0);
  landing_ = unchecked::land(scenario, air.at(start));
  const Split& parts = landing_.split;
  load_ = load_of(scenario, landing_);
  check_house_air(scenario, air.at(start), load_.air_vapour);
  const double volume = scenario.application.volume_rate, came = concentrated(scenario, parts) * volume;
  placed_ = place(scenario.substrate, scenario.application.method,
                  parts.substrate * volume / scenario.canopy.plant_density);
  masses_ = {.substrate = parts.substrate * placed_.held * came,
             .bench = (parts.bench + parts.substrate * (placed_.leached + placed_.not_taken_up)) * came,
             // a spray that evaporates wholly leaves dust in the air
             .airborne = came > 0.0 ? parts.airborne * came : scenario.application.concentration * volume};
}

std::string_view Simulation::clock_refuses() const {
  return again_ ? "a re-wetting follows" : wetspan::clock_refuses(scenario_, load_, following_);
}

WetSpan Simulation::wet_span(bool keep_history) const {
  const double delay = scenario_.rewetting.delay;
  return unchecked::wet_span(scenario_, load_, air_, start_, again_ ? Following{delay, delay} : following_,
                             keep_history);
}

void Simulation::take(const WetSpan& span) {
  masses_.leaf += on_leaves(load_) - on_leaves(span.left);
  masses_.stem += load_.stem_active - span.left.stem_active;
  load_ = span.left;
}

/// Adds a pass of plain water to what is on the crop. What runs off takes along what it dissolved; drip hands
/// a part of that to the leaves below.
void Simulation::wet_again() {
  const Scenario& scenario = scenario_;
  const AirState air = air_.at(start_ + scenario.rewetting.delay);
  Load& load = load_;
  const double volume = scenario.rewetting.volume_rate;
  const double saturated = solubility(scenario.active, air.temperature);
  Scenario plain = scenario;
  plain.liquid = {.surface_tension = water::surface_tension(std::max(air.temperature, 273.16))};
  Held held;
  for (const Load::Layer& layer : load.layers) {
    held.leaves.push_back(std::max(0.0, layer.liquid + layer.dew));  // a film may end a trace below 0
    held.stems.push_back(std::max(0.0, load.stem_liquid) / static_cast<double>(load.layers.size()));
  }
  const Landing pass = unchecked::land(plain, air, volume,
                                       spectrum(scenario.droplets.distribution, scenario.rewetting.dv50,
                                                scenario.droplets.relative_span, scenario.droplets.bins),
                                       held);
  double dripping = 0.0;  // active ingredient
  for (std::size_t k = 0; k < load.layers.size(); ++k) {
    Load::Layer& layer = load.layers[k];
    const LeafLayer& came = pass.layers[k];
    const double caught = dripping * came.interception;
    layer.active += caught, dripping -= caught;
    const double solute = layer.strength * layer.liquid;
    const double water = layer.liquid + layer.dew + came.liquid + came.run_off;
    const double shed = water > 0.0 ? came.run_off / water : 0.0;
    const double washed = shed > 0.0 ? came.run_off * dissolved(layer.active, water, saturated) : 0.0;
    const double to_stems = came.run_off > 0.0 ? washed * came.stem.from_leaves / came.run_off : 0.0;
    layer.active -= washed;
    load.stem_active += to_stems, dripping += washed - to_stems;
    layer.liquid += came.liquid;
    layer.strength = layer.liquid > 0.0 ? solute * (1.0 - shed) / layer.liquid : 1.0;
    if (came.liquid > 0.0) layer.droplets = came.droplets;
  }
  load.stem_liquid += pass.split.stem * volume;
  const double off_stems = pass.stem_run_off * volume;
  const double washed = off_stems > 0.0
                            ? off_stems * dissolved(load.stem_active, load.stem_liquid + off_stems, saturated)
                            : 0.0;
  load.stem_active -= washed;
  const Ground ground = ground_of(scenario.canopy);
  masses_.substrate += washed * ground.stem_base + dripping * ground.pot_below_crowns;
  masses_.bench += washed * (1.0 - ground.stem_base) + dripping * (1.0 - ground.pot_below_crowns);
  load.bench_liquid += pass.split.bench * volume;
  check_house_air(scenario, air, std::max(0.0, pass.split.evaporated) * volume);
  load.air_vapour += std::max(0.0, pass.split.evaporated) * volume;
}

Outcome Simulation::finish(WetSpan wet, bool keep_history) {
  const Scenario& scenario = scenario_;
  const double volume = scenario.application.volume_rate, concentration = scenario.application.concentration;
  Outcome outcome;
  outcome.landing = std::move(landing_);
  const Split& parts = outcome.landing.split;
  outcome.wet = std::move(wet);
  take(outcome.wet);
  double followed = outcome.wet.end;
  if (again_) {
    const double delay = scenario.rewetting.delay;
    wet_again();
    outcome.rewet =
        unchecked::wet_span(scenario, load_, air_, start_ + delay,
                            {.at_least = std::max(0.0, following_.at_least - delay)}, keep_history);
    take(outcome.rewet);
    followed = delay + outcome.rewet.end;
    join(outcome.wet, outcome.rewet, delay);
    if (keep_history) append(outcome.wet.history, outcome.rewet.history, delay);
  }

  // the residue, for as long as it gives
  const double leaf_surface = on_leaves(load_), stem_surface = load_.stem_active;
  const double rest = scenario.uptake.residue_time - followed;
  // at the mean temperature of what the record tells of it, no further than a span is followed: the same for
  // a spray alone and among others
  const double told = start_ + std::min(scenario.uptake.residue_time, scenario.numerics.longest);
  const double temperature = mean_temperature(air_, std::min(start_ + followed, told), told);
  const double leaves = leaf_area_index(scenario.canopy), stems = stem_area_index(scenario.canopy);
  const double leaf_later = from_residue(scenario, leaf_surface / leaves, parts.leaf * volume / leaves,
                                         outcome.wet.cover, rest, temperature, 1.0);
  const double stem_later = stems > 0.0
                                ? from_residue(scenario, stem_surface / stems, parts.stem * volume / stems,
                                               1.0, rest, temperature, scenario.uptake.stem_cuticle)
                                : 0.0;
  const RootUptake roots =
      root_uptake(scenario.active, scenario.uptake, scenario.substrate, scenario.uptake.horizon,
                  scenario.application.method == Method::continuous ? Supply::evenly : Supply::at_once,
                  placed_.availability);

  const double all = concentration * volume;
  const auto share = [&](double mass) { return all > 0.0 ? mass / all : 0.0; };
  outcome.account = {.leaf_surface = share(leaf_surface * (1.0 - leaf_later)),
                     .leaf = share(masses_.leaf + leaf_surface * leaf_later),
                     .stem_surface = share(stem_surface * (1.0 - stem_later)),
                     .stem = share(masses_.stem + stem_surface * stem_later),
                     .substrate = share(masses_.substrate * roots.left),
                     .root = share(masses_.substrate * roots.root),
                     .lost = share(masses_.substrate * roots.lost),
                     .bench = share(masses_.bench),
                     .airborne = share(masses_.airborne)};
  outcome.applied = all / scenario.canopy.plant_density;
  outcome.uptake = {.leaf = outcome.account.leaf * outcome.applied,
                    .stem = outcome.account.stem * outcome.applied,
                    .root = outcome.account.root * outcome.applied};
  outcome.tips = at_the_tips(outcome.uptake, scenario.crop);
  outcome.growth_control = growth_control(outcome.tips.sum(), scenario.crop);
  return outcome;
}

Outcome simulate(const Scenario& scenario, const CropAir& air, double start, bool keep_history) {
  if (!keep_history) {
    const Job job{&scenario, &air, start};
    Batch one = simulate_all({&job, 1}, {.threads = 1});
    if (one.reasons.front().empty()) return std::move(one.outcomes.front());
    // otherwise it throws what went wrong, here
  }
  check(scenario);
  check(air);
  Simulation simulation(scenario, air, start);
  return simulation.finish(simulation.wet_span(keep_history), keep_history);
}

Outcome simulate(const Scenario& scenario, bool keep_history) {
  return simulate(scenario, steady_air(scenario.air, scenario.house, scenario.numerics.longest), 0.0,
                  keep_history);
}

}  // namespace wetspan
