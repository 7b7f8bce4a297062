"""Least squares of several weighed leaves of one kind, with parameters that they share and parameters of each
leaf.

The natural logs of the shared inputs have the table's spreads as priors. The prior of the boundary factor G
is a factor of 2 combined with the anemometer's error; the hygrometer's error has a prior of its own. Each
leaf i has its own boundary factor and receding angle, normal about the shared ones, with standard deviations
that are estimated from the leaves. Own mass, drift and depth of liquid of a leaf are free. The balance's
error is that of the residuals, but at least its resolution.

The fit minimises the sum of squares of all residuals and priors; the covariance is (J'J)^-1 at the minimum.
The variance between leaves is estimated from n leaves only, so intervals use Student's t, with the degrees of
freedom of Satterthwaite (1946) for the part of the variance that lies between leaves.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import stats
from scipy.optimize import least_squares

from wetspan.crop import Z90
from wetspan.measure.weighed_leaf import SHARED, LeafModel, density
from wetspan.parameters import TABLE
from wetspan.scenario import Scenario

Array = NDArray[np.float64]

#: 90 % factor within which a boundary layer is sought about the model's. Grade D: an assumption with a wide
#: range, so that the leaves decide.
BOUNDARY_SPREAD = 2.0
#: Least standard deviation between leaves alike that is allowed for, of G and of the log of the receding
#: angle (grade D: leaves are not castings).
LEAST_BETWEEN = np.array([0.02, 0.02])
#: The same before the leaves have told (grade D).
FIRST_BETWEEN = np.array([0.20, 0.30])
_OWN = 5  # of each leaf: ln depth, boundary, receding, mass, drift
_STEPS = np.array([0.02, 0.02, 0.01, 0.02, 0.005])  # of the differences, in the order of SHARED
_DEPTH_STEP = 0.01
_ROUNDS = 3  # of the fit, in which the errors of balance and between leaves settle


class Between(NamedTuple):
    """What a fit of several leaves takes as known."""

    prior: Array  # standard deviations of what is shared, in the order of SHARED
    between: Array  # standard deviations between leaves, of the boundary factor and the receding angle
    balance: float  # of a weighing [kg]


class LeafFit(NamedTuple):
    """Leaves of one kind, fitted together; parameters in the order: shared, then those of each leaf."""

    leaves: list[LeafModel]
    theta: Array
    covariance: Array
    known: Between
    residuals: list[Array]  # measured less fitted [kg]
    fitted: list[Array]
    df: Array  # degrees of freedom of what is shared

    def own(self, leaf: int) -> Array:
        """ln depth, boundary and receding of a leaf about the shared, own mass [kg], drift [kg/s]."""
        first = len(SHARED) + _OWN * leaf
        return self.theta[first : first + _OWN]

    def shared_of(self, leaf: int) -> Array:
        """What is shared, with the leaf's own about it."""
        return _shifted(self.theta[: len(SHARED)], self.own(leaf))

    def indices(self, leaf: int) -> NDArray[np.intp]:
        """Places of what decides a leaf's drying: shared, own boundary, own receding, ln depth."""
        first = len(SHARED) + _OWN * leaf
        return np.array([*range(len(SHARED)), first + 1, first + 2, first])


def _shifted(shared: Array, own: Array) -> Array:
    moved = shared.copy()
    moved[:2] += own[1:3]
    return moved


def prior_of(scenario: Scenario, humidity_error: float, speed_error: float) -> Array:
    """Standard deviations of what the leaves share, in the order of SHARED."""
    logs = [
        np.log(TABLE[key].spread) / Z90
        for key in ("leaf.receding_angle", "leaf.contact_angle", "droplets.dv50")
    ]
    boundary = np.hypot(np.log(BOUNDARY_SPREAD) / Z90, 0.5 * speed_error)
    return np.array([boundary, *logs, humidity_error])


