"""The plan of washed deposits: number and times, and what the measurement would decide."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from wetspan.errors import InputError, yes_or_no
from wetspan.measure.sheet import Planned, Sheet
from wetspan.measure.table import Table
from wetspan.measure.wash import ResidueModel, Washes, WashResult, read_wash
from wetspan.scenario import Scenario
from wetspan.trials.calibrated import z_of
from wetspan.units import in_unit, share

#: Standard deviation of ln of an amount between pots alike, deposit and analysis together. Grade D.
WASH_ERROR = 0.25
MOST_WASHES = 40
TIMES = ("1 h", "24 h", "72 h", "168 h")

WITH_ACTIVE = (
    "This one needs the active ingredient itself and a laboratory: dye does not enter leaves as it does. Wear"
    " gloves and what else the label asks for when you spray, when you wash and when you handle the leaves;"
    " keep the re-entry time; give the washings to the laboratory, not to the drain."
)
_TO_DO = [
    (
        "Cover the substrate, so that only leaves are sprayed. Spray all pots alike, and a few glass plates"
        " beside them."
    ),
    (
        "At each time take pots drawn by lot. Each pot is washed once: cut its leaves, shake them one minute"
        " in the solvent that the laboratory names, the same volume each time."
    ),
    (
        "Have one unsprayed pot spiked with a known amount and washed: the recovery. It may be low, but alike"
        " at all times."
    ),
    (
        "Keep the pots where no rain or overhead water wets them; re-wet only those that are to be, all with"
        " the same volume."
    ),
    (
        "Note the leaves' temperature over these days. Write amounts per pot; leave out what is below the"
        " limit, and say so."
    ),
]


@dataclass(frozen=True, eq=False)
class WashPlan(Planned):
    """A planned washing.

    `precision` is the half-width of the interval of the mobile share, on the log scale.
    """

    first_caution = WITH_ACTIVE

    scenario: Scenario = field(repr=False)
    washes: int
    glass: bool
    times: tuple[float, ...]
    precision: float
    wanted: float
    before: float
    error: float
    level: float

    @property
    def lines(self) -> list[str]:
        """What to do, and what it decides."""
        beside = ", and as many glass plates sprayed beside them" if self.glass else ""
        hours = ", ".join(f"{at / 3600:.3g}" for at in self.times)
        lines = [
            (
                "The question: does the dry residue go on entering the leaf? If it does, the wet minutes"
                " after the spray matter little and the hour of the day with them; if it does not, every wet"
                " minute and a re-wetting count."
            ),
            (
                f"Wash {self.washes} pots at each of {hours} h after the spray,"
                f" {self.washes * len(self.times)} in all{beside}."
            ),
            (
                f"If amounts from pots alike differ by {100 * self.error:.3g} %, this tells the mobile share"
                f" to a factor of {np.exp(self.precision):.2g} ({100 * self.level:.3g} %); before, it was"
                f" known to a factor of {np.exp(self.before):.2g}. That is for a share near"
                f" {self.scenario.show('uptake.mobile_share')}: a smaller one is known less well, a larger"
                " one better."
            ),
        ]
        if self.precision > self.wanted * 1.0001:
            lines.append(
                f"That is less than the factor of {np.exp(self.wanted):.2g} asked for: wash later as well, or"
                " find pots that differ less."
            )
        return lines

    @property
    def numbers(self) -> dict[str, object]:
        """The plan for programs."""
        return {
            "washes": self.washes,
            "hours": [at / 3600 for at in self.times],
            "precision": self.precision,
            "precision_before": self.before,
        }

    def sheet(self) -> Sheet:
        """The sheet to print and fill in."""
        rows = [
            {
                "pot": f"{surface} {at / 3600:.3g} h no. {i + 1}",
                "surface": surface,
                "rewetted": "no",
                "time [hour]": f"{at / 3600:.3g}",
            }
            for surface in (("leaf", "glass") if self.glass else ("leaf",))
            for at in self.times
            for i in range(self.washes)
        ]
        table = pd.DataFrame(rows)
        table["washed [ug]"] = ""
        return Sheet("Washed deposits: does the residue go on?", [WITH_ACTIVE, *self.lines], _TO_DO, table)

    def read(self, table: Table) -> WashResult:
        """Read the filled-in sheet."""
        return read_wash(self.scenario, table, level=self.level)


def plan_wash(
    scenario: Scenario,
    *,
    precision: object = 1.5,
    washes: int | None = None,
    times: Sequence[object] = TIMES,
    glass: bool = True,
    error: object = WASH_ERROR,
    level: float = 0.95,
) -> WashPlan:
    """Plan a washing of deposits.

    Parameters
    ----------
    precision
        Wanted half-width of the interval of the mobile share on the log scale; 1.5 is a factor of 4.5.
    washes
        Number of pots washed at each time; the plan then computes the precision.
    times
        Times after the spray, texts with units; two or more.
    glass
        Whether as many glass plates are washed at each time. Their deposit is lost but not taken up.
    error
        Standard deviation of ln of an amount between pots treated alike [1]: an assumption (grade D).
    """
    wanted, spread, z = share("precision", precision), share("error", error), z_of(level)
    glass = yes_or_no("glass", glass)
    for name, value in (("precision", wanted), ("error", spread)):
        if not 0 < value < 5:
            raise InputError(f"{name} = {value:g}: a number above 0 is needed, such as 0.25 for 25 %")
    if washes is not None and not 2 <= washes <= 1000:
        raise InputError(f"washes = {washes}: two or more at each time are needed, to see how pots differ")
    at = tuple(sorted({in_unit("times", each, "s", "such as '24 h'") for each in times}))
    if len(at) < 2:
        raise InputError("times: two times or more show whether the residue goes on")
    model = ResidueModel(scenario)
    none = np.zeros(len(at), dtype=bool)
    every = np.array(at)
    if glass:
        every, on_glass = np.tile(every, 2), np.repeat([False, True], len(at))
    else:
        on_glass = none
    dry = np.zeros(len(every), dtype=bool)
    blank = Washes(every, np.ones(len(every)), dry, on_glass)
    exact = Washes(every, np.exp(model.expected(model.center, blank)[0]), dry, on_glass)
    squares, _ = model.squares(exact)

    def reach(n: int) -> float:
        weights = model.weigh(-0.5 * squares * n / spread**2)
        return z * float(np.sqrt(model.moments(weights)[1][0, 0]))

    if washes is None:
        washes = next((n for n in range(2, MOST_WASHES + 1) if reach(n) <= wanted), MOST_WASHES)
    return WashPlan(
        scenario, int(washes), glass, at, reach(washes), wanted, z * float(model.sd[0]), spread, level
    )
