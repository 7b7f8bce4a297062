"""Chunks: the same bits as all at once, on any scheduler; stores that go on where they ended."""

import importlib
import pickle
import shutil

import numpy as np
import pandas as pd
import pytest
import wetspan as ws
import xarray as xr
from refusal import refused
from wetspan import lazy, record

dask = pytest.importorskip("dask")
DAYS = "2026-05-15", "2026-05-19"  # over the end of a week


@pytest.fixture(scope="module")
def at_once(quick, sites) -> xr.Dataset:
    return ws.season(quick, sites, *DAYS, ["06:30", "15:00"], samples=2)


@pytest.fixture(scope="module")
def season(quick, sites) -> xr.Dataset:
    return ws.season(quick, sites, *DAYS, ["06:30", "15:00"], samples=2, chunks=2)


def same(found: xr.Dataset, whole: xr.Dataset) -> None:
    """Hold the values, labels and attributes of what was computed in chunks against all at once."""
    assert (found["reason"] == "").all()
    found = found.load().drop_vars(["reason", "written"], errors="ignore")
    found.attrs = {name: told for name, told in found.attrs.items() if name != "fingerprint"}
    whole = whole.assign_attrs(whole.attrs)
    del whole.attrs["failed"], whole.attrs["slow_rows"]
    xr.testing.assert_identical(found, whole)
    for name, variable in whole.data_vars.items():
        assert found[name].values.tobytes() == variable.values.tobytes()


def test_a_season_in_chunks_is_the_season(season, at_once):
    assert dict(season["wet_time"].chunksizes) == {"site": (1, 1), "day": (2, 2, 1), "clock": (2,)}
    assert season["time_utc"].chunks is None  # known before anything is computed
    with dask.config.set(scheduler="threads", num_workers=2):
        same(season.compute(), at_once)
    with dask.config.set(scheduler="sync"):
        day = season[["wet_time"]].sel(day="2026-05-19").load()  # one chunk of each site
        xr.testing.assert_equal(day, at_once[["wet_time"]].sel(day="2026-05-19"))
        share = ws.share_below(season, "20 min")
        xr.testing.assert_identical(share.load(), ws.share_below(at_once, "20 min"))


def test_a_worker_keeps_the_air_of_houses(quick, piedmont, monkeypatch):
    """A record that arrives again, as a copy, is the one that was there."""
    followed = []
    air_of = record.Record.air
    monkeypatch.setattr(record.Record, "air", lambda *of: followed.append(1) or air_of(*of))
    lazy._skies.clear()
    count = []
    for _ in range(2):
        arrived = pickle.loads(pickle.dumps(piedmont))
        weather = ws.season(quick, arrived, *DAYS, [12], chunks=3)
        followed.clear()  # of no rows too
        with dask.config.set(scheduler="sync"):
            weather.compute()
        count.append(len(followed))
    assert count[0] > 0
    assert count[1] == 0


@pytest.fixture(scope="module")
def rows(quick) -> pd.DataFrame:
    count = 90
    return pd.DataFrame(
        {
            "time": pd.date_range("2026-05-15T06:00", periods=count, freq="1h"),
            "weather": np.where(np.arange(count) % 3, "coast", "hills"),
            "air.speed": np.linspace(0.1, 0.5, count),
        }
    )


def test_a_batch_in_chunks_is_the_batch(quick, sites, rows):
    whole = ws.batch(quick, rows, sites)
    with dask.config.set(scheduler="sync"):
        found = ws.batch(quick, rows, sites, chunks=40)
        assert found["wet_time"].chunks == ((40, 40, 10),)
        same(found, whole)
        columns = xr.Dataset({name: ("row", rows[name].to_numpy()) for name in rows})
        columns["air.speed"] = ("row", 100.0 * rows["air.speed"].to_numpy(), {"units": "cm/s"})
        held = ws.batch(quick, columns.chunk(row=50), sites)  # Dask's own chunks
        assert held["wet_time"].chunks == ((50, 40),)
        speeds = held["air.speed"].values
        assert speeds == pytest.approx(rows["air.speed"].to_numpy(), rel=1e-12)
        mixed = ws.batch(quick, {"air.speed": columns["air.speed"].chunk(row=30)})
        assert mixed["wet_time"].sizes == {"row": 90}
        assert (
            mixed["wet_time"].values.tobytes()
            == ws.batch(quick, {"air.speed": speeds})["wet_time"].values.tobytes()
        )


def test_rows_that_fail_in_chunks_say_why(quick):
    with dask.config.set(scheduler="sync"):
        found = ws.batch(quick, {"air.speed": [0.3, 99.0, 0.2]}, chunks=2).load()
    assert found["status"].values.tolist() == ["dry", "failed", "dry"]
    assert "air.speed" in found["reason"].values[1]
    assert found["reason"].values[[0, 2]].tolist() == ["", ""]


def test_a_batch_over_a_grid_in_chunks(quick, piedmont):
    hours = piedmont.data.iloc[3000:3300].tz_localize(None)
    field = xr.concat([hours.to_xarray()] * 2, "lat").assign_coords(lat=[36.0, 37.0])
    units = {"temperature": "K", "relative_humidity": "1", "pressure": "Pa", "wind_speed": "m/s",
             "shortwave": "W/m^2"}  # fmt: skip
    names = {"temperature": "air_temperature", "pressure": "air_pressure",
             "shortwave": "surface_downwelling_shortwave_flux_in_air"}  # fmt: skip
    for name, unit in units.items():
        field[name].attrs["units"] = unit
    grid = ws.Weather.from_xarray(field.rename(names))
    times = hours.index[20:24]
    whole = ws.batch(quick, {"time": times}, grid)
    with dask.config.set(scheduler="sync"):
        found = ws.batch(quick, {"time": times}, grid, chunks=3)
        assert found["wet_time"].sizes == {"row": 4, "lat": 2}
        assert found["wet_time"].values.tobytes() == whole["wet_time"].values.tobytes()


