"""The hourly formats (TMY2, TMY3, EPW).

Hour n of a day, 1 to 24, is the hour that *ends* at n o'clock local standard time. Shortwave is the mean
of that hour, so it stands at n - 1/2; temperature, humidity, pressure and wind are readings at n. The
common index steps by half an hour: on the hour the readings of the file and shortwave interpolated, on
the half hour the shortwave of the file and readings interpolated. No value of the file is moved or lost.
pvlib's TMY3 reader stamps the end of each hour, its TMY2 and EPW readers the start; that is undone here.
Sources: Marion & Urban (1995) User's Manual for TMY2s; Wilcox & Marion (2008) Users Manual for TMY3 Data
Sets, NREL/TP-581-43156; the data dictionary of the EPW format, as pvlib's reader quotes it.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import timedelta, timezone, tzinfo
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from wetspan.errors import InputError, echo, nearest
from wetspan.weather.cells import Cells
from wetspan.weather.clock import HOUR, YEAR, clock_of, seconds
from wetspan.weather.files import format_of
from wetspan.weather.record import Weather
from wetspan.weather.variables import VARIABLES, Place, short

_EPW_FIELDS = 35
#: Hours by which the clock of a place may differ from its sun. Most in use is 3 h, in the west of China; from
#: memory (grade D).
_CLOCK_FROM_SUN = 4.0
_NOMINAL_YEAR = 2001  # typical years are stored under it; any year without 29 February would do

_Read = tuple[pd.DataFrame, dict[str, Any]]


def _pvlib_tmy2(path: Path, text: str) -> _Read:
    import pvlib  # type: ignore[import-untyped]

    frame, meta = pvlib.iotools.read_tmy2(str(path))  # degC and m/s in tenths
    return frame.assign(DryBulb=frame["DryBulb"] / 10, Wspd=frame["Wspd"] / 10), meta


def _pvlib_tmy3(path: Path, text: str) -> _Read:
    _check_header(text, 7, {3: "time zone", 4: "latitude", 5: "longitude", 6: "altitude"})
    import pvlib

    frame, meta = pvlib.iotools.read_tmy3(io.StringIO(text), map_variables=False)
    starts = frame.index - HOUR
    leap = (starts.month == 2) & (starts.day == 29)  # pvlib puts 24:00 of 28 February at 0:00 of 1 March
    return frame.set_axis(starts.where(~leap, starts - pd.Timedelta(days=1)), axis=0), meta


def _pvlib_epw(path: Path, text: str) -> _Read:
    periods = text.split("\n")[7].split(",")
    if periods[0].upper() != "DATA PERIODS" or [each.strip() for each in periods[2:3]] != ["1"]:
        raise InputError(f"line 8 is '{','.join(periods[:3])}'; allowed is DATA PERIODS,...,1 (hourly)")
    _check_header(text, 10, {6: "latitude", 7: "longitude", 8: "time zone", 9: "altitude"})
    import pvlib

    frame, meta = pvlib.iotools.read_epw(io.StringIO(text))
    return frame, meta


def _check_header(text: str, number: int, numbers: Mapping[int, str]) -> None:
    """Refuse a first line without its `number` of fields, of which some are numbers."""
    fields = text.split("\n", 1)[0].split(",")
    if len(fields) != number:
        raise InputError(f"line 1 has {len(fields)} fields between commas; {number} are needed")
    for place, name in numbers.items():
        try:
            value = float(fields[place])
        except ValueError:
            raise InputError(f"line 1 has {echo(fields[place])} for the {name}; a number is needed") from None
        if name == "time zone" and not -12.0 <= value <= 14.0:
            raise InputError(f"line 1 has the time zone {value:g}; allowed is -12 to 14 hours from UTC")


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
        date=r"(0[1-9]|1[0-2])/(0[1-9]|[12]\d|3[01])/\d{4},(0[1-9]|1\d|2[0-4]):00,",
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


def read_hourly(path: Path, text: str, notes: list[str], kind: str, typical: bool | None) -> Weather:
    """Read a TMY2, TMY3 or EPW file. The module says where its values stand in time."""
    form = _HOURLY[kind]
    lines = _lines_of_hours(path.name, text, kind)
    frame, zone, place = _parsed_by_pvlib(path, text, kind)
    index = pd.DatetimeIndex(frame.index).tz_localize(None)
    headings = dict(zip(VARIABLES, form.headings, strict=True))
    units = ("degC", "percent", form.pressure_unit, "m/s", "W/m^2")
    cells = Cells(
        file=path.name,
        lines=lines,
        headings=headings,
        texts={name: [str(value) for value in frame[heading]] for name, heading in headings.items()},
        units=dict(zip(VARIABLES, units, strict=True)),
        units_stated=False,
    )
    starts, typical = _hours(cells, index, True if kind != "epw" else typical)
    readings, middles = starts + HOUR, starts + HOUR / 2
    index = readings.union(middles)
    if not typical:
        index = index[(index >= readings[0]) & (index <= middles[-1])]
        notes.append("Starts with the first reading of the file and ends with its last mean of shortwave.")
    data = {
        name: np.interp(
            seconds(index, starts[0]),
            seconds(middles if name == "shortwave" else readings, starts[0]),
            cells.si(name, notes),
            period=YEAR.total_seconds() if typical else None,
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
        interval=HOUR,
        notes=tuple(notes),
    )


def _lines_of_hours(file: str, text: str, kind: str) -> list[int]:
    """Return the numbers of the lines that hold hours, each of which has to look like one."""
    form = _HOURLY[kind]
    if format_of(text) != kind:
        raise InputError(f"{file}: is not {kind.upper()}; its first line is '{short(text)}'")
    lines = [(number, line) for number, line in enumerate(text.split("\n"), start=1) if line.strip()]
    body = [(number, line) for number, line in lines if number > form.header_lines]
    if not body:
        raise InputError(f"{file}: no hours after its header of {form.header_lines} line(s)")
    unit = "characters" if kind == "tmy2" else "commas"
    if kind == "epw" and (fields := body[0][1].count(",") + 1) != _EPW_FIELDS:
        raise InputError(f"{file}, line {body[0][0]}: {fields} fields; an EPW has {_EPW_FIELDS}")
    sizes = [len(line.rstrip()) if kind == "tmy2" else line.count(",") for _, line in body]
    for (number, line), size in zip(body, sizes, strict=True):
        if size != sizes[0]:
            raise InputError(f"{file}, line {number}: {size} {unit}; the first hour has {sizes[0]}")
        if kind == "tmy3" and line.startswith("02/29/"):  # which pvlib would count as 1 March
            raise InputError(f"{file}, line {number}: 29 February; a typical year has 365 days")
        if not re.match(form.date, line):
            raise InputError(
                f"{file}, line {number}: starts with '{line[:18]}'; allowed is a date and hour: hours "
                "of these files go from 1 to 24 and are whole"
            )
    return [number for number, _ in body]


def _parsed_by_pvlib(path: Path, text: str, kind: str) -> tuple[pd.DataFrame, tzinfo, Place]:
    """Return the hours of a file by their starts, its clock, and where it was measured."""
    form = _HOURLY[kind]
    try:
        frame, meta = form.read(path, text)
        zone, place = _clock_and_place(form, meta)
        for heading in form.headings:
            if heading not in frame or f"{heading}.1" in frame:
                there = [str(each) for each in frame]
                said = f"no column '{heading}'; {nearest(heading, there)}".rstrip("; ")
                raise InputError(f"two columns '{heading}'" if heading in frame else said)
    except InputError as error:
        raise InputError(f"{path.name}: {error}") from None
    except ImportError:  # a library that is missing is no fault of the file
        raise
    except Exception as error:  # whatever parsing raised inside pvlib
        said = str(error).replace(str(path), path.name)
        raise InputError(f"{path.name}: not readable as {kind.upper()}: {short(said)}") from error
    return frame, zone, place


def _clock_and_place(form: _Hourly, meta: Mapping[str, Any]) -> tuple[tzinfo, Place]:
    """Return the clock and the place that the header of a file says, which have to go together."""
    place = Place(
        ", ".join(str(meta[key]).strip(' "') for key in form.place),
        *(float(meta[key]) for key in ("latitude", "longitude", "altitude")),
    )
    hours, longitude = float(meta["TZ"]), float(meta["longitude"])
    apart = (hours - longitude / 15.0 + 12.0) % 24.0 - 12.0
    if abs(apart) > _CLOCK_FROM_SUN:
        raise InputError(
            f"line 1 has the longitude {longitude:g} degrees east and the time zone {hours:+g} "
            f"h, which are {abs(apart):.1f} h apart; is a sign wrong?"
        )
    return clock_of(str(timezone(timedelta(hours=hours)))), place


def _hours(cells: Cells, starts: pd.DatetimeIndex, typical: bool | None) -> tuple[pd.DatetimeIndex, bool]:
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
            form = "%m-%d %H:%M" if typical or start.year == due.year else "%Y-%m-%d %H:%M"
            hint = "; if months of several years are combined here, give typical=True"
            raise InputError(
                f"{cells.file}, line {cells.lines[row]}: the hour that starts {start.strftime(form)}; "
                f"due is the one that starts {due.strftime(form)}"
                f"{hint if not typical and (due.month, due.day) == (2, 29) else ''}"
            )
    if len(starts) != len(expected):
        raise InputError(f"{cells.file}: {len(starts)} hours; a typical year has {len(expected)}")
    return starts, typical
