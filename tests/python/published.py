"""Published values of tests/reference, as the C++ tests read them (tests/cpp/reference.hpp)."""

from __future__ import annotations

import csv
import math
import os
import re
from dataclasses import dataclass
from pathlib import Path

import pytest

REFERENCE = Path(__file__).parents[1] / "reference"


@dataclass(frozen=True)
class Row:
    """A published value."""

    table: str
    quantity: str
    given: str
    value: float
    unit: str
    tolerance: float
    source: str

    @property
    def inputs(self) -> dict[str, float]:
        pairs = (pair.split("=") for pair in self.given.split(";") if pair.strip())
        return {name.strip(): float(value) for name, value in pairs}

    def note(self, numbers: str = "\t\t\t") -> None:
        """Write down, for docs/validation.md, that the row was read, or what it was compared with."""
        if path := os.environ.get("WETSPAN_COMPARISONS"):
            parts = (self.table, self.quantity, self.given, self.source, numbers)
            with open(path, "a", encoding="utf-8") as file:
                file.write("\t".join(parts) + "\n")

    def lies(self, ours: float, low: float, high: float, by: str = "") -> bool:
        """Whether ours lies within; `by` says which of several models made it."""
        self.note(f"{by}\t{float(ours)!r}\t{float(low)!r}\t{float(high)!r}")
        return bool(low <= ours <= high)

    def holds(self, ours: float, by: str = "", *, within: float | None = None) -> bool:
        """Whether ours is within the row's tolerance of the published value, or `within` another."""
        band = self.tolerance if within is None else within
        return self.lies(ours, self.value - band, self.value + band, by)

    def at_least(self, ours: float, by: str = "") -> bool:
        return self.lies(ours, self.value, math.inf, by)

    def at_most(self, ours: float, by: str = "") -> bool:
        return self.lies(ours, -math.inf, self.value, by)


def rows(table: str, quantity: str) -> list[Row]:
    """The rows of a table for a quantity; fails if there are none."""
    with (REFERENCE / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        found = [
            Row(
                table,
                quantity,
                row["inputs"],
                float(row["value"]),
                row["unit"],
                float(row["tolerance"]),
                row["source"],
            )
            for row in csv.DictReader(file)
            if row["quantity"] == quantity
        ]
    assert found, f"{table}.csv has no rows for '{quantity}'"
    for row in found:
        row.note()
    return found


def table_of_page(page: str, header: str) -> list[tuple[str, list[float]]]:
    """The rows below a header on a page of docs/science: the first cell, and the numbers of the others."""
    path = Path(__file__).parents[2] / f"docs/science/{page}.md"
    if not path.exists():
        pytest.skip("a source distribution has no pages")
    _, _, rest = path.read_text(encoding="utf-8").partition(header)
    assert rest, header
    found = []
    for line in rest.split("\n\n")[0].splitlines()[2:]:
        name, *cells = (cell.strip() for cell in line.strip("|").split("|"))
        numbers = re.findall(r"[+-]?\d+(?:\.\d+)?", " ".join(cells))
        found.append((name, [float(each) for each in numbers]))
    return found
