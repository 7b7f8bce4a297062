"""
Properties of moist air: saturation, humidity, transport. All values are in SI: K, Pa, kg, m, s.
"""
from __future__ import annotations
import numpy
import numpy.typing
import typing
__all__: list[str] = ['VapourDiffusivity', 'density', 'dew_point', 'dynamic_viscosity', 'enthalpy', 'humidity_ratio', 'humidity_ratio_from_wet_bulb', 'kinematic_viscosity', 'prandtl', 'psychrometric_constant', 'relative_humidity', 'saturation_humidity_ratio', 'saturation_pressure', 'saturation_pressure_slope', 'saturation_vapour_density', 'schmidt', 'specific_heat', 'specific_volume', 'standard_atmosphere_pressure', 'thermal_conductivity', 'thermal_diffusivity', 'vapour_density', 'vapour_diffusivity', 'vapour_diffusivity_marrero_mason', 'vapour_diffusivity_massman', 'vapour_pressure', 'vapour_pressure_from_density', 'vapour_pressure_from_humidity_ratio', 'virtual_temperature', 'wet_bulb', 'wet_bulb_stull']
class VapourDiffusivity:
    """
    Published fits of water vapour diffusivity in air.
    
    Members:
    
      massman : Massman 1998
    
      marrero_mason : Marrero & Mason 1972
    """
    __members__: typing.ClassVar[dict[str, VapourDiffusivity]]
    marrero_mason: typing.ClassVar[VapourDiffusivity]
    massman: typing.ClassVar[VapourDiffusivity]
    @typing.overload
    def __eq__(self, other: VapourDiffusivity) -> bool:
        ...
    @typing.overload
    def __eq__(self, other: typing.Any) -> bool:
        ...
    def __getstate__(self) -> int:
        ...
    def __hash__(self) -> int:
        ...
    def __index__(self) -> int:
        ...
    def __init__(self, value: typing.SupportsInt | typing.SupportsIndex) -> None:
        ...
    def __int__(self) -> int:
        ...
    @typing.overload
    def __ne__(self, other: VapourDiffusivity) -> bool:
        ...
    @typing.overload
    def __ne__(self, other: typing.Any) -> bool:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, state: typing.SupportsInt | typing.SupportsIndex) -> None:
        ...
    def __str__(self) -> str:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def value(self) -> int:
        ...
def density(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], e: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], P: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Density of moist air [kg/m3] at T [K], vapour pressure e [Pa], pressure P [Pa], ideal gas:
    ((P - e) M_a + e M_w)/(R T).
    """
def dew_point(e: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Dew point [K], or frost point below 273.15 K, at vapour pressure e [Pa]: inverts saturation_pressure.
    
    Raises InputError unless p_s(173.15 K) <= e <= p_s(473.15 K).
    """
def dynamic_viscosity(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Dynamic viscosity [Pa s] of dry air at T [K], dilute gas; 60..2000 K, within 1 %. Saturated air is 1 %
    less viscous at 25 C. Lemmon & Jacobsen 2004, doi:10.1023/B:IJOT.0000022327.04529.f3.
    """
def enthalpy(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], w: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Enthalpy [J/kg dry air] of moist air at T [K] and humidity ratio w: 1006 t + w (2501000 + 1860 t), t in C.
    ASHRAE 2017 ch. 1 eq. 30.
    """
def humidity_ratio(e: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], P: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Humidity ratio [kg/kg dry air] from vapour pressure e [Pa] and air pressure P [Pa]:
    0.621945 e/(P - e), for 0 <= e < P. ASHRAE 2017 ch. 1 eq. 20.
    """
def humidity_ratio_from_wet_bulb(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], Twb: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], P: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Humidity ratio [kg/kg dry air] of air at T [K] with wet-bulb temperature Twb [K] at P [Pa].
    
    Negative when no air at T can have so low a wet bulb. ASHRAE 2017 ch. 1 eq. 33, and 35 below 0 C.
    """
def kinematic_viscosity(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], e: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], P: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Kinematic viscosity [m2/s] at T [K], e [Pa], P [Pa]: dynamic_viscosity/density.
    """
def prandtl(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], w: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] = 0.0) -> typing.Any:
    """
    Prandtl number [-] at T [K] and humidity ratio w: kinematic_viscosity/thermal_diffusivity.
    """
def psychrometric_constant(P: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], latent_heat: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], specific_heat: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] = 1006.0) -> typing.Any:
    """
    Psychrometric constant [Pa/K] at P [Pa], latent heat [J/kg], specific heat [J/(kg K)]:
    c_p P/(0.621945 lambda).
    """
def relative_humidity(e: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Relative humidity [0..1] from vapour pressure e [Pa] at T [K]: e/p_s(T); over ice below 273.15 K.
    """
