"""Weather files.

The hourly formats (TMY2, TMY3, EPW)
    Hour n of a day, 1 to 24, is the hour that *ends* at n o'clock local standard time. Shortwave is the mean
    of that hour, so it stands at n - 1/2; temperature, humidity, pressure and wind are readings at n. The
    common index steps by half an hour: on the hour the readings of the file and shortwave interpolated, on
    the half hour the shortwave of the file and readings interpolated. No value of the file is moved or lost.
    pvlib's TMY3 reader stamps the end of each hour, its TMY2 and EPW readers the start; that is undone here.
    Sources: Marion & Urban (1995) User's Manual for TMY2s; Wilcox & Marion (2008) Users Manual for TMY3 Data
    Sets, NREL/TP-581-43156; the data dictionary of the EPW format, as pvlib's reader quotes it.

Plain CSV
    One column of stamps and one per variable, whatever their headings, units and clock. What the headings and
    the stamps do not say themselves is to be stated, see `read_weather`; a scenario's file keeps it.
"""

from __future__ import annotations

import csv
import importlib.util
import io
import os
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, timezone, tzinfo
from importlib import metadata
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from wetspan.errors import InputError, Problems, nearest
from wetspan.files import file_name
from wetspan.parameters import TABLE
from wetspan.scenario import load
from wetspan.unit_text import UnreadableError, plain_number
from wetspan.units import bounded
from wetspan.weather.assembly import assemble, constant_in_si, in_si
from wetspan.weather.clock import (
    HOUR,
    YEAR,
    YEARS,
    YEARS_ALLOWED,
    Array,
    clock_of,
    localize,
    seconds,
    span,
)
from wetspan.weather.headings import (
    DELIMITERS,
    PREAMBLE,
    Found,
    pattern_of,
    plain_stamp,
    recognise,
    unit_in,
)
from wetspan.weather.record import Weather
from wetspan.weather.variables import (
    FORMATS,
    VARIABLES,
    Place,
    convert,
    either,
    known,
    same_unit,
    short,
)
from wetspan.weather_table import stated

_NOMINAL_YEAR = 2001  # typical years are stored under it; any year without 29 February would do
SAMPLES = {"miami": "12839.tm2", "sand-point": "703165TY.csv", "piedmont": "723170TYA.CSV"}


def sample_weather() -> dict[str, Path]:
    """Return the paths of three public typical years of the United States that pvlib carries, by name.

    "miami" (TMY2), "sand-point" in Alaska (TMY3) and "piedmont" in North Carolina (TMY3).
    """
    return {name: _sample(name) for name in SAMPLES}


