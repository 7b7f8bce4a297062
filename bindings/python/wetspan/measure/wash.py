"""Washed deposits: amounts washed off at several times, and the law of uptake that they determine.

r(t) is the share of the dried deposit that can be washed off at the time t after drying: all that is neither
taken up nor lost, by the library's own law (`plant/uptake.hpp`). A washed amount y has

    ln y = mu + ln r(t; mobile share, mobile rate, loss of the locked deposit) + error

mu combines the deposit and the recovery of the wash; it is common to all pots, and free. The error combines
that of pots and of the analysis; it is normal, with a free standard deviation. The posterior of the three
inputs is computed on a grid, with the table's spreads as priors of their logs. mu and the standard deviation
are integrated out in closed form, so that no sampler is needed. Deposits on glass are lost but not taken up,
so they determine the loss alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import stats

from wetspan import _core
from wetspan.batch import batch
from wetspan.errors import InputError
from wetspan.measure.learned import Learned, Reading, describe, prior_sd
from wetspan.measure.table import Measured, Quantity, Table
from wetspan.outcome import Outcome
from wetspan.parameters import TABLE
from wetspan.scenario import Scenario
from wetspan.study import simulate
from wetspan.trials.calibrated import z_of
from wetspan.trials.dose_response import plain_number
from wetspan.unit_shown import shown
from wetspan.units import in_unit

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from wetspan.drawing import Where

Array = NDArray[np.float64]

KEYS = ("uptake.mobile_share", "uptake.mobile_rate", "uptake.residue_loss")
SURFACES = ("leaf", "glass")
QUANTITIES = (
    Quantity("time", "s", "hour", 0.0, 5e6),
    Quantity("washed", "kg", "ug", 0.0, 1.0),
)
_POINTS, _REACH = (41, 25, 17), 3.2  # of the grid along each input, and how far it goes in prior deviations
LEAST_WASHES = 2  # at each time
#: How many times an amount may be off before it is remarked on: a slip of a decimal point is 10 (grade D).
FAR_OFF = 5.0
#: Humidities that are compared for the worth of wet minutes [1].
_SHORT, _LONG = 0.60, 0.95


@dataclass(frozen=True)
class Washes:
    """Amounts washed off, in SI."""

    time: Array
    amount: Array
    rewetted: NDArray[np.bool_]
    glass: NDArray[np.bool_]


class ResidueModel:
    """What can still be washed off, on a grid of the three inputs."""

    def __init__(self, scenario: Scenario, points: tuple[int, int, int] = _POINTS) -> None:
        self.scenario = scenario
        outcome = simulate(scenario)
        self.deposit, self.second_wet_time = deposit_of(outcome), second_wet_time(outcome)
        self.center = np.array([float(np.log(scenario[key])) for key in KEYS])
        self.sd = prior_sd(KEYS)
        axes = []
        for middle, sd, key, n in zip(self.center, self.sd, KEYS, points, strict=True):
            high = min(middle + _REACH * sd, float(np.log(TABLE[key].high)) - 1e-9)
            axes.append(np.linspace(middle - _REACH * sd, high, n))
        self.axes = axes
        self.logs = np.stack([each.ravel() for each in np.meshgrid(*axes, indexing="ij")], axis=1)
        self.log_prior = -0.5 * np.sum(((self.logs - self.center) / self.sd) ** 2, axis=1)
        self.shape = points

    def left(self, logs: Array, times: Array, rewetted: bool, glass: bool) -> Array:
        """Share still on the surface at some times [s], one row for each row of `logs`."""
        scenario, values = self.scenario, np.exp(np.atleast_2d(logs))
        again = rewetted and not glass and self.second_wet_time > 0.0
        share = np.zeros(len(values)) if glass else values[:, 0]
        return np.asarray(
            _core.deposit_left(
                scenario._core, np.minimum(share, 1.0), values[:, 1], values[:, 2], self.deposit,
                scenario["air.temperature"], times,
                scenario["rewetting.delay"] if again else None,
                min(scenario["rewetting.volume_rate"], scenario["retention.leaf_store"]),
                self.second_wet_time,
            ),
            dtype=float,
        )  # fmt: skip

    def expected(self, logs: Array, washes: Washes) -> Array:
        """ln of the share left for every wash, one row for each row of `logs`."""
        rows = np.atleast_2d(logs)
        found = np.empty((len(rows), len(washes.time)))
        for rewetted in (False, True):
            for glass in (False, True):
                its = (washes.rewetted == rewetted) & (washes.glass == glass)
                if its.any():
                    at, place = np.unique(washes.time[its], return_inverse=True)
                    found[:, its] = np.log(self.left(rows, at, rewetted, glass))[:, place.ravel()]
        return found

    def squares(self, washes: Washes) -> tuple[Array, int]:
        """Sum of squares about the best mu at every point of the grid, and how many mu there are."""
        apart = np.log(washes.amount) - self.expected(self.logs, washes)
        total, groups = np.zeros(len(self.logs)), 0
        for glass in (False, True):
            its = washes.glass == glass
            if its.any():
                total += np.var(apart[:, its], axis=1) * its.sum()
                groups += 1
        return total, groups

    def posterior(self, washes: Washes, error: float | None = None) -> Array:
        """Weights of the grid, which sum to 1; `error` is that of ln of an amount where it is known."""
        squares, groups = self.squares(washes)
        free = len(washes.time) - groups
        likely = -0.5 * free * np.log(squares) if error is None else -0.5 * squares / error**2
        return self.weigh(likely)

    def weigh(self, log_likelihood: Array) -> Array:
        """Prior times likelihood, summed to 1."""
        together = self.log_prior + log_likelihood
        weights = np.exp(together - np.max(together))
        return np.asarray(weights / weights.sum(), dtype=float)

    def moments(self, weights: Array) -> tuple[Array, Array]:
        """Mean and covariance of the logs."""
        mean = weights @ self.logs
        apart = self.logs - mean
        return np.asarray(mean, dtype=float), np.asarray((apart * weights[:, None]).T @ apart, dtype=float)

    def quantiles(self, weights: Array, place: int, levels: Array) -> Array:
        """Quantiles of one input's log, linear within the cells of the grid."""
        axis = self.axes[place]
        along = weights.reshape(self.shape).sum(axis=tuple(i for i in range(3) if i != place))
        edges = np.concatenate([[axis[0]], 0.5 * (axis[1:] + axis[:-1]), [axis[-1]]])
        below = np.concatenate([[0.0], np.cumsum(along)])
        return np.asarray(np.interp(levels, below, edges), dtype=float)


