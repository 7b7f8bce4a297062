"""Plain CSV: one column of time stamps and one for each variable, with any headings, units and clock.

The user states what headings and stamps do not show, see `read_weather`; a scenario file can keep these
statements.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import timedelta, tzinfo
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from wetspan.errors import InputError, Problems
from wetspan.parameters import TABLE
from wetspan.units import bounded
from wetspan.weather.assembly import assemble, constant_in_si
from wetspan.weather.cells import Cells, cut, plain_numbers, with_readings, with_unit
from wetspan.weather.clock import Array, span
from wetspan.weather.headings import Found, recognise
from wetspan.weather.record import Weather
from wetspan.weather.stamps import stamps_of, with_pattern
from wetspan.weather.variables import VARIABLES, WHAT_IS_A_STAMP, Place, convert, known

_COLDEST, _HOTTEST = 273.15, 318.15  # K; the median of a crop's record lies between (grade D)


@dataclass(frozen=True)
class _Measured:
    """What the rows of a CSV hold: their cells, the stamps in UTC, the clock, and columns in SI."""

    cells: Cells
    stamps: pd.DatetimeIndex
    clock: tzinfo
    columns: Mapping[str, Array]


def read_csv(
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
    read_light: Callable[[str | os.PathLike[str]], Weather],
) -> Weather:
    """Make a record of a plain CSV; what is still to be stated is told all at once.

    `read_light` reads the file that `light` names.
    """
    name, gap = file.name, span("3h" if told["longest_gap"] is None else told["longest_gap"])
    problems = Problems()
    found = _found(name, text, columns, units, constants, light, told["exposure"], problems)
    measured = None if problems else _measured(name, text, found, told["time_zone"], gap, notes, problems)
    _still_open(name, told, found.columns, constants, light, problems)
    problems.refuse()
    assert measured is not None
    cells = measured.cells
    if told["exposure"] == "crop" and "temperature" not in units:
        _refuse_cold_and_hot(name, measured)
    if found.read_as or "time" not in columns:
        how = f", as {cells.units['time']}" if "time" in cells.units else ""
        stamps = " and ".join(
            f"'{cells.headings[each]}'" for each in ("date", "time") if each in cells.headings
        )
        notes.insert(0, f"Read as: time from {stamps}{how}; {'; '.join(found.read_as)}.")
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
        light=_light(name, light, transmittance, told["exposure"], notes, read_light),
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
    exposure: str | None,
    problems: Problems,
) -> Found:
    """Return the columns and units of a CSV, and note what is wrong with those that were stated."""
    known("columns", columns, ["time", "date", *VARIABLES])
    known("units", units, ["time", *VARIABLES])
    known("constants", constants, ["pressure", "wind_speed", "shortwave"])
    have = [*constants, *(["shortwave"] if light is not None else [])]
    found = recognise(file, text, columns, units, have, exposure)
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
    cells, unread = cut(file, text, found.columns, found.units)
    cells = plain_numbers(with_readings(cells, notes), notes)
    if len(cells.lines) < 2:
        raise InputError(f"{file}: {len(cells.lines)} line(s) after the headings; a record needs two or more")
    stamps = clock = None
    with problems.noted():
        cells = with_pattern(cells, longest_gap)
        stamps, clock = stamps_of(cells, time_zone, found.time_zone)
    columns: dict[str, Array] = {}
    for each in VARIABLES:
        if each in cells.headings:
            with problems.noted():
                cells = with_unit(cells, each)
                if each not in found.units:
                    how = f"in {cells.units[each]}, by its numbers"
                    found.read_as.append(f"{VARIABLES[each].long_name} from '{cells.headings[each]}' {how}")
                columns[each] = cells.si(each, notes)
    if unread:
        notes.append(f"Columns not read: {', '.join(unread)}.")
    return None if stamps is None or clock is None else _Measured(cells, stamps, clock, columns)


def _refuse_cold_and_hot(file: str, measured: _Measured) -> None:
    """Refuse temperatures in which no crop is kept, whose unit the heading has wrong."""
    unit = measured.cells.units["temperature"]
    kelvin = float(np.median(measured.columns["temperature"]))
    if _COLDEST <= kelvin <= _HOTTEST or unit == "K":
        return
    other = "degC" if unit == "degF" else "degF"
    raise InputError(
        f"{file}: '{measured.cells.headings['temperature']}' read in {unit} is {kelvin - 273.15:.0f} degC "
        f"in the middle, and no crop is kept in that; give units={{'temperature': '{other}'}}, or "
        f"'{unit}' if it is right"
    )


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
        problems.add(f"{file}: {WHAT_IS_A_STAMP}")
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


def _transmittance(given: object) -> float:
    row = TABLE["house.transmittance"]
    return row.standard if given is None else bounded("transmittance", row, given)


def _light(
    file: str,
    light: str | os.PathLike[str] | Weather | None,
    transmittance: object,
    exposure: str,
    notes: list[str],
    read_light: Callable[[str | os.PathLike[str]], Weather],
) -> Callable[[pd.DatetimeIndex], Array] | None:
    """Return the light at the logger from another record, or None where none is named."""
    if light is None:
        if transmittance is not None:
            raise InputError(
                f"{file}: transmittance= goes with light=, the record whose light passes the cover"
            )
        return None
    share = 1.0 if exposure == "outdoor" else _transmittance(transmittance)
    other = light if isinstance(light, Weather) else read_light(light)
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
