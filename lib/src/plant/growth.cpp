#include "wetspan/plant/growth.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <limits>
#include <optional>
#include <sstream>
#include <vector>

#include "../require.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/properties/constants.hpp"

namespace wetspan {
namespace {

constexpr double day = 86400.0, half_day = 0.5 * day, twenty = 293.15;
constexpr double q10_step = 10.0;  // K, over which a Q10 is the factor of a rate, by its definition
// Rates whose difference times the step is smaller count as close, and are taken by their series; beyond, the
// difference keeps enough digits. The terms left out are below 1e-15 (two rates) and 1e-13 (three):
constexpr double close_pair = 0.02;   // [1]
constexpr double close_triple = 0.1;  // [1]
constexpr int most_halvings = 40;     // of a day; a panel of 0.1 us
constexpr double least_rise = 1e-6;   // of the final height: an untreated check that grows less does not grow

/// First-order outflow of a compartment within a step: its rate [1/s], and the share that stays.
struct Emptying {
  double rate = 0, stays = 1;
};

/// Passage through two compartments in a step of `h` [s]: the integral over 0..h of exp(-a s) exp(-b (h - s))
/// ds [s], which is a divided difference of exp(-x h). For nearly equal rates it is computed as a series,
/// because the differences would cancel.
double pass_two(const Emptying& a, const Emptying& b, double h) {
  const double apart = b.rate - a.rate, x = apart * h;
  if (std::abs(x) > close_pair) return (a.stays - b.stays) / apart;
  return h * std::sqrt(a.stays * b.stays) * (1.0 + x * x / 24.0 * (1.0 + x * x / 80.0));
}

/// Passage through three compartments [s2]. The series in the complete homogeneous polynomials h_k about the
/// mean rate m is exp(-m h) h^2 sum h_k / (k + 2)!.
double pass_three(const Emptying& a, const Emptying& b, const Emptying& c, double h) {
  const std::array<const Emptying*, 3> each{&a, &b, &c};
  const auto by_rate = [](const Emptying* x, const Emptying* y) { return x->rate < y->rate; };
  const auto [low, high] = std::minmax_element(each.begin(), each.end(), by_rate);
  const double apart = (*high)->rate - (*low)->rate;
  if (apart * h > close_triple) {
    const Emptying* middle = each[static_cast<std::size_t>(3 - (low - each.begin()) - (high - each.begin()))];
    return (pass_two(**low, *middle, h) - pass_two(*middle, **high, h)) / apart;
  }
  const double mean = (a.rate + b.rate + c.rate) / 3.0;
  const double x = (mean - a.rate) * h, y = (mean - b.rate) * h, z = (mean - c.rate) * h;
  const double pairs = x * y + y * z + z * x, product = x * y * z;
  double before = 0.0, last = 0.0, now = 1.0, factor = 0.5, sum = 0.0;  // h_(k-2), h_(k-1), h_k, 1 / (k + 2)!
  for (int k = 0; k < 8; ++k) {
    sum += now * factor;
    const double next = product * before - pairs * last;
    before = last, last = now, now = next;
    factor /= k + 3;
  }
  return std::exp(-mean * h) * h * h * sum;
}

/// The inputs that the rates of a day depend on, with its temperature; in the units of the table.
struct Pace {
  double base_temperature, optimum_temperature, growth_steepness, dilution, metabolism, metabolism_q10,
      depot_rate, accelerator, mobile_rate, activation_energy, growing_cuticle;

  Pace(const Crop& crop, const Uptake& uptake)
      : base_temperature(crop.base_temperature),
        optimum_temperature(crop.optimum_temperature),
        growth_steepness(crop.growth_steepness),
        dilution(crop.dilution),
        metabolism(crop.metabolism),
        metabolism_q10(crop.metabolism_q10),
        depot_rate(crop.depot_rate),
        accelerator(uptake.accelerator),
        mobile_rate(uptake.mobile_rate),
        activation_energy(uptake.activation_energy),
        growing_cuticle(uptake.growing_cuticle) {}
  bool operator==(const Pace&) const = default;

