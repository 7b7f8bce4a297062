// Inverse problems: the concentration that gives a wanted height, the equivalent dose of another method of
// application, and the sensitivity of a crop to which a drench of known effect points.
//
// The results are estimates for study. The crop model was calibrated to a few facts of the trade; it is not
// validated.
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
    too_late,     ///< too little growth remains for any concentration to give the height
    failed        ///< could not be computed; `reason` states why
  };
  Reach reach = Reach::failed;
  double concentration = 0;  ///< application.concentration [kg/m3]; NaN unless found, 0 if none is needed
  double height = 0;         ///< height at this concentration [m]
  double least_height = 0;   ///< height at the largest allowed concentration [m]
  std::string reason;        ///< empty unless failed
};
std::string_view name_of(RateForHeight::Reach reach);  ///< as text

/// Finds the concentration at which each job's plants have their wanted height [m] when height is judged. The
/// concentrations of a calendar's applications are scaled by a common factor. The search covers
/// concentrations up to the largest that parameters.hpp allows, to a relative precision of 1e-7, and assumes
/// that growth control rises with concentration. What cannot be computed has a reason instead.
/// @param wanted heights, one for each job, above 0
/// @throws InputError for other heights, and for a job without a scenario or an air
std::vector<RateForHeight> rates_for_height(std::span<const Job> jobs, std::span<const double> wanted,
                                            const BatchOptions& options = {});
/// The same with one wanted height for all jobs.
std::vector<RateForHeight> rates_for_height(std::span<const Job> jobs, double wanted,
                                            const BatchOptions& options = {});

/// The scenario as a drench of `volume` [m3] for each plant. The concentration is kept; a calendar is
/// removed.
Scenario as_drench(const Scenario& scenario, double volume);

/// The equivalent of an application by another method.
struct Equivalent {
  double control = 0;      ///< growth control of the given application [1]
  double same_amount = 0;  ///< concentration that applies the same amount per pot [kg/m3]; NaN for a spray
  RateForHeight same_control;  ///< the concentration that gives the same height
};
/// The equivalent of each job's spray as a drench of `volume` [m3] for each plant, in the same air and weeks.
/// @throws InputError unless the volume is above 0 and each scenario is a single spray
std::vector<Equivalent> sprays_as_drenches(std::span<const Job> jobs, double volume,
                                           const BatchOptions& options = {});

/// The equivalent of each job's drench as a spray. `sprays` holds one scenario for each job that describes
/// the spray; its concentration is computed.
/// @throws InputError for scenarios that are not sprays
std::vector<Equivalent> drenches_as_sprays(std::span<const Job> jobs, std::span<const Scenario* const> sprays,
                                           const BatchOptions& options = {});

/// Calibrates crop.half_amount [kg per plant] to an application of known effect: the value with which
/// `volume` [m3 per plant] of a liquid of `concentration` [kg/m3], applied to the pot by the scenario's
/// method at the start of growth, gives the growth control `control` [1]. All days have
/// crop.mean_temperature. It is NaN where no value within the bounds of parameters.hpp gives this control.
/// @throws InputError for a scenario, volume (0 .. 1 m3), concentration or control (0 .. 1) that is not
///         allowed
double half_amount_for(const Scenario& scenario, double volume, double concentration, double control);

}  // namespace wetspan
