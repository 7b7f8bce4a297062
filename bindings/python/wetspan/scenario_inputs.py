"""Inputs as people give them, set in the core: keys, sections, volumes per pot, times of day, calendars."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import time
from math import isfinite
from numbers import Real

from wetspan import _core
from wetspan.amounts import POT_VOLUME, amount_in_si
from wetspan.errors import InputError, described, echo, nearest, shortened
from wetspan.parameters import POSITION, SECTIONS, TABLE, row_of
from wetspan.unit_shown import show, show_allowed
from wetspan.units import outside, value_in_si

#: When a re-wetting comes: at a time of day, or after an interval.
CLOCK, INTERVAL = "rewetting.at", "rewetting.delay"
#: A drench may be told by the pot: it becomes a volume per area with the plants that stand on it.
POUR, VOLUME, _METHOD = "application.volume_per_pot", "application.volume_rate", "application.method"
#: Keys by their position in the table.
KEYS = list(TABLE)
#: The moment of an application is read as an input that is a time.
TIME_OF_APPLICATION = TABLE["uptake.horizon"]


def clock_time(given: object) -> time:
    """Return a time of day from text such as "07:00" or a `datetime.time`, without a zone."""
    try:
        told = (
            time.fromisoformat(given) if isinstance(given, str) and re.match(r"\d\d:\d\d", given) else given
        )
    except ValueError:
        told = None
    if not isinstance(told, time) or told.tzinfo is not None:
        raise InputError(f"{echo(given)} is not a time of day, such as '07:00'")
    return told.replace(microsecond=0)


def told_clock(at: time) -> str:
    """Return a time of day as text that reads back to it."""
    return at.strftime("%H:%M:%S" if at.second else "%H:%M")


def take_clock(values: dict[str, object], usual: time | None) -> time | None:
    """Take rewetting.at out of values by key, and return it; rewetting.delay stands in its place."""
    if CLOCK not in values:
        return None if INTERVAL in values else usual
    if INTERVAL in values:
        raise InputError(f"{CLOCK} and {INTERVAL} are two ways to say when; keep one of them")
    given = values.pop(CLOCK)
    try:
        return None if given is None else clock_time(given)
    except InputError as error:
        raise InputError(f"{CLOCK} = {error}") from None


def flat(values: Mapping[str, object], sections: Mapping[str, object]) -> dict[str, object]:
    """Return dotted keys and sections as one mapping of dotted keys."""
    try:
        found = dict(values)
    except InputError:
        raise  # a set of published values that is not complete says what it lacks
    except (TypeError, ValueError):
        raise InputError(
            f"inputs are given by key, such as {{'air.temperature': '24 degC'}}; given {described(values)}"
        ) from None
    for section, inside in sections.items():
        found |= {f"{section}.{name}": value for name, value in check_section(section, inside).items()}
    return found


def check_section(section: str, inside: object) -> Mapping[str, object]:
    if section not in SECTIONS:
        hint = nearest(section, SECTIONS) or f"sections are {', '.join(SECTIONS)}"
        raise InputError(f"unknown section '{shortened(section)}'; {hint}")
    if not isinstance(inside, Mapping):
        raise InputError(f"'{section}' is a section; give its inputs, such as {_example(section)}")
    return inside


def _example(section: str) -> str:
    row = next(row for row in TABLE.values() if row.section == section)
    return f"{row.name} = {show(row, row.standard)!r}"


def set_inputs(core: _core.Scenario, values: Mapping[str, object], *, bare: bool) -> None:
    values, pour = without_pour(values)
    own = len(values) == len(TABLE)  # all of them are those of a scenario, however far from usual
    for key, given in values.items():
        set_input(core, key, given, bare=bare, usual=given if own and isinstance(given, float) else None)
    if pour is not None:
        set_pour(core, pour)
    core.check()


def without_pour(values: Mapping[str, object]) -> tuple[Mapping[str, object], object]:
    """Return inputs without the volume that is poured into each pot, and that volume."""
    if POUR not in values:
        return values, None
    if VOLUME in values:
        raise InputError(f"{POUR} and {VOLUME} are one thing, told by pot and by area; give one of them")
    return {key: value for key, value in values.items() if key != POUR}, values[POUR]


def _pour_rate(core: _core.Scenario, given: object, method: float) -> float:
    """Return the volume per area of bench [m] that a volume per pot comes to."""
    if TABLE[_METHOD].choices[int(method)] == "spray":
        raise InputError(f"{POUR} is a drench's; a spray has {VOLUME}, such as '2 qt / (100 ft^2)'")
    return amount_in_si(POUR, given, POT_VOLUME) * core.get(POSITION["canopy.plant_density"])


def set_pour(core: _core.Scenario, given: object) -> None:
    rate = _pour_rate(core, given, core.get(POSITION[_METHOD]))
    row = TABLE[VOLUME]
    if not row.low <= rate <= row.high:
        raise InputError(
            f"{POUR} = {echo(given)} comes to {show(row, rate)} of bench; allowed is {show_allowed(row)}"
        )
    core.set(POSITION[VOLUME], rate)


def set_input(
    core: _core.Scenario, key: str, given: object, *, bare: bool, usual: float | None = None
) -> None:
    row = row_of(key)
    value = value_in_si(row, given, bare=bare, usual=core.get(POSITION[key]) if usual is None else usual)
    try:
        core.set(POSITION[key], value)
    except InputError:
        if row.low <= value <= row.high or not isfinite(value):
            raise
        if isinstance(given, Real) and row.unit in ("1", "K"):
            raise  # the core knows what is meant by a share of 60 and by 24 K
        raise outside(key, row, given) from None


def set_calendar(core: _core.Scenario, applications: object, *, bare: bool) -> None:
    """Set the calendar from what differs at each application."""
    if isinstance(applications, Mapping | str) or not isinstance(applications, Iterable):
        raise InputError(
            "applications is a list, such as [{'at': '0 day'}, {'at': '14 day', 'method': 'drench'}]"
        )
    calendar: list[tuple[float, dict[int, float]]] = []
    for number, given in enumerate(applications, start=1):
        try:
            if not isinstance(given, Mapping) or "at" not in given:
                raise InputError("it wants a time, at = '14 day' after the start of growth")
            changes: dict[int, float] = {}
            own, pour = without_pour(_changes(given))
            for key, value in own.items():
                if key == CLOCK:
                    raise InputError(f"{CLOCK} is the same for all applications; {INTERVAL} may differ")
                row = row_of(key)
                if not _core.may_change(POSITION[key]):
                    raise InputError(f"{key} is the same for all applications of a scenario")
                changes[POSITION[key]] = value_in_si(row, value, bare=bare, usual=core.get(POSITION[key]))
            if pour is not None:
                method = changes.get(POSITION[_METHOD], core.get(POSITION[_METHOD]))
                changes[POSITION[VOLUME]] = _pour_rate(core, pour, method)
            at = given["at"]
            calendar.append((_seconds(at, bare), changes))
        except InputError as error:
            raise InputError(f"application {number}: {error}") from None
    core.applications = calendar  # type: ignore[assignment]  # floats and whole numbers, as the core takes
    core.check()


def _seconds(at: object, bare: bool) -> float:
    """The moment of an application [s after the start of growth]."""
    try:
        return value_in_si(TIME_OF_APPLICATION, at, bare=bare)
    except InputError as error:
        raise InputError(str(error).replace(TIME_OF_APPLICATION.key, "at")) from None


def _changes(given: Mapping[str, object]) -> dict[str, object]:
    """What differs, by key: bare names are those of [application]; other sections stand as tables or keys."""
    changes: dict[str, object] = {}
    for name, value in given.items():
        if name == "at":
            continue
        if isinstance(value, Mapping):
            changes |= flat({}, {name: value})
        else:
            changes[name if "." in name else f"application.{name}"] = value
    return changes
