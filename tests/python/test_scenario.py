"""Scenarios: built, changed, compared, saved and loaded."""

import copy
import pickle
import re
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
import wetspan as ws
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from refusal import refused
from wetspan.errors import InputError
from wetspan.parameters import TABLE


def test_keywords_and_dotted_keys_say_the_same():
    by_section = ws.Scenario(air={"temperature": "84 degF"}, leaf={"width": 0.07}, title="a")
    by_key = ws.Scenario({"air.temperature": "84 degF", "leaf.width": "7 cm"}, title="a")
    assert by_section == by_key
    assert by_key["leaf.width"] == pytest.approx(0.07, rel=1e-15)
    assert by_key.show("leaf.width") == "7 cm"
    assert by_key.shown("leaf.width") == 7.0
    assert by_key.shown("application.method") == "spray"
    assert set(by_key.changed()) == {"air.temperature", "leaf.width"}


def test_replace_makes_another():
    scenario = ws.Scenario(title="first")
    other = scenario.replace({"air.speed": 1.0}, house={"enclosed": False})
    assert (other["air.speed"], other["house.enclosed"], other.title) == (1.0, 0.0, "first")
    assert scenario == ws.Scenario(title="first")
    assert other.replace(title="second").title == "second"
    assert scenario.replace(dict(other)) == other  # every input at once
    assert scenario.replace({}) == scenario


@pytest.mark.parametrize("change", [lambda s: setattr(s, "title", "b"), lambda s: delattr(s, "title")])
def test_a_scenario_does_not_change(change):
    scenario = ws.Scenario(title="a")
    with pytest.raises(AttributeError, match="replace"):
        change(scenario)
    with pytest.raises(TypeError):
        scenario["air.speed"] = 1.0
    assert scenario.title == "a"


def test_scenarios_are_values():
    a, b = ws.Scenario(leaf={"width": 0.07}, title="é"), ws.Scenario(leaf={"width": 0.07}, title="é")
    assert a == b
    assert hash(a) == hash(b)
    assert len({a, b, a.replace(title=""), a.replace({"leaf.width": 0.08})}) == 3
    assert a != a.replace(title="")
    assert a != dict(a)
    for other in (pickle.loads(pickle.dumps(a)), copy.copy(a), copy.deepcopy(a), eval(repr(a), vars(ws))):
        assert other == a


def test_a_scenario_is_a_mapping():
    scenario = ws.Scenario()
    assert list(scenario) == list(TABLE)
    assert len(scenario) == len(TABLE)
    assert "leaf.width" in scenario
    assert "leaf.wdth" not in scenario
    refused(lambda: scenario["leaf.wdth"], "did you mean 'leaf.width'?")


@pytest.mark.parametrize(
    ("values", "fragments"),
    [
        ({"air.temperature": 24}, ["24 K is below", "did you mean 24 degC?"]),
        ({"air.relative_humidity": 60}, ["above 1", "did you mean 0.6?"]),
        ({"air.relative_humidity": "-10 %"}, ["'-10 %'", "1 % to 100 %"]),
        ({"air.temperature": "300 degC"}, ["'300 degC'", "-10 degC to 50 degC"]),
        ({"air.temperature": float("nan")}, ["finite"]),
        ({"air.speed": "1e999 m/s"}, ["too large"]),
        ({"droplets.bins": 12.5}, ["whole number"]),
        ({"droplets.bins": 0}, ["below 2"]),
        ({"leaf.receding_angle": "100 deg"}, ["leaf.receding_angle", "leaf.contact_angle"]),
        ({"house.heating_temperature": "30 degC"}, ["heating_temperature", "vent_temperature"]),
        ({"air.temprature": 290}, ["did you mean 'air.temperature'"]),
    ],
)
def test_inputs_that_are_not_allowed(values, fragments):
    refused(lambda: ws.Scenario(values), *fragments)
    refused(lambda: ws.Scenario().replace(values), *fragments)


def test_sections_that_are_not_there():
    refused(lambda: ws.Scenario(aire={"speed": 1}), "unknown section 'aire'; did you mean 'air'")
    refused(lambda: ws.Scenario(weather={"speed": 1}), "sections are application")
    refused(lambda: ws.Scenario(air="warm"), "'air' is a section", "temperature = '24 degC'")
    refused(lambda: ws.Scenario(title=3), "title = 3 is not text")


def test_both_of_two_that_belong_together_may_change_at_once():
    warm = ws.Scenario(house={"heating_temperature": "26 degC", "vent_temperature": "28 degC"})
    assert warm["house.vent_temperature"] == pytest.approx(301.15)


NUMBERS = [row for row in TABLE.values() if row.kind == "number"]
FREE = [row for row in NUMBERS if row.name not in ("receding_angle", "contact_angle", "heating_temperature")]


