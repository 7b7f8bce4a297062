"""Weather that is in memory already: a DataFrame with pvlib's names, a Dataset under the CF conventions."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import timedelta
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from wetspan.errors import InputError, nearest, shortened
from wetspan.weather.assembly import assemble, in_si
from wetspan.weather.clock import HOUR, YEAR, Array, clock_of, localize, span
from wetspan.weather.variables import VARIABLES, WHAT_IS_A_STAMP, Place, known

#: What pvlib calls the variables, and the units it has them in.
PVLIB = {
    "temperature": ("temp_air", "degC"),
    "relative_humidity": ("relative_humidity", "percent"),
    "pressure": ("pressure", "Pa"),
    "wind_speed": ("wind_speed", "m/s"),
    "shortwave": ("ghi", "W/m^2"),
}
#: Coordinates of a place under the CF conventions, by our names.
#: Coordinates that say where a cell lies: by standard_name, or by these names.
_PLACE = {"latitude": ("latitude", "lat"), "longitude": ("longitude", "lon"), "altitude": ("altitude",)}
_HALF_TURN = 180.0  # degrees


def from_frame(
    frame: pd.DataFrame,
    *,
    label: str | None,
    time_zone: str | None,
    columns: Mapping[str, str] | None,
    units: Mapping[str, str] | None,
    exposure: str,
    place: Place | None,
    constants: Mapping[str, str] | None,
    longest_gap: str | timedelta,
    source: str,
) -> dict[str, Any]:
    """Return the fields of a record of a DataFrame; see `Weather.from_dataframe`."""
    if not isinstance(frame, pd.DataFrame) or not isinstance(frame.index, pd.DatetimeIndex):
        raise InputError(f"{source}: a DataFrame with a DatetimeIndex is needed")
    if label is None:
        raise InputError(f"{source}: {WHAT_IS_A_STAMP}")
    known("columns", columns or {}, list(VARIABLES))
    known("units", units or {}, list(VARIABLES))
    names = {name: theirs for name, (theirs, _) in PVLIB.items() if theirs in frame.columns} | dict(
        columns or {}
    )
    for name in names.values():
        if name not in frame.columns:
            hint = nearest(name, [str(each) for each in frame.columns])
            raise InputError(f"{source}: there is no column '{name}'; {hint}".rstrip("; "))
    told = {name: PVLIB[name][1] for name in names} | dict(units or {})
    values = {name: (frame[theirs].to_numpy(), told[name]) for name, theirs in names.items()}
    return _fields(
        source, frame.index, values, label, time_zone, exposure, place, constants or {}, longest_gap
    )


def from_cell(
    cell: xr.Dataset,
    *,
    label: str,
    time_zone: str | None,
    exposure: str | None,
    place: Place | None,
    constants: Mapping[str, str] | None,
    longest_gap: str | timedelta,
    source: str,
) -> dict[str, Any]:
    """Return the fields of a record of a Dataset along time alone; see `Weather.from_xarray`."""
    found = cf_variables(cell, source)
    values = {
        name: (cell[theirs].values, cf_unit(cell[theirs].attrs["units"])) for name, theirs in found.items()
    }
    index = pd.DatetimeIndex(cell["time"].values).tz_localize("UTC")
    zone = time_zone or cell.attrs.get("time_zone") or "UTC"
    place = _place_of(cell, source) if place is None else place
    exposure = exposure or str(cell.attrs.get("exposure") or "outdoor")
    fields = _fields(source, index, values, label, zone, exposure, place, constants or {}, longest_gap)
    whole = index[-1] - index[0] >= YEAR - HOUR  # a part of a typical year is a record of its own dates
    return fields | {"typical": bool(whole and cell.attrs.get("typical") in (1, "1"))}


def cf_variables(dataset: xr.Dataset, source: str) -> dict[str, str]:
    """Return the names of the variables of a Dataset, found by standard_name, else by name."""
    if not isinstance(dataset, xr.Dataset) or "time" not in dataset.dims:
        raise InputError(f"{source}: a Dataset along 'time' is needed")
    if not np.issubdtype(dataset["time"].dtype, np.datetime64):
        raise InputError(f"{source}: time is not decoded to datetime64; open it with xarray's decode_times")
    found: dict[str, str] = {}
    for name, rule in VARIABLES.items():
        for theirs, variable in dataset.data_vars.items():
            if rule.standard_name in (variable.attrs.get("standard_name"), theirs) or theirs == name:
                found.setdefault(name, str(theirs))
    for name, theirs in found.items():
        if not isinstance(dataset[theirs].attrs.get("units"), str):
            raise InputError(f"{source}: {theirs} has no attribute 'units', such as '{VARIABLES[name].unit}'")
    for name in ("temperature", "relative_humidity"):
        if name not in found:
            wanted = VARIABLES[name].standard_name
            there = ", ".join(map(str, dataset.data_vars)) or "none"
            raise InputError(
                f"{source}: no variable has the standard_name '{wanted}'; variables are {shortened(there)}: "
                f"name one {name}, or give it this attribute"
            )
    return found


def cf_unit(unit: str) -> str:
    """Return a unit as CF writes it, such as "W m-2", with its powers marked."""
    parts = re.sub(r"(?<=[A-Za-z])(-?\d+)\b", r"^\1", unit).split()
    over = [part.replace("^-", "^").removesuffix("^1") for part in parts if "^-" in part]
    under = [part for part in parts if "^-" not in part]
    told = " * ".join(under) or "1"
    told += "".join(f" / {part}" for part in over)
    return {"%": "percent", "degree_Celsius": "degC", "Celsius": "degC"}.get(told, told)


def _place_of(cell: xr.Dataset, source: str) -> Place | None:
    values: dict[str, float] = {}
    for key, each in cell.coords.items():
        for name, theirs in _PLACE.items():
            if each.ndim == 0 and each.attrs.get("standard_name", key) in theirs:
                try:
                    values[name] = float(each)
                except (TypeError, ValueError):
                    raise InputError(f"{source}: {key} = {each.values!s} is not a number") from None
    if values.get("longitude", 0.0) > _HALF_TURN:  # counted from 0 to 360, as in many models' grids
        values["longitude"] -= 2.0 * _HALF_TURN
    name = str(cell.attrs.get("place", "")) or "grid cell"
    return Place(name, **values) if values else None


def _fields(
    source: str,
    index: pd.DatetimeIndex,
    values: Mapping[str, tuple[Any, str]],
    label: str,
    time_zone: str | None,
    exposure: str,
    place: Place | None,
    constants: Mapping[str, str],
    longest_gap: str | timedelta,
) -> dict[str, Any]:
    if len(index) < 2 or index.hasnans:
        raise InputError(f"{source}: a record needs two times or more, none of them missing")
    for name in ("temperature", "relative_humidity"):
        if name not in values:
            raise InputError(
                f"{source}: no {name}; a column '{PVLIB[name][0]}' is needed, or columns={{...}}"
            )

    def where(row: int, name: str) -> str:
        said = "" if name == "time" else f", {name}: {values[name][0][row]}"
        return f"{source}, row {row}, {index[row].isoformat()}{said}"

    if index.tz is None:
        if time_zone is None:
            raise InputError(
                f"{source}: its times have no zone; give time_zone=, such as 'America/New_York', or "
                "'UTC-05:00' for standard time all year"
            )
        stamps, fault = localize(index, clock_of(time_zone))
        if fault is not None:
            raise InputError(f"{where(fault[0], 'time')} {fault[1]} on the clock of {time_zone}")
        stamps = stamps.tz_convert("UTC")
    else:
        stamps = index.tz_convert("UTC")
    clock = clock_of(time_zone or _zone_name(index))
    notes: list[str] = []
    columns: dict[str, Array] = {}
    for name, (given, unit) in values.items():
        numbers = _numbers(given)
        if not np.isfinite(numbers).all():
            raise InputError(f"{where(int(np.isfinite(numbers).argmin()), name)} is not a number")
        columns[name] = in_si(name, numbers, unit, where, notes)
    return assemble(
        source=source,
        format="memory",
        stamps=stamps,
        clock=clock,
        columns=columns,
        where=where,
        lines=range(1, len(index) + 1),
        label=label,
        exposure=exposure,
        place=place,
        constants=constants,
        longest_gap=span(longest_gap),
        notes=notes,
    ) | {"lines": ()}


def _numbers(given: npt.ArrayLike) -> Array:
    """Return numbers; what is none, such as a text, as NaN."""
    try:
        return np.asarray(given, dtype=np.float64)
    except (TypeError, ValueError):
        return np.asarray(pd.to_numeric(pd.Series(given), errors="coerce"), dtype=np.float64)


def _zone_name(index: pd.DatetimeIndex) -> str:
    """Return the name of an index's own zone: an IANA zone, or an offset."""
    name = str(index.tz)
    if name in ("UTC", "utc") or "/" in name:
        return "UTC" if name == "utc" else name
    offset = index[0].utcoffset() or timedelta()
    minutes = round(offset.total_seconds() / 60.0)
    return (
        f"UTC{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"
        if minutes
        else "UTC"
    )
