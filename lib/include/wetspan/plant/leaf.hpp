// Heat and vapour transfer between a leaf and its air, per one-sided leaf area.
#pragma once

#include "wetspan/parameters.hpp"
#include "wetspan/plant/crop_air.hpp"

namespace wetspan {

/// Boundary-layer conductance between one side of a surface and the air.
struct Conductance {
  double heat = 0;    ///< [W/m2/K]
  double vapour = 0;  ///< [m/s], for differences of vapour density
};

/// The boundary layers on the two sides of a leaf.
struct BoundaryLayers {
  Conductance upper, lower;
};

/// Boundary layers of a flat leaf of `width` [m] at temperature `surface` [K], with the vapour pressure
/// `surface_vapour_pressure` [Pa] at its surface.
///
/// - Forced convection: Nu = 0.664 turbulence Re^(1/2) Pr^(1/3) over the length 0.72 width (laminar plate,
///   Pohlhausen; enhancement and length after Campbell and Norman 1998).
/// - Free convection: Nu = 0.54 Ra^(1/4) where the layer is unstable (light air above the leaf or heavy air
///   below it), 0.27 Ra^(1/4) where it is stable (McAdams 1954). Ra uses the difference of virtual
///   temperatures, which includes the buoyancy of vapour.
/// - Mixed convection: the 3.5th root of the sum of the 3.5th powers (Monteith and Unsworth 2013).
/// - Vapour: the Lewis relation, Sh = Nu (Sc/Pr)^(1/3).
///
/// Valid for laminar flow, Re < 2e5.
BoundaryLayers boundary_layers(double surface, double surface_vapour_pressure, const AirState& air,
                               double width, double turbulence, air::VapourDiffusivity diffusivity);

/// View factors of a leaf for surfaces other than leaves [1, of one side]: for the cover from the upper side,
/// for bench and substrate from the lower side. The rest of the view is of leaves at the same temperature,
/// with which there is no net radiative exchange.
struct Views {
  double above = 0, below = 0;
};

/// Stomatal conductance [m/s] of the lower side, proportional to S / (S + S_half) with S the absorbed light.
double stomatal_conductance(double absorbed, const Leaf& leaf);

/// Temperature [K] of a dry leaf that absorbs `sun` [W per m2 of leaf], to 1e-6 K, from its energy balance:
/// net radiation = sensible heat + latent heat of transpiration. In air slower than 1 mm/s the balance can
/// have several solutions; one of them is returned.
///
/// Throws InputError if there is no solution from 30 K below to 40 K above the air temperature.
double dry_leaf_temperature(const Leaf& leaf, double sun, const Views& views, const AirState& air,
                            air::VapourDiffusivity diffusivity);

}  // namespace wetspan
