"""The sheet of a plan after it is filled in, recognised by its headings."""

from __future__ import annotations

import csv
import os
from pathlib import Path

#: The columns that a plan's sheet begins with; heights, a rate and remarks follow.
LAYOUT = ("plant", "row", "column", "block", "treatment")


def headings(path: str | os.PathLike[str]) -> list[str]:
    """Return the headings of a table, those after remarks (#); of a file that cannot be read, none."""
    try:
        with Path(path).open(encoding="utf-8-sig", errors="replace", newline="") as file:
            rows = csv.reader(line for line in file if not line.startswith("#"))
            return [cell.strip() for cell in next(rows, [])]
    except (OSError, csv.Error):
        return []


def roles_of(headings: list[str]) -> dict[str, str]:
    """Return which heading of a plan's sheet is the height, the rate and the block; {} of another table."""
    if not set(LAYOUT) <= set(headings):
        return {}
    found = {"block": "block"}
    for role in ("height", "rate"):
        told = [each for each in headings if each == role or each.startswith(f"{role}_")]
        if len(told) == 1:
            found[role] = told[0]
    return found if "height" in found else {}
