"""`wetspan measure plan`: number of objects, balance and times, and what the measurement would decide."""

from __future__ import annotations

import argparse
from typing import Any

from wetspan.cautions import CAUTIONS
from wetspan.commands.measure_experiments import EXPERIMENTS, add_experiment, experiment_of
from wetspan.commands.measure_experiments import NAMES as NAMES
from wetspan.commands.output import save, write_json, write_text
from wetspan.commands.trial_table import check_paths
from wetspan.scenario_file import load
from wetspan.units import share


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = (
        "Plan a measurement in the air and with the crop of a scenario: how many are needed for the precision"
        " that is wanted."
    )
    add_experiment(command)
    command.add_argument(
        "--precision",
        metavar="SHARE",
        help="half of the interval wanted, over the value: 0.2 or '20 %%'",
    )
    command.add_argument(
        "--number", type=int, metavar="N", help="so many leaves, pots or washes, and their precision"
    )
    command.add_argument("--balance", metavar="MASS", help="step of the balance, such as '1 mg' (leaf, pots)")
    output = command.add_argument_group("output")
    output.add_argument("--json", action="store_true", help="write JSON instead of text")
    output.add_argument(
        "--csv", metavar="FILE", help="write the sheet to fill in, which `measure read` reads"
    )
    output.add_argument("--sheet", metavar="FILE", help="write the sheet to print: .pdf or .html")


def run(asked: argparse.Namespace) -> None:
    """Plan the measurement, and tell it."""
    check_paths(asked)
    plan = planned(asked)
    save(plan.save_sheet, asked.csv)
    save(plan.save_sheet, asked.sheet)
    if asked.json:
        write_json(
            {
                "experiment": asked.experiment,
                **plan.numbers,
                "text": plan.text.splitlines(),
                "cautions": CAUTIONS,
            }
        )
        return
    write_text(plan.text)


def planned(asked: argparse.Namespace) -> Any:
    """Return the plan that is asked for."""
    made = EXPERIMENTS[experiment_of(asked)]
    given: dict[str, Any] = {"level": share("--level", asked.level)}
    if asked.precision is not None:
        given["precision"] = share("--precision", asked.precision)
    if asked.number is not None:
        given[made.counts] = asked.number
    if asked.balance is not None:
        given["balance"] = asked.balance
    return made.plan(load(asked.file), **given)
