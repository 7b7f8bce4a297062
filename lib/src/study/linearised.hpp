// The equations of the reference path, linearised about a state, for implicit steps.
//
// A class of droplets depends on other entries of the state only through four numbers of its layer,
//
//   dw_i/dt = F_i(w_i, z),   z = (D rho_sat, D rho_s of either side, liquid over storage capacity)
//
// and all other rates depend on the classes of a side only through four sums s over them: shells, shells
// weighted by activity, wet discs, and water. The matrix of the linear system is therefore diagonal in the
// classes, bordered by a few rows and columns. The classes are eliminated first, then z of each layer, and
// what remains is a dense system of three entries for the house and bench and three for each layer. Both the
// matrix and the solution take a time proportional to the number of classes.
#pragma once

#include <Eigen/Core>
#include <Eigen/LU>
#include <cmath>
#include <vector>

#include "wet_span_equations.hpp"

namespace wetspan {

class Linearised {
 public:
  using State = Equations::State;

  explicit Linearised(const Equations& equations);

  /// Derivatives J by the state, and those by time, at a state and time. `ahead` [s] is the length over which
  /// the difference quotient in time is taken.
  void about(const State& y, double t, double ahead);
  /// The derivatives by time at constant state [1/s2].
  const State& by_time() const { return by_time_; }

  /// The largest of the rates at which entries change by themselves: an estimate of the fastest of all [1/s].
  double fastest() const;

  /// The rate at which the temperature of a layer's leaves settles [1/s].
  double settles(std::size_t k) const { return std::abs(layers_[k].by(warmth, by_warmth)); }

  /// Prepares the solution of (shift - J) x = r. Valid until the next call of `about`.
  void shift(double shift);
  /// Replaces r by x. Water is conserved to rounding: the sum of x, weighted by the water that each entry
  /// stands for, is that of r over `shift`.
  void solve(State& r);

 private:
  static constexpr int of_house = 3, of_layer = 3, most_layers = 4;  // entries outside the classes
  static constexpr int most = of_house + most_layers * of_layer;
  static constexpr int side_sums = 4, sums = 2 * side_sums;
  enum Input { by_heat, by_vapour, by_warmth, by_dew, first_sum, inputs = first_sum + sums };
  enum Output { warmth, dew, source, drive, first_around, full = first_around + 2, outputs };
  static constexpr int shared = outputs - drive;  // z

  using Outputs = Eigen::Matrix<double, outputs, 1>;
  using Sums = Eigen::Matrix<double, sums, 1>;
  using Shared = Eigen::Matrix<double, shared, 1>;
  using Own = Eigen::Matrix<double, first_sum, 1>;  // changes of house, leaf temperature and dew
  using Border = Eigen::Matrix<double, Eigen::Dynamic, 1, 0, most, 1>;

  struct OnLayer {
    Eigen::Matrix<double, outputs, inputs> by;       // derivatives at constant sums, and by the sums
    Outputs by_time;                                 // at constant sums
    double source;                                   // evaporation now [kg/m2/s]
    Eigen::Matrix<double, sums, first_sum> sums_by;  // changes of the sums, by those of Own
    Eigen::Matrix<double, sums, sums> sums_kept;     // the same, by the sums over r / (shift - dF/dw)
    Eigen::Matrix<double, 3, first_sum> rates_by;    // of warmth, dew and source, by Own
    Eigen::Matrix<double, 3, sums> rates_kept;
  };
  struct Side {
    std::size_t from, to;       // its classes are `from` to `to` - 1
    Eigen::Index first, count;  // their entries
  };

  Outputs outputs_of(std::size_t k, const SprayedAir<double>& air, double temperature,
                     const Equations::OnLeaves& on, const Equations::SideSums (&side)[2]) const;
  /// The air over the crop now, with a little more heat or vapour in the house, and a little later.
  enum Air { now_, warmer_, moister_, later_ };
  struct Nearby {
    SprayedAir<double> air;
    double step;  // of that entry of the state, or of time [s]
  };
  void films_about(const State& y, const Nearby (&airs)[4]);
  void layer_about(std::size_t k, const State& y, const Nearby (&airs)[4]);
  void house_about(const State& y, const Nearby (&airs)[4]);
  void classes_about(std::size_t k, int side, const State& y, const Outputs& now);
  Side side_of(std::size_t k, int side) const;
  /// The derivatives of a layer's classes.
  classes::Slopes slopes_of(std::size_t k);
  static Eigen::Index border(std::size_t k, int which) {
    return of_house + of_layer * static_cast<Eigen::Index>(k) + which;
  }

  const Equations& equations_;
  std::vector<OnLayer> layers_;
  Eigen::ArrayXd share_;                           // water that an entry stands for, over all delivered [1]
  Eigen::ArrayXd diagonal_;                        // dF/dw of the classes
  Eigen::ArrayXd by_drive_, by_around_, by_full_;  // dF/dz
  Eigen::ArrayXd shell_, driving_, disc_, water_;  // derivatives of the sums
  Eigen::ArrayXd inverse_;                         // 1 / (shift - dF/dw)
  Eigen::ArrayXd kept_;                            // r / (shift - dF/dw)
  Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, most, most> of_border_;  // J without the classes
  Border by_source_;                            // of the house's entries, by evaporation
  Border sources_;                              // of the evaporation from bench and stems, by the entries
  double source_ = 0.0, source_by_time_ = 0.0;  // all evaporation now, and by time
  double shift_ = 0.0;
  Eigen::PartialPivLU<Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, most, most>> solved_;
  State by_time_;
  State changed_, rates_, rates_changed_;  // work space
};

}  // namespace wetspan
