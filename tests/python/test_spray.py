"""The spray rooms, from nozzle to card: against formulas, printed tables and each other."""

import csv
import math
import re
from pathlib import Path

import matplotlib
import numpy as np
import pandas as pd
import pint
import pytest
import wetspan as ws
import xarray as xr
from scipy.stats import norm
from wetspan import spray
from wetspan.errors import InputError

matplotlib.use("Agg")

ROOT = Path(__file__).parents[2]
MEASURED = Path(__file__).parent / "data" / "measured_spectrum.csv"
QUART_PER_100_FT2 = 0.946352946e-3 / (100 * 0.3048**2)  # m; both exact
QUANTITY = pint.get_application_registry().Quantity


def published(room: str, quantity: str) -> list[dict[str, str]]:
    """Rows of a reference table; each names its source."""
    with (ROOT / "tests" / "reference" / f"{room}.csv").open(newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["quantity"] == quantity]
    assert rows
    for row in rows:
        row |= dict(pair.split("=") for pair in row["inputs"].split("; "))
    return rows


@pytest.fixture(scope="module")
def scenario() -> ws.Scenario:
    return ws.Scenario({"application.volume_rate": "0.03 L/m^2"}, title="a light pass")


# Nozzle ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("row", published("nozzle", "flow"), ids=lambda row: row["inputs"])
def test_flow_of_a_size_is_the_printed_one(row: dict[str, str]) -> None:
    flow = spray.nozzle(row["size"], float(row["pressure"])).flow
    assert flow * 6e4 == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize(
    "row", published("nozzle", "flow over flow at 40 psi"), ids=lambda row: row["inputs"]
)
def test_flow_follows_from_one_that_was_caught(row: dict[str, str]) -> None:
    caught = spray.nozzle(measured_flow=f"{row['flow40']} L/min", pressure="40 psi")
    here = caught.rated_flow * math.sqrt(float(row["pressure"]) / 3e5)
    assert here * 6e4 == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))


def test_volume_pace_and_back() -> None:
    # 0.8 L/min over 1.2 m at 0.5 m/s: 0.8 / (60 x 1.2 x 0.5) L/m2
    there = spray.nozzle("02", "3 bar", swath="1.2 m", pace="0.5 m/s")
    assert there.volume_rate == pytest.approx(0.8e-3 / (60 * 1.2 * 0.5), rel=1e-12)
    assert there.area_rate == pytest.approx(0.6)
    back = spray.nozzle("02", "3 bar", swath=1.2, volume_rate=there.volume_rate)
    assert back.pace == pytest.approx(0.5, rel=1e-12)
    two = spray.nozzle("02", "3 bar", nozzles=2, swath="1.2 m", pace="1 m/s")
    assert two.volume_rate == pytest.approx(there.volume_rate)


def test_boom_is_paced_by_its_spacing_not_by_its_length() -> None:
    boom = spray.nozzle("02", by="boom", nozzles=6, spacing="50 cm", pace="0.2 m/s")
    assert boom.volume_rate == pytest.approx(0.8e-3 / 60 / (0.2 * 0.5), rel=1e-12)
    assert boom.area_rate == pytest.approx(6 * 0.5 * 0.2)
    assert boom.fan_width == pytest.approx(2 * 0.45 * math.tan(1.396 / 2))
    assert "under 1.5 fans" in boom.text
    assert "stays unsprayed" in spray.nozzle("02", by="boom", spacing="1 m", pace="0.2 m/s").text


def test_overhead_nozzles_are_timed() -> None:
    fixed = spray.nozzle("03", by="overhead", spacing="1 m", line_spacing="1.5 m", time="15 s")
    assert fixed.volume_rate == pytest.approx(1.2e-3 / 60 * 15 / 1.5, rel=1e-12)
    back = spray.nozzle("03", by="overhead", spacing=1.0, line_spacing=1.5, volume_rate=fixed.volume_rate)
    assert back.time == pytest.approx(15.0, rel=1e-12)


def test_a_worn_nozzle_is_remarked_on() -> None:
    assert "worn" in spray.nozzle("02", "3 bar", measured_flow="0.9 L/min").text
    assert "worn" not in spray.nozzle("02", "3 bar", measured_flow="0.85 L/min").text


def test_nozzle_speaks_and_goes_into_a_scenario() -> None:
    told = spray.nozzle("02", "2 bar", swath="1.2 m", volume_rate="2 qt / (100 ft^2)", height="60 cm")
    assert ws.CAUTIONS in told.text
    assert "2 US qt per 100 ft2" in told.text
    changed = ws.Scenario().replace(told.inputs)
    assert changed["nozzle.flow"] == pytest.approx(0.8e-3 / 60)  # at 3 bar, not at 2
    assert changed["nozzle.pressure"] == pytest.approx(2e5)
    assert changed["application.volume_rate"] == pytest.approx(2 * QUART_PER_100_FT2, rel=1e-9)
    # Bernoulli without loss, 2 bar and 998.2 kg/m3: 20.02 m/s; here 0.9 of it
    assert told.exit_speed == pytest.approx(0.9 * math.sqrt(2 * 2e5 / 998.2), rel=1e-4)


