// Steps of drying crops on their clocks, in vector lanes: each lane its own variable and length.
//
// A step integrates over the clock of that side whose next class dries out first, or over time where the
// record bends before: so it ends on the mark, and no class dries out within it. The pair is Dormand and
// Prince's; leaves settle exactly: within a step a leaf's temperature is
//
//   T = rest + change x + u exp(-settling time),   x from 0 to 1 along the step
//
// (Lawson 1967's transformation), and u is what is integrated. "Steps" in docs/science/clocks.md says why.
//
//   k      rates at the stages [1/s]         goes   how far the step goes at each stage's pace [s]
//   theta  the share of a step that is taken, where something else than the step's own mark cuts it short
#pragma once

#include <utility>

#include "../dormand_prince.hpp"
#include "clock_equations.hpp"

namespace wetspan::clocks {
inline namespace WETSPAN_LANES_NAMESPACE {
namespace {  // in the kernel alone

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double most_settled = 4.0;  // longest step, over the time in which a leaf's temperature settles [1]
/// What the cube root of a film is held to, over the absolute tolerance. It falls at its full rate to the
/// end, so that its error is one of the time at which stems are dry.
constexpr double of_films = 0.5;
constexpr double cube_root_gone = 0.1;
static_assert(gone == 1e-3, "its cube root is 0.1");
/// The dense output of a step is good within this share of either end; cut elsewhere, the step is taken anew,
/// and then goes a little beyond what it is to meet, so that the end of the dense output is read.
constexpr double good_end = 0.005, overshoot = 1.0005;
/// Droplets are summed up a little further than clocks are expected to go; a step whose clock goes beyond
/// that by more than `too_far` of its length is taken anew, `shorter`. Tuned for speed: they do not touch the
/// result but by the error of the step.
constexpr double further = 1.1, too_far = 0.05, shorter = 0.7;
/// Of the error control: the usual safety factor, which is smaller here since a class that dries out stirs
/// the leaf up, and bounds of a step's change.
constexpr double safety = 0.85, most_longer = 5.0, most_shorter = 0.1;

using dormand_prince::dense_weights, dormand_prince::error_weights, dormand_prince::nodes_of_pair,
    dormand_prince::stages, dormand_prince::step_by_error, dormand_prince::weights;

constexpr bool is_warmth(std::size_t i) {
  return i >= first_leaf && (i - first_leaf) % layer_entries == warmth;
}
constexpr std::size_t layer_of(std::size_t i) { return (i - first_leaf) / layer_entries; }
constexpr bool is_sum(std::size_t i) {  // of what the other entries hold
  return i == warmth_sum || i == stem_exposure ||
         (i >= first_leaf && (i - first_leaf) % layer_entries == exposure);
}
constexpr bool is_film(std::size_t i) {
  return i == bench_left || (i >= first_leaf && (i - first_leaf) % layer_entries == stem_water);
}
constexpr bool is_clock(std::size_t i) {
  return i >= first_leaf &&
         ((i - first_leaf) % layer_entries == upper_clock || (i - first_leaf) % layer_entries == lower_clock);
}

/// One entry of the state at the share `theta` of the last step.
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
  /// Where it passes `target`; 1 where `passes` is false. It is monotone there.
  R passing(const R& target, const typename L::Mask& passes) const {
    const auto between = [](const R& theta) { return L::min(L::max(theta, 0.0), 1.0); };
    R theta = between((target - start) / rise);
    for (int i = 0; i < 5; ++i) theta = between(theta - (at(theta) - target) / slope(theta));  // Newton
    return L::select(passes & (theta == theta), theta, L::all(1.0));
  }
};

/// How a leaf settles during a step.
template <class L>
struct SettlingLeaf {
  using R = typename L::R;
  R settling;                 // [1/s], where the step began
  R pace;                     // the same, over the step's variable
  R drift;                    // of where it would come to rest, as the last step told [1/s]
  R rest, rest_pace, change;  // where it would come to rest at the beginning; how that moves, over the step's
                              // variable and over the step
  R away;                     // how far from it it began
  R warming, end_warming;     // rate of its temperature there and where the step ended [1/s]
  R grown[stages - 1], shrunk[stages - 1];  // exp(settling time) of the stages, and the inverse
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
  State<L> y{}, end{},
      ahead{};  // where the step begins; where it ends; where it would end if nothing cut it short
  State<L> k[stages] = {};  // rates by time; of warmth, of the part that is integrated
  R over{};                 // the entry that the step is over, or -1 for time
  R span{};                 // how far it goes, about, in time [s]
  Mask meets{};             // whether it goes up to its variable's next mark
  R theta{};                // the share of it that is taken
  R trial{}, retry{};  // how long a step may be: by the error, and after one that was refused otherwise [s]
  R limit{};           // where the record bends, or ends [s]
  Evaluated<L> told;
  SettlingLeaf<L> leaf[most_layers] = {};

  std::size_t entries() const { return entry_of(crops.layers, warmth); }

  /// Whether a step is over this entry.
  Mask is_over(std::size_t i) const { return over == L::all(static_cast<double>(i)); }

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

  /// How far to go, and over which variable: that whose next mark is nearest.
  void choose() {
    R nearest = limit - y[elapsed], gap = nearest, pace = L::all(1.0);
    over = L::all(-1.0);
    span = L::min(trial, longest_step);
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
      over = L::select(nearer, L::all(static_cast<double>(i)), over);
    });
    meets = nearest <= L::min(span, retry);
    // no scrap of a step behind
    span = L::select((nearest > span) & (nearest < 2.0 * span), 0.5 * nearest, span);
    span = L::select(meets, nearest, L::min(span, retry));
    length_ = L::select(meets, gap, span * pace);
  }

