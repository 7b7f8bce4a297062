"""Reading of a trial, from a table of plants to statistics, a text and pictures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from os import PathLike
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from wetspan.cautions import CAUTIONS
from wetspan.errors import InputError
from wetspan.trials.compare import against_check
from wetspan.trials.dataset import to_dataset
from wetspan.trials.statistics import TrialStatistics, bench_model
from wetspan.trials.table import read_table
from wetspan.trials.wording import describe

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.figure import Figure

    from wetspan.drawing import Where

POSITIONS = ("factor", "linear", "none")


class TrialResult(TrialStatistics):
    """A trial that was read: its statistics, with a text, pictures and a dataset."""

    @property
    def text(self) -> str:
        """What the trial shows, in plain sentences, cautions included."""
        return "\n".join([*describe(self), "", CAUTIONS])

    def plot(self, ax: Where = None) -> Figure:
        """Heights of all plants, and the control of each treatment with its interval: two panels, on a new
        figure or on the two Axes `ax`."""
        from wetspan.trials import plots  # which loads matplotlib

        return plots.heights(self, ax)

    def plot_dose_response(self, control: float | None = 0.25, ax: Where = None) -> Figure:
        """The fitted curve with its band, the plants, and the rate for `control` (None: left out); on a new
        figure or on the Axes `ax`."""
        from wetspan.trials import plots  # which loads matplotlib

        return plots.dose_response(self, control, ax)

    def plot_diagnostics(self, ax: Where = None) -> Figure:
        """Residuals against fitted heights and normal quantiles, and over the bench where row and column are
        known: two panels or three, on a new figure or on as many Axes `ax`."""
        from wetspan.trials import plots  # which loads matplotlib

        return plots.diagnostics(self, ax)

    def to_xarray(self) -> xr.Dataset:
        """The table, and the fitted curve where rates are known, as a labelled dataset with units."""
        return to_dataset(self)


def read_trial(
    table: str | PathLike[str] | pd.DataFrame,
    *,
    height: str = "height_cm",
    treatment: str | None = "treatment",
    check: str = "untreated",
    order: Sequence[str] | None = None,
    rate: str | None = None,
    block: str | None = None,
    row: str | None = None,
    column: str | None = None,
    position: str = "factor",
    plant: str | None = None,
    alive: str | None = None,
    units: Mapping[str, str] | None = None,
    parameters: int | str = "auto",
    level: float = 0.95,
    active: str = "",
) -> TrialResult:
    """Read a trial from a CSV file or DataFrame with one row per plant.

    Raises InputError for a table that cannot be read, in one line with file and line.

    Parameters
    ----------
    height
        Column of heights. A blank means a missing plant, and the word dead a dead one. Both are counted and
        named, and only measured plants enter the means.
    treatment
        Column of treatment names. With None the rates distinguish the treatments, and the check has rate 0.
    check
        Name of the untreated check.
    order
        Treatments, the weakest first, for the trend; not needed with rates.
    rate
        Column of rates (concentration or dose) for the dose response; the check has 0.
    block, row, column
        Columns of the position on the bench, fitted before the treatments.
    position
        "factor" (each row or column has a level of its own), "linear" (a straight gradient along rows or
        columns, which must be numbers; blocks stay factors) or "none" (rows and columns are drawn but not
        fitted).
    plant, alive
        Columns of plant names and of yes/no; columns with these names are used if the table has them.
    units
        Units by column, {"height": "cm", "rate": "mg/L"}; not needed for a column whose name ends in its unit
        (height_cm, rate_mg_per_L).
    parameters
        Number of parameters of the log-logistic curve: 4, 3, 2 or "auto".
    level
        Confidence level of all intervals [-].
    active
        Name of the active ingredient, which a calibration compares with that of its scenario.
    """
    if not 0 < level < 1:
        raise InputError(f"level={level}: a share between 0 and 1 is needed, 0.95 for 95 % intervals")
    if position not in POSITIONS:
        raise InputError(f"position='{position}': allowed are {', '.join(POSITIONS)}")
    data = read_table(
        table, height=height, treatment=treatment, check=check, order=order, rate=rate, block=block, row=row,
        column=column, plant=plant, alive=alive, units=units,
    )  # fmt: skip
    used = [name for name, given in (("block", block), ("row", row), ("column", column)) if given is not None]
    if position == "none":
        used = [name for name in used if name == "block"]
    measured = data.plants[
        (data.plants["status"] == "measured") & data.plants["treatment"].isin(data.treatments)
    ]
    used = [name for name in used if measured[name].nunique() > 1]

    model = bench_model(measured, data.treatments, tuple(used), position)
    columns = model.design.shape[1]
    if not model.full_rank:
        raise InputError(
            f"treatments cannot be told apart from {' and '.join(used)}: some stand in one of them only"
        )
    if model.df < 1:
        raise InputError(
            f"{len(measured)} measured plants cannot carry {columns} estimates: use fewer positions"
        )
    if model.sum_of_squares <= 1e-20 * float(np.sum(model.heights**2)):
        raise InputError(
            "all plants treated alike have the same height: without spread nothing can be compared; is "
            f"'{height}' the column of heights?"
        )

    k = len(data.treatments) - 1
    at = np.zeros((k + 1, columns))
    at[:, : columns - k] = model.design[:, : columns - k].mean(axis=0)  # of the average bench position
    at[1:, columns - k :] = np.eye(k)
    means = at @ model.estimates
    covariance = at @ model.covariance @ at.T
    compared = against_check(data.treatments, means, covariance, model.df, level)
    summary = _counts(data.plants, data.treatments).join(compared)
    result = TrialResult(
        data.plants, summary, check, data.height_unit, data.rate_unit, tuple(used), position, level, model.df,
        float(np.sqrt(model.variance)), data.notes, rate is not None or order is not None, covariance,
        parameters, active.strip().lower(),
    )  # fmt: skip
    if result.rated:
        _ = result.fit  # a curve that cannot be fitted is refused here, not later
    return result


def _counts(plants: pd.DataFrame, treatments: tuple[str, ...]) -> pd.DataFrame:
    by = plants.groupby("treatment")
    counts = pd.DataFrame({"listed": by.size()})
    for status in ("measured", "dead", "missing"):
        counts[status] = (plants["status"] == status).groupby(plants["treatment"]).sum()
    counts["mean"], counts["sd"] = by["height"].mean(), by["height"].std()
    if "rate" in plants:
        counts.insert(0, "rate", by["rate"].first())
    return counts.loc[list(treatments)]
