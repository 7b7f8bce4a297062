// The time at which leaves count as dry: the water that is left falls to a given share of the water that
// landed.
//
//   w(s) = sum over wet classes of share_i (m_i(s) - solute) / (1 - solute)      of a layer
//   m_i  = pinned course of s / r_i^2 while the edge is pinned, base area to the power 3/2 once it recedes
//
// w [1] is the share of the landed water that is left, s the clock of a side [m2], r_i the base radius of
// class i [m], and m_i the share of the class that is left. w is a known function of the clocks, so that the
// time t [s] can be located within a step by the dense output of the clocks (docs/science/clocks.md). The
// cubics of a step may not be accurate enough for this away from its ends; the step is then repeated up to
// that time.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>

#include "../root.hpp"
#include "clock_events.hpp"

namespace wetspan::clocks {
inline namespace WETSPAN_LANES_NAMESPACE {
namespace {  // in the kernel alone

constexpr double late = 0.95;  // share of a step after which the cubics are accurate enough to read dryness

/// Locates the times within the step at which leaves became dry, in the lanes in which they are nearly dry. A
/// lane returns false if its step must be repeated up to that time, because the cubics are not accurate
/// there.
template <int Width>
auto Events<Width>::read_dryness(const Mask& nearly_dry) -> Mask {
  // the error of the time from a cubic is below this multiple of the estimate unlike_cubics() (by trial)
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
    L::set(steps_.by_retry, lane, step * part * overshoot);
    L::set(coarse, lane, 1.0);
  });
  return coarse <= L::all(0.0);
}

/// Base area of a drop relative to the fresh one [1].
template <int Width>
double Events<Width>::base_area(const Event& event, double sigma) {
  const CourseTerms<double>& course = event.terms.course;
  return std::clamp(course.at_release - sigma * course.receding, 0.0, 1.0);
}

/// Share of the landed water that is left on a layer, given its clocks: the sum over the wet classes.
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

/// Share of the landed water that is left, within the last step of a lane.
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

/// Calls `found` for each layer that became dry within the last step, and for all leaves together, which have
/// the index after the last layer. The second argument is the share of the step at which it became dry.
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

/// The share of the last step, up to theta, at which a function falls to 0; it has the value `below` at
/// theta.
template <int Width>
template <class Function>
double Events<Width>::falls_to_0(double theta, double below, Function function) {
  constexpr double tolerance = 1e-13;
  const double above = function(0.0);
  if (!(above > 0.0)) return 0.0;
  return narrowed({.from = 0.0, .to = theta, .at_from = above, .at_to = below}, tolerance, function).to;
}

/// Estimate of the relative error of the cubics of a step. The radius that changes most is that of the class
/// that dries next on each side: see most_fall().
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

/// Records that a layer, or all leaves, became dry at a share `part` of the last step.
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
