"""Seasons: the same spray at every clock time of every day, at one site or several; the air of a house."""

from __future__ import annotations

import importlib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from itertools import pairwise
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from wetspan import _core
from wetspan.batch import Chunks, Progress, Skies, _batch, _Done, over_draws
from wetspan.errors import InputError, described, only_for
from wetspan.nights import CAUTION, MARKS, WET_LIMIT, add_wet_nights, clock_hours, limit_of, sun, wet_nights
from wetspan.outcome import attributes
from wetspan.parameters import TABLE
from wetspan.progress import shown
from wetspan.record import (
    ABOUT_AIR,
    Moment,
    Numbers,
    Stretch,
    conditions,
    follow,
    local,
    raised,
    stretches_of,
    utc_in,
)
from wetspan.residue import along_ends, residue_ends
from wetspan.rewetting import DELAY, about_water, delays_at, rewets, without_rewetting
from wetspan.scenario import Scenario, require_scenario
from wetspan.seeds import Seed, fixed
from wetspan.seeds import told as told_seed
from wetspan.study import CENTRAL, draw_scenarios, quantile_over_draws
from wetspan.units import value_in_si
from wetspan.weather import Weather, WeatherGrid

Day: TypeAlias = str | date
#: Clock times: whole hours, "06:30", or `datetime.time`.
Clocks: TypeAlias = Iterable[int | str | time]

READ_FOR = (
    "Wet times compare across times, days and sites, as far as the weather and the house are known. Growth "
    "control compares times of one day; across days and seasons it carries what the model assumes on warmth "
    "and growth, which no trial here has tested."
)
_DRAWN = ("wet_time", "stem_wet_time", "growth_control")
_DAYS_AT_ENDS = 12  # days on which both ends of the residue are computed
_SPRAYS_TOGETHER, _WEEKS_TOGETHER = 5000, 8  # least and most of a chunk that is chosen
_DAYS = 366 * 5  # of one call: beyond, memory is better spent year by year


def season(
    scenario: Scenario,
    weather: Skies,
    start: Day,
    end: Day,
    hours: Clocks = range(6, 21),
    *,
    wet_limit: object = WET_LIMIT,
    samples: int = 0,
    seed: Seed = 1,
    threads: int = 0,
    progress: Progress | None = None,
    chunks: Chunks | None = None,
) -> xr.Dataset:
    """Compute the same spray at some clock times of every day from `start` to `end`, both included.

    `weather` is a record or several, {"miami": ..., ...}. Days and clock times are those of each record's own
    clock; `hours` holds whole hours, texts such as "06:30" or `datetime.time`.

    The Dataset lies along `site`, `day` (midnight, datetime64) and `clock` (text); `hour` is the clock time
    in hours and `time_utc` the moment in UTC. Variables: wet_time, last_drop_time, stem_wet_time [s],
    split(target), uptake(site of uptake, `organ`), tips [mg per plant], growth_control, status, reason where
    one failed; the air at spraying: air_temperature, relative_humidity, vapour_pressure_deficit, shortwave,
    air_changes; `bridged`; sunrise and sunset [h on the clock] where the place of a record or its light tells
    them; `wet_past_sunset` and `wet_too_long` (for longer than `wet_limit`), as in `compare_times`. All are
    nominal.

    growth_control_at_ends, along `residue` and `day_at_ends`, is growth control at both ends of what the
    dried residue does (`ws.residue_ends`), on up to 12 days spread over the season; where the scenario is
    wetted again, control_without_rewetting_at_ends is the same without.

    With `samples`, every input's plausible deviation is drawn that many times as by `uncertainty`, the same
    draws at every time. wet_time, stem_wet_time and growth_control then have `_draws` along `sample`, the 10
    and 90 % quantiles `_low` and `_high`; `not_dry` counts the draws that stay wet, `slow_draws` those that
    the full system followed. Draws read their
    landings from a table (numerics.flights) only in seasons of 1000 sprays or more, where that pays.

    What it may be read for stands in the attribute `read_for`: wet times compare across a season, growth
    control within a day. See `share_below`, `best_windows` and `plot_season`. `progress` is called with the
    rows done and all rows; without it a bar is shown in a terminal or a notebook, once it has taken two
    seconds.

    Over a grid (`Weather.from_xarray`) each cell is a site, with the cell's coordinates along `site`:
    `.set_index(site=["latitude", "longitude"])` and `.unstack("site")` lay them out.

    With `chunks`, days of one site that are computed together ("auto" for weeks of some 5000 sprays), the
    Dataset is lazy: Dask computes it when its numbers are asked for, on the scheduler that is set up, with
    the same bits. `reason` is then always there, cut to 120 characters, and `threads` are those of each
    chunk, one if left out. `ws.to_zarr` writes it chunk by chunk.
    """
    require_scenario(scenario)
    sites = _sites(weather)
    days, clocks = _days(start, end), _clocks(hours)
    seed = fixed(seed)
    each = len(sites) * len(days) * len(clocks)
    drawn = tuple(draw_scenarios(scenario, samples, seed, each=each) if samples else ())
    plan = _Plan(scenario, drawn, clocks, limit_of(wet_limit))
    if chunks is None:
        with shown(progress) as told:
            result = plan.over(sites, days, threads, told)
    else:
        result = _lazy(plan, sites, days, chunks, threads)
    result = result.assign_coords(
        site=("site", list(sites), {"long_name": "weather record"}),
        day=("day", days.to_numpy(), {"long_name": "day on the record's own clock"}),
        clock=("clock", [_clock_text(each) for each in clocks], {"long_name": "clock time of spraying"}),
        hour=(
            "clock",
            clocks / pd.Timedelta(hours=1),
            {"long_name": "clock time of spraying", "units": "hour"},
        ),
        time_zone=("site", [each.time_zone for each in sites.values()], {"long_name": "clock of the record"}),
    )
    if isinstance(weather, WeatherGrid):
        result = result.assign_coords(_of_cells(weather))
    _add_sun(result, sites, days)
    some = np.unique(np.linspace(0, len(days) - 1, min(len(days), _DAYS_AT_ENDS)).round().astype(int))

    def at_ends(each: _Plan) -> Any:
        if chunks is None:
            return each.ends(sites, days[some], threads)
        return _lazy_ends(each, sites, days[some], threads)

    _add_ends(result, scenario, days[some], "growth_control", at_ends(plan))
    if rewets(scenario):
        plain = replace(plan, scenario=without_rewetting(scenario), drawn=())
        _add_ends(result, scenario, days[some], "control_without_rewetting", at_ends(plain))
        result.attrs["rewetting"] = about_water(scenario)
    result.attrs |= {"central": CENTRAL, "read_for": READ_FOR}
    if samples:
        result.attrs |= {"samples": samples, "seed": told_seed(seed)}
    return result


