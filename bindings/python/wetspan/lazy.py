"""Seasons and batches in chunks that Dask computes: lazy Datasets, and Zarr stores written chunk by chunk.

The same functions compute a chunk and the whole, so the numbers have the same bits. The records of weather
are sent to a worker once; the worker keeps the last few, with the air of the houses that was computed from
them.
"""

from __future__ import annotations

import importlib
import os
import shutil
import threading
import warnings
from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from hashlib import sha256
from itertools import product
from math import prod
from numbers import Integral
from pathlib import Path
from typing import Any, TypeAlias
from uuid import uuid4

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from wetspan import _core
from wetspan.errors import InputError, yes_or_no
from wetspan.files import file_name
from wetspan.names import from_cf, to_cf
from wetspan.progress import Progress, shown, silent
from wetspan.scenario import Scenario
from wetspan.weather import Weather, WeatherGrid

#: How many rows or days are computed together; "auto" chooses; a mapping names the dimension.
Chunks: TypeAlias = int | str | Mapping[str, int]

_REASON = np.dtype("<U120")
_SKIES = 8  # that a worker keeps
_WRITTEN = "written"
_COUNTED = ("failed", "slow_rows")  # attributes that are known when all is computed
#: Attributes in which stores of the same studies agree, and what each tells.
_ALIKE = {
    "scenario": "scenario",
    "wetspan_version": "version of wetspan",
    "weather": "weather",
    "samples": "number of draws",
    "seed": "seed",
}


def module(name: str) -> Any:
    try:
        return importlib.import_module(name)
    except ModuleNotFoundError as error:
        raise InputError(
            f"chunks want {error.name}, which is not installed: pip install wetspan[cluster]"
        ) from None


def chunk_sizes(chunks: Chunks, dim: str, count: int, usual: int) -> list[int]:
    """Return the sizes of chunks along a dimension: all alike, but for the last."""
    if isinstance(chunks, Mapping):
        others = [name for name in chunks if name != dim]
        if others or not chunks:
            raise InputError(f"chunks = {chunks!r}: they go along {dim!r}, such as {{{dim!r}: {usual}}}")
        chunks = chunks[dim]
    size = usual if chunks == "auto" else chunks
    if isinstance(size, bool) or not isinstance(size, Integral) or size < 1:
        raise InputError(f"chunks = {chunks!r} is not 'auto' or a whole number from 1 on")
    size = int(size)
    return [min(size, count - first) for first in range(0, count, size)] or [0]


def fingerprint(*things: Any) -> str:
    """Return a text that equal scenarios, records and numbers share in one version, and no others."""
    digest = sha256(_core.__version__.encode())

    def add(thing: Any) -> None:
        if isinstance(thing, Scenario):
            add(thing.to_toml())
        elif isinstance(thing, Weather):
            add([repr(thing), thing.data.index, thing.data.to_numpy(), repr(thing.gaps)])
        elif isinstance(thing, WeatherGrid):
            add([dict(thing), thing.cells.values, repr(thing.cells.dims)])
        elif isinstance(thing, Mapping):
            add([part for name, each in thing.items() for part in (name, each)])
        elif isinstance(thing, pd.DatetimeIndex | pd.TimedeltaIndex):
            add([str(thing.dtype), thing.asi8])
        elif isinstance(thing, np.ndarray) and thing.dtype != object:
            add(f"{thing.dtype.str} {thing.shape}")
            digest.update(np.ascontiguousarray(thing).tobytes())
        elif isinstance(thing, np.ndarray | list | tuple | pd.Index):
            digest.update(b"[")
            for each in thing:
                add(each)
            digest.update(b"]")
        else:
            digest.update(f"{type(thing).__name__} {thing!r};".encode())

    add(list(things))
    return digest.hexdigest()


