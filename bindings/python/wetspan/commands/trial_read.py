"""`wetspan trial read`: what the plants of a trial show."""

from __future__ import annotations

import argparse

from wetspan.cautions import CAUTIONS
from wetspan.commands.inputs import add_report
from wetspan.commands.output import (
    check_report,
    console,
    save,
    save_picture,
    save_report,
    write_json,
)
from wetspan.commands.trial_table import NAMES as NAMES
from wetspan.commands.trial_table import (
    add_result,
    add_table,
    check_paths,
    trial_of,
)
from wetspan.report.trial import trial_table
from wetspan.trials.documents import result_document
from wetspan.trials.wording import describe
from wetspan.units import share

_PICTURES = ("heights", "dose-response", "diagnostics")


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = (
        "Read a trial: growth control of each treatment against the check, and with rates the next one to "
        "try."
    )
    command.add_argument("table", metavar="TABLE", help="CSV file")
    add_table(command)
    output = add_result(command, "write the table of treatments")
    add_report(output)
    output.add_argument(
        "--show", default="heights", choices=_PICTURES, help="what the picture shows (default %(default)s)"
    )


def run(asked: argparse.Namespace) -> None:
    """Read the trial, and tell it."""
    check_paths(asked)
    check_report(asked.report)
    result, control = trial_of(asked, asked.table), share("--control", asked.control)
    next_rate = result.next_rate(control) if result.rated else None
    save(result.table.to_csv, asked.csv)
    save_report(result, asked.report, control=control)
    if asked.picture:
        drawn = {
            "heights": result.plot,
            "dose-response": lambda: result.plot_dose_response(control),
            "diagnostics": result.plot_diagnostics,
        }
        save_picture(lambda _: drawn[asked.show](), asked.picture)
    if asked.json:
        write_json(result_document(result, next_rate))
        return
    told = console()
    told.print(trial_table(result))
    lines = describe(result)
    if next_rate is not None and control != 0.25:
        lines.append(next_rate.text)
    told.print("\n" + "\n".join([*lines, "", CAUTIONS]))
