// Properties of moist air for the equations of leaf and house, by the published formulas of properties/.
//
// The equations in plant/leaf_equations.hpp and study/house_equations.hpp are templates over an `Air`: this
// class, or the polynomials of fitted_air.hpp, which are fitted to this class and have members of the same
// names.
//
//   T  temperature [K]                  mu  dynamic viscosity [Pa s]          P  pressure [Pa]
//   r  vapour pressure over P [1]       k   thermal conductivity [W/m/K]      R  gas constant [J/mol/K]
//   w  molar mass of moist air [kg/mol] c   specific heat of moist air [J/kg/K]
//   D  diffusivity of water vapour times P [Pa m2/s]
//
// The density of moist air is P w / (R T) and its volumetric heat capacity P w c / (R T). The pressure is
// therefore a factor, to some power, of every product of properties, and the equations multiply by it.
#pragma once

#include <cmath>

#include "../lanes.hpp"
#include "film_properties.hpp"
#include "wetspan/properties/air.hpp"
#include "wetspan/properties/constants.hpp"
#include "wetspan/properties/water.hpp"

namespace wetspan {

inline namespace WETSPAN_LANES_NAMESPACE {

struct ExactAir {
  air::VapourDiffusivity correlation;

  /// Temperature and r as arguments of the properties below; here they are unchanged.
  static double place(double temperature) { return temperature; }
  static double moisture(double vapour_pressure, double by_pressure) { return vapour_pressure * by_pressure; }

  static double saturation_pressure(double T) { return air::saturation_pressure(T); }  // [Pa]
  static double saturation_over_ice_or_water(double T) { return air::saturation_pressure(T); }
  static double saturation_slope(double T) { return air::saturation_pressure_slope(T); }
  static double latent_heat(double T) { return water::latent_heat(T); }
  static double molar_mass(double r) {
    return (1.0 - r) * constants::molar_mass_dry_air + r * constants::molar_mass_water;
  }
  static double specific_heat(double r) {
    return air::specific_heat(constants::molar_mass_ratio * r / (1.0 - r));
  }
  /// w c [J/mol/K].
  static double molar_heat(double r) { return molar_mass(r) * specific_heat(r); }
  FilmProperties<double> film(double T, double r) const {
    const double mu = air::dynamic_viscosity(T), k = air::thermal_conductivity_from_viscosity(T, mu);
    const double w = molar_mass(r), c = specific_heat(r), RT = constants::gas_constant * T;
    const double D = air::vapour_diffusivity(T, 1.0, correlation), lewis = D / k;
    // cube roots of the Prandtl number and of the thermal diffusivity over that of vapour
    using Two = Lanes<2>;
    const Two::R roots = Two::cbrt(Two::R{mu * c / k, RT / (lewis * w * c)});
    return {.forced = k * roots[0] * std::sqrt(w / (RT * mu)),
            .free = k * std::sqrt(std::sqrt(w * w * c / (RT * RT * T * mu * k))),
            .vapour_over_heat = roots[1] * lewis,
            .diffusivity = D,
            .conductivity = k,
            .prandtl = mu * c / k,
            .fluidity = 1.0 / (RT * mu)};
  }

  /// (1 + x)^(1/3.5), for mixed convection.
  static double mixing(double x) { return std::pow(1.0 + x, 1.0 / 3.5); }
  /// (1 + (0.4/Pr)^(2/3))^(-1/4) and (1 + x)^(4/5), factors in the Nusselt number of a cylinder.
  static double round(double prandtl) {
    return 1.0 / std::sqrt(std::sqrt(1.0 + std::cbrt(0.16 / (prandtl * prandtl))));
  }
  static double turbulent(double x) { return std::pow(1.0 + x, 0.8); }
  static double exponential(double x) { return std::exp(x); }
};

}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan
