// Steps of the reference path: explicit ones, and implicit ones where the equations are stiff.
#pragma once

#include <memory>
#include <utility>

#include "wet_span_equations.hpp"

namespace wetspan {

constexpr double absolute_over_relative = 0.1;  // of the tolerance: entries of the state are of order one
constexpr double first_step = 1e-2, shortest_step = 1e-9;  // [s]

/// Smallest tolerance of implicit steps, over the square of the number of droplet classes on all leaves [1].
/// It is 2e-10 for the usual 24 classes, and 6e-7 for the most that there can be: their steps are many, and
/// each takes long. No input is known within four orders of it.
constexpr double finest_by_square = 4e-13;

/// Takes steps of one wet span, whose lengths follow from numerics.tolerance, with dense output of degree
/// four in time over the last one.
class Steps {
 public:
  using State = Equations::State;
  virtual ~Steps() = default;

  /// Restarts at a state, with the length of the next step to try [s].
  virtual void restart(const State& y, double t, double step) = 0;
  struct Times {
    double from, to;
  };
  /// Takes a step. Throws a std::exception if no step is short enough.
  virtual Times take() = 0;
  /// The states at the two ends of the step.
  virtual const State& behind() const = 0;
  virtual const State& ahead() const = 0;
  /// The state at a time within the step.
  virtual void at(double t, State& y) const = 0;
  /// Length of the first step after an event, over the length of the step that it ended [1].
  virtual double after_event() const = 0;
};

/// The tolerance of implicit steps: that of the scenario, but not below the smallest [1].
double implicit_tolerance(const Equations& equations);

/// The method that suits the equations: Dormand and Prince's pair of order 5(4) (explicit), or Rodas5P of
/// order 5(4) (linearly implicit, Steinebach 2023) for a hygroscopic liquid, and after 2000 explicit steps
/// wherever stability limits them.
std::unique_ptr<Steps> steps_of(const Equations& equations, const Steps::State& first);

}  // namespace wetspan
