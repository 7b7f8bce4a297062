"""The posterior of a crop's inputs after trials, as weighted points.

Where plants say little about an input, its posterior is skewed on the log scale, because a metabolism that
already has almost no effect cannot have less. Linearisation at the best fit misses this. So points u are
drawn from a proposal q, and weighted by

    exp(-u'u / 2) L(u) / q(u),   L = product over trials of |s|^-1 exp(-(a'a - (s'a)^2 / s's) / 2)

with the whitened means a and relative heights s = 1 - c. The check height has a uniform prior and is
integrated out. q is a mixture of the prior, which keeps the weights bounded, and a normal about the best fit,
which is fitted again to the points if few of them have weight.

Sources: Kong A, Liu J S & Wong W H (1994) J. Am. Stat. Assoc. 89:278 (effective number of points); Hesterberg
T (1995) Technometrics 37:185 (the prior as part of the proposal); Cappe O et al. (2004) J. Comput. Graph.
Stat. 13:907 (a proposal fitted again). All three from memory.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import special
from scipy.stats import qmc

from wetspan.crop import bounds
from wetspan.trials.crop_fit import CropModel, Fit, Means, Prior

Array = NDArray[np.float64]

POINTS = 1024
FROM_PRIOR = 0.15  # share of the points that is drawn from the prior
WIDER = 1.3  # times the standard deviations of the fit: a wide proposal costs points, a narrow one tails
ENOUGH = 250  # effective number of points that ends the search
ROUNDS = 5
FEW = 50  # effective number below which limits and draws are not to be trusted


class Posterior(NamedTuple):
    """Points and what each weighs."""

    logs: Array  # natural logs of the inputs in SI [point, input]
    weight: Array  # [point], 1 in all

    @property
    def effective(self) -> float:
        """How many points of equal weight would tell as much."""
        return float(1.0 / np.sum(self.weight**2))

    def quantiles(self, shares: tuple[float, ...]) -> Array:
        """Natural logs of the inputs below which these shares of the weight lie [share, input]."""
        found = []
        for column in self.logs.T:
            order = np.argsort(column)
            below = np.cumsum(self.weight[order]) - 0.5 * self.weight[order]
            found.append(np.interp(shares, below, column[order]))
        return np.array(found).T

    def moments(self) -> tuple[Array, Array]:
        """Mean and covariance of the natural logs."""
        mean = self.weight @ self.logs
        about = self.logs - mean
        return mean, (about.T * self.weight) @ about

    def alike(self, n: int) -> Array:
        """Natural logs of `n` equally likely points [point, input], spread evenly along the first input."""
        order = np.argsort(self.logs[:, 0])
        passed = np.cumsum(self.weight[order])
        at = np.searchsorted(passed, (np.arange(n) + 0.5) / n * passed[-1])
        return np.asarray(self.logs[order[at]], dtype=float)

    def draw(self, n: int, random: np.random.Generator) -> Array:
        """Natural logs of `n` draws [draw, input]: points come up as often as they weigh."""
        return self.logs[random.choice(len(self.weight), size=n, p=self.weight)]


def posterior(model: CropModel, data: list[Means], prior: Prior, fit: Fit) -> Posterior:
    """What trials left possible, from the best fit on; the same points for the same fit."""
    n = len(prior.keys)
    low, high = ((end - prior.center) / prior.scale for end in bounds(prior.keys))
    normal = special.ndtri(qmc.Sobol(n, scramble=False).fast_forward(1).random(POINTS))
    of_prior = round(FROM_PRIOR * POINTS)
    center, covariance = fit.u, fit.covariance
    best: Posterior | None = None
    for _ in range(ROUNDS):
        root = WIDER * np.linalg.cholesky(covariance)
        u = np.vstack([normal[:of_prior], center + normal[of_prior:] @ root.T])
        whitened = np.linalg.solve(root, (u - center).T)
        log_normal = -0.5 * np.sum(whitened**2, axis=0) - np.log(np.diag(root)).sum()
        log_prior = -0.5 * np.sum(u**2, axis=1)
        proposal = np.logaddexp(np.log(FROM_PRIOR) + log_prior, np.log1p(-FROM_PRIOR) + log_normal)
        inside = ((u >= low) & (u <= high)).all(axis=1)
        logs = prior.center + prior.scale * u
        log_weight = np.full(len(u), -np.inf)
        log_weight[inside] = log_prior[inside] + _likelihood(model, data, fit.widening, logs[inside])
        log_weight -= proposal
        weight = np.exp(log_weight - log_weight.max())
        found = Posterior(logs, weight / weight.sum())
        if best is None or found.effective > best.effective:
            best = found
        if best.effective >= ENOUGH:
            break
        mean, spread = best.moments()
        center = (mean - prior.center) / prior.scale
        covariance = spread / np.outer(prior.scale, prior.scale) + 1e-6 * fit.covariance
    assert best is not None
    return best


def _likelihood(model: CropModel, data: list[Means], widening: float, logs: Array) -> Array:
    """Natural log of the likelihood of the inputs; -inf where the model gives nothing."""
    ends = np.cumsum([len(trial.sprays) for trial in data])[:-1]
    total = np.zeros(len(logs))
    controls = model.controls(logs, strict=False)
    for trial, control in zip(data, np.split(controls, ends, axis=1), strict=True):
        root = trial.root / np.sqrt(widening)
        means = root @ trial.means
        relative = np.hstack([np.ones((len(logs), 1)), 1.0 - control]) @ root.T
        squares = np.sum(relative**2, axis=1)
        total -= 0.5 * (means @ means - (relative @ means) ** 2 / squares) + 0.5 * np.log(squares)
    return np.where(np.isnan(total), -np.inf, total)