  /// Rate of thermal time [K].
  double speed(double temperature) const {
    return std::max(0.0, std::min(temperature, optimum_temperature) - base_temperature);
  }
};

/// Rates of a day [1/s].
struct Rates {
  double mobile = 0, growing_mobile = 0, depot = 0, tips = 0;  // of outflow
  double metabolism = 0, dilution = 0;
  double growing = 0;  // dtheta/dt [K]
  double moves = 0,
         breaks = 0;  // shares of the outflow of depot and tips that is moved, that is broken down [1]
};

/// The linear map of the amounts over a step: the share that stays in each compartment, and the passages
/// between compartments. Two equal steps combine to a step of double length.
struct Step {
  double h = 0;
  double mobile = 0, growing_mobile = 0, substrate = 0, depot = 0, tips = 0;
  double growing_mobile_tips = 0, mobile_depot = 0, substrate_depot = 0, depot_tips = 0;
  double mobile_depot_tips = 0, substrate_depot_tips = 0;
  double odds = 0;  // factor on the odds of the logistic function: exp(-kappa dtheta)
};

Emptying emptying(double rate, double h) { return {rate, std::exp(-rate * h)}; }

/// A step of `h` [s], without what leaves the substrate.
Step step_of(const Rates& rates, const Pace& pace, double h) {
  const Emptying mobile = emptying(rates.mobile, h), growing_mobile = emptying(rates.growing_mobile, h),
                 depot = emptying(rates.depot, h), tips = emptying(rates.tips, h);
  return {.h = h,
          .mobile = mobile.stays,
          .growing_mobile = growing_mobile.stays,
          .depot = depot.stays,
          .tips = tips.stays,
          .growing_mobile_tips = pass_two(growing_mobile, tips, h),
          .mobile_depot = pass_two(mobile, depot, h),
          .depot_tips = pass_two(depot, tips, h),
          .mobile_depot_tips = pass_three(mobile, depot, tips, h),
          .odds = std::exp(-pace.growth_steepness * rates.growing * h)};
}

/// The same step, with what leaves the substrate.
Step from_substrate(Step step, const Rates& rates, const Emptying& substrate) {
  const Emptying depot{rates.depot, step.depot}, tips{rates.tips, step.tips};
  step.substrate = substrate.stays;
  step.substrate_depot = pass_two(substrate, depot, step.h);
  step.substrate_depot_tips = pass_three(substrate, depot, tips, step.h);
  return step;
}

Rates rates_of(const Pace& pace, double temperature) {
  Uptake uptake;  // mobile_rate reads these inputs of it
  uptake.accelerator = pace.accelerator, uptake.mobile_rate = pace.mobile_rate;
  uptake.activation_energy = pace.activation_energy;
  Rates rates;
  rates.growing = pace.speed(temperature);
  rates.metabolism =
      pace.metabolism * std::exp(std::log(pace.metabolism_q10) * (temperature - twenty) / q10_step);
  rates.dilution = pace.dilution * rates.growing / (twenty - pace.base_temperature);
  rates.mobile = mobile_rate(uptake, temperature);
  rates.growing_mobile = pace.growing_cuticle * rates.mobile;
  rates.depot = pace.depot_rate + rates.metabolism;
  rates.tips = rates.metabolism + rates.dilution;
  rates.moves = pace.depot_rate / rates.depot;
  rates.breaks = rates.tips > 0.0 ? rates.metabolism / rates.tips : 1.0;
  return rates;
}

/// Days of one temperature: their rates, and the step of half a day without what leaves the substrate.
struct Day {
  std::size_t pace = 0;    // which, among those of this thread
  double temperature = 0;  // [K]
  Rates rates;
  Step half;
};

/// The days that this thread computed last. Sprays in one house share the temperatures of their days, and the
/// exponentials of a day cost more than everything else in it.
class Days {
 public:
  /// The day, with the same bits as if computed anew; valid until the next call.
  const Day& of(const Pace& pace, double temperature) {
    if (pace_ != pace) pace_ = pace, ++paces_;
    std::uint64_t key = 0;
    static_assert(sizeof key == sizeof temperature);
    std::memcpy(&key, &temperature, sizeof key);
    Day& known = days_[(key * 0x9E3779B97F4A7C15ULL) >> (64 - bits)];  // Fibonacci hashing
    if (known.pace != paces_ || known.temperature != temperature) {
      const Rates rates = rates_of(pace, temperature);
      known = {paces_, temperature, rates, step_of(rates, pace, half_day)};
    }
    return known;
  }

