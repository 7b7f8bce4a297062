"""Many sprays at once: columns in, columns out."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from numbers import Integral
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from wetspan import _core
from wetspan.errors import InputError, IntegrationError, nearest
from wetspan.outcome import Columns, attributes, dataset
from wetspan.parameters import TABLE, row_of
from wetspan.record import SETTLING, Record, local
from wetspan.scenario import Scenario
from wetspan.units import column
from wetspan.weather import Weather

Numbers: TypeAlias = npt.NDArray[np.float64]
Positions: TypeAlias = npt.NDArray[np.uint64]
Progress: TypeAlias = Callable[[int, int], object]
#: Columns by name: a dict, a DataFrame, a Dataset along one dimension.
Rows: TypeAlias = Mapping[str, Any] | pd.DataFrame | xr.Dataset
Skies: TypeAlias = Weather | Mapping[str, Weather]

_STATUS, _PATH = np.array(_core.status_names), np.array(_core.path_names)
_MOST_THREADS = 1024
#: Inputs that the air of a house, or of a crop outdoors, answers to.
REACH_THE_AIR = (
    *(
        key
        for key in TABLE
        if key.startswith("house.") and key not in ("house.sprayed_share", "house.bench_conductance")
    ),
    "air.speed",
    "air.surroundings_offset",
    "air.diffusivity",
    "canopy.plant_density",
    "canopy.leaf_area",
    "canopy.crown_cover",
    "canopy.extinction",
    "canopy.clumping",
    "leaf.width",
    "leaf.absorptance",
    "leaf.turbulence",
    "leaf.stomatal_conductance",
    "leaf.stomatal_half_light",
)
#: Inputs of unchanging air alone: a record sets them.
_OF_UNCHANGING_AIR = ("air.temperature", "air.relative_humidity", "air.pressure", "air.shortwave")


def batch(
    scenario: Scenario,
    rows: Rows,
    weather: Skies | None = None,
    *,
    threads: int = 0,
    progress: Progress | None = None,
) -> xr.Dataset:
    """Compute many sprays, one a row.

    `rows` holds columns of equal length: inputs by their keys ("air.speed"), which replace the scenario's;
    with `weather` also "time", the moments of spraying, read as by `weather.local`; and with several records,
    `weather={"miami": ..., ...}`, "weather", which of them. Values are texts with units, names of choices,
    quantities, columns that state their unit (attrs["units"]; of a DataFrame also a mapping by column), or
    bare numbers in SI; float64 columns in SI are not copied. Beside weather, columns of what the record sets
    (air.temperature, ...) are refused.

    The Dataset lies along `row` and keeps the columns as coordinates. Its variables are those of `sweep`, and
    besides `path`, how the wet span was followed: "clock" where the droplets' clocks are exact, otherwise
    "reference". A row that cannot be computed has the status "failed", NaN for its numbers, and its `reason`.

    A row's numbers depend on that row alone: they are the same bits in any batch, in any order, on any number
    of threads. With weather the house's air is followed through the whole record, once for each record and
    each combination of the inputs that reach it.

    For very many sprays of one kind set numerics.flights to "table". `progress` is called now and then with
    the rows done and all rows; an interrupt ends the batch. `threads` 0 is one per processor.
    """
    return _batch(scenario, rows, _Airs(weather), threads, progress)


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
    does not depend on how rows are cut into chunks.
    """
    airs = _Airs(weather)
    for rows in chunks:
        yield _batch(scenario, rows, airs, threads, progress)


@dataclass(frozen=True)
class Computed:
    """What the core tells of rows."""

    columns: Columns
    status: npt.NDArray[np.str_]
    path: npt.NDArray[np.str_]
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
    threads: int = 0,
    progress: Progress | None = None,
) -> Computed:
    """Run rows in the core, as `_core.simulate_rows` says."""
    if not isinstance(threads, Integral) or isinstance(threads, bool) or not 0 <= threads <= _MOST_THREADS:
        raise InputError(f"threads = {threads!r} is not a whole number from 0 to {_MOST_THREADS}")
    values, status, path, failed = _core.simulate_rows(
        count,
        [each._core if isinstance(each, Scenario) else each for each in scenarios],
        list(airs),
        inputs=list(inputs),
        scenario_of=scenario_of,
        air_of=air_of,
        starts=starts,
        threads=int(threads),
        progress=None if progress is None else lambda done: progress(done, count),
    )
    names = [name for name, *_ in _core.outcome_variables()]
    return Computed(dict(zip(names, values, strict=True)), _STATUS[status], _PATH[path], failed)


