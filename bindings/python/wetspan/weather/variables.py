"""What a record holds: its variables with units and bounds, and the place it was taken at."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from wetspan.errors import InputError, nearest
from wetspan.unit_shown import inward, with_unit
from wetspan.unit_text import read_unit
from wetspan.units import degrees_meant, in_si, read_as
from wetspan.weather.clock import Array

LABELS = ("start", "middle", "end", "instant")
WHAT_IS_A_STAMP = (
    "what is a stamp? Give label='instant' for readings, label='start', label='middle' or label='end' for "
    "where it stands in the time that a mean is of"
)
EXPOSURES = ("outdoor", "crop")
FORMATS = ("tmy2", "tmy3", "epw", "csv")


@dataclass(frozen=True)
class Variable:
    """One column of a record: names and unit under the CF conventions, bounds, units common in files."""

    standard_name: str
    long_name: str
    unit: str
    low: float
    high: float
    common_units: tuple[str, ...]


# The bounds are there to catch wrong units and missing-value codes. They lie a little outside what has been
# reported from the Earth's surface (-89 to 57 degC, 1084 hPa, a gust of 113 m/s, sunlight gathered by cloud
# edges above the solar constant of 1361 W/m2), from memory. Evidence grade D.
VARIABLES: Mapping[str, Variable] = {
    "temperature": Variable("air_temperature", "air temperature", "K", 183.15, 333.15, ("degC", "degF", "K")),
    "relative_humidity": Variable("relative_humidity", "relative humidity", "1", 0.0, 1.0, ("percent", "1")),
    "pressure": Variable("air_pressure", "air pressure", "Pa", 5e4, 1.1e5, ("Pa", "hPa", "kPa", "inHg")),
    "wind_speed": Variable("wind_speed", "wind speed", "m/s", 0.0, 120.0, ("m/s", "km/h", "mph")),
    "shortwave": Variable(
        standard_name="surface_downwelling_shortwave_flux_in_air",
        long_name="shortwave on the horizontal",
        unit="W/m^2",
        low=0.0,
        high=2000.0,
        common_units=("W/m^2", "kW/m^2", "umol/m^2/s", "foot-candle", "lux"),
    ),
}

#: Light that was measured as photons or as what the eye sees, converted as that of sun and sky. Lamps differ.
#: Thimijan RW, Heins RD 1983, HortScience 18:818-822, for sun and sky: 4.57 umol of photons of 400-700 nm per
#: joule of them, 54 lux per umol/m2/s (grade B). The joules of 400-700 nm in one of shortwave: annual means
#: of 0.409 to 0.477 over the globe, Akitsu et al. 2022 (abstract seen); 0.45 is usual (grade B).
PHOTONS_PER_JOULE, LUX_PER_PHOTONS, PAR_IN_SHORTWAVE = 4.57, 54.0, 0.45
_LUX_PER_FOOT_CANDLE = 1.0 / 0.09290304  # a lumen per square foot, exact
_UMOL = PHOTONS_PER_JOULE * PAR_IN_SHORTWAVE  # umol/m2/s of photons in 1 W/m2 of shortwave
_EYE = {
    "lux": 1.0,
    "lx": 1.0,
    "lm/m2": 1.0,
    "lum/m2": 1.0,
    "klux": 1e3,
    "klx": 1e3,
} | dict.fromkeys(
    ("footcandle", "footcandles", "ftcandle", "ftcandles", "ftcd", "ftc", "fc", "lum/ft2", "lm/ft2"),
    _LUX_PER_FOOT_CANDLE,
)


@dataclass(frozen=True)
class Place:
    """Where a record was taken: name, latitude [degrees north], longitude [degrees east], altitude [m]."""

    name: str
    latitude: float | None = None
    longitude: float | None = None
    altitude: float | None = None

    def __post_init__(self) -> None:
        bounds = {"latitude": (-90.0, 90.0), "longitude": (-180.0, 180.0), "altitude": (-500.0, 6000.0)}
        for name, (low, high) in bounds.items():
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                raise InputError(f"{name} of '{self.name}' is {value}; allowed is {low:g} to {high:g}")

    def __str__(self) -> str:
        words = [self.name]
        if self.latitude is not None:
            words.append(f"{abs(self.latitude):.2f} {'N' if self.latitude >= 0 else 'S'}")
        if self.longitude is not None:
            words.append(f"{abs(self.longitude):.2f} {'E' if self.longitude >= 0 else 'W'}")
        if self.altitude is not None:
            words.append(f"{self.altitude:g} m")
        return ", ".join(words)


def short(text: str) -> str:
    """Return the first line of a text, cut to fit a message."""
    first = text.strip().split("\n", 1)[0]
    return first if len(first) <= 120 else first[:117] + "..."


def either(words: Iterable[str]) -> str:
    return " or ".join(f"'{word}'" for word in words)


def known(what: str, given: Iterable[str], allowed: Sequence[str]) -> None:
    for name in given:
        if name not in allowed:
            close = nearest(str(name), allowed)
            raise InputError(f"{what}: '{name}'; allowed is {', '.join(allowed)}; {close}".rstrip("; "))


def light_factor(unit: str) -> float | None:
    """Return the shortwave [W/m2] that one of a unit of photons or of illuminance stands for, else None."""
    bare = re.sub(r"[\s.\-_]+", "", unit.lower().replace("²", "2").replace("^", ""))
    if bare == "w/m2par":
        return 1.0 / PAR_IN_SHORTWAVE
    if bare in _EYE:
        return _EYE[bare] / LUX_PER_PHOTONS / _UMOL
    try:
        return float(in_si(np.ones(1), unit, "umol/m^2/s", "unit")[0]) / _UMOL
    except InputError:
        return None


def light_note(unit: str) -> str:
    """Return what is assumed where light in photons or illuminance is read as shortwave."""
    factor = light_factor(unit)
    assert factor is not None
    return (
        f"Light in {unit} is read as that of sun and sky, 1 W/m2 of shortwave for {1.0 / factor:.3g} {unit} "
        "(Thimijan and Heins 1983, with 45 % of shortwave between 400 and 700 nm; 41 to 48 % is found). It "
        "is wrong under lamps."
    )


def allowed(name: str, unit: str) -> str:
    """Return the bounds of a variable in a unit, as people read them."""
    rule = VARIABLES[name]
    bounds = np.array([rule.low, rule.high])
    factor = light_factor(unit) if name == "shortwave" else None
    low, high = in_si(bounds, rule.unit, unit, name) if factor is None else bounds / factor
    return with_unit(" to ".join(inward(low, high)), unit)


def convert(values: Array, unit: str, name: str) -> Array:
    rule = VARIABLES[name]
    factor = light_factor(unit) if name == "shortwave" else None
    if factor is not None:
        return values * factor
    try:
        if name == "relative_humidity" and read_as(name, unit, read_unit).unit not in ("", "percent"):
            raise InputError(f"{unit} is no share of saturation")  # such as g/kg
        return in_si(values, unit, rule.unit, f"units['{name}']")
    except InputError:
        hint = (degrees_meant(unit) if rule.unit == "K" else "") or nearest(unit, rule.common_units)
        told = f"units['{name}']: '{unit}' is not a unit of {rule.long_name}; allowed is one such as "
        raise InputError(f"{told}{either(rule.common_units)}; {hint}".rstrip("; ")) from None


def same_unit(unit: str, other: str, name: str) -> bool:
    """Return whether two units of a variable are one, however they are written."""
    ends = np.array([0.0, 1.0])
    return bool(np.allclose(convert(ends, unit, name), convert(ends, other, name)))
