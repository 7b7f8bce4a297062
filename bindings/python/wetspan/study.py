"""Studies: one spray, a day of spray times, sweeps over inputs, what the unknown inputs make uncertain."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from itertools import product
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr
from scipy.stats import qmc, rankdata

from wetspan import _core
from wetspan.errors import InputError, IntegrationError
from wetspan.outcome import Outcome, dataset, single
from wetspan.parameters import TABLE, row_of
from wetspan.scenario import Scenario
from wetspan.units import shown, value_in_si
from wetspan.weather import Weather

_SETTLING = pd.Timedelta(hours=24)  # a house forgets where it started within a day
#: Uncertainty needs no more than this of each of its many runs.
_SCREENING_TOLERANCE = 1e-4
_RANGE = (0.1, 0.9)
Moment = str | date | pd.Timestamp


def simulate(scenario: Scenario, weather: Weather | None = None, time: Moment | None = None) -> Outcome:
    """Compute one spray.

    Without `weather` in the unchanging air of the scenario; with it, at `time`, read as by `weather.local` (wall-clock
    time of the record unless it has an offset).
    """
    if weather is None:
        if time is not None:
            raise InputError("a time was given without weather; give both, or neither for unchanging air")
        return single(scenario, _core.simulate(scenario._core, _core.steady_air(scenario._core), 0.0))
    if time is None:
        raise InputError("weather was given without a time of spraying, such as time='2026-05-14T15:00'")
    moments = pd.DatetimeIndex([weather.local(time)])
    record = _Record(weather, moments, scenario)
    return single(scenario, _core.simulate(scenario._core, record.air(scenario), record.starts[0]))


def compare_times(
    scenario: Scenario,
    weather: Weather,
    start: Moment,
    end: Moment,
    every: str | pd.Timedelta = "30min",
    *,
    samples: int = 0,
    seed: int = 1,
    threads: int = 0,
) -> xr.Dataset:
    """Compute the same spray at many times of a day.

    Start and end are read as by `weather.local`. The Dataset lies along `time`, the record's own wall clock (its zone is
    an attribute); `time_utc` is the same moment in UTC. Variables: wet_time, last_drop_time, stem_wet_time [s],
    wet_share, split(target), uptake(site), tips(site) [mg per plant], growth_control, status; the air at the moment of
    spraying: air_temperature, relative_humidity, shortwave, air_changes.

    With `samples`, every input's plausible deviation (`ws.parameters().spread`) is drawn that many times and
    carried through; growth_control_low and _high, wet_time_low and _high are the 10 and 90 % quantiles. The same draws
    serve every time, so times compare better than their ranges suggest: `control_over_best` is the median ratio to
    the best time, with its own range.
    """
    try:
        step = pd.Timedelta(every)
    except ValueError:
        raise InputError(f"every = {every!r} is not a time step such as '30min'") from None
    first, last = weather.local(start), weather.local(end)
    if not step > pd.Timedelta(0) or pd.isna(step):
        raise InputError(f"every = {every!r} is not a step forward in time")
    if last < first:
        raise InputError(f"end {last.isoformat()} is before start {first.isoformat()}")
    moments = pd.date_range(first, last, freq=step)
    record = _Record(weather, moments, scenario)
    air = record.air(scenario)
    columns = _all(
        [scenario._core], [air], np.zeros(len(moments)), np.zeros(len(moments)), record.starts, threads
    )

    clock = {
        "time": (
            "time",
            moments.tz_localize(None),
            {
                "standard_name": "time",
                "long_name": "time of spraying",
                "time_zone": str(weather.time_zone),
            },
        ),
        "time_utc": (
            "time",
            moments.tz_convert("UTC").tz_localize(None),
            {"long_name": "time of spraying in UTC"},
        ),
    }
    day = dataset(columns, ("time",), clock, (len(moments),))
    for name, (values, unit, long_name) in _air_at(air, record.starts).items():
        day[name] = ("time", values, {"units": unit, "long_name": long_name})
    if samples:
        _add_ranges(day, scenario, record, samples, seed, threads)
    day.attrs = _about(scenario) | {"weather": repr(weather), "conventions_note": "attributes after CF 1.11"}
    if samples:
        day.attrs |= {"samples": samples, "seed": seed}
    return day


def sweep(scenario: Scenario, axes: Mapping[str, Sequence[object]], *, threads: int = 0) -> xr.Dataset:
    """Compute every combination of some inputs' values in the scenario's unchanging air.

    `axes` gives the values of each input by its key; the Dataset has one dimension per key, whose coordinate is in the
    unit people are shown.
    """
    if not axes:
        raise InputError("a sweep needs an input and its values, such as {'air.speed': [0.1, 0.3]}")
    rows = [row_of(key) for key in axes]
    values = [[value_in_si(row, given) for given in axes[row.key]] for row in rows]
    scenarios = [
        scenario.replace(dict(zip(axes, combination, strict=True)))._core for combination in product(*values)
    ]
    jobs = np.arange(len(scenarios))
    columns = _all(
        scenarios, [_core.steady_air(each) for each in scenarios], jobs, jobs, np.zeros(len(jobs)), threads
    )
    coords = {
        row.key: (
            row.key,
            [shown(row, value) for value in inside],
            {"units": row.shown, "long_name": row.meaning},
        )
        for row, inside in zip(rows, values, strict=True)
    }
    result = dataset(columns, tuple(axes), coords, [len(inside) for inside in values])
    result.attrs = _about(scenario)
    return result


def uncertainty(scenario: Scenario, samples: int = 2000, seed: int = 1, *, threads: int = 0) -> xr.Dataset:
    """Carry every input's plausible deviation through to the outcomes, in the scenario's unchanging air.

    Inputs with a `spread` s are drawn log-uniformly within [value / s, value * s] and their bounds, by a seeded Latin
    hypercube. The Dataset holds, for wet_time, growth_control, each uptake and each split, the quantiles
    along `quantile`, and along `input` the `influence`: the share of the outcome's rank variance that goes
    with the input (squared rank correlation).
    """
    drawn, rows = _draw(scenario, samples, seed)
    jobs = np.arange(samples)
    cores = [each._core for each in drawn]
    columns = _all(cores, [_core.steady_air(core) for core in cores], jobs, jobs, np.zeros(samples), threads)
    levels = np.array([0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95])
    ranks = np.stack([rankdata([each[row.key] for each in drawn]) for row in rows])
    runs = dataset(columns, ("sample",), {}, (samples,))
    result = xr.Dataset(
        coords={
            "quantile": ("quantile", levels, {"units": "1", "long_name": "quantile over the draws"}),
            "input": ("input", [row.key for row in rows], {"long_name": "input"}),
            "grade": (
                "input",
                [row.grade for row in rows],
                {"long_name": "evidence grade of the input's default"},
            ),
        }
    )
    for name in ("wet_time", "growth_control", "uptake", "split"):
        values = runs[name]
        result[name] = values.quantile(levels, dim="sample", keep_attrs=True)
        along = [dim for dim in values.dims if dim != "sample"]
        influence = np.apply_along_axis(lambda column: _influence(ranks, column), 0, values.values)
        result[f"{name}_influence"] = (
            ("input", *along),
            influence,
            {"units": "1", "long_name": f"share of the rank variance of {name}"},
        )
    result.attrs = _about(scenario) | {
        "samples": samples,
        "seed": seed,
        "not_dry": int((runs["status"] == "wet at end").sum()),
    }
    return result


class _Record:
    """Weather laid out for the core, around the moments of spraying."""

    def __init__(self, weather: Weather, moments: pd.DatetimeIndex, scenario: Scenario) -> None:
        first, last = moments[0] - _SETTLING, moments[-1] + pd.Timedelta(seconds=scenario["numerics.longest"])
        if not weather.typical:
            known = weather.data.index
            first, last = max(first, known[0]), min(last, known[-1])
            if moments[0] < known[0] or moments[-1] >= known[-1]:
                weather.at(moments)  # says where the record ends
                raise InputError(
                    f"{weather.source} ends at the last time of spraying; nothing can dry after it"
                )
        self.weather = weather
        self.rows = weather.between(first, last)
        self.origin = self.rows.index[0]
        self.time = _seconds(self.rows.index, self.origin)
        self.starts = _seconds(moments, self.origin)
        temperature = self.rows["temperature"].to_numpy()
        self.columns = {
            "temperature": temperature,
            "vapour_pressure": np.asarray(
                _core.air.vapour_pressure(self.rows["relative_humidity"].to_numpy(), temperature)
            ),
            "pressure": self.rows["pressure"].to_numpy(),
            "wind_speed": self.rows["wind_speed"].to_numpy(),
            "shortwave": self.rows["shortwave"].to_numpy(),
        }

    def air(self, scenario: Scenario) -> _core.CropAir:
        """The air at the crop: through the house from outdoors, or as a logger at the crop measured it."""
        if self.weather.exposure == "outdoor":
            return _core.air_at_crop(scenario._core, _core.Outdoor(self.time, self.columns))
        columns = dict(self.columns)
        columns["speed"] = columns.pop("wind_speed")
        columns["radiant_temperature"] = columns["temperature"] + scenario["air.surroundings_offset"]
        columns["air_changes"] = np.full(len(self.time), scenario["house.air_changes"])
        return _core.CropAir(self.time, columns)


def _seconds(index: pd.DatetimeIndex, origin: pd.Timestamp) -> npt.NDArray[np.float64]:
    return np.asarray((index - origin) / pd.Timedelta(seconds=1), dtype=np.float64)


def _all(
    scenarios: list[_core.Scenario],
    airs: list[_core.CropAir],
    scenario_of: npt.NDArray[Any],
    air_of: npt.NDArray[Any],
    starts: npt.NDArray[np.float64],
    threads: int,
) -> dict[str, Any]:
    """Run many sprays; a failure of one is a failure of the study, with its reason."""
    columns: dict[str, Any] = _core.simulate_all(
        scenarios, airs, scenario_of.astype(np.int64), air_of.astype(np.int64), starts, threads
    )
    for row, reason in enumerate(columns["reason"]):
        if reason:
            raise IntegrationError(f"run {row} of {len(starts)}: {reason}")
    return columns


def _air_at(
    air: _core.CropAir, starts: npt.NDArray[np.float64]
) -> dict[str, tuple[npt.NDArray[np.float64], str, str]]:
    time, columns = air.time, air.columns()
    now = {name: np.interp(starts, time, values) for name, values in columns.items()}
    return {
        "air_temperature": (now["temperature"], "K", "air temperature at the crop when sprayed"),
        "relative_humidity": (
            np.asarray(_core.air.relative_humidity(now["vapour_pressure"], now["temperature"])),
            "1",
            "relative humidity at the crop when sprayed",
        ),
        "shortwave": (now["shortwave"], "W/m^2", "shortwave at the top of the crop when sprayed"),
        "air_changes": (now["air_changes"] * 3600.0, "1/hour", "air changes of the house when sprayed"),
    }


def _draw(scenario: Scenario, samples: int, seed: int) -> tuple[list[Scenario], list[_core.Parameter]]:
    """Draw scenarios around one, and tell the inputs that were drawn."""
    if samples < 2:
        raise InputError(f"samples = {samples}: two or more are needed to tell a range")
    rows = [
        row for row in TABLE.values() if row.kind == "number" and row.spread > 1.0 and scenario[row.key] > 0.0
    ]
    uniform = qmc.LatinHypercube(d=len(rows), rng=np.random.default_rng(seed)).random(samples)
    values = np.empty_like(uniform)
    for column, row in enumerate(rows):
        value = scenario[row.key]
        low, high = max(row.low, value / row.spread), min(row.high, value * row.spread)
        values[:, column] = (
            np.clip(low * (high / low) ** uniform[:, column], low, high) if low > 0.0 else value
        )
    receding, contact = (
        next((i for i, row in enumerate(rows) if row.key == f"leaf.{name}"), -1)
        for name in ("receding_angle", "contact_angle")
    )
    if receding >= 0 and contact >= 0:
        values[:, receding] = np.minimum(values[:, receding], values[:, contact])
    loose = {"numerics.tolerance": max(scenario["numerics.tolerance"], _SCREENING_TOLERANCE)}
    drawn = [
        scenario.replace(dict(zip((row.key for row in rows), map(float, draw), strict=True)) | loose)
        for draw in values
    ]
    return drawn, rows


def _influence(ranks: npt.NDArray[np.float64], column: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    if np.ptp(column) == 0.0:
        return np.zeros(len(ranks))
    with np.errstate(invalid="ignore"):
        return np.array([np.corrcoef(rank, rankdata(column))[0, 1] ** 2 for rank in ranks])


def _add_ranges(
    day: xr.Dataset, scenario: Scenario, record: _Record, samples: int, seed: int, threads: int
) -> None:
    drawn, _ = _draw(scenario, samples, seed)
    times = len(record.starts)
    which = np.repeat(np.arange(samples), times)
    columns = _all(
        [each._core for each in drawn],
        [record.air(each) for each in drawn],
        which,
        which,
        np.tile(record.starts, samples),
        threads,
    )
    control = np.asarray(columns["growth_control"]).reshape(samples, times)
    wet = np.asarray(columns["wet_time"]).reshape(samples, times)
    best = control[:, [int(np.argmax(day["growth_control"].values))]]
    over_best = np.divide(control, best, out=np.ones_like(control), where=best > 0.0)
    for name, values, unit, long_name in (
        ("growth_control", control, "1", "share shorter than the untreated check"),
        ("wet_time", wet, "s", "time from spray to dry leaves"),
        ("control_over_best", over_best, "1", "growth control over that of the best time"),
    ):
        with np.errstate(invalid="ignore"):
            low, middle, high = np.quantile(values, (_RANGE[0], 0.5, _RANGE[1]), axis=0, method="nearest")
        if name == "control_over_best":
            day[name] = ("time", middle, {"units": unit, "long_name": f"{long_name}, median over the draws"})
        day[f"{name}_low"] = ("time", low, {"units": unit, "long_name": f"{long_name}, 10 % quantile"})
        day[f"{name}_high"] = ("time", high, {"units": unit, "long_name": f"{long_name}, 90 % quantile"})


def _about(scenario: Scenario) -> dict[str, Any]:
    return {"title": scenario.title, "scenario": scenario.to_toml(), "wetspan_version": _core.__version__}
