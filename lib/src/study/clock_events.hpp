// What drying crops meet on their clocks: a lane takes an event, follows it from mark to mark, and hands it
// back.
//
// At the end of an accepted step a lane may meet: a class that dries out (the clock's mark; a thousandth of
// its water is let go at once), a film on stems or bench that does, leaves that count as dry (found within
// the step from the clocks, which tell the water exactly), a bend of the air's record, or the end of the
// event. While a step is made ready, a class may let go of its edge on the way. All this is done lane by
// lane, in plain doubles. What an event is given back for, unfollowed, docs/science/clocks.md says under
// "Where it is not exact".
#pragma once

#include <algorithm>
#include <bit>
#include <cmath>

#include "../root.hpp"
#include "clock_steps.hpp"
#include "wetspan/plant/uptake.hpp"

namespace wetspan::clocks {
inline namespace WETSPAN_LANES_NAMESPACE {
namespace {  // in the kernel alone

constexpr int most_steps = 20'000, most_refused = 100;  // of an event; attempts at a step
constexpr double at_mark = 1.0 - 1e-10;  // of a clock's mark: there it is met, in spite of rounding
constexpr double nearly =
    1.2;  // of the water at which leaves count as dry: from there on it is summed class by class
constexpr double late = 0.95;  // of a step: so late the cubics are good enough to read dryness

template <int Width>
class Events {
  using L = Lanes<Width>;
  using R = typename L::R;
  using Mask = typename L::Mask;

 public:
  Events(EventSupply& supply, const AirFits& fits) : supply_(supply), steps_(fits) {
    for (int lane = 0; lane < Width; ++lane) refill(lane);
  }

  /// Follows all that is supplied; returns how often the rates were evaluated.
  std::int64_t run() {
    while (busy_ != 0) step();
    return evaluations_;
  }

 private:
  /// What a lane is at, beside the numbers it computes with.
  struct Progress {
    Event event;
    Solution solution;
    std::size_t segment = 0;                 // of the air
    std::size_t dried[most_layers][2] = {};  // classes of a side
    std::size_t wet_classes = 0;
    double wet_part[most_layers][2] = {};  // liquid of a side's wet classes, over all of it, as landed
    std::array<double, most_layers + 1> dries_within;  // see find_dry(); infinity where nothing does
  };
  /// A side of a leaf layer in one lane.
  struct Place {
    int lane;
    std::size_t layer, below;
  };

  // ---- steps
  // -----------------------------------------------------------------------------------------------

  /// One step of every lane.
  void step() {
    if (L::any(new_ > L::all(0.0))) begin_events();
    evaluations_ += std::popcount(busy_) * stages;
    steps_.choose();
    steps_.expect_ends();
    see_who_recedes();
    Mask accepted = steps_.attempt();
    const Mask bends = steps_.find_end();
    const Mask nearly_dry = find_nearly_dry();
    accepted = accepted & read_dryness(accepted & nearly_dry);
    meet_ends(accepted, nearly_dry, bends);
    steps_.keep(accepted);
    in_each(std::exchange(ended_, 0), [&](int lane) {
      finish(lane);
      refill(lane);
    });
  }

  /// Where so little water is left that leaves, or those of a layer, may count as dry.
  Mask find_nearly_dry() const {
    R left{};
    Mask nearly_dry = L::all(0.0) > L::all(1.0);
    for (std::size_t k = 0; k < crops().layers; ++k) {
      const auto& share = crops().layer[k].side_share;
      const R on_layer = L::fma(share[0], steps_.end[water_of(k, 0)], share[1] * steps_.end[water_of(k, 1)]);
      left = L::fma(crops().layer[k].of_leaf_water, on_layer, left);
      nearly_dry = nearly_dry | (on_layer <= nearly * layer_goal_[k]);
    }
    return nearly_dry | (left <= nearly * goal_);
  }

  /// Lets every lane meet what it meets where its step ends.
  void meet_ends(const Mask& accepted, const Mask& nearly_dry, const Mask& bends) {
    const State<L>& end = steps_.end;
    count_ = L::select(accepted, count_ + 1.0, count_);
    refused_ = L::select(accepted, L::all(0.0), refused_ + 1.0);
    const Mask unfit = accepted & (steps_.told.unfit < L::all(0.0));
    const Mask fit = accepted & !unfit;
    stop(L::bits_of(unfit | (count_ > L::all(most_steps)) | (refused_ > L::all(most_refused))));
    const unsigned lanes = L::bits_of(fit) & busy_, near_end = L::bits_of(nearly_dry) & lanes;
    in_each(near_end, [&](int lane) {
      for (std::size_t k = 0; k <= crops().layers; ++k) {
        const double part = progress_[lane].dries_within[k];
        if (part < infinity) note_dry(lane, k, part);
      }
    });
    unsigned changed = near_end;
    steps_.on_films([&](std::size_t film) {
      constexpr double rounding = 1e-9;
      const Mask dries =
          fit & (steps_.y[film] > L::all(0.0)) & (end[film] <= L::all(cube_root_gone * (1.0 + rounding)));
      const unsigned its = L::bits_of(dries) & busy_;
      in_each(its, [&](int lane) { film_dries(lane, film); });
      changed |= its;
    });
    steps_.on_sides([&](LeafSide<L>& side, std::size_t, std::size_t) {
      SideClasses<L>& classes = side.classes;
      classes.were_receding = L::select(accepted, classes.receding, classes.were_receding);
      classes.lets_go = L::select(accepted, classes.let_go, classes.lets_go);
    });
    const unsigned dries = pass_marks(fit);
    in_each(dries, [&](int lane) {
      if ((near_end >> lane & 1U) == 0 && progress_[lane].wet_classes > 0) return;
      find_dry(lane, false, [&](std::size_t k, double part) { note_dry(lane, k, part); });
    });
    in_each(changed | dries, [&](int lane) {
      const Progress& progress = progress_[lane];
      const Solution& solution = progress.solution;
      if (progress.wet_classes == 0 && solution.wet_time < infinity && solution.stem_wet_time < infinity) {
        follow_no_further(lane);
      }
    });
    in_each(L::bits_of(fit & bends) & busy_ & ~ended_, [&](int lane) {
      if (L::get(end[elapsed], lane) >= progress_[lane].event.last) follow_no_further(lane);
      else enter_segment(lane, progress_[lane].segment + 1);
    });
  }

  // ---- leaves that count as dry
  // ----------------------------------------------------------------------------

  /// Finds when leaves were dry within the step, for those that are near it. Where the step's cubics are too
  /// coarse for that but near its ends, it is taken anew to that moment: false in such lanes.
  Mask read_dryness(const Mask& nearly_dry) {
    // what a coarse cubic misplaces a moment by is, by trial, below this share of the fourth power that
    // unlike_cubics() tells
    constexpr double misplaced = 0.01;
    R coarse{};
    in_each(L::bits_of(nearly_dry) & busy_, [&](int lane) {
      Progress& progress = progress_[lane];
      progress.dries_within.fill(infinity);
      find_dry(lane, true, [&](std::size_t k, double part) { progress.dries_within[k] = part; });
      const double part = *std::min_element(progress.dries_within.begin(), progress.dries_within.end());
      if (part < good_end || part > late * L::get(steps_.theta, lane)) return;
      const double step = L::get(steps_.span, lane), time = L::get(steps_.y[elapsed], lane) + step;
      if (misplaced * unlike_cubics(lane) * step < progress.event.terms.relative * time) return;
      L::set(steps_.retry, lane, step * part * overshoot);
      L::set(coarse, lane, 1.0);
    });
    return coarse <= L::all(0.0);
  }

  /// Base area of a drop, over the fresh one.
  static double base_area(const Event& event, double sigma) {
    const CourseTerms<double>& course = event.terms.course;
    return std::clamp(course.at_release - sigma * course.receding, 0.0, 1.0);
  }

  /// Water left on a layer, over that which came, with its clocks where they are: the sum over what is still
  /// wet.
  double water_left(const Progress& progress, std::size_t k, const double (&clocks)[2]) const {
    const Event& event = progress.event;
    double all = 0.0;
    for (std::size_t below = 0; below < 2; ++below) {
      const Event::Side& side = event.side[k][below];
      double sum = 0.0;
      for (std::size_t i = progress.dried[k][below]; i < side.count; ++i) {
        const double sigma = clocks[below] * side.classes[i].by_square;
        double share = 0.0;
        if (sigma < event.pinned) {
          share = Lanes<1>::polynomial(event.course_share, sigma / event.pinned);
        } else {
          const double square = base_area(event, sigma);
          share = event.receding_share * square * std::sqrt(square);
        }
        sum += side.classes[i].share * (share - event.solute[k]);
      }
      all += event.layer[k].side_share[below] * sum;
    }
    return all / (1.0 - event.solute[k]);
  }

  /// The water left in a lane along its last step, over that which came.
  struct WaterAlongStep {
    const Events& events;
    int lane;
    std::array<std::array<DenseOutput<L>, 2>, most_layers> clock;

    WaterAlongStep(const Events& of, int its) : events(of), lane(its) {
      for (std::size_t k = 0; k < of.crops().layers; ++k)
        clock[k] = {of.steps_.dense(clock_of(k, 0)), of.steps_.dense(clock_of(k, 1))};
    }
    double on_layer(std::size_t k, double part) const {
      return events.water_left(events.progress_[lane], k,
                               {clock[k][0].at(part, lane), clock[k][1].at(part, lane)});
    }
    double on_leaves(double part) const {
      double sum = 0.0;
      for (std::size_t k = 0; k < events.crops().layers; ++k) {
        sum += events.progress_[lane].event.layer[k].of_leaf_water * on_layer(k, part);
      }
      return sum;
    }
  };

  /// Calls `found` with each layer, or all leaves as the number of layers, that counts as dry at the end of
  /// the last step and did not before, and with the part of it at which it does.
  template <class Found>
  void find_dry(int lane, bool within_step, Found found) const {
    const Progress& progress = progress_[lane];
    const std::size_t layers = crops().layers;
    const double theta = L::get(steps_.theta, lane), share = progress.event.dry_share;
    const WaterAlongStep left(*this, lane);
    std::array<double, most_layers + 1> at_end{};
    for (std::size_t k = 0; k < layers; ++k) {
      at_end[k] = left.on_layer(k, theta);
      at_end[layers] += progress.event.layer[k].of_leaf_water * at_end[k];
    }
    for (std::size_t k = 0; k <= layers; ++k) {
      const bool all = k == layers;
      const double noted = all ? progress.solution.wet_time : progress.solution.layer_wet_time[k];
      if (noted < infinity || at_end[k] > share) continue;
      const auto above = [&](double part) {
        return (all ? left.on_leaves(part) : left.on_layer(k, part)) - share;
      };
      found(k, within_step ? falls_to_0(theta, at_end[k] - share, above) : theta);
    }
  }
  /// Where in the last step, as a share of it up to theta, a function is 0 that is `below` at theta.
  template <class Function>
  static double falls_to_0(double theta, double below, Function function) {
    constexpr double tolerance = 1e-13;
    const double above = function(0.0);
    if (!(above > 0.0)) return 0.0;
    return narrowed({.from = 0.0, .to = theta, .at_from = above, .at_to = below}, tolerance, function).to;
  }

  /// How far, about, the cubics of a step are from what they stand for, over it. What falls most is the
  /// radius of each side's next class to dry: see most_fall().
  double unlike_cubics(int lane) const {
    constexpr double no_radius = 1e-10;
    const Progress& progress = progress_[lane];
    double most = 0.0;
    for (std::size_t k = 0; k < crops().layers; ++k) {
      for (std::size_t below = 0; below < 2; ++below) {
        const Event::Side& side = progress.event.side[k][below];
        const std::size_t i = progress.dried[k][below], clock = clock_of(k, below);
        if (i == side.count) continue;
        const ClassTerms& drop = side.classes[i];
        const auto radius = [&](const State<L>& y) {
          return std::sqrt(base_area(progress.event, L::get(y[clock], lane) * drop.by_square));
        };
        const double first = radius(steps_.y), last = radius(steps_.ahead);
        const double ratio = (first - last) / std::max(first + last, no_radius);
        most = std::max(most, drop.weight * ratio * ratio * ratio * ratio);
      }
    }
    return most;
  }

  /// Notes a layer, or all leaves, as dry from a part of the last step on.
  void note_dry(int lane, std::size_t k, double part) {
    Solution& solution = progress_[lane].solution;
    const double time = part < L::get(steps_.theta, lane) ? steps_.dense(elapsed).at(part, lane)
                                                          : L::get(steps_.end[elapsed], lane);
    if (k < crops().layers) {
      solution.layer_wet_time[k] = time;
      L::set(layer_goal_[k], lane, -infinity);
    } else {
      solution.wet_time = time;
      solution.wet_warmth = steps_.dense(warmth_sum).at(part, lane);
      L::set(goal_, lane, -infinity);
    }
  }

  // ---- what dries out
  // --------------------------------------------------------------------------------------

  /// Hands a share of all water on to the house's air, or to the outside.
  void evaporate(int lane, double water) {
    const std::size_t into = L::get(crops().terms.house.answers, lane) > 0.0 ? house_vapour : carried_off;
    L::set(steps_.end[into], lane, L::get(steps_.end[into], lane) + water);
  }

  /// Lets go of what a film still has once it counts as dry, and of the active ingredient in it.
  void film_dries(int lane, std::size_t film) {
    const double rest = L::get(steps_.end[film], lane);
    L::set(steps_.end[film], lane, 0.0);
    if (film == bench_left) return;
    Progress& progress = progress_[lane];
    const std::size_t k = layer_of(film);
    progress.solution.stem_dry_time[k] =
        L::get(steps_.end[elapsed], lane) - rest / steps_.end_rate(lane, film);
    double& last = progress.solution.stem_wet_time;
    const auto& times = progress.solution.stem_dry_time;
    last = *std::max_element(times.begin(), times.begin() + static_cast<std::ptrdiff_t>(crops().layers));
    constexpr double per_area = 1.0;  // a film covers its stem
    active_dries(lane, k, on_stem, entry_of(k, stem_active), 1.0, progress.event.layer[k].stem_fresh,
                 per_area, stem_exposure);
  }

  /// A part of what a surface's liquid holds dries on `contact` [1]: some of it becomes mobile, the rest is
  /// locked.
  void active_dries(int lane, std::size_t k, Surface surface, std::size_t entry, double part, double fresh,
                    double contact, std::size_t exposure_entry) {
    const double left = L::get(steps_.end[entry], lane);
    if (!(left > 0.0)) return;
    Progress& progress = progress_[lane];
    L::set(steps_.end[entry], lane, part < 1.0 ? left * (1.0 - part) : 0.0);
    const double moved = part < 1.0 ? left - left * (1.0 - part) : left;
    progress.solution.dried[k][surface] += moved;
    DryDeposit& deposit = progress.solution.deposit[k][surface];
    weather(deposit, *progress.event.uptake, L::get(steps_.end[exposure_entry], lane),
            L::get(steps_.end[elapsed], lane));
    const double mass = moved * fresh,
                 turned = contact * turns_mobile(*progress.event.uptake, mass / contact);
    deposit.mobile += turned, deposit.locked += mass - turned;
  }
  /// Lets a dry deposit enter and be lost up to an exposure and a time [s].
  static void weather(DryDeposit& deposit, const Uptake& uptake, double exposure_now, double now) {
    const double taken = -std::expm1(deposit.exposure - exposure_now) * deposit.mobile;
    const double lost = -std::expm1(uptake.residue_loss * (deposit.time - now)) * deposit.locked;
    deposit.mobile -= taken, deposit.taken += taken;
    deposit.locked -= lost, deposit.lost += lost;
    deposit.exposure = exposure_now, deposit.time = now;
  }

  /// Passes the marks that clocks have reached; tells in which lanes.
  unsigned pass_marks(const Mask& fit) {
    unsigned lanes = 0;
    on_each_side(
        [&](std::size_t k, std::size_t below) {
          return fit & (steps_.end[clock_of(k, below)] >= crops().sides[k][below].next * at_mark);
        },
        [&](const Place& place) {
          pass_marks(place);
          lanes |= 1U << place.lane;
        });
    return lanes;
  }
  /// Moves on past classes that have dried out.
  void pass_marks(const Place& place) {
    Progress& progress = progress_[place.lane];
    const Event::Side& side = progress.event.side[place.layer][place.below];
    LeafSide<L>& its = crops().sides[place.layer][place.below];
    std::size_t& dried = progress.dried[place.layer][place.below];
    const std::size_t released = dried + count(its.classes.receding, place.lane);
    const double clock = L::get(steps_.end[clock_of(place.layer, place.below)], place.lane);
    while (dried < side.count && clock >= next_dry(place) * at_mark)
      class_dries(place, side.classes[dried++]);
    if (dried == side.count) L::set(its.end, place.lane, 0.0);  // nothing is left to sum up
    line_up(place, std::max(released, dried));
    if (dried > released) pin(place, dried);
  }
  /// Lets go of what a class still has.
  void class_dries(const Place& place, const ClassTerms& drop) {
    const auto& [lane, k, below] = place;
    Progress& progress = progress_[lane];
    const Event& event = progress.event;
    R& on_side = steps_.end[water_of(k, below)];
    double& wet = progress.wet_part[k][below];  // of the side's liquid
    const bool last_of_side = progress.dried[k][below] == event.side[k][below].count;
    // with the last class goes what the steps' errors left
    const double rest = last_of_side ? L::get(on_side, lane) : gone * drop.share;
    active_dries(lane, k, below ? on_lower : on_upper, active_of(k, below),
                 last_of_side ? 1.0 : drop.share / wet, event.layer[k].fresh[below], drop.disc,
                 entry_of(k, exposure));
    wet = last_of_side ? 0.0 : wet - drop.share;
    L::set(on_side, lane, last_of_side ? 0.0 : L::get(on_side, lane) - rest);
    evaporate(lane, rest * event.water_share[k] * event.layer[k].side_share[below]);
    if (--progress.wet_classes > 0) return;
    const double flow = event.last_flow[k] * steps_.end_rate(lane, clock_of(k, below)) * drop.by_square;
    progress.solution.last_drop_time =
        L::get(steps_.end[elapsed], lane) + event.last_moments[k] * gone / flow;
  }
  /// A side's clock when its next class dries out.
  double next_dry(const Place& place) const {
    const Progress& progress = progress_[place.lane];
    const Event::Side& side = progress.event.side[place.layer][place.below];
    const std::size_t i = progress.dried[place.layer][place.below];
    return i < side.count ? progress.event.layer[place.layer].dries * side.classes[i].square : infinity;
  }

  // ---- classes that let go of their edge
  // -------------------------------------------------------------------

  /// Which classes let go of their edge on the way of a step.
  void see_who_recedes() {
    on_each_side(
        [&](std::size_t k, std::size_t below) {
          const LeafSide<L>& side = crops().sides[k][below];
          return (side.end >= side.classes.lets_go) | (side.classes.receding != side.classes.were_receding);
        },
        [&](const Place& place) {
          const LeafSide<L>& side = crops().sides[place.layer][place.below];
          const std::size_t dried = progress_[place.lane].dried[place.layer][place.below];
          const std::size_t before = dried + count(side.classes.receding, place.lane);
          std::size_t released = dried + count(side.classes.were_receding, place.lane);
          while (L::get(side.end, place.lane) >= release(place, released)) ++released;
          if (released == before) return;
          load(place, before, released);
          recede(place, released);
          pin(place, released);
        });
  }
  static std::size_t count(const R& number, int lane) {
    return static_cast<std::size_t>(L::get(number, lane));
  }
  /// A side's clock when its class `i` lets go of its edge.
  double release(const Place& place, std::size_t i) const {
    const Event& event = progress_[place.lane].event;
    const Event::Side& side = event.side[place.layer][place.below];
    return i < side.count ? event.layer[place.layer].lets_go * side.classes[i].square : infinity;
  }
  SideClasses<L>& classes_at(const Place& place) { return crops().sides[place.layer][place.below].classes; }

  /// After classes have dried out: those before `released` that recede, and the next to dry, into the lane.
  void line_up(const Place& place, std::size_t released) {
    const Progress& progress = progress_[place.lane];
    const Event::Side& side = progress.event.side[place.layer][place.below];
    SideClasses<L>& classes = classes_at(place);
    const std::size_t dried = progress.dried[place.layer][place.below];
    const bool wet = dried < side.count;
    load(place, dried, std::max(released, dried + (wet ? 1 : 0)));
    L::set(classes.most_fall, place.lane, wet ? side.classes[dried].most_fall : 0.0);
    L::set(crops().sides[place.layer][place.below].next, place.lane, next_dry(place));
    recede(place, released);
    L::set(classes.were_receding, place.lane, L::get(classes.receding, place.lane));
    L::set(classes.lets_go, place.lane, L::get(classes.let_go, place.lane));
  }
  void load(const Place& place, std::size_t from, std::size_t to) {
    const Progress& progress = progress_[place.lane];
    SideClasses<L>& classes = classes_at(place);
    for (std::size_t i = from; i < to; ++i) {
      const ClassTerms& drop = progress.event.side[place.layer][place.below].classes[i];
      const std::size_t at = i - progress.dried[place.layer][place.below];
      L::set(classes.square[at], place.lane, drop.square);
      L::set(classes.by_square[at], place.lane, drop.by_square);
      L::set(classes.shell[at], place.lane, drop.shell);
      L::set(classes.disc[at], place.lane, drop.disc);
    }
  }
  /// Takes note that the classes before `released` have let go of their edge where the step ends.
  void recede(const Place& place, std::size_t released) {
    SideClasses<L>& classes = classes_at(place);
    const std::size_t dried = progress_[place.lane].dried[place.layer][place.below];
    L::set(classes.receding, place.lane, static_cast<double>(released - dried));
    L::set(classes.let_go, place.lane, release(place, released));
  }
  /// The classes from one on are pinned.
  void pin(const Place& place, std::size_t from) {
    SideClasses<L>& classes = classes_at(place);
    const Event::Pinned& pinned = progress_[place.lane].event.side[place.layer][place.below].pinned[from];
    for (std::size_t j = 0; j < course_terms; ++j)
      L::set(classes.pinned_shell[j], place.lane, pinned.shell[j]);
    L::set(classes.pinned_disc, place.lane, pinned.disc);
  }

  // ---- events come and go
  // ----------------------------------------------------------------------------------

  /// The state and the rates with which new events begin.
  void begin_events() {
    const Mask fresh = new_ > L::all(0.0);
    evaluations_ += std::popcount(L::bits_of(fresh) & busy_);
    wet_leaves(fresh);
    steps_.on_sides([](LeafSide<L>& side, std::size_t, std::size_t) { side.now = side.before; });
    rates(steps_.fits, crops(), steps_.y, steps_.end, steps_.told);
    steps_.on_sides([&](LeafSide<L>& side, std::size_t, std::size_t i) {
      side.rate = L::select(fresh, steps_.end[i], side.rate);
    });
    for (std::size_t k = 0; k < crops().layers; ++k) {
      R& settling = steps_.leaf[k].settling;
      settling = L::select(fresh, steps_.told.settling[k], settling);
    }
    new_ = R{};
  }

  /// Leaves that were in balance with their air, or had the temperature given, are wetted by a film at the
  /// wet bulb.
  void wet_leaves(const Mask& fresh) {
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

  void enter_segment(int lane, std::size_t segment) {
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
    L::set(steps_.limit, lane, std::min(until - event.start, event.last));
  }

  void stop(unsigned lanes) { ended_ |= lanes & busy_; }
  void follow_no_further(int lane) {
    progress_[lane].solution.followed = true;
    stop(1U << lane);
  }

  void finish(int lane) {
    Progress& progress = progress_[lane];
    Solution& solution = progress.solution;
    for (std::size_t i = 0; i < most_entries; ++i) solution.state[i] = L::get(steps_.y[i], lane);
    // of what is all but taken up the steps' errors may leave less than nothing
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

  /// Puts numbers of one event into a lane of what the kernel computes with.
  template <class One, class Many>
  static void spread(const One& one, Many& many, int lane) {
    constexpr std::size_t numbers = sizeof(One) / sizeof(double);
    static_assert(sizeof(Many) == numbers * sizeof(R));
    const auto* from = reinterpret_cast<const double*>(&one);
    auto* to = reinterpret_cast<double*>(&many) + lane;
    for (std::size_t i = 0; i < numbers; ++i) to[i * Width] = from[i];
  }

  void refill(int lane) {
    Progress& progress = progress_[lane];
    Event& event = progress.event;
    if (!supply_.next(static_cast<std::size_t>(lane), event)) {
      L::set(steps_.trial, lane, 0.0);  // an idle lane stands still
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
  /// Of the water: about where leaves count as dry, the steps' errors considered.
  static double dry_goal(const Event& event) { return event.dry_share + 10.0 * event.terms.relative; }

  void begin_layer(int lane, std::size_t k) {
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
  void begin_steps(int lane) {
    const Event& event = progress_[lane].event;
    constexpr double first_step = 5.0;  // [s] at a tolerance of 1
    L::set(steps_.retry, lane, infinity);
    for (SettlingLeaf<L>& leaf : steps_.leaf) L::set(leaf.drift, lane, 0.0);
    L::set(steps_.trial, lane, first_step * std::pow(event.terms.relative, 0.2));
    const auto& time = event.air->time;
    const auto after = std::upper_bound(time.begin() + 1, time.end() - 1, event.start);
    enter_segment(lane, static_cast<std::size_t>(after - time.begin()) - 1);
  }

  // ---- lanes
  // -----------------------------------------------------------------------------------------------

  Crops<L>& crops() { return steps_.crops; }
  const Crops<L>& crops() const { return steps_.crops; }

  /// Calls `meet` with each of these lanes.
  template <class Meet>
  static void in_each(unsigned lanes, Meet meet) {
    for (; lanes != 0; lanes &= lanes - 1) meet(std::countr_zero(lanes));
  }
  /// Calls `meet` with each busy lane and side of which `those`, a mask, holds.
  template <class Those, class Meet>
  void on_each_side(Those those, Meet meet) {
    static_assert(2 * most_layers * Width <= 64,
                  "wider lanes than a mark for each side of each lane has bits");
    std::uint64_t marks = 0;
    for (std::size_t side = 0; side < 2 * crops().layers; ++side) {
      marks |= std::uint64_t{L::bits_of(those(side / 2, side % 2)) & busy_} << (side * Width);
    }
    for (; marks != 0; marks &= marks - 1) {
      const auto mark = static_cast<std::size_t>(std::countr_zero(marks));
      meet(Place{static_cast<int>(mark % Width), mark / Width / 2, mark / Width % 2});
    }
  }

  EventSupply& supply_;
  Steps<L> steps_;
  Progress progress_[Width];
  unsigned busy_ = 0, ended_ = 0;  // lanes that follow an event; those that have come to its end
  std::int64_t evaluations_ = 0;
  R new_{};                                  // 1 in lanes that have just been filled
  R goal_{}, layer_goal_[most_layers] = {};  // near which the water left is looked at; -infinity once dry
  R count_{}, refused_{};                    // steps of the event; attempts at the present one
};

}  // namespace
}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan::clocks
