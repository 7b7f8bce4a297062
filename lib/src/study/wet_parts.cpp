#include "wet_parts.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace wetspan {
namespace {

/// Water of a class that leaves the balance with its air again, over that at which it came into balance.
constexpr double parts_beyond = 5.0;
/// Hygroscopicity far below which a solution evaporates like water [1].
constexpr double very_dilute = 1e-6;
/// Largest water at which a class counts as in equilibrium, over the error that a step may leave in it [1].
/// It exceeds one error where that error is more than so many times the hygroscopicity.
constexpr double most_errors = 10.0;
/// Initial water of a deliquescing crystal, over the water at which it counts as dried; just above 1.
constexpr double first_film = 1.01;

Eigen::Index index_of(const WetPart& part) { return static_cast<Eigen::Index>(part.entry); }

bool has_crystals(const Layer& layer) {
  return std::find(layer.state.begin(), layer.state.end(), Wetness::dried) != layer.state.end();
}

}  // namespace

WetParts::WetParts(Equations& equations, Deposits& deposits, double error_of_steps)
    : equations_(equations), deposits_(deposits), error_of_steps_(error_of_steps), rate_(equations.size) {
  if (equations_.on_bench > 0.0) wet_.push_back({bench_left, {}, 0, equations_.on_bench, gone});
  for (std::size_t k = 0; k < layers().size(); ++k) {
    const Layer& layer = layers()[k];
    if (layer.stem.water > 0.0) wet_.push_back({layer.stem_left, {}, 0, layer.stem.water, gone, false, k});
    const bool stays = layer.hygroscopicity > 0.0 && equations_.scenario.liquid.efflorescence <= 0.0;
    for (std::size_t i = 0; i < layer.classes.size(); ++i) {
      const double limit = stays ? balances_at(k) : layer.dries_at;
      wet_.push_back({layer.entry(i), k, i, layer.per_bench(i), limit, stays});
      if (stays) equations_.continue_below(k, i, limit);
    }
  }
}

// the next event
// ---------------------------------------------------------------------------------------------

Interruption WetParts::earliest_interruption(LastStep& step, double until) const {
  Interruption first{until};
  for (const WetPart& part : wet_) {
    // once a part dries within the step, only parts that are dry before that time matter
    if (step.ahead()[index_of(part)] >= part.limit) continue;
    const auto over = [&](double t) { return step.entry(part.entry, t) - part.limit; };
    const double there = over(first.moment);
    if (!(there < 0.0)) continue;
    const double moment = step.moment(first.moment, there, over);
    if (moment < first.moment || !first.dries) first = {moment, part};
  }
  for (std::size_t k = 0; k < layers().size(); ++k) {
    const Layer& layer = layers()[k];
    if (!layer.deliquesces || !has_crystals(layer)) continue;
    const double from = equations_.scenario.liquid.deliquescence;
    const auto above = [&](double t) { return equations_.humidity_at(layer, step.at(t), t) - from; };
    const double there = above(first.moment);
    if (!(there > 0.0)) continue;
    const double moment = step.moment(first.moment, there, above);
    if (moment < first.moment) first = {.moment = moment, .deliquesces = k};
  }
  return first;
}

std::optional<WetPart> WetParts::at_limit(const State& y) const {
  const auto part = std::find_if(wet_.begin(), wet_.end(),
                                 [&](const WetPart& each) { return y[index_of(each)] <= each.limit; });
  return part == wet_.end() ? std::nullopt : std::optional(*part);
}

bool WetParts::last_class() const {
  std::ptrdiff_t wet = 0;
  for (const Layer& layer : layers()) {
    wet += std::count_if(layer.state.begin(), layer.state.end(),
                         [](Wetness state) { return state != Wetness::dried; });
  }
  return wet <= 1;
}

bool WetParts::last_film_on_stems(const WetPart& part) const {
  return std::none_of(wet_.begin(), wet_.end(),
                      [&](const WetPart& other) { return other.stems_of && other.entry != part.entry; });
}

double WetParts::last_moments_of(const WetPart& part, const State& y, double t) const {
  const double left = y[index_of(part)];
  bool recedes = false;
  double faster = 1.0;
  if (part.layer) {
    const Layer& layer = layers()[*part.layer];
    recedes = layer.solute <= 0.0 && left < layer.classes[part.i].receding;
    if (layer.hygroscopicity > 0.0) faster = beside_crystals(part, y, t);
  }
  equations_(y, rate_, t);
  const double rate = rate_[index_of(part)];
  return rate < 0.0 ? last_moments(recedes, !part.layer) * left / (-rate * faster) : 0.0;
}

/// Evaporation of a class beside crystals of its salt, over that just before they appear [1]. A saturated
/// solution has the activity of deliquescence, which is above that at which the salt crystallises.
double WetParts::beside_crystals(const WetPart& part, const State& y, double t) const {
  const Layer& layer = layers()[*part.layer];
  const double balance = equations_.balance_of(*part.layer, part.i, y, t);
  if (!(balance < infinity)) return 1.0;
  const double humidity = layer.activity(balance), now = layer.activity(y[index_of(part)]);
  const double saturated = std::max(now, equations_.scenario.liquid.deliquescence);
  return now > humidity ? (saturated - humidity) / (now - humidity) : 1.0;
}

