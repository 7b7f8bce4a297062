"""Many sprays: columns in, columns out; each row what a single spray is, to the bit, in any company."""

import gc
import importlib
import signal
import threading
import time
import warnings
import weakref
from collections.abc import Iterator

import numpy as np
import pandas as pd
import pint
import pytest
import wetspan as ws
import xarray as xr
from refusal import refused
from wetspan import _core
from wetspan.errors import InputError
from wetspan.outcome import single
from wetspan.parameters import POSITION, TABLE
from wetspan.record import REACH_THE_AIR, Record, _all_kept, weeks_at

OUTDOORS = """time,T,RH,P,wind,sun
2026-03-07T12:00,33.0,35,1013,2.0,800
2026-03-07T18:00,20.0,60,1012,1.0,20
2026-03-08T00:00,5.0,90,1011,0.5,0
2026-03-08T06:00,2.0,95,1010,0.5,0
2026-03-08T12:00,30.0,40,1012,3.0,900
2026-03-08T20:00,12.0,85,1012,1.0,0
"""


def read(tmp_path, **about) -> ws.Weather:
    """Read a made-up record of two days."""
    path = tmp_path / "record.csv"
    path.write_text(OUTDOORS, encoding="utf-8")
    return ws.read_weather(
        path,
        columns={
            "time": "time",
            "temperature": "T",
            "relative_humidity": "RH",
            "pressure": "P",
            "wind_speed": "wind",
            "shortwave": "sun",
        },
        units={
            "temperature": "degC",
            "relative_humidity": "percent",
            "pressure": "hPa",
            "wind_speed": "m/s",
            "shortwave": "W/m^2",
        },
        label="instant",
        longest_gap="12h",
        **{"time_zone": "UTC-05:00", "exposure": "outdoor"} | about,
    )


@pytest.fixture(scope="module")
def outdoors(tmp_path_factory) -> ws.Weather:
    return read(tmp_path_factory.mktemp("outdoors"))


@pytest.fixture(scope="module")
def logger(tmp_path_factory) -> ws.Weather:
    return read(tmp_path_factory.mktemp("logger"), exposure="crop")


@pytest.fixture(scope="module")
def new_york(tmp_path_factory) -> ws.Weather:
    """Return the record on a clock that skips an hour."""
    return read(tmp_path_factory.mktemp("new_york"), time_zone="America/New_York")


@pytest.fixture(scope="module")
def quick(example) -> ws.Scenario:
    """Return the example with coarser numerics."""
    return example.replace({"droplets.bins": 6, "numerics.tolerance": 1e-4, "numerics.longest": "12 hour"})


def bits(dataset: xr.Dataset) -> dict[str, bytes | str]:
    """Return the numbers of a dataset as bytes, texts as they are."""
    return {
        str(name): variable.values.tobytes() if variable.dtype.kind == "f" else repr(variable.values.tolist())
        for name, variable in dataset.data_vars.items()
    }


def many(count: int) -> pd.DataFrame:
    """Return rows of several kinds: plain, hygroscopic, drenched, of one to four leaf layers."""
    draw = np.random.default_rng(8)
    place = np.arange(count)
    return pd.DataFrame(
        {
            "air.speed": draw.uniform(0.05, 0.6, count),
            "air.temperature": draw.uniform(290.0, 303.0, count),
            "droplets.dv50": draw.uniform(150e-6, 400e-6, count),
            "canopy.layers": place % 4 + 1,
            "liquid.humectant": np.where(place % 7 == 3, 0.02, 0.0),
            "liquid.kappa": 0.3,
            "application.method": np.where(place % 11 == 5, "drench", "spray"),
        }
    )


def timed(count: int) -> pd.DataFrame:
    """Return the same at moments of the made-up record, in houses of two kinds."""
    place = np.arange(count)
    about = {
        "time": pd.Timestamp("2026-03-07T13:00") + pd.to_timedelta(17 * (place * 13 % 50), unit="min"),
        "house.air_changes": np.where(place % 3 == 0, 2.0, 0.5) / 3600.0,
    }
    return many(count).drop(columns=["air.speed", "air.temperature"]).assign(**about)


def assert_single(row: xr.Dataset, one: ws.Outcome) -> None:
    """Check that a row tells what a single spray tells, to the bit."""
    for name in ("wet_time", "last_drop_time", "stem_wet_time", "growth_control"):
        assert float(row[name]) == getattr(one, name)
    assert row["split"].values.tolist() == one.split["share"].values.tolist()
    assert row["uptake"].values.tolist() == one.uptake.values.tolist()
    assert row["tips"].values.tolist() == one.at_tips.values.tolist()
    assert (str(row["status"].item()), str(row["path"].item())) == (one.status, one.path)


# --- what goes in -----------------------------------------------------------------------------------------


def test_columns_of_every_kind_are_read_alike(quick):
    unit = pint.get_application_registry()
    speeds, warmth = [0.1, 0.2, 0.4], [20.0, 25.0, 30.0]
    kelvin = [value + 273.15 for value in warmth]
    methods = ["spray", "drench", "spray"]
    plain = {"air.speed": speeds, "air.temperature": kelvin, "application.method": [0, 1, 0]}
    expected = bits(ws.batch(quick, plain))
    written = [f"{value} degC" for value in warmth]
    quantities = {
        "air.speed": unit.Quantity(np.array(speeds), "m/s"),
        "air.temperature": unit.Quantity(np.array(kelvin), "K"),
    }
    for rows in (
        pd.DataFrame(plain, index=[7, 7, 2]),
        xr.Dataset({name: ("spray", values) for name, values in plain.items()}),
        plain | {"application.method": methods},
        plain | {"application.method": pd.Series(methods, dtype="category")},
        plain | {"air.temperature": written},
        plain | {"air.temperature": np.array(written, dtype=object)},
        plain | quantities,
        {name: tuple(values) for name, values in plain.items()},
    ):
        result = ws.batch(quick, rows)
        assert result.sizes["row"] == 3
        assert bits(result) == expected
    slow = ws.batch(quick, {"air.speed": unit.Quantity(np.array([10.0, 20.0]), "cm/s")})
    assert slow["air.speed"].values == pytest.approx([0.1, 0.2], rel=1e-15)
    single_precision = ws.batch(quick, plain | {"air.speed": np.array(speeds, dtype=np.float32)})
    assert single_precision["air.speed"].values.tolist() == np.array(speeds, dtype=np.float32).tolist()
    toggled = ws.batch(quick, {"house.enclosed": [True, False]})
    assert bits(toggled) == bits(ws.batch(quick, {"house.enclosed": ["yes", "no"]}))
    assert toggled["wet_time"][0] != toggled["wet_time"][1]


