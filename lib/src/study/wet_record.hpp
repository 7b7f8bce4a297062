// What a wet span has come to: the times at which surfaces dry, time wet, warmth, and the history.
#pragma once

#include "deposits.hpp"
#include "last_step.hpp"
#include "wet_span_equations.hpp"
#include "wetspan/study/wet_span.hpp"

namespace wetspan {

class WetRecord {
 public:
  using State = Equations::State;

  WetRecord(const Equations& equations, Deposits& deposits, const Steps& steps, bool keep_history);

  /// Begins with the fresh deposit.
  void start(const State& y);
  /// Records the times within the step up to `until` at which leaves become dry, or wet again.
  void note_dryness(const State& y, double until, LastStep& step);
  /// Advances the integrals to `t`, where the state is `y`.
  void follow(const State& y, double t);

  // What steps do not show: a part that dries, and leaves that are dry once its rest is removed.
  void last_droplet_dries(double t);
  void stems_dry(double t, bool all);
  void rest_removed(const State& y, double t);

  double wet_time() const { return result_.wet_time; }
  /// Whether the last droplet has dried.
  bool droplets_dry() const;
  /// Whether leaves, stems and the last droplet are dry.
  bool all_dry() const;

  /// The result of a span that ends at `t` after so many steps; `load` is what it started with.
  WetSpan result(const State& y, double t, int steps, const Load& load);

 private:
  const std::vector<Layer>& layers() const { return equations_.layers; }
  double excess(const State& y, double t) const;
  double excess(std::size_t layer, const State& y, double t) const;
  void follow(const State& y, const State& halfway, double t, bool wet);
  void add_to_history(const State& y, double t);
  Load::Layer left_on(std::size_t layer, const State& y, const Load::Layer& carried) const;

  const Equations& equations_;
  Deposits& deposits_;
  const Steps& steps_;
  bool keep_history_;
  WetSpan result_;
  State middle_, between_;
  double stems_dry_ = 0.0;  // when the stems that are dry were dry [s]
  double warmth_integral_ = 0.0, time_ = 0.0,
         temperature_ = 0.0;  // [K s]; the last time, and the top leaves' then
  bool wet_ = false;          // from the last time on
};

}  // namespace wetspan
