"""The plan of weighed leaves: number, balance and times, and what the measurement would decide."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wetspan.crop import Z90
from wetspan.errors import InputError
from wetspan.measure.leaf import HUMIDITY_ERROR, SPEED_ERROR, LeafResult, boundary, read_leaf
from wetspan.measure.leaf_fit import (
    FIRST_BETWEEN,
    Between,
    LeafFit,
    _freedom,
    _inverse,
    _Problem,
    prior_of,
    student,
    wet_time_gradient,
)
from wetspan.measure.sheet import NO_ACTIVE, Planned, Sheet
from wetspan.measure.table import Table
from wetspan.measure.weighed_leaf import SHARED, LeafModel, Weighings, density
from wetspan.outcome import minutes
from wetspan.parameters import TABLE
from wetspan.scenario import Scenario
from wetspan.trials.calibrated import z_of
from wetspan.trials.dose_response import plain_number
from wetspan.units import in_unit, share

Array = NDArray[np.float64]

MOST_LEAVES = 40
_TIMES = 24  # weighings of a wet leaf
_BEYOND = 1.5  # of the wet time predicted: how long to weigh
_STEPS = (1e-4, 1e-5, 1e-6)  # kg: balances that are compared
_NICE = np.array([5, 10, 15, 20, 30, 60, 120, 180, 300, 600, 900, 1800])  # s between weighings


@dataclass(frozen=True, eq=False)
class LeafPlan(Planned):
    """A planned weighing of leaves.

    wet_time
        Predicted wet time with its limits [min], from what is known before the measurement.
    precision
        Half-width of the interval of the wet time relative to the predicted one, on the log scale: 0.2 is 20
        %.
    boundary_precision
        The same for the factor on the boundary layer.
    balances
        Precision for several resolutions of the balance.
    enough
        Number of leaves that gives the wanted precision; None if it is beyond what is practicable.
    """

    scenario: Scenario = field(repr=False)
    leaves: int
    paper: int
    area: float
    balance: float
    every: float
    duration: float
    wet_time: tuple[float, float, float]
    precision: float
    wanted: float
    boundary_precision: float
    balances: pd.DataFrame
    between: float
    level: float
    enough: int | None

    @property
    def lines(self) -> list[str]:
        """What to do, and what it decides."""
        wet, low, high = self.wet_time
        level, step = f"{100 * self.level:.3g} %", plain_number(1e6 * self.balance)
        lines = [
            (
                f"The question: how long are my leaves wet? The tool says {minutes(60 * wet)}, and for all it"
                f" knows {low:.3g} to {high:.3g} min. Twice as long would mean that an afternoon is not as"
                " fast as feared; half as long, that only mornings and evenings are left."
            ),
            (
                f"Weigh {self.leaves} leaves alike and {self.paper} painted paper"
                f" leaf{'s' if self.paper > 1 else ''} of the same size as control ({1e4 * self.area:.3g}"
                f" cm2, one side), on a balance with a step of {step} mg."
            ),
            (
                "Weigh each leaf twice dry, spray it until liquid runs off, wait until it stops dripping,"
                f" then weigh every {_spoken(self.every)} for {minutes(self.duration)}, and in the end until"
                " the mass no longer falls. Note air temperature, humidity and air speed beside the leaf"
                " each few minutes."
            ),
            (
                f"If leaves alike differ by {100 * self.between:.3g} % in what their air takes, this tells"
                f" how long they are wet to {100 * np.expm1(self.precision):.0f} % ({level}), and the"
                f" boundary layer's factor to {100 * np.expm1(self.boundary_precision):.0f} %."
            ),
        ]
        if self.precision > self.wanted * 1.0001:
            asked = f"the {100 * self.wanted:.3g} % asked for"
            lines.append(
                f"For {asked} weigh {self.enough} leaves."
                if self.enough is not None
                else f"That is less than {asked}, which {MOST_LEAVES} leaves do not reach either."
            )
        for name, row in self.balances.iterrows():
            ends = (
                "sees the end"
                if row["sees_end"]
                else "cannot see the last hundredth, the end of the wet time"
            )
            lines.append(
                f"- A balance that steps by {plain_number(float(str(name)))} mg {ends}; boundary layer to "
                f"{100 * np.expm1(row['boundary_precision']):.0f} %."
            )
        return lines

    @property
    def numbers(self) -> dict[str, object]:
        """The plan for programs."""
        return {
            "leaves": self.leaves,
            "paper": self.paper,
            "balance_mg": 1e6 * self.balance,
            "every_s": self.every,
            "duration_s": self.duration,
            "wet_time_min": list(self.wet_time),
            "precision": self.precision,
            "boundary_precision": self.boundary_precision,
        }

    def sheet(self) -> Sheet:
        """The sheet to print and fill in."""
        names = [f"leaf {i + 1}" for i in range(self.leaves)]
        names += [f"paper {i + 1}" for i in range(self.paper)]
        times = np.arange(0.0, self.duration + 1.0, self.every)
        rows = []
        for name in names:
            kind = name.split()[0]
            states = ["dry", "dry", *["wet"] * len(times)]
            rows += [{"leaf": name, "kind": kind, "state": state} for state in states]
        table = pd.DataFrame(rows)
        for column in (
            *("clock", "mass [g]", "area [cm2]", "temperature [degC]", "humidity [percent]", "speed [m/s]"),
            "light [W/m2]",
        ):
            table[column] = ""
        return Sheet("A weighed leaf: how long is it wet?", [NO_ACTIVE, *self.lines], _STEPS_TO_DO, table)

    def read(self, table: Table) -> LeafResult:
        """Read the filled-in sheet."""
        return read_leaf(self.scenario, table, level=self.level)


_STEPS_TO_DO = [
    "Cut a leaf with its petiole, seal the cut with grease; hang it on the balance as it stands in the crop.",
    "Paper leaf: cut it from card to the same outline, paint both sides (gloss), let it dry for a day.",
    "Trace the leaf on squared paper and count: area of one side.",
    (
        "Weigh it dry twice, a minute apart or more. Spray plain water with a drop of food dye until it runs"
        " off."
    ),
    "The first wet weighing, when nothing drips any more, is time zero. Do not touch the leaf after that.",
    (
        "Shut no draught shield: the air at the leaf is to be that of the house. Keep people away from the"
        " balance."
    ),
    "Go on until three weighings in a row agree but for the leaf's own slow loss.",
]


def plan_leaf(
    scenario: Scenario,
    *,
    precision: object = 0.2,
    leaves: int | None = None,
    paper: int = 1,
    area: object = "50 cm^2",
    balance: object = "1 mg",
    between: object = float(FIRST_BETWEEN[0]),
    humidity_error: object = HUMIDITY_ERROR,
    speed_error: object = SPEED_ERROR,
    level: float = 0.95,
) -> LeafPlan:
    """Plan a weighing of leaves in the scenario's air.

    Parameters
    ----------
    precision
        Wanted half-width of the interval of the wet time, relative to the predicted one [1].
    leaves
        Number of leaves; the plan then computes the precision.
    area, balance
        Area of one side of a leaf, and resolution of the balance: text with units.
    between
        Standard deviation of the transfer of the boundary layer between leaves of one kind [1]: an assumption
        (grade D) until leaves were weighed.
    humidity_error, speed_error, level
        As in `read_leaf`.
    """
    z_of(level)
    wanted, spread = share("precision", precision), share("between", between)
    errors = share("humidity_error", humidity_error), share("speed_error", speed_error)
    for name, value in (("precision", wanted), ("between", spread)):
        if not 0 < value < 2:
            raise InputError(f"{name} = {value:g}: a share above 0 is needed, such as 0.2 for 20 %")
    size = in_unit("area", area, "m^2", "such as '50 cm^2'")
    step = in_unit("balance", balance, "kg", "such as '1 mg'")
    if leaves is not None and not 2 <= leaves <= 1000:
        raise InputError(f"leaves = {leaves}: two leaves or more are needed, to see how they differ")
    model, every, duration = _typical(scenario, size)
    depth = scenario["retention.leaf_store"]
    log_wet, by = wet_time_gradient(model, model.start, np.log(depth))
    prior = prior_of(scenario, *errors)
    plausible = prior.copy()
    plausible[0] = np.hypot(np.log(TABLE["leaf.turbulence"].spread) / Z90, 0.5 * errors[1])
    store = np.log(TABLE["retention.leaf_store"].spread) / Z90
    reach = z_of(level) * float(np.linalg.norm([*(by[: len(SHARED)] * plausible), by[-1] * store]))
    apart = np.array([spread, FIRST_BETWEEN[1]])
    alone = float(np.hypot(by[0] * apart[0], by[1] * apart[1]))  # of ln wet time between leaves

    def wet_reach(n: int) -> float:
        return student(n - 1.0, level) * alone / float(np.sqrt(n))

    enough = next((n for n in range(2, MOST_LEAVES + 1) if wet_reach(n) <= wanted), None)
    if leaves is None:
        leaves = enough or MOST_LEAVES
    liquid = size * density(model.leaf) * depth
    steps = sorted({step, *_STEPS})
    reaches = [
        _boundary_reach(model, leaves, Between(prior, apart, _error(each)), errors[1], level)
        for each in steps
    ]
    told = pd.DataFrame(
        {
            # a coarser balance is not better, though Student's t may say so
            "boundary_precision": np.maximum.accumulate(reaches),
            "sees_end": [each <= liquid * scenario["numerics.dry_share"] for each in steps],
        },
        index=pd.Index([1e6 * each for each in steps], name="balance [mg]"),
    )
    wet = np.exp(log_wet + reach * np.array([0.0, -1.0, 1.0])) / 60
    return LeafPlan(
        scenario, int(leaves), paper, size, step, every, duration,
        (float(wet[0]), float(wet[1]), float(wet[2])),
        wet_reach(leaves), wanted, float(reaches[steps.index(step)]), told, spread, level, enough,
    )  # fmt: skip


def _error(step: float) -> float:
    """Error of a weighing on a balance of that step: the step itself, and its rounding."""
    return float(np.hypot(step, step / np.sqrt(12)))


def _typical(scenario: Scenario, area: float) -> tuple[LeafModel, float, float]:
    """The leaf that the plan foresees, seconds between its weighings and until the last."""
    keys = {"temperature": "air.temperature", "humidity": "air.relative_humidity", "speed": "air.speed",
            "light": "air.shortwave"}  # fmt: skip
    air = {name: np.full(2, scenario[key]) for name, key in keys.items()}
    depth, none = scenario["retention.leaf_store"], np.zeros(1)

    def leaf(time: Array, longest: float) -> LeafModel:
        wet = time >= 0
        mass, through = np.where(wet, 1e3 * area * depth, 0.0), np.array([0.0, longest])
        return LeafModel(
            scenario, Weighings("", "leaf", area, scenario["leaf.width"], time, mass, wet, through, air)
        )

    first = leaf(np.array([0.0, 43200.0]), 43200.0)
    wet = first.course(first.start, depth, none).wet_time
    if not np.isfinite(wet):
        raise InputError("the leaf would not dry within two days in the scenario's air: weigh in drier air")
    every = float(_NICE[np.argmin(np.abs(np.log(_NICE * _TIMES / (_BEYOND * wet))))])
    duration = every * float(np.ceil(_BEYOND * wet / every))
    time = np.concatenate([[-300.0, -60.0], np.arange(0.0, duration + 1, every)])
    return leaf(time, duration), every, duration


def _boundary_reach(model: LeafModel, leaves: int, known: Between, speed_error: float, level: float) -> float:
    """Half-width that is to be expected of the boundary factor's interval, on the log scale."""
    one = _Problem([model], known)
    theta = one.first()
    theta[len(SHARED)] = np.log(model.scenario["retention.leaf_store"])
    block = one.jacobian(theta)
    priors, own = block[: len(SHARED)], block[len(SHARED) :]
    shared, each = own[:, : len(SHARED)], own[:, len(SHARED) :]
    size = each.shape[1]
    rows = [np.hstack([priors[:, : len(SHARED)], np.zeros((len(SHARED), leaves * size))])]
    for i in range(leaves):
        row = np.zeros((len(own), len(SHARED) + leaves * size))
        row[:, : len(SHARED)], row[:, len(SHARED) + i * size : len(SHARED) + (i + 1) * size] = shared, each
        rows.append(row)
    covariance = _inverse(np.vstack(rows))
    df = _freedom(covariance, known.between, leaves)
    fit = LeafFit([model] * leaves, theta, covariance, known, [], [], df)
    return student(float(df[0]), level) * boundary(fit, speed_error)[1]


def _spoken(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 60 else f"{seconds / 60:.0f} min"
