"""The library against flight, landing, drying, uptake and growth written a second time, on random scenarios.

The second writing (second_*.py) follows docs/science and integrates by SciPy; the table of differences is
docs/science/second_writing.md, written by tools/write_second_writing.py.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import second_air as air
import wetspan as ws
from second_drying import evaporation_factor, merged
from second_scenarios import (
    FINE,
    FLIGHT_TOLERANCE,
    FLIGHTS,
    GROUPS,
    HOUSE_TOLERANCE,
    HOUSES,
    LANDING_TOLERANCE,
    LANDINGS,
    OF_FINE,
    compared,
    difference,
    drawn,
    flown,
    housed,
    landed,
    waves,
)
from wetspan.outcome import single

PAGE = Path(__file__).parents[3] / "docs" / "science" / "second_writing.md"


@pytest.mark.parametrize(
    ("group", "number"),
    [pytest.param(group, i, id=f"{group.name} {i}") for group in GROUPS for i in range(group.count)],
)
def test_both_writings_come_to_the_same(group, number):
    told = compared(group, number)
    apart = {name: difference(*both) for name, both in told.items()}
    assert {name: told[name] for name, off in apart.items() if off > group.tolerance} == {}
    assert told["growth control"][0] > 0


@pytest.mark.parametrize("number", range(FLIGHTS))
def test_both_writings_fly_alike(number):
    told = flown(number)
    limit = FLIGHT_TOLERANCE if told["diameter"][0] > FINE else OF_FINE
    assert {name: both for name, both in told.items() if difference(*both) > limit} == {}


@pytest.mark.parametrize("number", range(HOUSES))
def test_both_writings_bring_weather_through_a_house_alike(number):
    for name, (library, ours) in housed(number).items():
        np.testing.assert_allclose(
            ours, library, rtol=HOUSE_TOLERANCE.get(name, 1e-5), atol=1e-9, err_msg=name
        )


def test_the_houses_show_what_they_are_meant_to_show():
    """Vents open and shut, vapour condenses, some houses are heated."""
    told = [housed(number) for number in range(HOUSES - 1)]
    assert sum(np.ptp(each["air_changes"][0]) > 1e-4 for each in told) >= 2
    assert sum(np.ptp(each["air_changes"][0]) == 0 for each in told) >= 1
    on_cover = [
        each["vapour_pressure"][0] > 1.001 * air.saturation_pressure(each["radiant_temperature"][0])
        for each in told
    ]
    assert any(wet.any() and not wet.all() for wet in on_cover)


@pytest.mark.parametrize("number", range(LANDINGS))
def test_both_writings_land_alike(number):
    told = landed(number)
    assert {name: both for name, both in told.items() if difference(*both) > LANDING_TOLERANCE} == {}


def test_the_landings_show_what_they_are_meant_to_show():
    """Droplets shatter, bounce and stick, leaves and stems run off, in one to four layers."""
    told = [landed(number) for number in range(LANDINGS)]
    for name in ("shattered", "rebounded", "straight"):
        assert sum(each[name][0] > 0.01 for each in told) >= 10, name
    assert sum(each["rebounded"][0] == 0 for each in told) >= 5
    assert {len([name for name in each if name.startswith("sizes")]) for each in told} == {1, 2, 3, 4}
    assert (
        sum(each["leaves of layer 0, run_off"][0] > each["leaves of layer 0, liquid"][0] for each in told) > 5
    )


def test_the_scenarios_show_what_they_are_meant_to_show():
    """Leaves dry and stay wet, dew falls, and both ways of following a wet span are met."""
    outcomes = {group.name: [ws.simulate(drawn(group, i)) for i in range(group.count)] for group in GROUPS}
    assert {outcome.path for outcome in outcomes["sprays that dry out"]} == {"clock", "reference"}
    assert all(np.isfinite(outcome.wet_time) for outcome in outcomes["sprays that dry out"])
    assert {outcome.status for outcome in outcomes["dew"]} == {"dry", "wet at end"}
    rises = [outcome.history["leaf_water"].diff("time").max() > 1e-4 for outcome in outcomes["dew"]]
    assert any(rises)
    assert all(outcome.path == "reference" for outcome in outcomes["humectants"])
    assert all(outcome.rewet_time > 60 for outcome in outcomes["re-wettings of dry leaves"])
    for i, outcome in enumerate(outcomes["re-wettings of wet leaves"]):
        scenario = drawn(next(group for group in GROUPS if group.name == "re-wettings of wet leaves"), i)
        assert outcome.wet_time == pytest.approx(scenario["rewetting.delay"] + outcome.rewet_time, rel=1e-9)


def test_salts_crystallise_and_take_up_water_again():
    group = next(group for group in GROUPS if group.name.startswith("salts"))
    for i in range(group.count):
        scenario = drawn(group, i)
        air_at_crop, weeks = waves(scenario)
        water = single(scenario, air_at_crop, 0.0, weeks).history["leaf_water"].values
        dry = np.flatnonzero(water < 1e-9)
        assert len(dry)
        assert water[dry[0] :].max() > 0.003


def test_properties_of_air_and_water_are_the_same():
    temperature = np.linspace(278.0, 318.0, 9)
    ours = {
        ws.air.saturation_pressure: air.saturation_pressure,
        ws.air.saturation_pressure_slope: air.saturation_slope,
        ws.air.dynamic_viscosity: air.viscosity,
        ws.air.thermal_conductivity: air.conductivity,
        ws.water.latent_heat: air.latent_heat,
        ws.water.density: air.water_density,
    }
    for library, second in ours.items():
        np.testing.assert_allclose(second(temperature), library(temperature), rtol=1e-9)
    assert air.water_specific_heat(295.0) == pytest.approx(ws.water.specific_heat(295.0), rel=1e-9)
    wet_bulb = air.wet_bulb(300.0, 1500.0, 98e3)
    assert wet_bulb == pytest.approx(ws.air.wet_bulb(300.0, 1500.0, 98e3), abs=1e-8)


def test_the_evaporation_factor_has_its_known_values():
    """4/pi of a disc, 2 of a hemisphere; 4 ln 2 / sin theta is its limit towards a whole sphere."""
    f = evaporation_factor()
    assert f(0.0) == pytest.approx(4 / np.pi, rel=1e-9)
    assert f(np.pi / 2) == pytest.approx(2.0, rel=1e-9)
    assert f(np.radians(169)) * np.sin(np.radians(169)) == pytest.approx(4 * np.log(2), rel=0.01)


def test_merged_sizes_keep_volume_and_surface():
    d, v = np.linspace(1e-4, 5e-4, 7), np.array([0.05, 0.1, 0.2, 0.3, 0.2, 0.1, 0.05])
    size, share = merged(d, v, 4)
    assert share.sum() == pytest.approx(1.0, abs=1e-15)
    assert (share / size).sum() == pytest.approx((v / d).sum(), rel=1e-14)


def test_the_page_tells_what_is_asserted():
    page = PAGE.read_text(encoding="utf-8")
    assert f"## {FLIGHTS} flights" in page
    assert f"## {LANDINGS} landings" in page
    assert f"## {HOUSES} houses" in page
    for group in GROUPS:
        assert f"## {group.count} {group.name}" in page
    for line in page.splitlines():
        if line.startswith("| ") and line.endswith(" |") and "e-" in line:
            largest, limit = (float(cell) for cell in line.strip("| ").split(" | ")[-2:])
            assert largest <= limit, line
