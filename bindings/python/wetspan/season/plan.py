"""The computation of a season: the same spray at each clock time of some days, and the draws around it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from wetspan.batch.dataset import of_rows
from wetspan.batch.portions import Done, over_draws
from wetspan.draws import quantile_over_draws
from wetspan.nights import about_marked, told_limit, wet_marks
from wetspan.progress import Progress
from wetspan.record import Numbers
from wetspan.residue import residue_ends
from wetspan.rewetting import DELAY, delays_at
from wetspan.scenario import Scenario
from wetspan.season.times import clock_moments
from wetspan.weather import Weather

_DRAWN = ("wet_time", "stem_wet_time", "growth_control")


@dataclass(frozen=True)
class Plan:
    """What is sprayed at each clock time: the scenario, and those drawn around it."""

    scenario: Scenario
    drawn: tuple[Scenario, ...]
    clocks: pd.TimedeltaIndex
    wet_limit: float

    def rows(self, sites: Mapping[str, Weather], days: pd.DatetimeIndex) -> dict[str, npt.NDArray[Any]]:
        """Return the sprays of some days at some sites as rows, site by site."""
        moments = clock_moments(days, self.clocks)
        return {
            "time": np.tile(moments.ravel(), len(sites)),
            "weather": np.repeat(np.array(list(sites), dtype=object), moments.size),
        }

    def ends(self, sites: Mapping[str, Weather], days: pd.DatetimeIndex, threads: int) -> Numbers:
        """Return growth control at both ends of the residue: ends x sites x days x clock times."""
        runs = over_draws(
            self.scenario,
            residue_ends(self.scenario),
            self.rows(sites, days),
            sites,
            threads,
            lambda *_: None,
            ["growth_control"],
        )
        control = np.stack([run.columns["growth_control"] for run in runs])
        return control.reshape(-1, len(sites), len(days), len(self.clocks))

    def over(
        self,
        sites: Mapping[str, Weather],
        days: pd.DatetimeIndex,
        threads: int,
        progress: Progress | None = None,
    ) -> xr.Dataset:
        """Compute some days at some sites."""
        rows = self.rows(sites, days)
        shape = (len(sites), len(days), len(self.clocks))

        def of_run(run: int, count: int) -> Progress | None:
            if progress is None:
                return None
            return lambda done, _: progress(run * count + done, (1 + len(self.drawn)) * count)

        nominal = of_rows(self.scenario, rows, sites, threads, of_run(0, len(rows["time"])))
        result = _unstacked(nominal, self._marked(nominal, sites), shape)
        if self.drawn:
            runs = over_draws(
                self.scenario, self.drawn, rows, sites, threads, lambda i, count: of_run(1 + i, count), _DRAWN
            )
            _add_draws(result, runs, shape)
        result.attrs = nominal.attrs | {"wet_limit": told_limit(self.wet_limit)}
        return result

    def _marked(self, rows: xr.Dataset, sites: Mapping[str, Weather]) -> dict[str, xr.Variable]:
        """Return which rows, which lie site by site, leave the crop wet into the night."""
        of_each = np.split(np.arange(rows.sizes["row"]), len(sites))
        moments = pd.DatetimeIndex(rows["time_utc"].values, tz="UTC")
        wet, rewet = rows["wet_time"].values, rows["rewet_time"].values
        parts = []
        for its, weather in zip(of_each, sites.values(), strict=True):
            delays = delays_at(self.scenario, weather, moments[its])
            delay = self.scenario[DELAY] if delays is None else delays
            longest = self.scenario["numerics.longest"]
            parts.append(
                wet_marks(weather, moments[its], wet[its], rewet[its], self.wet_limit, delay, longest)
            )
        return {
            name: xr.Variable("row", np.concatenate(marks), about)
            for (name, about), marks in zip(
                about_marked(self.wet_limit).items(), zip(*parts, strict=True), strict=True
            )
        }


def _unstacked(rows: xr.Dataset, more: Mapping[str, xr.Variable], shape: tuple[int, ...]) -> xr.Dataset:
    """Return rows, and more variables of them, along site, day and clock."""
    coords: dict[str, object] = {
        "target": rows["target"],
        "organ": ("organ", rows["site"].values, rows["site"].attrs),
    }
    variables: dict[str, object] = {}
    own = {str(name): rows.variables[name] for name in [*rows.data_vars, "time_utc"]}
    for name, variable in (own | dict(more)).items():
        dims = (
            "site",
            "day",
            "clock",
            *("organ" if dim == "site" else str(dim) for dim in variable.dims[1:]),
        )
        values = variable.values.reshape(*shape, *variable.shape[1:])
        into = coords if name == "time_utc" else variables
        into[name] = (dims, values, variable.attrs)
    return xr.Dataset(variables, coords)


def _add_draws(result: xr.Dataset, runs: Iterable[Done], shape: tuple[int, ...]) -> None:
    drawn: dict[str, list[Numbers]] = {name: [] for name in _DRAWN}
    not_dry, slow = np.zeros(shape, dtype=np.int64), np.zeros(shape, dtype=np.int64)
    for rows in runs:
        not_dry += (rows.status == "wet at end").reshape(shape)
        slow += (rows.path_reason != 0).reshape(shape)
        for name, values in drawn.items():
            values.append(rows.columns[name].reshape(shape))
    dims = ("site", "day", "clock")
    for name, several in drawn.items():
        about = result[name].attrs
        draws = np.stack(several)
        result[f"{name}_draws"] = (
            ("sample", *dims),
            draws,
            about | {"long_name": f"{about['long_name']}, draws"},
        )
        for end, level in (("low", 0.1), ("high", 0.9)):
            long_name = f"{about['long_name']}, {level:.0%} quantile"
            result[f"{name}_{end}"] = (
                dims,
                quantile_over_draws(draws, level),
                about | {"long_name": long_name},
            )
    result["not_dry"] = (
        dims,
        not_dry,
        {"long_name": "draws that stay wet to the end, whose growth control is a lower bound", "units": "1"},
    )
    result["slow_draws"] = dims, slow, {"long_name": "draws that the full system followed", "units": "1"}