def test_float64_columns_are_not_copied(quick):
    speeds = np.array([0.1, 0.2, 0.3])
    result = ws.batch(quick, {"air.speed": speeds})
    assert np.shares_memory(result["air.speed"].values, speeds)


def test_the_result_says_what_it_holds(quick, outdoors):
    rows = {"air.speed": [0.1, 0.5], "time": ["2026-03-07T13:00"] * 2, "weather": ["here", "here"]}
    result = ws.batch(quick, rows, {"here": outdoors})
    assert result["wet_time"].dims == result["status"].dims == result["path"].dims == ("row",)
    assert result["split"].dims == ("row", "target")
    for name in ("air.speed", "weather"):
        assert name in result.coords
        assert result[name].dims == ("row",)
        assert result[name].values.tolist() == rows[name]
    assert result["air.speed"].attrs["units"] == "m/s"
    assert result["uptake"].attrs["units"] == "mg"
    for variable in result.variables.values():
        assert variable.attrs["long_name"]
    assert np.allclose(result["split"].sum("target"), 1.0, atol=1e-12)
    assert "reason" not in result
    assert result.attrs["failed"] == 0
    assert result.attrs["wetspan_version"] == ws.__version__
    air = {"air_temperature", "relative_humidity", "vapour_pressure_deficit", "shortwave", "air_changes"}
    swept = set(ws.sweep(quick, {"air.speed": [0.1]}).data_vars)
    assert swept | air | {"path", "path_reason", "bridged"} == set(result.data_vars)
    assert swept | air | {"path", "path_reason"} == set(ws.batch(quick, {"air.speed": [0.1]}).data_vars)
    assert result.attrs["weather"] == f"here: {outdoors!r}"
    assert ws.batch(quick, {"time": rows["time"]}, outdoors).attrs["weather"] == repr(outdoors)


def test_the_air_when_sprayed_is_told(quick, outdoors, logger):
    rows = {"time": ["2026-03-07T13:00", "2026-03-07T18:00"]}
    measured = ws.batch(quick, rows, logger)
    assert measured["air_temperature"].values == pytest.approx([303.983, 293.15], abs=1e-3)
    saturated = ws.air.saturation_pressure(measured["air_temperature"].values)
    deficit = saturated * (1.0 - measured["relative_humidity"].values)
    assert measured["vapour_pressure_deficit"].values == pytest.approx(deficit, rel=1e-12)
    assert measured["vapour_pressure_deficit"].attrs["units"] == "Pa"
    housed = ws.batch(quick, rows, outdoors)
    day = ws.compare_times(quick, outdoors, "2026-03-07T13:00", "2026-03-07T18:00", "5h")
    for name in ("air_temperature", "relative_humidity", "shortwave", "air_changes"):
        assert housed[name].values.tolist() == day[name].values.tolist()
    with pytest.warns(RuntimeWarning, match="1 of 2 rows failed"):
        stated = ws.batch(quick, {"air.temperature": [290.0, 300.0], "air.speed": [0.3, 99.0]})
    assert stated["air_temperature"].values[0] == 290.0
    assert np.isnan(stated["air_temperature"].values[1])
    assert stated["air_changes"].values[0] == pytest.approx(3600.0 * quick["house.air_changes"])


def test_columns_that_cannot_be_read_are_refused(quick, outdoors):
    refused(lambda: ws.batch(quick, {}), "columns")
    refused(lambda: ws.batch(quick, {"air.speed": [0.1], "air.temperature": [290.0, 300.0]}), "air.speed 1")
    refused(lambda: ws.batch(quick, {"air.sped": [0.1]}), "air.speed")
    refused(lambda: ws.batch(quick, {"application.method": ["spray", "drensh"]}), "drench")
    refused(
        lambda: ws.batch(quick, {"air.temperature": ["24 degC", "24"]}), "air.temperature = '24' has no unit"
    )
    refused(lambda: ws.batch(quick, {"air.speed": ["24 degC"]}), "wrong dimension")
    refused(lambda: ws.batch(quick, {"air.speed": np.full((2, 2), 0.3)}))
    refused(lambda: ws.batch("bench", {"air.speed": [0.3]}), "scenario")
    refused(lambda: ws.batch(quick, {"air.speed": [0.3]}, "miami"), "read_weather")
    refused(lambda: ws.batch(quick, {"air.speed": [0.3]}, outdoors), "'time'")
    refused(lambda: ws.batch(quick, {"time": ["2026-03-07T13:00"]}), "without weather")
    refused(lambda: ws.batch(quick, {"weather": ["miami"], "air.speed": [0.1]}), "without weather")
    noon = {"time": ["2026-03-07T13:00"]}
    refused(lambda: ws.batch(quick, noon | {"weather": ["here"]}, outdoors), "'name': record")
    refused(lambda: ws.batch(quick, noon, {"here": outdoors}), "'weather'")
    refused(lambda: ws.batch(quick, noon | {"weather": ["herre"]}, {"here": outdoors}), "'herre'", "'here'")
    for threads in (-1, 1.5, 2.0, True, "2", None):
        refused(lambda threads=threads: ws.batch(quick, {"air.speed": [0.3]}, threads=threads), "threads")
    assert ws.batch(quick, {"air.speed": [0.3]}, threads=np.int64(2)).sizes["row"] == 1


