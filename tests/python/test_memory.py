"""Weather from memory: frames, CF datasets, grids; the same records as from files, coordinates kept."""

import io

import numpy as np
import pandas as pd
import pvlib
import pytest
import wetspan as ws
import xarray as xr
from refusal import refused
from wetspan.weather import VARIABLES, Weather, WeatherGrid
from wetspan.weather.memory import cf_unit

HOURS = pd.date_range("2026-05-14T00:00", "2026-05-17T00:00", freq="1h", tz="UTC-05:00")


def frame(warmer: float = 0.0) -> pd.DataFrame:
    """Return three made-up days with pvlib's names."""
    turn = 2.0 * np.pi * (HOURS.hour.to_numpy() - 14.0) / 24.0
    return pd.DataFrame(
        {
            "temp_air": 20.0 + warmer + 6.0 * np.cos(turn),
            "relative_humidity": 70.0 - 20.0 * np.cos(turn),
            "pressure": 100500.0,
            "wind_speed": 2.0,
            "ghi": np.maximum(0.0, 800.0 * np.cos(turn)),
        },
        index=HOURS,
    )


def gridded(folder) -> xr.Dataset:
    """Return a made-up field of two by three cells, written to netCDF and read back."""
    latitude, longitude = [35.0, 36.0], [-81.0, -80.0, -79.0]
    cells = [[frame(3.0 * i - j) for j in range(3)] for i in range(2)]
    units = {
        "temp_air": "degC",
        "relative_humidity": "%",
        "pressure": "Pa",
        "wind_speed": "m s-1",
        "ghi": "W m-2",
    }
    standard = dict(zip(units, (rule.standard_name for rule in VARIABLES.values()), strict=True))
    dataset = xr.Dataset(
        {
            name: (
                ("latitude", "longitude", "time"),
                np.array([[each[name] for each in line] for line in cells]),
                {"units": unit, "standard_name": standard[name]},
            )
            for name, unit in units.items()
        },
        coords={
            "latitude": ("latitude", latitude, {"units": "degrees_north"}),
            "longitude": ("longitude", longitude, {"units": "degrees_east"}),
            "time": HOURS.tz_convert("UTC").tz_localize(None),
            "county": (("latitude", "longitude"), np.arange(6).reshape(2, 3)),
        },
    )
    pytest.importorskip("netCDF4")
    dataset.to_netcdf(folder / "field.nc", engine="netcdf4")
    return xr.load_dataset(folder / "field.nc", engine="netcdf4")


def test_a_frame_is_the_record_of_its_file(tmp_path):
    given = frame()
    path = tmp_path / "station.csv"
    given.assign(time=[moment.isoformat() for moment in HOURS]).to_csv(path, index=False)
    names = dict(zip(VARIABLES, given.columns, strict=True))
    units = dict(zip(VARIABLES, ("degC", "percent", "Pa", "m/s", "W/m^2"), strict=True))
    for label in ("instant", "end", "middle"):
        read = ws.read_weather(
            path, columns={"time": "time"} | names, units=units, label=label, exposure="outdoor"
        )
        made = Weather.from_dataframe(given, label=label)
        pd.testing.assert_frame_equal(made.data, read.data, check_freq=False)
        assert (made.time_zone, made.interval, made.format) == ("UTC-05:00", read.interval, "memory")


def test_pvlibs_own_frames_are_taken_as_they_are():
    path = ws.sample_weather()["sand-point"]
    given, _ = pvlib.iotools.read_tmy3(io.StringIO(path.read_text()), map_variables=True, coerce_year=2001)
    given = given.loc[
        "2001-05-01":"2001-05-20", ["temp_air", "relative_humidity", "pressure", "wind_speed", "ghi"]
    ]
    made = Weather.from_dataframe(given.assign(pressure=100.0 * given["pressure"]), label="instant")
    read = ws.read_weather("sand-point")
    at = pd.DatetimeIndex(given.index)[30:40]
    for name in ("temperature", "relative_humidity", "pressure", "wind_speed"):  # readings; light is a mean
        assert made.at(at)[name].to_numpy() == pytest.approx(read.at(at)[name].to_numpy(), rel=1e-12)


def test_other_names_units_and_constants_are_stated():
    given = frame().rename(columns={"temp_air": "T", "ghi": "sun"}).drop(columns=["pressure", "wind_speed"])
    given["T"] = 1.8 * given["T"] + 32.0
    made = Weather.from_dataframe(
        given.tz_localize(None),
        label="instant",
        time_zone="UTC-05:00",
        columns={"temperature": "T", "shortwave": "sun"},
        units={"temperature": "degF"},
        constants={"wind_speed": "2 m/s"},
        source="greenhouse 3",
    )
    expected = Weather.from_dataframe(frame(), label="instant").data
    assert made.data["temperature"].to_numpy() == pytest.approx(expected["temperature"].to_numpy(), rel=1e-12)
    assert any("standard atmosphere" in note for note in made.notes)
    assert "greenhouse 3" in repr(made)


