#include "wetspan/study/wet_span.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <memory>
#include <optional>
#include <sstream>
#include <utility>

#include "deposits.hpp"
#include "unchecked.hpp"
#include "wet_span_equations.hpp"
#include "wet_span_steps.hpp"
#include "wetspan/errors.hpp"

namespace wetspan {
namespace {

using State = Equations::State;

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr int most_steps = 200'000;
constexpr int steps_between_looks = 16;  // of Following::watch: some milliseconds of the largest systems
constexpr double shortest_after_event = 1e-3;  // [s]
constexpr double after_overshoot = 0.1;        // next step, over one that left the range of the equations [1]
constexpr double close = 1e-12;  // tolerance for the time of an event, over the time since the spray

/// Water of a class that leaves the balance with its air again, over that at which it came into balance.
constexpr double parts_beyond = 5.0;
/// Hygroscopicity far below which a solution evaporates like water [1].
constexpr double very_dilute = 1e-6;
/// Largest water at which a class counts as in equilibrium, over the error that a step may leave in it [1].
/// It exceeds one error where that error is more than so many times the hygroscopicity.
constexpr double most_errors = 10.0;
/// Initial water of a deliquescing crystal, over the water at which it counts as dried; just above 1.
constexpr double first_film = 1.01;

/// The last step. Its dense output has degree four in time, so that five states determine it for any entry.
class LastStep {
 public:
  explicit LastStep(const Steps& steps) : steps_(steps) {}

  /// Called after a step, or after a restart.
  void taken(double from, double to) { from_ = from, to_ = to, sampled_ = false; }
  double from() const { return from_; }
  double to() const { return to_; }
  const State& ahead() const { return steps_.ahead(); }

  const State& at(double t) {
    steps_.at(t, now_);
    return now_;
  }
  double entry(std::size_t of, double t) {
    sample();
    const auto i = static_cast<Eigen::Index>(of);
    // Newton's forward differences over the quarters
    double d[5] = {before_[i], quarters_[0][i], quarters_[1][i], quarters_[2][i], ahead()[i]};
    for (int order = 1; order < 5; ++order) {
      for (int j = 4; j >= order; --j) d[j] -= d[j - 1];
    }
    const double s = 4.0 * (t - from_) / (to_ - from_);
    return d[0] + s * (d[1] + (s - 1.0) / 2.0 * (d[2] + (s - 2.0) / 3.0 * (d[3] + (s - 3.0) / 4.0 * d[4])));
  }
  /// The time at which a function passes from above 0 to 0 or below, or the reverse. `at_end` is its value at
  /// `end`; its value at the beginning of the step must have the other sign.
  template <class Function>
  double moment(double end, double at_end, Function function) const {
    const double at_begin = function(from_);
    if ((at_begin > 0.0) == (at_end > 0.0)) return from_;  // it changed sign before this step
    return narrowed({.from = from_, .to = end, .at_from = at_begin, .at_to = at_end}, close * end, function)
        .to;
  }

 private:
  void sample() {
    if (std::exchange(sampled_, true)) return;
    before_ = steps_.behind();
    for (int i = 0; i < 3; ++i) {
      quarters_[i].resize(before_.size());
      steps_.at(from_ + (i + 1) / 4.0 * (to_ - from_), quarters_[i]);
    }
  }

  const Steps& steps_;
  double from_ = 0.0, to_ = 0.0;
  bool sampled_ = false;
  State now_, before_;
  std::array<State, 3> quarters_;

 public:
  void size(Eigen::Index count) { now_.resize(count); }
};

/// A liquid that can dry out: a class of droplets on a layer, or a film.
struct Liquid {
  std::size_t entry;
  std::optional<std::size_t> layer;  // none for stems and bench
  std::size_t i;                     // class in the layer
  double water;                      // per area of bench when it came [m]
  double limit;                      // share at which it counts as dried out, or in balance with the air
  bool stays = false;                // whether it remains a solution, which never dries out
  std::optional<std::size_t> stems_of = {};  // of a film on stems, their layer
};

/// The integration of one wet span.
class Span {
 public:
  Span(const Load& load, const Following& following, bool keep_history, Equations& equations)
      : load_(load),
        following_(following),
        keep_history_(keep_history),
        equations_(equations),
        deposits_(equations),
        y_(equations.first_state(load)),
        middle_(y_.size()),
        between_(y_.size()),
        rate_(y_.size()),
        steps_(steps_of(equations, y_)),
        last_step_(*steps_),
        error_of_steps_(absolute_over_relative * implicit_tolerance(equations)) {
    last_step_.size(y_.size());
    start();
    list_liquids();
  }