def _batch(
    scenario: Scenario, rows: Rows, airs: _Airs, threads: int, progress: Progress | None
) -> xr.Dataset:
    if not isinstance(scenario, Scenario):
        raise InputError(f"scenario = {scenario!r} is no scenario; load or build one first")
    table: Any = rows
    names: list[Any] = list(table)
    if isinstance(rows, xr.Dataset):
        names += [name for name in rows.coords if name in ("time", "weather") or name in TABLE]
    columns = {str(name): np.atleast_1d(_plain(scenario, str(name), table[name])) for name in names}
    for name, values in columns.items():
        if values.ndim != 1:
            raise InputError(f"{name} has {values.ndim} dimensions; a column has one")
    lengths = {name: len(values) for name, values in columns.items()}
    if not lengths:
        raise InputError("a batch needs columns, such as {'air.speed': [0.1, 0.3]}")
    if len(set(lengths.values())) > 1:
        told = ", ".join(f"{name} {length}" for name, length in lengths.items())
        raise InputError(f"the columns of a batch are not equally long: {told}")
    count = next(iter(lengths.values()))
    inputs = {name: values for name, values in columns.items() if name not in ("time", "weather")}
    found = airs.of(scenario, columns, inputs, count)
    computed = compute(
        [scenario],
        found.airs,
        count=count,
        inputs=[(list(TABLE).index(name), values) for name, values in inputs.items()],
        air_of=found.air_of,
        starts=found.starts,
        threads=threads,
        progress=progress,
    )
    failed = [(row, found.reasons.get(row, why)) for row, why in computed.failed]
    coords: dict[str, object] = {}
    for name, values in columns.items():
        about = (
            {"long_name": "time of spraying" if name == "time" else "weather record"}
            if name in ("time", "weather")
            else attributes(name, row_of(name).unit, row_of(name).meaning)
        )
        coords[name] = ("row", inputs.get(name, values), about)
    result = dataset(computed.columns, computed.status, ["row"], coords, [count])
    result["path"] = ("row", computed.path, {"long_name": "how the wet span was followed"})
    if failed:
        reason = np.full(count, "", dtype=object)
        for row, why in failed:
            reason[row] = why
        result["reason"] = ("row", reason.astype(np.str_), {"long_name": "why a row failed"})
        row, why = failed[0]
        warnings.warn(
            f"{len(failed)} of {count} rows failed; the first, row {row}: {why}",
            RuntimeWarning,
            stacklevel=3,
        )
    result.attrs = {
        "Conventions": "CF-1.11",
        "title": scenario.title,
        "scenario": scenario.to_toml(),
        "wetspan_version": _core.__version__,
        "failed": len(failed),
    }
    return result


@dataclass(frozen=True)
class _Found:
    """The airs of rows, which is each row's, its start in it; the rows that have none, and why."""

    airs: list[_core.CropAir]
    air_of: Positions | None
    starts: Numbers | None
    reasons: dict[int, str]


