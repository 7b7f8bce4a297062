"""Reading of scenario files (TOML), with the crop file and the weather that they name."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from datetime import time
from pathlib import Path
from typing import Any

from wetspan import _core, weather_table
from wetspan.crop import is_crop, load_crop
from wetspan.errors import InputError, Problems, echo
from wetspan.files import file_name, read_toml, toml_lines
from wetspan.parameters import TABLE, row_of
from wetspan.scenario import Scenario, wrapped
from wetspan.scenario_inputs import (
    CLOCK,
    POUR,
    VOLUME,
    check_section,
    set_calendar,
    set_input,
    set_pour,
    take_clock,
    without_pour,
)
from wetspan.unit_choice import UnitChoice


def load(path: str | os.PathLike[str]) -> Scenario:
    """Read a scenario file (TOML).

    The file has a table for each section. Dimensional values are text with a unit, and dimensionless ones are
    bare numbers; inputs that are left out keep their defaults. `crop_file`, before the tables, names the file
    of a calibrated crop (`ws.calibrate(...).save`), relative to the scenario file. The crop's values replace
    the defaults, and the values of the scenario file replace both. [[applications]] is a calendar: at = "14
    day", and the inputs that differ from [application]. [weather] names the weather that belongs to the
    scenario, for `read_weather`. The scenario and its results are shown in the units that the file uses
    (`in_units` changes them). An unknown key is refused with the nearest name. The message of InputError is
    the first problem, with its line; its `problems` are all of them.
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
        scenario = wrapped(scenario._held, title)
    if crop is not None:
        with problems.noted(where("crop_file")):
            scenario = scenario.in_si(dict(_crop(crop, folder or Path())))
    core = scenario._held.copy()
    at: time | None = None
    spoken: list[tuple[_core.Parameter, object]] = []
    pour: object = None
    for section, inside in sections.items():
        with problems.noted(where(section)):
            check_section(section, inside)
            for name, value in inside.items():
                key = f"{section}.{name}"
                if key == POUR:
                    pour = value
                    continue
                with problems.noted(where(key)):
                    if key == CLOCK:
                        at = take_clock({f"{section}.{each}": inside[each] for each in inside}, None)
                        continue
                    set_input(core, key, value, bare=False)
                    spoken.append((row_of(key), value))
    if pour is not None:
        with problems.noted(where(POUR)):
            without_pour({POUR: pour} | dict.fromkeys([VOLUME] * ("volume_rate" in document["application"])))
            set_pour(core, pour)
            spoken.append((TABLE[VOLUME], pour))
    with problems.noted(where("applications")):
        set_calendar(core, applications, bare=False)
    problems.refuse()
    core.check()
    return wrapped(core, scenario.title, UnitChoice.spoken_by(spoken), at, weather)


def _crop(name: object, folder: Path) -> Mapping[str, float]:
    if not isinstance(name, str):
        raise InputError(f"crop_file = {echo(name)} is not the name of a file")
    return load_crop(folder / name)
