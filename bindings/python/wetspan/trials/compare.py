"""Treatments against the untreated check: Dunnett's test, ratios to the check, a trend, and the power of
each.

The multivariate t probabilities are SciPy's. They are quasi-random sums, so the stream is fixed here: the
same table always gives the same p value.

Sources
-------
Dunnett C W (1955) J. Amer. Statist. Assoc. 50:1096; Dunnett C W (1964) Biometrics 20:482.
Fieller E C (1954) J. R. Statist. Soc. B 16:175.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy import stats
from scipy.optimize import brentq

Array = NDArray[np.float64]
Matrix = tuple[tuple[float, ...], ...]

_POINTS = 10_000  # quasi-random points per probability: error about 3e-5


def many_to_one_correlation(check_plants: float, plants: ArrayLike) -> Array:
    """Correlation of the differences (treatment mean - check mean) in a one-way layout.

    rho_ij = sqrt(l_i l_j), l_i = n_i / (n_i + n_0) (Dunnett 1955); 0.5 with equal numbers.

    Parameters: `check_plants` n_0 on the check [plants]; `plants` n_i per treatment [plants].
    """
    n = np.atleast_1d(np.asarray(plants, dtype=float))
    share = np.sqrt(n / (n + check_plants))
    correlation = np.outer(share, share)
    np.fill_diagonal(correlation, 1.0)
    return correlation


def _inside(limits: Array, correlation: Array, df: int) -> float:
    """P(|T_i| < limits_i for all i) for a central multivariate t."""
    if len(limits) == 1:
        return float(1 - 2 * stats.t.sf(limits[0], df))
    return float(
        stats.multivariate_t.cdf(
            limits, lower_limit=-limits, shape=correlation, df=df, maxpts=_POINTS, random_state=0
        )
    )


@lru_cache(maxsize=256)
def _critical(correlation: Matrix, df: int, alpha: float) -> float:
    k = len(correlation)
    single, bonferroni = stats.t.isf(np.array([alpha / 2, alpha / (2 * k)]), df)
    if k == 1:
        return float(single)
    matrix = np.array(correlation)
    return float(
        brentq(
            lambda c: _inside(np.full(k, c), matrix, df) - (1 - alpha),
            0.99 * single,
            1.01 * bonferroni,
            xtol=1e-4,
        )
    )


def dunnett_critical(correlation: ArrayLike, df: int, alpha: float = 0.05) -> float:
    """Two-sided critical value d of Dunnett's test: P(max |T_i| > d) = alpha when no treatment acts.

    Parameters: `correlation` of the comparisons [-]; `df` of the residual variance [-]; `alpha` error rate of
    the whole family of comparisons [-].
    """
    rounded = np.round(np.asarray(correlation, dtype=float), 10)
    return _critical(tuple(map(tuple, rounded.tolist())), int(df), float(alpha))


def dunnett_p(t: ArrayLike, correlation: ArrayLike, df: int) -> Array:
    """Adjusted two-sided p value of each t statistic: P(max |T_i| > |t|).

    Held between the unadjusted p and k times it (Bonferroni), which bound it whatever the correlation; that
    keeps very small values free of quasi-random noise.
    """
    size = np.abs(np.atleast_1d(np.asarray(t, dtype=float)))
    matrix = np.asarray(correlation, dtype=float)
    single = 2 * stats.t.sf(size, df)
    family = np.array([1 - _inside(np.full(len(size), value), matrix, df) for value in size])
    return np.asarray(np.clip(family, single, np.minimum(1.0, len(size) * single)), dtype=float)


def fieller(numerator: float, denominator: float, covariance: ArrayLike, t: float) -> tuple[float, float]:
    """Confidence limits of the ratio numerator / denominator of two normal estimates (Fieller 1954).

    The limits are the ratios r at which (N - r D)^2 = t^2 Var(N - r D); exact for estimates from a linear
    model with normal errors. `covariance` is the 2 x 2 covariance of (N, D), `t` the two-sided critical
    value. Returns (-inf, inf) when the denominator itself is not shown to differ from zero: the data do not
    bound the ratio.
    """
    v = np.asarray(covariance, dtype=float)
    a = denominator**2 - t**2 * v[1, 1]
    b = numerator * denominator - t**2 * v[0, 1]
    c = numerator**2 - t**2 * v[0, 0]
    if a <= 0:
        return -np.inf, np.inf
    root = np.sqrt(b**2 - a * c)
    return float((b - root) / a), float((b + root) / a)


def against_check(
    treatments: Sequence[str], means: Array, covariance: Array, df: int, level: float
) -> pd.DataFrame:
    """Differences (Dunnett) and growth controls (Fieller) of all treatments against the first, the check.

    Parameters: `treatments` names, the check first; `means` and their `covariance` from a linear model with
    `df` residual degrees of freedom [height unit]; `level` of the intervals [-]. Limits of the differences
    hold for all of them together, those of the controls (1 - mean / check mean) for each one alone.
    """
    k = len(treatments) - 1
    contrasts = np.column_stack([-np.ones(k), np.eye(k)])
    difference = contrasts @ means
    spread = contrasts @ covariance @ contrasts.T
    se = np.sqrt(np.diag(spread))
    correlation = spread / np.outer(se, se)
    reach = dunnett_critical(correlation, df, 1 - level) * se
    t = float(stats.t.isf((1 - level) / 2, df))
    pairs = ((i, np.ix_([i, 0], [i, 0])) for i in range(1, k + 1))
    ratio = np.array([fieller(means[i], means[0], covariance[pair], t) for i, pair in pairs])
    nan = [np.nan]
    return pd.DataFrame(
        {
            "adjusted_mean": means,
            "difference": np.concatenate([[0.0], difference]),
            "difference_lower": np.concatenate([nan, difference - reach]),
            "difference_upper": np.concatenate([nan, difference + reach]),
            "p": np.concatenate([nan, dunnett_p(difference / se, correlation, df)]),
            "control": 1 - means / means[0],
            "control_lower": np.concatenate([nan, 1 - ratio[:, 1]]),
            "control_upper": np.concatenate([nan, 1 - ratio[:, 0]]),
        },
        index=pd.Index(treatments, name="treatment"),
    )


def trend_contrast(treatments: int) -> Array:
    """Coefficients of a straight trend over check, treatment 1 ... k in equal steps; they sum to zero.

    Equal steps suit rates that grow by a constant factor, and need only the order of the treatments.
    """
    return np.asarray(np.arange(treatments + 1) - treatments / 2, dtype=float)


def _two_sided_power(noncentrality: float, critical: float, df: int) -> float:
    found = float(stats.nct.sf(critical, df, noncentrality))
    if noncentrality > 5:  # the wrong side then holds less than 1e-6, and SciPy's tail is not reliable
        return found
    return found + float(stats.nct.cdf(-critical, df, noncentrality))


def dunnett_power(
    difference: float,
    cv: float,
    plants: int,
    check_plants: int,
    treatments: int,
    df: int,
    alpha: float = 0.05,
) -> float:
    """Probability that Dunnett's test finds any one given treatment that differs by `difference` from the
    check.

    The comparison follows a non-central t with delta = (difference / cv) / sqrt(1/n + 1/n0); it is declared
    when |T| exceeds Dunnett's critical value for all `treatments` comparisons together.

    Parameters: `difference` and `cv` (standard deviation between plants treated alike) as shares of check
    height [-]; `plants` n per treatment, `check_plants` n0; `df` residual degrees of freedom; `alpha` family
    error rate [-].
    """
    correlation = many_to_one_correlation(check_plants, [plants] * treatments)
    noncentrality = difference / (cv * np.sqrt(1 / plants + 1 / check_plants))
    return _two_sided_power(noncentrality, dunnett_critical(correlation, df, alpha), df)


def trend_power(
    difference: float,
    cv: float,
    plants: int,
    check_plants: int,
    treatments: int,
    df: int,
    alpha: float = 0.05,
) -> float:
    """Probability that the trend contrast finds heights falling in equal steps by `difference` in all.

    `difference` is that of the last (strongest) treatment from the check; parameters as in `dunnett_power`.
    """
    contrast = trend_contrast(treatments)
    means = difference * np.arange(treatments + 1) / treatments
    numbers = np.array([check_plants] + [plants] * treatments)
    noncentrality = float(contrast @ means / (cv * np.sqrt(np.sum(contrast**2 / numbers))))
    return _two_sided_power(noncentrality, float(stats.t.isf(alpha / 2, df)), df)