@dataclass(frozen=True)
class Study:
    """What all chunks share: `function(shared, *arguments of the chunk, sky)` computes one."""

    fingerprint: str
    function: Callable[..., xr.Dataset]
    shared: object

    def part(self, template: xr.Dataset, place: object, arguments: tuple[Any, ...], sky: object) -> Any:
        """Return a chunk to compute: a Dask Delayed of its arrays by name."""
        delayed = module("dask").delayed
        own = self.fingerprint[:16]
        shared = delayed(self.shared, name=f"wetspan-study-{own}", traverse=False)
        mark = fingerprint(sky)
        weather = delayed(sky, name=f"wetspan-weather-{mark[:16]}", traverse=False)
        dtypes = {str(name): each.dtype for name, each in template.variables.items()}
        return delayed(_work, pure=True)(
            self.function, shared, arguments, weather, mark, dtypes,
            dask_key_name=f"wetspan-{own}-{place}",
        )  # fmt: skip

    def attributes(self, of_template: Mapping[Any, Any]) -> dict[Any, Any]:
        """Return the attributes of the lazy Dataset."""
        return {name: told for name, told in of_template.items() if name not in _COUNTED} | {
            "fingerprint": self.fingerprint
        }


_skies: OrderedDict[str, object] = OrderedDict()
_lock = threading.Lock()


def _here(mark: str, sky: object) -> object:
    """Return the records as this process first had them, with the air that was followed in them."""
    with _lock:
        sky = _skies.setdefault(mark, sky)
        _skies.move_to_end(mark)
        while len(_skies) > _SKIES:
            _skies.popitem(last=False)
        return sky


def _work(
    function: Callable[..., xr.Dataset],
    shared: object,
    arguments: tuple[Any, ...],
    sky: object,
    mark: str,
    dtypes: Mapping[str, np.dtype[Any]],
) -> dict[str, npt.NDArray[Any]]:
    """Compute a chunk, on whatever worker."""
    with silent(), warnings.catch_warnings():
        warnings.simplefilter("ignore")  # rows that fail say so in `status` and `reason`
        found = function(shared, *arguments, _here(mark, sky))
    return {
        name: _reasons(found) if name == "reason" else found.variables[name].values.astype(dtype, copy=False)
        for name, dtype in dtypes.items()
    }


def _reasons(found: xr.Dataset) -> npt.NDArray[Any]:
    if "reason" in found:
        return found["reason"].values.astype(_REASON)
    return np.zeros(found["status"].shape, dtype=_REASON)


def with_reason(template: xr.Dataset) -> xr.Dataset:
    """Return the Dataset of no rows, with a reason whether or not one failed."""
    dims = template["status"].dims
    empty = np.empty(template["status"].shape, dtype=_REASON)
    return template.assign(reason=(dims, empty, {"long_name": "why a row failed"}))


def assembled(
    template: xr.Dataset, sizes: Mapping[str, Sequence[int]], parts: Mapping[tuple[int, ...], Any]
) -> xr.Dataset:
    """Return the lazy Dataset of chunks, by their place along the dimensions of `sizes`."""
    arrays = module("dask.array")
    result = xr.Dataset(attrs=template.attrs)
    along = tuple(sizes)
    for name, variable in template.variables.items():
        if not set(along) <= set(variable.dims):
            result = result.assign_coords({name: variable})
            continue
        blocks = np.empty([len(sizes[dim]) for dim in along], dtype=object)
        for place, part in parts.items():
            here = dict(zip(along, place, strict=True))
            shape = tuple(
                sizes[str(dim)][here[str(dim)]] if dim in here else variable.sizes[dim]
                for dim in variable.dims
            )
            blocks[place] = arrays.from_delayed(part[name], shape, dtype=variable.dtype)
        joined: Any = blocks
        for dim in reversed(along):  # innermost first
            axis = variable.dims.index(dim)
            flat = joined.reshape(-1, joined.shape[-1])
            rows = np.empty(len(flat), dtype=object)
            for i, each in enumerate(flat):
                rows[i] = arrays.concatenate(list(each), axis=axis) if len(each) > 1 else each[0]
            joined = rows.reshape(joined.shape[:-1])
        whole = (variable.dims, joined.item(), variable.attrs)
        result = (
            result.assign_coords({name: whole}) if name in template.coords else result.assign({name: whole})
        )
    return result


