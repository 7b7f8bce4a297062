"""Options and checks that `trial read`, `trial calibrate` and `measure calibrate` share."""

from __future__ import annotations

import argparse

from wetspan.commands.inputs import pairs
from wetspan.commands.output import check_folder, check_picture
from wetspan.errors import InputError
from wetspan.trials.own_sheet import headings, roles_of
from wetspan.trials.read import TrialResult, read_trial
from wetspan.units import share

#: Python's names of some options.
NAMES = {"units": "--unit", "rates": "--rate", "changes": "--change", "spreads": "--spread"}


def add_table(command: argparse.ArgumentParser) -> None:
    """Add the columns of a table of a trial."""
    group = command.add_argument_group(
        "the table",
        "One row per plant; columns by their headings. Those of the sheet that `trial plan --csv` writes are "
        "known.",
    )
    for option, default, what in (
        (
            "--height",
            None,
            "heights; blank for a missing plant, dead for a dead one (default: begins with height)",
        ),
        ("--treatment", "treatment", "treatment names; none: treatments are the different rates"),
        ("--rate", None, "rates, for the dose response; none: it is left out"),
        ("--block", None, "blocks, fitted before the treatments; none: they are left out"),
        ("--row", None, "rows of the bench, likewise"),
        ("--column", None, "columns of the bench, likewise"),
        ("--plant", None, "plant names"),
        ("--alive", None, "yes or no"),
    ):
        told = f"column of {what}" + ("" if default is None else " (default %(default)s)")
        group.add_argument(option, default=default, metavar="HEADING", help=told)
    group.add_argument(
        "--check", default="untreated", metavar="NAME", help="name of the check (default %(default)s)"
    )
    group.add_argument(
        "--order", action="append", metavar="NAME", help="treatment without a rate, weakest first; repeat"
    )
    group.add_argument(
        "--position",
        default="factor",
        metavar="HOW",
        help="rows and columns as factor, linear or none (default %(default)s)",
    )
    group.add_argument(
        "--unit",
        action="append",
        default=[],
        metavar="HEADING=UNIT",
        help="unit of a column whose name does not say it, such as height=cm; repeat",
    )
    group.add_argument("--active", default="", metavar="NAME", help="active ingredient")
    group.add_argument(
        "--level", default="0.95", metavar="SHARE", help="confidence level (default %(default)s)"
    )


def add_result(command: argparse.ArgumentParser, csv: str) -> argparse._ArgumentGroup:
    """Add --control and where output goes."""
    command.add_argument(
        "--control",
        default="0.25",
        metavar="SHARE",
        help="growth control wanted from the next rate (default %(default)s)",
    )
    output = command.add_argument_group("output")
    output.add_argument("--json", action="store_true", help="write JSON instead of tables")
    output.add_argument("--csv", metavar="FILE", help=csv)
    output.add_argument("--picture", metavar="FILE", help="also draw it, as PNG, SVG or PDF")
    return output


def trial_of(asked: argparse.Namespace, table: str) -> TrialResult:
    """Return the trial of a table; the columns of a plan's own sheet are known."""
    own = roles_of(headings(table))
    roles = {role: getattr(asked, role) or own.get(role) for role in ("height", "rate", "block")}
    rate, block = (None if roles[role] == "none" else roles[role] for role in ("rate", "block"))
    return read_trial(
        table,
        height=roles["height"] or "height_cm",
        treatment=None if asked.treatment == "none" else asked.treatment,
        check=asked.check,
        order=asked.order,
        rate=rate,
        block=block,
        row=asked.row,
        column=asked.column,
        position=asked.position,
        plant=asked.plant,
        alive=asked.alive,
        units=pairs("--unit", asked.unit, "height=cm"),
        level=share("--level", asked.level),
        active=asked.active,
    )


def check_paths(asked: argparse.Namespace) -> None:
    """Refuse files that could not be written before anything is computed."""
    check_picture(getattr(asked, "picture", None))
    for option in ("csv", "sheet", "save"):
        check_folder(getattr(asked, option, None))


def add_save(output: argparse._ArgumentGroup) -> None:
    """Add the options of a crop that is saved."""
    output.add_argument("--save", metavar="FILE", help="write the calibrated crop (TOML); needs --name")
    output.add_argument("--name", metavar="NAME", help="name of the crop, such as 'my mum'")


def check_save(asked: argparse.Namespace) -> None:
    """Refuse a crop without a name, and a name without a crop."""
    if (asked.save is None) != (asked.name is None):
        raise InputError("--save FILE and --name NAME go together: a saved crop has a name")
