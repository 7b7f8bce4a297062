// The gain of a re-wetting: a light pass of plain water, hours after a spray.
#pragma once

#include <span>

#include "wetspan/plant/crop_air.hpp"
#include "wetspan/study/batch.hpp"
#include "wetspan/study/scenario.hpp"

namespace wetspan {

/// Water of the re-wetting of a scenario [m]; of a calendar, the largest of its applications. It is 0 if
/// nothing is wetted again.
double rewetting_water(const Scenario& scenario);

/// The scenario without a re-wetting, at any of its applications.
Scenario without_rewetting(const Scenario& scenario);

/// The gain of a re-wetting in growth control.
struct RewettingGain {
  /// Growth control with and without the re-wetting [1].
  struct Control {
    double with = 0, without = 0;
    /// Increase by the re-wetting, as a share of `without` [1]; NaN if that is 0.
    double gain() const;
  };
  Control nominal;         ///< with the inputs as given
  Control locked, mobile;  ///< the same at both ends of what the dried residue may do (residue_ends)
  double wet_time = 0;     ///< from the re-wetting to dry leaves [s]; infinite if they do not dry
};

/// Computes a scenario with and without its re-wetting in the same air, also at both ends of the residue.
/// @param start of growth [s], in the record's time
/// @param weeks as for `simulate`: daily mean temperatures from the start of growth [K]
/// @throws InputError for a scenario without a re-wetting, and for a scenario, record or time that is not
///         allowed; IntegrationError as `simulate`
RewettingGain rewetting_gain(const Scenario& scenario, const CropAir& air, double start,
                             std::span<const double> weeks = {}, const BatchOptions& options = {});

/// The mobile share of the dried residue [1] at which a spray without a re-wetting has about the growth
/// control of the same spray with one.
///
/// The re-wetting is the usual light one: 0.5 US qt of water per 100 ft2 on the following morning. It takes
/// back the share phi of the locked deposit. A part of that, omega, enters the leaf while it is wet, and the
/// mobile share m of the rest enters afterwards:
///
///   m + (1 - m) phi (omega + (1 - omega) m)
///
/// phi and omega were fitted (grade C) to full computations of the default crop and are scaled with
/// active.solubility and uptake.cuticle. The gain then agrees with the full computation within a tenth for
/// mobile shares of 2 to 70 %, and within a fifth where growing blades are as permeable as mature ones or
/// four times as permeable. It costs a hundredth of the full computation, which matters for many draws.
/// @throws InputError for a scenario that is not allowed
double mobile_share_if_rewetted(const Scenario& scenario);

}  // namespace wetspan