def weather_format(path: str | os.PathLike[str]) -> str:
    """Return the format of a weather file, "tmy2", "tmy3", "epw" or "csv", as its first lines show it."""
    return _recognise(_text(_find(path))[0])


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
    light: str | os.PathLike[str] | Weather | None = None,
    transmittance: object = None,
) -> Weather:
    """Read a weather file and check each value.

    Parameters
    ----------
    path
        A file, or the name of a sample: "miami", "sand-point", "piedmont" (a file of that name is "./miami").
        Of a scenario's file (TOML) its [weather] is read, whose keys are `file` and these parameters; those
        that are given here go before.
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
        Headings of the columns to read: {"time": "Time", "temperature": "Temp (F)", ...}, and "date" where
        dates and times of day stand apart. A preamble before the line of headings is passed over. What is
        left out is found by its heading if one alone says it; if time, temperature and relative_humidity are
        all given, nothing else is read. Other columns are named in the notes.
    units
        Units of these columns: {"temperature": "degF", "relative_humidity": "percent", ...}; left out, those
        in the headings. Stamps are ISO 8601, or of a pattern given here: {"time": "%m/%d/%Y %I:%M %p"}; left
        out, dates by numbers are read if they tell where the month stands. Light in umol/m2/s, foot-candles
        or lux is read as that of sun and sky, which the notes tell.
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
    light
        Where the light comes from if the file has none: a station's file, the name of a typical year or a
        record. At the crop it is the light outside times `transmittance` of the cover, such as "60 %"; left
        out, that of a scenario's file, or 60 % (assumption, grade D: house.transmittance). The light of a
        typical year is not that of the day: it tells sunny noon from night, and no cloud.
    typical
        True for an EPW that joins months of different years though its stamps name one. If left out, an EPW
        is a typical year when its stamps come from several years and do not follow each other.

    Raises
    ------
    InputError
        In one line: the file, line, column and value, and what is allowed. Of a plain CSV its `problems` are
        all that is still to be stated, each with what answers it.
    """
    if Path(file_name(path)).suffix.lower() == ".toml":
        return _read_as_told(path, locals())
    file = _find(path)
    text, notes = _text(file)
    kind = _recognise(text) if format is None else format.lower()
    known("format", [kind], FORMATS)
    if kind == "csv":
        if typical is not None:
            raise InputError(f"{file.name}: typical= is for an EPW; a plain CSV is a record of its own dates")
        told = {
            "format": format, "exposure": exposure, "time_zone": time_zone, "label": label,
            "longest_gap": None if longest_gap is None else str(longest_gap),
        }  # fmt: skip
        return _read_csv(
            file, text, notes, told, columns or {}, units or {}, place, constants or {}, light, transmittance
        )
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
        "light=": light,
        "transmittance=": transmittance,
    }
    if given := [key for key, value in settled.items() if value is not None]:
        raise InputError(f"{file.name}: {kind.upper()} settles this itself; leave out {', '.join(given)}")
    settings = {"file": os.fspath(path), "typical": typical}
    return replace(_read_hourly(file, text, notes, kind, typical), settings=settings)


def _read_as_told(path: str | os.PathLike[str], given: Mapping[str, Any]) -> Weather:
    """Read what [weather] of a scenario's file names, as it says, or as is given instead."""
    table = stated(path)
    if table is None:
        raise InputError(f"{path}: it has no [weather], such as file = 'piedmont'")
    own = {name: value for name, value in given.items() if name != "path" and value is not None}
    if table.get("light") is not None and "transmittance" not in {**table, **own}:
        own["transmittance"] = load(path)["house.transmittance"]
    for name in ("columns", "units", "constants"):
        if name in table and name in own:
            own[name] = {**table.pop(name), **own[name]}
    if "place" in table:
        try:
            table["place"] = Place(**table["place"])
        except TypeError:
            raise InputError(f"{path}: weather.place has name, latitude, longitude and altitude") from None
    return read_weather(table.pop("file"), **{**table, **own})


@dataclass(frozen=True)
class _Cells:
    """Columns of a file as text, with what an error has to name: file, line of each row, headings, units."""

    file: str
    lines: Sequence[int]
    headings: Mapping[str, str]
    texts: Mapping[str, Sequence[str]]
    units: Mapping[str, str]
    units_stated: bool
    delimiter: str = ","

    def where(self, row: int, name: str) -> str:
        """Name a cell: file, line, column and what stands there."""
        text = self.texts[name][row]
        return f"{self.file}, line {self.lines[row]}, column '{self.headings[name]}': '{text}'"

    def si(self, name: str, notes: list[str]) -> Array:
        """Return a column in SI, every value finite and within bounds."""
        unit, texts = self.units[name], self.texts[name]
        given, problems = np.empty(len(texts)), Problems()
        wanted = "a plain number" if unit == "1" else f"a number in {unit}"
        for row, text in enumerate(texts):
            try:
                given[row] = plain_number(text)
            except UnreadableError as error:
                problems.add(f"{self.where(row, name)} is not a number; allowed is {wanted} ({error})")
        problems.refuse()
        return in_si(name, given, unit, self.where, notes, stated=self.units_stated)


_Read = tuple[pd.DataFrame, dict[str, Any]]


def _pvlib_tmy2(path: Path, text: str) -> _Read:
    import pvlib  # type: ignore[import-untyped]

    frame, meta = pvlib.iotools.read_tmy2(str(path))  # degC and m/s in tenths
    return frame.assign(DryBulb=frame["DryBulb"] / 10, Wspd=frame["Wspd"] / 10), meta


