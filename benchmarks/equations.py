"""The events of the benchmark and the correlations of their equations, for the rivals written in Python.

The same as event.hpp and equations.hpp; the correlations and their sources are in the headers of the library.
Every correlation takes numbers: numba, if there, compiles it into what calls it; Python calls it as it is.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Function = TypeVar("Function", bound=Callable[..., object])


def correlation(function: Function) -> Function:
    """Let numba, where it is installed, compile a function into what calls it."""
    try:
        from numba.extending import register_jitable
    except ImportError:
        return function
    register_jitable(error_model="numpy")(function)
    return function


LAYERS, UPPER, LOWER, ROWS = 2, 16, 8, 145
SURFACES = 3  # of a layer: upper and lower side of its leaves, stems
PER_LAYER = UPPER + LOWER
CLASSES = LAYERS * PER_LAYER
ROW_SPACING = 300.0  # s
DRIED = 1e-3  # share of its water at which a class counts as dried out
WARMTH_UNIT = 10.0  # K
LONGEST_STEP = 600.0  # s
ABSOLUTE_SHARE = 0.1  # absolute over relative tolerance

# Entries of the state: each of order one.
HOUSE_HEAT, HOUSE_VAPOUR, BENCH_LEFT, WARMTH = range(4)
STEM_LEFT = WARMTH + LAYERS
TAKEN = STEM_LEFT + LAYERS  # -ln of what is left in liquid, of that which has not dried; by surface
FIRST_CLASS = TAKEN + SURFACES * LAYERS
STATE = FIRST_CLASS + CLASSES

_SPRAY = 7 + LAYERS * (2 + SURFACES) + 2 * LAYERS * UPPER  # doubles that only the library reads


class Event(NamedTuple):
    """One spray on its way from landed to dry; see event.hpp for the meaning of each."""

    speed: float
    start: float
    last: float
    base_temperature: float
    water_density: float
    came: float
    house_vapour: float
    sprayed_share: float
    house_height: float
    cover_conductance: float
    heat_loss: float
    house_heat_capacity: float
    stem_diameter: float
    bench_area: float
    bench_water: float
    bench_conductance: float
    leaf_width: float
    turbulence: float
    absorptance: float
    emissivity: float
    dry_heat_capacity: float
    water_heat: float
    stomatal_conductance: float
    stomatal_half_light: float
    fullness: float
    receding_share: float
    receding_factor: float
    permeance: float
    activation_energy: float
    most_dissolved: float
    solubility_enthalpy: float
    stem_cuticle: float
    dry_water: float
    air_speed: Array
    area: Array
    light: Array
    view_above: Array
    view_below: Array
    stem_area: Array
    stem_water: Array
    stem_light: Array
    active: Array
    warmth: Array
    landed: Array
    number: Array
    radius: Array
    air: Array  # rows of temperature, vapour pressure, pressure, shortwave, radiant temperature, air changes


_SHAPES: dict[str, tuple[int, ...]] = {
    **dict.fromkeys(
        (
            "air_speed",
            "area",
            "light",
            "view_above",
            "view_below",
            "stem_area",
            "stem_water",
            "stem_light",
            "warmth",
        ),
        (LAYERS,),
    ),
    "active": (LAYERS, SURFACES),
    **dict.fromkeys(("landed", "number", "radius"), (CLASSES,)),
    "air": (ROWS, 6),
}
_RECORD = np.dtype(
    [("spray", "<f8", (_SPRAY,))]
    + [(name, "<f8", _SHAPES.get(name, ())) for name in Event._fields if name != "speed"]
)
_SPEED = 4  # in the spray's part


def read_events(path: Path, count: int) -> Iterator[Event]:
    """Yield the first `count` events of a file."""
    for record in np.fromfile(path, dtype=_RECORD, count=count):
        fields = [record["spray"][_SPEED], *(record[name] for name in Event._fields[1:])]
        values: list[Any] = [value.copy() if value.ndim else float(value) for value in fields]
        yield Event(*values)


def initial_state(event: Event) -> Array:
    """Return what the integration starts from."""
    y = np.zeros(STATE)
    y[HOUSE_VAPOUR] = event.house_vapour
    y[BENCH_LEFT] = 1.0
    y[WARMTH:STEM_LEFT] = event.warmth
    y[STEM_LEFT:TAKEN] = 1.0
    y[FIRST_CLASS:] = 1.0
    return y


# --- correlations -----------------------------------------------------------------------------------------

GAS = 8.314462618
MOLAR_WATER, MOLAR_AIR = 18.015268e-3, 28.966e-3
MASS_RATIO = MOLAR_WATER / MOLAR_AIR
WATER_GAS = GAS / MOLAR_WATER
GRAVITY = 9.80665
STEFAN_BOLTZMANN = 5.670374419e-8

# cos(theta/2) f(theta) in powers of 2 theta/pi - 1
EVAPORATION = (
    1.41421356237,
    -1.60632320327e-08,
    -0.0913311165472,
    0.0611501684473,
    0.00880747755774,
    -0.00397156955907,
    -0.00175042237645,
    -0.000648353365204,
    -0.000227050656142,
    -6.59997458937e-05,
    2.86488391337e-05,
    6.31796437973e-05,
    2.58563349991e-05,
)


@correlation
def saturation(temperature: float) -> tuple[float, float]:
    """Return the saturation vapour pressure [Pa] and its slope [Pa/K]."""
    t = temperature
    if t < 273.15:
        c1, c2, c3, c4 = -5.6745359e3, 6.3925247, -9.6778430e-3, 6.2215701e-7
        c5, c6, c7 = 2.0747825e-9, -9.4840240e-13, 4.1635019
    else:
        c1, c2, c3, c4 = -5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5
        c5, c6, c7 = -1.4452093e-8, 0.0, 6.5459673
    p = math.exp(c1 / t + c2 + t * (c3 + t * (c4 + t * (c5 + t * c6))) + c7 * math.log(t))
    return p, p * (-c1 / (t * t) + c3 + t * (2 * c4 + t * (3 * c5 + t * 4 * c6)) + c7 / t)


@correlation
def latent_heat(temperature: float) -> float:
    """Return the latent heat of evaporation [J/kg]."""
    tau = 1.0 - temperature / 647.096
    root, tau2 = math.sqrt(tau), tau * tau
    tau6 = tau2 * tau2 * tau2
    total = tau * (
        -7.85951783
        + root * 1.84408259
        + tau2 * (-11.7866497 + root * 22.6807411 + tau * -15.9618719)
        + tau6 * root * 1.80122502
    )
    slope_sum = (
        -7.85951783
        + 1.5 * 1.84408259 * root
        + tau2 * (3.0 * -11.7866497 + 3.5 * 22.6807411 * root + 4.0 * -15.9618719 * tau)
        + 7.5 * 1.80122502 * tau6 * root
    )
    log_pressure = 647.096 / temperature * total
    slope = -22.064e6 * math.exp(log_pressure) * (log_pressure + slope_sum) / temperature
    c = math.pow(tau, 1.0 / 3.0)
    c2 = c * c
    c4 = c2 * c2
    c8 = c4 * c4
    c16 = c8 * c8
    c32 = c16 * c16
    liquid = 322.0 * (
        1.0
        + 1.99274064 * c
        + 1.09965342 * c2
        - 0.510839303 * c4 * c
        - 1.75493479 * c16
        - 45.5170352 * c32 * c8 * c2 * c
        - 6.74694450e5 * c32 * c32 * c32 * c8 * c4 * c2
    )
    s = math.sqrt(c)
    vapour = 322.0 * math.exp(
        -2.03150240 * c
        - 2.68302940 * c2
        - 5.38626492 * c4
        - 17.2991605 * c8 * c
        - 44.7586581 * c16 * c2 * s
        - 63.9201063 * c32 * c2 * c * s
    )
    return temperature * slope * (1.0 / vapour - 1.0 / liquid)


@correlation
def air_density(temperature: float, vapour_pressure: float, pressure: float) -> float:
    """Return the density of moist air [kg/m3]."""
    return ((pressure - vapour_pressure) * MOLAR_AIR + vapour_pressure * MOLAR_WATER) / (GAS * temperature)


@correlation
def specific_heat(vapour_pressure: float, pressure: float) -> float:
    """Return the specific heat of moist air [J/kg/K]."""
    w = MASS_RATIO * vapour_pressure / (pressure - vapour_pressure)
    return (1006.0 + 1860.0 * w) / (1.0 + w)


@correlation
def virtual_temperature(temperature: float, vapour_pressure: float, pressure: float) -> float:
    """Return the temperature of dry air as dense as the moist air [K]."""
    return temperature / (1.0 - (1.0 - MASS_RATIO) * vapour_pressure / pressure)


@correlation
def film(
    temperature: float, vapour_pressure: float, pressure: float
) -> tuple[float, float, float, float, float, float]:
    """Return what turns Nusselt numbers into conductances.

    Viscosity, conductivity, diffusivities of heat and vapour, Prandtl number, and the vapour's own
    diffusivity times (Sc/Pr)^(1/3).
    """
    x = math.log(temperature / 103.3)
    omega = math.exp(0.431 + x * (-0.4623 + x * (0.08406 + x * (0.005341 + x * -0.00331))))
    dynamic = 0.0266958e-6 * math.sqrt(28.9586 * temperature) / (0.360 * 0.360 * omega)
    theta = temperature / 132.6312
    density = air_density(temperature, vapour_pressure, pressure)
    conductivity = 1e-3 * (1.308e6 * dynamic + 1.405 * theta**1.1 - 1.036 * theta**0.3)
    viscosity = dynamic / density
    heat = conductivity / (density * specific_heat(vapour_pressure, pressure))
    vapour = 2.178e-5 * (temperature / 273.15) ** 1.81 * 101325.0 / pressure
    return viscosity, conductivity, heat, vapour, viscosity / heat, (heat / vapour) ** (1.0 / 3.0) * vapour


@correlation
def leaf_nusselt(
    event: Event,
    speed: float,
    leaf: float,
    surface: float,
    air: float,
    vapour_pressure: float,
    pressure: float,
    viscosity: float,
    heat_diffusivity: float,
    prandtl: float,
) -> tuple[float, float]:
    """Return the Nusselt numbers of the upper and the lower side of a leaf."""
    length = 0.72 * event.leaf_width
    forced = 0.664 * event.turbulence * math.sqrt(speed * length / viscosity) * prandtl ** (1.0 / 3.0)
    lighter = virtual_temperature(leaf, surface, pressure) - virtual_temperature(
        air, vapour_pressure, pressure
    )
    rayleigh = GRAVITY * abs(lighter) / (0.5 * (leaf + air)) * length**3 / (viscosity * heat_diffusivity)
    buoyant = rayleigh**0.25
    return (
        mixed(forced, (0.54 if lighter > 0.0 else 0.27) * buoyant),
        mixed(forced, (0.54 if lighter < 0.0 else 0.27) * buoyant),
    )


@correlation
def mixed(forced: float, free: float) -> float:
    """Return the Nusselt number of mixed convection."""
    larger = max(forced, free)
    ratio = min(forced, free) / larger
    return larger * math.pow(1.0 + ratio * ratio * ratio * math.sqrt(ratio), 1.0 / 3.5)


@correlation
def stem_nusselt(event: Event, speed: float, viscosity: float, prandtl: float) -> float:
    """Return the Nusselt number of a stem across the air flow."""
    reynolds = speed * event.stem_diameter / viscosity
    laminar = (
        0.62
        * math.sqrt(reynolds)
        * math.pow(prandtl, 1.0 / 3.0)
        / math.pow(1.0 + math.pow(0.16 / (prandtl * prandtl), 1.0 / 3.0), 0.25)
    )
    return 0.3 + laminar * math.pow(1.0 + math.pow(reynolds / 282e3, 0.625), 0.8)


@correlation
def arrhenius(energy: float, temperature: float, reference: float) -> float:
    """Return exp(-E/R (1/T - 1/T_ref))."""
    return math.exp(-energy / GAS * (1.0 / temperature - 1.0 / reference))


@correlation
def film_share(left: float) -> float:
    """Return the wet share of a film that has this share of its water left."""
    return min(1.0, math.pow(left, 2.0 / 3.0)) if left > 0.0 else 0.0


@correlation
def stomata_in_series(event: Event, sun: float, bare: float, through: float) -> float:
    """Return the conductance of the bare part of the lower side for vapour from within [m/s]."""
    stomata = event.stomatal_conductance * sun / (sun + event.stomatal_half_light) * bare
    return stomata * through / (stomata + through) if stomata > 0.0 else 0.0


@correlation
def longwave(event: Event, above: float, below: float, leaf: float, air: float, radiant: float) -> float:
    """Return the net longwave gain of a leaf [W/m2]."""
    own = leaf**4
    return event.emissivity * STEFAN_BOLTZMANN * (above * (radiant**4 - own) + below * (air**4 - own))


@correlation
def uptake(
    event: Event,
    cuticle: float,
    temperature: float,
    fresh: float,
    before: float,
    part: float,
    wet_area: float,
    water: float,
) -> float:
    """Return the rate of uptake over what liquid holds [1/s]; `part` of what came has not dried."""
    if part <= 0.0 or water <= 0.0:
        return 0.0
    through = cuticle * event.permeance * arrhenius(event.activation_energy, temperature, 298.15)
    most = event.most_dissolved * arrhenius(event.solubility_enthalpy, temperature, 293.15)
    mass = fresh * math.exp(-before) * part
    return through * wet_area * (1.0 / water if mass < most * water else most / mass)


@correlation
def house_rates(
    event: Event,
    source: float,
    latent: float,
    to_heat: float,
    vapour: float,
    added: float,
    share: float,
    heat: float,
    radiant: float,
    air_changes: float,
) -> tuple[float, float]:
    """Return the rates of the house's heat and vapour; `share` is the vapour added, `heat` the heat."""
    cover = saturation(radiant)[0] / (WATER_GAS * radiant)
    total = event.came * event.water_density
    condensed = (
        event.cover_conductance
        / event.sprayed_share
        / total
        * (max(0.0, vapour - cover) - max(0.0, vapour - added - cover))
    )
    loss = event.heat_loss + air_changes * event.house_height * to_heat
    return (
        (-latent * source * event.sprayed_share / WARMTH_UNIT - loss * heat) / event.house_heat_capacity,
        source / total - air_changes * share - condensed,
    )