@pytest.mark.parametrize(
    ("key", "changes", "at_crop"),
    [
        ("air.temperature", {}, False),
        ("air.temperature", {}, True),
        ("air.relative_humidity", {}, False),
        ("air.pressure", {}, False),
        ("air.shortwave", {}, True),
        ("air.speed", {}, True),
        ("air.speed", {"house.enclosed": False}, False),
        ("air.surroundings_offset", {}, False),
    ],
)
def test_columns_that_a_record_sets_are_refused(quick, outdoors, logger, key, changes, at_crop):
    weather = logger if at_crop else outdoors
    scenario = quick.replace(changes)
    rows = {"time": ["2026-03-07T13:00"] * 2, key: [0.99 * quick[key], 1.01 * quick[key]]}
    refused(lambda: ws.batch(scenario, rows, weather), f"{key} cannot be a column", weather.source, "sets it")
    several = rows | {"weather": ["here", "here"]}
    refused(lambda: ws.batch(scenario, several, {"here": weather}), f"{key} cannot be a column")


def test_columns_that_reach_the_air_beside_a_record_are_not_refused(quick, outdoors, logger):
    rows = {"time": ["2026-03-07T13:00"] * 2}
    for key, values, changes, weather in (
        ("air.speed", [0.1, 0.5], {}, outdoors),
        ("air.surroundings_offset", [-5.0, 0.0], {}, logger),
        ("air.surroundings_offset", [-5.0, 0.0], {"house.enclosed": False}, outdoors),
    ):
        scenario = quick.replace(changes | {"air.temperature": "30 degC"})  # of the scenario: allowed
        slow, fast = ws.batch(scenario, rows | {key: values}, weather)["wet_time"].values
        assert slow != fast
    both = rows | {"air.speed": [0.1, 0.5], "house.enclosed": [1.0, 0.0]}
    refused(lambda: ws.batch(quick, both, outdoors), "air.speed cannot be a column")


def test_no_rows_are_no_rows(quick, outdoors):
    assert ws.batch(quick, {"air.speed": []}).sizes["row"] == 0
    assert ws.batch(quick, {"air.speed": [], "time": []}, outdoors).sizes["row"] == 0


def test_no_rows_of_texts_are_no_rows(quick):
    assert ws.batch(quick, {"air.temperature": np.array([], dtype=object)}).sizes["row"] == 0


@pytest.mark.parametrize("missing", [None, np.nan])
def test_a_missing_text_is_not_another_rows(quick, missing):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            result = ws.batch(
                quick, {"air.temperature": np.array(["20 degC", missing, "30 degC"], dtype=object)}
            )
        except InputError:
            return
    assert result["status"].values.tolist() == ["dry", "failed", "dry"]


@pytest.mark.parametrize("missing", [None, pd.NaT, np.nan])
def test_a_row_without_a_time_fails_alone(quick, outdoors, missing):
    times = np.array(["2026-03-07T13:00", missing, "2026-03-07T16:00"], dtype=object)
    given = [times] if missing is None else [times, pd.Series(pd.to_datetime(times))]
    for each in given:
        with pytest.warns(RuntimeWarning, match="1 of 3 rows failed; the first, row 1: its time is missing"):
            result = ws.batch(quick, {"time": each}, outdoors)
        assert result["status"].values.tolist() == ["dry", "failed", "dry"]
        assert np.isnat(result["time"].values).tolist() == [False, True, False]
        assert np.isnat(result["time_utc"].values).tolist() == [False, True, False]


def test_a_missing_record_name_is_refused(quick, outdoors):
    names = np.array(["here", None], dtype=object)
    rows = {"time": ["2026-03-07T13:00"] * 2, "weather": names}
    refused(lambda: ws.batch(quick, rows, {"here": outdoors}), "weather record")


def test_quantities_are_read_as_everywhere(quick):
    unit = pint.get_application_registry()
    refused(
        lambda: ws.batch(quick, {"air.speed": unit.Quantity(np.array([1.0, 2.0]), "kg")}), "wrong dimension"
    )
    for key, name in (("air.surroundings_offset", "degC"), ("application.concentration", "ppm")):
        result = ws.batch(quick, {key: unit.Quantity(np.array([1.0, 2.0]), name)})
        expected = [quick.replace({key: unit.Quantity(value, name)})[key] for value in (1.0, 2.0)]
        assert result[key].values.tolist() == pytest.approx(expected)


def test_spans_of_time_are_seconds(quick):
    rows = {"rewetting.delay": pd.to_timedelta(["1h", "2h"]), "rewetting.volume_rate": [1e-4, 1e-4]}
    try:
        result = ws.batch(quick, rows)
    except InputError:
        return
    assert result["rewetting.delay"].values.tolist() == [3600.0, 7200.0]


# --- a row is a spray -------------------------------------------------------------------------------------


def test_rows_are_single_sprays(quick):
    rows = many(40)
    result = ws.batch(quick, rows)
    for i in range(len(rows)):
        assert_single(result.isel(row=i), ws.simulate(quick.replace(rows.iloc[i].to_dict())))
    assert set(result["path"].values) == {"clock", "reference"}
    assert set(result["status"].values) >= {"dry", "nothing wet"}


def test_rows_in_the_air_of_a_logger_are_single_sprays(quick, logger):
    """The record is followed from its first to its last row either way."""
    rows = timed(20)
    long = quick.replace({"numerics.longest": "3 day"})
    result = ws.batch(long, rows, logger)
    for i in range(len(rows)):
        given = rows.iloc[i].to_dict()
        moment = given.pop("time")
        assert_single(result.isel(row=i), ws.simulate(long.replace(given), logger, moment))


