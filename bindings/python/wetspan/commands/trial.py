"""`wetspan trial`: plan a trial, read it, calibrate a crop to it."""

from __future__ import annotations

import argparse

from wetspan.commands.parser import add_command

#: What each part does; its module is loaded when it is asked for.
PARTS = {
    "plan": "how many plants, and where each one stands",
    "read": "what the plants of a trial show",
    "calibrate": "what trials say about the crop of a scenario",
}


def add(command: argparse.ArgumentParser) -> None:
    """Add the parts."""
    command.description = (
        "A trial against an untreated check: how many plants and where they stand, what their heights show, "
        "and what that says about the crop of a scenario."
    )
    parts = command.add_subparsers(title="commands", required=True, metavar="COMMAND")
    for name, does in PARTS.items():
        add_command(parts, f"wetspan.commands.trial_{name}", name, does)
