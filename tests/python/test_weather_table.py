"""[weather] of a scenario's file: written once, read by every command, and nothing beside it is lost."""

from __future__ import annotations

import pickle
import tomllib

import pytest
import wetspan as ws
from hypothesis import given
from hypothesis import strategies as st
from test_headings import fahrenheit
from wetspan import weather_table
from wetspan.command_line import main
from wetspan.errors import InputError

ANSWERS = ("--exposure=crop", "--label=instant", "--constant=wind_speed=60 ft/min", "--light=piedmont")


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "logger.csv").write_text(fahrenheit(60), encoding="utf-8")
    return tmp_path


def test_own_logger_in_two_commands(here, capsys):
    assert main(["validate", "logger.csv", *ANSWERS, "--save", "mine.toml"]) == 0
    assert "next: wetspan day mine.toml" in capsys.readouterr().out
    assert main(["day", "mine.toml", "--samples=0", "--every=4h"]) == 0
    out = capsys.readouterr().out
    assert "2026-05-15, clock UTC-04:00; crop weather: logger.csv" in out  # its last whole day
    assert "degF" in out  # begun in the units that the logger speaks
    assert "No light in the file" in out
    assert main(["validate", "mine.toml"]) == 0
    assert "[weather] is good" in capsys.readouterr().out
    assert main(["run", "mine.toml", "--samples=0"]) == 0  # without a time in the scenario's own air
    out = capsys.readouterr().out
    assert "75.0 degF" in out
    assert "unchanging air of [air]; with --time" in out
    assert main(["run", "mine.toml", "--samples=0", "--time=2026-05-15T15:00"]) == 0
    out = capsys.readouterr().out
    assert "80.0 degF" in out
    assert "unchanging" not in out


def test_what_is_saved_reads_back_from_anywhere(here, monkeypatch):
    assert main(["validate", "logger.csv", *ANSWERS, "--save", "mine.toml"]) == 0
    stated = ws.read_weather(
        "logger.csv",
        exposure="crop",
        label="instant",
        constants={"wind_speed": "60 ft/min"},
        light="piedmont",
    )
    monkeypatch.chdir("/")
    kept = ws.read_weather(here / "mine.toml")
    assert kept.data.equals(stated.data)
    assert kept.time_zone == stated.time_zone
    other = ws.read_weather(
        here / "mine.toml", constants={"wind_speed": "1 m/s"}
    )  # what is given goes before
    assert (other.data["wind_speed"] == 1.0).all()


def test_a_changed_scenario_keeps_its_weather(here):
    assert main(["validate", "logger.csv", *ANSWERS, "--save", "mine.toml"]) == 0
    (here / "kept").mkdir()
    scenario = ws.load("mine.toml").replace({"air.speed": "0.5 m/s"})
    assert pickle.loads(pickle.dumps(scenario)).weather == scenario.weather
    scenario.save("kept/changed.toml")
    told = tomllib.loads((here / "kept/changed.toml").read_text())["weather"]
    assert told["file"] == "../logger.csv"
    assert ws.read_weather("kept/changed.toml").data.equals(ws.read_weather("mine.toml").data)
    assert ws.load("kept/changed.toml") == scenario


def test_saving_keeps_the_rest_of_a_file(here):
    before = (
        '# mine\ntitle = "a"  # b\n\n[weather] # old\nfile = "miami"\n[weather.columns]\ntime = "x"\n\n'
        '# of air\n[air]\nspeed = "1 m/s"\n'
    )
    (here / "mine.toml").write_text(before)
    assert main(["validate", "logger.csv", *ANSWERS, "--save", "mine.toml"]) == 0
    after = (here / "mine.toml").read_text()
    assert after.startswith('# mine\ntitle = "a"  # b\n\n[weather]\nfile = "logger.csv"\n')
    assert after.endswith('\n# of air\n[air]\nspeed = "1 m/s"\n')
    assert "miami" not in after
    assert ws.load("mine.toml")["air.speed"] == 1.0
    once = after
    assert main(["validate", "logger.csv", *ANSWERS, "--save", "mine.toml"]) == 0
    assert (here / "mine.toml").read_text() == once


