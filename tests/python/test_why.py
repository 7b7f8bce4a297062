"""Why: the ways the substance came, and the levers, each against a simulation of its own."""

import pytest
import wetspan as ws

SPRAY = ws.Scenario(numerics={"tolerance": 1e-4}, droplets={"bins": 6})


def test_shares_are_those_of_the_outcome() -> None:
    outcome = ws.simulate(SPRAY)
    told = ws.why(outcome)
    assert sum(told.through.values()) == pytest.approx(1.0, abs=1e-12)
    root = float(outcome.at_tips.sel(site="root") / outcome.at_tips.sum())
    assert told.through["root"] == pytest.approx(root)
    assert f"{100 * root:.0f} % through root" in str(told)


def test_levers_are_simulations_and_the_largest_comes_first() -> None:
    outcome = ws.simulate(SPRAY)
    told = ws.why(outcome, most=20)
    gains = [abs(lever.gain) for lever in told.levers]
    assert gains == sorted(gains, reverse=True)
    stronger = ws.simulate(
        SPRAY.replace({"application.concentration": 1.25 * SPRAY["application.concentration"]})
    )
    lever = next(lever for lever in told.levers if lever.change == "a quarter more substance in the liquid")
    assert lever.control == stronger.growth_control
    assert lever.gain == pytest.approx(stronger.growth_control - outcome.growth_control, abs=1e-15)
    assert lever.gain > 0.0


def test_levers_that_change_nothing_are_left_out() -> None:
    told = ws.why(ws.simulate(SPRAY), most=20)
    assert told.levers
    assert not any(f"{100 * abs(lever.gain):.1f}" == "0.0" for lever in told.levers)
    water = ws.why(ws.simulate(SPRAY.replace({"application.concentration": 0.0})))
    assert water.levers == ()


def test_advice_on_doses_carries_its_cautions() -> None:
    text = str(ws.why(ws.simulate(SPRAY)))
    assert "more substance" in text
    assert text.endswith(f"\n{ws.CAUTIONS}")


def test_a_drench_is_not_told_to_change_its_droplets() -> None:
    drench = SPRAY.replace({"application.method": "drench", "application.volume_rate": "5 L/m^2"})
    changes = [lever.change for lever in ws.why(ws.simulate(drench), most=20).levers]
    assert changes
    assert not any("droplets" in change or "drench" in change for change in changes)


def test_heights_end_at_the_growth_control() -> None:
    outcome = ws.simulate(SPRAY)
    heights = outcome.heights
    ratio = float(heights["treated"][-1] / heights["untreated"][-1])
    assert 1.0 - ratio == pytest.approx(outcome.growth_control, abs=1e-6)
    assert (heights["treated"] <= heights["untreated"] + 1e-12).all()
    assert heights["treated"].attrs["units"] == "m"


def test_levers_are_tried_in_the_weeks_of_the_outcome(piedmont):
    day = ws.simulate(SPRAY, piedmont, "2026-05-16T10:00")
    assert day.weeks.size > 0
    assert ws.why(day).control == pytest.approx(day.growth_control, rel=1e-4)
    assert abs(day.growth_control - ws.why(ws.simulate(SPRAY)).control) > 1e-3
