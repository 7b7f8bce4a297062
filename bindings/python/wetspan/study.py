"""One spray, a day of spray times, and sweeps over inputs."""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from itertools import product
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from wetspan import _core
from wetspan.batch.core import compute
from wetspan.batch.landing_tables import TABLE_PAYS
from wetspan.doubts import doubt_humectant
from wetspan.draws import CropDraws, checked_samples, draw, told
from wetspan.errors import InputError, echo
from wetspan.nights import WET_LIMIT, add_wet_nights, limit_of
from wetspan.outcome import Columns, Outcome, attributes, dataset, single
from wetspan.parameters import POSITION, row_of
from wetspan.record import (
    ABOUT_AIR,
    Moment,
    air_at_spraying,
    airs_at,
    conditions,
    crosses_a_gap,
    follow,
    followed,
    local,
    raised,
    starts_in,
    stretches_of,
    weeks_at,
)
from wetspan.residue import along_ends, residue_ends
from wetspan.rewetting import DELAY, about_water, delays_at, rewets, timed, without_clock, without_rewetting
from wetspan.scenario import Scenario, require_scenario
from wetspan.seeds import Seed, fixed
from wetspan.seeds import told as told_seed
from wetspan.unit_columns import labels
from wetspan.weather import Weather

Numbers: TypeAlias = npt.NDArray[np.float64]

_SHORTEST_STEP = pd.Timedelta(seconds=1)
_LONGEST_DAY = pd.Timedelta(days=2)
_SEASON = "for the times of many days there is ws.season(scenario, weather, start, end)"
#: What the single numbers of outputs are, beside which ranges stand.
CENTRAL = "nominal: computed once, with the inputs as given; not the median of draws"
SCREENING_TOLERANCE = 1e-4  # of each of the many runs of an uncertainty study


def simulate(scenario: Scenario, weather: Weather | None = None, time: Moment | None = None) -> Outcome:
    """Compute what one application, or the calendar of applications, does to a crop.

    Without `weather`, the spray is applied in the constant air of the scenario. With `weather`, it is applied
    at `time`, which is also the start of growth. `time` is read as by `weather.local`: wall-clock time of the
    record unless it has an offset. The weeks after it have the temperatures of the record, through the house,
    as far as the record reaches. Beyond it, and without weather, they have crop.mean_temperature.
    """
    require_scenario(scenario)
    _doubt(scenario)
    if weather is None:
        if time is not None:
            raise InputError("a time was given without weather; give both, or neither for unchanging air")
        return single(scenario, _core.steady_air(scenario._core), 0.0)
    if time is None:
        raise InputError("weather was given without a time of spraying, such as time='2026-05-14T15:00'")
    scenario = timed(scenario, weather, local(weather, time))
    moment = pd.DatetimeIndex([local(weather, time)])
    (weeks,), _ = weeks_at(scenario, weather, moment)
    outcome = single(scenario, *air_at_spraying(scenario, weather, time), weeks)
    wet = np.array([min(np.fmax(outcome.wet_time, outcome.stem_wet_time), scenario["numerics.longest"])])
    return replace(outcome, bridged=bool(crosses_a_gap(weather, moment, wet)[0]))


