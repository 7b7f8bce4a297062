"""Re-wetting: the time of day it comes at, what it gains with its range, and what it costs."""

import pickle
from datetime import time

import numpy as np
import pandas as pd
import pytest
import wetspan as ws
from refusal import refused
from wetspan import report
from wetspan.rewetting import delays_at, without_rewetting

AGAIN = {"rewetting.volume_rate": "0.5 qt / (100 ft^2)"}
SPRAY = ws.Scenario(AGAIN)
AT_SEVEN = SPRAY.replace({"rewetting.at": "07:00"})


def after(weather, moment, scenario=AT_SEVEN):
    (delay,) = delays_at(scenario, weather, pd.DatetimeIndex([weather.local(moment)]))
    return delay / 3600


def test_it_is_the_next_such_time_after_the_spray(piedmont):
    assert after(piedmont, "2026-05-16T15:00") == 16.0
    assert after(piedmont, "2026-05-16T06:00") == 1.0
    assert after(piedmont, "2026-05-16T07:00") == 24.0
    assert after(piedmont, "2026-05-16T23:30", AT_SEVEN.replace({"rewetting.at": "00:15"})) == 0.75
    assert delays_at(SPRAY, piedmont, pd.DatetimeIndex([])) is None


def test_the_night_in_which_clocks_change_is_shorter(piedmont):
    rows = piedmont.between("2026-03-06", "2026-03-10")
    own = ws.Weather.from_dataframe(
        rows.tz_convert("America/New_York"),
        label="instant",
        time_zone="America/New_York",
        columns={name: name for name in rows},
        units={
            "temperature": "K",
            "relative_humidity": "1",
            "pressure": "Pa",
            "wind_speed": "m/s",
            "shortwave": "W/m2",
        },
    )
    assert after(own, "2026-03-06T15:00") == 16.0
    assert after(own, "2026-03-07T15:00") == 15.0  # 8 March 2026: clocks go from 02:00 to 03:00


def test_a_time_of_day_is_that_interval(piedmont):
    at = ws.simulate(AT_SEVEN, piedmont, "2026-05-16T15:00")
    interval = SPRAY.replace({"rewetting.delay": "16 hour"})
    assert at.growth_control == ws.simulate(interval, piedmont, "2026-05-16T15:00").growth_control
    assert at.scenario["rewetting.delay"] == 16 * 3600
    # a day, a batch and a season meet the same water
    day = ws.compare_times(AT_SEVEN, piedmont, "2026-05-16T13:00", "2026-05-16T15:00", "2h")
    assert float(day["growth_control"][1]) == at.growth_control
    rows = ws.batch(AT_SEVEN, {"time": ["2026-05-16T13:00", "2026-05-16T15:00"]}, piedmont)
    assert rows["growth_control"].values.tolist() == day["growth_control"].values.tolist()
    assert rows["rewetting.delay"].values.tolist() == [18 * 3600, 16 * 3600]
    found = ws.season(AT_SEVEN, piedmont, "2026-05-16", "2026-05-16", [13, 15])
    assert found["growth_control"].values.ravel().tolist() == day["growth_control"].values.tolist()


def test_without_a_time_of_spraying_it_is_refused():
    refused(lambda: ws.simulate(AT_SEVEN), "rewetting.at = '07:00'", "wants weather", "rewetting.delay")
    refused(lambda: ws.batch(AT_SEVEN, {"air.speed": [0.1]}), "wants weather")
    refused(lambda: ws.uncertainty(AT_SEVEN, 4), "wants weather")
    # what flies and lands before it does not mind
    assert ws.deposit(AT_SEVEN) is not None


def test_a_scenario_keeps_its_time_of_day(tmp_path):
    path = tmp_path / "again.toml"
    AT_SEVEN.save(path)
    assert 'at = "07:00"' in path.read_text(encoding="utf-8")
    for same in (
        ws.load(path),
        pickle.loads(pickle.dumps(AT_SEVEN)),
        eval(repr(AT_SEVEN), {"Scenario": ws.Scenario}),
    ):
        assert same == AT_SEVEN
        assert same.rewetting_at == time(7)
    assert AT_SEVEN != SPRAY
    assert hash(AT_SEVEN) != hash(SPRAY)
    assert AT_SEVEN.replace({"air.speed": 0.1}).rewetting_at == time(7)
    for none in ({"rewetting.delay": "18 hour"}, {"rewetting.at": None}):
        assert AT_SEVEN.replace(none) == SPRAY
    both = {"rewetting.at": "07:00", "rewetting.delay": "18 hour"}
    refused(lambda: ws.Scenario(both), "two ways to say when")
    refused(lambda: ws.Scenario({"rewetting.at": "7 am"}), "rewetting.at", "'7 am' is not a time of day")
    refused(lambda: ws.Scenario({"rewetting.at": "25:00"}), "not a time of day")
    path.write_text("[rewetting]\nat = 7\n", encoding="utf-8")
    refused(lambda: ws.load(path), "line 2", "rewetting.at", "not a time of day")