  WetSpan follow() {
    const Scenario& scenario = equations_.scenario;
    const double last = std::min(
        {equations_.air.time.back() - equations_.start, scenario.numerics.longest, following_.at_most});
    steps_->restart(y_, t_, trial_step_ = first_step);
    while (t_ < last && !finished()) {
      if (++result_.steps > most_steps) give_up("too many steps");
      if (following_.watch && result_.steps % steps_between_looks == 0) following_.watch();
      if (take_step()) end_step(last);
    }
    sum_up();
    return std::move(result_);
  }

 private:
  const std::vector<Layer>& layers() const { return equations_.layers; }

  [[noreturn]] void give_up(const std::string& reason) const {
    std::ostringstream message;
    message << "the wet span could not be followed beyond " << t_ << " s after the spray (" << reason
            << "): leaf at " << equations_.temperature(layers().front(), y_)
            << " K; look at air.speed, leaf.heat_capacity, droplets.dv50 and numerics.tolerance first";
    throw IntegrationError(message.str());
  }

  // the beginning ------------------------------------------------------------------------------------------

  void start() {
    const double count = static_cast<double>(layers().size());
    result_.wet_share = equations_.wet_share_of(0, y_);
    for (const Layer& layer : layers()) result_.cover += layer.cover / count;
    result_.wet_time = result_.last_drop_time = equations_.leaf_water > 0.0 ? infinity : 0.0;
    result_.stem_wet_time = equations_.stem_water > 0.0 ? infinity : 0.0;
    for (const Layer& layer : layers()) result_.layer_wet_time.push_back(layer.water > 0.0 ? infinity : 0.0);
    previous_temperature_ = equations_.temperature(layers().front(), y_);
    was_wet_ = excess(y_, 0.0) > 0.0;
    deposits_.start(y_, 0.0);
    note(y_, y_, 0.0, was_wet_);
  }

  void list_liquids() {
    if (equations_.on_bench > 0.0) wet_.push_back({bench_left, {}, 0, equations_.on_bench, gone});
    for (std::size_t k = 0; k < layers().size(); ++k) {
      const Layer& layer = layers()[k];
      if (layer.stem.water > 0.0) {
        wet_.push_back({layer.stem_left, {}, 0, layer.stem.water, gone, false, k});
        ++wet_stems_;
      }
      const bool stays = layer.hygroscopicity > 0.0 && equations_.scenario.liquid.efflorescence <= 0.0;
      for (std::size_t i = 0; i < layer.classes.size(); ++i) {
        const double limit = stays ? balances_at(k) : layer.dries_at;
        wet_.push_back({layer.entry(i), k, i, layer.per_bench(i), limit, stays});
        if (stays) equations_.continue_below(k, i, limit);
      }
    }
  }

  // steps --------------------------------------------------------------------------------------------------

  /// Returns false if the step left the range of the equations and must be repeated.
  bool take_step() {
    Steps::Times step{};
    try {
      step = steps_->take();
    } catch (const std::exception& error) {
      give_up(error.what());
    }
    last_step_.taken(step.from, step.to);
    if (last_step_.ahead().allFinite()) return true;
    // a step so long that it left the range of the equations, which the error estimate cannot see
    trial_step_ = after_overshoot * (step.to - step.from);
    if (trial_step_ < shortest_step) give_up("a value is not finite");
    steps_->restart(y_, t_, trial_step_);
    return false;
  }

  /// An event that ends a step early: a liquid dries or comes into balance with its air, or crystals of a
  /// layer take up water.
  struct Interruption {
    double moment;
    std::optional<Liquid> dries;
    std::optional<std::size_t> deliquesces = {};
  };

