"""Moist air and water for the second writing, from the published formulas: numpy, no wetspan.

ASHRAE 2017 chapter 1 (saturation, humidity, wet bulb); Lemmon and Jacobsen 2004 (viscosity, conductivity of
dry air); Massman 1998, Marrero and Mason 1972 (diffusivity); IAPWS SR1-86 (latent heat); Kell 1975 (density
of water); IAPWS SR6-08 (its specific heat).
"""

from __future__ import annotations

from functools import cache

import numpy as np
from iapws._iapws import _Liquid, _Viscosity
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq

R = 8.314462618  # [J/mol/K]
M_WATER, M_AIR = 18.015268e-3, 28.966e-3  # [kg/mol]
EPSILON = M_WATER / M_AIR
R_WATER = R / M_WATER  # [J/kg/K]
GRAVITY = 9.80665
SIGMA = 5.670374419e-8  # Stefan and Boltzmann [W/m2/K4]


def saturation_pressure(temperature):
    """Saturation vapour pressure over liquid water [Pa], ASHRAE 2017 eq. 6."""
    t = temperature
    polynomial = 1.3914993 + t * (-4.8640239e-2 + t * (4.1764768e-5 - t * 1.4452093e-8))
    return np.exp(-5.8002206e3 / t + polynomial + 6.5459673 * np.log(t))


def saturation_over_ice_or_water(temperature):
    """The same, over ice below 0 degC, eq. 5 [Pa]."""
    t = temperature
    if t >= 273.15:
        return saturation_pressure(t)
    polynomial = 6.3925247 + t * (-9.677843e-3 + t * (6.2215701e-7 + t * (2.0747825e-9 - t * 9.484024e-13)))
    return np.exp(-5.6745359e3 / t + polynomial + 4.1635019 * np.log(t))


def saturation_slope(temperature):
    """Slope of the saturation pressure over water [Pa/K]."""
    t = temperature
    of_log = (
        5.8002206e3 / t**2 - 4.8640239e-2 + 2 * 4.1764768e-5 * t - 3 * 1.4452093e-8 * t**2 + 6.5459673 / t
    )
    return saturation_pressure(t) * of_log


def vapour_density(pressure, temperature):
    """Density of vapour of some pressure [kg/m3]."""
    return pressure / (R_WATER * temperature)


def viscosity(temperature):
    """Dynamic viscosity of dry air [Pa s]."""
    x = np.log(temperature / 103.3)
    omega = np.exp(0.431 + x * (-0.4623 + x * (0.08406 + x * (0.005341 - 0.00331 * x))))
    return 0.0266958e-6 * np.sqrt(28.9586 * temperature) / (0.360**2 * omega)


def conductivity(temperature):
    """Thermal conductivity of dry air [W/m/K]."""
    tau = 132.6312 / temperature
    return 1e-3 * (1.308 * 1e6 * viscosity(temperature) + 1.405 * tau**-1.1 - 1.036 * tau**-0.3)


def diffusivity(temperature, pressure, correlation):
    """Diffusivity of vapour in air [m2/s]; 0 Massman, 1 Marrero and Mason."""
    at_0, power = ((2.178e-5, 1.81), (2.09e-5, 2.072))[int(correlation)]
    return at_0 * (temperature / 273.15) ** power * 101325.0 / pressure


def specific_heat(vapour_share):
    """Specific heat of moist air whose vapour has this share of the pressure [J/kg/K]."""
    w = EPSILON * vapour_share / (1 - vapour_share)
    return (1006.0 + 1860.0 * w) / (1 + w)


def density(temperature, vapour_share, pressure):
    """Density of moist air [kg/m3]."""
    return pressure * (M_AIR + vapour_share * (M_WATER - M_AIR)) / (R * temperature)


def virtual_temperature(temperature, vapour_pressure, pressure):
    """Temperature of dry air that is as dense [K]."""
    return temperature / (1 - (1 - EPSILON) * vapour_pressure / pressure)


def clapeyron(temperature):
    """Latent heat of vaporisation by Clapeyron's equation [J/kg]."""
    critical = 647.096
    tau = 1 - temperature / critical
    a = (-7.85951783, 1.84408259, -11.7866497, 22.6807411, -15.9618719, 1.80122502)
    powers = (1, 1.5, 3, 3.5, 4, 7.5)
    series = sum(c * tau**p for c, p in zip(a, powers, strict=True))
    pressure = 22.064e6 * np.exp(critical / temperature * series)
    bends = sum(c * p * tau ** (p - 1) for c, p in zip(a, powers, strict=True))
    slope = -pressure / temperature * (np.log(pressure / 22.064e6) + bends)
    b = (1.99274064, 1.09965342, -0.510839303, -1.75493479, -45.5170352, -6.7469445e5)
    liquid = 322 * (1 + sum(c * tau ** (p / 3) for c, p in zip(b, (1, 2, 5, 16, 43, 110), strict=True)))
    c = (-2.0315024, -2.6830294, -5.38626492, -17.2991605, -44.7586581, -63.9201063)
    vapour = 322 * np.exp(sum(x * tau ** (p / 6) for x, p in zip(c, (2, 4, 8, 18, 37, 71), strict=True)))
    return temperature * slope * (1 / vapour - 1 / liquid)


@cache
def tabled_latent_heat():
    """The same as a spline, which takes less time, from -20 to 70 degC."""
    nodes = np.linspace(253.0, 343.0, 400)
    return CubicSpline(nodes, clapeyron(nodes))


def latent_heat(temperature):
    """Latent heat of vaporisation [J/kg]."""
    return tabled_latent_heat()(temperature)


def surface_tension(temperature):
    """Of water [N/m], IAPWS R1-76."""
    tau = 1 - temperature / 647.096
    return 235.8e-3 * tau**1.256 * (1 - 0.625 * tau)


def water_density(temperature):
    """Density of liquid water [kg/m3]."""
    t = temperature - 273.15
    above = 999.83952 + t * (
        16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12)))
    )
    return above / (1 + 16.87985e-3 * t)


def water_viscosity(temperature):
    """Of liquid water [Pa s], IAPWS R12-08 at the density above."""
    return float(_Viscosity(float(water_density(temperature)), temperature))


def water_specific_heat(temperature):
    """Specific heat of liquid water at 0.1 MPa [J/kg/K], as the package iapws has it."""
    return 1e3 * _Liquid(temperature, 0.1)["cp"]


def wet_bulb(temperature, vapour_pressure, pressure):
    """Thermodynamic wet bulb above 0 degC [K], ASHRAE 2017 eqs. 20 and 33."""
    t = temperature - 273.15
    w = EPSILON * vapour_pressure / (pressure - vapour_pressure)

    def missing(wet):
        e = saturation_pressure(wet)
        saturated, below = EPSILON * e / (pressure - e), wet - 273.15
        above = (2501.0 - 2.326 * below) * saturated - 1.006 * (t - below)
        return above / (2501.0 + 1.86 * t - 4.186 * below) - w

    return brentq(missing, 273.15, temperature, xtol=1e-10)
