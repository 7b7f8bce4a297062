"""The table of inputs as people read it."""

from __future__ import annotations

import pandas as pd

from wetspan import _core
from wetspan.errors import InputError, nearest
from wetspan.units import convert, shown

#: Every input by its key, in the table's order.
TABLE: dict[str, _core.Parameter] = {row.key: row for row in _core.parameters()}
#: Every section's meaning by its name.
SECTIONS: dict[str, str] = dict(_core.sections())
GRADES = {
    "A": "measured by others, with a citation",
    "B": "a published formula or standard",
    "C": "calibrated here to a stated fact of the trade; never evidence that the model is right",
    "D": "an assumption, with a wide range",
}


def row_of(key: str) -> _core.Parameter:
    """Return the table's row of a key; an unknown key is refused with the nearest there is."""
    if key in TABLE:
        return TABLE[key]
    ends_alike = [known for known in TABLE if known.endswith(f".{key}")]
    hint = (
        f"did you mean {' or '.join(repr(known) for known in ends_alike)}?"
        if ends_alike
        else nearest(key, TABLE) or f"sections are {', '.join(SECTIONS)}"
    )
    raise InputError(f"unknown input '{key}'; {hint}")


def parameters() -> pd.DataFrame:
    """Return the table of inputs: one row per input, in the units people are shown.

    Columns default, lowest, highest, unit (shown), si_unit (what a bare number means), spread (90 % factor of
    plausible deviation; 1 for what the user states), grade (A measured, B published formula, C calibrated,
    D assumption), source, meaning; index key.
    """

    def in_words(row: _core.Parameter, value: float) -> object:
        return shown(row, value) if row.kind in ("choice", "toggle") else convert(value, row.unit, row.shown)

    return pd.DataFrame(
        {
            "default": [in_words(row, row.standard) for row in TABLE.values()],
            "lowest": [in_words(row, row.low) for row in TABLE.values()],
            "highest": [in_words(row, row.high) for row in TABLE.values()],
            "unit": [row.shown for row in TABLE.values()],
            "si_unit": [row.unit for row in TABLE.values()],
            "spread": [row.spread for row in TABLE.values()],
            "grade": [row.grade for row in TABLE.values()],
            "source": [row.source for row in TABLE.values()],
            "meaning": [row.meaning for row in TABLE.values()],
        },
        index=pd.Index(TABLE, name="key"),
    )


def schema() -> dict[str, object]:
    """Return a JSON Schema of the scenario file, made from the table."""

    def of(row: _core.Parameter) -> dict[str, object]:
        told: dict[str, object] = {
            "description": f"{row.meaning}. Grade {row.grade}: {row.source}.",
            "default": shown(row, row.standard)
            if row.kind != "number"
            else f"{shown(row, row.standard):.6g} {row.shown}",
        }
        if row.kind == "choice":
            return told | {"enum": list(row.choices)}
        if row.kind == "toggle":
            return told | {"type": "boolean"}
        if row.unit == "1":
            kind = "integer" if row.kind == "count" else ["number", "string"]
            return told | {"type": kind, "minimum": row.low, "maximum": row.high}
        return told | {
            "type": "string",
            "pattern": "^[-+.0-9eE]+ ?.+$",
            "examples": [f"{shown(row, row.low):.6g} {row.shown}"],
        }

    sections = {
        section: {
            "type": "object",
            "description": about,
            "additionalProperties": False,
            "properties": {row.name: of(row) for row in TABLE.values() if row.section == section},
        }
        for section, about in SECTIONS.items()
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "wetspan scenario",
        "type": "object",
        "additionalProperties": False,
        "properties": {"title": {"type": "string"}} | sections,
    }