  void end_step(double last) {
    const bool more = t_ < following_.at_least;
    const double most = more ? std::min(last, following_.at_least) : last;
    Interruption interruption = earliest_interruption(std::min(last_step_.to(), most));
    double until = interruption.moment;
    y_ = until < last_step_.to() ? last_step_.at(until) : last_step_.ahead();
    note_dryness(until);
    // the span ends with the last of its water, wherever the step ends
    if (!more && finished() && result_.wet_time > t_ && result_.wet_time < until) {
      until = result_.wet_time, interruption = {until, {}};
      y_ = last_step_.at(until);
    }
    t_ = until;
    if (t_ > previous_time_) {
      steps_->at(0.5 * (previous_time_ + t_), middle_);
      note(y_, middle_, t_, was_wet_);
    }
    if (interruption.dries) end(*interruption.dries);
    while (interruption.dries) {  // equal classes dry at the same time
      const auto dry = std::find_if(wet_.begin(), wet_.end(), [&](const Liquid& liquid) {
        return y_[static_cast<Eigen::Index>(liquid.entry)] <= liquid.limit;
      });
      if (dry == wet_.end()) break;
      end(Liquid(*dry));
    }
    if (interruption.deliquesces) deliquesce(*interruption.deliquesces);
    if (equations_.hygroscopic()) leave_balance();
    if (!interruption.dries && !interruption.deliquesces && !(t_ < last_step_.to())) return;
    deposits_.start(y_, t_);
    trial_step_ =
        std::max(shortest_after_event, steps_->after_event() * (last_step_.to() - last_step_.from()));
    steps_->restart(y_, t_, trial_step_);
  }

  /// The earliest interruption within the step up to a moment.
  Interruption earliest_interruption(double until) {
    Interruption first{until, {}};
    for (const Liquid& liquid : wet_) {
      // once a liquid dries within the step, only liquids that are dry before that time matter
      if (last_step_.ahead()[static_cast<Eigen::Index>(liquid.entry)] >= liquid.limit) continue;
      const auto over = [&](double t) { return last_step_.entry(liquid.entry, t) - liquid.limit; };
      const double there = over(first.moment);
      if (!(there < 0.0)) continue;
      const double moment = last_step_.moment(first.moment, there, over);
      if (moment < first.moment || !first.dries) first = {moment, liquid};
    }
    for (std::size_t k = 0; k < layers().size(); ++k) {
      const Layer& layer = layers()[k];
      if (!layer.deliquesces || !has_crystals(layer)) continue;
      const double from = equations_.scenario.liquid.deliquescence;
      const auto above = [&](double t) { return equations_.humidity_at(layer, last_step_.at(t), t) - from; };
      const double there = above(first.moment);
      if (!(there > 0.0)) continue;
      const double moment = last_step_.moment(first.moment, there, above);
      if (moment < first.moment) first = {.moment = moment, .dries = {}, .deliquesces = k};
    }
    return first;
  }

  static bool has_crystals(const Layer& layer) {
    return std::find(layer.state.begin(), layer.state.end(), Wetness::dried) != layer.state.end();
  }

  // hygroscopic liquid -------------------------------------------------------------------------------------

