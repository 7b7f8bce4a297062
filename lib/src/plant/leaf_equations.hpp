// Heat and vapour transfer between leaves, stems and their air. The reference path and the clock path of a
// wet crop both use these equations.
//
// A leaf exchanges heat and vapour with the air through the boundary layers of its two sides, absorbs
// shortwave radiation, exchanges longwave radiation, and loses the latent heat of evaporation:
//
//   C dT/dt = sun + longwave - h (T - T_a) - lambda E
//
// The conductances h of a side follow from Nusselt numbers (`leaf_surface` gives the correlations and their
// sources). A conductance is a product of powers of the air's properties, pressure and speed, and of the
// leaf's length. The properties come from an `Air` (properties/exact_air.hpp for the reference path,
// properties/fitted_air.hpp in vector lanes). LeafTerms holds the factors that depend on the leaf, and
// FreeAir those that depend on the air. Several quotients share one division, because divisions are slow in
// vector lanes. docs/science/wet_leaf.md derives the equations; docs/science/clocks.md explains their use in
// lanes.
//
//   T    temperature [K]             e       vapour pressure [Pa]       P    pressure [Pa]
//   r    e / P [1]                   rho     vapour density [kg/m3]     h    conductance for heat [W/m2/K]
//   g    vapour conductance [m/s]    lambda  latent heat [J/kg]         E    evaporation [kg/m2/s]
//
// `L` denotes the lanes (lanes.hpp) and R their numbers.
#pragma once

#include "../root.hpp"
#include "wetspan/plant/leaf.hpp"
#include "wetspan/properties/constants.hpp"

