"""Wet nights: leaves that are wet past sunset, or for longer than is safe with regard to leaf disease.

A long wet time may increase growth control, but it invites leaf disease, grey mould above all. So a time of
spraying after which the crop is wet into the night, or for too long, is marked. If it is the best time of its
day, a caution is added. The tool does not estimate disease.
"""

from __future__ import annotations

from datetime import tzinfo
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from wetspan.doubts import DARK
from wetspan.errors import InputError
from wetspan.parameters import TABLE
from wetspan.units import value_in_si
from wetspan.weather import Weather

Numbers = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]

#: Leaves wet for longer are marked. Common practice, no source; grade D.
WET_LIMIT = "8 h"
CAUTION = (
    "Wet nights and long wet times invite leaf disease, grey mould above all: growers want leaves dry before "
    "sunset (common practice, no source), and no gain in growth control makes up for a diseased crop."
)
#: How times that leave the crop wet are told, for `str.format`; the page fills in the same texts.
TOLD = {
    "all": "Leaves and the night: {parts}.",
    "past": "sprayed at {times} they are wet past sunset",
    "long": "sprayed at {times} they are wet for more than {limit}",
    "mark": "wet past sunset, or more than {limit}",
}

#: The variables that mark a wet night.
MARKS = ("wet_past_sunset", "wet_too_long")
_FOR_EVER = 10.0 * 86400.0  # s, for what never dries
_HOUR = 3_600_000_000_000  # ns
_DAY = 24 * _HOUR


class Sun(NamedTuple):
    """Sunrise and sunset of some days, in UTC; NaT where they are not known or the sun stays up or down."""

    rise: pd.DatetimeIndex
    set: pd.DatetimeIndex


def limit_of(given: object, name: str = "wet_limit", usual: str = WET_LIMIT) -> float:
    """Return a limit of wet times [s] from text with a unit or a quantity.

    By default it is the longest wet time that is not marked. A bare number is refused: wet times are told in
    minutes and hours, and 20 seconds would be taken without a word. A refusal names the argument and a usual
    value.
    """
    row = TABLE["numerics.longest"]
    try:
        limit = value_in_si(row, given, bare=False)
    except InputError as error:
        raise InputError(str(error).replace(row.key, name).replace("'48 hour'", repr(usual))) from None
    if not limit > 0.0:
        raise InputError(f"{name} = {given!r} is not a time above 0, such as {usual!r}")
    return limit


def sun(weather: Weather, days: pd.DatetimeIndex) -> Sun:
    """Return sunrise and sunset of days (midnights without a zone) on a record's clock.

    Where the record has a place, by the solar position algorithm of Reda & Andreas (2004), as pvlib has it.
    Otherwise by its light: from the first value of a day above 5 W/m2 to the first below it after the last
    above; of a record whose light never changes, they are not known.
    """
    place = weather.place
    if place is None or place.latitude is None or place.longitude is None:
        return _by_light(weather, days)
    midnights = days.tz_localize(weather.tz, nonexistent="shift_forward", ambiguous=np.ones(len(days), bool))
    if len(days) == 0:
        return Sun(midnights.tz_convert("UTC"), midnights.tz_convert("UTC"))
    utc = midnights.tz_convert("UTC").tz_localize(None).to_numpy().astype("datetime64[ns]")
    return _by_place(place.latitude, place.longitude, weather.tz, utc.tobytes())


def clock_hours(weather: Weather, moments: pd.DatetimeIndex) -> Numbers:
    """Return the clock time of moments on a record's own clock [h]; NaN for NaT."""
    clock = moments.tz_convert(weather.tz).tz_localize(None).as_unit("ns")
    return np.where(clock.isna(), np.nan, clock.asi8 % _DAY / _HOUR)


def wet_past_sunset(weather: Weather, moments: pd.DatetimeIndex, wet: Numbers) -> Marks:
    """Return whether leaves that are wet from each moment (with a zone) for `wet` [s] are wet past sunset.

    They are where the next sunset finds them wet, or they were wetted after sunset. Those wetted before dawn
    that dry by daylight are not; those that dry before sunrise are.
    """
    length = np.clip(np.nan_to_num(wet, nan=0.0, posinf=_FOR_EVER), 0.0, _FOR_EVER)
    if not length.any():
        return np.zeros(len(moments), dtype=np.bool_)
    local = moments.tz_convert(weather.tz)
    days, which = np.unique(local.tz_localize(None).normalize(), return_inverse=True)
    rise, set_ = (each[which.reshape(len(moments))] for each in sun(weather, pd.DatetimeIndex(days)))
    dry = local + pd.to_timedelta(length, unit="s")
    in_the_dark = (dry > set_) | ((local < rise) & (dry < rise))
    return np.asarray(in_the_dark & (length > 0.0), dtype=np.bool_)