def _of_cells(grid: WeatherGrid) -> dict[str, object]:
    """Return the coordinates of a grid's cells along `site`."""
    cells = grid.cells
    return {
        str(name): ("site", each.broadcast_like(cells).transpose(*cells.dims).values.ravel(), each.attrs)
        for name, each in cells.coords.items()
    }


@dataclass(frozen=True)
class _Plan:
    """What is sprayed at each clock time: the scenario, and those drawn around it."""

    scenario: Scenario
    drawn: tuple[Scenario, ...]
    clocks: pd.TimedeltaIndex
    wet_limit: float

    def rows(self, sites: Mapping[str, Weather], days: pd.DatetimeIndex) -> dict[str, npt.NDArray[Any]]:
        """Return the sprays of some days at some sites as rows, site by site."""
        moments = _moments(days, self.clocks)
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

        nominal = _batch(self.scenario, rows, sites, threads, of_run(0, len(rows["time"])))
        _mark_wet_nights(nominal, sites, self.wet_limit, self.scenario)
        result = _unstacked(nominal, shape)
        if self.drawn:
            runs = over_draws(
                self.scenario, self.drawn, rows, sites, threads, lambda i, count: of_run(1 + i, count), _DRAWN
            )
            _add_draws(result, runs, shape)
        result.attrs = nominal.attrs
        return result


def _moments(days: pd.DatetimeIndex, clocks: pd.TimedeltaIndex) -> npt.NDArray[np.datetime64]:
    """Return the moments on a record's own clock, days x clock times."""
    return np.asarray(days.to_numpy()[:, None] + clocks.to_numpy()[None, :])


def _days_of(plan: _Plan, name: str, days: pd.DatetimeIndex, threads: int, weather: Weather) -> xr.Dataset:
    """Compute a chunk: some days of one site."""
    return plan.over({name: weather}, days, threads)