namespace wetspan {

/// Factors of a leaf in its boundary layers and its radiation. `Number` is double or vector lanes.
template <class Number>
struct LeafTerms {
  Number forced;        // 0.664 turbulence (air speed over that above the crop / length)^(1/2) [m^(-1/2)]
  Number buoyancy;      // 0.54 (gravity / length)^(1/4) [s^(-1/2)]
  Number sun;           // absorbed, over the shortwave above the crop [1]
  Number above, below;  // emissivity x Stefan-Boltzmann constant x view [W/m2/K4]
};
/// Stomata of the lower side of a leaf: conductance = open sun / (sun + half_light), sun the absorbed light.
template <class Number>
struct StomataTerms {
  Number open;        // [m/s]
  Number half_light;  // [W/m2]
};
/// A cylinder across the air flow.
template <class Number>
struct CylinderTerms {
  // d = diameter x air speed over that above the crop [m]
  Number root_diameter;  // d^(1/2) [m^(1/2)]
  Number turbulence;     // d^(5/8) [m^(5/8)]
  Number by_diameter;    // 1 / diameter [1/m]
};

/// Light that a stem intercepts per lateral area, over the light that a leaf beside it intercepts per
/// one-sided area. The mean projection of a convex surface over all directions is a quarter of its area; the
/// area of a leaf counts both sides (Cauchy; grade D for upright stems).
constexpr double light_of_stems = 0.5;

/// `light` [1] is the light that the leaf intercepts, and `air_speed` [1] the air speed, both relative to the
/// values above the crop.
LeafTerms<double> leaf_terms(const Leaf& leaf, double light, const Views& views, double air_speed);
StomataTerms<double> stomata_terms(const Leaf& leaf);
CylinderTerms<double> cylinder_terms(double diameter, double air_speed);

// Constants of the correlations; leaf_surface() and cylinder_air() give the sources. Grade B.
constexpr double characteristic_length = 0.72;  // of a leaf's boundary layer, over the leaf's width [1]
constexpr double forced_nusselt = 0.664;        // laminar plate, over Re^(1/2) Pr^(1/3) [1]
constexpr double unstable_nusselt = 0.54;       // free convection, unstable layer, over Ra^(1/4) [1]
constexpr double stable_over_unstable = 0.5;    // ratio for a stable layer: 0.27 over 0.54 [1]
constexpr double still_cylinder = 0.3;          // Nusselt number of a cylinder in still air [1]
constexpr double laminar_cylinder = 0.62;       // Nusselt number of a cylinder over Re^(1/2) Pr^(1/3) [1]
constexpr double turbulent_reynolds = 282e3;    // Reynolds number in the turbulent term of a cylinder [1]

inline namespace WETSPAN_LANES_NAMESPACE {

constexpr double no_zero = 1e-300;  // lower bound that keeps 0 out of divisions and roots

template <class R>
inline R squared(const R& x) {
  return x * x;
}
template <class R>
inline R fourth_power(const R& x) {
  return squared(squared(x));
}

/// Properties of the free air over a surface.
template <class R>
struct FreeAir {
  R temperature;
  R vapour;  // density
  R vapour_pressure, pressure, by_pressure;
  R place, moisture;       // temperature and r as arguments of Air
  R virtual_temperature;   // [K]
  R root_speed;            // (speed x P)^(1/2)
  R power, radiant_power;  // T^4 of the air, and of the cover or sky
};

/// Pressure of the dry air that has the density of the moist air at the same temperature:
/// P - (1 - M_w/M_a) e.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R dry_equivalent(const R& vapour_pressure, const R& pressure) {
  return L::fma(vapour_pressure, L::all(constants::molar_mass_ratio - 1.0), pressure);
}

template <class L, class Air, class R = typename L::R>
[[gnu::always_inline]] inline FreeAir<R> free_air(const Air& of, const R& temperature, const R& vapour,
                                                  const R& vapour_pressure, const R& pressure,
                                                  const R& by_pressure, const R& speed,
                                                  const R& radiant_temperature) {
  return {.temperature = temperature,
          .vapour = vapour,
          .vapour_pressure = vapour_pressure,
          .pressure = pressure,
          .by_pressure = by_pressure,
          .place = of.place(temperature),
          .moisture = of.moisture(vapour_pressure, by_pressure),
          .virtual_temperature =
              temperature * pressure * L::inverse(dry_equivalent<L>(vapour_pressure, pressure)),
          .root_speed = L::sqrt(speed * pressure),
          .power = fourth_power(temperature),
          .radiant_power = fourth_power(radiant_temperature)};
}

/// A leaf's surface and the boundary layers over it.
template <class R>
struct LeafSurface {
  R temperature, by_temperature;
  R saturated;    // vapour density at saturation
  R deficit;      // saturated less the vapour density of the free air
  R latent;       // latent heat
  R moisture;     // mean r of the boundary layers, as an argument of Air
  R diffusivity;  // of vapour in the boundary layers [m2/s]
  R heat;         // conductance of both sides for heat
  R upper_heat;   // conductance of the upper side for heat
  R through[2];   // conductances of upper and lower side for vapour
};

/// A quotient before its division. The divisor is large enough for the product of several divisors to be a
/// normal number, so that their quotients can share one division.
template <class R>
struct Quotient {
  R dividend, divisor;
};

/// Conductances of an unstable and of a stable layer by mixed convection: (a^3.5 + b^3.5)^(1/3.5) of the
/// forced conductance a and the free conductance b, which in a stable layer is `stable_over_unstable` of that
/// in an unstable one. The larger of a and b is the factor of a function of (smaller / larger)^3.5.
template <class R>
struct MixedConvection {
  R unstable, stable;
};
template <class L, class Air, class R = typename L::R>
[[gnu::always_inline]] inline MixedConvection<R> mixed_convection(const Air& of, const R& forced,
                                                                  const R& unstable) {
  constexpr double none = 1e-100;                // [W/m2/K]: lower bound; see Quotient
  constexpr double power = 0.08838834764831845;  // stable_over_unstable^3.5
  static_assert(stable_over_unstable == 0.5);
  const R a = L::max(forced, none), b = L::max(unstable, none), by_both = L::inverse(a * b);
  const R ratio = squared(b) * by_both, inverse = squared(a) * by_both, root = L::sqrt(ratio);
  const R of_ratio = squared(ratio) * ratio * root,
          of_inverse = squared(inverse) * inverse * (root * inverse);
  return {.unstable = L::max(a, b) * of.mixing(L::min(of_ratio, of_inverse)),
          .stable = L::max(a, stable_over_unstable * b) *
                    of.mixing(L::min(power * of_ratio, (1.0 / power) * of_inverse))};
}

/// The boundary layers of a flat leaf at a given temperature. `surface_vapour` [Pa] is the vapour pressure of
/// the air at its surface, and `saturation` [Pa] the saturation pressure there.
///
/// - Forced convection: Nu = 0.664 turbulence Re^(1/2) Pr^(1/3) over the length 0.72 width (laminar plate,
///   Pohlhausen; enhancement and length after Campbell and Norman 1998).
/// - Free convection: Nu = 0.54 Ra^(1/4) where the layer is unstable (light air above the leaf or heavy air
///   below it), 0.27 Ra^(1/4) where it is stable (McAdams 1954). Ra uses the difference of virtual
///   temperatures, which includes the buoyancy of vapour.
/// - Mixed convection: the 3.5th root of the sum of the 3.5th powers (Monteith and Unsworth 2013).
/// - Vapour: the Lewis relation, Sh = Nu (Sc/Pr)^(1/3).
///
/// They are valid for laminar flow, Re < 2e5.
///
/// The layer on the upper side is unstable if its air is lighter than the free air, as over a warm or moist
/// leaf; the layer on the lower side is then stable. The reverse is true for heavier air.
template <class L, class Air, class R = typename L::R>
[[gnu::always_inline]] inline LeafSurface<R> leaf_surface(const Air& of, const LeafTerms<R>& leaf,
                                                          const R& temperature, const R& saturation,
                                                          const R& surface_vapour, const FreeAir<R>& air) {
  LeafSurface<R> its;
  its.temperature = temperature;
  const R surface_place = of.place(temperature), place = 0.5 * (surface_place + air.place);
  const R dry = dry_equivalent<L>(surface_vapour, air.pressure);
  const R by_both = L::inverse(temperature * dry);
  its.latent = of.latent_heat(surface_place);
  its.by_temperature = by_both * dry;
  its.saturated = saturation * its.by_temperature * (1.0 / constants::gas_constant_water);
  its.deficit = its.saturated - air.vapour;
  // difference of virtual temperatures
  const R lighter = temperature * air.pressure * (by_both * temperature) - air.virtual_temperature;
  its.moisture = of.moisture(0.5 * (surface_vapour + air.vapour_pressure), air.by_pressure);
  const auto film = of.film(place, its.moisture);
  const R forced = leaf.forced * air.root_speed * film.forced;
  const R unstable =
      L::sqrt(L::sqrt(L::max(L::abs(lighter) * squared(air.pressure), no_zero))) * leaf.buoyancy * film.free;
  const MixedConvection<R> mixed = mixed_convection<L>(of, forced, unstable);
  const auto rises = lighter > L::all(0.0);
  const R to_vapour = air.by_pressure * film.vapour_over_heat;
  its.diffusivity = film.diffusivity * air.by_pressure;
  its.heat = mixed.unstable + mixed.stable;
  its.upper_heat = L::select(rises, mixed.unstable, mixed.stable);
  its.through[0] = its.upper_heat * to_vapour;
  its.through[1] = L::select(rises, mixed.stable, mixed.unstable) * to_vapour;
  return its;
}

/// Terms common to the boundary layers of all cylinders in the same air, at air temperature. `d` is that of
/// CylinderTerms.
template <class R>
struct CylinderAir {
  R laminar;           // heat conductance x diameter of the laminar term, over d^(1/2)
  R root_turbulence;   // (Re / 282000)^(1/2), over d^(1/2)
  R turbulence;        // (Re / 282000)^(5/8), over d^(5/8)
  R still;             // heat conductance x diameter in still air
  R vapour_over_heat;  // conductance for vapour over that for heat
};
/// Forced convection across a cylinder (Churchill and Bernstein 1977), for Re Pr > 0.2:
///
///   Nu = 0.3 + 0.62 Re^(1/2) Pr^(1/3) (1 + (0.4/Pr)^(2/3))^(-1/4) (1 + (Re / 282000)^(5/8))^(4/5)
///
/// The vapour conductance follows by the Lewis relation. Free convection of cylinders is neglected.
template <class L, class Air, class R = typename L::R>
[[gnu::always_inline]] inline CylinderAir<R> cylinder_air(const Air& of, const FreeAir<R>& air) {
  const auto film = of.film(air.place, air.moisture);
  const R molar_mass = L::fma(air.vapour_pressure * air.by_pressure,
                              L::all(constants::molar_mass_water - constants::molar_mass_dry_air),
                              L::all(constants::molar_mass_dry_air));
  const R root =
      air.root_speed * L::sqrt(L::max(molar_mass * film.fluidity * (1.0 / turbulent_reynolds), no_zero));
  return {.laminar = laminar_cylinder * film.forced * of.round(film.prandtl) * air.root_speed,
          .root_turbulence = root,
          .turbulence = root * L::sqrt(L::sqrt(root)),
          .still = still_cylinder * film.conductivity,
          .vapour_over_heat = air.by_pressure * film.vapour_over_heat};
}
/// Conductances of a cylinder across the flow.
template <class R>
struct CylinderLayer {
  R heat, vapour;
  R root_turbulence;  // (Re / 282000)^(1/2)
};
template <class L, class Air, class R = typename L::R>
[[gnu::always_inline]] inline CylinderLayer<R> cylinder_layer_of(const Air& of,
                                                                 const CylinderTerms<R>& cylinder,
                                                                 const CylinderAir<R>& around) {
  const R turbulent = of.turbulent(around.turbulence * cylinder.turbulence);
  const R heat =
      L::fma(around.laminar * cylinder.root_diameter, turbulent, around.still) * cylinder.by_diameter;
  return {.heat = heat,
          .vapour = heat * around.vapour_over_heat,
          .root_turbulence = around.root_turbulence * cylinder.root_diameter};
}

/// Conductance of the stomata on the dry share `bare` of the lower side, in series with the boundary layer.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline Quotient<R> stomata_quotient(const StomataTerms<R>& stomata, const R& layer,
                                                           const R& sun, const R& bare) {
  constexpr double none = 1e-100;  // [W/s/m]: of a leaf in the dark whose stomata open in any light
  const R open = stomata.open * sun * bare;
  return {open * layer, L::max(L::fma(layer, sun + stomata.half_light, open), none)};
}
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R stomata_in_series(const StomataTerms<R>& stomata, const R& layer,
                                                  const R& sun, const R& bare) {
  const Quotient<R> its = stomata_quotient<L>(stomata, layer, sun, bare);
  return its.dividend * L::inverse(its.divisor);
}

