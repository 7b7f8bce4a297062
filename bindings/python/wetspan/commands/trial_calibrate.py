"""`wetspan trial calibrate`: what trials say about the crop of a scenario."""

from __future__ import annotations

import argparse
import re

from wetspan.cautions import CAUTIONS
from wetspan.commands.inputs import pairs
from wetspan.commands.output import console, save, save_picture, write_json
from wetspan.commands.trial_table import NAMES as NAMES
from wetspan.commands.trial_table import (
    add_result,
    add_save,
    add_table,
    check_paths,
    check_save,
    trial_of,
)
from wetspan.errors import InputError
from wetspan.report.trial import calibration_tables
from wetspan.scenario_file import load
from wetspan.trials.calibration import calibrate
from wetspan.trials.crop_fit import DECIDABLE, HALF, TIP_SHARE
from wetspan.trials.documents import calibration_document
from wetspan.trials.wording import describe_calibration
from wetspan.units import number, share

_HEADS = (
    "Width left: that of the interval over what it was before the trials, on a log scale. Near 100 % the "
    "plants said next to nothing, and what was assumed before (the prior) decides. Grade: of the value "
    "before."
)


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = (
        "Calibrate the crop of a scenario to one trial or several, read alike: what the plants say, what was "
        "assumed before, and the next rate to try."
    )
    command.add_argument("file", metavar="FILE", help="scenario file (TOML): house, spray and crop as before")
    command.add_argument("tables", nargs="+", metavar="TABLE", help="CSV file of a trial")
    add_table(command)
    command.add_argument(
        "--parameter",
        action="append",
        metavar="KEY",
        help=f"input to fit; repeat (default {', '.join(DECIDABLE)}, and {TIP_SHARE} on covered pots)",
    )
    command.add_argument(
        "--spread",
        action="append",
        default=[],
        metavar="KEY=FACTOR",
        help="how far the truth may plausibly lie from the scenario's value, in place of the table's; repeat",
    )
    command.add_argument(
        "--rate-sets",
        default="application.concentration",
        metavar="KEY",
        help="input that the rates set (default %(default)s)",
    )
    command.add_argument(
        "--change",
        action="append",
        default=[],
        metavar="TREATMENT:KEY=VALUE",
        help="what a treatment changes, such as 'drench: application.method=drench'; repeat",
    )
    output = add_result(command, "write the table of treatments, measured and calibrated")
    add_save(output)


def run(asked: argparse.Namespace) -> None:
    """Calibrate the crop, and tell it."""
    check_paths(asked)
    check_save(asked)
    control = share("--control", asked.control)
    spreads = {
        key: number("--spread", value) for key, value in pairs("--spread", asked.spread, f"{HALF}=20").items()
    }
    changes = _changes(asked.change)
    found = calibrate(
        load(asked.file),
        [trial_of(asked, table) for table in asked.tables],
        parameters=asked.parameter,
        changes=[changes] * len(asked.tables),
        rate=asked.rate_sets,
        spreads=spreads,
    )
    lines = describe_calibration(found, control)
    if asked.save is not None:
        found.save(asked.save, asked.name)
    save(lambda path: found.treatments.to_csv(path, index=False), asked.csv)
    save_picture(lambda _: found.plot(control), asked.picture)
    if asked.json:
        write_json(calibration_document(found, control))
        return
    inputs, sprayed = calibration_tables(found)
    told = console()
    told.print(inputs)
    told.print(f"\n{_HEADS}\n")
    told.print(sprayed)
    lines = [line for line in lines if not line.startswith("- ")]  # the inputs, in the table already
    told.print("\n" + "\n".join([*lines, "", CAUTIONS]))


def _changes(texts: list[str]) -> dict[str, dict[str, object]]:
    changes: dict[str, dict[str, object]] = {}
    for text in texts:
        match = re.fullmatch(r"\s*(.+?)\s*:\s*([\w.]+)\s*=\s*(.+?)\s*", text)
        if match is None:
            raise InputError(f"--change '{text}' is not written as 'drench: application.method=drench'")
        changes.setdefault(match[1], {})[match[2]] = match[3]
    return changes
