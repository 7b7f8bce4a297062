"""`wetspan measure sheet`: the sheet to print and fill in."""

from __future__ import annotations

import argparse

from wetspan.commands.measure_experiments import NAMES as NAMES
from wetspan.commands.measure_experiments import add_experiment
from wetspan.commands.measure_plan import planned
from wetspan.commands.output import save


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = (
        "Write the sheet of a planned measurement: cautions, what to do, the table to fill in."
    )
    add_experiment(command)
    command.add_argument("out", metavar="OUT", help="file to write: .pdf or .html to print, .csv to fill in")
    command.add_argument("--precision", metavar="SHARE", help="as in `measure plan`")
    command.add_argument("--number", type=int, metavar="N", help="as in `measure plan`")
    command.add_argument("--balance", metavar="MASS", help="as in `measure plan`")


def run(asked: argparse.Namespace) -> None:
    """Write the sheet."""
    save(planned(asked).save_sheet, asked.out)