  /// The clocks up to which droplets are summed up.
  void expect_ends() {
    on_sides([&](LeafSide<L>& side, std::size_t, std::size_t i) {
      const R expected = side.rate * span * side.stretch * further;
      const R goes = L::select(is_over(i), length_, expected);
      side.end = L::min(L::max(y[i] + goes, side.before_end), side.next);
    });
  }
  void sum_up_droplets() {
    on_sides([&](LeafSide<L>& side, std::size_t layer, std::size_t i) {
      sum_up(side, crops.terms.course, crops.layer[layer], y[i]);
    });
  }

  void integrate() {
    begin_step();
    const auto all = [&]<int... S>(std::integer_sequence<int, S...>) { (stage<S + 1>(), ...); };
    all(std::make_integer_sequence<int, stages - 1>());
  }

  /// Of the pair, over what is allowed: the largest of all entries.
  R error() const {
    // the largest quotient without a division for each
    R largest{}, of = L::all(1.0), sound{}, share[stages];
    for (int s = 0; s < stages; ++s) share[s] = error_weights[s] * goes_[s];
    for (std::size_t i = 0; i < entries(); ++i) {
      if (is_sum(i)) continue;
      R sum = k[0][i] * share[0];
      for (int s = 2; s < stages; ++s) sum = L::fma(k[s][i], share[s], sum);
      if (is_warmth(i)) sum *= leaf[layer_of(i)].shrunk[stages - 2];
      const R its = L::abs(sum), may = allowed(i);
      const Mask larger = its * of > largest * may;
      largest = L::select(larger, its, largest);
      of = L::select(larger, may, of);
      sound += its;
    }
    constexpr double refused = 1e10;
    return L::select(sound == sound, largest * L::inverse(of), L::all(refused));
  }

  /// What else dries out within the step, or bends: the share of it at which the first does.
  R first_met(const Mask& accepted) const {
    R first = L::all(1.0);
    const auto meet = [&](std::size_t i, const R& target, const Mask& passes) {
      if (L::any(passes)) first = L::min(first, dense(i).passing(target, passes));
    };
    on_sides([&](const LeafSide<L>& side, std::size_t, std::size_t i) {
      meet(i, side.next, accepted & !is_over(i) & (ahead[i] >= side.next));
    });
    meet(elapsed, limit, accepted & (over >= L::all(0.0)) & (ahead[elapsed] >= limit));
    on_films([&](std::size_t i) {
      const R target = L::all(cube_root_gone);
      meet(i, target, accepted & (y[i] > target) & (ahead[i] <= target));
    });
    return first;
  }

  /// Where a clock went further than what its droplets were summed up for.
  Mask went_astray() const {
    Mask astray = L::all(0.0) > L::all(1.0);
    on_sides([&](const LeafSide<L>& side, std::size_t, std::size_t i) {
      astray = astray | ((side.next < L::all(infinity)) & (side.end < side.next) &
                         (ahead[i] - side.end > too_far * (side.end - y[i])));
    });
    return astray;
  }

  /// Tries a step; where it is accepted, `theta` says how much of it.
  Mask attempt() {
    sum_up_droplets();
    integrate();
    const R error_now = error();
    constexpr double least = 1e-10, most = 1e10;
    precise_ = error_now <= L::all(1.0);
    Mask accepted = precise_;
    const R factor = safety * L::pow(L::min(L::max(error_now, least), most), step_by_error);
    const R longer = (ahead[elapsed] - y[elapsed]) * L::min(factor, most_longer);
    trial = L::select(accepted, L::select(span < trial, L::max(trial, longer), longer),
                      span * L::max(L::min(factor, safety), most_shorter));
    theta = first_met(accepted);
    const Mask early = accepted & (theta < L::all(1.0 - good_end)) & (theta > L::all(good_end));
    retry = L::select(early, span * theta * overshoot, L::all(infinity));
    accepted = accepted & !early;
    const Mask astray = accepted & went_astray();
    trial = L::select(astray, shorter * span, trial);
    return accepted & !astray;
  }

