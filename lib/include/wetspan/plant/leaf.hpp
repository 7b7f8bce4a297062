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

/// Boundary layer of a cylinder of `diameter` [m] across the air flow (a stem), as warm as its air:
///
///     Nu = 0.3 + 0.62 Re^(1/2) Pr^(1/3) (1 + (0.4/Pr)^(2/3))^(-1/4) (1 + (Re/282000)^(5/8))^(4/5)
///
/// (Churchill and Bernstein 1977, J. Heat Transfer 99:300-306); vapour by the Lewis relation. Re Pr > 0.2;
/// the 0.3 stands for still air.
Conductance cylinder_layer(const AirState& air, double diameter, air::VapourDiffusivity diffusivity);

/// What leaves see of the world beyond other leaves [1, of one side]: a view of the cover from above, of
/// bench and substrate from below. The rest sees leaves like itself and exchanges nothing with them.
struct Views {
  double above = 0, below = 0;
};

/// Net longwave gain per one-sided leaf area [W/m2]: the view above at the radiant temperature, the view
/// below at air temperature.
double longwave(double leaf_temperature, const AirState& air, const Views& views, double emissivity);

/// Stomatal conductance [m/s] of the lower side: rises with absorbed light as S / (S + S_half).
double stomatal_conductance(double absorbed, const Leaf& leaf);

/// Temperature [K] of a dry leaf that absorbs `sun` [W per m2 of leaf], in balance with its air: radiation =
/// heat to the air + latent heat of transpiration, to 1e-6 K. In air slower than 1 mm/s there may be several
/// such temperatures; one of them.
///
/// Throws InputError when there is none within -30 to +40 K of the air.
double dry_leaf_temperature(const Leaf& leaf, double sun, const Views& views, const AirState& air,
                            air::VapourDiffusivity diffusivity);

/// Evaporation [kg/m2/s] from a film that takes its heat from the air and from `absorbed` radiation [W/m2] (a
/// stem, a bench): Penman's balance, linear about the air's temperature (Penman 1948, Proc. R. Soc. A
/// 193:120-145; from memory),
///
///     E = g ((rho_sat(T_a) - rho_a) h + d rho_sat/dT absorbed) / (h + lambda g d rho_sat/dT)
double film_evaporation(const AirState& air, Conductance layer, double absorbed = 0.0);

}  // namespace wetspan
