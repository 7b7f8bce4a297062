"""`wetspan uncertainty`: the ranges of the outcomes over draws of the unknown inputs, and the evidence behind
them.
"""

from __future__ import annotations

import argparse

from wetspan.cautions import CAUTIONS
from wetspan.commands.inputs import add_json, add_samples, add_scenario, check_samples, scenario_of
from wetspan.commands.output import console, write_json
from wetspan.report import uncertainty_document, uncertainty_tables, uncertainty_told, what_is_sprayed
from wetspan.sensitivity import uncertainty

NAMES: dict[str, str] = {}


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = (
        "Draw every unknown input within its plausible spread, in the scenario's unchanging air: the ranges "
        "of wet time and growth control, which inputs they come from, and on what evidence these rest."
    )
    add_scenario(command, optional=True)
    add_samples(command, 1000, none=False)
    add_json(command)


def run(asked: argparse.Namespace) -> None:
    """Draw, and tell it."""
    check_samples(asked)
    scenario, crop = scenario_of(asked)
    study = uncertainty(scenario, asked.samples, asked.seed, crop=crop)
    if asked.json:
        write_json(uncertainty_document(study))
        return
    told = console()
    told.print(f"{what_is_sprayed(scenario)}\n")
    for table in uncertainty_tables(study):
        told.print(table)
        told.print()
    told.print(f"{uncertainty_told(study)}\n\n{CAUTIONS}")
