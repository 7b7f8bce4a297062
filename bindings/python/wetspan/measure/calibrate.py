"""Measurements, and height trials if there are any, combined into a crop that can be saved."""

from __future__ import annotations

import datetime
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wetspan.cautions import CAUTIONS
from wetspan.crop import Z90, Crop
from wetspan.errors import InputError
from wetspan.measure.learned import Learned, describe
from wetspan.parameters import TABLE
from wetspan.progress import working
from wetspan.scenario import Scenario
from wetspan.trials.calibrated import SILENT
from wetspan.trials.calibration import Calibration, Changes, six_digits
from wetspan.trials.calibration import calibrate as calibrate_to_trials
from wetspan.trials.crop_fit import DECIDABLE, TIP_SHARE
from wetspan.trials.read import TrialResult

Array = NDArray[np.float64]


class Experiment(Protocol):
    """What a reading offers here."""

    @property
    def learned(self) -> Learned:
        """What it taught."""

    @property
    def source(self) -> str:
        """What it rests on."""

    @property
    def warnings(self) -> tuple[str, ...]:
        """Reasons to doubt it."""

    @property
    def scenario(self) -> Scenario:
        """What it was read with."""


@dataclass(frozen=True, eq=False)
class MeasuredCrop:
    """Inputs of a crop from measurements and trials together.

    scenario
        The scenario with the most probable values.
    learned
        All inputs, with the covariance of their natural logs.
    trial
        The result of `ws.calibrate` for the trials, with the measured values as priors; None without trials.
    """

    scenario: Scenario
    learned: Learned
    trial: Calibration | None
    source: str
    active: str
    warnings: tuple[str, ...]
    level: float
    prior: Scenario = field(repr=False)

    @property
    def table(self) -> pd.DataFrame:
        """One row per input: before, after, limits, width, unit, grade of the value before, says."""
        return self.learned.table(self.level)

    @property
    def silent(self) -> tuple[str, ...]:
        """Inputs about which neither measurements nor trials say much."""
        return tuple(str(key) for key in self.table.index[self.table["width"] > SILENT])

    @property
    def text(self) -> str:
        """What was learned, in plain sentences, cautions included."""
        head = f"{self.source[0].upper()}{self.source[1:]}."
        end = (
            "Calibrated, not validated: the values hold for this crop under the other inputs of the scenario."
        )
        return "\n".join([head, *self.warnings, *describe(self.learned, self.level), end, "", CAUTIONS])

    def crop(self, name: str, date: datetime.date | None = None) -> Crop:
        """Return the crop as it goes to a file; `date` is today if not given."""
        if not name.strip():
            raise InputError("name = '': a crop needs a name, such as 'my mum'")
        if set(self.silent) == set(self.learned.keys):
            raise InputError(
                "the measurements say next to nothing about any input: nothing was calibrated, so there is"
                " nothing to save"
            )
        return Crop(
            name, {key: self.scenario[key] for key in self.learned.keys}, self.learned.wide, self.active,
            self.source, date or datetime.date.today(), self.prior.to_toml(),
        )  # fmt: skip

    def save(self, path: str | os.PathLike[str], name: str, date: datetime.date | None = None) -> None:
        """Write the crop to a TOML file, which `ws.load_crop` and `--crop` read."""
        self.crop(name, date).save(path)


@working("fits the crop")
def calibrate(
    scenario: Scenario,
    measured: Experiment | Sequence[Experiment],
    trials: TrialResult | Sequence[TrialResult] | None = None,
    *,
    parameters: Sequence[str] | None = None,
    changes: Changes | Sequence[Changes | None] | None = None,
    rate: str = "application.concentration",
    spreads: Mapping[str, float] | None = None,
    level: float = 0.95,
) -> MeasuredCrop:
    """Combine weighed leaves, weighed pots, washed deposits and height trials into one crop.

    The likelihoods of several measurements of one input are multiplied, and its prior is counted once. All
    distributions are taken as normal in the logs of the inputs.

    Parameters
    ----------
    scenario
        The scenario as it was before the measurements, with which all of them were read.
    measured
        Results of `read_leaf`, `read_pots` and `read_wash`, one or several.
    trials, parameters, changes, rate, spreads
        As in `ws.calibrate`. Measured inputs enter the fit of the heights with the intervals of their
        measurements as priors, and the fit updates them.
    """
    several: list[Any] = list(measured) if isinstance(measured, (list, tuple)) else [measured]
    if not several:
        raise InputError("measured: give what read_leaf, read_pots or read_wash returned, one or more")
    for each in several:
        if not isinstance(getattr(each, "learned", None), Learned):
            raise InputError("measured: give what read_leaf, read_pots or read_wash returned, one or more")
    together = joined(scenario, [each.learned for each in several])
    source = "calibrated to " + ", ".join(each.source for each in several)
    warnings = [line for each in several for line in each.warnings]
    if trials is None:
        return _crop(scenario, together, None, source, "", warnings, level)
    fitted, told = _with_trials(scenario, together, trials, parameters, changes, rate, spreads or {})
    source += f"; {told.source}"
    return _crop(scenario, fitted, told, source, told.active, [*warnings, *told.warnings], level)