def test_chart_of_sizes() -> None:
    chart = spray.nozzle_chart(["1 bar", "4 bar"], ["02", "04"])
    assert chart["flow"].dims == ("size", "pressure")
    np.testing.assert_allclose(
        chart["flow"], [[0.8 / math.sqrt(3), 0.8 * math.sqrt(4 / 3)]] * np.array([[1], [2]])
    )
    assert chart["flow"].attrs["units"] == "L min-1"
    assert list(chart["colour"].values) == ["yellow", "red"]
    assert chart["exit_speed"][1] == pytest.approx(2 * float(chart["exit_speed"][0]))


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({}, "size, such as '02'"),
        ({"size": "2"}, "known are 01, 015, 02"),
        ({"size": 2}, "a size is text"),
        ({"size": "02", "pressure": "3"}, "has no unit"),
        ({"size": "02", "pressure": "3 m"}, "wrong dimension"),
        ({"size": "02", "pressure": "300 bar"}, "outside what is allowed, 0.2 bar"),
        ({"size": "02", "pressure": math.nan}, "outside what is allowed"),
        ({"size": "02", "by": "drone"}, "'wand', 'boom', 'overhead'"),
        ({"size": "02", "pace": "1 m/s"}, "needs swath too"),
        ({"size": "02", "swath": "1 m"}, "give pace or volume_rate"),
        ({"size": "02", "swath": 1, "pace": 1, "volume_rate": 1e-4}, "give pace or volume_rate"),
        ({"size": "02", "time": "1 s"}, "time is not for by='wand'"),
        ({"size": "02", "nozzles": 0}, "whole number from 1"),
        ({"size": "02", "nozzles": True}, "whole number from 1"),
    ],
)
def test_nozzle_refuses(given: dict[str, object], message: str) -> None:
    with pytest.raises(InputError, match=re.escape(message)):
        spray.nozzle(**given)  # type: ignore[arg-type]


# Droplets -------------------------------------------------------------------------------------------------


def test_lognormal_is_the_published_one() -> None:
    for span, ratio in zip(
        published("droplets", "relative span of lognormal"),
        published("droplets", "Dv0.5 over D32 of lognormal"),
        strict=True,
    ):
        told = spray.spectrum(dv50="200 um", relative_span=float(span["value"]))
        assert told.relative_span == pytest.approx(float(span["value"]))
        assert told.dv90 / told.dv50 == pytest.approx(float(span["sigma_g"]) ** norm.ppf(0.9), rel=1e-4)
        assert told.dv50 / told.d32 == pytest.approx(float(ratio["value"]), abs=float(ratio["tolerance"]))


def test_rosin_rammler_is_the_published_one() -> None:
    for row in published("droplets", "relative span of Rosin-Rammler"):
        told = spray.spectrum(dv50="200 um", relative_span=row["value"], distribution="rosin_rammler")
        # 1 - 2^-(d/Dv0.5)^q (Rosin & Rammler 1933)
        assert told.dv90 / told.dv50 == pytest.approx(math.log2(10) ** (1 / float(row["q"])), rel=1e-3)
        assert told.below_150um == pytest.approx(1 - 2 ** -(0.75 ** float(row["q"])), rel=1e-3)


def test_three_quantiles_are_met() -> None:
    told = spray.spectrum(dv10="120 um", dv50="280 um", dv90="520 um")
    assert (told.dv10, told.dv50, told.dv90) == pytest.approx((120e-6, 280e-6, 520e-6))
    below = norm.cdf(math.log(150 / 280) / (math.log(280 / 120) / norm.ppf(0.9)))
    assert told.below_150um == pytest.approx(below, abs=2e-3)
    cumulative = np.cumsum(told.bins["volume_share"]) - 0.5 * told.bins["volume_share"]
    np.testing.assert_allclose(
        np.interp([0.1, 0.5, 0.9], cumulative, told.bins["diameter"]), [120, 280, 520], rtol=0.01
    )


def test_measured_table() -> None:
    told = spray.spectrum(MEASURED)
    # linear between the rows 250 um, 38.9 % and 300 um, 53.6 %
    assert told.dv50 == pytest.approx((250 + 50 * (50 - 38.9) / (53.6 - 38.9)) * 1e-6, rel=1e-9)
    assert told.below_150um == pytest.approx(0.118)
    assert told.bins["diameter"].min() >= 20
    assert told.bins["diameter"].max() <= 1000
    assert "measured_spectrum.csv" in told.text


