#include "wetspan/study/simulate.hpp"

#include <algorithm>
#include <cmath>
#include <exception>
#include <limits>
#include <optional>
#include <sstream>
#include <utility>

#include "../properties/liquid_range.hpp"
#include "clock.hpp"
#include "simulation.hpp"
#include "unchecked.hpp"
#include "wet_crop.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/canopy.hpp"
#include "wetspan/plant/uptake.hpp"
#include "wetspan/properties/water.hpp"
#include "wetspan/study/batch.hpp"
#include "wetspan/study/clock.hpp"
#include "wetspan/study/outcomes.hpp"

namespace wetspan {
namespace {

/// Active ingredient on leaves and stems, in liquid and dried [kg/m2 of bench].
BySite carried(const Load& load) {
  BySite sum;
  for (const Load::Layer& layer : load.layers) {
    sum.leaf += layer.upper.sum() + layer.lower.sum(), sum.stem += layer.stem.sum();
  }
  return sum;
}

constexpr double water_density = 1000.0;  // kg/m3, rounded: it decides on a refusal alone

/// What the flight of a spray adds to the air of the house.
struct FlightInHouse {
  double vapour;   // per area sprayed [m of water]
  double cooling;  // of the house [K]
};

FlightInHouse in_house(const Scenario& scenario, const Landing& landing, double volume) {
  const House& house = scenario.house;
  const double share = house.enclosed ? house.sprayed_share : 0.0;
  return {.vapour = std::max(0.0, landing.split.evaporated) * volume,
          .cooling = landing.heat * volume * share / house.heat_capacity};
}

/// Throws for a spray whose flight adds more vapour to the house than its air holds at saturation, or cools
/// it below its wet bulb: flights are computed in air that they do not change.
void check_house_air(const Scenario& scenario, const AirState& air, const FlightInHouse& flight) {
  if (!scenario.house.enclosed || scenario.house.sprayed_share <= 0.0) return;
  constexpr double rounding = 1e-9;  // K
  const double vapour_pressure = std::min(air.vapour_pressure, air::saturation_pressure(air.temperature));
  const double coldest = air::wet_bulb(air.temperature, vapour_pressure, air.pressure);
  if (flight.cooling > air.temperature - coldest + rounding) {
    std::ostringstream message;
    message << "the spray would cool the house's air by " << flight.cooling
            << " K before it lands, below its "
            << "wet bulb at " << coldest << " K: lower application.volume_rate or house.sprayed_share, spray "
            << "larger droplets, or raise house.heat_capacity";
    throw InputError(message.str());
  }
  const double evaporated = flight.vapour;
  const double floor = evaporated * scenario.house.sprayed_share;  // [m] of water on the house's floor
  const double holds =
      air::saturation_vapour_density(air.temperature) * scenario.house.height / water_density;
  if (floor <= holds) return;
  std::ostringstream message;
  message << "the spray would evaporate " << floor * 1e3
          << " L per m2 of floor before it lands, but the air of "
          << "the house holds " << holds * 1e3 << " L/m2 at most: lower application.volume_rate or "
          << "house.sprayed_share, or spray larger droplets";
  throw InputError(message.str());
}

/// Joins two wet spans of a crop that was re-wetted before it was dry: it is wet from the spray until all
/// water has dried.
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
  for (const CourseVariable<History>& column : history_variables()) put(column.values);
}

/// Integral of the air's temperature over the record from `from` to `to` [K s], both within it.
double warmth(const CropAir& air, double from, double to) {
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
  return sum;
}

/// Dries the remaining liquid on the wet area `contact` [m2 per m2 of bench].
void dry(OnSurface& on, double contact, const Uptake& uptake) {
  const double mobile = contact > 0.0 ? contact * turns_mobile(uptake, on.liquid / contact) : 0.0;
  on.mobile += mobile, on.locked += on.liquid - mobile, on.liquid = 0.0;
}

/// Dissolves a locked deposit in water, up to the concentration `most`.
void dissolve(OnSurface& on, double water, double most) {
  const double dissolves = redissolved(on.locked, water, most) * on.locked;
  on.liquid += dissolves, on.locked -= dissolves;
}

/// Concentration of the liquid that comes to rest [kg/m3], which evaporation in flight raises; 0 if all the
/// liquid evaporates.
double concentrated(const Scenario& scenario, const Split& parts) {
  const double kept = parts.leaf + parts.stem + parts.substrate + parts.bench + parts.airborne;
  return kept > 0.0 ? scenario.application.concentration / kept : 0.0;
}

}  // namespace

