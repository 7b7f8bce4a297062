"""Five hundred invented experiments of each kind: do intervals cover, is the planned precision met?

Prints the rows of the table in docs/science/measuring.md. It takes a quarter of an hour
for each kind and is no part of the gate, whose tests do the same with thirty.

    python tools/measure_coverage.py leaf 500 [first seed]
"""

from __future__ import annotations

import sys

import numpy as np
import pandas as pd
import wetspan as ws
from wetspan import measure
from wetspan.measure import invented
from wetspan.measure.wash import KEYS, ResidueModel, washes_of


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


def pots(seeds: range) -> None:
    """Six pots under a spray to run-off, rising leaves; everything drawn from what the reading assumes."""
    scenario = ws.Scenario(title="a made-up bench").replace(
        {"application.volume_rate": "6 qt / (100 ft^2)", "canopy.habit": "funnel"}
    )
    plan = measure.plan_pots(scenario, pots=6)
    met: dict[tuple[str, float], list[bool]] = {}
    reach, missed = [], []
    for seed in seeds:
        made = invented.invent_pots(scenario, seed=seed)
        found = measure.read_pots(scenario, made.table)
        for level in (0.8, 0.95):
            for key in found.learned.keys:
                _, low, high = found.learned.interval(key, level)
                met.setdefault((key, level), []).append(low <= made.truth[key] <= high)
        for name, row in found.table.iterrows():
            inside = row["lower"] <= made.truth[f"share of {name}"] <= row["upper"]
            met.setdefault(("a share", 0.95), []).append(bool(inside))
        reach.append(found.table.loc["shoot", "upper"] / found.table.loc["shoot", "measured"] - 1)
        missed.append(found.misfit_p < 0.01)
    report(met)
    print(f"the shoot's share, half-width: planned {plan.precision:.3f}, mean {np.mean(reach):.3f}")
    print(f"called a misfit though the model holds: {np.mean(missed):.1%}")
    for truth, told in (
        (scenario.replace({"retention.stemflow_odds": 1e-4}), "none"),
        (scenario, "as foretold"),
    ):
        said = []
        for seed in seeds[: len(seeds) // 5]:
            made = invented.invent_pots(scenario, seed=seed, truth=truth)
            found = measure.read_pots(scenario, made.table)
            said.append(any("stemflow" in line for line in found.warnings))
        print(f"stemflow {told}: doubted in {np.mean(said):.0%} of {len(said)}")


def wash(seeds: range) -> None:
    """Six pots and six glass plates at each of four times."""
    scenario, hours = ws.Scenario(title="a made-up bench"), (1.0, 24.0, 72.0, 168.0)
    plan = measure.plan_wash(scenario, washes=6)
    model = ResidueModel(scenario)
    met: dict[tuple[str, float], list[bool]] = {}
    reach = []

    def weights_of(table: pd.DataFrame) -> np.ndarray:
        return model.posterior(washes_of(scenario, table))

    for seed in seeds:
        made = invented.invent_wash(scenario, seed=seed, hours=hours, glass=6)
        weights = weights_of(made.table)
        for level in (0.8, 0.95):
            for place, key in enumerate(KEYS):
                low, high = np.exp(
                    model.quantiles(weights, place, np.array([0.5 - level / 2, 0.5 + level / 2]))
                )
                met.setdefault((key, level), []).append(bool(low <= made.truth[key] <= high))
        alike = invented.invent_wash(scenario, seed=seed, hours=hours, glass=6, center=True)
        reach.append(1.96 * np.sqrt(model.moments(weights_of(alike.table))[1][0, 0]))
    report(met)
    print(f"mobile share, half-width: planned {plan.precision:.3f}, mean {np.mean(reach):.3f}")


def report(met: dict[tuple[str, float], list[bool]]) -> None:
    """Print what share of intervals held the truth."""
    for (key, level), found in met.items():
        print(
            f"{key}: {100 * level:.0f} % intervals hold the truth in {100 * np.mean(found):.1f} % of"
            f" {len(found)}"
        )


if __name__ == "__main__":
    kind, many, *first = sys.argv[1:]
    start = int(first[0]) if first else 0
    {"leaf": leaf, "pots": pots, "wash": wash}[kind](range(start, start + int(many)))
