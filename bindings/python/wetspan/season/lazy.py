"""A season that Dask computes chunk by chunk."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from wetspan import lazy
from wetspan.lazy import Chunks
from wetspan.record import Numbers
from wetspan.residue import residue_ends
from wetspan.season.plan import Plan
from wetspan.season.times import clock_moments
from wetspan.weather import Weather

_SPRAYS_TOGETHER, _WEEKS_TOGETHER = 5000, 8  # least and most of a chunk that is chosen


def lazy_season(
    plan: Plan, sites: Mapping[str, Weather], days: pd.DatetimeIndex, chunks: Chunks, threads: int
) -> xr.Dataset:
    """Return a season that is computed chunk by chunk when it is asked for."""
    weeks = -(-_SPRAYS_TOGETHER // (7 * len(plan.clocks) * (1 + len(plan.drawn))))
    sizes = lazy.chunk_sizes(chunks, "day", len(days), 7 * min(weeks, _WEEKS_TOGETHER))
    template = lazy.with_reason(plan.over(dict(list(sites.items())[:1]), days[:0], threads))
    ends = np.cumsum([0, *sizes])
    mark = lazy.fingerprint(plan.scenario, sites, list(plan.drawn), days, plan.clocks, plan.wet_limit)
    study = lazy.Study(mark, _chunk, plan)
    parts: dict[tuple[int, ...], Any] = {
        (i, k): study.part(template, (i, k), (name, days[first:last], threads or 1), weather)
        for i, (name, weather) in enumerate(sites.items())
        for k, (first, last) in enumerate(pairwise(ends))
    }
    result: xr.Dataset = lazy.assembled(template, {"site": [1] * len(sites), "day": sizes}, parts)
    utc = [
        weather.utc_of(pd.DatetimeIndex(clock_moments(days, plan.clocks).ravel()))[0].tz_localize(None)
        for weather in sites.values()
    ]
    shape = (len(sites), len(days), len(plan.clocks))
    about = template["time_utc"]
    result = result.assign_coords(
        time_utc=(about.dims, np.stack(utc).reshape(shape).astype(about.dtype), about.attrs)
    )
    told = "; ".join(f"{name}: {weather!r}" for name, weather in sites.items())
    result.attrs = study.attributes(template.attrs) | {"weather": told}
    return result


def _chunk(plan: Plan, name: str, days: pd.DatetimeIndex, threads: int, weather: Weather) -> xr.Dataset:
    """Compute a chunk: some days of one site."""
    return plan.over({name: weather}, days, threads)


def lazy_ends(plan: Plan, sites: Mapping[str, Weather], days: pd.DatetimeIndex, threads: int) -> Any:
    """Return both ends of the residue, computed site by site when they are asked for."""
    template = _ends(np.empty((len(residue_ends(plan.scenario)), 1, len(days), len(plan.clocks))))
    study = lazy.Study(lazy.fingerprint(plan.scenario, sites, days, plan.clocks), _ends_of, plan)
    parts: dict[tuple[int, ...], Any] = {
        (i,): study.part(template, f"ends-{i}", (name, days, threads or 1), weather)
        for i, (name, weather) in enumerate(sites.items())
    }
    return lazy.assembled(template, {"site": [1] * len(sites)}, parts)["growth_control_at_ends"].data


def _ends_of(plan: Plan, name: str, days: pd.DatetimeIndex, threads: int, weather: Weather) -> xr.Dataset:
    """Compute both ends of the residue at one site."""
    return _ends(plan.ends({name: weather}, days, threads))


def _ends(values: Numbers) -> xr.Dataset:
    return xr.Dataset({"growth_control_at_ends": (("residue", "site", "day_at_ends", "clock"), values)})
