// One spray, from nozzle to the height of the plant.
#pragma once

#include "wetspan/plant/response.hpp"
#include "wetspan/study/landing.hpp"
#include "wetspan/study/wet_span.hpp"

namespace wetspan {

/// Active ingredient by where it is when height is judged, as shares of what was applied [1]; sums to 1.
struct Account {
  double leaf_surface = 0, leaf = 0, stem_surface = 0, stem = 0;
  double substrate = 0, root = 0, lost = 0, bench = 0, airborne = 0;

  double sum() const {
    return leaf_surface + leaf + stem_surface + stem + substrate + root + lost + bench + airborne;
  }
};

/// What one spray comes to.
struct Outcome {
  Landing landing;            ///< where the spray came to rest
  WetSpan wet;                ///< the wet span of the spray; its history goes on through the second
  WetSpan rewet;              ///< the wet span of the re-wetting, if there is one
  BySite uptake;              ///< [kg per plant]
  BySite tips;                ///< the part that reaches the growing tips [kg per plant]
  Account account;            ///< of the active ingredient [1]
  double applied = 0;         ///< active ingredient per plant [kg]
  double growth_control = 0;  ///< 1 - height / height of the untreated check [1]
};

/// What a landed spray puts on the crop and into the air: the beginning of its wet span.
Load load_of(const Scenario& scenario, const Landing& landing);

/// Computes one spray at `start` [s, in the record's time] in the air of the record.
///
/// The active ingredient goes where the liquid goes; what evaporates in flight leaves its own behind. With
/// rewetting.volume_rate, a light overhead pass of plain water follows a spray after rewetting.delay: it
/// dissolves what it can of the residue, takes it along where it runs off, and starts a second wet span. On
/// a crop that is still wet the two are one: `wet` tells when it dried.
///
/// After the last span the dry residue goes on giving until residue_time, at the mean air temperature of the
/// record over that time.
///
/// Throws InputError for a scenario or record that is not allowed, IntegrationError when it cannot be
/// followed.
Outcome simulate(const Scenario& scenario, const CropAir& air, double start, bool keep_history = false);

/// The same in the unchanging air of the scenario.
Outcome simulate(const Scenario& scenario, bool keep_history = false);

}  // namespace wetspan
