"""Bare numbers that are probably meant in another unit than SI."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from wetspan import _core
from wetspan.unit_shown import convert, show, spoken

Numbers: TypeAlias = npt.NDArray[np.float64]

TEMPERATURES = ("K", "delta_degC")
#: A bare number so many times off what is usual is a slip, if the shown unit brings it near that. Grade D.
_SLIP, _USUAL = 60.0, 16.0
#: Inputs that are times last hours to months, and what is told per hour or per day is slower than once a
#: minute: a bare number of fewer seconds, or of more in a second, is a slip. Grade D.
_SHORTEST = 60.0  # s


class InSI(float):
    """A number that a scenario holds: known to be in SI, and so no slip of unit, however far from usual."""

    __slots__ = ()


def slip_of_unit(row: _core.Parameter, values: Numbers, usual: float | None) -> str:
    """Return why bare numbers are a slip of unit, or "".

    They are if every one is far from what is usual in SI, and near it in the unit people are shown; times
    also if every one is below a minute, and rates if every one is above once a minute.
    """
    if row.shown == row.unit:
        return ""
    numbers = values[(values != 0.0) & np.isfinite(values)].ravel()
    if not numbers.size:
        return ""
    if row.unit == "s" and np.abs(numbers).max() < _SHORTEST and usual not in numbers:
        told = f"{numbers[0]:g}"
        return (
            f"is less than a minute: a bare number is in s. Did you mean '{told} {row.shown}'? If not, write "
            f"'{told} s'"
        )
    inside = (row.low <= numbers) & (numbers <= row.high)
    if row.unit == "1/s" and inside.all() and numbers.min() > 1.0 / _SHORTEST and usual not in numbers:
        told = f"{numbers[0]:g}"
        per_hour = f"{show(row, float(numbers[0]))}"
        return (
            f"is a bare number in 1/s, that is {per_hour}. Did you mean '{told} {spoken(row.shown)}'? If "
            f"not, write '{told} {row.unit}'"
        )
    if not inside.any():
        return "" if values.ndim == 0 else _all_outside(row, numbers)  # of one number the core says the same
    factor = _slips(row)
    centres = [row.standard, *([usual] if usual else [])]
    if not factor or min(float(_times_off(numbers, each).min()) for each in centres) < _SLIP:
        return ""
    if float(_times_off(numbers * factor, row.standard).max()) > _USUAL:
        return ""
    one = float(numbers[0])
    times = float(_times_off(numbers[:1], row.standard)[0])
    return (
        f"is {times:.0f} times off the usual {show(row, row.standard)}: a bare number is in {row.unit}. "
        f"Did you mean '{one:g} {row.shown}'? If not, write '{one:g} {row.unit}'"
    )


def _all_outside(row: _core.Parameter, numbers: Numbers) -> str:
    """Return why numbers that are all out of bounds are a slip, if all are allowed in the shown unit."""
    in_si = [convert(float(end), row.shown, row.unit) for end in (numbers.min(), numbers.max())]
    if not all(row.low <= end <= row.high for end in in_si):
        return ""
    return (
        f"is outside what is allowed, as every number of the column; a bare number is in {row.unit}. "
        f"Did you mean {row.shown}? Then state it, as text or in attrs['units']"
    )


_SLIPS: dict[str, float] = {}


def _slips(row: _core.Parameter) -> float:
    """Return the shown unit of a row in SI if numbers in the one may pass for numbers in the other, or 0."""
    if row.key not in _SLIPS:
        factor = 0.0
        if row.shown not in (row.unit, "1") and row.unit not in TEMPERATURES and row.standard > 0.0:
            factor = convert(1.0, row.shown, row.unit)
            number = row.standard / factor
            factor *= row.low <= _USUAL * number and number / _USUAL <= row.high
        _SLIPS[row.key] = factor
    return _SLIPS[row.key]


def _times_off(values: Numbers, usual: float) -> Numbers:
    ratio = np.abs(values) / usual
    with np.errstate(over="ignore", divide="ignore"):  # of the smallest numbers there are
        return np.asarray(np.maximum(ratio, 1.0 / ratio))
