"""Many sprays in one process: does memory stay flat, do answers stay the same?

Usage: python tools/soak.py [--calls 1000000] [--rows 10000000] [--threads 16] [--minutes 8] [--limit 32]
                            [--one-spray]

First `calls` of `simulate`, spread over Python threads, then `rows` of `batch`, in pieces of 20 000 which the
library spreads over as many threads. Each part prints resident memory [MiB] and the rate so far at ten
points. It holds if memory never rises by more than `limit` MiB above that after the first tenth, which fills
the caches, and if one scenario, computed now and again by every thread, always gives the same bits. A part
that `minutes` end says how far it came. It is no part of the gate. Linux only.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

import numpy as np
import wetspan as ws

PIECE = 20_000  # rows of a batch
POINTS = 10
AGAIN = 500  # calls between two checks of the same scenario
LOW = {
    "air.temperature": 283.0,
    "air.relative_humidity": 0.3,
    "air.speed": 0.05,
    "application.volume_rate": 1e-4,
    "droplets.dv50": 1.5e-4,
}
HIGH = {
    "air.temperature": 308.0,
    "air.relative_humidity": 0.95,
    "air.speed": 1.5,
    "application.volume_rate": 5e-4,
    "droplets.dv50": 4.5e-4,
}


def resident() -> float:
    """Memory of this process [MiB]."""
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS")) / 1024


def drawn(random: np.random.Generator, count: int) -> dict[str, np.ndarray]:
    """Columns of random sprays. Sizes of droplets recur within a piece, so that cached landings are used."""
    columns = {name: random.uniform(LOW[name], HIGH[name], count) for name in LOW}
    sizes = random.uniform(LOW["droplets.dv50"], HIGH["droplets.dv50"], max(1, count // 100))
    columns["droplets.dv50"] = random.choice(sizes, count)
    return columns


class Same:
    """One scenario, computed again and again."""

    def __init__(self) -> None:
        self.first, self.checks = self.answer(), 0

    @staticmethod
    def answer() -> tuple[float, float]:
        outcome = ws.simulate(ws.Scenario())
        return outcome.growth_control, outcome.wet_time

    def check(self) -> None:
        if self.answer() != self.first:
            raise SystemExit(f"the same scenario gives {self.answer()}, and gave {self.first} at first")
        self.checks += 1


def simulate(count: int, seed: int, threads: int, same: Same) -> None:
    """Calls of `simulate` in Python threads."""

    def calls(thread: int, some: int) -> None:
        columns = drawn(np.random.default_rng([seed, thread]), some)
        for i in range(some):
            outcome = ws.simulate(
                ws.Scenario().in_si({name: float(values[i]) for name, values in columns.items()})
            )
            if not 0.0 <= outcome.growth_control <= 1.0:
                raise SystemExit(f"growth control is {outcome.growth_control}")
            if i % AGAIN == 0:
                same.check()

    shares = [count // threads + (thread < count % threads) for thread in range(threads)]
    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(calls, range(threads), shares))


def batch(count: int, seed: int, threads: int, same: Same, one_spray: bool = False) -> None:
    """Rows of `batch` in pieces, in threads of the library; with one spray, landings come from its table."""
    random = np.random.default_rng([seed, 1])
    scenario = ws.Scenario({"numerics.flights": "table"} if one_spray else {})
    for done in range(0, count, PIECE):
        rows = drawn(random, min(PIECE, count - done))
        if one_spray:
            del rows["droplets.dv50"], rows["application.volume_rate"]
        told = ws.batch(scenario, rows, threads=threads)
        if not bool(((told.growth_control >= 0.0) & (told.growth_control <= 1.0)).all()):
            raise SystemExit("growth control of a row is no share")
        same.check()


def soak(
    name: str, run: Callable[[int, int, int, Same], None], count: int, asked: argparse.Namespace
) -> bool:
    """Run a part, print it as it goes, and return whether memory stayed flat."""
    same, began, done, seen = Same(), time.monotonic(), 0, []
    print(f"{name}: {count} in {asked.threads} threads, {resident():.1f} MiB at first", flush=True)
    for point in range(POINTS):
        some = count * (point + 1) // POINTS - done
        run(some, point, asked.threads, same)
        done += some
        seen.append(resident())
        rate = done / (time.monotonic() - began)
        print(f"  {done:>10}  {seen[-1]:7.1f} MiB  {rate:7.0f} a second", flush=True)
        if time.monotonic() - began > 60.0 * asked.minutes and done < count:
            print(f"  ended by time after {done} of {count}")
            break
    rise = max(seen) - seen[0]
    flat = len(seen) > 1 and rise <= asked.limit
    print(
        f"  {'flat' if flat else 'NOT FLAT'}: at most {rise:+.1f} MiB after the first tenth "
        f"({asked.limit:g} allowed); one scenario came the same {same.checks} times",
        flush=True,
    )
    return flat


def main() -> int:
    parser = argparse.ArgumentParser(description="Many sprays in one process: does memory stay flat?")
    parser.add_argument("--calls", type=int, default=1_000_000)
    parser.add_argument("--rows", type=int, default=10_000_000)
    parser.add_argument("--threads", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--minutes", type=float, default=float("inf"), help="of each part")
    parser.add_argument("--one-spray", action="store_true", help="rows of one spray, landed from a table")
    parser.add_argument("--limit", type=float, default=32.0, help="MiB that memory may rise")
    asked = parser.parse_args()
    print(f"wetspan {ws.__version__}, numpy {np.__version__}, {os.cpu_count()} processors")
    rows = partial(batch, one_spray=True) if asked.one_spray else batch
    parts = [("simulate", simulate, asked.calls), ("batch", rows, asked.rows)]
    flat = [soak(name, run, count, asked) for name, run, count in parts if count]
    return 0 if all(flat) else 1


if __name__ == "__main__":
    sys.exit(main())
