#include "wetspan/plant/retention.hpp"

#include <cmath>

namespace wetspan {

double retained(double landed, double store) {
  return store > 0.0 ? -store * std::expm1(-landed / store) : 0.0;
}

Split split(const Application& application, const Canopy& canopy, const Retention& retention,
            double evaporated, double airborne) {
  if (application.method == Method::drench) return {.substrate = 1.0};

  const Interception landed = intercept(canopy, application.angle);
  const double delivered = 1.0 - evaporated - airborne;
  const double volume = application.volume_rate * delivered;

  const double on_leaf = landed.leaf * volume, on_stem = landed.stem * volume;
  const double leaves = leaf_area_index(canopy), stems = stem_area_index(canopy);

  const double leaf = leaves * retained(on_leaf / leaves, retention.leaf_store);
  const double run_off = on_leaf - leaf;
  const double down_stems = stems > 0.0 ? retention.stemflow * run_off : 0.0;
  const double stem =
      stems > 0.0 ? stems * retained((on_stem + down_stems) / stems, retention.stem_store) : 0.0;
  const double stem_base = on_stem + down_stems - stem;
  const double drip = run_off - down_stems;

  const double whole = application.volume_rate;
  return {.leaf = leaf / whole,
          .stem = stem / whole,
          .substrate = (landed.substrate * volume + stem_base + drip * landed.pot_below_crowns) / whole,
          .bench = (landed.bench * volume + drip * (1.0 - landed.pot_below_crowns)) / whole,
          .airborne = airborne,
          .evaporated = evaporated};
}

}  // namespace wetspan
