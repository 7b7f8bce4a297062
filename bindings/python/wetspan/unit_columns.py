"""Columns of an input, and the values of an axis with labels, in SI."""

from __future__ import annotations

import re
from collections.abc import Iterable
from numbers import Real
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from wetspan import _core
from wetspan.errors import InputError
from wetspan.unit_shown import shown, with_unit
from wetspan.unit_slips import slip_of_unit
from wetspan.unit_text import read, read_unit
from wetspan.units import (
    Numbers,
    from_stated_unit,
    is_quantity,
    outside,
    quantity_in_si,
    quantity_of,
    read_as,
    stated_unit,
    value_in_si,
)


def column(row: _core.Parameter, values: object, *, usual: float | None = None) -> Numbers:
    """Return a column of an input in the table's unit.

    A pint quantity and an array that states its unit in attrs["units"], or by pint within, are read in that
    unit; of a DataFrame's column attrs["units"] may be a mapping by column. Texts, names of choices and
    quantities are read one by one. Other numbers are in the row's SI unit, and float64 is not copied.
    """
    name = row.key
    stated = stated_unit(values, name)
    try:
        inside = _without_labels(values)
    except ValueError:
        raise InputError(
            f"{name} holds lists of several lengths; a column has one number in each row"
        ) from None
    if is_quantity(inside):
        units = str(inside.units)
        if stated is not None and not _same(units, stated, name):
            raise InputError(f"{name} is in {units} and its attrs say units = {stated!r}; keep one of them")
        return np.asarray(quantity_in_si(row, inside, f"a column in {units}"), dtype=np.float64)
    if isinstance(inside, np.ma.MaskedArray) and np.ma.is_masked(inside):
        raise InputError(f"{name}: row {int(np.ma.getmaskarray(inside).ravel().argmax())} has no value")
    try:
        array = np.asarray(inside)
    except ValueError:
        raise InputError(
            f"{name} holds lists of several lengths; a column has one number in each row"
        ) from None
    if array.dtype.kind == "M" or (array.dtype.kind == "m" and row.unit != "s"):
        told = "dates" if array.dtype.kind == "M" else "spans of time"
        raise InputError(f"{name} holds {told}; it is in {row.shown}")
    if np.issubdtype(array.dtype, np.timedelta64) and row.unit == "s":
        return np.asarray(array / np.timedelta64(1, "s"), dtype=np.float64)
    if array.dtype == np.bool_ and row.kind != "toggle":
        raise InputError(f"{name} is true or false in every row; it is a number")
    if np.issubdtype(array.dtype, np.complexfloating):
        raise InputError(f"{name} is complex; it is a number")
    if np.issubdtype(array.dtype, np.number) or array.dtype == np.bool_:
        if stated is not None and row.kind == "number":
            return np.ascontiguousarray(from_stated_unit(row, stated)(array), dtype=np.float64)
        numbers = np.ascontiguousarray(array, dtype=np.float64)
        if row.kind == "number" and (slip := slip_of_unit(row, numbers, usual)):
            raise InputError(f"{name}: {numbers.flat[0]:g} {slip}")
        return numbers
    known: dict[str, float] = {}
    found = np.empty(array.shape)
    for place, each in np.ndenumerate(array):
        if str(each) in _MISSING and not isinstance(each, str):
            raise InputError(f"{name}: row {place[0] if place else 0} has no value")
        if not isinstance(each, str):
            found[place] = value_in_si(row, each, usual=usual)
            continue
        if each not in known:
            known[each] = value_in_si(row, each)
        found[place] = known[each]
    return found


_MISSING = ("None", "nan", "<NA>", "NaT")


class Labels(NamedTuple):
    """The values of an axis: in SI, and as they were given, with the unit of these."""

    si: list[float]
    given: list[float | str | bool]
    unit: str


def labels(row: _core.Parameter, values: Iterable[object], *, usual: float | None = None) -> Labels:
    """Return the values of an axis in SI, and labels by which they can be found as they were given.

    Labels are the numbers that were given: in the unit of a labelled array or quantity, of texts that share
    one, and in SI where they were bare. Texts of several units are labelled in the unit people are shown.
    """
    if not (is_quantity(values) or hasattr(values, "dtype")):
        values = _array(list(values))
    si = np.atleast_1d(column(row, values, usual=usual)).tolist()
    told = _labels(row, values, si)
    for value, label in zip(si, told.given, strict=True):
        if not row.low <= value <= row.high:
            raise outside(row.key, row, label if row.kind != "number" else with_unit(f"{label:g}", told.unit))
    return told


def _labels(row: _core.Parameter, values: Any, si: list[float]) -> Labels:
    if row.kind != "number":
        return Labels(si, [shown(row, value) for value in si], row.unit)
    inside = _without_labels(values)
    if is_quantity(inside):
        return Labels(si, np.atleast_1d(inside.magnitude).tolist(), str(inside.units))
    given = np.atleast_1d(inside).tolist()
    if all(isinstance(each, Real) for each in given):
        return Labels(si, [float(each) for each in given], stated_unit(values, row.key) or row.unit)
    if all(isinstance(each, str) for each in given):
        texts = [read(each) for each in given]
        plain = {(each.said, each.unit) for each in texts}
        said = re.sub(r"^(?:per\b|/)\s*", "1/", texts[0].said or "1")
        if len(plain) == 1 and not (texts[0].per or texts[0].of) and read_unit(said).number == 1.0:
            return Labels(si, [each.number for each in texts], said)
    if all(is_quantity(each) for each in given):
        units = {str(each.units) for each in given}
        if len(units) == 1:
            return Labels(si, [float(each.magnitude) for each in given], units.pop())
    return Labels(si, [shown(row, value) for value in si], row.shown)


def _array(values: list[Any]) -> npt.NDArray[Any]:
    """Return a list as an array: numbers as such, anything else as objects."""
    if all(isinstance(each, (Real, np.bool_)) for each in values):
        return np.array(values)
    array = np.empty(len(values), dtype=object)
    for place, each in enumerate(values):
        array[place] = each
    return array


def _without_labels(values: Any) -> Any:
    """Return an array, or a quantity, without what xarray and pandas put around it."""
    if is_quantity(values):
        return values
    if isinstance(values, np.ndarray):
        return values
    if is_quantity(getattr(values, "data", None)):  # xarray around pint
        return values.data
    pint_values = getattr(values, "array", values)
    if is_quantity(getattr(pint_values, "quantity", None)):  # pandas around pint
        return pint_values.quantity
    if hasattr(values, "to_numpy"):
        return values.to_numpy()
    return _array(list(values)) if _listed(values) else np.asarray(values)


def _listed(values: object) -> bool:
    return isinstance(values, (list, tuple)) and any(is_quantity(each) for each in values)


def _same(unit: str, other: str, name: str) -> bool:
    one, two = (quantity_of(name, each, read_as(name, each, read_unit)) for each in (unit, other))
    return bool(one.units == two.units and one.magnitude == two.magnitude)
