"""A small run of tools/study_statistics.py: calibration, coverage and power against simulation.

The bounds are wide, as few trials need: 40 benches do not tell 90 from 95 %. Limits of a wrong level or
width are found by tests/python/trials (a thousand trials, SciPy's, the exact posterior). The tool's larger
run stands in docs/science/trials.md and calibration.md.
"""

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from wetspan.trials import compare

TOOL = Path(__file__).parents[3] / "tools" / "study_statistics.py"
spec = importlib.util.spec_from_file_location("study_statistics", TOOL)
study = importlib.util.module_from_spec(spec)
spec.loader.exec_module(study)


@pytest.fixture(autouse=True)
def fast(monkeypatch):
    """No p values, which are slow and have no part here."""
    monkeypatch.setattr(compare, "dunnett_p", lambda t, *_: np.ones(len(t)))


def test_the_truth_ranks_anywhere_among_calibrated_draws():
    found = study.ranks(crops=16, seed=7)
    assert found.shape == (16, 2)
    for of in found.T:
        _, p = study.uniformity(of, cells=4)
        assert p > 1e-3


def test_ranks_of_draws_that_are_too_narrow_or_off_are_found_out():
    random = np.random.default_rng(1)
    narrow = np.minimum(99, (stats.norm.cdf(2 * random.standard_normal(300)) * 100).astype(int))
    off = np.minimum(99, (stats.norm.cdf(random.standard_normal(300) + 1) * 100).astype(int))
    even = random.integers(0, 100, 300)
    assert study.uniformity(narrow, cells=4)[1] < 1e-3
    assert study.uniformity(off, cells=4)[1] < 1e-3
    assert study.uniformity(even, cells=4)[1] > 1e-3


@pytest.mark.parametrize("name", ["randomised", "blocked, more check"])
def test_limits_hold_the_truth_about_as_often_as_they_say(name):
    hits = study.coverage(study.LAYOUTS[name], benches=40, seed=5)
    for level, row in hits.iterrows():
        for hit in row:
            assert stats.binomtest(hit, 40, level).pvalue > 1e-3


@pytest.mark.parametrize("name", study.LAYOUTS)
def test_power_is_as_promised(name):
    promised, simulated = study.power(study.LAYOUTS[name], 4000, seed=2, cv=0.1, difference=0.15)
    assert simulated == pytest.approx(promised, abs=0.02)  # 3 standard errors
