// The pot's substrate: what it holds of a drench or flood, how deep that lies, and how it binds it.
#pragma once

#include "wetspan/parameters.hpp"

namespace wetspan {

/// Throws InputError on the first value out of the bounds of the table.
void check(const Substrate& substrate);

/// Water [m3 per plant] that would hold, at the concentration of the substrate's solution, all that its water
/// and its solid matter hold: V (theta + f K_d rho), with K_d the active ingredient's sorption on peat and f
/// the substrate's over peat's (sorption_factor). At equal amounts in the pot the solution is the weaker the
/// larger it is, so for roots that take up little of the whole the dose of equal effect goes with it.
double pot_capacity(const Substrate& substrate, const Active& active);

/// Water [m3 per plant] that the pores can still take up: V theta_c (1 - moisture).
double free_pore_water(const Substrate& substrate);

/// Where an application lies in the substrate. Shares of the active ingredient in what was applied to it:
/// held + leached + not_taken_up = 1.
struct Placement {
  double held = 1;          ///< in the substrate
  double leached = 0;       ///< drained from the pot
  double not_taken_up = 0;  ///< in the liquid of a flood or dip that the pot had no room for
  double depth = 1;         ///< of the substrate that holds it, over that of the pot
  double availability = 1;  ///< water that roots draw where it lies, over their mean
};

/// Where `volume` [m3 per plant] of solution goes.
///
/// From above (a drench, or what of a spray falls on the substrate) it fills free pores from the top down.
/// What comes beyond them displaces water of the pot, in which it is mixed; with W = V theta_c, F the free
/// pore water and E = volume - F
///
///   leached = (E - (W - F) (1 - exp(-E / W))) / volume
///
/// which lies between displacing the old water first and running past it. From below (a flood, or a dip) the
/// pot takes up its free pore water and no more, from the bottom up; the time it stands does not matter
/// (Schnelle and Barrett 2010, seen as abstract). Continuous feeding reaches the whole pot. What sorbs while
/// the solution runs in is left out: over minutes, where sorption was measured over 24 hours.
///
/// Roots draw water with depth x from the top as 1 + g (2 x - 1), g = 2 - 4 upper_root_share; over the
/// depth d that holds the solution their mean is 1 - g (1 - d) from above and 1 + g (1 - d) from below.
/// Nothing moves afterwards. Grade D.
///
/// Throws InputError for a substrate or volume (0 .. 1 m3) that is not allowed.
Placement place(const Substrate& substrate, Method method, double volume);

}  // namespace wetspan
