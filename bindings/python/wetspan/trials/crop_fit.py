"""Regularised least squares of a crop's inputs on the treatment means of its trials.

The growth control c_i of treatment i is what the spray model gives for the inputs. Fitted are the natural
logs of the inputs, and the check height H of every trial:

    sum over inputs of u^2 + sum over trials of (m - H (1 - c))' V^-1 (m - H (1 - c)),
    u = ln(value / prior) / s,  s = ln(spread) / 1.645

m and V are the treatment means at the average bench position and their covariance, V times (t / z)^2 because
the spread between plants is itself an estimate. The covariance is (J'J)^-1 at the minimum; where the model
misses the means by more than the plants vary, V is widened by the ratio first (Birge 1932). Limits and
draws of the inputs come from `wetspan.trials.crop_posterior`.

Sources: Bard Y (1974) Nonlinear Parameter Estimation, ch. 4 (priors; from memory); Seber G A F & Wild C J
(1989) Nonlinear Regression, ch. 5; Birge R T (1932) Phys. Rev. 40:207; Satterthwaite F E (1946) Biometrics
Bulletin 2:110.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import stats
from scipy.optimize import least_squares

from wetspan.batch.core import compute
from wetspan.crop import bounds
from wetspan.errors import InputError
from wetspan.parameters import TABLE
from wetspan.scenario import Scenario

Array = NDArray[np.float64]

#: What heights at one harvest can decide: how much at the tips halves growth, and how long it lasts there.
DECIDABLE = ("crop.half_amount", "crop.metabolism")
#: What only a spray on covered pots can decide beside them, since elsewhere roots speak louder.
TIP_SHARE = "crop.leaf_tip_share"
#: The amount on which a crop's answer depends most.
HALF = "crop.half_amount"

MISFIT = 0.05  # p value below which the model is said to miss the means
HOLD = 100.0  # weight of the residual that holds an input: it gives way by less than 1e-3 prior deviations
FORBIDDEN = 1e6  # residual where inputs contradict each other: no step of a fit goes there
STEP = 0.01  # of the central differences, in standard deviations of the prior


class Means(NamedTuple):
    """What the fit needs of a trial: the sprays of its treatments, and the mean heights, the check first."""

    sprays: list[Scenario]
    means: Array  # [height unit]
    root: Array  # whitens them: the inverse of the lower Cholesky root of their covariance
    df: float  # residual degrees of freedom


def treatment_means(sprays: list[Scenario], means: Array, covariance: Array, df: int) -> Means:
    """The means with the weight they get; `df` are the residual degrees of freedom of `covariance`."""
    inflation = float(stats.t.ppf(0.975, df) / stats.norm.ppf(0.975))
    return Means(sprays, means, np.linalg.inv(np.linalg.cholesky(covariance * inflation**2)), df)


class CropModel:
    """Growth control of some sprays, in unchanging air, as a function of the natural logs of some inputs."""

    def __init__(self, keys: Sequence[str], sprays: list[Scenario]) -> None:
        self.sprays = sprays
        self._inputs = [list(TABLE).index(key) for key in keys]
        self._low, self._high = bounds(keys)
        self._least = np.array([TABLE[key].low for key in keys])
        self._most = np.array([TABLE[key].high for key in keys])

    def run(self, logs: Array, *, strict: bool = True) -> dict[str, Array]:
        """Outcomes by name, one row per row of `logs`, one column per spray; nan where inputs fail that need
        not succeed (`strict=False`)."""
        points, sprays = len(logs), len(self.sprays)
        values = np.clip(np.exp(logs), self._least, self._most)
        done = compute(
            self.sprays,
            [],
            count=points * sprays,
            inputs=[(index, np.tile(values[:, i], sprays)) for i, index in enumerate(self._inputs)],
            scenario_of=np.repeat(np.arange(sprays, dtype=np.uint64), points),
        )
        if done.failed and strict:
            row, reason = done.failed[0].row, done.failed[0].reason
            raise InputError(f"{self.sprays[row // points].title or 'a treatment'}: {reason}")
        return {name: column.reshape(sprays, points).T for name, column in done.columns.items()}

    def controls(self, logs: Array, *, strict: bool = True) -> Array:
        """Growth controls, one row per row of `logs`, one column per spray."""
        return self.run(logs, strict=strict)["growth_control"]

    def gradient(self, logs: Array, steps: Array, *, strict: bool = True) -> tuple[Array, Array]:
        """Controls, and their derivatives [spray, input] by central differences within the bounds.

        A derivative is 0 where inputs beside `logs` fail that need not succeed (`strict=False`).
        """
        up, down = np.minimum(logs + np.diag(steps), self._high), np.maximum(logs - np.diag(steps), self._low)
        *controls, here = self.controls(np.vstack([up, down, logs]), strict=strict)
        above, below = np.split(np.array(controls), 2)
        slopes = ((above - below) / np.diag(up - down)[:, None]).T
        return here, slopes if strict else np.nan_to_num(slopes)


class Prior(NamedTuple):
    """Normal on the natural logs of the inputs."""

    keys: list[str]
    center: Array
    scale: Array  # standard deviations


class Fit(NamedTuple):
    """Inputs as u, in standard deviations of the prior from its middle."""

    u: Array
    covariance: Array
    spoken: Array  # derivatives of the whitened means by u, check heights taken out
    misfit_p: float
    widening: float
    theta: Array  # u, then the check heights over the measured ones


def fit_crop(model: CropModel, data: list[Means], prior: Prior) -> Fit:
    """Least squares, once more with wider means where the model misses them by more than the plants vary."""
    n, widening = len(prior.keys), 1.0
    squares = Squares(model, data, prior)
    theta = squares.least(squares.starts())
    residual, jacobian = squares.residual(theta), squares.jacobian(theta)
    p, ratio = _misfit(residual[n:], jacobian, n)
    if p < MISFIT:
        widening = ratio
        squares = Squares(model, data, prior, widening)
        theta = squares.least(squares.starts())
        residual, jacobian = squares.residual(theta), squares.jacobian(theta)
    covariance = np.linalg.inv(jacobian.T @ jacobian)[:n, :n]
    by_input, by_height = jacobian[n:, :n], jacobian[n:, n:]
    spoken = by_input - by_height @ np.linalg.lstsq(by_height, by_input, rcond=None)[0]
    return Fit(theta[:n], np.asarray(covariance, dtype=float), spoken, p, widening, theta)


class Squares:
    """The residuals whose sum of squares is minimised, over the inputs as u and the check heights over the
    measured ones. Rows of residuals: inputs, means, and the input that is held, if any.

    `pull` weighs the rows of the prior; `held` is the place of an input and the u at which it is held. With
    less than the prior's own weight inputs may come together that contradict each other, such as a receding
    angle above the contact angle: residuals there are `FORBIDDEN`.
    """

    def __init__(
        self,
        model: CropModel,
        data: list[Means],
        prior: Prior,
        widening: float = 1.0,
        pull: float = 1.0,
        held: tuple[int, float] | None = None,
    ) -> None:
        self.model, self.data, self.prior, self.pull, self.held = model, data, prior, pull, held
        self.ends = np.cumsum([len(trial.sprays) for trial in data])[:-1]
        self.roots = [trial.root / np.sqrt(widening) for trial in data]

    def residual(self, theta: Array) -> Array:
        """Residuals at `theta`."""
        n, prior = len(self.prior.keys), self.prior
        logs = prior.center + prior.scale * theta[:n]
        found = self.model.controls(logs[None], strict=self.pull == 1.0)[0]
        if np.isnan(found).any():
            return np.full(n + len(found) + len(self.data) + (self.held is not None), FORBIDDEN)
        controls = np.split(found, self.ends)
        parts = [self.pull * theta[:n]]
        for trial, root, height, control in zip(self.data, self.roots, theta[n:], controls, strict=True):
            shorter = np.concatenate([[0.0], control])
            parts.append(root @ (trial.means - height * trial.means[0] * (1.0 - shorter)))
        if self.held is not None:
            place, at = self.held
            parts.append(np.array([HOLD * (theta[place] - at)]))
        return np.concatenate(parts)

    def jacobian(self, theta: Array) -> Array:
        """Derivatives of the residuals [residual, unknown]."""
        n, trials, prior = len(self.prior.keys), len(self.data), self.prior
        logs = prior.center + prior.scale * theta[:n]
        all_controls, gradient = self.model.gradient(logs, STEP * prior.scale, strict=self.pull == 1.0)
        controls = np.split(all_controls, self.ends)
        gradients = np.split(gradient * prior.scale, self.ends)
        rows = [np.hstack([self.pull * np.eye(n), np.zeros((n, trials))])]
        for which, (trial, root) in enumerate(zip(self.data, self.roots, strict=True)):
            block = np.zeros((len(trial.means), n + trials))
            shorter = np.concatenate([[0.0], controls[which]])
            block[1:, :n] = theta[n + which] * trial.means[0] * gradients[which]
            block[:, n + which] = -trial.means[0] * (1.0 - shorter)
            rows.append(root @ block)
        if self.held is not None:
            rows.append(HOLD * np.eye(1, n + trials, self.held[0]))
        return np.vstack(rows)

    def starts(self) -> list[Array]:
        """Where to begin. Far from the truth the response is flat, so the half amount is looked along."""
        n = len(self.prior.keys)
        starts = [np.zeros(n)]
        if HALF in self.prior.keys:
            place = self.prior.keys.index(HALF)
            starts = [np.where(np.arange(n) == place, step, 0.0) for step in np.linspace(-8, 8, 17)]
        return [np.concatenate([start, np.ones(len(self.data))]) for start in starts]

    def least(self, starts: list[Array], precision: float = 1e-7) -> Array:
        """The unknowns at the minimum, from the best of `starts`; `precision` of their steps, relative."""
        low, high = ((end - self.prior.center) / self.prior.scale for end in bounds(self.prior.keys))
        free = np.full(len(self.data), np.inf)
        least, most = np.concatenate([low, -free]), np.concatenate([high, free])
        found = least_squares(
            self.residual,
            min(
                (np.clip(start, least, most) for start in starts),
                key=lambda theta: float(np.sum(self.residual(theta) ** 2)),
            ),
            jac=self.jacobian,
            bounds=(least, most),
            x_scale="jac",
            xtol=precision,
            ftol=1e-5 * precision,
            gtol=1e-12,
            max_nfev=200,
        )
        return np.asarray(found.x, dtype=float)


def _misfit(residual: Array, jacobian: Array, n: int) -> tuple[float, float]:
    """p value of the misfit, and the variance it shows over that of the means.

    If model and prior hold, the residuals r of the means at the minimum have covariance I - A, with A = J_m
    (J'J)^-1 J_m' over the rows J_m of the means; r'r then is about a scaled chi-square with its first two
    moments (Satterthwaite 1946). nan where less than one degree of freedom is left.
    """
    means = jacobian[n:]
    left = np.eye(len(means)) - means @ np.linalg.solve(jacobian.T @ jacobian, means.T)
    freedom, squares = float(np.trace(left)), float(np.sum(left**2))
    if freedom < 1:
        return np.nan, 1.0
    found = float(residual @ residual)
    return float(stats.chi2.sf(found * freedom / squares, freedom**2 / squares)), found / freedom