# --- Zarr --------------------------------------------------------------------------------------------------


def to_zarr(
    dataset: xr.Dataset,
    store: str | os.PathLike[str],
    *,
    resume: bool = False,
    progress: Progress | None = None,
) -> xr.Dataset:
    """Compute a lazy Dataset of `ws.season` or `ws.batch` chunk by chunk into a Zarr store, and open the
    store.

    The worker that computes a chunk writes it at once, and then marks it in the variable `written`; `store`
    is a folder that all workers can reach. After an interrupt or a crash, the same call with `resume=True`
    computes only the chunks that are not written yet. A store that was begun with another scenario, version,
    weather, seed or other rows is refused; the attribute `fingerprint` distinguishes them. `progress` is
    called with the number of chunks done and of all chunks. Without it, a bar is shown in a terminal or a
    notebook after two seconds.

    The store has Zarr's format 2, in which texts have a fixed length, and names as by `ws.to_cf`. The Dataset
    that is returned has the dotted names.
    """
    if not isinstance(dataset, xr.Dataset) or "fingerprint" not in dataset.attrs or not dataset.chunks:
        raise InputError("to_zarr is for the lazy Dataset of ws.season or ws.batch with chunks=...")
    resume = yes_or_no("resume", resume)
    module("zarr")
    if "://" in file_name(store):
        raise InputError(
            f"{os.fspath(store)!r} is an address; to_zarr writes to a folder that all workers reach"
        )
    dataset = to_cf(dataset)
    path = Path(os.path.abspath(store))  # workers stand elsewhere
    along = [dim for dim in ("site", "day", "row") if dim in dataset.chunks]
    sizes = [dataset.chunks[dim] for dim in along]
    if path.exists():
        if not resume:
            raise InputError(f"{path} is there already: resume=True goes on with it, or give another name")
        _refuse_another(path, dataset)
    else:
        _begin(path, dataset, along)
    ends = [np.cumsum([0, *each]).tolist() for each in sizes]
    with xr.open_zarr(path, decode_timedelta=False) as begun:
        written = begun[_WRITTEN].values
    chunked = {str(name): each for name, each in dataset.variables.items() if each.chunks is not None}
    writes: dict[Any, Any] = {}
    for place in product(*(range(len(each)) for each in sizes)):
        region = {dim: slice(*ends[i][place[i] : place[i] + 2]) for i, dim in enumerate(along)}
        if not written[tuple(region.values())].all():
            here = dict(zip(along, place, strict=True))
            # what does not lie along a dimension is written with the first chunk along it
            later = {dim for dim, at in here.items() if at > 0}
            part = {name: each for name, each in chunked.items() if later <= {*each.dims}}
            heads = {name: (each.dims, each.attrs) for name, each in part.items()}
            blocks = [(each.data.name, *(here.get(str(d), 0) for d in each.dims)) for each in part.values()]
            writes[(f"wetspan-write-{uuid4().hex}", *place)] = (
                partial(_write, heads, os.fspath(path), region),
                *blocks,
            )
    done, count = prod(map(len, sizes)) - len(writes), prod(map(len, sizes))
    with shown(progress, "chunks") as told:
        if told is not None:
            told(done, count)
        _run(writes, chunked.values(), lambda more: None if told is None else told(done + more, count))
    return from_cf(xr.open_zarr(path, decode_timedelta=False))


