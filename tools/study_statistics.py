"""Hold the statistics of trials against simulation: calibration, coverage, power.

Usage: python tools/study_statistics.py [--crops 500] [--edges 40] [--benches 2000] [--seed 1] [--picture ranks.png]

Prints what docs/science/trials.md and calibration.md tell, with counts. It takes a quarter of an hour of processor
time and is no part of the gate; tests/python/verification/test_statistics.py runs a small one.
"""

# ruff: noqa: E501  (usage)
from __future__ import annotations

import argparse
import time

import numpy as np
import pandas as pd
import wetspan as ws
from scipy import stats
from scipy.optimize import brentq
from wetspan.crop import Z90
from wetspan.trials import compare
from wetspan.trials.calibration import CONFLICT
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


#: Where the truth lies, in standard deviations of the prior from its middle.
EDGES = (-2.5, -1.5, 0.0, 1.5, 2.5)
LEVELS = (0.5, 0.8, 0.9, 0.95, 0.99)


class Crops:
    """Crops whose trials the spray model grows: four rates and a check."""

    def __init__(self, plants: int = 10, cv: float = 0.09) -> None:
        sprays = [BENCH.replace({"application.concentration": f"{rate} mg/L"}) for rate in TESTED]
        self.model, self.cv = CropModel(DECIDABLE, sprays), cv
        self.group = np.repeat(np.arange(len(TESTED) + 1), plants)
        self.middle = np.log([BENCH[key] for key in DECIDABLE])
        self.scale = np.log(ws.parameters().loc[list(DECIDABLE), "spread"].to_numpy()) / Z90

    def calibrated(self, u: np.ndarray, random: np.random.Generator) -> ws.Calibration:
        """What the trial of a crop tells, whose truth lies `u` standard deviations from the prior's middle."""
        control = np.concatenate([[0.0], self.model.controls((self.middle + u * self.scale)[None])[0]])
        heights = 30.0 * (1 - control[self.group] + self.cv * random.standard_normal(len(self.group)))
        names = np.array(["untreated", *(f"{rate:g}" for rate in TESTED)])
        table = pd.DataFrame(
            {
                "treatment": names[self.group],
                "rate": np.concatenate([[0.0], TESTED])[self.group],
                "height_cm": np.maximum(heights, 0.5),
            }
        )
        return ws.calibrate(BENCH, ws.read_trial(table, rate="rate", units={"rate": "mg/L"}))

    def acted_on(self, fitted: ws.Calibration, u: np.ndarray) -> dict[str, float]:
        """Whether limits hold the control at 100 mg/L and the rate for 25 %; nan where none is told or there is none."""
        logs = self.middle + u * self.scale
        crop = BENCH.in_si(dict(zip(DECIDABLE, np.exp(logs).tolist(), strict=True)))
        model = CropModel(["application.concentration"], [crop])
        control = fitted.control(["100 mg/L"]).iloc[0]
        truth = model.controls(np.log([[0.1]]))[0, 0]
        rate = fitted.next_rate(0.25)
        ends = np.log([1e-7, 50.0])
        gaps = model.controls(ends[:, None])[:, 0] - 0.25
        held = np.nan
        if np.isfinite(rate.rate) and gaps[0] < 0 < gaps[1]:
            at = brentq(lambda x: model.controls(np.array([[x]]))[0, 0] - 0.25, *ends, xtol=1e-4)
            held = float(rate.lower <= 1e3 * np.exp(at) <= rate.upper)
        return {"control": float(control["lower"] <= truth <= control["upper"]), "rate": held}


def ranks(crops: int, seed: int) -> np.ndarray:
    """Rank of the truth among draws of `calibrate`, [crop, input], 0 to DRAWS.

    Crops are drawn from the prior (Talts et al. 2018): ranks are uniform where draws come from what the trial left
    possible.
    """
    random, grown = np.random.default_rng(seed), Crops()
    found = []
    for one in range(crops):
        u = random.normal(size=len(DECIDABLE))
        draws = grown.calibrated(u, random).draw(DRAWS, seed=one)
        logs = np.log([[drawn[key] for key in DECIDABLE] for drawn in draws])
        found.append((logs < grown.middle + u * grown.scale).sum(axis=0))
    return np.array(found)


