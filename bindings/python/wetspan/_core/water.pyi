"""
Properties of liquid water and its saturated vapour. All values are in SI: K, Pa, kg, m, s.
"""
from __future__ import annotations
import numpy
import numpy.typing
import typing
__all__: list[str] = ['density', 'dynamic_viscosity', 'latent_heat', 'saturated_liquid_density', 'saturated_vapour_density', 'saturation_pressure', 'saturation_pressure_slope', 'specific_heat', 'surface_tension', 'thermal_conductivity']
def density(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Density of liquid water at 101325 Pa [kg/m3] at T [K]; 273.15..423.15 K.
    Kell 1975, doi:10.1021/je60064a005.
    """
@typing.overload
def dynamic_viscosity(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Dynamic viscosity [Pa s] of liquid water at 101325 Pa and T [K]; 273.16..373 K, within 1 %. IAPWS R12-08.
    """
@typing.overload
def dynamic_viscosity(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], rho: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Dynamic viscosity [Pa s] of water or steam at T [K] and density rho [kg/m3], without the critical
    enhancement; 273.16..1173 K. IAPWS R12-08.
    """
def latent_heat(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Latent heat of vaporisation [J/kg] at T [K]: T dp/dT (1/rho'' - 1/rho'); 273.16..640 K.
    IAPWS SR1-86(1992).
    """
def saturated_liquid_density(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Density of liquid water at saturation [kg/m3] at T [K]; 273.16..647.096 K. IAPWS SR1-86(1992).
    """
def saturated_vapour_density(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Density of water vapour at saturation [kg/m3] at T [K], real gas; 273.16..647.096 K. IAPWS SR1-86(1992).
    """
def saturation_pressure(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Saturation pressure over liquid water [Pa] at T [K]; 273.16..647.096 K, within 0.1 %. IAPWS SR1-86(1992).
    """
def saturation_pressure_slope(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Slope of the saturation curve [Pa/K] at T [K], the exact derivative of saturation_pressure.
    """
def specific_heat(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Specific heat [J/(kg K)] of liquid water at 0.1 MPa and T [K]; 253.15..383.15 K, within 0.1 %.
    IAPWS SR6-08(2011).
    """
def surface_tension(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Surface tension of water [N/m] at T [K]: 0.2358 tau^1.256 (1 - 0.625 tau), tau = 1 - T/647.096 K;
    248..647.096 K. IAPWS R1-76(2014).
    """
def thermal_conductivity(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Thermal conductivity [W/(m K)] of liquid water at 0.1 MPa and T [K]; 253.15..383.15 K, within 2 %.
    IAPWS SR6-08(2011) eq. 8.
    """
