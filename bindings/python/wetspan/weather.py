"""Weather records: air and sun from a file, in SI, on a clock that is never guessed.

Where a value stands in time
    A stamp in a file may open, halve or close the interval that a value was averaged over, or be the moment
    of a reading. A record keeps each value at its own moment: the mean of an interval at the middle of the
    interval, a reading at its stamp. Between these moments a record is linear. All variables share one index.

The hourly formats (TMY2, TMY3, EPW)
    Hour n of a day, 1 to 24, is the hour that *ends* at n o'clock local standard time. Shortwave is the mean
    of that hour, so it stands at n - 1/2; temperature, humidity, pressure and wind are readings at n. The
    common index steps by half an hour: on the hour the readings of the file and shortwave interpolated, on
    the half hour the shortwave of the file and readings interpolated. No value of the file is moved or lost.
    pvlib's TMY3 reader stamps the end of each hour, its TMY2 and EPW readers the start; that is undone here.
    Sources: Marion & Urban (1995) User's Manual for TMY2s; Wilcox & Marion (2008) Users Manual for TMY3 Data
    Sets, NREL/TP-581-43156; the data dictionary of the EPW format, as pvlib's reader quotes it.

Typical years
    A typical year joins months of different years, so its stamps mean month, day and time of day only. A
    question about any calendar year is answered from the same month, day and time; December runs on into
    January; 29 February repeats 28 February.

Plain CSV
    One column of stamps and one per variable, whatever their headings, units and clock: all are to be stated,
    see `read_weather`.
"""

from __future__ import annotations

import csv
import importlib.resources
import io
import os
import re
import zoneinfo
from calendar import isleap
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import pint
import pvlib  # type: ignore[import-untyped]
import xarray as xr

from wetspan.errors import InputError, nearest
from wetspan.units import degrees_meant, unit_of, with_unit

__all__ = ["VARIABLES", "Place", "Variable", "Weather", "read_weather", "sample_weather"]

Array = npt.NDArray[np.float64]
Moments = npt.NDArray[np.datetime64]

LABELS = ("start", "middle", "end", "instant")
EXPOSURES = ("outdoor", "crop")
FORMATS = ("tmy2", "tmy3", "epw", "csv")


@dataclass(frozen=True)
class Variable:
    """One column of a record: names and unit under the CF conventions, bounds, units common in files."""

    standard_name: str
    long_name: str
    unit: str
    low: float
    high: float
    common_units: tuple[str, ...]


# The bounds are there to catch wrong units and missing-value codes. They lie a little outside what has been
# reported from the Earth's surface (-89 to 57 degC, 1084 hPa, a gust of 113 m/s, sunlight gathered by cloud
# edges above the solar constant of 1361 W/m2), from memory. Evidence grade D.
VARIABLES: Mapping[str, Variable] = {
    "temperature": Variable("air_temperature", "air temperature", "K", 183.15, 333.15, ("degC", "degF", "K")),
    "relative_humidity": Variable("relative_humidity", "relative humidity", "1", 0.0, 1.0, ("percent", "1")),
    "pressure": Variable("air_pressure", "air pressure", "Pa", 5e4, 1.1e5, ("Pa", "hPa", "kPa", "inHg")),
    "wind_speed": Variable("wind_speed", "wind speed", "m/s", 0.0, 120.0, ("m/s", "km/h", "mph")),
    "shortwave": Variable(
        standard_name="surface_downwelling_shortwave_flux_in_air",
        long_name="shortwave on the horizontal",
        unit="W/m^2",
        low=0.0,
        high=2000.0,
        common_units=("W/m^2", "kW/m^2"),
    ),
}

_HOUR = pd.Timedelta(hours=1)
_YEAR = pd.Timedelta(days=365)
_NOMINAL_YEAR = 2001  # typical years are stored under it; any year without 29 February would do
_YEARS = range(1700, 2201)  # calendar years that are understood; timestamps of nanoseconds hold little more
_YEARS_ALLOWED = f"allowed are the years {_YEARS[0]} to {_YEARS[-1]}"
_PREAMBLE = 100  # lines of a CSV that are searched for its headings
_SAMPLES = {"miami": "12839.tm2", "sand-point": "703165TY.csv", "piedmont": "723170TYA.CSV"}


# --- the record -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Place:
    """Where a record was taken: name, latitude [degrees north], longitude [degrees east], altitude [m]."""

    name: str
    latitude: float | None = None
    longitude: float | None = None
    altitude: float | None = None

    def __post_init__(self) -> None:
        bounds = {"latitude": (-90.0, 90.0), "longitude": (-180.0, 180.0), "altitude": (-500.0, 6000.0)}
        for name, (low, high) in bounds.items():
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                raise InputError(f"{name} of '{self.name}' is {value}; allowed is {low:g} to {high:g}")

    def __str__(self) -> str:
        words = [self.name]
        if self.latitude is not None:
            words.append(f"{abs(self.latitude):.2f} {'N' if self.latitude >= 0 else 'S'}")
        if self.longitude is not None:
            words.append(f"{abs(self.longitude):.2f} {'E' if self.longitude >= 0 else 'W'}")
        if self.altitude is not None:
            words.append(f"{self.altitude:g} m")
        return ", ".join(words)