class _Airs:
    """The airs of rows: each followed once, through its whole record."""

    def __init__(self, weather: Skies | None) -> None:
        if weather is not None and not isinstance(weather, Weather | Mapping):
            raise InputError(
                f"weather = {weather!r} is no record; read it first, as in ws.read_weather('miami')"
            )
        self._weather = weather
        self._records: dict[tuple[str, int], Record] = {}
        self._airs: dict[tuple[str, int, bytes], _core.CropAir] = {}

    def of(
        self,
        scenario: Scenario,
        columns: Mapping[str, npt.NDArray[Any]],
        inputs: Mapping[str, Numbers],
        count: int,
    ) -> _Found:
        if self._weather is None:
            for name, what in (("time", "times"), ("weather", "records")):
                if name in columns:
                    raise InputError(f"{what} were given without weather")
            return _Found([], None, None, {})
        if "time" not in columns:
            raise InputError("weather was given without a column 'time' of the moments of spraying")
        records, record_of = self._named(columns, count)
        reaching = [name for name in inputs if name in REACH_THE_AIR]
        house = np.column_stack([inputs[name] for name in reaching]) if reaching else np.zeros((count, 0))
        houses, house_of = np.unique(house, axis=0, return_inverse=True)
        house_of = house_of.reshape(count)
        starts = np.empty(count)
        which = np.empty(count, dtype=np.uint64)
        found = _Found([], which, starts, {})
        for place, (name, weather) in enumerate(records):
            at_place = np.flatnonzero(record_of == place)
            moments = _moments(weather, columns["time"][at_place])
            _refuse_what_is_set(weather, scenario, inputs, at_place)
            years = np.asarray(moments.year) if weather.typical else np.zeros(len(moments), dtype=int)
            for year in np.unique(years):
                record = self._record(name, weather, int(year))
                at_year = at_place[years == year]
                starts[at_year] = record.seconds(moments[years == year])
                for kind in np.unique(house_of[at_year]):
                    rows = at_year[house_of[at_year] == kind]
                    key = (name, int(year), houses[kind].tobytes() + scenario.to_toml().encode())
                    if key not in self._airs:
                        air = _air(record, scenario, inputs, rows)
                        if isinstance(air, dict):
                            starts[rows], which[rows] = np.nan, 0
                            found.reasons.update(air)
                            continue
                        self._airs[key] = air
                    which[rows] = len(found.airs)
                    found.airs.append(self._airs[key])
        if not found.airs:  # no row has one, and every row says why
            found.airs.append(_core.steady_air(scenario._core))
        return found

    def _named(
        self, columns: Mapping[str, npt.NDArray[Any]], count: int
    ) -> tuple[list[tuple[str, Weather]], npt.NDArray[np.int64]]:
        if isinstance(self._weather, Weather):
            if "weather" in columns:
                raise InputError("a column 'weather' wants weather={'name': record, ...}")
            return [("", self._weather)], np.zeros(count, dtype=np.int64)
        assert self._weather is not None
        if "weather" not in columns:
            raise InputError("several weather records were given without a column 'weather' that tells which")
        codes, names = _distinct("weather record", columns["weather"])
        for name in names:
            if name not in self._weather:
                known = [str(each) for each in self._weather]
                near = nearest(str(name), known) or f"known are {', '.join(known)}"
                raise InputError(f"there is no weather record {name!r}; {near}")
        return [(str(name), self._weather[name]) for name in names], codes

    def _record(self, name: str, weather: Weather, year: int) -> Record:
        key = (name, year)
        if key not in self._records:
            if weather.typical:
                first, last = (pd.Timestamp(each, 1, 1, tz=weather.tz) for each in (year, year + 1))
                self._records[key] = Record(weather, first - SETTLING, last + pd.Timedelta(days=30))
            else:
                known = weather.data.index
                self._records[key] = Record(weather, known[0], known[-1])
        return self._records[key]


def _refuse_what_is_set(
    weather: Weather, scenario: Scenario, inputs: Mapping[str, Numbers], rows: npt.NDArray[np.int64]
) -> None:
    """Refuse columns that would change nothing in some of a record's rows, since the record sets them."""
    at_crop = weather.exposure == "crop"
    enclosed = (
        inputs["house.enclosed"][rows]
        if "house.enclosed" in inputs
        else np.full(len(rows), scenario["house.enclosed"])
    )
    idle = list(_OF_UNCHANGING_AIR)
    if at_crop or not enclosed.all():
        idle.append("air.speed")
    if not at_crop and enclosed.any():
        idle.append("air.surroundings_offset")
    for name in idle:
        if name in inputs:
            raise InputError(
                f"{name} cannot be a column here: the weather record {weather.source} sets it; leave out the "
                "column, or the weather"
            )


def _air(
    record: Record, scenario: Scenario, inputs: Mapping[str, Numbers], rows: npt.NDArray[np.int64]
) -> _core.CropAir | dict[int, str]:
    """Return the air of rows with the same house, or why each of them has none.

    Taken from the first row whose inputs are allowed: those that do not reach the air may differ.
    """
    reasons: dict[int, str] = {}
    for row in rows.tolist():
        try:
            return record.air(scenario.in_si({name: float(values[row]) for name, values in inputs.items()}))
        except (InputError, IntegrationError) as error:
            reasons[row] = str(error)
    return reasons


def _moments(weather: Weather, times: npt.NDArray[Any]) -> pd.DatetimeIndex:
    """Return moments of spraying on the record's own clock."""
    if not isinstance(weather, Weather) or not np.issubdtype(times.dtype, np.datetime64):
        codes, known = _distinct("time", times)
        return pd.DatetimeIndex([local(weather, moment) for moment in known])[codes]
    return weather.local_index(pd.DatetimeIndex(times))


def _plain(scenario: Scenario, name: str, values: Any) -> npt.NDArray[Any]:
    """Return a column without labels; of an input in the table's unit."""
    if name not in ("time", "weather"):
        return column(row_of(name), values, usual=scenario[name])
    return np.asarray(values.to_numpy() if hasattr(values, "to_numpy") else values)


def _distinct(name: str, values: npt.NDArray[Any]) -> tuple[npt.NDArray[np.int64], Any]:
    """Return the position of each value among the distinct ones, and these; a missing value is refused."""
    codes, known = pd.factorize(values)
    if (codes < 0).any():
        raise InputError(f"{name}: row {int((codes < 0).argmax())} has no value")
    return np.asarray(codes, dtype=np.int64), known
