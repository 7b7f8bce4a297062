// Properties of air in a boundary layer that determine transfer; symbols as in exact_air.hpp.
#pragma once

namespace wetspan {

/// Combinations of properties for transfer through a boundary layer. Those that are proportional to a power
/// of P are given at P = 1 Pa.
template <class R>
struct FilmProperties {
  R forced;  // forced convection: k Pr^(1/3) / nu^(1/2), nu the kinematic viscosity; proportional to P^(1/2)
  R free;    // free convection: k / (nu alpha T)^(1/4), alpha the thermal diffusivity; also to P^(1/2)
  R vapour_over_heat;  // ratio of conductances, D (Sc/Pr)^(1/3) / k; proportional to 1/P
  R diffusivity;       // D; proportional to 1/P
  R conductivity;      // k
  R prandtl;           // mu c / k
  R fluidity;          // 1 / (R T mu); the reciprocal of the kinematic viscosity is fluidity P w
};

}  // namespace wetspan
