"""Hold the statistics of trials against simulation: calibration, coverage, power.

Usage: python tools/study_statistics.py [--crops 500] [--benches 2000] [--seed 1] [--picture ranks.png]

Prints what docs/science/trials.md and calibration.md tell, with counts. It takes minutes and is no part of the gate;
tests/python/verification/test_statistics.py runs a small one.
"""

# ruff: noqa: E501  (usage)
from __future__ import annotations

import argparse
import time

import numpy as np
import pandas as pd
import wetspan as ws
from scipy import stats
from wetspan.crop import Z90
from wetspan.trials import compare
from wetspan.trials.crop_fit import DECIDABLE, CropModel

BENCH = ws.Scenario(application={"concentration": "30 mg/L"}, title="a made-up bench")
TESTED = (20.0, 60.0, 180.0, 540.0)  # [mg/L]
RATES = {"low": "15 mg/L", "middle": "30 mg/L", "high": "60 mg/L"}
LAYOUTS = {
    "randomised": {},
    "randomised, more check": {"more_check": True},
    "blocked": {"design": "blocked"},
    "blocked, more check": {"design": "blocked", "more_check": True},
}
DRAWS = 99


def ranks(crops: int, seed: int, plants: int = 10, cv: float = 0.09) -> np.ndarray:
    """Rank of the truth among draws of `calibrate`, [crop, input], 0 to DRAWS.

    Crops are drawn from the prior, their trials grown by the spray model (Talts et al. 2018): ranks are uniform
    where draws come from what the trial left possible.
    """
    random = np.random.default_rng(seed)
    spread = ws.parameters().loc[list(DECIDABLE), "spread"].to_numpy()
    middle = np.log([BENCH[key] for key in DECIDABLE])
    sprays = [BENCH.replace({"application.concentration": f"{rate} mg/L"}) for rate in TESTED]
    model = CropModel(DECIDABLE, sprays)
    group = np.repeat(np.arange(len(TESTED) + 1), plants)
    names = np.array(["untreated", *(f"{rate:g}" for rate in TESTED)])
    found = []
    for one in range(crops):
        truth = middle + random.normal(size=len(DECIDABLE)) * np.log(spread) / Z90
        control = np.concatenate([[0.0], model.controls(truth[None])[0]])
        heights = 30.0 * (1 - control[group] + cv * random.standard_normal(len(group)))
        table = pd.DataFrame(
            {
                "treatment": names[group],
                "rate": np.concatenate([[0.0], TESTED])[group],
                "height_cm": np.maximum(heights, 0.5),
            }
        )
        result = ws.read_trial(table, rate="rate", units={"rate": "mg/L"})
        draws = ws.calibrate(BENCH, result).draw(DRAWS, seed=one)
        logs = np.log([[drawn[key] for key in DECIDABLE] for drawn in draws])
        found.append((logs < truth).sum(axis=0))
    return np.array(found)


