"""`wetspan trial plan`: how many plants, and where each one stands."""

from __future__ import annotations

import argparse
import re

from wetspan.commands.output import console, save, save_picture, write_json
from wetspan.commands.trial_table import NAMES as NAMES
from wetspan.commands.trial_table import check_paths
from wetspan.errors import InputError
from wetspan.report.trial import plan_table
from wetspan.trials.documents import plan_document
from wetspan.trials.plan import plan_trial
from wetspan.trials.wording import bench_in_marks
from wetspan.units import share


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = (
        "Plan a trial: plants per treatment for a difference worth finding, and a layout drawn by lot. "
        "Shares are written as 0.1 or '10 %'."
    )
    _add_treatments(command)
    _add_power(command)
    _add_layout(command)
    command.add_argument(
        "--check", default="untreated", metavar="NAME", help="name of the check (default %(default)s)"
    )
    command.add_argument("--seed", type=int, metavar="N", help="seed of the draw; drawn and told if left out")
    sheet = command.add_argument_group("the sheet to fill in")
    sheet.add_argument(
        "--height-unit", default="cm", metavar="UNIT", help="mm, cm, m, in or ft (default %(default)s)"
    )
    sheet.add_argument(
        "--also",
        action="append",
        default=[],
        metavar="HEADING",
        help="a further column, such as width_cm or flower_date; repeat",
    )
    output = command.add_argument_group("output")
    output.add_argument("--json", action="store_true", help="write JSON instead of text")
    output.add_argument("--csv", metavar="FILE", help="write the sheet to fill in, which `trial read` reads")
    output.add_argument("--sheet", metavar="FILE", help="write the sheet to print: .pdf, .html or .png")
    output.add_argument("--picture", metavar="FILE", help="draw the bench, as PNG, SVG or PDF")


def _add_treatments(command: argparse.ArgumentParser) -> None:
    what = command.add_mutually_exclusive_group(required=True)
    what.add_argument(
        "--rate",
        action="append",
        metavar="RATE",
        help="a concentration or a dose per pot with its unit, such as '15 mg/L' or '2 mg/pot'; repeat",
    )
    what.add_argument(
        "--treatment",
        action="append",
        metavar="NAME",
        help="a treatment without a rate, weakest first; repeat",
    )


def _add_power(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--cv",
        required=True,
        metavar="SHARE",
        help="standard deviation between plants treated alike over their mean, from a past crop",
    )
    command.add_argument(
        "--difference",
        default="0.10",
        metavar="SHARE",
        help="difference in height worth finding, over the check's height (default %(default)s)",
    )
    command.add_argument(
        "--power", default="0.8", metavar="SHARE", help="probability of finding it (default %(default)s)"
    )
    command.add_argument(
        "--alpha", default="0.05", metavar="SHARE", help="error rate, two-sided (default %(default)s)"
    )
    command.add_argument(
        "--test",
        default="dunnett",
        metavar="TEST",
        help="dunnett (each treatment against the check) or trend (default %(default)s)",
    )


def _add_layout(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--design", default="randomised", metavar="DESIGN", help="randomised or blocked (default %(default)s)"
    )
    command.add_argument("--bench", metavar="RxC", help="rows and columns of pots, such as 8x20")
    command.add_argument("--no-border", action="store_true", help="use edge places too, without guard plants")
    command.add_argument(
        "--gradient",
        default="columns",
        metavar="WAY",
        help="columns or rows: the way the bench changes; blocks are cut across it (default %(default)s)",
    )
    command.add_argument(
        "--plants", type=int, metavar="N", help="plants per treatment, and the power from them"
    )
    command.add_argument("--more-check", action="store_true", help="more plants on the check, fewer in all")


def run(asked: argparse.Namespace) -> None:
    """Plan the trial, and tell it."""
    check_paths(asked)
    plan = plan_trial(
        asked.treatment,
        rates=asked.rate,
        cv=share("--cv", asked.cv),
        difference=share("--difference", asked.difference),
        power=share("--power", asked.power),
        alpha=share("--alpha", asked.alpha),
        test=asked.test,
        design=asked.design,
        bench=None if asked.bench is None else _bench(asked.bench),
        border=not asked.no_border,
        gradient=asked.gradient,
        plants=asked.plants,
        more_check=asked.more_check,
        check=asked.check,
        height_unit=asked.height_unit,
        also=asked.also,
        seed=asked.seed,
    )
    save(plan.save_csv, asked.csv)
    save(plan.save_sheet, asked.sheet)
    save_picture(lambda _: plan.plot(), asked.picture)
    if asked.json:
        write_json(plan_document(plan))
        return
    told = console()
    told.print(plan_table(plan))
    told.print(f"\n{bench_in_marks(plan)}\n")
    told.print(plan.text)


def _bench(text: str) -> tuple[int, int]:
    match = re.fullmatch(r"\s*(\d+)\s*[xX]\s*(\d+)\s*", text)
    if match is None:
        raise InputError(f"--bench '{text}': rows and columns are written as 8x20")
    return int(match[1]), int(match[2])
