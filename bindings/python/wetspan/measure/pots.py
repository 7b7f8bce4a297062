"""Weighed pots and trays: reads the weighings, and compares the split of the spray with the model's.

Objects are weighed dry and then wet. A straight line through the wet weighings of an object is extended back
to the end of the spray; its value there, less the dry mass, is what the object caught. Shares refer to the
volume that was applied:

    shoot      leaves and stems together: the cut shoot
    stem       the shoot's stems without their leaves
    stemflow   what ran down the stem: a ring of foam about its foot, weighed by itself
    substrate  the whole pot less its shoot, and the ring
    straight   the part of the substrate's share that fell past all foliage: a pot whose foliage was bagged
    bench      trays between the pots, over the bare part of the bench

The means over the pots are fitted by least squares. The natural logs of the inputs have the table's spreads
as priors, and the error of the volume applied is common to all shares.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import stats
from scipy.optimize import least_squares

from wetspan import _core
from wetspan.errors import InputError, echo
from wetspan.measure.leaf_fit import student
from wetspan.measure.learned import FAR, Learned, Reading, describe, prior_sd
from wetspan.measure.table import Measured, Quantity, Table, resolution_of
from wetspan.measure.weighed_leaf import water_density
from wetspan.parameters import TABLE
from wetspan.scenario import Scenario, pot_cover
from wetspan.spray import spectrum
from wetspan.trials.calibrated import z_of
from wetspan.units import share

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from wetspan.drawing import Where

Array = NDArray[np.float64]

#: What is calibrated: interception, stores, stemflow; and what is fitted besides, since it moves the split
#: too.
KEYS = (
    "canopy.extinction",
    "retention.leaf_store",
    "retention.stem_store",
    "retention.stemflow_odds",
)
NUISANCE = ("retention.splashed_share",)
PARTS = ("pot", "shoot", "stem", "ring", "bagged", "tray")
SHARES = ("shoot", "stem", "stemflow", "substrate", "straight", "bench")
#: Error of the volume applied over it, one standard deviation (grade D: a hand-held spray by stop-watch).
APPLIED_ERROR = 0.05
LEAST_POTS = 3
#: Share of what was applied that weighed pots, shoots and trays catch at least together (grade D).
LEAST_CAUGHT = 0.02
_STEP = 0.02  # of the central differences, in logs
_LEAST_ERROR = 2e-4  # of a share's mean: a measurement is not better than that [1]

TEXTS = ("pot", "part", "state")
QUANTITIES = (
    Quantity("time", "s", "min", 0.0, 4e4),
    Quantity("mass", "kg", "g", 0.0, 200.0),
    Quantity("area", "m^2", "cm^2", 1e-4, 10.0, needed=False),
)


class SplitModel:
    """The model's shares of the sprayed volume as a function of the natural logs of some inputs."""

    def __init__(self, scenario: Scenario, keys: tuple[str, ...] = (*KEYS, *NUISANCE)) -> None:
        self.scenario, self.keys = scenario, keys
        self.start = np.array([float(np.log(scenario[key])) for key in keys])
        self.prior = prior_sd(keys)
        self._places = [list(TABLE).index(key) for key in keys]
        self._air = _core.steady_air(scenario._core)
        self._spectrum = spectrum(scenario, bins=int(scenario["droplets.bins"])).core

    def shares(self, logs: Array) -> Array:
        """The shares, in the order of SHARES."""
        core = self.scenario._core.copy()
        for key, place, log in zip(self.keys, self._places, logs, strict=True):
            core.set(place, float(np.clip(np.exp(log), TABLE[key].low, TABLE[key].high)))
        landing = _core.land(core, self._air, 0.0, self._spectrum)
        split = dict(landing.split)
        ran_down = landing.layers[-1].stem.run_off / self.scenario["application.volume_rate"]
        leaf, stem = split["leaf"], split["stem"]
        return np.array([leaf + stem, stem, ran_down, split["substrate"], landing.straight, split["bench"]])

    def gradient(self, logs: Array) -> Array:
        """Derivatives [share, input] by central differences."""
        columns = []
        for place in range(len(logs)):
            step = np.zeros(len(logs))
            step[place] = _STEP
            columns.append((self.shares(logs + step) - self.shares(logs - step)) / (2 * _STEP))
        return np.column_stack(columns)


