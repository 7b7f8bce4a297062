// The equations of the reference path, with all options and with one state entry for each class of droplets.
//
// They are those of plant/leaf_equations.hpp, plant/droplet_equations.hpp, plant/uptake_equations.hpp and
// house_equations.hpp with ExactAir. This file adds what only the full system has: hygroscopic droplets,
// crystallisation, dew, and drip from full leaves. study/wet_span.hpp gives the equations of the state, and
// wet_crop.hpp its entries.
#pragma once

#include <Eigen/Core>
#include <array>
#include <vector>

#include "../plant/droplet_equations.hpp"
#include "../plant/uptake_equations.hpp"
#include "../properties/exact_air.hpp"
#include "classes_kernel.hpp"
#include "house_equations.hpp"
#include "wet_crop.hpp"

namespace wetspan {

/// Rates and amounts that determine the fluxes of a surface's active ingredient at one time, per area of the
/// surface.
struct SurfaceNow {
  double dissolved = 0;           // relative rate of uptake from an unsaturated liquid [1/s]
  double saturated = 0;           // flux from a saturated liquid into the plant [kg/m2/s]
  double mobile = 0;              // rate constant of uptake of the mobile deposit [1/s]
  double dew_cover = 0, dew = 0;  // share of the surface that dew covers [1], its water [m]
  double permeance = 0;           // of the cuticle [m/s]
  double solubility = 0;          // [kg/m3]
};

/// Everything per area of bench is in m3/m2 = m of water.
class Equations : public WetCrop {
 public:
  using State = Eigen::VectorXd;

  Equations(const Scenario& scenario, const Load& load, const CropAir& record, double start);

  /// Time derivatives of the state [1/s] at a time since the spray [s].
  void operator()(const State& y, State& dy, double t) const;

  /// The state when the spray has just landed.
  State first_state(const Load& load) const;

  double temperature(const Layer& layer, const State& y) const {
    return base_temperature + warmth_unit * y[static_cast<Eigen::Index>(layer.warmth)];
  }
  SprayedAir<double> air_at(const State& y, double t) const;
  /// Vapour density around a layer's leaves over that of saturation at their temperature [1].
  double humidity_at(const Layer& layer, const State& y, double t) const;

  /// Sprayed water and dew on a layer, per area of bench [m].
  double water_on(const Layer& layer, const State& y) const;
  /// The same, less the water that remains in equilibrium with the air.
  double excess_on(const Layer& layer, const State& y, double t) const;
  /// Wet share of the layer's upper side [1].
  double wet_share_of(std::size_t layer, const State& y) const;
  /// Whether there is a hygroscopic liquid, which approaches equilibrium with the air.
  bool hygroscopic() const;
  /// Error of the water balance, relative to the water delivered.
  double imbalance(const State& y) const;

  /// Sets the state of a class.
  void set(std::size_t layer, std::size_t i, Wetness wetness);
  /// Below a share of the class's water, replaces its activity by the tangent at that share; the share is 0
  /// at first. The rates are then smooth up to the event, and an error in the last of the water has little
  /// effect.
  void continue_below(std::size_t layer, std::size_t i, double share);
  /// The same by a line of another slope [1].
  void continue_below(std::size_t layer, std::size_t i, double share, double slope) {
    forms_[layer].floor[i] = share, forms_[layer].slope[i] = slope;
  }
  /// Water of a class, over what landed. Where its activity is continued by a line, this is the water that
  /// has that activity: unlike the entry of the state it is never negative.
  double water_of(std::size_t layer, std::size_t i, const State& y) const;
  /// The entry of the state at which a class has a water activity: the inverse of what its rates use. The
  /// activity is below 1.
  double entry_at(std::size_t layer, std::size_t i, double activity) const;
  /// Share of a class in its side of the leaf, the mean of its shares in water and in area, 1e-3 or more.
  double weight_of(std::size_t layer, std::size_t i) const { return forms_[layer].weight[i]; }
  /// Vapour density just outside the shells of the side on which a class lies, over that of saturation at the
  /// leaf's temperature [1], were the classes in balance at this humidity: they give off nothing then.
  double settled_humidity(std::size_t layer, std::size_t i, const State& y, double t) const;
  /// Water of a class in equilibrium with the air just outside it now, over what landed; infinite if none.
  double balance_of(std::size_t layer, std::size_t i, const State& y, double t) const;

  using LayerNow = std::array<SurfaceNow, surfaces>;
  /// Computes SurfaceNow for the surfaces of every layer.
  void surfaces_now(const State& y, double t, std::vector<LayerNow>& layers_now) const;

