"""Units at the door: text and pint quantities become floats in the unit of the table, and back."""

from __future__ import annotations

import re
from functools import lru_cache

import pint

from wetspan import _core
from wetspan.errors import InputError, nearest

#: One registry for all; quantities of pint's application registry are understood.
registry = pint.get_application_registry()

_NUMBER = re.compile(r"\s*([-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*$", re.DOTALL)
_SWITCH = {"true": 1.0, "yes": 1.0, "on": 1.0, "false": 0.0, "no": 0.0, "off": 0.0}
_SPOKEN = {
    "K": "a temperature, such as '24 degC'",
    "delta_degC": "a difference of temperature, such as '2 delta_degC'",
    "m": "a length or a volume per area, such as '2 qt / (100 ft^2)' or '0.2 mm'",
    "s": "a time, such as '48 hour'",
}


def value_in_si(row: _core.Parameter, given: object, *, bare: bool = True) -> float:
    """Return `given` in the unit of the table's row.

    Text carries its unit ("24 degC", "2 qt / (100 ft^2)", "60 percent"), as does a pint quantity. A bare number is
    in the row's SI unit; with `bare=False` only dimensionless rows take one. A choice is given by its name.
    Bounds are not checked here.
    """
    if row.kind == "choice":
        return _choice(row, given)
    if row.kind == "toggle":
        return _toggle(row, given)
    if isinstance(given, bool) or given is None:
        raise InputError(f"{row.key} = {given!r} is not a number")
    if isinstance(given, str):
        return _from_text(row, given)
    if isinstance(given, pint.Quantity):
        return _convert(row, given, str(given))
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
    """Return a value of the table's unit in the unit that people are shown; a choice by its name."""
    if row.kind == "choice":
        return row.choices[int(value)]
    if row.kind == "toggle":
        return bool(value)
    if row.kind == "count":
        return int(value)
    return convert(value, row.unit, row.shown)


def show(row: _core.Parameter, value: float) -> str:
    """Return a value as people read it, such as '24 degC', to six digits."""
    in_words = shown(row, value)
    if not isinstance(in_words, float):
        return str(in_words)
    return f"{in_words:.6g}" if row.shown == "1" else f"{in_words:.6g} {row.shown}"


def exact(row: _core.Parameter, value: float) -> str:
    """Return a value as the shortest text that reads back to it, in the shown unit if one does, else in SI."""
    in_words = shown(row, value)
    if not isinstance(in_words, float):
        return str(in_words)
    for unit, number in ((row.shown, in_words), (row.unit, value)):
        for digits in range(3, 18):
            text = f"{number:.{digits}g}" if unit == "1" else f"{number:.{digits}g} {unit}"
            if value_in_si(row, text) == value:
                return text
    raise AssertionError(f"{row.key} = {value!r} does not survive being written")  # SI text always reads back


def convert(value: float, unit: str, to: str) -> float:
    """Return `value` of one unit in another; names as in the tables."""
    if unit == to:
        return value
    scale, offset = _line(unit, to)
    return value * scale + offset


@lru_cache(maxsize=256)
def _line(unit: str, to: str) -> tuple[float, float]:
    """Scale and offset between two units."""
    at_zero, at_one = (_quantity(x, unit).to(_unit(to)).magnitude for x in (0.0, 1.0))
    offset = float(at_zero)
    return (float(at_one) - offset, offset) if offset else (float(at_one), 0.0)


@lru_cache(maxsize=256)
def _unit(text: str) -> pint.Unit:
    return registry.parse_units("dimensionless" if text == "1" else text)


def _quantity(number: float, unit: str) -> pint.Quantity:
    if unit in ("", "1"):
        return registry.Quantity(number, "dimensionless")
    text = unit.replace("%", "percent")
    text = f"1 {text}" if text.startswith("/") else text
    try:
        return registry.Quantity(number, _unit(text))
    except (pint.errors.UndefinedUnitError, pint.errors.DefinitionSyntaxError):
        raise
    except (ValueError, AttributeError, TypeError):
        return registry.Quantity(number) * registry.parse_expression(text)  # a unit with a number in it


def _from_text(row: _core.Parameter, text: str) -> float:
    match = _NUMBER.match(text)
    if match is None:
        raise InputError(f"{row.key} = {text!r} does not begin with a number")
    number, unit = float(match[1]), match[2]
    if not unit and row.unit != "1":
        raise InputError(f"{row.key} = {text!r} has no unit; write for example {show(row, row.standard)!r}")
    if row.unit == "delta_degC":
        unit = re.sub(r"\b(?:delta_)?(deg[CF])\b", r"delta_\1", unit)
    try:
        given = _quantity(number, unit)
    except pint.errors.UndefinedUnitError as error:
        names = error.unit_names if isinstance(error.unit_names, str) else ", ".join(error.unit_names)
        hint = nearest(names, [row.shown, row.unit])
        raise InputError(
            f"{row.key} = {text!r}: there is no unit '{names}'; {hint or f'the usual one is {row.shown}'}"
        ) from None
    except Exception:  # whatever parsing raises inside pint and its tokenizer
        raise InputError(f"{row.key} = {text!r}: the unit cannot be read") from None
    return _convert(row, given, repr(text))


def _convert(row: _core.Parameter, given: pint.Quantity, said: str) -> float:
    try:
        return float(given.to(_unit(row.unit)).magnitude)
    except pint.errors.DimensionalityError:
        wanted = _SPOKEN.get(row.unit) or (
            "a plain number or a percentage"
            if row.unit == "1"
            else f"a value such as {show(row, row.standard)!r}"
        )
        raise InputError(f"{row.key} = {said} has the wrong dimension; it is {wanted}") from None
    except pint.errors.OffsetUnitCalculusError:
        raise InputError(f"{row.key} = {said}: degrees with an offset cannot stand in a product") from None


def _choice(row: _core.Parameter, given: object) -> float:
    if isinstance(given, str) and given in row.choices:
        return float(row.choices.index(given))
    if (
        isinstance(given, (int, float))
        and not isinstance(given, bool)
        and float(given) in range(len(row.choices))
    ):
        return float(given)
    hint = nearest(given, row.choices) if isinstance(given, str) else ""
    allowed = " or ".join(repr(name) for name in row.choices)
    raise InputError(f"{row.key} = {given!r} is not {allowed}" + (f"; {hint}" if hint else ""))


def _toggle(row: _core.Parameter, given: object) -> float:
    if isinstance(given, str) and given.lower() in _SWITCH:
        return _SWITCH[given.lower()]
    if isinstance(given, (bool, int, float)) and float(given) in (0.0, 1.0):
        return float(given)
    raise InputError(f"{row.key} = {given!r} is neither true nor false")