def test_measured_evenly_spread_volume() -> None:
    # all between 100 and 300 um: D32 = 1 / mean(1/d) = 200 um / ln 3
    told = spray.spectrum(diameter=["100 um", "300 um"], share=["0 %", "100 %"])
    assert told.d32 == pytest.approx(200e-6 / math.log(3), rel=1e-4)
    assert told.below_150um == pytest.approx(0.25)
    assert told.inputs["droplets.dv50"] == pytest.approx(200e-6)
    assert told.inputs["droplets.relative_span"] == pytest.approx(0.8)


@pytest.mark.parametrize("way", ["headings", "names", "frame", "semicolons", "values", "quantities"])
def test_measured_table_reads_the_same_any_way(way: str, tmp_path: Path) -> None:
    file, rows = tmp_path / "table.csv", [(50.0, 0.0), (200.0, 0.4), (400.0, 1.0)]
    d, share = zip(*rows, strict=True)
    given: dict[str, object] = {}
    source: object = str(file)
    match way:
        case "headings":
            file.write_text("Size (mm),Undersize [%]\n" + "".join(f"{1e-3 * a},{100 * b}\n" for a, b in rows))
        case "names":
            file.write_text("D,other,Q3\n" + "".join(f"{a},7,{b}\n" for a, b in rows))
            given = {"diameter": "D", "share": "Q3", "units": {"D": "um"}}
        case "frame":
            source = pd.DataFrame({"diameter_um": d, "cumulative_percent": [100 * b for b in share]})
        case "semicolons":
            file.write_text(
                "\ufeff# note\nDiameter [µm]; cumulative share\n" + "".join(f"{a};{b}\n" for a, b in rows)
            )
        case "values":
            source, given = None, {"diameter": [1e-6 * a for a in d], "share": share}
        case "quantities":
            source, given = None, {"diameter": QUANTITY(np.array(d), "um"), "share": np.array(share)}
    told = spray.spectrum(source, **given)  # type: ignore[arg-type]
    expected = (50 + 150 * 0.25, 200 + 200 / 6, 200 + 200 * 5 / 6)
    assert tuple(1e6 * q for q in (told.dv10, told.dv50, told.dv90)) == pytest.approx(expected)


@pytest.mark.parametrize("name", ["medium", "coarse", "very coarse"])
@pytest.mark.parametrize("law", ["lognormal", "rosin_rammler"])
def test_size_classes_keep_the_published_bounds_of_drift(name: str, law: str) -> None:
    [row] = published("droplets", f"share below 150 um of {name}")
    told = spray.spectrum(name, distribution=law)
    assert told.below_150um <= float(row["value"])
    assert "comparative" in told.text
    assert "no absolute limits" in told.text


@pytest.mark.parametrize("name", ["extremely fine", "ultra coarse"])
def test_the_deposit_of_every_size_class_is_told(scenario: ws.Scenario, name: str) -> None:
    """In 64 bins the tail of the coarsest class holds drops of 7 mm, which no scenario may have."""
    changed = scenario.replace(spray.size_class(name))
    assert float(spray.deposit(changed)["card_coverage"][-1]) > 0.0


def test_size_class_goes_into_a_scenario(scenario: ws.Scenario) -> None:
    changed = scenario.replace(spray.size_class("Medium"))
    assert changed["droplets.dv50"] == pytest.approx(280e-6)
    assert spray.spectrum(changed).d32 == pytest.approx(spray.spectrum("medium").d32)
    table = spray.size_classes()
    assert (np.diff(table["dv50"]) > 0).all()
    assert "no absolute limits" in table.attrs["comment"]


def test_spectrum_keeps_its_nature_in_a_scenario(scenario: ws.Scenario) -> None:
    law = spray.spectrum(dv50="200 um", relative_span=1.1, distribution="rosin_rammler")
    assert spray.spectrum(scenario.replace(law.inputs)).d32 == pytest.approx(law.d32)
    measured = spray.spectrum(MEASURED)
    nearest = spray.spectrum(scenario.replace(measured.inputs))
    assert nearest.dv50 == pytest.approx(measured.dv50)
    other = {"lognormal": "rosin_rammler", "rosin_rammler": "lognormal"}[
        str(measured.inputs["droplets.distribution"])
    ]
    farther = spray.spectrum(scenario.replace(measured.inputs).replace({"droplets.distribution": other}))
    assert abs(nearest.d32 - measured.d32) < abs(farther.d32 - measured.d32)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("diameter,share [%]\n1,0\n", "has no unit; write 'diameter [um]'"),
        ("diameter [kg],share [%]\n1,0\n", "not one of length"),
        ("diameter [um],share\n50,0\n90,100\n", "write 'share [%]'"),
        ("diameter [um],share [%]\n50,0\n90,hello\n", "'share [%]' = 'hello'"),
        ("diameter [um],share [%]\n50,0,3\n", "3 cells, not 2"),
        ("diameter [um],size [um],share [%]\n50,0,3\n", "all speak of diameter"),
        ("a,b\n50,0\n", "no heading speaks of diameter"),
        ("diameter [um],share [%]\n50,0\n90,99\n", "end at 1"),
        ("diameter [um],share [%]\n90,0\n50,100\n", "must increase"),
        ("diameter [um],share [%]\n50,0\n80,nan\n90,100\n", "'share [%]' = 'nan'"),
        ("# nothing\n", "no table"),
    ],
)
def test_measured_table_refuses(text: str, message: str, tmp_path: Path) -> None:
    file = tmp_path / "table.csv"
    file.write_text(text)
    with pytest.raises(InputError, match=re.escape(message)):
        spray.spectrum(file)


