// Heat and vapour transfer between a leaf and its air, per one-sided leaf area.
#pragma once

#include "wetspan/parameters.hpp"
#include "wetspan/plant/crop_air.hpp"

namespace wetspan {

/// View factors of a leaf for surfaces other than leaves [1, of one side]: for the cover from the upper side,
/// for bench and substrate from the lower side. The rest of the view is of leaves at the same temperature,
/// with which there is no net radiative exchange.
struct Views {
  double above = 0, below = 0;
};

/// Temperature [K] of a dry leaf that absorbs `sun` [W per m2 of leaf], to 1e-6 K, from its energy balance:
/// net radiation = sensible heat + latent heat of transpiration, through its boundary layers and stomata
/// (docs/science/wet_leaf.md). In air slower than 1 mm/s the balance can
/// have several solutions; one of them is returned.
///
/// Throws InputError for air or radiation that is not allowed, and if there is no solution from 30 K below to
/// 40 K above the air temperature.
double dry_leaf_temperature(const Leaf& leaf, double sun, const Views& views, const AirState& air,
                            air::VapourDiffusivity diffusivity);

}  // namespace wetspan
