"""Air and water properties against independent libraries: psychrolib, CoolProp and iapws."""
# ruff: noqa: N803, N806 -- T and P are the symbols of the functions under test

from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from wetspan import air, water

Array = npt.NDArray[np.float64]

ZERO_CELSIUS = 273.15


class States:
    """Random greenhouse air: -5..50 C, 1..100 % relative humidity, 80..105 kPa."""

    def __init__(self, count: int = 300, seed: int = 1) -> None:
        random = np.random.default_rng(seed)
        self.t: Array = random.uniform(-5.0, 50.0, count)  # C
        self.T: Array = self.t + ZERO_CELSIUS
        self.rh: Array = random.uniform(0.01, 1.0, count)
        self.P: Array = random.uniform(80e3, 105e3, count)
        self.e: Array = air.vapour_pressure(self.rh, self.T)
        self.w: Array = air.humidity_ratio(self.e, self.P)
        self.wet_bulb: Array = air.wet_bulb(self.T, self.e, self.P)
        # Just above freezing a wet and an iced bulb can both solve the psychrometric equation, up to 0.8 K
        # apart; libraries differ in the one they return.
        iced_at_freezing = air.humidity_ratio_from_wet_bulb(self.T, np.nextafter(ZERO_CELSIUS, 0.0), self.P)
        self.two_wet_bulbs: npt.NDArray[np.bool_] = (self.wet_bulb >= ZERO_CELSIUS) & (
            iced_at_freezing > self.w
        )


@pytest.fixture(scope="module")
def states() -> States:
    return States()


def every(function: Any, *columns: Array) -> Array:
    """The values of a function of scalars."""
    return np.array([function(*row) for row in zip(*columns, strict=True)], dtype=float)


# The same formulas, coded by others: agreement to their rounding of constants and to their solver tolerance.


@pytest.fixture(scope="module")
def psychrolib() -> Any:
    library = pytest.importorskip("psychrolib")
    library.SetUnitSystem(library.SI)
    return library


def test_saturation_pressure_as_psychrolib(states: States, psychrolib: Any) -> None:
    warm_or_cold = (states.t < 0) | (states.t > 0.01)  # psychrolib stays on ice up to the triple point
    expected = every(psychrolib.GetSatVapPres, states.t[warm_or_cold])
    np.testing.assert_allclose(air.saturation_pressure(states.T[warm_or_cold]), expected, rtol=1e-13)


def test_humidity_ratio_as_psychrolib(states: States, psychrolib: Any) -> None:
    # 0.621945 there, 18.015268/28.966 here: 5e-7 apart.
    expected = every(psychrolib.GetHumRatioFromRelHum, states.t, states.rh, states.P)
    np.testing.assert_allclose(states.w, expected, rtol=1e-6)


def test_dew_point_as_psychrolib(states: States, psychrolib: Any) -> None:
    expected = every(psychrolib.GetTDewPointFromRelHum, states.t, states.rh) + ZERO_CELSIUS
    np.testing.assert_allclose(air.dew_point(states.e), expected, rtol=0, atol=1e-6)


def test_wet_bulb_as_psychrolib(states: States, psychrolib: Any) -> None:
    # psychrolib bisects to 1 mK.
    expected = every(psychrolib.GetTWetBulbFromRelHum, states.t, states.rh, states.P) + ZERO_CELSIUS
    one = ~states.two_wet_bulbs
    assert one.mean() > 0.9
    np.testing.assert_allclose(states.wet_bulb[one], expected[one], rtol=0, atol=1e-3)
    # Either root is a root: the humidity ratio rises by less than 0.01 per kelvin of wet bulb below 50 C.
    w = air.humidity_ratio_from_wet_bulb(states.T, expected, states.P)
    np.testing.assert_allclose(w, states.w, rtol=0, atol=1e-5)


def test_energy_and_density_as_psychrolib(states: States, psychrolib: Any) -> None:
    # Gas constant 287.042 J/(kg K) there and 8.314462618/0.028966 here: 5e-7 apart.
    enthalpy = every(psychrolib.GetMoistAirEnthalpy, states.t, states.w)
    volume = every(psychrolib.GetMoistAirVolume, states.t, states.w, states.P)
    density = every(psychrolib.GetMoistAirDensity, states.t, states.w, states.P)
    np.testing.assert_allclose(air.enthalpy(states.T, states.w), enthalpy, rtol=0, atol=1e-6)
    np.testing.assert_allclose(air.specific_volume(states.T, states.w, states.P), volume, rtol=1e-6)
    np.testing.assert_allclose(air.density(states.T, states.e, states.P), density, rtol=1e-6)


