"""Calibration of a crop to its trials, and how much the trials and the prior contribute to each input.

The prior of an input is the scenario's value with the table's `spread`. `wetspan.trials.crop_fit` describes
the fit.
"""

from __future__ import annotations

import datetime
import os
from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wetspan import _core
from wetspan.active import active
from wetspan.cautions import CAUTIONS
from wetspan.crop import Z90, Crop
from wetspan.errors import InputError, nearest
from wetspan.parameters import TABLE, row_of
from wetspan.progress import working
from wetspan.scenario import Scenario
from wetspan.trials.calibrated import SILENT, Calibrated, z_of
from wetspan.trials.crop_alone import PlantsAlone, conflict
from wetspan.trials.crop_fit import (
    DECIDABLE,
    HALF,
    TIP_SHARE,
    CropModel,
    Fit,
    Means,
    Prior,
    fit_crop,
    treatment_means,
)
from wetspan.trials.crop_posterior import FEW, Posterior, posterior
from wetspan.trials.dose_response import plain_number
from wetspan.trials.read import TrialResult
from wetspan.trials.wording import describe_calibration, p_value
from wetspan.unit_shown import convert, show_allowed, shown
from wetspan.units import value_in_si

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from wetspan.drawing import Where

Array = NDArray[np.float64]
Changes = Mapping[str, Mapping[str, object]]

IN_FILE = 256  # draws that a crop's file keeps

#: The substance whose values the table holds, and the inputs that tell one substance from another.
TABLE_ACTIVE = "paclobutrazol"
IDENTITY = ("active.solubility", "active.log_kow", "active.molar_volume")

CONFLICT = 0.05  # p value below which prior and plants are said to contradict each other
NAMED = 1.64  # standard deviations of an estimate, were the prior right, beyond which its input is named
ALIKE = 0.9  # correlation above which two inputs cannot be told apart


class Calibration(Calibrated):
    """A crop calibrated to trials, with its text, its picture and its file."""

    def crop(self, name: str, date: datetime.date | None = None) -> Crop:
        """Return the calibrated crop as it is written to a file; `date` is today by default.

        Raises InputError if the trials contain no information on any input, since nothing was calibrated
        then.
        """
        if not name.strip():
            raise InputError("name = '': a crop needs a name, such as 'my mum'")
        if set(self.silent) == set(self.parameters):
            raise InputError(
                f"the trials say next to nothing about {', '.join(self.parameters)}: nothing was calibrated, "
                "so there is nothing to save"
            )
        return Crop(
            name, {key: self.scenario[key] for key in self.parameters}, self.log_covariance, self.active,
            self.source, date or datetime.date.today(), self.prior.to_toml(),
            log_draws=self.posterior.alike(IN_FILE),
        )  # fmt: skip

    def save(self, path: str | os.PathLike[str], name: str, date: datetime.date | None = None) -> None:
        """Write the calibrated crop to a TOML file, which `load_crop` reads."""
        self.crop(name, date).save(path)

    @property
    def text(self) -> str:
        """What was learned, in plain sentences, cautions included."""
        return "\n".join([*describe_calibration(self), "", CAUTIONS])

    def plot(self, control: float | None = 0.25, ax: Where = None) -> Figure:
        """Control against rate before and after with what was measured, and the width of each input: two
        panels, on a new figure or on the two Axes `ax`."""
        from wetspan.trials.plots import calibration  # which loads matplotlib

        return calibration(self, control, ax)


