"""Weather files: the samples by name, the text of a file, and its format."""

from __future__ import annotations

import importlib.util
import os
import re
from importlib import metadata
from pathlib import Path

from wetspan.errors import InputError, nearest
from wetspan.files import file_name, text_of
from wetspan.weather.variables import short

SAMPLES = {"miami": "12839.tm2", "sand-point": "703165TY.csv", "piedmont": "723170TYA.CSV"}


def sample_weather() -> dict[str, Path]:
    """Return the paths of three public typical years of the United States, by name; pvlib contains the files.

    "miami" (TMY2), "sand-point" in Alaska (TMY3) and "piedmont" in North Carolina (TMY3).
    """
    return {name: _sample(name) for name in SAMPLES}


def weather_format(path: str | os.PathLike[str]) -> str:
    """Return the format of a weather file, "tmy2", "tmy3", "epw" or "csv", as its first lines show it."""
    return format_of(text_of(find(path))[0])


def find(path: str | os.PathLike[str]) -> Path:
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


def format_of(text: str) -> str:
    """Return the format that the first lines of a file show."""
    first, second = [*text.split("\n", 2), ""][:2]
    if first.strip().upper().startswith("LOCATION,"):
        return "epw"
    if re.sub(r'["\s]', "", second).lower().startswith("date(mm/dd/yyyy),time(hh:mm),"):
        return "tmy3"
    return "tmy2" if re.match(r" ?\d{5} .{22} .{2} +-?\d+ [NS] ", first) else "csv"