def uniformity(found: np.ndarray, cells: int = 10) -> tuple[np.ndarray, float]:
    """Counts of ranks in equal cells, and the p value that they come from even chances."""
    counts = np.bincount(found * cells // (DRAWS + 1), minlength=cells)
    return counts, float(stats.chisquare(counts).pvalue)


def draw(found: np.ndarray, path: str, cells: int = 20) -> None:
    """Histograms of the ranks, with the band that holds 95 % of even counts."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9, 3.2), layout="constrained")
    for ax, key, of in zip(figure.subplots(1, len(DECIDABLE), sharey=True), DECIDABLE, found.T, strict=True):
        ax.axhspan(*stats.binom.interval(0.95, len(of), 1 / cells), color="0.88")
        ax.axhline(len(of) / cells, color="0.5", lw=1)
        ax.hist(of, bins=np.linspace(0, DRAWS + 1, cells + 1) - 0.5, color="#24806f")
        ax.set(title=key, xlabel=f"rank of the truth among {DRAWS} draws")
    figure.axes[0].set_ylabel("crops")
    figure.savefig(path, dpi=110)


def coverage(layout: dict[str, object], level: float, benches: int, seed: int) -> dict[str, int]:
    """On how many benches limits hold the truth: of one control, and of all differences together."""
    plan = ws.plan_trial(rates=RATES, cv=0.1, difference=0.15, seed=3, **layout)
    random = np.random.default_rng(seed)
    truth = {plan.check: 0.0, "low": 0.05, "middle": 0.15, "high": 0.30}
    control = plan.layout["treatment"].map(truth).to_numpy()
    block = plan.layout["block"].to_numpy()
    places = 0.05 * (block - block.mean()) if plan.blocks > 1 else np.zeros(len(block))
    hits = {"control": 0, "differences": 0}
    for _ in range(benches):
        heights = 30.0 * (1 - control + places + 0.1 * random.standard_normal(len(control)))
        table = plan.layout.assign(height_cm=heights)
        read = ws.read_trial(table, block="block" if plan.blocks > 1 else None, level=level).table
        if "treatment" in read.columns:
            read = read.set_index("treatment")
        one = read.loc["middle"]
        hits["control"] += bool(one["control_lower"] <= 0.15 <= one["control_upper"])
        hits["differences"] += all(
            read.loc[name, "difference_lower"] <= -30.0 * truth[name] <= read.loc[name, "difference_upper"]
            for name in ("low", "middle", "high")
        )
    return hits


def power(layout: dict[str, object], benches: int, seed: int, **asked: float) -> tuple[float, float]:
    """What a plan promises, and the share of simulated trials in which the treatment that acts is found."""
    plan = ws.plan_trial(rates=RATES, seed=3, **layout, **asked)
    random = np.random.default_rng(seed)
    names = [plan.check, *plan.treatments]
    of = np.array([names.index(name) for name in plan.layout["treatment"]])
    block = plan.layout["block"].to_numpy()
    design = np.column_stack(
        [of[:, None] == np.arange(len(names)), block[:, None] == np.arange(2, plan.blocks + 1)]
    ).astype(float)
    means = np.ones(len(names))
    means[2] -= asked["difference"]
    heights = means[of] + asked["cv"] * random.standard_normal((benches, len(of)))
    estimates = heights @ np.linalg.pinv(design).T
    variance = ((heights - estimates @ design.T) ** 2).sum(axis=1) / plan.df
    contrast = np.zeros(design.shape[1])
    contrast[[0, 2]] = -1.0, 1.0
    t = estimates @ contrast / np.sqrt(variance * (contrast @ np.linalg.inv(design.T @ design) @ contrast))
    share = plan.plants / (plan.plants + plan.check_plants)
    correlation = np.full((3, 3), share) + (1 - share) * np.eye(3)
    return plan.power, float(np.mean(np.abs(t) > compare.dunnett_critical(correlation, plan.df)))


def main() -> None:
    parser = argparse.ArgumentParser(description="Hold the statistics of trials against simulation.")
    parser.add_argument("--crops", type=int, default=500)
    parser.add_argument("--benches", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--picture", help="write the histograms of the ranks to this file")
    asked = parser.parse_args()
    began = time.monotonic()
    compare.dunnett_p = lambda t, *_: np.ones(len(t))  # p values, which are slow and have no part here

    if asked.crops:
        print(f"calibrate: ranks of the truth among {DRAWS} draws, {asked.crops} crops from the prior")
        found = ranks(asked.crops, asked.seed)
        for key, of in zip(DECIDABLE, found.T, strict=True):
            counts, p = uniformity(of)
            inside = np.mean((of >= 10) & (of < 90))
            print(f"  {key}: {' '.join(map(str, counts))}; p = {p:.2g}; 80 % hold {100 * inside:.1f} %")
        if asked.picture:
            draw(found, asked.picture)
        print(f"  {time.monotonic() - began:.0f} s", flush=True)
    if not asked.benches:
        return
    print(f"read_trial: limits that hold the truth, of {asked.benches} benches each")
    for name, layout in LAYOUTS.items():
        for level in (0.9, 0.95):
            hits = coverage(layout, level, asked.benches, asked.seed)
            told = ", ".join(f"{what} {100 * hit / asked.benches:.1f} %" for what, hit in hits.items())
            print(f"  {name}, {100 * level:.0f} %: {told}", flush=True)
    print("plan_trial: power promised and simulated, 20000 trials each")
    for name, layout in LAYOUTS.items():
        for cv, difference in ((0.05, 0.1), (0.1, 0.15), (0.2, 0.2)):
            promised, simulated = power(layout, 20000, asked.seed, cv=cv, difference=difference)
            print(f"  {name}, cv {cv:.0%}, difference {difference:.0%}: {promised:.3f} {simulated:.3f}")
    print(f"{time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main()
