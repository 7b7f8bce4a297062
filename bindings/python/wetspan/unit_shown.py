"""Values in the units that people are shown, as numbers and as text."""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, ROUND_FLOOR, Context
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from wetspan import _core
from wetspan.unit_registry import registry

if TYPE_CHECKING:
    import pint


#: Units whose zero is not nothing: how many digits stand before the point says nothing of how many count.
DEGREES = ("degC", "degF")


def shown(row: _core.Parameter, value: float) -> float | str | bool:
    """Return a value of the table in the unit people are shown, to 12 digits; a choice by its name."""
    if row.kind == "choice":
        return row.choices[int(value)]
    if row.kind == "toggle":
        return bool(value)
    if row.kind == "count":
        return int(value)
    return without_traces(value, row.unit, row.shown)


def without_traces(value: float, unit: str, to: str) -> float:
    """Return `value` of one unit in another, to 12 digits, without traces of the conversion."""
    return float(f"{convert(value, unit, to):.12g}")


def inward(low: float, high: float, *, digits: int = 5) -> tuple[str, str]:
    """Return bounds as text of a few digits, rounded inward: what is told as allowed is allowed."""
    rounded = (
        Context(prec=digits, rounding=way).create_decimal(f"{bound:.12g}")  # without traces of a conversion
        for bound, way in ((low, ROUND_CEILING), (high, ROUND_FLOOR))
    )
    first, last = (f"{float(bound):g}" for bound in rounded)
    return first, last


def readable(number: float, unit: str) -> str:
    """Return a number of a unit as text of at most four digits; of three where more digits come from a
    conversion of units: 3 bar is 43.5 psi, and 101.5 degF stays. A temperature has a tenth in any case: 38.7
    degC is 101.7 degF.
    """
    four = float(f"{number:.4g}")
    if math.isclose(four, number, rel_tol=1e-9):
        return f"{four:g}"
    return f"{round(number, 1) if unit in DEGREES else float(f'{number:.3g}'):g}"


def show_allowed(row: _core.Parameter) -> str:
    """Return a row's bounds as people read them, such as '14 to 50 degC'."""
    low, high = inward(*(convert(bound, row.unit, row.shown) for bound in (row.low, row.high)), digits=4)
    return f"{low} to {with_unit(high, row.shown)}"


def show(row: _core.Parameter, value: float) -> str:
    """Return a value as people read it, such as '24 degC', to four digits; a choice by its name."""
    if row.kind in ("choice", "toggle"):
        return str(shown(row, value)).lower()
    return with_unit(f"{float(f'{convert(value, row.unit, row.shown):.4g}'):g}", row.shown)


def with_unit(number: str, unit: str) -> str:
    """Return a number, or a text that ends in one, with its unit; a share has none."""
    return number if unit in ("", "1") else f"{number} {spoken(unit)}"


def spoken(unit: str) -> str:
    """Return a unit as it stands after a number: "per hour" for "1/hour"."""
    return f"per {unit[2:]}" if unit.startswith("1/") else unit


def convert(value: float, unit: str, to: str) -> float:
    """Return `value` of one unit in another; names as in the tables."""
    if unit == to:
        return value
    return float(registry().Quantity(value, parsed(registry().get(), unit)).to(to).magnitude)


@lru_cache(maxsize=4096)
def parsed(registry: pint.UnitRegistry[Any], unit: str) -> pint.Unit:
    return registry.parse_units(unit)