 private:
  static constexpr int bits = 9;
  std::optional<Pace> pace_;
  std::size_t paces_ = 0;
  std::vector<Day> days_ = std::vector<Day>(std::size_t{1} << bits);  // 0.1 MB
};

Step twice(const Step& s) {
  return {.h = 2.0 * s.h,
          .mobile = s.mobile * s.mobile,
          .growing_mobile = s.growing_mobile * s.growing_mobile,
          .substrate = s.substrate * s.substrate,
          .depot = s.depot * s.depot,
          .tips = s.tips * s.tips,
          .growing_mobile_tips = s.growing_mobile_tips * (s.growing_mobile + s.tips),
          .mobile_depot = s.mobile_depot * (s.mobile + s.depot),
          .substrate_depot = s.substrate_depot * (s.substrate + s.depot),
          .depot_tips = s.depot_tips * (s.depot + s.tips),
          .mobile_depot_tips = s.mobile_depot_tips * (s.mobile + s.tips) + s.mobile_depot * s.depot_tips,
          .substrate_depot_tips =
              s.substrate_depot_tips * (s.substrate + s.tips) + s.substrate_depot * s.depot_tips,
          .odds = s.odds * s.odds};
}

/// The amounts of one application [kg per plant], and its current step.
struct Amounts {
  double leaf_mobile = 0, growing_mobile = 0, stem_mobile = 0, substrate = 0;
  double depot_stem = 0, depot_root = 0;
  double tips_leaf = 0, tips_stem = 0, tips_root = 0;
  RootRates roots;              // at the depth of this application
  double stays_half_a_day = 1;  // share in the substrate [1]
  Step step;                    // half a day, shorter after an arrival

  double from_substrate() const { return roots.up + roots.loss; }
  double tips() const { return tips_leaf + tips_stem + tips_root; }
};

/// Rate constants of the passages between compartments during a day.
struct Ways {
  double leaf_tips = 0;   // g growing_cuticle k_B
  double stem_depot = 0;  // k_B
  double depot_tips = 0;  // tau k_x
};

void advance(Amounts& a, const Ways& way) {
  const Step& s = a.step;
  a.tips_leaf = s.tips * a.tips_leaf + way.leaf_tips * s.growing_mobile_tips * a.growing_mobile;
  a.tips_stem =
      s.tips * a.tips_stem +
      way.depot_tips * (s.depot_tips * a.depot_stem + way.stem_depot * s.mobile_depot_tips * a.stem_mobile);
  a.tips_root = s.tips * a.tips_root + way.depot_tips * (s.depot_tips * a.depot_root +
                                                         a.roots.up * s.substrate_depot_tips * a.substrate);
  a.depot_stem = s.depot * a.depot_stem + way.stem_depot * s.mobile_depot * a.stem_mobile;
  a.depot_root = s.depot * a.depot_root + a.roots.up * s.substrate_depot * a.substrate;
  a.leaf_mobile *= s.mobile;
  a.growing_mobile *= s.growing_mobile;
  a.stem_mobile *= s.mobile;
  a.substrate *= s.substrate;
}

class Plant {
 public:
  Plant(const Growing& growing, std::span<const Applied> applications, HeightCourse* course)
      : crop_(growing.crop),
        pace_(growing.crop, growing.uptake),
        daily_(growing.daily_temperature),
        course_(course),
        amounts_(applications.size()),
        lengths_(applications.size(), 0.0),
        horizon_(growing.uptake.horizon) {
    if (!(crop_.base_temperature < twenty)) {
      throw InputError("crop.base_temperature is not below 20 degC, where the rates of growth are stated");
    }
    growth_.applications.resize(applications.size());
    odds_ = odds(0.0);
    begin_ = risen(odds_);
    const double rise = risen(odds(thermal_time(horizon_))) - begin_;
    if (!(rise > least_rise)) {
      std::ostringstream message;
      message << "the untreated check would not grow within uptake.horizon, " << horizon_ / day
              << " days: in the weeks' temperatures hardly anything rises above crop.base_temperature, "
              << crop_.base_temperature - constants::zero_celsius
              << " degC, or crop.growth_middle lies far off";
      throw InputError(message.str());
    }
    scale_ = (crop_.final_height - crop_.initial_height) / rise;
    const double risen_in_the_end = begin_ + rise;
    for (std::size_t i = 0; i < applications.size(); ++i) {
      const auto& [time, availability] = applications[i];
      amounts_[i].roots = {.up = availability * growing.roots.up, .loss = growing.roots.loss};
      amounts_[i].stays_half_a_day = emptying(amounts_[i].from_substrate(), half_day).stays;
      const double risen_then =
          time < horizon_ ? risen(odds(thermal_time(std::max(0.0, time)))) : risen_in_the_end;
      growth_.applications[i].to_come = scale_ * (risen_in_the_end - risen_then);
    }
    look();
    record(0.0);
  }

