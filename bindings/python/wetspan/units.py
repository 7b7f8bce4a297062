"""The one reader of quantities: converts text, pint quantities and labelled arrays to floats in SI.

Scenarios, tank, weather, trials, bench, jug, spray, tables and options of the command all use it.
`wetspan.unit_text` defines the grammar of texts. In Python, a bare number is in the SI unit of its input, or
it is refused. An array that states its unit (attrs["units"], pint) is read in that unit.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from datetime import timedelta
from functools import cache, lru_cache
from numbers import Real
from typing import TYPE_CHECKING, Any, TypeAlias, TypeGuard

import numpy as np
import numpy.typing as npt

from wetspan import _core
from wetspan.errors import InputError, echo, nearest
from wetspan.unit_registry import registry
from wetspan.unit_shown import convert, inward, parsed, show, spoken, with_unit, without_traces
from wetspan.unit_slips import TEMPERATURES, InSI, slip_of_unit
from wetspan.unit_text import UnreadableError, Written, read, read_number, read_unit

if TYPE_CHECKING:
    import pint

Quantity: TypeAlias = "pint.Quantity[Any]"
Numbers: TypeAlias = npt.NDArray[np.float64]

#: What degrees are read as where their sign is left out.
_NO_DEGREES = {"degF": ("F", "f", "farad"), "degC": ("C", "c", "coulomb", "speed_of_light")}
_SWITCH = {"true": 1.0, "yes": 1.0, "on": 1.0, "false": 0.0, "no": 0.0, "off": 0.0}
_WANTED = {
    "1": "a plain number or a percentage",
    "K": "a temperature, such as '24 degC'",
    "delta_degC": "a difference of temperature, such as '2 delta_degC'",
    "m": "a length or a volume per area, such as '2 qt / (100 ft^2)' or '0.2 mm'",
    "s": "a time, such as '48 hour'",
}
#: Units in the last place by which the few products of a conversion may be off.
_ROUNDING = 4.0


# One value ------------------------------------------------------------------------------------------------


def value_in_si(
    row: _core.Parameter, given: object, *, bare: bool = True, usual: float | None = None
) -> float:
    """Return `given` in the unit of the table's row.

    Text carries its unit ("24 degC", "2 1/2 qt per 100 sq ft", "60 %"), as do a pint quantity and a labelled
    number (attrs["units"]); "ppm" of what is shown in mg/L is mg/L. A bare number is in the row's SI unit;
    with `bare=False` only dimensionless rows take one. A bare number that is many times off the row's
    default, and off `usual`, is refused where the shown unit was probably meant. A choice is given by its
    name. Bounds are not checked here.
    """
    if isinstance(given, np.timedelta64 | timedelta):
        return _span(row, given)
    if isinstance(given, np.datetime64):
        raise InputError(f"{row.key} = {given!r} is a date, and not a number")
    if isinstance(given, np.generic):
        given = given.item()
    if row.kind == "choice":
        return _choice(row, given)
    if row.kind == "toggle":
        return _toggle(row, given)
    if isinstance(given, InSI) and bare:
        return float(given)
    if isinstance(given, bool) or given is None or np.ma.is_masked(given):
        raise InputError(f"{row.key} = {given!r} is not a number")
    if isinstance(given, str):
        return _of_text(row, given)
    if is_quantity(given):
        return _single(row, quantity_in_si(row, given, str(given)), given)
    stated = stated_unit(given, row.key)
    try:
        value = float(given)  # type: ignore[arg-type]
    except (TypeError, ValueError, OverflowError):
        raise InputError(
            f"{row.key} = {echo(given)} is not a number, a text with a unit or a quantity"
        ) from None
    if stated is not None:
        return float(from_stated_unit(row, stated)(np.asarray(value)))
    if not bare and row.unit != "1":
        raise InputError(
            f"{row.key} = {echo(given)} has no unit; write it as text, such as {show(row, row.standard)!r}"
        )
    if slip := slip_of_unit(row, np.asarray(value), usual):
        raise InputError(f"{row.key} = {echo(given)} {slip}")
    return value


def _span(row: _core.Parameter, given: np.timedelta64 | timedelta) -> float:
    """Return a span of time in seconds, of an input that is one."""
    try:
        seconds = float(np.timedelta64(given) / np.timedelta64(1, "s"))
    except TypeError:  # months and years have no fixed length
        seconds = np.nan
    if row.unit != "s" or not np.isfinite(seconds):
        wanted = _WANTED.get(row.unit, f"a value such as {show(row, row.standard)!r}")
        raise InputError(f"{row.key} = {given!r} is not {wanted}")
    return seconds


def bounded(name: str, row: _core.Parameter, given: object) -> float:
    """Return a value in the table's SI unit, refused outside the row's bounds."""
    value = value_in_si(row, given)
    if row.low <= value <= row.high:
        return value
    raise outside(name, row, given)


def outside(name: str, row: _core.Parameter, given: object) -> InputError:
    """Return the refusal of a value outside its row's bounds, told in the unit that was given.

    Where the number would be allowed in another unit that people write, that is asked about.
    """
    unit, number = row.unit, None
    if isinstance(given, str):
        said, written = echo(given), read(given)
        unit, number = written.said, written.number
    elif is_quantity(given):
        said, unit = str(given), row.shown
    else:
        said = with_unit(str(given), row.unit)
        number = float(given) if isinstance(given, Real) else None
    zero, one = (value_in_si(row, f"{each} {unit}".removesuffix(" 1")) for each in ("0", "1"))
    low, high = ((bound - zero) / (one - zero) for bound in (row.low, row.high))
    allowed = " to ".join(with_unit(bound, unit) for bound in inward(low, high))
    meant = "" if number is None else _meant(row, number, unit)
    return InputError(f"{name} = {said} is outside what is allowed, {allowed}{meant}")


def _meant(row: _core.Parameter, number: float, unit: str) -> str:
    """Return "; did you mean '24 degC'?" for a number that is allowed in another unit, or ""."""
    if row.unit == "1" and unit in ("%", "percent") and row.low <= number <= row.high:
        return f"; did you mean '{100.0 * number:g} %'?"
    lengths = ("cm", "mm") if row.shown in ("m", "cm", "mm") else ()
    others = [
        f"'{number:g} {spoken(other)}'"
        for other in (("degC", "degF") if row.unit == "K" else (row.shown, *lengths))
        if other not in ("1", unit) and row.low <= convert(number, other, row.unit) <= row.high
    ]
    others = others if row.unit == "K" else others[:1]
    return f"; did you mean {' or '.join(others)}?" if others else ""


def _of_text(row: _core.Parameter, text: str) -> float:
    written = read_as(row.key, text, read)
    if not written.unit and row.unit != "1":
        raise InputError(
            f"{row.key} = {echo(text)} has no unit; write for example {show(row, row.standard)!r}"
        )
    _refuse_counts(row, text, written)
    given = quantity_of(row.key, text, written, row)
    return float(quantity_in_si(row, given, echo(text), written.said))


def _refuse_counts(row: _core.Parameter, text: str, written: Written) -> None:
    """Refuse "per pot" and the like where the row is not counted so."""
    for words, allowed in (
        (written.per, any(f"{each} plant" in row.meaning.lower() for each in ("per", "a"))),
        (written.of, row.unit == "1/m^2"),
    ):
        if words and not allowed:
            usual = show(row, row.standard)
            raise InputError(
                f"{row.key} = {echo(text)}: it is not counted by {words[0]}; write for example {usual!r}"
            )


def quantity_of(name: str, text: str, written: Written, row: _core.Parameter | None = None) -> Quantity:
    """Return what was written as a quantity; a unit that pint does not know is refused."""
    import pint

    try:
        quantity: Quantity = registry().Quantity(written.number, parsed(registry().get(), written.unit))
        return quantity
    except pint.UndefinedUnitError as error:
        names = ", ".join([error.unit_names] if isinstance(error.unit_names, str) else error.unit_names)
        hint = degrees_meant(names) if row is not None and row.unit in TEMPERATURES else ""
        hint = hint or "".join(
            f"did you mean '{_SPOKEN[each]}'?" for each in (names.lower(),) if each in _SPOKEN
        )
        hint = hint or _in_small_letters(names, row)
        hint = hint or nearest(names, _EVERYDAY if row is None else (row.shown, row.unit))
        hint = hint or (
            "" if row is None else "it has none" if row.shown == "1" else f"the usual one is {row.shown}"
        )
        raise InputError(f"{name} = {echo(text)}: there is no unit '{names}'; {hint}".rstrip("; ")) from None
    except Exception:  # whatever parsing raises inside pint and its tokenizer
        raise InputError(f"{name} = {echo(text)}: the unit cannot be read") from None


def _in_small_letters(units: str, row: _core.Parameter | None) -> str:
    """Return "did you mean 'ft'?" for "FT", and for "MM", which pint reads as something else, or ""."""
    import pint

    small = units.lower()
    if small == units or "," in small:
        return ""
    try:
        unit = parsed(registry().get(), small)
        if row is not None and not unit.is_compatible_with(row.shown) and units.isalpha():
            return ""
    except (pint.PintError, AttributeError, TypeError, ValueError):
        return ""
    return f"did you mean '{small}'?"


#: What people write for units that have another name here, in small letters.
_SPOKEN = {
    "ppm": "ppm", "fpm": "ft/min", "gpm": "gal/min", "lpm": "L/min", "kph": "km/hour", "kmh": "km/hour",
    "sqft": "ft^2", "gpa": "gal/acre", "ach": "1/hour", "kpa": "kPa", "psig": "psi", "w": "W", "ppb": "ug/L",
    "parts": "ppm", "sf": "ft^2", "lfm": "ft/min", "mo": "month", "barg": "bar",
}  # fmt: skip
_EVERYDAY = (
    *("mm", "cm", "inch", "foot", "m^2", "mL", "fl oz", "pint", "quart", "gallon", "mg", "gram", "ounce"),
    *("lb", "mg/L", "g/L", "ppm", "degC", "degF", "percent", "minute", "hour", "day", "week", "bar", "psi"),
)  # fmt: skip


def refuse_angles(name: str, units: str, wanted: str, said: str) -> None:
    """Refuse an angle as a share, and a share as an angle; pint takes both for plain numbers."""
    if _turns(units) != _turns(wanted):
        told = "it is an angle, such as '30 deg'" if _turns(wanted) else "an angle is not meant here"
        if wanted in TEMPERATURES and units == "degree":
            told = "did you mean 'degC' or 'degF'?"
        raise InputError(f"{name} = {said} has the wrong dimension ({units or 'none'}); {told}")


@cache
def _turns(units: str) -> int:
    """Return the power of radians in a unit, 0 for one that only another registry knows."""
    import pint

    try:
        root = registry().Quantity(1.0, units).to_root_units().units
    except pint.PintError:
        return 0
    return sum(int(power) for name, power in root._units.items() if name == "radian")


def quantity_in_si(row: _core.Parameter, given: Quantity, said: str, unit: str = "") -> Any:
    """Return a quantity in the row's unit; `said` is what was given, `unit` its unit as it was written."""
    import pint

    refuse_angles(row.key, str(given.units), row.unit, said)
    try:
        if row.unit == "delta_degC":  # "2 degC" of a difference is a difference
            given = given - type(given)(0.0, given.units)
        if row.shown == "mg/L" and str(given.units) == "ppm":
            given = type(given)(given.magnitude, "mg/L")
        value = given.to(row.unit).magnitude  # by name: the quantity may belong to another registry
    except pint.DimensionalityError:
        wanted = _WANTED.get(row.unit, f"a value such as {show(row, row.standard)!r}")
        units = str(given.units)
        hint = degrees_meant(units) if row.unit in TEMPERATURES else ""
        if "ounce" in units.split() and row.unit in ("m", "m^3", "m^3/s"):
            hint = "oz alone is a mass, liquid measure is fl oz"
        if row.unit == "Pa" and given.check("[mass] / [length] ** 2"):
            hint = "a pound on a square inch is psi, a kilogram on a square centimetre kgf/cm^2"
        hint = hint or _in_small_letters(unit, row)
        if row.key == "application.concentration" and given.dimensionless:
            hint = (
                "of product in water, `wetspan mix --amount` (ws.applied) tells the mg/L of active ingredient"
            )
        told = f"{row.key} = {said} has the wrong dimension ({units or 'none'}); it is {wanted}"
        raise InputError(f"{told}; {hint}" if hint else told) from None
    except pint.OffsetUnitCalculusError:
        raise InputError(f"{row.key} = {said}: degrees with an offset cannot stand in a product") from None
    return _rounded_onto_bounds(row, value)