@dataclass(frozen=True, eq=False)
class PotsResult(Reading):
    """The result of weighed pots.

    table
        One row per share that was measured, of the volume applied [1]: pots (or trays), measured, lower,
        upper, cv (between pots), predicted, predicted_lower, predicted_upper, fitted.
    learned
        canopy.extinction, retention.leaf_store, stem_store and stemflow_odds.
    misfit_p
        p value of the differences that remain after the fit.
    """

    table: pd.DataFrame
    learned: Learned
    misfit_p: float
    level: float
    warnings: tuple[str, ...]
    notes: tuple[str, ...]
    pots: int
    scenario: Scenario = field(repr=False)

    @property
    def source(self) -> str:
        """What the values rest on, in a few words."""
        return f"{self.pots} weighed pots"

    @property
    def lines(self) -> list[str]:
        """What was learned, a sentence or a few each."""
        return describe_pots(self)

    def plot(self, ax: Where = None) -> Figure:
        """Shares measured and predicted, and what was learned; `ax`: two axes of your own."""
        from wetspan.measure.pictures import pots_picture  # which loads matplotlib

        return pots_picture(self, ax)


def read_pots(
    scenario: Scenario,
    table: Table,
    *,
    units: Mapping[str, str] | None = None,
    applied_error: object = APPLIED_ERROR,
    level: float = 0.95,
) -> PotsResult:
    """Read a table of weighed pots, and compare the split of the spray with the model's.

    Parameters
    ----------
    scenario
        Crop, spray and air. application.volume_rate is the volume that was applied; canopy.plant_density,
        pot_diameter and leaf_area are those of these pots.
    table
        A CSV file or DataFrame, one row per weighing, with the columns

        - pot: the name of the pot or of the tray;
        - part: pot (pot and plant without saucer and ring), shoot (cut off above the substrate, with its
          liquid), stem (that shoot without its leaves), ring (of foam about the stem's foot), bagged (another
          pot, whose foliage was in a bag drawn close about it during the spray, weighed without the bag),
          tray (on the bench between the pots);
        - state: dry or wet;
        - time [min] after the spray; it may be blank for dry weighings;
        - mass [g]; an object whose masses are all blank is left out;
        - area [cm2] of trays.

        At least one object of each part must be weighed twice while wet, which determines its evaporation.
    applied_error
        Standard deviation of the volume applied, relative to it.
    """
    z_of(level)
    error = share("applied_error", applied_error)
    if not 0.0 <= error < 1.0:
        raise InputError(f"applied_error = {echo(applied_error)} is not a share from 0 to 1, such as '5 %'")
    measured = Measured(table, TEXTS, QUANTITIES, units)
    caught, notes = caught_by(measured)
    means, errors, cvs, counts = _means(scenario, measured, caught)
    return result_of(scenario, means, errors, cvs, counts, error, level, notes)


def result_of(
    scenario: Scenario,
    means: dict[str, float],
    errors: dict[str, float],
    cvs: dict[str, float],
    counts: dict[str, int],
    applied_error: float,
    level: float,
    notes: list[str],
) -> PotsResult:
    """What mean shares with their standard errors say."""
    model = SplitModel(scenario)
    use = np.array([SHARES.index(name) for name in means])
    y = np.array(list(means.values()))
    df = np.array([counts[name] - 1.0 for name in means])
    widened = np.array([student(each, level) / z_of(level) for each in df])
    covariance = np.diag((np.maximum(list(errors.values()), _LEAST_ERROR) * widened) ** 2)
    covariance += np.outer(y, y) * applied_error**2
    root = np.asarray(np.linalg.inv(np.linalg.cholesky(covariance)), dtype=float)
    u, inside = _fitted(model, use, y, root)
    logs = model.start + model.prior * u
    left = root @ (model.shares(logs)[use] - y)
    misfit = float(stats.chi2.sf(left @ left + u @ u, len(y)))
    learned = _learned(model, logs, inside)
    sd = np.sqrt(np.diag(covariance))
    before = model.shares(model.start)[use]
    apart = np.linalg.norm(model.gradient(model.start)[use] * model.prior, axis=1)
    z = z_of(level)
    reach = z * sd
    told = pd.DataFrame(
        {
            "pots": [counts[name] for name in means],
            "measured": y,
            "lower": y - reach,
            "upper": y + reach,
            "cv": [cvs[name] for name in means],
            "predicted": before,
            "predicted_lower": before - z * apart,
            "predicted_upper": before + z * apart,
            "fitted": model.shares(logs)[use],
        },
        index=pd.Index(list(means), name="share"),
    )
    warnings = (*_doubts(told, np.hypot(apart, sd), misfit), *learned.far())
    return PotsResult(
        told, learned, misfit, level, warnings, tuple(notes), max(counts.values()), scenario
    )  # fmt: skip