  void arrive(const Arrival& arrival) {
    Amounts& now = amounts_[arrival.application];
    Effect& effect = growth_.applications[arrival.application];
    const double acts = crop_.leaf_tip_share * arrival.entered_growing;
    now.tips_leaf += acts;
    now.depot_stem += arrival.entered.stem, now.depot_root += arrival.entered.root;
    now.leaf_mobile += arrival.leaf_mobile, now.growing_mobile += arrival.growing_mobile;
    now.stem_mobile += arrival.stem_mobile;
    now.substrate += arrival.substrate;
    look();
    effect.uptake.leaf += arrival.entered.leaf, effect.uptake.stem += arrival.entered.stem;
    effect.uptake.root += arrival.entered.root;
    effect.tips.leaf += acts;
    growth_.plant.blades += arrival.entered.leaf - acts;
    // repeated arrivals in the substrate change the curve only slightly
    const double mobile = arrival.leaf_mobile + arrival.growing_mobile + arrival.stem_mobile;
    fresh_ = fresh_ || arrival.entered.sum() > 0.0 || mobile > 0.0 || 2.0 * arrival.substrate > now.substrate;
  }

  /// Advances from `from` to `until`; both lie in the same day.
  void follow(double from, double until, double temperature) {
    const double length = until - from;
    const bool warmer = temperature != temperature_, other = warmer || length != length_;
    if (other) day_ = &days().of(pace_, temperature);
    temperature_ = temperature, length_ = length;
    before_ = amounts_;
    if (fresh_) arrived_ = from;
    const int doublings = doublings_in(length, from - arrived_, warmer);
    if (other || doublings > 0) take_steps(std::ldexp(0.5 * length, -doublings));
    for (int i = 0; i <= doublings; ++i) {  // of length / 2^doublings twice, then twice as long each time
      add_panel();
      if (i == 0) continue;
      for (Amounts& each : amounts_) each.step = twice(each.step);
    }
    fresh_ = false;
    for (std::size_t i = 0; i < amounts_.size(); ++i) {
      settle(before_[i], amounts_[i], growth_.applications[i]);
    }
    record(until);
  }

  Growth finish() {
    double saved = 0.0;
    for (std::size_t i = 0; i < amounts_.size(); ++i) {
      Effect& effect = growth_.applications[i];
      effect.saved = scale_ * lengths_[i];
      saved += effect.saved;
      for (const auto site : {&BySite::leaf, &BySite::stem, &BySite::root}) {
        growth_.uptake.*site += effect.uptake.*site;
        growth_.tips.*site += effect.tips.*site;
      }
      const Amounts& left = amounts_[i];
      growth_.plant.depot += left.depot_stem + left.depot_root;
      growth_.plant.tips += left.tips();
      growth_.leaf_mobile += left.leaf_mobile + left.growing_mobile, growth_.stem_mobile += left.stem_mobile;
      growth_.substrate += left.substrate;
    }
    growth_.untreated = crop_.final_height;
    growth_.treated = crop_.final_height - saved;
    growth_.control = saved / growth_.untreated;
    growth_.largest_inhibition = peak_;
    growth_.half_gone = peak_ > 0.0 ? half_gone_ : 0.0;
    return std::move(growth_);
  }