def _begin(path: Path, dataset: xr.Dataset, along: Sequence[str]) -> None:
    """Lay out a store without numbers, whole or not at all."""
    shape = [dataset.sizes[dim] for dim in along]
    chunk = tuple(dataset.chunks[dim][0] for dim in along)
    marks = xr.Variable(
        along, np.zeros(shape, dtype=bool), {"long_name": "whether this part is written"}, {"chunks": chunk}
    )
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        empty = module("dask.array").empty  # as large, and nothing to compute
        bare = {
            name: each.copy(data=empty(each.shape, dtype=each.dtype, chunks=each.chunks))
            for name, each in dataset.variables.items()
            if each.chunks is not None
        }
        laid_out = dataset.assign(bare).set_coords(list(dataset.coords)).assign({_WRITTEN: marks})
        laid_out.to_zarr(beside, compute=False, zarr_format=2, consolidated=True)
        beside.replace(path)
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def _refuse_another(path: Path, dataset: xr.Dataset) -> None:
    """Refuse a store that was begun by something else."""
    try:
        with xr.open_zarr(path, decode_timedelta=False) as begun:
            attrs, sizes = begun.attrs, begun[_WRITTEN].variable.chunksizes
    except Exception as error:
        raise InputError(f"{path} is no Zarr store of a season or batch ({error})") from None
    if attrs.get("fingerprint") != dataset.attrs["fingerprint"]:
        other = [what for name, what in _ALIKE.items() if attrs.get(name) != dataset.attrs.get(name)]
        told = f"another {', '.join(other)}" if other else "other times, rows or inputs"
        raise InputError(f"{path} was begun with {told}: give another name, or remove it")
    for dim, chunks in dataset.chunks.items():
        if dim in ("site", "day", "row") and sizes.get(dim) != chunks:
            raise InputError(f"{path} was begun with other chunks along {dim!r}: {sizes.get(dim)}")


def _write(
    heads: Mapping[str, tuple[Any, Mapping[Any, Any]]],
    path: str,
    region: Mapping[str, slice],
    *blocks: npt.NDArray[Any],
) -> None:
    """Write a chunk, its blocks in the order of their dimensions and attributes; then mark it."""
    dims = list(region)
    part = xr.Dataset(
        {
            name: (along, block, attrs)
            for (name, (along, attrs)), block in zip(heads.items(), blocks, strict=True)
        }
    )
    marks = np.ones([each.stop - each.start for each in region.values()], dtype=bool)
    for each in (*_alike(part.reset_coords(), dims), xr.Dataset({_WRITTEN: (dims, marks)})):
        own = {dim: region[dim] for dim in dims if dim in each.dims}
        each.to_zarr(path, region=own, zarr_format=2, consolidated=True)


def _alike(part: xr.Dataset, dims: Sequence[str]) -> Iterator[xr.Dataset]:
    """Yield the variables that lie along the same of some dimensions together."""
    groups: dict[frozenset[str], list[str]] = {}
    for name, each in part.items():
        groups.setdefault(frozenset(dims) & frozenset(map(str, each.dims)), []).append(str(name))
    for names in groups.values():
        yield part[names]


def _run(writes: Mapping[Any, Any], arrays: Iterable[Any], done: Callable[[int], object]) -> None:
    """Compute what is to be written on the scheduler that is set up; tell how many are done.

    All writes are one graph: one for each, as `delayed` would make it, holds the whole season every time.
    """
    if not writes:
        return
    graphs = module("dask.highlevelgraph").HighLevelGraph
    keys = list(writes)
    graph = graphs.from_collections("wetspan-write", writes, [each.data for each in arrays]).cull(set(keys))
    try:
        client = importlib.import_module("distributed").get_client()
    except (ImportError, ValueError):
        client = None
    if client is not None:
        futures = client.get(graph, keys, sync=False)
        try:
            for i, future in enumerate(importlib.import_module("distributed").as_completed(futures)):
                future.result()
                done(i + 1)
        finally:
            client.cancel(futures)
        return
    count = 0

    def told(key: str, *_: object) -> None:
        nonlocal count
        if key in writes:
            count += 1
            done(count)

    get = module("dask.base").get_scheduler() or module("dask.threaded").get
    with module("dask.callbacks").Callback(posttask=told):
        get(graph, keys)
