// The substrate in the pot: retention, placement and sorption of a drench or flood.
#pragma once

#include "wetspan/parameters.hpp"

namespace wetspan {

/// Throws InputError for the first value outside the bounds of the table.
void check(const Substrate& substrate);

/// Equivalent volume of solution [m3 per plant]: the volume that would contain, at the concentration of the
/// pore water, all active ingredient that is dissolved in the pot or sorbed. It is V (theta + f K_d rho),
/// with K_d the sorption of the active ingredient on peat and f the sorption relative to peat
/// (sorption_factor). For a given amount in the pot the concentration is inversely proportional to this
/// capacity. If roots take up a small part of the amount, the dose for equal effect is proportional to it.
double pot_capacity(const Substrate& substrate, const Active& active);

/// Water [m3 per plant] that the pores can still take up: V theta_c (1 - moisture).
double free_pore_water(const Substrate& substrate);

/// Placement of an application in the substrate. Shares of the active ingredient applied to the substrate
/// satisfy held + leached + not_taken_up = 1.
struct Placement {
  double held = 1;          ///< share in the substrate
  double leached = 0;       ///< share drained from the pot
  double not_taken_up = 0;  ///< share in the liquid of a flood or dip that the pot did not absorb
  double depth = 1;         ///< depth of the substrate that contains it, over the depth of the pot
  double availability = 1;  ///< root water uptake in that depth, over the mean of the pot
};

/// Placement of `volume` [m3 per plant] of solution.
///
/// Solution from above (a drench, or spray that falls on the substrate) fills free pores from the top down.
/// The excess over the free pore volume displaces water from the pot, with which it mixes completely. With W
/// = V theta_c, F the free pore water and E = volume - F,
///
///   leached = (E - (W - F) (1 - exp(-E / W))) / volume
///
/// This lies between plug flow, which displaces the old water first, and bypass flow past the old water. From
/// below (a flood, or a dip) the pot absorbs a volume equal to its free pore water, from the bottom up; the
/// duration does not matter (Schnelle and Barrett 2010, seen as abstract). Continuous feeding reaches the
/// whole pot. Sorption during infiltration is neglected: infiltration takes minutes, and sorption was
/// measured over 24 hours.
///
/// Root water uptake at relative depth x from the top is proportional to 1 + g (2 x - 1), g = 2 - 4
/// upper_root_share. Its mean over the relative depth d that contains the solution is 1 - g (1 - d) from
/// above and 1 + g (1 - d) from below. The active ingredient does not move afterwards. Grade D.
///
/// Throws InputError for a substrate or volume (0 .. 1 m3) that is not allowed.
Placement place(const Substrate& substrate, Method method, double volume);

}  // namespace wetspan
