// Heat and vapour between a leaf and its air, on the basis of one-sided leaf area.
#pragma once

#include "wetspan/parameters.hpp"
#include "wetspan/plant/canopy.hpp"
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

/// Shortwave absorbed per one-sided leaf area [W/m2], mean over the canopy: what the leaves of a m2 of bench
/// intercept, shared among their area.
double absorbed_shortwave(double shortwave, const Leaf& leaf, const Canopy& canopy);

/// Share of a mean leaf's side that sees past the other leaves [1]: its upper side to the cover, its lower
/// side to bench and substrate. The rest sees leaves like itself and exchanges nothing with them.
double outward_view(const Canopy& canopy);

/// Net longwave gain per one-sided leaf area [W/m2]: the upper side's view at the radiant temperature, the
/// lower side's at air temperature (bench and substrate).
double longwave(double leaf_temperature, const AirState& air, double view, double emissivity);

/// Stomatal conductance [m/s] of the lower side: rises with absorbed light as S / (S + S_half).
double stomatal_conductance(double absorbed, const Leaf& leaf);

/// Temperature [K] of a dry leaf in balance with its air: radiation = heat to the air + latent heat of
/// transpiration, to 1e-6 K.
double dry_leaf_temperature(const Leaf& leaf, const Canopy& canopy, const AirState& air,
                            air::VapourDiffusivity diffusivity);

/// Evaporation [kg/m2/s] from a wet surface that takes its heat from the air alone (a stem, a bench):
/// E = g (rho_sat(T_a) - rho_a) h / (h + lambda g d rho_sat/dT), the linearised wet-bulb balance.
double adiabatic_evaporation(const AirState& air, Conductance layer);

}  // namespace wetspan
