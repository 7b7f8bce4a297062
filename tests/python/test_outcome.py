"""What one spray tells: closed accounts, and arrays that say what they hold."""

import pickle
from dataclasses import fields

import numpy as np
import pytest
import wetspan as ws
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from wetspan import _core
from wetspan import outcome as outcome_module
from wetspan.command_line import main
from wetspan.outcome import entries, minutes, not_dry, still_wet

CASES = {
    "spray": {},
    "drench": {"application.method": "drench"},
    "water only": {"application.concentration": 0.0},
    "stays wet": {"air.relative_humidity": 1.0, "air.shortwave": 0.0},
    "in the open": {"house.enclosed": False},
}


@pytest.fixture(scope="module", params=CASES.values(), ids=CASES)
def outcome(request) -> ws.Outcome:
    return ws.simulate(ws.Scenario(request.param))


def test_split_and_accounts_close(outcome):
    assert float(outcome.split["share"].sum()) == pytest.approx(1.0, abs=1e-12)
    anything = outcome.scenario["application.concentration"] > 0.0
    assert float(outcome.account.sum()) == pytest.approx(1.0 if anything else 0.0, abs=1e-12)
    assert outcome.water_balance == pytest.approx(0.0, abs=1e-12)
    litres_applied = 1e3 * outcome.scenario["application.volume_rate"]  # 1 m of liquid is 1000 L/m2
    assert float(outcome.split["volume"].sum()) == pytest.approx(litres_applied, rel=1e-12)
    assert (outcome.split["share"] >= 0.0).all()
    assert (outcome.account >= 0.0).all()


def test_what_enters_is_in_the_account(outcome):
    scenario = outcome.scenario
    applied = (  # mg per plant
        1e6 * scenario["application.volume_rate"] * scenario["application.concentration"]
    ) / scenario["canopy.plant_density"]
    uptake, tips, account = (dict(entries(x)) for x in (outcome.uptake, outcome.at_tips, outcome.account))
    for site in ("leaf", "stem", "root"):
        assert uptake[site] == pytest.approx(applied * account[site], rel=1e-9, abs=1e-15)
        assert 0.0 <= tips[site] <= uptake[site]


def test_nothing_is_missing(outcome):
    for field in fields(outcome):
        assert getattr(outcome, field.name) is not None
    assert outcome.status in ("dry", "wet at end", "nothing wet")
    for name in ("wet_time", "last_drop_time", "stem_wet_time", "growth_control", "water_balance", "start"):
        assert isinstance(getattr(outcome, name), float)
        assert not np.isnan(getattr(outcome, name))


def datasets(outcome: ws.Outcome) -> list[xr.Dataset]:
    named = {"uptake": outcome.uptake, "tips": outcome.at_tips, "account": outcome.account}
    return [outcome.split, outcome.history, *(array.to_dataset(name=name) for name, array in named.items())]


def test_every_array_says_what_it_is(outcome):
    for dataset in datasets(outcome):
        for name, variable in dataset.variables.items():
            assert variable.attrs["long_name"], name
            if variable.dtype.kind == "f":
                assert variable.attrs["units"], name
    assert outcome.history["air_temperature"].attrs["standard_name"] == "air_temperature"
    assert list(outcome.split["target"].values) == [
        "leaf",
        "stem",
        "substrate",
        "bench",
        "airborne",
        "evaporated",
    ]
    assert list(outcome.uptake["site"].values) == ["leaf", "stem", "root"]


def test_statuses():
    status = {name: ws.simulate(ws.Scenario(case)).status for name, case in CASES.items()}
    assert status == {
        "spray": "dry",
        "drench": "nothing wet",
        "water only": "dry",
        "stays wet": "wet at end",
        "in the open": "dry",
    }
    assert ws.simulate(ws.Scenario(CASES["stays wet"])).wet_time == np.inf
    drench = ws.simulate(ws.Scenario(CASES["drench"]))
    assert dict(entries(drench.split["share"]))["substrate"] == 1.0
    assert drench.wet_time == 0.0
    assert ws.simulate(ws.Scenario(CASES["water only"])).growth_control == 0.0


def test_the_course_runs_from_wet_to_dry():
    outcome = ws.simulate(ws.Scenario())
    time, left = outcome.history["time"].values, outcome.history["leaf_water"].values
    assert time[0] == 0.0
    assert (np.diff(time) > 0.0).all()
    assert left[0] == pytest.approx(1.0, abs=1e-9)
    threshold = outcome.scenario["numerics.dry_share"]
    assert np.interp(outcome.wet_time, time, left) == pytest.approx(threshold, rel=0.05)
    assert outcome.wet_time <= outcome.last_drop_time


def test_outcomes_travel(tmp_path):
    outcome = ws.simulate(ws.Scenario(leaf={"width": 0.07}))
    other = pickle.loads(pickle.dumps(outcome))
    assert other.scenario == outcome.scenario
    assert other.wet_time == outcome.wet_time
    assert repr(other) == repr(outcome)
    for mine, read in zip(datasets(outcome), datasets(other), strict=True):
        xr.testing.assert_identical(mine, read)
    for i, dataset in enumerate(datasets(outcome)):
        path = tmp_path / f"{i}.nc"
        dataset.to_netcdf(path, engine="scipy")
        with xr.open_dataset(path, engine="scipy", decode_timedelta=False) as read:
            xr.testing.assert_allclose(read, dataset)
            assert all(read[name].attrs == dataset[name].attrs for name in dataset.variables)