  /// Water of a class, over what landed, below which it counts as in equilibrium with the air just outside
  /// it. A very dilute solution evaporates like water almost up to its equilibrium. Its limit is therefore
  /// the water at which pure water counts as evaporated, whatever the tolerance. The limit of a stronger
  /// solution is the error that steps may leave in its water. If the hygroscopicity is far smaller than that
  /// error, the activity changes over less water than this error, and steps cannot resolve it. The limit is
  /// then larger.
  double balances_at(std::size_t k) const {
    const double error = error_of_steps_, hygroscopicity = layers()[k].hygroscopicity;
    const double like_water = gone / (1.0 + squared(hygroscopicity / very_dilute));
    const double small = error * std::clamp(error / (most_errors * hygroscopicity), 1.0, most_errors);
    return std::min(gone, std::max(like_water, small));
  }
  /// Limits the slope of a class's activity near its equilibrium to 1 / balances_at(). The activity can be
  /// ten thousand times as steep. The error that a step may leave in the water would then make the class take
  /// up water far too fast. Where the activity is steeper at equilibrium, a line of this slope through the
  /// equilibrium replaces it up to their second intersection. Elsewhere the tangent of this slope replaces
  /// it.
  void soften(const Liquid& liquid, double balance) {
    const double hygroscopicity = layers()[*liquid.layer].hygroscopicity;
    const double most = 1.0 / balances_at(*liquid.layer), both = balance + hygroscopicity;
    double share = std::max(0.0, std::sqrt(hygroscopicity / most) - hygroscopicity);  // a tangent so steep
    if (hygroscopicity / (both * both) <= most)
      return equations_.continue_below(*liquid.layer, liquid.i, share);
    share = hygroscopicity * (1.0 / (most * both) - 1.0);  // where the line meets the curve again
    equations_.continue_below(*liquid.layer, liquid.i, share, most);
  }
  void come_into_balance(const Liquid& liquid) {
    const auto entry = static_cast<Eigen::Index>(liquid.entry);
    const double balance = equations_.balance_of(*liquid.layer, liquid.i, y_, t_);
    if (balance < y_[entry]) exchange(liquid, balance);
    soften(liquid, balance);
    equations_.set(*liquid.layer, liquid.i, Wetness::balanced);
    const auto same = [&](const Liquid& other) { return other.entry == liquid.entry; };
    std::find_if(wet_.begin(), wet_.end(), same)->limit = -1.0;
    follow_humidity(*liquid.layer, liquid.i);
  }
  /// The humidity outside the classes of a side falls when one of them, `i`, no longer evaporates. Those in
  /// balance go to the new humidity at once: in steps, they would take many, since the line that stands for
  /// their activity makes them slower than they are.
  void follow_humidity(std::size_t k, std::size_t i) {
    const double humidity = equations_.settled_humidity(k, i, y_, t_);
    if (!(humidity < 1.0)) return;
    const std::size_t lower = layers()[k].lower;
    const double most = parts_beyond * balances_at(k);
    for (const Liquid& liquid : wet_) {
      if (liquid.layer != k || liquid.limit >= 0.0 || (liquid.i < lower) != (i < lower)) continue;
      const double held = equations_.entry_at(k, liquid.i, humidity);
      if (held < most) exchange(liquid, held);
    }
  }
  /// Brings the entry of a liquid to a value, and what it loses into the air.
  void exchange(const Liquid& liquid, double value) {
    double& now = y_[static_cast<Eigen::Index>(liquid.entry)];
    y_[equations_.exchange()] += (now - value) * liquid.water / equations_.came;
    now = value;
  }
  /// Gives each class in equilibrium the water that has its activity. Its entry of the state has the error of
  /// a step.
  void settle() {
    for (const Liquid& liquid : wet_) {
      if (!liquid.stays || liquid.limit >= 0.0) continue;
      exchange(liquid, equations_.water_of(*liquid.layer, liquid.i, y_));
    }
  }
  /// Classes that have taken up water again may come into balance once more.
  void leave_balance() {
    for (Liquid& liquid : wet_) {
      if (!liquid.stays || liquid.limit >= 0.0) continue;
      const double limit = balances_at(*liquid.layer);
      if (y_[static_cast<Eigen::Index>(liquid.entry)] < parts_beyond * limit) continue;
      liquid.limit = limit;
      equations_.set(*liquid.layer, liquid.i, Wetness::active);
      equations_.continue_below(*liquid.layer, liquid.i, limit);
    }
  }
  /// The crystals of a layer take up water.
  void deliquesce(std::size_t k) {
    for (const Liquid& liquid : crystals_) {
      if (liquid.layer != k) continue;
      const auto entry = static_cast<Eigen::Index>(liquid.entry);
      y_[entry] = first_film * std::max(liquid.limit, gone);
      y_[equations_.exchange()] -= y_[entry] * liquid.water / equations_.came;
      wet_.push_back(liquid);
      deposits_.class_takes_up(k, liquid.i);
      equations_.set(k, liquid.i, Wetness::active);
    }
    std::erase_if(crystals_, [&](const Liquid& liquid) { return liquid.layer == k; });
  }

  // what happens at their ends -----------------------------------------------------------------------------

  void end(const Liquid& liquid) { liquid.stays ? come_into_balance(liquid) : dry_out(liquid); }