def test_rows_in_a_typical_year_are_single_sprays(quick, piedmont):
    times = ["2026-05-14T13:00", "2026-12-31T23:30", "2026-01-01T00:30", "2027-07-01T09:00"]
    result = ws.batch(quick, {"time": times}, piedmont)
    assert (result["status"] != "failed").all()
    for i, moment in enumerate(times):
        assert_single(result.isel(row=i), ws.simulate(quick, piedmont, moment))


def test_weeks_that_are_followed_apart_have_the_air_of_the_whole_year(quick, piedmont):
    """A house forgets within a day: its air is that of a year followed at once, within the tolerance."""
    first, last = (pd.Timestamp(year, 1, 1, tz=piedmont.tz) for year in (2026, 2027))
    record = Record(piedmont, first - pd.Timedelta(days=1), last + pd.Timedelta(days=30))
    times = pd.date_range("2026-05-10T12:00", "2026-05-12T12:00", freq="3h", tz=piedmont.tz)
    result = ws.batch(quick, {"time": times}, piedmont)
    air = record.air(quick)
    for row, start in enumerate(record.seconds(times)):
        one = single(quick, air, float(start), weeks_at(quick, piedmont, times[[row]])[0][0])
        now = {name: np.interp(start, air.time, values) for name, values in air.columns.items()}
        assert float(result["air_temperature"][row]) == pytest.approx(now["temperature"], abs=5e-3)
        assert float(result["wet_time"][row]) == pytest.approx(one.wet_time, rel=2e-3)
        assert float(result["growth_control"][row]) == pytest.approx(one.growth_control, rel=1e-3)


def test_years_of_a_typical_year_are_told_apart(quick, piedmont):
    times = ["2026-05-14T13:00", "2028-05-14T13:00", "2024-02-29T13:00"]  # 29 February comes in two of them
    together = ws.batch(quick, {"time": times}, piedmont)
    for i, moment in enumerate(times):
        assert bits(together.isel(row=[i])) == bits(ws.batch(quick, {"time": [moment]}, piedmont))


def test_moments_of_every_kind_are_read_alike(quick, outdoors):
    naive = ["2026-03-07T13:00", "2026-03-08T07:30"]
    zone = outdoors.tz
    aware = [pd.Timestamp(moment, tz=zone) for moment in naive]
    utc = pd.DatetimeIndex(aware).tz_convert("UTC")
    expected = bits(ws.batch(quick, {"time": naive}, outdoors))
    for times in (
        np.array(naive, dtype="datetime64[s]"),
        np.array(naive, dtype="datetime64[ns]"),
        pd.DatetimeIndex(naive),
        pd.Series(aware),
        np.array(aware, dtype=object),
        [moment.to_pydatetime() for moment in aware],
        utc,
        [moment.isoformat() for moment in utc],
        [naive[0], utc[1].isoformat()],
    ):
        assert bits(ws.batch(quick, {"time": times}, outdoors)) == expected
    frame = pd.DataFrame({"time": utc})
    assert bits(ws.batch(quick, frame, outdoors)) == expected
    zoned = pd.DataFrame({"time": pd.DatetimeIndex(aware)})
    for rows in (zoned, {"time": naive}, {"time": utc}, {"time": np.array(aware, dtype=object)}):
        told = ws.batch(quick, rows, outdoors)
        assert told["time"].values.tolist() == pd.DatetimeIndex(naive).as_unit("ns").to_numpy().tolist()
        assert (told["time"].values - told["time_utc"].values == -np.timedelta64(5, "h")).all()
        assert told["time"].attrs["time_zone"] == "UTC-05:00"
        assert "standard_name" not in told["time"].attrs
        assert told["time_utc"].attrs["standard_name"] == "time"


@pytest.mark.parametrize("kind", ["text", "datetime64"])
def test_times_that_cannot_be_known_fail_alone(quick, new_york, kind):
    times = ["2026-03-07T13:00", "2026-03-08T02:30", "2026-03-08T09:00", "2026-11-01T01:30"]
    given = np.array(times, dtype="datetime64[ns]") if kind == "datetime64" else times
    with pytest.warns(RuntimeWarning, match="2 of 4 rows failed; the first, row 1: .*02:30.*does not exist"):
        result = ws.batch(quick, {"time": given}, new_york)
    assert result["status"].values.tolist() == ["dry", "failed", "dry", "failed"]
    assert "comes twice" in str(result["reason"].values[3])
    assert np.isnat(result["time_utc"].values).tolist() == [False, True, False, True]
    if kind == "text":
        with pytest.warns(RuntimeWarning, match='row 1: "14 o.clock" is not a time'):
            ws.batch(quick, {"time": ["2026-03-07T13:00", "14 o'clock"]}, new_york)


@pytest.mark.parametrize("form", ["netcdf", "zarr"])
def test_results_are_written_and_read_back(quick, outdoors, new_york, tmp_path, form):
    pytest.importorskip({"netcdf": "netCDF4", "zarr": "zarr"}[form])
    rows = {
        "time": ["2026-03-07T13:00", "2026-03-07T18:30", "2026-03-08T02:30"],
        "weather": ["fixed", "summer", "summer"],
        "air.speed": [0.2, 0.3, 0.4],
        "application.method": ["spray", "drench", "spray"],
    }
    records = {"fixed": outdoors, "summer": new_york}
    with pytest.warns(RuntimeWarning, match="1 of 3 rows failed"):
        result = ws.batch(quick, rows, records)
    path = tmp_path / f"rows.{form}"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the writers, on texts of fixed length
        if form == "netcdf":
            result.to_netcdf(path, engine="netcdf4")
            back = xr.load_dataset(path, engine="netcdf4")
        else:
            result.to_zarr(path, consolidated=False)
            back = xr.open_zarr(path, consolidated=False).load()
    assert back["time"].dtype.kind == back["time_utc"].dtype.kind == "M"
    xr.testing.assert_equal(back, result)
    assert back.attrs == result.attrs
    assert back["time"].attrs["time_zone"] == "fixed: UTC-05:00; summer: America/New_York"
    with pytest.warns(RuntimeWarning, match="1 of 3 rows failed"):
        again = ws.batch(quick, back[["air.speed", "time_utc", "weather", "application.method"]], records)
    assert bits(again.drop_vars("reason")) == bits(result.drop_vars("reason"))