@working("fits the crop")
def calibrate(
    scenario: Scenario | Sequence[Scenario],
    results: TrialResult | Sequence[TrialResult],
    *,
    parameters: Sequence[str] | None = None,
    changes: Changes | Sequence[Changes | None] | None = None,
    rate: str = "application.concentration",
    spreads: Mapping[str, float] | None = None,
) -> Calibration:
    """Calibrate a crop to one trial or several.

    Raises InputError for a treatment whose application the scenario does not define, for rates of another
    kind, for a trial of another active ingredient than the scenario's, and for crop.leaf_tip_share without a
    spray on covered pots, because on open pots the uptake by roots hides that by leaves.

    Parameters
    ----------
    scenario
        The house, the spray and the crop before the trial; or one for each trial. Its values of the fitted
        inputs are the medians of their priors.
    results
        Results of `read_trial`.
    parameters
        Keys of the inputs to fit. By default those that heights can determine: crop.half_amount and
        crop.metabolism, and crop.leaf_tip_share if a treatment was sprayed on covered pots. Any further input
        can be named unless it was measured on this substance or is a published formula, such as
        "uptake.mobile_share". Inputs that are not fitted are taken as known.
    changes
        Inputs that a treatment changes in the scenario, {"drench": {"application.method": "drench"}}; one
        mapping for each trial if there are several. Not needed if treatments differ by rate only.
    rate
        Key of the input that the trials' rates set; the rates have its unit.
    spreads
        90 % factor of an input's prior, in place of the table's: {"crop.half_amount": 20} for a crop of
        unknown sensitivity.
    """
    trials, scenarios, per_trial = _paired(scenario, results, changes)
    before = scenarios[0]
    if row_of(rate).kind != "number":
        raise InputError(f"rate='{rate}' is a {row_of(rate).kind}: rates are quantities")
    named = None if parameters is None else [row_of(key).key for key in parameters]
    fixed = {*DECIDABLE, TIP_SHARE, *(named or ())}
    data = [
        _trial(which, len(trials), *given, rate, fixed)
        for which, given in enumerate(zip(trials, scenarios, per_trial, strict=True), start=1)
    ]
    sprays = [spray for trial in data for spray in trial.sprays]
    keys = _decidable(named, sprays)
    spread = _priors(keys, scenarios, spreads or {})
    substance = _substance(trials, scenarios, spreads or {})
    model = CropModel(keys, sprays)
    prior = Prior(keys, np.log([before[key] for key in keys]), np.log(spread) / Z90)
    fitted = fit_crop(model, data, prior)
    left = posterior(model, data, prior, fitted)
    speaking = int(np.sum(np.linalg.eigvalsh(fitted.covariance) <= SILENT**2))
    p = conflict(model, data, prior, fitted, speaking)
    logs = prior.center + prior.scale * fitted.u
    outcome = model.run(logs[None])
    doses = np.sum([outcome[f"tips.{site}"][0] for site in ("leaf", "stem", "root")], axis=0)
    controls = outcome["growth_control"][0]

    after = before.in_si(
        {key: six_digits(TABLE[key], value) for key, value in zip(keys, np.exp(logs).tolist(), strict=True)}
    )
    z = z_of(trials[0].level)
    table = _table(prior, before, after, fitted, left, trials[0].level)
    return Calibration(
        scenario=after,
        table=table,
        log_covariance=fitted.covariance * np.outer(prior.scale, prior.scale),
        posterior=left,
        directions=_directions(prior, fitted),
        alike=_alike(prior, fitted),
        treatments=_treatments(trials, data, doses, controls, rate),
        conflict_p=p,
        misfit_p=fitted.misfit_p,
        widening=fitted.widening,
        rate=rate,
        active=substance,
        results=tuple(trials),
        prior=before,
        warnings=tuple(_warnings(prior, before, after, fitted, left, p, substance, z)),
        plants=PlantsAlone(data, prior, fitted, trials[0].level),
    )


# What goes in ----------------------------------------------------------------------------------------------


def _paired(
    scenario: Scenario | Sequence[Scenario],
    results: TrialResult | Sequence[TrialResult],
    changes: Changes | Sequence[Changes | None] | None,
) -> tuple[list[TrialResult], list[Scenario], list[Changes]]:
    """Trials with a scenario and the changes of their treatments each."""
    several = [results] if isinstance(results, TrialResult) else results
    trials = list(several) if isinstance(several, Iterable) else []
    if not trials or not all(isinstance(result, TrialResult) for result in trials):
        raise InputError("results: give what read_trial returned, one or a list of them")
    levels = sorted({result.level for result in trials})
    if len(levels) > 1:
        raise InputError(f"results were read at the levels {levels[0]:g} and {levels[1]:g}: read them at one")
    scenarios = [scenario] * len(trials) if isinstance(scenario, Scenario) else list(scenario)
    if not all(isinstance(each, Scenario) for each in scenarios):
        raise InputError("scenario: give a Scenario, or a list of them, one per trial")
    if changes is None:
        changes = [None] * len(trials)
    elif isinstance(changes, Mapping):
        changes = [changes]
    for name, given in (("scenarios", scenarios), ("changes", changes)):
        if len(given) != len(trials):
            raise InputError(f"{len(given)} {name} for {len(trials)} trials: give one for each")
    return trials, scenarios, [each or {} for each in changes]


