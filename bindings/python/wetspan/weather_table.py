"""The table [weather] of a scenario's file: which weather goes with it, and how that is read.

    [weather]
    file = "logger.csv"                        # beside the scenario's file, or the name of a typical year
    exposure = "crop"
    time_zone = "America/New_York"
    columns.temperature = "Temp (°F)"
    ...

Its keys are the arguments of `read_weather`, which reads a scenario's file by its table.
"""

from __future__ import annotations

import json
import os
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from wetspan.errors import InputError, Problems, echo, nearest
from wetspan.files import Name, read_toml, write_text

#: The keys, in the order in which they are written: texts, a share, and tables of texts.
KEYS = (
    "file", "format", "exposure", "time_zone", "label", "longest_gap", "typical", "light", "transmittance",
    "place", "columns", "units", "constants",
)  # fmt: skip
_TABLES = ("place", "columns", "units", "constants")
_HEADER = re.compile(r"^\s*\[{1,2}\s*([^\]]*?)\s*\]{1,2}\s*(?:#.*)?$")


def check(table: object) -> dict[str, Any]:
    """Return a table [weather] whose keys are known and whose values are of the right kind."""
    if not isinstance(table, Mapping):
        raise InputError("'weather' is a table; give its keys, such as file = 'logger.csv'")
    problems = Problems()
    for key, value in table.items():
        if key not in KEYS:
            hint = nearest(key, KEYS) or f"known are {', '.join(KEYS)}"
            problems.add(f"unknown key 'weather.{key}'; {hint}")
        elif key in _TABLES:
            if not isinstance(value, Mapping):
                problems.add(f"weather.{key} = {echo(value)} is no table, such as {key}.{_EXAMPLES[key]}")
        elif not isinstance(value, (bool if key == "typical" else str)):
            problems.add(
                f"weather.{key} = {echo(value)} is not {'true or false' if key == 'typical' else 'text'}"
            )
    if "file" not in table:
        problems.add("weather has no file, such as file = 'logger.csv' or file = 'piedmont'")
    problems.refuse()
    return dict(table)


_EXAMPLES = {
    "place": "name = 'my house'",
    "columns": "temperature = 'Temp (F)'",
    "units": "temperature = 'degF'",
    "constants": "wind_speed = '0.3 m/s'",
}


def schema() -> dict[str, object]:
    """Return the JSON Schema of the table."""
    kinds = {key: {"type": "boolean" if key == "typical" else "string"} for key in KEYS if key not in _TABLES}
    tables = {key: {"type": "object"} for key in _TABLES}
    return {
        "type": "object",
        "description": "The weather that goes with the scenario, and how its file is read.",
        "additionalProperties": False,
        "required": ["file"],
        "properties": kinds | tables,
    }


def stated(path: Name) -> dict[str, Any] | None:
    """Return the table of a scenario's file, its files found from there; None if it has none."""
    document, _ = read_toml(path)
    if "weather" not in document:
        return None
    try:
        table = check(document["weather"])
    except InputError as error:
        raise InputError(*_placed(path, error)) from None
    return found(table, Path(path).parent)


def found(table: Mapping[str, Any], folder: Path) -> dict[str, Any]:
    """Return the table of a file in a folder, the files that it names as found from here."""
    told = dict(table)
    for key in ("file", "light"):
        beside = folder / str(told.get(key, ""))
        if key in told and beside.is_file():
            told[key] = os.fspath(beside)
    return told


def seen_from(table: Mapping[str, Any], folder: Path) -> dict[str, Any]:
    """Return the table as a file in a folder tells it: the reverse of `found`."""
    told = dict(table)
    for key in ("file", "light"):
        if key in told and Path(told[key]).is_file():
            told[key] = Path(os.path.relpath(Path(told[key]).resolve(), folder.resolve())).as_posix()
    return told


def _placed(path: Name, error: InputError) -> tuple[str, list[str]]:
    first, *others = [f"{os.fspath(path)}: {problem}" for problem in error.problems]
    return first, others


def written(table: Mapping[str, Any]) -> str:
    """Return the table as text."""
    lines = ["[weather]"]
    for key in KEYS:
        value = table.get(key)
        if isinstance(value, Mapping):
            lines += [
                f"{key}.{_key(name)} = {_value(each)}" for name, each in value.items() if each is not None
            ]
        elif value is not None:
            lines.append(f"{key} = {_value(value)}")
    return "\n".join(lines) + "\n"


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else json.dumps(name, ensure_ascii=False)


def _value(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float | int):
        return repr(value)
    return json.dumps(str(value), ensure_ascii=False)


def save(path: Name, table: Mapping[str, Any], otherwise: str) -> None:
    """Put the table into a scenario's file, in place of the one that it has.

    Where there is no such file it begins as the text `otherwise`. Files that the table names are told from
    the folder of the scenario's file.
    """
    told = seen_from(table, Path(path).parent)
    text = read_toml(path)[1] if Path(path).exists() else otherwise
    new = replaced(text, written(told))
    try:
        document = tomllib.loads(new)
    except tomllib.TOMLDecodeError as error:
        raise InputError(
            f"{os.fspath(path)}: its [weather] cannot be replaced ({error}); take it out"
        ) from None
    check(document.get("weather"))
    write_text(path, new)


def replaced(text: str, table: str) -> str:
    """Return a file's text with another [weather], at the place of the first, or at its end."""
    kept: list[str] = []
    remarks: list[str] = []  # comments that end the table, or begin the next
    place, inside = None, False
    for line in text.splitlines():
        header = _HEADER.match(line)
        if header is not None:
            own = header[1] == "weather" or header[1].startswith("weather.")
            if own and place is None:
                place = len(kept)
            if inside and not own:
                kept += ["", *remarks] if place == len(kept) else remarks
            inside = own
        if not inside:
            kept.append(line)
        elif line.strip() and not line.lstrip().startswith("#"):
            remarks = []
        elif line.strip() or remarks:
            remarks.append(line)
    if place is None:
        return "\n".join([*kept, "", table])
    before, after = kept[:place], kept[place:]
    return "\n".join([*before, table, *after]).rstrip("\n") + "\n"