def _rounded_onto_bounds(row: _core.Parameter, value: Any) -> Any:
    """Return a number, or an array, with what rounding has put outside the row's bounds at the bound.

    100 L is 0.1 m^3, yet conversion makes it 0.10000000000000002 m^3. A bound as it is `shown` is allowed.
    """
    if not np.issubdtype(getattr(value, "dtype", type(value)), np.floating):
        return value
    low, high = (_as_shown(bound, row.unit, row.shown) for bound in (row.low, row.high))
    with np.errstate(invalid="ignore"):  # of numbers that are not finite, which are refused elsewhere
        allowed = np.clip(value, row.low, row.high)
        near = np.clip(value, min(low, row.low), max(high, row.high))
        return np.where(np.abs(value - near) <= _ROUNDING * np.spacing(np.abs(near)), allowed, value)


@cache
def _as_shown(bound: float, unit: str, to: str) -> float:
    """Return what a bound reads back to after it has been shown."""
    return convert(without_traces(bound, unit, to), to, unit)


def _single(row: _core.Parameter, value: Any, given: object) -> float:
    try:
        return float(value)
    except (TypeError, ValueError):
        raise InputError(f"{row.key} = {echo(given)} is not a single number") from None


# Numbers in a stated unit -------------------------------------------------------------------------------


