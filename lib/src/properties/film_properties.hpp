// What transfer through a boundary layer depends on; symbols in exact_air.hpp.
#pragma once

namespace wetspan {

/// The properties of a boundary layer that transfer depends on; those that go as a power of P at P = 1 Pa.
template <class R>
struct FilmProperties {
  R forced;  // k Pr^(1/3) / nu^(1/2), nu the kinematic viscosity: of forced convection; goes as P^(1/2)
  R free;    // k / (nu alpha T)^(1/4), alpha the thermal diffusivity: of free convection; as P^(1/2)
  R vapour_over_heat;  // D (Sc/Pr)^(1/3) / k, the Lewis relation: vapour's conductance over heat's; as 1/P
  R diffusivity;       // D; as 1/P
  R conductivity;      // k
  R prandtl;           // mu c / k
  R fluidity;          // 1 / (R T mu): one over the kinematic viscosity is this times P w
};

}  // namespace wetspan
