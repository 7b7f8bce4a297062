"""`batch` and `batches`: columns in, a Dataset out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import xarray as xr

from wetspan.batch.columns import Rows, in_dask
from wetspan.batch.dataset import at_once
from wetspan.batch.lazy import lazy_batch
from wetspan.batch.weather import Skies
from wetspan.lazy import Chunks
from wetspan.progress import Progress, shown
from wetspan.scenario import Scenario


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
    if chunks is not None or in_dask(rows):
        return lazy_batch(scenario, rows, weather, threads, "auto" if chunks is None else chunks)
    with shown(progress) as told:
        return at_once(scenario, rows, weather, threads, told)


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