def stated_unit(values: object, name: str) -> str | None:
    """Return the unit that an array's attrs state, if they do."""
    attrs = getattr(values, "attrs", None)
    if not isinstance(attrs, Mapping):
        return None
    stated = attrs.get("units")
    others = [each for each in attrs if str(each).lower() in ("unit", "units") and each != "units"]
    if others and attrs[others[0]] not in (None, "", stated):
        raise InputError(
            f"{name}: attrs[{others[0]!r}] = {echo(attrs[others[0]])}; a unit stands in attrs['units']"
        )
    if isinstance(stated, Mapping):
        stated = stated.get(getattr(values, "name", None), stated.get(name))
    return None if stated in (None, "") else str(stated)


def from_stated_unit(row: _core.Parameter, stated: str) -> Callable[[npt.NDArray[Any]], Any]:
    """Return what turns numbers in the unit that attrs state into SI."""
    name = f"attrs['units'] of {row.key}"
    written = read_as(name, stated, read_unit)
    unit = quantity_of(name, stated, written, row)

    def convert_all(numbers: npt.NDArray[Any]) -> Any:
        if str(unit.units) == row.unit and written.number == 1.0:
            return numbers
        quantity = registry().Quantity(np.asarray(numbers, dtype=np.float64) * written.number, unit.units)
        return quantity_in_si(row, quantity, f"a column in {stated}")

    return convert_all


