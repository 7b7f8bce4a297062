"""A check of a table of measurements without a scenario, which reports every impossible line at once."""

from __future__ import annotations

import re

from wetspan.measure import leaf_table, pots, wash
from wetspan.measure.table import Measured, Table
from wetspan.scenario import Scenario

EXPERIMENTS = ("leaf", "pots", "wash")


def experiment_of(headings: list[str]) -> str | None:
    """Which experiment a table with these headings (lower case) is of; None if of none."""
    starts = {re.split(r"[ \[(_]", heading.strip(), maxsplit=1)[0] for heading in headings}
    if {"pot", "washed"} <= starts:
        return "wash"
    if {"pot", "part", "mass"} <= starts:
        return "pots"
    return "leaf" if {"leaf", "state", "mass"} <= starts else None


def checked(experiment: str, table: Table) -> str:
    """What a good table holds, in a few words; raises InputError with one line for each wrong one.

    Masses against the volume that was sprayed are checked when the table is read with its scenario.
    """
    if experiment == "leaf":
        found, step = leaf_table.leaves_of(Scenario(), leaf_table.table_of(table), None)
        paper = sum(each.kind == "paper" for each in found)
        leaves = len(found) - paper
        return f"{leaves} weighed leaves, {paper} of paper, on a balance with a step of {1e6 * step:g} mg"
    if experiment == "pots":
        caught, notes = pots.caught_by(Measured(table, pots.TEXTS, pots.QUANTITIES))
        counts = ", ".join(f"{len(each)} of {part}" for part, each in caught.items())
        return f"weighed objects: {counts}. {' '.join(notes)}"
    # whether pots were re-wetted, and how, is the scenario's to say
    washes = wash.washes_of(Scenario().replace({"rewetting.volume_rate": "0.02 L/m^2"}), table)
    return f"{len(washes.time)} washed deposits, {int(washes.glass.sum())} of glass"
