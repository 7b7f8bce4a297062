"""A day of spray times: the same spray at many times, and which of them is best."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from wetspan import _core
from wetspan.batch.core import columns_of, compare, statuses_of
from wetspan.draws import CENTRAL, CropDraws, draw_scenarios, quantile_over_draws, told
from wetspan.errors import InputError, only_for
from wetspan.nights import WET_LIMIT, add_wet_nights, limit_of
from wetspan.outcome import attributes, dataset, scenario_attributes
from wetspan.record import (
    Moment,
    Numbers,
    air_at,
    airs_at,
    crosses_a_gap,
    follow,
    followed,
    local,
    raised,
    starts_in,
    stretches_of,
    weeks_at,
)
from wetspan.residue import along_ends
from wetspan.rewetting import about_water, delays_at, rewets, without_clock, without_rewetting
from wetspan.scenario import Scenario, require_scenario
from wetspan.seeds import Seed, fixed
from wetspan.seeds import told as told_seed
from wetspan.study import doubt_humectants, run_all
from wetspan.weather import Weather

_SHORTEST_STEP = pd.Timedelta(seconds=1)
_LONGEST_DAY = pd.Timedelta(days=2)
_SEASON = "for the times of many days there is ws.season(scenario, weather, start, end)"


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
    doubt_humectants(scenario)
    limit = limit_of(wet_limit)
    moments = _moments(weather, start, end, every)
    delays = delays_at(scenario, weather, moments)
    asked, scenario = scenario, without_clock(scenario)
    airs, air_of, starts = airs_at(scenario, weather, moments)
    weeks = weeks_at(scenario, weather, moments)
    found = compare(scenario, airs, air_of, starts, weeks, delays, threads)
    columns = columns_of(found)

    day = dataset(columns, statuses_of(found), ["time"], _clock_coords(moments, weather), [len(moments)])
    for name, (values, units, long_name) in air_at(airs, air_of, starts).items():
        day[name] = ("time", values, attributes(name, units, f"{long_name} when sprayed"))
    longest = scenario["numerics.longest"]
    wet = np.fmax(columns["wet_time"], columns["stem_wet_time"])
    day["bridged"] = (
        "time",
        crosses_a_gap(weather, moments, np.minimum(wet, longest)),
        {"long_name": "whether the wet span crosses a gap that reading the record bridged"},
    )
    add_wet_nights(day, weather, moments, limit, _delay(scenario, delays), longest)
    day["control_over_best"] = (
        "time",
        found.control_over_best,
        {"long_name": "growth control over that of the best time", "units": "1"},
    )
    day = day.assign_coords(along_ends(scenario))
    _add_at_ends(day, "growth_control", [found.locked.control, found.mobile.control])
    over_best = [found.locked.control_over_best, found.mobile.control_over_best]
    _add_at_ends(day, "control_over_best", over_best)
    if rewets(scenario):
        plain = compare(without_rewetting(scenario), airs, air_of, starts, weeks, delays, threads)
        _add_without_rewetting(day, plain)
        day.attrs["rewetting"] = about_water(asked)
    day.attrs |= scenario_attributes(asked) | {"weather": repr(weather), "central": CENTRAL}
    if samples:
        _add_ranges(day, scenario, weather, moments, found.best, delays, samples, seed, crop, threads)
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


#: What tells the Dataset of a day of spray times.
OF_A_DAY = ("time", "time_utc", "status", "wet_time", "growth_control")
#: What its picture and its page need besides, as variables and as attributes.
_WHOLE = ("stem_wet_time", "control_over_best", "split")
_TOLD = ("title", "scenario")


def whole_day(what: str, day: object) -> None:
    """Refuse what is no day of spray times, whole as it was computed; files may hold a part of one.

    `what` says what is wanted.
    """
    only_for(what, day, xr.Dataset, *OF_A_DAY)
    assert isinstance(day, xr.Dataset)
    if missing := [name for name in _WHOLE if name not in day] or [n for n in _TOLD if n not in day.attrs]:
        raise InputError(f"{what}; it has no {missing[0]}: was a part of it left out?")
    if day["wet_time"].dims != ("time",) or not day.sizes["time"]:
        along = (
            ", ".join(f"{size} along {dim}" for dim, size in day["wet_time"].sizes.items()) or "one number"
        )
        raise InputError(f"{what}, with one time of spraying or more; its wet times are {along}")


def best_time(control: Numbers, status: npt.NDArray[np.str_]) -> int:
    """Return the place of the largest growth control, of those that dry where there are any."""
    return _core.best_time(control, (status == "wet at end").astype(np.uint8))


def _add_at_ends(day: xr.Dataset, name: str, values: list[Numbers]) -> None:
    about = day[name].attrs
    long_name = f"{about['long_name']}, at both ends of the residue"
    day[f"{name}_at_ends"] = (("residue", "time"), values, about | {"long_name": long_name})


def _add_without_rewetting(day: xr.Dataset, plain: _core.Day) -> None:
    """Add growth control without the re-wetting: nominal, then at both ends of the residue."""
    name, long_name = "control_without_rewetting", "growth control without the re-wetting"
    day[name] = ("time", columns_of(plain)["growth_control"], {"long_name": long_name, "units": "1"})
    _add_at_ends(day, name, [plain.locked.control, plain.mobile.control])


def _delay(scenario: Scenario, delays: Numbers | None) -> float | Numbers:
    return scenario["rewetting.delay"] if delays is None else delays


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
    columns, status = run_all(
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
    over_best = np.array([_core.over_best(each, best) for each in control])
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
