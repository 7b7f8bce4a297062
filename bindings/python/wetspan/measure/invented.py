"""Invented experiments: tables as a balance would give them, from a truth that is known.

For demonstrations, and to see whether the readings find the truth again. Not data.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wetspan.measure.leaf import HUMIDITY_ERROR, SPEED_ERROR
from wetspan.measure.leaf_fit import FIRST_BETWEEN, prior_of
from wetspan.measure.weighed_leaf import LeafModel, Weighings, density
from wetspan.parameters import TABLE
from wetspan.scenario import Scenario
from wetspan.trials.crop import Z90

Array = NDArray[np.float64]

STORE_BETWEEN = 0.15  # standard deviation of ln of the liquid on leaves alike (grade D)


@dataclass(frozen=True)
class Invented:
    """An invented table, and the truth it was made from."""

    table: pd.DataFrame
    truth: dict[str, float] = field(repr=False)
    wet_times: dict[str, float] = field(repr=False)


def invent_leaf(
    scenario: Scenario,
    *,
    leaves: int = 4,
    paper: int = 0,
    seed: int = 1,
    weighings: int = 30,
    balance: float = 1e-6,
    factor: float | None = None,
    humidity_error: float = HUMIDITY_ERROR,
    speed_error: float = SPEED_ERROR,
    between: tuple[float, float] = (float(FIRST_BETWEEN[0]), float(FIRST_BETWEEN[1])),
) -> Invented:
    """Invent weighed leaves. Not data.

    Receding and contact angle, droplets and store are drawn from the table's spreads about the scenario; the
    factor on the boundary layer too, from that which the reading assumes, unless `factor` is given. `balance`
    is the balance's step and error [kg]. `between`: standard deviations between leaves, of the boundary
    factor and of the log of the receding angle.
    """
    rng = np.random.default_rng(seed)
    prior = prior_of(scenario, humidity_error, 0.0)
    drawn = prior * rng.normal(size=len(prior))
    if factor is not None:
        drawn[0] = np.log(factor)
    anemometer = speed_error * rng.normal()
    spread = np.log(TABLE["retention.leaf_store"].spread) / Z90
    store = float(np.clip(scenario["retention.leaf_store"] * np.exp(spread * rng.normal()), 2e-5, 4e-4))
    own = {"leaf": drawn.copy(), "paper": np.concatenate([[0.0], prior[1:4] * rng.normal(size=3), drawn[4:]])}
    rows, wet_times = [], {}
    for i in range(leaves + paper):
        kind = "leaf" if i < leaves else "paper"
        name = f"{kind} {i + 1 if kind == 'leaf' else i - leaves + 1}"
        reading = {
            "temperature": scenario["air.temperature"] + rng.normal(),
            "humidity": float(np.clip(scenario["air.relative_humidity"] + 0.03 * rng.normal(), 0.1, 0.9)),
            "speed": scenario["air.speed"] * float(np.exp(0.1 * rng.normal())),
            "light": scenario["air.shortwave"],
        }
        area = 5e-3 * float(np.exp(0.2 * rng.normal()))
        depth = store * float(np.exp(STORE_BETWEEN * rng.normal()))
        blank = Weighings(
            name, kind, area, scenario["leaf.width"], np.array([0.0, 3600.0]), np.zeros(2),
            np.ones(2, dtype=bool), np.array([0.0, 3600.0]),
            {column: np.full(2, value) for column, value in reading.items()},
        )  # fmt: skip
        model = LeafModel(scenario, blank)
        shared = np.asarray(model.start + own[kind], dtype=float)
        shared[0] += 0.5 * anemometer + between[0] * rng.normal() * (kind == "leaf")
        shared[1] += between[1] * rng.normal() * (kind == "leaf")
        wet = model.course(shared, depth, np.zeros(1)).wet_time
        if not np.isfinite(wet):
            wet = 4 * 3600.0
        wet_times[name] = wet / 60
        step = 1.5 * wet / weighings
        time = np.asarray(step * np.arange(weighings + 1), dtype=float)
        left = model.course(shared, depth, time).left
        drift = -2e-10 * area / 5e-3 if kind == "leaf" else 0.0
        dry = float(1.2e-3 * area / 5e-3)
        before = np.array([-300.0, -60.0])
        mass = dry + drift * np.concatenate([before, time])
        mass[2:] += area * density(blank) * depth * left
        mass = balance * np.round((mass + balance * rng.normal(size=len(mass))) / balance)
        for at, grams, state in zip(
            np.concatenate([before, time]), mass, ["dry"] * 2 + ["wet"] * len(time), strict=True
        ):
            rows.append(
                {
                    "leaf": name,
                    "kind": kind,
                    "state": state,
                    "time [s]": round(at + 300.0, 1),
                    "mass [g]": f"{1e3 * grams:.6f}".rstrip("0"),
                    "area [cm2]": f"{1e4 * area:.2f}",
                    "temperature [degC]": f"{reading['temperature'] - 273.15:.2f}",
                    "humidity [percent]": f"{100 * reading['humidity']:.2f}",
                    "speed [m/s]": f"{reading['speed']:.4f}",
                    "light [W/m2]": f"{reading['light']:.0f}",
                }
            )
    truth = {
        "factor": float(np.exp(drawn[0])),
        "leaf.receding_angle": float(np.exp(np.log(scenario["leaf.receding_angle"]) + drawn[1])),
        "retention.leaf_store": store,
    }
    return Invented(pd.DataFrame(rows), truth, wet_times)
