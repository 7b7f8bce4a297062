"""A weighed leaf: reads the weighings, and compares its wet time with the model's."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wetspan.crop import Z90
from wetspan.errors import InputError, yes_or_no
from wetspan.measure.leaf_fit import (
    LeafFit,
    course_gradient,
    fit_leaves,
    prior_of,
    student,
    wet_time_gradient,
)
from wetspan.measure.leaf_table import KINDS, leaves_of, table_of
from wetspan.measure.learned import FAR, Learned, Reading, describe
from wetspan.measure.table import Table
from wetspan.measure.weighed_leaf import SHARED, LeafModel, density
from wetspan.outcome import minutes
from wetspan.parameters import TABLE
from wetspan.scenario import Scenario
from wetspan.trials.calibrated import z_of
from wetspan.trials.dose_response import plain_number
from wetspan.units import share

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from wetspan.drawing import Where

Array = NDArray[np.float64]

#: Errors of the instruments, which leaves cannot determine (grade D: the usual accuracy of a hand-held
#: hygrometer and a hot-wire anemometer): one standard deviation of humidity [1], and of air speed over it.
HUMIDITY_ERROR, SPEED_ERROR = 0.02, 0.10
#: By how much the intervals of the receding angle are wider than error propagation makes them: 500 simulated
#: experiments showed these to hold 76 % instead of 80 % and 92 % instead of 95 % (grade C).
RECEDING_WIDER = 1.12
KEYS = ("retention.leaf_store", "leaf.receding_angle", "leaf.turbulence")


@dataclass(frozen=True, eq=False)
class LeafResult(Reading):
    """The result of weighed leaves.

    table
        One row per leaf: kind, area [cm2], liquid [g], store [mL/m2], wet_time with wet_lower and wet_upper
        [min], predicted (the predicted wet time) with predicted_lower and predicted_upper [min], and after
        and before [min], the two weighings between which the leaf became dry.
    learned
        retention.leaf_store, leaf.receding_angle and leaf.turbulence of the leaves.
    factor
        Factor on the forced transfer of the boundary layer, relative to that of the scenario: value and
        limits. `paper_factor` is that of the paper leaf, or None.
    ratio
        Measured over predicted wet time, mean of the leaves, with limits.
    fits
        The fits, by kind.
    """

    table: pd.DataFrame
    learned: Learned
    factor: tuple[float, float, float]
    paper_factor: tuple[float, float, float] | None
    ratio: tuple[float, float, float]
    level: float
    warnings: tuple[str, ...]
    notes: tuple[str, ...]
    fits: dict[str, LeafFit] = field(repr=False)
    scenario: Scenario = field(repr=False)

    @property
    def source(self) -> str:
        """What the values rest on, in a few words."""
        n = int((self.table["kind"] == "leaf").sum())
        return f"{n} weighed leaves"

    @property
    def lines(self) -> list[str]:
        """What was learned, a sentence or a few each."""
        return describe_leaf(self)

    def plot(self, ax: Where = None) -> Figure:
        """Liquid left over time, wet times measured and predicted, residuals; `ax`: three axes of yours."""
        from wetspan.measure.pictures import leaf_picture  # which loads matplotlib

        return leaf_picture(self, ax)


def read_leaf(
    scenario: Scenario,
    table: Table,
    *,
    units: Mapping[str, str] | None = None,
    balance: object = None,
    humidity_error: object = HUMIDITY_ERROR,
    speed_error: object = SPEED_ERROR,
    run_off: bool = True,
    level: float = 0.95,
) -> LeafResult:
    """Read a table of weighed leaves, and compare their wet times with the model's.

    Raises InputError with one line for each problem: mixed units, a mass that rises, a clock that runs
    backwards, a leaf that was not weighed dry, a single leaf.

    Parameters
    ----------
    scenario
        The leaf and the liquid; its values are the medians of the priors.
    table
        A CSV file or DataFrame, one row per weighing. Columns: leaf (its name), state (dry: before it was
        sprayed, or long after; wet: from the spray on), time [min] or clock (14:05), mass [g], area [cm2] of
        one side, temperature [degC], humidity [percent], speed [m/s] of the air at the leaf. Optional
        columns: light [W/m2] (0 by default), width [cm] and kind (leaf, or paper for the painted paper leaf).
        Headings contain the units. The air may be blank in rows in which it was not read.
    units
        Units of columns whose headings do not contain them.
    balance
        Resolution of the balance, such as "1 mg"; inferred from the masses by default.
    humidity_error, speed_error
        One standard deviation of the hygrometer [1], and of the anemometer relative to its reading [1].
    run_off
        Whether the leaves were sprayed until liquid ran off. Only then the measurement determines their
        store.
    level
        Confidence level of all intervals.
    """
    z_of(level)
    run_off = yes_or_no("run_off", run_off)
    leaves, step = leaves_of(scenario, table_of(table, units), balance)
    prior = prior_of(scenario, share("humidity_error", humidity_error), share("speed_error", speed_error))
    fits: dict[str, LeafFit] = {}
    for kind in KINDS:
        own = [LeafModel(scenario, leaf) for leaf in leaves if leaf.kind == kind]
        if own:
            first = max(
                3 * step, 2e-3 * max(each.leaf.area * density(each.leaf) * each.leaf.depth for each in own)
            )
            fits[kind] = fit_leaves(own, prior, first, step)
    return result_of(scenario, fits, share("speed_error", speed_error), run_off, level)


def result_of(
    scenario: Scenario, fits: dict[str, LeafFit], speed_error: float, run_off: bool, level: float
) -> LeafResult:
    """What fitted leaves say."""
    fit = fits["leaf"]
    rows = {}
    for kind, each in fits.items():
        for i, model in enumerate(each.leaves):
            rows[model.leaf.name] = {"kind": kind} | _row(each, i, level, speed_error)
    told = pd.DataFrame.from_dict(rows, orient="index").rename_axis("leaf")
    learned = _learned(scenario, fit, speed_error, run_off)
    factors = {kind: _factor(each, speed_error, level) for kind, each in fits.items()}
    endless = told.index[~np.isfinite(told["predicted"].to_numpy(dtype=float))]
    if len(endless):
        raise InputError(
            f"{endless[0]} dried, and in the air noted beside its weighings the model would never dry it; "
            "look at temperature, humidity and their units"
        )
    ratio = _ratio(told[told["kind"] == "leaf"], fit, level)
    return LeafResult(
        table=told,
        learned=learned,
        factor=factors["leaf"],
        paper_factor=factors.get("paper"),
        ratio=ratio,
        level=level,
        warnings=tuple(_warnings(scenario, fits, learned, speed_error, level)),
        notes=tuple(_notes(fits, run_off)),
        fits=fits,
        scenario=scenario,
    )


# Results --------------------------------------------------------------------------------------------------


def _row(fit: LeafFit, i: int, level: float, speed_error: float) -> dict[str, float]:
    model, own = fit.leaves[i], fit.own(i)
    leaf, depth = model.leaf, float(np.exp(own[0]))
    log_wet, by = wet_time_gradient(model, fit.shared_of(i), own[0])
    places = fit.indices(i)
    gradient = np.concatenate([by[: len(SHARED)], by[:2], by[len(SHARED) :]])
    reach = z_of(level) * float(np.sqrt(gradient @ fit.covariance[np.ix_(places, places)] @ gradient))
    log_told, by_told = wet_time_gradient(model, model.start, own[0])
    plausible = fit.known.prior.copy()
    plausible[0] = np.hypot(np.log(TABLE["leaf.turbulence"].spread) / Z90, 0.5 * speed_error)
    told_reach = z_of(level) * float(np.linalg.norm(by_told[: len(SHARED)] * plausible))
    wet = np.exp(log_wet + reach * np.array([0.0, -1.0, 1.0])) / 60
    told = np.exp(log_told + told_reach * np.array([0.0, -1.0, 1.0])) / 60
    after, before = _by_itself(model, own)
    return {
        "area": 1e4 * leaf.area,
        "liquid": 1e3 * leaf.area * density(leaf) * depth,
        "store": 1e6 * depth,
        "wet_time": wet[0],
        "wet_lower": wet[1],
        "wet_upper": wet[2],
        "predicted": told[0],
        "predicted_lower": told[1],
        "predicted_upper": told[2],
        "after": after,
        "before": before,
    }


def _by_itself(model: LeafModel, own: Array) -> tuple[float, float]:
    """Weighings between which a leaf fell dry, by its mass alone [min]; nan where it did not."""
    leaf = model.leaf
    time = leaf.time[leaf.wet]
    liquid = leaf.area * density(leaf) * np.exp(own[0])
    left = (leaf.mass[leaf.wet] - own[3] - own[4] * time) / liquid
    dry = np.flatnonzero(left <= model.scenario["numerics.dry_share"])
    if not len(dry) or not dry[0]:
        return time[-1] / 60, np.nan
    return time[dry[0] - 1] / 60, time[dry[0]] / 60


def _factor(fit: LeafFit, speed_error: float, level: float) -> tuple[float, float, float]:
    value, sd = boundary(fit, speed_error)
    reach = student(float(fit.df[0]), level) * sd
    factor, low, high = np.exp(value + reach * np.array([0.0, -1.0, 1.0]))
    return float(factor), float(low), float(high)


def boundary(fit: LeafFit, speed_error: float) -> tuple[float, float]:
    """ln of the factor on the boundary layer and its standard deviation, the anemometer's error set apart."""
    total = fit.known.prior[0] ** 2
    own = 1.0 - (0.5 * speed_error) ** 2 / total
    value, variance = fit.theta[0], fit.covariance[0, 0]
    return float(own * value), float(np.sqrt(own**2 * variance + own * (1 - own) * total))