Load load_of(const Scenario& scenario, const Landing& landing) {
  const double volume = scenario.application.volume_rate, water = 1.0 - scenario.liquid.humectant;
  const double concentration = concentrated(scenario, landing.split);
  Load load;
  const double below = scenario.retention.underleaf;
  for (const LeafLayer& layer : landing.layers) {
    const double on_leaves = concentration * layer.liquid;
    load.layers.push_back({.liquid = layer.liquid,
                           .upper = {.liquid = (1.0 - below) * on_leaves},
                           .lower = {.liquid = below * on_leaves},
                           .droplets = layer.droplets,
                           .stem_liquid = layer.stem.liquid * water,
                           .stem = {.liquid = concentration * layer.stem.liquid}});
  }
  load.bench_liquid = landing.split.bench * volume * water;
  const FlightInHouse flight = in_house(scenario, landing, volume);
  load.air_vapour = flight.vapour, load.air_heat = -flight.cooling;
  return load;
}

std::vector<double> daily_temperatures(const CropAir& air, double start, double horizon) {
  constexpr double day = 86400.0;
  if (!(horizon >= 0.0)) throw InputError("the horizon of daily temperatures is at least 0 s");
  std::vector<double> means;
  check_start(air, start);
  for (double from = start; from < start + horizon && from + day <= air.time.back(); from += day) {
    means.push_back(warmth(air, from, from + day) / day);
  }
  return means;
}

std::vector<double> mean_temperatures(const CropAir& air, std::span<const double> edges) {
  check(air);
  constexpr double least_covered = 0.5;  // of the time between two edges [1]
  std::vector<double> means;
  for (std::size_t i = 0; i + 1 < edges.size(); ++i) {
    if (!(edges[i] < edges[i + 1]))
      throw InputError("the edges between mean temperatures are numbers that increase");
    const double from = std::max(edges[i], air.time.front()), to = std::min(edges[i + 1], air.time.back());
    const bool covered = to - from >= least_covered * (edges[i + 1] - edges[i]);
    means.push_back(covered ? warmth(air, from, to) / (to - from) : std::numeric_limits<double>::quiet_NaN());
  }
  return means;
}

Simulation::Simulation(const Scenario& scenario, const CropAir& air, double start,
                       std::span<const double> weeks, Watch watch)
    : air_(air), start_(start), weeks_(weeks), whole_(scenario) {
  if (!scenario.applications.empty()) all_ = applications_of(scenario);
  scenario_ = all_ ? &all_->scenarios.front() : &scenario;
  start_ += all_ ? all_->times.front() : 0.0;
  const Scenario& own = *scenario_;
  again_ = own.rewetting.volume_rate > 0.0 && own.application.method == Method::spray;
  check_start(air, start_);
  const double delay = own.rewetting.delay;
  if (again_ && start_ + delay >= air.time.back()) {
    std::ostringstream message;
    message << "the re-wetting " << delay << " s after the spray at " << start_
            << " s lies beyond the air record, which ends at " << air.time.back() << " s";
    throw InputError(message.str());
  }
  const bool moist = hygroscopicity(own.liquid, own.liquid.humectant) > 0.0 &&  // its residue stays moist
                     own.application.method == Method::spray;
  following_.at_least = std::max(own.numerics.follow, moist ? own.numerics.longest : 0.0);
  following_.watch = std::move(watch);
  landing_ = unchecked::land(own, air.at(start_));
  load_ = load_of(own, landing_);
  check_house_air(own, air.at(start_), in_house(own, landing_, own.application.volume_rate));
  placed_ = place(own.substrate, own.application.method,
                  landing_.split.substrate * own.application.volume_rate / own.canopy.plant_density);
}

std::string_view Simulation::clock_refuses() const {
  return again_ ? refusal::rewetting : wetspan::clock_refuses(*scenario_, load_, following_);
}

WetSpan Simulation::wet_span(bool keep_history) const {
  Following following = following_;
  if (again_) following.at_least = following.at_most = scenario_->rewetting.delay;
  return unchecked::wet_span(*scenario_, load_, air_, start_, following, keep_history);
}

