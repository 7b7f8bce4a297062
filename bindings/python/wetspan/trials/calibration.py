"""Calibrate a crop to its trials: what the plants said, what was assumed before, and which of the two spoke.

The prior of an input is the scenario's value with the table's `spread`; what is fitted and how is told in
`wetspan.trials.crop_fit`.
"""

from __future__ import annotations

import datetime
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import stats
from scipy.interpolate import PchipInterpolator
from scipy.special import expit, logit

from wetspan import _core, study
from wetspan.active import active
from wetspan.cautions import CAUTIONS
from wetspan.errors import InputError, nearest
from wetspan.parameters import TABLE, row_of
from wetspan.scenario import Scenario
from wetspan.trials.crop import Z90, Crop, draw_logs
from wetspan.trials.crop_fit import (
    SENSITIVITY,
    STEP,
    CropModel,
    Fit,
    Means,
    Prior,
    compute_sprays,
    fit_crop,
    treatment_means,
)
from wetspan.trials.dose_response import RateEstimate, plain_number
from wetspan.trials.read import TrialResult
from wetspan.trials.wording import p_value
from wetspan.units import convert, show, shown, value_in_si

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Array = NDArray[np.float64]
Changes = Mapping[str, Mapping[str, object]]

#: The substance whose values the table holds, and the inputs that tell one substance from another.
TABLE_ACTIVE = "paclobutrazol"
IDENTITY = ("active.solubility", "active.log_kow", "active.molar_volume")

SILENT = 0.9  # posterior over prior width: above it the plants said next to nothing
FAR = 2.58  # standard deviations of the prior that 99 % lie within
ALIKE = 0.9  # correlation above which two inputs cannot be told apart
COVERED = 0.02  # share of the spray in the substrate below which pots count as covered
REACH = 100.0  # a rate is sought this far beyond the tested ones
_POINTS = 33  # rates at which the dose is computed; between them it is interpolated