def _decidable(named: list[str] | None, sprays: list[Scenario]) -> list[str]:
    """The inputs to fit: those named, or those that trials of these sprays can decide."""
    covered = any(
        spray["canopy.pots_covered"] and spray.shown("application.method") == "spray" for spray in sprays
    )
    if named is None:
        return [*DECIDABLE, *([TIP_SHARE] if covered else [])]
    if TIP_SHARE in named and not covered:
        raise InputError(
            f"{TIP_SHARE} cannot be decided without a spray on covered pots (canopy.pots_covered = true): "
            "on open pots the roots answer for the leaves"
        )
    return named


def _priors(keys: list[str], scenarios: list[Scenario], told: Mapping[str, float]) -> Array:
    """The 90 % factor of each input's prior."""
    if not keys:
        raise InputError(f"parameters: name one input or more, such as '{HALF}'")
    for key in told:
        if row_of(key).key not in keys:
            raise InputError(f"spreads: '{key}' is not among the parameters ({', '.join(keys)})")
    for key in {*keys, *DECIDABLE, TIP_SHARE}:
        if len({each[key] for each in scenarios}) > 1:
            raise InputError(f"{key} differs between the scenarios: one crop has one value")
    spreads = []
    for key in keys:
        row = row_of(key)
        if keys.count(key) > 1:
            raise InputError(f"parameters: '{key}' is named twice")
        if row.kind != "number":
            raise InputError(f"{key} is a {row.kind}, not a quantity that can be fitted")
        if row.grade == "B" or (row.grade == "A" and row.measured_on == "this"):
            held = "measured on this substance" if row.grade == "A" else "a published formula or standard"
            raise InputError(f"{key} is grade {row.grade}, {held}: it is not calibrated")
        if not scenarios[0][key] > 0:
            raise InputError(f"{key} is {scenarios[0].show(key)}: only values above zero can be fitted")
        spread = float(told.get(key, row.spread))
        if not (np.isfinite(spread) and spread > 1):
            why = "is stated by the user" if key not in told else "leaves nothing to fit"
            raise InputError(
                f"{key}: a spread of {spread:g} {why}; give spreads={{'{key}': 2}} for a factor of 2"
            )
        spreads.append(spread)
    return np.array(spreads)


def _substance(trials: list[TrialResult], scenarios: list[Scenario], told: Mapping[str, float]) -> str:
    """The active ingredient that trials and scenarios agree on."""
    named = list(dict.fromkeys(result.active for result in trials if result.active))
    if len(named) > 1:
        raise InputError(f"trials of {' and of '.join(named)} cannot calibrate one crop together")
    if not named or named[0] == TABLE_ACTIVE:
        return named[0] if named else ""
    values = {key: value_in_si(TABLE[key], active(TABLE_ACTIVE).values[key]) for key in IDENTITY}
    left = [
        key for key in IDENTITY if any(np.isclose(each[key], values[key], rtol=1e-9) for each in scenarios)
    ]
    if left:
        raise InputError(
            f"the trial is of {named[0]}, the scenario still has the {', '.join(left)} of {TABLE_ACTIVE}: "
            f"no use for its physics; give those of {named[0]}, with your source"
        )
    if HALF not in told:
        raise InputError(
            f"the prior of {HALF} is that of {TABLE_ACTIVE}: for {named[0]} give its spread, such as "
            f"spreads={{'{HALF}': 30}}"
        )
    return named[0]