def joined(scenario: Scenario, several: Sequence[Learned]) -> Learned:
    """Normal posteriors multiplied, their common prior counted once."""
    keys = tuple(dict.fromkeys(key for each in several for key in each.keys))
    center = np.array([float(np.log(scenario[key])) for key in keys])
    sd = np.zeros(len(keys))
    for each in several:
        for key, before, width in zip(each.keys, each.prior_center, each.prior_sd, strict=True):
            place = keys.index(key)
            if abs(before - center[place]) > 1e-9:
                raise InputError(
                    f"{key} differs between the scenario and that of the measurement: read both with one"
                    " scenario"
                )
            sd[place] = max(sd[place], width)
    precision = np.diag(sd**-2.0)
    pull = precision @ center
    df = np.full(len(keys), np.inf, dtype=float)
    for each in several:
        places = np.array([keys.index(key) for key in each.keys])
        own = np.linalg.inv(each.covariance if len(several) == 1 else each.wide)
        precision[np.ix_(places, places)] += own - np.diag(each.prior_sd**-2.0)
        pull[places] += own @ each.center - each.prior_sd**-2.0 * each.prior_center
        if len(several) == 1:
            df[places] = each.df
    covariance = np.linalg.inv(precision)
    return Learned(keys, np.asarray(covariance @ pull), np.asarray(covariance), center, sd, df)


def _fitted_by_heights(key: str) -> bool:
    row = TABLE[key]
    return row.kind == "number" and not (row.grade == "B" or (row.grade == "A" and row.measured_on == "this"))


def _with_trials(
    scenario: Scenario,
    known: Learned,
    trials: TrialResult | Sequence[TrialResult],
    parameters: Sequence[str] | None,
    changes: Changes | Sequence[Changes | None] | None,
    rate: str,
    spreads: Mapping[str, float],
) -> tuple[Learned, Calibration]:
    """Heights fitted with what was measured as their prior, correlations put back afterwards."""
    before = scenario.in_si(known.values())
    wide = np.sqrt(np.diag(known.wide))
    own = {
        key: float(np.exp(Z90 * sd))
        for key, sd in zip(known.keys, wide, strict=True)
        if _fitted_by_heights(key)
    }
    named = list(DECIDABLE) if parameters is None else list(parameters)
    if parameters is None and scenario["canopy.pots_covered"]:
        named.append(TIP_SHARE)
    for key in spreads:
        if key in own:
            raise InputError(f"spreads: {key} was measured; its spread is what the measurement left")
    fitted_keys = [*[key for key in named if key not in own], *own]
    told = calibrate_to_trials(
        before,
        trials,
        parameters=fitted_keys,
        changes=changes,
        rate=rate,
        spreads={**spreads, **own},
    )
    keys = (*fitted_keys, *(key for key in known.keys if key not in own))
    size = len(fitted_keys)
    precision, pull = np.zeros((len(keys), len(keys))), np.zeros(len(keys))
    precision[:size, :size] = np.linalg.inv(told.log_covariance)
    pull[:size] = precision[:size, :size] @ np.log([told.scenario[key] for key in fitted_keys])
    for key in own:  # what the fit took as its prior is taken out again
        place, weight = keys.index(key), (np.log(own[key]) / Z90) ** -2.0
        precision[place, place] -= weight
        pull[place] -= weight * np.log(before[key])
    places = np.array([keys.index(key) for key in known.keys])
    measured = np.linalg.inv(known.wide)
    precision[np.ix_(places, places)] += measured
    pull[places] += measured @ known.center
    covariance = np.linalg.inv(precision)
    spread_of = {str(key): float(each) for key, each in told.table["prior_spread"].items()}
    sd = {
        **{key: float(np.log(spread_of[key]) / Z90) for key in fitted_keys},
        **dict(zip(known.keys, known.prior_sd, strict=True)),
    }
    return (
        Learned(
            keys,
            np.asarray(covariance @ pull),
            np.asarray(covariance),
            np.array([float(np.log(scenario[key])) for key in keys]),
            np.array([sd[key] for key in keys]),
            np.full(len(keys), np.inf, dtype=float),
        ),
        told,
    )


def _crop(
    scenario: Scenario,
    learned: Learned,
    trial: Calibration | None,
    source: str,
    active: str,
    warnings: Sequence[str],
    level: float,
) -> MeasuredCrop:
    values = {key: six_digits(TABLE[key], value) for key, value in learned.values().items()}
    return MeasuredCrop(
        scenario.in_si(values), learned, trial, source, active, tuple(dict.fromkeys(warnings)), level,
        scenario,
    )  # fmt: skip
