"""Reading of a table of weighings or amounts: every cell is understood, or refused in one line that names its
line.

Columns are found by the beginning of their headings. The unit stands in brackets or after an underscore:
"mass [g]", "mass (g)" and "mass_g" are the same column in the same unit.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from os import PathLike
from typing import NamedTuple, TypeAlias

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wetspan.errors import InputError, nearest, shortened
from wetspan.trials.table import MISSING, Source
from wetspan.unit_shown import inward
from wetspan.unit_text import UnreadableError, read
from wetspan.units import in_si

Array = NDArray[np.float64]
Table: TypeAlias = str | PathLike[str] | pd.DataFrame

_HEADING = re.compile(r"\s*([A-Za-z ]+?)(?:\s*[\[(]\s*(.*?)\s*[\])]|_(\S+))?\s*")
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?")


class Quantity(NamedTuple):
    """A column of numbers: name, unit in SI, unit to suggest, bounds in SI, whether it must be there."""

    name: str
    si: str
    usual: str
    low: float
    high: float
    needed: bool = True


class Measured:
    """A table with its texts and numbers; collects what is wrong with it, line by line."""

    def __init__(
        self,
        table: Table,
        texts: Sequence[str],
        quantities: Sequence[Quantity],
        units: Mapping[str, str] | None = None,
    ) -> None:
        self.source = Source(table)
        self.problems = self.source.problems
        self.name = self.source.name
        self._headings = self._find([*texts, *(each.name for each in quantities), "clock"])
        self._units = dict(units or {})
        for given in self._units:
            if given not in self._headings:
                raise InputError(
                    f"units: there is no column '{given}'; "
                    + (nearest(given, self._headings) or f"columns are {', '.join(self._headings)}")
                )
        self.texts = {name: self._texts(name) for name in texts if name in self._headings}
        self.numbers: dict[str, Array] = {}
        for each in quantities:
            if each.name in self._headings:
                self.numbers[each.name] = self._numbers(each)
            elif each.needed and not (each.name == "time" and "clock" in self._headings):
                raise InputError(
                    f"{self.name}: there is no column '{each.name}', such as '{each.name} [{each.usual}]'; "
                    f"columns are {', '.join(map(str, self.source.cells.columns))}"
                )
        if "clock" in self._headings:
            if "time" in self.numbers:
                raise InputError(f"{self.name}: there is a column 'time' and a column 'clock'; keep one")
            self.numbers["time"] = self._clock()
        self.rows = len(self.source.cells)

    def where(self, row: int) -> str:
        """The line that a row stands on, for a message."""
        return self.source.where(row)

    def refuse(self, row: int, problem: str) -> None:
        """Note what is wrong with a row."""
        self.source.unread(row, problem)

    def need_text(self, name: str, meaning: str) -> list[str]:
        """A column of texts that must be there, and hold one in every row."""
        if name not in self.texts:
            raise InputError(
                f"{self.name}: there is no column '{name}' ({meaning}); "
                f"columns are {', '.join(map(str, self.source.cells.columns))}"
            )
        for row, text in enumerate(self.texts[name]):
            if text.lower() in MISSING:
                self.refuse(row, f"{name} is blank")
        return self.texts[name]

    def choices(self, name: str, allowed: Sequence[str], otherwise: str | None = None) -> list[str]:
        """A column of words out of a few; `otherwise` stands where it is blank or there is no such column."""
        if name not in self.texts and otherwise is not None:
            return [otherwise] * self.rows
        words = self.need_text(name, " or ".join(allowed)) if otherwise is None else self.texts[name]
        found = []
        for row, word in enumerate(words):
            said = word.lower()
            if set(allowed) == {"yes", "no"}:
                said = {"true": "yes", "false": "no"}.get(said, said)
            if said in MISSING and otherwise is not None:
                said = otherwise
            elif said not in allowed and said not in MISSING:
                hint = nearest(said, allowed) or f"it is {' or '.join(allowed)}"
                self.refuse(row, f"{name} '{shortened(word)}': {hint}")
            found.append(said)
        return found

    def filled(self, name: str, rows: NDArray[np.intp]) -> None:
        """Refuse rows in which a number is blank."""
        for row in rows:
            if math.isnan(self.numbers[name][row]) and row not in self.source.rows_unread:
                self.refuse(int(row), f"{name} is blank")

    def _find(self, names: Sequence[str]) -> dict[str, tuple[str, str]]:
        """Headings and their units by the name of the column."""
        found: dict[str, tuple[str, str]] = {}
        for heading in map(str, self.source.cells.columns):
            match = _HEADING.fullmatch(heading)
            name = "" if match is None else match[1].strip().lower().replace(" ", "_")
            if match is None or name not in names:
                continue
            if name in found:
                raise InputError(
                    f"{self.name}: columns '{found[name][0]}' and '{heading}' are both a {name}; keep one"
                )
            found[name] = (heading, (match[2] or match[3] or "").replace("_per_", "/"))
        return found

    def _texts(self, name: str) -> list[str]:
        return self.source.column(self._headings[name][0], name)

    def _numbers(self, column: Quantity) -> Array:
        heading, unit = self._headings[column.name]
        unit = self._units.get(column.name, unit)
        cells = self._texts(column.name)
        if not unit and column.si != "1":
            raise InputError(
                f"{self.name}: column '{heading}' does not say its unit; write '{column.name} "
                f"[{column.usual}]', or give units={{'{column.name}': '{column.usual}'}}"
            )
        values = np.array([self._cell(row, heading, unit, text) for row, text in enumerate(cells)])
        told = f"{self.name}: unit of '{heading}'"
        zero, one = in_si(np.array([0.0, 1.0]), unit or "1", column.si, told)
        si = zero + (one - zero) * values
        low, high = inward(*((end - zero) / (one - zero) for end in (column.low, column.high)), digits=4)
        for row in np.flatnonzero((si < column.low * (1 - 1e-9)) | (si > column.high * (1 + 1e-9))):
            self.refuse(int(row), f"{column.name} {values[row]:g} {unit} is outside {low} to {high} {unit}")
        return np.asarray(si, dtype=float)

    def _cell(self, row: int, heading: str, unit: str, text: str) -> float:
        if text.lower() in MISSING:
            return math.nan
        try:
            written = read(text)
        except UnreadableError as error:
            return self.source.unread(row, f"{heading} '{shortened(text)}' is not a number: {error}")
        if written.said and written.said != unit:
            return self.source.unread(
                row,
                f"{heading} '{shortened(text)}' is in {written.said}, the column in {unit or 'no unit'}: "
                "units are mixed, write all in one",
            )
        return written.number / (read(f"1 {unit}").number if written.said else 1.0)

    def _clock(self) -> Array:
        """Seconds since midnight."""
        found = []
        for row, text in enumerate(self._texts("clock")):
            match = _CLOCK.fullmatch(text)
            if match is None:
                self.refuse(row, f"clock '{shortened(text)}' is not a time of day such as 14:05 or 14:05:30")
            found.append(
                math.nan
                if match is None
                else 3600.0 * int(match[1]) + 60.0 * int(match[2]) + float(match[3] or 0)
            )
        return np.array(found)


def spoken_clock(measured: Measured, seconds: float) -> str:
    """A moment of the table as people read it: minutes, or a time of day where the table has a clock."""
    if "clock" in measured._headings:
        minutes, left = divmod(round(seconds), 60)
        return f"{minutes // 60:02d}:{minutes % 60:02d}" + (f":{left:02d}" if left else "")
    return f"{seconds / 60:.4g} min"


def resolution_of(masses: Array) -> float:
    """The step of a balance as its readings show it: the largest power of ten [kg] that divides them all."""
    values = masses[np.isfinite(masses)]
    for step in 10.0 ** np.arange(0, -9, -1):
        counts = values / step
        if counts.max(initial=0.0) >= 1.0 and np.allclose(counts, np.round(counts), rtol=0, atol=1e-6):
            return float(step)
    return 1e-9
