// Properties of moist air as polynomials for vector lanes. The members are those of ExactAir (exact_air.hpp,
// which explains the symbols), to which the polynomials are fitted.
//
// The relative error of the conductances is below 1e-8 from 0 to 70 degC and for r up to 0.2.
#pragma once

#include <array>

#include "../lanes.hpp"
#include "film_properties.hpp"
#include "wetspan/properties/air.hpp"
#include "wetspan/properties/constants.hpp"

namespace wetspan {

/// Coefficients, in powers of (T - middle) / half_width or of r / half_moist - 1.
struct AirFits {
  static constexpr double coldest = 273.15, hottest = 343.15;          // range of the fits [K]
  static constexpr double ice_middle = 226.15, ice_half_width = 47.0;  // [K]: of a cover or sky that freezes
  static constexpr double middle = 0.5 * (coldest + hottest), half_width = 0.5 * (hottest - coldest);
  static constexpr double half_moist = 0.1;  // half the range of r, which is 0 to 0.2 [1]
  static constexpr double prandtl_middle = 0.75, prandtl_half_width = 0.15;
  static constexpr std::size_t by_correlation_terms = 6;
  std::array<double, 10> saturation_pressure;  // [Pa]
  std::array<double, 10> saturation_slope;     // [Pa/K]
  std::array<double, 14> over_ice;    // ln of the pressure [Pa], in (T - ice_middle) / ice_half_width
  std::array<double, 8> latent_heat;  // [J/kg]
  // FilmProperties of dry air, and the ratio of those of moist air to those of dry air
  std::array<double, 7> forced, free;
  std::array<double, 6> dry_prandtl, conductivity, fluidity;
  std::array<double, 5> forced_moist, free_moist, vapour_moist, prandtl_moist;
  std::array<double, 2> molar_heat;  // [J/mol/K]
  std::array<double, 9> mixing;      // 0 to 1
  std::array<double, 8> turbulent;   // likewise
  std::array<double, 7> round;
};
const AirFits& air_fits();

/// Coefficients that depend on the correlation of the diffusivity; `Number` is double, or vector lanes with
/// different correlations.
template <class Number>
struct DiffusionFits {
  Number diffusivity[AirFits::by_correlation_terms];       // see FilmProperties
  Number vapour_over_heat[AirFits::by_correlation_terms];  // of dry air
};
const DiffusionFits<double>& diffusion_fits(air::VapourDiffusivity correlation);

inline namespace WETSPAN_LANES_NAMESPACE {

template <class L>
struct FittedAir {
  using R = typename L::R;
  const AirFits& f;
  const DiffusionFits<R>& d;

  [[gnu::always_inline]] static R place(const R& temperature) {
    return (temperature - AirFits::middle) * (1.0 / AirFits::half_width);
  }
  [[gnu::always_inline]] static R moisture(const R& vapour_pressure, const R& by_pressure) {
    return L::fma(vapour_pressure, by_pressure * (1.0 / AirFits::half_moist), L::all(-1.0));
  }
  [[gnu::always_inline]] R saturation_pressure(const R& x) const {
    return L::polynomial(f.saturation_pressure, x);
  }
  [[gnu::always_inline]] R saturation_slope(const R& x) const { return L::polynomial(f.saturation_slope, x); }
  [[gnu::always_inline]] R latent_heat(const R& x) const { return L::polynomial(f.latent_heat, x); }
  [[gnu::always_inline]] R molar_heat(const R& s) const { return L::polynomial(f.molar_heat, s); }
  [[gnu::always_inline]] FilmProperties<R> film(const R& x, const R& s) const {
    return {.forced = L::polynomial(f.forced, x) * L::polynomial(f.forced_moist, s),
            .free = L::polynomial(f.free, x) * L::polynomial(f.free_moist, s),
            .vapour_over_heat = L::polynomial(d.vapour_over_heat, x) * L::polynomial(f.vapour_moist, s),
            .diffusivity = L::polynomial(d.diffusivity, x),
            .conductivity = L::polynomial(f.conductivity, x),
            .prandtl = L::polynomial(f.dry_prandtl, x) * L::polynomial(f.prandtl_moist, s),
            .fluidity = L::polynomial(f.fluidity, x)};
  }
  [[gnu::always_inline]] R mixing(const R& x) const { return L::polynomial(f.mixing, x); }
  [[gnu::always_inline]] R round(const R& prandtl) const {
    return L::polynomial(f.round, (prandtl - AirFits::prandtl_middle) * (1.0 / AirFits::prandtl_half_width));
  }
  [[gnu::always_inline]] R turbulent(const R& x) const { return L::polynomial(f.turbulent, x); }
  [[gnu::always_inline]] static R exponential(const R& x) { return L::exp_within(x); }

  /// Saturation pressure [Pa] at a temperature [K], over ice below 273.15 K.
  [[gnu::always_inline]] R saturation_over_ice_or_water(const R& temperature) const {
    const auto freezes = temperature < L::all(constants::zero_celsius);
    const R over_water = saturation_pressure(place(temperature));
    if (!L::any(freezes)) return over_water;
    const R x = (temperature - AirFits::ice_middle) * (1.0 / AirFits::ice_half_width);
    return L::select(freezes, L::exp(L::polynomial(f.over_ice, x)), over_water);
  }
};

}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan
