// The parts of a wet crop that dry by themselves: classes of droplets, films on stems, the film on the bench.
//
// A part dries out at a limit, since steps cannot resolve the last of a liquid (docs/science/wet_leaf.md). A
// solution that stays liquid comes into balance with its air there, and may leave it again. A crystal may
// take up water again.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "deposits.hpp"
#include "last_step.hpp"
#include "wet_span_equations.hpp"

namespace wetspan {

struct WetPart {
  std::size_t entry;                         // of the state: share of its water that is left
  std::optional<std::size_t> layer;          // of a class of droplets
  std::size_t i;                             // class in the layer
  double water;                              // per area of bench when it came [m]
  double limit;                              // share at which it dries out, or comes into balance
  bool stays = false;                        // whether it remains a solution, which never dries out
  std::optional<std::size_t> stems_of = {};  // of a film on stems, their layer

  bool balanced() const { return stays && limit < 0.0; }
};

/// An event that ends a step early: a part reaches its limit, or the crystals of a layer take up water.
struct Interruption {
  double moment;
  std::optional<WetPart> dries = {};
  std::optional<std::size_t> deliquesces = {};

  bool happens() const { return dries || deliquesces; }
};

class WetParts {
 public:
  using State = Equations::State;

  /// `error_of_steps` is what steps may leave in the water of a class, over what landed [1].
  WetParts(Equations& equations, Deposits& deposits, double error_of_steps);

  /// The earliest interruption within the step, at `until` if there is none before.
  Interruption earliest_interruption(LastStep& step, double until) const;
  /// A part that is at its limit, if there is one.
  std::optional<WetPart> at_limit(const State& y) const;
  /// Whether no other class of droplets is wet, or no other film on stems.
  bool last_class() const;
  bool last_film_on_stems(const WetPart& part) const;
  /// Time in which the rest of a part would evaporate [s].
  double last_moments_of(const WetPart& part, const State& y, double t) const;

  /// The rest of a part evaporates at once.
  void dry_out(const WetPart& part, State& y);
  /// A class gets the water that is in balance with its air.
  void come_into_balance(const WetPart& part, State& y, double t);
  /// Classes that have taken up water again may come into balance once more.
  void leave_balance(const State& y);
  /// Gives each class in balance the water that has its activity. Its entry of the state has the error of a
  /// step.
  void settle(State& y) const;
  /// The crystals of a layer take up water: their classes are wet again.
  void deliquesce(std::size_t layer, State& y);

 private:
  const std::vector<Layer>& layers() const { return equations_.layers; }
  double balances_at(std::size_t layer) const;
  void soften(const WetPart& part, double balance);
  void follow_humidity(std::size_t layer, std::size_t i, State& y, double t) const;
  void exchange(const WetPart& part, double value, State& y) const;
  double beside_crystals(const WetPart& part, const State& y, double t) const;

  Equations& equations_;
  Deposits& deposits_;
  double error_of_steps_;
  std::vector<WetPart> wet_, crystals_;  // the latter dried classes of a salt, which may take up water again
  mutable State rate_;
};

}  // namespace wetspan