def compare_times(
    scenario: Scenario,
    weather: Weather,
    start: Moment,
    end: Moment,
    every: str | timedelta = "30min",
    *,
    wet_limit: object = WET_LIMIT,
    samples: int = 0,
    seed: Seed = 1,
    crop: CropDraws | None = None,
    threads: int = 0,
) -> xr.Dataset:
    """Compute the same spray at many times of a day, or of two days.

    Start and end are read as by `weather.local`. The Dataset lies along `time`, on the record's own wall
    clock (its zone is an attribute); `time_utc` is the same moment in UTC. The variables are

    - wet_time, last_drop_time, stem_wet_time [s], wet_share, split(target), uptake(site), tips(site) [mg per
      plant], growth_control and status;
    - `control_over_best`, growth control divided by that of the best time;
    - growth_control_at_ends and control_over_best_at_ends, the same two for the lowest and the highest
      plausible mobile share of the dried residue. They lie along `residue`, whose `mobile_share` [%] is that
      of `ws.residue_ends`;
    - the air at the moment of spraying: air_temperature, relative_humidity, vapour_pressure_deficit,
      shortwave, air_changes;
    - `bridged`, whether the wet span crosses a gap of the record that was bridged;
    - `wet_past_sunset`, whether leaves are wet after sunset, and `wet_too_long`, whether they are wet for
      longer than `wet_limit` (8 h by default; common practice, no source). Both invite leaf disease. If such
      a time is the best, `advice` says so and names the best of the other times.

    All of these are nominal: computed once, with the inputs as given. With `samples`, the unknown inputs are
    drawn that many times, as by `uncertainty`; those of a calibrated `crop` are drawn from what its trials
    left possible. Then wet_time, growth_control and control_over_best also have the 10 and 90 % quantiles of
    the draws (_low, _high). `not_dry` counts the draws that stay wet; their growth control is a lower bound.
    All times have the same draws, so the order of the times is better known than the ranges suggest, and
    control_over_best has the narrowest range. Times with the status "wet at end", whose growth control is a
    lower bound, count as the best only if all times have it.

    The air of a house is computed from a day before the week of the first spray on. If the record begins
    later, the state with which the house starts has more effect.
    """
    require_scenario(scenario)
    _doubt(scenario)
    moments = _moments(weather, start, end, every)
    delays = delays_at(scenario, weather, moments)
    asked, scenario = scenario, without_clock(scenario)
    airs, air_of, starts = airs_at(scenario, weather, moments)
    weeks, weeks_of = weeks_at(scenario, weather, moments)

    def at_each_time(*scenarios: Scenario) -> tuple[Columns, npt.NDArray[np.str_]]:
        return _each_time(scenarios, airs, air_of, starts, weeks, weeks_of, delays, threads)

    found, status = at_each_time(scenario, *residue_ends(scenario))
    columns = {name: values[0] for name, values in found.items()}
    best = best_time(columns["growth_control"], status[0])

    day = dataset(columns, status[0], ["time"], _clock_coords(moments, weather), [len(moments)])
    for name, (values, units, long_name) in air_at(airs, air_of, starts).items():
        day[name] = ("time", values, attributes(name, units, f"{long_name} when sprayed"))
    longest = scenario["numerics.longest"]
    wet = np.fmax(columns["wet_time"], columns["stem_wet_time"])
    day["bridged"] = (
        "time",
        crosses_a_gap(weather, moments, np.minimum(wet, longest)),
        {"long_name": "whether the wet span crosses a gap that reading the record bridged"},
    )
    add_wet_nights(day, weather, moments, limit_of(wet_limit), _delay(scenario, delays), longest)
    control = found["growth_control"]
    day["control_over_best"] = (
        "time",
        _over_best(control[:1], best)[0],
        {"long_name": "growth control over that of the best time", "units": "1"},
    )
    day = day.assign_coords(along_ends(scenario))
    _add_at_ends(day, "growth_control", control[1:])
    _add_at_ends(day, "control_over_best", _over_best(control[1:], best))
    if rewets(scenario):
        plain = without_rewetting(scenario)
        _add_without_rewetting(day, at_each_time(plain, *residue_ends(plain))[0]["growth_control"])
        day.attrs["rewetting"] = about_water(asked)
    day.attrs |= _about(asked) | {"weather": repr(weather), "central": CENTRAL}
    if samples:
        _add_ranges(day, scenario, weather, moments, best, delays, samples, seed, crop, threads)
    return day


