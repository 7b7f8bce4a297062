"""Files: errors in one line when reading; when writing, a temporary file that is renamed, so that none is
left half written.
"""

from __future__ import annotations

import codecs
import os
import re
import shutil
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from wetspan.errors import InputError, described

Name = str | os.PathLike[str]

_HEADER = re.compile(r"\s*\[\s*([^\[\]]+?)\s*\]\s*(?:#.*)?$")
_KEY = re.compile(
    r"""\s*((?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*'))*)\s*="""
)


#: First bytes of files that hold no plain text, and what is to be done about them.
_NO_TEXT = (
    (b"PK\x03\x04", "is a spreadsheet's workbook or an archive, not text; save the sheet as CSV"),
    (b"\xd0\xcf\x11\xe0", "is a spreadsheet's workbook, not text; save the sheet as CSV"),
    (b"\x1f\x8b", "is compressed, not text; unpack it first"),
    (b"%PDF", "is a PDF; its numbers are wanted as CSV"),
    (codecs.BOM_UTF32_LE, "is text in UTF-32; save it as UTF-8"),
    (codecs.BOM_UTF32_BE, "is text in UTF-32; save it as UTF-8"),
)
_MARKUP = re.compile(rb"(\xef\xbb\xbf)?\s*<(!doctype|html|table|\?xml)\b", re.IGNORECASE)


def file_name(path: object) -> str:
    """Return a path as text; what is no path is refused."""
    if not isinstance(path, str | os.PathLike):
        raise InputError(f"a file's path is wanted, such as 'mine.toml'; given {described(path)}")
    return str(os.fspath(path))


def read_toml(path: Name) -> tuple[dict[str, Any], str]:
    """Return what a TOML file holds, and its text; InputError says in one line what is wrong."""
    name = file_name(path)
    try:
        text = Path(path).read_text(encoding="utf-8-sig")  # some editors open a file with a byte order mark
    except FileNotFoundError:
        folder = Path(path).parent
        others = [entry.name for entry in folder.glob("*.toml")] if folder.is_dir() else []
        close = get_close_matches(Path(path).name, others, n=1, cutoff=0.8)
        hint = f"; there is '{folder / close[0]}'" if close else ""
        raise InputError(f"{name}: there is no such file{hint}") from None
    except UnicodeDecodeError:
        raise InputError(f"{name}: this is not a text file in UTF-8") from None
    except (OSError, ValueError) as error:  # ValueError: a null character in the name
        raise InputError(f"{name}: cannot be read ({getattr(error, 'strerror', None) or error})") from None
    try:
        return tomllib.loads(text), text
    except RecursionError:
        raise InputError(f"{name}: tables or arrays are nested too deep") from None
    except ValueError as error:  # TOMLDecodeError, or a whole number of more digits than Python reads
        raise InputError(f"{name}: this is not TOML: {error}") from None


def text_of(path: Path) -> tuple[str, list[str]]:
    """Return a text file with plain newlines, and notes on how it was read."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise InputError(f"{path}: cannot be read: {error.strerror}") from None
    if not raw.strip():
        raise InputError(f"{path}: the file is empty")
    for begins, what in _NO_TEXT:
        if raw.startswith(begins):
            raise InputError(f"{path}: {what}")
    if _MARKUP.match(raw):
        raise InputError(f"{path}: is a page or a workbook in HTML or XML; save its table as CSV")
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            raw = raw.decode("utf-16").encode()
        except UnicodeDecodeError:
            raise InputError(f"{path}: begins as UTF-16 text and is none; save it as UTF-8") from None
    raw = raw.rstrip(b"\x1a")  # the end of a text, to some old programs
    if _every_other_is_zero(raw[:2000]):
        raise InputError(f"{path}: looks like UTF-16 text without a byte order mark; save it as UTF-8")
    if control := re.search(rb"[\x00-\x08\x0e-\x1f]", raw):
        raise InputError(f"{path}: is not text: byte {control[0][0]} at position {control.start()}")
    notes = []
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("latin-1")
        notes.append("Not UTF-8: read as Latin-1.")
    return text.replace("\r\n", "\n").replace("\r", "\n"), notes


def _every_other_is_zero(raw: bytes) -> bool:
    """Return whether bytes are those of plain letters in UTF-16."""
    zeros = sorted((raw[0::2].count(0), raw[1::2].count(0)))
    return zeros[0] == 0 and zeros[1] > len(raw) / 4


def separated(line: str) -> str:
    """Return what to do about a line of headings that no comma, semicolon or tab divides, "" if nothing."""
    for mark in "|^~":
        if mark in line:
            between = f"'{mark}'"
            break
    else:
        between = "spaces" if re.search(r"\S {2,}\S", line) else ""
    told = f"its columns have {between} between them; save it with commas, semicolons or tabs there"
    return told if between else ""


def toml_lines(text: str) -> dict[str, int]:
    """Return the line on which each key and each table of a TOML file stands, by its dotted name."""
    table, found = "", dict[str, int]()
    for number, line in enumerate(text.splitlines(), start=1):
        if header := _HEADER.match(line):
            table = _plain(header[1])
            found.setdefault(table, number)
        elif key := _KEY.match(line):
            found.setdefault(".".join(filter(None, (table, _plain(key[1])))), number)
    return found


def _plain(name: str) -> str:
    return ".".join(part.strip().strip("\"'") for part in name.split("."))


@contextmanager
def written(path: Name) -> Iterator[Path]:
    """Give a path to write to, beside the one asked for, which takes its name when it is written whole.

    What cannot be written is refused in one line, and a file that was there before stays as it was. A device
    or a pipe is written to as it is.
    """
    name = file_name(path)
    try:
        target = Path(os.path.realpath(path))
        if target.exists() and not target.is_file():
            yield target
            return
        if not target.parent.is_dir():
            raise InputError(f"{name}: there is no folder '{target.parent}' to put it in; make it first")
        beside = target.with_name(f".{target.stem[:100]}.{os.getpid()}{target.suffix}")
        try:
            yield beside
            if target.exists():
                shutil.copymode(target, beside)
            beside.replace(target)
        finally:
            beside.unlink(missing_ok=True)
    except OSError as error:
        raise InputError(f"{name}: cannot be written ({error.strerror or error})") from None


def write_text(path: Name, text: str) -> None:
    """Write a text file in UTF-8, whole or not at all."""
    with written(path) as beside:
        beside.write_text(text, encoding="utf-8")
