"""A crop after its calibration to trials: its inputs, and the rates and controls that follow from them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import stats
from scipy.optimize import brentq
from scipy.special import expit, logit

from wetspan.crop import Z90, draws_asked
from wetspan.errors import InputError, echo
from wetspan.parameters import TABLE
from wetspan.scenario import Scenario
from wetspan.seeds import Seed, stream
from wetspan.trials.crop_alone import PlantsAlone
from wetspan.trials.crop_fit import STEP, CropModel
from wetspan.trials.crop_posterior import Posterior
from wetspan.trials.dose_response import RateEstimate, plain_number
from wetspan.trials.statistics import TrialStatistics
from wetspan.unit_shown import convert, shown
from wetspan.units import value_in_si

Array = NDArray[np.float64]

SILENT = 0.9  # posterior over prior width: above it the plants said next to nothing
REACH = 100.0  # a rate is sought this far beyond the tested ones
LEAST = 1e-12  # SI: no rate is sought below


@dataclass(frozen=True, eq=False)
class Calibrated:
    """What trials said about a crop: the fitted inputs, and what follows from them.

    scenario
        The scenario with the most probable values.
    table
        One row per fitted input, in the units people are shown: prior, prior_lower, prior_upper,
        prior_spread, value, lower, upper, spread, width (posterior over prior, on the log scale; near 1 the
        data are silent), unit, grade of the prior, says. Limits are at the trials' level, with as much of
        `posterior` below as above them. They hold the truth as often as they say on average over crops that
        the prior finds plausible, and not at its edges: there see `alone`. Spreads are 90 % factors as in
        `ws.parameters()`.
    log_covariance
        Of the natural logs of the inputs, in their order, by linearisation at the most probable values.
    posterior
        What the trials left possible, as weighted points: limits and draws of the inputs come from them.
    directions
        Combinations of the inputs (in prior standard deviations), best known first, with their width: those
        near 1 were not moved by the data.
    alike
        Pairs of inputs that the data cannot tell apart, with the correlation of their estimates.
    treatments
        One row per treatment and trial: rate, dose at the growing tips [ug per plant], control measured, with
        its limits, and calibrated.
    conflict_p
        p value of plants and prior agreeing: the sum of squares that the prior costs, beside a chi-square.
        Below 0.05 a warning says which limits to trust. nan where the plants say next to nothing.
    widening
        Factor by which the variance of the means was widened, because the model misses them; 1 for none.
    """

    scenario: Scenario
    table: pd.DataFrame
    log_covariance: Array = field(repr=False)
    posterior: Posterior = field(repr=False)
    directions: pd.DataFrame = field(repr=False)
    alike: dict[tuple[str, str], float]
    treatments: pd.DataFrame = field(repr=False)
    conflict_p: float
    misfit_p: float
    widening: float
    rate: str
    active: str
    results: tuple[TrialStatistics, ...] = field(repr=False)
    prior: Scenario = field(repr=False)
    warnings: tuple[str, ...]
    plants: PlantsAlone = field(repr=False)

    @cached_property
    def alone(self) -> pd.DataFrame:
        """Limits of the inputs from the plants alone, without the prior, at the trials' level.

        One row per fitted input: lower, upper, in the units people are shown, and unit. They are
        profile-likelihood limits by Student's t at the residual degrees of freedom, and hold the truth as
        often as they say wherever the prior lies, if the model's curve has the right shape. 0 and inf stand
        where the plants set no limit. They are computed when they are first asked for, in a second or two.
        """
        rows = [TABLE[key] for key in self.parameters]
        lower, upper = (np.exp(end).tolist() for end in self.plants.limits())
        return pd.DataFrame(
            {
                "lower": [shown(row, end) for row, end in zip(rows, lower, strict=True)],
                "upper": [shown(row, end) for row, end in zip(rows, upper, strict=True)],
                "unit": [row.shown for row in rows],
            },
            index=self.table.index,
        )

    @property
    def parameters(self) -> tuple[str, ...]:
        """Keys of the fitted inputs."""
        return tuple(map(str, self.table.index))

    @property
    def correlation(self) -> pd.DataFrame:
        """Correlation of the fitted inputs, prior included."""
        sd = np.sqrt(np.diag(self.log_covariance))
        keys = list(self.parameters)
        return pd.DataFrame(self.log_covariance / np.outer(sd, sd), index=keys, columns=keys)

    @property
    def spreads(self) -> dict[str, float]:
        """90 % factor about each fitted value: the `spreads` of the next calibration."""
        return {str(key): float(spread) for key, spread in self.table["spread"].items()}

    @property
    def silent(self) -> tuple[str, ...]:
        """Inputs about which the data say next to nothing: their prior stands."""
        return tuple(str(key) for key in self.table.index[self.table["width"] > SILENT])

    @property
    def tested(self) -> tuple[float, float]:
        """Lowest and highest rate of the trials, in the unit people are shown."""
        return float(self.treatments["rate"].min()), float(self.treatments["rate"].max())

    @property
    def rate_unit(self) -> str:
        """Unit in which rates are told: ppm where every trial speaks of ppm, which is read as mg/L."""
        unit, spoken = TABLE[self.rate].shown, {result.rate_unit for result in self.results}
        return "ppm" if unit == "mg/L" and spoken == {"ppm"} else unit

    def draw(self, n: int, seed: Seed = 1) -> list[Scenario]:
        """Return `n` scenarios with the fitted inputs drawn from what the trials left possible.

        They are drawn from the points of `posterior`, so one may come up more than once.
        """
        logs = self.posterior.draw(draws_asked(n), stream(seed))
        return [
            self.scenario.in_si(dict(zip(self.parameters, values, strict=True)))
            for values in np.exp(logs).tolist()
        ]

    @property
    def level(self) -> float:
        """Confidence level of all intervals, that at which the trials were read [-]."""
        return self.results[0].level

    def control(self, rates: Sequence[object], *, level: float | None = None) -> pd.DataFrame:
        """Predicted growth control of the crop's mean plant at some rates, in the scenario's conditions.

        `rates` as text with unit, or numbers in SI; `level` that of the trials if not given. Columns control,
        lower, upper [1], tested; index the rate in the unit people are shown. The limits are symmetrical on
        the logit of the control.
        """
        z = z_of(self.level if level is None else level)
        row = TABLE[self.rate]
        at = [value_in_si(row, rate) for rate in rates]
        control, gradient = self._gradient([self.scenario.in_si({self.rate: value}) for value in at])
        reach = z * np.sqrt(np.einsum("ij,jk,ik->i", gradient, self.log_covariance, gradient))
        reach = reach / np.maximum(control * (1 - control), 1e-300)
        low, high = self.tested
        told = np.array([convert(value, row.unit, row.shown) for value in at])
        return pd.DataFrame(
            {
                "control": control,
                "lower": expit(logit(control) - reach),
                "upper": expit(logit(control) + reach),
                "tested": (told >= low * (1 - 1e-9)) & (told <= high * (1 + 1e-9)),
            },
            index=pd.Index(told, name=f"rate [{self.rate_unit}]"),
        )

    def before(self, rates: Sequence[object]) -> Array:
        """Growth control that the scenario predicted at some rates before the trials."""
        row = TABLE[self.rate]
        logs = np.log([value_in_si(row, rate) for rate in rates])
        return CropModel([self.rate], [self.prior]).controls(logs[:, None])[:, 0]

    def next_rate(self, control: float = 0.25, *, level: float | None = None) -> RateEstimate:
        """The rate to try next for plants shorter by `control` of the check, with every reason to doubt it.

        The interval is symmetrical on the log of the rate (linearisation).
        """
        if not 0 < control < 1:
            raise InputError(
                f"control={control}: a share between 0 and 1 is needed, 0.2 for 20 % shorter plants"
            )
        level = self.level if level is None else level
        z, told, row = z_of(level), self.rate_unit, TABLE[self.rate]
        unit = row.shown
        low, high = self.tested
        tested = f"the rates tested ({plain_number(low)} to {plain_number(high)} {told})"
        ends = [
            max(row.low, convert(low, unit, row.unit) / REACH, LEAST),
            min(row.high, convert(high, unit, row.unit) * REACH),
        ]
        model = CropModel([self.rate], [self.scenario])

        def missing(log_rate: float) -> float:
            return float(model.controls(np.array([[log_rate]]))[0, 0]) - control

        def none(why: str) -> RateEstimate:
            return RateEstimate(control, np.nan, np.nan, np.nan, told, level, (why, *self.warnings))

        if (gap := missing(np.log(ends[1]))) <= 0.0:
            most = f"{plain_number(convert(ends[1], row.unit, unit))} {told}"
            return none(
                f"It is not reachable: even {most} gives {100 * (control + gap):.3g} % in the calibrated "
                "crop, with the growth that is still to come."
            )
        if missing(np.log(ends[0])) >= 0.0:
            return none(f"It would be far below {tested}.")
        log_rate = float(brentq(missing, float(np.log(ends[0])), float(np.log(ends[1])), xtol=1e-7))
        at_rate = self.scenario.in_si({self.rate: float(np.exp(log_rate))})
        _, gradient = self._gradient([at_rate], (self.rate,))
        by_input, by_log_rate = gradient[0, :-1], gradient[0, -1]
        spread = z * float(np.sqrt(by_input @ self.log_covariance @ by_input)) / by_log_rate
        rate, lower, upper = (
            convert(float(np.exp(log_rate + step)), row.unit, unit) for step in (0.0, -spread, spread)
        )
        doubts = []
        if rate > high:
            doubts.append(f"This is above {tested}: extrapolated, not measured. Test it before use.")
        elif rate < low:
            doubts.append(
                f"This is below {tested}: it rests on the model, not on plants. Test it before use."
            )
        elif lower < low or upper > high:
            doubts.append(f"The interval reaches beyond {tested}.")
        return RateEstimate(control, rate, lower, upper, told, level, (*doubts, *self.warnings))

    @property
    def source(self) -> str:
        """One line on what the calibration stands on."""
        trials, treatments = len(self.results), len(self.treatments)
        plants = sum(len(result.measured) for result in self.results)
        silent = f"; of {', '.join(self.silent)} they say next to nothing" if self.silent else ""
        return (
            f"calibrated to {trials} trial{'s' if trials > 1 else ''} with an untreated check, "
            f"{treatments} treatment{'s' if treatments > 1 else ''}, {plants} plants measured{silent}"
        )

    @property
    def _mode(self) -> Array:
        return np.asarray(np.log([self.scenario[key] for key in self.parameters]), dtype=float)

    def _gradient(self, sprays: list[Scenario], more: tuple[str, ...] = ()) -> tuple[Array, Array]:
        """Control of some sprays, and its derivatives by the logs of the fitted inputs and of `more`."""
        model = CropModel([*self.parameters, *more], sprays)
        steps = STEP * np.log([*self.table["prior_spread"], *[math.e] * len(more)]) / Z90
        logs = np.concatenate([self._mode, [np.log(sprays[0][key]) for key in more]])
        return model.gradient(logs, steps)


def z_of(level: float) -> float:
    """Standard deviations to either end of an interval of this level."""
    number = isinstance(level, (int, float, np.integer, np.floating)) and not isinstance(level, bool)
    if not number or not 0 < level < 1:
        raise InputError(f"level={echo(level)}: a share between 0 and 1 is needed, 0.95 for 95 % intervals")
    return float(stats.norm.isf((1 - level) / 2))
