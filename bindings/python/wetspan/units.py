"""Units at the door: text and pint quantities become floats in the unit of the table, and back."""

from __future__ import annotations

import re
from typing import Any, TypeAlias

import numpy as np
import pint

from wetspan import _core
from wetspan.errors import InputError, nearest

#: One registry for all: pint's application registry.
registry: pint.UnitRegistry[Any] = pint.get_application_registry()
Quantity: TypeAlias = "pint.Quantity[Any]"

_NUMBER = re.compile(r"\s*([-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*$", re.DOTALL)
#: How units are written every day, and how pint reads them.
_EVERYDAY = (
    ("%", " percent"),
    (r"\bper\b", "/"),
    (r"(?i)\bfl(?:uid)?[\s._]*(?:oz|ounces?)\b", "fluid_ounce"),
    (r"(?i)\bsq(?:uare)?[\s.]*(ft|feet|foot|in|inch|yd|cm|m)\b", r"\1^2"),
    (r"(?<=[A-Za-z])([23])\b", r"^\1"),
    (r"^([^()]*)/([^()/]*)$", r"\1/(\2)"),  # "qt / 100 ft^2" is per 100 ft^2
    (r"^\s*/", "1/"),
)
#: What degrees are read as where their sign is left out.
_NO_DEGREES = {"degF": ("F", "f", "farad"), "degC": ("C", "c", "coulomb", "speed_of_light")}
_SWITCH = {"true": 1.0, "yes": 1.0, "on": 1.0, "false": 0.0, "no": 0.0, "off": 0.0}
_TEMPERATURES = ("K", "delta_degC")
_WANTED = {
    "1": "a plain number or a percentage",
    "K": "a temperature, such as '24 degC'",
    "delta_degC": "a difference of temperature, such as '2 delta_degC'",
    "m": "a length or a volume per area, such as '2 qt / (100 ft^2)' or '0.2 mm'",
    "s": "a time, such as '48 hour'",
}


def value_in_si(row: _core.Parameter, given: object, *, bare: bool = True) -> float:
    """Return `given` in the unit of the table's row.

    Text carries its unit ("24 degC", "2 qt / (100 ft^2)", "60 percent"), as does a pint quantity; "ppm" in
    water is mg/L. A bare number is in the row's SI unit; with `bare=False` only dimensionless rows take one.
    A choice is given by its name. Bounds are not checked here.
    """
    if isinstance(given, np.generic):
        given = given.item()
    if row.kind == "choice":
        return _choice(row, given)
    if row.kind == "toggle":
        return _toggle(row, given)
    if isinstance(given, bool) or given is None:
        raise InputError(f"{row.key} = {given!r} is not a number")
    if isinstance(given, str):
        return _in_si(row, _from_text(row, given), repr(given))
    if isinstance(given, pint.Quantity):
        return _in_si(row, given, str(given))
    try:
        value = float(given)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        raise InputError(f"{row.key} = {given!r} is not a number, a text with a unit or a quantity") from None
    if not bare and row.unit != "1":
        raise InputError(
            f"{row.key} = {given!r} has no unit; write it as text, such as {show(row, row.standard)!r}"
        )
    return value


def shown(row: _core.Parameter, value: float) -> float | str | bool:
    """Return a value of the table in the unit people are shown, to 12 digits; a choice by its name."""
    if row.kind == "choice":
        return row.choices[int(value)]
    if row.kind == "toggle":
        return bool(value)
    if row.kind == "count":
        return int(value)
    return float(f"{convert(value, row.unit, row.shown):.12g}")  # without traces of the conversion


def show(row: _core.Parameter, value: float) -> str:
    """Return a value as people read it, such as '24 degC', to four digits; a choice by its name."""
    if row.kind in ("choice", "toggle"):
        return str(shown(row, value)).lower()
    return with_unit(
        f"{float(f'{convert(value, row.unit, row.shown):.4g}'):g}", re.sub("^1/", "per ", row.shown)
    )


def bounded(name: str, row: _core.Parameter, given: object) -> float:
    """Return a value in the table's SI unit, refused outside the row's bounds."""
    value = value_in_si(row, given)
    if row.low <= value <= row.high:
        return value
    raise outside(name, row, given)


def outside(name: str, row: _core.Parameter, given: object) -> InputError:
    """Return the refusal of a value outside its row's bounds, which are told in the unit that was given."""
    if isinstance(given, str):
        said, unit = repr(given), unit_of(given)
    elif isinstance(given, pint.Quantity):
        said, unit = str(given), row.shown
    else:
        said, unit = with_unit(str(given), row.unit), row.unit
    zero, one = (value_in_si(row, f"{number} {unit}".removesuffix(" 1")) for number in (0, 1))
    low, high = (round((bound - zero) / (one - zero), 12) for bound in (row.low, row.high))
    allowed = " to ".join(with_unit(f"{float(f'{bound:.5g}'):g}", unit) for bound in (low, high))
    return InputError(f"{name} = {said} is outside what is allowed, {allowed}")


