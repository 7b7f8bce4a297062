"""Scenarios: a value of every input, from code or from a file."""

from __future__ import annotations

import math
import os
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import time
from numbers import Real
from pathlib import Path
from textwrap import indent
from typing import Any

import tomli_w

from wetspan import _core, weather_table
from wetspan.amounts import POT_VOLUME, amount_in_si
from wetspan.errors import InputError, Problems, described, echo, nearest, shortened
from wetspan.files import file_name, read_toml, toml_lines, write_text
from wetspan.parameters import POSITION, SECTIONS, TABLE, row_of
from wetspan.unit_choice import METRIC, UnitChoice
from wetspan.units import exact, outside, show, show_allowed, shown, value_in_si


class Scenario(Mapping[str, float]):
    """Everything that is applied to a crop, and what it is applied to. Immutable: `replace` makes another.

    Built from defaults and what differs from them, by section or by key:

    >>> ws.Scenario(application={"volume_rate": "3 qt / (100 ft^2)"}, air={"temperature": "84 degF"})
    >>> ws.Scenario({"air.relative_humidity": 0.8}, title="a damp morning")

    A value is text with its unit, a pint quantity, a labelled number that states its unit (attrs["units"]),
    or a bare number in the SI unit given below; one that is many times off what is usual, as 30 for a
    concentration of 30 mg/L, is refused. Reading, `scenario["air.temperature"]` is a float in that unit and
    `scenario.show("air.temperature")` is text in the unit people are shown. Inputs that are not allowed raise
    InputError, which says what is allowed and the nearest name.

    A drench may give application.volume_per_pot ("4 fl oz") instead of volume_rate, which it sets with the
    canopy.plant_density of that moment.

    One application at the start of growth, unless `applications` gives a calendar: a list of what is applied
    when, each {"at": time after the start of growth, ...} with the inputs that differ from the scenario's
    own, those of [application] by their names, others by their keys:

    >>> ws.Scenario(applications=[{"at": "0 day"}, {"at": "14 day", "concentration": "15 mg/L"}])

    A re-wetting comes after rewetting.delay, or, given rewetting.at = "07:00", at that time of day, the next
    one after the spray on the clock of the weather record. It then wants weather and a time of spraying.
    """

    __slots__ = ("_held", "rewetting_at", "title", "units", "weather")
    _held: _core.Scenario
    title: str
    rewetting_at: time | None  #: time of day of the re-wetting; None where it comes after rewetting.delay
    units: UnitChoice  #: in which it and its results are shown; those of a file are what the file speaks
    #: [weather] of the file that it was read from, its files as found from here; None where there is none.
    weather: Mapping[str, Any] | None

    def __init__(
        self,
        values: Mapping[str, object] | None = None,
        /,
        *,
        title: str = "",
        applications: Iterable[Mapping[str, object]] = (),
        **sections: Mapping[str, object],
    ) -> None:
        core = _core.Scenario()
        flat = _flat(values or {}, sections)
        at = _take_clock(flat, None)
        _set(core, flat, bare=True)
        _set_calendar(core, applications, bare=True)
        object.__setattr__(self, "_held", core)
        object.__setattr__(self, "rewetting_at", at)
        object.__setattr__(self, "title", _text(title))
        object.__setattr__(self, "units", METRIC)
        object.__setattr__(self, "weather", None)

    def __setattr__(self, name: str, value: object = None) -> None:
        raise AttributeError("a scenario does not change; use scenario.replace({...}) to make another")

    __delattr__ = __setattr__

    @property
    def _core(self) -> _core.Scenario:
        """What the core computes; it knows intervals alone."""
        if self.rewetting_at is not None:
            raise InputError(
                f"rewetting.at = '{told_clock(self.rewetting_at)}' is a time of day: it wants weather and a "
                "time of spraying; give them, or rewetting.delay, such as '18 hour'"
            )
        return self._held

    def __getitem__(self, key: str) -> float:
        row_of(key)
        return self._held.get(POSITION[key])

    def __contains__(self, key: object) -> bool:
        return key in TABLE

    def __iter__(self) -> Iterator[str]:
        return iter(TABLE)

    def __len__(self) -> int:
        return len(TABLE)

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, Scenario)
            and self._held.equals(other._held)
            and self.title == other.title
            and self.rewetting_at == other.rewetting_at
        )

    def __hash__(self) -> int:
        return hash((self.title, tuple(self.values()), str(self._held.applications), self.rewetting_at))

    def __reduce__(self) -> tuple[Any, ...]:
        told = (self.units, self.rewetting_at, self.weather)
        return _restore, (dict(self), self.title, self._held.applications, *told)

    def __repr__(self) -> str:
        title = f"title={self.title!r}" if self.title else ""
        told = {key: exact(TABLE[key], self[key]) for key in self.changed()}
        if self.rewetting_at is not None:
            told[CLOCK] = told_clock(self.rewetting_at)
        changed = ", ".join(f"{key!r}: {value!r}" for key, value in told.items())
        calendar = f"applications={_calendar(self)!r}" if self._held.applications else ""
        parts = (f"{{{changed}}}" if changed else "", calendar, title)
        return f"Scenario({', '.join(part for part in parts if part)})"

    @property
    def applications(self) -> tuple[dict[str, float], ...]:
        """The calendar: `at` [s after the start of growth] and inputs that differ, in SI; empty for none."""
        return tuple(
            {"at": at} | {_KEYS[position]: value for position, value in changes.items()}
            for at, changes in self._held.applications
        )

    def show(self, key: str) -> str:
        """Return an input as text in the unit people are shown."""
        return self.units.show(row_of(key), self[key])

    def in_units(self, units: str | UnitChoice) -> Scenario:
        """Return this scenario, to be shown in other units: "us" (degF, ft, qt per 100 ft2) or "metric"."""
        named = units if isinstance(units, UnitChoice) else UnitChoice.named(units)
        return _wrap(self._held, self.title, named, self.rewetting_at, self.weather)

    def shown(self, key: str) -> float | str | bool:
        """Return an input in the unit people are shown, without the unit; a choice by its name."""
        return shown(row_of(key), self[key])

    def changed(self) -> dict[str, float]:
        """Return the inputs that differ from their defaults."""
        return {key: value for key, value in self.items() if value != TABLE[key].standard}

    def replace(
        self,
        values: Mapping[str, object] | None = None,
        /,
        *,
        title: str | None = None,
        applications: Iterable[Mapping[str, object]] | None = None,
        **sections: Mapping[str, object],
    ) -> Scenario:
        """Return this scenario with some inputs changed, given as for the constructor."""
        core = self._held.copy()
        flat = _flat(values or {}, sections)
        at = _take_clock(flat, self.rewetting_at)
        _set(core, flat, bare=True)
        if applications is not None:
            _set_calendar(core, applications, bare=True)
        return _wrap(core, self.title if title is None else title, self.units, at, self.weather)

    def in_si(self, values: Mapping[str, float]) -> Scenario:
        """Return this scenario with some inputs changed to numbers that are known to be in SI."""
        core = self._held.copy()
        for key, value in values.items():
            core.set(POSITION[key], float(value))
        core.check()
        at = None if INTERVAL in values else self.rewetting_at
        return _wrap(core, self.title, self.units, at, self.weather)

    def with_calendar(self, applications: list[tuple[float, dict[int, float]]]) -> Scenario:
        """Return this scenario with a calendar as the core has it: times [s], inputs in SI by position."""
        core = self._held.copy()
        core.applications = applications  # type: ignore[assignment]
        core.check()
        return _wrap(core, self.title, self.units, self.rewetting_at, self.weather)

    def to_toml(self) -> str:
        """Return the scenario as a file's text: what differs from this version's defaults, with units, and
        its [weather].
        """
        return self._as_toml(Path())

    def _as_toml(self, folder: Path) -> str:
        """The text of a file in a folder."""
        document: dict[str, Any] = {"title": self.title} if self.title else {}
        for key, number in self.changed().items():
            row = TABLE[key]
            document.setdefault(row.section, {})[row.name] = _written(row, number)
        if self.rewetting_at is not None:
            document.setdefault("rewetting", {})["at"] = told_clock(self.rewetting_at)
        if self._held.applications:
            document["applications"] = _calendar(self)
        text = tomli_w.dumps(document)
        if self.weather is None:
            return text
        return f"{text}\n{weather_table.written(weather_table.seen_from(self.weather, folder))}"

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write the scenario to a TOML file that `load` reads back to an equal scenario."""
        write_text(path, self._as_toml(Path(path).parent))


def pot_cover(scenario: Scenario) -> float:
    """Return the area of the pots over that of the bench [1]."""
    return scenario["canopy.plant_density"] * math.pi / 4 * scenario["canopy.pot_diameter"] ** 2


def require_scenario(given: object) -> None:
    """Refuse what is no scenario."""
    if not isinstance(given, Scenario):
        raise InputError(f"scenario = {described(given)} is no scenario; load or build one first")


def load(path: str | os.PathLike[str]) -> Scenario:
    """Read a scenario file (TOML).

    A table for each section, every dimensional value as text with its unit, bare numbers for dimensionless
    inputs; what is left out keeps its default. `crop_file`, before the tables, names the file of a calibrated
    crop (`ws.calibrate(...).save`), relative to the scenario file: its values go before the defaults, the
    scenario's own before both. [[applications]] is a calendar: at = "14 day", and what differs from
    [application]. [weather] names the weather that goes with it, for `read_weather`. What is shown of the
    scenario and its results is in the units that the file speaks (`in_units` changes them). Unknown keys are
    refused with the nearest name. InputError tells the first thing that is wrong with its line; its
    `problems` are all of them.
    """
    name = file_name(path)
    document, text = read_toml(path)
    lines = toml_lines(text)
    try:
        return from_document(document, Path(path).parent, lambda key: _place(name, lines.get(key)))
    except InputError as error:
        told = [each if each.startswith(name) else f"{name}: {each}" for each in error.problems]
        raise InputError(told[0], told[1:]) from None


def _place(name: str, line: int | None) -> str:
    return f"{name}: " if line is None else f"{name}, line {line}: "


def is_crop(document: Mapping[str, Any]) -> bool:
    """Return whether a parsed TOML file is that of a calibrated crop."""
    return "log_covariance" in document or "rests_on" in document


def from_document(
    document: Mapping[str, Any], folder: Path | None = None, place: Callable[[str], str] | None = None
) -> Scenario:
    """Return the scenario of a parsed scenario file; a crop's file is sought from `folder`.

    `place` says of a key where it stands, before what is wrong with it.
    """
    where = place or (lambda key: "")
    if is_crop(document):
        raise InputError(
            f"{where('')}this is a calibrated crop, no scenario: give it beside one, as in `wetspan run FILE "
            "--crop CROP`, or name it in one, as in crop_file = 'CROP'"
        )
    sections = dict(document)
    title, crop = sections.pop("title", ""), sections.pop("crop_file", None)
    applications, weather = sections.pop("applications", ()), sections.pop("weather", None)
    problems = Problems()
    scenario = Scenario()
    if weather is not None:
        with problems.noted(where("weather")):
            weather = weather_table.found(weather_table.check(weather), folder or Path())
    with problems.noted(where("title")):
        scenario = _wrap(scenario._held, title)
    if crop is not None:
        with problems.noted(where("crop_file")):
            scenario = scenario.in_si(dict(_crop(crop, folder or Path())))
    core = scenario._held.copy()
    at: time | None = None
    spoken: list[tuple[_core.Parameter, object]] = []
    pour: object = None
    for section, inside in sections.items():
        with problems.noted(where(section)):
            _check_section(section, inside)
            for name, value in inside.items():
                key = f"{section}.{name}"
                if key == _POUR:
                    pour = value
                    continue
                with problems.noted(where(key)):
                    if key == CLOCK:
                        at = _take_clock({f"{section}.{each}": inside[each] for each in inside}, None)
                        continue
                    _set_one(core, key, value, bare=False)
                    spoken.append((row_of(key), value))
    if pour is not None:
        with problems.noted(where(_POUR)):
            _without_pour(
                {_POUR: pour} | dict.fromkeys([_VOLUME] * ("volume_rate" in document["application"]))
            )
            _set_pour(core, pour)
            spoken.append((TABLE[_VOLUME], pour))
    with problems.noted(where("applications")):
        _set_calendar(core, applications, bare=False)
    problems.refuse()
    core.check()
    return _wrap(core, scenario.title, UnitChoice.spoken_by(spoken), at, weather)


def _crop(name: object, folder: Path) -> Mapping[str, float]:
    from wetspan.trials.crop import load_crop  # which itself builds on scenarios

    if not isinstance(name, str):
        raise InputError(f"crop_file = {echo(name)} is not the name of a file")
    return load_crop(folder / name)


def _wrap(
    core: _core.Scenario,
    title: object,
    units: UnitChoice = METRIC,
    rewetting_at: time | None = None,
    weather: Mapping[str, Any] | None = None,
) -> Scenario:
    scenario = Scenario.__new__(Scenario)
    object.__setattr__(scenario, "_held", core)
    object.__setattr__(scenario, "rewetting_at", rewetting_at)
    object.__setattr__(scenario, "title", _text(title))
    object.__setattr__(scenario, "units", units)
    object.__setattr__(scenario, "weather", weather)
    return scenario


def _restore(
    values: dict[str, float],
    title: str,
    calendar: list[Any],
    units: UnitChoice,
    at: time | None = None,
    weather: Mapping[str, Any] | None = None,
) -> Scenario:
    scenario = Scenario().in_si(values)
    scenario._held.applications = calendar
    return _wrap(scenario._held, title, units, at, weather)


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


def _take_clock(values: dict[str, object], usual: time | None) -> time | None:
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


def _text(title: object) -> str:
    if not isinstance(title, str):
        raise InputError(f"title = {echo(title)} is not text")
    return title


def _flat(values: Mapping[str, object], sections: Mapping[str, object]) -> dict[str, object]:
    """Return dotted keys and sections as one mapping of dotted keys."""
    flat = dict(values)
    for section, inside in sections.items():
        flat |= {f"{section}.{name}": value for name, value in _check_section(section, inside).items()}
    return flat


def _check_section(section: str, inside: object) -> Mapping[str, object]:
    if section not in SECTIONS:
        hint = nearest(section, SECTIONS) or f"sections are {', '.join(SECTIONS)}"
        raise InputError(f"unknown section '{shortened(section)}'; {hint}")
    if not isinstance(inside, Mapping):
        raise InputError(f"'{section}' is a section; give its inputs, such as {_example(section)}")
    return inside


def _example(section: str) -> str:
    row = next(row for row in TABLE.values() if row.section == section)
    return f"{row.name} = {show(row, row.standard)!r}"


def _set(core: _core.Scenario, values: Mapping[str, object], *, bare: bool) -> None:
    values, pour = _without_pour(values)
    own = len(values) == len(TABLE)  # all of them are those of a scenario, however far from usual
    for key, given in values.items():
        _set_one(core, key, given, bare=bare, usual=given if own and isinstance(given, float) else None)
    if pour is not None:
        _set_pour(core, pour)
    core.check()


def _without_pour(values: Mapping[str, object]) -> tuple[Mapping[str, object], object]:
    """Return inputs without the volume that is poured into each pot, and that volume."""
    if _POUR not in values:
        return values, None
    if _VOLUME in values:
        raise InputError(f"{_POUR} and {_VOLUME} are one thing, told by pot and by area; give one of them")
    return {key: value for key, value in values.items() if key != _POUR}, values[_POUR]


def _pour_rate(core: _core.Scenario, given: object, method: float) -> float:
    """Return the volume per area of bench [m] that a volume per pot comes to."""
    if TABLE[_METHOD].choices[int(method)] == "spray":
        raise InputError(f"{_POUR} is a drench's; a spray has {_VOLUME}, such as '2 qt / (100 ft^2)'")
    return amount_in_si(_POUR, given, POT_VOLUME) * core.get(POSITION["canopy.plant_density"])


def _set_pour(core: _core.Scenario, given: object) -> None:
    rate = _pour_rate(core, given, core.get(POSITION[_METHOD]))
    row = TABLE[_VOLUME]
    if not row.low <= rate <= row.high:
        raise InputError(
            f"{_POUR} = {echo(given)} comes to {show(row, rate)} of bench; allowed is {show_allowed(row)}"
        )
    core.set(POSITION[_VOLUME], rate)


def _set_one(
    core: _core.Scenario, key: str, given: object, *, bare: bool, usual: float | None = None
) -> None:
    row = row_of(key)
    value = value_in_si(row, given, bare=bare, usual=core.get(POSITION[key]) if usual is None else usual)
    try:
        core.set(POSITION[key], value)
    except InputError:
        if isinstance(given, Real) or row.low <= value <= row.high:
            raise  # the core speaks of SI, as a bare number does
        raise outside(key, row, given) from None


#: When a re-wetting comes: at a time of day, or after an interval.
CLOCK, INTERVAL = "rewetting.at", "rewetting.delay"
#: A drench may be told by the pot: it becomes a volume per area with the plants that stand on it.
_POUR, _VOLUME, _METHOD = "application.volume_per_pot", "application.volume_rate", "application.method"
#: Keys by their position in the table.
_KEYS = list(TABLE)
#: The moment of an application is read as an input that is a time.
_TIME = TABLE["uptake.horizon"]


def _set_calendar(core: _core.Scenario, applications: object, *, bare: bool) -> None:
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
            own, pour = _without_pour(_changes(given))
            for key, value in own.items():
                if key == CLOCK:
                    raise InputError(f"{CLOCK} is the same for all applications; {INTERVAL} may differ")
                row = row_of(key)
                if not _core.may_change(POSITION[key]):
                    raise InputError(f"{key} is the same for all applications of a scenario")
                changes[POSITION[key]] = value_in_si(row, value, bare=bare, usual=core.get(POSITION[key]))
            if pour is not None:
                method = changes.get(POSITION[_METHOD], core.get(POSITION[_METHOD]))
                changes[POSITION[_VOLUME]] = _pour_rate(core, pour, method)
            at = given["at"]
            calendar.append((_seconds(at, bare), changes))
        except InputError as error:
            raise InputError(f"application {number}: {error}") from None
    core.applications = calendar  # type: ignore[assignment]  # floats and whole numbers, as the core takes
    core.check()


def _seconds(at: object, bare: bool) -> float:
    """The moment of an application [s after the start of growth]."""
    try:
        return value_in_si(_TIME, at, bare=bare, usual=float(at))  # type: ignore[arg-type]
    except (TypeError, ValueError):
        try:
            return value_in_si(_TIME, at, bare=bare)
        except InputError as error:
            raise InputError(str(error).replace(_TIME.key, "at")) from None


def _changes(given: Mapping[str, object]) -> dict[str, object]:
    """What differs, by key: bare names are those of [application]; other sections stand as tables or keys."""
    changes: dict[str, object] = {}
    for name, value in given.items():
        if name == "at":
            continue
        if isinstance(value, Mapping):
            changes |= _flat({}, {name: value})
        else:
            changes[name if "." in name else f"application.{name}"] = value
    return changes


def _calendar(scenario: Scenario) -> list[dict[str, Any]]:
    """The calendar as a file has it."""
    told = []
    for at, changes in scenario._held.applications:
        entry: dict[str, Any] = {"at": exact(_TIME, at)}
        for position, value in changes.items():
            row = TABLE[_KEYS[position]]
            if row.section == "application":
                entry[row.name] = _written(row, value)
            else:
                entry.setdefault(row.section, {})[row.name] = _written(row, value)
        told.append(entry)
    return told


def _written(row: _core.Parameter, number: float) -> float | str | bool:
    """An input's value as a file has it."""
    if row.kind != "number":
        return shown(row, number)
    return number if row.shown == "1" else exact(row, number)


def _listing() -> str:
    """Return every input with its default and SI unit, by section."""
    lines = ["Inputs, each with its default and the unit of a bare number (`ws.parameters()` tells more):"]
    for section, about in SECTIONS.items():
        lines += ["", f"{section}: {about}"]
        for row in TABLE.values():
            if row.section == section:
                unit = "" if row.unit == "1" else f" {row.unit}"
                default = show(row, row.standard) if row.kind != "number" else f"{row.standard:g}{unit}"
                others = "".join(f" or {name}" for name in row.choices if name != default)
                lines.append(f"    {row.name} = {default}{others}: {row.meaning}")
    return indent("\n".join(lines), "    ")


Scenario.__doc__ = f"{Scenario.__doc__}\n{_listing()}\n"