/// Adds a pass of plain water to the load of the crop. The water dissolves the locked deposit up to the
/// solubility. Run-off carries dissolved active ingredient away, and drip brings a part of it to the leaves
/// below.
void Simulation::wet_again(Settled& settled) {
  const Scenario& scenario = *scenario_;
  const AirState air = air_.at(start_ + scenario.rewetting.delay);
  Load& load = load_;
  const double volume = scenario.rewetting.volume_rate;
  const double most = solubility(scenario.active, air.temperature);  // crystals cannot supersaturate water
  Scenario plain = scenario;
  plain.liquid = {.surface_tension = water::surface_tension(std::max(air.temperature, coldest_liquid))};
  Held held;
  for (Load::Layer& layer : load.layers) {
    // the integration may end with a slightly negative film
    for (double* film : {&layer.liquid, &layer.dew, &layer.stem_liquid}) *film = std::max(0.0, *film);
    held.leaves.push_back(layer.liquid + layer.dew);
    held.stems.push_back(layer.stem_liquid);
  }
  const Landing pass = unchecked::land(plain, air, volume,
                                       spectrum(scenario.droplets.distribution, scenario.rewetting.dv50,
                                                scenario.droplets.relative_span, scenario.droplets.bins),
                                       held);
  const double below = scenario.retention.underleaf;
  double dripping = 0.0, down_stem = 0.0;  // active ingredient
  for (std::size_t k = 0; k < load.layers.size(); ++k) {
    Load::Layer& layer = load.layers[k];
    const LeafLayer& came = pass.layers[k];
    const double caught = dripping * came.interception;
    layer.upper.liquid += caught, dripping -= caught;
    const double solute = layer.strength * layer.liquid;
    const double water = layer.liquid + layer.dew + came.liquid + came.run_off;
    dissolve(layer.upper, (1.0 - below) * water, most);
    dissolve(layer.lower, below * water, most);
    const double shed = water > 0.0 ? came.run_off / water : 0.0;
    const double in_liquid = layer.upper.liquid + layer.lower.liquid;
    const double washed = shed > 0.0 ? came.run_off * dissolved(in_liquid, water, most) : 0.0;
    const double kept = in_liquid > 0.0 ? 1.0 - washed / in_liquid : 1.0;
    layer.upper.liquid *= kept, layer.lower.liquid *= kept;
    const double to_stems = came.run_off > 0.0 ? washed * came.stem.from_leaves / came.run_off : 0.0;
    dripping += washed - to_stems;
    layer.liquid += came.liquid;
    layer.strength = layer.liquid > 0.0 ? solute * (1.0 - shed) / layer.liquid : 1.0;
    if (came.liquid > 0.0) layer.droplets = came.droplets;

    layer.stem.liquid += to_stems + down_stem;
    layer.stem_liquid += came.stem.liquid;
    const double on_stems = layer.stem_liquid + came.stem.run_off;
    dissolve(layer.stem, on_stems, most);
    down_stem =
        came.stem.run_off > 0.0 ? came.stem.run_off * dissolved(layer.stem.liquid, on_stems, most) : 0.0;
    layer.stem.liquid -= down_stem;
  }
  const Ground ground = ground_of(scenario.canopy);
  settled.arrivals.back().substrate += down_stem * ground.stem_base + dripping * ground.pot_below_crowns;
  settled.bench += down_stem * (1.0 - ground.stem_base) + dripping * (1.0 - ground.pot_below_crowns);
  load.bench_liquid += pass.split.bench * volume;
  const FlightInHouse flight = in_house(scenario, pass, volume);
  check_house_air(scenario, air, flight);
  load.air_vapour += flight.vapour, load.air_heat -= flight.cooling;
}

/// Adds to the last arrival what a wet span took up, and takes over the load that it left on the crop.
void Simulation::take(const WetSpan& span, Settled& settled) {
  const Scenario& scenario = *scenario_;
  const BySite before = carried(load_), after = carried(span.left);
  load_ = span.left;
  settled.weathered += span.lost_from_leaves + span.lost_from_stems;
  Arrival& arrival = settled.arrivals.back();
  // for very small amounts the differences may be negative by rounding
  arrival.entered = {.leaf = std::max(0.0, before.leaf - after.leaf - span.lost_from_leaves),
                     .stem = std::max(0.0, before.stem - after.stem - span.lost_from_stems)};
  for (std::size_t k = 0; k < span.layer_leaf_uptake.size(); ++k) {
    arrival.entered_growing +=
        enters_growing(scenario.uptake, growing_share(scenario.canopy, k)) * span.layer_leaf_uptake[k];
  }
  arrival.entered_growing = std::min(arrival.entered_growing, arrival.entered.leaf);
}

