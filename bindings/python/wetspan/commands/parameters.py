"""`wetspan parameters`: show every input."""

from __future__ import annotations

import argparse

from wetspan import _core
from wetspan.commands.inputs import add_units
from wetspan.commands.output import console, write_json
from wetspan.parameters import GRADES, SECTIONS, TABLE, parameters, row_of, schema
from wetspan.unit_choice import UnitChoice

NAMES: dict[str, str] = {}


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = "Show every input. Evidence: " + " ".join(
        f"{grade} - {meaning}." for grade, meaning in GRADES.items()
    )
    command.epilog = None
    command.add_argument(
        "name", nargs="?", metavar="NAME", help="one section, such as leaf, or one input, such as leaf.width"
    )
    add_units(command, "metric")
    command.add_argument("--json", action="store_true", help="write JSON")
    command.add_argument("--schema", action="store_true", help="write the JSON Schema of scenario files")


def run(asked: argparse.Namespace) -> None:
    """Show the inputs that are asked for."""
    if asked.schema:
        write_json(schema())
        return
    rows = list(TABLE.values())
    if asked.name in SECTIONS:
        rows = [row for row in rows if row.section == asked.name]
    elif asked.name:
        rows = [row_of(asked.name)]
    if asked.json:
        write_json(parameters().loc[[row.key for row in rows]].reset_index().to_dict("records"))
        return
    from rich.text import Text

    from wetspan.report.tables import table  # which loads what reports are of

    units = UnitChoice.named(asked.units or "metric")
    view = table("input", "default", "allowed", "spread*", "grade, measured on", "meaning; source")
    view.columns[0].no_wrap = True
    view.columns[1].max_width = view.columns[2].max_width = 14
    view.columns[5].min_width = 24
    for row in rows:
        view.add_row(
            row.key,
            units.show(row, row.standard),
            _allowed(row, units),
            f"{row.spread:g}" if row.spread > 1.0 else "",
            f"{row.grade}, {row.measured_on}" if row.measured_on else row.grade,
            Text.assemble(f"{row.meaning}; ", (row.source, "dim")),
        )
    console().print(view)


def _allowed(row: _core.Parameter, units: UnitChoice) -> str:
    if row.kind == "toggle":
        return "true or false"
    return " or ".join(row.choices) or units.show_allowed(row)