@pytest.mark.parametrize(
    ("args", "given", "message"),
    [
        (["mediun"], {}, "did you mean 'medium'?"),
        (["nowhere.csv"], {}, "there is no such file"),
        (["medium"], {"dv50": "200 um"}, "dv50 does not go with"),
        ([], {"dv10": "100 um", "dv50": "200 um"}, "give all of them"),
        ([], {"dv10": "300 um", "dv50": "200 um", "dv90": "400 um"}, "must rise"),
        ([], {"dv50": "200"}, "no unit"),
        ([], {"dv50": "200 mm"}, "outside what is allowed, 0.01 mm"),
        ([], {"relative_span": 9}, "outside what is allowed"),
        ([], {"distribution": "log-normal"}, "did you mean 'lognormal'?"),
        ([], {"bins": 1.5}, "whole number"),
        ([], {"diameter": ["1 um", "2 um"]}, "diameter=[...] and share=[...]"),
        ([], {"diameter": ["2 um", "1 um"], "share": [0, 1]}, "larger than the one before"),
        ([], {"diameter": ["1 um", "2 um"], "share": [0, 2]}, "droplet.share = 2 is outside"),
    ],
)
def test_spectrum_refuses(args: list[str], given: dict[str, object], message: str) -> None:
    with pytest.raises(InputError, match=re.escape(message)):
        spray.spectrum(*args, **given)  # type: ignore[arg-type]


# Flight ---------------------------------------------------------------------------------------------------


def test_droplets_end_at_the_published_terminal_speeds() -> None:
    # a mist of hardly any flow from 3 m: no air jet to speak of, the exit speed is long gone
    still = ws.Scenario(
        nozzle={"flow": 1e-7, "pressure": 2e4, "height": 3.0, "fan_angle": 2.6, "fan_thickness": 2.6},
        air={"speed": 0.0, "temperature": "20 degC", "relative_humidity": 1.0},
        application={"angle": 0.0},
    )
    for row in published("flight", "terminal speed of a sphere-like drop"):
        if 0.1e-3 < float(row["d"]) <= 0.6e-3:  # Gunn & Kinzer 1949; larger drops still lose speed after 3 m
            speed = float(spray.fly(still, float(row["d"]))["speed"][0])
            assert speed == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))


def test_flight_account_closes_and_arrivals_are_slower_and_smaller(scenario: ws.Scenario) -> None:
    flown = spray.fly(scenario)
    fates = flown["evaporated"] + flown["airborne"] + flown["delivered"]
    np.testing.assert_allclose(fates, 1.0, atol=1e-12)
    assert float(flown["total"].sum()) == pytest.approx(1.0, abs=1e-12)
    assert (flown["diameter_at_crop"] < flown["diameter"]).all()
    assert (flown["speed"] < flown.attrs["exit_speed_m_s"]).all()
    assert flown["speed"].attrs["units"] == "m s-1"
    assert flown["diameter"].attrs["units"] == "um"
    steep = spray.fly(scenario, ["50 um", "500 um"])["angle"].values
    assert steep[0] > steep[1] > math.degrees(scenario["application.angle"]) - 2


def test_a_path_leads_from_the_nozzle_to_where_the_flight_ends(scenario: ws.Scenario) -> None:
    sizes = ["30 um", "100 um", "400 um"]
    flown, paths = spray.fly(scenario, sizes), spray.flight_paths(scenario, sizes, "5 ms")
    assert paths["height"][:, 0].values == pytest.approx(scenario["nozzle.height"])
    assert paths["droplet_diameter"][:, 0].values == pytest.approx(flown["diameter"].values)
    last = paths.isel(point=paths["flight_time"].notnull().sum("point") - 1)
    assert last["height"].values == pytest.approx(0.0, abs=1e-9)
    for name, there in (("flight_time", "flight_time"), ("speed", "speed")):
        assert last[name].values == pytest.approx(flown[there].values)
    assert last["droplet_diameter"].values == pytest.approx(flown["diameter_at_crop"].values)
    steps = paths["flight_time"].diff("point").values
    assert np.nanmax(steps) == pytest.approx(5e-3)
    # evaporation soon cools a fine droplet to its steady temperature
    cool = float(flown["droplet_temperature"])
    assert float(last["temperature"][0]) == pytest.approx(cool, abs=0.1)
    assert cool < scenario["air.temperature"] - 273.15
    with pytest.raises(InputError, match=r"droplet\.interval = '1 us' is outside"):
        spray.flight_paths(scenario, sizes, "1 us")


