"""The commands `wetspan trial plan`, `wetspan trial read` and `wetspan trial calibrate`."""

from __future__ import annotations

import argparse
import math
import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np
import pandas as pd
from rich.table import Table

from wetspan import plots, report
from wetspan.cautions import CAUTIONS
from wetspan.command_line import as_options, options_of
from wetspan.errors import InputError
from wetspan.scenario import load
from wetspan.trials.calibration import Calibration, calibrate
from wetspan.trials.crop_fit import SENSITIVITY
from wetspan.trials.dose_response import RateEstimate, plain_number
from wetspan.trials.plan import TrialPlan, plan_trial
from wetspan.trials.plots import codes
from wetspan.trials.read import TrialResult, read_trial
from wetspan.trials.wording import describe, describe_calibration
from wetspan.units import number, share

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"
_HEADS = (
    "Width left: that of the interval over what it was before the trials, on a log scale. Near 100 % the "
    "plants said next to nothing, and what was assumed before (the prior) decides. Grade: of the value "
    "before."
)
#: Python's names of some options.
NAMES = {"units": "--unit", "rates": "--rate", "changes": "--change", "spreads": "--spread"}
_PICTURES = ("heights", "dose-response", "diagnostics")


def add(trial: argparse.ArgumentParser) -> None:
    """Add `plan`, `read` and `calibrate` to the parser of `trial`."""
    trial.description = (
        "A trial against an untreated check: how many plants and where they stand, what their heights show, "
        "and what that says about the crop of a scenario."
    )
    parts = trial.add_subparsers(title="commands", required=True, metavar="COMMAND")
    _add_plan(parts)
    _add_read(parts)
    _add_calibrate(parts)
    for part in parts.choices.values():
        names = options_of(part, NAMES)
        part.set_defaults(as_options=lambda problem, names=names: as_options(problem, names))


def _command(commands: Commands, name: str, does: str, description: str) -> argparse.ArgumentParser:
    command: argparse.ArgumentParser = commands.add_parser(
        name, help=does, description=description, epilog=CAUTIONS
    )
    return command


# plan ------------------------------------------------------------------------------------------------------


def _add_plan(commands: Commands) -> None:
    plan = _command(
        commands,
        "plan",
        "how many plants, and where each one stands",
        "Plan a trial: plants per treatment for a difference worth finding, and a layout drawn by lot. "
        "Shares are written as 0.1 or '10 %'.",
    )
    what = plan.add_mutually_exclusive_group(required=True)
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
    plan.add_argument(
        "--cv",
        required=True,
        metavar="SHARE",
        help="standard deviation between plants treated alike over their mean, from a past crop",
    )
    plan.add_argument(
        "--difference",
        default="0.10",
        metavar="SHARE",
        help="difference in height worth finding, over the check's height (default %(default)s)",
    )
    plan.add_argument(
        "--power", default="0.8", metavar="SHARE", help="probability of finding it (default %(default)s)"
    )
    plan.add_argument(
        "--alpha", default="0.05", metavar="SHARE", help="error rate, two-sided (default %(default)s)"
    )
    plan.add_argument(
        "--test",
        default="dunnett",
        metavar="TEST",
        help="dunnett (each treatment against the check) or trend (default %(default)s)",
    )
    plan.add_argument(
        "--design", default="randomised", metavar="DESIGN", help="randomised or blocked (default %(default)s)"
    )
    plan.add_argument("--bench", metavar="RxC", help="rows and columns of pots, such as 8x20")
    plan.add_argument("--no-border", action="store_true", help="use edge places too, without guard plants")
    plan.add_argument(
        "--gradient",
        default="columns",
        metavar="WAY",
        help="columns or rows: the way the bench changes; blocks are cut across it (default %(default)s)",
    )
    plan.add_argument("--plants", type=int, metavar="N", help="plants per treatment, and the power from them")
    plan.add_argument("--more-check", action="store_true", help="more plants on the check, fewer in all")
    plan.add_argument(
        "--check", default="untreated", metavar="NAME", help="name of the check (default %(default)s)"
    )
    plan.add_argument("--seed", type=int, metavar="N", help="seed of the draw; drawn and told if left out")
    output = plan.add_argument_group("output")
    output.add_argument("--json", action="store_true", help="write JSON instead of text")
    output.add_argument("--csv", metavar="FILE", help="write the sheet to fill in, which `trial read` reads")
    output.add_argument("--sheet", metavar="FILE", help="write the sheet to print: .pdf, .html or .png")
    output.add_argument("--picture", metavar="FILE", help="draw the bench, as PNG, SVG or PDF")
    plan.set_defaults(run=_plan)