def test_a_line_says_it_all():
    assert repr(ws.simulate(ws.Scenario(CASES["drench"]))).startswith("Outcome(nothing wet; substrate 100%;")
    wet = repr(ws.simulate(ws.Scenario(CASES["stays wet"])))
    assert wet.startswith("Outcome(not dry within ")
    assert "growth control at least " in wet
    assert [not_dry(seconds) for seconds in (60.0, 9000.0, 172800.0)] == [
        "not dry within 1.0 min",
        "not dry within 2.5 h",
        "not dry within 48 h",
    ]
    assert [minutes(seconds) for seconds in (30.0, 500.0, 6000.0, 9000.0)] == [
        "0.5 min",
        "8.3 min",
        "100 min",
        "150 min (2.5 h)",
    ]


@settings(max_examples=25)
@given(
    st.fixed_dictionaries(
        {
            "application.volume_rate": st.floats(5e-5, 5e-4),
            "air.temperature": st.floats(283.15, 308.15),
            "air.relative_humidity": st.floats(0.2, 0.95),
            "air.speed": st.floats(0.05, 1.0),
            "air.shortwave": st.floats(0.0, 500.0),
            "droplets.dv50": st.floats(1e-4, 5e-4),
            "canopy.crown_cover": st.floats(0.7, 1.0),
            "house.enclosed": st.booleans(),
        }
    )
)
def test_accounts_close_in_any_greenhouse(values):
    outcome = ws.simulate(ws.Scenario(values))
    assert float(outcome.split["share"].sum()) == pytest.approx(1.0, abs=1e-12)
    assert float(outcome.account.sum()) == pytest.approx(1.0, abs=1e-12)
    assert outcome.water_balance == pytest.approx(0.0, abs=1e-12)
    crop = outcome.scenario["crop.initial_height"], outcome.scenario["crop.final_height"]
    assert 0.0 <= outcome.growth_control < 1.0 - crop[0] / crop[1]


def test_the_core_says_what_each_number_is():
    for row in _core.outcome_variables():
        name, unit, shown, meaning = row.name, row.unit, row.shown, row.meaning
        assert name
        assert unit
        assert shown
        assert meaning


def test_a_group_without_a_row_is_a_clear_error(monkeypatch):
    monkeypatch.delitem(outcome_module._GROUPS, "tips")
    with pytest.raises(LookupError, match=r"'tips\.leaf' is in a group without a row in _GROUPS"):
        _ = ws.simulate(ws.Scenario()).uptake


def test_what_is_still_wet_is_told(example):
    for times, told in (
        ((60.0, 90.0, np.inf), "stems"),
        ((np.inf, np.inf, np.inf), "leaves and stems"),
        ((60.0, np.inf, 80.0), "last drops on leaves"),
        ((60.0, 90.0, 80.0), ""),
    ):
        assert still_wet(*times) == told
    air = example.replace({"air.relative_humidity": "92 %"})
    through = ws.simulate(air)
    between = 0.5 * (through.last_drop_time + through.stem_wet_time)
    assert through.stem_wet_time > through.last_drop_time
    late = ws.simulate(air.replace({"numerics.longest": between}))
    assert (late.status, late.still_wet) == ("wet at end", "stems")
    assert np.isfinite(late.wet_time)
    assert f"stems {not_dry(between)}" in repr(late)
    assert through.still_wet == ""


def test_a_spray_over_a_bridged_gap_says_so(tmp_path, capsys):
    text = "time,Temp (degC),RH (%)\n" + "".join(
        f"2026-05-14T{hour:02d}:00,22,60\n" for hour in range(24) if hour not in (14, 15)
    )
    (tmp_path / "logger.csv").write_text(text)
    weather = ws.read_weather(
        tmp_path / "logger.csv", exposure="crop", label="instant", time_zone="UTC", light="piedmont",
        constants={"wind_speed": "0.3 m/s"},
    )  # fmt: skip
    bridged, clear = (ws.simulate(ws.Scenario(), weather, f"2026-05-14T{at}") for at in ("12:50", "06:00"))
    assert bridged.wet_time > 600.0  # s, the gap is from 13:00 to 16:00
    assert bridged.bridged
    assert not clear.bridged
    assert not ws.simulate(ws.Scenario()).bridged
    (tmp_path / "mine.toml").write_text("")
    asked = ["--exposure=crop", "--label=instant", "--time-zone=UTC", "--light=piedmont", "--samples=0"]
    command = ["run", str(tmp_path / "mine.toml"), f"--weather={tmp_path / 'logger.csv'}", *asked]
    assert main([*command, "--constant=wind_speed=0.3 m/s", "--time=2026-05-14T12:50"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "bridged by a straight line, while plants are wet: do not trust this" in told
    assert "1 gap(s) are bridged by straight lines, the longest of 3 h" in told  # notes of reading