def _fitted(model: SplitModel, use: NDArray[np.int_], y: Array, root: Array) -> tuple[Array, Array]:
    """Fit the inputs to mean shares `y`, whose covariance has the inverse root `root`.

    Returns the deviations of the logs over the priors' standard deviations, and their covariance.
    """

    def apart_by(at: Array) -> Array:
        return np.concatenate([at, root @ (model.shares(model.start + model.prior * at)[use] - y)])

    def steepness(at: Array) -> Array:
        return np.vstack(
            [np.eye(len(at)), root @ (model.gradient(model.start + model.prior * at)[use] * model.prior)]
        )

    fitted = least_squares(
        apart_by,
        np.zeros(len(model.prior)),
        jac=steepness,
        bounds=(-4.0, 4.0),
        xtol=1e-5,
        ftol=1e-7,
        max_nfev=25,
    )
    jacobian = np.asarray(fitted.jac, dtype=float)
    return np.asarray(fitted.x, dtype=float), np.asarray(np.linalg.inv(jacobian.T @ jacobian), dtype=float)


def _learned(model: SplitModel, logs: Array, inside: Array) -> Learned:
    """What the fit says of the inputs that are calibrated; the others are fitted and not told."""
    own = slice(0, len(KEYS))
    scale = model.prior[own]
    return Learned(
        KEYS, logs[own], inside[own, own] * np.outer(scale, scale), model.start[own], scale,
        np.full(len(KEYS), np.inf, dtype=float),
    )  # fmt: skip


def _doubts(told: pd.DataFrame, sd: Array, misfit: float) -> list[str]:
    """Warnings of shares that the model missed by far, and of a split that no plausible inputs meet."""
    warnings = [
        f"{name}: measured {_per_cent(row['measured'])}, predicted {_per_cent(row['predicted'])}"
        f" ({_per_cent(max(0.0, row['predicted_lower']))} to {_per_cent(row['predicted_upper'])}): the model"
        " is wrong about that here, or the weighing is."
        for (name, row), each in zip(told.iterrows(), sd, strict=True)
        if abs(row["measured"] - row["predicted"]) > FAR * each
    ]
    if misfit < 0.01:
        warnings.append(
            "No values of these inputs that were plausible before meet the measured split (p "
            f"{'< 0.001' if misfit < 0.001 else f'= {misfit:.2g}'}): trust the shares, not the fitted inputs."
        )
    return warnings


def _per_cent(share_: float) -> str:
    return f"{100 * share_:.1f} %"


def describe_pots(result: PotsResult) -> list[str]:
    """Paragraphs: the split, doubts, inputs."""
    lines, level = [], f"{100 * result.level:.3g} %"
    for name, row in result.table.iterrows():
        lines.append(
            f"{str(name).capitalize()}: {_per_cent(row['measured'])} of the spray ({level} interval"
            f" {_per_cent(max(0.0, row['lower']))} to {_per_cent(row['upper'])}, {row['pots']:.0f} weighed);"
            f" predicted {_per_cent(row['predicted'])} ({_per_cent(max(0.0, row['predicted_lower']))} to"
            f" {_per_cent(row['predicted_upper'])})."
        )
    seen = [name for name in ("shoot", "substrate", "bench") if name in result.table.index]
    if len(seen) == 3:
        lost = 1.0 - float(result.table.loc[seen, "measured"].sum())
        lines.append(
            f"Not found again, in the air or beside the bench: {_per_cent(lost)}."
            if lost >= 0
            else f"Found again: {_per_cent(-lost)} more than was applied; catch the volume anew."
        )
    return [*lines, *result.warnings, *describe(result.learned, result.level), *result.notes,
            "Measured on these pots with this spray; calibrated, not validated."]  # fmt: skip


