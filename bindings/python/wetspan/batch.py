"""Many sprays at once: columns in, columns out."""

from __future__ import annotations

import importlib
import warnings
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from numbers import Integral
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from wetspan import _core
from wetspan.doubts import doubt_humectant, doubt_light
from wetspan.errors import InputError, described, nearest
from wetspan.outcome import Columns, attributes, dataset
from wetspan.parameters import POSITION, TABLE, row_of
from wetspan.paths import count as count_slow
from wetspan.paths import flags
from wetspan.paths import told as told_slow
from wetspan.progress import shown
from wetspan.record import (
    ABOUT_AIR,
    REACH_THE_AIR,
    Stretch,
    crosses_a_gap,
    distinct,
    follow,
    followed,
    in_order,
    local,
    outside,
    starts_in,
    stretches_of,
    told_conditions,
    weeks_at,
)
from wetspan.rewetting import DELAY, delays_at, without_clock
from wetspan.scenario import Scenario, require_scenario
from wetspan.units import column
from wetspan.weather import Weather, WeatherGrid

Numbers: TypeAlias = npt.NDArray[np.float64]
Positions: TypeAlias = npt.NDArray[np.uint64]
Progress: TypeAlias = Callable[[int, int], object]
#: Columns by name: a dict, a DataFrame, a Dataset along one dimension.
Rows: TypeAlias = Mapping[str, Any] | pd.DataFrame | xr.Dataset
Skies: TypeAlias = Weather | Mapping[str, Weather]
#: How many rows or days are computed together; "auto" chooses; a mapping names the dimension.
Chunks: TypeAlias = int | str | Mapping[str, int]

_STATUS, _PATH = np.array(_core.status_names), np.array(_core.path_names)
_MOST_THREADS = 1024
#: Columns that are no inputs.
_ABOUT_ROWS = ("time", "time_utc", "weather")
#: What inputs that may reach a landing begin with: rows that agree in them share a table.
_REACH_THE_LANDING = (
    "application.",
    "nozzle.",
    "liquid.",
    "droplets.",
    "canopy.",
    "retention.",
    "leaf.contact_angle",
    "stem.",
    "air.diffusivity",
    "numerics.",
)
_FLIGHTS = "numerics.flights"
#: Sprays of one kind for which filling their table of flights pays (measured in docs/how_to/many_sprays.md).
TABLE_PAYS = 1000
#: The most airs that are followed before their rows are computed: progress is heard and memory bounded.
_PORTION = 64
#: Inputs of unchanging air alone: a record sets them.
_OF_UNCHANGING_AIR = ("air.temperature", "air.relative_humidity", "air.pressure", "air.shortwave")


