/// \file
/// Pure liquid water and its saturated vapour.
///
/// Every function is a published formula or standard (evidence grade B) in SI units, with T in K. Arguments
/// are not checked, because integrations evaluate these functions often. The caller must stay within the
/// stated range; a NaN gives a NaN.
///
/// References
/// - Kell GS 1975, J. Chem. Eng. Data 20:97-105, doi:10.1021/je60064a005.
/// - IAPWS R12-08: Release on the IAPWS Formulation 2008 for the Viscosity of Ordinary Water Substance.
/// - IAPWS R1-76(2014): Revised Release on Surface Tension of Ordinary Water Substance.
/// - IAPWS SR1-86(1992): Revised Supplementary Release on Saturation Properties of Ordinary Water Substance;
///   Wagner W, Pruss A 1993, J. Phys. Chem. Ref. Data 22:783-787, doi:10.1063/1.555926.
/// - IAPWS SR6-08(2011): Revised Supplementary Release on Properties of Liquid Water at 0.1 MPa;
///   Patek J et al. 2009, J. Phys. Chem. Ref. Data 38:21-29, doi:10.1063/1.3043575.
#pragma once

namespace wetspan::water {

/// Temperature of the critical point [K]. IAPWS R2-83(1992).
inline constexpr double critical_temperature = 647.096;
/// Pressure at the critical point [Pa]. IAPWS R2-83(1992).
inline constexpr double critical_pressure = 22.064e6;
/// Density at the critical point [kg/m3]. IAPWS R2-83(1992).
inline constexpr double critical_density = 322.0;

// Liquid at atmospheric pressure -------------------------------------------------------------------------

/// Density of liquid water at 101325 Pa [kg/m3], t = T - 273.15:
///
///     rho = (999.83952 + 16.945176 t - 7.9870401e-3 t^2 - 46.170461e-6 t^3 + 105.56302e-9 t^4
///            - 280.54253e-12 t^5)/(1 + 16.879850e-3 t)
///
/// Valid 273.15..423.15 K. Kell 1975.
double density(double T);

/// Dynamic viscosity [Pa s] of water of density `rho` [kg/m3], liquid or vapour:
///
///     mu = 1e-6 mu0(T) mu1(T, rho)
///
/// without the critical enhancement (mu2 = 1), which matters only near 647 K. Valid 273.16..1173 K; 1 % for
/// the liquid. IAPWS R12-08.
double dynamic_viscosity(double T, double rho);

/// Dynamic viscosity [Pa s] of liquid water at 101325 Pa, dynamic_viscosity(T, density(T)).
/// Valid 273.16..373 K.
double dynamic_viscosity(double T);

/// Specific heat at constant pressure [J/(kg K)] of liquid water at 0.1 MPa. Valid 253.15..383.15 K, 0.1 %.
/// IAPWS SR6-08(2011) eq. for c_p.
double specific_heat(double T);

/// Thermal conductivity [W/(m K)] of liquid water at 0.1 MPa, theta = T/300 K:
///
///     k = 1.6630 theta^-1.15 - 1.7781 theta^-3.4 + 1.1567 theta^-6.0 - 0.432115 theta^-7.6
///
/// Valid 253.15..383.15 K, 2 %. IAPWS SR6-08(2011) eq. 8.
double thermal_conductivity(double T);

// Liquid and vapour in equilibrium -----------------------------------------------------------------------

/// Surface tension [N/m] against vapour, tau = 1 - T/647.096 K: 0.2358 tau^1.256 (1 - 0.625 tau).
/// Valid 248..647.096 K, 0.1 mN/m at room temperature. IAPWS R1-76(2014).
double surface_tension(double T);

/// Saturation pressure over liquid water [Pa], tau = 1 - T/Tc:
///
///     ln(p/pc) = (Tc/T)(a1 tau + a2 tau^1.5 + a3 tau^3 + a4 tau^3.5 + a5 tau^4 + a6 tau^7.5)
///
/// Valid 273.16..647.096 K, 0.1 %. IAPWS SR1-86(1992).
double saturation_pressure(double T);

/// Slope of the saturation curve dp/dT [Pa/K]: the exact derivative of saturation_pressure, same range.
double saturation_pressure_slope(double T);

/// Density of liquid water at saturation [kg/m3]. Valid 273.16..647.096 K. IAPWS SR1-86(1992).
double saturated_liquid_density(double T);

/// Density of water vapour at saturation [kg/m3], real gas. Valid 273.16..647.096 K. IAPWS SR1-86(1992).
double saturated_vapour_density(double T);

/// Latent heat of vaporisation [J/kg] by Clapeyron's equation, T dp/dT (1/rho'' - 1/rho').
/// Valid 273.16..640 K. IAPWS SR1-86(1992).
double latent_heat(double T);

}  // namespace wetspan::water
