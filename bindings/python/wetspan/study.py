"""One spray, and sweeps over inputs."""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Mapping
from dataclasses import replace
from itertools import product
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from wetspan import _core
from wetspan.batch.core import compute
from wetspan.doubts import doubt_humectant
from wetspan.errors import InputError, echo
from wetspan.outcome import Columns, Outcome, attributes, dataset, scenario_attributes, single
from wetspan.parameters import POSITION, row_of
from wetspan.record import Moment, Numbers, air_at_spraying, crosses_a_gap, local, weeks_at
from wetspan.rewetting import DELAY, timed
from wetspan.scenario import Scenario, require_scenario
from wetspan.unit_columns import labels
from wetspan.weather import Weather


def simulate(scenario: Scenario, weather: Weather | None = None, time: Moment | None = None) -> Outcome:
    """Compute what one application, or the calendar of applications, does to a crop.

    Without `weather`, the spray is applied in the constant air of the scenario. With `weather`, it is applied
    at `time`, which is also the start of growth. `time` is read as by `weather.local`: wall-clock time of the
    record unless it has an offset. The weeks after it have the temperatures of the record, through the house,
    as far as the record reaches. Beyond it, and without weather, they have crop.mean_temperature.
    """
    require_scenario(scenario)
    doubt_humectants(scenario)
    if weather is None:
        if time is not None:
            raise InputError("a time was given without weather; give both, or neither for unchanging air")
        return single(scenario, _core.steady_air(scenario._core), 0.0)
    if time is None:
        raise InputError("weather was given without a time of spraying, such as time='2026-05-14T15:00'")
    scenario = timed(scenario, weather, local(weather, time))
    moment = pd.DatetimeIndex([local(weather, time)])
    (weeks,), _ = weeks_at(scenario, weather, moment)
    outcome = single(scenario, *air_at_spraying(scenario, weather, time), weeks)
    wet = np.array([min(np.fmax(outcome.wet_time, outcome.stem_wet_time), scenario["numerics.longest"])])
    return replace(outcome, bridged=bool(crosses_a_gap(weather, moment, wet)[0]))


def sweep(scenario: Scenario, axes: Mapping[str, Iterable[object]], *, threads: int = 0) -> xr.Dataset:
    """Compute every combination of values of some inputs in the scenario's constant air.

    `axes` gives the values of each input by its key, such as {"air.speed": [0.1, 0.3]}: texts with units,
    quantities, an array that states its unit (attrs["units"]), or bare numbers in SI. The Dataset has one
    dimension per key. Its coordinate has the numbers as they were given, and their unit as an attribute, so
    `.sel({"air.speed": 0.3})` finds the value that was given, and `batch` reads such a coordinate. Texts of
    several units are converted to the unit that people are shown. A combination that cannot be computed has
    NaN and the status "failed", and a warning is given.
    """
    require_scenario(scenario)
    rows = [row_of(key) for key in axes]
    if not rows:
        raise InputError("a sweep needs an input and its values, such as {'air.speed': [0.1, 0.3]}")
    given = {row.key: labels(row, _values(row.key, axes[row.key]), usual=scenario[row.key]) for row in rows}
    scenarios = [
        scenario.in_si(dict(zip(given, combination, strict=True)))
        for combination in product(*(axis.si for axis in given.values()))
    ]
    doubt_humectants(*scenarios)
    columns, status = _each(scenarios, threads)
    coords = {
        row.key: (row.key, given[row.key].given, attributes(row.key, given[row.key].unit, row.meaning))
        for row in rows
    }
    sizes = [len(axis.si) for axis in given.values()]
    result = dataset(columns, status, list(given), coords, sizes)
    result.attrs = scenario_attributes(scenario)
    return result


def _values(key: str, given: Any) -> Any:
    """Return the values of a sweep's axis, an array as it is."""
    try:
        values = given if hasattr(given, "__len__") else list(given)
        count = 0 if isinstance(given, str) else len(values)
    except TypeError:  # a single value
        count = 0
    if count == 0:
        raise InputError(f"{key} = {echo(given)}: a sweep needs a list of one value or more")
    return values


def _each(scenarios: list[Scenario], threads: int) -> tuple[Columns, npt.NDArray[np.str_]]:
    """Run every scenario in its own unchanging air."""
    jobs = np.arange(len(scenarios), dtype=np.uint64)
    return run_all(scenarios, [], jobs, None, np.zeros(len(scenarios)), threads)


def run_all(
    scenarios: list[Scenario],
    airs: list[_core.CropAir],
    scenario_of: npt.NDArray[np.uint64] | None,
    air_of: npt.NDArray[np.uint64] | None,
    starts: Numbers,
    threads: int,
    weeks: tuple[list[Numbers], npt.NDArray[np.uint64]] | None = None,
    delays: Numbers | None = None,
) -> tuple[Columns, npt.NDArray[np.str_]]:
    """Run many sprays. Those that cannot be computed are NaN, "failed", and warned of, unless all do."""
    done = compute(
        scenarios,
        airs,
        count=len(starts),
        inputs=[] if delays is None else [(POSITION[DELAY], delays)],
        scenario_of=scenario_of,
        air_of=air_of,
        starts=starts,
        weeks=() if weeks is None else weeks[0],
        weeks_of=None if weeks is None else weeks[1],
        threads=threads,
    )
    if done.failed and len(done.failed) == len(starts):
        done.failed[0].raise_error()
    if done.failed:
        told = f"{len(done.failed)} of {len(starts)} runs failed; the first: {done.failed[0].reason}"
        warnings.warn(told, RuntimeWarning, stacklevel=3)
    return done.columns, done.status


def doubt_humectants(*scenarios: Scenario) -> None:
    keys = ("liquid.humectant", "liquid.kappa")
    doubt_humectant(*([each[key] for each in scenarios] for key in keys))