def _plan(asked: argparse.Namespace) -> None:
    _check_paths(asked)
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
        seed=asked.seed,
    )
    _write(asked.csv, plan.save_csv)
    _write(asked.sheet, plan.save_sheet)
    if asked.picture:
        plots.save(plan.plot(), asked.picture)
    if asked.json:
        report.write_json(_plan_document(plan))
        return
    console = report.console()
    mark = codes(plan.check, plan.treatments)
    counts = plan.layout["treatment"].value_counts()
    table = _table("mark", "treatment", "plants")
    for name, code in mark.items():
        table.add_row(code, name, str(counts[name]))
    console.print(table)
    console.print(f"\n{_bench_map(plan)}\n")
    console.print(plan.text)


def _bench_map(plan: TrialPlan) -> str:
    """The bench in marks, a dot for a guard plant and a blank for an empty place."""
    mark = codes(plan.check, plan.treatments)
    rows, columns = plan.bench
    width = max(map(len, mark.values()))
    places = dict.fromkeys(plan.guards, ".")
    for plant in plan.layout.itertuples():
        places[int(str(plant.row)), int(str(plant.column))] = mark[str(plant.treatment)]
    return "\n".join(
        " ".join(places.get((row, column), "").rjust(width) for column in range(1, columns + 1)).rstrip()
        for row in range(1, rows + 1)
    )


def _plan_document(plan: TrialPlan) -> dict[str, Any]:
    return {
        "check": plan.check,
        "treatments": list(plan.treatments),
        "rates": plan.rates,
        "rate_unit": plan.rate_unit,
        "plants": plan.plants,
        "check_plants": plan.check_plants,
        "blocks": plan.blocks,
        "bench": list(plan.bench),
        "test": plan.test,
        "power": plan.power,
        "detectable_difference": plan.detectable,
        "seed": plan.seed,
        "layout": _records(plan.layout),
        "guards": [list(place) for place in plan.guards],
        "text": plan.text.splitlines(),
        "cautions": CAUTIONS,
    }


# read ------------------------------------------------------------------------------------------------------


def _add_table(command: argparse.ArgumentParser) -> None:
    group = command.add_argument_group("the table", "One row per plant; columns by their headings.")
    for option, default, what in (
        ("--height", "height_cm", "heights; blank for a missing plant, dead for a dead one"),
        ("--treatment", "treatment", "treatment names; none: treatments are the different rates"),
        ("--rate", None, "rates, for the dose response"),
        ("--block", None, "blocks, fitted before the treatments"),
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
        help="unit of a column whose name does not end in it, such as height=cm; repeat",
    )
    group.add_argument("--active", default="", metavar="NAME", help="active ingredient")
    group.add_argument(
        "--level", default="0.95", metavar="SHARE", help="confidence level (default %(default)s)"
    )


def _add_result(command: argparse.ArgumentParser, csv: str) -> argparse._ArgumentGroup:
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


def _add_read(commands: Commands) -> None:
    read = _command(
        commands,
        "read",
        "what the plants of a trial show",
        "Read a trial: growth control of each treatment against the check, and with rates the next one to "
        "try.",
    )
    read.add_argument("table", metavar="TABLE", help="CSV file")
    _add_table(read)
    output = _add_result(read, "write the table of treatments")
    output.add_argument(
        "--show", default="heights", choices=_PICTURES, help="what the picture shows (default %(default)s)"
    )
    read.set_defaults(run=_read)


def _trial(asked: argparse.Namespace, table: str) -> TrialResult:
    return read_trial(
        table,
        height=asked.height,
        treatment=None if asked.treatment == "none" else asked.treatment,
        check=asked.check,
        order=asked.order,
        rate=asked.rate,
        block=asked.block,
        row=asked.row,
        column=asked.column,
        position=asked.position,
        plant=asked.plant,
        alive=asked.alive,
        units=_pairs("--unit", asked.unit, "height=cm"),
        level=share("--level", asked.level),
        active=asked.active,
    )


