"""The same answers in a forked process, in a spawned one, and in sixteen threads at once."""

from __future__ import annotations

import multiprocessing
import sys
from concurrent.futures import ThreadPoolExecutor

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
