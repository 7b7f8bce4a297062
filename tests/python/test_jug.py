"""What stands in the jug, as labelled arrays, and what pours from it deliver."""

import csv
import re
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from wetspan.errors import InputError, IntegrationError
from wetspan.jug import JUG_INPUTS, about_pours, pours, settle
from wetspan.product import PRODUCTS, Product
from wetspan.unit_choice import SYSTEMS

REFERENCE = Path(__file__).parents[1] / "reference" / "jug.csv"
SUSPENSION = "paclobutrazol 0.4 % suspension concentrate"
MICROEMULSION = "paclobutrazol 4 % microemulsion"


@pytest.fixture(scope="module")
def jug() -> xr.Dataset:
    return settle(SUSPENSION, days=60)


def common_practice(quantity: str) -> tuple[float, float, float]:
    with REFERENCE.open(newline="") as file:
        row = next(row for row in csv.DictReader(file) if row["quantity"] == quantity)
    return float(row["inputs"].removeprefix("day=")), float(row["value"]), float(row["tolerance"])


def test_dataset_says_what_it_is(jug: xr.Dataset) -> None:
    assert jug["concentration"].dims == ("day", "component", "depth")
    assert list(jug["component"].values) == ["active ingredient", "carrier"]
    assert jug["day"].values[[0, 1, -1]].tolist() == [0.0, 1.0, 60.0]
    assert jug["depth"].attrs["positive"] == "down"
    assert jug["depth"].attrs["bounds"] in jug
    assert jug["concentration"].attrs["units"] == "kg m-3"
    assert jug["afloat"].attrs["grade"] == "C"
    assert "not validated" in jug.attrs["comment"]
    for name, row in JUG_INPUTS.items():
        assert row.source in jug.attrs[f"input_{name}"]
        assert f"; {row.grade}: " in jug.attrs[f"input_{name}"]
    assert jug.attrs["product_strength_evidence"].startswith("A: ")


def test_dataset_can_be_written_and_read(jug: xr.Dataset, tmp_path: Path) -> None:
    jug.to_netcdf(tmp_path / "jug.nc", engine="scipy")
    with xr.open_dataset(tmp_path / "jug.nc", engine="scipy") as back:
        xr.testing.assert_equal(back.load(), jug)
        assert back.attrs["input_viscosity_ratio"] == jug.attrs["input_viscosity_ratio"]


def test_starts_at_the_label_and_keeps_its_mass(jug: xr.Dataset) -> None:
    active = jug["concentration"].sel(component="active ingredient")
    label = PRODUCTS[SUSPENSION].concentration
    assert label is not None
    np.testing.assert_allclose(active.isel(day=0), label, rtol=1e-12)
    np.testing.assert_allclose(jug["relative_to_label"].mean("depth"), 1.0, rtol=1e-12)
    np.testing.assert_allclose(active, label * jug["relative_to_label"].sel(component="active ingredient"))


def test_calibrated_to_common_practice(jug: xr.Dataset) -> None:
    for component in ("active ingredient", "carrier"):
        day, share, tolerance = common_practice(f"{component} afloat")
        assert share == 0.5
        assert f"half of the {component}" in jug.attrs["comment"]
        assert float(jug["afloat"].sel(component=component, day=day)) == pytest.approx(share, abs=tolerance)


def test_microemulsion_is_uniform_always() -> None:
    still = settle(MICROEMULSION, days=730, every=365, temperature="40 degC")
    assert list(still["component"].values) == ["active ingredient"]
    np.testing.assert_allclose(still["concentration"], 40.0, rtol=1e-14)
    np.testing.assert_array_equal(still["concentration"].isel(day=-1), still["concentration"].isel(day=0))
    table = pours(still, 730)
    np.testing.assert_allclose(table, 1.0, rtol=1e-12)
    assert max(table.attrs["spread"].values()) < 1e-12


