/// \file
/// Physical constants, SI. Evidence grade A (measured, internationally agreed) or B (adopted by a standard).
#pragma once

namespace wetspan::constants {

/// Molar gas constant [J/(mol K)]; exact in the SI, here to ten digits. CODATA 2018 (grade B).
inline constexpr double gas_constant = 8.314462618;
/// Molar mass of water [kg/mol]. IAPWS R6-95(2018) (grade A).
inline constexpr double molar_mass_water = 18.015268e-3;
/// Molar mass of dry air [kg/mol]. ASHRAE Handbook - Fundamentals 2017, ch. 1 (grade B).
inline constexpr double molar_mass_dry_air = 28.966e-3;
/// Ratio of the molar masses of water and dry air [-]; 0.621945 in ASHRAE 2017.
inline constexpr double molar_mass_ratio = molar_mass_water / molar_mass_dry_air;
/// Specific gas constant of water vapour [J/(kg K)].
inline constexpr double gas_constant_water = gas_constant / molar_mass_water;
/// Specific gas constant of dry air [J/(kg K)]; 287.042 in ASHRAE 2017.
inline constexpr double gas_constant_dry_air = gas_constant / molar_mass_dry_air;
/// Standard acceleration of free fall [m/s2]; exact. CGPM 3 (1901) (grade B).
inline constexpr double gravity = 9.80665;
/// Stefan-Boltzmann constant [W/(m2 K4)]; exact in the SI, here to ten digits. CODATA 2018 (grade B).
inline constexpr double stefan_boltzmann = 5.670374419e-8;
/// 0 degrees Celsius [K]; exact. ITS-90 (grade B).
inline constexpr double zero_celsius = 273.15;
/// Standard atmosphere [Pa]; exact. ISO 2533:1975 (grade B).
inline constexpr double standard_atmosphere = 101325.0;

}  // namespace wetspan::constants