@dataclass(frozen=True, eq=False, repr=False)
class Weather:
    """A weather record, of a station or of a logger: checked, in SI, each value at its own moment.

    data
        Columns temperature [K], relative_humidity [fraction, 0..1], pressure [Pa], wind_speed [m/s],
        shortwave [W/m2 on the horizontal], on an increasing index in UTC; no NaN; read-only. Linear between
        rows. Means stand at the middle of their interval, readings at their stamp (see the module).
    place
        Where, or None if not stated.
    time_zone
        The record's own clock: "UTC", a fixed offset such as "UTC-05:00", or an IANA zone.
    label
        Where in its averaging interval a stamp stood *in the file*: "start", "middle" or "end"; "instant" for
        readings. `data` has that already accounted for. Of the hourly formats it describes the shortwave.
    exposure
        "outdoor": weather that drives a house; "crop": air measured at crop height, used as it is.
    typical
        True for a typical year, whose stamps stand for any calendar year; `data` has them under a nominal
        one.
    source, format
        The name of the file, and "tmy2", "tmy3", "epw" or "csv".
    interval
        Time between the stamps of the file, over which its means were taken.
    notes
        What was assumed or left out in reading, one sentence each.
    """

    data: pd.DataFrame
    place: Place | None
    time_zone: str
    label: str
    exposure: str
    typical: bool
    source: str
    format: str
    interval: pd.Timedelta
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        _known("label", [self.label], LABELS)
        _known("exposure", [self.exposure], EXPOSURES)
        _known("format", [self.format], FORMATS)
        object.__setattr__(self, "time_zone", str(_clock(self.time_zone)))
        index = self.data.index
        if not isinstance(index, pd.DatetimeIndex) or str(index.tz) != "UTC":
            raise InputError(f"{self.source}: the index of a record is a DatetimeIndex in UTC")
        if len(index) < 2 or index.hasnans or not (index.is_monotonic_increasing and index.is_unique):
            raise InputError(f"{self.source}: a record has two rows or more, at increasing times")
        if list(self.data.columns) != list(VARIABLES):
            raise InputError(
                f"{self.source}: columns {list(self.data.columns)}; a record has {list(VARIABLES)}"
            )
        if self.typical:
            first = index[0].tz_convert(self.tz).year
            new_year = pd.Timestamp(year=first + 1, month=1, day=1, tz=self.tz)
            whole = _YEAR - _HOUR <= index[-1] - index[0] < _YEAR and index[-1] <= new_year
            if isleap(first) or not whole or not isinstance(self.tz, timezone):
                raise InputError(
                    f"{self.source}: a typical year is January to December, 365 days, on a fixed UTC offset"
                )
        values = self.data.to_numpy(dtype=np.float64, copy=True)
        for column, (name, rule) in enumerate(VARIABLES.items()):
            right = (values[:, column] >= rule.low) & (values[:, column] <= rule.high)
            if not right.all():
                row = int(right.argmin())
                said = with_unit(f"{values[row, column]:g}", rule.unit)
                raise InputError(
                    f"{self.source}, {index[row].isoformat()}: {name} is {said}; allowed is "
                    f"{_allowed(name, rule.unit)}"
                )
        values.flags.writeable = False
        data = pd.DataFrame(values, index=index.rename("time"), columns=list(VARIABLES), copy=False)
        object.__setattr__(self, "data", data)

    def __repr__(self) -> str:
        first, last = (moment.tz_convert(self.tz).isoformat() for moment in self._index[[0, -1]])
        return (
            f"Weather({self.place or 'place not stated'}; "
            f"{'typical year' if self.typical else f'{first} to {last}'}, every {_duration(self.interval)}, "
            f"clock {self.time_zone}; {self.exposure}; {self.source}, {self.format})"
        )

    @property
    def tz(self) -> tzinfo:
        """The record's own clock as a tzinfo."""
        return _clock(self.time_zone)

    @property
    def _index(self) -> pd.DatetimeIndex:
        return pd.DatetimeIndex(self.data.index)

    def local(self, moment: str | date | pd.Timestamp) -> pd.Timestamp:
        """Return a moment on the record's own clock, with its zone.

        A moment without an offset is wall-clock time of `time_zone`; in the hourly formats that is standard
        time all year, an hour behind a grower's clock in summer. A moment with an offset
        ("2026-05-14T06:00-04:00", or any aware datetime) is converted. Text is ISO 8601. Wall-clock time that
        daylight saving skips or repeats is refused.
        """
        given = _moment(moment)
        if given.tzinfo is not None:
            return given.tz_convert(self.tz)
        moments, fault = _localize(pd.DatetimeIndex([given]), self.tz)
        if fault is not None:
            raise InputError(
                f"{given.isoformat()} {fault[1]} on the clock of {self.time_zone}; add its UTC offset"
            )
        return moments[0]

    def local_index(self, moments: pd.DatetimeIndex) -> pd.DatetimeIndex:
        """Return many moments on the record's own clock, as `local` does."""
        if len(moments) > 0:
            self.local(moments.min()), self.local(moments.max())  # refuse what is no time at all
        if moments.hasnans:
            raise InputError(f"time {int(moments.isna().argmax())} is missing")
        if moments.tz is not None:
            return moments.tz_convert(self.tz)
        localized, fault = _localize(moments, self.tz)
        if fault is not None:
            row, what = fault
            raise InputError(
                f"{moments[row].isoformat()} {what} on the clock of {self.time_zone}; add its UTC offset"
            )
        return localized

    def at(self, times: pd.DatetimeIndex) -> pd.DataFrame:
        """Return the record at given times, a DatetimeIndex with a time zone, linear between its rows.

        Times outside the record are refused; a typical year answers for any calendar year.
        """
        if not isinstance(times, pd.DatetimeIndex):
            raise InputError(
                f"times are a {type(times).__name__}; allowed is a DatetimeIndex with a time zone"
            )
        if times.tz is None:
            raise InputError("times have no time zone; give them one, as in times.tz_localize(weather.tz)")
        if times.hasnans:
            raise InputError(f"times are missing (NaT) at position {int(times.isna().argmax())}")
        rows = self._rows(_near(self._years(times)))
        known, utc = pd.DatetimeIndex(rows.index), times.tz_convert("UTC")
        outside = (utc < known[0]) | (utc > known[-1])
        if outside.any():
            first, last = (moment.tz_convert(self.tz).isoformat() for moment in known[[0, -1]])
            asked = utc[int(outside.argmax())].tz_convert(self.tz).isoformat()
            raise InputError(f"{asked} is outside the record {self.source}, {first} to {last}")
        x, xs = _seconds(utc, known[0]), _seconds(known, known[0])
        return pd.DataFrame({name: np.interp(x, xs, rows[name]) for name in VARIABLES}, index=times)

    def between(self, start: str | date | pd.Timestamp, end: str | date | pd.Timestamp) -> pd.DataFrame:
        """Return the rows of the record from start to end, with one interpolated at each of the two; in UTC.

        Start and end are read as by `local`.
        """
        ends = pd.DatetimeIndex([self.local(start).tz_convert("UTC"), self.local(end).tz_convert("UTC")])
        if ends[0] >= ends[1]:
            raise InputError(f"start {ends[0].isoformat()} is not before end {ends[1].isoformat()}")
        first, last = self._years(ends)[[0, -1]]
        rows = pd.DatetimeIndex(self._rows(_near(np.arange(first, last + 1))).index)
        inside = rows[(rows > ends[0]) & (rows < ends[1])]
        return self.at(ends.union(inside).rename("time"))

    def day(self, day: str | date) -> pd.DataFrame:
        """Return the record of one day on its own clock, midnight to midnight."""
        try:
            given = date.fromisoformat(day) if isinstance(day, str) else day
            following = given + timedelta(days=1)
        except (TypeError, ValueError, OverflowError):
            raise InputError(f"{day!r} is not a day such as 2026-05-14") from None
        if isinstance(given, datetime):
            raise InputError(f"{day!r} is a moment; a day such as 2026-05-14 is needed")
        return self.between(given, following)

    def to_xarray(self) -> xr.Dataset:
        """Return the record as a Dataset under the CF conventions; its time is UTC, stored without a zone."""
        dataset = xr.Dataset.from_dataframe(self.data.set_axis(self._index.tz_localize(None), axis=0))
        seconds = f"{self.interval.total_seconds():g} s"
        for name, rule in VARIABLES.items():
            is_mean = name == "shortwave" if self.format != "csv" else self.label != "instant"
            dataset[name].attrs = {
                "standard_name": rule.standard_name,
                "long_name": rule.long_name,
                "units": rule.unit,
                "cell_methods": f"time: mean (interval: {seconds})" if is_mean else "time: point",
            }
        dataset["time"].attrs = {"standard_name": "time", "long_name": "time in UTC; of a mean, its middle"}
        for name, unit in {"latitude": "degrees_north", "longitude": "degrees_east", "altitude": "m"}.items():
            value = getattr(self.place, name, None)
            if value is not None:
                attributes = {"standard_name": name, "long_name": name, "units": unit}
                dataset = dataset.assign_coords({name: ((), value, attributes)})
        dataset.attrs = {
            "Conventions": "CF-1.11",
            "title": "typical weather year" if self.typical else "weather record",
            "source": f"{self.source}, {self.format}",
            "place": "" if self.place is None else self.place.name,
            "time_zone": self.time_zone,
            "label": self.label,
            "exposure": self.exposure,
            "typical": int(self.typical),
            "comment": " ".join(self.notes),
        }
        return dataset

    def _years(self, times: pd.DatetimeIndex) -> npt.NDArray[np.int64]:
        """Calendar years of times on the record's own clock, each once, increasing."""
        years = np.unique(times.tz_convert(self.tz).year.to_numpy(dtype=np.int64))
        for year in years[[0, -1]] if len(years) else ():
            if year not in _YEARS:
                raise InputError(f"times: year {year}; {_YEARS_ALLOWED}")
        return years

    def _rows(self, years: npt.NDArray[np.int64]) -> pd.DataFrame:
        """Return the rows of the record; of a typical year, laid out over calendar years."""
        if not self.typical or len(years) == 0:
            return self.data
        offset = np.timedelta64(self.tz.utcoffset(None) or timedelta(), "us")
        stamps = self._index.tz_convert(self.tz).tz_localize(None).to_numpy().astype("datetime64[us]")
        moments, order = _lay_out(stamps, years)
        return self.data.iloc[order].set_axis(pd.DatetimeIndex(moments - offset).tz_localize("UTC"), axis=0)


