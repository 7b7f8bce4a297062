"""The statistics of a trial: control against the untreated check, trend, dose response, diagnostics."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import stats

from wetspan.errors import InputError
from wetspan.trials.compare import trend_contrast
from wetspan.trials.dose_response import LEAST_RATES, LogLogisticFit, RateEstimate, fit_log_logistic
from wetspan.trials.linear_model import LinearModel

Array = NDArray[np.float64]

_PAIR = 2  # plants of a treatment that tell nothing of how their spread differs from that of others
_SHAPIRO_HOLDS = 5_000  # plants up to which the approximation of its p value was fitted (Royston 1995)


@dataclass(frozen=True)
class Diagnostics:
    """Checks of the assumptions behind the intervals.

    normality_p
        Shapiro & Wilk (1965) on the residuals; beyond 5 000 plants D'Agostino & Pearson (1973).
    variance_p
        Brown & Forsythe (1974): equal variance in all treatments; NaN where a treatment has two plants, which
        are as far from their middle as each other, whatever they are.
    outlying
        Plants whose studentised residual is significant at 5 % after Bonferroni.
    influential
        Plants with Cook's (1977) distance above the median of F(p, n - p).
    """

    normality_p: float
    variance_p: float
    outlying: tuple[str, ...]
    influential: tuple[str, ...]


@dataclass(frozen=True)
class Trend:
    """Test of a straight trend over the treatments in their order: t statistic, degrees of freedom, two-sided
    p."""

    t: float
    df: int
    p: float


@dataclass(frozen=True)
class TrialStatistics:
    """The plants of a trial and what they show.

    `plants`: every row of the table with its status. `table`: one row per treatment, the check first:
    listed, measured, dead, missing [plants]; mean, sd [height unit] of the measured plants; adjusted_mean, at
    the average bench position; difference from the check with its simultaneous limits (Dunnett) and adjusted
    p; control = 1 - adjusted mean / that of the check, with the limits of each one alone (Fieller).
    `mean_covariance`: that of the adjusted means [height unit squared]. `active`: the active ingredient, ""
    if not told.
    """

    plants: pd.DataFrame = field(repr=False)
    table: pd.DataFrame
    check: str
    height_unit: str
    rate_unit: str
    position: tuple[str, ...]
    position_as: str
    level: float
    df: int
    sigma: float
    notes: tuple[str, ...]
    ordered: bool
    mean_covariance: Array = field(repr=False)
    _parameters: int | str = field(repr=False, default="auto")
    active: str = ""

    @property
    def treatments(self) -> tuple[str, ...]:
        """Names, without the check."""
        return tuple(name for name in self.table.index if name != self.check)

    @property
    def check_mean(self) -> float:
        """Height of the untreated check at the average position [height unit]."""
        return float(self.table["adjusted_mean"].iloc[0])

    @property
    def cv(self) -> float:
        """Standard deviation between plants treated alike over the check's mean [-]: the cv of the next
        plan."""
        return self.sigma / self.check_mean

    @cached_property
    def measured(self) -> pd.DataFrame:
        """The plants that were compared."""
        used = (self.plants["status"] == "measured") & self.plants["treatment"].isin(self.table.index)
        return self.plants[used].reset_index(drop=True)

    @cached_property
    def model(self) -> LinearModel:
        """The linear model of heights by bench position and treatment."""
        return bench_model(self.measured, list(self.table.index), self.position, self.position_as)

    @cached_property
    def residuals(self) -> Array:
        """Measured minus fitted height, in the order of `measured` [height unit]."""
        return self.model.residuals

    @cached_property
    def anova(self) -> pd.DataFrame:
        """Analysis of variance with sequential sums of squares: bench position first, treatment after it."""
        return self.model.anova

    @cached_property
    def anova_ignoring_position(self) -> pd.DataFrame:
        """The same without the bench position: what the treatments would have seemed to do."""
        return bench_model(self.measured, list(self.table.index), (), self.position_as).anova

    @cached_property
    def trend(self) -> Trend:
        """Straight trend over the treatments in equal steps, weakest first as in `table`."""
        if not self.ordered:
            raise InputError(
                "no trend: the order of the treatments is not known; read the trial with rate= or order="
            )
        contrast = trend_contrast(len(self.treatments))
        se = float(np.sqrt(contrast @ self.mean_covariance @ contrast))
        t = float(contrast @ self.table["adjusted_mean"].to_numpy()) / se
        return Trend(t, self.df, float(2 * stats.t.sf(abs(t), self.df)))

    @cached_property
    def diagnostics(self) -> Diagnostics:
        """Normality, equal spread, outlying and influential plants."""
        residual = self.residuals
        plants = self.measured["plant"].to_numpy()
        p = (
            2 * stats.t.sf(np.abs(self.model.studentised), self.df - 1) * len(plants)
            if self.df > 1
            else np.ones(len(plants))
        )
        half = stats.f.ppf(0.5, len(plants) - self.df, self.df)
        groups = [residual[self.measured["treatment"] == name] for name in self.table.index]
        return Diagnostics(
            float(
                stats.shapiro(residual).pvalue
                if len(residual) <= _SHAPIRO_HOLDS
                else stats.normaltest(residual).pvalue
            ),
            float(stats.levene(*groups, center="median").pvalue)
            if min(map(len, groups)) > _PAIR
            else math.nan,
            tuple(plants[p < 0.05].tolist()),
            tuple(plants[self.model.cook > half].tolist()),
        )

    @property
    def rated(self) -> bool:
        """True if there are rates enough for a dose response: the check and two above zero."""
        return "rate" in self.measured and self.measured["rate"].nunique() >= LEAST_RATES

    @cached_property
    def fit(self) -> LogLogisticFit:
        """The log-logistic curve of height against rate (`wetspan.trials.dose_response`), positions taken
        out."""
        if "rate" not in self.plants:
            raise InputError("no dose response: read the trial with rate= naming the column of rates")
        return fit_log_logistic(
            self.measured["rate"].to_numpy(),
            self.measured["height"].to_numpy(),
            parameters=self._parameters,
            check_height=(self.check_mean, float(np.sqrt(self.mean_covariance[0, 0]))),
            position=position_columns(self.measured, self.position, self.position_as),
        )

    def next_rate(self, control: float = 0.25, *, level: float | None = None) -> RateEstimate:
        """The rate to try next for plants shorter by `control` of the check, with every reason to doubt
        it."""
        return self.fit.rate_for(control, level=self.level if level is None else level, unit=self.rate_unit)

    @cached_property
    def effective_rates(self) -> tuple[RateEstimate, ...]:
        """EC10, EC20 and EC50: the rates for plants 10, 20 and 50 % shorter than the check."""
        return tuple(self.next_rate(share) for share in (0.1, 0.2, 0.5))

    @property
    def ec(self) -> pd.DataFrame:
        """EC10, EC20 and EC50 as a table, with limits and warnings."""
        return pd.DataFrame(
            [
                {
                    "control": found.control,
                    "rate": found.rate,
                    "lower": found.lower,
                    "upper": found.upper,
                    "warning": " ".join(found.warnings),
                }
                for found in self.effective_rates
            ],
            index=[f"EC{100 * found.control:.0f}" for found in self.effective_rates],
        )


def position_columns(plants: pd.DataFrame, position: tuple[str, ...], position_as: str) -> Array:
    """Design columns of the bench position: indicators of all but the first level, or the number itself."""
    columns: list[Array] = []
    for name in position:
        if position_as == "linear" and name != "block":
            columns.append(_numbers(plants, name))
        else:
            levels = list(dict.fromkeys(plants[name]))
            columns.extend((plants[name] == level).to_numpy(dtype=float) for level in levels[1:])
    return np.column_stack(columns) if columns else np.empty((len(plants), 0))


def _numbers(plants: pd.DataFrame, name: str) -> Array:
    try:
        return np.asarray(plants[name].astype(float), dtype=float)
    except ValueError:
        bad = next(text for text in plants[name] if not text.replace(".", "", 1).isdigit())
        raise InputError(f"position='linear': {name} '{bad}' is not a number") from None


def bench_model(
    plants: pd.DataFrame, treatments: Sequence[str], position: tuple[str, ...], position_as: str
) -> LinearModel:
    """Return heights by bench position first and treatment, against the first one, after it."""
    terms = {name: position_columns(plants, (name,), position_as) for name in position}
    dummies = np.array([plants["treatment"] == name for name in treatments[1:]], dtype=float).T
    return LinearModel(terms | {"treatment": dummies}, plants["height"].to_numpy(dtype=float))
