// One crop, from the nozzle to the height of the plant.
#pragma once

#include <span>

#include "wetspan/plant/growth.hpp"
#include "wetspan/study/landing.hpp"
#include "wetspan/study/wet_span.hpp"

namespace wetspan {

/// Active ingredient by where it is when height is judged, as shares of what was applied [1]; sums to 1. What
/// entered through leaf, stem and root is counted there, wherever in the plant it went (Growth::plant).
struct Account {
  double leaf_surface = 0, leaf = 0, stem_surface = 0, stem = 0;
  double weathered = 0;  ///< lost from the surfaces of leaves and stems
  double substrate = 0, root = 0, lost = 0, bench = 0, airborne = 0;

  double sum() const {
    return leaf_surface + leaf + stem_surface + stem + weathered + substrate + root + lost + bench + airborne;
  }
};

/// What is applied to a crop comes to.
struct Outcome {
  Landing landing;     ///< where the first application came to rest
  WetSpan wet;         ///< its wet span; its history goes on through the second
  WetSpan rewet;       ///< the wet span of its re-wetting, if there is one
  Growth growth;       ///< heights, and what reached the tips, of all applications together
  Account account;     ///< of the active ingredient of all applications [1]
  double applied = 0;  ///< active ingredient per plant, of all applications [kg]
};

/// What a landed spray puts on the crop and into the air: the beginning of its wet span.
Load load_of(const Scenario& scenario, const Landing& landing);

/// Means of the air's temperature [K] over the days from `start` [s, in the record's time] that the record
/// covers wholly, up to `horizon` [s]: what `simulate` takes as the weeks.
std::vector<double> daily_temperatures(const CropAir& air, double start, double horizon);

/// Computes what is applied to a crop, whose growth starts at `start` [s, in the record's time], in the air
/// of the record: one application then, or those of the calendar.
///
/// The active ingredient goes where the liquid goes; what evaporates in flight leaves its own behind. With
/// rewetting.volume_rate, a light overhead pass of plain water follows a spray after rewetting.delay: it
/// dissolves what it can of the locked deposit, takes it along where it runs off, and starts a second wet
/// span. On a crop that is still wet the two are one: `wet` tells when it dried. What is wet at the end of
/// the record counts as dried then.
///
/// `weeks` are the mean temperatures [K] of the days from the start of growth; days beyond them have
/// crop.mean_temperature, whatever the air is when sprayed. With `course` it tells the heights over the
/// weeks.
///
/// `watch` is called now and then, and may throw to end the computation.
///
/// Throws InputError for a scenario or record that is not allowed, IntegrationError when it cannot be
/// followed.
Outcome simulate(const Scenario& scenario, const CropAir& air, double start, bool keep_history = false,
                 std::span<const double> weeks = {}, HeightCourse* course = nullptr,
                 const Watch& watch = nullptr);

/// The unchanging air of a scenario without a weather record, for as long as its applications are followed.
CropAir steady_air(const Scenario& scenario);

/// The same in the unchanging air of the scenario, its weeks at crop.mean_temperature.
Outcome simulate(const Scenario& scenario, bool keep_history = false, HeightCourse* course = nullptr);

}  // namespace wetspan
