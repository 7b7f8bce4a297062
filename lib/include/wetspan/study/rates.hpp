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

/// Seeks the concentration that gives each job's plants their wanted height [m] when height is judged; the
/// concentrations of a calendar's applications are raised and lowered together, in their proportion. Sought
/// up to the largest that parameters.hpp allows, to 1e-7 of it on a log scale. Growth control rises with the
/// concentration.
/// @param wanted one for each job, above 0; throws InputError for others
std::vector<RateForHeight> rates_for_height(std::span<const Job> jobs, std::span<const double> wanted,
                                            const BatchOptions& options = {});
/// The same with one height for all.
std::vector<RateForHeight> rates_for_height(std::span<const Job> jobs, double wanted,
                                            const BatchOptions& options = {});

/// The same substance as a drench of `volume` [m3] for each plant: the scenario with that method and volume
/// and, as long as it is not sought, its own concentration; without a calendar.
Scenario as_drench(const Scenario& scenario, double volume);

/// What an application equals as another way of applying.
struct Equivalent {
  double control = 0;          ///< growth control that it gives [1]
  double same_amount = 0;      ///< concentration that puts as much into the pot [kg/m3]; NaN for a spray
  RateForHeight same_control;  ///< the concentration that gives the same height; `failed` says why
};
/// What the spray of each job equals as a drench of `volume` [m3] for each plant, in the same air and weeks.
/// Throws InputError for a volume not above 0 and for a scenario that is not one spray.
std::vector<Equivalent> sprays_as_drenches(std::span<const Job> jobs, double volume,
                                           const BatchOptions& options = {});

/// What the drench of each job equals as a spray: `sprays` say how it would be sprayed, one for each job, and
/// their concentration is sought. Throws InputError where these are no sprays.
std::vector<Equivalent> drenches_as_sprays(std::span<const Job> jobs, std::span<const Scenario* const> sprays,
                                           const BatchOptions& options = {});

}  // namespace wetspan