  /// Removes the rest of a liquid.
  void dry_out(const Liquid& liquid) {
    const Layer* layer = liquid.layer ? &layers()[*liquid.layer] : nullptr;
    if (layer && result_.last_drop_time == infinity && all_dried_but_one()) {
      result_.last_drop_time = t_ + last_moments_of(liquid);
    }
    if (layer) {
      deposits_.class_dries(*liquid.layer, liquid.i);
      equations_.set(*liquid.layer, liquid.i, Wetness::dried);
    }
    if (liquid.stems_of) {
      if (--wet_stems_ == 0) result_.stem_wet_time = std::max(stems_dry_, t_ + last_moments_of(liquid));
      else stems_dry_ = std::max(stems_dry_, t_ + last_moments_of(liquid));
      deposits_.stems_dry(*liquid.stems_of);
    }
    exchange(liquid, 0.0);
    std::erase_if(wet_, [&](const Liquid& other) { return other.entry == liquid.entry; });
    if (layer && layer->deliquesces) crystals_.push_back(liquid);
    // the removal itself may end the wetness of the leaves
    if (was_wet_ && excess(y_, t_) <= 0.0)
      was_wet_ = false, result_.wet_time = std::min(result_.wet_time, t_);
    for (std::size_t k = 0; k < layers().size(); ++k) {
      if (excess(k, y_, t_) <= 0.0) result_.layer_wet_time[k] = std::min(result_.layer_wet_time[k], t_);
    }
  }
  /// Time in which the rest of a liquid would evaporate [s].
  double last_moments_of(const Liquid& liquid) {
    const auto entry = static_cast<Eigen::Index>(liquid.entry);
    bool recedes = false;
    double faster = 1.0;
    if (liquid.layer) {
      const Layer& layer = layers()[*liquid.layer];
      recedes = layer.solute <= 0.0 && y_[entry] < layer.classes[liquid.i].receding;
      if (layer.hygroscopicity > 0.0) faster = beside_crystals(liquid);
    }
    equations_(y_, rate_, t_);
    return rate_[entry] < 0.0 ? last_moments(recedes, !liquid.layer) * y_[entry] / (-rate_[entry] * faster)
                              : 0.0;
  }
  /// Evaporation of a class beside crystals of its salt, over that just before they appear [1]. A saturated
  /// solution has the activity of deliquescence, which is above that at which the salt crystallises.
  double beside_crystals(const Liquid& liquid) const {
    const Layer& layer = layers()[*liquid.layer];
    const double balance = equations_.balance_of(*liquid.layer, liquid.i, y_, t_);
    if (!(balance < infinity)) return 1.0;
    const double humidity = layer.activity(balance),
                 now = layer.activity(y_[static_cast<Eigen::Index>(liquid.entry)]);
    const double saturated = std::max(now, equations_.scenario.liquid.deliquescence);
    return now > humidity ? (saturated - humidity) / (now - humidity) : 1.0;
  }
  bool all_dried_but_one() const {
    std::ptrdiff_t wet = 0;
    for (const Layer& layer : layers()) {
      wet += std::count_if(layer.state.begin(), layer.state.end(),
                           [](Wetness state) { return state != Wetness::dried; });
    }
    return wet <= 1;
  }

  bool finished() const {
    const bool droplets_done =
        result_.last_drop_time < infinity || (equations_.hygroscopic() && result_.wet_time < infinity);
    return t_ > 0.0 && t_ >= following_.at_least && droplets_done && result_.wet_time < infinity &&
           result_.stem_wet_time < infinity;
  }

  // wetness ------------------------------------------------------------------------------------------------

  /// Water on leaves, or on those of one layer, less the limit below which they count as dry, per area of
  /// bench [m]. Leaves are wet if it is above 0.
  double excess(const State& now, double t) const {
    double sum = 0.0;
    for (const Layer& layer : layers()) sum += std::max(0.0, equations_.excess_on(layer, now, t));
    const double fresh = equations_.leaf_water > 0.0 ? equations_.leaf_water : equations_.dew_unit();
    return sum - equations_.scenario.numerics.dry_share * fresh;
  }
  double excess(std::size_t k, const State& now, double t) const {
    const Layer& layer = layers()[k];
    return equations_.excess_on(layer, now, t) - equations_.scenario.numerics.dry_share * layer.water;
  }

