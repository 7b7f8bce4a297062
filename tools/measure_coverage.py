"""Five hundred invented experiments of each kind: do intervals cover, is the planned precision met?

Prints the rows of the table in docs/science/measuring.md. It takes a quarter of an hour
for each kind and is no part of the gate, whose tests do the same with thirty.

    python tools/measure_coverage.py leaf 500
"""

from __future__ import annotations

import sys

import numpy as np
import wetspan as ws
from wetspan import measure
from wetspan.measure import invented


def leaf(seeds: range) -> None:
    """Three leaves and twenty weighings each, everything drawn from what the reading assumes."""
    scenario = ws.Scenario(title="a made-up room").replace({"air.shortwave": "20 W/m^2"})
    plan = measure.plan_leaf(scenario, leaves=3)
    met: dict[tuple[str, float], list[bool]] = {}
    reach, waves = [], []
    for seed in seeds:
        made = invented.invent_leaf(scenario, leaves=3, seed=seed, weighings=20)
        found = measure.read_leaf(scenario, made.table)
        truth = made.truth | {"leaf.turbulence": made.truth["factor"] * scenario["leaf.turbulence"]}
        for level, z in ((0.8, 1.2816), (0.95, 1.9600)):
            for key in found.learned.keys:
                _, low, high = found.learned.interval(key, level)
                met.setdefault((key, level), []).append(low <= truth[key] <= high)
            for name, row in found.table.iterrows():
                sd = np.log(row["wet_upper"] / row["wet_lower"]) / 2 / 1.96
                off = abs(np.log(row["wet_time"] / made.wet_times[str(name)]))
                met.setdefault(("wet time of a leaf", level), []).append(bool(off <= z * sd))
        reach.append(np.log(found.factor[2] / found.factor[1]) / 2)
        waves.append(any("run in waves" in line for line in found.warnings))
    report(met)
    print(f"boundary layer, half-width: planned {plan.boundary_precision:.3f}, mean {np.mean(reach):.3f}")
    print(f"called wavy though the model holds: {np.mean(waves):.1%}")
    for factor in (2.0, 0.5, 1.0):
        noticed = []
        for seed in seeds[: len(seeds) // 5]:
            made = invented.invent_leaf(scenario, leaves=4, seed=seed, weighings=12, factor=factor)
            found = measure.read_leaf(scenario, made.table)
            noticed.append(any("boundary layer as the model" in line for line in found.warnings))
        print(
            f"transfer {factor:g} times the model's, 4 leaves: noticed in {np.mean(noticed):.0%} of"
            f" {len(noticed)}"
        )


def report(met: dict[tuple[str, float], list[bool]]) -> None:
    """Print what share of intervals held the truth."""
    for (key, level), found in met.items():
        print(
            f"{key}: {100 * level:.0f} % intervals hold the truth in {100 * np.mean(found):.1f} % of"
            f" {len(found)}"
        )


if __name__ == "__main__":
    {"leaf": leaf}[sys.argv[1]](range(int(sys.argv[2])))
