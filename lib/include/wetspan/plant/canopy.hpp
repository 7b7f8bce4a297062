// Where the spray first lands: leaves, stems, substrate, bench.
#pragma once

#include "wetspan/parameters.hpp"

namespace wetspan {

/// Throws InputError on the first value out of the bounds of the table.
void check(const Canopy& canopy);

/// One-sided leaf area per area of bench [1].
double leaf_area_index(const Canopy& canopy);

/// Lateral area of stems per area of bench [1].
double stem_area_index(const Canopy& canopy);

/// Share of the bench under open pots [1], at most 1. Throws InputError when the pots do not fit.
double pot_cover(const Canopy& canopy);

/// Share of what falls on the bench that the leaves meet [1]: crown_cover (1 - exp(-k Omega L)), with L the
/// leaf area index inside crowns (Monsi and Saeki's law with clumping; Campbell and Norman 1998). The same
/// share of diffuse or overhead radiation is intercepted. Throws InputError for a canopy that is not allowed.
double leaf_interception(const Canopy& canopy);

/// Where a spray reaches the substrate; shares [1].
struct Ground {
  double pot_below_crowns = 0;  ///< of the ground below crowns that is open pot: where drip goes
  double pot_between = 0;       ///< of the ground between crowns that is open pot
  double stem_base = 1;         ///< of what runs down the stems
};

/// The ground as the spray meets it. Crowns stand over their pots: open pot lies below crowns first and
/// between them only if it is larger than they are, so young plants let more through to the substrate. On
/// covered pots nothing of a spray reaches the substrate. Throws InputError for a canopy that is not allowed.
Ground ground_of(const Canopy& canopy);

}  // namespace wetspan
