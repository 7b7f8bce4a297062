// The other way round: how much to apply for a wanted height, and what one way of applying equals another.
//
// Estimates for study: they rest on a crop that was calibrated to a few facts of the trade, not validated.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "wetspan/study/batch.hpp"

namespace wetspan {

/// The concentration that gives a wanted height.
struct RateForHeight {
  enum class Reach {
    found,
    none_needed,  ///< the untreated check is no taller than wanted
    too_late,     ///< growth to come is too little, however much is applied
    failed        ///< could not be computed; `reason` says why
  };
  Reach reach = Reach::failed;
  double concentration = 0;  ///< application.concentration [kg/m3]; NaN unless found, 0 if none is needed
  double height = 0;         ///< that it gives [m]
  double least_height = 0;   ///< that the most allowed gives [m]
  std::string reason;        ///< empty unless failed
};
std::string_view name_of(RateForHeight::Reach reach);  ///< as text

/// Seeks the concentration that gives each job's plants the height `wanted` [m] when height is judged; the
/// concentrations of a calendar's applications are raised and lowered together, in their proportion. Sought
/// up to the largest that parameters.hpp allows, to 1e-7 of it on a log scale. Growth control rises with the
/// concentration. Throws InputError for a height that is not above 0.
std::vector<RateForHeight> rates_for_height(std::span<const Job> jobs, double wanted,
                                            const BatchOptions& options = {});

/// The same substance as a drench of `volume` [m3] for each plant: the scenario with that method and volume
/// and, as long as it is not sought, its own concentration; without a calendar.
Scenario as_drench(const Scenario& scenario, double volume);

/// A spray as a drench.
struct AsDrench {
  double same_amount = 0;      ///< concentration that puts into the pot what the spray put there [kg/m3]
  RateForHeight same_control;  ///< that gives the same height
};
/// What the spray of a job equals as a drench of `volume` [m3] for each plant. Throws InputError for a volume
/// not above 0 and a scenario that is not one spray, and what simulate() throws.
AsDrench spray_as_drench(const Job& job, double volume);

/// The spray that equals a drench: the concentration that gives `spray`, in its own conditions, the height
/// that `drench` gives in those of the job. Throws as simulate() does.
RateForHeight drench_as_spray(const Job& drench, const Scenario& spray);

}  // namespace wetspan
