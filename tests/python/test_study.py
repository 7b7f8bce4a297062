"""Studies: a day of spray times, sweeps, uncertainty; the same numbers as single sprays, on any threads."""

import datetime as dt
import os
import re
import time
import tomllib
from itertools import product

import numpy as np
import pandas as pd
import pint
import pytest
import wetspan as ws
import xarray as xr
from refusal import refused
from wetspan import _core
from wetspan.errors import InputError
from wetspan.parameters import TABLE
from wetspan.scenario_file import from_document
from wetspan.sensitivity import control_range

LOGGER = """time,T,RH,light
2026-05-14T06:00,18.0,80,10
2026-05-14T09:00,21.0,70,200
2026-05-14T12:00,27.0,50,450
2026-05-14T15:00,27.0,50,300
2026-05-14T18:00,21.0,70,20
"""


@pytest.fixture(scope="module")
def logger(tmp_path_factory) -> ws.Weather:
    """Twelve hours of a made-up logger at the crop."""
    path = tmp_path_factory.mktemp("logger") / "bench.csv"
    path.write_text(LOGGER, encoding="utf-8")
    return ws.read_weather(
        path,
        columns={"time": "time", "temperature": "T", "relative_humidity": "RH", "shortwave": "light"},
        units={"temperature": "degC", "relative_humidity": "percent", "shortwave": "W/m^2"},
        time_zone="UTC-05:00",
        label="instant",
        exposure="crop",
        constants={"wind_speed": "0.25 m/s"},
    )


def numbers(dataset: xr.Dataset) -> dict[str, bytes]:
    return {str(name): variable.values.tobytes() for name, variable in dataset.variables.items()}


# --- one spray ---------------------------------------------------------------------------------------------


def test_one_spray_has_the_range_of_its_day_or_of_its_air(example, piedmont):
    moment = "2026-05-16T15:00"
    day = ws.compare_times(example, piedmont, moment, moment, samples=8, seed=3)
    low, high, *_ = control_range(example, piedmont, moment, samples=8, seed=3)
    assert (low, high) == (day["growth_control_low"].item(), day["growth_control_high"].item())
    assert low < day["growth_control"].item() < high
    drawn = ws.uncertainty(example, 8, 3)["growth_control"].sel(quantile=[0.1, 0.9])
    assert list(control_range(example, samples=8, seed=3)) == [*drawn.values.tolist(), 8, 3, 0]
    refused(lambda: control_range(example, samples=1), "samples = 1")


# --- a day ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["piedmont", "miami", "sand-point"])
def test_a_day_says_what_it_holds(example, name):
    weather = ws.read_weather(name)
    day = ws.compare_times(example, weather, "2026-05-14T06:00", "2026-05-14T18:00", every="4h")
    assert day["time"].values.astype("datetime64[m]").astype(str).tolist() == [
        "2026-05-14T06:00",
        "2026-05-14T10:00",
        "2026-05-14T14:00",
        "2026-05-14T18:00",
    ]
    assert day["time"].attrs["time_zone"] == weather.time_zone
    assert "standard_name" not in day["time"].attrs  # the wall clock; CF's time is UTC
    assert day["time_utc"].attrs["standard_name"] == "time"
    offset = weather.tz.utcoffset(None)
    assert (day["time"].values - day["time_utc"].values == np.timedelta64(offset)).all()
    for variable in day.variables.values():
        assert variable.attrs["long_name"]
        if variable.dtype.kind == "f":
            assert variable.attrs["units"]
    assert day["air_temperature"].attrs["standard_name"] == "air_temperature"
    assert day["relative_humidity"].attrs["standard_name"] == "relative_humidity"
    assert np.allclose(day["split"].sum("target"), 1.0, atol=1e-12)
    assert day.attrs["wetspan_version"] == ws.__version__
    assert from_document(tomllib.loads(day.attrs["scenario"])) == example
    assert (day["status"] == "dry").all()