def at_edges(crops: int, seed: int) -> pd.DataFrame:
    """Where the truth of one input lies off the prior's middle, and the other is drawn: share of 95 % limits that
    hold it, with the prior and from the plants alone; of those that hold the control at 100 mg/L and the rate for
    25 %; how far the estimate is pulled towards the middle; and how often a conflict with the prior is told."""
    grown, rows = Crops(), []
    for place, key in enumerate(DECIDABLE):
        random = np.random.default_rng([seed, place])
        for edge in EDGES:
            found = []
            for _ in range(crops):
                u = random.normal(size=len(DECIDABLE))
                u[place] = edge
                fitted = grown.calibrated(u, random)
                row, alone = fitted.table.loc[key], fitted.alone.loc[key]
                ends = np.array([row["lower"], row["value"], row["upper"], alone["lower"], alone["upper"]])
                with np.errstate(divide="ignore"):
                    told = np.log(ends / row["prior"]) / grown.scale[place]
                low, value, high, low_alone, high_alone = told
                found.append(
                    {
                        "held": low <= edge <= high,
                        "alone": low_alone <= edge <= high_alone,
                        "open": np.isinf(low_alone) or np.isinf(high_alone),
                        **grown.acted_on(fitted, u),
                        "estimate": value,
                        "width": row["width"],
                        "told": fitted.conflict_p < CONFLICT,
                    }
                )
            rows.append({"input": key, "truth": edge, **pd.DataFrame(found).astype(float).mean()})
    return pd.DataFrame(rows)


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


def coverage(layout: dict[str, object], benches: int, seed: int) -> pd.DataFrame:
    """On how many benches limits hold the truth: of one control, and of all differences together, by level."""
    plan = ws.plan_trial(rates=RATES, cv=0.1, difference=0.15, seed=3, **layout)
    random = np.random.default_rng(seed)
    truth = {plan.check: 0.0, "low": 0.05, "middle": 0.15, "high": 0.30}
    control = plan.layout["treatment"].map(truth).to_numpy()
    block = plan.layout["block"].to_numpy()
    places = 0.05 * (block - block.mean()) if plan.blocks > 1 else np.zeros(len(block))
    hits = pd.DataFrame(0, index=LEVELS, columns=["control", "differences"])
    for _ in range(benches):
        heights = 30.0 * (1 - control + places + 0.1 * random.standard_normal(len(control)))
        table = plan.layout.assign(height_cm=heights)
        result = ws.read_trial(table, block="block" if plan.blocks > 1 else None)
        means, names = result.table["adjusted_mean"].to_numpy(), list(result.table.index)
        differences = -30.0 * np.array([truth[name] for name in names[1:]])
        for level in LEVELS:  # read_trial does the same at its one level
            read = compare.against_check(names, means, result.mean_covariance, result.df, level)
            low, high = read["control_lower"].to_numpy(), read["control_upper"].to_numpy()
            middle = names.index("middle")
            hits.loc[level, "control"] += bool(low[middle] <= 0.15 <= high[middle])
            low, high = read["difference_lower"].to_numpy()[1:], read["difference_upper"].to_numpy()[1:]
            hits.loc[level, "differences"] += bool(((low <= differences) & (differences <= high)).all())
            if level == result.level:
                assert read["control_lower"].equals(result.table["control_lower"])
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
    parser.add_argument("--edges", type=int, default=40)
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
    if asked.edges:
        print(f"calibrate: 95 % limits where the truth is off the prior's middle, {asked.edges} crops each")
        print(at_edges(asked.edges, asked.seed).round(2).to_string(index=False))
        print(f"  {time.monotonic() - began:.0f} s", flush=True)
    if not asked.benches:
        return
    print(f"read_trial: limits that hold the truth, of {asked.benches} benches each")
    for name, layout in LAYOUTS.items():
        for what, hits in coverage(layout, asked.benches, asked.seed).items():
            told = (f"{100 * level:g} %: {100 * hit / asked.benches:.1f}" for level, hit in hits.items())
            print(f"  {name}, {what}: {', '.join(told)}", flush=True)
    print("plan_trial: power promised and simulated, 20000 trials each")
    for name, layout in LAYOUTS.items():
        for cv, difference in ((0.05, 0.1), (0.1, 0.15), (0.2, 0.2)):
            promised, simulated = power(layout, 20000, asked.seed, cv=cv, difference=difference)
            print(f"  {name}, cv {cv:.0%}, difference {difference:.0%}: {promised:.3f} {simulated:.3f}")
    print(f"{time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main()
