"""Simulated experiments: tables such as a balance would give, from a known truth.

They serve as demonstrations, and as tests whether the readings recover the truth. They are not data.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wetspan._core import water
from wetspan.crop import Z90
from wetspan.errors import yes_or_no
from wetspan.measure.leaf import HUMIDITY_ERROR, SPEED_ERROR
from wetspan.measure.leaf_fit import FIRST_BETWEEN, prior_of
from wetspan.measure.pots import APPLIED_ERROR, SHARES, SplitModel
from wetspan.measure.pots_plan import POTS_CV
from wetspan.measure.wash import ResidueModel
from wetspan.measure.wash_plan import WASH_ERROR
from wetspan.measure.weighed_leaf import LeafModel, Weighings, density
from wetspan.parameters import TABLE
from wetspan.scenario import Scenario, pot_cover

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
    rows: list[dict[str, object]] = []
    wet_times = {}
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
        time = np.asarray(1.5 * wet / weighings * np.arange(weighings + 1), dtype=float)
        liquid = area * density(blank) * depth * model.course(shared, depth, time).left
        rows += _weighed(blank, time, liquid, reading, balance, rng)
    truth = {
        "factor": float(np.exp(drawn[0])),
        "leaf.receding_angle": float(np.exp(np.log(scenario["leaf.receding_angle"]) + drawn[1])),
        "retention.leaf_store": store,
    }
    return Invented(pd.DataFrame(rows), truth, wet_times)


def _weighed(
    leaf: Weighings,
    time: Array,
    liquid: Array,
    reading: dict[str, float],
    balance: float,
    rng: np.random.Generator,
) -> list[dict[str, object]]:
    """Rows of a leaf or paper that is weighed twice dry, then with `liquid` [kg] on it at `time` [s].

    A leaf loses a little mass by transpiration all along.
    """
    drift = -2e-10 * leaf.area / 5e-3 if leaf.kind == "leaf" else 0.0
    dry = float(1.2e-3 * leaf.area / 5e-3)
    before = np.array([-300.0, -60.0])
    mass = dry + drift * np.concatenate([before, time])
    mass[2:] += liquid
    mass = balance * np.round((mass + balance * rng.normal(size=len(mass))) / balance)
    return [
        {
            "leaf": leaf.name,
            "kind": leaf.kind,
            "state": state,
            "time [s]": round(at + 300.0, 1),
            "mass [g]": f"{1e3 * kilograms:.6f}".rstrip("0"),
            "area [cm2]": f"{1e4 * leaf.area:.2f}",
            "temperature [degC]": f"{reading['temperature'] - 273.15:.2f}",
            "humidity [percent]": f"{100 * reading['humidity']:.2f}",
            "speed [m/s]": f"{reading['speed']:.4f}",
            "light [W/m2]": f"{reading['light']:.0f}",
        }
        for at, kilograms, state in zip(
            np.concatenate([before, time]), mass, ["dry"] * 2 + ["wet"] * len(time), strict=True
        )
    ]


def invent_pots(
    scenario: Scenario,
    *,
    pots: int = 6,
    seed: int = 1,
    cv: float = POTS_CV,
    applied_error: float = APPLIED_ERROR,
    balance: float = 1e-5,
    truth: Scenario | None = None,
) -> Invented:
    """Invent weighed pots. Not data.

    Inputs are drawn from the table's spreads about the scenario, unless `truth` is a scenario to take as it
    is; what each pot catches differs by `cv`, and the volume applied from what is thought by `applied_error`.
    """
    rng = np.random.default_rng(seed)
    model = SplitModel(scenario if truth is None else truth)
    logs = model.start + model.prior * rng.normal(size=len(model.prior)) * (truth is None)
    shares = dict(zip(SHARES, model.shares(logs), strict=True))
    per_plant = scenario["application.volume_rate"] / scenario["canopy.plant_density"]
    heavy = float(water.density(scenario["air.temperature"]))
    more = 1.0 + applied_error * rng.normal()
    bare = 1.0 - pot_cover(scenario)
    rows: list[dict[str, object]] = []

    def weigh(name: str, part: str, dry: float, gain: float, twice: bool) -> None:
        for state, minutes in (("dry", 0.0), ("wet", 2.0), *([("wet", 6.0)] if twice else [])):
            mass = dry + (gain - 2e-5 * minutes * (gain > 1e-3) if state == "wet" else 0.0)
            mass = balance * np.round((mass + balance * rng.normal()) / balance)
            rows.append(
                {"pot": name, "part": part, "state": state, "time [min]": minutes if state == "wet" else "",
                 "mass [g]": f"{1e3 * mass:.5f}", "area [cm2]": 400 if part == "tray" else ""}
            )  # fmt: skip

    for i in range(pots):
        own = {name: shares[name] * more * float(np.exp(cv * rng.normal() - cv**2 / 2)) for name in SHARES}
        full = per_plant * heavy
        weigh(str(i + 1), "ring", 2e-3, own["stemflow"] * full, i < 2)
        weigh(str(i + 1), "pot", 0.9, (own["shoot"] + own["substrate"] - own["stemflow"]) * full, i < 2)
        weigh(str(i + 1), "shoot", 0.03, own["shoot"] * full, i < 2)
        weigh(f"bagged {i + 1}", "bagged", 0.9, own["straight"] * full, i < 2)
        weigh(str(i + 1), "stem", 5e-3, own["stem"] * full, i < 2)
        depth = own["bench"] / bare * scenario["application.volume_rate"]
        weigh(f"tray {i + 1}", "tray", 0.1, depth * 0.04 * heavy, i < 2)
    values = {key: float(np.exp(log)) for key, log in zip(model.keys, logs, strict=True)}
    return Invented(
        pd.DataFrame(rows), values | {f"share of {name}": each for name, each in shares.items()}, {}
    )


def invent_wash(
    scenario: Scenario,
    *,
    washes: int = 6,
    hours: tuple[float, ...] = (1.0, 24.0, 120.0),
    glass: int = 0,
    seed: int = 1,
    error: float = WASH_ERROR,
    center: bool = False,
) -> Invented:
    """Invent washed deposits. Not data.

    Mobile share, its rate and the loss are drawn from the table's spreads about the scenario, or are those
    of the scenario with `center`.
    """
    center = yes_or_no("center", center)
    rng = np.random.default_rng(seed)
    model = ResidueModel(scenario, (2, 2, 2))
    logs = model.center + (0.0 if center else 1.0) * model.sd * rng.normal(size=3)
    logs[0] = min(logs[0], -1e-6)
    rows: list[dict[str, object]] = []
    for surface, count in (("leaf", washes), ("glass", glass)):
        for hour in hours:
            left = float(model.left(logs, np.array([3600.0 * hour]), False, surface == "glass")[0, 0])
            for i in range(count):
                amount = 80.0 * left * float(np.exp(error * rng.normal()))
                rows.append(
                    {"pot": f"{surface} {hour:g} h {i + 1}", "surface": surface, "time [hour]": hour,
                     "washed [ug]": f"{amount:.3f}"}
                )  # fmt: skip
    names = ("uptake.mobile_share", "uptake.mobile_rate", "uptake.residue_loss")
    return Invented(
        pd.DataFrame(rows), {key: float(np.exp(log)) for key, log in zip(names, logs, strict=True)}, {}
    )
