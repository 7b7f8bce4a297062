"""Many sprays in one process: does memory stay flat, do answers stay the same?

Usage: python tools/soak.py [--calls 1000000] [--rows 10000000]

Prints resident memory [MiB] after every twentieth of the calls of `simulate` (random scenarios) and the rows
of `batch` (in parts of 20000); the last half may not grow by more than 2 %. It is no part of the gate.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import wetspan as ws

PART = 20_000


def resident() -> float:
    """Memory of this process [MiB]; Linux only."""
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS")) / 1024


def drawn(random: np.random.Generator) -> dict[str, float]:
    return {
        "air.temperature": random.uniform(283.0, 308.0),
        "air.relative_humidity": random.uniform(0.3, 0.95),
        "air.speed": random.uniform(0.05, 1.5),
        "application.volume_rate": random.uniform(1e-4, 5e-4),
        "droplets.dv50": random.uniform(1.5e-4, 4.5e-4),
    }


def calls(count: int) -> None:
    random = np.random.default_rng(1)
    for _ in range(count):
        ws.simulate(ws.Scenario().in_si(drawn(random)))


def rows(count: int) -> None:
    random = np.random.default_rng(2)
    for done in range(0, count, PART):
        size = min(PART, count - done)
        columns = [drawn(random) for _ in range(size)]
        ws.batch(ws.Scenario(), {key: np.array([each[key] for each in columns]) for key in columns[0]})


def soak(name: str, run: Callable[[int], None], count: int, steps: int = 20) -> bool:
    """Whether memory stays flat over the last half; prints it as it goes."""
    began, seen = time.monotonic(), []
    print(f"{name}, MiB after every {count // steps}:", end="", flush=True)
    for _ in range(steps):
        run(count // steps)
        seen.append(resident())
        print(f" {seen[-1]:.1f}", end="", flush=True)
    print(f"; {count} in {time.monotonic() - began:.0f} s")
    return max(seen[steps // 2 :]) <= 1.02 * seen[steps // 2 - 1]


def main() -> int:
    parser = argparse.ArgumentParser(description="Many sprays in one process: does memory stay flat?")
    parser.add_argument("--calls", type=int, default=1_000_000)
    parser.add_argument("--rows", type=int, default=10_000_000)
    asked = parser.parse_args()
    before = ws.simulate(ws.Scenario()).growth_control
    flat = [soak("simulate", calls, asked.calls), soak("batch", rows, asked.rows)]
    same = ws.simulate(ws.Scenario()).growth_control == before
    print(f"flat: {flat}; the first answer came again: {same}")
    return 0 if all(flat) and same else 1


if __name__ == "__main__":
    sys.exit(main())