def _lazy(
    plan: _Plan, sites: Mapping[str, Weather], days: pd.DatetimeIndex, chunks: Chunks, threads: int
) -> xr.Dataset:
    """Return a season that is computed chunk by chunk when it is asked for."""
    lazy = importlib.import_module("wetspan.lazy")
    weeks = -(-_SPRAYS_TOGETHER // (7 * len(plan.clocks) * (1 + len(plan.drawn))))
    sizes = lazy.chunk_sizes(chunks, "day", len(days), 7 * min(weeks, _WEEKS_TOGETHER))
    template = lazy.with_reason(plan.over(dict(list(sites.items())[:1]), days[:0], threads))
    ends = np.cumsum([0, *sizes])
    mark = lazy.fingerprint(plan.scenario, sites, list(plan.drawn), days, plan.clocks, plan.wet_limit)
    study = lazy.Study(mark, _days_of, plan)
    parts = {
        (i, k): study.part(template, (i, k), (name, days[first:last], threads or 1), weather)
        for i, (name, weather) in enumerate(sites.items())
        for k, (first, last) in enumerate(pairwise(ends))
    }
    result: xr.Dataset = lazy.assembled(template, {"site": [1] * len(sites), "day": sizes}, parts)
    utc = [
        weather.utc_of(pd.DatetimeIndex(_moments(days, plan.clocks).ravel()))[0].tz_localize(None)
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


def share_below(
    season: xr.Dataset, wet_time: object, *, part: str = "leaves", level: tuple[float, float] = (0.1, 0.9)
) -> xr.Dataset:
    """Return the share of days on which leaves, or `part="stems"`, dry in less than `wet_time`.

    Variables: `share` [1] along site and clock, nominal; `days`, how many it is of: days that could not be
    computed are left out, days that do not dry count as not below. With draws also `share_low` and
    `share_high`, quantiles (`level`) over the draws of each draw's own share.
    """
    name = {"leaves": "wet_time", "stems": "stem_wet_time"}.get(part)
    if name is None:
        raise InputError(f"part = {part!r} is not 'leaves' or 'stems'")
    only_for("share_below is for the Dataset of ws.season", season, xr.Dataset, "site", "day", "clock")
    limit = value_in_si(TABLE["numerics.longest"], wet_time)
    known = season["status"] != "failed"
    days = known.sum("day")

    def share(times: xr.DataArray) -> xr.DataArray:
        return ((times < limit) & known).sum("day") / days

    told = f"share of days on which {part} dry in less than {limit / 60.0:g} min"
    result = xr.Dataset(
        {
            "share": share(season[name]).assign_attrs(long_name=told, units="1"),
            "days": days.assign_attrs(long_name="days that were computed", units="1"),
        }
    )
    if f"{name}_draws" in season:
        drawn = share(season[f"{name}_draws"])
        for end, at in zip(("low", "high"), level, strict=True):
            result[f"share_{end}"] = (
                drawn.quantile(at, "sample")
                .drop_vars("quantile")
                .assign_attrs(long_name=f"{told}, {at:.0%} quantile of the draws", units="1")
            )
    return result.assign_attrs(central=CENTRAL)


def best_windows(season: xr.Dataset, *, within: float = 0.95) -> xr.Dataset:
    """Return the best clock time of each day, and the window around it that is nearly as good.

    Along site and day: `best`, the clock time [h] with the largest growth control, of those from which plants
    dry where there are any; `opens` and `closes` [h], the first and last of the clock times around it without
    a break whose growth control is at least `within` of the best; `width` [h], in which each clock time
    stands for the hours half-way to its neighbours, and the first and the last for as much outwards; wet_time
    [s] and growth_control at the best. NaN where no time of a day was computed. `best_is_wet_night` marks
    bests whose leaves are wet past sunset or too long, which invites leaf disease; `best_without` [h] is then
    the best of the day's times that are not marked, NaN if none.
    """
    only_for("best_windows is for the Dataset of ws.season", season, xr.Dataset, "site", "day", "clock")
    if not 0.0 < within <= 1.0:
        raise InputError(f"within = {within!r} is not a share above 0, up to 1")
    control = season["growth_control"].transpose("site", "day", "clock").values
    status = season["status"].transpose("site", "day", "clock").values
    dries = (status != "wet at end") & (status != "failed")
    counted = np.where(dries.any(-1, keepdims=True), dries, status != "failed")
    ranked = np.where(counted, control, -np.inf)
    best = ranked.argmax(-1)
    there = np.isfinite(ranked.max(-1))
    at_best = np.take_along_axis(control, best[..., None], -1)
    good = counted & (control >= within * at_best)
    clocks = np.arange(control.shape[-1])
    # a time belongs to the window if no time between it and the best falls short
    breaks = np.where(good, -1, clocks)
    before = np.maximum.accumulate(breaks, -1)
    first = np.take_along_axis(before, best[..., None], -1)[..., 0] + 1
    breaks = np.where(good, len(clocks), clocks)
    after = np.minimum.accumulate(breaks[..., ::-1], -1)[..., ::-1]
    last = np.take_along_axis(after, best[..., None], -1)[..., 0] - 1
    marked = wet_nights(season).transpose("site", "day", "clock").values
    without = np.where(marked, -np.inf, ranked)
    hour = season["hour"].values
    between = 0.5 * (hour[1:] + hour[:-1]) if len(hour) > 1 else hour
    edges = np.concatenate([[2.0 * hour[0] - between[0]], between, [2.0 * hour[-1] - between[-1]]])
    if len(hour) == 1:
        edges = np.repeat(hour, 2)  # it stands for no time

    def told(values: Numbers, units: str, long_name: str) -> tuple[object, ...]:
        return ("site", "day"), np.where(there, values, np.nan), {"units": units, "long_name": long_name}

    def of_best(name: str) -> Numbers:
        values = season[name].transpose("site", "day", "clock").values
        return np.asarray(np.take_along_axis(values, best[..., None], -1)[..., 0])

    return xr.Dataset(
        {
            "best": told(hour[best], "hour", "clock time with the largest growth control of the day"),
            "opens": told(hour[first], "hour", f"first clock time at {within:.0%} of the best or more"),
            "closes": told(hour[last], "hour", f"last clock time at {within:.0%} of the best or more"),
            "width": told(edges[last + 1] - edges[first], "hour", "width of the window"),
            "best_is_wet_night": (
                ("site", "day"),
                there & np.take_along_axis(marked, best[..., None], -1)[..., 0],
                {"long_name": "whether leaves sprayed at the best time are wet past sunset or too long"},
            ),
            "best_without": told(
                np.where(np.isfinite(without.max(-1)), hour[without.argmax(-1)], np.nan),
                "hour",
                "clock time with the largest growth control of those without a wet night",
            ),
            "wet_time": told(of_best("wet_time"), "s", "from spray to dry leaves, at the best time"),
            "growth_control": told(of_best("growth_control"), "1", "growth control at the best time"),
        },
        coords={name: season[name] for name in ("site", "day")},
        attrs={"central": CENTRAL, "read_for": READ_FOR, "caution": CAUTION},
    )


def house_air(
    scenario: Scenario, weather: Weather, start: Moment | None = None, end: Moment | None = None
) -> xr.Dataset:
    """Return the air at the crop while nothing is sprayed, every five minutes: of a logger, at its stamps.

    From `start` to `end`, read as by `weather.local`; left out: the whole record, of a typical year the year
    2001. The Dataset lies along `time`, in UTC; `clock` is the record's own wall clock. Variables: those that
    `batch` tells of the air at spraying, and vapour_pressure, pressure [Pa], speed [m/s], radiant_temperature
    [K]. It is the air that sprays meet, bit for bit.
    """
    require_scenario(scenario)
    local(weather, "2001-01-01")  # refuses what is no record
    known = weather.data.index
    bounds = (pd.Timestamp(year, 1, 1, tz=weather.tz) for year in (2001, 2002))
    first, last = bounds if weather.typical else (known[0], known[-1])
    first = first if start is None else local(weather, start)
    last = last if end is None else local(weather, end)
    if last <= first:
        raise InputError(f"start {first.isoformat()} is not before end {last.isoformat()}")
    span = pd.DatetimeIndex([first, last]).tz_convert("UTC")
    weather.at(span)  # refuses what is outside the record
    midnights = pd.date_range(span[0], span[1], freq="1D")
    stretches, _ = stretches_of(
        weather, pd.DatetimeIndex([*midnights, span[1]]), scenario["numerics.longest"]
    )
    parts = [
        _stretch_air(raised(air), weather, stretch, span)
        for stretch, air in zip(
            stretches, follow([(weather, each, scenario) for each in stretches]), strict=True
        )
    ]
    parts = [part for part in parts if part.sizes["time"]]
    if not parts:
        raise InputError(f"{first.isoformat()} to {last.isoformat()} holds no moment of the air")
    air = xr.concat(parts, "time")
    clock = pd.DatetimeIndex(air["time"].values, tz="UTC").tz_convert(weather.tz).tz_localize(None)
    air = air.assign_coords(
        clock=("time", clock, {"long_name": "the record's own wall clock", "time_zone": weather.time_zone})
    )
    air["time"].attrs = {"standard_name": "time", "long_name": "time in UTC"}
    air.attrs = {
        "Conventions": "CF-1.11",
        "title": scenario.title,
        "scenario": scenario.to_toml(),
        "wetspan_version": _core.__version__,
        "weather": repr(weather),
    }
    return air


_OTHER_AIR = {
    "vapour_pressure": ("Pa", "vapour pressure at the crop"),
    "pressure": ("Pa", "air pressure"),
    "speed": ("m/s", "air speed at the crop"),
    "radiant_temperature": ("K", "radiant temperature of the surroundings above the crop"),
}


def _stretch_air(
    air: _core.CropAir, weather: Weather, stretch: Stretch, span: pd.DatetimeIndex
) -> xr.Dataset:
    """Return the air of a stretch within its own week and the span that was asked for."""
    utc = utc_in(weather, stretch, air)
    first, last = stretch.week_of(utc)
    kept = (utc >= max(first, span[0])) & (utc < last) & (utc <= span[1])
    seconds = air.time[kept]
    known = conditions(air, seconds)
    columns = {name: (known[name], *about) for name, about in ABOUT_AIR.items()}
    columns |= {name: (air.columns[name][kept], *about) for name, about in _OTHER_AIR.items()}
    return xr.Dataset(
        {name: ("time", values, attributes(name, *about)) for name, (values, *about) in columns.items()},
        coords={"time": ("time", utc[kept].tz_localize(None))},
    )


def _sites(weather: Skies) -> dict[str, Weather]:
    if isinstance(weather, Weather):
        return {weather.place.name if weather.place else weather.source: weather}
    if not isinstance(weather, Mapping) or not weather:
        raise InputError(
            f"weather = {described(weather)} is no record; read it first, as in ws.read_weather('miami')"
        )
    for name, each in weather.items():
        local(each, "2001-01-01")  # refuses what is no record
        if not isinstance(name, str):
            raise InputError(f"weather: the name {name!r} of a record is not text")
    return dict(weather)


def _days(start: Day, end: Day) -> pd.DatetimeIndex:
    first, last = _day("start", start), _day("end", end)
    if last < first:
        raise InputError(f"end {last} is before start {first}")
    days = pd.date_range(first, last, freq="1D")
    if len(days) > _DAYS:
        raise InputError(f"{first} to {last} is {len(days)} days; {_DAYS} is the most at a time")
    return days


def _day(name: str, given: Day) -> date:
    try:
        day = date.fromisoformat(given) if isinstance(given, str) else given
    except ValueError:
        day = None
    if isinstance(day, datetime) or not isinstance(day, date):
        raise InputError(f"{name} = {given!r} is not a day such as 2026-05-14")
    return day


def _clocks(hours: Clocks) -> pd.TimedeltaIndex:
    try:
        given = [] if isinstance(hours, str) else list(hours)
    except TypeError:
        given = []
    if not given:
        raise InputError(f"hours = {hours!r}: give clock times, such as range(6, 21) or ['06:30', '18:00']")
    clocks = pd.TimedeltaIndex([_clock(each) for each in given])
    if not (clocks.is_monotonic_increasing and clocks.is_unique):
        raise InputError("hours: clock times have to increase")
    return clocks


def _clock(given: int | str | time) -> pd.Timedelta:
    if isinstance(given, (int, np.integer)) and not isinstance(given, bool) and 0 <= given < 24:
        return pd.Timedelta(hours=int(given))
    try:
        parsed = time.fromisoformat(given) if isinstance(given, str) and re.match(r"\d\d:", given) else given
    except ValueError:
        parsed = None
    if not isinstance(parsed, time) or parsed.tzinfo is not None:
        raise InputError(
            f"hours: {given!r} is not a clock time; allowed are 0 to 23, '06:30', or datetime.time"
        )
    return pd.Timedelta(hours=parsed.hour, minutes=parsed.minute, seconds=parsed.second)


def _clock_text(clock: pd.Timedelta) -> str:
    hours, minutes, seconds = clock.components.hours, clock.components.minutes, clock.components.seconds
    return f"{hours:02d}:{minutes:02d}" + (f":{seconds:02d}" if seconds else "")


def _unstacked(rows: xr.Dataset, shape: tuple[int, ...]) -> xr.Dataset:
    """Return rows along site, day and clock."""
    coords: dict[str, object] = {
        "target": rows["target"],
        "organ": ("organ", rows["site"].values, rows["site"].attrs),
    }
    variables: dict[str, object] = {}
    for name in [*rows.data_vars, "time_utc"]:
        variable = rows.variables[name]
        dims = (
            "site",
            "day",
            "clock",
            *("organ" if dim == "site" else str(dim) for dim in variable.dims[1:]),
        )
        values = variable.values.reshape(*shape, *variable.shape[1:])
        into = coords if name == "time_utc" else variables
        into[str(name)] = (dims, values, variable.attrs)
    return xr.Dataset(variables, coords)


def _add_draws(result: xr.Dataset, runs: Iterable[_Done], shape: tuple[int, ...]) -> None:
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


def _ends_of(plan: _Plan, name: str, days: pd.DatetimeIndex, threads: int, weather: Weather) -> xr.Dataset:
    """Compute both ends of the residue at one site."""
    return _ends(plan.ends({name: weather}, days, threads))


def _ends(values: Numbers) -> xr.Dataset:
    return xr.Dataset({"growth_control_at_ends": (("residue", "site", "day_at_ends", "clock"), values)})


def _lazy_ends(plan: _Plan, sites: Mapping[str, Weather], days: pd.DatetimeIndex, threads: int) -> Any:
    """Return both ends of the residue, computed site by site when they are asked for."""
    lazy = importlib.import_module("wetspan.lazy")
    template = _ends(np.empty((len(residue_ends(plan.scenario)), 1, len(days), len(plan.clocks))))
    study = lazy.Study(lazy.fingerprint(plan.scenario, sites, days, plan.clocks), _ends_of, plan)
    parts = {
        (i,): study.part(template, f"ends-{i}", (name, days, threads or 1), weather)
        for i, (name, weather) in enumerate(sites.items())
    }
    return lazy.assembled(template, {"site": [1] * len(sites)}, parts)["growth_control_at_ends"].data


def _add_ends(result: xr.Dataset, scenario: Scenario, days: pd.DatetimeIndex, name: str, values: Any) -> None:
    """Add a growth control at both ends of the residue, on days spread over the season."""
    long_name = {
        "growth_control": result["growth_control"].attrs["long_name"],
        "control_without_rewetting": "growth control without the re-wetting",
    }[name]
    result.coords.update(xr.Dataset(coords=along_ends(scenario)).coords)
    result.coords["day_at_ends"] = (
        "day_at_ends",
        days.to_numpy(),
        {"long_name": "days on which both ends of the residue are computed"},
    )
    result[f"{name}_at_ends"] = (
        ("residue", "site", "day_at_ends", "clock"),
        values,
        attributes(name, "1", f"{long_name}, at both ends of the residue"),
    )


def _mark_wet_nights(
    rows: xr.Dataset, sites: Mapping[str, Weather], limit: float, scenario: Scenario
) -> None:
    parts = []
    moments = pd.DatetimeIndex(rows["time_utc"].values, tz="UTC")
    for name, weather in sites.items():
        its = np.flatnonzero(rows["weather"].values == name)
        part = rows[["wet_time", "rewet_time"]].isel(row=its)
        delays = delays_at(scenario, weather, moments[its])
        delay = scenario[DELAY] if delays is None else delays
        add_wet_nights(part, weather, moments[its], limit, delay, scenario["numerics.longest"])
        parts.append(part[list(MARKS)])
    marked = xr.concat(parts, "row")  # rows lie site by site
    rows.update(marked[list(MARKS)].drop_vars(list(marked.coords)))
    rows.attrs["wet_limit"] = parts[0].attrs["wet_limit"]


def _add_sun(result: xr.Dataset, sites: Mapping[str, Weather], days: pd.DatetimeIndex) -> None:
    """Add sunrise and sunset by each record's clock; NaN where they are not known (`wetspan.nights.sun`)."""
    known = [sun(weather, days) for weather in sites.values()]
    for name, which in (("sunrise", "rise"), ("sunset", "set")):
        hours = [
            clock_hours(weather, getattr(each, which))
            for weather, each in zip(sites.values(), known, strict=True)
        ]
        result[name] = (
            ("site", "day"),
            np.array(hours),
            {"long_name": f"{name} on the record's own clock", "units": "hour"},
        )
