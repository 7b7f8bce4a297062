"""Dunnett's test, Fieller's limits, the trend and the power against tables, SciPy and simulation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import brentq
from wetspan.trials import compare
from wetspan.trials.compare import (
    against_check,
    dunnett_critical,
    dunnett_p,
    dunnett_power,
    fieller,
    many_to_one_correlation,
    trend_contrast,
    trend_power,
)


def test_critical_values_are_those_of_the_published_tables(published):
    for row in published("Dunnett two-sided critical value"):
        k = int(row.inputs["treatments"])
        found = dunnett_critical(
            many_to_one_correlation(10, [10] * k), int(row.inputs["df"]), row.inputs["alpha"]
        )
        assert row.holds(found), row


def test_adjusted_p_values_are_scipys_also_with_unequal_numbers():
    random = np.random.default_rng(5)
    check = random.normal(20, 2, 14)
    groups = [random.normal(mean, 2, n) for mean, n in ((19.5, 6), (18.5, 9), (17, 11))]
    scipy = stats.dunnett(*groups, control=check, rng=np.random.default_rng(1))
    df = 14 + 6 + 9 + 11 - 4
    p = dunnett_p(scipy.statistic, many_to_one_correlation(14, [6, 9, 11]), df)
    assert p == pytest.approx(scipy.pvalue, abs=2e-4)


def test_p_value_at_the_critical_value_is_alpha():
    for k, n0, n, df in ((1, 5, 5, 8), (3, 12, 7, 29), (8, 28, 10, 99)):
        correlation = many_to_one_correlation(n0, [n] * k)
        critical = dunnett_critical(correlation, df, 0.05)
        assert dunnett_p([critical] * k, correlation, df) == pytest.approx([0.05] * k, abs=2e-4)


def test_tiny_p_values_stay_within_their_bounds():
    single = 2 * stats.t.sf(12.0, 40)
    (p, other) = dunnett_p([12.0, 0.0], many_to_one_correlation(10, [10, 10]), 40)
    assert single <= p <= 2 * single
    assert other == pytest.approx(1.0, abs=1e-6)


def test_fieller_limits_are_the_ratios_that_a_t_test_just_rejects():
    n, d, t = 17.0, 21.0, 2.1
    v = np.array([[0.9, 0.2], [0.2, 0.6]])

    def excess(ratio: float) -> float:
        contrast = np.array([1.0, -ratio])
        return float(abs(contrast @ [n, d]) - t * np.sqrt(contrast @ v @ contrast))

    expected = brentq(excess, 0.1, n / d), brentq(excess, n / d, 3.0)
    assert fieller(n, d, v, t) == pytest.approx(expected, rel=1e-9)


def test_fieller_gives_no_limits_when_the_check_is_not_shown_to_differ_from_zero():
    assert fieller(1.0, 1.0, np.eye(2), 2.0) == (-np.inf, np.inf)


def test_published_poinsettia_control_and_its_interval(published):
    """Two published means with 95 % half widths: 18 % control, and an interval that excludes no control."""
    check, treated = published("poinsettia stem length with chlormequat")
    t = stats.norm.isf(0.025)
    variance = np.diag([(treated.tolerance / t) ** 2, (check.tolerance / t) ** 2])
    low, high = fieller(treated.value, check.value, variance, t)
    assert 1 - treated.value / check.value == pytest.approx(0.183, abs=5e-4)
    assert 0.10 < 1 - high < 0.183 < 1 - low < 0.27


def test_intervals_cover_the_truth_as_often_as_they_say(monkeypatch):
    """1000 trials of a check and three treatments, unequal numbers: Fieller one by one, Dunnett together."""
    monkeypatch.setattr(
        compare, "dunnett_p", lambda t, *_: np.ones(len(t))
    )  # slow, and no part of the intervals
    random = np.random.default_rng(20)
    numbers, means, sigma = np.array([12, 8, 8, 6]), np.array([25.0, 22.0, 18.0, 25.0]), 2.5
    group = np.repeat(np.arange(4), numbers)
    df = len(group) - 4
    trials = random.normal(means[group], sigma, (1000, len(group)))
    true_control, true_difference = 1 - means / means[0], means - means[0]
    one_by_one, together = np.zeros(3), 0
    for heights in trials:
        found = np.array([heights[group == i].mean() for i in range(4)])
        s2 = sum(((heights[group == i] - found[i]) ** 2).sum() for i in range(4)) / df
        table = against_check(["0", "A", "B", "C"], found, np.diag(s2 / numbers), df, 0.95).iloc[1:]
        one_by_one += (table["control_lower"] < true_control[1:]) & (
            true_control[1:] < table["control_upper"]
        )
        inside = (table["difference_lower"] < true_difference[1:]) & (
            true_difference[1:] < table["difference_upper"]
        )
        together += bool(inside.all())
    assert (np.abs(one_by_one / 1000 - 0.95) <= 0.02).all(), one_by_one
    assert 930 <= together <= 970, together


def test_trend_contrast_sums_to_zero_and_rises_in_equal_steps():
    contrast = trend_contrast(4)
    assert contrast.sum() == 0
    assert np.diff(contrast) == pytest.approx(np.ones(4))


@pytest.mark.parametrize(("plants", "check_plants", "treatments"), [(9, 9, 3), (10, 20, 4), (5, 5, 1)])
def test_dunnett_power_is_reached_in_simulated_trials(plants, check_plants, treatments):
    random = np.random.default_rng(3)
    difference, cv, trials = 0.15, 0.1, 20_000
    df = plants * treatments + check_plants - treatments - 1
    check = 1 + cv * random.standard_normal((trials, check_plants))
    others = 1 + cv * random.standard_normal((trials, treatments, plants))
    others[:, 0] -= difference  # one treatment acts, the rest do nothing
    squares = check.var(axis=1) * check_plants + (others.var(axis=2) * plants).sum(axis=1)
    t = (others[:, 0].mean(axis=1) - check.mean(axis=1)) / np.sqrt(
        squares / df * (1 / plants + 1 / check_plants)
    )
    critical = dunnett_critical(many_to_one_correlation(check_plants, [plants] * treatments), df)
    promised = dunnett_power(difference, cv, plants, check_plants, treatments, df)
    assert np.mean(np.abs(t) > critical) == pytest.approx(promised, abs=0.011)  # 3 standard errors


def test_power_without_a_difference_is_the_error_rate_of_one_comparison():
    assert dunnett_power(1e-12, 0.1, 12, 12, 1, 22) == pytest.approx(0.05, abs=1e-6)
    assert trend_power(1e-12, 0.1, 12, 12, 4, 55) == pytest.approx(0.05, abs=1e-6)


def test_power_does_not_break_where_the_difference_is_huge():
    for power in (dunnett_power, trend_power):
        found = [power(difference, 0.05, 20, 20, 3, 76) for difference in (0.1, 0.3, 0.6, 0.9)]
        assert found[0] < 1
        assert found[1:] == pytest.approx([1, 1, 1], abs=1e-9)