def second_wet_time(outcome: Outcome) -> float:
    """How long leaves stay wet after a spray's re-wetting [s]; 0 where there is none."""
    wet = outcome.rewet_time
    if not np.isfinite(wet):
        raise InputError(
            "leaves do not dry again after the re-wetting in the scenario's air; give the air that they had"
        )
    return wet


def deposit_of(outcome: Outcome) -> float:
    """Active ingredient per area of contact on the upper side of leaves [kg/m2], as a spray left it."""
    scenario = outcome.scenario
    leaf = float(outcome.split["share"].sel(target="leaf")) * scenario["application.volume_rate"]
    area = scenario["canopy.plant_density"] * scenario["canopy.leaf_area"]
    on_top = leaf / area * (1.0 - scenario["retention.underleaf"]) * scenario["application.concentration"]
    return max(1e-12, on_top / max(0.01, float(outcome._numbers["wet_share"])))


@dataclass(frozen=True, eq=False)
class WashResult(Reading):
    """The result of washed deposits.

    table
        One row per time, surface and re-wetting: washes, left (share of the fitted mean at the first time),
        lower, upper, fitted, predicted.
    learned
        uptake.mobile_share, mobile_rate and residue_loss, as normal in their logs.
    worth
        The increase of growth control by longer wetness [1], for the mobile share before and after the
        measurement: at its median and at the limits of its interval.
    """

    table: pd.DataFrame
    learned: Learned
    worth: pd.DataFrame
    wet_times: tuple[float, float]
    error: float
    misfit_p: float
    level: float
    warnings: tuple[str, ...]
    washes: int
    model: ResidueModel = field(repr=False)
    weights: Array = field(repr=False)
    scenario: Scenario = field(repr=False)

    @property
    def inputs(self) -> pd.DataFrame:
        """The inputs that were measured, before and after; limits are quantiles of the posterior."""
        inputs = self.learned.table(self.level)
        tails = np.array([0.5, (1 - self.level) / 2, (1 + self.level) / 2])
        for place, key in enumerate(KEYS):
            found = np.exp(self.model.quantiles(self.weights, place, tails))
            for name, value in zip(("value", "lower", "upper"), found, strict=True):
                inputs.loc[key, name] = shown(TABLE[key], float(value))
        return inputs

    @property
    def source(self) -> str:
        """What the values rest on, in a few words."""
        return f"{self.washes} washed deposits"

    @property
    def lines(self) -> list[str]:
        """What was learned, a sentence or a few each."""
        return describe_wash(self)

    def plot(self, ax: Where = None) -> Figure:
        """Deposit left over time, the joint posterior, the worth of wet minutes; `ax`: three axes of your
        own.
        """
        from wetspan.measure.pictures import wash_picture  # which loads matplotlib

        return wash_picture(self, ax)