# Real moist air with virial coefficients, as in CoolProp: what the ideal gas leaves out.


@pytest.fixture(scope="module")
def real_air() -> Any:
    humid_air = pytest.importorskip("CoolProp.HumidAirProp")

    def real(output: str, T: Array, P: Array, rh: Array) -> Array:
        return every(lambda T, P, rh: humid_air.HAPropsSI(output, "T", T, "P", P, "R", rh), T, P, rh)

    return real


def test_humidity_against_real_moist_air(states: States, real_air: Any) -> None:
    # The enhancement factor of saturation is 1.004 to 1.006 at these pressures and left out here.
    real = real_air("W", states.T, states.P, states.rh)
    assert np.all(states.w < real)
    np.testing.assert_allclose(states.w, real, rtol=6.5e-3)


def test_dew_point_against_real_moist_air(states: States, real_air: Any) -> None:
    real = real_air("D", states.T, states.P, states.rh)
    np.testing.assert_allclose(air.dew_point(states.e), real, rtol=0, atol=0.02)


def test_wet_bulb_against_real_moist_air(states: States, real_air: Any) -> None:
    # The enhancement factor is worth 0.03 K of wet bulb.
    real = real_air("B", states.T, states.P, states.rh)
    one = ~states.two_wet_bulbs
    np.testing.assert_allclose(states.wet_bulb[one], real[one], rtol=0, atol=0.04)


def test_density_against_real_moist_air(states: States, real_air: Any) -> None:
    # Compressibility of air: 7e-4 at most.
    real = (1 + states.w) / real_air("V", states.T, states.P, states.rh)
    np.testing.assert_allclose(air.density(states.T, states.e, states.P), real, rtol=1e-3)


def test_enthalpy_against_real_moist_air(states: States, real_air: Any) -> None:
    # The missing vapour of the enhancement factor is 0.6 % of the latent part, 2.5 MJ per kg of vapour;
    # constant specific heats add 0.1 kJ/kg.
    real = real_air("H", states.T, states.P, states.rh)
    error = np.abs(air.enthalpy(states.T, states.w) - real)
    assert np.all(error < 100.0 + 0.006 * 2.5e6 * states.w)


def test_specific_heat_against_real_moist_air(states: States, real_air: Any) -> None:
    # Vapour near saturation is a real gas, with a specific heat above 1860 J/(kg K).
    real = real_air("Cha", states.T, states.P, states.rh)
    np.testing.assert_allclose(air.specific_heat(states.w), real, rtol=8e-3)


def test_transport_of_dry_air_against_the_full_correlation(states: States, real_air: Any) -> None:
    # Lemmon & Jacobsen with its density terms, which the dilute-gas limit leaves out, 0.15 % at 1 bar.
    dry = np.zeros_like(states.T)
    viscosity = real_air("M", states.T, states.P, dry)
    conductivity = real_air("K", states.T, states.P, dry)
    np.testing.assert_allclose(air.dynamic_viscosity(states.T), viscosity, rtol=1e-3)
    np.testing.assert_allclose(air.thermal_conductivity(states.T), conductivity, rtol=1.6e-3)


def test_transport_of_humid_air_is_off_by_what_vapour_is_worth(states: States, real_air: Any) -> None:
    # Half of the mole fraction of vapour bounds the change of viscosity, a fifth that of conductivity.
    vapour = states.e / states.P
    viscosity = real_air("M", states.T, states.P, states.rh)
    conductivity = real_air("K", states.T, states.P, states.rh)
    assert np.all(np.abs(air.dynamic_viscosity(states.T) / viscosity - 1) < 1e-3 + vapour / 2)
    assert np.all(np.abs(air.thermal_conductivity(states.T) / conductivity - 1) < 1.6e-3 + vapour / 5)


# Water over 1..40 C against the IAPWS-95 equation of state, inside what each correlation claims.


@pytest.fixture(scope="module")
def iapws() -> Any:
    return pytest.importorskip("iapws")