def _pvlib_tmy3(path: Path, text: str) -> _Read:
    import pvlib

    frame, meta = pvlib.iotools.read_tmy3(io.StringIO(text), map_variables=False)
    starts = frame.index - HOUR
    leap = (starts.month == 2) & (starts.day == 29)  # pvlib puts 24:00 of 28 February at 0:00 of 1 March
    return frame.set_axis(starts.where(~leap, starts - pd.Timedelta(days=1)), axis=0), meta


def _pvlib_epw(path: Path, text: str) -> _Read:
    periods = text.split("\n")[7].split(",")
    if periods[0].upper() != "DATA PERIODS" or periods[2].strip() != "1":
        raise InputError(f"line 8 is '{','.join(periods[:3])}'; allowed is DATA PERIODS,...,1 (hourly)")
    import pvlib

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
    lines = _lines_of_hours(path.name, text, kind)
    frame, zone, place = _parsed_by_pvlib(path, text, kind)
    index = pd.DatetimeIndex(frame.index).tz_localize(None)
    headings = dict(zip(VARIABLES, form.headings, strict=True))
    units = ("degC", "percent", form.pressure_unit, "m/s", "W/m^2")
    cells = _Cells(
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
    if _recognise(text) != kind:
        raise InputError(f"{file}: is not {kind.upper()}; its first line is '{short(text)}'")
    lines = [(number, line) for number, line in enumerate(text.split("\n"), start=1) if line.strip()]
    body = [(number, line) for number, line in lines if number > form.header_lines]
    if not body:
        raise InputError(f"{file}: no hours after its header of {form.header_lines} line(s)")
    unit = "characters" if kind == "tmy2" else "commas"
    sizes = [len(line.rstrip()) if kind == "tmy2" else line.count(",") for _, line in body]
    for (number, line), size in zip(body, sizes, strict=True):
        if size != sizes[0]:
            raise InputError(f"{file}, line {number}: {size} {unit}; the first hour has {sizes[0]}")
        if not re.match(form.date, line):
            raise InputError(f"{file}, line {number}: starts with '{line[:18]}'; allowed is a date and hour")
    return [number for number, _ in body]


def _parsed_by_pvlib(path: Path, text: str, kind: str) -> tuple[pd.DataFrame, tzinfo, Place]:
    """Return the hours of a file by their starts, its clock, and where it was measured."""
    form = _HOURLY[kind]
    try:
        frame, meta = form.read(path, text)
        zone = clock_of(str(timezone(timedelta(hours=float(meta["TZ"])))))
        place = Place(
            ", ".join(str(meta[key]).strip(' "') for key in form.place),
            *(float(meta[key]) for key in ("latitude", "longitude", "altitude")),
        )
    except InputError as error:
        raise InputError(f"{path.name}: {error}") from None
    except ImportError:  # a library that is missing is no fault of the file
        raise
    except Exception as error:  # whatever parsing raised inside pvlib
        said = str(error).replace(str(path), path.name)
        raise InputError(f"{path.name}: not readable as {kind.upper()}: {short(said)}") from error
    return frame, zone, place


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


def _cut(
    file: str, text: str, columns: Mapping[str, str], units: Mapping[str, str]
) -> tuple[_Cells, list[str]]:
    """Cut a CSV (comma, semicolon or tab) into the columns asked for; also return the other headings."""
    lines = text.split("\n")
    candidates = (
        (
            number,
            delimiter,
            [heading.strip() for heading in next(csv.reader([line], delimiter=delimiter), [])],
        )
        for number, line in enumerate(lines[:PREAMBLE], start=1)
        for delimiter in DELIMITERS
    )
    found = next((candidate for candidate in candidates if columns["time"] in candidate[2]), None)
    if found is None:
        first = [heading.strip(' "') for heading in re.split("[,;\t]", lines[0])]
        raise InputError(
            f"{file}: no column '{columns['time']}' in its first {min(len(lines), PREAMBLE)} line(s); "
            f"line 1 is '{short(lines[0])}'; {nearest(columns['time'], first)}".rstrip("; ")
        )
    header_line, delimiter, header = found
    for heading in columns.values():
        if (count := header.count(heading)) != 1:
            raise InputError(
                f"{file}, line {header_line}: {count or 'no'} columns '{heading}', one is needed; there are "
                f"{', '.join(header)}; {nearest(heading, header) if count == 0 else ''}".rstrip("; ")
            )

    reader = csv.reader(lines[header_line:], delimiter=delimiter)
    numbers, rows, problems = [], [], Problems()
    try:
        for fields in reader:
            if len(fields) == len(header):
                numbers.append(header_line + reader.line_num)
                rows.append(fields)
            elif any(field.strip() for field in fields):
                line = header_line + reader.line_num
                problems.add(f"{file}, line {line}: {len(fields)} field(s); the headings are {len(header)}")
    except csv.Error as error:
        raise InputError(
            f"{file}, line {header_line + reader.line_num}: not readable as CSV: {error}"
        ) from None
    problems.refuse()
    places = {name: header.index(heading) for name, heading in columns.items()}
    texts = {name: [fields[place].strip() for fields in rows] for name, place in places.items()}
    if "date" in texts:
        texts["time"] = [" ".join(pair) for pair in zip(texts.pop("date"), texts["time"], strict=True)]
    unread = [heading for heading in header if heading not in columns.values()]
    cells = _Cells(file, numbers, columns, texts, dict(units), units_stated=True, delimiter=delimiter)
    return cells, unread


def _with_readings(cells: _Cells, notes: list[str]) -> _Cells:
    """Pass over lines of events, which have a time and no reading at all."""
    values = [cells.texts[name] for name in VARIABLES if name in cells.texts]
    kept = [row for row in range(len(cells.lines)) if any(texts[row] for texts in values)]
    if not values or len(kept) in (0, len(cells.lines)):
        return cells
    first = next(row for row in range(len(cells.lines)) if row not in set(kept))
    notes.append(
        f"{len(cells.lines) - len(kept)} line(s) without any reading are passed over, the first of them line "
        f"{cells.lines[first]}."
    )
    texts = {name: [column[row] for row in kept] for name, column in cells.texts.items()}
    return replace(cells, lines=[cells.lines[row] for row in kept], texts=texts)


def _plain_numbers(cells: _Cells, notes: list[str]) -> _Cells:
    """Take units from behind the numbers of a column, and decimal commas where they can be nothing else."""
    texts, units = dict(cells.texts), dict(cells.units)
    for name in VARIABLES:
        if name not in texts:
            continue
        behind = {re.sub(r"^[-+]?[\d.,]+\s*", "", text) for text in texts[name]}
        unit = next(iter(behind)) if len(behind) == 1 else ""
        if unit and (said := unit_in(f"({unit})", name)) and same_unit(units.get(name, said), said, name):
            texts[name] = [text[: len(text) - len(unit)].rstrip() for text in texts[name]]
            units[name] = said
    numbers = [text for name in VARIABLES for text in texts.get(name, ())]
    if (
        cells.delimiter != ","
        and not any("." in text for text in numbers)
        and any(re.fullmatch(r"[-+]?\d+,(\d{1,2}|\d{4,})", text) for text in numbers)
    ):
        texts |= {
            name: [text.replace(",", ".") for text in texts[name]] for name in VARIABLES if name in texts
        }
        notes.append("Decimals are written with a comma in the file.")
    return replace(cells, texts=texts, units=units)


@dataclass(frozen=True)
class _Measured:
    """What the rows of a CSV hold: their cells, the stamps in UTC, the clock, and columns in SI."""

    cells: _Cells
    stamps: pd.DatetimeIndex
    clock: tzinfo
    columns: Mapping[str, Array]


def _read_csv(
    file: Path,
    text: str,
    notes: list[str],
    told: dict[str, Any],
    columns: Mapping[str, str],
    units: Mapping[str, str],
    place: Place | None,
    constants: Mapping[str, str],
    light: str | os.PathLike[str] | Weather | None,
    transmittance: object,
) -> Weather:
    """Make a record of a plain CSV; what is still to be stated is told all at once."""
    name, gap = file.name, span("3h" if told["longest_gap"] is None else told["longest_gap"])
    problems = Problems()
    found = _found(name, text, columns, units, constants, light, problems)
    measured = None if problems else _measured(name, text, found, told["time_zone"], gap, notes, problems)
    _still_open(name, told, found.columns, constants, light, problems)
    problems.refuse()
    assert measured is not None
    cells = measured.cells
    if found.read_as or "time" not in columns:
        how = f", as {cells.units['time']}" if "time" in cells.units else ""
        notes.insert(0, f"Read as: time from '{cells.headings['time']}'{how}; {'; '.join(found.read_as)}.")
    fields = assemble(
        source=name,
        format="csv",
        stamps=measured.stamps,
        clock=measured.clock,
        columns=measured.columns,
        where=cells.where,
        lines=cells.lines,
        label=told["label"],
        exposure=told["exposure"],
        place=place,
        constants=constants,
        longest_gap=gap,
        notes=notes,
        light=_light(name, light, transmittance, told["exposure"], notes),
        settings=_settings(file, told, measured, place, constants, light, transmittance),
    )
    return Weather(**fields)


def _found(
    file: str,
    text: str,
    columns: Mapping[str, str],
    units: Mapping[str, str],
    constants: Mapping[str, str],
    light: object,
    problems: Problems,
) -> Found:
    """Return the columns and units of a CSV, and note what is wrong with those that were stated."""
    known("columns", columns, ["time", "date", *VARIABLES])
    known("units", units, ["time", *VARIABLES])
    known("constants", constants, ["pressure", "wind_speed", "shortwave"])
    found = recognise(file, text, columns, units, [*constants, *(["shortwave"] if light is not None else [])])
    for each in constants:
        with problems.noted():
            constant_in_si(each, constants[each])
    for each in found.open:
        problems.add(each)
    for each in units:
        if each in VARIABLES:
            convert(np.zeros(1), units[each], each)
        if each != "time" and each not in found.columns and not problems:
            raise InputError(f"{file}: units has '{each}', columns has not; give the heading of its column")
    return found


def _measured(
    file: str,
    text: str,
    found: Found,
    time_zone: str | None,
    longest_gap: timedelta,
    notes: list[str],
    problems: Problems,
) -> _Measured | None:
    """Return what the rows hold, or None after noting what is wrong with them."""
    cells, unread = _cut(file, text, found.columns, found.units)
    cells = _plain_numbers(_with_readings(cells, notes), notes)
    if len(cells.lines) < 2:
        raise InputError(f"{file}: {len(cells.lines)} line(s) after the headings; a record needs two or more")
    stamps = clock = None
    with problems.noted():
        cells = _with_pattern(cells, longest_gap)
        stamps, clock = _stamps(cells, time_zone or found.time_zone)
    columns: dict[str, Array] = {}
    for each in VARIABLES:
        if each in cells.headings:
            with problems.noted():
                cells = _with_unit(cells, each)
                columns[each] = cells.si(each, notes)
    if unread:
        notes.append(f"Columns not read: {', '.join(unread)}.")
    return None if stamps is None or clock is None else _Measured(cells, stamps, clock, columns)


def _settings(
    file: Path,
    told: Mapping[str, Any],
    measured: _Measured,
    place: Place | None,
    constants: Mapping[str, str],
    light: str | os.PathLike[str] | Weather | None,
    transmittance: object,
) -> dict[str, Any]:
    """Return what `read_weather` takes to read this file again, with nothing left to be recognised."""
    settings: dict[str, Any] = {
        "file": os.fspath(file),
        **told,
        "time_zone": str(measured.clock),
        "columns": dict(measured.cells.headings),
        "units": measured.cells.units,
        "constants": dict(constants),
        "light": None if light is None else light.source if isinstance(light, Weather) else os.fspath(light),
        "transmittance": None if transmittance is None else f"{100.0 * _transmittance(transmittance):g} %",
        "place": None if place is None else vars(place),
    }
    return {key: value for key, value in settings.items() if value not in (None, {})}


def _still_open(
    file: str,
    told: Mapping[str, Any],
    columns: Mapping[str, str],
    constants: Mapping[str, str],
    light: object,
    problems: Problems,
) -> None:
    """Note what neither the file nor the caller says."""
    if told["exposure"] is None:
        problems.add(
            f"{file}: where was it measured? Give exposure='crop' for a logger in the crop, "
            "exposure='outdoor' for a station outside"
        )
    if told["label"] is None:
        problems.add(
            f"{file}: what is a stamp? Give label='instant' for readings, label='start', label='middle' or "
            "label='end' for where it stands in the time that a mean is of"
        )
    if "wind_speed" not in columns and "wind_speed" not in constants:
        problems.add(
            f"{file}: no wind_speed; give its column, or a value as constants={{'wind_speed': '0.3 m/s'}}, "
            "which (60 ft/min) is usual at a crop under air-flow fans"
        )
    if "shortwave" not in columns and "shortwave" not in constants and light is None:
        outside = told["exposure"] == "outdoor"
        problems.add(
            f"{file}: no shortwave{'; outdoor weather needs' if outside else ''}; give its column, or the "
            "light of a station's file or of a typical year nearby as light='piedmont'"
            + ("" if outside else ", or for darkness constants={'shortwave': '0 W/m^2'}")
        )


def _with_unit(cells: _Cells, name: str) -> _Cells:
    """Return the cells, the unit of a column settled."""
    if name in cells.units:
        return cells
    if name == "relative_humidity":
        try:
            if max(float(text) for text in cells.texts[name]) > 1.5:  # no share is so large
                return replace(cells, units={**cells.units, name: "percent"})
        except ValueError:
            pass
    common = VARIABLES[name].common_units
    raise InputError(
        f"{cells.file}: '{cells.headings[name]}' does not say its unit; give "
        f"units={{'{name}': '{common[0]}'}}, or {either(common[1:])}"
    )


def _with_pattern(cells: _Cells, longest_gap: timedelta) -> _Cells:
    """Return the cells, the pattern of their stamps settled where they are not ISO 8601."""
    texts = [plain_stamp(text) for text in cells.texts["time"]]
    if "time" in cells.units:
        if "%p" in cells.units["time"]:
            return replace(cells, texts={**cells.texts, "time": texts})
        return cells
    try:
        datetime.fromisoformat(texts[0])
    except ValueError:
        pass
    else:
        return cells
    try:
        pattern = pattern_of(texts, longest_gap)
    except InputError as error:
        if "units=" in str(error):
            raise InputError(f"{cells.file}: {error}") from None
        return cells  # what is no time is told stamp by stamp
    return replace(cells, texts={**cells.texts, "time": texts}, units={"time": pattern, **cells.units})


def _transmittance(given: object) -> float:
    row = TABLE["house.transmittance"]
    return row.standard if given is None else bounded("transmittance", row, given)


def _light(
    file: str,
    light: str | os.PathLike[str] | Weather | None,
    transmittance: object,
    exposure: str,
    notes: list[str],
) -> Callable[[pd.DatetimeIndex], Array] | None:
    """Return the light at the logger from another record, or None where none is named."""
    if light is None:
        if transmittance is not None:
            raise InputError(
                f"{file}: transmittance= goes with light=, the record whose light passes the cover"
            )
        return None
    share = 1.0 if exposure == "outdoor" else _transmittance(transmittance)
    other = light if isinstance(light, Weather) else read_weather(light)
    if other.exposure != "outdoor":
        raise InputError(
            f"{file}: light={other.source!r} was measured at a crop; a record of outdoors is needed"
        )
    through = "" if share == 1.0 else f", {100.0 * share:.0f} % of it through the cover"
    typical = " of a typical year, not of these days" if other.typical else ""
    notes.append(f"No light in the file: that of {other.place or other.source}{typical}{through}.")

    def at(moments: pd.DatetimeIndex) -> Array:
        try:
            return np.asarray(share * other.at(moments)["shortwave"].to_numpy())
        except InputError as error:
            raise InputError(f"{file}: no light for all of it: {error}") from None

    return at


def _stamps(cells: _Cells, time_zone: str | None) -> tuple[pd.DatetimeIndex, tzinfo]:
    """Return the stamps of a CSV in UTC, and the record's own clock."""
    pattern = cells.units.get("time")
    iso = "ISO 8601 such as 2026-05-14T06:00, or a pattern stated as units={'time': '%m/%d/%Y %H:%M'}"
    parsed: list[datetime] = []
    problems = Problems()
    for row, text in enumerate(cells.texts["time"]):
        try:
            stamp = datetime.fromisoformat(text) if pattern is None else datetime.strptime(text, pattern)
        except ValueError:
            problems.add(f"{cells.where(row, 'time')} is not a time; allowed is {pattern or iso}")
            continue
        if stamp.year not in YEARS:
            problems.add(f"{cells.where(row, 'time')}; {YEARS_ALLOWED}")
        elif parsed and (stamp.tzinfo is None) != (parsed[0].tzinfo is None):
            problems.add(f"{cells.where(row, 'time')}: either all stamps carry a UTC offset or none")
        else:
            parsed.append(stamp)
    problems.refuse()
    if parsed[0].tzinfo is not None:
        offsets = sorted({stamp.utcoffset() or timedelta() for stamp in parsed})
        if time_zone is None and len(offsets) > 1:
            raise InputError(
                f"{cells.file}: stamps carry {len(offsets)} offsets, {timezone(offsets[0])} to "
                f"{timezone(offsets[-1])}; give their clock, as time_zone='America/New_York'"
            )
        clock = timezone(offsets[0]) if time_zone is None else clock_of(time_zone)
        return pd.DatetimeIndex(pd.to_datetime(parsed, utc=True)), clock
    if time_zone is None:
        raise InputError(
            f"{cells.where(0, 'time')} has no UTC offset; give time_zone=, such as 'America/New_York' for a "
            "clock with daylight saving, 'UTC-05:00' for standard time all year"
        )
    clock = clock_of(time_zone)
    stamps, fault = localize(pd.DatetimeIndex(parsed), clock)
    if fault is not None:
        raise InputError(
            f"{cells.where(fault[0], 'time')} {fault[1]} on the clock of {clock}; if the logger stays on "
            "standard time, give that, as time_zone='UTC-05:00'; else write the UTC offset into the stamps"
        )
    return stamps.tz_convert("UTC"), clock


def _find(path: str | os.PathLike[str]) -> Path:
    if isinstance(path, str) and path in SAMPLES:
        return _sample(str(path))
    file = Path(file_name(path))
    try:
        if file.is_dir():
            raise InputError(f"{file}: is a directory; give a file")
        if not file.exists():
            close = nearest(file.name, [*SAMPLES, *(other.name for other in file.parent.glob("*"))])
            samples = ", ".join(SAMPLES)
            raise InputError(f"{file}: no such file, nor one of the samples {samples}; {close}".rstrip("; "))
        if not file.is_file():
            raise InputError(f"{file}: is not a regular file")
    except OSError as error:
        raise InputError(f"{short(str(file))}: cannot be opened: {error.strerror}") from None
    return file


def _sample(name: str) -> Path:
    spec = importlib.util.find_spec("pvlib")  # where it lies, without loading it
    places = [] if spec is None else list(spec.submodule_search_locations or [])
    path = Path(*places[:1]) / "data" / SAMPLES[name]
    if not path.is_file():
        raise InputError(
            f"sample '{name}': {path} is missing from the installed pvlib {metadata.version('pvlib')}"
        )
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