  double temperature_of(std::size_t which) const {
    return which < daily_.size() ? daily_[which] : crop_.mean_temperature;
  }

 private:
  static Days& days() {
    thread_local Days days;
    return days;
  }

  /// Sets the steps of this day to `h` [s].
  void take_steps(double h) {
    const bool half = h == half_day;
    const Step step = half ? day_->half : step_of(day_->rates, pace_, h);
    for (Amounts& each : amounts_) {
      const Emptying substrate =
          half ? Emptying{each.from_substrate(), each.stays_half_a_day} : emptying(each.from_substrate(), h);
      each.step = from_substrate(step, day_->rates, substrate);
    }
  }

  double thermal_time(double until) const {
    double sum = 0.0, from = 0.0;
    for (std::size_t d = 0; d < daily_.size() && from < until; ++d, from += day) {
      sum += pace_.speed(daily_[d]) * std::min(day, until - from);
    }
    return until > from ? sum + pace_.speed(crop_.mean_temperature) * (until - from) : sum;
  }
  double odds(double thermal) const {
    return std::exp(-crop_.growth_steepness * (thermal - crop_.growth_middle));
  }
  static double risen(double odds) { return 1.0 / (1.0 + odds); }

  /// How often panels double in an interval of `length` [s], whose first panel is hardly longer than the time
  /// since the last arrival. It is also no longer than the fastest compartment needs, while what arrived goes
  /// through it, than the onset of inhibition takes, or where a new temperature changes the amounts at the
  /// tips within hours.
  int doublings_in(double length, double since, bool warmer) const {
    constexpr double fewest = 32.0;  // panels of the length of the first, in the interval after an arrival
    constexpr double longest = 2.0;  // panel, over the time in which a compartment empties
    constexpr double gone = 10.0;    // such times later
    const Rates& rates = day_->rates;
    const double near_tips = std::max(rates.depot, rates.tips);
    double fastest = std::max({near_tips, rates.mobile, rates.growing_mobile});
    for (const Amounts& each : amounts_) fastest = std::max(fastest, each.from_substrate());
    if (fresh_) fastest = std::max(fastest, onset());
    if (fastest * since > gone) fastest = warmer ? near_tips : 0.0;
    double panel = fresh_ ? length / fewest : 1.1 * since;  // 1.1: a usual spray is dry by then
    if (fastest * panel > longest) panel = longest / fastest;
    int doublings = 0;
    while (doublings < most_halvings && std::ldexp(length, -doublings) > panel) ++doublings;
    return doublings;
  }

  /// One over the time in which what has arrived begins to inhibit [1/s]: that in which the amount at the
  /// tips would rise by itself and half_amount, going on as it rises now, or as its rise grows now.
  double onset() const {
    const Ways way = ways();
    double change = 0.0, growing = 0.0;  // [kg/s], [kg/s2]
    for (const Amounts& each : amounts_) {
      const double of_tips = change_of_tips(each, way);
      const double of_depot = way.stem_depot * each.stem_mobile + each.roots.up * each.substrate -
                              day_->rates.depot * (each.depot_stem + each.depot_root);
      change += of_tips;
      growing += way.depot_tips * of_depot -
                 way.leaf_tips * day_->rates.growing_mobile * each.growing_mobile -
                 day_->rates.tips * of_tips;
    }
    return std::max(std::abs(change) * bends_, std::sqrt(std::abs(growing) * bends_));
  }

  Ways ways() const {
    return {.leaf_tips = crop_.leaf_tip_share * day_->rates.growing_mobile,
            .stem_depot = day_->rates.mobile,
            .depot_tips = crop_.tip_share * crop_.depot_rate};
  }