def test_pours(jug: xr.Dataset) -> None:
    top = pours(jug, 30)
    assert list(top.columns) == ["unshaken", "part-shaken", "shaken"]
    assert top.index.tolist() == list(range(1, 11))
    np.testing.assert_allclose(top.mean(), 1.0, rtol=1e-9)  # the whole jug is the label
    np.testing.assert_allclose(top["shaken"], 1.0, rtol=1e-12)
    assert top["unshaken"].iloc[0] < 0.1
    assert top["unshaken"].iloc[-1] > 5
    bottom = pours(jug, 30, draw="bottom")
    np.testing.assert_allclose(bottom["unshaken"].to_numpy(), top["unshaken"].to_numpy()[::-1], atol=1e-12)
    spread = top.attrs["spread"]
    for case in top:
        assert spread[case] == pytest.approx(top[case].std() / top[case].mean(), abs=1e-12)
    assert spread["part-shaken"] == pytest.approx(spread["unshaken"] / 2, rel=1e-9)
    np.testing.assert_allclose(pours(jug, 0, count=3), 1.0, rtol=1e-12)
    own = pours(jug, 7, count=4, shaking={"a quick swirl": 0.2})
    assert own.shape == (4, 1)


def test_inputs_take_units_and_change_the_answer(jug: xr.Dataset) -> None:
    warm = settle(SUSPENSION, days=7, every=7, temperature="86 degF", height="20 cm")
    same = settle(SUSPENSION, days=7, every=7, temperature=303.15, height=0.2)
    np.testing.assert_allclose(warm["concentration"], same["concentration"], rtol=1e-9)
    at_week = jug["afloat"].sel(component="active ingredient", day=7)
    assert float(warm["afloat"].sel(component="active ingredient", day=7)) < float(at_week)
    fine = settle(SUSPENSION, days=7, every=7, active_diameter="0.8 um")
    assert float(fine["afloat"].sel(component="active ingredient", day=7)) > 0.9
    assert warm.attrs["input_temperature"].endswith("the user's")
    clear = settle(SUSPENSION, days=7, every=7, carrier_concentration=0)
    assert list(clear["component"].values) == ["active ingredient"]


def test_reported_days() -> None:
    assert settle(SUSPENSION, days=10, every=4)["day"].values.tolist() == [0, 4, 8, 10]
    assert settle(SUSPENSION, days=0.3, every=0.1)["day"].values.tolist() == pytest.approx([0, 0.1, 0.2, 0.3])


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        (
            {"product": "paclobutrazol 0.4 % suspension"},
            "did you mean 'paclobutrazol 0.4 %",
        ),
        ({"product": "daminozide 85 % soluble powder"}, "powder"),
        ({"days": -1}, "days = -1"),
        ({"days": float("nan")}, "days = nan"),
        ({"days": "60"}, "days = '60'"),
        ({"every": 0}, "every = 0"),
        ({"every": 1e-9}, "10000 are allowed"),
        ({"temprature": "20 degC"}, "did you mean 'temperature'"),
        ({"wind": 3}, "known are height"),
        ({"temperature": 20}, "temperature = 20 K is outside"),
        ({"height": "20 degC"}, "jug.height = '20 degC' has the wrong dimension"),
        ({"cells": 100.5}, "not a whole number"),
        ({"cells": float("nan")}, "not a whole number"),
        ({"packing": 0.01}, "packing = 0.01 is outside what is allowed, 0.1 to 0.74"),
        ({"packing": float("nan")}, "packing = nan is outside what is allowed, 0.1 to 0.74"),
        ({"cells": 1}, "cells = 1 is outside what is allowed, 4 to 10000"),
        (
            {"temperature": "200 degC"},
            "temperature = '200 degC' is outside what is allowed, 0 degC to 50 degC",
        ),
        (
            {"temperature": "200 degF"},
            "temperature = '200 degF' is outside what is allowed, 32 degF to 122 degF",
        ),
        ({"height": "9 ft"}, "height = '9 ft' is outside what is allowed, 0.032809 ft to 6.5616 ft"),
    ],
)
def test_refusals_are_one_clear_line(changes: dict[str, object], says: str) -> None:
    arguments: dict[str, object] = {"product": SUSPENSION, "days": 7} | changes
    with pytest.raises(InputError, match=re.escape(says)) as refusal:
        settle(**arguments)  # type: ignore[arg-type]
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"day": 3.5}, "day = 3.5 is not one the jug reports: 0 to 60"),
        ({"day": 61}, "settle for longer"),
        ({"count": 0}, "count = 0"),
        ({"count": 2.5}, "count = 2.5"),
        ({"draw": "middle"}, "'top' or 'bottom'"),
        ({"shaking": {"wild": 2}}, "'wild' = 2"),
        ({"shaking": {"odd": float("nan")}}, "'odd' = nan"),
        ({"jug": "jug"}, "settle(...)"),
    ],
)
def test_pours_refuse(jug: xr.Dataset, changes: dict[str, object], says: str) -> None:
    arguments: dict[str, object] = {"jug": jug, "day": 7} | changes
    with pytest.raises(InputError, match=re.escape(says)):
        pours(**arguments)  # type: ignore[arg-type]