def test_what_droplets_would_do_in_still_air_stands_beside_their_flight(scenario: ws.Scenario) -> None:
    flown = spray.fly(scenario, ["20 um", "40 um", "400 um"])
    speed, stop, life = (
        flown[name].values for name in ("terminal_speed", "stop_distance", "still_air_lifetime")
    )
    # small droplets: Stokes' law, and the time grows with the square of the diameter
    assert speed[1] / speed[0] == pytest.approx(4.0, rel=0.05)
    assert life[2] / life[1] == pytest.approx(100.0)
    assert (np.diff(stop) > 0.0).all()
    assert stop[0] < 0.1 < stop[2]  # the finest lose the nozzle's speed within the jet
    assert flown["flight_time"][1] < life[1]
    humid = spray.fly(scenario.replace({"air.relative_humidity": 1.0}), "40 um")
    assert np.isinf(humid["still_air_lifetime"]).all()


def test_what_does_not_arrive_has_no_speed_at_the_crop() -> None:
    dry = ws.Scenario(
        air={"relative_humidity": 0.05, "temperature": "45 degC", "speed": 0.0}, nozzle={"height": 3.0}
    )
    flown = spray.fly(dry, ["10 um", "400 um"])
    assert flown["end"].values.tolist() == ["evaporated", "reached crop"]
    assert np.isnan(flown["speed"][0])
    assert float(flown["evaporated"][0]) == pytest.approx(1.0)
    assert flown["speed"][1] > 1


def test_finer_classes_lose_more(scenario: ws.Scenario) -> None:
    classes = spray.fly_classes(scenario)
    assert list(classes["size_class"].values) == list(spray.size_classes().index)
    np.testing.assert_allclose(
        classes["delivered"] + classes["evaporated"] + classes["airborne"], 1.0, atol=1e-12
    )
    assert (np.diff(classes["evaporated"]) < 0).all()
    assert (np.diff(classes["speed"]) > 0).all()
    [medium] = classes["delivered"].sel(size_class=["medium"]).values
    assert medium == pytest.approx(float(spray.fly(scenario, droplets=spray.spectrum("medium"))["total"][0]))


# Impact ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "row", published("impact", "speed at the splash threshold"), ids=lambda row: row["inputs"]
)
def test_shatters_above_the_published_threshold(row: dict[str, str]) -> None:
    # K = 57.7: Mundo, Sommerfeld & Tropea 1995; water at 20 degC
    speed, margin = float(row["value"]), 2 * float(row["tolerance"])
    told = spray.impact_map(
        ws.Scenario(air={"temperature": "20 degC"}),
        contact_angle="60 deg",
        surface_tension=float(row["surface_tension"]),
        shatter_threshold=57.7,
        diameters=float(row["d"]),
        speeds=[speed - margin, speed + margin],
    )
    assert told["outcome"].values.ravel().tolist() == [0, 2]


def test_small_droplets_stick_to_a_repellent_leaf() -> None:
    [row] = published("impact", "drops stick to a hydrophobic polymer")  # McLauchlan et al. 2025
    told = spray.impact_map(
        ws.Scenario(air={"temperature": "20 degC"}),
        contact_angle=f"{row['angle_deg']} deg",
        surface_tension="72.7 mN/m",
        diameters=[50e-6, 200e-6],
        speeds=float(row["value"]),
    )
    names = told["outcome"].attrs["flag_meanings"].split()
    assert [names[flag] for flag in told["outcome"].values[0]] == ["sticks", "rebounds"]
    assert told["retained_share"].values[0].tolist() == [1.0, 0.0]


def test_impact_counts_only_the_speed_into_the_leaf() -> None:
    given = {"contact_angle": "60 deg", "diameters": "300 um", "shatter_threshold": 57.7}
    straight = spray.impact_map(speeds="5 m/s", **given)  # type: ignore[arg-type]
    slanted = spray.impact_map(speeds="10 m/s", incidence="60 deg", **given)  # type: ignore[arg-type]
    np.testing.assert_allclose(slanted["splash_parameter"], straight["splash_parameter"], rtol=1e-9)