def _learned(scenario: Scenario, fit: LeafFit, speed_error: float, run_off: bool) -> Learned:
    keys = KEYS if run_off else KEYS[1:]
    depths = np.array([fit.own(i)[0] for i in range(len(fit.leaves))])
    n = len(depths)
    before = np.log([scenario[key] for key in KEYS])
    prior = np.array([np.log(TABLE[KEYS[0]].spread) / Z90, fit.known.prior[1], fit.known.prior[0]])
    # the store: normal prior and the leaves' own mean
    error = max(0.01, float(depths.std(ddof=1))) / np.sqrt(n)
    weight = prior[0] ** 2 / (prior[0] ** 2 + error**2)
    covariance = np.zeros((3, 3))
    covariance[0, 0] = weight * error**2
    value, sd = boundary(fit, speed_error)
    share_ = value / fit.theta[0] if fit.theta[0] else 1.0
    covariance[1, 1], covariance[2, 2] = RECEDING_WIDER**2 * fit.covariance[1, 1], sd**2
    covariance[1, 2] = covariance[2, 1] = RECEDING_WIDER * share_ * fit.covariance[0, 1]
    center = np.array([before[0] + weight * (depths.mean() - before[0]), fit.theta[1], before[2] + value])
    df = np.array([n - 1.0, fit.df[1], fit.df[0]])
    use = slice(0 if run_off else 1, 3)
    return Learned(keys, center[use], covariance[use, use], before[use], prior[use], df[use])


