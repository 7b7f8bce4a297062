/// \file
/// Moist air: saturation, humidity, and the transport properties of the air around a leaf or a droplet.
///
/// Every function is a published formula or standard (evidence grade B). Symbols, all SI:
///
///   T    temperature [K]                e    water vapour pressure [Pa]     P   air pressure [Pa]
///   w    humidity ratio [kg/kg dry air] rh   relative humidity [0..1]
///
/// Explicit formulas do not check their arguments, because integrations evaluate them often. The caller must
/// stay within the stated range; a NaN gives a NaN. Functions that solve an equation (dew_point, wet_bulb)
/// throw InputError for NaN and for impossible states.
///
/// References
/// - ASHRAE 2017: ASHRAE Handbook - Fundamentals, SI edition, chapter 1, Psychrometrics.
/// - Hyland RW, Wexler A 1983, ASHRAE Transactions 89(2A):500-519.
/// - Lemmon EW, Jacobsen RT 2004, Int. J. Thermophys. 25:21-69, doi:10.1023/B:IJOT.0000022327.04529.f3.
/// - Massman WJ 1998, Atmos. Environ. 32:1111-1127, doi:10.1016/S1352-2310(97)00391-9.
/// - Marrero TR, Mason EA 1972, J. Phys. Chem. Ref. Data 1:3-118, doi:10.1063/1.3253094.
/// - Stull R 2011, J. Appl. Meteorol. Climatol. 50:2267-2269, doi:10.1175/JAMC-D-11-0143.1.
#pragma once

#include "wetspan/properties/constants.hpp"

