"""`wetspan measure`: plan a measurement of your own, print its sheet, read it, calibrate a crop to it."""

from __future__ import annotations

import argparse

from wetspan.commands.parser import add_command

#: What each part does; its module is loaded when it is asked for.
PARTS = {
    "plan": "how many leaves, pots or washes, which balance, which times",
    "sheet": "the sheet to print and fill in",
    "read": "what was measured, beside what the model predicts",
    "calibrate": "what measurements, and trials with them, say about the crop of a scenario",
}


def add(command: argparse.ArgumentParser) -> None:
    """Add the parts."""
    command.description = (
        "Measure it yourself: weighed leaves (how long are they wet?), weighed pots (where did the spray"
        " go?), washed deposits (does the residue go on?). For the first two water with dye serves, and no"
        " active ingredient is needed; the last needs it, gloves and a laboratory."
    )
    parts = command.add_subparsers(title="commands", required=True, metavar="COMMAND")
    for name, does in PARTS.items():
        add_command(parts, f"wetspan.commands.measure_{name}", name, does)