// what happens to water
// --------------------------------------------------------------------------------------

/// Brings the water of a part to a value; what it loses goes into the air.
void WetParts::exchange(const WetPart& part, double value, State& y) const {
  double& now = y[index_of(part)];
  y[static_cast<Eigen::Index>(equations_.exchange())] += (now - value) * part.water / equations_.came;
  now = value;
}

void WetParts::dry_out(const WetPart& part, State& y) {
  if (part.layer) {
    deposits_.class_dries(*part.layer, part.i);
    equations_.set(*part.layer, part.i, Wetness::dried);
  }
  if (part.stems_of) deposits_.stems_dry(*part.stems_of);
  exchange(part, 0.0, y);
  std::erase_if(wet_, [&](const WetPart& other) { return other.entry == part.entry; });
  if (part.layer && layers()[*part.layer].deliquesces) crystals_.push_back(part);
}

void WetParts::deliquesce(std::size_t layer, State& y) {
  for (const WetPart& part : crystals_) {
    if (part.layer != layer) continue;
    exchange(part, first_film * std::max(part.limit, gone), y);
    wet_.push_back(part);
    deposits_.class_takes_up(layer, part.i);
    equations_.set(layer, part.i, Wetness::active);
  }
  std::erase_if(crystals_, [&](const WetPart& part) { return part.layer == layer; });
}

// balance with the air
// ---------------------------------------------------------------------------------------

/// Water of a class, over what landed, below which it counts as in equilibrium with the air just outside it.
/// A very dilute solution evaporates like water almost up to its equilibrium. Its limit is therefore the
/// water at which pure water counts as evaporated, whatever the tolerance. The limit of a stronger solution
/// is the error that steps may leave in its water. If the hygroscopicity is far smaller than that error, the
/// activity changes over less water than this error, and steps cannot resolve it. The limit is then larger.
double WetParts::balances_at(std::size_t layer) const {
  const double error = error_of_steps_, hygroscopicity = layers()[layer].hygroscopicity;
  const double like_water = gone / (1.0 + squared(hygroscopicity / very_dilute));
  const double small = error * std::clamp(error / (most_errors * hygroscopicity), 1.0, most_errors);
  return std::min(gone, std::max(like_water, small));
}

/// Limits the slope of a class's activity near its equilibrium to 1 / balances_at(). The activity can be ten
/// thousand times as steep. The error that a step may leave in the water would then make the class take up
/// water far too fast. Where the activity is steeper at equilibrium, a line of this slope through the
/// equilibrium replaces it up to their second intersection. Elsewhere the tangent of this slope replaces it.
void WetParts::soften(const WetPart& part, double balance) {
  const double hygroscopicity = layers()[*part.layer].hygroscopicity;
  const double most = 1.0 / balances_at(*part.layer), both = balance + hygroscopicity;
  double share = std::max(0.0, std::sqrt(hygroscopicity / most) - hygroscopicity);  // a tangent so steep
  if (hygroscopicity / (both * both) <= most) return equations_.continue_below(*part.layer, part.i, share);
  share = hygroscopicity * (1.0 / (most * both) - 1.0);  // where the line meets the curve again
  equations_.continue_below(*part.layer, part.i, share, most);
}

void WetParts::come_into_balance(const WetPart& part, State& y, double t) {
  const double balance = equations_.balance_of(*part.layer, part.i, y, t);
  if (balance < y[index_of(part)]) exchange(part, balance, y);
  soften(part, balance);
  equations_.set(*part.layer, part.i, Wetness::balanced);
  std::find_if(wet_.begin(), wet_.end(), [&](const WetPart& other) {
    return other.entry == part.entry;
  })->limit = -1.0;
  follow_humidity(*part.layer, part.i, y, t);
}

/// The humidity outside the classes of a side falls when one of them, `i`, no longer evaporates. Those in
/// balance go to the new humidity at once: in steps, they would take many, since the line that stands for
/// their activity makes them slower than they are.
void WetParts::follow_humidity(std::size_t layer, std::size_t i, State& y, double t) const {
  const double humidity = equations_.settled_humidity(layer, i, y, t);
  if (!(humidity < 1.0)) return;
  const std::size_t lower = layers()[layer].lower;
  const double most = parts_beyond * balances_at(layer);
  for (const WetPart& part : wet_) {
    if (part.layer != layer || !part.balanced() || (part.i < lower) != (i < lower)) continue;
    const double held = equations_.entry_at(layer, part.i, humidity);
    if (held < most) exchange(part, held, y);
  }
}

void WetParts::leave_balance(const State& y) {
  for (WetPart& part : wet_) {
    if (!part.balanced()) continue;
    const double limit = balances_at(*part.layer);
    if (y[index_of(part)] < parts_beyond * limit) continue;
    part.limit = limit;
    equations_.set(*part.layer, part.i, Wetness::active);
    equations_.continue_below(*part.layer, part.i, limit);
  }
}

void WetParts::settle(State& y) const {
  for (const WetPart& part : wet_) {
    if (part.balanced()) exchange(part, equations_.water_of(*part.layer, part.i, y), y);
  }
}

}  // namespace wetspan