  /// Takes two equal steps of h, and adds the elongation f that each application inhibits in them, over
  /// scale_: h/15 (7 f0 + 16 f1 + 7 f2) + h^2/15 (f0' - f2'), which is exact for polynomials of fifth degree.
  void add_panel() {
    const Ways way = ways();
    const double h = amounts_.front().step.h, odds = amounts_.front().step.odds;
    const double thermal = crop_.growth_steepness * day_->rates.growing;  // [1/s]
    for (int node = 0; node <= 2; ++node) {
      if (node > 0) {
        for (Amounts& each : amounts_) advance(each, way);
        odds_ *= odds;
        time_ += h;
        look();
      }
      const double of = h / 15.0 * thermal * crop_.largest_inhibition * odds_ * risen_ * risen_ * bends_;
      if (node == 1) {
        for (std::size_t i = 0; i < amounts_.size(); ++i) lengths_[i] += 16.0 * of * amounts_[i].tips();
      } else {
        double change = 0.0;  // of all at the tips [kg/s]
        for (const Amounts& each : amounts_) change += change_of_tips(each, way);
        const double bend = thermal * (1.0 - 2.0 * risen_) - bends_ * change;
        const double end = node == 0 ? h : -h;
        for (std::size_t i = 0; i < amounts_.size(); ++i) {
          const double tips = amounts_[i].tips();
          lengths_[i] += of * (7.0 * tips + end * (change_of_tips(amounts_[i], way) + bend * tips));
        }
      }
      if (node > 0 || fresh_) watch(crop_.largest_inhibition * tips_ * bends_);
    }
  }

  /// Rate of the amount of an application at the tips [kg/s].
  double change_of_tips(const Amounts& a, const Ways& way) const {
    return way.leaf_tips * a.growing_mobile + way.depot_tips * (a.depot_stem + a.depot_root) -
           day_->rates.tips * a.tips();
  }

  /// Takes over the present amounts at the tips, and how far the untreated check has risen.
  void look() {
    tips_ = 0.0;
    for (const Amounts& each : amounts_) tips_ += each.tips();
    bends_ = 1.0 / (tips_ + crop_.half_amount), risen_ = risen(odds_);
  }

  /// Records the largest inhibition, and the time at which it last fell below half of that.
  void watch(double inhibition) {
    if (inhibition > peak_) peak_ = inhibition;
    const double half = 0.5 * peak_;
    if (inhibition >= half) {
      half_gone_ = std::numeric_limits<double>::infinity();
    } else if (std::isinf(half_gone_)) {
      const double share = watched_ > inhibition ? (watched_ - half) / (watched_ - inhibition) : 1.0;
      half_gone_ = watched_time_ + share * (time_ - watched_time_);
    }
    watched_ = inhibition, watched_time_ = time_;
  }

  /// Adds the flows between compartments within a day to the totals.
  void settle(const Amounts& before, const Amounts& after, Effect& effect) {
    InPlant& plant = growth_.plant;
    const double through_growing = before.growing_mobile - after.growing_mobile;
    const double through_leaf = before.leaf_mobile - after.leaf_mobile + through_growing;
    const double through_stem = before.stem_mobile - after.stem_mobile;
    const double from_substrate = before.substrate - after.substrate;
    const double through_root =
        after.from_substrate() > 0.0 ? from_substrate * (after.roots.up / after.from_substrate()) : 0.0;
    growth_.lost_from_substrate += from_substrate - through_root;
    effect.uptake.leaf += through_leaf, effect.uptake.stem += through_stem;
    effect.uptake.root += through_root;

    const double acts = crop_.leaf_tip_share * through_growing;
    plant.blades += through_leaf - acts;
    double to_tips = acts;
    effect.tips.leaf += acts;
    const auto leave = [&](double came, double was, double is, double& tips) {  // of the depot
      const double out = std::max(0.0, came + was - is);
      const double moved = out * day_->rates.moves, up = crop_.tip_share * moved;
      plant.metabolised += out - moved, plant.elsewhere += moved - up;
      tips += up, to_tips += up;
    };
    leave(through_stem, before.depot_stem, after.depot_stem, effect.tips.stem);
    leave(through_root, before.depot_root, after.depot_root, effect.tips.root);
    const double gone = to_tips + before.tips() - after.tips();
    const double broken = gone * day_->rates.breaks;
    plant.metabolised += broken, plant.grown_away += gone - broken;
  }

