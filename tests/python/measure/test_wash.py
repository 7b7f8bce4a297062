"""Washed deposits: the posterior covers the truth, glass tells the loss, bad tables are refused.

Simulated experiments are invented; that 500 of them are met as well is in docs/science/measuring.md.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import wetspan as ws
from refusal import refused
from wetspan import _core, measure
from wetspan.command_line import main
from wetspan.measure.invented import invent_wash
from wetspan.measure.wash import KEYS, ResidueModel, washes_of

SCENARIO = ws.Scenario(title="a made-up bench")
HOURS = (1.0, 24.0, 72.0, 168.0)


def posterior(table: pd.DataFrame, model: ResidueModel):
    """The grid's weights for a table, without what reading adds."""
    return model.posterior(washes_of(SCENARIO, table))


@pytest.fixture(scope="module")
def model():
    return ResidueModel(SCENARIO)


@pytest.fixture(scope="module")
def experiments(model):
    found = []
    for seed in range(50):
        invented = invent_wash(SCENARIO, seed=seed, hours=HOURS, glass=6)
        found.append((invented, posterior(invented.table, model)))
    return found


@pytest.mark.parametrize(("level", "least", "most"), [(0.80, 0.70, 0.91), (0.95, 0.88, 1.0)])
def test_intervals_cover_what_they_say(experiments, model, level, least, most):
    tails = np.array([(1 - level) / 2, (1 + level) / 2])
    met = []
    for invented, weights in experiments:
        for place, key in enumerate(KEYS):
            low, high = np.exp(model.quantiles(weights, place, tails))
            met.append(low <= invented.truth[key] <= high)
    assert least <= np.mean(met) <= most


def test_the_planned_precision_is_met_within_a_fifth(model):
    plan = measure.plan_wash(SCENARIO, washes=8)
    reach = [
        1.96
        * np.sqrt(
            model.moments(
                posterior(
                    invent_wash(SCENARIO, washes=8, glass=8, hours=HOURS, seed=seed, center=True).table, model
                )
            )[1][0, 0]
        )
        for seed in range(30)
    ]
    assert np.mean(reach) == pytest.approx(plan.precision, rel=0.2)


def test_glass_beside_the_leaves_makes_the_mobile_share_better_known():
    with_glass, without = (measure.plan_wash(SCENARIO, washes=8, glass=each) for each in (True, False))
    assert with_glass.precision < without.precision < without.before


def test_what_is_left_is_the_law_of_the_library(model):
    # one deposit by hand: mobile and locked part decay each at its own rate, at 20 degC
    scenario = SCENARIO.replace({"air.temperature": "20 degC", "uptake.wax_capacity": "1e5 mg/m^2"})
    own = ResidueModel(scenario)
    hours = np.array([1.0, 30.0, 100.0])
    share, rate, loss = (scenario[key] for key in KEYS)
    left = own.left(own.center, 3600 * hours, False, False)[0]
    by_hand = share * np.exp(-rate * 3600 * hours) + (1 - share) * np.exp(-loss * 3600 * hours)
    assert left == pytest.approx(by_hand, rel=1e-4)
    on_glass = own.left(own.center, 3600 * hours, False, True)[0]
    assert on_glass == pytest.approx(np.exp(-loss * 3600 * hours), rel=1e-9)


def test_a_re_wetting_lets_more_of_the_residue_enter():
    wetted = SCENARIO.replace({"rewetting.volume_rate": "0.02 L/m^2", "rewetting.delay": "12 hour"})
    own = ResidueModel(wetted)
    times = 3600 * np.array([6.0, 24.0, 96.0])
    dry, again = (own.left(own.center, times, each, False)[0] for each in (False, True))
    assert again[0] == pytest.approx(dry[0])
    assert (again[1:] < dry[1:]).all()
    # the wet minutes of the re-wetting count: a liquid that dries more slowly lets more enter
    args = (wetted._core, [0.1], [1e-6], [1e-9], 1e-6, 293.0, [0.0, 43200.0, 90000.0], 43200.0, 2e-5)
    quick, slow = (_core.deposit_left(*args, wet_time) for wet_time in (60.0, 36000.0))
    assert slow[0, :2] == pytest.approx(quick[0, :2])
    assert slow[0, 2] < quick[0, 2]
    refused(lambda: _core.deposit_left(*args[:-1], 2e-5, 0.0), "wet time of a re-wetting = 0 must be above 0")
    with pytest.raises(ws.InputError):
        _core.deposit_left(SCENARIO._core, [0.1], [1e-6, 1e-6], [1e-7], 1e-6, 293.0, times)


