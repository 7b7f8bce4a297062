"""Inputs after a measurement: values with intervals, and what was assumed before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wetspan.cautions import CAUTIONS
from wetspan.crop import Z90
from wetspan.measure.leaf_fit import student
from wetspan.parameters import TABLE
from wetspan.trials.calibrated import SILENT
from wetspan.trials.dose_response import plain_number
from wetspan.unit_shown import shown

Array = NDArray[np.float64]

FAR = 2.58  # standard deviations that 99 % of a normal distribution lie within


class Reading:
    """What every measurement that was read has in common."""

    learned: Learned
    level: float

    @property
    def lines(self) -> list[str]:
        """What was learned, a sentence or a few each."""
        raise NotImplementedError

    @property
    def inputs(self) -> pd.DataFrame:
        """The inputs that were measured, before and after."""
        return self.learned.table(self.level)

    @property
    def text(self) -> str:
        """What was learned, in plain sentences, cautions included."""
        return "\n".join([*self.lines, "", CAUTIONS])


@dataclass(frozen=True, eq=False)
class Learned:
    """Inputs after a measurement, with a normal distribution of their natural logs.

    keys
        Keys of the inputs, as in `ws.parameters()`.
    center, covariance
        Natural logs of their SI values, and the covariance of these.
    prior_center, prior_sd
        The same before the measurement: the scenario's value, and the table's spread.
    df
        Degrees of freedom of each; infinite where nothing was estimated from few pots or leaves.
    """

    keys: tuple[str, ...]
    center: Array = field(repr=False)
    covariance: Array = field(repr=False)
    prior_center: Array = field(repr=False)
    prior_sd: Array = field(repr=False)
    df: Array = field(repr=False)

    @property
    def sd(self) -> Array:
        """Standard deviations of the logs."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def wide(self) -> Array:
        """The covariance that gives the 90 % intervals of Student's t; a crop's file contains it."""
        widened = self.sd * [student(df, 0.9) / Z90 for df in self.df]
        ratio = widened / self.sd
        return np.asarray(self.covariance * np.outer(ratio, ratio), dtype=float)

    def values(self) -> dict[str, float]:
        """The most probable values in SI, within the table's bounds."""
        return {
            key: float(np.clip(np.exp(log), TABLE[key].low, TABLE[key].high))
            for key, log in zip(self.keys, self.center, strict=True)
        }

    def interval(self, key: str, level: float) -> tuple[float, float, float]:
        """Value and limits in SI."""
        place = self.keys.index(key)
        reach = student(float(self.df[place]), level) * self.sd[place]
        value, low, high = np.exp(self.center[place] + np.array([0.0, -reach, reach]))
        return float(value), float(low), float(high)

    def table(self, level: float) -> pd.DataFrame:
        """One row per input in the units people are shown; columns as in `Calibration.table`."""
        rows = []
        for place, key in enumerate(self.keys):
            row, z = TABLE[key], student(np.inf, level)
            width = float(self.sd[place] / self.prior_sd[place])
            was, wide = np.exp(self.prior_center[place]), np.exp(z * self.prior_sd[place])
            before = [shown(row, float(each)) for each in (was, was / wide, was * wide)]
            now = [shown(row, each) for each in self.interval(key, level)]
            says = (
                "the measurement"
                if width < 0.5
                else "measurement and prior"
                if width <= SILENT
                else "the prior"
            )
            rows.append([*before, *now, width, row.shown, row.grade, says])
        columns = [
            "prior",
            "prior_lower",
            "prior_upper",
            "value",
            "lower",
            "upper",
            "width",
            "unit",
            "grade",
            "says",
        ]
        return pd.DataFrame(rows, index=pd.Index(self.keys, name="input"), columns=columns)

    def far(self) -> list[str]:
        """One line for each input whose value lies outside its plausible range."""
        said = []
        for place, key in enumerate(self.keys):
            row = TABLE[key]
            plausible = np.log(max(row.spread, 1.0001)) / Z90
            apart = self.center[place] - self.prior_center[place]
            if abs(apart) > FAR * np.hypot(plausible, self.sd[place]):
                said.append(
                    f"{key} comes out {plain_number(float(np.exp(apart)))} times the scenario's value,"
                    f" outside of what was plausible (a factor of {row.spread:.3g}): look at the set-up"
                    " before you believe it."
                )
        return said


def describe(learned: Learned, level: float) -> list[str]:
    """One line per input."""
    said = {
        "the measurement": "the measurement says so",
        "measurement and prior": "measurement and what was assumed before say so together",
        "the prior": "the measurement says next to nothing, what was assumed before stands",
    }
    lines = []
    for key, row in learned.table(level).to_dict("index").items():
        unit = "" if row["unit"] == "1" else f" {row['unit']}"
        value, low, high, was = (plain_number(row[name]) for name in ("value", "lower", "upper", "prior"))
        lines.append(
            f"- {key}: {value}{unit} ({100 * level:.3g} % interval {low} to {high}; before {was}): "
            f"{said[row['says']]}."
        )
    return lines


def prior_sd(keys: Sequence[str]) -> Array:
    """Standard deviations of the logs that the table's spreads stand for."""
    return np.array([np.log(TABLE[key].spread) / Z90 for key in keys])
