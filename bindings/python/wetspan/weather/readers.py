"""The function `read_weather`: a record from a weather file, or from the [weather] of a scenario file."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

from wetspan.errors import InputError, yes_or_no
from wetspan.files import file_name, text_of
from wetspan.scenario_file import load
from wetspan.weather.files import find, format_of
from wetspan.weather.hourly import read_hourly
from wetspan.weather.plain_csv import read_csv
from wetspan.weather.record import Weather
from wetspan.weather.variables import FORMATS, Place, known
from wetspan.weather_table import stated


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
        A file, or the name of a sample: "miami", "sand-point", "piedmont" (write "./miami" for a file of that
        name). For a scenario file (TOML) its [weather] is read, whose keys are `file` and the parameters
        below. Parameters that are given here replace those of the file.
    format
        "tmy2", "tmy3", "epw" or "csv"; recognised from the contents if left out. The first three define their
        own clock, label, units and place. Give nothing else for them, except `typical` for an EPW.
    time_zone
        The clock of the time stamps: an IANA zone ("America/New_York") if it has daylight saving, "UTC-05:00"
        if it stays on standard time. It may be left out if all stamps have the same UTC offset.
    label
        Position of a stamp in its averaging interval: "start", "middle" or "end"; "instant" for readings.
        Means are placed at the middle of their interval; for "start" and "end" this needs evenly spaced
        stamps.
    columns
        Headings of the columns to read: {"time": "Time", "temperature": "Temp (F)", ...}, and "date" if dates
        and times of day are in separate columns. A preamble before the line of headings is skipped. A column
        that is left out is found by its heading if only one heading fits. If time, temperature and
        relative_humidity are all given, nothing else is read. The notes name the columns that were not read.
    units
        Units of these columns: {"temperature": "degF", "relative_humidity": "percent", ...}; by default those
        in the headings. Stamps are ISO 8601, or have a pattern given here: {"time": "%m/%d/%Y %I:%M %p"}.
        Without a pattern, numeric dates are read if they show which number is the month. Light in umol/m2/s,
        foot-candles or lux is converted as light of sun and sky, and the notes say so.
    exposure
        "outdoor" or "crop", see `Weather`.
    place
        The place of the measurement. If the file has no pressure, its altitude gives that of the standard
        atmosphere.
    constants
        Values that the file does not have: {"wind_speed": "0.2 m/s", "shortwave": "0 W/m^2"}. Pressure may be
        left out (standard atmosphere). A constant shortwave is allowed at the crop (zero: night, or a dark
        room) but not outdoors. Temperature and humidity must be in the file.
    longest_gap
        Longest time between two stamps that may be bridged by interpolation; 3 h by default.
    light
        Source of the light if the file has none: a station's file, the name of a typical year or a record. At
        the crop the light outside is multiplied by the `transmittance` of the cover, such as "60 %". By
        default this is the one of the scenario file, or else 60 % (assumption, grade D: house.transmittance).
        The light of a typical year is not that of the day: it distinguishes a sunny noon from night, but has
        no clouds of your day.
    typical
        True for an EPW that combines months of different years although its stamps name one year. If left
        out, an EPW counts as a typical year if its stamps come from several years and do not follow each
        other.

    Raises
    ------
    InputError
        In one line: the file, line, column and value, and what is allowed. For a plain CSV its `problems`
        list everything that is still to be stated, with the parameter that states it.
    """
    if Path(file_name(path)).suffix.lower() == ".toml":
        return _read_as_told(path, locals())
    file = find(path)
    text, notes = text_of(file)
    kind = format_of(text) if format is None else format.lower()
    typical = None if typical is None else yes_or_no("typical", typical)
    known("format", [kind], FORMATS)
    if kind == "csv":
        if typical is not None:
            raise InputError(f"{file.name}: typical= is for an EPW; a plain CSV is a record of its own dates")
        told = {
            "format": format, "exposure": exposure, "time_zone": time_zone, "label": label,
            "longest_gap": None if longest_gap is None else str(longest_gap),
        }  # fmt: skip
        return read_csv(
            file, text, notes, told, columns or {}, units or {}, place, constants or {}, light, transmittance,
            read_weather,
        )  # fmt: skip
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
    return replace(read_hourly(file, text, notes, kind, typical), settings=settings)


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
