// When leaves count as dry on their clocks: the moment at which the water left falls to a share of that which
// came.
//
//   w(s) = sum over wet classes of share_i (m_i(s) - solute) / (1 - solute)      of a layer
//   m_i  = pinned course of s / r_i^2 while its edge stands, base area to the power 3/2 once it recedes
//
// w [1] is the water left over that which came, s a side's clock [m2], r_i the radius of class i [m], m_i the
// share of the class that is left. The clocks tell w exactly, so the moment t [s] is found from their cubics
// within the step (docs/science/clocks.md). Near its ends a step's cubics may be too coarse for that; the
// step is then taken anew to the moment.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>

#include "../root.hpp"
#include "clock_events.hpp"

namespace wetspan::clocks {
inline namespace WETSPAN_LANES_NAMESPACE {
namespace {  // in the kernel alone

constexpr double late = 0.95;  // of a step: so late the cubics are good enough to read dryness

/// Finds when leaves were dry within the step, for those that are near it. Where the step's cubics are too
/// coarse for that but near its ends, it is taken anew to that moment: false in such lanes.
template <int Width>
auto Events<Width>::read_dryness(const Mask& nearly_dry) -> Mask {
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
template <int Width>
double Events<Width>::base_area(const Event& event, double sigma) {
  const CourseTerms<double>& course = event.terms.course;
  return std::clamp(course.at_release - sigma * course.receding, 0.0, 1.0);
}

/// Water left on a layer, over that which came, with its clocks where they are: the sum over what is still
/// wet.
template <int Width>
double Events<Width>::water_left(const Progress& progress, std::size_t k, const double (&clocks)[2]) const {
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
template <int Width>
struct Events<Width>::WaterAlongStep {
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
template <int Width>
template <class Found>
void Events<Width>::find_dry(int lane, bool within_step, Found found) const {
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
template <int Width>
template <class Function>
double Events<Width>::falls_to_0(double theta, double below, Function function) {
  constexpr double tolerance = 1e-13;
  const double above = function(0.0);
  if (!(above > 0.0)) return 0.0;
  return narrowed({.from = 0.0, .to = theta, .at_from = above, .at_to = below}, tolerance, function).to;
}

/// How far, about, the cubics of a step are from what they stand for, over it. What falls most is the
/// radius of each side's next class to dry: see most_fall().
template <int Width>
double Events<Width>::unlike_cubics(int lane) const {
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
template <int Width>
void Events<Width>::note_dry(int lane, std::size_t k, double part) {
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

}  // namespace
}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan::clocks