def _trial(
    which: int,
    of: int,
    result: TrialResult,
    scenario: Scenario,
    changes: Changes,
    rate: str,
    fixed: set[str],
) -> Means:
    """Sprays, means and their weight; treatments may not change what is `fixed` for the crop."""
    where = f"trial {which}: " if of > 1 else ""
    for name in changes:
        if name not in result.treatments:
            said = "is the untreated check" if name == result.check else "is no treatment of it"
            hint = nearest(name, result.treatments) or f"treatments are {', '.join(result.treatments)}"
            raise InputError(f"{where}changes: '{name}' {said}; {hint}")
    sprays = []
    for name in result.treatments:
        own = dict(changes.get(name, {}))
        if "rate" in result.table and rate not in own:
            amount = float(result.table["rate"].to_dict()[name])
            own[rate] = f"{amount!r} {result.rate_unit}".strip()
        changed = next((key for key in own if key in fixed), None)
        if changed:
            raise InputError(f"{where}changes: '{name}' changes {changed}, which is one for the whole crop")
        if not own:
            raise InputError(
                f"{where}nothing tells how '{name}' was sprayed: read the trial with rate=, or give "
                f"changes={{'{name}': {{'application.concentration': '30 mg/L'}}}}"
            )
        try:
            sprays.append(scenario.replace(own))
        except InputError as error:
            raise InputError(f"{where}treatment '{name}': {error}") from None
    means = result.table["adjusted_mean"].to_numpy(dtype=float)
    return treatment_means(sprays, means, result.mean_covariance, result.df)


# What comes out --------------------------------------------------------------------------------------------


def six_digits(row: _core.Parameter, value: float) -> float:
    """The value rounded to what a file need show; on a bound, the bound."""
    rounded = convert(float(f"{convert(value, row.unit, row.shown):.6g}"), row.shown, row.unit)
    return min(max(rounded, row.low), row.high)


def _table(
    prior: Prior, before: Scenario, after: Scenario, fitted: Fit, left: Posterior, level: float
) -> pd.DataFrame:
    z, width = z_of(level), np.sqrt(np.diag(fitted.covariance))
    limits = np.exp(left.quantiles((0.5 - 0.5 * level, 0.5 + 0.5 * level)))
    rows = []
    for key, scale, share, within in zip(prior.keys, prior.scale, width, limits.T, strict=True):
        row, was, value = TABLE[key], before[key], after[key]
        wide = np.exp(z * scale)
        ends = (was, was / wide, was * wide), (value, *within)
        told = [[shown(row, each) for each in three] for three in ends]
        spreads = np.exp(Z90 * scale), np.exp(Z90 * scale * share)
        says = "the plants" if share < 0.5 else "plants and prior" if share <= SILENT else "the prior"
        rows.append([*told[0], spreads[0], *told[1], spreads[1], share, row.shown, row.grade, says])
    columns = [
        *("prior", "prior_lower", "prior_upper", "prior_spread", "value", "lower", "upper", "spread"),
        *("width", "unit", "grade", "says"),
    ]
    return pd.DataFrame(rows, index=pd.Index(prior.keys, name="input"), columns=columns)


def _directions(prior: Prior, fitted: Fit) -> pd.DataFrame:
    variance, vectors = np.linalg.eigh(fitted.covariance)
    vectors = vectors * np.sign(vectors[np.abs(vectors).argmax(axis=0), np.arange(len(variance))])
    index = pd.RangeIndex(1, len(variance) + 1, name="direction")
    told = pd.DataFrame(vectors.T, index=index, columns=prior.keys)
    told["width"] = np.sqrt(variance)
    return told