def test_frames_that_are_refused():
    def made(given, **others):
        return lambda: Weather.from_dataframe(given, **{"label": "instant"} | others)

    refused(made(frame().tz_localize(None)), "no zone", "time_zone=")
    refused(made(frame().reset_index(drop=True)), "DatetimeIndex")
    refused(made(frame().drop(columns="temp_air")), "no temperature", "temp_air")
    refused(made(frame(), columns={"shortwave": "gih"}), "'gih'", "did you mean 'ghi'")
    refused(made(frame(), label="centre"), "label")
    refused(lambda: Weather.from_dataframe(frame()), "DataFrame: what is a stamp?", "label='instant'")
    lost = frame()
    lost.iloc[5, 0] = np.nan
    refused(made(lost), "row 5", "2026-05-14T05:00:00-05:00", "temperature: nan is not a number")
    hot = frame().assign(temp_air=frame()["temp_air"] + 273.15)
    refused(made(hot), "DataFrame, row 0", "did you mean units={'temperature': 'K'}")
    refused(made(frame()[::-1]), "earlier")
    texts = frame().astype({"temp_air": object})
    texts.iloc[4, texts.columns.get_loc("temp_air")] = "warm"
    refused(made(texts), "row 4", "temperature: warm is not a number")
    refused(made(frame().drop(index=HOURS[10:20])), "longest_gap")


@pytest.mark.parametrize(
    ("cf", "ours"),
    [
        ("W m-2", "W / m^2"),
        ("m s-1", "m / s"),
        ("%", "percent"),
        ("K", "K"),
        ("1", "1"),
        ("kg m-1 s-2", "kg / m / s^2"),
    ],
)
def test_units_of_cf(cf, ours):
    assert cf_unit(cf) == ours


def test_a_dataset_of_one_place_is_a_record(piedmont, tmp_path):
    field = gridded(tmp_path)
    one = Weather.from_xarray(field.isel(latitude=1, longitude=2), time_zone="UTC-05:00")
    assert isinstance(one, Weather)
    expected = Weather.from_dataframe(frame(3.0 - 2.0), label="instant")
    for name in VARIABLES:
        assert one.data[name].to_numpy() == pytest.approx(expected.data[name].to_numpy(), rel=1e-12)
    assert (one.place.latitude, one.place.longitude) == (36.0, -79.0)
    assert one.time_zone == "UTC-05:00"
    again = Weather.from_xarray(one.to_xarray())
    pd.testing.assert_frame_equal(again.data, one.data, check_freq=False)
    assert again.time_zone == "UTC-05:00"


