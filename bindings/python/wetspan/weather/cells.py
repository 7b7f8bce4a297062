"""Columns of a weather file as text, and how a plain CSV is divided into them."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

import numpy as np

from wetspan.errors import InputError, Problems, nearest
from wetspan.unit_text import UnreadableError, plain_number
from wetspan.weather.assembly import in_si
from wetspan.weather.clock import Array
from wetspan.weather.headings import DELIMITERS, PREAMBLE, unit_in
from wetspan.weather.variables import VARIABLES, either, same_unit, short


@dataclass(frozen=True)
class Cells:
    """Columns of a file as text, with what an error has to name: file, line of each row, headings, units."""

    file: str
    lines: Sequence[int]
    headings: Mapping[str, str]
    texts: Mapping[str, Sequence[str]]
    units: Mapping[str, str]
    units_stated: bool
    delimiter: str = ","

    def where(self, row: int, name: str) -> str:
        """Name a cell: file, line, column and what stands there."""
        text = self.texts[name][row]
        return f"{self.file}, line {self.lines[row]}, column '{self.headings[name]}': '{text}'"

    def si(self, name: str, notes: list[str]) -> Array:
        """Return a column in SI, every value finite and within bounds."""
        unit, texts = self.units[name], self.texts[name]
        given, problems = np.empty(len(texts)), Problems()
        wanted = "a plain number" if unit == "1" else f"a number in {unit}"
        for row, text in enumerate(texts):
            if not text:
                problems.add(
                    f"{self.where(row, name)} is blank; take out lines without all readings, as a gap"
                )
                continue
            try:
                given[row] = plain_number(text)
            except UnreadableError as error:
                problems.add(f"{self.where(row, name)} is not a number; allowed is {wanted} ({error})")
        problems.refuse()
        return in_si(name, given, unit, self.where, notes, stated=self.units_stated)


def cut(
    file: str, text: str, columns: Mapping[str, str], units: Mapping[str, str]
) -> tuple[Cells, list[str]]:
    """Cut a CSV (comma, semicolon or tab) into the columns asked for; also return the other headings."""
    lines = text.split("\n")
    candidates = (
        (
            number,
            delimiter,
            [heading.strip() for heading in next(csv.reader([line], delimiter=delimiter), [])],
        )
        for number, line in enumerate(lines[:PREAMBLE], start=1)
        for delimiter in DELIMITERS
    )
    found = next((candidate for candidate in candidates if columns["time"] in candidate[2]), None)
    if found is None:
        first = [heading.strip(' "') for heading in re.split("[,;\t]", lines[0])]
        raise InputError(
            f"{file}: no column '{columns['time']}' in its first {min(len(lines), PREAMBLE)} line(s); "
            f"line 1 is '{short(lines[0])}'; {nearest(columns['time'], first)}".rstrip("; ")
        )
    header_line, delimiter, header = found
    for heading in columns.values():
        if (count := header.count(heading)) != 1:
            raise InputError(
                f"{file}, line {header_line}: {count or 'no'} columns '{heading}', one is needed; there are "
                f"{', '.join(header)}; {nearest(heading, header) if count == 0 else ''}".rstrip("; ")
            )

    reader = csv.reader(lines[header_line:], delimiter=delimiter)
    numbers, rows, wrong = [], [], []
    try:
        for fields in reader:
            if len(fields) == len(header):
                numbers.append(header_line + reader.line_num)
                rows.append(fields)
            elif any(field.strip() for field in fields):
                wrong.append((header_line + reader.line_num, len(fields)))
    except csv.Error as error:
        raise InputError(
            f"{file}, line {header_line + reader.line_num}: not readable as CSV: {error}"
        ) from None
    _refuse_lengths(file, wrong, len(header), delimiter, len(rows))
    places = {name: header.index(heading) for name, heading in columns.items()}
    texts = {name: [fields[place].strip() for fields in rows] for name, place in places.items()}
    if "date" in texts:
        texts["time"] = [" ".join(pair) for pair in zip(texts.pop("date"), texts["time"], strict=True)]
    unread = [heading for heading in header if heading and heading not in columns.values()]
    cells = Cells(file, numbers, columns, texts, dict(units), units_stated=True, delimiter=delimiter)
    return cells, unread


def _refuse_lengths(
    file: str, wrong: Sequence[tuple[int, int]], headings: int, delimiter: str, right: int
) -> None:
    """Refuse lines that have more or fewer fields than there are headings."""
    if len(wrong) > 1 and not right and delimiter == "," and all(count > headings for _, count in wrong):
        line, count = wrong[0]
        raise InputError(
            f"{file}, line {line} and {len(wrong) - 1} more: {count} field(s); the headings are "
            f"{headings}; if decimals are written with a comma, save the table with semicolons between "
            "its columns"
        )
    problems = Problems()
    for line, count in wrong:
        problems.add(f"{file}, line {line}: {count} field(s); the headings are {headings}")
    problems.refuse()


def with_readings(cells: Cells, notes: list[str]) -> Cells:
    """Pass over lines of events, which have a time and no reading at all."""
    values = [cells.texts[name] for name in VARIABLES if name in cells.texts]
    kept = [row for row in range(len(cells.lines)) if any(texts[row] for texts in values)]
    if not values or len(kept) in (0, len(cells.lines)):
        return cells
    first = next(row for row in range(len(cells.lines)) if row not in set(kept))
    notes.append(
        f"{len(cells.lines) - len(kept)} line(s) without any reading are passed over, the first of them line "
        f"{cells.lines[first]}."
    )
    texts = {name: [column[row] for row in kept] for name, column in cells.texts.items()}
    return replace(cells, lines=[cells.lines[row] for row in kept], texts=texts)


def plain_numbers(cells: Cells, notes: list[str]) -> Cells:
    """Take units from behind the numbers of a column, and decimal commas where they can be nothing else."""
    texts, units = dict(cells.texts), dict(cells.units)
    for name in VARIABLES:
        if name not in texts:
            continue
        behind = {re.sub(r"^[-+]?[\d.,]+\s*", "", text) for text in texts[name]}
        unit = next(iter(behind)) if len(behind) == 1 else ""
        if unit and (said := unit_in(f"({unit})", name)) and same_unit(units.get(name, said), said, name):
            texts[name] = [text[: len(text) - len(unit)].rstrip() for text in texts[name]]
            units[name] = said
        _refuse_points_of_thousands(replace(cells, texts=texts), name)
    numbers = [text for name in VARIABLES for text in texts.get(name, ())]
    if (
        cells.delimiter != ","
        and not any("." in text for text in numbers)
        and any(re.fullmatch(r"[-+]?\d+,(\d{1,2}|\d{4,})", text) for text in numbers)
    ):
        texts |= {
            name: [text.replace(",", ".") for text in texts[name]] for name in VARIABLES if name in texts
        }
        notes.append("Decimals are written with a comma in the file.")
    return replace(cells, texts=texts, units=units)


def _refuse_points_of_thousands(cells: Cells, name: str) -> None:
    """Refuse a column such as 0, 950, 1.034, whose points may stand between thousands.

    What is written with fixed decimals has a point everywhere, and other decimals do not end with 0.
    """
    texts = cells.texts[name]
    pointed = [row for row, text in enumerate(texts) if "." in text]
    if not pointed or not all(re.fullmatch(r"[1-9]\d{0,2}\.\d{3}", texts[row]) for row in pointed):
        return
    whole = [text for text in texts if text.isdecimal()]
    if whole and (max(map(len, whole)) == 3 or any(texts[row].endswith("0") for row in pointed)):
        text = texts[pointed[0]]
        raise InputError(
            f"{cells.where(pointed[0], name)} may be {text} or {text.replace('.', '')} beside whole "
            "numbers; write thousands without a point, or decimals in every line"
        )


def with_unit(cells: Cells, name: str) -> Cells:
    """Return the cells, the unit of a column settled."""
    if name in cells.units:
        return cells
    if name == "relative_humidity":
        try:
            if median(float(text) for text in cells.texts[name]) > 5.0:  # no share is so large
                return replace(cells, units={**cells.units, name: "percent"})
        except ValueError:
            pass
    common = VARIABLES[name].common_units
    raise InputError(
        f"{cells.file}: '{cells.headings[name]}' does not say its unit; give "
        f"units={{'{name}': '{common[0]}'}}, or {either(common[1:])}"
    )
