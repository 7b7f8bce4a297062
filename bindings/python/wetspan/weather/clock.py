"""Clocks and spans of time, read from text without guessing."""

from __future__ import annotations

import re
import warnings
import zoneinfo
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from functools import cache

import numpy as np
import numpy.typing as npt
import pandas as pd

from wetspan.errors import InputError, nearest

Array = npt.NDArray[np.float64]
Moments = npt.NDArray[np.datetime64]
HOUR = pd.Timedelta(hours=1)
YEAR = pd.Timedelta(days=365)
YEARS = range(1700, 2201)  # calendar years that are understood; timestamps of nanoseconds hold little more
YEARS_ALLOWED = f"allowed are the years {YEARS[0]} to {YEARS[-1]}"
zones = cache(zoneinfo.available_timezones)  # it searches folders


#: What people call a clock, and the names of it: with daylight saving, and of standard time all year.
_SPOKEN = (
    (("EDT", "EASTERN", "EASTERN TIME"), "America/New_York", "UTC-05:00"),
    (("CDT", "CST", "CENTRAL", "CENTRAL TIME"), "America/Chicago", "UTC-06:00"),
    (("MDT", "MOUNTAIN", "MOUNTAIN TIME"), "America/Denver", "UTC-07:00"),
    (("PDT", "PST", "PACIFIC", "PACIFIC TIME"), "America/Los_Angeles", "UTC-08:00"),
    (("BST",), "Europe/London", "UTC+00:00"),
    (("CEST",), "Europe/Berlin", "UTC+01:00"),
)


def span(text: str | timedelta) -> pd.Timedelta:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of spellings such as "3H", which are clear enough
            found = pd.Timedelta(text)
    except ValueError:
        found = pd.Timedelta(0)
    if not found > pd.Timedelta(0):
        raise InputError(f"longest_gap: '{text}'; allowed is a time above zero such as '3h' or '20min'")
    return found


def duration(span: pd.Timedelta) -> str:
    """Write a span in the largest unit that divides it: 90 min, 1 h, 2 d."""
    seconds = span.total_seconds()
    for unit, size in (("d", 86400), ("h", 3600), ("min", 60)):
        if seconds >= size and seconds % size == 0:
            return f"{seconds / size:.0f} {unit}"
    return f"{seconds:g} s"


def seconds(times: pd.DatetimeIndex, origin: pd.Timestamp) -> Array:
    return np.asarray((times - origin) / pd.Timedelta(seconds=1), dtype=np.float64)


def moment_of(given: object) -> pd.Timestamp:
    given = str(given) if isinstance(given, str) else given  # without the name of its type in messages
    try:
        parsed = datetime.fromisoformat(given) if isinstance(given, str) else given
    except ValueError:
        parsed = None
    if not isinstance(parsed, date) or pd.isna(parsed):
        raise InputError(f"{given!r} is not a time such as 2026-05-14T06:00 or 2026-05-14T06:00-05:00")
    if parsed.year not in YEARS:
        raise InputError(f"{parsed.isoformat()}: {YEARS_ALLOWED}")
    return pd.Timestamp(parsed)


def clock_of(name: str | tzinfo) -> tzinfo:
    """Return the clock of a name: "UTC", an offset such as "UTC-05:00" or "GMT-5", or an IANA zone.

    str() of the clock gives the name back.
    """
    if isinstance(name, tzinfo):
        name = str(name)
    if not isinstance(name, str):
        raise InputError(f"time_zone: {name!r}; allowed is the name of a clock, such as 'UTC-05:00'")
    if name in ("UTC", "utc"):
        return UTC
    if match := re.fullmatch(r"(?:UTC|GMT)?([+-])(\d{1,2})(?::?([0-5]\d))?", name):
        sign, hours, minutes = match.groups()
        offset = timedelta(hours=int(hours), minutes=int(minutes or 0))
        if offset > timedelta(hours=14):
            raise InputError(f"time_zone: '{name}'; offsets run from UTC-14:00 to UTC+14:00")
        return timezone(offset if sign == "+" else -offset)
    try:
        return zoneinfo.ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        raise InputError(
            f"time_zone: '{name}'; allowed is an IANA zone such as 'America/New_York', or an offset such as "
            f"'UTC-05:00'; {_meant(name)}".rstrip("; ")
        ) from None


def _meant(name: str) -> str:
    """Return the clock that was probably meant."""
    for words, zone, offset in _SPOKEN:
        if name.upper() in words:
            return f"did you mean '{zone}', or '{offset}' without daylight saving?"
    return nearest(name, (zone for zone in zones() if "GMT" not in zone))  # Etc/GMT-4 is four hours east


def localize(naive: pd.DatetimeIndex, clock: tzinfo) -> tuple[pd.DatetimeIndex, tuple[int, str] | None]:
    """Put wall-clock times on a clock; also name the first that daylight saving skips or repeats."""
    moments = naive.tz_localize(clock, ambiguous="NaT", nonexistent="NaT")
    if not moments.hasnans:
        return moments, None
    row = int(moments.isna().argmax())
    skipped = naive[[row]].tz_localize(clock, ambiguous=np.array([True]), nonexistent="NaT").hasnans
    return moments, (row, f"{'does not exist' if skipped else 'comes twice'} (daylight saving)")