def test_a_batch_over_a_grid_keeps_its_coordinates(example, tmp_path):
    quick = example.replace({"droplets.bins": 6, "numerics.tolerance": 1e-4})
    grid = Weather.from_xarray(gridded(tmp_path), time_zone="UTC-05:00")
    assert isinstance(grid, WeatherGrid)
    assert dict(grid.cells.sizes) == {"latitude": 2, "longitude": 3}
    rows = {"time": ["2026-05-15T09:00", "2026-05-15T15:00"], "droplets.dv50": [2e-4, 3e-4]}
    result = ws.batch(quick, rows, grid)
    assert dict(result["wet_time"].sizes) == {"row": 2, "latitude": 2, "longitude": 3}
    assert result["split"].dims == ("row", "latitude", "longitude", "target")
    assert result["latitude"].values.tolist() == [35.0, 36.0]
    assert result["county"].values.tolist() == [[0, 1, 2], [3, 4, 5]]
    assert result["droplets.dv50"].values.tolist() == rows["droplets.dv50"]
    assert result["time_utc"].values[0] == np.datetime64("2026-05-15T14:00")
    for i, name in enumerate(grid):
        alone = ws.batch(quick, rows, grid[name])
        cell = result.isel(latitude=i // 3, longitude=i % 3)
        assert cell["wet_time"].values.tolist() == alone["wet_time"].values.tolist()
        assert cell["uptake"].values.tolist() == alone["uptake"].values.tolist()
    days = ws.season(quick, grid, "2026-05-15", "2026-05-15", [9])
    assert days["wet_time"].sizes["site"] == 6
    refused(lambda: ws.batch(quick, rows | {"weather": ["a", "b"]}, grid), "every cell")


def test_datasets_that_are_refused(tmp_path):
    field = gridded(tmp_path)
    refused(lambda: Weather.from_xarray(field.drop_vars("temp_air")), "air_temperature")
    bare = field.copy()
    bare["ghi"] = bare["ghi"].drop_attrs().assign_attrs(standard_name=field["ghi"].attrs["standard_name"])
    refused(lambda: Weather.from_xarray(bare), "ghi", "'units'")
    refused(lambda: Weather.from_xarray(field.isel(time=0)), "'time'")
    refused(lambda: Weather.from_xarray(frame()), "Dataset")
    twice = field.assign_coords(latitude=[35.0, 35.0])
    refused(lambda: Weather.from_xarray(twice), "latitude 35.0, longitude -81.0 stands twice")
    for wrong in (95.0, np.nan):
        off = field.assign_coords(latitude=[35.0, wrong])
        refused(lambda off=off: Weather.from_xarray(off), "latitude of 'grid cell'", "-90 to 90")
    named = field.assign_coords(latitude=["south", "north"])
    refused(lambda: Weather.from_xarray(named), "latitude = south is not a number")
    holed = field.where((field["latitude"] > 35.5) | (field["time"] != field["time"][3]))
    refused(lambda: Weather.from_xarray(holed), "latitude 35.0, longitude -81.0, row 3", "is not a number")


def test_a_dataset_without_a_temperature_tells_what_it_has():
    times = pd.date_range("2001-01-01", periods=2, freq="h")
    field = xr.Dataset({"t2m": (("time",), [1.0, 2.0])}, coords={"time": times})
    refused(
        lambda: ws.Weather.from_xarray(field),
        "'air_temperature'; variables are t2m: name one temperature, or give it this attribute",
    )


def test_the_place_of_a_cell_is_found_by_short_names_and_standard_names(tmp_path):
    field = gridded(tmp_path)
    short = field.rename(latitude="lat", longitude="lon")
    turned = short.assign_coords(lon=short["lon"] + 360.0)  # as models count, from 0 to 360
    own = field.rename(latitude="y", longitude="x")
    own["y"].attrs["standard_name"], own["x"].attrs["standard_name"] = "latitude", "longitude"
    for each in (short, turned, own):
        place = list(Weather.from_xarray(each).values())[-1].place
        assert (place.latitude, place.longitude) == (36.0, -79.0)


def test_three_records_laid_out_as_a_grid_are_the_records(quick, tmp_path):
    """pvlib's typical years side by side, through netCDF: each cell is its record."""
    pytest.importorskip("netCDF4")
    records = {name: ws.read_weather(name) for name in ("miami", "piedmont", "sand-point")}
    fields = [each.to_xarray().sel(time=slice("2001-05-07", "2001-05-20")) for each in records.values()]
    laid = xr.concat([each.reset_coords(drop=True) for each in fields], "station", join="inner")
    laid = laid.assign_coords(
        station=list(records),
        latitude=("station", [each.place.latitude for each in records.values()]),
    )
    laid.to_netcdf(tmp_path / "three.nc", engine="netcdf4")
    grid = Weather.from_xarray(xr.load_dataset(tmp_path / "three.nc", engine="netcdf4"))
    times = {"time_utc": np.array(["2001-05-15T20:00", "2001-05-16T15:00"], dtype="datetime64[ns]")}
    found = ws.batch(quick, times, grid)
    assert dict(found["wet_time"].sizes) == {"row": 2, "station": 3}
    assert found["latitude"].values.tolist() == laid["latitude"].values.tolist()
    for name, field in zip(records, fields, strict=True):
        alone = ws.batch(
            quick, times, Weather.from_xarray(field.isel(time=slice(0, None)).reset_coords(drop=True))
        )
        cell = found.sel(station=name)
        assert cell["wet_time"].values == pytest.approx(alone["wet_time"].values, rel=1e-6)
        year = ws.batch(quick, times, records[name])  # typical years are followed in the weeks of 2001
        assert cell["wet_time"].values == pytest.approx(year["wet_time"].values, rel=1e-3)


def test_a_record_written_as_a_dataset_comes_back_as_what_it_was(tmp_path):
    """A crop's logger came back as outdoor weather, and a typical year as a record of its nominal one."""
    year = ws.read_weather("piedmont")
    laid = year.to_xarray()
    laid.to_netcdf(tmp_path / "year.nc", engine="netcdf4")
    again = Weather.from_xarray(xr.load_dataset(tmp_path / "year.nc", engine="netcdf4"))
    assert (again.typical, again.exposure, again.time_zone) == (True, "outdoor", year.time_zone)
    np.testing.assert_allclose(again.data, year.data, rtol=1e-12)
    bench = laid.isel(time=slice(0, 100)).assign_attrs(exposure="crop", typical=0)
    assert Weather.from_xarray(bench).exposure == "crop"
    assert Weather.from_xarray(bench, exposure="outdoor").exposure == "outdoor"
    assert not Weather.from_xarray(bench).typical
    bench["pressure"].attrs["units"] = 5
    refused(lambda: Weather.from_xarray(bench), "pressure has no attribute 'units'")