def _near(years: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Years with the one before and the one after each, for interpolation across the turn of the year."""
    return np.unique(np.concatenate([years - 1, years, years + 1]))


def _lay_out(stamps: Moments, years: Iterable[int]) -> tuple[Moments, npt.NDArray[np.intp]]:
    """Lay the stamps of a year without 29 February over calendar years: the moments, and the stamp of each.

    A day runs from just after 0:00 to 24:00. 29 February repeats 28 February.
    """

    def first_of(year: int, month: int) -> Moments:
        return np.array(12 * (year - 1970) + month - 1).astype("datetime64[M]").astype("datetime64[us]")

    own = int(stamps[0].astype("datetime64[Y]").astype(int)) + 1970
    january, march, day = first_of(own, 1), first_of(own, 3), np.timedelta64(1, "D")
    early = np.flatnonzero(stamps <= march)
    repeated = np.flatnonzero((stamps > march - day) & (stamps <= march))
    late = np.flatnonzero(stamps > march)
    moments, order = [], []
    for year in years:
        moments.append(stamps[early] - january + first_of(year, 1))
        order.append(early)
        if isleap(year):
            moments.append(stamps[repeated] - january + first_of(year, 1) + day)
            order.append(repeated)
        moments.append(stamps[late] - march + first_of(year, 3))
        order.append(late)
    return np.concatenate(moments), np.concatenate(order)


# --- reading ----------------------------------------------------------------------------------------------


def sample_weather() -> dict[str, Path]:
    """Return the paths of three public typical years of the United States that pvlib carries, by name.

    "miami" (TMY2), "sand-point" in Alaska (TMY3) and "piedmont" in North Carolina (TMY3).
    """
    return {name: _sample(name) for name in _SAMPLES}


def read_weather(
    path: str | os.PathLike[str],
    *,
    format: str | None = None,
    time_zone: str | None = None,
    label: str | None = None,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    exposure: str | None = None,
    place: Place | None = None,
    constants: Mapping[str, str] | None = None,
    longest_gap: str | timedelta | None = None,
    typical: bool | None = None,
) -> Weather:
    """Read a weather file and check each value.

    Parameters
    ----------
    path
        A file, or the name of a sample: "miami", "sand-point", "piedmont" (a file of that name is "./miami").
    format
        "tmy2", "tmy3", "epw" or "csv"; recognised from the contents if left out. The first three settle their
        own clock, label, units and place: give nothing else for them, but `typical` for an EPW.
    time_zone
        The clock of the stamps: an IANA zone ("America/New_York") if it keeps daylight saving, "UTC-05:00" if
        it stays on standard time. May be left out if all stamps carry the same UTC offset.
    label
        Where in its averaging interval a stamp stands: "start", "middle" or "end"; "instant" for readings.
        Means are put at the middle of their interval; from "start" and "end" that takes evenly spaced stamps.
    columns
        Headings of the columns to read: {"time": "Time", "temperature": "Temp (F)", ...}. A preamble before
        the line of headings is passed over. Other columns are not read, and named in the notes.
    units
        Units of these columns: {"temperature": "degF", "relative_humidity": "percent", ...}. Stamps are ISO
        8601, or of a pattern given here: {"time": "%m/%d/%Y %H:%M"}.
    exposure
        "outdoor" or "crop", see `Weather`.
    place
        Where; its altitude gives the standard atmosphere if the file has no pressure.
    constants
        Values the file does not hold: {"wind_speed": "0.2 m/s", "shortwave": "0 W/m^2"}. Pressure may be left
        to the standard atmosphere. At the crop, a constant shortwave is allowed (zero: night, or a dark
        room); outdoors it is not. Temperature and humidity have to be in the file.
    longest_gap
        Longest time between two stamps that interpolation may bridge; 3 h if left out.
    typical
        True for an EPW that joins months of different years though its stamps name one. If left out, an EPW
        is a typical year when its stamps come from several years and do not follow each other.

    Raises
    ------
    InputError
        In one line: the file, line, column and value, and what is allowed.
    """
    file = _find(path)
    text, notes = _text(file)
    kind = _recognise(text) if format is None else format.lower()
    _known("format", [kind], FORMATS)
    if kind == "csv":
        if columns is None or units is None or label is None or exposure is None:
            stated = {"columns=": columns, "units=": units, "label=": label, "exposure=": exposure}
            missing = ", ".join(key for key, value in stated.items() if value is None)
            raise InputError(
                f"{file.name}: read as plain CSV, which does not say what it holds; give {missing}; "
                f"its first line is '{_short(text)}'"
            )
        if typical is not None:
            raise InputError(f"{file.name}: typical= is for an EPW; a plain CSV is a record of its own dates")
        gap = _span("3h" if longest_gap is None else longest_gap)
        cells, unread = _cut(file.name, text, columns, units)
        if unread:
            notes.append(f"Columns not read: {', '.join(unread)}.")
        return _read_csv(cells, notes, time_zone, label, exposure, place, constants or {}, gap)
    settled = {
        "time_zone=": time_zone,
        "label=": label,
        "columns=": columns,
        "units=": units,
        "exposure=": None if exposure == "outdoor" else exposure,
        "place=": place,
        "constants=": constants,
        "longest_gap=": longest_gap,
        "typical=": None if kind == "epw" else typical,
    }
    if given := [key for key, value in settled.items() if value is not None]:
        raise InputError(f"{file.name}: {kind.upper()} settles this itself; leave out {', '.join(given)}")
    return _read_hourly(file, text, notes, kind, typical)


@dataclass(frozen=True)
class _Cells:
    """Columns of a file as text, with what an error has to name: file, line of each row, headings, units."""

    file: str
    lines: Sequence[int]
    headings: Mapping[str, str]
    texts: Mapping[str, Sequence[str]]
    units: Mapping[str, str]
    units_stated: bool

    def where(self, row: int, name: str) -> str:
        """Name a cell: file, line, column and what stands there."""
        text = self.texts[name][row]
        return f"{self.file}, line {self.lines[row]}, column '{self.headings[name]}': '{text}'"

    def si(self, name: str) -> Array:
        """Return a column in SI, every value finite and within bounds."""
        rule, unit, texts = VARIABLES[name], self.units[name], self.texts[name]
        given = np.empty(len(texts))
        for row, text in enumerate(texts):
            try:
                given[row] = float(text)
            except ValueError:
                given[row] = np.nan
            if not np.isfinite(given[row]):
                wanted = "a plain number" if unit == "1" else f"a number in {unit}"
                raise InputError(f"{self.where(row, name)} is not a number; allowed is {wanted}")
        values = _convert(given, unit, name)
        wrong = (values < rule.low) | (values > rule.high)
        if wrong.any():
            row = int(wrong.argmax())
            raise InputError(
                f"{with_unit(self.where(row, name), unit)}; allowed is {_allowed(name, unit)}"
                f"{self._slip(given, name)}"
            )
        if name == "relative_humidity" and self.units_stated and values.max() <= 0.01:
            said = with_unit(self.where(int(values.argmax()), name), unit)
            raise InputError(
                f"{said} is the highest humidity of the file; "
                f"no air is that dry; did you mean units={{'{name}': '1'}}?"
            )
        return values

    def _slip(self, given: Array, name: str) -> str:
        """Return the hint that a whole column would be plausible in another unit."""
        rule = VARIABLES[name]
        for unit in rule.common_units if self.units_stated else ():
            values = _convert(given, unit, name)
            if rule.low <= values.min() and values.max() <= rule.high:
                return f"; did you mean units={{'{name}': '{unit}'}}?"
        return ""


# --- the hourly formats, through pvlib --------------------------------------------------------------------

_Read = tuple[pd.DataFrame, dict[str, Any]]


def _pvlib_tmy2(path: Path, text: str) -> _Read:
    frame, meta = pvlib.iotools.read_tmy2(str(path))  # degC and m/s in tenths
    return frame.assign(DryBulb=frame["DryBulb"] / 10, Wspd=frame["Wspd"] / 10), meta


def _pvlib_tmy3(path: Path, text: str) -> _Read:
    frame, meta = pvlib.iotools.read_tmy3(io.StringIO(text), map_variables=False)
    starts = frame.index - _HOUR
    leap = (starts.month == 2) & (starts.day == 29)  # pvlib puts 24:00 of 28 February at 0:00 of 1 March
    return frame.set_axis(starts.where(~leap, starts - pd.Timedelta(days=1)), axis=0), meta


def _pvlib_epw(path: Path, text: str) -> _Read:
    periods = text.split("\n")[7].split(",")
    if periods[0].upper() != "DATA PERIODS" or periods[2].strip() != "1":
        raise InputError(f"line 8 is '{','.join(periods[:3])}'; allowed is DATA PERIODS,...,1 (hourly)")
    frame, meta = pvlib.iotools.read_epw(io.StringIO(text))
    return frame, meta


@dataclass(frozen=True)
class _Hourly:
    """An hourly format: its reader (hours by their starts, metadata) and the names that the reader uses."""

    read: Callable[[Path, str], _Read]
    header_lines: int
    date: str  # pattern of the date and hour with which each line starts
    headings: tuple[str, ...]  # in the order of VARIABLES
    pressure_unit: str
    place: tuple[str, str]  # keys of town and state in the metadata


_HOURLY: Mapping[str, _Hourly] = {
    "tmy2": _Hourly(
        read=_pvlib_tmy2,
        header_lines=1,
        date=r" \d\d(0[1-9]|1[0-2])(0[1-9]|[12]\d|3[01])(0[1-9]|1\d|2[0-4])",
        headings=("DryBulb", "RHum", "Pressure", "Wspd", "GHI"),
        pressure_unit="mbar",
        place=("City", "State"),
    ),
    "tmy3": _Hourly(
        read=_pvlib_tmy3,
        header_lines=2,
        date=r"(0[1-9]|1[0-2])/(0[1-9]|[12]\d|3[01])/\d{4},([01]\d|2[0-4]):[0-5]\d,",
        headings=("Dry-bulb (C)", "RHum (%)", "Pressure (mbar)", "Wspd (m/s)", "GHI (W/m^2)"),
        pressure_unit="mbar",
        place=("Name", "State"),
    ),
    "epw": _Hourly(
        read=_pvlib_epw,
        header_lines=8,
        date=r"\d{4},0?([1-9]|1[0-2]),0?([1-9]|[12]\d|3[01]),0?([1-9]|1\d|2[0-4]),",
        headings=("temp_air", "relative_humidity", "atmospheric_pressure", "wind_speed", "ghi"),
        pressure_unit="Pa",
        place=("city", "state-prov"),
    ),
}


def _read_hourly(path: Path, text: str, notes: list[str], kind: str, typical: bool | None) -> Weather:
    """Read a TMY2, TMY3 or EPW file. The module says where its values stand in time."""
    form = _HOURLY[kind]
    if _recognise(text) != kind:
        raise InputError(f"{path.name}: is not {kind.upper()}; its first line is '{_short(text)}'")
    lines = [(number, line) for number, line in enumerate(text.split("\n"), start=1) if line.strip()]
    body = [(number, line) for number, line in lines if number > form.header_lines]
    if not body:
        raise InputError(f"{path.name}: no hours after its header of {form.header_lines} line(s)")
    unit = "characters" if kind == "tmy2" else "commas"
    sizes = [len(line.rstrip()) if kind == "tmy2" else line.count(",") for _, line in body]
    for (number, line), size in zip(body, sizes, strict=True):
        if size != sizes[0]:
            raise InputError(f"{path.name}, line {number}: {size} {unit}; the first hour has {sizes[0]}")
        if not re.match(form.date, line):
            raise InputError(
                f"{path.name}, line {number}: starts with '{line[:18]}'; allowed is a date and hour"
            )
    try:
        frame, meta = form.read(path, text)
        index = pd.DatetimeIndex(frame.index).tz_localize(None)
        zone = _clock(str(timezone(timedelta(hours=float(meta["TZ"])))))
        place = Place(
            ", ".join(str(meta[key]).strip(' "') for key in form.place),
            *(float(meta[key]) for key in ("latitude", "longitude", "altitude")),
        )
    except InputError as error:
        raise InputError(f"{path.name}: {error}") from None
    except Exception as error:  # whatever parsing raised inside pvlib
        said = str(error).replace(str(path), path.name)
        raise InputError(f"{path.name}: not readable as {kind.upper()}: {_short(said)}") from error
    headings = dict(zip(VARIABLES, form.headings, strict=True))
    units = ("degC", "percent", form.pressure_unit, "m/s", "W/m^2")
    cells = _Cells(
        file=path.name,
        lines=[number for number, _ in body],
        headings=headings,
        texts={name: [str(value) for value in frame[heading]] for name, heading in headings.items()},
        units=dict(zip(VARIABLES, units, strict=True)),
        units_stated=False,
    )
    starts, typical = _hours(cells, index, True if kind != "epw" else typical)
    readings, middles = starts + _HOUR, starts + _HOUR / 2
    index = readings.union(middles)
    if not typical:
        index = index[(index >= readings[0]) & (index <= middles[-1])]
        notes.append("Starts with the first reading of the file and ends with its last mean of shortwave.")
    data = {
        name: np.interp(
            _seconds(index, starts[0]),
            _seconds(middles if name == "shortwave" else readings, starts[0]),
            cells.si(name),
            period=_YEAR.total_seconds() if typical else None,
        )
        for name in VARIABLES
    }
    return Weather(
        data=pd.DataFrame(data, index=index.tz_localize(zone).tz_convert("UTC")),
        place=place,
        time_zone=str(zone),
        label="end",
        exposure="outdoor",
        typical=typical,
        source=path.name,
        format=kind,
        interval=_HOUR,
        notes=tuple(notes),
    )


def _hours(cells: _Cells, starts: pd.DatetimeIndex, typical: bool | None) -> tuple[pd.DatetimeIndex, bool]:
    """Return the starts of the hours, checked to follow each other, and whether they are of a typical year.

    Those of a typical year come back under its nominal year.
    """
    expected = pd.date_range(starts[0], periods=len(starts), freq="h")
    if typical is None:
        typical = len(set(starts.year)) > 1 and not starts.equals(expected)
    if typical:
        leap = (starts.month == 2) & (starts.day == 29)
        if leap.any():
            line = cells.lines[int(leap.argmax())]
            raise InputError(f"{cells.file}, line {line}: 29 February; a typical year has 365 days")
        parts = {"year": _NOMINAL_YEAR, "month": starts.month, "day": starts.day, "hour": starts.hour}
        starts = pd.DatetimeIndex(pd.to_datetime(pd.DataFrame(parts)))
        expected = pd.date_range(f"{_NOMINAL_YEAR}-01-01", periods=365 * 24, freq="h")
    for row, (start, due) in enumerate(zip(starts, expected, strict=False)):
        if start != due:
            raise InputError(
                f"{cells.file}, line {cells.lines[row]}: the hour that starts {start:%m-%d %H:%M}; "
                f"due is the one that starts {due:%m-%d %H:%M}"
            )
    if len(starts) != len(expected):
        raise InputError(f"{cells.file}: {len(starts)} hours; a typical year has {len(expected)}")
    return starts, typical


# --- plain CSV --------------------------------------------------------------------------------------------


def _cut(
    file: str, text: str, columns: Mapping[str, str], units: Mapping[str, str]
) -> tuple[_Cells, list[str]]:
    """Cut a CSV (comma, semicolon or tab) into the columns asked for; also return the other headings."""
    _known("columns", columns, ["time", *VARIABLES])
    _known("units", units, ["time", *VARIABLES])
    if lacking := [name for name in ("time", "temperature", "relative_humidity") if name not in columns]:
        raise InputError(f"{file}: columns has no '{lacking[0]}'; give the heading of its column")
    for name in columns:
        if name != "time":
            if name not in units:
                raise InputError(
                    f"{file}: units has no '{name}'; give one such as {_or(VARIABLES[name].common_units)}"
                )
            _convert(np.zeros(1), units[name], name)
    if unused := [name for name in units if name not in columns]:
        raise InputError(f"{file}: units has '{unused[0]}', columns has not; give the heading of its column")

    lines = text.split("\n")
    candidates = (
        (
            number,
            delimiter,
            [heading.strip() for heading in next(csv.reader([line], delimiter=delimiter), [])],
        )
        for number, line in enumerate(lines[:_PREAMBLE], start=1)
        for delimiter in ",;\t"
    )
    found = next((candidate for candidate in candidates if columns["time"] in candidate[2]), None)
    if found is None:
        first = [heading.strip(' "') for heading in re.split("[,;\t]", lines[0])]
        raise InputError(
            f"{file}: no column '{columns['time']}' in its first {min(len(lines), _PREAMBLE)} line(s); "
            f"line 1 is '{_short(lines[0])}'; {nearest(columns['time'], first)}".rstrip("; ")
        )
    header_line, delimiter, header = found
    for heading in columns.values():
        if (count := header.count(heading)) != 1:
            raise InputError(
                f"{file}, line {header_line}: {count or 'no'} columns '{heading}', one is needed; there are "
                f"{', '.join(header)}; {nearest(heading, header) if count == 0 else ''}".rstrip("; ")
            )

    reader = csv.reader(lines[header_line:], delimiter=delimiter)
    numbers, rows = [], []
    try:
        for fields in reader:
            if len(fields) == len(header):
                numbers.append(header_line + reader.line_num)
                rows.append(fields)
            elif any(field.strip() for field in fields):
                line = header_line + reader.line_num
                raise InputError(
                    f"{file}, line {line}: {len(fields)} field(s); the headings are {len(header)}"
                )
    except csv.Error as error:
        raise InputError(
            f"{file}, line {header_line + reader.line_num}: not readable as CSV: {error}"
        ) from None
    if len(rows) < 2:
        raise InputError(f"{file}: {len(rows)} line(s) after the headings; a record needs two or more")
    places = {name: header.index(heading) for name, heading in columns.items()}
    texts = {name: [fields[place].strip() for fields in rows] for name, place in places.items()}
    unread = [heading for heading in header if heading not in columns.values()]
    return _Cells(file, numbers, columns, texts, units, units_stated=True), unread


def _read_csv(
    cells: _Cells,
    notes: list[str],
    time_zone: str | None,
    label: str,
    exposure: str,
    place: Place | None,
    constants: Mapping[str, str],
    longest_gap: pd.Timedelta,
) -> Weather:
    """Make a record of the columns of a plain CSV."""
    _known("label", [label], LABELS)
    _known("exposure", [exposure], EXPOSURES)
    _known("constants", constants, ["pressure", "wind_speed", "shortwave"])
    if both := [name for name in constants if name in cells.headings]:
        raise InputError(f"{cells.file}: '{both[0]}' is among columns and constants; choose one")
    stamps, clock = _stamps(cells, time_zone)
    interval = _spacing(cells, stamps, longest_gap)
    if label in ("start", "end"):
        uneven = np.flatnonzero((stamps - stamps[0]) % interval)
        if uneven.size:
            raise InputError(
                f"{cells.where(int(uneven[0]), 'time')} is not a multiple of {_duration(interval)} after the "
                f"first; label '{label}' needs even spacing; readings are label='instant'"
            )
        stamps = stamps + (interval if label == "start" else -interval) / 2
    data = {
        name: cells.si(name)
        if name in cells.headings
        else _constant(cells.file, name, constants, exposure, place, notes)
        for name in VARIABLES
    }
    return Weather(
        data=pd.DataFrame(data, index=stamps),
        place=place,
        time_zone=str(clock),
        label=label,
        exposure=exposure,
        typical=False,
        source=cells.file,
        format="csv",
        interval=interval,
        notes=tuple(notes),
    )


def _stamps(cells: _Cells, time_zone: str | None) -> tuple[pd.DatetimeIndex, tzinfo]:
    """Return the stamps of a CSV in UTC, and the record's own clock."""
    pattern = cells.units.get("time")
    parsed: list[datetime] = []
    for row, text in enumerate(cells.texts["time"]):
        try:
            parsed.append(
                datetime.fromisoformat(text) if pattern is None else datetime.strptime(text, pattern)
            )
        except ValueError:
            iso = "ISO 8601 such as 2026-05-14T06:00, or a pattern stated as units={'time': '%m/%d/%Y %H:%M'}"
            raise InputError(
                f"{cells.where(row, 'time')} is not a time; allowed is {pattern or iso}"
            ) from None
        if parsed[row].year not in _YEARS:
            raise InputError(f"{cells.where(row, 'time')}; {_YEARS_ALLOWED}")
        if (parsed[row].tzinfo is None) != (parsed[0].tzinfo is None):
            raise InputError(f"{cells.where(row, 'time')}: either all stamps carry a UTC offset or none")
    if parsed[0].tzinfo is not None:
        offsets = sorted({stamp.utcoffset() or timedelta() for stamp in parsed})
        if time_zone is None and len(offsets) > 1:
            raise InputError(
                f"{cells.file}: stamps carry {len(offsets)} offsets, {timezone(offsets[0])} to "
                f"{timezone(offsets[-1])}; give their clock, as time_zone='America/New_York'"
            )
        clock = timezone(offsets[0]) if time_zone is None else _clock(time_zone)
        return pd.DatetimeIndex(pd.to_datetime(parsed, utc=True)), clock
    if time_zone is None:
        raise InputError(
            f"{cells.where(0, 'time')} has no UTC offset; give time_zone=, such as 'America/New_York' for a "
            "clock with daylight saving, 'UTC-05:00' for standard time all year"
        )
    clock = _clock(time_zone)
    stamps, fault = _localize(pd.DatetimeIndex(parsed), clock)
    if fault is not None:
        raise InputError(
            f"{cells.where(fault[0], 'time')} {fault[1]} on the clock of {clock}; if the logger stays on "
            "standard time, give that, as time_zone='UTC-05:00'; else write the UTC offset into the stamps"
        )
    return stamps.tz_convert("UTC"), clock


def _spacing(cells: _Cells, stamps: pd.DatetimeIndex, longest: pd.Timedelta) -> pd.Timedelta:
    """Return the usual time between stamps; refuse stamps that repeat, go back or leave too long a gap."""
    steps = stamps[1:] - stamps[:-1]
    wrong = (steps <= pd.Timedelta(0)) | (steps > longest)
    if wrong.any():
        row = int(wrong.argmax())
        where, before = cells.where(row + 1, "time"), f"line {cells.lines[row]}"
        if steps[row] == pd.Timedelta(0):
            raise InputError(f"{where} repeats the stamp of {before}")
        if steps[row] < pd.Timedelta(0):
            raise InputError(f"{where} is earlier than {before}; stamps have to increase")
        raise InputError(
            f"{where} comes {_duration(steps[row])} after {before}; longest_gap= is {_duration(longest)}"
        )
    sizes, counts = np.unique(steps.to_numpy(), return_counts=True)
    return pd.Timedelta(sizes[counts.argmax()])


def _constant(
    file: str, name: str, constants: Mapping[str, str], exposure: str, place: Place | None, notes: list[str]
) -> float:
    """Return the value [SI] of a variable that the file does not hold, and note where it is from."""
    rule = VARIABLES[name]
    if name == "shortwave" and exposure == "outdoor":
        raise InputError(f"{file}: no shortwave; outdoor weather needs a column of it")
    if name in constants:
        said = f"constants['{name}']: '{constants[name]}'"
        try:
            value = float(pint.application_registry.Quantity(constants[name]).to(rule.unit).magnitude)
        except Exception:  # whatever parsing raised inside pint
            told = f"{said} is not a number with a unit of {rule.long_name}"
            raise InputError(f"{told}, such as {_or(rule.common_units)}") from None
        if not rule.low <= value <= rule.high:
            raise InputError(f"{said}; allowed is {_allowed(name, unit_of(constants[name]) or rule.unit)}")
        notes.append(f"No {rule.long_name} in the file: {constants[name]} throughout, as stated.")
        return value
    if name == "pressure":
        altitude = None if place is None else place.altitude
        value = float(pvlib.atmosphere.alt2pres(altitude or 0.0))
        where = "sea level (no altitude stated)" if altitude is None else f"{altitude:g} m"
        notes.append(f"No air pressure in the file: {value:.0f} Pa, the standard atmosphere at {where}.")
        return value
    example = {"wind_speed": "0.2 m/s", "shortwave": "0 W/m^2"}[name]
    raise InputError(f"{file}: no {name}; give its column, or a value as constants={{'{name}': '{example}'}}")


# --- small tools ------------------------------------------------------------------------------------------


def _find(path: str | os.PathLike[str]) -> Path:
    if path in _SAMPLES:
        return _sample(str(path))
    file = Path(path)
    try:
        if file.is_dir():
            raise InputError(f"{file}: is a directory; give a file")
        if not file.exists():
            close = nearest(file.name, [*_SAMPLES, *(other.name for other in file.parent.glob("*"))])
            samples = ", ".join(_SAMPLES)
            raise InputError(f"{file}: no such file, nor one of the samples {samples}; {close}".rstrip("; "))
        if not file.is_file():
            raise InputError(f"{file}: is not a regular file")
    except OSError as error:
        raise InputError(f"{_short(str(file))}: cannot be opened: {error.strerror}") from None
    return file


def _sample(name: str) -> Path:
    path = Path(str(importlib.resources.files("pvlib"))) / "data" / _SAMPLES[name]
    if not path.is_file():
        raise InputError(f"sample '{name}': {path} is missing from the installed pvlib {pvlib.__version__}")
    return path


def _text(path: Path) -> tuple[str, list[str]]:
    """Return a text file with plain newlines, and notes on how it was read."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise InputError(f"{path}: cannot be read: {error.strerror}") from None
    if not raw.strip():
        raise InputError(f"{path}: is empty")
    if control := re.search(rb"[\x00-\x08\x0e-\x1f]", raw):
        raise InputError(f"{path}: is not text: byte {control[0][0]} at position {control.start()}")
    notes = []
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("latin-1")
        notes.append("Not UTF-8: read as Latin-1.")
    return text.replace("\r\n", "\n").replace("\r", "\n"), notes


def _recognise(text: str) -> str:
    """Return the format that the first lines of a file show."""
    first, second = [*text.split("\n", 2), ""][:2]
    if first.startswith("LOCATION,"):
        return "epw"
    if second.startswith("Date (MM/DD/YYYY),Time (HH:MM),"):
        return "tmy3"
    return "tmy2" if re.match(r" ?\d{5} .{22} .{2} +-?\d+ [NS] ", first) else "csv"


def _short(text: str) -> str:
    """Return the first line of a text, cut to fit a message."""
    first = text.strip().split("\n", 1)[0]
    return first if len(first) <= 120 else first[:117] + "..."


def _or(words: Iterable[str]) -> str:
    return " or ".join(f"'{word}'" for word in words)


def _known(what: str, given: Iterable[str], allowed: Sequence[str]) -> None:
    for name in given:
        if name not in allowed:
            close = nearest(str(name), allowed)
            raise InputError(f"{what}: '{name}'; allowed is {', '.join(allowed)}; {close}".rstrip("; "))


def _allowed(name: str, unit: str) -> str:
    """Return the bounds of a variable in a unit, as people read them."""
    rule = VARIABLES[name]
    quantity = pint.application_registry.Quantity
    low, high = (
        f"{float(f'{float(quantity(bound, rule.unit).to(unit).magnitude):.5g}'):g}"
        for bound in (rule.low, rule.high)
    )
    return with_unit(f"{low} to {high}", unit)


def _convert(values: Array, unit: str, name: str) -> Array:
    rule = VARIABLES[name]
    try:
        return np.asarray(
            pint.application_registry.Quantity(values, unit).to(rule.unit).magnitude, dtype=np.float64
        )
    except Exception:  # whatever parsing raised inside pint
        hint = (degrees_meant(unit) if rule.unit == "K" else "") or nearest(unit, rule.common_units)
        told = f"units['{name}']: '{unit}' is not a unit of {rule.long_name}; allowed is one such as "
        raise InputError(f"{told}{_or(rule.common_units)}; {hint}".rstrip("; ")) from None


def _span(text: str | timedelta) -> pd.Timedelta:
    try:
        span = pd.Timedelta(text)
    except ValueError:
        span = pd.Timedelta(0)
    if not span > pd.Timedelta(0):
        raise InputError(f"longest_gap: '{text}'; allowed is a time above zero such as '3h' or '20min'")
    return span


def _duration(span: pd.Timedelta) -> str:
    """Write a span in the largest unit that divides it: 90 min, 1 h, 2 d."""
    seconds = span.total_seconds()
    for unit, size in (("d", 86400), ("h", 3600), ("min", 60)):
        if seconds >= size and seconds % size == 0:
            return f"{seconds / size:.0f} {unit}"
    return f"{seconds:g} s"


def _seconds(times: pd.DatetimeIndex, origin: pd.Timestamp) -> Array:
    return np.asarray((times - origin) / pd.Timedelta(seconds=1), dtype=np.float64)


def _moment(given: object) -> pd.Timestamp:
    try:
        parsed = datetime.fromisoformat(given) if isinstance(given, str) else given
    except ValueError:
        parsed = None
    if not isinstance(parsed, date) or pd.isna(parsed):
        raise InputError(f"{given!r} is not a time such as 2026-05-14T06:00 or 2026-05-14T06:00-05:00")
    if parsed.year not in _YEARS:
        raise InputError(f"{parsed.isoformat()}: {_YEARS_ALLOWED}")
    return pd.Timestamp(parsed)


def _clock(name: str) -> tzinfo:
    """Return the clock of a name: "UTC", an offset such as "UTC-05:00", or an IANA zone.

    str() of the clock gives the name back.
    """
    if name == "UTC":
        return UTC
    if match := re.fullmatch(r"(?:UTC)?([+-])(\d{1,2})(?::?([0-5]\d))?", name):
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
            f"'UTC-05:00'; {nearest(name, zoneinfo.available_timezones())}".rstrip("; ")
        ) from None


def _localize(naive: pd.DatetimeIndex, clock: tzinfo) -> tuple[pd.DatetimeIndex, tuple[int, str] | None]:
    """Put wall-clock times on a clock; also name the first that daylight saving skips or repeats."""
    moments = naive.tz_localize(clock, ambiguous="NaT", nonexistent="NaT")
    if not moments.hasnans:
        return moments, None
    row = int(moments.isna().argmax())
    skipped = naive[[row]].tz_localize(clock, ambiguous=np.array([True]), nonexistent="NaT").hasnans
    return moments, (row, f"{'does not exist' if skipped else 'comes twice'} (daylight saving)")
