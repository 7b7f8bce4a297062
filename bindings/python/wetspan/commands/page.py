"""`wetspan page`: write the library as a page for a browser."""

from __future__ import annotations

import argparse
from pathlib import Path

from wetspan.errors import InputError, echo
from wetspan.files import written
from wetspan.page import page
from wetspan.scenario_file import load

NAMES: dict[str, str] = {}


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = (
        "Write the library as one HTML file, which opens in any browser of a phone or a computer without a "
        "network: inputs as sliders, wet time over the day, where the spray goes."
    )
    command.add_argument(
        "file", nargs="?", metavar="FILE", help="scenario file (TOML) to start from; left out: the defaults"
    )
    command.add_argument(
        "--to", default="wetspan.html", metavar="HTML", help="file to write (default %(default)s)"
    )
    command.add_argument("--force", action="store_true", help="write over a file that is there")


def run(asked: argparse.Namespace) -> None:
    """Write the page, and say where."""
    text = page(None if asked.file is None else load(asked.file))
    path = Path(asked.to)
    if path.suffix.lower() not in (".html", ".htm"):
        raise InputError(f"--to {echo(asked.to)} is not the name of a page, such as 'wetspan.html'")
    if path.exists() and not asked.force:
        raise InputError(f"{path}: is there already; --force writes over it")
    with written(path) as beside:
        beside.write_text(text, encoding="utf-8", newline="\n")
    print(f"{path}: {len(text.encode()) / 1e6:.1f} MB; open it in a browser, or hand it on as it is")