def test_two_published_laws_of_spread_stand_side_by_side() -> None:
    given = {"contact_angle": "90 deg", "surface_tension": 0.05, "diameters": 200e-6, "speeds": [1.0, 4.0]}
    mao, other = (
        spray.impact_map(spread_law=law, **given)  # type: ignore[arg-type]
        for law in ("mao", "pasandideh_fard")
    )
    assert (np.abs(mao["maximum_spread"] / other["maximum_spread"] - 1.0) < 0.25).all()
    assert not np.allclose(mao["maximum_spread"], other["maximum_spread"], rtol=1e-3)
    np.testing.assert_array_equal(mao["maximum_spread"], spray.impact_map(**given)["maximum_spread"])  # type: ignore[arg-type]
    # the closed form at the numbers of the droplet: rho v^2 d / sigma, and K^4 = We^2 Re
    density = float(ws.water.density(ws.Scenario()["air.temperature"]))
    weber = density * np.array([1.0, 4.0]) ** 2 * 200e-6 / 0.05
    reynolds = other["splash_parameter"].values.ravel() ** 4 / weber**2
    spread = np.sqrt((weber + 12) / (3 + 4 * weber / np.sqrt(reynolds)))
    np.testing.assert_allclose(other["maximum_spread"].values.ravel(), spread, rtol=1e-3)
    with pytest.raises(InputError, match=r"spread_law = 'wide' is none of 'mao', 'pasandideh_fard'"):
        spray.impact_map(spread_law="wide")


def test_impact_picture_shows_the_spray(scenario: ws.Scenario) -> None:
    told = spray.impact_map(scenario, contact_angle="130 deg")
    assert told["outcome"].dims == ("speed", "diameter")
    assert set(np.unique(told["outcome"])) == {0, 1, 2}
    assert told.attrs["contact_angle_deg"] == pytest.approx(130)
    arrival = spray.fly(scenario)
    np.testing.assert_allclose(told["arrival_speed"], arrival["speed"])
    labels = [text.get_text() for text in spray.plot_impact(told).legends[0].get_texts()]
    assert labels == ["sticks", "rebounds", "shatters", "this spray's droplets"]
    assert len(spray.plot_impact(spray.impact_map()).legends[0].get_texts()) == 3
    with pytest.raises(InputError, match="impact_map"):
        spray.plot_impact(arrival)


# Deposit --------------------------------------------------------------------------------------------------


def test_deposit_is_what_the_simulation_starts_from(scenario: ws.Scenario) -> None:
    laid, outcome = spray.deposit(scenario), ws.simulate(scenario)
    xr.testing.assert_allclose(laid["split"], outcome.split["share"], rtol=1e-14)
    assert float(laid["split"].sum()) == pytest.approx(1.0, abs=1e-12)
    volume = 1e3 * scenario["application.volume_rate"]
    assert float(laid["liquid"].sum()) == pytest.approx(
        volume * float(laid["split"].sel(target="leaf")), rel=1e-12
    )
    assert float(laid["wet_share"].sel(layer=1, side="upper")) == pytest.approx(
        float(outcome.history["wet_share"][0]), rel=1e-9
    )


def test_deposit_under_weather_is_the_simulations() -> None:
    scenario, weather, time = ws.Scenario(), ws.read_weather("piedmont"), "2026-05-14T15:00"
    laid = spray.deposit(scenario, weather=weather, time=time)
    xr.testing.assert_allclose(laid["split"], ws.simulate(scenario, weather, time).split["share"], rtol=1e-14)
    assert float(laid["split"][0]) != float(spray.deposit(scenario)["split"][0])


def test_stems_stand_in_the_layers(scenario: ws.Scenario) -> None:
    told = ws.deposit(scenario)
    sprayed = 1e3 * scenario["application.volume_rate"]
    assert float(told.stem_liquid.sum()) == pytest.approx(sprayed * float(told.split.sel(target="stem")))
    from_above = told.stem_run_off.shift(layer=1, fill_value=0.0)
    from_leaves = told.stem_liquid + told.stem_run_off - told.stem_caught - from_above
    assert (from_leaves / told.run_off).values == pytest.approx(0.15)  # a rounded crown


def test_deposit_by_layer_and_side(scenario: ws.Scenario) -> None:
    laid = spray.deposit(scenario.replace({"canopy.layers": 3, "retention.underleaf": 0.2}))
    assert laid["deposit"].dims == ("layer", "side")
    both = laid["deposit"].sum("side") * laid["leaf_area"]
    np.testing.assert_allclose(both, laid["liquid"], rtol=1e-12)
    np.testing.assert_allclose(laid["deposit"].sel(side="lower"), 0.25 * laid["deposit"].sel(side="upper"))
    # the droplets that are told, as spheres, hold the liquid that is told
    diameter, share = laid["droplet_diameter"] * 1e-6, laid["volume_share"]
    np.testing.assert_allclose(share.sum("bin"), 1.0, rtol=1e-12)
    number = (share / (math.pi / 6 * diameter**3)).sum("bin") * 1e-3 * laid["deposit"] * 1e-4
    np.testing.assert_allclose(laid["droplet_density"], number.transpose(*laid["droplet_density"].dims))
    # caps of 80 degrees (1.396 rad) on discs at random
    t = math.tan(1.396 / 2)
    radius = diameter / (3 * t + t**3) ** (1 / 3)
    discs = (share / (math.pi / 6 * diameter**3) * math.pi * radius**2).sum("bin") * 1e-3 * laid["deposit"]
    np.testing.assert_allclose(laid["wet_share"], (1 - np.exp(-discs)).transpose(*laid["wet_share"].dims))