def batch(
    scenario: Scenario,
    rows: Rows,
    weather: Skies | None = None,
    *,
    threads: int = 0,
    progress: Progress | None = None,
    chunks: Chunks | None = None,
) -> xr.Dataset:
    """Compute many sprays, one a row.

    `rows` holds columns of equal length: inputs by their keys ("air.speed"), which replace the scenario's;
    with `weather` also "time", the moments of spraying; and with several records, `weather={"miami": ...,
    ...}`, "weather", which of them. Values are texts with units, names of choices, quantities, columns that
    state their unit (attrs["units"]; of a DataFrame also a mapping by column), or bare numbers in SI; float64
    columns in SI are not copied. With weather, columns that the record supplies (air.temperature, ...) are
    refused.

    Times are text, datetimes or datetime64. One with an offset is converted; one without is wall-clock time
    of its row's record. The Dataset holds `time`, the record's own wall clock (the attribute `time_zone`),
    and `time_utc`, both datetime64, whatever was given. Where rows hold `time_utc` too, as such a Dataset
    does, it goes before `time`. A row whose time cannot be read, is missing (NaT), does not exist or comes
    twice on its clock, or lies outside its record fails alone.

    The Dataset lies along `row` and keeps the columns as coordinates. Its variables are those of `sweep`, the
    air at the moment of spraying (air_temperature, relative_humidity, vapour_pressure_deficit, shortwave,
    air_changes), and `path`, how the wet span was followed: "clock" where the droplets' clocks are exact,
    otherwise "reference", by the full system, which takes a hundred times as long; `path_reason` codes why,
    and the attribute `slow_rows` counts it (`ws.slow_rows`). With weather also `bridged`, whether the wet
    span crosses a gap that reading the record bridged. A row that cannot be computed has the status "failed",
    NaN for its numbers, and its `reason`. The attribute `weather` tells the records.

    A row's numbers depend on that row alone: they are the same bits in any batch, in any order, on any number
    of threads, and those of `simulate` (with tables of flights see below). With weather the air is followed
    through the weeks that rows lie in, once for each week and each combination of the inputs that reach it,
    and kept for the next call.

    Over a grid (`Weather.from_xarray`) every row is sprayed in every cell: the Dataset lies along `row` and
    the grid's dimensions, and has the grid's coordinates.

    For very many sprays of one kind set numerics.flights to "table". Where columns change the spray itself
    (droplets.dv50, ...), each flight of a spray that fewer than 1000 rows share is still computed, which then
    costs less; the column numerics.flights tells which. Give that column yourself to decide.

    `progress` is called now and then with the rows done and all rows, first with none; without it a bar is
    shown in a terminal or a notebook, once it has taken two seconds. An interrupt ends the batch. `threads` 0
    is one per processor.

    With `chunks`, rows that are computed together ("auto" for 10 000), or with columns that Dask holds, the
    Dataset is lazy: Dask computes it when its numbers are asked for, on the scheduler that is set up, with
    the same bits. `reason` is then always there, cut to 120 characters, and `threads` are those of each
    chunk, one if left out. `ws.to_zarr` writes it chunk by chunk.
    """
    if chunks is not None or _in_dask(rows):
        return _lazy(scenario, rows, weather, threads, "auto" if chunks is None else chunks)
    with shown(progress) as told:
        return _at_once(scenario, rows, weather, threads, told)


def _at_once(
    scenario: Scenario, rows: Rows, weather: Skies | None, threads: int, progress: Progress | None = None
) -> xr.Dataset:
    if isinstance(weather, WeatherGrid):
        return _over_cells(scenario, rows, weather, threads, progress)
    return _batch(scenario, rows, weather, threads, progress)


def batches(
    scenario: Scenario,
    chunks: Iterable[Rows],
    weather: Skies | None = None,
    *,
    threads: int = 0,
    progress: Progress | None = None,
) -> Iterator[xr.Dataset]:
    """Compute `batch` for chunk after chunk: of any number of rows no more than a chunk is held.

    The chunks may come from a generator, such as `pandas.read_csv(..., chunksize=100_000)`. What a row gives
    does not depend on how rows are cut into chunks, but for tables of flights, which each chunk chooses anew
    where its columns change the spray.
    """
    for rows in chunks:
        yield batch(scenario, rows, weather, threads=threads, progress=progress)


class Plain(dict[str, Any]):
    """Columns that are read: inputs in SI, times, names of records."""


def _in_dask(rows: Rows) -> bool:
    """Return whether Dask holds some of the columns."""
    if isinstance(rows, pd.DataFrame) or not isinstance(rows, Mapping | xr.Dataset):
        return False
    given = _given(rows).values()
    return any(hasattr(each.data if isinstance(each, xr.DataArray) else each, "dask") for each in given)


def _given(rows: Rows) -> dict[str, Any]:
    """Return the columns of rows as they were given, by name."""
    if not isinstance(rows, Mapping | pd.DataFrame | xr.Dataset):
        raise InputError(
            "rows are columns by name, a dict, a DataFrame or a Dataset, such as {'air.speed': [0.1, 0.3]}; "
            f"given {described(rows)}"
        )
    table: Any = rows
    names: list[Any] = list(table)
    if isinstance(rows, xr.Dataset):
        names += [name for name in rows.coords if name in _ABOUT_ROWS or name in TABLE]
    return {str(name): table[name] for name in names}


