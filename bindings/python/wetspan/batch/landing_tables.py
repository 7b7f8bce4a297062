"""The decision for which sprays of a batch a table of flights saves time."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from wetspan.record import Numbers, distinct
from wetspan.scenario import Scenario

#: What inputs that may reach a landing begin with: rows that agree in them share a table.
REACH_THE_LANDING = (
    "application.",
    "nozzle.",
    "liquid.",
    "droplets.",
    "canopy.",
    "retention.",
    "leaf.contact_angle",
    "stem.",
    "air.diffusivity",
    "numerics.",
)
FLIGHTS = "numerics.flights"
#: Sprays of one kind for which filling their table of flights pays (measured in docs/how_to/many_sprays.md).
TABLE_PAYS = 1000


def flown(scenario: Scenario, inputs: Mapping[str, Numbers]) -> dict[str, Numbers]:
    """Return inputs with numerics.flights as is cheapest, where a table is asked for and sprays vary by row.

    Filling the table of a spray that few rows share costs more than computing each of their flights.
    """
    kinds = None if FLIGHTS in inputs or scenario[FLIGHTS] == 0.0 else kinds_of_spray(inputs)
    if kinds is None:
        return dict(inputs)
    sharing = np.bincount(kinds)[kinds]
    return dict(inputs) | {FLIGHTS: np.where(sharing < TABLE_PAYS, 0.0, scenario[FLIGHTS])}


def kinds_of_spray(inputs: Mapping[str, Numbers]) -> npt.NDArray[np.int64] | None:
    """Return a number for each row, the same for rows of one spray; None where the inputs change no spray."""
    sprays = [values for name, values in inputs.items() if name.startswith(REACH_THE_LANDING)]
    if not sprays or not len(sprays[0]):
        return None
    return distinct(sprays)[0]
