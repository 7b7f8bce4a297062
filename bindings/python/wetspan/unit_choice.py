"""The units that people are shown: metric ones, or those of the United States if a scenario file uses them.

A result is shown in the units of its scenario file, for example in qt per 100 ft2 together with degC. Each
family of units (liquid, temperature, ...) has the system that the file uses most for it; a family that does
not occur in the file has the system of the rest of the file. A `UnitChoice` belongs to a scenario and is kept
with its results, in the attribute `shown_in` of a Dataset, so that tables, sentences and pictures agree.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from wetspan import _core
from wetspan.errors import InputError, echo
from wetspan.unit_shown import DEGREES, convert, inward, readable, spoken, with_unit
from wetspan.unit_shown import show as show_metric
from wetspan.unit_shown import show_allowed as show_allowed_metric
from wetspan.unit_text import UnreadableError, read
from wetspan.units import in_si

#: Units of the trade in the United States by the metric ones they stand for, in families.
FAMILIES: Mapping[str, Mapping[str, str]] = {
    "liquid": {"L/m^2": "qt/100 ft2", "mL": "fl oz", "L": "qt", "L/min": "gal/min"},
    "temperature": {"degC": "degF", "delta_degC": "delta_degF"},
    "length": {"mm": "in", "cm": "in", "m": "ft"},
    "area": {"cm^2": "in2", "m^2": "ft2"},
    "density": {"1/m^2": "1/ft2"},
    "speed": {"m/s": "ft/min"},
    "pressure": {"bar": "psi"},
    "strength": {"mg/L": "ppm"},
}
_FAMILY = {metric: family for family, units in FAMILIES.items() for metric in units}
#: Names of units, as pint reads them, that only the United States' trade writes.
_US_NAMES = frozenset((
    "qt", "quart", "quarts", "gal", "gallon", "gallons", "fluid_ounce", "pt", "pint", "pints", "cup", "cups",
    "ft", "foot", "feet", "in", "inch", "inches", "yd", "yard", "yards", "acre", "acres", "mph",
    "degF", "delta_degF", "psi", "oz", "ounce", "ounces", "lb", "lbs", "pound", "pounds", "ppm",
))  # fmt: skip
#: The spoken form of metric units in tables, where it is not that of `unit_shown.with_unit`.
_PLAIN = {"L/m^2": "L/m2", "cm^2": "cm2", "m^2": "m2", "1/m^2": "1/m2"}


@dataclass(frozen=True)
class UnitChoice:
    """The families of units that are shown in the United States' units; the others are shown in metric."""

    us: frozenset[str] = frozenset()

    @classmethod
    def named(cls, name: str) -> UnitChoice:
        """Return the choice called "us" or "metric", or named by the families in US units."""
        if name in SYSTEMS:
            return SYSTEMS[name]
        families = frozenset(each.strip() for each in name.split(",")) if isinstance(name, str) else ()
        if not families or not set(families) <= set(FAMILIES):
            raise InputError(f"units = {echo(name)}; allowed are {' and '.join(map(repr, SYSTEMS))}")
        return cls(frozenset(families))

    @classmethod
    def of(cls, result: Any) -> UnitChoice:
        """Return the choice that travels with a Dataset or a table, in its attribute `shown_in`."""
        return cls.named(str(getattr(result, "attrs", result).get("shown_in", "metric")))

    @classmethod
    def spoken_by(cls, told: Iterable[tuple[_core.Parameter, object]]) -> UnitChoice:
        """Return the choice of inputs as they were written: rows of the table, each with its text."""
        votes: Counter[str] = Counter()
        for row, text in told:
            if row.shown not in _FAMILY or not isinstance(text, str):
                continue
            try:
                names = {each.partition("**")[0] for each in read(text).unit.split("*")}
            except UnreadableError:
                continue
            votes[_FAMILY[row.shown]] += 1 if names & _US_NAMES else -1
        spoken = (int(np.sign(vote)) for family, vote in votes.items() if family != "strength")
        others = sum(spoken) > 0  # ppm is said everywhere
        return cls(frozenset(each for each in FAMILIES if votes[each] > 0 or (others and not votes[each])))

    def __str__(self) -> str:
        return next((name for name, each in SYSTEMS.items() if each == self), ", ".join(sorted(self.us)))

    def unit(self, metric: str) -> str:
        """Return the unit that is shown in place of a metric one, as it is written after a number."""
        family = _FAMILY.get(metric)
        if family in self.us:
            return spoken(FAMILIES[family][metric])
        return spoken(_PLAIN.get(metric, metric))

    def number(self, value: Any, metric: str) -> Any:
        """Return a number, or an array, of a metric unit in the unit that is shown."""
        family = _FAMILY.get(metric)
        if family not in self.us:
            return value
        slope, start = _line(metric, FAMILIES[family][metric])
        return (value - start) / slope

    def text(self, value: float, metric: str, digits: int = 3) -> str:
        """Return a value of a metric unit as text with the unit that is shown, to some digits; a temperature
        to a tenth.
        """
        number = self.number(value, metric)
        rounded = round(number, 1) if metric in DEGREES else float(f"{number:.{digits}g}")
        return f"{rounded:g} {self.unit(metric)}"

    def show(self, row: _core.Parameter, value: float) -> str:
        """Return a value of the table [SI] as text, such as '75.2 degF', by `readable`."""
        if row.kind != "number":
            return show_metric(row, value)
        number, unit = self.number(convert(value, row.unit, row.shown), row.shown), row.shown
        if _FAMILY.get(unit) in self.us:
            unit = FAMILIES[_FAMILY[unit]][unit]
        return with_unit(readable(number, unit), unit)

    def show_allowed(self, row: _core.Parameter) -> str:
        """Return the bounds of a row of the table as text, such as '14 to 122 degF', to four digits."""
        if _FAMILY.get(row.shown) not in self.us:
            return show_allowed_metric(row)
        bounds = (
            self.number(convert(bound, row.unit, row.shown), row.shown) for bound in (row.low, row.high)
        )
        low, high = inward(*bounds, digits=4)
        return f"{low} to {with_unit(high, FAMILIES[_FAMILY[row.shown]][row.shown])}"


#: The two choices that have a name.
SYSTEMS: Mapping[str, UnitChoice] = {"metric": UnitChoice(), "us": UnitChoice(frozenset(FAMILIES))}
METRIC = SYSTEMS["metric"]


@lru_cache
def _line(metric: str, unit: str) -> tuple[float, float]:
    """Return what one of a unit comes to in a metric unit, and what none of it does."""
    if unit == "ppm":  # of what is dissolved in water the trade, and the reader, take it as mg/L
        return 1.0, 0.0
    start, one = in_si(np.array([0.0, 1.0]), unit, metric, "unit").tolist()
    return one - start, start