def test_the_cover_is_that_of_the_scenario(here):
    main(["validate", "logger.csv", *ANSWERS, "--save", "mine.toml"])
    text = (here / "mine.toml").read_text().replace('transmittance = "60 %"', 'transmittance = "30 %"')
    light = ws.read_weather("mine.toml").data["shortwave"]
    (here / "darker.toml").write_text(text)
    assert ws.read_weather("darker.toml").data["shortwave"].to_numpy() == pytest.approx(
        0.5 * light.to_numpy()
    )


@pytest.mark.parametrize(
    ("table", "fragment"),
    [
        ('file = "a.csv"\ntime_zon = "UTC"', "unknown key 'weather.time_zon'; did you mean 'time_zone'"),
        ('time_zone = "UTC"', "weather has no file"),
        ('file = "a.csv"\ncolumns = "Temp"', "weather.columns = 'Temp' is no table"),
        ('file = "a.csv"\ntypical = "yes"', "is not true or false"),
        ("file = 3", "weather.file = 3 is not text"),
    ],
)
def test_what_is_wrong_with_a_table_is_told(here, table, fragment):
    (here / "mine.toml").write_text(f"[weather]\n{table}\n")
    for read in (ws.load, ws.read_weather):
        with pytest.raises(InputError, match=r"mine\.toml") as caught:
            read("mine.toml")
        assert fragment in "\n".join(caught.value.problems)


def test_a_scenario_without_weather_is_none(here):
    (here / "mine.toml").write_text('title = "a"\n')
    with pytest.raises(InputError, match=r"it has no .weather., such as file = 'piedmont'"):
        ws.read_weather("mine.toml")


def test_options_are_for_plain_csvs_alone(here, capsys):
    assert main(["validate", "piedmont", "logger.csv", *ANSWERS]) == 0
    assert capsys.readouterr().out.count("good; ") == 2
    assert main(["validate", "piedmont", *ANSWERS]) == 2  # where there is none they are refused
    assert "TMY3 settles this itself" in capsys.readouterr().err
    assert main(["validate", "piedmont", "logger.csv", *ANSWERS, "--save=mine.toml"]) == 2
    assert "give that file alone" in capsys.readouterr().err


@pytest.mark.parametrize("units", ["us", "metric"])
def test_an_example_is_valid_as_printed_and_runs(here, capsys, units):
    assert main(["example", "--units", units]) == 0
    (here / "mine.toml").write_text(capsys.readouterr().out)
    assert main(["validate", "mine.toml"]) == 0
    assert main(["day", "mine.toml", "--samples=0", "--every=7h"]) == 0
    out = capsys.readouterr().out
    assert ("degF" if units == "us" else "degC") in out
    scenario = ws.load("mine.toml")
    assert str(scenario.units) == units
    other = ws.load(here / "mine.toml").in_units("metric")
    assert other == scenario


def test_the_examples_are_one_house_in_two_unit_systems(here, capsys):
    texts = {}
    for units in ("us", "metric"):
        main(["example", "--units", units])
        (here / f"{units}.toml").write_text(capsys.readouterr().out)
        texts[units] = ws.load(here / f"{units}.toml")
    for key, value in texts["us"].items():
        assert value == pytest.approx(texts["metric"][key], rel=0.02), key


@given(st.dictionaries(st.sampled_from(["time", "temperature"]), st.text(min_size=1).filter(str.isprintable)))
def test_a_table_reads_back_as_it_was_written(columns):
    table = {"file": "a.csv", "typical": True, "columns": columns} if columns else {"file": "a.csv"}
    assert tomllib.loads(weather_table.written(table))["weather"] == table
