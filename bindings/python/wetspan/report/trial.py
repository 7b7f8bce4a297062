"""Trials in tables: the plan, what the plants show, and what a calibration makes of it."""

from __future__ import annotations

from rich.table import Table

from wetspan.report.numbers import per_cent
from wetspan.report.tables import table
from wetspan.trials.calibrated import Calibrated
from wetspan.trials.dose_response import plain_number
from wetspan.trials.layout import codes
from wetspan.trials.planned import PlannedTrial
from wetspan.trials.statistics import TrialStatistics
from wetspan.trials.wording import limits_told, p_value, range_of


def plan_table(plan: PlannedTrial) -> Table:
    """Return the plants of each treatment, and its mark in the layout."""
    counts = plan.layout["treatment"].value_counts()
    made = table("mark", "treatment", "plants")
    for name, code in codes(plan.check, plan.treatments).items():
        made.add_row(code, name, str(counts[name]))
    return made


def trial_table(result: TrialStatistics) -> Table:
    """Return what each treatment of a trial did."""
    level = f"{100 * result.level:.3g} %"
    made = table(
        *("treatment", "plants*", f"height, {result.height_unit}*", "shorter by*", f"{level} interval*", "p*")
    )
    for name, row in result.table.to_dict("index").items():
        compared = name != result.check
        made.add_row(
            str(name),
            f"{row['measured']}/{row['listed']}",
            plain_number(row["adjusted_mean"]),
            per_cent(row["control"]) if compared else "check",
            range_of(row["control_lower"], row["control_upper"]) if compared else "",
            p_value(row["p"]).removeprefix("p ").removeprefix("= ") if compared else "",
        )
    return made


def calibration_tables(found: Calibrated) -> tuple[Table, Table]:
    """Return the inputs of a calibration, and what its treatments show beside what it gives them."""
    level, alone = f"{100 * found.level:.3g} %", found.alone.to_dict("index")
    inputs = table(
        *("input", "before*", "calibrated*", f"{level} interval*", "plants alone*"),
        *("width left*", "grade", "decided by"),
    )
    for key, row in found.table.to_dict("index").items():
        unit = "" if row["unit"] == "1" else f" {row['unit']}"
        inputs.add_row(
            str(key),
            f"{plain_number(row['prior'])}{unit}",
            f"{plain_number(row['value'])}{unit}",
            f"{plain_number(row['lower'])} to {plain_number(row['upper'])}",
            limits_told(alone[key]["lower"], alone[key]["upper"]),
            per_cent(row["width"]),
            row["grade"],
            row["says"],
        )
    several = ["trial"] if len(found.results) > 1 else []
    sprayed = table(
        *several,
        *("treatment", f"{found.rate}, {found.rate_unit}*", "measured*", f"{level} interval*", "calibrated*"),
    )
    for treatment in found.treatments.to_dict("records"):
        sprayed.add_row(
            *([str(treatment["trial"])] if several else []),
            treatment["treatment"],
            plain_number(treatment["rate"], 4),
            per_cent(treatment["control"]),
            range_of(treatment["lower"], treatment["upper"]),
            per_cent(treatment["calibrated"]),
        )
    return inputs, sprayed
