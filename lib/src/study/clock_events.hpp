// The integration of events in vector lanes: a lane takes an event, integrates it to its end, and returns it.
//
// At the end of an accepted step these discontinuities are handled: a class of droplets dries out (its last
// thousandth of water evaporates at once), a film on stems or bench dries out, leaves count as dry (located
// within the step, since the water is a known function of the clocks), the record of the air has a new
// segment, or the event ends. Before a step, classes whose edge begins to recede within it are registered.
// All this is done for one lane at a time, in plain doubles. docs/science/clocks.md, "Where it is not exact",
// states when an event is returned without a result.
#pragma once

#include <algorithm>
#include <bit>
#include <cmath>

#include "clock_steps.hpp"

namespace wetspan::clocks {
inline namespace WETSPAN_LANES_NAMESPACE {
namespace {  // in the kernel alone

constexpr int most_steps = 20'000, most_refused = 100;  // steps of an event; consecutive rejections of a step
constexpr double nearly =
    1.2;  // times the water at which leaves count as dry: from there on the water is summed over the classes

constexpr double errors_above = 10.0;  // tolerances by which the water in the state may be wrong [1]

template <int Width>
class Events {
  using L = Lanes<Width>;
  using R = typename L::R;
  using Mask = typename L::Mask;

 public:
  Events(EventSupply& supply, const AirFits& fits) : supply_(supply), steps_(fits) {
    for (int lane = 0; lane < Width; ++lane) refill(lane);
  }

  /// Integrates all events of the supply; returns the number of evaluations of the rates.
  std::int64_t run() {
    while (busy_ != 0) step();
    return evaluations_;
  }

 private:
  /// The event of a lane, and its progress.
  struct Progress {
    Event event;
    Solution solution;
    std::size_t segment = 0;                 // of the air
    std::size_t dried[most_layers][2] = {};  // number of dried classes of a side
    std::size_t wet_classes = 0;
    double wet_part[most_layers][2] = {};  // share of a side's landed liquid in the classes that are wet
    std::array<double, most_layers + 1> dries_within;  // see find_dry(); infinity if nothing became dry
  };
  /// A side of a leaf layer in one lane.
  struct Place {
    int lane;
    std::size_t layer, below;
  };

  // ---- steps

  /// Makes one step in every lane.
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

  /// The lanes in which so little water is left that leaves, or those of a layer, may count as dry.
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

  /// Handles the discontinuities at the ends of the steps.
  void meet_ends(const Mask& accepted, const Mask& nearly_dry, const Mask& bends) {
    const State<L>& end = steps_.end;
    count_ = L::select(accepted, count_ + 1.0, count_);
    refused_ = L::select(accepted, L::all(0.0), refused_ + 1.0);
    const Mask unfit = accepted & (steps_.evaluated.unfit < L::all(0.0));
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

  // ---- leaves that count as dry: clock_dryness.hpp

  Mask read_dryness(const Mask& nearly_dry);
  static double base_area(const Event& event, double sigma);
  double water_left(const Progress& progress, std::size_t k, const double (&clocks)[2]) const;
  struct WaterAlongStep;
  template <class Found>
  void find_dry(int lane, bool within_step, Found found) const;
  template <class Function>
  static double falls_to_0(double theta, double below, Function function);
  double unlike_cubics(int lane) const;
  void note_dry(int lane, std::size_t k, double part);

  // ---- classes that dry out or begin to recede: clock_marks.hpp

  void evaporate(int lane, double water);
  void film_dries(int lane, std::size_t film);
  void active_dries(int lane, std::size_t k, Surface surface, std::size_t entry, double part, double fresh,
                    double contact, std::size_t exposure_entry);
  static void weather(DryDeposit& deposit, const Uptake& uptake, double exposure_now, double now);
  unsigned pass_marks(const Mask& fit);
  void pass_marks(const Place& place);
  void class_dries(const Place& place, const ClassTerms& drop);
  double next_dry(const Place& place) const;
  void see_who_recedes();
  static std::size_t count(const R& number, int lane);
  double release(const Place& place, std::size_t i) const;
  SideClasses<L>& classes_at(const Place& place) { return crops().sides[place.layer][place.below].classes; }
  void line_up(const Place& place, std::size_t released);
  void load(const Place& place, std::size_t from, std::size_t to);
  void recede(const Place& place, std::size_t released);
  void pin(const Place& place, std::size_t from);

  // ---- beginning and end of events: clock_filling.hpp

  void begin_events();
  void wet_leaves(const Mask& fresh);
  void enter_segment(int lane, std::size_t segment);
  void stop(unsigned lanes) { ended_ |= lanes & busy_; }
  void follow_no_further(int lane);
  void finish(int lane);
  template <class One, class Many>
  static void spread(const One& one, Many& many, int lane);
  void refill(int lane);
  /// Share of the landed water near which leaves may count as dry, with an allowance for the error of steps.
  static double dry_goal(const Event& event) { return event.dry_share + errors_above * event.terms.relative; }
  void begin_layer(int lane, std::size_t k);
  void begin_steps(int lane);

  // ---- lanes

  Crops<L>& crops() { return steps_.crops; }
  const Crops<L>& crops() const { return steps_.crops; }

  /// Calls `meet` for each of the lanes.
  template <class Meet>
  static void in_each(unsigned lanes, Meet meet) {
    for (; lanes != 0; lanes &= lanes - 1) meet(std::countr_zero(lanes));
  }
  /// Calls `meet` for each busy lane and side for which the mask of `those` is true.
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
  unsigned busy_ = 0, ended_ = 0;  // lanes with an event; lanes whose event has ended
  std::int64_t evaluations_ = 0;
  R new_{};                                  // 1 in lanes that have just been filled
  R goal_{}, layer_goal_[most_layers] = {};  // see dry_goal(); -infinity once dry
  R count_{}, refused_{};                    // number of accepted steps; of rejections since the last
};

}  // namespace
}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan::clocks
