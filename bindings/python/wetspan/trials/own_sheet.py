"""The sheet of a plan after it is filled in, recognised by its headings."""

from __future__ import annotations

import csv
import os
import re
from pathlib import Path

#: The columns that a plan's sheet begins with; heights, a rate and remarks follow.
LAYOUT = ("plant", "row", "column", "block", "treatment")


def delimiter_of(header: str) -> str:
    """Return what separates columns: a comma, or what spreadsheets write where commas are for decimals."""
    return "," if "," in header else next((each for each in ";\t" if each in header), ",")


def headings(path: str | os.PathLike[str]) -> list[str]:
    """Return the headings of a table, those after remarks (#); of a file that cannot be read, none."""
    try:
        with Path(path).open(encoding="utf-8-sig", errors="replace", newline="") as file:
            first = next((line for line in file if line.strip() and not line.startswith("#")), "")
            return [cell.strip() for cell in next(csv.reader([first], delimiter=delimiter_of(first)), [])]
    except (OSError, csv.Error):
        return []


def is_height(heading: str) -> bool:
    """Return whether a heading begins with the word height."""
    return re.match(r"height(_|\b)", heading, re.IGNORECASE) is not None


def roles_of(headings: list[str]) -> dict[str, str]:
    """Return which heading of a plan's sheet is the height, the rate and the block; of another table the
    height alone, where one heading alone says it.
    """
    if not set(LAYOUT) <= set(headings):
        heights = list(filter(is_height, headings))
        return {"height": heights[0]} if len(heights) == 1 else {}
    found = {"block": "block"}
    for role in ("height", "rate"):
        told = [each for each in headings if re.match(rf"{role}(_|\b)", each, re.IGNORECASE)]
        if len(told) == 1:
            found[role] = told[0]
    return found if "height" in found else {}
