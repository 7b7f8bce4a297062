// The two ends of the plausible range of the mobile share of a dried residue. This share determines how much
// wet time and a re-wetting matter.
#pragma once

#include <span>

#include "wetspan/plant/crop_air.hpp"
#include "wetspan/study/batch.hpp"
#include "wetspan/study/scenario.hpp"

namespace wetspan {

/// A scenario with the least and with the largest plausible mobile share.
struct ResidueEnds {
  Scenario locked;  ///< the least of the residue stays mobile: uptake stops with the water
  Scenario mobile;  ///< the most of it stays mobile: uptake goes on for days from the dry deposit
};

/// The scenario with the least and with the largest plausible share of the residue that stays mobile.
/// Published shares differ 30-fold, all of other substances (docs/science/uptake.md), so whatever compares
/// wet times should be computed at both ends.
///
/// uptake.mobile_share is divided and multiplied by its spread, within its bounds. crop.leaf_tip_share moves
/// the other way, so that their product is unchanged, because the calibration to a spray determines only
/// their product (docs/science/growth.md). The mobile share also applies to stems, where nothing offsets it,
/// so the growth controls of the two ends differ. Compare one time with another at the same end. A share of 0
/// is kept, and both ends are then the scenario itself.
/// @throws InputError for a scenario that is not allowed
ResidueEnds residue_ends(const Scenario& scenario);

/// The share of growth control that is owed to the wet time [1], at both ends of the residue. It is what
/// would be missing if the same deposit had dried at once, which is computed with uptake.cuticle, the
/// permeance from the liquid, at its lower bound. NaN if there is no growth control.
struct OwedToWetTime {
  double locked = 0, mobile = 0;
};
/// Computes this share for a scenario in the air of a record.
/// @param start of growth [s], in the record's time
/// @param weeks as for `simulate`: daily mean temperatures from the start of growth [K]
/// @throws InputError for a scenario, record or time that is not allowed; IntegrationError as `simulate`
OwedToWetTime owed_to_wet_time(const Scenario& scenario, const CropAir& air, double start,
                               std::span<const double> weeks = {}, const BatchOptions& options = {});

}  // namespace wetspan
