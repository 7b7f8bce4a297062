"""Seeds (whole numbers, numpy's SeedSequence or Generator), and the streams of random numbers from them."""

from __future__ import annotations

from numbers import Integral
from typing import TypeAlias

import numpy as np

from wetspan.errors import InputError

#: A whole number from 0 on, or numpy's SeedSequence or Generator.
Seed: TypeAlias = int | np.random.SeedSequence | np.random.Generator

_WORDS = 4  # of 32 bits, taken from a generator


def fixed(seed: Seed) -> int | np.random.SeedSequence:
    """Return a seed that stays what it is; a generator gives a new one each time it is asked."""
    if isinstance(seed, np.random.Generator):
        words = seed.integers(0, 2**32, _WORDS, dtype=np.uint32)
        return np.random.SeedSequence(int.from_bytes(words.astype("<u4").tobytes(), "little"))
    if isinstance(seed, np.random.SeedSequence):
        return seed
    if not isinstance(seed, Integral) or isinstance(seed, bool) or seed < 0:
        raise InputError(
            f"seed = {seed!r} is not a whole number from 0 on, nor numpy's SeedSequence or Generator"
        )
    return int(seed)


def stream(seed: Seed, *branch: int) -> np.random.Generator:
    """Return the stream of a seed, or one of its branches; the same seed and branch give the same stream."""
    seed = fixed(seed)
    if isinstance(seed, np.random.SeedSequence):
        key = (*seed.spawn_key, *branch)
        return np.random.default_rng(np.random.SeedSequence(seed.entropy, spawn_key=key))
    return np.random.default_rng([seed, *branch] if branch else seed)


def told(seed: Seed) -> int | str:
    """Return a seed as the attribute of a file holds it; a text is the expression that makes it again."""
    seed = fixed(seed)
    if isinstance(seed, np.random.SeedSequence):
        spawned = f", spawn_key={tuple(seed.spawn_key)}" if seed.spawn_key else ""
        return f"SeedSequence({seed.entropy}{spawned})"
    return seed if seed < 2**63 else str(seed)
