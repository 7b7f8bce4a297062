// Steps of drying crops on their clocks, in vector lanes. Every lane chooses its own step.
//
// The state y obeys dy/dt = f(y, t) [1/s]. A step does not integrate over time t but over one entry v of the
// state: the clock of the side whose next class dries out first, or time where the record of the air has its
// next kink before that. Then
//
//   dy/dv = f / (dv/dt),
//
// and the step can end exactly at the value of v at which that class dries out or the record has its kink, so
// that f is smooth within the step. The formulas are those of Dormand and Prince, order 5(4).
//
// A leaf comes to equilibrium with its air within seconds, which would limit explicit steps. Within a step
// its temperature is therefore written as (Lawson 1967)
//
//   T = q + b x + u exp(-lambda t),   x from 0 to 1 along the step,
//
// and u is integrated instead of T.
//
//   v       entry of the state that a step integrates over
//   h       length of the step in v
//   k       rates f at the stages of a step [1/s]; of a leaf's temperature, the rate of u
//   times   h / (dv/dt) at each stage [s]
//   theta   share of a step that is accepted, where something cuts it short [1]
//   T       leaf temperature, over warmth_unit [1]
//   q       resting temperature at the start of the step, likewise: T + (dT/dt - drift) / lambda [1]
//   b       change of the resting temperature over the step [1]; `drift` is its rate [1/s]
//   lambda  rate at which the leaf's temperature settles, at the start of the step [1/s]
//
// docs/science/clocks.md, "Steps", derives this and states what was tried.
#pragma once

#include <utility>

#include "../dormand_prince.hpp"
#include "clock_equations.hpp"

