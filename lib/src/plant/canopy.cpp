#include "wetspan/plant/canopy.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <sstream>

#include "wetspan/errors.hpp"

namespace wetspan {

using std::numbers::pi;

double leaf_area_index(const Canopy& canopy) { return canopy.plant_density * canopy.leaf_area; }

double stem_area_index(const Canopy& canopy) { return canopy.plant_density * canopy.stem_area; }

double pot_cover(const Canopy& canopy) {
  const double cover = canopy.plant_density * pi / 4.0 * canopy.pot_diameter * canopy.pot_diameter;
  if (cover > 1.0) {
    std::ostringstream message;
    message << canopy.plant_density << " pots per m2 of " << canopy.pot_diameter << " m across cover "
            << cover << " of the bench: lower canopy.plant_density or canopy.pot_diameter";
    throw InputError(message.str());
  }
  return cover;
}

double leaf_interception(const Canopy& canopy) {
  const double inside = leaf_area_index(canopy) / canopy.crown_cover;
  return -canopy.crown_cover * std::expm1(-canopy.extinction * canopy.clumping * inside);
}

Interception intercept(const Canopy& canopy, double angle) {
  const double crowns = canopy.crown_cover, pots = pot_cover(canopy);
  const double pot_below_crowns = std::min(1.0, pots / crowns);
  const double pot_between = crowns < 1.0 ? std::max(0.0, pots - crowns) / (1.0 - crowns) : 0.0;

  Interception landed;
  landed.leaf = leaf_interception(canopy);
  const double past_leaves = crowns - landed.leaf;
  landed.stem = -past_leaves * std::expm1(-stem_area_index(canopy) / crowns * std::tan(angle) / pi);
  const double below = past_leaves - landed.stem, between = 1.0 - crowns;
  landed.substrate = below * pot_below_crowns + between * pot_between;
  landed.bench = below * (1.0 - pot_below_crowns) + between * (1.0 - pot_between);
  landed.pot_below_crowns = pot_below_crowns;
  return landed;
}

}  // namespace wetspan