def test_hours_with_an_offset_are_told_apart(quick, new_york):
    said = ws.batch(quick, {"time": ["2026-03-08T03:30", "2026-03-08T03:30-04:00"]}, new_york)
    assert float(said["wet_time"][0]) == float(said["wet_time"][1])


def test_each_record_is_the_one_alone(quick, outdoors, logger):
    rows = timed(12)
    here, there = (bits(ws.batch(quick, rows, weather)) for weather in (outdoors, logger))
    assert here != there
    names = np.array(["house", "bench"])[np.arange(24) % 2]
    both = rows.loc[np.repeat(np.arange(12), 2)].assign(weather=names)
    result = ws.batch(quick, both, {"house": outdoors, "bench": logger, "nowhere": outdoors})
    assert bits(result.isel(row=slice(0, None, 2))) == here
    assert bits(result.isel(row=slice(1, None, 2))) == there
    assert result["weather"].values.tolist() == names.tolist()


# --- rows that fail ---------------------------------------------------------------------------------------


def test_rows_that_fail_say_why_and_leave_the_others_alone(quick):
    good = many(20)
    before = ws.batch(quick, good)
    rows = good.copy()
    rows.loc[4, "air.speed"] = 99.0
    rows.loc[9, "droplets.dv50"] = np.nan
    rows.loc[13, "canopy.layers"] = 5
    with pytest.warns(RuntimeWarning, match=r"^3 of 20 rows failed; the first, row 4: air\.speed = 99 m/s"):
        after = ws.batch(quick, rows)
    bad = [4, 9, 13]
    assert np.flatnonzero(after["status"] == "failed").tolist() == bad
    assert after.attrs["failed"] == 3
    for row, key in zip(bad, ("air.speed", "droplets.dv50", "canopy.layers"), strict=True):
        assert key in str(after["reason"].values[row])
    assert (np.delete(after["reason"].values, bad) == "").all()
    numbers = [name for name, variable in before.data_vars.items() if variable.dtype.kind == "f"]
    for name in numbers:
        assert after[name].isel(row=bad).isnull().all()
    kept = [row for row in range(20) if row not in bad]
    assert bits(after.drop_vars("reason").isel(row=kept)) == bits(before.isel(row=kept))


def test_a_moment_outside_the_record_fails_alone(quick, outdoors):
    times = ["2026-03-07T13:00", "2026-04-01T12:00", "2026-03-07T11:00"]
    with pytest.warns(
        RuntimeWarning, match=r"2 of 3 rows failed; the first, row 1: .* outside the record record\.csv"
    ):
        result = ws.batch(quick, {"time": times}, outdoors)
    assert result["status"].values.tolist() == ["dry", "failed", "failed"]


@pytest.mark.parametrize(
    "column",
    [
        {"air.speed": [0.3, 99.0]},
        {"air.speed": [0.3, np.nan]},
        {"house.vent_temperature": [297.0, 280.0]},
    ],
)
def test_a_bad_house_fails_alone(quick, outdoors, column):
    with pytest.warns(RuntimeWarning, match="1 of 2 rows failed; the first, row 1"):
        result = ws.batch(quick, {"time": ["2026-03-07T13:00"] * 2} | column, outdoors)
    assert result["status"].values.tolist() == ["dry", "failed"]


def test_a_house_that_is_right_only_with_the_other_columns_is_right(quick, outdoors):
    rows = {"canopy.plant_density": [40.0, 120.0], "canopy.pot_diameter": [0.14, 0.06]}
    assert (ws.batch(quick, rows)["status"] == "dry").all()
    assert (ws.batch(quick, rows | {"time": ["2026-03-07T13:00"] * 2}, outdoors)["status"] == "dry").all()


def test_each_row_has_its_own_reason_in_weather_too(quick, outdoors):
    rows = {"droplets.dv50": [np.nan, 3e-4], "canopy.layers": [2, 9], "time": ["2026-03-07T13:00"] * 2}
    with pytest.warns(RuntimeWarning, match="2 of 2 rows failed"):
        result = ws.batch(quick, rows, outdoors)
    for reason, key in zip(result["reason"].values, ("droplets.dv50", "canopy.layers"), strict=True):
        assert key in reason


def test_a_good_row_after_many_bad_ones_is_good(quick, outdoors):
    sizes = np.full(150, np.nan)
    sizes[-1] = 3e-4
    rows = pd.DataFrame({"droplets.dv50": sizes, "time": "2026-03-07T13:00"})
    with pytest.warns(RuntimeWarning, match="149 of 150 rows failed"):
        result = ws.batch(quick, rows, outdoors)
    kept = result.drop_vars("reason").isel(row=[149])
    assert bits(kept) == bits(ws.batch(quick, rows.iloc[[149]], outdoors))


def test_the_warning_points_at_the_caller(quick):
    with pytest.warns(RuntimeWarning) as caught:
        ws.batch(quick, {"air.speed": [99.0]})
    assert caught[0].filename == __file__


# --- chunks -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("in_weather", [False, True])
def test_chunks_change_nothing(quick, outdoors, in_weather):
    rows, weather = (timed(50), outdoors) if in_weather else (many(50), None)
    whole = bits(ws.batch(quick, rows, weather))
    for size in (1, 7, 50):
        chunks = (rows.iloc[first : first + size] for first in range(0, 50, size))
        parts = list(ws.batches(quick, chunks, weather, threads=2))
        assert [part.sizes["row"] for part in parts] == [min(size, 50 - i) for i in range(0, 50, size)]
        assert (
            bits(xr.concat(parts, "row", data_vars="minimal", coords="minimal", compat="override")) == whole
        )
    for threads in (1, 3):
        assert bits(ws.batch(quick, rows, weather, threads=threads)) == whole
    order = np.random.default_rng(1).permutation(50)
    shuffled = ws.batch(quick, rows.iloc[order], weather)
    assert bits(shuffled.isel(row=np.argsort(order))) == whole


