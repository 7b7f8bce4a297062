"""A record from columns and time stamps: units and bounds, spacing, position of means, suspicious values."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping, Sequence
from datetime import tzinfo
from typing import Any

import numpy as np
import pandas as pd

from wetspan.errors import InputError, Problems, echo
from wetspan.unit_shown import with_unit
from wetspan.unit_text import UnreadableError, read
from wetspan.units import in_unit
from wetspan.weather.clock import HOUR, Array, duration
from wetspan.weather.variables import (
    EXPOSURES,
    LABELS,
    VARIABLES,
    Place,
    allowed,
    convert,
    either,
    known,
    light_factor,
    light_note,
)

#: How a message names a value: row and variable to file, line, column and what stands there.
Where = Callable[[int, str], str]

# Capacitive sensors read up to a few per cent too high when wet or aged; beyond, something else is wrong.
_DAMPEST = 1.05  # relative humidity that is still read as saturated air (grade D)
_SPIKE = (
    15.0  # K from the values around at which a temperature is doubted (grade D: no air leaps there and back)
)
_AROUND = 5  # values that a spike is held against, itself in the middle


def in_si(
    name: str, given: Array, unit: str, where: Where, notes: list[str], *, stated: bool = True
) -> Array:
    """Return a column of a variable in SI, every value within bounds; `stated`: the user named its unit."""
    rule = VARIABLES[name]
    values = convert(given, unit, name)
    if name == "shortwave" and light_factor(unit) is not None:
        notes.append(light_note(unit))
    if name == "relative_humidity":
        damp = (values > 1.0) & (values <= _DAMPEST)
        if damp.any():
            values = np.where(damp, 1.0, values)
            most = given[damp].max()
            notes.append(
                f"Relative humidity above saturation is read as saturation: {damp.sum()} value(s), at most "
                f"{with_unit(f'{most:g}', '%' if unit == 'percent' else unit)}."
            )
    wrong = ~((values >= rule.low) & (values <= rule.high))
    if wrong.any():
        rows, slip = np.flatnonzero(wrong).tolist(), _slip(given, name) if stated else ""
        if slip and len(rows) > 1:  # one slip, told once
            more = "as is another" if len(rows) == 2 else f"as are {len(rows) - 1} others"
            first = with_unit(where(rows[0], name), unit)
            raise InputError(f"{first}, {more}; allowed is {allowed(name, unit)}{slip}")
        problems = Problems()
        for row in rows:
            problems.add(f"{with_unit(where(row, name), unit)}; allowed is {allowed(name, unit)}{slip}")
        problems.refuse()
    if name == "relative_humidity" and stated and values.max() <= 0.01:
        said = with_unit(where(int(values.argmax()), name), unit)
        raise InputError(
            f"{said} is the highest humidity of the file; no air is that dry; did you mean "
            f"units={{'{name}': '1'}}?"
        )
    return values


def _slip(given: Array, name: str) -> str:
    """Return the hint that a whole column would be plausible in another unit."""
    rule = VARIABLES[name]
    for unit in rule.common_units:
        values = convert(given, unit, name)
        if rule.low <= values.min() and values.max() <= rule.high:
            return f"; did you mean units={{'{name}': '{unit}'}}?"
    return ""


def assemble(
    *,
    source: str,
    format: str,
    stamps: pd.DatetimeIndex,
    clock: tzinfo,
    columns: Mapping[str, Array],
    where: Where,
    lines: Sequence[int],
    label: str,
    exposure: str,
    place: Place | None,
    constants: Mapping[str, str],
    longest_gap: pd.Timedelta,
    notes: list[str],
    light: Callable[[pd.DatetimeIndex], Array] | None = None,
    settings: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """Return the fields of a record of columns in SI at stamps in UTC; `lines` tells them in messages.

    `light` gives the shortwave [W/m2] at moments, where the columns do not hold it.
    """
    known("label", [label], LABELS)
    known("exposure", [exposure], EXPOSURES)
    known("constants", constants, ["pressure", "wind_speed", "shortwave"])
    if both := [name for name in constants if name in columns]:
        raise InputError(f"{source}: '{both[0]}' is among columns and constants; choose one")
    interval = _spacing(where, lines, stamps, longest_gap)
    gaps = _gaps(stamps, interval, notes)
    if interval <= HOUR:  # between readings further apart air may change by as much
        _notice_spikes(columns["temperature"], where, notes)
    if label in ("start", "end"):
        uneven = np.flatnonzero((stamps - stamps[0]) % interval)
        if uneven.size:
            raise InputError(
                f"{where(int(uneven[0]), 'time')} is not a multiple of {duration(interval)} after the "
                f"first; label '{label}' needs even spacing; readings are label='instant'"
            )
        stamps = stamps + (interval if label == "start" else -interval) / 2
    if light is not None:
        columns = {**columns, "shortwave": light(stamps)}
    data = {
        name: columns[name] if name in columns else _constant(source, name, constants, exposure, place, notes)
        for name in VARIABLES
    }
    return {
        "data": pd.DataFrame(data, index=stamps),
        "place": place,
        "time_zone": str(clock),
        "label": label,
        "exposure": exposure,
        "typical": False,
        "source": source,
        "format": format,
        "interval": interval,
        "notes": tuple(notes),
        "gaps": gaps,
        "lines": tuple(lines),
        "settings": dict(settings or {}),
    }


def _gaps(
    stamps: pd.DatetimeIndex, interval: pd.Timedelta, notes: list[str]
) -> tuple[tuple[pd.Timestamp, pd.Timestamp], ...]:
    """Return the gaps between stamps, and note them."""
    steps = stamps[1:] - stamps[:-1]
    wide = np.flatnonzero(steps > 1.5 * interval)
    if wide.size:
        longest = int(wide[np.argmax(steps[wide])])
        notes.append(
            f"{wide.size} gap(s) are bridged by straight lines, the longest of {duration(steps[longest])} "
            f"from {stamps[longest].isoformat()}."
        )
    return tuple((stamps[i], stamps[i + 1]) for i in wide.tolist())


def _notice_spikes(temperature: Array, where: Where, notes: list[str]) -> None:
    """Note and warn of temperatures far from those around them, which are read all the same."""
    padded = np.pad(temperature, _AROUND // 2, mode="reflect") if len(temperature) >= _AROUND else None
    if padded is None:
        return
    around = np.median(np.lib.stride_tricks.sliding_window_view(padded, _AROUND), axis=1)
    leap = np.abs(np.diff(temperature))
    beside = np.maximum(np.append(leap, 0.0), np.insert(leap, 0, 0.0))
    spikes = np.flatnonzero((np.abs(temperature - around) > _SPIKE) & (beside > _SPIKE))
    if spikes.size:
        row = int(spikes[0])
        more = f", and {spikes.size - 1} more are as far off" if spikes.size > 1 else ""
        told = (
            f"{where(row, 'temperature')} is {abs(temperature[row] - around[row]):.0f} K from the readings "
            f"around it{more}; read as it stands"
        )
        notes.append(f"{told}.")
        warnings.warn(f"{told}; check the logger", RuntimeWarning, stacklevel=5)


def _spacing(
    where: Where, lines: Sequence[int], stamps: pd.DatetimeIndex, longest: pd.Timedelta
) -> pd.Timedelta:
    """Return the usual time between stamps; refuse stamps that repeat, go back or leave too long a gap."""
    steps = stamps[1:] - stamps[:-1]
    wrong = (steps <= pd.Timedelta(0)) | (steps > longest)
    if wrong.any():
        row = int(wrong.argmax())
        here, before = where(row + 1, "time"), f"line {lines[row]}"
        if steps[row] == pd.Timedelta(0):
            raise InputError(f"{here} repeats the stamp of {before}")
        if steps[row] < pd.Timedelta(0):
            back = bool((steps < pd.Timedelta(0)).all())
            advice = "; the newest stand first: sort the file by time" if back else ""
            raise InputError(f"{here} is earlier than {before}; stamps have to increase{advice}")
        raise InputError(
            f"{here} comes {duration(steps[row])} after {before}; longest_gap= is {duration(longest)}"
        )
    sizes, counts = np.unique(steps.to_numpy(), return_counts=True)
    return pd.Timedelta(sizes[counts.argmax()])


def constant_in_si(name: str, text: str) -> float:
    """Return a value [SI] that stands for a column."""
    rule, said = VARIABLES[name], f"constants['{name}']: {echo(text)}"
    told = f"{said} is not a number with a unit of {rule.long_name}, such as {either(rule.common_units)}"
    try:
        written = read(text)
        value = in_unit(said, text, rule.unit, "")
    except UnreadableError as error:
        raise InputError(f"{told} ({error})") from None
    except InputError:
        raise InputError(told) from None
    if not rule.low <= value <= rule.high:
        raise InputError(f"{said}; allowed is {allowed(name, written.said or rule.unit)}")
    return value


def _constant(
    file: str, name: str, constants: Mapping[str, str], exposure: str, place: Place | None, notes: list[str]
) -> float:
    """Return the value [SI] of a variable that the file does not hold, and note where it is from."""
    rule = VARIABLES[name]
    if name == "shortwave" and exposure == "outdoor":
        raise InputError(f"{file}: no shortwave; outdoor weather needs a column of it")
    if name in constants:
        value = constant_in_si(name, constants[name])
        notes.append(f"No {rule.long_name} in the file: {constants[name]} throughout, as stated.")
        return value
    if name == "pressure":
        import pvlib  # type: ignore[import-untyped]

        altitude = None if place is None else place.altitude
        value = float(pvlib.atmosphere.alt2pres(altitude or 0.0))
        where = "sea level (no altitude stated)" if altitude is None else f"{altitude:g} m"
        notes.append(f"No air pressure in the file: {value:.0f} Pa, the standard atmosphere at {where}.")
        return value
    example = {"wind_speed": "0.2 m/s", "shortwave": "0 W/m^2"}[name]
    raise InputError(f"{file}: no {name}; give its column, or a value as constants={{'{name}': '{example}'}}")
