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
    table,
    write_json,
)
from wetspan.commands.trial_table import NAMES as NAMES
from wetspan.commands.trial_table import (
    add_result,
    add_table,
    check_paths,
    trial_of,
)
from wetspan.report import per_cent
from wetspan.trials.documents import result_document
from wetspan.trials.dose_response import plain_number
from wetspan.trials.wording import describe, range_of
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
    level = f"{100 * result.level:.3g} %"
    compared_all = table(
        *("treatment", "plants*", f"height, {result.height_unit}*", "shorter by*", f"{level} interval*", "p*")
    )
    for name, row in result.table.to_dict("index").items():
        compared = name != result.check
        compared_all.add_row(
            str(name),
            f"{row['measured']}/{row['listed']}",
            plain_number(row["adjusted_mean"]),
            per_cent(row["control"]) if compared else "check",
            range_of(row["control_lower"], row["control_upper"]) if compared else "",
            ("<0.001" if row["p"] < 0.001 else f"{row['p']:.2g}") if compared else "",
        )
    told = console()
    told.print(compared_all)
    lines = describe(result)
    if next_rate is not None and control != 0.25:
        lines.append(next_rate.text)
    told.print("\n" + "\n".join([*lines, "", CAUTIONS]))