namespace wetspan::clocks {
inline namespace WETSPAN_LANES_NAMESPACE {
namespace {  // in the kernel alone

constexpr double cube_root_gone = 0.1;
static_assert(gone == 1e-3, "its cube root is 0.1");

// Step control. The values were found by trial on the events of benchmarks/, at tolerances of 1e-4 and 1e-6.

/// Longest step, times the largest lambda of the leaves [1]. The factor exp(lambda t) of the transformation
/// grows with it.
constexpr double most_settled = 5.0;
/// A leaf loses an error of its temperature within seconds, and what the error does to the clocks meanwhile
/// is part of the clocks' own error. Its temperature may therefore have this many times the tolerance [1],
/// except near the end of a span, where it is reported: see forgets_temperature().
constexpr double forgotten = 10.0;
/// The temperature is held to the usual tolerance where less than this many settling times are left until the
/// end of the span [1], or where no more than so many classes of droplets are wet.
constexpr double time_to_forget = 4.0, last_classes = 1.0;
/// Tolerance of the cube root of a film, over the absolute tolerance [1]. The root falls at its full rate
/// until the film is dry, so that its error is an error of the drying time.
constexpr double of_films = 0.5;
/// Tolerance of the active ingredient in liquids, over that of water [1]. Where a liquid becomes saturated,
/// the rate of uptake has a kink inside a step, of which the error estimate shows only a part. The tenth
/// removes nearly all of the error there, and elsewhere hardly ever limits a step.
constexpr double of_active = 0.1;
/// The dense output of a step is accurate within this share of either end [1]. A step that is cut elsewhere
/// is computed again, up to slightly beyond the cut (times `overshoot`), so that the cut is near its end.
constexpr double good_end = 0.005, overshoot = 1.0005;
/// The cubics of the droplets cover the advance that is expected of a clock, times `further`. If a clock
/// advances beyond its cubic by more than `too_far` of the cubic's length, the step is computed again with a
/// length of `shorter` times the old one [1].
constexpr double further = 1.1, too_far = 0.05, shorter = 0.7;
/// The usual safety factor of the step length, and the bounds of its change from one step to the next [1].
constexpr double safety = 0.8, most_longer = 5.0, most_shorter = 0.1;

using dormand_prince::dense_weights, dormand_prince::error_weights, dormand_prince::nodes_of_pair,
    dormand_prince::stages, dormand_prince::step_by_error, dormand_prince::weights;

constexpr bool is_warmth(std::size_t i) {
  return i >= first_leaf && (i - first_leaf) % layer_entries == warmth;
}
constexpr std::size_t layer_of(std::size_t i) { return (i - first_leaf) / layer_entries; }
/// Integrals of functions of the other entries. Their errors follow those entries' and are not estimated.
constexpr bool is_sum(std::size_t i) {
  return i == warmth_sum || i == stem_exposure ||
         (i >= first_leaf && (i - first_leaf) % layer_entries == exposure);
}
constexpr bool is_film(std::size_t i) {
  return i == bench_left || (i >= first_leaf && (i - first_leaf) % layer_entries == stem_water);
}
constexpr bool is_active(std::size_t i) {
  if (i < first_leaf) return false;
  const std::size_t entry = (i - first_leaf) % layer_entries;
  return entry == upper_active || entry == lower_active || entry == stem_active;
}
constexpr bool is_clock(std::size_t i) {
  return i >= first_leaf &&
         ((i - first_leaf) % layer_entries == upper_clock || (i - first_leaf) % layer_entries == lower_clock);
}

/// The dense output of one entry of the state, at the share `theta` of the last step.
template <class L>
struct DenseOutput {
  using R = typename L::R;
  R start, rise, c3, c4, c5;

  R at(const R& theta) const {
    const R rest = 1.0 - theta;
    return L::fma(theta, L::fma(rest, L::fma(theta, L::fma(rest, c5, c4), c3), rise), start);
  }
  R slope(const R& theta) const {
    const R rest = 1.0 - theta, inner = L::fma(rest, c5, c4), middle = L::fma(theta, inner, c3);
    // of theta (rise + rest (c3 + theta (c4 + rest c5)))
    const R middle_slope = inner - theta * c5;
    return L::fma(theta, rest * middle_slope - middle, L::fma(rest, middle, rise));
  }
  double at(double theta, int lane) const {
    return dormand_prince::Dense{L::get(start, lane), L::get(rise, lane), L::get(c3, lane), L::get(c4, lane),
                                 L::get(c5, lane)}
        .at(theta);
  }
  /// The share of the step at which the entry passes `target`, by Newton's method; 1 where `passes` is false.
  /// The entry must be monotone in the step. The slope costs about as much as the value, so that five steps
  /// cost less than narrowing a bracket until the last lane is done.
  R passing(const R& target, const typename L::Mask& passes) const {
    const auto between = [](const R& theta) { return L::min(L::max(theta, 0.0), 1.0); };
    R theta = between((target - start) / rise);
    for (int i = 0; i < 5; ++i) theta = between(theta - (at(theta) - target) / slope(theta));
    return L::select(passes & (theta == theta), theta, L::all(1.0));
  }
};

/// The transformation of a leaf's temperature in a step. Temperatures are over warmth_unit [1].
template <class L>
struct SettlingLeaf {
  using R = typename L::R;
  R settling;            // lambda [1/s]
  R pace;                // lambda / (dv/dt), per unit of v
  R drift;               // rate of the resting temperature in the last step [1/s]
  R rest, change;        // q; b
  R rest_pace;           // b / h, per unit of v
  R away;                // T - q at the start of the step
  R warming;             // dT/dt at the start of the step [1/s]
  R end_warming;         // dT/dt at the end of the step [1/s]
  R grown[stages - 1];   // exp(lambda t) at the stages [1]
  R shrunk[stages - 1];  // its inverse [1]
};

template <class L>
class Steps {
 public:
  using R = typename L::R;
  using Mask = typename L::Mask;

  explicit Steps(const AirFits& of) : fits(of) {
    for (R& value : y) value = R{};
  }

  const AirFits& fits;
  Crops<L> crops;
  State<L> y{};      // at the start of the step
  State<L> end{};    // at its end
  State<L> ahead{};  // where it would end if nothing cut it short
  State<L> k[stages] = {};
  R variable{};    // index of v in the state, or -1 for time
  R span{};        // expected length of the step in time [s]
  Mask reaches{};  // whether the step goes to the next mark of v
  R theta{};
  R by_error{};     // length that the error of the last step allows [s]
  R by_retry{};     // length that is allowed after a step that was cut [s]; else infinity
  R segment_end{};  // time of the next kink or of the end of the record [s]
  R span_end{};     // time at which the span ends at the latest [s]
  R wet_classes{};  // number of classes that are not dry
  Evaluated<L> evaluated;
  SettlingLeaf<L> leaf[most_layers] = {};

  /// Number of entries of the state.
  std::size_t entries() const { return entry_of(crops.layers, warmth); }

  /// The lanes whose step integrates over an entry.
  Mask integrates(std::size_t i) const { return variable == L::all(static_cast<double>(i)); }

  template <class Each>
  void on_sides(Each each) {
    for (std::size_t layer = 0; layer < crops.layers; ++layer) {
      for (std::size_t below = 0; below < 2; ++below) {
        each(crops.sides[layer][below], layer, clock_of(layer, below));
      }
    }
  }
  template <class Each>
  void on_sides(Each each) const {
    for (std::size_t layer = 0; layer < crops.layers; ++layer) {
      for (std::size_t below = 0; below < 2; ++below) {
        each(crops.sides[layer][below], layer, clock_of(layer, below));
      }
    }
  }

  template <class Each>
  void on_films(Each each) const {
    each(bench_left);
    for (std::size_t layer = 0; layer < crops.layers; ++layer) each(entry_of(layer, stem_water));
  }

  /// Chooses the variable of the next step, which is the one whose next mark comes first, and its length.
  void choose() {
    R nearest = segment_end - y[elapsed], gap = nearest, pace = L::all(1.0);
    variable = L::all(-1.0);
    span = L::min(by_error, longest_step);
    R fastest = leaf[0].settling;
    for (std::size_t layer = 1; layer < crops.layers; ++layer)
      fastest = L::max(fastest, leaf[layer].settling);
    span = L::min(span, most_settled * L::inverse(fastest));
    on_sides([&](const LeafSide<L>& side, std::size_t layer, std::size_t i) {
      const R room = next_stop(side, crops.terms.course, crops.layer[layer], y[i]) - y[i],
              reach = room * L::inverse(L::max(side.rate, no_zero));
      const Mask nearer = reach < nearest;
      nearest = L::select(nearer, reach, nearest);
      gap = L::select(nearer, room, gap);
      pace = L::select(nearer, side.rate, pace);
      variable = L::select(nearer, L::all(static_cast<double>(i)), variable);
    });
    reaches = nearest <= L::min(span, by_retry);
    // a mark that lies within two steps is reached by two equal ones, so that no very short step remains
    span = L::select((nearest > span) & (nearest < 2.0 * span), 0.5 * nearest, span);
    span = L::select(reaches, nearest, L::min(span, by_retry));
    length_ = L::select(reaches, gap, span * pace);
  }

  /// Sets the clocks up to which the cubics of the droplets reach.
  void expect_ends() {
    on_sides([&](LeafSide<L>& side, std::size_t, std::size_t i) {
      const R expected = side.rate * span * side.stretch * further;
      const R goes = L::select(integrates(i), length_, expected);
      side.end = L::min(L::max(y[i] + goes, side.before_end), side.next);
    });
  }
  /// Computes the cubics of all sides.
  void sum_up_droplets() {
    on_sides([&](LeafSide<L>& side, std::size_t layer, std::size_t i) {
      sum_up(side, crops.terms.course, crops.layer[layer], y[i]);
    });
  }

  /// Evaluates all stages.
  void integrate() {
    begin_step();
    const auto all = [&]<int... S>(std::integer_sequence<int, S...>) { (stage<S + 1>(), ...); };
    all(std::make_integer_sequence<int, stages - 1>());
  }

  /// The lanes in which leaves lose the error that their temperature has from this step before the
  /// temperature is reported, which is at the end of the span. A span ends with its record, or when all
  /// classes and films are dry.
  Mask forgets_temperature() const {
    R slowest = leaf[0].settling;
    for (std::size_t layer = 1; layer < crops.layers; ++layer)
      slowest = L::min(slowest, leaf[layer].settling);
    return ((span_end - ahead[elapsed]) * slowest > L::all(time_to_forget)) &
           (wet_classes > L::all(last_classes));
  }

  /// The largest error estimate of all entries over the allowed error. The largest quotient is found without
  /// a division for each.
  R error() const {
    const R loose = L::select(forgets_temperature(), L::all(forgotten), L::all(1.0));
    R largest{}, of = L::all(1.0), sound{}, share[stages];
    for (int s = 0; s < stages; ++s) share[s] = error_weights[s] * times_[s];
    for (std::size_t i = 0; i < entries(); ++i) {
      if (is_sum(i)) continue;
      R sum = k[0][i] * share[0];
      for (int s = 2; s < stages; ++s) sum = L::fma(k[s][i], share[s], sum);
      R may = allowed(i);
      if (is_warmth(i)) sum *= leaf[layer_of(i)].shrunk[stages - 2], may *= loose;
      const R its = L::abs(sum);
      const Mask larger = its * of > largest * may;
      largest = L::select(larger, its, largest);
      of = L::select(larger, may, of);
      sound += its;
    }
    constexpr double refused = 1e10;  // where an estimate is not a number
    return L::select(sound == sound, largest * L::inverse(of), L::all(refused));
  }

  /// The share of the step at which something first happens that the step was not chosen to end at: another
  /// side's class or a film dries out, or the record has a kink. It is 1 if nothing does.
  R first_reached(const Mask& accepted) const {
    R first = L::all(1.0);
    const auto meet = [&](std::size_t i, const R& target, const Mask& passes) {
      if (L::any(passes)) first = L::min(first, dense(i).passing(target, passes));
    };
    on_sides([&](const LeafSide<L>& side, std::size_t, std::size_t i) {
      meet(i, side.next, accepted & !integrates(i) & (ahead[i] >= side.next));
    });
    meet(elapsed, segment_end, accepted & (variable >= L::all(0.0)) & (ahead[elapsed] >= segment_end));
    on_films([&](std::size_t i) {
      const R target = L::all(cube_root_gone);
      meet(i, target, accepted & (y[i] > target) & (ahead[i] <= target));
    });
    return first;
  }

  /// The lanes in which a clock advances too far beyond its cubic.
  Mask leaves_cubics() const {
    Mask astray = L::all(0.0) > L::all(1.0);
    on_sides([&](const LeafSide<L>& side, std::size_t, std::size_t i) {
      astray = astray | ((side.next < L::all(infinity)) & (side.end < side.next) &
                         (ahead[i] - side.end > too_far * (side.end - y[i])));
    });
    return astray;
  }

  /// Computes a step and returns the lanes in which it is accepted, up to its share theta. Sets the length
  /// that is allowed next.
  Mask attempt() {
    sum_up_droplets();
    integrate();
    const R error_now = error();
    constexpr double least = 1e-10, most = 1e10;
    precise_ = error_now <= L::all(1.0);
    Mask accepted = precise_;
    const R factor = safety * L::pow(L::min(L::max(error_now, least), most), step_by_error);
    const R longer = (ahead[elapsed] - y[elapsed]) * L::min(factor, most_longer);
    by_error = L::select(accepted, L::select(span < by_error, L::max(by_error, longer), longer),
                         span * L::max(L::min(factor, safety), most_shorter));
    theta = first_reached(accepted);
    const Mask early = accepted & (theta < L::all(1.0 - good_end)) & (theta > L::all(good_end));
    by_retry = L::select(early, span * theta * overshoot, L::all(infinity));
    accepted = accepted & !early;
    const Mask astray = accepted & leaves_cubics();
    by_error = L::select(astray, shorter * span, by_error);
    return accepted & !astray;
  }

  /// Sets `end`. Returns the lanes whose step ends at a kink or at the end of the record.
  Mask find_end() {
    const Mask cut = theta < L::all(1.0);
    const bool any_cut = L::any(cut);
    for (std::size_t i = 0; i < entries(); ++i) {
      end[i] = any_cut ? L::select(cut, within(i, theta), ahead[i]) : ahead[i];
    }
    // a step over time that something else cuts short does not reach the kink
    constexpr double rounding = 1e-14;
    const Mask bends = (reaches & (variable < L::all(0.0)) & (theta >= L::all(1.0))) |
                       (end[elapsed] >= segment_end * (1.0 - rounding));
    end[elapsed] = L::select(bends, segment_end, end[elapsed]);
    return bends;
  }

  /// Makes the end of the step the new state in the lanes that accept it, and stores what the next step
  /// needs.
  void keep(const Mask& accepted) {
    on_sides([&](LeafSide<L>& side, std::size_t, std::size_t i) {
      constexpr double least_stretch = 0.5, most_stretch = 4.0;
      const R at_start = k[0][i] * span;
      const R went = (ahead[i] - y[i]) * L::inverse(L::max(at_start, no_zero));
      const R stretch =
          L::select(at_start > L::all(0.0), L::min(L::max(went, least_stretch), most_stretch), L::all(1.0));
      side.stretch = L::select(precise_, stretch, side.stretch);
      side.rate = L::select(accepted, k[stages - 1][i], k[0][i]);
      side.before.accept(side.now, accepted);
      side.before_end = L::select(accepted, side.end, side.before_end);
    });
    const R took = ahead[elapsed] - y[elapsed], by_took = L::inverse(took);
    for (std::size_t layer = 0; layer < crops.layers; ++layer) {
      SettlingLeaf<L>& its = leaf[layer];
      const R& settling = evaluated.settling[layer];
      const std::size_t i = entry_of(layer, warmth);
      const R rest = ahead[i] + (its.end_warming - its.drift) * L::inverse(settling);
      // a shorter step, in settling times, does not show how the resting temperature moves
      constexpr double scrap = 0.01;
      const R drift = L::select(took * settling > L::all(scrap), (rest - its.rest) * by_took, R{});
      its.drift = L::select(accepted, drift, its.drift);
      its.settling = L::select(accepted, settling, its.settling);
    }
    for (std::size_t i = 0; i < entries(); ++i) y[i] = L::select(accepted, end[i], y[i]);
  }

  DenseOutput<L> dense(std::size_t i) const {
    const bool warms = is_warmth(i);
    const SettlingLeaf<L>& its = leaf[warms ? layer_of(i) : 0];
    const R start = warms ? its.away : y[i];
    const R rise = (warms ? (ahead[i] - its.rest - its.change) * its.grown[stages - 2] : ahead[i]) - start;
    const R first = times_[0] * k[0][i] - rise;
    R sum{};
    for (int s = 0; s < stages; ++s) {
      if (dense_weights[s] != 0.0) sum = L::fma(k[s][i], dense_weights[s] * times_[s], sum);
    }
    return {start, rise, first, rise - times_[stages - 1] * k[stages - 1][i] - first, sum};
  }

  /// Rate of an entry at the end of the step [1/s], by linear interpolation.
  double end_rate(int lane, std::size_t i) const {
    const double first = L::get(k[0][i], lane), last = L::get(k[stages - 1][i], lane);
    return first + L::get(theta, lane) * (last - first);
  }

 private:
  /// An entry at the share `at` of the step.
  R within(std::size_t i, const R& at) const {
    const R value = dense(i).at(at);
    if (!is_warmth(i)) return value;
    const SettlingLeaf<L>& its = leaf[layer_of(i)];
    return L::fma(value, L::exp(-its.pace * length_ * at), L::fma(its.change, at, its.rest));
  }

  /// dv/dt, given the rates of the state [1/s].
  R rate_over(const State<L>& rate) const {
    R now = L::all(1.0);
    on_sides([&](const LeafSide<L>&, std::size_t, std::size_t i) {
      now = L::select(integrates(i), rate[i], now);
    });
    return now;
  }

  /// The error of an entry that is allowed in a step. The tolerance is relative to the entry and to its
  /// change in the step.
  R allowed(std::size_t i) const {
    const Terms<R>& terms = crops.terms;
    if (is_film(i)) return of_films * terms.absolute;
    const R grows = span * L::abs(is_warmth(i) ? leaf[layer_of(i)].warming : k[0][i]);
    if (i != elapsed && !is_clock(i)) {
      const R usual = L::fma(terms.relative, L::abs(y[i]) + grows, terms.absolute);
      return is_active(i) ? of_active * usual : usual;
    }
    // drying times are sums of the steps of clocks and time
    const R tight = terms.of_clocks * (L::abs(y[i]) + grows);
    if (i == elapsed) return tight;
    const std::size_t layer = layer_of(i);
    const R& mark = crops.sides[layer][i - clock_of(layer, 0)].next;
    return tight + L::select(mark < L::all(infinity), L::all(no_zero), L::all(1.0));
  }

  /// Sets `powers` to the powers of x by 90 times the nodes of the stages, which are whole numbers.
  static void powers_of_nodes(const R& x, R (&powers)[stages - 1]) {
    const R x8 = squared(fourth_power(x)), x9 = x8 * x, x18 = squared(x9), x72 = fourth_power(x18);
    const R of[] = {L::all(1.0), x18, x18 * x9, x72, x72 * x8, x72 * x18};
    for (int s = 0; s + 1 < stages; ++s) powers[s] = of[s];
  }
  /// Evaluates the first stage and sets the transformation of the leaves' temperatures.
  void begin_step() {
    rates(fits, crops, y, k[0], evaluated);
    const R by_pace = L::inverse(rate_over(k[0]));
    times_[0] = length_ * by_pace;
    for (std::size_t layer = 0; layer < crops.layers; ++layer) {
      R& warming = k[0][entry_of(layer, warmth)];
      SettlingLeaf<L>& its = leaf[layer];
      its.settling = evaluated.settling[layer];
      its.pace = its.settling * by_pace;
      its.away = (its.drift - warming) * L::inverse(its.settling);
      its.rest = y[entry_of(layer, warmth)] - its.away;
      its.rest_pace = its.drift * by_pace;
      its.change = its.rest_pace * length_;
      its.warming = warming;
      warming = R{};
      const R grows = L::exp(its.pace * length_ * (1.0 / 90.0));
      powers_of_nodes(grows, its.grown);
      powers_of_nodes(L::inverse(grows), its.shrunk);
    }
    evaluated.unfit = L::all(1.0);
  }
  /// Evaluates stage S. The last two stages are at the end of the step.
  template <int S>
  void stage() {
    constexpr bool last = S + 1 == stages;
    constexpr int node = last ? S - 1 : S;
    State<L>& at = last ? ahead : end;
    R goes[S];
    for (int j = 0; j < S; ++j) goes[j] = weights[S][j] * times_[j];
    const std::size_t count = entries();
    for (std::size_t i = 0; i < count; ++i) {
      R sum = L::fma(k[0][i], goes[0], y[i]);
      for (int j = 1; j < S; ++j) {
        if (weights[S][j] != 0.0) sum = L::fma(k[j][i], goes[j], sum);
      }
      at[i] = sum;
    }
    for (std::size_t layer = 0; layer < crops.layers; ++layer) {
      const SettlingLeaf<L>& its = leaf[layer];
      R& warm = at[entry_of(layer, warmth)];
      warm =
          L::fma(warm - its.rest, its.shrunk[node], L::fma(its.change, L::all(nodes_of_pair[S]), its.rest));
    }
    rates(fits, crops, at, k[S], evaluated);
    const R now = rate_over(k[S]);
    times_[S] = length_ * L::inverse(now);
    for (std::size_t layer = 0; layer < crops.layers; ++layer) {
      const std::size_t i = entry_of(layer, warmth);
      SettlingLeaf<L>& its = leaf[layer];
      R& warming = k[S][i];
      if (last) its.end_warming = warming;
      const R rest = L::fma(its.change, L::all(nodes_of_pair[S]), its.rest);
      warming = its.grown[node] * L::fma(L::fma(its.pace, at[i] - rest, -its.rest_pace), now, warming);
    }
  }

  Mask precise_{};  // whether the error was allowed; a step with a larger error predicts nothing
  R length_{};      // h
  R times_[stages] = {};
};

}  // namespace
}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan::clocks
