// Height of a treated plant: the amount of active ingredient at the growing tips over the weeks, and the
// elongation that it inhibits.
//
//   theta   = integral of max(0, min(T, T_o) - T_b) dt                        thermal time [K s]
//   dH/dt   = (H_f - H_0) s'(theta) dtheta/dt (1 - I)
//   I       = I_max A / (A + A_50)                                            inhibition [1]
//   dX/dt   = F_stem + F_root - (k_x + k_m) X                                 in stems and roots [kg]
//   dA/dt   = tau k_x X + g F_growing - (k_m + rho) A                         at the growing tips [kg]
//   k_m(T)  = k_m20 Q10^((T - 20 degC) / 10 K)                                metabolism
//   rho(T)  = rho20 dtheta/dt / (20 degC - T_b)                               dilution by growth
//   F_growing, F_stem  = uptake while wet + rate(T) B                         plant/uptake.hpp
//   F_root  = up M,  dM/dt = -(up + loss) M                                   in the substrate
//
// T is the air temperature, H the height, and H_0, H_f crop.initial_height and final_height. T_b and T_o are
// crop.base_temperature and optimum_temperature, I_max largest_inhibition, A_50 half_amount, k_x depot_rate,
// tau tip_share, g leaf_tip_share, k_m20 metabolism, Q10 metabolism_q10 and rho20 dilution; M is the active
// ingredient in the substrate, B the mobile deposit.
//
// F_growing is the uptake by leaf blades that are still growing, where the mobile deposit enters at
// growing_cuticle k_B; mature blades, where it enters at k_B, export nothing.
//
// s is logistic in theta with growth_middle and growth_steepness. It is scaled so that the untreated check
// has initial_height when growth starts and final_height when height is judged: the user states the height of
// the check, the model does not predict it. Elongation that was inhibited is not made up later (poinsettias
// kept their leaf count and date of flowering: Fisher, Heins and Lieth 1996, seen as abstract). The amounts
// of several applications add up at the tips: of four ways tried for daminozide two fitted (HortScience
// 32(3):500C, seen as abstract), and addition is one candidate.
//
// Dilution is proportional to growth, whereas metabolism rises faster with temperature. The treatment is
// therefore weaker in warm conditions. The effect itself is published (15 to 45 mg/L at 16, 22 and 28 degC,
// an abstract in HortScience); its size is not.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "wetspan/parameters.hpp"
#include "wetspan/plant/uptake.hpp"

namespace wetspan {

/// Active ingredient by site of entry; all three in the same unit.
struct BySite {
  double leaf = 0, stem = 0, root = 0;

  double sum() const { return leaf + stem + root; }
  bool operator==(const BySite&) const = default;
};

/// One application to a plant.
struct Applied {
  double time = 0;          ///< after the start of growth [s]
  double availability = 1;  ///< root water uptake where the substance lies in the pot, over the mean [1]
};

/// Active ingredient that arrives at a plant at one time [kg per plant].
struct Arrival {
  double time = 0;              ///< after the start of growth [s]
  std::size_t application = 0;  ///< index of the application that it comes from
  BySite entered = {};          ///< enters at this time, such as uptake through wet leaves and stems
  double entered_growing = 0;   ///< the part of entered.leaf that enters blades that are still growing
  double leaf_mobile = 0;       ///< mobile deposit on mature leaves, which enters at rate k_B
  double growing_mobile = 0;    ///< on leaves that are still growing, at growing_cuticle k_B
  double stem_mobile = 0;       ///< mobile deposit on stems, likewise
  double substrate = 0;         ///< in the pot
};

/// Inputs for the growth of a plant.
struct Growing {
  Crop crop;
  Uptake uptake;                                   ///< k_B and the horizon, when height is judged
  RootRates roots;                                 ///< up and loss
  std::span<const double> daily_temperature = {};  ///< daily means from the start of growth [K]; days
                                                   ///< beyond have crop.mean_temperature
};

/// Fate of the active ingredient that a plant took up [kg per plant].
struct InPlant {
  double blades = 0;       ///< in leaf blades, where it does not act
  double depot = 0;        ///< in stems and roots, in transit
  double tips = 0;         ///< at the growing tips
  double grown_away = 0;   ///< left behind by growth in tissue that has stopped growing
  double elsewhere = 0;    ///< moved to places other than the tips
  double metabolised = 0;  ///< broken down

  double sum() const { return blades + depot + tips + grown_away + elsewhere + metabolised; }
};

/// Effect of one application on height.
struct Effect {
  double to_come = 0;  ///< elongation of the untreated check after it [m]: an upper bound for `saved`
  double saved = 0;    ///< elongation inhibited by it [m]; joint inhibition is divided by amount at the tips
  BySite uptake;       ///< [kg per plant]
  BySite tips;         ///< the part that reached the growing tips [kg per plant]
};

/// Heights and amounts over time. All columns have the same length, with entries at the ends of days and at
/// arrivals.
struct HeightCourse {
  std::vector<double> time;        ///< after the start of growth [s]
  std::vector<double> untreated;   ///< [m]
  std::vector<double> treated;     ///< [m]
  std::vector<double> inhibition;  ///< I [1]
  std::vector<double> tips;        ///< A [kg per plant]
};

/// Heights and amounts at the time when height is judged.
struct Growth {
  double untreated = 0, treated = 0;  ///< heights [m]; untreated = treated + sum of Effect::saved
  double control = 0;                 ///< 1 - treated / untreated [1]
  double largest_inhibition = 0;      ///< largest I [1]
  double half_gone = 0;  ///< when I last fell below half of its maximum [s]; infinite if it has not
  BySite uptake, tips;   ///< of all applications [kg per plant]
  InPlant plant;         ///< its sum equals the uptake
  double leaf_mobile = 0, stem_mobile = 0;        ///< still on the surface [kg per plant]
  double substrate = 0, lost_from_substrate = 0;  ///< [kg per plant]
  std::vector<Effect> applications;               ///< in the order in which they were given
};

/// Simulates a plant from the start of growth to uptake.horizon. Arrivals must be in the order of their time;
/// each gives the index of its application in `applications`. Arrivals at the horizon or later are counted in
/// the amounts and have no effect on height.
///
/// The temperature is constant over a day, at its mean. The amounts are then sums of exponentials and are
/// advanced exactly, whenever they arrive. The inhibited elongation is integrated by panels of at most a day
/// with values at their ends and middle and slopes at their ends, exact for polynomials of fifth degree.
/// Panels are graded towards an arrival, and shorter where a compartment empties faster: errors of length
/// saved are below 2e-6 of it (2e-5 where metabolism is above 1 a day). If `course` is given, it receives
/// heights and amounts over time.
///
/// Throws InputError if it is always too cold for the check to grow, if arrivals are out of order or refer to
/// no application, if the base temperature is not below 20 degC, and for a number that is not finite.
Growth grow(const Growing& growing, std::span<const Applied> applications, std::span<const Arrival> arrivals,
            HeightCourse* course = nullptr);

}  // namespace wetspan