def course_gradient(leaf: LeafModel, shared: Array, log_depth: float, at: Array) -> tuple[Array, Array]:
    """Share left at some times, and its derivatives [time, shared ... ln depth]."""
    base = leaf.course(shared, np.exp(log_depth), at).left
    columns = []
    for place, step in enumerate(_STEPS):
        moved = shared.copy()
        moved[place] += step
        columns.append((leaf.course(moved, np.exp(log_depth), at).left - base) / step)
    columns.append((leaf.course(shared, np.exp(log_depth + _DEPTH_STEP), at).left - base) / _DEPTH_STEP)
    return base, np.column_stack(columns)


def wet_time_gradient(leaf: LeafModel, shared: Array, log_depth: float) -> tuple[float, Array]:
    """ln of the wet time, and its derivatives by what is shared and ln depth; 0 where it never ends."""
    none = np.zeros(1)
    base = np.log(leaf.course(shared, np.exp(log_depth), none).wet_time)
    found = []
    for place, step in enumerate(_STEPS):
        moved = shared.copy()
        moved[place] += step
        later = np.log(leaf.course(moved, np.exp(log_depth), none).wet_time)
        found.append((later - base) / step if np.isfinite(later) and np.isfinite(base) else 0.0)
    deeper = np.log(leaf.course(shared, np.exp(log_depth + _DEPTH_STEP), none).wet_time)
    found.append((deeper - base) / _DEPTH_STEP if np.isfinite(deeper) and np.isfinite(base) else 0.0)
    return float(base), np.array(found)


class _Problem:
    """Residuals and Jacobian of leaves fitted together, in standard deviations."""

    def __init__(self, leaves: Sequence[LeafModel], known: Between) -> None:
        self.leaves, self.known = list(leaves), known
        self.start = self.leaves[0].start
        self.size = len(SHARED) + _OWN * len(self.leaves)
        self._scales = [leaf.leaf.area * density(leaf.leaf) for leaf in self.leaves]

    def first(self) -> Array:
        own = [[np.log(leaf.leaf.depth), 0.0, 0.0, leaf.leaf.own_mass, 0.0] for leaf in self.leaves]
        return np.concatenate([self.start, *own])

    def ends(self) -> tuple[Array, Array]:
        """How far parameters may go: four standard deviations of their priors, e^(1/2) of the first depth."""
        far = 4.0 * np.concatenate([self.known.prior, np.zeros(_OWN * len(self.leaves))])
        own = far[len(SHARED) :].reshape(-1, _OWN)
        own[:, 0], own[:, 3:] = 0.5, np.inf
        own[:, 1:3] = 4.0 * FIRST_BETWEEN
        middle = self.first()
        return middle - far, middle + far

    def masses(self, which: int, theta: Array) -> Array:
        leaf, own = self.leaves[which], theta[len(SHARED) + _OWN * which :][:_OWN]
        at = leaf.leaf.time[leaf.leaf.wet]
        fitted = np.asarray(own[3] + own[4] * leaf.leaf.time, dtype=float)
        left = leaf.course(_shifted(theta[: len(SHARED)], own), np.exp(own[0]), at).left
        fitted[leaf.leaf.wet] += self._scales[which] * np.exp(own[0]) * left
        return fitted

    def residuals(self, theta: Array) -> Array:
        parts = [(theta[: len(SHARED)] - self.start) / self.known.prior]
        for which, leaf in enumerate(self.leaves):
            own = theta[len(SHARED) + _OWN * which :][:_OWN]
            parts.append(own[1:3] / self.known.between)
            if leaf.leaf.kind == "paper":
                parts.append(np.array([own[4] * np.ptp(leaf.leaf.time) / (0.1 * self.known.balance)]))
            parts.append((self.masses(which, theta) - leaf.leaf.mass) / self.known.balance)
        return np.concatenate(parts)

    def jacobian(self, theta: Array) -> Array:
        shared = len(SHARED)
        rows = [np.hstack([np.diag(1.0 / self.known.prior), np.zeros((shared, self.size - shared))])]
        for which, model in enumerate(self.leaves):
            first, leaf = shared + _OWN * which, model.leaf
            own = theta[first : first + _OWN]
            between = np.zeros((2, self.size))
            between[[0, 1], [first + 1, first + 2]] = 1.0 / self.known.between
            rows.append(between)
            if leaf.kind == "paper":
                drift = np.zeros((1, self.size))
                drift[0, first + 4] = np.ptp(leaf.time) / (0.1 * self.known.balance)
                rows.append(drift)
            liquid = self._scales[which] * np.exp(own[0])
            left, by = course_gradient(model, _shifted(theta[:shared], own), own[0], leaf.time[leaf.wet])
            block = np.zeros((len(leaf.time), self.size))
            block[np.ix_(np.flatnonzero(leaf.wet), np.arange(shared))] = liquid * by[:, :shared]
            block[leaf.wet, first] = liquid * (left + by[:, shared])
            block[leaf.wet, first + 1] = liquid * by[:, 0]
            block[leaf.wet, first + 2] = liquid * by[:, 1]
            block[:, first + 3] = 1.0
            block[:, first + 4] = leaf.time
            rows.append(block / self.known.balance)
        return np.vstack(rows)