def _alike(prior: Prior, fitted: Fit) -> dict[tuple[str, str], float]:
    """Pairs whose estimates correlate beyond ALIKE, in the posterior or if only they were fitted to the data.

    Of two columns a and b of the data's Jacobian the latter is -a'b / (|a| |b|); columns so short that the
    data would not narrow the prior by themselves are left out.
    """
    sd, length = np.sqrt(np.diag(fitted.covariance)), np.linalg.norm(fitted.spoken, axis=0)
    speaks = 1 / np.sqrt(1 + length**2) < SILENT
    found = {}
    for i, j in combinations(range(len(sd)), 2):
        between = [fitted.covariance[i, j] / (sd[i] * sd[j])]
        if speaks[i] and speaks[j]:
            between.append(-fitted.spoken[:, i] @ fitted.spoken[:, j] / (length[i] * length[j]))
        strongest = float(max(between, key=abs))
        if abs(strongest) > ALIKE:
            found[prior.keys[i], prior.keys[j]] = strongest
    return found


def _treatments(
    trials: list[TrialResult], data: list[Means], doses: Array, controls: Array, rate: str
) -> pd.DataFrame:
    measured = [
        result.table.loc[list(result.treatments), ["control", "control_lower", "control_upper"]]
        .rename(columns=lambda name: name.replace("control_", ""))
        .rename_axis("treatment")
        .reset_index()
        .assign(trial=which)
        for which, result in enumerate(trials, start=1)
    ]
    row = TABLE[rate]
    told = pd.concat(measured, ignore_index=True).assign(
        rate=[convert(spray[rate], row.unit, row.shown) for each in data for spray in each.sprays],
        dose_ug=doses * 1e9,
        calibrated=controls,
    )
    return told[["trial", "treatment", "rate", "dose_ug", "control", "lower", "upper", "calibrated"]]


def _warnings(
    prior: Prior,
    before: Scenario,
    after: Scenario,
    fitted: Fit,
    left: Posterior,
    conflict_p: float,
    substance: str,
    z: float,
) -> list[str]:
    said = []
    if (np.diag(fitted.covariance) > SILENT**2).all():
        said.append("The trials say next to nothing: this is what was assumed before, not a calibration.")
    if conflict_p < CONFLICT:
        said.append(_conflict(prior, before, after, fitted, conflict_p, substance))
    sd = prior.scale * np.sqrt(np.diag(fitted.covariance))
    for key, error in zip(prior.keys, sd, strict=True):
        row, reach = TABLE[key], float(np.exp(z * error))
        if not row.low <= after[key] / reach < after[key] * reach <= row.high:
            said.append(
                f"The interval of {key} is cut off by what the table of inputs allows, "
                f"{show_allowed(row)}: the plants alone would reach beyond."
            )
    if left.effective < FEW:
        said.append(
            f"Limits and draws of the inputs are rough: they rest on {left.effective:.0f} effective points "
            f"of {len(left.weight)}. Fit fewer inputs at once."
        )
    if fitted.widening > 1:
        said.append(
            "The model misses the treatment means by more than the plants vary "
            f"({p_value(fitted.misfit_p)}): their variance was widened {plain_number(fitted.widening)} times."
        )
    return said


def _conflict(prior: Prior, before: Scenario, after: Scenario, fitted: Fit, p: float, substance: str) -> str:
    """The plants contradict the prior: which inputs, and what then holds."""
    # were the prior right, estimates would vary by what the data took off the prior's variance
    moved = np.abs(fitted.u) / np.sqrt(np.maximum(1.0 - np.diag(fitted.covariance), 1.0 - SILENT**2))
    named = [i for i, size in enumerate(moved) if size > NAMED] or [int(np.argmax(moved))]
    keys = [prior.keys[i] for i in named]
    what = " and ".join(
        f"{key} ({after.show(key)}, {before.show(key)} before, factor {np.exp(Z90 * prior.scale[i]):.3g})"
        for i, key in zip(named, keys, strict=True)
    )
    other = " or active ingredient" if HALF in keys and not substance else ""
    wider = ", ".join(
        f"'{key}': {np.exp(2 * Z90 * prior.scale[i]):.3g}" for i, key in zip(named, keys, strict=True)
    )
    return (
        f"The plants contradict what was assumed before ({p_value(p)}), above all of {what}: "
        "do not trust the limits with the prior for this crop, and read those of the plants alone. Is it "
        f"another crop{other}, or is the spray told wrongly? A wider spread, such as spreads={{{wider}}}, "
        "loosens the prior."
    )
