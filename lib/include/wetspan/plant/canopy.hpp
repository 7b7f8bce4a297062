// Geometry of the canopy, and the shares of a spray that leaves and substrate intercept.
#pragma once

#include <cstddef>

#include "wetspan/parameters.hpp"

namespace wetspan {

/// Throws InputError for the first value outside the bounds of the table.
void check(const Canopy& canopy);

/// One-sided leaf area per area of bench [1]. Throws InputError for a density or area that is not finite or
/// below 0.
double leaf_area_index(const Canopy& canopy);

/// Lateral area of stems per area of bench [1]; throws as above.
double stem_area_index(const Canopy& canopy);

/// Share of the area of leaf layer `layer`, counted from the top, that is still growing [1]. The youngest
/// leaves are at the top of the crop: growing_share fills the layers, which have equal areas, from the top
/// down.
double growing_share(const Canopy& canopy, std::size_t layer);

/// Share of the bench that open pots occupy [1], at most 1. Throws InputError if the pots do not fit.
double pot_cover(const Canopy& canopy);

/// Share of vertically falling spray that leaves intercept [1]: crown_cover (1 - exp(-k Omega L)), with L the
/// leaf area index inside crowns (Monsi and Saeki's law with clumping; Campbell and Norman 1998). Leaves
/// intercept the same share of diffuse or overhead radiation. Throws InputError for a canopy that is not
/// allowed.
double leaf_interception(const Canopy& canopy);

/// Shares of the spray at the ground that reach the substrate [1].
struct Ground {
  double pot_below_crowns = 0;  ///< share of the ground below crowns that is open pot; also applies to drip
  double pot_between = 0;       ///< share of the ground between crowns that is open pot
  double stem_base = 1;         ///< share of the stem flow that reaches the substrate
};

/// The shares of the ground that are open pot. Each crown is centred over its pot. Open pot therefore lies
/// below the crown first, and between crowns only if the pot is larger than the crown, so that more of a
/// spray reaches the substrate of young plants. If pots are covered, no spray reaches the substrate. Throws
/// InputError for a canopy that is not allowed.
Ground ground_of(const Canopy& canopy);

}  // namespace wetspan
