"""The same answers in a forked process, a spawned one, and sixteen threads at once; memory stays flat."""

from __future__ import annotations

import multiprocessing
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
import wetspan as ws

AIR = {"air.speed": np.linspace(0.1, 1.0, 12)}


def answers(speed: float = 0.3) -> tuple[float, ...]:
    """One spray alone, and twelve as a batch of two threads."""
    scenario = ws.Scenario({"air.speed": speed})
    one = ws.simulate(scenario)
    many = ws.batch(scenario, AIR, threads=2)
    return (one.wet_time, one.growth_control, *many["growth_control"].values.tolist())


@pytest.mark.filterwarnings("ignore:.*multi-threaded, use of fork.*:DeprecationWarning")
@pytest.mark.parametrize("how", ["fork", "spawn"])
def test_other_processes_come_to_the_same(how):
    if how not in multiprocessing.get_all_start_methods() or (how == "fork" and sys.platform == "darwin"):
        pytest.skip(f"no {how} here")
    expected = answers()  # before the fork: threads of a batch have run and ended
    with multiprocessing.get_context(how).Pool(2) as pool:
        assert pool.map_async(answers, [0.3, 0.3]).get(timeout=120) == [expected, expected]


def test_sixteen_threads_come_to_the_same():
    speeds = np.linspace(0.1, 1.0, 16)
    expected = [answers(speed) for speed in speeds]
    with ThreadPoolExecutor(16) as pool:
        for _ in range(3):
            assert list(pool.map(answers, speeds)) == expected


def resident() -> float:
    """Return the memory of this process [MiB]."""
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS")) / 1024


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory is read from Linux")
@pytest.mark.parametrize("door", ["simulate", "batch"])
def test_memory_stays_flat(door):
    """Two thousand sprays after as many that filled the caches; a kibibyte lost by each would be 2 MiB.

    `tools/soak.py` follows millions of them.
    """
    coarse = ws.Scenario({"droplets.bins": 4, "numerics.tolerance": 1e-3})
    random = np.random.default_rng(1)

    def spray(count: int) -> None:
        speeds = random.uniform(0.1, 1.0, count)
        if door == "simulate":
            for speed in speeds:
                ws.simulate(coarse.in_si({"air.speed": speed}))
        else:
            for piece in speeds.reshape(10, -1):
                ws.batch(coarse, {"air.speed": piece}, threads=2)

    spray(2000)
    before = resident()
    spray(2000)
    assert resident() - before < 2.0
