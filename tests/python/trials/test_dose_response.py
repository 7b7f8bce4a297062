"""The log-logistic fit against R's drc, SciPy's curve_fit, published quadratics and known truth."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from scipy.optimize import curve_fit
from wetspan.errors import InputError
from wetspan.trials import fit_log_logistic, log_logistic

RATES = np.repeat([0.0, 5.0, 10.0, 20.0, 40.0, 80.0], 8)


@pytest.fixture(scope="module")
def ryegrass(raw):
    table = pd.read_csv(raw("ryegrass"), comment="#")
    return table["conc"].to_numpy(), table["rootl"].to_numpy()


def hessian(function, at, step=1e-4):
    """Second derivatives by central differences."""
    n = len(at)
    steps = step * np.diag(np.maximum(np.abs(at), 1e-2))
    h = np.empty((n, n))
    for i in range(n):
        for j in range(n):
            a, b = steps[i], steps[j]
            change = function(at + a + b) - function(at + a - b) - function(at - a + b) + function(at - a - b)
            h[i, j] = change / (4 * a[i] * b[j])
    return h


def test_curve_at_its_landmarks():
    assert log_logistic([0.0, 12.0], 2.0, 12.0, 4.0, 30.0) == pytest.approx([30.0, 17.0])
    assert log_logistic(12e9, 2.0, 12.0, 4.0, 30.0) == pytest.approx(4.0)


def test_ryegrass_estimates_are_those_of_drc(published, ryegrass):
    fit = fit_log_logistic(*ryegrass, parameters=4)
    for name, found in (("slope", fit.slope), ("lower", fit.lower), ("upper", fit.upper), ("half", fit.half)):
        (row,) = published(f"ryegrass four-parameter {name}")
        assert row.holds(found), name
    (row,) = published("ryegrass four-parameter residual standard error")
    assert row.holds(fit.sigma)
    assert fit.df == 20
    (row,) = published("ryegrass three-parameter residual variance")
    three = fit_log_logistic(*ryegrass, parameters=3)
    assert row.holds(three.sigma**2)
    for row in published("ryegrass effective concentration"):
        found = fit.rate_for(row.inputs["control"], of="range").rate
        assert row.holds(found)


def test_ryegrass_standard_errors_are_scipys_and_near_those_of_drc(published, ryegrass):
    """drc inverts the observed Hessian, this fit J'J as curve_fit does; they agree to 3 %."""
    rate, length = ryegrass
    fit = fit_log_logistic(rate, length, parameters=4)
    start = (fit.slope, fit.half, fit.lower, fit.upper)
    _, covariance = curve_fit(log_logistic, rate, length, p0=start)
    names = ("slope", "half", "lower", "upper")
    scipy = dict(zip(names, np.sqrt(np.diag(covariance)), strict=True))
    assert fit.standard_errors == pytest.approx(scipy, rel=1e-4)

    curvature = hessian(lambda p: ((log_logistic(rate, *p) - length) ** 2).sum() / 2, np.array(start))
    observed = np.sqrt(np.diag(np.linalg.inv(curvature)) * fit.sigma**2)
    for name, value in zip(names, observed, strict=True):
        (row,) = published(f"ryegrass standard error {name}")
        assert row.holds(value, "the observed Hessian", within=2e-3 * row.value), name
        assert row.holds(fit.standard_errors[name], "J'J", within=0.03 * row.value), name
    for row in published("ryegrass standard error of effective concentration"):
        found = fit.rate_for(row.inputs["control"], of="range")
        error = found.rate * np.log(found.upper / found.rate) / stats.t.isf(0.025, fit.df)
        assert row.holds(error, within=0.03 * row.value)


def test_curve_and_rate_are_each_others_inverse(ryegrass):
    for parameters in (3, 4):
        fit = fit_log_logistic(*ryegrass, parameters=parameters)
        for control in (0.1, 0.25, 0.6):
            found = fit.rate_for(control)
            assert fit.control(found.rate) == pytest.approx(control, rel=1e-10)
            assert found.lower < found.rate < found.upper


def test_both_meanings_of_control_agree_when_the_lower_limit_is_zero(ryegrass):
    fit = fit_log_logistic(*ryegrass, parameters=3)
    assert fit.rate_for(0.3).rate == pytest.approx(fit.rate_for(0.3, of="range").rate)
    assert fit.rate_for(0.3).upper == pytest.approx(fit.rate_for(0.3, of="range").upper)


