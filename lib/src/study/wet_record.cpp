#include "wet_record.hpp"

#include <algorithm>
#include <utility>

namespace wetspan {

WetRecord::WetRecord(const Equations& equations, Deposits& deposits, const Steps& steps, bool keep_history)
    : equations_(equations),
      deposits_(deposits),
      steps_(steps),
      keep_history_(keep_history),
      middle_(equations.size),
      between_(equations.size) {}

void WetRecord::start(const State& y) {
  const double count = static_cast<double>(layers().size());
  result_.wet_share = equations_.wet_share_of(0, y);
  for (const Layer& layer : layers()) result_.cover += layer.cover / count;
  result_.wet_time = result_.last_drop_time = equations_.leaf_water > 0.0 ? infinity : 0.0;
  result_.stem_wet_time = equations_.stem_water > 0.0 ? infinity : 0.0;
  for (const Layer& layer : layers()) result_.layer_wet_time.push_back(layer.water > 0.0 ? infinity : 0.0);
  temperature_ = equations_.temperature(layers().front(), y);
  wet_ = excess(y, 0.0) > 0.0;
  deposits_.start(y, 0.0);
  follow(y, y, 0.0, wet_);
}

// dryness
// ----------------------------------------------------------------------------------------------------

/// Water on leaves, or on those of one layer, less the limit below which they count as dry, per area of bench
/// [m]. Leaves are wet if it is above 0.
double WetRecord::excess(const State& y, double t) const {
  double sum = 0.0;
  for (const Layer& layer : layers()) sum += std::max(0.0, equations_.excess_on(layer, y, t));
  const double fresh = equations_.leaf_water > 0.0 ? equations_.leaf_water : equations_.dew_unit();
  return sum - equations_.scenario.numerics.dry_share * fresh;
}
double WetRecord::excess(std::size_t layer, const State& y, double t) const {
  const Layer& of = layers()[layer];
  return equations_.excess_on(of, y, t) - equations_.scenario.numerics.dry_share * of.water;
}

void WetRecord::note_dryness(const State& y, double until, LastStep& step) {
  const double now = excess(y, until);
  if ((now > 0.0) != wet_) {
    const double moment = step.moment(until, now, [&](double t) { return excess(step.at(t), t); });
    if (result_.wet_time == infinity && wet_) result_.wet_time = moment;
    steps_.at(0.5 * (time_ + moment), middle_);
    follow(step.at(moment), middle_, moment, !wet_);
  }
  for (std::size_t k = 0; k < layers().size(); ++k) {
    if (result_.layer_wet_time[k] < infinity) continue;
    const double on_layer = excess(k, y, until);
    if (on_layer > 0.0) continue;
    result_.layer_wet_time[k] =
        step.moment(until, on_layer, [&](double t) { return excess(k, step.at(t), t); });
  }
}

void WetRecord::last_droplet_dries(double t) { result_.last_drop_time = t; }

void WetRecord::stems_dry(double t, bool all) {
  stems_dry_ = std::max(stems_dry_, t);
  if (all) result_.stem_wet_time = stems_dry_;
}

void WetRecord::rest_removed(const State& y, double t) {
  if (wet_ && excess(y, t) <= 0.0) wet_ = false, result_.wet_time = std::min(result_.wet_time, t);
  for (std::size_t k = 0; k < layers().size(); ++k) {
    if (excess(k, y, t) <= 0.0) result_.layer_wet_time[k] = std::min(result_.layer_wet_time[k], t);
  }
}

bool WetRecord::droplets_dry() const { return result_.last_drop_time < infinity; }

bool WetRecord::all_dry() const {
  const bool droplets = droplets_dry() || (equations_.hygroscopic() && result_.wet_time < infinity);
  return droplets && result_.wet_time < infinity && result_.stem_wet_time < infinity;
}

// integrals
// --------------------------------------------------------------------------------------------------

void WetRecord::follow(const State& y, double t) {
  if (!(t > time_)) return;
  steps_.at(0.5 * (time_ + t), middle_);
  follow(y, middle_, t, wet_);
}

/// Adds the time up to `t`, by Simpson's rule; `halfway` is the state in the middle. From then on leaves are
/// `wet` or not.
void WetRecord::follow(const State& y, const State& halfway, double t, bool wet) {
  const double temperature = equations_.temperature(layers().front(), y), span = t - time_;
  const double middle = equations_.temperature(layers().front(), halfway);
  const auto mean = [&](auto value) {
    return (value(temperature_) + 4.0 * value(middle) + value(temperature)) / 6.0;
  };
  warmth_integral_ += span * mean([](double warm) { return warm; });
  if (wet_) {
    result_.wet_duration += span;
    result_.degree_seconds +=
        span * mean([](double warm) { return std::max(0.0, warm - constants::zero_celsius); });
  }
  time_ = t, temperature_ = temperature, wet_ = wet;
  const auto between = [this](double at) -> const State& {
    steps_.at(at, between_);
    return between_;
  };
  deposits_.follow(halfway, between, y, t);
  if (keep_history_) add_to_history(y, t);
}

void WetRecord::add_to_history(const State& y, double t) {
  const FreeAir<double> house = equations_.air_at(y, t).free;
  double water = 0.0, on_stems = 0.0;
  for (const Layer& layer : layers()) {
    water += equations_.water_on(layer, y);
    on_stems += layer.stem.water * y[static_cast<Eigen::Index>(layer.stem_left)];
  }
  History& history = result_.history;
  history.time.push_back(t);
  history.leaf_temperature.push_back(equations_.temperature(layers().front(), y));
  history.air_temperature.push_back(house.temperature);
  history.relative_humidity.push_back(air::relative_humidity(house.vapour_pressure, house.temperature));
  history.leaf_water.push_back(equations_.leaf_water > 0.0 ? water / equations_.leaf_water : 0.0);
  history.stem_water.push_back(equations_.stem_water > 0.0 ? on_stems / equations_.stem_water : 0.0);
  history.wet_share.push_back(equations_.wet_share_of(0, y));
  const BySite taken = deposits_.taken();
  history.leaf_uptake.push_back(equations_.leaf_active > 0.0 ? taken.leaf / equations_.leaf_active : 0.0);
  history.stem_uptake.push_back(equations_.stem_active > 0.0 ? taken.stem / equations_.stem_active : 0.0);
}

// the end
// ----------------------------------------------------------------------------------------------------

WetSpan WetRecord::result(const State& y, double t, int steps, const Load& load) {
  const bool dry = result_.wet_time < infinity && result_.stem_wet_time < infinity;
  result_.status = equations_.leaf_water <= 0.0 ? Status::nothing_wet
                   : dry                        ? Status::dry
                                                : Status::wet_at_end;
  if (equations_.hygroscopic() && !droplets_dry()) result_.last_drop_time = result_.wet_time;
  result_.steps = steps;
  result_.end = t;
  result_.mean_leaf_temperature = t > 0.0 ? warmth_integral_ / t : temperature_;
  result_.end_temperature = equations_.temperature(layers().front(), y);
  result_.water_balance = equations_.imbalance(y);
  const BySite taken = deposits_.taken(), lost = deposits_.lost();
  if (equations_.leaf_active > 0.0) result_.leaf_uptake = taken.leaf / equations_.leaf_active;
  if (equations_.stem_active > 0.0) result_.stem_uptake = taken.stem / equations_.stem_active;
  result_.lost_from_leaves = lost.leaf, result_.lost_from_stems = lost.stem;
  for (std::size_t k = 0; k < layers().size(); ++k) {
    result_.layer_leaf_uptake.push_back(deposits_.taken_by_leaves(k));
    result_.left.layers.push_back(left_on(k, y, load.layers[k]));
  }
  result_.left.bench_liquid = y[bench_left] * equations_.on_bench;
  result_.left.air_vapour = equations_.house_answers ? y[house_vapour] * equations_.came : 0.0;
  result_.left.air_heat = warmth_unit * y[house_heat];
  return std::move(result_);
}

/// The load that is left on a layer.
Load::Layer WetRecord::left_on(std::size_t k, const State& y, const Load::Layer& carried) const {
  const Layer& layer = layers()[k];
  const double dew = y[static_cast<Eigen::Index>(layer.dew)] * equations_.dew_unit() * layer.area;
  double liquid = carried.liquid * layer.solute;
  for (std::size_t i = 0; i < layer.classes.size(); ++i) {
    liquid += y[static_cast<Eigen::Index>(layer.entry(i))] * layer.per_bench(i);
  }
  // the non-volatile part is conserved while the liquid decreases
  const double strength = liquid > 0.0 ? carried.strength * carried.liquid / liquid : 1.0;
  return {.liquid = liquid,
          .strength = strength,
          .upper = deposits_.left(k, on_upper),
          .lower = deposits_.left(k, on_lower),
          .dew = dew,
          .temperature = equations_.temperature(layer, y),
          .droplets = carried.droplets,
          .stem_liquid = y[static_cast<Eigen::Index>(layer.stem_left)] * layer.stem.water,
          .stem = deposits_.left(k, on_stem)};
}

}  // namespace wetspan
