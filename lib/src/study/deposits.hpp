// Active ingredient on a wet crop: the amounts in liquid, dried, and taken up.
//
// The active ingredient has no effect on water and heat, so it is not part of the integrated system. The
// amounts are advanced after each step of that system. The rates are parabolas in time through their values
// at the beginning, middle and end of the step, and the amounts follow in closed form. If a parabola is not
// accurate enough, the step is halved. Fast uptake, within a millisecond say, therefore does not shorten the
// steps of the system, and no amount becomes negative. plant/uptake.hpp gives the equations; the state here
// is
//
//   liquid    dL/dt = -min(e L, s)                          e, s: SurfaceNow::dissolved, saturated
//   mobile    dB/dt = -k_B B
//   locked    dC/dt = -loss x (share without dew) x C - (mobile deposit and uptake from redissolved C in dew)
//
// with each amount relative to the total on its surface at the start. The outflow is taken up or lost.
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

  /// Restarts at a time: at the beginning, and whenever a liquid has dried or has become wet again.
  void start(const State& y, double t);
  using StateAt = std::function<const State&(double t)>;
  /// Advances from the last time to `t`. `halfway` is the state in the middle, `y` at the end, and `between`
  /// gives states at other times.
  void follow(const State& halfway, const StateAt& between, const State& y, double t);

  /// A class of droplets dries, or a crystal takes up water again. Call this before Equations::set.
  void class_dries(std::size_t layer, std::size_t i);
  void class_takes_up(std::size_t layer, std::size_t i);
  void stems_dry(std::size_t layer) { dries(layer, on_stem, 1.0, 1.0); }

  /// Amounts per area of bench [kg/m2]: left on a surface, taken up by leaves and stems, and lost.
  OnSurface left(std::size_t layer, std::size_t surface) const;
  double taken_by_leaves(std::size_t layer) const;
  BySite taken() const { return sum(&Deposit::taken); }
  BySite lost() const { return sum(&Deposit::lost); }

 private:
  /// Amounts over the total that the surface carried at the start [1].
  struct Deposit {
    double liquid = 0, mobile = 0, locked = 0, taken = 0, lost = 0;
  };
  struct OnLayer {
    std::array<Deposit, surfaces> deposit;
    std::array<double, surfaces> fresh;  // total at the start, per area of the surface [kg/m2]
    std::array<double, 2> contact;       // share of a side that its droplets covered when they landed [1]
    std::vector<double> disc;            // share of a side that each class covered then [1]
  };
  using Moment = std::vector<Equations::LayerNow>;
  /// A part of a step.
  struct Piece {
    const Moment &begin, &middle, &end;
    double time;  // [s]
  };
  /// A step is halved no more often than this; the required accuracy is met before. The rate constant of
  /// uptake from an unsaturated liquid is proportional to 1 / depth. It increases a thousandfold until the
  /// liquid counts as dry, and a step may cover most of the drying.
  static constexpr std::size_t most_halvings = 20;

  void follow(const State& state_halfway, const StateAt& between, const Moment& begin, const Moment& end,
              double from, double to, std::size_t halvings);
  bool bends(const Piece& piece) const;
  void follow(const Piece& piece);
  void dries(std::size_t layer, std::size_t surface, double part, double contact);
  /// Share of the liquid on a side that a class holds, among the classes with the same Wetness.
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