def unit_of(text: str) -> str:
    """Return the unit of a text such as '24 degC'; "" where there is none."""
    match = _NUMBER.match(text)
    return "" if match is None else match[2]


def exact(row: _core.Parameter, value: float) -> str:
    """Return a value as text that reads back to it, with few digits; a choice by its name."""
    if row.kind != "number":
        return show(row, value)
    texts = [
        text
        for unit in (row.shown, row.unit)
        for digits in (6, 15, 17)
        if value_in_si(row, text := with_unit(f"{convert(value, row.unit, unit):.{digits}g}", unit)) == value
    ]
    return min(texts, key=lambda text: len(text.split()[0]))  # SI to 17 digits always reads back


def convert(value: float, unit: str, to: str) -> float:
    """Return `value` of one unit in another; names as in the tables."""
    return value if unit == to else float(_quantity(value, unit).to(to).magnitude)


def degrees_meant(unit: str) -> str:
    """Return "did you mean 'degF'?" for degrees written as F, which is farad, and the like, or ""."""
    bare = re.sub(r"deg(rees?)?|°|[*\s]", "", unit)
    return "".join(f"did you mean '{degrees}'?" for degrees, read in _NO_DEGREES.items() if bare in read)


def with_unit(number: str, unit: str) -> str:
    """Return a number, or a text that ends in one, with its unit; a share has none."""
    return number if unit in ("", "1") else f"{number} {unit}"


def _quantity(number: float, unit: str) -> Quantity:
    """Return a number of a unit, which may have numbers in it itself, such as "qt / (100 ft^2)"."""
    try:
        return registry.Quantity(number, unit)
    except ValueError:
        quantity: Quantity = number * registry.parse_expression(unit)
        return quantity


def _from_text(row: _core.Parameter, text: str) -> Quantity:
    match = _NUMBER.match(text)
    if match is None:
        raise InputError(f"{row.key} = {text!r} does not begin with a number")
    unit = match[2]
    if unit.startswith(","):
        raise InputError(f"{row.key} = {text!r}: write decimals with a point, thousands without a comma")
    if not unit and row.unit != "1":
        raise InputError(f"{row.key} = {text!r} has no unit; write for example {show(row, row.standard)!r}")
    for everyday, written in _EVERYDAY:
        unit = re.sub(everyday, written, unit)
    if re.search(r"\d\s*(\^|\*\*)", unit):  # a power of a number may never end
        raise InputError(f"{row.key} = {text!r}: the unit cannot be read")
    try:
        return _quantity(float(match[1]), unit)
    except pint.UndefinedUnitError as error:
        names = ", ".join(error.unit_names)
        hint = degrees_meant(unit) if row.unit in _TEMPERATURES else ""
        hint = hint or nearest(names, [row.shown, row.unit]) or f"the usual one is {row.shown}"
        raise InputError(f"{row.key} = {text!r}: there is no unit '{names}'; {hint}") from None
    except Exception:  # whatever parsing raises inside pint and its tokenizer
        raise InputError(f"{row.key} = {text!r}: the unit cannot be read") from None


def _in_si(row: _core.Parameter, given: Quantity, said: str) -> float:
    try:
        if row.unit == "delta_degC":  # "2 degC" of a difference is a difference
            given = given - type(given)(0.0, given.units)
        if row.unit == "kg/m^3" and str(given.units) == "ppm":
            given = registry.Quantity(given.magnitude, "mg/L")
        return float(given.to(row.unit).magnitude)  # by name: the quantity may belong to another registry
    except pint.DimensionalityError:
        wanted = _WANTED.get(row.unit, f"a value such as {show(row, row.standard)!r}")
        hint = degrees_meant(str(given.units)) if row.unit in _TEMPERATURES else ""
        told = f"{row.key} = {said} has the wrong dimension; it is {wanted}"
        raise InputError(f"{told}; {hint}" if hint else told) from None
    except pint.OffsetUnitCalculusError:
        raise InputError(f"{row.key} = {said}: degrees with an offset cannot stand in a product") from None
    except TypeError:
        raise InputError(f"{row.key} = {said} is not a single number") from None


def _choice(row: _core.Parameter, given: object) -> float:
    if isinstance(given, str) and given in row.choices:
        return float(row.choices.index(given))
    if isinstance(given, (int, float)) and not isinstance(given, bool) and given in range(len(row.choices)):
        return float(given)
    hint = nearest(given, row.choices) if isinstance(given, str) else ""
    allowed = " or ".join(repr(name) for name in row.choices)
    raise InputError(f"{row.key} = {given!r} is not {allowed}" + (f"; {hint}" if hint else ""))


def _toggle(row: _core.Parameter, given: object) -> float:
    if isinstance(given, str) and given.lower() in _SWITCH:
        return _SWITCH[given.lower()]
    if isinstance(given, (bool, int, float)) and given in (0, 1):
        return float(given)
    raise InputError(f"{row.key} = {given!r} is neither true nor false")
