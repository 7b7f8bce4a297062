// Simulates one crop, from the nozzle to the height of the plant.
#pragma once

#include <span>

#include "wetspan/plant/growth.hpp"
#include "wetspan/study/landing.hpp"
#include "wetspan/study/wet_span.hpp"

namespace wetspan {

/// Mass balance of the active ingredient at the time height is judged: shares of the applied amount [1],
/// which sum to 1. Active ingredient in the plant is counted under the site where it entered (leaf, stem,
/// root); Growth::plant states where in the plant it is.
struct Account {
  double leaf_surface = 0, leaf = 0, stem_surface = 0, stem = 0;
  double weathered = 0;  ///< lost from the surfaces of leaves and stems
  double substrate = 0, root = 0, lost = 0, bench = 0, airborne = 0;

  double sum() const {
    return leaf_surface + leaf + stem_surface + stem + weathered + substrate + root + lost + bench + airborne;
  }
};

/// Result of a simulation.
struct Outcome {
  Landing landing;     ///< where the first application came to rest
  WetSpan wet;         ///< wet span of the first application; its history includes the re-wetting
  WetSpan rewet;       ///< wet span of the re-wetting of the first application, if there is one
  Growth growth;       ///< heights, and what reached the tips, of all applications together
  Account account;     ///< mass balance of the active ingredient of all applications [1]
  double applied = 0;  ///< active ingredient per plant, of all applications [kg]
};

/// The initial state of the wet span that follows a landing: the load of crop and air.
Load load_of(const Scenario& scenario, const Landing& landing);

/// Daily means of air temperature [K] from `start` [s, in the record's time], for the days that the record
/// covers completely, up to `horizon` [s]. `simulate` takes them as `weeks`.
std::vector<double> daily_temperatures(const CropAir& air, double start, double horizon);

/// Mean air temperature [K] between each of `edges` [s, in the record's time, in their order] and the next.
/// It is NaN where the record covers less than half of that time; otherwise it is the mean over the part that
/// is covered. With the midnights of a calendar these are daily means that do not depend on the spray.
/// @throws InputError for a record that is not allowed, and for edges that do not increase
std::vector<double> mean_temperatures(const CropAir& air, std::span<const double> edges);

/// Simulates a crop in the air of a record. Growth starts at `start` [s, in the record's time]. There is one
/// application at that time, or there are those of the calendar.
///
/// The active ingredient is distributed like the liquid; water that evaporates in flight leaves its active
/// ingredient in the remaining liquid. If rewetting.volume_rate is above 0, a light overhead pass of plain
/// water follows a spray after rewetting.delay. It dissolves locked deposit up to the solubility, carries
/// active ingredient away with the run-off, and starts a second wet span. If the crop is still wet at that
/// time there is a single wet span, and `wet` states when it ended. Liquid that is left at the end of the
/// record is treated as if it dried at that time.
///
/// `weeks` are the mean temperatures [K] of the days from the start of growth. Days beyond them have
/// crop.mean_temperature, whatever the air temperature at spraying. If `course` is given, it receives the
/// heights over time.
///
/// `watch` is called every few milliseconds and may throw to end the computation.
///
/// Throws InputError for a scenario or record that is not allowed, IntegrationError when the integration
/// fails.
Outcome simulate(const Scenario& scenario, const CropAir& air, double start, bool keep_history = false,
                 std::span<const double> weeks = {}, HeightCourse* course = nullptr,
                 const Watch& watch = nullptr);

/// The constant air of a scenario without a weather record, long enough for all its applications.
CropAir steady_air(const Scenario& scenario);

/// The same in the constant air of the scenario, with crop.mean_temperature in the weeks after.
Outcome simulate(const Scenario& scenario, bool keep_history = false, HeightCourse* course = nullptr);

}  // namespace wetspan