def test_work_is_bounded() -> None:
    with pytest.raises(IntegrationError, match="max_steps"):
        settle(SUSPENSION, days=60, max_steps=10)


def test_a_product_of_ones_own() -> None:
    mine = Product("mine", active_ingredient="x", strength="10 g/L", formulation="suspension")
    jug = settle(mine, days=1)
    assert float(jug["concentration"].sel(component="active ingredient").mean()) == pytest.approx(
        10.0, rel=1e-12
    )


def test_what_the_pours_mean_for_a_tank(jug: xr.Dataset) -> None:
    week = pours(jug, "1 week", count=8)
    assert week.equals(pours(jug, 7, count=8))
    unshaken, tank, kept = about_pours(jug, week, "30 mg/L")
    delivered = 100.0 * np.sort(week["unshaken"].to_numpy())
    assert unshaken == (
        f"Unshaken, seven of eight pours give {delivered[0]:.0f} to {delivered[-2]:.0f} % of the label, the "
        f"last {delivered[-1]:.0f} %."
    )
    assert delivered[-1] > 2 * delivered[-2]
    told = [float(each) for each in re.findall(r"([\d.]+) mg/L (?:un|part|shaken)", tank)]
    assert told == pytest.approx(30.0 * week.iloc[2].to_numpy(), rel=0.06)
    assert tank.startswith("A tank mixed to 30 mg/L from the third pour is really ")
    assert tank.endswith("30 mg/L shaken.")
    assert kept.startswith("It stood at 20 degC. Part-shaken: half of what the jug holds is lifted")
    us = about_pours(jug, week, "30 ppm", SYSTEMS["us"])
    assert "30 ppm shaken" in us[1]
    assert "68 degF" in us[2]


def test_what_even_pours_mean(jug: xr.Dataset) -> None:
    fresh = about_pours(jug, pours(jug, 0, count=8))
    assert fresh[0] == "Unshaken, every pour gives 100 % of the label."
    clear = settle(MICROEMULSION, days="60 days")
    told = about_pours(clear, pours(clear, 60, count=1))
    assert len(told) == 2  # of a solution the temperature is no matter
    assert "from the first pour is really 30 mg/L unshaken" in told[1]
    # the last pour takes what has settled: within 5 % of the others they are told as one, and not beyond
    nearly = [about_pours(jug, pours(jug, 7, count=8, shaking={"well": part}))[0] for part in (0.99, 0.98)]
    assert nearly[0] == "Well, every pour gives 99 to 104 % of the label."
    assert (
        nearly[1] == "Well, the pours give 98 to 107 % of the label, none of eight too little, the 8th most."
    )
    late = about_pours(jug, pours(jug, 60, count=8))
    assert "next to nothing unshaken" in late[1]


@pytest.mark.parametrize("days", ["60 degC", "soon", "-2 days", True, None, "60"])
def test_times_are_read_as_everywhere(days: object) -> None:
    with pytest.raises(InputError, match="days = "):
        settle(SUSPENSION, days=days)


def test_times_have_a_unit_or_are_days() -> None:
    assert settle(SUSPENSION, days="2 weeks", every="1 week")["day"].values.tolist() == [0.0, 7.0, 14.0]
