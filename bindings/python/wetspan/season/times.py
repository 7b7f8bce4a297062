"""The sites, days and clock times of a season, as they are given and as they are read."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date, datetime, time
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
import pandas as pd

from wetspan.batch.weather import Skies
from wetspan.errors import InputError, described
from wetspan.record import local
from wetspan.weather import Weather, WeatherGrid

Day: TypeAlias = str | date
#: Clock times: whole hours, "06:30", or `datetime.time`.
Clocks: TypeAlias = Iterable[int | str | time]

_MOST_DAYS = 366 * 5  # of one call: beyond, memory is better spent year by year


def sites_of(weather: Skies) -> dict[str, Weather]:
    if isinstance(weather, Weather):
        return {weather.place.name if weather.place else weather.source: weather}
    if not isinstance(weather, Mapping) or not weather:
        raise InputError(
            f"weather = {described(weather)} is no record; read it first, as in ws.read_weather('miami')"
        )
    for name, each in weather.items():
        local(each, "2001-01-01")  # refuses what is no record
        if not isinstance(name, str):
            raise InputError(f"weather: the name {name!r} of a record is not text")
    return dict(weather)


def coordinates_of_cells(grid: WeatherGrid) -> dict[str, object]:
    """Return the coordinates of a grid's cells along `site`."""
    cells = grid.cells
    return {
        str(name): ("site", each.broadcast_like(cells).transpose(*cells.dims).values.ravel(), each.attrs)
        for name, each in cells.coords.items()
    }


def days_of(start: Day, end: Day) -> pd.DatetimeIndex:
    first, last = _day("start", start), _day("end", end)
    if last < first:
        raise InputError(f"end {last} is before start {first}")
    days = pd.date_range(first, last, freq="1D")
    if len(days) > _MOST_DAYS:
        raise InputError(f"{first} to {last} is {len(days)} days; {_MOST_DAYS} is the most at a time")
    return days


def _day(name: str, given: Day) -> date:
    try:
        day = date.fromisoformat(given) if isinstance(given, str) else given
    except ValueError:
        day = None
    if isinstance(day, datetime) or not isinstance(day, date):
        raise InputError(f"{name} = {given!r} is not a day such as 2026-05-14")
    return day


def clocks_of(hours: Clocks) -> pd.TimedeltaIndex:
    try:
        given = [] if isinstance(hours, str) else list(hours)
    except TypeError:
        given = []
    if not given:
        raise InputError(f"hours = {hours!r}: give clock times, such as range(6, 21) or ['06:30', '18:00']")
    clocks = pd.TimedeltaIndex([_clock(each) for each in given])
    if not (clocks.is_monotonic_increasing and clocks.is_unique):
        raise InputError("hours: clock times have to increase")
    return clocks


def _clock(given: int | str | time) -> pd.Timedelta:
    if isinstance(given, (int, np.integer)) and not isinstance(given, bool) and 0 <= given < 24:
        return pd.Timedelta(hours=int(given))
    try:
        parsed = time.fromisoformat(given) if isinstance(given, str) and re.match(r"\d\d:", given) else given
    except ValueError:
        parsed = None
    if not isinstance(parsed, time) or parsed.tzinfo is not None:
        raise InputError(
            f"hours: {given!r} is not a clock time; allowed are 0 to 23, '06:30', or datetime.time"
        )
    return pd.Timedelta(hours=parsed.hour, minutes=parsed.minute, seconds=parsed.second)


def clock_text(clock: pd.Timedelta) -> str:
    hours, minutes, seconds = clock.components.hours, clock.components.minutes, clock.components.seconds
    return f"{hours:02d}:{minutes:02d}" + (f":{seconds:02d}" if seconds else "")


def clock_moments(days: pd.DatetimeIndex, clocks: pd.TimedeltaIndex) -> npt.NDArray[np.datetime64]:
    """Return the moments on a record's own clock, days x clock times."""
    return np.asarray(days.to_numpy()[:, None] + clocks.to_numpy()[None, :])