# Reading ---------------------------------------------------------------------------------------------------


def caught_by(measured: Measured) -> tuple[dict[str, dict[str, float]], list[str]]:
    """Mass that each object caught [kg], by part and name."""
    names = measured.need_text("pot", "the name of the pot or tray")
    parts = measured.choices("part", PARTS)
    states = measured.choices("state", ("dry", "wet"))
    objects: dict[tuple[str, str], list[int]] = {}
    for row in range(measured.rows):
        objects.setdefault((parts[row], names[row]), []).append(row)
    blank = [each for each, rows in objects.items() if np.isnan(measured.numbers["mass"][rows]).all()]
    for each in blank:
        del objects[each]
    weighed = np.array(sorted(row for rows in objects.values() for row in rows), dtype=int)
    measured.filled("mass", weighed)
    wet = np.array([state == "wet" for state in states])
    measured.filled("time", weighed[wet[weighed]])
    measured.problems.refuse()
    slopes = _slopes(measured, objects, wet)
    caught = _gained(measured, objects, wet, slopes)
    told = ", ".join(f"{part} {-6e4 * np.mean(each):.2g} g/min" for part, each in slopes.items())
    notes = [f"Evaporation until the weighing was taken out: {told}."]
    if blank:
        notes.append(f"Not weighed, by their blank lines: {', '.join(' '.join(each) for each in blank)}.")
    return caught, notes


def _slopes(
    measured: Measured, objects: Mapping[tuple[str, str], Sequence[int]], wet: NDArray[np.bool_]
) -> dict[str, list[float]]:
    """Rates of change of mass while objects dry [kg/s], by part, of those that were weighed twice wet."""
    time, mass = measured.numbers["time"], measured.numbers["mass"]
    step = resolution_of(mass)
    slopes: dict[str, list[float]] = {}
    for (part, name), rows in objects.items():
        own = np.array([row for row in rows if wet[row]])
        if not len(own):
            measured.refuse(rows[0], f"{part} {name} was not weighed wet")
            continue
        dry = [row for row in rows if not wet[row]]
        if not dry:
            measured.refuse(rows[0], f"{part} {name} was not weighed dry")
            continue
        back = np.flatnonzero(np.diff(time[own]) <= 0)
        if len(back):
            at, was = time[own[back[0] + 1]] / 60, time[own[back[0]]] / 60
            measured.refuse(
                int(own[back[0] + 1]),
                f"{part} {name}: the clock runs back, {at:.4g} min stands after {was:.4g} min",
            )
            continue
        risen = np.flatnonzero(np.diff(mass[own]) > max(5 * step, 0.02 * (mass[own[0]] - mass[dry[0]])))
        if len(risen):
            measured.refuse(int(own[risen[0] + 1]), f"{part} {name}: its mass rises while it should dry")
            continue
        if len(own) > 1:
            slopes.setdefault(part, []).append(float(np.polyfit(time[own], mass[own], 1)[0]))
    measured.problems.refuse()
    return slopes


def _gained(
    measured: Measured,
    objects: Mapping[tuple[str, str], Sequence[int]],
    wet: NDArray[np.bool_],
    slopes: Mapping[str, Sequence[float]],
) -> dict[str, dict[str, float]]:
    """Wet mass at time 0, by the slope of the object or of its part, less dry mass [kg], by part and name."""
    time, mass = measured.numbers["time"], measured.numbers["mass"]
    caught: dict[str, dict[str, float]] = {}
    for (part, name), rows in objects.items():
        own = np.array([row for row in rows if wet[row]])
        dry_mass = float(np.mean([mass[row] for row in rows if not wet[row]]))
        if len(own) > 1:
            first = float(np.polyval(np.polyfit(time[own], mass[own], 1), 0.0))
        elif part in slopes:
            first = float(mass[own[0]] - np.mean(slopes[part]) * time[own[0]])
        else:
            measured.refuse(
                int(own[0]),
                f"{part} {name}: no {part} was weighed twice wet, so that what evaporated before is not"
                " known",
            )
            continue
        gained = first - dry_mass
        if gained < -0.02 * dry_mass:
            measured.refuse(
                int(own[0]),
                f"{part} {name} weighs less wet ({1e3 * first:.6g} g) than dry ({1e3 * dry_mass:.6g} g)",
            )
        caught.setdefault(part, {})[name] = gained
    measured.problems.refuse()
    return caught


