"""Portions of rows that are computed together: a limited number of airs at a time, and one spray for each
table.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from wetspan import _core
from wetspan.batch.columns import Plain, columns_of
from wetspan.batch.core import Positions, allowed_threads, named
from wetspan.batch.landing_tables import FLIGHTS, kinds_of_spray
from wetspan.batch.weather import Placed, Skies, place_in_weather, with_own_delays
from wetspan.errors import InputError
from wetspan.outcome import Columns
from wetspan.parameters import POSITION
from wetspan.progress import Progress, shown
from wetspan.record import Numbers, Stretch, follow, in_order, weeks_at
from wetspan.scenario import Scenario
from wetspan.weather import Weather

#: The most airs that are followed before their rows are computed: progress is heard and memory bounded.
_PORTION = 64


@dataclass(frozen=True)
class Done:
    """The results of rows; those of rows that failed are NaN, and `failed` says why."""

    columns: Columns
    status: npt.NDArray[np.str_]
    path: npt.NDArray[np.str_]
    path_reason: npt.NDArray[np.int8]
    conditions: Numbers
    failed: dict[int, str]


@dataclass(frozen=True)
class Portion:
    """Rows that are computed together, all of them as they are for `rows` None.

    In weather: the places of their stretches among the jobs, and the weeks in which crops grow. No jobs: rows
    that have no place in weather.
    """

    rows: Positions | None
    jobs: npt.NDArray[np.int64]
    weeks: list[Numbers]


@dataclass(frozen=True)
class Laid:
    """Rows in portions; in weather also which of the stretches and weeks of its portion is each row's."""

    portions: list[Portion]
    air_of: Positions | None
    weeks_of: Positions | None


_NONE = np.empty(0, dtype=np.int64)


def laid_out(
    house: Scenario,
    sky: Weather | None,
    rows: Iterable[npt.NDArray[np.int64] | None],
    placed: Placed | None,
    count: int,
) -> Laid:
    """Return portions of rows with what they share; crops grow in the weeks of `house`, in `sky` if given."""
    portions = []
    air_of = weeks_of = None
    if placed is not None:
        air_of, weeks_of = np.zeros(count, dtype=np.uint64), np.zeros(count, dtype=np.uint64)
    for its in rows:
        own = None if its is None else its.astype(np.uint64)
        if air_of is None or weeks_of is None or placed is None or its is None or placed.job[its[0]] < 0:
            portions.append(Portion(own, _NONE, []))
            continue
        job = placed.job[its]  # in order
        new = np.diff(job, prepend=-1) != 0
        air_of[its] = np.cumsum(new) - 1
        weeks, weeks_of[its] = _weeks(house, sky, placed, its)
        portions.append(Portion(own, job[new], weeks))
    return Laid(portions, air_of, weeks_of)


def _weeks(
    scenario: Scenario, sky: Weather | None, placed: Placed, rows: npt.NDArray[np.int64]
) -> tuple[list[Numbers], Positions]:
    """Return the temperatures of the weeks after some rows, in `sky` if given, and which is each row's."""
    if sky is not None and placed.moments[rows].notna().all():
        return weeks_at(scenario, sky, placed.moments[rows])
    if len(placed.records) == 1:
        return weeks_at(scenario, placed.records[0][1], placed.moments[rows])
    weeks: list[Numbers] = []
    of = np.zeros(len(rows), dtype=np.uint64)
    for place, (_, weather) in enumerate(placed.records):
        its = np.flatnonzero(placed.at[rows] == place)  # rows with a job have a moment
        if len(its):
            found, which = weeks_at(scenario, weather, placed.moments[rows[its]])
            of[its] = which + np.uint64(len(weeks))
            weeks += found
    return weeks, of


def split_into_portions(placed: Placed, rows: npt.NDArray[np.int64]) -> Iterator[npt.NDArray[np.int64]]:
    """Yield rows, those of the same air together, with a limited number of airs at a time."""
    order = rows[in_order(placed.job[rows], len(placed.jobs))]
    lost = int(np.searchsorted(placed.job[order], 0))
    if lost:
        yield order[:lost]
    order = order[lost:]
    if len(order):
        firsts = np.flatnonzero(np.diff(placed.job[order], prepend=-1))  # of each air
        yield from np.split(order, firsts[_PORTION::_PORTION])


def by_spray(
    scenario: Scenario, inputs: Mapping[str, Numbers], placed: Placed | None, count: int
) -> Iterator[npt.NDArray[np.int64] | None]:
    """Yield the rows of each portion, None for all as they are; those with tables one spray at a time."""
    rows = np.arange(count)
    tabled = np.broadcast_to(inputs.get(FLIGHTS, scenario[FLIGHTS]), count) != 0.0
    kinds = kinds_of_spray(inputs) if tabled.any() else None
    if kinds is None:
        yield from [None] if placed is None else split_into_portions(placed, rows)
        return
    together = rows[tabled][in_order(kinds[tabled], count)]
    groups = np.split(together, np.flatnonzero(np.diff(kinds[together])) + 1)
    if placed is None:
        yield np.concatenate([rows[~tabled], *groups])
        return
    for group in (rows[~tabled], *groups):
        yield from split_into_portions(placed, group)