def _ratio(leaves: pd.DataFrame, fit: LeafFit, level: float) -> tuple[float, float, float]:
    """Wet time measured over predicted: the mean over the leaves, as far as they and their weighings vary."""
    logs = np.log((leaves["wet_time"] / leaves["predicted"]).to_numpy(dtype=float))
    n = len(logs)
    reach = student(n - 1.0, level) * max(0.005, logs.std(ddof=1)) / np.sqrt(n)
    ratio, low, high = np.exp(logs.mean() + reach * np.array([0.0, -1.0, 1.0]))
    return float(ratio), float(low), float(high)


def waves(fit: LeafFit) -> float:
    """p value of residuals that follow one another: of their lag-1 correlation while wet, all leaves."""
    pairs = [each[leaf.leaf.wet] for each, leaf in zip(fit.residuals, fit.leaves, strict=True)]
    above = sum(float(each[1:] @ each[:-1]) for each in pairs)
    square = sum(float(each @ each) for each in pairs)
    count = sum(len(each) - 1 for each in pairs)
    if square == 0.0 or count < 10:
        return float("nan")
    from scipy import stats

    return float(stats.norm.sf(above / square * np.sqrt(count)))


def strays(fit: LeafFit, speed_error: float) -> float:
    """Boundary factor's distance from the scenario's, in standard deviations of what was plausible."""
    value, sd = boundary(fit, speed_error)
    return value / float(np.hypot(np.log(TABLE["leaf.turbulence"].spread) / Z90, sd))