namespace wetspan::air {

// Saturation ---------------------------------------------------------------------------------------------

/// Saturation vapour pressure [Pa], over ice below 273.15 K and over liquid water from 273.15 K up.
///
///     ln p_s = c1/T + c2 + c3 T + c4 T^2 + c5 T^3 (+ c6 T^4 over ice) + c7 ln T
///
/// The two branches differ by 1e-4 of p_s at 273.15 K. Valid 173.15..473.15 K.
/// Hyland & Wexler 1983, as in ASHRAE 2017 eqs. 5 and 6.
double saturation_pressure(double T);

/// Slope of the saturation curve dp_s/dT [Pa/K]: the exact derivative of saturation_pressure, same range.
double saturation_pressure_slope(double T);

/// Density of water vapour [kg/m3] as an ideal gas, e M_w/(R T). It is 0.2 % too low at saturation and 25 C.
double vapour_density(double e, double T);

/// Density of water vapour at saturation [kg/m3], vapour_density(saturation_pressure(T), T).
double saturation_vapour_density(double T);

/// Water vapour pressure [Pa] of an ideal gas of vapour density `rho_v` [kg/m3]: rho_v R T/M_w.
double vapour_pressure_from_density(double rho_v, double T);

// Humidity -----------------------------------------------------------------------------------------------

/// Water vapour pressure [Pa] from relative humidity: rh p_s(T).
double vapour_pressure(double rh, double T);

/// Relative humidity [0..1], e/p_s(T). Below 273.15 K it is relative to ice.
double relative_humidity(double e, double T);

/// Humidity ratio [kg/kg dry air], 0.621945 e/(P - e), for 0 <= e < P. ASHRAE 2017 eq. 20.
double humidity_ratio(double e, double P);

/// Humidity ratio at saturation [kg/kg dry air]; ideal gas, 0.5 % below real moist air at 25 C
/// and 0.6 % at 50 C. ASHRAE 2017 eq. 21.
double saturation_humidity_ratio(double T, double P);

/// Water vapour pressure [Pa] from the humidity ratio: P w/(0.621945 + w). ASHRAE 2017 eq. 36.
double vapour_pressure_from_humidity_ratio(double w, double P);

/// Humidity ratio [kg/kg dry air] of air at `T` whose thermodynamic wet-bulb temperature is `Twb` [K];
/// t = T - 273.15, t* = Twb - 273.15, w* = saturation_humidity_ratio(Twb, P):
///
///     wet bulb from 0 C up  w = ((2501 - 2.326 t*) w* - 1.006 (t - t*)) / (2501 + 1.86 t - 4.186 t*)
///     iced bulb below 0 C   w = ((2830 - 0.24 t*) w* - 1.006 (t - t*)) / (2830 + 1.86 t - 2.1 t*)
///
/// The result is negative if no air at `T` can have such a low wet-bulb temperature. ASHRAE 2017 eqs. 33, 35.
double humidity_ratio_from_wet_bulb(double T, double Twb, double P);

/// Dew point [K] (frost point below 273.15 K): the inverse of saturation_pressure, to 1e-9 K.
/// Vapour pressures in the gap of 0.06 Pa between the ice and water branches give 273.15 K.
///
/// \throws InputError unless p_s(173.15 K) = 0.0014 Pa <= e <= p_s(473.15 K) = 1.555 MPa.
double dew_point(double e);

/// Thermodynamic wet-bulb temperature [K] to 1e-9 K: the root of humidity_ratio_from_wet_bulb(T, Twb, P) = w.
///
/// Just above freezing the equation can have two roots up to 0.8 K apart: a wet bulb above 0 C and an iced
/// bulb below 0 C. The root above 0 C is returned. For saturated air the result is T.
///
/// \throws InputError for NaN, T outside 173.15..473.15 K, P not above p_s(T), or e outside 0..p_s(T).
double wet_bulb(double T, double e, double P);

/// Wet-bulb temperature [K] at 101325 Pa by an empirical fit; t in C, r = 100 rh:
///
///     t* = t atan(0.151977 (r + 8.313659)^1/2) + atan(t + r) - atan(r - 1.676331)
///          + 0.00391838 r^3/2 atan(0.023101 r) - 4.686035
///
/// Valid for rh 0.05..0.99 and -20..50 C, except for air that is both cold and dry. Stull 2011 gives an error
/// of -1.0..+0.65 K. Compared with wet_bulb this is true for rh >= 0.1 from 5 to 35 C; the error grows to
/// +1.2 K at 50 C.
double wet_bulb_stull(double T, double rh);

// Energy and density -------------------------------------------------------------------------------------

/// Specific heat of dry air in the ASHRAE enthalpy [J/(kg K)]. ASHRAE 2017 eq. 30.
inline constexpr double specific_heat_dry_air = 1006.0;
/// Specific heat of water vapour in the ASHRAE enthalpy [J/(kg K)]. ASHRAE 2017 eq. 30.
inline constexpr double specific_heat_vapour = 1860.0;

/// Enthalpy [J/kg dry air] relative to dry air and liquid water at 0 C: 1006 t + w (2501000 + 1860 t), t in
/// C. ASHRAE 2017 eq. 30.
double enthalpy(double T, double w);

/// Specific heat at constant pressure [J/(kg K)] per kg of *moist* air: (1006 + 1860 w)/(1 + w).
double specific_heat(double w);

/// Density of moist air [kg/m3], ideal gas: ((P - e) M_a + e M_w)/(R T).
double density(double T, double e, double P);

/// Volume of moist air per kg of dry air [m3/kg dry air], ideal gas: R T (1 + 1.607858 w)/(M_a P).
/// ASHRAE 2017 eq. 26.
double specific_volume(double T, double w, double P);

/// Virtual temperature [K], that of dry air with the density of the moist air: T/(1 - (1 - 0.621945) e/P).
double virtual_temperature(double T, double e, double P);

/// Psychrometric constant [Pa/K], c_p P/(0.621945 lambda), with the latent heat lambda [J/kg] and the
/// specific heat c_p [J/(kg K)].
double psychrometric_constant(double P, double latent_heat, double specific_heat = specific_heat_dry_air);

/// Pressure of the standard atmosphere [Pa] at `altitude` [m]: 101325 (1 - 2.25577e-5 altitude)^5.2559.
/// Valid -5000..11000 m. ASHRAE 2017 eq. 3.
double standard_atmosphere_pressure(double altitude);

// Transport ----------------------------------------------------------------------------------------------

/// Dynamic viscosity [Pa s] of dry air, dilute-gas limit (pressure adds 0.1 % at 100 kPa):
///
///     mu = 0.0266958e-6 (M T)^1/2 / (sigma^2 Omega(T/103.3 K)),  M = 28.9586, sigma = 0.360
///
/// The effect of vapour is neglected: it makes saturated air 1 % less viscous at 25 C and 2.5 % at 40 C.
/// Valid 60..2000 K, within 1 %. Lemmon & Jacobsen 2004.
double dynamic_viscosity(double T);

/// Thermal conductivity [W/(m K)] of dry air, dilute-gas limit, theta = T/132.6312 K, mu in uPa s:
///
///     k = (1.308 mu + 1.405 theta^1.1 - 1.036 theta^0.3)/1000
///
/// The effect of vapour is neglected: it makes saturated air 0.1 % less conductive at 25 C and 0.6 % at 40 C.
/// Valid 60..2000 K, within 2 %. Lemmon & Jacobsen 2004.
double thermal_conductivity(double T);

/// The same if mu = dynamic_viscosity(T) is known.
double thermal_conductivity_from_viscosity(double T, double mu);

/// Kinematic viscosity [m2/s], dynamic_viscosity(T)/density(T, e, P).
double kinematic_viscosity(double T, double e, double P);

/// Thermal diffusivity [m2/s], thermal_conductivity(T)/(density(T, e, P) specific_heat(w)).
double thermal_diffusivity(double T, double e, double P);

/// Published fits of the diffusivity of water vapour in air. Massman's values are larger by 4 % at 0 C, 2 %
/// at 25 C and 0.5 % at 40 C. Computed drying times are at least as uncertain as this difference.
enum class VapourDiffusivity { massman, marrero_mason };

/// Diffusivity of water vapour in air [m2/s], 2.178e-5 (T/273.15)^1.81 (101325/P). Valid 273..373 K; other
/// compilations differ by up to 7 %. Massman 1998.
double vapour_diffusivity_massman(double T, double P);

/// Diffusivity of water vapour in air [m2/s], 2.09e-5 (T/273.15)^2.072 (101325/P). Valid 282..450 K.
/// Marrero & Mason 1972, in the form given by Massman 1998.
double vapour_diffusivity_marrero_mason(double T, double P);

/// Diffusivity of water vapour in air [m2/s] by the chosen fit.
double vapour_diffusivity(double T, double P, VapourDiffusivity choice = VapourDiffusivity::massman);

/// Prandtl number [-], kinematic_viscosity/thermal_diffusivity; it does not depend on density.
double prandtl(double T, double w = 0.0);

/// Schmidt number [-] of water vapour, kinematic_viscosity/vapour_diffusivity.
double schmidt(double T, double e, double P, VapourDiffusivity choice = VapourDiffusivity::massman);

}  // namespace wetspan::air