def test_batches_take_a_chunk_when_one_is_asked_for_and_keep_none(quick):
    taken: list[weakref.ref[pd.DataFrame]] = []

    def chunks() -> Iterator[pd.DataFrame]:
        while True:  # without end
            frame = many(5)
            taken.append(weakref.ref(frame))
            yield frame
            del frame

    results = ws.batches(quick, chunks())
    assert taken == []
    for number in range(1, 4):
        part = next(results)
        assert part.sizes["row"] == 5
        assert len(taken) == number
    del part
    gc.collect()
    assert [chunk() is None for chunk in taken[:2]] == [True, True]
    results.close()


# --- the house, once --------------------------------------------------------------------------------------


def test_a_house_is_followed_once_for_each_record_and_kind(quick, tmp_path, monkeypatch):
    calls = []
    air = Record.air
    monkeypatch.setattr(Record, "air", lambda self, scenario: calls.append(1) or air(self, scenario))
    rows, here = timed(24), read(tmp_path)
    ws.batch(quick, rows, here)
    # two house.air_changes, the other columns do not reach the air; and the weeks of the scenario's own house
    weeks = len(calls) - 2
    assert 0 <= weeks <= 10
    calls.clear()
    named = rows.assign(weather=["a", "b", "c"] * 8)
    ws.batch(quick, named, {"a": here, "b": read(tmp_path, exposure="crop"), "c": here})
    own = named[named["weather"] == "b"]["house.air_changes"].nunique()
    assert own <= len(calls) <= own + 1  # of the other record: what was followed is kept between calls
    calls.clear()
    list(ws.batches(quick, (rows.iloc[i : i + 4] for i in range(0, 24, 4)), here))
    ws.compare_times(quick, here, "2026-03-07T13:00", "2026-03-07T15:00", "1h")
    assert len(calls) <= 1  # the house without columns


def test_what_is_kept_is_bounded_and_goes_with_its_record(quick, tmp_path, monkeypatch):
    here = read(tmp_path)
    monkeypatch.setattr("wetspan.record._KEPT", 0)
    rows = timed(24)
    expected = bits(ws.batch(quick, rows, here))
    kept = _all_kept[here]
    assert len(kept._airs) == 1
    assert bits(ws.batch(quick, rows, here)) == expected
    gone = weakref.ref(kept)
    del kept, here
    gc.collect()
    assert gone() is None


def air_of(scenario: ws.Scenario, weather: ws.Weather) -> bytes:
    index = weather.data.index
    air = Record(weather, index[0], index[-1]).air(scenario)
    return b"".join(air.columns[name].tobytes() for name in sorted(air.columns)) + air.time.tobytes()


def changed(scenario: ws.Scenario, key: str) -> list[ws.Scenario]:
    """Return scenarios that differ in one input, where it contradicts no other."""
    row, now = TABLE[key], scenario[key]
    if row.kind == "number":
        values = [0.9 * now + 0.1 * row.high, 0.9 * now + 0.1 * row.low, 0.5 * (now + row.low), 1.01 * now]
    else:
        values = [float(value) for value in np.arange(row.low, min(row.high, row.low + 3.0) + 1.0)]
    found = []
    for value in values:
        try:
            other = scenario.replace({key: value})
        except InputError:
            continue
        if other[key] != now:
            found.append(other)
    return found


@pytest.fixture(scope="module")
def airs(quick, outdoors, logger) -> list[tuple[ws.Scenario, ws.Weather, bytes]]:
    """Return a close house that heats, vents and drips, a crop outdoors and a logger, each with its air."""
    house = quick.replace(
        {
            "house.air_changes": "0.1 per hour",
            "house.vent_air_changes": "2 per hour",
            "house.cover_coupling": 0.95,
            "liquid.efflorescence": 0.4,
            "liquid.deliquescence": 0.75,
        }
    )
    outside = house.replace({"house.enclosed": False})
    return [(s, w, air_of(s, w)) for s, w in ((house, outdoors), (outside, outdoors), (house, logger))]


@pytest.mark.parametrize("key", TABLE)
def test_what_reaches_the_air_is_known(key, airs):
    others = [(changed(scenario, key), weather, air) for scenario, weather, air in airs]
    assert all(some for some, _, _ in others)
    differs = any(air_of(one, weather) != air for some, weather, air in others for one in some)
    told = key in REACH_THE_AIR
    if key in ("house.sprayed_share", "house.bench_conductance"):
        told = False  # of the spray alone; counted among the house's, they cost a run and change nothing
    assert differs == told


# --- while it runs ----------------------------------------------------------------------------------------


def long(count: int) -> dict[str, np.ndarray]:
    return {"air.speed": np.linspace(0.1, 0.6, count)}


def test_progress_tells_rows_done_of_all(example):
    told = []
    ws.batch(example, long(3000), progress=lambda done, all_rows: told.append((done, all_rows)))
    done = [each for each, _ in told]
    assert {all_rows for _, all_rows in told} == {3000}
    assert done == sorted(done)
    assert len(done) >= 2
    assert done[0] == 0
    assert 0 < done[1] < 3000
    assert done[-1] == 3000


def test_an_error_in_progress_ends_the_batch(example):
    def progress(done: int, all_rows: int) -> None:
        raise RuntimeError(f"enough after {done}")

    start = time.monotonic()
    with pytest.raises(RuntimeError, match="enough after"):
        ws.batch(example, long(2_000_000), progress=progress)
    assert time.monotonic() - start < 5.0


def test_a_progress_that_fails_is_not_called_again(example):
    calls = []

    def progress(done: int, all_rows: int) -> None:
        calls.append(done)
        time.sleep(0.15)
        raise RuntimeError("enough")

    with pytest.raises(RuntimeError, match="enough"):
        ws.batch(example, long(3000), threads=1, progress=progress)
    assert len(calls) == 1


