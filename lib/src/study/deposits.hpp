// Active ingredient on a wet crop: what of it liquid holds, what has dried, what has entered.
//
// Water and heat do not feel it, so it is no part of the system that is integrated. It follows each step of
// that system: the rates at the step's beginning, middle and end are taken as parabolas in time, and the
// amounts follow from these in closed form; where the rates bend too much for that, in halves of the step. So
// a deposit that enters within a thousandth of a second shortens no step, and no amount falls below 0.
// plant/uptake.hpp has the equations; the state here is
//
//   liquid    dL/dt = -min(e L, s)                          e, s: SurfaceNow::dissolved, saturated
//   mobile    dB/dt = -k_B B
//   locked    dC/dt = -loss x (share without dew) x C - (what dew dissolves, and what of that enters)
//
// each over all that its surface carried at the start. What leaves these is taken up, or lost.
#pragma once

#include <array>
#include <functional>
#include <vector>

#include "wet_span_equations.hpp"
#include "wetspan/plant/growth.hpp"

namespace wetspan {

class Deposits {
 public:
  using State = Equations::State;

  explicit Deposits(const Equations& equations);

  /// Starts anew at a moment: the first, or one at which a liquid dried or came back.
  void start(const State& y, double t);
  using StateAt = std::function<const State&(double t)>;
  /// Follows from the last moment to `t`, with `halfway` in the middle, `y` at the end, and states between.
  void follow(const State& halfway, const StateAt& between, const State& y, double t);

  /// A class of droplets dries, or a crystal takes up water again; before Equations::set says so.
  void class_dries(std::size_t layer, std::size_t i);
  void class_takes_up(std::size_t layer, std::size_t i);
  void stems_dry(std::size_t layer) { dries(layer, on_stem, 1.0, 1.0); }

  /// Per area of bench [kg/m2]: what is left on a surface, what leaves and stems took up, and lost.
  OnSurface left(std::size_t layer, std::size_t surface) const;
  BySite taken() const { return sum(&Deposit::taken); }
  BySite lost() const { return sum(&Deposit::lost); }

 private:
  /// Over all that the surface carried at the start [1].
  struct Deposit {
    double liquid = 0, mobile = 0, locked = 0, taken = 0, lost = 0;
  };
  struct OnLayer {
    std::array<Deposit, surfaces> deposit;
    std::array<double, surfaces> fresh;  // carried at the start, per area of the surface [kg/m2]
    std::array<double, 2> contact;       // share of a side that its droplets covered when they landed [1]
    std::vector<double> disc;            // share of a side that each class covered then [1]
  };
  using Moment = std::vector<Equations::LayerNow>;
  /// A part of a step.
  struct Piece {
    const Moment &begin, &middle, &end;
    double time;  // [s]
  };
  static constexpr std::size_t most_halvings = 6;

  void follow(const State& state_halfway, const StateAt& between, const Moment& begin, const Moment& end,
              double from, double to, std::size_t halvings);
  bool bends(const Piece& piece) const;
  void follow(const Piece& piece);
  void dries(std::size_t layer, std::size_t surface, double part, double contact);
  /// Share of a side's liquid that a class holds among those as wet as it.
  double share_of(std::size_t layer, std::size_t i) const;
  void follow_locked(std::size_t layer, std::size_t surface, const Piece& piece);
  BySite sum(double Deposit::* part) const;

  const Equations& equations_;
  std::vector<OnLayer> layers_;
  bool any_ = false;  // active ingredient
  double time_ = 0.0;
  Moment begin_, end_;
  std::array<Moment, most_halvings + 1> middle_;
};

}  // namespace wetspan
