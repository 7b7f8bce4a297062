// Heat and vapour between a leaf and its air, on the basis of one-sided leaf area.
#pragma once

#include "wetspan/parameters.hpp"
#include "wetspan/plant/crop_air.hpp"

namespace wetspan {

/// Transfer between one side of a surface and the air.
struct Conductance {
  double heat = 0;    ///< [W/m2/K]
  double vapour = 0;  ///< [m/s], on vapour density
};

/// The boundary layers of a leaf's two sides.
struct BoundaryLayers {
  Conductance upper, lower;
};

/// Boundary layers of a flat leaf of `width` [m] at `surface` [K], whose surface holds the vapour pressure
/// `surface_vapour_pressure` [Pa].
///
/// Forced: Nu = 0.664 turbulence Re^(1/2) Pr^(1/3) over the length 0.72 width (laminar plate, Pohlhausen;
/// enhancement and length after Campbell and Norman 1998). Free: Nu = 0.54 Ra^(1/4) where the layer is
/// unstable (light air on the upper side or heavy air on the lower), 0.27 Ra^(1/4) where it is stable
/// (McAdams 1954), with the difference of virtual temperatures, so that moist air rises. Mixed: the 3.5th
/// root of the sum of their 3.5th powers (Monteith and Unsworth 2013). Vapour by the Lewis relation, Sh = Nu
/// (Sc/Pr)^(1/3). Laminar: Re < 2e5.
BoundaryLayers boundary_layers(double surface, double surface_vapour_pressure, const AirState& air,
                               double width, double turbulence, air::VapourDiffusivity diffusivity);

/// What leaves see of the world beyond other leaves [1, of one side]: a view of the cover from above, of
/// bench and substrate from below. The rest sees leaves like itself and exchanges nothing with them.
struct Views {
  double above = 0, below = 0;
};

/// Stomatal conductance [m/s] of the lower side: rises with absorbed light as S / (S + S_half).
double stomatal_conductance(double absorbed, const Leaf& leaf);

/// Temperature [K] of a dry leaf that absorbs `sun` [W per m2 of leaf], in balance with its air: radiation =
/// heat to the air + latent heat of transpiration, to 1e-6 K. In air slower than 1 mm/s there may be several
/// such temperatures; one of them.
///
/// Throws InputError when there is none within -30 to +40 K of the air.
double dry_leaf_temperature(const Leaf& leaf, double sun, const Views& views, const AirState& air,
                            air::VapourDiffusivity diffusivity);

}  // namespace wetspan
