"""Why an outcome is what it is: the ways the substance came, and the largest levers, each computed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wetspan.batch import compute
from wetspan.outcome import Outcome, entries
from wetspan.parameters import row_of
from wetspan.report import CAUTIONS
from wetspan.scenario import Scenario

#: What is tried, and how it reads. A factor multiplies an input; text replaces it.
_LEVERS: tuple[tuple[str, dict[str, float | str]], ...] = (
    ("half as much again of the same liquid", {"application.volume_rate": 1.5}),
    (
        "the same substance in half as much again of water",
        {"application.volume_rate": 1.5, "application.concentration": 1 / 1.5},
    ),
    ("a quarter more substance in the liquid", {"application.concentration": 1.25}),
    ("the same substance as a drench", {"application.method": "drench"}),
    ("droplets two thirds as large", {"droplets.dv50": 2 / 3}),
    ("droplets half as large again", {"droplets.dv50": 1.5}),
    ("a third of the air speed at the leaves", {"air.speed": 1 / 3}),
    ("three times the air changes with the vents closed", {"house.air_changes": 3.0}),
    (
        "half of the leaf area and crown cover, a younger crop",
        {"canopy.leaf_area": 0.5, "canopy.crown_cover": 0.5},
    ),
    (
        "a wetting agent: 30 mN/m, contact angle 40 deg",
        {"liquid.surface_tension": "30 mN/m", "leaf.contact_angle": "40 deg"},
    ),
    ("a light pass of water later (0.1 L/m2)", {"rewetting.volume_rate": "0.1 L/m^2"}),
)
#: A growth control that moves by less reads as the same.
_NOTHING = 0.0005


@dataclass(frozen=True)
class Lever:
    """One change and what it does: growth control with it, less growth control without."""

    change: str
    control: float
    gain: float

    def __str__(self) -> str:
        return f"{self.change}: growth control {100 * self.control:.1f} %, {100 * self.gain:+.1f} points"


@dataclass(frozen=True)
class Why:
    """Where an outcome's growth control comes from.

    `through` is the share of what reaches the growing tips by site; `levers` are the changes that move growth
    control the most, the largest first, each computed on its own in the same air; those that move it by less
    than 0.05 points are left out.
    """

    through: dict[str, float]
    levers: tuple[Lever, ...]
    control: float

    def __str__(self) -> str:
        ways = ", ".join(f"{100 * share:.0f} % through {site}" for site, share in self.through.items())
        lines = [f"Growth control {100 * self.control:.1f} %. Of what reaches the growing tips came {ways}."]
        return "\n".join([*lines, *(f"- {lever}" for lever in self.levers), "", CAUTIONS])


def why(outcome: Outcome, *, most: int = 6, threads: int = 0) -> Why:
    """Tell where an outcome's growth control comes from and which changes would move it the most."""
    scenario = outcome.scenario
    tried = [
        (change, other)
        for change, factors in _LEVERS
        if (other := _changed(scenario, factors)) is not None and other != scenario
    ]
    computed = compute(
        [other for _, other in tried],
        [outcome.air],
        count=len(tried),
        scenario_of=np.arange(len(tried), dtype=np.uint64),
        starts=np.full(len(tried), outcome.start),
        threads=threads,
    )
    levers = [
        Lever(change, float(control), float(control) - outcome.growth_control)
        for (change, _), control in zip(tried, computed.columns["growth_control"], strict=True)
        if abs(control - outcome.growth_control) >= _NOTHING  # nor what cannot be computed, NaN
    ]
    levers.sort(key=lambda lever: -abs(lever.gain))
    total = float(outcome.at_tips.sum())
    through = {site: amount / total if total > 0.0 else 0.0 for site, amount in entries(outcome.at_tips)}
    return Why(through, tuple(levers[:most]), outcome.growth_control)


def _changed(scenario: Scenario, factors: dict[str, float | str]) -> Scenario | None:
    """The scenario with a lever moved, as far as the bounds allow; None where it is there already."""
    values: dict[str, object] = {}
    for key, factor in factors.items():
        row = row_of(key)
        values[key] = (
            factor if isinstance(factor, str) else float(np.clip(scenario[key] * factor, row.low, row.high))
        )
    if scenario.shown("application.method") == "drench" and not set(factors) & {
        "application.volume_rate",
        "application.concentration",
    }:
        return None
    if scenario["rewetting.volume_rate"] > 0.0 and "rewetting.volume_rate" in factors:
        return None
    if "leaf.contact_angle" in factors:
        values["leaf.receding_angle"] = min(scenario["leaf.receding_angle"], np.deg2rad(20.0))
    return scenario.replace(values)