@pytest.fixture(scope="module")
def water_temperatures() -> Array:
    return ZERO_CELSIUS + np.linspace(1.0, 40.0, 14)


def test_liquid_water_against_iapws(water_temperatures: Array, iapws: Any) -> None:
    T = water_temperatures
    liquid = [iapws.IAPWS95(T=x, P=0.101325) for x in T]
    np.testing.assert_allclose(water.density(T), [x.rho for x in liquid], rtol=5e-6)
    np.testing.assert_allclose(water.dynamic_viscosity(T), [x.mu for x in liquid], rtol=2e-5)
    np.testing.assert_allclose(water.specific_heat(T), [1e3 * x.cp for x in liquid], rtol=1e-4)
    np.testing.assert_allclose(water.thermal_conductivity(T), [x.k for x in liquid], rtol=1e-4)


def test_saturated_water_against_iapws(water_temperatures: Array, iapws: Any) -> None:
    T = water_temperatures
    liquid, vapour = ([iapws.IAPWS95(T=x, x=quality) for x in T] for quality in (0, 1))
    np.testing.assert_allclose(water.saturation_pressure(T), [1e6 * x.P for x in liquid], rtol=1e-4)
    np.testing.assert_allclose(water.saturated_liquid_density(T), [x.rho for x in liquid], rtol=1e-5)
    np.testing.assert_allclose(water.saturated_vapour_density(T), [x.rho for x in vapour], rtol=2e-4)
    np.testing.assert_allclose(water.surface_tension(T), [x.sigma for x in liquid], rtol=1e-12)
    latent_heat = [1e3 * (v.h - x.h) for v, x in zip(vapour, liquid, strict=True)]
    np.testing.assert_allclose(water.latent_heat(T), latent_heat, rtol=2e-4)
    # Hyland & Wexler, as used for the air, is a different fit to older data.
    np.testing.assert_allclose(air.saturation_pressure(T), [1e6 * x.P for x in liquid], rtol=3e-4)


# The Python face: numbers and arrays, keywords, errors, documentation.


def test_scalars_give_floats_and_arrays_broadcast() -> None:
    assert isinstance(air.saturation_pressure(300), float)
    grid = air.vapour_pressure(rh=np.array([[0.2], [0.8]]), T=np.array([280.0, 290.0, 300.0]))
    assert grid.shape == (2, 3)
    assert grid[1, 2] == air.vapour_pressure(0.8, 300.0)


def test_the_vapour_diffusivity_fit_can_be_chosen() -> None:
    fits = air.VapourDiffusivity
    T, P = np.array([283.15, 303.15]), 95e3
    np.testing.assert_array_equal(air.vapour_diffusivity(T, P), air.vapour_diffusivity_massman(T, P))
    other = air.vapour_diffusivity(T, P, choice=fits.marrero_mason)
    np.testing.assert_array_equal(other, air.vapour_diffusivity_marrero_mason(T, P))
    assert np.all(air.schmidt(T, 1000.0, P, choice=fits.marrero_mason) > air.schmidt(T, 1000.0, P))


def test_viscosity_of_water_takes_a_density() -> None:
    T = 298.15
    assert water.dynamic_viscosity(T) == water.dynamic_viscosity(T, rho=water.density(T))


@pytest.mark.parametrize("e", [0.0, -1.0, float("nan"), float("inf")])
def test_dew_point_refuses_impossible_vapour_pressure(e: float) -> None:
    with pytest.raises(ValueError, match="dew point: vapour pressure e = "):
        air.dew_point(np.array([1000.0, e]))


def test_wet_bulb_says_what_is_wrong() -> None:
    with pytest.raises(ValueError, match="air temperature T = 25 K is outside"):
        air.wet_bulb(T=25.0, e=1000.0, P=101325.0)
    with pytest.raises(ValueError, match=r"vapour pressure e = 5000 Pa is outside 0\.\.3169"):
        air.wet_bulb(T=298.15, e=5000.0, P=101325.0)


@pytest.mark.parametrize("module", [air, water])
def test_every_function_states_its_unit(module: Any) -> None:
    functions = [getattr(module, name) for name in dir(module) if not name.startswith("_")]
    functions = [function for function in functions if callable(function) and not isinstance(function, type)]
    assert functions
    for function in functions:
        assert "[" in function.__doc__.split("\n\n", 1)[1], function.__name__