@dataclass(frozen=True, eq=False)
class Calibration:
    """A crop calibrated to trials.

    scenario
        The scenario with the most probable values.
    table
        One row per fitted input, in the units people are shown: prior, prior_lower, prior_upper,
        prior_spread, value, lower, upper, spread, width (posterior over prior, on the log scale; near 1 the
        data are silent), unit, grade of the prior, says. Limits are at the trials' level, spreads 90 %
        factors as in `ws.parameters()`.
    log_covariance
        Of the natural logs of the inputs, in their order.
    directions
        Combinations of the inputs (in prior standard deviations), best known first, with their width: those
        near 1 were not moved by the data.
    alike
        Pairs of inputs that the data cannot tell apart, with the correlation of their estimates.
    treatments
        One row per treatment and trial: rate, dose at the growing tips [ug per plant], control measured, with
        its limits, and calibrated.
    widening
        Factor by which the variance of the means was widened, because the model misses them; 1 for none.
    """

    scenario: Scenario
    table: pd.DataFrame
    log_covariance: Array = field(repr=False)
    directions: pd.DataFrame = field(repr=False)
    alike: dict[tuple[str, str], float]
    treatments: pd.DataFrame = field(repr=False)
    misfit_p: float
    widening: float
    rate: str
    active: str
    results: tuple[TrialResult, ...] = field(repr=False)
    prior: Scenario = field(repr=False)
    warnings: tuple[str, ...]

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
        """Unit in which rates are told."""
        return TABLE[self.rate].shown

    def draw(self, n: int, seed: int = 1) -> list[Scenario]:
        """Return `n` scenarios with the fitted inputs drawn from what the trials left possible."""
        logs = draw_logs(self.parameters, self._mode, self.log_covariance, n, seed)
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
        z = _z(self.level if level is None else level)
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
            index=pd.Index(told, name=f"rate [{row.shown}]"),
        )

    def before(self, rates: Sequence[object]) -> Array:
        """Growth control that the scenario foretold at some rates before the trials."""
        row = TABLE[self.rate]
        sprays = [self.prior.in_si({self.rate: value_in_si(row, rate)}) for rate in rates]
        controls: Array = CropModel([], sprays).controls(np.empty((1, 0)))[0]
        return controls

    def next_rate(self, control: float = 0.25, *, level: float | None = None) -> RateEstimate:
        """The rate to try next for plants shorter by `control` of the check, with every reason to doubt it.

        The interval is symmetrical on the log of the rate (linearisation).
        """
        if not 0 < control < 1:
            raise InputError(
                f"control={control}: a share between 0 and 1 is needed, 0.2 for 20 % shorter plants"
            )
        level = self.level if level is None else level
        z, unit = _z(level), self.rate_unit
        low, high = self.tested
        tested = f"the rates tested ({plain_number(low)} to {plain_number(high)} {unit})"

        def none(why: str) -> RateEstimate:
            return RateEstimate(control, np.nan, np.nan, np.nan, unit, level, (why, *self.warnings))

        log_rates, controls = self._controls
        to_come = 1 - self.scenario["crop.initial_height"] / self.scenario["crop.final_height"]
        if control >= to_come:
            return none(f"Growth still to come allows {100 * to_come:.3g} % at most.")
        wanted = float(logit(control))
        if not logit(controls[0]) < wanted < logit(controls[-1]):
            side = "above" if wanted > logit(controls[0]) else "below"
            return none(f"It would be far {side} {tested}.")
        log_rate = float(PchipInterpolator(logit(controls), log_rates)(wanted))
        rising = float(PchipInterpolator(log_rates, logit(controls)).derivative()(log_rate))
        (here,) = compute_sprays([self.scenario.in_si({self.rate: float(np.exp(log_rate))})]).control
        log_rate += (wanted - float(logit(here))) / rising  # what the interpolation missed
        _, gradient = self._gradient([self.scenario.in_si({self.rate: float(np.exp(log_rate))})])
        by_log_rate = control * (1 - control) * rising
        spread = z * float(np.sqrt(gradient[0] @ self.log_covariance @ gradient[0])) / by_log_rate
        row = TABLE[self.rate]
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
        return RateEstimate(control, rate, lower, upper, unit, level, (*doubts, *self.warnings))

    def crop(self, name: str, date: datetime.date | None = None) -> Crop:
        """Return the calibrated crop as it goes to a file; `date` is today if not given.

        Raises InputError where the trials say nothing about any input: then nothing was calibrated.
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
        )  # fmt: skip

    def save(self, path: str | os.PathLike[str], name: str, date: datetime.date | None = None) -> None:
        """Write the calibrated crop to a TOML file, which `load_crop` reads."""
        self.crop(name, date).save(path)

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
    def text(self) -> str:
        """What was learned, in plain sentences, cautions included."""
        from wetspan.trials.wording import describe_calibration

        return "\n".join([*describe_calibration(self), "", CAUTIONS])

    def plot(self, control: float | None = 0.25) -> Figure:
        """Control against rate before and after with what was measured, and the width of each input."""
        from wetspan.trials.plots import calibration

        return calibration(self, control)

    @property
    def _mode(self) -> Array:
        return np.asarray(np.log([self.scenario[key] for key in self.parameters]), dtype=float)

    def _gradient(self, sprays: list[Scenario]) -> tuple[Array, Array]:
        """Control of some sprays, and its derivatives by the logs of the fitted inputs."""
        model = CropModel(self.parameters, sprays)
        steps = STEP * np.log(self.table["prior_spread"].to_numpy(dtype=float)) / Z90
        return model.gradient(self._mode, steps)

    @cached_property
    def _controls(self) -> tuple[Array, Array]:
        """Logs of rates around the tested ones, in SI, and the growth controls that they bring."""
        row = TABLE[self.rate]
        low, high = (convert(rate, row.shown, row.unit) for rate in self.tested)
        ends = max(row.low, low / REACH, 1e-12), min(row.high, high * REACH)
        rates = np.geomspace(*ends, _POINTS)
        rates[[0, -1]] = ends
        controls = compute_sprays([self.scenario.in_si({self.rate: rate}) for rate in rates.tolist()]).control
        kept = controls > 0
        if not kept.any() or (np.diff(controls[kept]) <= 0).any():
            raise InputError(f"growth control does not rise with {self.rate} all the way")
        return np.log(rates[kept]), controls[kept]


def calibrate(
    scenario: Scenario | Sequence[Scenario],
    results: TrialResult | Sequence[TrialResult],
    *,
    parameters: Sequence[str] = SENSITIVITY,
    changes: Changes | Sequence[Changes | None] | None = None,
    rate: str = "application.concentration",
    spreads: Mapping[str, float] | None = None,
) -> Calibration:
    """Calibrate a crop to one trial or several.

    Parameters
    ----------
    scenario : the house, the spray and the crop before the trial; or one per trial. Its values of the fitted
        inputs are the middle of their priors.
    results : what `read_trial` read.
    parameters : keys of the inputs to fit, of grade C or D or measured on another substance or crop: those of
        how the crop answers, and any further one the trials may bear upon. "crop.leaf_tip_share" is refused
        without a spray on covered pots: open pots do not tell leaves from roots. Those left out are taken as
        known.
    changes : what a treatment changes in the scenario, {"drench": {"application.method": "drench"}}; one
        mapping per trial if there are several. Not needed where treatments differ by rate.
    rate : key of the input that the trials' rates set; their unit comes with them.
    spreads : 90 % factor of an input's prior, in place of the table's: {"crop.half_amount": 20} for a crop
        whose sensitivity is not known.

    Raises InputError for a treatment that the scenario does not tell how to spray, for rates of another kind,
    and for a trial of another active ingredient than the scenario's.
    """
    trials, scenarios, per_trial = _paired(scenario, results, changes)
    keys = [row_of(key).key for key in parameters]
    before = scenarios[0]
    spread = _priors(keys, scenarios, spreads or {})
    substance = _substance(trials, scenarios, spreads or {})
    if row_of(rate).kind != "number":
        raise InputError(f"rate='{rate}' is a {row_of(rate).kind}: rates are quantities")
    data = [
        _trial(which, len(trials), *given, rate, {*keys, *SENSITIVITY})
        for which, given in enumerate(zip(trials, scenarios, per_trial, strict=True), start=1)
    ]
    sprays = [spray for trial in data for spray in trial.sprays]
    _refuse_leaf_share(keys, sprays)
    model = CropModel(keys, sprays)
    prior = Prior(keys, np.log([before[key] for key in keys]), np.log(spread) / Z90)
    fitted = fit_crop(model, data, prior)
    logs = prior.center + prior.scale * fitted.u
    (found,) = model.at(logs[None])

    after = before.in_si(
        {key: _six_digits(TABLE[key], value) for key, value in zip(keys, np.exp(logs).tolist(), strict=True)}
    )
    z = _z(trials[0].level)
    table = _table(prior, before, after, fitted, z)
    return Calibration(
        scenario=after,
        table=table,
        log_covariance=fitted.covariance * np.outer(prior.scale, prior.scale),
        directions=_directions(prior, fitted),
        alike=_alike(prior, fitted),
        treatments=_treatments(trials, data, found.tips, found.control, rate),
        misfit_p=fitted.misfit_p,
        widening=fitted.widening,
        rate=rate,
        active=substance,
        results=tuple(trials),
        prior=before,
        warnings=tuple(_warnings(prior, before, after, fitted, substance, z)),
    )


# What goes in ----------------------------------------------------------------------------------------------


def _paired(
    scenario: Scenario | Sequence[Scenario],
    results: TrialResult | Sequence[TrialResult],
    changes: Changes | Sequence[Changes | None] | None,
) -> tuple[list[TrialResult], list[Scenario], list[Changes]]:
    """Trials with a scenario and the changes of their treatments each."""
    trials = [results] if isinstance(results, TrialResult) else list(results)
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


def _priors(keys: list[str], scenarios: list[Scenario], told: Mapping[str, float]) -> Array:
    """The 90 % factor of each input's prior."""
    if not keys:
        raise InputError("parameters: name one input or more, such as 'crop.half_amount'")
    for key in told:
        if row_of(key).key not in keys:
            raise InputError(f"spreads: '{key}' is not among the parameters ({', '.join(keys)})")
    for key in {*keys, *SENSITIVITY}:
        if len({each[key] for each in scenarios}) > 1:
            raise InputError(f"{key} differs between the scenarios: one crop has one value")
    spreads = []
    for key in keys:
        row = row_of(key)
        if keys.count(key) > 1:
            raise InputError(f"parameters: '{key}' is named twice")
        if row.kind != "number":
            raise InputError(f"{key} is a {row.kind}, not a quantity that can be fitted")
        if row.grade == "B" or row.measured_on == "this":
            held = "measured by others" if row.grade == "A" else "a published formula or standard"
            raise InputError(
                f"{key} is grade {row.grade}, {held}: only grades C and D, and what was measured on another "
                "substance or crop, are calibrated"
            )
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


