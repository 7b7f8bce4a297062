"""Weather on a grid, read from netCDF: three typical years side by side, and an invented field on a map."""

from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import wetspan as ws
import xarray as xr

SITES = ("miami", "piedmont", "sand-point")
WEEK = slice("2001-05-13", "2001-05-20")
TIMES = {"time_utc": np.array(["2001-05-15T15:00", "2001-05-15T19:00"], dtype="datetime64[ns]")}


def of_stations() -> xr.Dataset:
    """Return the records that come with pvlib along a dimension of stations, with their places."""
    records = [ws.read_weather(name) for name in SITES]
    weeks = [each.to_xarray().sel(time=WEEK).reset_coords(drop=True) for each in records]
    return xr.concat(weeks, "station", join="inner").assign_coords(
        station=list(SITES),
        latitude=("station", [each.place.latitude for each in records if each.place]),
        longitude=("station", [each.place.longitude for each in records if each.place]),
    )


def over_the_map() -> xr.Dataset:
    """Return an invented field: the weather of one place, colder to the north and drier to the west."""
    one = ws.read_weather("piedmont").to_xarray().sel(time=WEEK).reset_coords(drop=True)
    north = xr.DataArray([34.0, 36.0, 38.0], dims="lat", coords={"lat": [34.0, 36.0, 38.0]})
    east = xr.DataArray([-82.0, -79.0], dims="lon", coords={"lon": [-82.0, -79.0]})
    field = one.expand_dims(lat=north, lon=east).copy()
    colder, drier = 0.7 * (north - 36.0), 0.02 * (-79.0 - east)
    for name, changed in (
        ("temperature", field["temperature"] - colder),
        ("relative_humidity", (field["relative_humidity"] - drier).clip(0.05, 1.0)),
    ):
        field[name] = changed.transpose("time", "lat", "lon").assign_attrs(one[name].attrs)
    return field


if __name__ == "__main__":
    bench = ws.Scenario({"numerics.flights": "table"})
    with TemporaryDirectory() as folder:
        for name, field in (("stations", of_stations()), ("map", over_the_map())):
            file = Path(folder) / f"{name}.nc"
            field.to_netcdf(file)
            with xr.open_dataset(file) as read:
                grid = ws.Weather.from_xarray(read.load())
            found = ws.batch(bench, TIMES, grid)
            print(f"\nMinutes until leaves are dry, over the {name}:")
            print((found["wet_time"].isel(row=1) / 60.0).round(1).to_series().to_string())
