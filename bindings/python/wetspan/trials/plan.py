"""Plan a trial against an untreated check: how many plants, and where each one stands."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from os import PathLike
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from wetspan.errors import InputError, echo, nearest, yes_or_no
from wetspan.trials.layout import bench_for, draw_layout, inner_places
from wetspan.trials.own_sheet import LAYOUT
from wetspan.trials.planned import POWER, PlannedTrial, residual_df
from wetspan.trials.read import TrialResult, read_trial
from wetspan.trials.table import LENGTH_UNITS
from wetspan.unit_registry import registry
from wetspan.unit_text import UnreadableError, read, read_unit

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from wetspan.drawing import Where

MOST_PLANTS = 1000  # per treatment: beyond this the difference asked for is not a bench trial
MOST_COLUMNS = 6  # further ones of the sheet, which still fit on its page


class TrialPlan(PlannedTrial):
    """A planned trial, with its pictures, its printable sheet and the reading of the filled-in one."""

    def read(
        self, table: str | PathLike[str] | pd.DataFrame, *, height: str | None = None, active: str = ""
    ) -> TrialResult:
        """Read the filled-in sheet with the blocks and rates of the plan; `height`: another length."""
        rated = self.rates is not None
        return read_trial(
            table,
            height=height or self.to_fill_in[0],
            check=self.check,
            order=self.treatments,
            block="block" if self.blocks > 1 else None,
            rate=self.rate_column if rated else None,
            units={self.rate_column: self.rate_unit} if rated and self.rate_unit else None,
            active=active,
        )

    def plot(self, ax: Where = None) -> Figure:
        """The bench from above: who stands where; on a new figure or on the Axes `ax`."""
        from wetspan.trials.plots import bench_map  # which loads matplotlib

        return bench_map(self, ax)

    def save_sheet(self, path: str | PathLike[str]) -> None:
        """Write the printable sheet: bench map, summary and cautions; .pdf and .html also hold the table to
        fill in."""
        from wetspan.trials.sheet import save_sheet  # likewise

        save_sheet(self, path)


def plan_trial(
    treatments: Sequence[str] | None = None,
    *,
    rates: Mapping[str, float | str] | Sequence[str] | None = None,
    cv: float,
    difference: float = 0.10,
    power: float = 0.8,
    alpha: float = 0.05,
    test: str = "dunnett",
    design: str = "randomised",
    bench: tuple[int, int] | None = None,
    border: bool = True,
    gradient: str = "columns",
    plants: int | None = None,
    more_check: bool = False,
    check: str = "untreated",
    rate_unit: str = "",
    height_unit: str = "cm",
    also: Sequence[str] = (),
    seed: int | None = None,
) -> TrialPlan:
    """Plan a trial: the number of plants for a wanted difference and power, and a random layout.

    Raises InputError, with the size that would suffice, if the bench is too small.

    Parameters
    ----------
    treatments
        Names, the weakest treatment first; the check is added.
    rates
        In place of `treatments`: {"low": "15 mg/L", "high": "30 mg/L"}, ["15 mg/L", "30 mg/L"], or numbers
        with `rate_unit`. They are concentrations or doses per pot ("2 mg/pot"), sorted by rate.
    cv
        Standard deviation between plants treated alike over their mean [-], from a past crop. It has no
        default, because the number of plants is proportional to its square.
    difference
        Smallest difference in height to detect, as a share of the check's height [-].
    power
        Wanted probability of detecting it [-]. With test="dunnett" it refers to any one treatment with this
        difference, at Dunnett's critical value for all of them; with test="trend" to heights that fall in
        equal steps to this difference.
    alpha
        Two-sided error rate [-]; with Dunnett's test for all comparisons together.
    design
        "randomised" (completely) or "blocked" (each block contains every treatment and the check).
    bench
        (rows, columns) of pot positions; by default a nearly square bench that suffices.
    border
        Whether guard plants stand on the edge positions.
    gradient
        "columns" or "rows": the direction along which the bench changes; blocks are cut across it.
    plants
        Number of plants per treatment; the plan then computes the power.
    more_check
        Whether the check gets sqrt(k) times as many plants, since every comparison uses it (Dunnett 1955).
    height_unit
        Unit of the heights in the data-entry sheet: mm, cm, m, in or ft.
    also
        Headings of further columns of that sheet, such as ["width_cm", "flower_date"], at most 6. The plan
        does not depend on them. `TrialPlan.read(sheet, height="width_cm")` reads another length.
    seed
        Seed of the layout; drawn, and kept in the plan, if not given.
    """
    names, levels, unit = _treatments(treatments, rates, rate_unit, check)
    for name, value in (("difference", difference), ("cv", cv), ("power", power), ("alpha", alpha)):
        if not 0 < value < 1:
            raise InputError(f"{name}={value}: a share between 0 and 1 is needed, 0.1 for 10 %")
    if power <= alpha:
        raise InputError(f"power={power} must be above alpha={alpha}")
    for option, given, allowed in (
        ("test", test, ("dunnett", "trend")),
        ("design", design, ("randomised", "blocked")),
        ("gradient", gradient, ("columns", "rows")),
    ):
        if given not in allowed:
            hint = nearest(given, allowed)
            raise InputError(
                f"{option}='{given}': allowed are {' and '.join(allowed)}" + (f"; {hint}" if hint else "")
            )
    border, more_check = yes_or_no("border", border), yes_or_no("more_check", more_check)
    also = _also(also)
    if height_unit not in LENGTH_UNITS:
        raise InputError(f"height_unit='{height_unit}': allowed are {', '.join(LENGTH_UNITS)}")
    k = len(names)
    checks_each = max(1, round(math.sqrt(k))) if design == "blocked" else math.sqrt(k)

    def numbers(n: int) -> tuple[int, int, int]:
        """Plants on the check, blocks, residual degrees of freedom with n plants per treatment."""
        on_check = math.ceil(n * checks_each - 1e-9) if more_check else n
        blocks = n if design == "blocked" else 1
        return on_check, blocks, residual_df(n, on_check, k, blocks)

    def reached(n: int) -> float:
        on_check, _, df = numbers(n)
        return POWER[test](difference, cv, n, on_check, k, df, alpha)

    n = _least_plants(reached, power, difference, cv) if plants is None else plants
    if n < 2 or n != int(n):
        raise InputError(f"plants={n}: at least 2 plants per treatment are needed, a whole number")
    on_check, blocks, _ = numbers(n)
    total = n * k + on_check
    bench = bench_for(total, border) if bench is None else _checked_bench(bench, border)
    places = inner_places(bench, border, gradient)
    if total > len(places):
        fit = max((m for m in range(2, n) if m * k + numbers(m)[0] <= len(places)), default=None)
        instead = (
            f"plants={fit} fits and has power {reached(fit):.2f}"
            if fit
            else "not even 2 plants per treatment fit"
        )
        raise InputError(
            f"{total} plants are needed, the bench of {bench[0]} x {bench[1]} has {len(places)} places"
            f"{' inside its border' if border else ''}: {instead}; or take a larger bench or difference"
        )
    seed = int(np.random.SeedSequence().generate_state(1)[0]) if seed is None else seed
    layout = draw_layout(
        places, {check: on_check, **dict.fromkeys(names, n)}, blocks, np.random.default_rng(seed)
    )
    return TrialPlan(
        layout, names, check, levels, unit, n, on_check, blocks, bench, border, gradient, difference, cv,
        power, reached(n), alpha, test, design, seed, height_unit, also,
    )  # fmt: skip


def _least_plants(reached: Callable[[int], float], power: float, difference: float, cv: float) -> int:
    """The smallest n with the wanted power: doubling, then halving the gap (power grows with n)."""
    low, high = 1, 2
    while reached(high) < power:
        low, high = high, 2 * high
        if low >= MOST_PLANTS:
            raise InputError(
                f"more than {MOST_PLANTS} plants per treatment would be needed to find a difference of "
                f"{100 * difference:.3g} % among plants that vary by {100 * cv:.3g} %: look for a larger one"
            )
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if reached(middle) >= power else (middle, high)
    return high


def _also(headings: Sequence[str]) -> tuple[str, ...]:
    """Check the headings of further columns: each is new, and none is read as the height or the rate."""
    if isinstance(headings, str):
        raise InputError(f"also='{headings}': a list of headings is needed")
    names = [" ".join(str(heading).split()) for heading in headings]
    if len(names) > MOST_COLUMNS:
        raise InputError(f"also: {len(names)} columns; at most {MOST_COLUMNS} fit on the sheet")
    for place, name in enumerate(names):
        taken = [*LAYOUT, "mark", "alive", "notes", *(each.lower() for each in names[:place])]
        if not name:
            raise InputError("also: a heading is blank")
        if name.lower() in taken:
            raise InputError(f"also: '{name}' is already a column of the sheet")
        if role := re.match(r"(height|rate)(_|\b)", name, re.IGNORECASE):
            raise InputError(f"also: '{name}' would be read as the {role[1].lower()}; name it otherwise")
    return tuple(names)


def _checked_bench(bench: tuple[int, int], border: bool) -> tuple[int, int]:
    try:
        rows, columns = (int(size) for size in bench)
    except (TypeError, ValueError):
        raise InputError(
            f"bench={bench!r}: give (rows, columns) of pot positions, for example (8, 20)"
        ) from None
    least = 3 if border else 1
    if rows < least or columns < least:
        inside = " with a border" if border else ""
        raise InputError(f"bench={bench}: at least {least} rows and {least} columns are needed{inside}")
    return rows, columns


def _treatments(
    treatments: Sequence[str] | None,
    rates: Mapping[str, float | str] | Sequence[str] | None,
    rate_unit: str,
    check: str,
) -> tuple[tuple[str, ...], dict[str, float] | None, str]:
    if (treatments is None) == (rates is None):
        raise InputError("give either treatments=[names] or rates={name: rate}")
    levels: dict[str, float] | None = None
    if rates is None:
        assert treatments is not None
        if isinstance(treatments, str):
            raise InputError(f"treatments='{treatments}': a list of names is needed")
        names = [str(name).strip() for name in treatments]
    else:
        if isinstance(rates, str):
            raise InputError(f"rates='{rates}': a list or {{name: rate}} is needed")
        given = rates if isinstance(rates, Mapping) else {str(rate): rate for rate in rates}
        if not isinstance(rates, Mapping) and len(given) < len(rates):
            raise InputError("the same rate is given twice")
        read = {str(name).strip(): _rate(str(name), value, rate_unit) for name, value in given.items()}
        units = {unit for _, unit in read.values()}
        if len(units) > 1:
            raise InputError(f"rates in different units ({', '.join(sorted(units))}): give all in one")
        rate_unit = units.pop() if units else rate_unit
        zero = [name for name, (rate, _) in read.items() if rate == 0 and name != check]
        if zero:
            raise InputError(f"'{zero[0]}' has rate 0: the untreated check ('{check}') is added by itself")
        levels = {
            name: rate
            for name, (rate, _) in sorted(read.items(), key=lambda item: item[1][0])
            if name != check
        }
        if len(set(levels.values())) < len(levels):
            raise InputError("two treatments have the same rate")
        names = list(levels)
    names = [name for name in names if name != check]
    if not names or "" in names:
        raise InputError(f"at least one named treatment besides the check '{check}' is needed")
    doubled = sorted({name for name in names if names.count(name) > 1})
    if doubled:
        raise InputError(f"treatment '{doubled[0]}' is given twice")
    return tuple(names), levels, rate_unit


def _rate(name: str, value: float | str, unit: str) -> tuple[float, str]:
    try:
        written = read(str(value))
    except UnreadableError as error:
        raise InputError(f"rate of '{name}': {echo(value)}: {error}; write for example '15 mg/L'") from None
    if not math.isfinite(written.number) or written.number < 0:
        raise InputError(f"rate of '{name}': {written.number:g} is not allowed; a rate is zero or more")
    unit = written.said or unit
    if not _is_unit_of_rate(unit):
        said = f"'{unit}' is neither" if unit else "a number without a unit is neither"
        raise InputError(
            f"rate of '{name}': {said} a concentration, such as mg/L, nor a dose per pot, such as mg/pot; "
            "give treatments that are neither by name (--treatment, treatments=[...])"
        )
    return written.number / read_unit(unit).number, unit


def _is_unit_of_rate(unit: str) -> bool:
    """True for a concentration and for a dose, "per pot" or "per plant" said or not."""
    try:
        written = read_unit(unit)
        dimension = registry().parse_units(written.unit).dimensionality
    except Exception:  # whatever parsing raises inside pint
        return False
    doses, concentrations = (
        [registry().parse_units(each).dimensionality for each in units]
        for units in (("g", "L", "mol"), ("g/L", "mol/L"))
    )
    counted = bool(written.per or written.of)
    if dimension in doses:
        return written.per in ((), ("pot",), ("plant",)) and not written.of
    if not dimension:  # a share: of volume or mass, not an angle
        return not counted and bool(re.search(r"/|\bper\b|^(%|percent|ppm|ppb)$", unit))
    return not counted and dimension in concentrations
