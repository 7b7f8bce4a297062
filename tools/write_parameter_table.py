"""Write docs/parameters.md, the table of inputs, from the table the model is built with.

Usage: python tools/write_parameter_table.py
"""

from pathlib import Path

import pandas as pd
import wetspan as ws
from wetspan.parameters import GRADES, SECTIONS, TABLE
from wetspan.unit_shown import inward

PAGE = Path(__file__).resolve().parents[1] / "docs" / "parameters.md"


def text(value: object) -> str:
    """Return a value of the table as a scenario file would have it, safe inside a cell."""
    if isinstance(value, bool):
        return str(value).lower()
    return (f"{value:.4g}" if isinstance(value, float) else str(value)).replace("|", "\\|")


def bounds(low: object, high: object) -> tuple[str, str]:
    """Return bounds as text; those of numbers are rounded inward."""
    numbers = isinstance(low, float) and isinstance(high, float)
    return inward(low, high, digits=4) if numbers else (text(low), text(high))


def spread(key: str) -> str:
    """Return how far the truth may lie from a default: a factor, of a temperature a difference."""
    row = TABLE[key]
    if row.spread <= 1.0:
        return ""
    return f"± {row.standard * (row.spread - 1.0):.2g} K" if row.unit == "K" else f"{row.spread:g}"


def line(key: str, row: pd.Series) -> str:
    """Return the line of one input."""
    unit = "" if row["unit"] == "1" else f" {row['unit']}"
    *others, last = TABLE[key].choices or bounds(row["lowest"], row["highest"])
    between = " or " if isinstance(row["default"], str | bool) else " to "
    cells = (
        f"`{key}`",
        text(row["default"]) + unit,
        ", ".join(others) + between + last,
        spread(key),
        row["grade"],
        row["measured_on"],
        f"{text(row['meaning'])}. *{text(row['source'])}*",
    )
    return f"| {' | '.join(cells)} |"


def page() -> str:
    """Return the text of the page."""
    table = ws.parameters()
    lines = [
        "# Inputs",
        "",
        "Every input of a scenario. Written by `python tools/write_parameter_table.py`: change",
        "`lib/include/wetspan/parameters.hpp`, not this page.",
        "",
        "*Spread* is the factor within which the truth plausibly (90 %) lies; blank for what the user",
        "states. The evidence grade says where a default comes from:",
        "",
        *(f"- **{grade}** {meaning}" for grade, meaning in GRADES.items()),
        "",
        "*Measured on*, of grade A: whether on this substance, crop or setting, or on another.",
    ]
    for section, about in SECTIONS.items():
        rows = table[table.index.str.startswith(f"{section}.")]
        lines += [
            "",
            f"## {section}",
            "",
            f"{about}.",
            "",
            "| Input | Default | Allowed | Spread | Grade | Measured on | Meaning, *source* |",
            "|---|---|---|---|---|---|---|",
            *(line(str(key), row) for key, row in rows.iterrows()),
        ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