def _compute_portion(
    scenario: Scenario,
    inputs: Mapping[str, Numbers],
    placed: Placed | None,
    laid: Laid,
    portion: Portion,
    table: _core.RowTable,
    before: int,
    threads: int,
    progress: Progress | None,
) -> dict[int, str]:
    """Compute some rows into a table, after so many others; return why rows failed."""
    total, rows = table.count, portion.rows
    airs: list[_core.CropAir] = []
    starts = None
    reasons: Mapping[int, str] = {}
    if placed is not None and rows is not None:
        if not len(portion.jobs):
            table.values[:, rows] = table.conditions[:, rows] = np.nan
            return {row: placed.reasons[row] for row in rows.tolist()}
        airs, reasons = _airs(scenario, inputs, placed, laid, portion, threads)
        starts = placed.starts
        if reasons:
            starts = starts.copy()
            starts[list(reasons)] = np.nan
    known = len(table.failed)
    with shown(progress) as heard:
        _core.simulate_rows(
            total,
            [scenario._core],
            airs,
            inputs=[(POSITION[name], values) for name, values in inputs.items()],
            air_of=laid.air_of if airs else None,
            starts=starts,
            weeks=portion.weeks,
            weeks_of=laid.weeks_of if portion.weeks else None,
            rows=rows,
            into=table,
            threads=allowed_threads(threads),
            progress=None if heard is None else lambda done: heard(before + done, total),
        )
    return {each.row: reasons.get(each.row, each.reason) for each in table.failed[known:]}


def _airs(
    scenario: Scenario,
    inputs: Mapping[str, Numbers],
    placed: Placed,
    laid: Laid,
    portion: Portion,
    threads: int,
) -> tuple[list[_core.CropAir], dict[int, str]]:
    """Return the air of each stretch and house of a portion; the rows that have none, and why.

    The air is that of the first row whose inputs are allowed: those that do not reach the air may differ.
    """
    jobs, rows, own = portion.jobs, portion.rows, laid.air_of
    assert rows is not None
    assert own is not None
    airs = [_core.steady_air(scenario._core)] * len(jobs)
    reasons: dict[int, str] = {}
    ends = np.flatnonzero(np.diff(own[rows])) + 1  # rows of one air stand together
    waiting = dict(enumerate(np.split(rows, ends)))
    tries = dict.fromkeys(waiting, 0)
    while waiting:
        tried: list[tuple[Weather, Stretch, Scenario]] = []
        places: list[int] = []
        for place, its in waiting.items():
            while tries[place] < len(its):
                row = int(its[tries[place]])
                try:
                    values = {name: float(column[row]) for name, column in inputs.items()}
                    own_house = scenario.replace(values) if values else scenario
                    tried.append((*placed.jobs[jobs[place]], own_house))
                    places.append(place)
                    break
                except InputError as error:
                    reasons[row] = str(error)
                    tries[place] += 1
        waiting = {place: waiting[place] for place in places}
        for place, air in zip(places, follow(tried, threads), strict=True):
            if isinstance(air, Exception):
                reasons[int(waiting[place][tries[place]])] = str(air)
                tries[place] += 1
            else:
                airs[place] = air
                del waiting[place]
    return airs, reasons


def computed(
    scenario: Scenario,
    inputs: Mapping[str, Numbers],
    placed: Placed | None,
    laid: Laid,
    count: int,
    names: Collection[str],
    threads: int,
    progress: Progress | None,
) -> Done:
    """Compute rows, portion by portion: outcomes of some names, or all and the air when sprayed."""
    if progress is not None:
        progress(0, count)
    table, failed, before = _core.RowTable(count), dict[int, str](), 0
    for portion in laid.portions:
        failed |= _compute_portion(scenario, inputs, placed, laid, portion, table, before, threads, progress)
        before += count if portion.rows is None else len(portion.rows)
    told = named(table)
    columns = {name: told.columns[name].copy() for name in names} if names else told.columns
    return Done(columns, told.status, told.path, told.path_reason, table.conditions, failed)


def over_draws(
    house: Scenario,
    drawn: Iterable[Scenario],
    rows: Mapping[str, Any],
    weather: Skies,
    threads: int,
    progress: Callable[[int, int], Progress | None],
    names: Collection[str] = (),
) -> Iterator[Done]:
    """Yield what rows of nothing but times and records come to in each scenario of a study.

    Rows are placed once, and crops grow in the weeks of `house`. `progress` gives that of each draw. `names`
    are those of the outcomes that are wanted.
    """
    columns, count = columns_of(house, Plain(rows))
    placed = place_in_weather(weather, house, columns, {}, count)
    laid = laid_out(house, None, split_into_portions(placed, np.arange(count)), placed, count)
    for i, each in enumerate(drawn):
        scenario, inputs = with_own_delays(each, {}, placed)
        yield computed(scenario, inputs, placed, laid, count, names, threads, progress(i, count))