def read_wash(
    scenario: Scenario,
    table: Table,
    *,
    units: Mapping[str, str] | None = None,
    temperature: object = None,
    level: float = 0.95,
) -> WashResult:
    """Read the amounts washed off: the mobile share of the residue, its rate of uptake, and the value of wet
    minutes.

    Parameters
    ----------
    scenario
        Spray, crop and air. Its rewetting.volume_rate and rewetting.delay are those of the pots that were
        re-wetted. The deposit per area is that of its spray; it decides how much of it the water dissolves.
    table
        A CSV file or DataFrame, one row per pot, each washed once. Columns: pot (its name), time [hour] after
        the spray, washed [ug], and optionally rewetted (yes or no) and surface (leaf or glass).
    temperature
        Mean temperature of the leaves over these days, text with a unit; that of the scenario's air by
        default.
    """
    z_of(level)
    if temperature is not None:
        told = in_unit("temperature", temperature, "K", "such as '21 degC'")
        scenario = scenario.in_si({"air.temperature": told})
    return result_of(scenario, washes_of(scenario, table, units), level)


def result_of(scenario: Scenario, washes: Washes, level: float) -> WashResult:
    """What washes say."""
    model = ResidueModel(scenario)
    weights = model.posterior(washes)
    mean, covariance = model.moments(weights)
    learned = Learned(KEYS, mean, covariance, model.center, model.sd, np.full(len(KEYS), np.inf, dtype=float))
    best = model.logs[int(np.argmax(weights))]
    told, error, misfit = _table(model, washes, best, level)
    worth, wet_times = _worth(scenario, model, weights, level)
    warnings = _doubtful_amounts(scenario, washes)
    if misfit < 0.01:
        warnings.append(
            "The amounts do not follow the course of any mobile share and rate (p "
            f"{'< 0.001' if misfit < 0.001 else f'= {misfit:.2g}'}): was the recovery the same at all times?"
        )
    warnings += learned.far()
    return WashResult(
        told, learned, worth, wet_times, error, misfit, level, tuple(warnings), len(washes.time),
        model, weights, scenario,
    )  # fmt: skip


def _doubtful_amounts(scenario: Scenario, washes: Washes) -> list[str]:
    """Warnings of amounts whose unit or decimal point may be wrong."""
    warnings = []
    applied = scenario["application.volume_rate"] * scenario["application.concentration"]
    most = applied / scenario["canopy.plant_density"]
    usual = float(np.median(washes.amount[~washes.glass]))
    if usual > FAR_OFF * most:
        warnings.append(
            f"{1e6 * usual:.3g} mg were washed off a pot in the middle, and the scenario's spray brings "
            f"{1e6 * most:.3g} mg to one: is the unit of washed right?"
        )
    for at in np.unique(washes.time):
        same = washes.amount[(washes.time == at) & ~washes.glass]
        if len(same) > 2 and max(same.max() / np.median(same), np.median(same) / same.min()) > FAR_OFF:
            warnings.append(
                f"After {at / 3600:.3g} h one pot gave {FAR_OFF:.0f} times as much or as little as the "
                "others; it is counted as it stands. Is its decimal point right?"
            )
    return warnings


