"""Published values and raw tables of tests/reference, for the tests of trials."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from published import REFERENCE, Row, rows


@pytest.fixture(scope="session")
def published() -> Callable[[str], list[Row]]:
    """The rows of trials.csv for a quantity; fails if there are none."""
    return lambda quantity: rows("trials", quantity)


@pytest.fixture(scope="session")
def raw() -> Callable[[str], Path]:
    """The path of a raw table of tests/reference."""
    return lambda name: REFERENCE / f"trial_{name}.csv"
