"""What the plants say about each input without its prior, and whether the prior contradicts them.

**Limits of the plants alone** are profile-likelihood limits (Cox & Hinkley 1974, section 9.3; Seber & Wild
1989, section 5.3.1). An input is held at a value, and the others and the check heights take their best values
within the table's bounds, without any prior. The limits are where the sum of squares exceeds its least by the
square of Student's t at the residual degrees of freedom, which is the quantile of F with one degree in the
numerator. If the model's curve has the right shape, they hold the truth as often as they say wherever the
prior lies: exactly for a linear model, about so for this one, and more often where the answer is flat. Where
no value on a side exceeds that, the plants set no limit there.

**The conflict** of prior and plants is the sum of squares with the prior less that without it, each at its
minimum. For a linear model with a normal prior it is u' (I - C)^-1 u, with u the estimate and C its
covariance in prior standard deviations. Under the prior predictive distribution u has the covariance I - C.
So the conflict is a chi-square with as many degrees of freedom as there are directions on which the data
speak (Box 1980; Evans & Moshonov 2006).

Sources, all from memory: Cox D R & Hinkley D V (1974) Theoretical Statistics; Seber G A F & Wild C J (1989)
Nonlinear Regression; Box G E P (1980) J. R. Statist. Soc. A 143:383; Evans M & Moshonov H (2006) Bayesian
Analysis 1:893.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats
from scipy.optimize import brentq

from wetspan.crop import bounds
from wetspan.trials.crop_fit import CropModel, Fit, Means, Prior, Squares

Array = NDArray[np.float64]

FREE = 1e-3  # weight of the prior's rows in place of 1: keeps what nothing determines from drifting
FARTHEST = float(np.log(1e6))  # from the prior's middle, where the table sets no bound above 0
PRECISE = 1e-3  # of the steps of a profile's fits, relative
CLOSE = 0.02  # of a limit, over its distance from the best value
_SEARCH = 30  # steps outward


@dataclass(frozen=True, eq=False)
class PlantsAlone:
    """What limits without the prior are computed from."""

    data: list[Means]
    prior: Prior
    fitted: Fit
    level: float

    def limits(self) -> tuple[Array, Array]:
        """Natural logs of the lower and the upper limit of each input; infinite where the plants set none."""
        level, prior = self.level, self.prior
        z, usual = (float(stats.norm.isf((1 - each) / 2)) for each in (level, 0.95))

        def at_level(trial: Means) -> Means:  # the fit's weights allow for the degrees of freedom at 95 %
            wider = stats.t.isf((1 - level) / 2, trial.df) / z / (stats.t.isf(0.025, trial.df) / usual)
            return trial._replace(root=trial.root / float(wider))

        model = CropModel(prior.keys, [spray for trial in self.data for spray in trial.sprays])
        data = [at_level(trial) for trial in self.data]
        free = Squares(model, data, prior, self.fitted.widening, FREE)
        best = free.least([self.fitted.theta, *free.starts()])
        lower, upper = (
            prior.center
            + prior.scale * np.array([_limit(free, best, place, side, z) for place in range(len(prior.keys))])
            for side in (-1.0, 1.0)
        )
        return lower, upper


def conflict(model: CropModel, data: list[Means], prior: Prior, fitted: Fit, speaking: int) -> float:
    """p value of the sum of squares that the prior costs, over the `speaking` directions on which the data
    speak; nan if there are none."""
    if not speaking:
        return np.nan
    n = len(prior.keys)
    both = Squares(model, data, prior, fitted.widening).residual(fitted.theta)
    alone = Squares(model, data, prior, fitted.widening, FREE)
    own = alone.residual(alone.least([fitted.theta, *alone.starts()], PRECISE))
    cost = float(both @ both - own[n:] @ own[n:])
    return float(stats.chi2.sf(max(cost, 0.0), speaking))


def _limit(free: Squares, best: Array, place: int, side: float, z: float) -> float:
    """u of the limit of the input at `place` below its best value (`side` -1) or above it (1); infinite if
    the plants set none."""
    prior, n = free.prior, len(free.prior.keys)
    low, high = ((end[place] - prior.center[place]) / prior.scale[place] for end in bounds(prior.keys))
    end = low if side < 0 else high
    if not np.isfinite(end):
        end = side * FARTHEST / prior.scale[place]
    least = float(np.sum(free.residual(best)[n:] ** 2))
    at, roots = {float(best[place]): best}, {float(best[place]): -z}

    def beyond(u: float) -> float:
        """How far the profile's root exceeds z, in standard deviations."""
        if u in roots:  # from another side the fit may end a little elsewhere
            return roots[u]
        held = Squares(free.model, free.data, prior, 1.0, FREE, (place, u))
        held.roots = free.roots
        near = at[min(at, key=lambda known: abs(known - u))].copy()
        near[place] = u
        theta = held.least([near], PRECISE)
        at[u] = theta
        excess = float(np.sum(held.residual(theta)[n:-1] ** 2)) - least
        roots[u] = float(np.sqrt(max(excess, 0.0))) - z
        return roots[u]

    jacobian = free.jacobian(best)
    sd = float(np.sqrt(np.linalg.inv(jacobian.T @ jacobian)[place, place]))
    inner, step = float(best[place]), z * min(sd, 1.0)
    if side * (end - inner) <= 0:
        return side * np.inf
    for _ in range(_SEARCH):
        outer = side * min(side * (inner + side * step), side * end)
        if (found := beyond(outer)) > 0:
            break
        if outer == end:
            return side * np.inf
        passed = abs(outer - float(best[place])) / max(found + z, 1e-9)  # for each deviation of the root
        inner, step = outer, float(np.clip(-1.3 * found * passed, 0.3 * step, 3.0 * step))
    else:
        return side * np.inf
    close = CLOSE * abs(outer - float(best[place]))
    return float(brentq(beyond, inner, outer, xtol=close, rtol=1e-6))
