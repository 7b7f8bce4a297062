// Where the spray first lands: leaves, stems, substrate, bench.
#pragma once

#include "wetspan/parameters.hpp"

namespace wetspan {

/// One-sided leaf area per area of bench [1].
double leaf_area_index(const Canopy& canopy);

/// Lateral area of stems per area of bench [1].
double stem_area_index(const Canopy& canopy);

/// Share of the bench under open pots [1], at most 1. Throws InputError when the pots do not fit.
double pot_cover(const Canopy& canopy);

/// Share of what falls on the bench that the leaves meet [1]: crown_cover (1 - exp(-k Omega L)), with L the
/// leaf area index inside crowns (Monsi and Saeki's law with clumping; Campbell and Norman 1998). The same
/// share of diffuse or overhead radiation is intercepted.
double leaf_interception(const Canopy& canopy);

/// Share of the volume at crop height that meets each target first [1]; the four sum to 1.
struct Interception {
  double leaf = 0, stem = 0, substrate = 0, bench = 0;
  double pot_below_crowns = 0;  ///< share of the ground below crowns that is open pot: where drip goes
};

/// First landing of a spray falling at `angle` [rad] from the vertical.
///
/// Leaves are met first. Vertical stems of lateral area A project A tan(angle) / pi on the ground and take
/// that, by the same exponential law, of what passes the leaves of their crown; every droplet of a
/// hydraulic nozzle is large enough to hit what stands in its way. Crowns stand over their pots: open pot
/// lies below crowns first and between them only if it is larger than they are, so young plants let
/// more through to the substrate.
Interception intercept(const Canopy& canopy, double angle);

}  // namespace wetspan