def test_finer_droplets_wet_more_of_a_leaf(scenario: ws.Scenario) -> None:
    fine, coarse = (
        spray.deposit(scenario, droplets=spray.spectrum(name)) for name in ("fine", "very coarse")
    )
    for name in ("wet_share", "droplet_density"):
        assert (fine[name].sel(layer=1) > coarse[name].sel(layer=1)).all()
    assert "fine" in fine.attrs["droplets"]


def one_size(diameter: str) -> spray.DropletSpectrum:
    told = spray.spectrum(dv50=diameter, relative_span=0.05, bins=1)
    assert told.bins.sizes["diameter"] == 1
    return told


#: A simulation flies size classes side by side, `fly` one after the other: each within the tolerance of 1e-6.
TWO_FLIGHTS = 3e-5


@pytest.mark.parametrize("diameter", ["25 um", "60 um", "200 um"])  # the first dries to its core
def test_flight_is_the_one_in_every_simulation(diameter: str) -> None:
    scenario = ws.Scenario(air={"speed": "0.7 m/s", "relative_humidity": 0.2}, liquid={"humectant": 0.1})
    flown = spray.fly(scenario, droplets=one_size(diameter))
    split = spray.deposit(scenario, droplets=one_size(diameter))["split"]
    for fate in ("evaporated", "airborne"):
        assert float(split.sel(target=fate)) == pytest.approx(float(flown[fate][0]), rel=TWO_FLIGHTS)


@pytest.mark.parametrize("contact_angle", ["60 deg", "140 deg"])
def test_cards_under_leaves_get_what_a_simulation_lets_through(contact_angle: str) -> None:
    # so little liquid, and so large a store, that nothing runs off leaves; no stems
    scenario = ws.Scenario(
        application={"volume_rate": 1e-6},
        retention={"leaf_store": 5e-4},
        canopy={"stem_area": 0.0, "crown_cover": 1.0},
        leaf={"contact_angle": contact_angle},
    )
    laid = spray.deposit(scenario, droplets=one_size("350 um"))
    assert float(laid["shattered"]) > 0.1
    ground = float(laid["split"].sel(target=["substrate", "bench"]).sum())
    assert float(laid["card_deposit"][-1]) / 1e-3 == pytest.approx(ground, rel=2e-3)
    delivered = 1 - float(laid["split"].sel(target=["evaporated", "airborne"]).sum())
    assert float(laid["card_deposit"][0]) / 1e-3 == pytest.approx(delivered, rel=TWO_FLIGHTS)


def test_datasets_can_be_written_and_read(scenario: ws.Scenario, tmp_path: Path) -> None:
    for told in (
        spray.deposit(scenario),
        spray.fly(scenario),
        spray.fly_classes(scenario),
        spray.impact_map(scenario, diameters=[1e-4, 2e-4], speeds=[1.0, 2.0]),
        spray.nozzle_chart(),
        spray.spectrum("fine").bins,
        spray.card(scenario, pixel="200 um").image.to_dataset(name="stained"),
    ):
        told.to_netcdf(tmp_path / "told.nc", engine="scipy")
        with xr.open_dataset(tmp_path / "told.nc", engine="scipy") as back:
            xr.testing.assert_allclose(back.load(), told)
        for name, values in told.variables.items():
            if values.dtype.kind == "f" and name != "image":
                assert values.attrs["units"], name
                assert values.attrs["long_name"], name


# Card -----------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def card(scenario: ws.Scenario) -> spray.SimulatedCard:
    return spray.card(scenario)


def test_card_agrees_with_the_deposit(scenario: ws.Scenario, card: spray.SimulatedCard) -> None:
    laid = spray.deposit(scenario)
    assert card.expected_covered == pytest.approx(float(laid["card_coverage"][0]), rel=1e-12)
    assert card.expected_droplets_per_cm2 == pytest.approx(float(laid["card_density"][0]), rel=1e-12)
    assert 1e3 * card.deposit == pytest.approx(float(laid["card_deposit"][0]), rel=1e-12)
    low = spray.card(scenario, below=2)
    assert 1e3 * low.deposit == pytest.approx(float(laid["card_deposit"][2]), rel=1e-12)
    assert low.covered < card.covered