def fit_leaves(leaves: Sequence[LeafModel], prior: Array, balance: float, step: float) -> LeafFit:
    """Fit leaves of one kind; `balance` is a first guess of a weighing's error, `step` the balance's [kg]."""
    between = FIRST_BETWEEN.copy()
    theta: Array = _Problem(leaves, Between(prior, between, balance)).first()
    covariance = np.zeros((0, 0))
    least = max(step / np.sqrt(12.0), 1e-12)
    n = len(leaves)
    for round_ in range(_ROUNDS):
        problem = _Problem(leaves, Between(prior, between, balance))
        found = least_squares(
            problem.residuals,
            theta,
            jac=problem.jacobian,
            bounds=problem.ends(),
            x_scale="jac",
            xtol=1e-4,
            ftol=1e-5,
            max_nfev=30,
        )
        theta = np.asarray(found.x, dtype=float)
        covariance = _inverse(np.asarray(found.jac, dtype=float))
        if round_ == _ROUNDS - 1:
            break
        apart = [problem.masses(i, theta) - leaf.leaf.mass for i, leaf in enumerate(leaves)]
        weighings = sum(map(len, apart))
        free = max(1.0, weighings - 3.0 * n - len(SHARED))
        balance = max(least, float(np.sqrt(sum(float(each @ each) for each in apart) / free)))
        if n > 1:
            places = len(SHARED) + _OWN * np.arange(n)[:, None] + [1, 2]
            spread = np.sum(theta[places] ** 2, axis=0) / (n - 1)
            between = np.maximum(LEAST_BETWEEN, np.sqrt(spread + np.diag(covariance)[places].mean(axis=0)))
    known = Between(prior, between, balance)
    fitted = [problem.masses(i, theta) for i in range(n)]
    residuals = [leaf.leaf.mass - each for leaf, each in zip(leaves, fitted, strict=True)]
    return LeafFit(
        list(leaves), theta, covariance, known, residuals, fitted, _freedom(covariance, between, n)
    )


def _inverse(jacobian: Array) -> Array:
    """(J'J)^-1, whatever the units of the columns."""
    length = np.linalg.norm(jacobian, axis=0)
    scaled = jacobian / length
    return np.asarray(np.linalg.inv(scaled.T @ scaled) / np.outer(length, length), dtype=float)


def _freedom(covariance: Array, between: Array, n: int) -> Array:
    """Degrees of freedom of what is shared: those of the part of its variance that lies between leaves."""
    df = np.full(len(SHARED), np.inf)
    for place in (0, 1):
        inside = min(covariance[place, place], between[place] ** 2 / n)
        df[place] = np.inf if n < 2 or inside <= 0 else (n - 1) * (covariance[place, place] / inside) ** 2
    return df


def student(df: float, level: float) -> float:
    """Standard deviations to either end of an interval: Student's t, normal for many degrees of freedom."""
    tail = (1 - level) / 2
    return float(stats.norm.isf(tail) if not np.isfinite(df) or df > 1e6 else stats.t.isf(tail, df))
