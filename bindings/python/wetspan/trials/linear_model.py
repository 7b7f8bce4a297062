"""Least squares of plant heights on bench position and treatment, from one QR decomposition.

With X = Q R, the effects Q'y split the sum of squares term by term in the order of the columns
(sequential, type I), the row sums of Q squared are the leverages, and (R'R)^-1 is the covariance of the
estimates over the variance. A table of any length is therefore fitted once. Sources: Cook & Weisberg (1982)
Residuals and Influence in Regression, ch. 2; Golub & Van Loan (2013) Matrix Computations, ch. 5.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import stats
from scipy.linalg import solve_triangular

Array = NDArray[np.float64]

_ALONE = 1e-10  # 1 - leverage below which a plant fixes an estimate alone


@dataclass(frozen=True)
class LinearModel:
    """Heights fitted by an intercept and named terms of one or more columns, in their order.

    `terms`: columns of each term (plants x columns), indicators or numbers [-]; `heights` [height unit].
    """

    terms: Mapping[str, Array]
    heights: Array

    @cached_property
    def design(self) -> Array:
        """The intercept and all columns (plants x estimates) [-]."""
        return np.column_stack([np.ones(len(self.heights)), *self.terms.values()])

    @cached_property
    def _decomposed(self) -> tuple[Array, Array]:
        q, r = np.linalg.qr(self.design)
        return q, r

    @property
    def full_rank(self) -> bool:
        """True if the terms can be told apart."""
        _, r = self._decomposed
        scale = np.linalg.norm(self.design, axis=0)
        return bool(np.linalg.matrix_rank(r / np.where(scale > 0.0, scale, 1.0)) == r.shape[1])

    @property
    def df(self) -> int:
        """Residual degrees of freedom."""
        plants, estimates = self.design.shape
        return int(plants - estimates)

    @cached_property
    def _effects(self) -> Array:
        return np.asarray(self._decomposed[0].T @ self.heights, dtype=float)

    @cached_property
    def residuals(self) -> Array:
        """Measured minus fitted height, one per plant [height unit]."""
        q, _ = self._decomposed
        return np.asarray(self.heights - q @ self._effects, dtype=float)

    @property
    def sum_of_squares(self) -> float:
        """Residual sum of squares [height unit squared]."""
        return float(self.residuals @ self.residuals)

    @property
    def variance(self) -> float:
        """Residual variance [height unit squared]."""
        return self.sum_of_squares / self.df

    @cached_property
    def estimates(self) -> Array:
        """Least-squares estimates in the order of `design` [height unit]."""
        return np.asarray(solve_triangular(self._decomposed[1], self._effects), dtype=float)

    @cached_property
    def covariance(self) -> Array:
        """Covariance of the estimates [height unit squared]."""
        _, r = self._decomposed
        inverse = solve_triangular(r, np.eye(len(r)))
        return np.asarray(self.variance * inverse @ inverse.T, dtype=float)

    @cached_property
    def anova(self) -> pd.DataFrame:
        """Analysis of variance with sequential sums of squares: each term after those before it."""
        rows, first = {}, 1
        for name, columns in self.terms.items():
            last = first + columns.shape[1]
            rows[name] = float(last - first), float(self._effects[first:last] @ self._effects[first:last])
            first = last
        rows["residual"] = float(self.df), self.sum_of_squares
        table = pd.DataFrame.from_dict(rows, orient="index", columns=["df", "sum_of_squares"])
        table["mean_square"] = table["sum_of_squares"] / table["df"]
        table["f"] = table["mean_square"] / self.variance
        table["p"] = stats.f.sf(table["f"], table["df"], self.df)
        table.loc["residual", ["f", "p"]] = np.nan
        return table

    @cached_property
    def leverage(self) -> Array:
        """Diagonal of the hat matrix: how far a plant's own height sets its fitted one, 0 to 1 [-]."""
        q, _ = self._decomposed
        return np.asarray(np.einsum("ij,ij->i", q, q), dtype=float)

    @cached_property
    def _studentised_squared(self) -> Array:
        """Squares of the internally studentised residuals; at most `df`."""
        free = 1.0 - self.leverage
        told = free > _ALONE
        squared = np.zeros(len(free))
        squared[told] = self.residuals[told] ** 2 / (self.variance * free[told])
        return squared

    @property
    def studentised(self) -> Array:
        """Externally studentised residuals: of each plant against the fit to all others [-].

        0 for a plant that fixes an estimate alone, whose residual says nothing; infinite for one that holds
        all of the spread.
        """
        squared = self._studentised_squared
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(
                np.sign(self.residuals)
                * np.sqrt(squared * (self.df - 1) / np.maximum(self.df - squared, 0.0))
            )

    @property
    def cook(self) -> Array:
        """Cook's distance: how far the fitted heights move without a plant [-]; 0 where it fixes one."""
        free = np.maximum(1.0 - self.leverage, _ALONE)
        return np.asarray(self._studentised_squared * self.leverage / (free * self.design.shape[1]))
