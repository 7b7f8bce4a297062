#include "wetspan/plant/canopy.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <sstream>

#include "../require.hpp"
#include "wetspan/errors.hpp"

namespace wetspan {

using std::numbers::pi;

void check(const Canopy& canopy) {
#define WETSPAN_CHECK_ROW(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  require("canopy." #name, static_cast<double>(canopy.name), low, high, unit);
  WETSPAN_CANOPY(WETSPAN_CHECK_ROW)
#undef WETSPAN_CHECK_ROW
}

double leaf_area_index(const Canopy& canopy) {
  return require_amount("canopy.plant_density", canopy.plant_density) *
         require_amount("canopy.leaf_area", canopy.leaf_area);
}

double stem_area_index(const Canopy& canopy) {
  return require_amount("canopy.plant_density", canopy.plant_density) *
         require_amount("canopy.stem_area", canopy.stem_area);
}

double growing_share(const Canopy& canopy, std::size_t layer) {
  require("canopy.growing_share", canopy.growing_share, 0.0, 1.0, "");
  return std::clamp(canopy.growing_share * canopy.layers - static_cast<double>(layer), 0.0, 1.0);
}

double pot_cover(const Canopy& canopy) {
  require_amount("canopy.plant_density", canopy.plant_density);
  require_amount("canopy.pot_diameter", canopy.pot_diameter);
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
  check(canopy);
  const double inside = leaf_area_index(canopy) / canopy.crown_cover;
  return -canopy.crown_cover * std::expm1(-canopy.extinction * canopy.clumping * inside);
}

Ground ground_of(const Canopy& canopy) {
  check(canopy);
  const double crowns = canopy.crown_cover, pots = pot_cover(canopy);
  if (canopy.pots_covered) return {.stem_base = 0.0};
  return {.pot_below_crowns = std::min(1.0, pots / crowns),
          .pot_between = crowns < 1.0 ? std::max(0.0, pots - crowns) / (1.0 - crowns) : 0.0};
}

}  // namespace wetspan