@correlation
def bench_rate(
    event: Event, air: float, vapour: float, latent: float, to_heat: float, wet_share: float
) -> float:
    """Return the evaporation from the bench [kg per m2 of bench and s]."""
    deficit, slope = air_deficit(air, vapour)
    through = event.bench_conductance
    heat = through * to_heat
    return event.bench_area * wet_share * through * deficit * heat / (heat + latent * through * slope)


@correlation
def air_deficit(air: float, vapour: float) -> tuple[float, float]:
    """Return what air lacks to saturation [kg/m3], and the slope of that with temperature."""
    saturated_pressure, slope_pressure = saturation(air)
    saturated = saturated_pressure / (WATER_GAS * air)
    return saturated - vapour, (slope_pressure / WATER_GAS - saturated) / air


@correlation
def stems_rate(
    event: Event,
    speed: float,
    area: float,
    absorbed: float,
    air: float,
    vapour_pressure: float,
    vapour: float,
    pressure: float,
    latent: float,
    wet_share: float,
) -> float:
    """Return the evaporation from a layer's stems [kg per m2 of bench and s]."""
    deficit, slope = air_deficit(air, vapour)
    viscosity, conductivity, _, _, prandtl, vapour_part = film(air, vapour_pressure, pressure)
    nusselt = stem_nusselt(event, speed, viscosity, prandtl) / event.stem_diameter
    heat, through = nusselt * conductivity, nusselt * vapour_part
    gives = through * (deficit * heat + slope * absorbed) / (heat + latent * through * slope)
    return area * wet_share * gives
