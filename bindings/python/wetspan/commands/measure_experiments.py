"""What the parts of `wetspan measure` share: the kinds of experiments, and how their tables are read."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import Any, NamedTuple

from wetspan.commands.inputs import pairs
from wetspan.errors import InputError, nearest
from wetspan.measure.leaf import read_leaf
from wetspan.measure.leaf_plan import plan_leaf
from wetspan.measure.pots import read_pots
from wetspan.measure.pots_plan import plan_pots
from wetspan.measure.wash import read_wash
from wetspan.measure.wash_plan import plan_wash
from wetspan.scenario import Scenario
from wetspan.units import share


class Made(NamedTuple):
    """An experiment: how it is planned and read, what is counted in it, and what it is."""

    plan: Callable[..., Any]
    read: Callable[..., Any]
    counts: str
    what: str


EXPERIMENTS = {
    "leaf": Made(plan_leaf, read_leaf, "leaves", "weighed leaves: how long are they wet?"),
    "pots": Made(plan_pots, read_pots, "pots", "weighed pots: where did the spray go?"),
    "wash": Made(plan_wash, read_wash, "washes", "washed deposits: does the residue go on?"),
}
#: Python's names of some options.
NAMES = {"units": "--unit", "leaves": "--number", "pots": "--number", "washes": "--number"}


def add_experiment(command: argparse.ArgumentParser) -> None:
    """Add which experiment it is, and the scenario."""
    told = "; ".join(f"{name}: {made.what}" for name, made in EXPERIMENTS.items())
    command.add_argument("experiment", metavar="WHAT", help=told)
    command.add_argument("file", metavar="FILE", help="scenario file (TOML): crop, spray and air")
    command.add_argument(
        "--level", default="0.95", metavar="SHARE", help="confidence level (default %(default)s)"
    )


def add_reading(command: argparse.ArgumentParser, level: bool = True) -> None:
    """Add how tables are read."""
    command.add_argument(
        "--column-unit",
        action="append",
        default=[],
        metavar="COLUMN=UNIT",
        help="unit of a column whose heading does not say it, such as mass=g; repeat",
    )


def experiment_of(asked: argparse.Namespace) -> str:
    """Return which experiment is asked for."""
    name: str = asked.experiment
    if name not in EXPERIMENTS:
        hint = nearest(name, EXPERIMENTS) or f"there are {', '.join(EXPERIMENTS)}"
        raise InputError(f"'{name}' is no experiment; {hint}")
    return name


def result_of(asked: argparse.Namespace, scenario: Scenario, experiment: str, table: str) -> Any:
    """Return what a table says."""
    if experiment not in EXPERIMENTS:
        experiment_of(asked)
    units = pairs("--column-unit", asked.column_unit, "mass=g")
    return EXPERIMENTS[experiment].read(scenario, table, units=units, level=share("--level", asked.level))
