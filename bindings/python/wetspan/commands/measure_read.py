"""`wetspan measure read`: the measurement compared with the model's prediction."""

from __future__ import annotations

import argparse

from wetspan.cautions import CAUTIONS
from wetspan.commands.measure_experiments import NAMES as NAMES
from wetspan.commands.measure_experiments import add_experiment, add_reading, result_of
from wetspan.commands.output import save, save_picture, write_json, write_text
from wetspan.commands.trial_table import check_paths
from wetspan.json_values import records
from wetspan.scenario_file import load


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = "Read a filled-in sheet and hold it against the model of a scenario."
    add_experiment(command)
    command.add_argument(
        "table", metavar="TABLE", help="CSV file, as `measure sheet` or `plan --csv` writes it"
    )
    add_reading(command)
    output = command.add_argument_group("output")
    output.add_argument("--json", action="store_true", help="write JSON instead of text")
    output.add_argument("--csv", metavar="FILE", help="write the table of what was measured")
    output.add_argument("--picture", metavar="FILE", help="also draw it, as PNG, SVG or PDF")


def run(asked: argparse.Namespace) -> None:
    """Read the table, and tell it."""
    check_paths(asked)
    result = result_of(asked, load(asked.file), asked.experiment, asked.table)
    save(lambda path: result.table.to_csv(path), asked.csv)
    save_picture(lambda _: result.plot(), asked.picture)
    if asked.json:
        write_json(
            {
                "experiment": asked.experiment,
                "table": records(result.table.reset_index()),
                "inputs": records(result.inputs.reset_index()),
                "warnings": list(result.warnings),
                "text": result.text.splitlines(),
                "cautions": CAUTIONS,
            }
        )
        return
    write_text(result.text)