def saturation_humidity_ratio(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], P: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Humidity ratio at saturation [kg/kg dry air] at T [K] and P [Pa], ideal gas. ASHRAE 2017 ch. 1 eq. 21.
    """
def saturation_pressure(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Saturation vapour pressure [Pa] at T [K], over ice below 273.15 K.
    
    ln p_s = c1/T + c2 + c3 T + c4 T^2 + c5 T^3 (+ c6 T^4 over ice) + c7 ln T; 173.15..473.15 K.
    Hyland & Wexler 1983, as in ASHRAE 2017 ch. 1 eqs. 5 and 6.
    """
def saturation_pressure_slope(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Slope of the saturation curve [Pa/K] at T [K], the exact derivative of saturation_pressure.
    """
def saturation_vapour_density(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Density of water vapour at saturation [kg/m3] at T [K], ideal gas; 173.15..473.15 K.
    """
def schmidt(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], e: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], P: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], choice: VapourDiffusivity = ...) -> typing.Any:
    """
    Schmidt number [-] of water vapour at T [K], e [Pa], P [Pa]: kinematic_viscosity/vapour_diffusivity.
    """
def specific_heat(w: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Specific heat [J/(kg K)] per kg of moist air of humidity ratio w: (1006 + 1860 w)/(1 + w).
    """
def specific_volume(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], w: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], P: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Volume of moist air [m3/kg dry air] at T [K], humidity ratio w, P [Pa], ideal gas:
    R T (1 + 1.607858 w)/(M_a P). ASHRAE 2017 ch. 1 eq. 26.
    """
def standard_atmosphere_pressure(altitude: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Pressure of the standard atmosphere [Pa] at an altitude [m], -5000..11000 m:
    101325 (1 - 2.25577e-5 altitude)^5.2559. ASHRAE 2017 ch. 1 eq. 3.
    """
def thermal_conductivity(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Thermal conductivity [W/(m K)] of dry air at T [K], dilute gas; 60..2000 K, within 2 %.
    Lemmon & Jacobsen 2004, doi:10.1023/B:IJOT.0000022327.04529.f3.
    """
def thermal_diffusivity(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], e: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], P: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Thermal diffusivity [m2/s] at T [K], e [Pa], P [Pa]: thermal_conductivity/(density specific_heat).
    """
def vapour_density(e: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Density of water vapour [kg/m3] at vapour pressure e [Pa] and T [K]: e M_w/(R T), ideal gas.
    """
def vapour_diffusivity(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], P: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], choice: VapourDiffusivity = ...) -> typing.Any:
    """
    Diffusivity of water vapour in air [m2/s] at T [K] and P [Pa] by the chosen fit.
    """
def vapour_diffusivity_marrero_mason(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], P: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Diffusivity of water vapour in air [m2/s] at T [K], P [Pa]: 2.09e-5 (T/273.15)^2.072 (101325/P).
    282..450 K. Marrero & Mason 1972, doi:10.1063/1.3253094, in the form given by Massman 1998.
    """
def vapour_diffusivity_massman(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], P: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Diffusivity of water vapour in air [m2/s] at T [K], P [Pa]: 2.178e-5 (T/273.15)^1.81 (101325/P).
    273..373 K. Massman 1998, doi:10.1016/S1352-2310(97)00391-9.
    """
def vapour_pressure(rh: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Vapour pressure [Pa] from relative humidity rh [0..1] at T [K]: rh p_s(T).
    """
def vapour_pressure_from_density(rho_v: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Vapour pressure [Pa] of water vapour of density rho_v [kg/m3] at T [K]: rho_v R T/M_w, ideal gas.
    """
def vapour_pressure_from_humidity_ratio(w: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], P: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Vapour pressure [Pa] from humidity ratio w [kg/kg dry air] and air pressure P [Pa]: P w/(0.621945 + w).
    """
def virtual_temperature(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], e: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], P: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Temperature [K] of dry air as dense as air at T [K], e [Pa], P [Pa]: T/(1 - (1 - 0.621945) e/P).
    """
def wet_bulb(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], e: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], P: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Thermodynamic wet-bulb temperature [K] of air at T [K], vapour pressure e [Pa], pressure P [Pa].
    
    Solves humidity_ratio_from_wet_bulb(T, Twb, P) = humidity_ratio(e, P); a wet bulb counts before an iced one.
    Raises InputError for NaN, T outside 173.15..473.15 K, P not above p_s(T), e outside 0..p_s(T).
    """
def wet_bulb_stull(T: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], rh: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Wet-bulb temperature [K] at 101325 Pa by an empirical fit to T [K] and rh [0..1].
    
    rh 0.05..0.99 and -20..50 C but for cold and dry air; -1.0..+0.65 K by its own account, +1.2 K at 50 C.
    Stull 2011, doi:10.1175/JAMC-D-11-0143.1.
    """