def _refuse_leaf_share(keys: list[str], sprays: list[Scenario]) -> None:
    """Refuse to fit what leaves bring to the tips where every spray reached the substrate too."""
    if "crop.leaf_tip_share" not in keys:
        return
    columns, _ = study._each(sprays, 0, may_fail=False)
    if not ((columns["split.substrate"] < COVERED) & (columns["split.leaf"] > 0.0)).any():
        raise InputError(
            "crop.leaf_tip_share cannot be told from what roots take up: it wants a treatment sprayed on "
            "covered pots, such as changes={'covered': {'canopy.pot_diameter': '1 cm'}}"
        )


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
    if "crop.half_amount" not in told:
        raise InputError(
            f"the prior of crop.half_amount is that of {TABLE_ACTIVE}: for {named[0]} give its spread, such "
            "as spreads={'crop.half_amount': 30}"
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


def _six_digits(row: _core.Parameter, value: float) -> float:
    """The value rounded to what a file need show; on a bound, the bound."""
    rounded = convert(float(f"{convert(value, row.unit, row.shown):.6g}"), row.shown, row.unit)
    return min(max(rounded, row.low), row.high)


def _z(level: float) -> float:
    if not 0 < level < 1:
        raise InputError(f"level={level}: a share between 0 and 1 is needed, 0.95 for 95 % intervals")
    return float(stats.norm.isf((1 - level) / 2))


def _table(prior: Prior, before: Scenario, after: Scenario, fitted: Fit, z: float) -> pd.DataFrame:
    width = np.sqrt(np.diag(fitted.covariance))
    rows = []
    for key, scale, share in zip(prior.keys, prior.scale, width, strict=True):
        row, was, value = TABLE[key], before[key], after[key]
        wide, reach = np.exp(z * scale), np.exp(z * scale * share)
        ends = (was, was / wide, was * wide), (value, value / reach, value * reach)
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
    prior: Prior, before: Scenario, after: Scenario, fitted: Fit, substance: str, z: float
) -> list[str]:
    said = []
    if (np.diag(fitted.covariance) > SILENT**2).all():
        said.append("The trials say next to nothing: this is what was assumed before, not a calibration.")
    sd = prior.scale * np.sqrt(np.diag(fitted.covariance))
    for key, scale, u, error in zip(prior.keys, prior.scale, fitted.u, sd, strict=True):
        row, reach = TABLE[key], float(np.exp(z * error))
        if abs(u) > FAR:
            other = " or active ingredient" if key == "crop.half_amount" and not substance else ""
            said.append(
                f"{key} comes out at {after.show(key)}, outside what was plausible ({before.show(key)}, "
                f"factor {np.exp(Z90 * scale):.3g}): is it another crop{other}, or is the spray told "
                f"wrongly? The prior still pulls; a wider spread for {key} loosens it."
            )
        if not row.low <= after[key] / reach < after[key] * reach <= row.high:
            said.append(
                f"The interval of {key} reaches beyond what the table of inputs allows, "
                f"{show(row, row.low)} to {show(row, row.high)}: it cannot be trusted there."
            )
    if fitted.widening > 1:
        said.append(
            "The model misses the treatment means by more than the plants vary "
            f"({p_value(fitted.misfit_p)}): their variance was widened {plain_number(fitted.widening)} times."
        )
    return said