def _rows_of(scenario: Scenario, columns: Any, threads: int, weather: Skies | None) -> xr.Dataset:
    """Compute a chunk of rows."""
    return _at_once(scenario, importlib.import_module("wetspan.lazy").labelled(columns), weather, threads)


def _lazy(scenario: Scenario, rows: Rows, weather: Skies | None, threads: int, chunks: Chunks) -> xr.Dataset:
    """Return a batch that is computed chunk by chunk when it is asked for."""
    lazy = importlib.import_module("wetspan.lazy")
    given = _given(rows)
    if not _in_dask(rows):
        read = _columns(scenario, rows)[0]
        about = {name: values for name, values in read.items() if name in _ABOUT_ROWS}
        inputs = {name: values for name, values in read.items() if name not in _ABOUT_ROWS}
        given = Plain(about | flown(scenario, inputs))
    elif _FLIGHTS not in given and any(name.startswith(_REACH_THE_LANDING) for name in given):
        scenario = scenario.in_si({_FLIGHTS: 0.0})  # which rows share a spray is not known
    columns = lazy.Columns.of(given, chunks)
    records: dict[str, Weather] = {}
    if isinstance(weather, Weather):
        records = {"": weather}
    elif weather is not None:
        records = dict(weather)
    template = lazy.with_reason(_at_once(scenario, columns.none(), weather, threads))
    if "weather" in template.coords:  # wide enough for every name
        names = np.empty(0, dtype=f"<U{max(map(len, records), default=1)}")
        template = template.assign_coords(weather=("row", names, template["weather"].attrs))
    if records:
        template["time"].attrs["time_zone"] = _zones(list(records.items()))
    study = lazy.Study(lazy.fingerprint(scenario, weather, columns.told()), _rows_of, scenario)
    parts = {
        (i,): study.part(template, i, (part, threads or 1), weather) for i, part in enumerate(columns.parts())
    }
    result: xr.Dataset = lazy.assembled(template, {"row": columns.sizes}, parts)
    told = "; ".join(f"{name}: {each!r}" if name else repr(each) for name, each in records.items())
    result.attrs = study.attributes(template.attrs) | ({"weather": told} if records else {})
    return result


@dataclass(frozen=True)
class Computed:
    """What the core tells of rows."""

    columns: Columns
    status: npt.NDArray[np.str_]
    path: npt.NDArray[np.str_]
    path_reason: npt.NDArray[np.int8]
    failed: list[tuple[int, str]]


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


def allowed_threads(threads: int) -> int:
    """Return a number of threads, refused unless it is whole and not too large."""
    if not isinstance(threads, Integral) or isinstance(threads, bool) or not 0 <= threads <= _MOST_THREADS:
        raise InputError(f"threads = {threads!r} is not a whole number from 0 to {_MOST_THREADS}")
    return int(threads)


def named(told: _core.RowTable) -> Computed:
    """Return a table of the core with names for its columns and codes."""
    names = [each.name for each in _core.outcome_variables()]
    return Computed(
        dict(zip(names, told.values, strict=True)),
        _STATUS[told.status],
        _PATH[told.path],
        told.refusal.view(np.int8),
        [(each.row, each.reason) for each in told.failed],
    )