@settings(max_examples=40)
@given(
    st.dictionaries(st.sampled_from([row.key for row in FREE]), st.floats(0.0, 1.0), max_size=10), st.text()
)
def test_a_saved_scenario_loads_as_it_was(tmp_path_factory, shares, title):
    values = {
        key: min(row.low + share * (row.high - row.low), row.high)
        for key, share in shares.items()
        for row in [TABLE[key]]
    }
    try:
        scenario = ws.Scenario(values, title=title)
    except InputError:  # some pairs of inputs exclude each other
        scenario = ws.Scenario(title=title)
    path = tmp_path_factory.mktemp("saved") / "scenario.toml"
    scenario.save(path)
    assert ws.load(path) == scenario
    assert ws.load(str(path)) == scenario


def test_a_file_says_units(tmp_path):
    path = tmp_path / "a.toml"
    values = {"house.enclosed": False, "droplets.bins": 8, "leaf.emissivity": 0.9}
    ws.Scenario(values, air={"temperature": "84 degF"}).save(path)
    text = path.read_text(encoding="utf-8")
    assert re.search(r'^temperature = "28\.88\d* degC"$', text, re.MULTILINE)
    assert "enclosed = false" in text
    assert "bins = 8" in text
    assert "emissivity = 0.9" in text
    assert text.count("=") == 4  # what differs, nothing else


def written(folder: Path, text: str | bytes) -> Path:
    path = folder / "scenario.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


@pytest.mark.parametrize(
    ("text", "fragments"),
    [
        (
            '[air]\ntemprature = "24 degC"',
            ["unknown input 'air.temprature'", "did you mean 'air.temperature'"],
        ),
        ("[wether]", ["unknown section 'wether'"]),
        ("[weather]", ["line 1: weather has no file, such as file = 'logger.csv'"]),
        ("[[air]]\nspeed = 1", ["'air' is a section"]),
        ("air = 3", ["'air' is a section"]),
        ("[air]\ntemperature = 297.15", ["has no unit", "'24 degC'"]),
        ('[air]\ntemperature = "24 m"', ["wrong dimension"]),
        ("[air]\ntemperature = 2026-05-14", ["not a number"]),
        ('[air]\nrelative_humidity = "-10 %"', ["outside"]),
        ("title = 3", ["not text"]),
        ("[air\n", ["not TOML", "line 1"]),
        ("[air]\nspeed = 1\nspeed = 2", ["not TOML"]),
        (b"\x00\xff\xfe\x01", ["not a text file"]),
        (b"\x89PNG\r\n\x1a\n", ["not a text file"]),
    ],
)
def test_files_that_are_refused(tmp_path, text, fragments):
    path = written(tmp_path, text)
    refused(lambda: ws.load(path), str(path), *fragments)


def test_files_that_are_not_there(tmp_path):
    written(tmp_path, "")
    refused(lambda: ws.load(tmp_path / "scenari.toml"), "no such file", str(tmp_path / "scenario.toml"))
    refused(lambda: ws.load(tmp_path / "nowhere" / "x.toml"), "no such file")
    with pytest.raises(InputError, match=r"there is no such file$"):
        ws.load(tmp_path / "x.toml")
    refused(lambda: ws.load(tmp_path), "cannot be read", "directory")


@pytest.mark.parametrize("text", ["", "# nothing\n", b'\xef\xbb\xbftitle = ""\n', "[air]\r\n"])
def test_files_that_change_nothing(tmp_path, text):
    assert ws.load(written(tmp_path, text)) == ws.Scenario()


def test_the_example_is_what_its_file_says(example):
    assert example.title.startswith("Potted chrysanthemums")
    assert example.show("house.sprayed_share") == "25 percent"
    assert example.show("canopy.pot_diameter") == "14 cm"


def test_a_drench_is_told_by_the_pot(tmp_path):
    path = tmp_path / "drench.toml"
    path.write_text(
        '[application]\nvolume_per_pot = "4 fl oz"\nmethod = "drench"\nconcentration = "1 ppm"\n'
        '[canopy]\nplant_density = "4 per ft^2"\n'
    )
    drench = ws.load(path)
    litres = drench["application.volume_rate"] / drench["canopy.plant_density"]
    assert litres == pytest.approx(118.29411825e-6)  # 4 US fl oz
    assert drench.show("application.volume_rate").endswith("qt/100 ft2")
    assert drench == ws.Scenario(
        application={"method": "drench", "volume_per_pot": "4 fl oz per pot", "concentration": "1 ppm"},
        canopy={"plant_density": "4 per ft^2"},
    )
    twice = drench.replace({"application.volume_per_pot": "8 fl oz"})
    assert twice["application.volume_rate"] == pytest.approx(2 * drench["application.volume_rate"])
    again = ws.Scenario(
        {"application.method": "drench"}, applications=[{"at": "7 day", "volume_per_pot": "4 fl oz"}]
    )
    (later,) = again.applications
    assert later["application.volume_rate"] == pytest.approx(litres * again["canopy.plant_density"])