  /// Records the times within the step at which leaves become dry, or wet again.
  void note_dryness(double until) {
    const double now = excess(y_, until);
    if ((now > 0.0) != was_wet_) {
      const double moment =
          last_step_.moment(until, now, [&](double t) { return excess(last_step_.at(t), t); });
      if (result_.wet_time == infinity && was_wet_) result_.wet_time = moment;
      steps_->at(0.5 * (previous_time_ + moment), middle_);
      note(last_step_.at(moment), middle_, moment, !was_wet_);
    }
    for (std::size_t k = 0; k < layers().size(); ++k) {
      if (result_.layer_wet_time[k] < infinity) continue;
      const double on_layer = excess(k, y_, until);
      if (on_layer > 0.0) continue;
      result_.layer_wet_time[k] =
          last_step_.moment(until, on_layer, [&](double t) { return excess(k, last_step_.at(t), t); });
    }
  }

  /// Adds the part of the step from the last recorded time to `t` to the integrals, by Simpson's rule.
  /// `halfway` is the state in the middle of this part.
  void note(const State& now, const State& halfway, double t, bool wet) {
    const double temperature = equations_.temperature(layers().front(), now), span = t - previous_time_;
    const double middle = equations_.temperature(layers().front(), halfway);
    const auto mean = [&](auto value) {
      return (value(previous_temperature_) + 4.0 * value(middle) + value(temperature)) / 6.0;
    };
    warmth_integral_ += span * mean([](double warm) { return warm; });
    if (was_wet_) {
      result_.wet_duration += span;
      result_.degree_seconds +=
          span * mean([](double warm) { return std::max(0.0, warm - constants::zero_celsius); });
    }
    previous_time_ = t, previous_temperature_ = temperature, was_wet_ = wet;
    const auto between = [this](double at) -> const State& {
      steps_->at(at, between_);
      return between_;
    };
    deposits_.follow(halfway, between, now, t);
    if (keep_history_) add_to_history(now, t);
  }
  void add_to_history(const State& now, double t) {
    const FreeAir<double> house = equations_.air_at(now, t).free;
    double water = 0.0, on_stems = 0.0;
    for (const Layer& layer : layers()) {
      water += equations_.water_on(layer, now);
      on_stems += layer.stem.water * now[static_cast<Eigen::Index>(layer.stem_left)];
    }
    History& history = result_.history;
    history.time.push_back(t);
    history.leaf_temperature.push_back(equations_.temperature(layers().front(), now));
    history.air_temperature.push_back(house.temperature);
    history.relative_humidity.push_back(air::relative_humidity(house.vapour_pressure, house.temperature));
    history.leaf_water.push_back(equations_.leaf_water > 0.0 ? water / equations_.leaf_water : 0.0);
    history.stem_water.push_back(equations_.stem_water > 0.0 ? on_stems / equations_.stem_water : 0.0);
    history.wet_share.push_back(equations_.wet_share_of(0, now));
    const BySite taken = deposits_.taken();
    history.leaf_uptake.push_back(equations_.leaf_active > 0.0 ? taken.leaf / equations_.leaf_active : 0.0);
    history.stem_uptake.push_back(equations_.stem_active > 0.0 ? taken.stem / equations_.stem_active : 0.0);
  }

  // the end ------------------------------------------------------------------------------------------------

