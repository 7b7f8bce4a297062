"""Units that people are shown: those that a file speaks, the same in words, tables and pictures."""

import numpy as np
import pytest
import wetspan as ws
from wetspan.command_line import main
from wetspan.parameters import TABLE
from wetspan.unit_choice import FAMILIES, METRIC, SYSTEMS, UnitChoice
from wetspan.units import value_in_si

US = SYSTEMS["us"]


@pytest.mark.parametrize("system", SYSTEMS.values(), ids=list(SYSTEMS))
def test_what_is_shown_reads_back(system):
    for row in TABLE.values():
        value = row.standard or min(row.high, 1.0)
        told = value_in_si(row, system.show(row, value))
        assert told == pytest.approx(value, rel=5e-3, abs=1e-9), row.key  # to three digits


@pytest.mark.parametrize(
    ("metric", "value", "shown", "unit"),
    [  # exact by definition of the units: NIST Handbook 44, appendix C
        ("degC", 24.0, 75.2, "degF"),
        ("delta_degC", 4.0, 7.2, "delta_degF"),
        ("L/m^2", 0.946352946 * 2 / 9.290304, 2.0, "qt/100 ft2"),
        ("mL", 118.29411825, 4.0, "fl oz"),
        ("cm", 2.54, 1.0, "in"),
        ("m", 0.3048, 1.0, "ft"),
        ("1/m^2", 4 / 0.09290304, 4.0, "per ft2"),
        ("m/s", 0.3048 / 60, 1.0, "ft/min"),
        ("mg/L", 30.0, 30.0, "ppm"),
    ],
)
def test_units_of_the_trade(metric, value, shown, unit):
    assert US.number(value, metric) == pytest.approx(shown)
    assert US.unit(metric) == unit
    assert METRIC.number(value, metric) == value
    np.testing.assert_allclose(US.number(np.array([value, value]), metric), shown)


@pytest.mark.parametrize(
    ("key", "given", "shown"),
    [
        ("nozzle.pressure", "3 bar", "43.5 psi"),
        ("nozzle.pressure", "300 kPa", "43.5 psi"),
        ("nozzle.pressure", "40 psi", "40 psi"),
        ("air.temperature", "101.5 degF", "101.5 degF"),
        ("air.temperature", "38.7 degC", "101.7 degF"),
        ("air.temperature", "24.37 degC", "75.9 degF"),
        ("canopy.pot_diameter", "14 cm", "5.51 in"),
    ],
)
def test_a_converted_number_has_three_digits_and_a_given_one_its_own(key, given, shown):
    assert ws.Scenario({key: given}).in_units("us").show(key) == shown


def test_what_has_no_unit_of_the_trade_stays():
    assert US.unit("um") == "um"
    assert US.show(TABLE["droplets.dv50"], 300e-6) == "300 um"
    assert US.show(TABLE["application.method"], 0) == "spray"


def test_a_file_is_answered_in_the_units_it_speaks(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text(
        '[application]\nvolume_rate = "2 qt / (100 ft^2)"\n[air]\ntemperature = "24 degC"\n'
        '[canopy]\npot_diameter = "14 cm"\n[house]\nheight = "4 m"\n'
    )
    mixed = ws.load(path)
    assert mixed.show("application.volume_rate") == "2 qt/100 ft2"
    assert mixed.show("air.temperature") == "24 degC"
    assert mixed.show("nozzle.flow").endswith("gal/min")  # liquid, as the volume is
    assert mixed.show("nozzle.pressure") == "3 bar"  # not spoken of: as most of the file
    assert mixed.in_units("us").show("air.temperature") == "75.2 degF"
    assert mixed.in_units("metric").show("application.volume_rate") == "0.204 L/m^2"
    assert mixed == mixed.in_units("us")  # they are the same inputs
    assert mixed.replace({"air.temperature": "25 degC"}).units == mixed.units
    assert ws.Scenario().units == METRIC


def test_a_choice_travels_with_results():
    scenario = ws.Scenario().in_units("us")
    weather = ws.read_weather("piedmont")
    day = ws.compare_times(scenario, weather, "2026-05-16T14:00", "2026-05-16T15:00", "1h")
    assert UnitChoice.of(day) == US
    assert UnitChoice.of(ws.batch(scenario, {"air.speed": [0.3]})) == US
    for families in ({"liquid"}, {"liquid", "length"}, set(FAMILIES), set()):
        choice = UnitChoice(frozenset(families))
        assert UnitChoice.of({"shown_in": str(choice)}) == choice


@pytest.mark.parametrize("name", ["imperial", "", "liquid, solid", "METRIC"])
def test_other_names_are_refused(name):
    with pytest.raises(ws.InputError, match="'metric' and 'us'"):
        UnitChoice.named(name)


def test_tables_and_pictures_speak_them(capsys):
    scenario = ws.Scenario().in_units("us")
    figure = ws.plot_outcome(ws.simulate(scenario))
    assert "temperature [°F]" in [axes.get_ylabel() for axes in figure.axes]
    bench = ws.spray_bench(scenario, layout={"rows": 3, "columns": 4}, levers=False)
    labels = [axes.get_ylabel() for axes in bench.plot().axes]
    assert {"across [ft]", "deposit [qt/100 ft2]"} <= set(labels)
    assert "2 qt/100 ft2 on average" in bench.text
    assert main(["day", "--units", "us", "--from", "14:00", "--to", "14:00", "--samples", "0"]) == 0
    told = capsys.readouterr().out
    assert "degF" in told
    assert "degC" not in told


def test_ppm_alone_is_not_the_united_states():
    spoken = UnitChoice.spoken_by([(TABLE["application.concentration"], "30 ppm")])
    assert spoken.us == {"strength"}