@pytest.fixture
def listening() -> Iterator[None]:
    """Have interrupts raise KeyboardInterrupt, as at a terminal."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.usefixtures("listening")
@pytest.mark.parametrize("threads", [1, 2])
def test_an_interrupt_ends_a_batch_within_moments(example, threads):
    sent = []

    def interrupt() -> None:
        sent.append(time.monotonic())
        signal.raise_signal(signal.SIGINT)

    rows = long(2_000_000)
    timer = threading.Timer(0.7, interrupt)
    timer.start()
    with pytest.raises(KeyboardInterrupt):
        ws.batch(example, rows, threads=threads)
    assert time.monotonic() - sent[0] < 1.5
    timer.join()
    assert ws.batch(example, {"air.speed": [0.3]})["status"].item() == "dry"  # and nothing is left of it


@pytest.mark.usefixtures("listening")
def test_an_interrupt_during_progress_ends_a_batch(example):
    with pytest.raises(KeyboardInterrupt):
        ws.batch(example, long(2_000_000), progress=lambda *_: signal.raise_signal(signal.SIGINT))


def test_an_interrupted_program_ends(interrupted):
    code = (
        "import numpy as np, wetspan as ws\n"
        "ws.batch(ws.Scenario(), {'air.speed': [0.1, 0.2]})\n"  # an interrupt of imports may be lost
        "rows = {'air.speed': np.linspace(0.1, 0.6, 2_000_000)}\n"
        "print('ready', flush=True)\n"
        "ws.batch(ws.Scenario(), rows)\n"
    )
    status, _, error = interrupted(code)
    assert status == -signal.SIGINT
    assert error.rstrip().endswith("KeyboardInterrupt")


def test_other_threads_run_meanwhile(example):
    ticks: list[float] = []
    over = threading.Event()

    def count() -> None:
        while not over.wait(0.005):
            ticks.append(time.monotonic())

    thread = threading.Thread(target=count)
    thread.start()
    start = time.monotonic()
    ws.batch(example, long(3000), threads=1)
    end = time.monotonic()
    over.set()
    thread.join()
    inside = [tick for tick in ticks if start < tick < end]
    # at most every 5 ms, more than the few times that progress gives Python its lock for
    assert len(inside) > (end - start) / 0.05


def test_batches_in_two_threads_are_the_same(quick):
    expected = bits(ws.batch(quick, many(60), threads=1))
    found: list[dict[str, bytes | str]] = []
    crew = [
        threading.Thread(target=lambda: found.append(bits(ws.batch(quick, many(60), threads=2))))
        for _ in range(2)
    ]
    for each in crew:
        each.start()
    for each in crew:
        each.join()
    assert found == [expected, expected]


def test_flights_from_a_table_are_the_same_in_any_chunks(quick):
    table = quick.replace({"numerics.flights": "table"})
    rows = many(30).drop(columns="droplets.dv50").assign(**{"numerics.flights": 1.0})
    whole = ws.batch(table, rows, threads=2)
    alone = [bits(ws.batch(table, rows.iloc[[i]])) for i in reversed(range(30))]
    assert alone == [bits(whole.isel(row=[i])) for i in reversed(range(30))]
    each = ws.batch(quick, rows.drop(columns="numerics.flights"))
    assert whole["split"].values == pytest.approx(each["split"].values, abs=0.01)
    assert bits(whole) != bits(each)


def test_rows_of_many_sprays_are_grouped_by_spray(quick, outdoors, monkeypatch):
    """Tables are kept for four sprays; in the order of their sprays rows find them."""
    table = quick.replace({"numerics.flights": "table"})
    rates = np.tile(np.linspace(1.5e-4, 2.5e-4, 6), 4)
    rows = {
        "application.volume_rate": rates,
        "time": pd.date_range("2026-03-08T08:00", periods=24, freq="5min"),
    }
    monkeypatch.setattr(importlib.import_module("wetspan.batch.landing_tables"), "TABLE_PAYS", 1)
    seen = []
    compute = _core.simulate_rows

    def watched(*of, inputs, rows, **others):
        seen.append(inputs[0][1][rows])
        return compute(*of, inputs=inputs, rows=rows, **others)

    monkeypatch.setattr(_core, "simulate_rows", watched)
    for weather in (outdoors, None):
        given = rows if weather else {"application.volume_rate": rates}
        found = ws.batch(table, given, weather)
        assert found["application.volume_rate"].values.tolist() == rates.tolist()
        assert (np.diff(seen.pop()) >= 0.0).all()
        backwards = {name: values[::-1] for name, values in given.items()}
        assert bits(ws.batch(table, backwards, weather).isel(row=slice(None, None, -1))) == bits(found)


def test_the_core_takes_instructions_that_are_there_and_no_others(quick):
    for name in _core.instructions():
        assert _core.simulate_rows(2, [quick._core], [], instructions=name).failed == []
    refused(lambda: _core.simulate_rows(2, [quick._core], [], instructions="none"), "none instructions")


def test_flights_of_sprays_that_few_rows_share_are_computed(quick, piedmont, monkeypatch):
    monkeypatch.setattr(importlib.import_module("wetspan.batch.landing_tables"), "TABLE_PAYS", 5)
    asked = quick.replace({"numerics.flights": "table"})
    times = pd.date_range("2026-05-14T09:00", periods=7, freq="20min")
    sizes = np.array([2e-4, 3e-4, 2e-4, 2e-4, 3e-4, 2e-4, 2e-4])  # 3e-4 comes twice
    rows = {"time": times, "droplets.dv50": sizes}
    found = ws.batch(asked, rows, piedmont)
    tabled = sizes == 2e-4
    assert found["numerics.flights"].values.tolist() == tabled.astype(float).tolist()
    each = ws.batch(quick, rows, piedmont)["wet_time"].values
    table = ws.batch(asked, rows | {"numerics.flights": np.ones(7)}, piedmont)["wet_time"].values
    assert found["wet_time"].values.tolist() == np.where(tabled, table, each).tolist()
    assert (each != table).all()
    assert "numerics.flights" not in ws.batch(asked, {"time": times}, piedmont)  # one spray: as was asked
    assert "numerics.flights" not in ws.batch(quick, rows, piedmont)


def test_slow_rows_are_counted_with_their_reason(quick, piedmont):
    times = pd.date_range("2026-05-14T06:00", periods=24, freq="1h")
    water = np.where(np.arange(24) % 8 == 0, 2e-5, 0.0)
    found = ws.batch(quick, {"time": times, "rewetting.volume_rate": water}, piedmont)
    assert found.attrs["slow_rows"] == ws.slow_rows(found) == "3 of 24 rows: a re-wetting follows 3"
    about = found["path_reason"].attrs
    assert len(about["flag_meanings"].split()) == len(about["flag_values"])
    meaning = about["flag_meanings"].split()[found["path_reason"].values[0]]
    assert meaning == "a_re-wetting_follows"
    assert ((found["path_reason"] == 0) == (found["path"] == "clock")).all()
    sticky = quick.replace({"liquid.humectant": 0.005, "liquid.kappa": 0.5})
    assert ws.slow_rows(ws.batch(sticky, {"air.speed": [0.2]})) == "1 of 1 rows: a hygroscopic liquid 1"
    drench = ws.batch(quick.replace({"application.method": "drench"}), {"air.speed": [0.2, 0.3]})
    assert ws.slow_rows(drench) == "0 of 2 rows"  # nothing to follow
    refused(lambda: ws.slow_rows(found["wet_time"]), "ws.batch or ws.season")


def test_clocks_and_the_full_system_agree_on_crowns_of_every_habit():
    """Random sprays from the nozzle on: where a crown leads what runs off is read by the landing alone."""
    count, random = 60, np.random.default_rng(7)
    inputs = [
        ("canopy.habit", random.integers(3, size=count).astype(float)),
        ("retention.stemflow_odds", 10.0 ** random.uniform(-1, 1, count)),
        ("application.volume_rate", 10.0 ** random.uniform(-4, -3, count)),
        ("canopy.leaf_area", random.uniform(0.01, 0.1, count)),
        ("canopy.stem_area", random.uniform(0.0005, 0.01, count)),
        ("air.relative_humidity", random.uniform(0.2, 0.9, count)),
    ]
    scenario = ws.Scenario({"numerics.tolerance": 1e-6, "droplets.bins": 6})
    given = [(POSITION[key], values) for key, values in inputs]
    clocks, full = (
        _core.simulate_rows(
            count,
            [scenario._core],
            [_core.steady_air(scenario._core)],
            inputs=given,
            reference_only=reference_only,
        )
        for reference_only in (False, True)
    )
    assert not list(clocks.failed) + list(full.failed)
    assert (clocks.path != full.path).mean() > 0.9
    assert set(inputs[0][1]) == {0.0, 1.0, 2.0}
    names = [each.name for each in _core.outcome_variables()]
    for name in ("growth_control", "wet_time", "stem_wet_time", "tips.leaf", "tips.stem", "tips.root"):
        one, other = (told.values[names.index(name)] for told in (clocks, full))
        assert one == pytest.approx(other, rel=1e-3, abs=1e-15), name


def test_texts_in_utc_are_utc(quick, piedmont):
    texts = ["2026-05-15T18:00", "2026-05-15T13:00-05:00", "no time"]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the last
        found = ws.batch(quick, {"time_utc": texts}, piedmont)
    assert found["time_utc"].values[:2].tolist() == [np.datetime64("2026-05-15T18:00", "ns").astype(int)] * 2
    assert found["wet_time"].values[0] == ws.simulate(quick, piedmont, "2026-05-15T13:00-05:00").wet_time
    assert "no time" in str(found["reason"].values[2])


def test_rows_with_other_labels_do_not_belong_together():
    scenario = ws.Scenario()
    warm = xr.DataArray([290.0, 291.0], dims="site", coords={"site": ["a", "b"]})
    calm = xr.DataArray([0.1, 0.2], dims="site", coords={"site": ["b", "a"]})
    refused(
        lambda: ws.batch(scenario, {"air.temperature": warm, "air.speed": calm}),
        "row 0 is 'a' in air.temperature",
    )
    refused(
        lambda: ws.batch(scenario, {"air.temperature": warm, "air.speed": calm.rename(site="house")}),
        "along 'site'",
        "along 'house'",
        "ws.sweep",
    )
    frame = pd.DataFrame({"air.temperature": [290.0, 291.0, 292.0], "air.speed": [0.1, 0.2, 0.3]})
    columns = {"air.temperature": frame["air.temperature"][[2, 0]], "air.speed": frame["air.speed"][[0, 2]]}
    refused(lambda: ws.batch(scenario, columns), "row 0 is '2'", "in one DataFrame")
    aligned = ws.batch(scenario, {"air.temperature": warm, "air.speed": calm.sel(site=["a", "b"])})
    assert aligned["air.speed"].values.tolist() == [0.2, 0.1]


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (np.ma.array([290.0, 300.0], mask=[False, True]), "row 1 has no value"),
        (np.array(["2026-01-01"], dtype="M8[D]"), "holds dates"),
        (np.array([1, 2], dtype="m8[h]"), "holds spans of time"),
        ([[290.0, 291.0], [292.0]], "lists of several lengths"),
    ],
)
def test_columns_that_are_no_numbers(given, told):
    refused(lambda: ws.batch(ws.Scenario(), {"air.temperature": given}), "air.temperature", told)


def test_a_column_of_spans_is_a_time():
    hours = np.array([18, 20], dtype="m8[h]")
    assert ws.batch(ws.Scenario(), {"rewetting.delay": hours})["rewetting.delay"].values.tolist() == [
        64800,
        72000,
    ]