  void sum_up() {
    settle();
    const bool dry = result_.wet_time < infinity && result_.stem_wet_time < infinity;
    result_.status = equations_.leaf_water <= 0.0 ? Status::nothing_wet
                     : dry                        ? Status::dry
                                                  : Status::wet_at_end;
    if (equations_.hygroscopic() && result_.last_drop_time == infinity)
      result_.last_drop_time = result_.wet_time;
    result_.end = t_;
    result_.mean_leaf_temperature = t_ > 0.0 ? warmth_integral_ / t_ : previous_temperature_;
    result_.end_temperature = equations_.temperature(layers().front(), y_);
    result_.water_balance = equations_.imbalance(y_);
    const BySite taken = deposits_.taken(), lost = deposits_.lost();
    if (equations_.leaf_active > 0.0) result_.leaf_uptake = taken.leaf / equations_.leaf_active;
    if (equations_.stem_active > 0.0) result_.stem_uptake = taken.stem / equations_.stem_active;
    result_.lost_from_leaves = lost.leaf, result_.lost_from_stems = lost.stem;
    for (std::size_t k = 0; k < layers().size(); ++k) {
      result_.layer_leaf_uptake.push_back(deposits_.taken_by_leaves(k));
      leave(k);
    }
    result_.left.bench_liquid = y_[bench_left] * equations_.on_bench;
    result_.left.air_vapour = equations_.house_answers ? y_[house_vapour] * equations_.came : 0.0;
    result_.left.air_heat = warmth_unit * y_[house_heat];
  }
  /// Stores the load that is left on a layer.
  void leave(std::size_t k) {
    const Layer& layer = layers()[k];
    const Load::Layer& carried = load_.layers[k];
    const double dew = y_[static_cast<Eigen::Index>(layer.dew)] * equations_.dew_unit() * layer.area;
    double liquid = carried.liquid * layer.solute;
    for (std::size_t i = 0; i < layer.classes.size(); ++i) {
      liquid += y_[static_cast<Eigen::Index>(layer.entry(i))] * layer.per_bench(i);
    }
    // the non-volatile part is conserved while the liquid decreases
    const double strength = liquid > 0.0 ? carried.strength * carried.liquid / liquid : 1.0;
    result_.left.layers.push_back(
        {.liquid = liquid,
         .strength = strength,
         .upper = deposits_.left(k, on_upper),
         .lower = deposits_.left(k, on_lower),
         .dew = dew,
         .temperature = equations_.temperature(layer, y_),
         .droplets = carried.droplets,
         .stem_liquid = y_[static_cast<Eigen::Index>(layer.stem_left)] * layer.stem.water,
         .stem = deposits_.left(k, on_stem)});
  }

  const Load& load_;
  const Following& following_;
  bool keep_history_;
  Equations& equations_;
  Deposits deposits_;
  WetSpan result_;
  State y_, middle_, between_, rate_;
  std::unique_ptr<Steps> steps_;
  LastStep last_step_;
  double error_of_steps_;    // that implicit ones may leave in the water of a class, over what landed [1]
  std::vector<Liquid> wet_;  // what can dry out
  int wet_stems_ = 0;        // layers whose stems are wet
  double stems_dry_ = 0.0;   // when those of the others were dry [s]
  std::vector<Liquid> crystals_;  // dried classes of a salt, which may take up water again
  double t_ = 0.0, trial_step_ = first_step;
  double warmth_integral_ = 0.0, previous_time_ = 0.0, previous_temperature_ = 0.0;
  bool was_wet_ = false;
};

}  // namespace

std::string_view name_of(Status status) {
  switch (status) {
    case Status::dry:
      return "dry";
    case Status::wet_at_end:
      return "wet at end";
    case Status::nothing_wet:
      return "nothing wet";
    case Status::failed:
      return "failed";
  }
  return "";
}

std::string_view name_of(Path path) { return path == Path::clock ? "clock" : "reference"; }

WetSpan wet_span(const Scenario& scenario, const Load& load, const CropAir& air, double start,
                 const Following& following, bool keep_history) {
  check(scenario);
  check(air);
  check_start(air, start);
  check_load(load, scenario);
  if (std::isnan(following.at_least) || std::isnan(following.at_most)) {
    throw InputError("how long to follow a wet span is not a number");
  }
  return unchecked::wet_span(scenario, load, air, start, following, keep_history);
}

WetSpan unchecked::wet_span(const Scenario& scenario, const Load& load, const CropAir& air, double start,
                            const Following& following, bool keep_history) {
  Equations equations(scenario, load, air, start);
  if (equations.leaf_water <= 0.0 && following.at_least <= 0.0) {  // a drench
    WetSpan result;
    result.left = load;
    result.layer_wet_time.assign(equations.layers.size(), 0.0);
    result.layer_leaf_uptake = result.layer_wet_time;
    return result;
  }
  return Span(load, following, keep_history, equations).follow();
}

}  // namespace wetspan