def test_card_scatters_about_what_is_expected(scenario: ws.Scenario, card: spray.SimulatedCard) -> None:
    area = 2.6 * 7.6  # cm2
    count = card.expected_droplets_per_cm2 * area
    assert abs(card.droplets_per_cm2 * area - count) < 4 * math.sqrt(count)  # Poisson
    assert 0.1 < card.covered < 0.9
    assert card.covered == pytest.approx(card.expected_covered, abs=0.015)
    assert card.stains_per_cm2 < card.droplets_per_cm2  # touching ones count as one
    assert float(card.image.mean()) == card.covered


def test_a_single_stain_is_a_disc_of_the_right_size() -> None:
    from wetspan.spray.cards import _stained

    image = _stained(np.array([[3.03e-3, 4.21e-3, 0.7e-3]]), 10e-3, 8e-3, 20e-6)
    assert image.shape == (400, 500)
    assert image.sum() * (20e-6) ** 2 == pytest.approx(math.pi * 0.7e-3**2, rel=2e-3)
    rows, columns = np.nonzero(image)
    assert (rows.mean() + 0.5) * 20e-6 == pytest.approx(4.21e-3, abs=1e-6)
    assert (columns.mean() + 0.5) * 20e-6 == pytest.approx(3.03e-3, abs=1e-6)
    edge = _stained(np.array([[0.0, 0.0, 0.7e-3], [10.5e-3, 4e-3, 0.7e-3]]), 10e-3, 8e-3, 20e-6)
    assert edge[0, 0]
    assert edge[200, -1]
    assert not edge[200, 0]


def test_the_seed_makes_the_card(scenario: ws.Scenario, card: spray.SimulatedCard) -> None:
    again, other = spray.card(scenario, 1), spray.card(scenario, 2)
    xr.testing.assert_identical(again.image, card.image)
    assert (other.image != card.image).any()
    assert other.expected_covered == card.expected_covered


def test_card_is_true_to_scale(card: spray.SimulatedCard, tmp_path: Path) -> None:
    figure = card.plot()
    box = figure.axes[0].get_position()
    size = figure.get_size_inches() * 25.4
    assert (box.width * size[0], box.height * size[1]) == pytest.approx((26.0, 76.0))
    beside = " ".join(text.get_text() for text in figure.axes[1].texts)
    assert f"{card.droplets_per_cm2:.3g} droplets / cm²" in beside
    assert f"{100 * card.covered:.3g} % covered" in beside
    # as printed: stained pixels of the picture against those of the image
    card.save(tmp_path / "card.png", dpi=254)  # 10 pixels a mm
    pixels = matplotlib.image.imread(tmp_path / "card.png")
    height, _, _ = pixels.shape
    assert height == pytest.approx(10 * size[1], abs=1)
    paper = pixels[84 : 84 + 752, 84 : 84 + 252, 0]  # margins are 8 mm; leave the edge out
    dark = (paper.max() - paper) / (paper.max() - paper.min())
    assert dark.mean() == pytest.approx(card.covered, abs=0.02)


def test_card_refuses(scenario: ws.Scenario, card: spray.SimulatedCard, tmp_path: Path) -> None:
    for given, message in (
        ({"seed": -1}, "seed = -1"),
        ({"seed": 1.5}, "seed = 1.5"),
        ({"below": 3}, "below = 3 is not a whole number from 0 to 2"),
        ({"width": "5 m"}, "card.width = '5 m' is outside what is allowed, 0.001 m to 1 m"),
        ({"spread_factor": 0.5}, "card.spread_factor"),
        ({"time": "2026-05-14T15:00"}, "weather and time go together"),
    ):
        with pytest.raises(InputError, match=re.escape(message)):
            spray.card(scenario, **given)  # type: ignore[arg-type]
    finest = scenario.replace({"droplets.dv50": "40 um", "droplets.relative_span": 1.0})
    with pytest.raises(InputError, match="give a smaller width and height, or a larger smallest_stain"):
        spray.card(finest, width="1 m", height="1 m", smallest_stain="0 um")
    with pytest.raises(InputError, match="written as"):
        card.save(tmp_path / "card.txt")
    with pytest.raises(InputError, match="dpi = 0"):
        card.save(tmp_path / "card.png", dpi=0)


@pytest.mark.parametrize("tool", [spray.fly, spray.fly_classes, spray.impact_map, spray.deposit, spray.card])
def test_a_drench_has_no_spray(tool) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(InputError, match="drench"):
        tool(ws.Scenario(application={"method": "drench"}))


# Pages ----------------------------------------------------------------------------------------------------


@pytest.mark.skipif(not (ROOT / "docs").is_dir(), reason="a source distribution has no docs")
def test_how_to_runs_as_it_stands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = (ROOT / "docs/how_to/nozzle_and_card.md").read_text(encoding="utf-8")
    table, code = ("".join(re.findall(rf"```{kind}\n(.*?)```", text, re.S)) for kind in ("csv", "python"))
    (tmp_path / "nozzle.csv").write_text(table, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    exec(code, {})
    assert (tmp_path / "card.png").stat().st_size > 10_000
