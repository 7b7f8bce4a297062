"""The air of a house, or at a logger in the crop, while nothing is sprayed."""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr

from wetspan import _core
from wetspan.errors import InputError
from wetspan.outcome import attributes
from wetspan.record import (
    ABOUT_AIR,
    Moment,
    Numbers,
    Stretch,
    Times,
    conditions,
    follow,
    local,
    raised,
    stretches_of,
    utc_in,
)
from wetspan.scenario import Scenario, require_scenario
from wetspan.weather import Weather

_OTHER_AIR = {
    "vapour_pressure": ("Pa", "vapour pressure at the crop"),
    "pressure": ("Pa", "air pressure"),
    "speed": ("m/s", "air speed at the crop"),
    "radiant_temperature": ("K", "radiant temperature of the surroundings above the crop"),
}


def house_air(
    scenario: Scenario, weather: Weather, start: Moment | None = None, end: Moment | None = None
) -> xr.Dataset:
    """Return the air at the crop while nothing is sprayed: every five minutes, or for a logger at its time
    stamps.

    `start` and `end` are read as by `weather.local`. Without them the whole record is returned, and for a
    typical year the year 2001. The Dataset lies along `time`, in UTC; `clock` is the record's own wall clock.
    Its variables are those of `batch` for the air at spraying, and vapour_pressure, pressure [Pa], speed
    [m/s] and radiant_temperature [K]. Sprays are computed in exactly this air, bit for bit.
    """
    require_scenario(scenario)
    local(weather, "2001-01-01")  # refuses what is no record
    known = weather.data.index
    bounds = (pd.Timestamp(year, 1, 1, tz=weather.tz) for year in (2001, 2002))
    first, last = bounds if weather.typical else (known[0], known[-1])
    first = first if start is None else local(weather, start)
    last = last if end is None else local(weather, end)
    if last <= first:
        raise InputError(f"start {first.isoformat()} is not before end {last.isoformat()}")
    span = pd.DatetimeIndex([first, last]).tz_convert("UTC")
    weather.at(span)  # refuses what is outside the record
    midnights = pd.date_range(span[0], span[1], freq="1D")
    stretches, _ = stretches_of(
        weather, pd.DatetimeIndex([*midnights, span[1]]), scenario["numerics.longest"]
    )
    parts = [
        _stretch_air(raised(air), weather, stretch, span)
        for stretch, air in zip(
            stretches, follow([(weather, each, scenario) for each in stretches]), strict=True
        )
    ]
    utc = np.concatenate([each for each, _ in parts])
    if not len(utc):
        raise InputError(f"{first.isoformat()} to {last.isoformat()} holds no moment of the air")
    air = xr.Dataset(
        {
            name: ("time", np.concatenate([columns[name] for _, columns in parts]), attributes(name, *about))
            for name, about in (ABOUT_AIR | _OTHER_AIR).items()
        },
        coords={"time": ("time", utc)},
    )
    clock = pd.DatetimeIndex(air["time"].values, tz="UTC").tz_convert(weather.tz).tz_localize(None)
    air = air.assign_coords(
        clock=("time", clock, {"long_name": "the record's own wall clock", "time_zone": weather.time_zone})
    )
    air["time"].attrs = {"standard_name": "time", "long_name": "time in UTC"}
    air.attrs = {
        "Conventions": "CF-1.11",
        "title": scenario.title,
        "scenario": scenario.to_toml(),
        "wetspan_version": _core.__version__,
        "weather": repr(weather),
    }
    return air


def _stretch_air(
    air: _core.CropAir, weather: Weather, stretch: Stretch, span: pd.DatetimeIndex
) -> tuple[Times, dict[str, Numbers]]:
    """Return the times, in UTC, and the air of a stretch within its own week and the span asked for."""
    utc = utc_in(weather, stretch, air)
    monday, next_monday = stretch.own(utc)
    first, last = (moment.to_datetime64() for moment in span)
    begin, end = np.searchsorted(utc, [max(monday, first), next_monday])
    end = min(end, np.searchsorted(utc, last, side="right"))
    every = air.columns
    others = {name: every[name][begin:end] for name in _OTHER_AIR}
    return utc[begin:end], conditions(air, air.time[begin:end]) | others
