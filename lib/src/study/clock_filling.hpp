// Beginning and end of events in the lanes: initial values, the segments of the air's record, and results.
//
// A lane is filled with the numbers of its event, the classes of each leaf side and the segment of the air's
// record. Its leaves start at T = T_dry + c (T_wb - T_dry), with T_dry [K] the temperature of the dry leaf,
// T_wb [K] the wet-bulb temperature of the air and c [1] the heat capacity of the liquid over that of leaf
// and liquid (docs/science/wet_leaf.md). docs/science/clocks.md, "Lanes", says how lanes share the kernel.
#pragma once

#include <algorithm>
#include <cmath>

#include "clock_events.hpp"
#include "wetspan/plant/uptake.hpp"

namespace wetspan::clocks {
inline namespace WETSPAN_LANES_NAMESPACE {
namespace {  // in the kernel alone

/// Computes the initial state and rates of new events.
template <int Width>
void Events<Width>::begin_events() {
  const Mask fresh = new_ > L::all(0.0);
  evaluations_ += std::popcount(L::bits_of(fresh) & busy_);
  wet_leaves(fresh);
  steps_.on_sides([](LeafSide<L>& side, std::size_t, std::size_t) { side.now = side.before; });
  rates(steps_.fits, crops(), steps_.y, steps_.end, steps_.evaluated);
  steps_.on_sides([&](LeafSide<L>& side, std::size_t, std::size_t i) {
    side.rate = L::select(fresh, steps_.end[i], side.rate);
  });
  for (std::size_t k = 0; k < crops().layers; ++k) {
    R& settling = steps_.leaf[k].settling;
    settling = L::select(fresh, steps_.evaluated.settling[k], settling);
  }
  new_ = R{};
}

/// Sets the initial leaf temperatures: dry leaves, in balance with their air or at a given temperature, mix
/// with liquid at the wet-bulb temperature.
template <int Width>
void Events<Width>::wet_leaves(const Mask& fresh) {
  const FittedAir<L> of{steps_.fits, crops().terms.diffusion};
  const RecordedAir<R> record = recorded_air(crops(), steps_.y[elapsed]);
  const FreeAir<R> air =
      free_air<L>(of, record.temperature,
                  record.vapour_pressure * L::inverse(record.temperature * constants::gas_constant_water),
                  record.vapour_pressure, record.pressure, L::inverse(record.pressure),
                  L::max(record.speed, stillest), record.radiant_temperature);
  for (std::size_t k = 0; k < crops().layers; ++k) {
    const LayerTerms<R>& layer = crops().layer[k];
    const R sun = record.shortwave * layer.leaf.sun;
    const auto surplus = [&](const R& at) {
      return dry_heat_gain<L>(layer.leaf, crops().terms.stomata, surface_of(of, layer, at, false, air), air,
                              sun);
    };
    const Mask wanted = fresh & (layer.given <= L::all(0.0));
    const R coldest = L::max(record.temperature - colder_leaf, AirFits::coldest),
            hottest = L::min(record.temperature + hotter_leaf, AirFits::hottest);
    const R found = dry_leaf<L>(surplus, record.temperature, coldest, hottest, wanted);
    const R dry = L::select(layer.given > L::all(0.0), layer.given, found);
    const R wetted = L::fma(layer.liquid_heat, crops().terms.wet_bulb - dry, dry);
    R& warm = steps_.y[entry_of(k, warmth)];
    warm = L::select(fresh, (wetted - crops().terms.base) * (1.0 / warmth_unit), warm);
    stop(L::bits_of(fresh & (dry != dry)));
  }
}

template <int Width>
void Events<Width>::enter_segment(int lane, std::size_t segment) {
  Progress& progress = progress_[lane];
  const Event& event = progress.event;
  const CropAir& air = *event.air;
  progress.segment = segment;
  const double from = air.time[segment], until = air.time[segment + 1];
  const AirState &before = air.state[segment], &after = air.state[segment + 1];
  using Air = RecordedAir<R>;
  const auto set = [&](R Air::* of, double AirState::* column) {
    L::set(crops().air_value.*of, lane, before.*column);
    L::set(crops().air_slope.*of, lane, (after.*column - before.*column) / (until - from));
  };
  set(&Air::temperature, &AirState::temperature);
  set(&Air::vapour_pressure, &AirState::vapour_pressure);
  set(&Air::pressure, &AirState::pressure);
  set(&Air::speed, &AirState::speed);
  set(&Air::shortwave, &AirState::shortwave);
  set(&Air::radiant_temperature, &AirState::radiant_temperature);
  set(&Air::air_changes, &AirState::air_changes);
  L::set(crops().segment_start, lane, from - event.start);
  L::set(steps_.segment_end, lane, std::min(until - event.start, event.last));
}

template <int Width>
void Events<Width>::follow_no_further(int lane) {
  progress_[lane].solution.followed = true;
  stop(1U << lane);
}

template <int Width>
void Events<Width>::finish(int lane) {
  Progress& progress = progress_[lane];
  Solution& solution = progress.solution;
  for (std::size_t i = 0; i < most_entries; ++i) solution.state[i] = L::get(steps_.y[i], lane);
  // the errors of steps may make an amount negative that is almost completely taken up
  const auto at_least_none = [&](std::size_t i) { solution.state[i] = std::max(0.0, solution.state[i]); };
  const Event& event = progress.event;
  const auto films_hold = [&](std::size_t film, double share) {
    double& left = solution.state[film];
    left = left * left * left;
    solution.state[event.terms.house.answers > 0.0 ? house_vapour : carried_off] -= share * left;
  };
  films_hold(bench_left, event.terms.bench_share);
  for (std::size_t k = 0; k < crops().layers; ++k) {
    films_hold(entry_of(k, stem_water), event.layer[k].stem_share);
    for (const LayerEntry entry : {upper_active, lower_active, stem_active})
      at_least_none(entry_of(k, entry));
    for (const Surface surface : {on_upper, on_lower, on_stem}) {
      const std::size_t its = surface == on_stem ? std::size_t{stem_exposure} : entry_of(k, exposure);
      weather(solution.deposit[k][surface], *event.uptake, solution.state[its], solution.state[elapsed]);
    }
  }
  solution.steps = static_cast<int>(L::get(count_, lane));
  busy_ &= ~(1U << lane);
  supply_.done(static_cast<std::size_t>(lane), solution);
}

/// Copies the numbers of one event into a lane.
template <int Width>
template <class One, class Many>
void Events<Width>::spread(const One& one, Many& many, int lane) {
  constexpr std::size_t numbers = sizeof(One) / sizeof(double);
  static_assert(sizeof(Many) == numbers * sizeof(R));
  const auto* from = reinterpret_cast<const double*>(&one);
  auto* to = reinterpret_cast<double*>(&many) + lane;
  for (std::size_t i = 0; i < numbers; ++i) to[i * Width] = from[i];
}

template <int Width>
void Events<Width>::refill(int lane) {
  Progress& progress = progress_[lane];
  Event& event = progress.event;
  if (!supply_.next(static_cast<std::size_t>(lane), event)) {
    L::set(steps_.by_error, lane, 0.0);  // an idle lane makes steps of length 0
    for (auto& sides : crops().sides) {
      for (LeafSide<L>& side : sides) L::set(side.classes.receding, lane, 0.0);
    }
    return;
  }
  L::set(new_, lane, 1.0);
  busy_ |= 1U << lane;
  crops().layers = event.layers;
  progress.solution = {};
  Solution& solution = progress.solution;
  solution.wet_time = solution.last_drop_time = solution.stem_wet_time = infinity;
  solution.layer_wet_time.fill(0.0);
  solution.stem_dry_time.fill(0.0);
  solution.deposit = event.deposit;
  L::set(count_, lane, 0.0);
  L::set(refused_, lane, 0.0);
  progress.wet_classes = 0;
  spread(event.terms, crops().terms, lane);
  spread(event.layer, crops().layer, lane);
  for (std::size_t i = 0; i < most_entries; ++i) L::set(steps_.y[i], lane, event.state[i]);
  for (std::size_t k = 0; k < crops().layers; ++k) begin_layer(lane, k);
  const auto& stems = solution.stem_dry_time;
  solution.stem_wet_time =
      *std::max_element(stems.begin(), stems.begin() + static_cast<std::ptrdiff_t>(crops().layers));
  L::set(goal_, lane, dry_goal(event));
  begin_steps(lane);
}

template <int Width>
void Events<Width>::begin_layer(int lane, std::size_t k) {
  Progress& progress = progress_[lane];
  const Event& event = progress.event;
  bool wet = false;
  for (std::size_t below = 0; below < 2; ++below) {
    const Event::Side& side = event.side[k][below];
    const Place place{lane, k, below};
    progress.dried[k][below] = 0;
    line_up(place, 0);
    pin(place, 0);
    progress.wet_classes += side.count;
    progress.wet_part[k][below] = 1.0;
    wet = wet || side.count > 0;
    LeafSide<L>& its = crops().sides[k][below];
    L::set(its.before.from, lane, 0.0);
    L::set(its.before.by_length, lane, 1.0);
    for (int j = 0; j < moments; ++j) {
      L::set(its.before.shell[j], lane, j == 0 ? side.pinned[0].shell[0] : 0.0);
      L::set(its.before.disc[j], lane, j == 0 ? side.pinned[0].disc : 0.0);
    }
    L::set(its.before_end, lane, 0.0);
    L::set(its.stretch, lane, 1.0);
  }
  if (event.state[entry_of(k, stem_water)] > 0.0) progress.solution.stem_dry_time[k] = infinity;
  L::set(layer_goal_[k], lane, wet ? dry_goal(event) : -infinity);
  if (wet) progress.solution.layer_wet_time[k] = infinity;
}

template <int Width>
void Events<Width>::begin_steps(int lane) {
  const Event& event = progress_[lane].event;
  constexpr double first_step = 5.0;  // length of the first step at a tolerance of 1 [s]
  L::set(steps_.by_retry, lane, infinity);
  L::set(steps_.span_end, lane, event.last);
  L::set(steps_.wet_classes, lane, static_cast<double>(progress_[lane].wet_classes));
  for (SettlingLeaf<L>& leaf : steps_.leaf) L::set(leaf.drift, lane, 0.0);
  L::set(steps_.by_error, lane, first_step * std::pow(event.terms.relative, -step_by_error));
  const auto& time = event.air->time;
  const auto after = std::upper_bound(time.begin() + 1, time.end() - 1, event.start);
  enter_segment(lane, static_cast<std::size_t>(after - time.begin()) - 1);
}

}  // namespace
}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan::clocks