def _moments(weather: Weather, start: Moment, end: Moment, every: str | timedelta) -> pd.DatetimeIndex:
    """Return the times of spraying; at most two days of them."""
    try:
        step = pd.Timedelta(every)
    except (TypeError, ValueError):
        raise InputError(f"every = {every!r} is not a time step such as '30min'") from None
    if not step >= _SHORTEST_STEP:
        raise InputError(f"every = {every!r} is not a step of a second or more, such as '30min'")
    first, last = local(weather, start), local(weather, end)
    if last < first:
        raise InputError(f"end {last.isoformat()} is before start {first.isoformat()}")
    if last - first > _LONGEST_DAY:
        raise InputError(
            f"{first.isoformat()} to {last.isoformat()} is longer than two days: which of so many times is "
            f"best is a matter of the day's weather; {_SEASON}"
        )
    return pd.date_range(first, last, freq=step)


def _clock_coords(moments: pd.DatetimeIndex, weather: Weather) -> dict[str, object]:
    return {
        "time": (
            "time",
            moments.tz_localize(None),
            {"long_name": "time of spraying on the record's own clock", "time_zone": weather.time_zone},
        ),
        "time_utc": (
            "time",
            moments.tz_convert("UTC").tz_localize(None),
            {"standard_name": "time", "long_name": "time of spraying in UTC"},
        ),
    }


def _each_time(
    scenarios: Sequence[Scenario],
    airs: list[_core.CropAir],
    air_of: npt.NDArray[np.uint64],
    starts: Numbers,
    weeks: list[Numbers],
    weeks_of: npt.NDArray[np.uint64],
    delays: Numbers | None,
    threads: int,
) -> tuple[Columns, npt.NDArray[np.str_]]:
    """Run scenarios in the same airs, all of them or none; columns and status lie along both."""
    count, times = len(scenarios), len(starts)
    columns, status = _all(
        list(scenarios),
        airs,
        np.repeat(np.arange(count, dtype=np.uint64), times),
        np.tile(air_of, count),
        np.tile(starts, count),
        threads,
        may_fail=False,
        weeks=(weeks, np.tile(weeks_of, count)),
        delays=None if delays is None else np.tile(delays, count),
    )
    return {name: each.reshape(count, times) for name, each in columns.items()}, status.reshape(count, times)


#: What tells the Dataset of a day of spray times.
OF_A_DAY = ("time", "time_utc", "status", "wet_time", "growth_control")


def best_time(control: Numbers, status: npt.NDArray[np.str_]) -> int:
    """Return the place of the largest growth control, of those that dry where there are any."""
    dries = status != "wet at end"
    return int(np.argmax(np.where(dries, control, -np.inf) if dries.any() else control))


def _add_at_ends(day: xr.Dataset, name: str, values: Numbers) -> None:
    about = day[name].attrs
    long_name = f"{about['long_name']}, at both ends of the residue"
    day[f"{name}_at_ends"] = (("residue", "time"), values, about | {"long_name": long_name})


def _add_without_rewetting(day: xr.Dataset, control: Numbers) -> None:
    """Add growth control without the re-wetting: nominal, then at both ends of the residue."""
    long_name = "growth control without the re-wetting"
    day["control_without_rewetting"] = ("time", control[0], {"long_name": long_name, "units": "1"})
    _add_at_ends(day, "control_without_rewetting", control[1:])


def _delay(scenario: Scenario, delays: Numbers | None) -> float | Numbers:
    return scenario["rewetting.delay"] if delays is None else delays


def sweep(scenario: Scenario, axes: Mapping[str, Iterable[object]], *, threads: int = 0) -> xr.Dataset:
    """Compute every combination of values of some inputs in the scenario's constant air.

    `axes` gives the values of each input by its key, such as {"air.speed": [0.1, 0.3]}: texts with units,
    quantities, an array that states its unit (attrs["units"]), or bare numbers in SI. The Dataset has one
    dimension per key. Its coordinate has the numbers as they were given, and their unit as an attribute, so
    `.sel({"air.speed": 0.3})` finds the value that was given, and `batch` reads such a coordinate. Texts of
    several units are converted to the unit that people are shown. A combination that cannot be computed has
    NaN and the status "failed", and a warning is given.
    """
    require_scenario(scenario)
    rows = [row_of(key) for key in axes]
    if not rows:
        raise InputError("a sweep needs an input and its values, such as {'air.speed': [0.1, 0.3]}")
    given = {row.key: labels(row, _values(row.key, axes[row.key]), usual=scenario[row.key]) for row in rows}
    scenarios = [
        scenario.in_si(dict(zip(given, combination, strict=True)))
        for combination in product(*(axis.si for axis in given.values()))
    ]
    _doubt(*scenarios)
    columns, status = _each(scenarios, threads)
    coords = {
        row.key: (row.key, given[row.key].given, attributes(row.key, given[row.key].unit, row.meaning))
        for row in rows
    }
    sizes = [len(axis.si) for axis in given.values()]
    result = dataset(columns, status, list(given), coords, sizes)
    result.attrs = _about(scenario)
    return result