def _batch(
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
    columns, count = _columns(scenario, rows)
    inputs: dict[str, Numbers] = {name: values for name, values in columns.items() if name not in _ABOUT_ROWS}
    doubt_humectant(
        *(inputs.get(key, np.array(scenario[key])) for key in ("liquid.humectant", "liquid.kappa"))
    )
    if weather is None:
        for name, what in (("time", "times"), ("time_utc", "times"), ("weather", "records")):
            if name in columns:
                raise InputError(f"{what} were given without weather")
        placed = None
    else:
        placed = _place(weather, scenario, columns, inputs, count)
    asked = scenario
    scenario, inputs = _timed(scenario, flown(scenario, inputs), placed)
    laid = _laid(house or scenario, sky, _by_spray(scenario, inputs, placed, count), placed, count)
    done = _computed(scenario, inputs, placed, laid, count, (), threads, progress)
    coords: dict[str, object] = {
        name: ("row", inputs[name], attributes(name, row_of(name).unit, row_of(name).meaning))
        for name in inputs
    }
    if placed is not None:
        coords |= placed.coordinates(columns)
    result = dataset(done.columns, done.status, ["row"], coords, [count])
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
            placed.bridged(result, inputs.get("numerics.longest", scenario["numerics.longest"])),
            {"long_name": "whether the wet span crosses a gap that reading the record bridged"},
        )
    if done.failed:
        more["reason"] = ("row", _reasons(done.failed, count), {"long_name": "why a row failed"})
    result = result.assign(more)
    result.attrs = {
        "Conventions": "CF-1.11",
        "title": scenario.title,
        "scenario": asked.to_toml(),
        "shown_in": str(scenario.units),
        "wetspan_version": _core.__version__,
        "failed": len(done.failed),
        "slow_rows": told_slow(count_slow(done.path_reason), count),
    }
    if placed is not None:
        result.attrs["weather"] = placed.told()
    return result


def _timed(
    scenario: Scenario, inputs: dict[str, Numbers], placed: _Placed | None
) -> tuple[Scenario, dict[str, Numbers]]:
    """Return a scenario and its inputs with each row's own interval where re-wetting is at a time of day."""
    if placed is None or scenario.rewetting_at is None:
        return scenario, inputs
    if DELAY in inputs:
        raise InputError(f"the scenario has rewetting.at and the rows have {DELAY}; keep one of them")
    return without_clock(scenario), inputs | {DELAY: placed.delays(scenario)}


def _computed(
    scenario: Scenario,
    inputs: Mapping[str, Numbers],
    placed: _Placed | None,
    laid: _Laid,
    count: int,
    names: Collection[str],
    threads: int,
    progress: Progress | None,
) -> _Done:
    """Compute rows, portion by portion: outcomes of some names, or all and the air when sprayed."""
    if progress is not None:
        progress(0, count)
    table, failed, before = _core.RowTable(count), dict[int, str](), 0
    for portion in laid.portions:
        failed |= _compute_portion(scenario, inputs, placed, laid, portion, table, before, threads, progress)
        before += count if portion.rows is None else len(portion.rows)
    told = named(table)
    columns = {name: told.columns[name].copy() for name in names} if names else told.columns
    return _Done(columns, told.status, told.path, told.path_reason, table.conditions, failed)


def over_draws(
    house: Scenario,
    drawn: Iterable[Scenario],
    rows: Mapping[str, Any],
    weather: Skies,
    threads: int,
    progress: Callable[[int, int], Progress | None],
    names: Collection[str] = (),
) -> Iterator[_Done]:
    """Yield what rows of nothing but times and records come to in each scenario of a study.

    Rows are placed once, and crops grow in the weeks of `house`. `progress` gives that of each draw. `names`
    are those of the outcomes that are wanted.
    """
    columns, count = _columns(house, Plain(rows))
    placed = _place(weather, house, columns, {}, count)
    laid = _laid(house, None, _portions(placed, np.arange(count)), placed, count)
    for i, each in enumerate(drawn):
        scenario, inputs = _timed(each, {}, placed)
        yield _computed(scenario, inputs, placed, laid, count, names, threads, progress(i, count))


def _over_cells(
    scenario: Scenario, rows: Rows, grid: WeatherGrid, threads: int, progress: Progress | None
) -> xr.Dataset:
    """Compute every row in every cell of a grid."""
    columns, count = _columns(scenario, rows)
    if "weather" in columns:
        raise InputError("over a grid every row is sprayed in every cell; leave out the column 'weather'")
    cells = len(grid)
    names = grid.cells.values.ravel()
    crossed: dict[str, Any] = {name: values.repeat(cells) for name, values in columns.items()}
    crossed["weather"] = np.tile(names, count)
    flat = _batch(scenario, crossed, dict(grid), threads, progress)
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


