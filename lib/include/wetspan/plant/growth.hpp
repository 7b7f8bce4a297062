// How much shorter a plant stays: what reaches the growing tips over the weeks, and what that holds back.
//
//   theta   = integral of max(0, min(T, T_o) - T_b) dt                        thermal time [K s]
//   dH/dt   = (H_f - H_0) s'(theta) dtheta/dt (1 - I)
//   I       = I_max A / (A + A_50)                                            inhibition [1]
//   dX/dt   = F_stem + F_root - (k_x + k_m) X                                 in stems and roots [kg]
//   dA/dt   = tau k_x X + g F_leaf - (k_m + rho) A                            at the growing tips [kg]
//   k_m(T)  = k_m20 Q10^((T - 20 degC) / 10 K)                                metabolism
//   rho(T)  = rho20 dtheta/dt / (20 degC - T_b)                               dilution by growth
//   F_leaf, F_stem  = what enters while wet + k_B(T) B                        plant/uptake.hpp
//   F_root  = up M,  dM/dt = -(up + loss) M                                   in the substrate
//
// s is logistic in theta with growth_middle and growth_steepness, scaled so that the untreated check stands
// at initial_height when growth starts and at final_height when height is judged: the check is the user's, it
// is not foretold. Length that was held back is not caught up (poinsettias kept their leaf count and date of
// flowering: Fisher, Heins and Lieth 1996, seen as abstract). What several applications bring adds up at the
// tips: of four ways tried for daminozide two fitted (HortScience 32(3):500C, seen as abstract), and this
// choice is one candidate.
//
// Dilution keeps pace with growth while metabolism outruns it, so warmth weakens; that it does is published
// (15 to 45 mg/L at 16, 22 and 28 degC, an abstract in HortScience), its size is not.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "wetspan/parameters.hpp"
#include "wetspan/plant/uptake.hpp"

namespace wetspan {

/// Active ingredient by the site where it enters; any one unit.
struct BySite {
  double leaf = 0, stem = 0, root = 0;

  double sum() const { return leaf + stem + root; }
  bool operator==(const BySite&) const = default;
};

/// One of the applications that a plant gets.
struct Applied {
  double time = 0;          ///< after the start of growth [s]
  double availability = 1;  ///< water that roots draw where it lies in the pot, over their mean [1]
};

/// Active ingredient that comes to a plant at one moment [kg per plant].
struct Arrival {
  double time = 0;              ///< after the start of growth [s]
  std::size_t application = 0;  ///< the one that brings it
  BySite entered = {};          ///< enters at once; through leaf and stem while they are wet
  double leaf_mobile = 0;       ///< lies mobile on leaves and enters at k_B
  double stem_mobile = 0;       ///< lies mobile on stems, likewise
  double substrate = 0;         ///< in the pot
};

/// What the growth of a plant depends on.
struct Growing {
  Crop crop;
  Uptake uptake;                                   ///< k_B and the horizon, when height is judged
  RootRates roots;                                 ///< up and loss
  std::span<const double> daily_temperature = {};  ///< means of the days from the start of growth [K]; days
                                                   ///< beyond have crop.mean_temperature
};

/// What became of what a plant took up [kg per plant].
struct InPlant {
  double blades = 0;       ///< in leaf blades, where it does not act
  double depot = 0;        ///< in stems and roots, on its way
  double tips = 0;         ///< at the growing tips
  double grown_away = 0;   ///< left behind by growth in tissue that has stopped growing
  double elsewhere = 0;    ///< moved on to other places than the tips
  double metabolised = 0;  ///< broken down

  double sum() const { return blades + depot + tips + grown_away + elsewhere + metabolised; }
};

/// What one application does to the height.
struct Effect {
  double to_come = 0;  ///< length the untreated check still grows after it [m]: it can save no more
  double saved = 0;  ///< length held back by it [m]; what acts together is shared by the amounts at the tips
  BySite uptake;     ///< [kg per plant]
  BySite tips;       ///< the part that reached the growing tips [kg per plant]
};

/// Heights and amounts over time; entries of equal number, at the ends of days and at arrivals.
struct HeightCourse {
  std::vector<double> time;        ///< after the start of growth [s]
  std::vector<double> untreated;   ///< [m]
  std::vector<double> treated;     ///< [m]
  std::vector<double> inhibition;  ///< I [1]
  std::vector<double> tips;        ///< A [kg per plant]
};

/// What growth comes to when height is judged.
struct Growth {
  double untreated = 0, treated = 0;  ///< heights [m]; untreated = treated + all that was saved
  double control = 0;                 ///< 1 - treated / untreated [1]
  double largest_inhibition = 0;      ///< largest I [1]
  double half_gone = 0;  ///< when I last fell below half of its largest [s]; infinite if it has not
  BySite uptake, tips;   ///< of all applications [kg per plant]
  InPlant plant;         ///< sums to the uptake
  double leaf_mobile = 0, stem_mobile = 0;        ///< still on the surface [kg per plant]
  double substrate = 0, lost_from_substrate = 0;  ///< [kg per plant]
  std::vector<Effect> applications;               ///< in the order in which they were given
};

/// Follows a plant from the start of growth to uptake.horizon. `times` [s] are those of the applications, by
/// whose positions `arrivals`, in the order of their time, are told apart. Arrivals at the horizon or later
/// are booked and hold nothing back.
///
/// Within a day, at its mean temperature, the amounts are sums of exponentials and are stepped exactly; the
/// length held back is integrated by Simpson's rule over half days, and over ever shorter steps towards an
/// arrival. With `course` it also tells the way.
///
/// Throws InputError when it is too cold all the time for the check to grow, when arrivals are not in order
/// or of no application, and when the base temperature is not below 20 degC.
Growth grow(const Growing& growing, std::span<const Applied> applications, std::span<const Arrival> arrivals,
            HeightCourse* course = nullptr);

/// The half amount [kg per plant] at which `substrate` [kg per plant], in the pot at the start of growth,
/// gives the growth control `control`: what a crop's sensitivity has to be for a drench to do what it is
/// known to do. NaN where no half amount within parameters.hpp's bounds does.
double half_amount_for(Growing growing, double substrate, double control);

}  // namespace wetspan