# --- Zarr --------------------------------------------------------------------------------------------------


def test_a_store_goes_on_where_it_ended(season, at_once, tmp_path, monkeypatch):
    store = tmp_path / "season.zarr"

    def half_way(done: int, chunks: int) -> None:
        assert chunks == 6
        if done == 3:
            raise KeyboardInterrupt

    with dask.config.set(scheduler="sync"):
        with pytest.raises(KeyboardInterrupt):
            ws.to_zarr(season, store, progress=half_way)
        with xr.open_zarr(store, decode_timedelta=False) as begun:
            written = begun["written"].values
            assert written.dtype == bool
            assert 0 < written.sum() < written.size
        refused(lambda: ws.to_zarr(season, store), "is there already", "resume=True")
        computed = []
        work = lazy._write
        monkeypatch.setattr(lazy, "_write", lambda *of: computed.append(of[2]) or work(*of))
        told = []
        found = ws.to_zarr(season, store, resume=True, progress=lambda *each: told.append(each))
        assert len(computed) == 3
        assert told == [(3, 6), (4, 6), (5, 6), (6, 6)]
        assert found["written"].values.all()
        same(found, at_once)
        ws.to_zarr(season, store, resume=True)  # nothing is left to do
        assert len(computed) == 3


def test_a_store_of_something_else_is_refused(quick, piedmont, season, tmp_path):
    store = tmp_path / "season.zarr"

    def of(scenario=quick, end="2026-05-16", **others):
        return ws.season(scenario, piedmont, "2026-05-15", end, [12], **{"chunks": 1} | others)

    with dask.config.set(scheduler="sync"):
        ws.to_zarr(of(), store)
        for other, told in (
            (of(quick.replace({"air.speed": "0.4 m/s"})), "another scenario"),
            (of(samples=2), "number of draws"),
            (of(end="2026-05-17"), "other times"),
            (of(chunks=2), "other chunks along 'day'"),
        ):
            refused(lambda other=other: ws.to_zarr(other, store, resume=True), told)
    shutil.rmtree(store)
    store.mkdir()
    refused(lambda: ws.to_zarr(of(), store, resume=True), "is no Zarr store")
    refused(lambda: ws.to_zarr(of(), "s3://bucket/season.zarr"), "is an address")
    refused(lambda: ws.to_zarr(of(), None), "a file's path is wanted")
    refused(lambda: ws.to_zarr(of().compute(), tmp_path / "other.zarr"), "chunks=")
    assert not (tmp_path / "other.zarr").exists()


def test_chunks_that_are_refused(quick, piedmont):
    for chunks in (0, -1, 1.5, "weeks", True, {"clock": 2}, {}):
        refused(
            lambda chunks=chunks: ws.season(quick, piedmont, *DAYS, [12], chunks=chunks),
            f"chunks = {chunks!r}",
        )


def test_fingerprints_tell_records_apart(piedmont, sites):
    warmer = ws.sensors.measured_with(piedmont, ws.sensors.AT_CROP, {
        "sensor.temperature": 1.0, "sensor.relative_humidity": 0.0, "sensor.speed": 0.0,
        "sensor.shortwave": 0.0})  # fmt: skip
    marks = {lazy.fingerprint(each) for each in (piedmont, warmer, sites["coast"], sites, [piedmont])}
    assert len(marks) == 5
    assert lazy.fingerprint(piedmont) == lazy.fingerprint(ws.read_weather("piedmont"))


def test_tables_of_sprays_do_not_depend_on_chunks(quick, piedmont, monkeypatch):
    monkeypatch.setattr(importlib.import_module("wetspan.batch.landing_tables"), "TABLE_PAYS", 4)
    asked = quick.replace({"numerics.flights": "table"})
    times = pd.date_range("2026-05-14T09:00", periods=6, freq="20min")
    sizes = np.array([2e-4, 3e-4, 2e-4, 2e-4, 3e-4, 2e-4])
    whole = ws.batch(asked, {"time": times, "droplets.dv50": sizes}, piedmont)
    with dask.config.set(scheduler="sync"):
        found = ws.batch(asked, {"time": times, "droplets.dv50": sizes}, piedmont, chunks=2)
        assert found["numerics.flights"].values.tolist() == whole["numerics.flights"].values.tolist()
        same(found, whole)
        held = xr.DataArray(sizes, dims="row").chunk(row=3)  # who shares a spray is not known: each flight
        of_dask = ws.batch(asked, {"time": times.to_numpy(), "droplets.dv50": held}, piedmont)
        each = ws.batch(quick, {"time": times, "droplets.dv50": sizes}, piedmont)
        assert of_dask["wet_time"].values.tolist() == each["wet_time"].values.tolist()


def test_an_interrupt_keeps_the_chunks_that_are_written(interrupted, tmp_path):
    code = """
import dask, wetspan as ws
dask.config.set(scheduler="sync")
quick = ws.Scenario({"droplets.bins": 6, "numerics.tolerance": 1e-4})
days = ws.season(quick, ws.read_weather("miami"), "2026-01-01", "2026-01-08", range(24), samples=20, chunks=1)
ws.to_zarr(days, "days.zarr", progress=lambda done, _: done == 1 and print("ready", flush=True))
"""
    status, _, error = interrupted(code)
    assert status != 0
    assert "KeyboardInterrupt" in error
    with xr.open_zarr(tmp_path / "days.zarr", decode_timedelta=False) as begun:
        written = begun["written"].values[0]
        assert 1 <= written.sum() < written.size
        assert (begun["status"].values[0, written] != "").all()