/// Net longwave radiation that a leaf gains [W/m2]; `power` is the fourth power of its temperature.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R longwave_gain(const LeafTerms<R>& leaf, const R& power,
                                              const FreeAir<R>& air) {
  return leaf.above * (air.radiant_power - power) + leaf.below * (air.power - power);
}
/// Net heat flux that a leaf gains [W/m2], including the latent heat of its `vapour_flux` [kg/m2/s].
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R heat_gain(const LeafTerms<R>& leaf, const LeafSurface<R>& surface,
                                          const FreeAir<R>& air, const R& sun, const R& vapour_flux) {
  return sun + longwave_gain<L>(leaf, fourth_power(surface.temperature), air) -
         surface.heat * (surface.temperature - air.temperature) - surface.latent * vapour_flux;
}
/// Net heat flux that a dry leaf gains; only transpiration evaporates water.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R dry_heat_gain(const LeafTerms<R>& leaf, const StomataTerms<R>& stomata,
                                              const LeafSurface<R>& surface, const FreeAir<R>& air,
                                              const R& sun) {
  const R open = stomata_in_series<L>(stomata, surface.through[1], sun, L::all(1.0));
  return heat_gain<L>(leaf, surface, air, sun, open * L::max(surface.deficit, 0.0));
}

/// Range of the search for a dry leaf's temperature, below and above the air temperature [K].
constexpr double colder_leaf = 30.0, hotter_leaf = 40.0;

