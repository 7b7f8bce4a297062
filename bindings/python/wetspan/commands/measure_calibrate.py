"""`wetspan measure calibrate`: what measurements, and trials with them, say about the crop of a scenario."""

from __future__ import annotations

import argparse

from wetspan.cautions import CAUTIONS
from wetspan.commands.measure_experiments import EXPERIMENTS, add_reading, result_of
from wetspan.commands.measure_experiments import NAMES as NAMES
from wetspan.commands.output import save, write_json, write_text
from wetspan.commands.trial_table import add_save, add_table, check_paths, check_save, trial_of
from wetspan.errors import InputError
from wetspan.json_values import records
from wetspan.measure.calibrate import calibrate
from wetspan.scenario_file import load


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = (
        "Join measurements, and height trials with them, into a crop: what they say, and what was assumed"
        " before."
    )
    command.add_argument("file", metavar="FILE", help="scenario file (TOML): as it was before them")
    for name, made in EXPERIMENTS.items():
        command.add_argument(f"--{name}", metavar="TABLE", help=f"CSV file of {made.what}")
    command.add_argument(
        "--trial", action="append", default=[], metavar="TABLE", help="CSV file of a height trial; repeat"
    )
    command.add_argument(
        "--rate-sets",
        default="application.concentration",
        metavar="KEY",
        help="input that the trials' rates set (default %(default)s)",
    )
    add_table(command)
    add_reading(command, level=False)
    output = command.add_argument_group("output")
    output.add_argument("--json", action="store_true", help="write JSON instead of text")
    output.add_argument("--csv", metavar="FILE", help="write the table of inputs")
    add_save(output)


def run(asked: argparse.Namespace) -> None:
    """Calibrate the crop, and tell it."""
    check_paths(asked)
    check_save(asked)
    given = {name: getattr(asked, name) for name in EXPERIMENTS if getattr(asked, name)}
    if not given:
        told = " or ".join(f"--{name} TABLE" for name in EXPERIMENTS)
        raise InputError(f"give a measurement: {told}; trials alone are for `wetspan trial calibrate`")
    scenario = load(asked.file)
    found = calibrate(
        scenario,
        [result_of(asked, scenario, name, table) for name, table in given.items()],
        [trial_of(asked, table) for table in asked.trial] or None,
        rate=asked.rate_sets,
    )
    if asked.save is not None:
        found.save(asked.save, asked.name)
    save(lambda path: found.table.to_csv(path), asked.csv)
    if asked.json:
        write_json(
            {
                "source": found.source,
                "inputs": records(found.table.reset_index()),
                "log_covariance": found.learned.wide.tolist(),
                "warnings": list(found.warnings),
                "scenario": found.scenario.to_toml(),
                "text": found.text.splitlines(),
                "cautions": CAUTIONS,
            }
        )
        return
    write_text(found.text)
