// Both ends of what a dried residue may do, which decides what wet time and a re-wetting are worth.
#pragma once

#include "wetspan/study/scenario.hpp"

namespace wetspan {

/// A scenario at both ends of what its dried residue may do.
struct ResidueEnds {
  Scenario locked;  ///< the least of the residue stays mobile: uptake stops with the water
  Scenario mobile;  ///< the most of it stays mobile: uptake goes on for days from the dry deposit
};

/// The scenario with the least and with the largest plausible share of the residue that stays mobile.
/// Published shares differ 30-fold, all of other substances (docs/science/uptake.md), so whatever compares
/// wet times should be computed at both ends.
///
/// uptake.mobile_share is divided and multiplied by its spread, within its bounds. crop.leaf_tip_share moves
/// the other way, so that their product stays: it is the product that the calibration to a spray knows
/// (docs/science/growth.md). Stems share the mobile share and have nothing to offset it, so the growth
/// controls of the two ends differ; compare one time with another at the same end. A share of 0 is taken as
/// stated, and both ends are then the scenario itself.
/// @throws InputError for a scenario that is not allowed
ResidueEnds residue_ends(const Scenario& scenario);

}  // namespace wetspan
