"""What an outcome's spread rests on: shares by evidence against known ones, and what is said of them."""

import numpy as np
import pytest
import wetspan as ws
from scipy.stats import rankdata
from wetspan.command_line import main
from wetspan.evidence import KINDS, about_evidence, by_evidence, kind_of


def normal(*shape):
    return np.random.default_rng(3).normal(size=shape)


def standardised(columns):
    ranks = rankdata(columns, axis=0)
    ranks -= ranks.mean(axis=0)
    return ranks / np.linalg.norm(ranks, axis=0)


def shares(inputs, outcome, kinds):
    found = by_evidence(standardised(inputs), standardised(outcome)[:, None], kinds)[:, 0]
    return dict(zip([*KINDS, "together"], found, strict=True))


def test_shares_are_those_of_a_linear_model():
    # variances 9 : 4 : 1 of independent normal inputs; 60 more that do nothing must not gather chance
    inputs = normal(4000, 63)
    outcome = inputs[:, :3] @ [3.0, 2.0, 1.0]
    told = shares(inputs, outcome, ["D", "A, another", "A, this", *["D"] * 30, *["B"] * 30])
    assert told["D"] == pytest.approx(9 / 14, abs=0.03)
    assert told["A, another"] == pytest.approx(4 / 14, abs=0.03)
    assert told["A, this"] == pytest.approx(1 / 14, abs=0.03)
    assert told["B"] == pytest.approx(0.0, abs=0.01)
    assert told["C"] == 0.0
    assert sum(told.values()) == pytest.approx(1.0, abs=1e-12)


def test_what_two_inputs_do_together_is_left_over():
    inputs = normal(2000, 2)
    told = shares(inputs, inputs[:, 0] * inputs[:, 1], ["D", "B"])
    assert told["together"] > 0.95


def test_inputs_that_are_tied_share_what_they_explain():
    # the same number under two grades: half each, where squared correlations would say all, twice
    one = normal(800, 1)
    told = shares(np.hstack([one, one]), one[:, 0], ["C", "D"])
    assert told["C"] == pytest.approx(0.5, abs=0.01)
    assert told["D"] == pytest.approx(0.5, abs=0.01)


def test_few_draws_tell_nothing():
    inputs = normal(100, 40)
    assert np.isnan(list(shares(inputs, inputs[:, 0], ["D"] * 40).values())).all()


def test_every_input_has_a_kind():
    table = ws.parameters().query("spread > 1")
    assert {kind_of(*each) for each in zip(table["grade"], table["measured_on"], strict=True)} == set(KINDS)


@pytest.fixture(scope="module")
def study():
    quick = ws.Scenario(droplets={"bins": 6})
    return ws.uncertainty(quick, 400, 2)


def test_uncertainty_counts_by_evidence(study):
    told = study["growth_control_by_evidence"]
    assert float(told.sum("evidence")) == pytest.approx(1.0, abs=1e-12)
    assert float(told.sel(evidence="D")) > 0.4  # most is assumed
    assert study["uptake_by_evidence"].dims == ("evidence", "site")
    # wetting and evaporation rest on formulas and assumptions, no calibration reaches them
    assert abs(float(study["wet_time_by_evidence"].sel(evidence="C"))) < 0.03
    share = f"{100 * float(told.sel(evidence='D')):.0f} % from inputs assumed (D)"
    assert share in study.attrs["by_evidence"]
    assert study.attrs["by_evidence"] == about_evidence(told, "growth control")


def test_the_command_prints_grades_and_what_they_were_measured_on(capsys, tmp_path):
    path = tmp_path / "quick.toml"
    ws.Scenario(droplets={"bins": 6}).save(path)
    assert main(["uncertainty", str(path), "--samples", "260"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "measured on" in out
    assert "from inputs measured on another substance or crop (A)" in out
    assert ws.CAUTIONS.split(";")[0] in out
    assert main(["uncertainty", str(path), "--samples", "8"]) == 0
    assert "wants more draws" in " ".join(capsys.readouterr().out.split())