def _columns(scenario: Scenario, rows: Rows) -> tuple[dict[str, Any], int]:
    """Return the columns of rows by name, and how many rows there are."""
    read = isinstance(rows, Plain)
    columns = {
        name: values if read else _plain(scenario, name, values) for name, values in _given(rows).items()
    }
    for name, values in columns.items():
        if values.ndim != 1:
            raise InputError(f"{name} has {values.ndim} dimensions; a column has one")
    lengths = {name: len(values) for name, values in columns.items()}
    if not lengths:
        raise InputError("a batch needs columns, such as {'air.speed': [0.1, 0.3]}")
    if len(set(lengths.values())) > 1:
        told = ", ".join(f"{name} {length}" for name, length in lengths.items())
        raise InputError(f"the columns of a batch are not equally long: {told}")
    return columns, next(iter(lengths.values()))


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


# --- rows in weather --------------------------------------------------------------------------------------


@dataclass
class _Placed:
    """Where rows stand in weather: each one's record and moment, its stretch of it, its house.

    `at` is the place of each row's record among `records`; `job` that of its stretch and house among `jobs`,
    -1 for a row that has none, and then `reasons` says why.
    """

    records: list[tuple[str, Weather]]
    at: npt.NDArray[np.int64]
    moments: pd.DatetimeIndex
    starts: Numbers
    job: npt.NDArray[np.int64]
    jobs: list[tuple[Weather, Stretch]]
    reasons: dict[int, str]

    def coordinates(self, columns: Mapping[str, Any]) -> dict[str, object]:
        """Return the times of rows, on the clock of each one's record and in UTC, and which record it is."""
        clock = np.full(len(self.at), "NaT", dtype="datetime64[ns]")
        for place, (_, weather) in enumerate(self.records):
            its = self.at == place
            clock[its] = self.moments[its].tz_convert(weather.tz).tz_localize(None).to_numpy()
        coords: dict[str, object] = {
            "time": (
                "row",
                clock,
                {
                    "long_name": "time of spraying on the record's own clock",
                    "time_zone": _zones(self.records),
                },
            ),
            "time_utc": (
                "row",
                self.moments.tz_localize(None).to_numpy().astype("datetime64[ns]"),
                {"standard_name": "time", "long_name": "time of spraying in UTC"},
            ),
        }
        if "weather" in columns:
            names = np.array([name for name, _ in self.records] or [""])
            coords["weather"] = ("row", names[self.at], {"long_name": "weather record"})
        return coords

    def delays(self, scenario: Scenario) -> Numbers:
        """Return the time from each row's spray to its re-wetting [s], 0 for rows without a moment."""
        delays = np.zeros(len(self.at))
        for place, (_, weather) in enumerate(self.records):
            its = np.flatnonzero((self.at == place) & self.moments.notna())
            told = delays_at(scenario, weather, self.moments[its])
            delays[its] = 0.0 if told is None else told
        return delays

    def told(self) -> str:
        """Return the records in words."""
        return "; ".join(f"{name}: {weather!r}" if name else repr(weather) for name, weather in self.records)

    def bridged(self, result: xr.Dataset, longest: float | Numbers) -> npt.NDArray[np.bool_]:
        """Return whether each row's wet span crosses a gap of its record."""
        wet = np.fmax(result["wet_time"].values, result["stem_wet_time"].values)
        wet = np.minimum(np.nan_to_num(wet, nan=0.0, posinf=np.inf), longest)
        crosses = np.zeros(len(wet), dtype=np.bool_)
        for place, (_, weather) in enumerate(self.records):
            its = np.flatnonzero((self.at == place) & self.moments.notna())
            crosses[its] = crosses_a_gap(weather, self.moments[its], wet[its])
        return crosses


def _zones(records: Iterable[tuple[str, Weather]]) -> str:
    """Return the clock of records in words."""
    zones = {weather.time_zone for _, weather in records}
    several = "; ".join(f"{name}: {weather.time_zone}" for name, weather in records)
    return zones.pop() if len(zones) == 1 else several