def _values(key: str, given: Any) -> Any:
    """Return the values of a sweep's axis, an array as it is."""
    try:
        count = 0 if isinstance(given, str) else len(given)
    except TypeError:
        given = list(given) if isinstance(given, Iterable) else []
        count = len(given)
    if count == 0:
        raise InputError(f"{key} = {echo(given)}: a sweep needs a list of one value or more")
    return given


def _each(
    scenarios: list[Scenario], threads: int, may_fail: bool = True
) -> tuple[Columns, npt.NDArray[np.str_]]:
    """Run every scenario in its own unchanging air."""
    jobs = np.arange(len(scenarios), dtype=np.uint64)
    return _all(scenarios, [], jobs, None, np.zeros(len(scenarios)), threads, may_fail)


def _all(
    scenarios: list[Scenario],
    airs: list[_core.CropAir],
    scenario_of: npt.NDArray[np.uint64] | None,
    air_of: npt.NDArray[np.uint64] | None,
    starts: Numbers,
    threads: int,
    may_fail: bool = True,
    weeks: tuple[list[Numbers], npt.NDArray[np.uint64]] | None = None,
    delays: Numbers | None = None,
) -> tuple[Columns, npt.NDArray[np.str_]]:
    """Run many sprays. Those that cannot be computed are NaN, "failed", and warned of; not all may be."""
    done = compute(
        scenarios,
        airs,
        count=len(starts),
        inputs=[] if delays is None else [(POSITION[DELAY], delays)],
        scenario_of=scenario_of,
        air_of=air_of,
        starts=starts,
        weeks=() if weeks is None else weeks[0],
        weeks_of=None if weeks is None else weeks[1],
        threads=threads,
    )
    if done.failed and (len(done.failed) == len(starts) or not may_fail):
        first = done.failed[0][0]
        core = scenarios[0 if scenario_of is None else scenario_of[first]]._core
        air = _core.steady_air(core) if air_of is None else airs[air_of[first]]
        days = None if weeks is None else weeks[0][weeks[1][first]]
        _core.simulate(core, air, starts[first], weeks=days)  # raises what went wrong
    if done.failed:
        told = f"{len(done.failed)} of {len(starts)} runs failed; the first: {done.failed[0][1]}"
        warnings.warn(told, RuntimeWarning, stacklevel=3)
    return done.columns, done.status


def air_at(
    airs: Sequence[_core.CropAir], air_of: npt.NDArray[np.uint64], starts: Numbers
) -> dict[str, tuple[Numbers, str, str]]:
    """Return values, units and meaning of what people know the air at the crop by, at some moments [s]."""
    known = {name: np.empty(len(starts)) for name in ABOUT_AIR}
    for place, air in enumerate(airs):
        its = air_of == place
        for name, values in conditions(air, starts[its]).items():
            known[name][its] = values
    return {name: (known[name], *about) for name, about in ABOUT_AIR.items()}


def quantile_over_draws(values: Numbers, levels: float | Numbers) -> Numbers:
    """Quantiles over the first axis, each one of the values: they may be infinite. NaN does not count."""
    ordered = np.sort(values, axis=0)  # NaN come last
    known = np.asarray((~np.isnan(values)).sum(axis=0))
    level = np.asarray(levels, dtype=float).reshape(np.shape(levels) + (1,) * known.ndim)
    place = np.clip(np.ceil(known * level - 1.0), 0, max(len(values) - 1, 0)).astype(np.intp)
    if level.ndim == known.ndim:
        return np.asarray(np.take_along_axis(ordered, place[None], axis=0)[0])
    return np.asarray(np.take_along_axis(ordered, place, axis=0))