def add_wet_nights(
    result: xr.Dataset,
    weather: Weather,
    moments: pd.DatetimeIndex,
    limit: float,
    delay: float | Numbers,
    longest: float,
) -> None:
    """Mark the times of a Dataset as `wet_marks` does, in the order of the values of its wet times."""
    dims, shape = result["wet_time"].dims, result["wet_time"].shape
    wet, rewet = (result[name].values.ravel() for name in ("wet_time", "rewet_time"))
    marks = wet_marks(weather, moments, wet, rewet, limit, delay, longest)
    for (name, about), each in zip(about_marked(limit).items(), marks, strict=True):
        result[name] = (dims, each.reshape(shape), about)
    result.attrs["wet_limit"] = told_limit(limit)


def wet_marks(
    weather: Weather,
    moments: pd.DatetimeIndex,
    wet: Numbers,
    rewet: Numbers,
    limit: float,
    delay: float | Numbers,
    longest: float,
) -> tuple[Marks, Marks]:
    """Return which sprays leave leaves wet past sunset, and which for longer than `limit` [s] (`MARKS`).

    `moments` (with a zone) are those of spraying, `wet` the wet times [s]; `delay` [s] is that of a
    re-wetting, whose own wet time `rewet` counts too. What does not dry counts as wet for as long as it is
    followed, `longest` [s].
    """
    first, again = np.minimum(wet, longest), np.minimum(rewet, longest)
    past = wet_past_sunset(weather, moments, first)
    if (again > 0.0).any():
        later = moments + pd.to_timedelta(np.broadcast_to(delay, len(moments)), unit="s")
        past |= wet_past_sunset(weather, later, again)
    return past, (first > limit) | (again > limit)  # NaN, of what failed, is not


def about_marked(limit: float) -> dict[str, dict[str, str]]:
    """Return the attributes of the marks, of times that are wet for longer than `limit` [s]."""
    told = (
        "whether leaves are wet after sunset",
        f"whether leaves are wet for longer than {told_limit(limit)} (common practice, no source)",
    )
    return {name: {"long_name": each} for name, each in zip(MARKS, told, strict=True)}


def told_limit(limit: float) -> str:
    """Return the longest wet time that is not marked [s] in words."""
    return f"{limit / 3600.0:g} h"


def wet_nights(result: xr.Dataset) -> xr.DataArray:
    """Return which times of a Dataset are marked, for either reason; none where nothing was marked."""
    if not set(MARKS) <= set(result.data_vars):
        return xr.zeros_like(result["wet_time"], dtype=np.bool_)
    return result["wet_past_sunset"] | result["wet_too_long"]


def about_marks(result: xr.Dataset) -> str:
    """Return what a mark means, in few words."""
    return TOLD["mark"].format(limit=result.attrs["wet_limit"])


@lru_cache(maxsize=32)
def _by_place(latitude: float, longitude: float, tz: tzinfo, midnights: bytes) -> Sun:
    """Return sunrise and sunset of days, given as the bytes of their midnights in UTC, in nanoseconds."""
    import pvlib  # type: ignore[import-untyped]

    utc = pd.DatetimeIndex(np.frombuffer(midnights, dtype="datetime64[ns]"), tz="UTC")
    told = pvlib.solarposition.sun_rise_set_transit_spa(utc.tz_convert(tz), latitude, longitude)
    rise, set_ = (pd.DatetimeIndex(told[name]).tz_convert("UTC") for name in ("sunrise", "sunset"))
    return Sun(rise, set_)


def _by_light(weather: Weather, days: pd.DatetimeIndex) -> Sun:
    rise = np.full(len(days), "NaT", dtype="datetime64[ns]")
    set_ = rise.copy()
    light = weather.data["shortwave"]
    if light.min() < light.max():
        index = pd.DatetimeIndex(light.index)
        own = index.tz_convert(weather.tz).tz_localize(None).normalize()
        stamps, bright = index.tz_localize(None).to_numpy().astype("datetime64[ns]"), light.to_numpy() >= DARK
        for place, day in enumerate(days):
            lit = np.flatnonzero((own == day) & bright)
            if len(lit) and lit[0] > 0 and not bright[lit[0] - 1]:
                rise[place] = stamps[lit[0]]
            if len(lit) and lit[-1] + 1 < len(bright) and not bright[lit[-1] + 1]:
                set_[place] = stamps[lit[-1] + 1]
    return Sun(pd.DatetimeIndex(rise, tz="UTC"), pd.DatetimeIndex(set_, tz="UTC"))