def _place(
    weather: Skies,
    scenario: Scenario,
    columns: Mapping[str, Any],
    inputs: Mapping[str, Numbers],
    count: int,
) -> _Placed:
    if "time" not in columns and "time_utc" not in columns:
        raise InputError("weather was given without a column 'time' of the moments of spraying")
    records, at = _records(weather, columns, count)
    reaching = [name for name in inputs if name in REACH_THE_AIR]
    house_of = np.zeros(count, dtype=np.int64)
    if reaching and count:
        house_of, _ = distinct([inputs[name] for name in reaching])
    longest: Any = inputs.get("numerics.longest", scenario["numerics.longest"])
    longest = np.clip(np.nan_to_num(longest, nan=0.0), 0.0, TABLE["numerics.longest"].high)
    longest = longest + (followed(scenario) - scenario["numerics.longest"])

    job = np.full(count, -1, dtype=np.int64)
    starts = np.full(count, np.nan)
    utc = np.full(count, "NaT", dtype="datetime64[ns]")
    reasons: dict[int, str] = {}
    jobs: list[tuple[Weather, Stretch]] = []
    for place, (_, record) in enumerate(records):
        rows = np.flatnonzero(at == place)
        _refuse_what_is_set(record, scenario, inputs, rows)
        moments, wrong = _moments(record, columns, rows)
        utc[rows] = moments.tz_localize(None).to_numpy()
        wrong |= outside(record, moments.tz_convert(record.tz))
        reasons |= {int(rows[i]): why for i, why in wrong.items()}
        known = np.asarray(moments.notna())
        known[list(wrong)] = False
        if not known.all():
            rows, moments = rows[known], moments[known]
        doubt_light(record, moments)
        stretches, which = stretches_of(record, moments, longest[rows] if np.ndim(longest) else longest)
        starts[rows] = starts_in(record, stretches, which, moments)
        own, firsts = distinct([which, house_of[rows]])
        job[rows] = len(jobs) + own
        jobs += [(record, stretches[stretch]) for stretch in which[firsts].tolist()]
    return _Placed(records, at, pd.DatetimeIndex(utc, tz="UTC"), starts, job, jobs, reasons)


def _records(
    weather: Skies, columns: Mapping[str, Any], count: int
) -> tuple[list[tuple[str, Weather]], npt.NDArray[np.int64]]:
    """Return the records of rows with their names, and the place of each row's among them."""
    if isinstance(weather, Weather):
        if "weather" in columns:
            raise InputError("a column 'weather' wants weather={'name': record, ...}")
        return [("", weather)], np.zeros(count, dtype=np.int64)
    if "weather" not in columns:
        raise InputError("several weather records were given without a column 'weather' that tells which")
    codes, names = _distinct("weather record", columns["weather"])
    for name in names:
        if name not in weather:
            known = [str(each) for each in weather]
            near = nearest(str(name), known) or f"known are {', '.join(known)}"
            raise InputError(f"there is no weather record {name!r}; {near}")
        if not isinstance(weather[name], Weather):
            raise InputError(f"weather[{name!r}] is no record; read it first, as in ws.read_weather('miami')")
    return [(str(name), weather[name]) for name in names], codes


def _moments(
    weather: Weather, columns: Mapping[str, Any], rows: npt.NDArray[np.int64]
) -> tuple[pd.DatetimeIndex, dict[int, str]]:
    """Return the moments of rows in UTC, NaT for those that cannot be known, and why."""
    name = "time_utc" if "time_utc" in columns else "time"
    given = columns[name][rows]
    if isinstance(given, pd.DatetimeIndex) or np.issubdtype(given.dtype, np.datetime64):
        index = pd.DatetimeIndex(given)
        if name == "time_utc" and index.tz is None:
            index = index.tz_localize("UTC")
        return weather.utc_of(index)
    codes, known = pd.factorize(given)  # a missing one has the code -1
    told = [_moment(weather, _as_utc(each) if name == "time_utc" else each) for each in known]
    utc = np.array([*(moment for moment, _ in told), np.datetime64("NaT")], dtype="datetime64[ns]")
    wrong = dict.fromkeys(np.flatnonzero(codes < 0).tolist(), "its time is missing (NaT)")
    for i in np.flatnonzero(np.isnat(utc[codes]) & (codes >= 0)).tolist():
        wrong[i] = told[codes[i]][1]
    return pd.DatetimeIndex(utc[codes], tz="UTC"), wrong


