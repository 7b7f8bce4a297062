"""Uncertainty in words: the ranges of outcomes, and the inputs that cause them."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr
from rich.table import Table

from wetspan.cautions import CAUTIONS
from wetspan.draws import agreeing
from wetspan.evidence import about_evidence
from wetspan.json_values import nested
from wetspan.report.numbers import minutes_cell, per_cent
from wetspan.report.tables import table


def uncertainty_tables(study: xr.Dataset, most: int = 12) -> list[Table]:
    """Return what draws make of the outcomes, and the inputs that their spread comes from the most."""
    levels = [0.1, 0.5, 0.9]
    ranges = table("", "nominal*", *(f"{100 * level:.0f} % of draws*" for level in levels))
    influence = table(
        "input",
        "grade",
        "measured on",
        "of the spread of\ngrowth control*",
        "of the spread of\nwet time*",
    )
    for column in (ranges.columns[0], *influence.columns):
        column.no_wrap = True
    for label, name, told in (
        ("leaves wet [min]", "wet_time", minutes_cell),
        ("growth control", "growth_control", per_cent),
    ):
        values = [float(study[f"{name}_nominal"]), *study[name].sel(quantile=levels).values.tolist()]
        ranges.add_row(label, *map(told, values))
    control, wet = (study[f"{name}_influence"].values for name in ("growth_control", "wet_time"))
    for i in np.argsort(-np.maximum(control, wet))[:most]:
        influence.add_row(
            str(study["input"].values[i]),
            str(study["grade"].values[i]),
            str(study["measured_on"].values[i]),
            per_cent(float(control[i])),
            per_cent(float(wet[i])),
        )
    return [ranges, influence]


def uncertainty_told(study: xr.Dataset) -> str:
    """Return what the spread of outcomes rests on, in plain sentences."""
    drawn = f"{study.attrs['samples']} draws {agreeing(study.attrs['given'])}."
    spread = [
        about_evidence(study[f"{name}_by_evidence"], what)
        for name, what in (("growth_control", "growth control"), ("wet_time", "wet time"))
    ]
    return " ".join(
        [drawn, *spread, "What is measured on another substance or crop may not hold for this one."]
    )


def uncertainty_document(study: xr.Dataset) -> dict[str, Any]:
    """Return an uncertainty study for programs, in SI."""
    return dict(study.attrs) | {
        "quantiles": study["quantile"].values.tolist(),
        **{name: nested(study[name].values) for name in ("wet_time", "growth_control")},
        "inputs": [
            {name: str(study[name].values[i]) for name in ("input", "grade", "measured_on")}
            | {
                f"{name}_influence": float(study[f"{name}_influence"].values[i])
                for name in ("wet_time", "growth_control")
            }
            for i in range(study.sizes["input"])
        ],
        **{
            f"{name}_by_evidence": dict(
                zip(
                    map(str, study["evidence"].values),
                    nested(study[f"{name}_by_evidence"].values),
                    strict=True,
                )
            )
            for name in ("wet_time", "growth_control")
        },
        "cautions": CAUTIONS,
    }