# Other doors ----------------------------------------------------------------------------------------------


def quantity(name: str, given: object, example: str) -> tuple[Quantity, Written | None]:
    """Return text or a pint quantity of any registry as a quantity, with what was written.

    A bare number is refused, as is anything else; `example` says what is allowed.
    """
    if is_quantity(given):
        ours: Quantity = registry().Quantity(given.magnitude, str(given.units))
        if not isinstance(ours.magnitude, Real):
            raise InputError(f"{name} = {echo(given)} is not a single amount; {example}")
        return ours, None
    if isinstance(given, Real) and not isinstance(given, bool):
        raise InputError(f"{name} = {echo(given)} has no unit; {example}")
    if not isinstance(given, str):
        raise InputError(f"{name} = {echo(given)} is not an amount; {example}")
    written = read_as(name, given, read, example)
    return quantity_of(name, given, written), written


def in_unit(name: str, given: object, unit: str, example: str) -> float:
    """Return text or a pint quantity as a number in a unit; `example` says what is allowed."""
    import pint

    said, written = quantity(name, given, example)
    refuse_angles(name, str(said.units), unit, echo(given))
    if written is not None and (written.per or written.of):
        raise InputError(
            f"{name} = {echo(given)}: it is not counted by {(written.per + written.of)[0]}; {example}"
        )
    if written is not None and not written.unit and unit != "1":
        raise InputError(f"{name} = {echo(given)} has no unit; {example}")
    try:
        return float(said.to(unit).magnitude)
    except pint.DimensionalityError:
        hint = degrees_meant(str(said.units)) if unit in TEMPERATURES else ""
        told = f"{name} = {echo(given)} has the wrong dimension ({said.units}); {example}"
        raise InputError(f"{told}; {hint}" if hint else told) from None
    except pint.OffsetUnitCalculusError:
        raise InputError(
            f"{name} = {echo(given)}: degrees with an offset cannot stand in a product"
        ) from None