def _as_utc(given: object) -> object:
    """Return text or a datetime without an offset as UTC; what cannot be read as it is."""
    try:
        # pandas 2 refuses NumPy's own kind of text
        stamp = pd.Timestamp(str(given) if isinstance(given, str) else given)  # type: ignore[arg-type]
    except (ValueError, TypeError):
        return given
    return stamp.tz_localize("UTC") if stamp.tz is None else given


def _moment(weather: Weather, given: object) -> tuple[np.datetime64, str]:
    """Return one moment in UTC, or NaT and why it cannot be known."""
    try:
        moment = local(weather, given)  # type: ignore[arg-type]  # refused in words unless it is a moment
        return moment.tz_convert("UTC").tz_localize(None).to_datetime64(), ""
    except InputError as error:
        return np.datetime64("NaT", "ns"), str(error)


# --- computing ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Done:
    """The results of rows; those of rows that failed are NaN, and `failed` says why."""

    columns: Columns
    status: npt.NDArray[np.str_]
    path: npt.NDArray[np.str_]
    path_reason: npt.NDArray[np.int8]
    conditions: Numbers
    failed: dict[int, str]


@dataclass(frozen=True)
class _Portion:
    """Rows that are computed together, all of them as they are for `rows` None.

    In weather: the places of their stretches among the jobs, and the weeks in which crops grow. No jobs: rows
    that have no place in weather.
    """

    rows: Positions | None
    jobs: npt.NDArray[np.int64]
    weeks: list[Numbers]


@dataclass(frozen=True)
class _Laid:
    """Rows in portions; in weather also which of the stretches and weeks of its portion is each row's."""

    portions: list[_Portion]
    air_of: Positions | None
    weeks_of: Positions | None


_NONE = np.empty(0, dtype=np.int64)


def _laid(
    house: Scenario,
    sky: Weather | None,
    rows: Iterable[npt.NDArray[np.int64] | None],
    placed: _Placed | None,
    count: int,
) -> _Laid:
    """Return portions of rows with what they share; crops grow in the weeks of `house`, in `sky` if given."""
    portions = []
    air_of = weeks_of = None
    if placed is not None:
        air_of, weeks_of = np.zeros(count, dtype=np.uint64), np.zeros(count, dtype=np.uint64)
    for its in rows:
        own = None if its is None else its.astype(np.uint64)
        if air_of is None or weeks_of is None or placed is None or its is None or placed.job[its[0]] < 0:
            portions.append(_Portion(own, _NONE, []))
            continue
        job = placed.job[its]  # in order
        new = np.diff(job, prepend=-1) != 0
        air_of[its] = np.cumsum(new) - 1
        weeks, weeks_of[its] = _weeks(house, sky, placed, its)
        portions.append(_Portion(own, job[new], weeks))
    return _Laid(portions, air_of, weeks_of)