@pytest.mark.parametrize(
    ("parameters", "truth"),
    [(2, (1.3, 35.0, 0.0, 28.0)), (3, (1.3, 35.0, 0.0, 28.0)), (4, (2.0, 18.0, 12.0, 28.0))],
)
def test_intervals_cover_the_truth_as_often_as_they_say(parameters, truth):
    """1000 trials with known parameters: rate, slope, upper limit and the band of the curve, all at 95 %."""
    random = np.random.default_rng(7)
    means = log_logistic(RATES, *truth)
    slope, half, lower, upper = truth
    odds = upper * 0.2 / (upper * 0.8 - lower)
    true_rate = half * odds ** (1 / slope)
    hits, trials = np.zeros(5), 1000
    for _ in range(trials):
        fit = fit_log_logistic(RATES, random.normal(means, 2.0), parameters=parameters)
        t = stats.t.isf(0.025, fit.df)
        rate, errors = fit.rate_for(0.2), fit.standard_errors
        low, high = fit.height_band(15.0)
        control_low, control_high = fit.control_band(15.0)
        mean = log_logistic(15.0, *truth)
        hits += [
            rate.lower < true_rate < rate.upper,
            abs(fit.slope - slope) < t * errors["slope"],
            abs(fit.upper - upper) < t * errors["upper"],
            low < mean < high,
            control_low < 1 - mean / upper < control_high,
        ]
    assert (np.abs(hits / trials - 0.95) <= 0.02).all(), hits


def test_known_parameters_come_back_without_noise():
    for parameters, truth in ((3, (1.4, 25.0, 0.0, 30.0)), (4, (2.5, 12.0, 9.0, 30.0))):
        fit = fit_log_logistic(RATES, log_logistic(RATES, *truth), parameters=parameters)
        assert (fit.slope, fit.half, fit.lower, fit.upper) == pytest.approx(truth, rel=1e-5, abs=1e-5)


def test_two_parameters_hold_the_check_height():
    rate = np.repeat([0.0, 10.0, 30.0], 5)
    height = log_logistic(rate, 1.2, 30.0, 0.0, 24.0) + np.tile([-0.4, -0.2, 0.0, 0.2, 0.4], 3)
    fit = fit_log_logistic(rate, height, parameters=2)
    assert (fit.upper, fit.lower) == (pytest.approx(24.0), 0.0)
    assert (fit.slope, fit.half) == pytest.approx((1.2, 30.0), rel=1e-4)
    assert fit.standard_errors["upper"] == pytest.approx(fit.sigma / np.sqrt(5), rel=0.1)
    exact = fit_log_logistic(rate, height, parameters=2, check_height=(24.0, 0.0))
    assert (exact.upper, exact.standard_errors["upper"]) == (24.0, 0.0)
    assert exact.standard_errors["half"] < fit.standard_errors["half"]


def test_bench_position_is_taken_out_of_the_curve():
    random = np.random.default_rng(2)
    block = random.permutation(np.tile(np.arange(8), 6))
    indicators = (block[:, None] == np.arange(1, 8)).astype(float)
    shift = np.linspace(-6, 6, 8)
    height = log_logistic(RATES, 1.5, 25.0, 0.0, 30.0) + shift[block] + random.normal(0, 0.3, len(RATES))
    plain = fit_log_logistic(RATES, height, parameters=3)
    fit = fit_log_logistic(RATES, height, parameters=3, position=indicators)
    assert fit.sigma == pytest.approx(0.3, rel=0.3)
    assert plain.sigma > 5 * fit.sigma
    assert fit.half == pytest.approx(25.0, rel=0.05)


def test_number_of_parameters_follows_the_data():
    noise = np.random.default_rng(4).normal(0, 0.5, len(RATES))
    falls_to_zero = fit_log_logistic(RATES, log_logistic(RATES, 1.3, 30.0, -1.0, 28.0) + noise)
    levels_off = fit_log_logistic(RATES, log_logistic(RATES, 2.0, 15.0, 14.0, 28.0) + noise)
    assert (falls_to_zero.parameters, levels_off.parameters) == (3, 4)
    few = RATES <= 10
    assert fit_log_logistic(RATES[few], (28 - 0.5 * RATES + noise)[few]).parameters == 3