def test_times_of_a_day_are_single_sprays(example, piedmont):
    day = ws.compare_times(example, piedmont, "2026-05-16T07:00", "2026-05-17T19:00", every="12h")
    for i, moment in enumerate(day["time"].values):
        one, then = ws.simulate(example, piedmont, moment), day.isel(time=i)
        for name in ("wet_time", "last_drop_time", "stem_wet_time", "growth_control"):
            assert float(then[name]) == getattr(one, name)
        assert then["uptake"].values.tolist() == one.uptake.values.tolist()
        assert then["split"].values.tolist() == one.split["share"].values.tolist()
        assert str(then["status"].item()) == one.status


def test_an_afternoon_is_faster_than_an_early_morning(day):
    wet = day.set_index(time="time")["wet_time"].to_series()
    morning, afternoon = wet["2026-05-16 06:00"], wet["2026-05-16 15:00"]
    # common practice, no source: hot dry afternoons are avoided because the spray dries too fast
    assert morning / afternoon > 5.0


def test_threads_and_repetition_change_nothing(example, piedmont):
    def run(threads: int) -> xr.Dataset:
        times = ("2026-05-16T06:00", "2026-05-16T18:00", "3h")
        return ws.compare_times(example, piedmont, *times, samples=5, seed=3, threads=threads)

    one = numbers(run(1))
    assert numbers(run(1)) == one
    for threads in (0, 2, 5):
        assert numbers(run(threads)) == one


def test_ranges_hold_the_level_and_ratios_are_tighter(day):
    for name in ("wet_time", "growth_control", "control_over_best"):
        assert (day[f"{name}_low"] <= day[f"{name}_high"]).all()
        assert day[f"{name}_low"].attrs["units"] == day[name].attrs["units"]
        assert day[f"{name}_low"].attrs["long_name"].endswith("10% quantile")
    best = day.isel(time=int(np.argmax(day["growth_control"].values)))
    assert float(best["control_over_best_low"]) == float(best["control_over_best_high"]) == 1.0
    assert (day.attrs["samples"], day.attrs["seed"]) == (8, 1)
    nominal = day["growth_control"].values / float(best["growth_control"])
    assert day["control_over_best"].values.tolist() == nominal.tolist()
    assert day.attrs["central"].startswith("nominal")
    relative = (day["growth_control_high"] - day["growth_control_low"]) / day["growth_control"]
    ratio = day["control_over_best_high"] - day["control_over_best_low"]
    assert (ratio < relative).all()  # times compare better than their level is known


def test_a_logger_at_the_crop_is_used_as_it_is(example, logger):
    day = ws.compare_times(example, logger, "2026-05-14T09:00", "2026-05-14T15:00", every="3h")
    assert day["air_temperature"].values == pytest.approx([294.15, 300.15, 300.15], abs=1e-9)
    assert day["relative_humidity"].values == pytest.approx([0.7, 0.5, 0.5], abs=1e-9)
    assert day["shortwave"].values == pytest.approx([200.0, 450.0, 300.0], abs=1e-9)  # no cover in between
    assert day["air_changes"].values == pytest.approx(3600 * example["house.air_changes"])
    steady = example.replace(
        {
            "air.temperature": "27 degC",
            "air.relative_humidity": "50 %",
            "air.shortwave": "375 W/m^2",
            "air.speed": "0.25 m/s",
        }
    )
    noon = ws.simulate(example, logger, "2026-05-14T13:30")  # half way from 450 to 300 W/m2
    assert noon.wet_time == pytest.approx(ws.simulate(steady).wet_time, rel=0.05)
    cold_cover = example.replace({"air.surroundings_offset": "-5 delta_degC"})
    air = ws.simulate(cold_cover, logger, "2026-05-14T13:30").air.columns
    assert air["radiant_temperature"] - air["temperature"] == pytest.approx(-5.0)
    assert (air["speed"] == 0.25).all()