/// Computes an application from the end of its wet span to the dry deposit.
Simulation::Settled Simulation::settle(WetSpan& wet, WetSpan& rewet, double at, std::size_t position,
                                       bool keep_history) {
  const Scenario& scenario = *scenario_;
  const double volume = scenario.application.volume_rate, concentration = scenario.application.concentration;
  const Split& parts = landing_.split;
  const double came = concentrated(scenario, parts) * volume;
  // until the end, masses are per area of bench [kg/m2]
  Settled settled{.availability = placed_.availability,
                  .applied = concentration * volume,
                  .bench = (parts.bench + parts.substrate * (placed_.leached + placed_.not_taken_up)) * came,
                  // if all the liquid evaporates, the active ingredient remains airborne as dust
                  .airborne = came > 0.0 ? parts.airborne * came : concentration * volume};
  const double to_pot = parts.substrate * placed_.held * came;
  if (scenario.application.method == Method::continuous) {  // one part with the water of each day
    constexpr double day = 86400.0;
    const double days = std::max(1.0, std::ceil((scenario.uptake.horizon - at) / day));
    for (double i = 0.0; i < days; i += 1.0) {
      settled.arrivals.push_back({.time = at + i * day, .application = position, .substrate = to_pot / days});
    }
  } else {
    settled.arrivals.push_back({.time = at, .application = position, .substrate = to_pot});
    take(wet, settled);
  }
  double ends = at + wet.end;
  if (again_) {
    const double delay = scenario.rewetting.delay;
    settled.arrivals.push_back({.time = at + delay, .application = position});
    wet_again(settled);
    rewet = unchecked::wet_span(
        scenario, load_, air_, start_ + delay,
        {.at_least = std::max(0.0, following_.at_least - delay), .watch = following_.watch}, keep_history);
    take(rewet, settled);
    join(wet, rewet, delay);
    if (keep_history) append(wet.history, rewet.history, delay);
    ends = at + delay + rewet.end;
  }
  dry_out(settled, again_ ? rewet : wet, ends, position);

  const double per_plant = 1.0 / scenario.canopy.plant_density;
  for (Arrival& arrival : settled.arrivals) {
    for (double* mass :
         {&arrival.entered.leaf, &arrival.entered.stem, &arrival.entered_growing, &arrival.leaf_mobile,
          &arrival.growing_mobile, &arrival.stem_mobile, &arrival.substrate}) {
      *mass *= per_plant;
    }
  }
  for (auto& each : settled.locked) each.leaf *= per_plant, each.stem *= per_plant;
  for (double* mass : {&settled.applied, &settled.weathered, &settled.bench, &settled.airborne}) {
    *mass *= per_plant;
  }
  return settled;
}

/// Dries the liquid that is left at the end of the last wet span, on the area that it covered.
void Simulation::dry_out(Settled& settled, const WetSpan& last, double ends, std::size_t position) {
  const Scenario& scenario = *scenario_;
  const double contact = last.cover > 0.0 ? 0.5 * last.cover : 1.0;  // of a side's area
  const std::vector<LeafLayer> geometry = leaf_layers(scenario.canopy);
  Arrival mobile{.time = ends, .application = position};
  settled.locked.push_back({.time = ends});
  for (std::size_t k = 0; k < load_.layers.size(); ++k) {
    Load::Layer& layer = load_.layers[k];
    const double growing = growing_share(scenario.canopy, k);
    for (OnSurface* side : {&layer.upper, &layer.lower}) {
      dry(*side, contact * geometry[k].area, scenario.uptake);
      mobile.growing_mobile += growing * side->mobile, mobile.leaf_mobile += (1.0 - growing) * side->mobile;
      settled.locked.back().leaf += side->locked;
    }
    dry(layer.stem, geometry[k].stem.area, scenario.uptake);
    mobile.stem_mobile += layer.stem.mobile, settled.locked.back().stem += layer.stem.locked;
  }
  settled.arrivals.push_back(mobile);
}

