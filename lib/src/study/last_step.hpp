// The last step of the reference path: states within it, and the times at which something passes a value.
#pragma once

#include <array>
#include <cstddef>
#include <utility>

#include "../root.hpp"
#include "wet_span_steps.hpp"

namespace wetspan {

/// The last step. Its dense output has degree four in time, so that five states determine it for any entry.
class LastStep {
 public:
  using State = Steps::State;

  LastStep(const Steps& steps, Eigen::Index entries) : steps_(steps), now_(entries) {}

  /// Called after a step.
  void taken(Steps::Times times) { times_ = times, sampled_ = false; }
  double from() const { return times_.from; }
  double to() const { return times_.to; }
  double length() const { return times_.to - times_.from; }
  const State& ahead() const { return steps_.ahead(); }

  /// The state at a time within the step, until the next call.
  const State& at(double t) {
    steps_.at(t, now_);
    return now_;
  }
  /// One entry of the state at a time within the step.
  double entry(std::size_t of, double t) {
    sample();
    const auto i = static_cast<Eigen::Index>(of);
    // Newton's forward differences over the quarters
    double d[5] = {before_[i], quarters_[0][i], quarters_[1][i], quarters_[2][i], ahead()[i]};
    for (int order = 1; order < 5; ++order) {
      for (int j = 4; j >= order; --j) d[j] -= d[j - 1];
    }
    const double s = 4.0 * (t - from()) / length();
    return d[0] + s * (d[1] + (s - 1.0) / 2.0 * (d[2] + (s - 2.0) / 3.0 * (d[3] + (s - 3.0) / 4.0 * d[4])));
  }
  /// The time at which a function passes from above 0 to 0 or below, or the reverse. `at_end` is its value at
  /// `end`; its value at the beginning of the step must have the other sign.
  template <class Function>
  double moment(double end, double at_end, Function function) const {
    constexpr double close = 1e-12;  // tolerance for the time of an event, over the time since the spray
    const double at_begin = function(from());
    if ((at_begin > 0.0) == (at_end > 0.0)) return from();  // it changed sign before this step
    return narrowed({.from = from(), .to = end, .at_from = at_begin, .at_to = at_end}, close * end, function)
        .to;
  }

 private:
  void sample() {
    if (std::exchange(sampled_, true)) return;
    before_ = steps_.behind();
    for (int i = 0; i < 3; ++i) {
      quarters_[i].resize(before_.size());
      steps_.at(from() + (i + 1) / 4.0 * length(), quarters_[i]);
    }
  }

  const Steps& steps_;
  Steps::Times times_ = {};
  bool sampled_ = false;
  State now_, before_;
  std::array<State, 3> quarters_;
};

}  // namespace wetspan
