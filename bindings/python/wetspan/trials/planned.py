"""A planned trial: its layout, its power, and the plan in plain sentences."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from os import PathLike

import pandas as pd
from scipy.optimize import brentq

from wetspan.cautions import CAUTIONS
from wetspan.trials.compare import dunnett_power, trend_power
from wetspan.trials.layout import Place

#: Plants per treatment on a nursery bench (Runkle 2010, Do it yourself, trade magazine article, Michigan
#: State University).
USUAL_LEAST = 10
POWER = {"dunnett": dunnett_power, "trend": trend_power}


@dataclass(frozen=True)
class PlannedTrial:
    """A planned trial.

    `layout`: one row per plant (plant, row, column, block, treatment). `also`: headings of further columns of
    the data-entry sheet.
    """

    layout: pd.DataFrame = field(repr=False)
    treatments: tuple[str, ...]
    check: str
    rates: dict[str, float] | None
    rate_unit: str
    plants: int
    check_plants: int
    blocks: int
    bench: tuple[int, int]
    border: bool
    gradient: str
    difference: float
    cv: float
    wanted_power: float
    power: float
    alpha: float
    test: str
    design: str
    seed: int
    height_unit: str = "cm"
    also: tuple[str, ...] = ()

    @property
    def df(self) -> int:
        """Residual degrees of freedom: plants - treatments - check - (blocks - 1)."""
        return residual_df(self.plants, self.check_plants, len(self.treatments), self.blocks)

    @property
    def detectable(self) -> float:
        """The smallest difference from the check (share of its height) found with the wanted power."""

        def shortfall(difference: float) -> float:
            power = POWER[self.test](
                difference, self.cv, self.plants, self.check_plants, len(self.treatments), self.df, self.alpha
            )
            return power - self.wanted_power

        high = self.cv
        while shortfall(high) < 0:
            high *= 1.5
        return float(brentq(shortfall, 1e-9, high, xtol=1e-6))

    @property
    def guards(self) -> list[Place]:
        """Places (row, column) next to a trial plant that hold none: they take untreated plants, not
        measured."""
        used = set(zip(self.layout["row"], self.layout["column"], strict=True))
        rows, columns = self.bench
        around = {(r + i, c + j) for r, c in used for i in (-1, 0, 1) for j in (-1, 0, 1)} - used
        return sorted((r, c) for r, c in around if 1 <= r <= rows and 1 <= c <= columns)

    @property
    def text(self) -> str:
        """The plan in plain sentences, cautions included."""
        k = len(self.treatments)
        share, each = f"{100 * self.difference:.3g} %", "the treatment" if k == 1 else "each treatment"
        how = (
            f"in {self.blocks} blocks along the {self.gradient} of the bench, each with every treatment in it"
            if self.blocks > 1
            else "in completely random order"
        )
        if self.test == "dunnett":
            found = (
                f"a treatment that makes plants {share} shorter (or taller) than the check is found with "
                f"probability {self.power:.2f} (Dunnett's test, two-sided, {100 * self.alpha:.3g} % for all "
                "comparisons together)"
            )
        else:
            found = (
                f"heights that fall in equal steps to {share} below the check at {self.treatments[-1]} are "
                f"found with probability {self.power:.2f} (trend test, two-sided, {100 * self.alpha:.3g} %)"
            )
        detectable = f"{100 * self.detectable:.3g} %"
        lines = [
            f"Plan: {', '.join(self.treatments)} against the check '{self.check}'.",
            f"{self.plants} plants of {each} and {self.check_plants} of the check, {len(self.layout)} in all,"
            f" {how}, on a bench of {self.bench[0]} rows by {self.bench[1]} columns (seed {self.seed}).",
            f"If plants treated alike vary by {100 * self.cv:.3g} % (standard deviation over mean), {found}. "
            f"With probability {self.wanted_power:.2f} it finds a difference of {detectable}.",
        ]
        if self.power < self.wanted_power - 1e-9:
            lines.append(
                f"That is less than the power of {self.wanted_power:.2f} asked for: a treatment that is not "
                "found may still act."
            )
        if self.plants < USUAL_LEAST:
            lines.append(
                f"Fewer than {USUAL_LEAST} plants per treatment: one bad plant weighs heavily; grow spares."
            )
        if self.guards:
            lines.append(
                f"Fill the {len(self.guards)} places around the trial with untreated plants of the same size "
                "and do not measure them: edge plants grow differently."
            )
        if not self.border:
            lines.append("Edge plants are part of the trial: expect more spread than inside a border.")
        lines += [
            "Treat the pots of one treatment together and apart from all others, let them dry, and only then "
            "set them out as drawn: what drifts or drips reaches the neighbours.",
            f"Pots that are treated in one go are one application, not {self.plants}: a slip in the mixing, "
            "in the pour or in the weather of that hour is in all of them, and looks like the treatment. "
            "More pots do not help against that; "
            + (
                "mix and treat each block anew, and repeat the trial on another day."
                if self.blocks > 1
                else "mixing and treating anew for a part of the pots, and a second trial on another day, do."
            ),
            "Change one thing only between treatments. Measure every plant, dead and missing ones noted.",
        ]
        lines += self._of_other_columns()
        return "\n".join([*lines, "", CAUTIONS])

    def _of_other_columns(self) -> list[str]:
        if not self.also:
            return []
        return [
            f"The sheet also has {', '.join(self.also)}. The number of plants follows from heights alone. "
            "To read another length in their place, name its column (height='width_cm', --height width_cm)."
        ]

    @property
    def to_fill_in(self) -> tuple[str, ...]:
        """Headings of the sheet's empty columns: the height with its unit, further ones, alive and notes."""
        return (f"height_{self.height_unit}", *self.also, "alive", "notes")

    def save_csv(self, path: str | PathLike[str]) -> None:
        """Write the data-entry sheet: one line per plant; heights and the columns of `also` are to be filled
        in.

        Fill `alive` with no for a dead plant and leave `height` blank where a plant is missing; the file then
        goes to `TrialPlan.read` (or `read_trial`).
        """
        sheet = self.layout.copy()
        if self.rates is not None:
            sheet[self.rate_column] = sheet["treatment"].map({self.check: 0.0, **self.rates})
        for name in self.to_fill_in:
            sheet[name] = ""
        sheet.to_csv(path, index=False)

    @property
    def rate_column(self) -> str:
        """Name of the rate's column in the data-entry sheet, unit included."""
        unit = re.sub(r"\W+", "_", self.rate_unit.replace("/", "_per_")).strip("_")
        return f"rate_{unit}" if unit else "rate"


def residual_df(plants: int, check_plants: int, treatments: int, blocks: int) -> int:
    """Residual degrees of freedom: plants - treatments - check - (blocks - 1)."""
    return plants * treatments + check_plants - (treatments + 1) - (blocks - 1)
