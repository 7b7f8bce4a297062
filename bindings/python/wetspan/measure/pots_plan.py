"""The plan of weighed pots: number, balance and volume, and what the measurement would decide."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from wetspan.errors import InputError
from wetspan.measure.leaf_fit import student
from wetspan.measure.pots import APPLIED_ERROR, LEAST_POTS, SHARES, PotsResult, SplitModel, read_pots
from wetspan.measure.sheet import NO_ACTIVE, Planned, Sheet
from wetspan.measure.table import Table
from wetspan.scenario import Scenario
from wetspan.trials.calibrated import z_of
from wetspan.trials.dose_response import plain_number
from wetspan.units import in_unit, share

#: Standard deviation between pots alike over their mean, of what they catch. Grade D, until pots were
#: weighed.
POTS_CV = 0.15
MOST_POTS = 60

_TO_DO = [
    "Water the pots the day before and let them drain. Weigh each pot with its plant, without the saucer.",
    "Cut a ring of foam, weigh it, lay it about the foot of the stem: it catches what runs down.",
    "Weigh trays of known opening and stand them on the bench between the pots.",
    (
        "If you weigh bagged pots: draw a plastic bag close about their foliage and tie it at the stem. What"
        " such a pot catches fell past all leaves."
    ),
    "Spray as always; note the minutes and the litres. The end of the spray is time zero.",
    (
        "Weigh ring and pot. Cut the shoot above the substrate with its liquid on it and weigh it at once."
        " Lift the bags off without a drop falling, and weigh those pots."
    ),
    "Weigh one object of each part a second time some minutes later: that tells what evaporates.",
    "Pull off the leaves and weigh the stem. Blot shoot and stem dry with paper and weigh them again.",
]


@dataclass(frozen=True, eq=False)
class PotsPlan(Planned):
    """A planned weighing of pots. `precision` is the half-width of the interval of the shoot's share,
    relative to it.
    """

    scenario: Scenario = field(repr=False)
    pots: int
    balance: float
    precision: float
    wanted: float
    cv: float
    predicted: pd.DataFrame
    level: float

    @property
    def lines(self) -> list[str]:
        """What to do, and what it decides."""
        told = self.predicted
        lines = [
            (
                "The question: where does my spray go? The tool says that leaves and stems keep"
                f" {_of(told, 'shoot')}, and that {_of(told, 'stemflow')} runs down the stems to the roots."
                " If much more goes to the substrate than predicted, roots do what you took leaves to do, and"
                " a lower rate or a drench is worth a thought."
            ),
            (
                f"Weigh {self.pots} pots alike and as many trays, on a balance with a step of "
                f"{plain_number(1e3 * self.balance)} g. {LEAST_POTS} pots more with their foliage bagged tell"
                f" what falls past all leaves, predicted {_of(told, 'straight')}; leave their lines blank"
                " if you lack pots."
            ),
            (
                f"If pots alike differ by {100 * self.cv:.3g} %, this tells what leaves and stems keep to "
                f"{100 * self.precision:.0f} % of it ({100 * self.level:.3g} %)."
            ),
        ]
        if self.precision > self.wanted * 1.0001:
            lines.append(
                f"That is less than the {100 * self.wanted:.3g} % asked for: the volume applied is not known "
                "better; catch it in a bucket, with a stop-watch."
            )
        grams = self.predicted["grams"]
        small = [name for name in SHARES if 0 < grams[name] < 20 * 1e3 * self.balance]
        if small:
            lines.append(
                "Too little for this balance:"
                f" {', '.join(f'{name} ({grams[name]:.2g} g a plant)' for name in small)}; weigh several"
                " together, or on a finer one."
            )
        if float(told["share"].to_dict()["stemflow"]) < 0.02:
            lines.append(
                "Little runs down the stems at this volume: stemflow and stores show only in a spray to"
                " run-off."
            )
        return lines

    @property
    def numbers(self) -> dict[str, object]:
        """The plan for programs."""
        return {
            "pots": self.pots,
            "balance_g": 1e3 * self.balance,
            "precision": self.precision,
            "predicted": {str(name): float(each) for name, each in self.predicted["share"].items()},
        }

    def sheet(self) -> Sheet:
        """The sheet to print and fill in."""
        rows = []
        for i in range(self.pots):
            for part in ("pot", "ring", "shoot", "stem"):
                twice = i == 0
                rows += [
                    {"pot": i + 1, "part": part, "state": state} for state in ("dry", *["wet"] * (1 + twice))
                ]
            rows += [{"pot": f"tray {i + 1}", "part": "tray", "state": state} for state in ("dry", "wet")]
            if i == 0:
                rows.append({"pot": "tray 1", "part": "tray", "state": "wet"})
        for i in range(LEAST_POTS):
            weighed = ("dry", *["wet"] * (1 + (i == 0)))
            rows += [{"pot": f"bagged {i + 1}", "part": "bagged", "state": state} for state in weighed]
        table = pd.DataFrame(rows)
        for column in ("time [min]", "mass [g]", "area [cm2]"):
            table[column] = ""
        return Sheet("Weighed pots: where did the spray go?", [NO_ACTIVE, *self.lines], _TO_DO, table)

    def read(self, table: Table) -> PotsResult:
        """Read the filled-in sheet."""
        return read_pots(self.scenario, table, level=self.level)


def plan_pots(
    scenario: Scenario,
    *,
    precision: object = 0.2,
    pots: int | None = None,
    balance: object = "0.1 g",
    cv: object = POTS_CV,
    applied_error: object = APPLIED_ERROR,
    level: float = 0.95,
) -> PotsPlan:
    """Plan a weighing of pots under the scenario's spray.

    Parameters
    ----------
    precision
        Wanted half-width of the interval of the share that leaves and stems keep, relative to it [1].
    pots
        Number of pots; the plan then computes the precision.
    balance
        Resolution of the balance, text with a unit.
    cv
        Standard deviation between pots treated alike over their mean [1]: an assumption (grade D).
    applied_error, level
        As in `read_pots`.
    """
    wanted, spread, error = (
        share("precision", precision),
        share("cv", cv),
        share("applied_error", applied_error),
    )
    for name, value in (("precision", wanted), ("cv", spread)):
        if not 0 < value < 2:
            raise InputError(f"{name} = {value:g}: a share above 0 is needed, such as 0.2 for 20 %")
    if pots is not None and not LEAST_POTS <= pots <= 1000:
        raise InputError(f"pots = {pots}: {LEAST_POTS} pots or more are needed, to see how they differ")
    step = in_unit("balance", balance, "kg", "such as '0.1 g'")

    def reach(n: int) -> float:
        return float(np.hypot(student(n - 1.0, level) * spread / np.sqrt(n), z_of(level) * error))

    if pots is None:
        pots = next((n for n in range(LEAST_POTS, MOST_POTS + 1) if reach(n) <= wanted), MOST_POTS)
    model = SplitModel(scenario)
    shares = model.shares(model.start)
    apart = z_of(level) * np.linalg.norm(model.gradient(model.start) * model.prior, axis=1)
    per_plant = scenario["application.volume_rate"] / scenario["canopy.plant_density"]
    told = pd.DataFrame(
        {"share": shares, "lower": np.maximum(0.0, shares - apart), "upper": shares + apart,
         "grams": 1e6 * per_plant * shares},
        index=pd.Index(SHARES, name="share of"),
    )  # fmt: skip
    return PotsPlan(scenario, int(pots), step, reach(pots), wanted, spread, told, level)


def _of(told: pd.DataFrame, name: str) -> str:
    row = told.to_dict("index")[name]
    return f"{100 * row['share']:.0f} % ({100 * row['lower']:.0f} to {100 * row['upper']:.0f} %)"