  /// Fills `end`; true where the record bends there, or ends.
  Mask find_end() {
    const Mask cut = theta < L::all(1.0);
    const bool any_cut = L::any(cut);
    for (std::size_t i = 0; i < entries(); ++i) {
      end[i] = any_cut ? L::select(cut, within(i, theta), ahead[i]) : ahead[i];
    }
    // a step over time that something else cuts short does not reach the bend
    constexpr double rounding = 1e-14;
    const Mask bends =
        (meets & (over < L::all(0.0)) & (theta >= L::all(1.0))) | (end[elapsed] >= limit * (1.0 - rounding));
    end[elapsed] = L::select(bends, limit, end[elapsed]);
    return bends;
  }

  /// Makes where the step ended the state, in the lanes that accept it.
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
      const R& settling = told.settling[layer];
      const std::size_t i = entry_of(layer, warmth);
      const R rest = ahead[i] + (its.end_warming - its.drift) * L::inverse(settling);
      constexpr double scrap =
          0.01;  // of the settling time: so short a step does not tell how the rest moves
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
    const R first = goes_[0] * k[0][i] - rise;
    R sum{};
    for (int s = 0; s < stages; ++s) {
      if (dense_weights[s] != 0.0) sum = L::fma(k[s][i], dense_weights[s] * goes_[s], sum);
    }
    return {start, rise, first, rise - goes_[stages - 1] * k[stages - 1][i] - first, sum};
  }

  /// Rate of an entry where the step ended [1/s].
  double end_rate(int lane, std::size_t i) const {
    const double first = L::get(k[0][i], lane), last = L::get(k[stages - 1][i], lane);
    return first + L::get(theta, lane) * (last - first);
  }

 private:
  R within(std::size_t i, const R& at) const {
    const R value = dense(i).at(at);
    if (!is_warmth(i)) return value;
    const SettlingLeaf<L>& its = leaf[layer_of(i)];
    return L::fma(value, L::exp(-its.pace * length_ * at), L::fma(its.change, at, its.rest));
  }

  /// The rate of the variable that the step is over [1/s].
  R rate_over(const State<L>& rate) const {
    R now = L::all(1.0);
    on_sides(
        [&](const LeafSide<L>&, std::size_t, std::size_t i) { now = L::select(is_over(i), rate[i], now); });
    return now;
  }

  /// What an entry's error may be.
  R allowed(std::size_t i) const {
    const Terms<R>& terms = crops.terms;
    if (is_film(i)) return of_films * terms.absolute;
    const R grows = span * L::abs(is_warmth(i) ? leaf[layer_of(i)].warming : k[0][i]);
    if (i != elapsed && !is_clock(i)) return L::fma(terms.relative, L::abs(y[i]) + grows, terms.absolute);
    // drying times add up from clocks and time
    const R tight = terms.of_clocks * (L::abs(y[i]) + grows);
    if (i == elapsed) return tight;
    const std::size_t layer = layer_of(i);
    const R& mark = crops.sides[layer][i - clock_of(layer, 0)].next;
    return tight + L::select(mark < L::all(infinity), L::all(no_zero), L::all(1.0));
  }

  /// The powers of x by 90 times the nodes of the stages.
  static void powers_of_nodes(const R& x, R (&powers)[stages - 1]) {
    const R x8 = squared(fourth_power(x)), x9 = x8 * x, x18 = squared(x9), x72 = fourth_power(x18);
    const R of[] = {L::all(1.0), x18, x18 * x9, x72, x72 * x8, x72 * x18};
    for (int s = 0; s + 1 < stages; ++s) powers[s] = of[s];
  }
  /// The first stage, and how leaves settle from there.
  void begin_step() {
    rates(fits, crops, y, k[0], told);
    const R by_pace = L::inverse(rate_over(k[0]));
    goes_[0] = length_ * by_pace;
    for (std::size_t layer = 0; layer < crops.layers; ++layer) {
      R& warming = k[0][entry_of(layer, warmth)];
      SettlingLeaf<L>& its = leaf[layer];
      its.settling = told.settling[layer];
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
    told.unfit = L::all(1.0);
  }
  template <int S>
  void stage() {
    constexpr bool last = S + 1 == stages;
    constexpr int node = last ? S - 1 : S;  // the last two are at the end
    State<L>& at = last ? ahead : end;
    R goes[S];
    for (int j = 0; j < S; ++j) goes[j] = weights[S][j] * goes_[j];
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
    rates(fits, crops, at, k[S], told);
    const R now = rate_over(k[S]);
    goes_[S] = length_ * L::inverse(now);
    for (std::size_t layer = 0; layer < crops.layers; ++layer) {
      const std::size_t i = entry_of(layer, warmth);
      SettlingLeaf<L>& its = leaf[layer];
      R& warming = k[S][i];
      if (last) its.end_warming = warming;
      const R rest = L::fma(its.change, L::all(nodes_of_pair[S]), its.rest);
      warming = its.grown[node] * L::fma(L::fma(its.pace, at[i] - rest, -its.rest_pace), now, warming);
    }
  }

  Mask precise_{};  // whether the error was allowed; elsewhere a step tells nothing, and may be no number
  R length_{};      // how far the step goes, of its variable
  R goes_[stages] = {};  // see above
};

}  // namespace
}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan::clocks