def washes_of(scenario: Scenario, table: Table, units: Mapping[str, str] | None = None) -> Washes:
    """Read and check a table of washes; arguments as in `read_wash`."""
    measured = Measured(table, ("pot", "rewetted", "surface"), QUANTITIES, units)
    names = measured.need_text("pot", "the name of the pot")
    surfaces = measured.choices("surface", SURFACES, "leaf")
    rewetted = measured.choices("rewetted", ("yes", "no"), "no")
    everything = np.arange(measured.rows)
    for name in ("time", "washed"):
        measured.filled(name, everything)
    seen: dict[str, int] = {}
    for row, name in enumerate(names):
        if name in seen:
            measured.refuse(
                row, f"pot {name} was washed before ({measured.where(seen[name]).split(', ')[-1]})"
            )
        seen.setdefault(name, row)
    amount, time = measured.numbers["washed"], measured.numbers["time"]
    for nothing in np.flatnonzero(amount == 0.0):
        measured.refuse(
            int(nothing), "washed is 0; leave out what is below the laboratory's limit, and say so"
        )
    measured.problems.refuse()
    again = np.array([each == "yes" for each in rewetted])
    if again.any() and not scenario["rewetting.volume_rate"] > 0.0:
        raise InputError(
            f"{measured.name}: pots were re-wetted and the scenario does not say with how much: set "
            "rewetting.volume_rate and rewetting.delay"
        )
    glass = np.array([each == "glass" for each in surfaces])
    times = np.unique(time[~glass])
    if len(times) < 2:
        raise InputError(
            f"{measured.name}: leaves were washed at {'one time only' if len(times) else 'no time'}; two"
            " times or more show whether the residue goes on"
        )
    for at in times:
        if (count := int(np.sum(time[~glass] == at))) < LEAST_WASHES:
            raise InputError(
                f"{measured.name}: {count} pot was washed after {at / 3600:.3g} h; {LEAST_WASHES} or more at"
                " each time tell how pots differ"
            )
    return Washes(time, amount, again, glass)


def _table(
    model: ResidueModel, washes: Washes, best: Array, level: float
) -> tuple[pd.DataFrame, float, float]:
    """Means by time against the fit; the error of ln of an amount; p value of lack of fit."""
    fitted, told = model.expected(best, washes)[0], model.expected(model.center, washes)[0]
    logs, rows = np.log(washes.amount), []
    mu = {
        glass: float(np.mean((logs - fitted)[washes.glass == glass])) for glass in set(washes.glass.tolist())
    }
    key = pd.DataFrame(
        {"surface": np.where(washes.glass, "glass", "leaf"), "rewetted": washes.rewetted, "time": washes.time}
    )
    inside, lack, cells = 0.0, 0.0, 0
    spread = []
    for surface, again, at in key.drop_duplicates().itertuples(index=False, name=None):
        same = (key["surface"] == surface) & (key["rewetted"] == again) & (key["time"] == at)
        place = np.flatnonzero(same.to_numpy())
        own = logs[place] - mu[surface == "glass"]
        inside += float(np.sum((own - own.mean()) ** 2))
        lack += len(place) * float(own.mean() - fitted[place[0]]) ** 2
        cells += 1
        spread.append(len(place) - 1)
        rows.append(
            {"surface": surface, "rewetted": bool(again), "hours": at / 3600, "washes": len(place), "log":
            own.mean(),
             "fitted": np.exp(fitted[place[0]]), "predicted": np.exp(told[place[0]])}
        )  # fmt: skip
    free = sum(spread)
    error = float(np.sqrt(inside / free))
    if not error > 1e-9:
        raise InputError(
            "pots that were washed alike gave the same amount each; without spread nothing is told"
        )
    found = pd.DataFrame(rows)
    reach = float(stats.t.ppf(0.5 + level / 2, free)) * error / np.sqrt(found["washes"].to_numpy(dtype=float))
    middle = found.pop("log").to_numpy(dtype=float)
    found.insert(4, "left", np.exp(middle))
    found.insert(5, "lower", np.exp(middle - reach))
    found.insert(6, "upper", np.exp(middle + reach))
    more = max(1, cells - len(mu) - 1)
    misfit = float(stats.f.sf(lack / more / error**2, more, free)) if cells > len(mu) + 1 else float("nan")
    return found, error, misfit