def test_published_uniconazole_dips(published):
    """EC30 and EC50 of the fit near those of the published quadratic, which runs through 0, 2, 4 and 8 ppm.

    Where the quadratic's answer lies between tested rates the two curves differ by less than a fifth.
    """
    dip = np.repeat([0.0, 2.0, 4.0, 8.0], 2)
    for cultivar in ("Tara", "Boaldi"):
        quadratic = np.polynomial.Polynomial(
            [row.value for row in published(f"uniconazole dip length {cultivar}")]
        )
        fit = fit_log_logistic(dip, quadratic(dip) + np.tile([-0.1, 0.1], 4), parameters=4)
        compared = 0
        for control in (0.2, 0.3, 0.4, 0.5):
            expected = min((quadratic - (1 - control) * quadratic(0.0)).roots().real)
            found = fit.rate_for(control, unit="ppm")
            if 2 <= expected <= 8:
                assert found.rate == pytest.approx(expected, rel=0.2), (cultivar, control)
                compared += 1
            elif expected < 2:
                assert "below the rates tested" in found.text
        assert compared >= 2


def test_rates_outside_the_tested_range_are_never_given_without_a_warning(ryegrass):
    fit = fit_log_logistic(*ryegrass, parameters=4)
    inside = fit.rate_for(0.5, unit="mM")
    assert inside.inside_tested_range
    assert "interval" in inside.text
    below = fit.rate_for(0.01, unit="mM")
    assert below.rate < 0.94
    assert not below.inside_tested_range
    assert "below the rates tested (0.94 to 30 mM)" in below.text
    partly = fit.rate_for(0.05, unit="mM")
    assert partly.lower < 0.94 < partly.rate
    assert "interval reaches beyond the rates tested" in partly.text
    rate, height = RATES[RATES <= 20], log_logistic(RATES[RATES <= 20], 1.3, 35.0, 0.0, 28.0)
    above = fit_log_logistic(rate, height + np.tile([-0.3, 0.3], len(rate) // 2)).rate_for(0.6)
    assert above.rate > 20
    assert "above the rates tested" in above.text


def test_a_control_the_curve_never_reaches_has_no_rate(ryegrass):
    found = fit_log_logistic(*ryegrass, parameters=4).rate_for(0.97)
    assert np.isnan(found.rate)
    assert "levels off at 93.8 % control, but not surely: test higher rates." in found.text
    noise = np.tile([-0.5, 0.5], len(RATES) // 2)
    half_height = fit_log_logistic(RATES, log_logistic(RATES, 2.0, 15.0, 14.0, 28.0) + noise)
    assert "levels off at 50 % control." in half_height.rate_for(0.8).text


def test_no_effect_of_rate_is_said():
    height = np.random.default_rng(1).normal(25, 2, len(RATES))
    for wanted in (3, 4, "auto"):
        fit = fit_log_logistic(RATES, height, parameters=wanted)
        assert fit.effect_p > 0.05
        assert "guesses" in " ".join(fit.rate_for(0.2).warnings)


def test_lack_of_fit_is_said():
    taller_at_low_rate = np.array([20.0, 27.0, 26.0, 15.0, 9.0, 6.0])
    height = np.repeat(taller_at_low_rate, 8) + np.tile([-0.5, 0.5], 24)
    fit = fit_log_logistic(RATES, height)
    assert fit.lack_of_fit_p < 1e-6
    assert "lack of fit" in " ".join(fit.warnings)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"rate": [1.0, 2.0, 3.0]}, "no plant has rate 0"),
        ({"rate": [0.0, 5.0, 0.0]}, "two rates above zero: got 1"),
        ({"rate": [0.0, -1.0, 3.0]}, "cannot be negative"),
        ({"rate": [0.0, np.nan, 3.0]}, "finite"),
        ({"rate": [0.0, 1.0]}, "one value per plant"),
        ({"parameters": 4}, "needs 4 rates"),
        ({"parameters": 5}, "allowed are 4, 3, 2"),
        ({"parameters": 3}, "too few"),
    ],
)
def test_bad_input_is_refused(change, message):
    with pytest.raises(InputError, match=message):
        fit_log_logistic(**{"rate": [0.0, 1.0, 3.0], "height": [9.0, 7.0, 4.0]} | change)


def test_bad_control_is_refused(ryegrass):
    fit = fit_log_logistic(*ryegrass)
    with pytest.raises(InputError, match="between 0 and 1"):
        fit.rate_for(20)
    with pytest.raises(InputError, match="'check'"):
        fit.rate_for(0.2, of="lower")