def test_the_end_of_a_record(example, logger):
    late = ws.simulate(example, logger, "2026-05-14T17:59")
    assert (late.status, late.wet_time) == ("wet at end", np.inf)
    assert ws.simulate(example, logger, "2026-05-14T06:00").status == "dry"  # its first moment
    refused(lambda: ws.simulate(example, logger, "2026-05-14T18:00"), "ends at the last time of spraying")
    refused(lambda: ws.simulate(example, logger, "2026-05-14T18:01"), "outside the record", "18:00")
    refused(lambda: ws.simulate(example, logger, "2026-05-14T05:59"), "outside the record", "06:00")


def test_leap_day_and_turn_of_a_typical_year(example, piedmont):
    leap = ws.simulate(example, piedmont, "2028-02-29T10:00")
    # 29 February repeats 28 February; the house started a day earlier, from a 28th as well
    assert leap.wet_time == pytest.approx(
        ws.simulate(example, piedmont, "2027-02-28T10:00").wet_time, rel=0.02
    )
    assert ws.simulate(example, piedmont, "2026-12-31T23:30").status in ("dry", "wet at end")
    refused(lambda: ws.simulate(example, piedmont, "2027-02-29T10:00"), "2027-02-29")


def test_clocks(example, piedmont):
    wall = ws.simulate(example, piedmont, "2026-05-16T15:00")  # UTC-05:00, the record's own
    for moment in (
        "2026-05-16T16:00-04:00",
        dt.datetime(2026, 5, 16, 15),
        dt.datetime(2026, 5, 16, 20, tzinfo=dt.UTC),
        pd.Timestamp("2026-05-16T15:00"),
        pd.Timestamp("2026-05-16T16:00", tz="America/New_York"),
        np.datetime64("2026-05-16T15:00"),
    ):
        assert ws.simulate(example, piedmont, moment).wet_time == wall.wet_time
    midnight = ws.simulate(example, piedmont, dt.date(2026, 5, 16))
    assert midnight.wet_time == ws.simulate(example, piedmont, "2026-05-16T00:00").wet_time


@pytest.mark.parametrize("every", ["3D", dt.timedelta(days=2), np.timedelta64(1, "D")])
def test_a_step_longer_than_the_day_leaves_its_start(example, piedmont, every):
    day = ws.compare_times(example, piedmont, "2026-05-16T06:00", "2026-05-16T20:00", every)
    assert day.sizes["time"] == 1


def test_days_that_are_refused(example, piedmont):
    def day(start="2026-05-16T06:00", end="2026-05-16T07:00", every="1h", **others):
        return lambda: ws.compare_times(example, piedmont, start, end, every, **others)

    assert day(end="2026-05-16T06:00")().sizes["time"] == 1
    refused(day(end="2026-05-16T05:00"), "before start")
    refused(day(start="soon"), "'soon' is not a time")
    refused(day(end="2026-05-18T06:01"), "longer than two days", "ws.season")
    assert day(end="2026-05-18T06:00", every="2D")().sizes["time"] == 2
    for every in ("30", 30, 0, "-1h", "1ns", None):
        refused(day(every=every), f"every = {every!r}", "'30min'")
    for every in ("banana", []):
        refused(day(every=every), f"every = {every!r} is not a time step")
    for samples in (1, -3, 2.5, True):
        refused(day(samples=samples), f"samples = {samples} is not a whole number from 2 on")
    refused(day(samples=2, seed=-1), "seed = -1 is not a whole number from 0 on")
    refused(day(threads=-1), "threads = -1 is not a whole number from 0 to 1024")
    refused(lambda: ws.compare_times(example, "piedmont", "2026-05-16", "2026-05-17"), "ws.read_weather")
    refused(lambda: ws.simulate(example, piedmont), "without a time")
    refused(lambda: ws.simulate(example, time="2026-05-16T06:00"), "without weather")


# --- sweeps -----------------------------------------------------------------------------------------------