def _read(asked: argparse.Namespace) -> None:
    _check_paths(asked)
    result, control = _trial(asked, asked.table), share("--control", asked.control)
    next_rate = result.next_rate(control) if result.rated else None
    _write(asked.csv, result.table.to_csv)
    if asked.picture:
        drawn = {
            "heights": result.plot,
            "dose-response": lambda: result.plot_dose_response(control),
            "diagnostics": result.plot_diagnostics,
        }
        plots.save(drawn[asked.show](), asked.picture)
    if asked.json:
        report.write_json(_result_document(result, next_rate))
        return
    level = f"{100 * result.level:.3g} %"
    table = _table(
        *("treatment", "plants*", f"height, {result.height_unit}*", "shorter by*", f"{level} interval*", "p*")
    )
    for name, row in result.table.to_dict("index").items():
        compared = name != result.check
        table.add_row(
            str(name),
            f"{row['measured']}/{row['listed']}",
            plain_number(row["adjusted_mean"]),
            report.per_cent(row["control"]) if compared else "check",
            _range(row["control_lower"], row["control_upper"]) if compared else "",
            ("<0.001" if row["p"] < 0.001 else f"{row['p']:.2g}") if compared else "",
        )
    console = report.console()
    console.print(table)
    lines = describe(result)
    if next_rate is not None and control != 0.25:
        lines.append(next_rate.text)
    console.print("\n" + "\n".join([*lines, "", CAUTIONS]))


def _result_document(result: TrialResult, next_rate: RateEstimate | None) -> dict[str, Any]:
    return {
        "check": result.check,
        "active": result.active,
        "height_unit": result.height_unit,
        "rate_unit": result.rate_unit,
        "level": result.level,
        "cv": result.cv,
        "treatments": _records(result.table.reset_index()),
        "effective_rates": [_rate_document(rate) for rate in result.effective_rates] if result.rated else [],
        "next_rate": None if next_rate is None else _rate_document(next_rate),
        "text": describe(result),
        "cautions": CAUTIONS,
    }


def _rate_document(rate: RateEstimate) -> dict[str, Any]:
    numbers = {name: _plain(getattr(rate, name)) for name in ("control", "rate", "lower", "upper", "level")}
    return numbers | {"unit": rate.unit, "warnings": list(rate.warnings)}


# calibrate -------------------------------------------------------------------------------------------------


def _add_calibrate(commands: Commands) -> None:
    fit = _command(
        commands,
        "calibrate",
        "what trials say about the crop of a scenario",
        "Calibrate the crop of a scenario to one trial or several, read alike: what the plants say, what was "
        "assumed before, and the next rate to try.",
    )
    fit.add_argument("file", metavar="FILE", help="scenario file (TOML): house, spray and crop as before")
    fit.add_argument("tables", nargs="+", metavar="TABLE", help="CSV file of a trial")
    _add_table(fit)
    fit.add_argument(
        "--parameter",
        action="append",
        metavar="KEY",
        help=f"input to fit, grade C or D; repeat (default {', '.join(SENSITIVITY)})",
    )
    fit.add_argument(
        "--spread",
        action="append",
        default=[],
        metavar="KEY=FACTOR",
        help="how far the truth may plausibly lie from the scenario's value, in place of the table's; repeat",
    )
    fit.add_argument(
        "--rate-sets",
        default="application.concentration",
        metavar="KEY",
        help="input that the rates set (default %(default)s)",
    )
    fit.add_argument(
        "--change",
        action="append",
        default=[],
        metavar="TREATMENT:KEY=VALUE",
        help="what a treatment changes, such as 'drench: application.method=drench'; repeat",
    )
    output = _add_result(fit, "write the table of treatments, measured and calibrated")
    output.add_argument("--save", metavar="FILE", help="write the calibrated crop (TOML); needs --name")
    output.add_argument("--name", metavar="NAME", help="name of the crop, such as 'my mum'")
    fit.set_defaults(run=_calibrate)


def _calibrate(asked: argparse.Namespace) -> None:
    _check_paths(asked)
    if (asked.save is None) != (asked.name is None):
        raise InputError("--save FILE and --name NAME go together: a saved crop has a name")
    control = share("--control", asked.control)
    spreads = {
        key: number("--spread", value)
        for key, value in _pairs("--spread", asked.spread, "crop.half_dose=20").items()
    }
    changes = _changes(asked.change)
    found = calibrate(
        load(asked.file),
        [_trial(asked, table) for table in asked.tables],
        parameters=asked.parameter or SENSITIVITY,
        changes=[changes] * len(asked.tables),
        rate=asked.rate_sets,
        spreads=spreads,
    )
    lines = describe_calibration(found, control)
    if asked.save is not None:
        found.save(asked.save, asked.name)
    _write(asked.csv, lambda path: found.treatments.to_csv(path, index=False))
    if asked.picture:
        plots.save(found.plot(control), asked.picture)
    if asked.json:
        report.write_json(_calibration_document(found, control))
        return
    level = f"{100 * found.level:.3g} %"
    inputs = _table(
        *("input", "before*", "calibrated*", f"{level} interval*", "width left*", "grade", "decided by")
    )
    for key, row in found.table.to_dict("index").items():
        unit = "" if row["unit"] == "1" else f" {row['unit']}"
        inputs.add_row(
            str(key),
            f"{plain_number(row['prior'])}{unit}",
            f"{plain_number(row['value'])}{unit}",
            f"{plain_number(row['lower'])} to {plain_number(row['upper'])}",
            report.per_cent(row["width"]),
            row["grade"],
            row["says"],
        )
    several = ["trial"] if len(found.results) > 1 else []
    table = _table(
        *several,
        *("treatment", f"{found.rate}, {found.rate_unit}*", "measured*", f"{level} interval*", "calibrated*"),
    )
    for treatment in found.treatments.to_dict("records"):
        table.add_row(
            *([str(treatment["trial"])] if several else []),
            treatment["treatment"],
            plain_number(treatment["rate"], 4),
            report.per_cent(treatment["control"]),
            _range(treatment["lower"], treatment["upper"]),
            report.per_cent(treatment["calibrated"]),
        )
    console = report.console()
    console.print(inputs)
    console.print(f"\n{_HEADS}\n")
    console.print(table)
    lines = [line for line in lines if not line.startswith("- ")]  # the inputs, in the table already
    console.print("\n" + "\n".join([*lines, "", CAUTIONS]))