def _weeks(
    scenario: Scenario, sky: Weather | None, placed: _Placed, rows: npt.NDArray[np.int64]
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


def _portions(placed: _Placed, rows: npt.NDArray[np.int64]) -> Iterator[npt.NDArray[np.int64]]:
    """Yield rows, those of the same air together, with a limited number of airs at a time."""
    order = rows[in_order(placed.job[rows], len(placed.jobs))]
    lost = int(np.searchsorted(placed.job[order], 0))
    if lost:
        yield order[:lost]
    order = order[lost:]
    if len(order):
        firsts = np.flatnonzero(np.diff(placed.job[order], prepend=-1))  # of each air
        yield from np.split(order, firsts[_PORTION::_PORTION])


def flown(scenario: Scenario, inputs: Mapping[str, Numbers]) -> dict[str, Numbers]:
    """Return inputs with numerics.flights as is cheapest, where a table is asked for and sprays vary by row.

    Filling the table of a spray that few rows share costs more than computing each of their flights.
    """
    kinds = None if _FLIGHTS in inputs or scenario[_FLIGHTS] == 0.0 else _kinds(inputs)
    if kinds is None:
        return dict(inputs)
    sharing = np.bincount(kinds)[kinds]
    return dict(inputs) | {_FLIGHTS: np.where(sharing < TABLE_PAYS, 0.0, scenario[_FLIGHTS])}


def _kinds(inputs: Mapping[str, Numbers]) -> npt.NDArray[np.int64] | None:
    """Return a number for each row, the same for rows of one spray; None where the inputs change no spray."""
    sprays = [values for name, values in inputs.items() if name.startswith(_REACH_THE_LANDING)]
    if not sprays or not len(sprays[0]):
        return None
    return distinct(sprays)[0]


def _by_spray(
    scenario: Scenario, inputs: Mapping[str, Numbers], placed: _Placed | None, count: int
) -> Iterator[npt.NDArray[np.int64] | None]:
    """Yield the rows of each portion, None for all as they are; those with tables one spray at a time."""
    rows = np.arange(count)
    tabled = np.broadcast_to(inputs.get(_FLIGHTS, scenario[_FLIGHTS]), count) != 0.0
    kinds = _kinds(inputs) if tabled.any() else None
    if kinds is None:
        yield from [None] if placed is None else _portions(placed, rows)
        return
    together = rows[tabled][in_order(kinds[tabled], count)]
    groups = np.split(together, np.flatnonzero(np.diff(kinds[together])) + 1)
    if placed is None:
        yield np.concatenate([rows[~tabled], *groups])
        return
    for group in (rows[~tabled], *groups):
        yield from _portions(placed, group)


def _compute_portion(
    scenario: Scenario,
    inputs: Mapping[str, Numbers],
    placed: _Placed | None,
    laid: _Laid,
    portion: _Portion,
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
    placed: _Placed,
    laid: _Laid,
    portion: _Portion,
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


def _refuse_what_is_set(
    weather: Weather, scenario: Scenario, inputs: Mapping[str, Numbers], rows: npt.NDArray[np.int64]
) -> None:
    """Refuse columns that would change nothing in some of a record's rows, since the record sets them."""
    enclosed = (
        inputs["house.enclosed"][rows]
        if "house.enclosed" in inputs
        else np.full(len(rows), scenario["house.enclosed"])
    )
    idle = set_by_a_record(weather, enclosed)
    for name in idle:
        if name in inputs:
            raise InputError(
                f"{name} cannot be a column here: the weather record {weather.source} sets it; leave out the "
                "column, or the weather"
            )


def set_by_a_record(weather: Weather, enclosed: npt.ArrayLike) -> list[str]:
    """Return the inputs that a record sets, of which a column would change nothing in some rows."""
    at_crop, inside = weather.exposure == "crop", np.asarray(enclosed, dtype=bool)
    idle = list(_OF_UNCHANGING_AIR)
    if at_crop or not inside.all():
        idle.append("air.speed")
    if not at_crop and inside.any():
        idle.append("air.surroundings_offset")
    return idle


def _plain(scenario: Scenario, name: str, values: Any) -> Any:
    """Return a column without labels: of an input in the table's unit, of times with their zone."""
    if name not in _ABOUT_ROWS:
        return np.atleast_1d(column(row_of(name), values, usual=scenario[name]))
    if isinstance(getattr(values, "dtype", None), pd.DatetimeTZDtype):
        return pd.DatetimeIndex(values)
    return np.atleast_1d(values.to_numpy() if hasattr(values, "to_numpy") else np.asarray(values))


def _distinct(name: str, values: npt.NDArray[Any]) -> tuple[npt.NDArray[np.int64], Any]:
    """Return the position of each value among the distinct ones, and these; a missing value is refused."""
    codes, known = pd.factorize(values)
    if (codes < 0).any():
        raise InputError(f"{name}: row {int((codes < 0).argmax())} has no value")
    return np.asarray(codes, dtype=np.int64), known