def test_a_sweep_is_its_single_sprays(example):
    axes = {
        "air.relative_humidity": ["40 %", 0.8],
        "application.method": ["spray", "drench"],
        "air.speed": np.array([0.1, 0.3, 1.0]),
    }
    grid = ws.sweep(example, axes)
    assert dict(grid["wet_time"].sizes) == {
        "air.relative_humidity": 2,
        "application.method": 2,
        "air.speed": 3,
    }
    assert grid["air.relative_humidity"].values.tolist() == [40.0, 80.0]
    assert grid["application.method"].values.tolist() == ["spray", "drench"]
    for key, units in zip(axes, ["percent", "1", "m/s"], strict=True):  # texts and numbers mixed: as shown
        assert grid[key].attrs == {"long_name": TABLE[key].meaning, "units": units}
    for percent, method, speed in product([40.0, 80.0], ["spray", "drench"], [0.1, 0.3, 1.0]):
        values = {"air.relative_humidity": f"{percent} %", "application.method": method, "air.speed": speed}
        one = ws.simulate(example.replace(values))
        cell = grid.sel(values | {"air.relative_humidity": percent})
        assert float(cell["wet_time"]) == one.wet_time
        assert cell["uptake"].values.tolist() == one.uptake.values.tolist()
        assert cell["split"].values.tolist() == one.split["share"].values.tolist()
        assert str(cell["status"].item()) == one.status


def test_toggles_and_counts_can_be_swept(example):
    grid = ws.sweep(example, {"house.enclosed": np.array([True, False]), "droplets.bins": [6, 8]})
    assert grid["house.enclosed"].values.tolist() == [True, False]
    assert grid["droplets.bins"].values.tolist() == [6, 8]
    one = ws.simulate(example.replace({"house.enclosed": False, "droplets.bins": 8}))
    assert float(grid["wet_time"].sel({"house.enclosed": False, "droplets.bins": 8})) == one.wet_time


@pytest.mark.parametrize(
    ("key", "given", "sought", "units"),
    [
        ("air.relative_humidity", [0.6, 0.8], [0.6, 0.8], "1"),
        ("air.relative_humidity", ["60 %", "80 %"], [60.0, 80.0], "%"),
        ("application.concentration", ["15 mg/L", "30 mg/L"], [15.0, 30.0], "mg/L"),
        ("application.concentration", [0.015, 0.03], [0.015, 0.03], "kg/m^3"),
        ("application.concentration", ["15 mg/L", "30 ppm"], [15.0, 30.0], "mg/L"),
        ("application.concentration", pint.Quantity([15, 30], "mg/L"), [15, 30], "milligram / liter"),
        (
            "application.concentration",
            xr.DataArray([15.0, 30.0], dims="x", attrs={"units": "mg/L"}),
            [15.0, 30.0],
            "mg/L",
        ),
        ("house.air_changes", ["1 per hour", "2 per hour"], [1.0, 2.0], "1/hour"),
        ("air.temperature", ["70 degF", "80 degF"], [70.0, 80.0], "degF"),
    ],
)
def test_a_sweep_is_found_by_what_was_given_and_a_batch_reads_it_back(example, key, given, sought, units):
    quick = example.replace({"droplets.bins": 4})
    grid = ws.sweep(quick, {key: given})
    assert grid[key].attrs["units"] == units
    for value in sought:
        assert grid["wet_time"].sel({key: value}).size == 1
    rows = ws.batch(quick, {key: grid[key]})
    np.testing.assert_array_equal(rows["growth_control"], grid["growth_control"])


def test_slips_of_unit_are_refused_in_a_sweep_and_a_batch(example):
    for many in (ws.sweep, ws.batch):
        refused(
            lambda many=many: many(example, {"application.concentration": [15, 30, 60]}),
            "a bare number is in kg/m^3",
            "Did you mean '15 mg/L'?",
        )
        refused(
            lambda many=many: many(example, {"air.temperature": [20.0, 25.0]}),
            "a bare number is in K",
            "Did you mean degC?",
        )
        metres = xr.DataArray([1.0, 2.0], dims="x", attrs={"units": "m"})
        refused(lambda many=many: many(example, {"air.speed": metres}), "wrong dimension")  # noqa: B023


