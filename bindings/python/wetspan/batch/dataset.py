"""The Dataset of a batch: results along `row`, or in every cell of a grid."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from wetspan.batch.columns import ABOUT_ROWS, Rows, columns_of
from wetspan.batch.landing_tables import flown
from wetspan.batch.portions import by_spray, computed, laid_out
from wetspan.batch.weather import Skies, place_in_weather, with_own_delays
from wetspan.doubts import doubt_humectant
from wetspan.errors import InputError, described
from wetspan.outcome import attributes, dataset, scenario_attributes
from wetspan.parameters import row_of
from wetspan.paths import count as count_slow
from wetspan.paths import flags
from wetspan.paths import told as told_slow
from wetspan.progress import Progress
from wetspan.record import ABOUT_AIR, Numbers, told_conditions
from wetspan.scenario import Scenario, require_scenario
from wetspan.weather import Weather, WeatherGrid


def at_once(
    scenario: Scenario, rows: Rows, weather: Skies | None, threads: int, progress: Progress | None = None
) -> xr.Dataset:
    if isinstance(weather, WeatherGrid):
        return _over_cells(scenario, rows, weather, threads, progress)
    return of_rows(scenario, rows, weather, threads, progress)


def of_rows(
    scenario: Scenario,
    rows: Rows,
    weather: Skies | None,
    threads: int,
    progress: Progress | None,
    house: Scenario | None = None,
    sky: Weather | None = None,
) -> xr.Dataset:
    """Compute a batch; crops grow in the weeks of `house` and `sky`, left out those of each row's own."""
    require_scenario(scenario)
    if weather is not None and not isinstance(weather, Weather | Mapping):
        raise InputError(
            f"weather = {described(weather)} is no record; read it first, as in ws.read_weather('miami')"
        )
    columns, count = columns_of(scenario, rows)
    inputs: dict[str, Numbers] = {name: values for name, values in columns.items() if name not in ABOUT_ROWS}
    doubt_humectant(
        *(inputs.get(key, np.array(scenario[key])) for key in ("liquid.humectant", "liquid.kappa"))
    )
    if weather is None:
        for name, what in (("time", "times"), ("time_utc", "times"), ("weather", "records")):
            if name in columns:
                raise InputError(f"{what} were given without weather")
        placed = None
    else:
        placed = place_in_weather(weather, scenario, columns, inputs, count)
    asked = scenario
    scenario, inputs = with_own_delays(scenario, flown(scenario, inputs), placed)
    laid = laid_out(house or scenario, sky, by_spray(scenario, inputs, placed, count), placed, count)
    done = computed(scenario, inputs, placed, laid, count, (), threads, progress)
    coords: dict[str, object] = {
        name: ("row", inputs[name], attributes(name, row_of(name).unit, row_of(name).meaning))
        for name in inputs
    }
    if placed is not None:
        coords |= placed.coordinates(columns)
    air = told_conditions(done.conditions)
    more: dict[str, object] = {
        name: ("row", values, attributes(name, units, f"{long_name} when sprayed"))
        for name, (units, long_name) in ABOUT_AIR.items()
        for values in (air[name],)
    }
    more["path"] = ("row", done.path, {"long_name": "how the wet span was followed"})
    more["path_reason"] = ("row", done.path_reason, flags())
    if placed is not None:
        more["bridged"] = (
            "row",
            placed.bridged(done.columns, inputs.get("numerics.longest", scenario["numerics.longest"])),
            {"long_name": "whether the wet span crosses a gap that reading the record bridged"},
        )
    if done.failed:
        more["reason"] = ("row", _reasons(done.failed, count), {"long_name": "why a row failed"})
    result = dataset(done.columns, done.status, ["row"], coords, [count], more)
    result.attrs = scenario_attributes(asked) | {
        "failed": len(done.failed),
        "slow_rows": told_slow(count_slow(done.path_reason), count),
    }
    if placed is not None:
        result.attrs["weather"] = placed.told()
    return result


def _over_cells(
    scenario: Scenario, rows: Rows, grid: WeatherGrid, threads: int, progress: Progress | None
) -> xr.Dataset:
    """Compute every row in every cell of a grid."""
    columns, count = columns_of(scenario, rows)
    if "weather" in columns:
        raise InputError("over a grid every row is sprayed in every cell; leave out the column 'weather'")
    cells = len(grid)
    names = grid.cells.values.ravel()
    crossed: dict[str, Any] = {name: values.repeat(cells) for name, values in columns.items()}
    crossed["weather"] = np.tile(names, count)
    flat = of_rows(scenario, crossed, dict(grid), threads, progress)
    dims, shape = ("row", *(str(dim) for dim in grid.cells.dims)), (count, *grid.cells.shape)
    result = xr.Dataset(
        coords=dict(grid.cells.coords)
        | {str(name): each for name, each in flat.coords.items() if each.dims != ("row",)},
        attrs=flat.attrs,
    )
    for name, each in flat.variables.items():
        if each.dims[:1] != ("row",) or name == "weather":
            continue
        values = each.values.reshape(*shape, *each.shape[1:])
        if name in flat.coords:
            first = values.reshape(count, cells)[:, 0]  # the same in every cell
            result = result.assign_coords({str(name): ("row", first, each.attrs)})
        else:
            result[str(name)] = ((*dims, *each.dims[1:]), values, each.attrs)
    return result


def _reasons(failed: Mapping[int, str], count: int) -> npt.NDArray[np.str_]:
    """Warn of the rows that failed, and return the reason of each row."""
    row = min(failed)
    warnings.warn(
        f"{len(failed)} of {count} rows failed; the first, row {row}: {failed[row]}",
        RuntimeWarning,
        stacklevel=5,  # `batch` or `season`
    )
    reason = np.full(count, "", dtype=object)
    reason[list(failed)] = list(failed.values())
    return reason.astype(np.str_)
