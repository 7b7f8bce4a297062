"""The functions `batch` and `batches`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import xarray as xr

from wetspan.batch.columns import Rows, in_dask
from wetspan.batch.core import allowed_threads
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
    """Compute many sprays, one for each row.

    `rows` has columns of equal length. The name of a column is the key of an input ("air.speed"), whose value
    it replaces in the scenario. With `weather`, the column "time" gives the moments of spraying. With several
    records, `weather={"miami": ..., ...}`, the column "weather" names the record of each row. Values are
    texts with units, names of choices, quantities, columns that state their unit (attrs["units"]; for a
    DataFrame this may be a mapping by column), or bare numbers in SI. float64 columns in SI are not copied.
    With weather you may not pass columns that the record supplies (air.temperature, ...).

    Times are text, datetimes or datetime64. A time with an offset is converted; a time without one is
    wall-clock time of its row's record. If rows have both `time_utc` and `time`, `time_utc` is used. A row
    fails alone if its time cannot be read, is missing (NaT), does not exist or occurs twice on its clock, or
    lies outside its record.

    The Dataset lies along `row` and keeps the columns as coordinates. It has `time`, on the record's own wall
    clock (named in the attribute `time_zone`), and `time_utc`, both as datetime64. Its variables are

    - those of `sweep`;
    - the air at the moment of spraying: air_temperature, relative_humidity, vapour_pressure_deficit,
      shortwave, air_changes;
    - `path`, the method that followed the wet span: "clock" where the droplets' clocks are exact, otherwise
      "reference", the full system, which takes a hundred times as long. `path_reason` is the code of the
      reason, and the attribute `slow_rows` counts the reasons (`ws.slow_rows`);
    - with weather, `bridged`: whether the wet span crosses a gap of the record that was bridged.

    A row that cannot be computed has the status "failed", NaN for its numbers, and a `reason`. The attribute
    `weather` describes the records.

    The result of a row depends on that row alone. It is the same bits in any batch, in any order and on any
    number of threads, and equals that of `simulate` (for tables of flights see below). With weather, the air
    is computed through the weeks that contain rows, once for each week and each combination of the inputs
    that affect it, and is kept for the next call.

    Over a grid (`Weather.from_xarray`) every row is sprayed in every cell. The Dataset then lies along `row`
    and the grid's dimensions, and has the grid's coordinates.

    For very many sprays of one kind set numerics.flights to "table". Where columns change the spray itself
    (droplets.dv50, ...), a spray that fewer than 1000 rows share is still computed without a table, since
    this costs less. The column numerics.flights of the result shows the choice; pass this column to choose
    yourself.

    `progress` is called about ten times a second with the number of rows done and of all rows, the first time
    with 0. Without it, a bar is shown in a terminal or a notebook after two seconds. An interrupt ends the
    batch. With `threads` 0 there is one thread per processor.

    With `chunks`, the number of rows that are computed together ("auto": 10 000), or with columns that Dask
    holds, the Dataset is lazy. Dask computes it when its numbers are needed, on the scheduler that is set up,
    with the same bits. `reason` is then always present, cut to 120 characters, and `threads` are those of
    each chunk (1 by default). `ws.to_zarr` writes it chunk by chunk.
    """
    threads = allowed_threads(threads)
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
    """Compute `batch` for one chunk of rows after another, so that memory holds one chunk only.

    The chunks may come from a generator, such as `pandas.read_csv(..., chunksize=100_000)`. The result of a
    row does not depend on how rows are cut into chunks. The only exception are tables of flights: where
    columns change the spray, each chunk decides anew which sprays get a table.
    """
    for rows in chunks:
        yield batch(scenario, rows, weather, threads=threads, progress=progress)
