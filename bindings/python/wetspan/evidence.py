"""The share of each kind of evidence in the spread of an outcome."""

from __future__ import annotations

from itertools import combinations
from math import factorial

import numpy as np
import numpy.typing as npt
import xarray as xr

Numbers = npt.NDArray[np.float64]

#: Kinds of evidence, by grade and what a measured value was measured on.
KINDS = {
    "A, this": "measured on this substance or crop (A)",
    "A, another": "measured on another substance or crop (A)",
    "B": "of published formulas (B)",
    "C": "calibrated here (C)",
    "D": "assumed (D)",
}
_SINGULAR = 1e-10  # of the largest eigenvalue: inputs that others tell wholly, and those that never move
_DRAWS_PER_INPUT = 3  # fewer leave the shares to chance


def kind_of(grade: str, measured_on: str) -> str:
    """Return the kind of evidence of an input of a grade; measured without a word on what is another."""
    return f"A, {measured_on or 'another'}" if grade == "A" else grade


def by_evidence(inputs: Numbers, outcomes: Numbers, kinds: list[str]) -> Numbers:
    """Return the share of each outcome's variance that comes from inputs of each of `KINDS`, and the rest.

    `inputs` [draw, input] and `outcomes` [draw, outcome] are standardised ranks (mean 0, length 1); `kinds`
    has one entry for each input. A kind's share is what it adds to the explained variance (R2, adjusted for
    the number of inputs) of a regression on ranks, in the mean over all orders of adding the kinds: the
    shares of Lindeman, Merenda & Gold (1980, from memory), which sum to the explained variance where inputs
    are correlated too, as draws that agree with anchors are. The last row is the rest: inputs acting
    together, and what ranks do not follow. NaN with fewer than three draws an input.
    """
    names = list(KINDS)
    count, width = inputs.shape
    if count < _DRAWS_PER_INPUT * width:
        return np.full((len(names) + 1, outcomes.shape[1]), np.nan)
    places = [np.flatnonzero(np.array(kinds) == name) for name in names]
    # products of all columns, of which each regression takes its own: they cost more than its solution
    among, across = inputs.T @ inputs, inputs.T @ outcomes
    whole = (outcomes**2).sum(axis=0)
    explained = {
        chosen: _explained(among, across, whole, np.concatenate([places[i] for i in chosen]), count)
        for size in range(1, len(names) + 1)
        for chosen in combinations(range(len(names)), size)
    }
    explained[()] = np.zeros(outcomes.shape[1])
    shares = np.zeros((len(names) + 1, outcomes.shape[1]))
    for i in range(len(names)):
        others = [j for j in range(len(names)) if j != i]
        for size in range(len(names)):
            weight = factorial(size) * factorial(len(names) - size - 1) / factorial(len(names))
            for before in combinations(others, size):
                shares[i] += weight * (explained[tuple(sorted((*before, i)))] - explained[before])
    shares[-1] = 1.0 - explained[tuple(range(len(names)))]
    moves = np.abs(outcomes).max(axis=0) > 0.0
    return np.where(moves, shares, np.nan)


def _explained(
    among: Numbers, across: Numbers, whole: Numbers, own: npt.NDArray[np.intp], count: int
) -> Numbers:
    """Return the adjusted R2 of regressions of standardised outcomes on some of the standardised inputs.

    `among` are the inputs' products with each other, `across` with the outcomes, `whole` the outcomes' with
    themselves; `own` are the regression's inputs, of `count` draws.
    """
    width = len(own)
    if width == 0:
        return np.zeros(len(whole))
    values, vectors = np.linalg.eigh(among[np.ix_(own, own)])
    kept = values > _SINGULAR * values[-1]
    along = vectors[:, kept].T @ across[own]
    left = whole - (along**2 / values[kept, None]).sum(axis=0)
    return np.asarray(1.0 - left * (count - 1) / (count - width - 1))


def about_evidence(shares: xr.DataArray, what: str) -> str:
    """Return in a sentence what the spread of an outcome comes from, `shares` lying along `evidence`."""
    if not np.isfinite(shares).all():
        return f"What the spread of {what} comes from wants more draws: three for each input or more."
    told = {
        str(kind): f"{max(0.0, 100.0 * float(shares.sel(evidence=kind))):.0f} %"
        for kind in shares["evidence"].values
    }
    parts = ", ".join(f"to {told[kind]} from inputs {meaning}" for kind, meaning in KINDS.items())
    return f"The spread of {what} comes {parts}; {told['together']} from inputs acting together."
