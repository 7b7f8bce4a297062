"""The layout of a trial: positions on the bench, blocks across its gradient, random treatments."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd

from wetspan.errors import InputError

Place = tuple[int, int]  # row, column, both from 1


def bench_for(places: int, border: bool) -> tuple[int, int]:
    """Rows and columns of a nearly square bench with at least `places` inner positions."""
    rows = max(1, math.isqrt(places))
    columns = math.ceil(places / rows)
    return (rows + 2, columns + 2) if border else (rows, columns)


def inner_places(bench: tuple[int, int], border: bool, gradient: str) -> list[Place]:
    """The positions that may hold trial plants, in a serpentine walk along the gradient.

    gradient="columns": conditions change from column to column, so the walk finishes one column before the
    next and a run of neighbours in it (a block) meets nearly one condition. gradient="rows": the same with
    rows.
    """
    edge = 1 if border else 0
    rows = range(1 + edge, bench[0] + 1 - edge)
    columns = range(1 + edge, bench[1] + 1 - edge)
    if gradient == "columns":
        return [(r, c) for i, c in enumerate(columns) for r in (rows if i % 2 == 0 else reversed(rows))]
    return [(r, c) for i, r in enumerate(rows) for c in (columns if i % 2 == 0 else reversed(columns))]


def draw_layout(
    places: Sequence[Place],
    numbers: dict[str, int],
    blocks: int,
    rng: np.random.Generator,
) -> pd.DataFrame:
    """Draw treatments by lot over the first places of the walk, within each of `blocks` equal runs of
    neighbours.

    `numbers`: plants of each treatment on the whole bench, each a multiple of `blocks` (1: completely
    randomised). Plants are numbered row by row, in the order in which one reads the bench.
    """
    size = sum(numbers.values()) // blocks
    one_block = [name for name, number in numbers.items() for _ in range(number // blocks)]
    if size * blocks > len(places):
        raise InputError(f"{size * blocks} plants do not fit on {len(places)} places")
    rows = []
    for block in range(blocks):
        names = rng.permutation(np.array(one_block, dtype=object))
        for place, name in zip(places[block * size : (block + 1) * size], names, strict=True):
            rows.append((*place, block + 1, str(name)))
    layout = pd.DataFrame(rows, columns=["row", "column", "block", "treatment"]).sort_values(
        ["row", "column"]
    )
    layout.insert(0, "plant", np.arange(1, len(layout) + 1))
    return layout.reset_index(drop=True)


def codes(check: str, treatments: tuple[str, ...]) -> dict[str, str]:
    """Short marks that survive a black-and-white print: 0 for the check, then A, B, ... Z, A1, B1, ..."""
    letters = [chr(65 + i % 26) + (str(i // 26) if i >= 26 else "") for i in range(len(treatments))]
    return {check: "0", **dict(zip(treatments, letters, strict=True))}
