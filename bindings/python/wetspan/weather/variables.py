"""What a record holds: its variables with units and bounds, and the place it was taken at."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from wetspan.errors import InputError, nearest
from wetspan.units import degrees_meant, in_si, with_unit
from wetspan.weather.clock import Array

LABELS = ("start", "middle", "end", "instant")
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
        common_units=("W/m^2", "kW/m^2"),
    ),
}


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


def allowed(name: str, unit: str) -> str:
    """Return the bounds of a variable in a unit, as people read them."""
    rule = VARIABLES[name]
    low, high = in_si(np.array([rule.low, rule.high]), rule.unit, unit, name)
    low, high = (f"{float(f'{bound:.5g}'):g}" for bound in (low, high))
    return with_unit(f"{low} to {high}", unit)


def convert(values: Array, unit: str, name: str) -> Array:
    rule = VARIABLES[name]
    try:
        return in_si(values, unit, rule.unit, f"units['{name}']")
    except InputError:
        hint = (degrees_meant(unit) if rule.unit == "K" else "") or nearest(unit, rule.common_units)
        told = f"units['{name}']: '{unit}' is not a unit of {rule.long_name}; allowed is one such as "
        raise InputError(f"{told}{either(rule.common_units)}; {hint}".rstrip("; ")) from None