def test_a_calendar_is_wetted_at_one_time_of_day(piedmont):
    def sprays(second):
        return AT_SEVEN.replace(applications=[{"at": "0 day"}, {"at": second}])

    each = ws.simulate(sprays("7 day"), piedmont, "2026-05-16T15:00")
    apart = SPRAY.replace({"rewetting.delay": "16 hour"}, applications=[{"at": "0 day"}, {"at": "7 day"}])
    assert each.growth_control == ws.simulate(apart, piedmont, "2026-05-16T15:00").growth_control
    refused(lambda: ws.simulate(sprays("7.5 day"), piedmont, "2026-05-16T15:00"), "its own rewetting.delay")
    assert without_rewetting(sprays("7 day"))["rewetting.volume_rate"] == 0.0


def test_the_gain_is_with_over_without_at_both_ends(piedmont):
    when = (piedmont, "2026-05-16T15:00")
    outcome = ws.simulate(AT_SEVEN, *when)
    told = ws.rewetting_gain(outcome)
    plain = ws.Scenario()
    assert told.control == outcome.growth_control
    assert told.control_without == ws.simulate(plain, *when).growth_control
    assert told.gain == pytest.approx(told.control / told.control_without - 1.0)
    for end, without, gain in zip(
        ws.residue_ends(AT_SEVEN), ws.residue_ends(plain), (told.gain_locked, told.gain_mobile), strict=True
    ):
        ratio = ws.simulate(end, *when).growth_control / ws.simulate(without, *when).growth_control
        assert gain == pytest.approx(ratio - 1.0, rel=1e-12)
    # common practice, no source: about a tenth of the control
    assert 0.05 < told.gain < 0.2
    assert told.water == pytest.approx(0.5 * 0.946352946e-3 / (100 * 0.3048**2))
    assert told.wet_time == outcome.rewet_time > 600.0
    text = str(told)
    for part in (
        f"{100 * told.gain:+.0f} % of it",
        f"{100 * told.gain_locked:+.0f} % if uptake stops",
        "of water",
    ):
        assert part in text
    refused(lambda: ws.rewetting_gain(ws.simulate(plain)), "no re-wetting")


def test_a_day_tells_what_the_water_gains(piedmont):
    day = ws.compare_times(AT_SEVEN, piedmont, "2026-05-16T09:00", "2026-05-16T15:00", "3h")
    plain = ws.compare_times(ws.Scenario(), piedmont, "2026-05-16T09:00", "2026-05-16T15:00", "3h")
    assert (day["control_without_rewetting"].values == plain["growth_control"].values).all()
    ends = "control_without_rewetting_at_ends"
    assert day[ends].values == pytest.approx(plain["growth_control_at_ends"].values, rel=1e-12)
    told = ws.advice(day)
    assert "of water at 07:00" in told
    best = int(day["growth_control"].values.argmax())
    gain = float(day["growth_control"][best] / day["control_without_rewetting"][best]) - 1.0
    assert f"{100 * gain:+.0f} % of it" in told
    assert "control_without_rewetting" not in plain


def test_a_season_tells_what_the_water_gains(piedmont):
    found = ws.season(AT_SEVEN, piedmont, "2026-05-15", "2026-05-16", [7, 15])
    now = found.isel(site=0).sel(clock="15:00", day_at_ends="2026-05-16")
    gains = now["growth_control_at_ends"] / now["control_without_rewetting_at_ends"] - 1.0
    told = ws.rewetting_gain(ws.simulate(AT_SEVEN, piedmont, "2026-05-16T15:00"))
    assert gains.values == pytest.approx([told.gain_locked, told.gain_mobile], rel=1e-9)
    windows, shares = ws.best_windows(found), ws.share_below(found, "20 min")
    ratio = (found["growth_control_at_ends"] / found["control_without_rewetting_at_ends"]).isel(site=0)
    middle = ratio.sel(clock="15:00").median("day_at_ends").values - 1.0
    answers, unsure = report.season_advised(found, shares, windows)
    text = " ".join([*answers, *unsure])
    assert f"A re-wetting of {found.attrs['rewetting']} changes the growth control of sprays at 15:00" in text
    assert f"by {100 * middle[0]:+.0f} % of it if uptake stops" in text
    assert "control_without_rewetting_at_ends" not in ws.season(
        SPRAY.replace({"rewetting.volume_rate": 0.0}), piedmont, "2026-05-16", "2026-05-16", [15]
    )


def test_times_of_re_wetting_compare(piedmont):
    clocks = ["18:00", "06:00", time(9)]
    found = ws.compare_rewettings(SPRAY, piedmont, "2026-05-16T15:00", clocks)
    assert found["clock"].values.tolist() == ["18:00", "06:00", "09:00"]
    assert (found["delay"].values / 3600).tolist() == [3.0, 15.0, 18.0]
    alone = ws.simulate(SPRAY.replace({"rewetting.at": "06:00"}), piedmont, "2026-05-16T15:00")
    assert float(found["growth_control"][1]) == alone.growth_control
    without = found.attrs["growth_control_without"]
    assert found["gain"].values == pytest.approx(found["growth_control"].values / without - 1.0)
    assert found["gain_at_ends"].dims == ("residue", "clock")
    assert np.isfinite(found["gain_at_ends"]).all()
    refused(lambda: ws.compare_rewettings(SPRAY, piedmont, "2026-05-16T15:00", []), "give times of day")
    refused(
        lambda: ws.compare_rewettings(ws.Scenario(), piedmont, "2026-05-16T15:00", ["06:00"]), "no re-wetting"
    )