def share(name: str, given: object) -> float:
    """Return a share: a number, or text such as "0.1", "10 %" or "1/4"."""
    if isinstance(given, Real) and not isinstance(given, bool):
        return float(given)
    return in_unit(name, given, "1", "give a share, such as 0.1 or '10 %'")


def number(name: str, given: object) -> float:
    """Return the number that a cell of a table or a text is, such as "2 1/2", with nothing after it."""
    if isinstance(given, Real) and not isinstance(given, bool):
        return float(given)
    return float(read_as(name, str(given), read_number))


def unit(name: str, text: str) -> str:
    """Return a unit as pint reads it; unknown ones are refused."""
    written = read_as(name, text, read_unit)
    quantity_of(name, text, written)
    return f"{written.number!r}*{written.unit}" if written.number != 1.0 else written.unit or "dimensionless"


def in_si(numbers: npt.NDArray[Any], stated: str, to: str, name: str) -> Numbers:
    """Return a column of numbers in a stated unit, such as "degF" or "W/m2", in another unit."""
    written = read_as(name, stated, read_unit)
    given = registry().Quantity(
        np.asarray(numbers, dtype=np.float64) * written.number, quantity_of(name, stated, written).units
    )
    import pint

    refuse_angles(name, str(given.units), to, repr(stated))
    try:
        return np.asarray(given.to(to).magnitude, dtype=np.float64)
    except pint.PintError:
        raise InputError(f"{name} = {stated!r} is not a unit of this column, such as {to}") from None


# Writing --------------------------------------------------------------------------------------------------


@lru_cache(maxsize=4096)
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


def degrees_meant(unit: str) -> str:
    """Return "did you mean 'degF'?" for degrees written as F, which is farad, and the like, or ""."""
    bare = unit.strip()
    return "".join(f"did you mean '{degrees}'?" for degrees, read in _NO_DEGREES.items() if bare in read)


def unit_of(text: str) -> str:
    """Return the unit of a text such as '24 degC' as it was written; "" where there is none."""
    try:
        return read(text).said
    except UnreadableError:
        return ""


# pint below -----------------------------------------------------------------------------------------------


def is_quantity(given: object) -> TypeGuard[Quantity]:
    """Return whether something is a pint quantity; where pint is not loaded, nothing is."""
    pint = sys.modules.get("pint")
    return pint is not None and isinstance(given, pint.Quantity)


def read_as(name: str, text: str, how: Callable[[str], Any], example: str = "") -> Any:
    try:
        return how(text)
    except UnreadableError as error:
        raise InputError(f"{name} = {echo(text)}: {error}" + (f"; {example}" if example else "")) from None


def _choice(row: _core.Parameter, given: object) -> float:
    if isinstance(given, str) and given in row.choices:
        return float(row.choices.index(given))
    if isinstance(given, (int, float)) and not isinstance(given, bool) and given in range(len(row.choices)):
        return float(given)
    hint = nearest(given, row.choices) if isinstance(given, str) else ""
    allowed = " or ".join(repr(name) for name in row.choices)
    raise InputError(f"{row.key} = {echo(given)} is not {allowed}" + (f"; {hint}" if hint else ""))


def _toggle(row: _core.Parameter, given: object) -> float:
    if isinstance(given, str) and given.lower() in _SWITCH:
        return _SWITCH[given.lower()]
    if isinstance(given, (bool, int, float)) and given in (0, 1):
        return float(given)
    raise InputError(f"{row.key} = {echo(given)} is neither true nor false")