/// Temperature at which the net heat flux of a dry leaf, a decreasing function of temperature, is 0; NaN if
/// there is none between `coldest` and `hottest`. In air slower than 1 mm/s there can be several solutions;
/// one of them is returned.
template <class L, class Gain, class R = typename L::R>
[[gnu::always_inline]] inline R dry_leaf(Gain gain, const R& air_temperature, const R& coldest,
                                         const R& hottest, const typename L::Mask& wanted) {
  constexpr double tolerance = 1e-7;  // of the temperature of a dry leaf [K]
  constexpr double usual = 25.0;      // leaves lose about 25 W/m2/K: for the first guess
  const R zero = L::all(0.0);
  const R here = gain(air_temperature);
  // a step of twice the first guess usually passes the root; otherwise the root lies beyond it
  R beyond = L::min(L::max(air_temperature + here * (2.0 / usual), coldest), hottest), there = gain(beyond);
  Bracket<R> bracket{air_temperature, beyond, here, there};
  const auto farther = (there > zero) == (here > zero);
  if (L::any(wanted & farther)) {
    const R last = L::select(here > zero, hottest, coldest);
    bracket.from = L::select(farther, beyond, bracket.from);
    bracket.at_from = L::select(farther, there, bracket.at_from);
    bracket.to = L::select(farther, last, bracket.to);
    bracket.at_to = L::select(farther, gain(last), bracket.at_to);
  }
  const auto found = ((bracket.at_from > zero) != (bracket.at_to > zero)) | (bracket.at_from == zero);
  bracket = narrowed<L>(bracket, L::all(tolerance), wanted & found, gain);
  const R root = L::select(L::abs(bracket.at_from) < L::abs(bracket.at_to), bracket.from, bracket.to);
  return L::select(found, root, L::all(std::numeric_limits<double>::quiet_NaN()));
}