def test_sweeps_that_are_refused(example):
    refused(lambda: ws.sweep(example, {}), "needs an input")
    for values in ([], (), 0.3, "0.3 m/s", None, np.array(0.3)):
        told = f"air.speed = {values!r}"
        refused(lambda values=values: ws.sweep(example, {"air.speed": values}), told, "list")
    refused(lambda: ws.sweep(example, {"air.sped": [0.3]}), "did you mean 'air.speed'")
    refused(lambda: ws.sweep(example, {"air.speed": ["1 m/s", "99 m/s"]}), "'99 m/s'", "0 m/s to 15 m/s")


def test_what_cannot_be_computed_is_marked_and_warned_of(example):
    fog = example.replace({"application.volume_rate": "2 L/m^2", "air.relative_humidity": "30 %"})
    with pytest.warns(RuntimeWarning, match="1 of 2 runs failed; the first: the spray would cool"):
        grid = ws.sweep(fog, {"droplets.dv50": ["300 um", "15 um"]})
    assert grid["status"].values.tolist() == ["dry", "failed"]
    assert np.isnan(grid["wet_time"].values).tolist() == [False, True]
    with pytest.raises(InputError, match="the spray would cool"):
        ws.sweep(fog, {"droplets.dv50": ["15 um", "16 um"]})


def test_a_failed_row_carries_its_own_error(example):
    fog = example.replace({"droplets.dv50": "15 um", "application.volume_rate": "2 L/m^2"})
    told = _core.simulate_rows(2, [fog._core, example._core], [], scenario_of=np.arange(2, dtype=np.uint64))
    (failed,) = told.failed
    assert failed.row == 0
    with pytest.raises(InputError, match=re.escape(failed.reason)):
        failed.raise_error()


def test_a_day_with_a_time_that_cannot_be_computed_is_refused(example, piedmont):
    fog = example.replace({"application.volume_rate": "2 L/m^2", "droplets.dv50": "60 um"})
    assert ws.simulate(fog, piedmont, "2026-05-16T06:00").status == "dry"
    with pytest.raises(InputError, match="the spray would evaporate"):
        ws.compare_times(fog, piedmont, "2026-05-16T06:00", "2026-05-16T14:00", "8h")


# --- uncertainty ------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def band(example) -> xr.Dataset:
    return ws.uncertainty(example, samples=120, seed=5)


def test_quantiles_rise_and_hold_the_estimate(example, band):
    outcome = ws.simulate(example)
    for name in ("wet_time", "growth_control", "uptake", "split"):
        assert (np.diff(band[name].values, axis=0) >= 0.0).all()
        assert band[name].attrs["units"]
    for name in ("wet_time", "growth_control"):
        low, high = band[name].sel(quantile=[0.05, 0.95]).values
        assert low < getattr(outcome, name) < high
        assert float(band[f"{name}_nominal"]) == getattr(outcome, name)
    assert band["uptake_nominal"].values.tolist() == outcome.uptake.values.tolist()
    assert band.attrs["not_dry"] == band.attrs["failed"] == 0


def test_influences_are_shares(band):
    for name in ("wet_time", "growth_control", "uptake", "split"):
        influence = band[f"{name}_influence"]
        assert influence.dims[0] == "input"
        assert ((influence >= 0.0) & (influence <= 1.0)).all()
        total = influence.sum("input").values
        varies = band[name].values[0] < band[name].values[-1]
        # of 120 draws, chance alone gives each of the inputs 1 / 119 of the variance
        chance = band.sizes["input"] / 119
        assert (total[varies] < 1.0 + 2.0 * chance).all()
        assert (total[varies] > 0.5).all()
        assert (total[~varies] == 0.0).all()
    # what is drawn over the widest range decides the dose that enters
    root = band["uptake_influence"].sel(site="root").to_series()
    # and the half amount that has to go with it for the drench to do what it is known to do
    assert root.idxmax() in ("active.sorption", "uptake.water_use", "active.loss_rate", "crop.half_amount")
    assert set(band["input"].values) == {
        key for key, row in TABLE.items() if row.kind == "number" and row.spread > 1.0 and row.standard > 0.0
    }
    assert all(
        TABLE[key].grade == grade
        for key, grade in zip(band["input"].values, band["grade"].values, strict=True)
    )