def _means(
    scenario: Scenario, measured: Measured, caught: dict[str, dict[str, float]]
) -> tuple[dict[str, float], dict[str, float], dict[str, float], dict[str, int]]:
    """Mean shares of the volume applied, their standard errors, coefficients of variation, numbers."""
    per_plant = scenario["application.volume_rate"] / scenario["canopy.plant_density"]
    heavy = water_density(scenario["air.temperature"])
    volumes = {
        part: {name: mass / heavy / per_plant for name, mass in each.items()}
        for part, each in caught.items()
        if part != "tray"
    }
    shoots = volumes.get("shoot", {})
    if len(shoots) < LEAST_POTS:
        raise InputError(
            f"{measured.name}: {'only one pot' if len(shoots) == 1 else f'{len(shoots)} shoots'} weighed; how"
            f" pots differ cannot be told from fewer than {LEAST_POTS} (`measure plan pots` says how many)"
        )
    of: dict[str, list[float]] = {"shoot": list(shoots.values())}
    if "stem" in volumes:
        of["stem"] = list(volumes["stem"].values())
    rings = volumes.get("ring", {})
    if rings:
        of["stemflow"] = list(rings.values())
    whole = volumes.get("pot", {})
    both = [name for name in whole if name in shoots]
    if whole and len(both) < LEAST_POTS:
        raise InputError(
            f"{measured.name}: of {len(whole)} pots weighed only {len(both)} have their shoot weighed too;"
            " the substrate's share is the pot less its shoot"
        )
    if both:
        ring = float(np.mean(list(rings.values()))) if rings else 0.0
        of["substrate"] = [whole[name] - shoots[name] + rings.get(name, ring) for name in both]
    if "bagged" in volumes:
        of["straight"] = list(volumes["bagged"].values())
    if "tray" in caught:
        bare = 1.0 - pot_cover(scenario)
        areas = _areas(measured)
        of["bench"] = [
            mass / heavy / areas[name] * bare / scenario["application.volume_rate"]
            for name, mass in caught["tray"].items()
        ]
    for name, values in of.items():
        if len(values) < 2:
            raise InputError(f"{measured.name}: one {name} was weighed; two or more tell how they differ")
        if np.mean(values) > 1.5:
            raise InputError(
                f"{measured.name}: {name} would have caught {100 * np.mean(values):.0f} % of what was"
                " applied; look at the units of mass, application.volume_rate and canopy.plant_density"
            )
    if sum(float(np.mean(of[name])) for name in ("shoot", "substrate", "bench") if name in of) < LEAST_CAUGHT:
        raise InputError(
            f"{measured.name}: next to nothing of what was applied was caught; look at the units of mass, "
            "application.volume_rate and canopy.plant_density"
        )
    arrays = {name: np.array(of[name], dtype=float) for name in SHARES if name in of}
    means = {name: float(each.mean()) for name, each in arrays.items()}
    spread = {name: float(each.std(ddof=1)) for name, each in arrays.items()}
    counts = {name: len(each) for name, each in arrays.items()}
    errors = {name: spread[name] / float(np.sqrt(counts[name])) for name in arrays}
    return means, errors, {name: spread[name] / max(1e-9, means[name]) for name in arrays}, counts


def _areas(measured: Measured) -> dict[str, float]:
    """Opening of each tray [m2]."""
    if "area" not in measured.numbers:
        raise InputError(f"{measured.name}: there is no column 'area', such as 'area [cm2]', for the trays")
    found: dict[str, float] = {}
    for row, (name, part) in enumerate(zip(measured.texts["pot"], measured.texts["part"], strict=True)):
        value = float(measured.numbers["area"][row])
        if part.lower() == "tray" and np.isfinite(value):
            found[name] = value
    for row, (name, part) in enumerate(zip(measured.texts["pot"], measured.texts["part"], strict=True)):
        if part.lower() == "tray" and name not in found:
            measured.refuse(row, f"tray {name}: its area is not told")
    measured.problems.refuse()
    return found