Outcome Simulation::finish(WetSpan wet, bool keep_history, HeightCourse* course) {
  Outcome outcome;
  outcome.wet = std::move(wet);
  static constexpr double at_start = 0.0;
  const std::span<const double> times = all_ ? std::span<const double>(all_->times) : std::span(&at_start, 1);
  Settled settled = settle(outcome.wet, outcome.rewet, times[0], 0, keep_history);
  std::vector<Applied> applied{{.time = times[0], .availability = settled.availability}};
  outcome.landing = std::move(landing_);
  for (std::size_t i = 1; i < times.size(); ++i) {
    Simulation next(all_->scenarios[i], air_, start_ - times[0] + times[i], {}, following_.watch);
    WetSpan span = next.wet_span_by_either_path(), rewet;
    const Settled more = next.settle(span, rewet, times[i], i, false);
    applied.push_back({.time = times[i], .availability = more.availability});
    settled.add(more);
  }
  std::stable_sort(settled.arrivals.begin(), settled.arrivals.end(),
                   [](const Arrival& one, const Arrival& other) { return one.time < other.time; });

  const Growing growing{
      .crop = whole_.crop,
      .uptake = whole_.uptake,
      .roots = root_rates(whole_.active, whole_.uptake, whole_.substrate),
      .daily_temperature = weeks_,
  };
  outcome.growth = grow(growing, applied, settled.arrivals, course);
  outcome.applied = settled.applied;
  outcome.account = account_of(settled, outcome.growth);
  return outcome;
}

/// Computes the wet span by the clock path where that is exact, and otherwise with the full system.
WetSpan Simulation::wet_span_by_either_path() const {
  if (clock_refuses().empty()) {
    const SpanJob job{scenario_, &load_, &air_, start_};
    ClockRun run = clock_spans({&job, 1}, instructions_here().back(), true);
    if (std::optional<WetSpan>& found = run.spans.front()) return std::move(*found);
  }
  return wet_span(false);
}

void Simulation::Settled::add(const Settled& more) {
  arrivals.insert(arrivals.end(), more.arrivals.begin(), more.arrivals.end());
  locked.insert(locked.end(), more.locked.begin(), more.locked.end());
  applied += more.applied, weathered += more.weathered;
  bench += more.bench, airborne += more.airborne;
}

/// The mass balance of the active ingredient at the time height is judged. Locked deposits on leaves and
/// stems are lost until then at a rate that does not depend on temperature.
Account Simulation::account_of(const Settled& settled, const Growth& growth) const {
  constexpr double any_temperature = 293.15;
  double leaf_locked = 0.0, stem_locked = 0.0, lost_from_surfaces = settled.weathered;
  for (const auto& each : settled.locked) {
    const double rest = std::max(0.0, whole_.uptake.horizon - each.time);
    const double lost =
        weathered(whole_.uptake, {.locked = each.leaf + each.stem}, any_temperature, rest).lost;
    const double kept = each.leaf + each.stem > 0.0 ? 1.0 - lost / (each.leaf + each.stem) : 1.0;
    leaf_locked += kept * each.leaf, stem_locked += kept * each.stem, lost_from_surfaces += lost;
  }
  const auto share = [&](double mass) { return settled.applied > 0.0 ? mass / settled.applied : 0.0; };
  return {.leaf_surface = share(growth.leaf_mobile + leaf_locked),
          .leaf = share(growth.uptake.leaf),
          .stem_surface = share(growth.stem_mobile + stem_locked),
          .stem = share(growth.uptake.stem),
          .weathered = share(lost_from_surfaces),
          .substrate = share(growth.substrate),
          .root = share(growth.uptake.root),
          .lost = share(growth.lost_from_substrate),
          .bench = share(settled.bench),
          .airborne = share(settled.airborne)};
}

CropAir steady_air(const Scenario& scenario) {
  const double last = scenario.applications.empty() ? 0.0 : scenario.applications.back().at;
  return steady_air(scenario.air, scenario.house, last + scenario.numerics.longest);
}

Outcome simulate(const Scenario& scenario, const CropAir& air, double start, bool keep_history,
                 std::span<const double> weeks, HeightCourse* course, const Watch& watch) {
  if (!keep_history && course == nullptr) {
    const Job job{&scenario, &air, start, weeks};
    BatchOptions options{.threads = 1};
    if (watch) options.progress = [&](std::size_t) { return watch(), true; };
    Batch one = simulate_all({&job, 1}, options);
    if (one.errors.front()) std::rethrow_exception(one.errors.front());
    return std::move(one.outcomes.front());
  }
  check(scenario);
  check(air);
  Simulation simulation(scenario, air, start, weeks, watch);
  return simulation.finish(simulation.wet_span(keep_history), keep_history, course);
}

Outcome simulate(const Scenario& scenario, bool keep_history, HeightCourse* course) {
  check(scenario);  // before its air, so that a refusal names the input
  return simulate(scenario, steady_air(scenario), 0.0, keep_history, {}, course);
}

}  // namespace wetspan