@pytest.mark.parametrize(
    ("application", "fragment"),
    [
        ({"volume_per_pot": "4 fl oz"}, "volume_per_pot is a drench's; a spray has application.volume_rate"),
        ({"method": "drench", "volume_per_pot": "4 oz"}, "liquid measure is fl oz"),
        ({"method": "drench", "volume_per_pot": 4.0}, "has no unit"),
        ({"method": "drench", "volume_per_pot": "400 gal"}, "of bench; allowed is"),
        ({"method": "drench", "volume_per_pot": "4 fl oz", "volume_rate": "2 mm"}, "give one of them"),
    ],
)
def test_a_volume_by_the_pot_is_checked(application, fragment):
    with pytest.raises(InputError, match=fragment):
        ws.Scenario(application=application)


@pytest.mark.parametrize("inputs", [3, "air.speed", [1, 2], np.zeros(3)])
def test_inputs_are_given_by_key(inputs):
    refused(lambda: ws.Scenario(inputs), "inputs are given by key", "'24 degC'")
    refused(lambda: ws.Scenario().replace(inputs), "inputs are given by key")


def test_a_section_as_a_key_and_a_space_too_many_are_told():
    refused(lambda: ws.Scenario({"air": {"speed": "1 m/s"}}), "unknown input 'air'; 'air' has temperature,")
    refused(lambda: ws.Scenario({"air.speed ": "1 m/s"}), "'air.speed '", "did you mean 'air.speed'")


@pytest.mark.parametrize("at", [1, 14, 14.0])
def test_days_of_a_calendar_without_a_unit_are_not_read_as_seconds(at):
    calendar = [{"at": 0}, {"at": at, "concentration": "15 mg/L"}]
    refused(lambda: ws.Scenario(applications=calendar), "application 2: at = ", f"'{at:g} day'")
    later = ws.Scenario(applications=[{"at": 0}, {"at": 14 * 86400.0}])
    assert ws.Scenario(applications=later.applications).applications == later.applications


@pytest.mark.parametrize("at", ["0 s", "14 s", "30 s", "59 s", "1 hour", "14 day"])
def test_a_scenario_takes_its_own_numbers_back(at):
    own = ws.Scenario(
        {"application.concentration": "20 g/L", "house.air_changes": "0.05 1/s"},
        applications=[{"at": at, "concentration": "18 g/L"}, {"at": "20 day"}],
    )
    again = ws.Scenario(own.changed(), applications=own.applications)
    assert again == own
    one = {"application.concentration": own["application.concentration"]}
    assert ws.Scenario(one)["application.concentration"] == one["application.concentration"]
    refused(
        lambda: ws.Scenario({"application.concentration": float(one["application.concentration"])}),
        "times off",
    )
    assert pickle.loads(pickle.dumps(own)) == own


def test_a_bare_rate_above_once_a_minute_is_asked_about():
    refused(
        lambda: ws.Scenario({"house.air_changes": 0.05}),
        "180 per hour",
        "'0.05 per hour'",
        "write '0.05 1/s'",
    )
    assert ws.Scenario({"house.air_changes": 0.015})["house.air_changes"] == 0.015
    assert ws.Scenario({"house.air_changes": "0.05 1/s"}).replace({"house.air_changes": 0.05})


@pytest.mark.parametrize(
    ("key", "given", "meant"),
    [
        ("nozzle.height", 45, "'45 cm'"),
        ("nozzle.pressure", 3, "'3 bar'"),
        ("house.air_changes", 1, "'1 per hour'"),
    ],
)
def test_a_bare_number_out_of_bounds_is_asked_about(key, given, meant):
    refused(lambda: ws.Scenario({key: given}), "outside what is allowed", meant)


@pytest.mark.parametrize(
    "given", [timedelta(days=60), np.timedelta64(60, "D"), np.timedelta64(60 * 86400 * 10**9, "ns")]
)
def test_a_span_of_time_is_a_time(given):
    assert ws.Scenario({"uptake.horizon": given})["uptake.horizon"] == 60 * 86400.0
    refused(lambda: ws.Scenario({"nozzle.height": given}), "is not a length")


@pytest.mark.parametrize("given", [np.timedelta64(2, "M"), np.timedelta64("NaT")])
def test_a_span_without_a_length_is_refused(given):
    refused(lambda: ws.Scenario({"uptake.horizon": given}), "is not a time")


def test_a_unit_stands_in_units():
    wrong = xr.DataArray(0.2, attrs={"unit": "mm"})
    refused(lambda: ws.Scenario({"nozzle.height": wrong}), "attrs['unit'] = 'mm'", "attrs['units']")


@pytest.mark.parametrize(
    ("at", "told"),
    [(["90 day"], "90 days after"), (["14 day", "0 day"], "0 days after .* after one at 14 days")],
)
def test_times_of_a_calendar_are_told_in_days(at, told):
    with pytest.raises(InputError, match=told):
        ws.Scenario(applications=[{"at": each} for each in at])