  /// The entry that receives evaporated water: the house's air, or the vapour carried off.
  std::size_t exchange() const { return house_answers ? house_vapour : carried_off; }

 private:
  friend class Linearised;

  /// Constants of the classes of a layer as arrays, per leaf area.
  struct LayerForms {
    LeafTerms<double> leaf;
    CylinderTerms<double> stem;
    DropletAngles angles;
    std::vector<double> edge, disc;               // n pi R_0 [1/m], n pi R_0^2 [1]
    std::vector<double> water;                    // that landed [m]
    std::vector<double> by_mass;                  // 1 / (mass of landed water) [m2/kg]
    std::vector<double> lies;                     // 1 while a class has not dried; else 0
    std::vector<double> weight;                   // weight_of()
    std::vector<double> floor;                    // share of its water below which its activity is a line
    std::vector<double> slope;                    // of that line [1]
    mutable std::vector<double> shell, activity;  // work space of an evaluation
    double lying = 0;                             // liquid that landed in the classes that have not dried [m]
  };
  using SideSums = classes::SideSums;
  /// Water on a layer's leaves, per leaf area.
  struct OnLeaves {
    double water[2] = {}, dew = 0;  // of droplets on either side, of dew on both [m]
    double full = 0;                // liquid over the storage capacity of leaves [1]
    double dew_cover = 0;           // wet share of the area between droplets [1]
  };
  /// Losses of water from a layer's leaves, per leaf area.
  struct GivenOff {
    double evaporation = 0, dripping = 0;  // of droplets [kg/m2/s]
    double dew = 0;                        // evaporation of dew [kg/m2/s]
    double lower_bare = 1;                 // share of the lower side without droplets and dew [1]
  };

  /// Rates of a leaf layer: of the entries of its temperature and its dew, and its losses of water.
  struct LeafRates {
    double warmth = 0, dew = 0;            // [1/s]
    double dripping = 0, evaporation = 0;  // per leaf area, dew included [kg/m2/s]
  };

  OnLeaves on_leaves(std::size_t k, const State& y) const;
  /// Vapour density just outside the shells of a side's droplets [kg/m3].
  static double outside(const SideSums& sums, const LeafSurface<double>& surface, bool below, double vapour);
  LeafSurface<double> surface_of(std::size_t k, const SprayedAir<double>& air, double temperature) const;
  classes::Classes classes_of(std::size_t k) const;
  SideSums sum_classes(std::size_t k, std::size_t from, std::size_t to, const State& y) const;
  /// Vapour density just outside the shells of a side with these sums, over that of saturation at the leaf's
  /// temperature [1].
  double humidity_outside(std::size_t k, bool below, const SideSums& sums, const State& y, double t) const;
  void side_gives(std::size_t k, bool below, const LeafSurface<double>& surface, double vapour,
                  const OnLeaves& on, const State& y, State& dy, GivenOff& given) const;
  /// Adds the fluxes of the area of a side that is between the droplets; `discs` as in SideSums.
  static void bare_side_gives(bool below, const LeafSurface<double>& surface, const OnLeaves& on,
                              double discs, GivenOff& given);
  LeafRates leaf_rates(std::size_t k, const SprayedAir<double>& air, const LeafSurface<double>& surface,
                       const OnLeaves& on, const GivenOff& given) const;
  /// Sets the rates of one leaf layer; returns its evaporation per area of bench [kg/m2/s].
  double follow_leaf(std::size_t k, const SprayedAir<double>& air, const State& y, State& dy) const;
  /// The same for the films on stems and bench.
  double follow_films(const SprayedAir<double>& air, const State& y, State& dy) const;

  const classes::Kernel& kernel_;
  ExactAir of_;
  double water_capacity_;  // of water [J/m3/K]
  HouseTerms<double> house_;
  StomataTerms<double> stomata_;
  UptakeTerms<double> uptake_;
  std::vector<LayerForms> forms_;
};

/// Wet share of a film of which the share `left` is left: left^(2/3), at most 1 (Deardorff 1978).
double film_share(double left);
/// The same for dew, which appears and disappears without an event. For the last ten thousandth of the dew
/// the share is a parabola with a finite slope at 0, because the power law has an infinite slope at 0. With
/// the power law the errors of a step in the last of the dew would disturb the leaf temperature and keep
/// steps short for hours.
double dew_share(double left);

}  // namespace wetspan
