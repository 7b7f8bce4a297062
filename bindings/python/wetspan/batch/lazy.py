"""A batch that Dask computes chunk by chunk."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import xarray as xr

from wetspan import lazy
from wetspan.batch.columns import ABOUT_ROWS, Plain, Rows, columns_of, given_columns, in_dask
from wetspan.batch.dataset import at_once
from wetspan.batch.landing_tables import FLIGHTS, REACH_THE_LANDING, flown
from wetspan.batch.weather import Skies, zones_of
from wetspan.errors import InputError
from wetspan.lazy import Chunks
from wetspan.scenario import Scenario
from wetspan.weather import Weather

_ROWS_TOGETHER = 10_000  # of a chunk


@dataclass(frozen=True)
class Columns:
    """Columns of rows, those that Dask holds in its own chunks, and the sizes of the chunks."""

    columns: Mapping[str, Any]
    sizes: list[int]

    @classmethod
    def of(cls, given: Mapping[str, Any], chunks: Chunks) -> Columns:
        """Read plain columns, or labelled ones some of which Dask holds."""
        if isinstance(given, Plain):
            count = len(next(iter(given.values())))
            return cls(given, lazy.chunk_sizes(chunks, "row", count, _ROWS_TOGETHER))
        arrays = {
            name: each if isinstance(each, xr.DataArray) else xr.DataArray(each, dims="row")
            for name, each in given.items()
        }
        for name, each in arrays.items():
            if each.ndim != 1:
                raise InputError(f"{name} has {each.ndim} dimensions; a column has one")
        lengths = {each.size for each in arrays.values()}
        if len(lengths) > 1:
            raise InputError("the columns of a batch are not equally long")
        if any(np.isnan(size) for each in arrays.values() if each.chunks for size in each.chunks[0]):
            raise InputError(
                "Dask does not know how long a column's chunks are: compute_lazy.chunk_sizes() finds it"
            )
        held = next(each.chunks[0] for each in arrays.values() if each.chunks)
        sizes = (
            list(held) if chunks == "auto" else lazy.chunk_sizes(chunks, "row", lengths.pop(), _ROWS_TOGETHER)
        )
        of_dask = lazy.module("dask.array")
        columns = {}
        for name, each in arrays.items():
            data = each.data if each.chunks else of_dask.from_array(each.to_numpy(), (tuple(sizes),))
            columns[name] = xr.DataArray(data.rechunk((tuple(sizes),)), dims="row", attrs=each.attrs)
        return cls(columns, sizes)

    def none(self) -> Mapping[str, Any]:
        """Return no rows."""
        if isinstance(self.columns, Plain):
            return Plain({name: values[:0] for name, values in self.columns.items()})
        return {
            name: xr.DataArray(np.empty(0, each.dtype), dims="row", attrs=each.attrs)
            for name, each in self.columns.items()
        }

    def parts(self) -> Iterator[Any]:
        """Yield the columns of each chunk."""
        ends = np.cumsum([0, *self.sizes])
        if isinstance(self.columns, Plain):
            for first, last in pairwise(ends):
                yield Plain({name: values[first:last] for name, values in self.columns.items()})
            return
        delayed = {name: each.data.to_delayed() for name, each in self.columns.items()}
        for i in range(len(self.sizes)):
            yield {name: (each[i], self.columns[name].attrs) for name, each in delayed.items()}

    def told(self) -> Any:
        """Return what tells these columns from others."""
        if isinstance(self.columns, Plain):
            return dict(self.columns)
        return {name: (each.data.name, repr(each.attrs)) for name, each in self.columns.items()}


def lazy_batch(
    scenario: Scenario, rows: Rows, weather: Skies | None, threads: int, chunks: Chunks
) -> xr.Dataset:
    """Return a batch that is computed chunk by chunk when it is asked for."""
    given = given_columns(rows)
    if not in_dask(rows):
        read = columns_of(scenario, rows)[0]
        about = {name: values for name, values in read.items() if name in ABOUT_ROWS}
        inputs = {name: values for name, values in read.items() if name not in ABOUT_ROWS}
        given = Plain(about | flown(scenario, inputs))
    elif FLIGHTS not in given and any(name.startswith(REACH_THE_LANDING) for name in given):
        scenario = scenario.in_si({FLIGHTS: 0.0})  # which rows share a spray is not known
    columns = Columns.of(given, chunks)
    records: dict[str, Weather] = {}
    if isinstance(weather, Weather):
        records = {"": weather}
    elif weather is not None:
        records = dict(weather)
    template = lazy.with_reason(at_once(scenario, columns.none(), weather, threads))
    if "weather" in template.coords:  # wide enough for every name
        names = np.empty(0, dtype=f"<U{max(map(len, records), default=1)}")
        template = template.assign_coords(weather=("row", names, template["weather"].attrs))
    if records:
        template["time"].attrs["time_zone"] = zones_of(list(records.items()))
    study = lazy.Study(lazy.fingerprint(scenario, weather, columns.told()), _chunk, scenario)
    parts: dict[tuple[int, ...], Any] = {
        (i,): study.part(template, i, (part, threads or 1), weather) for i, part in enumerate(columns.parts())
    }
    result: xr.Dataset = lazy.assembled(template, {"row": columns.sizes}, parts)
    told = "; ".join(f"{name}: {each!r}" if name else repr(each) for name, each in records.items())
    result.attrs = study.attributes(template.attrs) | ({"weather": told} if records else {})
    return result


def _chunk(scenario: Scenario, columns: Any, threads: int, weather: Skies | None) -> xr.Dataset:
    """Compute a chunk of rows."""
    return at_once(scenario, _labelled(columns), weather, threads)


def _labelled(columns: Any) -> Any:
    """Return the columns of a chunk as a batch takes them."""
    if isinstance(columns, Plain):
        return columns
    return {name: xr.DataArray(values, dims="row", attrs=attrs) for name, (values, attrs) in columns.items()}
