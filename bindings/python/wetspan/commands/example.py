"""`wetspan example`: print a scenario to begin with."""

from __future__ import annotations

import argparse
import sys

from wetspan.commands.inputs import example_text

NAMES: dict[str, str] = {}


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = (
        "Print a scenario's file with remarks, valid as it stands: `wetspan example > mine.toml`, then edit "
        "it."
    )
    command.add_argument(
        "--units", choices=("us", "metric"), default="us", help="units it is written in (default %(default)s)"
    )


def run(asked: argparse.Namespace) -> None:
    """Print the file."""
    sys.stdout.write(example_text(asked.units))
