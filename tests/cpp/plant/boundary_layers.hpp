// The boundary layers of a leaf as the reference path computes them: one lane, exact properties.
#pragma once

#include "../../../lib/src/plant/leaf_equations.hpp"
#include "../../../lib/src/properties/exact_air.hpp"

namespace wetspan {

inline FreeAir<double> free_air_of(const ExactAir& of, const AirState& air) {
  return free_air<Lanes<1>>(of, air.temperature, air::vapour_density(air.vapour_pressure, air.temperature),
                            air.vapour_pressure, air.pressure, 1.0 / air.pressure, air.speed,
                            air.radiant_temperature);
}

/// Boundary-layer conductance between one side of a leaf and the air.
struct Conductance {
  double heat = 0;    // [W/m2/K]
  double vapour = 0;  // [m/s], for differences of vapour density
};
struct BoundaryLayers {
  Conductance upper, lower;
};

/// Boundary layers of a leaf of `width` [m] at temperature `surface` [K], with the vapour pressure
/// `surface_vapour_pressure` [Pa] at its surface.
inline BoundaryLayers boundary_layers(double surface, double surface_vapour_pressure, const AirState& air,
                                      double width, double turbulence, air::VapourDiffusivity diffusivity) {
  const ExactAir of{diffusivity};
  Leaf leaf;
  leaf.width = width, leaf.turbulence = turbulence;
  const LeafSurface<double> its =
      leaf_surface<Lanes<1>>(of, leaf_terms(leaf, 1.0, {}, 1.0), surface, air::saturation_pressure(surface),
                             surface_vapour_pressure, free_air_of(of, air));
  return {.upper = {.heat = its.upper_heat, .vapour = its.through[0]},
          .lower = {.heat = its.heat - its.upper_heat, .vapour = its.through[1]}};
}

}  // namespace wetspan