def test_a_seed_is_the_same_draws(example, band):
    assert numbers(ws.uncertainty(example, samples=120, seed=5, threads=1)) == numbers(band)
    assert numbers(ws.uncertainty(example, samples=120, seed=6)) != numbers(band)


def test_leaves_that_stay_wet_count_as_longest(example):
    damp = example.replace({"air.relative_humidity": 1.0, "air.shortwave": 0.0, "house.enclosed": False})
    band = ws.uncertainty(damp, samples=6)
    assert band.attrs["not_dry"] == 6
    assert np.isinf(band["wet_time"].values).all()
    assert (band["wet_time_influence"] == 0.0).all()  # nothing to explain
    assert np.isfinite(band["growth_control"].values).all()


def test_draws_keep_to_their_bounds_and_to_each_other(example):
    edge = example.replace({"leaf.receding_angle": example["leaf.contact_angle"], "house.transmittance": 1.0})
    assert ws.uncertainty(edge, samples=40).attrs["failed"] == 0


@pytest.mark.parametrize("samples", [0, 1, -3, 2.5, "9", None, True])
def test_draws_that_are_too_few(example, samples):
    refused(lambda: ws.uncertainty(example, samples=samples), f"samples = {samples!r}")
    assert ws.uncertainty(example, samples=np.int64(2)).attrs["samples"] == 2


# --- all ---------------------------------------------------------------------------------------------------


def test_studies_can_be_kept_and_drawn(tmp_path, day, band, example):
    grid = ws.sweep(example, {"air.speed": [0.1, 0.3], "application.method": ["spray", "drench"]})
    for name, dataset in {"day": day, "band": band, "grid": grid}.items():
        path = tmp_path / f"{name}.nc"
        dataset.to_netcdf(path, engine="scipy")
        with xr.open_dataset(path, engine="scipy", decode_timedelta=False) as read:
            xr.testing.assert_allclose(read, dataset)
            assert read.attrs.keys() == dataset.attrs.keys()
    assert day["wet_time"].plot()
    assert band["wet_time"].plot()


@pytest.mark.skipif(os.name == "nt", reason="no SIGINT to send")
def test_an_interrupt_ends_a_single_long_spray(interrupted):
    started = time.perf_counter()
    status, out, error = interrupted(
        "import wetspan as ws\n"
        "long = ws.Scenario().replace({'liquid.humectant': 0.05, 'liquid.kappa': 1.0, 'droplets.bins': 200,"
        " 'canopy.layers': 4, 'numerics.tolerance': 1e-12})\n"
        "ws.simulate(ws.Scenario())\nprint('ready', flush=True)\nfor _ in range(200): ws.simulate(long)"
    )
    assert status != 0
    assert out == ""
    assert error.rstrip().endswith("KeyboardInterrupt")
    assert "simulate" in error
    assert time.perf_counter() - started < 60.0  # by themselves they take minutes


@pytest.mark.skipif(os.name == "nt", reason="no SIGINT to send")
def test_an_interrupt_ends_a_study(interrupted):
    status, out, error = interrupted(
        "import wetspan as ws\nprint('ready', flush=True)\n"
        "ws.sweep(ws.Scenario(), {'air.speed': [0.3] * 100_000}, threads=1)"
    )
    assert status != 0
    assert out == ""
    assert error.rstrip().endswith("KeyboardInterrupt")