def _over_best(control: Numbers, best: int) -> Numbers:
    """Return growth control (draws x times) over that at the best time; 1 where that is none."""
    of_best = control[:, [best]]
    return np.divide(control, of_best, out=np.ones_like(control), where=of_best > 0.0)


def draw_scenarios(
    scenario: Scenario, samples: int, seed: Seed, crop: CropDraws | None = None, *, each: int = 1
) -> list[Scenario]:
    """Draw scenarios around one, as `uncertainty` does; `each` times are run of every one."""
    columns = draw(scenario, checked_samples(samples), seed, given="anchors" if crop is None else crop)
    loose = screening(scenario, each)
    values = np.array(list(columns.values())).T.tolist()
    return [loose.in_si(dict(zip(columns, each, strict=True))) for each in values]


def screening(scenario: Scenario, each: int = 1) -> Scenario:
    """Return a scenario as one of many draws is run, with the tolerance of that.

    Where fewer runs than a table pays for (`each`) share the spray of a draw, its flights are computed.
    """
    values = {"numerics.tolerance": max(scenario["numerics.tolerance"], SCREENING_TOLERANCE)}
    if each < TABLE_PAYS:
        values["numerics.flights"] = 0.0
    return scenario.in_si(values)


def _add_ranges(
    day: xr.Dataset,
    scenario: Scenario,
    weather: Weather,
    moments: pd.DatetimeIndex,
    best: int,
    delays: Numbers | None,
    samples: int,
    seed: Seed,
    crop: CropDraws | None,
    threads: int,
) -> None:
    seed = fixed(seed)
    drawn = draw_scenarios(scenario, samples, seed, crop, each=len(moments))
    times = len(moments)
    stretches, which = stretches_of(weather, moments, followed(scenario))
    weeks, weeks_of = weeks_at(scenario, weather, moments)
    found = follow([(weather, stretch, each) for each in drawn for stretch in stretches], threads)
    airs = [raised(air) for air in found]
    own = len(stretches) * np.arange(samples)[:, None] + which[None, :]
    columns, status = _all(
        drawn,
        airs,
        np.repeat(np.arange(samples, dtype=np.uint64), times),
        own.ravel().astype(np.uint64),
        np.tile(starts_in(weather, stretches, which, moments), samples),
        threads,
        weeks=(weeks, np.tile(weeks_of, samples)),
        delays=None if delays is None else np.tile(delays, samples),
    )
    wet, control = (columns[name].reshape(samples, times) for name in ("wet_time", "growth_control"))
    over_best = _over_best(control, best)
    for name, values in (("wet_time", wet), ("growth_control", control), ("control_over_best", over_best)):
        about = day[name].attrs
        for end, level in (("low", 0.1), ("high", 0.9)):
            long_name = f"{about['long_name']}, {level:.0%} quantile"
            day[f"{name}_{end}"] = (
                "time",
                quantile_over_draws(values, level),
                about | {"long_name": long_name},
            )
    day["not_dry"] = (
        "time",
        (status.reshape(samples, times) == "wet at end").sum(axis=0),
        {"long_name": "draws that stay wet to the end, whose growth control is a lower bound", "units": "1"},
    )
    day.attrs |= {"samples": samples, "seed": told_seed(seed), "given": told(crop or "anchors")}


def _doubt(*scenarios: Scenario) -> None:
    keys = ("liquid.humectant", "liquid.kappa")
    doubt_humectant(*([each[key] for each in scenarios] for key in keys))


def _about(scenario: Scenario) -> dict[str, Any]:
    return {
        "Conventions": "CF-1.11",
        "title": scenario.title,
        "scenario": scenario.to_toml(),
        "shown_in": str(scenario.units),
        "wetspan_version": _core.__version__,
    }
