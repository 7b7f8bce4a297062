"""Rows computed by the core (`_core.simulate_rows`), with names for its columns and its codes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from numbers import Integral
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from wetspan import _core
from wetspan.errors import InputError
from wetspan.outcome import Columns
from wetspan.progress import Progress, shown
from wetspan.record import Numbers
from wetspan.scenario import Scenario

Positions: TypeAlias = npt.NDArray[np.uint64]

_STATUS, _PATH = np.array(_core.status_names), np.array(_core.path_names)
_MOST_THREADS = 1024


@dataclass(frozen=True)
class Computed:
    """What the core tells of rows."""

    columns: Columns
    status: npt.NDArray[np.str_]
    path: npt.NDArray[np.str_]
    path_reason: npt.NDArray[np.int8]
    failed: list[_core.FailedRow]


def compute(
    scenarios: Sequence[Scenario | _core.Scenario],
    airs: Sequence[_core.CropAir],
    *,
    count: int,
    inputs: Sequence[tuple[int, Numbers]] = (),
    scenario_of: Positions | None = None,
    air_of: Positions | None = None,
    starts: Numbers | None = None,
    weeks: Sequence[Numbers] = (),
    weeks_of: Positions | None = None,
    threads: int = 0,
    progress: Progress | None = None,
) -> Computed:
    """Run rows in the core, as `_core.simulate_rows` says."""
    with shown(progress) as heard:
        told = _core.simulate_rows(
            count,
            [each._core if isinstance(each, Scenario) else each for each in scenarios],
            list(airs),
            inputs=list(inputs),
            scenario_of=scenario_of,
            air_of=air_of,
            starts=starts,
            weeks=list(weeks),
            weeks_of=weeks_of,
            threads=allowed_threads(threads),
            progress=None if heard is None else lambda done: heard(done, count),
        )
    return named(told)


def compare(
    scenario: Scenario,
    airs: Sequence[_core.CropAir],
    air_of: Positions,
    starts: Numbers,
    weeks: tuple[Sequence[Numbers], Positions],
    delays: Numbers | None,
    threads: int,
) -> _core.Day:
    """Run a scenario, and both ends of its residue, at many times in the core."""
    with shown(None) as heard:
        return _core.compare_times(
            scenario._core,
            list(airs),
            air_of,
            starts,
            list(weeks[0]),
            weeks[1],
            delays,
            allowed_threads(threads),
            None if heard is None else lambda done: heard(done, 3 * len(starts)),
        )


def allowed_threads(threads: int) -> int:
    """Return a number of threads, refused unless it is whole and not too large."""
    if not isinstance(threads, Integral) or isinstance(threads, bool) or not 0 <= threads <= _MOST_THREADS:
        raise InputError(f"threads = {threads!r} is not a whole number from 0 to {_MOST_THREADS}")
    return int(threads)


def named(told: _core.RowTable) -> Computed:
    """Return a table of the core with names for its columns and codes."""
    return Computed(
        columns_of(told),
        statuses_of(told),
        _PATH[told.path],
        told.refusal.view(np.int8),
        told.failed,
    )


def columns_of(told: _core.RowTable | _core.Day) -> Columns:
    """Return the values of a table of the core by the names of outcomes."""
    return dict(zip((each.name for each in _core.outcome_variables()), told.values, strict=True))


def statuses_of(told: _core.RowTable | _core.Day) -> npt.NDArray[np.str_]:
    """Return the status of each row of a table of the core, by its name."""
    return np.asarray(_STATUS[told.status])