/// Terms for the evaporation of films, with the heat balance linearised about the air temperature.
template <class R>
struct AirDeficit {
  R vapour;        // vapour density at saturation less that of the air
  R slope;         // d rho_sat/dT [kg/m3/K]
  R latent_slope;  // lambda x slope [W s/m3/K]
};
template <class L, class Air, class R = typename L::R>
[[gnu::always_inline]] inline AirDeficit<R> air_deficit(const Air& of, const FreeAir<R>& air,
                                                        const R& by_temperature, const R& latent) {
  using constants::gas_constant_water;
  const R saturated = of.saturation_pressure(air.place) * by_temperature * (1.0 / gas_constant_water);
  const R slope = (of.saturation_slope(air.place) * (1.0 / gas_constant_water) - saturated) * by_temperature;
  return {saturated - air.vapour, slope, latent * slope};
}
/// Evaporation of a film that takes its heat from the air and from `absorbed` radiation [W/m2] (Penman 1948):
/// E = g ((rho_sat - rho_a) h + d rho_sat/dT x absorbed) / (h + lambda g d rho_sat/dT).
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R evaporation_of_film(const AirDeficit<R>& deficit, const R& heat,
                                                    const R& vapour, const R& absorbed) {
  return vapour * L::fma(deficit.vapour, heat, deficit.slope * absorbed) *
         L::inverse(L::max(L::fma(deficit.latent_slope, vapour, heat), no_zero));
}

}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan
