"""Published values and raw tables of tests/reference, for the tests of trials."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

REFERENCE = Path(__file__).parents[2] / "reference"


class Row(NamedTuple):
    inputs: dict[str, float]
    value: float
    tolerance: float


@pytest.fixture(scope="session")
def published() -> Callable[[str], list[Row]]:
    """The rows of trials.csv for a quantity; fails if there are none."""
    with open(REFERENCE / "trials.csv", encoding="utf-8") as file:
        table = list(csv.DictReader(file))

    def rows(quantity: str) -> list[Row]:
        found = [
            Row(
                {
                    name.strip(): float(value)
                    for name, value in (pair.split("=") for pair in row["inputs"].split(";") if pair)
                },
                float(row["value"]),
                float(row["tolerance"]),
            )
            for row in table
            if row["quantity"] == quantity
        ]
        assert found, f"trials.csv has no rows for '{quantity}'"
        return found

    return rows


@pytest.fixture(scope="session")
def raw() -> Callable[[str], Path]:
    """The path of a raw table of tests/reference."""
    return lambda name: REFERENCE / f"trial_{name}.csv"