def _warnings(
    scenario: Scenario, fits: dict[str, LeafFit], learned: Learned, speed_error: float, level: float
) -> list[str]:
    said = []
    paper = fits.get("paper")
    if paper is not None and abs(strays(paper, speed_error)) > FAR:
        factor = _factor(paper, speed_error, level)[0]
        said.append(
            f"The paper leaf does not give the physics back: it dries as with {plain_number(factor)} times"
            " the transfer. Look at air speed, humidity and area before you believe anything about the"
            " leaves."
        )
    if abs(strays(fits["leaf"], speed_error)) > FAR:
        factor = _factor(fits["leaf"], speed_error, level)[0]
        said.append(
            f"The air takes water from these leaves {plain_number(factor)} times as fast through the boundary"
            " layer as the model says, more than was plausible (a factor of"
            f" {TABLE['leaf.turbulence'].spread:.3g}). The same would come of an air speed"
            f" {plain_number(factor**2)} times the one noted."
        )
    low, high = (getattr(TABLE["leaf.turbulence"], end) for end in ("low", "high"))
    value = learned.interval("leaf.turbulence", level)[0]
    if not low <= value <= high:
        said.append(
            f"leaf.turbulence would be {plain_number(value)}, outside {low:g} to {high:g}: a crop that is"
            " saved holds the nearest allowed."
        )
    said += [line for line in learned.far() if not line.startswith("leaf.turbulence")]
    for kind, fit in fits.items():
        if (p := waves(fit)) < 0.001:
            said.append(
                f"The residuals of the {kind} weighings run in waves (p"
                f" {'< 0.001' if p < 0.001 else f'= {p:.2g}'}): the model has not quite the shape of these"
                " curves. Trust the wet times, and the inputs less."
            )
    return said


def _notes(fits: dict[str, LeafFit], run_off: bool) -> list[str]:
    said = []
    if "paper" not in fits:
        said.append(
            "No paper leaf was weighed: whether an odd result is the leaf or the set-up cannot be told."
        )
    elif len(fits["paper"].leaves) == 1:
        said.append("One paper leaf was weighed: how paper leaves differ is assumed.")
    if not run_off:
        said.append("The leaves were not sprayed to run-off: what they carry is not their store.")
    said.append(
        f"The balance is good to {1e6 * fits['leaf'].known.balance:.2g} mg by the residuals, handling"
        " included."
    )
    return said


def describe_leaf(result: LeafResult) -> list[str]:
    """Paragraphs: wet times, boundary layer, control, inputs, doubts."""
    leaves = result.table[result.table["kind"] == "leaf"]
    level = f"{100 * result.level:.3g} %"
    lines = []
    for name, row in result.table.iterrows():
        what = "Paper leaf" if row["kind"] == "paper" else "Leaf"
        told = str(name).lower().startswith(str(row["kind"]))  # the name itself says what it is
        label = str(name).capitalize() if told else f"{what} {name}"
        alone = (
            f"; by its mass alone between {row['after']:.3g} and {row['before']:.3g} min"
            if np.isfinite(row["before"])
            else ""
        )
        lines.append(
            f"{label}: {plain_number(row['liquid'])} g of liquid ({plain_number(row['store'])} mL/m2),"
            f" wet {minutes(60 * row['wet_time'])} ({level} interval {row['wet_lower']:.3g} to"
            f" {row['wet_upper']:.3g}{alone}); predicted {row['predicted']:.3g}"
            f" ({row['predicted_lower']:.3g} to {row['predicted_upper']:.3g})."
        )
    ratio, low, high = (plain_number(each) for each in result.ratio)
    agrees = result.ratio[1] <= 1 <= result.ratio[2]
    lines.append(
        f"The {len(leaves)} leaves stayed wet {ratio} times as long as predicted ({level} interval {low} to"
        f" {high}): "
        + ("the model agrees with them." if agrees else "the model is off by that for these leaves.")
    )
    factor, low, high = (plain_number(each) for each in result.factor)
    lines.append(f"Boundary layer: {factor} times the model's transfer ({low} to {high}).")
    if result.paper_factor is not None:
        factor, low, high = (plain_number(each) for each in result.paper_factor)
        inside = result.paper_factor[1] <= 1.0 <= result.paper_factor[2]
        lines.append(
            f"Paper control: {factor} times ({low} to {high})"
            + (", so the set-up gives the physics back." if inside else ".")
        )
    return [*lines, *result.warnings, *describe(result.learned, result.level), *result.notes,
            "Measured on these leaves in this air; calibrated, not validated."]  # fmt: skip


__all__ = ["KEYS", "LeafResult", "course_gradient", "read_leaf", "result_of"]