def _worth(
    scenario: Scenario, model: ResidueModel, weights: Array, level: float
) -> tuple[pd.DataFrame, tuple[float, float]]:
    """What a long wet time adds to growth control over a short one, before and after the measurement."""
    tails = np.array([(1 - level) / 2, 0.5, (1 + level) / 2])
    before = model.center[0] + model.sd[0] * stats.norm.ppf(tails)
    after = model.quantiles(weights, 0, tails)
    rate = float(np.exp(model.moments(weights)[0][1]))
    share = np.clip(np.exp(np.concatenate([before, after])), 0.0, 1.0)
    rates = np.array([scenario[KEYS[1]]] * 3 + [rate] * 3)
    found = batch(
        scenario,
        {
            KEYS[0]: np.tile(share, 2),
            KEYS[1]: np.tile(rates, 2),
            "air.relative_humidity": np.repeat([_SHORT, _LONG], 6),
        },
    )
    control, wet = found["growth_control"].to_numpy(), found["wet_time"].to_numpy()
    gain = control[6:] / control[:6] - 1.0
    told = pd.DataFrame(
        {
            "mobile_share": share,
            "gain": gain,
            "when": ["before"] * 3 + ["after"] * 3,
            "at": ["low", "middle", "high"] * 2,
        }
    )
    return told, (float(wet[0]), float(wet[6]))


def describe_wash(result: WashResult) -> list[str]:
    """Paragraphs: what is left, the inputs, the worth of wet minutes, doubts."""
    lines, level = [], f"{100 * result.level:.3g} %"
    for row in result.table.to_dict("records"):
        again = ", re-wetted" if row["rewetted"] else ""
        lines.append(
            f"After {row['hours']:.3g} h on {row['surface']}{again}: {100 * row['left']:.0f} % still to be"
            f" washed off ({level} interval {100 * row['lower']:.0f} to {100 * row['upper']:.0f} %,"
            f" {row['washes']} washes); fitted {100 * row['fitted']:.0f} %, predicted"
            f" {100 * row['predicted']:.0f} %."
        )
    lines += result.warnings
    told = describe(result.learned, result.level)
    for i, (key, row) in enumerate(result.inputs.to_dict("index").items()):
        value, low, high = (plain_number(row[name]) for name in ("value", "lower", "upper"))
        said = told[i].rsplit(": ", 1)[1]
        unit = "" if row["unit"] == "1" else f" {row['unit']}"
        lines.append(
            f"- {key}: {value}{unit} ({level} interval {low} to {high}; before {plain_number(row['prior'])}):"
            f" {said}"
        )
    short, long = (plain_number(each / 60) for each in result.wet_times)
    gains = {(row["when"], row["at"]): 100 * row["gain"] for row in result.worth.to_dict("records")}

    def spoken(when: str) -> str:
        ends = sorted((gains[when, "low"], gains[when, "high"]))
        middle, low, high = (round(each) for each in (gains[when, "middle"], *ends))  # no -0
        return f"{middle} % ({low} to {high} %)"

    lines.append(
        f"What wet minutes are worth: {long} instead of {short} wet minutes add {spoken('after')} to growth"
        f" control; before the measurement {spoken('before')}."
    )
    return [*lines, "Measured on these leaves with this liquid; calibrated, not validated."]
