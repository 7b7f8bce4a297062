"""Scenarios: a value for every input."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from datetime import time
from pathlib import Path
from textwrap import indent
from typing import Any

import tomli_w

from wetspan import _core, weather_table
from wetspan.errors import InputError, described, echo
from wetspan.files import write_text
from wetspan.parameters import POSITION, SECTIONS, TABLE, row_of
from wetspan.scenario_inputs import (
    CLOCK,
    INTERVAL,
    KEYS,
    TIME_OF_APPLICATION,
    flat,
    set_calendar,
    set_inputs,
    take_clock,
    told_clock,
)
from wetspan.unit_choice import METRIC, UnitChoice
from wetspan.unit_shown import show, shown
from wetspan.unit_slips import InSI
from wetspan.units import exact


class Scenario(Mapping[str, float]):
    """All inputs of one or several applications to a crop. A scenario is immutable: `replace` returns
    another.

    It is built from the defaults and the inputs that differ from them, by section or by key:

    >>> ws.Scenario(application={"volume_rate": "3 qt / (100 ft^2)"}, air={"temperature": "84 degF"})
    >>> ws.Scenario({"air.relative_humidity": 0.8}, title="a damp morning")

    A value is text with its unit, a pint quantity, a labelled number that states its unit (attrs["units"]),
    or a bare number in the SI unit given below. A bare number that differs from usual values by a large
    factor is refused, such as 30 for a concentration of 30 mg/L. `scenario["air.temperature"]` is a float in
    the SI unit, which is taken back as it is, and `scenario.show("air.temperature")` is text in the unit that
    people are shown. An input that is not allowed raises InputError, which says what is allowed and the
    nearest name.

    A drench may have application.volume_per_pot ("4 fl oz") instead of volume_rate. It is converted with the
    canopy.plant_density that the scenario has at that moment.

    There is one application, at the start of growth, unless `applications` gives a calendar. Each entry of
    this list has the time `at` after the start of growth, and the inputs that differ from those of the
    scenario: inputs of [application] by their names, others by their keys.

    >>> ws.Scenario(applications=[{"at": "0 day"}, {"at": "14 day", "concentration": "15 mg/L"}])

    A re-wetting comes after rewetting.delay. With rewetting.at = "07:00" it comes at the next such time of
    day after the spray, on the clock of the weather record; this needs weather and a time of spraying.
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
        given = flat({} if values is None else values, sections)
        at = take_clock(given, None)
        set_inputs(core, given, bare=True)
        set_calendar(core, applications, bare=True)
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
        return InSI(self._held.get(POSITION[key]))

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
        plain = {key: float(value) for key, value in self.items()}
        return _restore, (plain, self.title, self._held.applications, *told)

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
            dict[str, float](at=InSI(at))
            | {KEYS[position]: InSI(value) for position, value in changes.items()}
            for at, changes in self._held.applications
        )

    def show(self, key: str) -> str:
        """Return an input as text in the unit people are shown."""
        return self.units.show(row_of(key), self[key])

    def in_units(self, units: str | UnitChoice) -> Scenario:
        """Return this scenario, to be shown in other units: "us" (degF, ft, qt per 100 ft2) or "metric"."""
        named = units if isinstance(units, UnitChoice) else UnitChoice.named(units)
        return wrapped(self._held, self.title, named, self.rewetting_at, self.weather)

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
        given = flat({} if values is None else values, sections)
        at = take_clock(given, self.rewetting_at)
        set_inputs(core, given, bare=True)
        if applications is not None:
            set_calendar(core, applications, bare=True)
        return wrapped(core, self.title if title is None else title, self.units, at, self.weather)

    def in_si(self, values: Mapping[str, float]) -> Scenario:
        """Return this scenario with some inputs changed to numbers that are known to be in SI."""
        core = self._held.copy()
        for key, value in values.items():
            core.set(POSITION[key], float(value))
        core.check()
        at = None if INTERVAL in values else self.rewetting_at
        return wrapped(core, self.title, self.units, at, self.weather)

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
    return _core.pot_cover(scenario._core)


def require_scenario(given: object) -> None:
    """Refuse what is no scenario."""
    if not isinstance(given, Scenario):
        raise InputError(f"scenario = {described(given)} is no scenario; load or build one first")


def wrapped(
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
    return wrapped(scenario._held, title, units, at, weather)


def _text(title: object) -> str:
    if not isinstance(title, str):
        raise InputError(f"title = {echo(title)} is not text")
    return title


def _calendar(scenario: Scenario) -> list[dict[str, Any]]:
    """The calendar as a file has it."""
    told = []
    for at, changes in scenario._held.applications:
        entry: dict[str, Any] = {"at": exact(TIME_OF_APPLICATION, at)}
        for position, value in changes.items():
            row = TABLE[KEYS[position]]
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
