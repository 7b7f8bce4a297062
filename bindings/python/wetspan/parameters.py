"""The table of inputs in the units that people are shown."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wetspan import _core, weather_table
from wetspan.errors import InputError, echo, nearest
from wetspan.unit_shown import show, shown

if TYPE_CHECKING:
    import pandas as pd

#: Every input by its key, in the table's order.
TABLE: dict[str, _core.Parameter] = {row.key: row for row in _core.parameters()}
#: Its position in the table, by which the core knows it.
POSITION: dict[str, int] = {key: position for position, key in enumerate(TABLE)}
#: Every section's meaning by its name.
SECTIONS: dict[str, str] = {each.name: each.about for each in _core.sections()}
GRADES = {
    "A": "measured by others, with a citation: on this substance and crop, or on another (measured_on)",
    "B": "a published formula or standard",
    "C": "calibrated here to a stated fact of the trade; never evidence that the model is right",
    "D": "an assumption, with a wide range",
}


def row_of(key: str) -> _core.Parameter:
    """Return the table's row of a key; an unknown key is refused with the nearest there is."""
    if key in TABLE:
        return TABLE[key]
    section, dot, _ = str(key).partition(".")
    same_name = " or ".join(f"'{known}'" for known in TABLE if known.endswith(f".{key}"))
    hint = f"did you mean {same_name}?" if same_name else nearest(str(key), TABLE if dot else SECTIONS)
    if section in SECTIONS and (not hint or not dot):
        hint = f"'{section}' has {', '.join(row.name for row in TABLE.values() if row.section == section)}"
    raise InputError(f"unknown input {echo(str(key))}; {hint or 'sections are ' + ', '.join(SECTIONS)}")


def parameters() -> pd.DataFrame:
    """Return the table of inputs: one row per input, in the units people are shown.

    Columns default, lowest, highest, unit (shown), si_unit (what a bare number means), spread (90 % factor of
    plausible deviation; 1 for what the user states), grade (A measured, B published formula, C calibrated,
    D assumption), measured_on (of grade A: "this" substance, crop or setting, or "another"), source, meaning;
    index key.
    """
    import pandas as pd

    rows = TABLE.values()
    return pd.DataFrame(
        {
            "default": [shown(row, row.standard) for row in rows],
            "lowest": [shown(row, row.low) for row in rows],
            "highest": [shown(row, row.high) for row in rows],
            "unit": [row.shown for row in rows],
            "si_unit": [row.unit for row in rows],
            "spread": [row.spread for row in rows],
            "grade": [row.grade for row in rows],
            "measured_on": [row.measured_on for row in rows],
            "source": [row.source for row in rows],
            "meaning": [row.meaning for row in rows],
        },
        index=pd.Index(TABLE, name="key"),
    )


def schema() -> dict[str, object]:
    """Return a JSON Schema of the scenario file, made from the table."""

    def of(row: _core.Parameter) -> dict[str, object]:
        told: dict[str, object] = {"description": f"{row.meaning}. Grade {row.grade}: {row.source}."}
        match row.kind:
            case "choice":
                return told | {"default": shown(row, row.standard), "enum": list(row.choices)}
            case "toggle":
                return told | {"default": shown(row, row.standard), "type": "boolean"}
            case "count":
                limits = {"minimum": int(row.low), "maximum": int(row.high)}
                return told | {"default": shown(row, row.standard), "type": "integer"} | limits
        text = {
            "type": "string",
            "pattern": "^[-+.0-9\u00bc-\u00be\u2150-\u215e]",
            "examples": [show(row, row.high)],
        }
        if row.unit != "1":
            return told | {"default": show(row, row.standard)} | text
        number = {"type": "number", "minimum": row.low, "maximum": row.high}
        return told | {"default": row.standard, "anyOf": [number, text]}

    sections: dict[str, dict[str, Any]] = {
        section: {
            "type": "object",
            "description": about,
            "additionalProperties": False,
            "properties": {row.name: of(row) for row in TABLE.values() if row.section == section},
        }
        for section, about in SECTIONS.items()
    }
    sections["rewetting"]["properties"]["at"] = {
        "description": "Time of day of the re-wetting, the next one after the spray; instead of delay.",
        "type": "string",
        "pattern": "^[0-2][0-9]:[0-5][0-9]",
        "examples": ["07:00"],
    }
    sections["application"]["properties"]["volume_per_pot"] = {
        "description": "Of a drench, in place of volume_rate: what is poured into each pot.",
        "type": "string",
        "examples": ["4 fl oz"],
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "wetspan scenario",
        "type": "object",
        "additionalProperties": False,
        "properties": {
            "title": {"type": "string"},
            "crop_file": {"type": "string"},
            "weather": weather_table.schema(),
            "applications": {"type": "array", "items": {"type": "object", "required": ["at"]}},
            **sections,
        },
    }