  void record(double time) {
    if (course_ == nullptr) return;
    double tips = 0.0, saved = 0.0;
    for (const Amounts& each : amounts_) tips += each.tips();
    for (const double each : lengths_) saved += scale_ * each;
    const double untreated = crop_.initial_height + scale_ * (risen(odds_) - begin_);
    course_->time.push_back(time);
    course_->untreated.push_back(untreated);
    course_->treated.push_back(untreated - saved);
    course_->inhibition.push_back(crop_.largest_inhibition * tips / (tips + crop_.half_amount));
    course_->tips.push_back(tips);
  }

  const Crop& crop_;
  const Pace pace_;
  std::span<const double> daily_;
  HeightCourse* course_;
  std::vector<Amounts> amounts_, before_;
  std::vector<double> lengths_;  // inhibited elongation over scale_
  double horizon_;
  Growth growth_;
  double scale_ = 0.0, begin_ = 0.0, odds_ = 0.0, time_ = 0.0;
  double tips_ = 0.0, bends_ = 0.0, risen_ = 0.0;  // now: at the tips [kg], 1 / (tips + half_amount) [1/kg]
  bool fresh_ = true;                              // something has just arrived
  double arrived_ = 0.0;                           // when it last did [s]
  double temperature_ = std::numeric_limits<double>::quiet_NaN(), length_ = 0.0;
  const Day* day_ = nullptr;
  double peak_ = 0.0, half_gone_ = std::numeric_limits<double>::infinity();
  double watched_ = 0.0, watched_time_ = 0.0;
};

/// Throws InputError for the first number that is not finite, or a day that no plant lives through.
void check(const Growing& growing) {
#define WETSPAN_FINITE(type, name, ...) require_finite("crop." #name, static_cast<double>(growing.crop.name));
  WETSPAN_CROP(WETSPAN_FINITE)
#undef WETSPAN_FINITE
#define WETSPAN_FINITE(type, name, ...) \
  require_finite("uptake." #name, static_cast<double>(growing.uptake.name));
  WETSPAN_UPTAKE(WETSPAN_FINITE)
#undef WETSPAN_FINITE
  require_amount("the rate of uptake by roots", growing.roots.up);
  require_amount("the rate of loss in the substrate", growing.roots.loss);
  for (const double mean : growing.daily_temperature)
    require("a daily mean temperature", mean, 200.0, 400.0, "K");
}

void check(const Arrival& arrival) {
  for (const double amount :
       {arrival.entered.leaf, arrival.entered.stem, arrival.entered.root, arrival.entered_growing,
        arrival.leaf_mobile, arrival.growing_mobile, arrival.stem_mobile, arrival.substrate})
    require_finite("an amount that arrives at a plant", amount);
}

}  // namespace

Growth grow(const Growing& growing, std::span<const Applied> applications, std::span<const Arrival> arrivals,
            HeightCourse* course) {
  if (applications.empty()) throw InputError("growth wants an application, or one that brings nothing");
  check(growing);
  double before = 0.0;
  for (const Arrival& arrival : arrivals) {
    if (arrival.application >= applications.size() || !(arrival.time >= before)) {
      throw InputError("arrivals belong to an application and come in the order of their time, from 0 s on");
    }
    check(arrival);
    before = arrival.time;
  }
  if (course != nullptr) *course = {};
  Plant plant(growing, applications, course);
  const double horizon = growing.uptake.horizon;
  double now = 0.0;
  auto next = arrivals.begin();
  for (std::size_t d = 0; now < horizon; ++d) {
    const double evening = std::min(horizon, static_cast<double>(d + 1) * day);
    while (now < evening) {
      while (next != arrivals.end() && next->time <= now) plant.arrive(*next++);
      const double until = next == arrivals.end() ? evening : std::min(evening, next->time);
      plant.follow(now, until, plant.temperature_of(d));
      now = until;
    }
  }
  while (next != arrivals.end()) plant.arrive(*next++);
  return plant.finish();
}

}  // namespace wetspan