def test_the_reading_says_what_wet_minutes_are_worth():
    invented = invent_wash(SCENARIO, seed=4, hours=HOURS, glass=4)
    result = measure.read_wash(SCENARIO, invented.table)
    assert "What wet minutes are worth" in result.text
    gain = result.worth.set_index(["when", "at"])["gain"]
    assert abs(gain["after", "high"] - gain["after", "low"]) <= abs(
        gain["before", "high"] - gain["before", "low"]
    )
    assert result.weights.sum() == pytest.approx(1.0)
    found = measure.calibrate(SCENARIO, result)
    assert found.learned.keys == KEYS
    # washing that loses half of what is there at one time is no course of this law
    odd = invented.table.copy()
    odd.loc[odd["time [hour]"] == 24.0, "washed [ug]"] = [
        f"{float(each) / 4:.3f}" for each in odd.loc[odd["time [hour]"] == 24.0, "washed [ug]"]
    ]
    assert any("do not follow" in line for line in measure.read_wash(SCENARIO, odd).warnings)


def test_bad_tables_are_refused_in_one_line(tmp_path):
    table = invent_wash(SCENARIO, seed=1).table.astype(object)
    path = tmp_path / "wash.csv"

    def read(told: pd.DataFrame):
        told.to_csv(path, index=False)
        return lambda: measure.read_wash(SCENARIO, path)

    def changed(column: str, value: object) -> pd.DataFrame:
        told = table.copy()
        told.loc[3, column] = value
        return told

    refused(read(changed("washed [ug]", "0.07 mg")), "line 5", "units are mixed")
    refused(read(changed("washed [ug]", "-3")), "line 5", "outside")
    refused(read(changed("washed [ug]", "0")), "line 5", "laboratory's limit")
    refused(read(changed("pot", table.loc[0, "pot"])), "line 5", "was washed before")
    refused(read(changed("time [hour]", "")), "line 5", "time is blank")
    refused(read(table[table["time [hour]"] == 1.0]), "one time only")
    refused(read(table.assign(rewetted="yes")), "rewetting.volume_rate")


def test_amounts_in_another_unit_or_with_a_slip_are_remarked_on():
    """Amounts count beside each other, so that mg for ug changed nothing and was not told."""
    table = invent_wash(SCENARIO, seed=2).table.astype({"washed [ug]": float})
    assert not any("washed off a pot" in each for each in measure.read_wash(SCENARIO, table).warnings)
    other = measure.read_wash(SCENARIO, table.rename(columns={"washed [ug]": "washed [mg]"}))
    assert any("is the unit of washed right?" in each for each in other.warnings)
    slipped = table.copy()
    slipped.loc[3, "washed [ug]"] *= 100.0
    told = measure.read_wash(SCENARIO, slipped).warnings
    assert any("one pot gave 5 times as much or as little" in each for each in told)
    same = table.assign(**{"washed [ug]": 5.0})
    refused(lambda: measure.read_wash(SCENARIO, same), "without spread nothing is told")
    for level in ("95 %", None, "x", True):
        refused(
            lambda level=level: measure.read_wash(SCENARIO, table, level=level), "a share between 0 and 1"
        )


def test_true_and_false_are_yes_and_no():
    again = SCENARIO.replace({"rewetting.volume_rate": "0.3 L/m^2", "rewetting.delay": "24 hour"})
    table = invent_wash(again, seed=2).table
    words = measure.read_wash(again, table.assign(rewetted="yes"))
    truths = measure.read_wash(again, table.assign(rewetted=True))
    assert words.inputs.equals(truths.inputs)


def test_the_command_says_gloves_first(tmp_path, capsys):
    SCENARIO.save(tmp_path / "bench.toml")
    bench = str(tmp_path / "bench.toml")
    assert main(["measure", "plan", "wash", bench, "--number", "6", "--sheet", str(tmp_path / "s.html")]) == 0
    said = capsys.readouterr().out
    assert said.index("gloves") < said.index("The question")
    assert "re-entry" in said
    assert "glass" in (tmp_path / "s.html").read_text()
    invent_wash(SCENARIO, seed=2).table.to_csv(tmp_path / "wash.csv", index=False)
    assert (
        main(
            [
                "measure",
                "read",
                "wash",
                bench,
                str(tmp_path / "wash.csv"),
                "--picture",
                str(tmp_path / "w.png"),
            ]
        )
        == 0
    )
    assert (tmp_path / "w.png").read_bytes().startswith(b"\x89PNG")