def _calibration_document(found: Calibration, control: float) -> dict[str, Any]:
    return {
        "active": found.active,
        "source": found.source,
        "inputs": _records(found.table.reset_index()),
        "log_covariance": found.log_covariance.tolist(),
        "directions": _records(found.directions.reset_index()),
        "alike": [{"inputs": list(pair), "correlation": value} for pair, value in found.alike.items()],
        "treatments": _records(found.treatments),
        "misfit_p": _plain(found.misfit_p),
        "widening": found.widening,
        "next_rate": _rate_document(found.next_rate(control)),
        "warnings": list(found.warnings),
        "scenario": found.scenario.to_toml(),
        "text": describe_calibration(found, control),
        "cautions": CAUTIONS,
    }


# Arguments and output --------------------------------------------------------------------------------------


def _bench(text: str) -> tuple[int, int]:
    match = re.fullmatch(r"\s*(\d+)\s*[xX]\s*(\d+)\s*", text)
    if match is None:
        raise InputError(f"--bench '{text}': rows and columns are written as 8x20")
    return int(match[1]), int(match[2])


def _pairs(option: str, texts: list[str], example: str) -> dict[str, str]:
    pairs = [text.partition("=") for text in texts]
    for text, (name, separator, value) in zip(texts, pairs, strict=True):
        if not (name.strip() and separator and value.strip()):
            raise InputError(f"{option} '{text}' is not written as {example}")
    return {name.strip(): value.strip() for name, _, value in pairs}


def _changes(texts: list[str]) -> dict[str, dict[str, object]]:
    changes: dict[str, dict[str, object]] = {}
    for text in texts:
        match = re.fullmatch(r"\s*(.+?)\s*:\s*([\w.]+)\s*=\s*(.+?)\s*", text)
        if match is None:
            raise InputError(f"--change '{text}' is not written as 'drench: application.method=drench'")
        changes.setdefault(match[1], {})[match[2]] = match[3]
    return changes


def _check_paths(asked: argparse.Namespace) -> None:
    """Refuse files that could not be written before anything is computed."""
    if asked.picture:
        plots.check_path(asked.picture)
    for option in ("csv", "sheet", "save"):
        path = getattr(asked, option, None)
        if path is not None and not Path(path).parent.is_dir():
            raise InputError(f"{path}: there is no folder '{Path(path).parent}' to put it in")


def _write(path: str | None, save: Callable[[str], object]) -> None:
    if path is None:
        return
    try:
        save(path)
    except OSError as error:
        raise InputError(f"{os.fspath(path)}: cannot be written ({error.strerror})") from None


def _table(*headings: str) -> Table:
    """A plain table; a heading that ends in * is of numbers, set to the right."""
    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading in headings:
        right = heading.endswith("*")
        table.add_column(heading.rstrip("*"), justify="right" if right else "left", no_wrap=right)
    return table


def _range(low: float, high: float) -> str:
    if math.isinf(low) or math.isinf(high):
        return "no limits"
    return f"{100 * low:.0f} to {100 * high:.0f} %"


def _records(table: pd.DataFrame) -> list[dict[str, Any]]:
    return [{str(name): _plain(value) for name, value in row.items()} for row in table.to_dict("records")]


def _plain(value: object) -> object:
    """A cell as JSON can hold it: NaN and infinity are null."""
    if isinstance(value, np.generic):
        value = value.item()
    return None if isinstance(value, float) and not math.isfinite(value) else value
