"""Reading of a trial table, one row per plant: every cell is understood, or refused in one line."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from os import PathLike
from pathlib import Path

import numpy as np
import pandas as pd

from wetspan.errors import InputError, Problems, nearest, shortened
from wetspan.files import file_name, separated, text_of
from wetspan.parameters import TABLE
from wetspan.trials.own_sheet import LAYOUT, delimiter_of
from wetspan.unit_text import UnreadableError, plain_number
from wetspan.units import value_in_si

LENGTH_UNITS = ("mm", "cm", "m", "in", "ft")
RATE_UNITS = ("ppm", "ppb", "percent", "mM", "uM", "mg", "g", "mL")  # and whatever holds a "per"
SPELT = {"inch": "in", "inches": "in", "feet": "ft", "foot": "ft", "%": "percent"}
#: What rows below the plants are called, which are no treatments.
SUMMARY = re.compile(
    r"(grand |overall )?(mean|average|avg|total|sum|median|sd|std|lsd\b.*|cv ?%?)\.?", re.IGNORECASE
)
#: How many times a plant may differ from its treatment's median before it is remarked on: a slip of a decimal
#: point is 10, and of a unit 2.54 or more (grade D).
OFF = 4.0
#: Between these the untreated plants of a trial are high (grade D).
LOWEST, HIGHEST = 0.01, 3.0  # m
METRES = {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": 0.0254, "ft": 0.3048}
MISSING = ("", "na", "n/a", "nan", "none", "<na>", "missing")
DEAD = ("dead", "died")
YES_NO = {"yes": True, "y": True, "true": True, "1": True, "1.0": True, "alive": True,
          "no": False, "n": False, "false": False, "0": False, "0.0": False, "dead": False}  # fmt: skip


@dataclass(frozen=True)
class TrialTable:
    """A checked table. `plants` has one row per row of the source, in its order, with columns

    plant, treatment, status ("measured", "dead" or "missing"), height (nan unless measured), and where named
    rate, block, row, column. `treatments`: the check first, then by rate, or in order of appearance.
    """

    plants: pd.DataFrame
    treatments: tuple[str, ...]
    check: str
    height_unit: str
    rate_unit: str
    notes: tuple[str, ...]


class Source:
    """The raw cells as text, and how to name a row of them in a message."""

    def __init__(self, table: str | PathLike[str] | pd.DataFrame) -> None:
        self.problems = Problems()
        self.rows_unread: set[int] = set()
        self.name = "table" if isinstance(table, pd.DataFrame) else Path(file_name(table)).name
        if isinstance(table, pd.DataFrame):
            self.cells, self._lines = table.copy(), [f"row {label}" for label in table.index]
        else:
            self.cells, self._lines = _read_csv(Path(file_name(table)), self.name)
        self.cells.columns = pd.Index([str(name).strip() for name in self.cells.columns])
        doubled = self.cells.columns[self.cells.columns.duplicated()]
        if len(doubled):
            raise InputError(f"{self.name}: column '{doubled[0]}' occurs twice")
        if self.cells.empty:
            raise InputError(f"{self.name}: no rows below its headings, and so no plants in it")

    def where(self, i: int) -> str:
        return f"{self.name}, {self._lines[i]}"

    def column(self, name: str, role: str) -> list[str]:
        alike = [each for each in self.cells.columns if each.lower() == name.lower()]
        if name not in self.cells.columns and len(alike) == 1:
            name = alike[0]
        if name not in self.cells.columns:
            hint = nearest(name, self.cells.columns)
            columns = ", ".join(self.cells.columns)
            raise InputError(
                f"{self.name}: no column '{name}' for the {role}; "
                + (hint if hint else f"columns are {columns}")
                + (self._abreast() if role == "height" else "")
            )
        return [_text(value) for value in self.cells[name].tolist()]

    def _abreast(self) -> str:
        """Return what to do where heights stand abreast, a column for each treatment or plant; else ""."""
        abreast = []
        for name in self.cells.columns:
            texts = [text for text in map(_text, self.cells[name]) if text.lower() not in (*MISSING, *DEAD)]
            known = name.lower() in (*LAYOUT, "pot", "rep") or re.match(r"rate(_|\b)", name, re.IGNORECASE)
            if texts and not known and all(re.fullmatch(r"\d+([.,]\d+)?", text) for text in texts):
                abreast.append(f"'{name}'")
        if len(abreast) < 2:
            return ""
        return (
            f"; if {shortened(', '.join(abreast), 120)} are heights, write a row for each plant, its "
            "treatment in one column and its height in another"
        )

    def numbers(self, name: str, role: str) -> list[float]:
        """Cells as numbers, nan where blank."""
        return [self.number(i, name, text) for i, text in enumerate(self.column(name, role))]

    def number(self, i: int, name: str, text: str) -> float:
        if text.lower() in MISSING:
            return math.nan
        try:
            value = plain_number(text)
        except UnreadableError as error:
            return self.unread(i, f"{name} '{shortened(text)}' is not a number: {error}")
        if value < 0:
            return self.unread(i, f"{name} {text} is negative")
        return value

    def unread(self, i: int, problem: str) -> float:
        """Note what is wrong with a row, to be told with all else; nan stands for its cell."""
        self.problems.add(f"{self.where(i)}: {problem}")
        self.rows_unread.add(i)
        return math.nan


def _text(value: object) -> str:
    if type(value) is str:
        return value.strip()
    if value is None or (isinstance(value, float) and math.isnan(value)) or value is pd.NA or value is pd.NaT:
        return ""
    if isinstance(value, (float, np.floating)) and float(value).is_integer():
        return str(int(value))
    return str(value).strip()


def _read_csv(path: Path, name: str) -> tuple[pd.DataFrame, list[str]]:
    """Cells as text, and the line of the file each row stands on.

    Leading lines that start with # are remarks. Empty lines, and cells beyond the header that are empty, are
    none.
    """
    text, _ = text_of(path)
    lines = text.splitlines(keepends=True)
    remarks = next((n for n, line in enumerate(lines) if not line.startswith("#")), len(lines))
    delimiter = delimiter_of(lines[remarks] if remarks < len(lines) else "")
    reader = csv.reader(lines[remarks:], strict=True, delimiter=delimiter)
    try:
        rows = [(reader.line_num + remarks, row) for row in reader if any(cell.strip() for cell in row)]
    except csv.Error as error:
        line = reader.line_num + remarks
        raise InputError(f"cannot read {path}: line {line} is not a line of a CSV table ({error})") from None
    if not rows:
        raise InputError(f"{name}: the file is empty")
    header = [cell.strip() for cell in rows.pop(0)[1]]
    while header and not header[-1]:
        header.pop()
    if len(header) == 1 and (todo := separated(header[0])):
        raise InputError(f"{name}: {todo}")
    longer = [line for line, row in rows if len(row) > len(header) and any(row[len(header) :])]
    if delimiter == "," and len(longer) > max(1, len(rows) // 2):
        raise InputError(
            f"{name}, line {longer[0]} and {len(longer) - 1} more: more cells than the {len(header)} columns "
            "of the header; if decimals are written with a comma, save the table with semicolons between its "
            "columns"
        )
    problems = Problems()
    for line, row in rows:
        if len(row) < len(header) or any(cell.strip() for cell in row[len(header) :]):
            problems.add(f"{name}, line {line}: {len(row)} cells, the header names {len(header)} columns")
    problems.refuse()
    kept = [row[: len(header)] for _, row in rows]
    if delimiter != ",":  # a comma can only be that of decimals
        kept = [[re.sub(r"^(\s*\d+),(\d+\s*)$", r"\1.\2", cell) for cell in row] for row in kept]
    cells = pd.DataFrame(kept, columns=header, dtype=object)
    return cells, [f"line {line}" for line, _ in rows]


def _unit(column: str, units: Mapping[str, str], allowed: tuple[str, ...]) -> str:
    """The unit of a column: given in `units`, in brackets in its name (Height (in)), or at the name's end
    (height_cm, rate_mg_per_L, Height cm).
    """
    if column in units:
        return units[column]
    in_brackets = re.search(r"[(\[]([^)\]]*)[)\]]\s*$", column)
    unit = in_brackets[1].strip() if in_brackets else column.partition("_")[2].replace("_per_", "/")
    if not unit and " " in column:
        unit = column.split()[-1]
    small = unit.lower().removesuffix(".")
    for spelt in (unit, SPELT.get(small, small)):
        if spelt in allowed or "/" in spelt:
            return spelt
    return ""


def read_table(
    table: str | PathLike[str] | pd.DataFrame,
    *,
    height: str,
    treatment: str | None,
    check: str,
    order: Sequence[str] | None,
    rate: str | None,
    block: str | None,
    row: str | None,
    column: str | None,
    plant: str | None,
    alive: str | None,
    units: Mapping[str, str] | None,
) -> TrialTable:
    """Check and understand a table; arguments as in `read_trial`."""
    source = Source(table)
    units = dict(units or {})
    _known_units(height, rate, units)
    names = {name: name for name in ("plant", "alive") if name in source.cells.columns}
    plant, alive = plant or names.get("plant"), alive or names.get("alive")

    heights = source.column(height, "height")
    height_unit = _height_unit(source, height, units)
    rate_unit = _unit(rate, units, RATE_UNITS) if rate else ""
    rates = source.numbers(rate, "rate") if rate else None

    plants = pd.DataFrame(
        {"plant": source.column(plant, "plant") if plant else [str(i + 1) for i in range(len(heights))]}
    )
    plants["treatment"] = _treatments(source, treatment, check, rates, rate_unit)
    _status(source, plants, heights, height, source.column(alive, "survival") if alive else None, alive or "")
    if rates is not None:
        plants["rate"] = _rates(source, plants, check, rates, str(rate))
        _refuse_other_rates(source, plants, str(rate), rate_unit)
    _place(source, plants, block, row, column)
    source.problems.refuse()

    notes = _unused(source, height, treatment, rate, block, row, column)
    notes += _other_columns(source, [height, treatment, rate, block, row, column, plant, alive])
    notes += _doubtful_heights(source, plants, check, height, height_unit)
    in_order = _order(source, plants, check, order)
    kept = _kept(source, plants, in_order, check, notes)
    return TrialTable(plants, kept, check, height_unit, rate_unit, tuple(notes))


def _known_units(height: str, rate: str | None, units: Mapping[str, str]) -> None:
    """Refuse units of columns that have none."""
    unknown = [name for name in units if name not in (height, rate)]
    if unknown:
        known = [name for name in (height, rate) if name]
        hint = nearest(unknown[0], known) or f"these are {' and '.join(known)}"
        raise InputError(f"units: '{unknown[0]}' is not the height or rate column; {hint}")


def _height_unit(source: Source, height: str, units: Mapping[str, str]) -> str:
    height_unit = _unit(height, units, LENGTH_UNITS)
    if height_unit not in LENGTH_UNITS:
        said = f"unit '{height_unit}' of column" if height_unit else "no unit for the height column"
        allowed = ", ".join(LENGTH_UNITS)
        raise InputError(
            f"{source.name}: {said} '{height}': give units={{'{height}': 'cm'}}, one of {allowed}"
        )
    return height_unit


def _place(
    source: Source, plants: pd.DataFrame, block: str | None, row: str | None, column: str | None
) -> None:
    """Note where on the bench each plant stands; no two stand at one place."""
    for role, name in (("block", block), ("row", row), ("column", column)):
        if name is not None:
            cells = source.column(name, role)
            for i, text in enumerate(cells):
                if text.lower() in MISSING:
                    source.unread(i, f"{role} is blank")
            plants[role] = cells
    _no_doubles(source, plants, ["plant"], "plant")
    if row is not None and column is not None:
        _no_doubles(source, plants, ["row", "column"], "place (row, column)")


def _unused(
    source: Source,
    height: str,
    treatment: str | None,
    rate: str | None,
    block: str | None,
    row: str | None,
    column: str | None,
) -> list[str]:
    """Return notes on columns of the bench and of rates that the table has and nobody asked for."""
    notes = [
        f"Column '{name}' of the table was not used: give {name}='{name}' (--{name} {name}) to take the "
        "bench into account."
        for name in (
            ("block", "row", "column")
            if block is row is column is None
            else ("block",)
            if block is None
            else ()
        )
        if name in source.cells.columns and source.cells[name].nunique() > 1
    ]
    if rate is None:
        notes.extend(
            f"Column '{name}' of the table was not used: give rate='{name}' (--rate {name}) for the dose "
            "response, the next rate and the treatments in their order."
            for name in source.cells.columns
            if re.match(r"rate(_|\b)", name, re.IGNORECASE)
            and name not in (height, treatment)
            and source.cells[name].nunique() > 1
        )
    return notes


def _other_columns(source: Source, used: Sequence[str | None]) -> list[str]:
    """Return a note on columns that were not read, where rows differ in them."""
    known = {name.lower() for name in used if name} | {"block", "row", "column", "treatment"}
    others = [
        name
        for name in source.cells.columns
        if name.lower() not in known
        and not re.match(r"rate(_|\b)", name, re.IGNORECASE)
        and source.cells[name].nunique() > 1
    ]
    if not others:
        return []
    return [f"Columns not read: {', '.join(others)}. Every row counts as a plant of its own."]


def _doubtful_heights(source: Source, plants: pd.DataFrame, check: str, height: str, unit: str) -> list[str]:
    """Return notes on heights that may be in another unit, or have their decimal point elsewhere."""
    notes = []
    medians = plants.groupby("treatment")["height"].transform("median")
    counts = plants.groupby("treatment")["height"].transform("count")
    times = plants["height"] / medians
    doubted = np.flatnonzero(((times > OFF) | (times < 1.0 / OFF)) & (counts > 2))
    if doubted.size:
        row = int(doubted[0])
        more = f", and {doubted.size - 1} more are as far off" if doubted.size > 1 else ""
        notes.append(
            f"{source.where(row)}: {height} {plants['height'].iloc[row]:g} is far from the "
            f"{medians.iloc[row]:g} {unit} in the middle of '{plants['treatment'].iloc[row]}'{more}; it is "
            "counted as it stands. Is the decimal point, or the unit, right?"
        )
    middle = {str(name): float(each) for name, each in plants.groupby("treatment")["height"].median().items()}
    untreated = middle.get(check, math.nan)
    far = [name for name, each in middle.items() if each > OFF * untreated or each < untreated / (5.0 * OFF)]
    if far:
        notes.append(
            f"Plants of '{far[0]}' are {middle[far[0]]:g} {unit} high, and untreated ones {untreated:g} "
            f"{unit}; are all heights in one unit?"
        )
    if not LOWEST <= untreated * METRES[unit] <= HIGHEST and np.isfinite(untreated):
        notes.append(f"Untreated plants are {untreated:g} {unit} high; is that the unit of '{height}'?")
    return notes


def _treatments(
    source: Source, treatment: str | None, check: str, rates: list[float] | None, rate_unit: str
) -> list[str]:
    if treatment is not None:
        names = source.column(treatment, "treatment")
        for i, name in enumerate(names):
            if name.lower() in MISSING:
                source.unread(i, "treatment is blank")
            elif SUMMARY.fullmatch(name):
                source.unread(i, f"'{name}' looks like a summary of plants; take such lines out")
        _one_spelling(source, names)
        return names
    if rates is None:
        raise InputError("treatment=None: the rate column is needed to tell the treatments apart")
    for i, value in enumerate(rates):
        if math.isnan(value) and i not in source.rows_unread:
            source.unread(i, "rate is blank")
    return [check if value == 0 else f"{value:g} {rate_unit}".strip() for value in rates]


def _one_spelling(source: Source, names: list[str]) -> None:
    """Refuse a treatment that is spelt in several ways: read as it stands, it would be several treatments."""
    rows: dict[str, dict[str, list[int]]] = {}
    for i, name in enumerate(names):
        plain = re.sub(r"\s+", "", name).casefold().replace("ppm", "mg/l")
        plain = re.sub(r"(?<![\d.])\d+(\.\d*)?(?![\d.])", lambda match: f"{float(match[0]):.15g}", plain)
        rows.setdefault(plain, {}).setdefault(name, []).append(i)
    for spelt in rows.values():
        usual, *others = sorted(spelt, key=lambda name: -len(spelt[name]))
        for other in others:
            lines = [source.where(i).removeprefix(f"{source.name}, ") for i in spelt[other]]
            more = f" and {len(lines) - 3} more" if len(lines) > 3 else ""
            source.problems.add(
                f"{source.name}, {', '.join(lines[:3])}{more}: treatment '{other}' is written "
                f"'{usual}' elsewhere; write one name for one treatment"
            )


def _status(
    source: Source,
    plants: pd.DataFrame,
    heights: list[str],
    height: str,
    alive: list[str] | None,
    column: str,
) -> None:
    status, value = [], []
    for i, text in enumerate(heights):
        word = "" if alive is None else alive[i].lower()
        if word and word not in YES_NO and word not in MISSING:
            source.unread(i, f"{column} '{shortened(word)}' is neither yes nor no")
        dead = text.lower() in DEAD or YES_NO.get(word) is False
        number = math.nan if text.lower() in DEAD else source.number(i, height, text)
        if number == 0 and not dead:
            source.unread(i, f"{height} is 0; leave it blank if missing, write dead if dead")
        status.append("dead" if dead else "missing" if math.isnan(number) else "measured")
        value.append(number if status[-1] == "measured" else math.nan)
    plants["status"], plants["height"] = status, value


def _refuse_other_rates(source: Source, plants: pd.DataFrame, column: str, unit: str) -> None:
    """Refuse a rate that is not the one in the name of its treatment, as 0.015 ppm of '15 ppm'."""
    if not unit:
        return
    for name, rate in plants.groupby("treatment", sort=False)["rate"].first().items():
        named = _concentration(str(name))
        told = _concentration(f"{float(rate)!r} {unit}")
        if None not in (named, told) and not math.isclose(
            float(named or 0.0), float(told or 0.0), rel_tol=0.01
        ):
            row = int(np.flatnonzero(plants["treatment"] == name)[0])
            source.unread(row, f"treatment '{name}' has {column} {float(rate):g}; its name says another rate")


def _concentration(text: str) -> float | None:
    """Return the concentration [kg/m3] that a text is, None for any other text."""
    try:
        return value_in_si(TABLE["application.concentration"], text)
    except InputError:
        return None


def _rates(source: Source, plants: pd.DataFrame, check: str, rates: list[float], column: str) -> list[float]:
    known: dict[str, float] = {check: 0.0}
    for i, (name, value) in enumerate(zip(plants["treatment"], rates, strict=True)):
        if i in source.rows_unread:
            continue
        if math.isnan(value):
            if name != check:
                source.unread(i, f"{column} is blank for treatment '{name}'")
        elif known.setdefault(name, value) != value:
            if name == check:
                source.unread(i, f"the check '{check}' has {column} {value:g}; it must be 0")
            else:
                above = f"{known[name]:g} above"
                source.unread(i, f"treatment '{name}' has {column} {value:g} here and {above}")
    return [known.get(name, math.nan) for name in plants["treatment"]]


def _no_doubles(source: Source, plants: pd.DataFrame, columns: list[str], what: str) -> None:
    seen: dict[tuple[str, ...], int] = {}
    for i, key in enumerate(plants[columns].itertuples(index=False, name=None)):
        if key[0].lower() in MISSING:
            source.unread(i, f"{what} is blank")
        elif key in seen:
            before = source.where(seen[key]).removeprefix(f"{source.name}, ")
            source.unread(i, f"{what} {', '.join(key)} is already on {before}")
        seen.setdefault(key, i)


def _order(source: Source, plants: pd.DataFrame, check: str, order: Sequence[str] | None) -> list[str]:
    """The check first, then the treatments as told, or by rate, or in order of appearance."""
    names = list(dict.fromkeys(plants["treatment"]))
    if check not in names:
        hint = nearest(check, names) or "name it with check=..."
        raise InputError(
            f"{source.name}: no untreated check '{check}' among the treatments ({', '.join(names)}); {hint}"
        )
    if len(names) < 2:
        raise InputError(
            f"{source.name}: only the check '{check}' is in it; at least one treatment is needed"
        )
    if order is not None:
        told = [str(name) for name in order if str(name) != check]
        for name in told:
            if name not in names:
                hint = nearest(name, names) or f"treatments are {', '.join(names)}"
                raise InputError(f"{source.name}: order names '{name}', which is not in the table; {hint}")
        missed = [name for name in names if name not in (check, *told)]
        if missed or len(set(told)) < len(told):
            raise InputError(
                "order must name every treatment once" + (f"; '{missed[0]}' is not in it" if missed else "")
            )
        names = [check, *told]
    elif "rate" in plants:
        rate = plants.groupby("treatment")["rate"].first()
        names.sort(key=lambda name: float(rate[name]))
    return sorted(names, key=lambda name: name != check)


def _kept(
    source: Source, plants: pd.DataFrame, order: list[str], check: str, notes: list[str]
) -> tuple[str, ...]:
    """Treatments with at least two measured plants; the rest are named in the notes."""
    listed = plants["treatment"].value_counts()
    measured = plants.loc[plants["status"] == "measured", "treatment"].value_counts()
    for name in order:
        if listed[name] < 2:
            hint = nearest(name, [other for other in order if other != name])
            raise InputError(
                f"{source.name}: treatment '{name}' has one plant; at least two are needed to see any spread"
                + (f"; {hint}" if hint else "")
            )
    kept = [name for name in order if measured.get(name, 0) >= 2]
    if check not in kept:
        raise InputError(
            f"{source.name}: the check '{check}' has fewer than two measured plants; nothing to compare with"
        )
    if len(kept) < 2:
        raise InputError(f"{source.name}: no treatment has two measured plants")
    notes.extend(
        f"'{name}' is not compared: {measured.get(name, 0)} of its {listed[name]} plants could be measured."
        for name in order
        if name not in kept
    )
    return tuple(kept)
