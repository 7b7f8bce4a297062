"""Output of the commands: tables and text for people, JSON for programs, files."""

from __future__ import annotations

import json
import shutil
import sys
import textwrap
from argparse import Namespace
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wetspan.errors import InputError
from wetspan.files import Name, written

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from rich.console import Console


def console() -> Console:
    """Return a console that prints text as it is, 118 characters wide where there is no terminal."""
    from rich.console import Console

    told = Console(highlight=False, markup=False, emoji=False)
    if not told.is_terminal:
        told.width = 118
    return told


def write_json(document: object) -> None:
    """Write a document for programs to standard output."""
    json.dump(document, sys.stdout, indent=2, allow_nan=False)
    print()


def write_text(text: str) -> None:
    """Write text, its lines wrapped to the terminal, 118 characters wide where there is none."""
    width = shutil.get_terminal_size().columns if sys.stdout.isatty() else 118
    for line in text.splitlines():
        print(textwrap.fill(line, width, break_long_words=False, break_on_hyphens=False))


def check_picture(path: Name | None) -> None:
    """Refuse a picture that could not be written, before anything is computed."""
    if path is not None:
        from wetspan import plots  # which loads matplotlib

        plots.check_path(path)


def check_report(path: Name | None) -> None:
    """Refuse a page to print that could not be written, before anything is computed."""
    if path is not None:
        from wetspan import printed  # which loads all that it may print

        printed.check_path(path)


def check_folder(path: Name | None) -> None:
    """Refuse a file in a folder that is not there, before anything is computed."""
    if path is not None and not Path(path).parent.is_dir():
        raise InputError(f"{path}: there is no folder '{Path(path).parent}' to put it in")


def check_output(asked: Namespace) -> None:
    """Refuse what `inputs.add_output` takes if it could not be written, before anything is computed."""
    check_picture(asked.picture)
    check_report(asked.report)


def save_report(result: Any, path: Name | None, **more: Any) -> None:
    """Write a page to print of a result, if one is asked for, with what `write_report` takes besides."""
    if path is not None:
        from wetspan import printed  # which loads all that it may print

        printed.write_report(result, path, **more)


def save_picture(draw: Callable[[Any], Figure], path: Name | None) -> None:
    """Draw a picture, if one is asked for, with what `wetspan.plots` has."""
    if path is not None:
        from wetspan import plots  # which loads matplotlib

        plots.save(draw(plots), path)


def save(write: Callable[[str], object], path: Name | None) -> None:
    """Have a file written, if one is asked for."""
    if path is not None:
        with written(path) as beside:
            write(str(beside))
