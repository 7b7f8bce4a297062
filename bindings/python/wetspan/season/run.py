"""The function `season`: the same spray at every clock time of every day, at one site or several."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from wetspan.batch.core import allowed_threads
from wetspan.batch.weather import Skies
from wetspan.draws import CENTRAL, draw_scenarios
from wetspan.lazy import Chunks
from wetspan.nights import WET_LIMIT, clock_hours, limit_of, sun
from wetspan.outcome import attributes
from wetspan.progress import Progress, shown
from wetspan.residue import along_ends
from wetspan.rewetting import about_water, rewets, without_rewetting
from wetspan.scenario import Scenario, require_scenario
from wetspan.season.lazy import lazy_ends, lazy_season
from wetspan.season.plan import Plan
from wetspan.season.times import Clocks, Day, clock_text, clocks_of, coordinates_of_cells, days_of, sites_of
from wetspan.seeds import Seed, fixed
from wetspan.seeds import told as told_seed
from wetspan.weather import Weather, WeatherGrid

READ_FOR = (
    "Wet times compare across times, days and sites, as far as the weather and the house are known. Growth "
    "control compares times of one day; across days and seasons it carries what the model assumes on warmth "
    "and growth, which no trial here has tested."
)
_DAYS_AT_ENDS = 12  # days on which both ends of the residue are computed


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

    `weather` is one record, or several: {"miami": ..., ...}. Days and clock times are on each record's own
    clock. `hours` has whole hours, texts such as "06:30", or `datetime.time`.

    The Dataset lies along `site`, `day` (midnight, datetime64) and `clock` (text). `hour` is the clock time
    in hours, and `time_utc` the moment in UTC. The variables, all nominal, are

    - wet_time, last_drop_time, stem_wet_time [s], split(target), uptake and tips(`organ`, the site of uptake)
      [mg per plant], growth_control, status, and reason where a spray failed;
    - the air at spraying: air_temperature, relative_humidity, vapour_pressure_deficit, shortwave,
      air_changes;
    - `bridged`, as in `compare_times`;
    - sunrise and sunset [h on the clock], where they are known from the place of a record or from its light;
    - `wet_past_sunset` and `wet_too_long` (for longer than `wet_limit`), as in `compare_times`;
    - growth_control_at_ends, growth control for the lowest and the highest plausible mobile share of the
      dried residue (`ws.residue_ends`). It lies along `residue` and `day_at_ends`, at most 12 days spread
      over the season. If the scenario has a re-wetting, control_without_rewetting_at_ends is the same without
      it.

    With `samples`, the unknown inputs are drawn that many times as by `uncertainty`, the same draws at every
    time. wet_time, stem_wet_time and growth_control then have `_draws` along `sample`, and their 10 and 90 %
    quantiles `_low` and `_high`. `not_dry` counts the draws that stay wet, and `slow_draws` those that the
    full system followed. Draws use tables of flights (numerics.flights) only in seasons of 1000 sprays or
    more, where these save time.

    The attribute `read_for` says which comparisons hold: wet times compare across a season, growth control
    within a day. See `share_below`, `best_windows` and `plot_season`. `progress` is called with the number of
    rows done and of all rows. Without it, a bar is shown in a terminal or a notebook after two seconds.

    Over a grid (`Weather.from_xarray`) each cell is a site, with the cell's coordinates along `site`.
    `.set_index(site=["latitude", "longitude"])` and `.unstack("site")` restore the grid.

    With `chunks`, the number of days of one site that are computed together ("auto": weeks of some 5000
    sprays), the Dataset is lazy. Dask computes it when its numbers are needed, on the scheduler that is set
    up, with the same bits. `reason` is then always present, cut to 120 characters, and `threads` are those of
    each chunk (1 by default). `ws.to_zarr` writes it chunk by chunk.
    """
    require_scenario(scenario)
    threads = allowed_threads(threads)
    sites = sites_of(weather)
    days, clocks = days_of(start, end), clocks_of(hours)
    seed = fixed(seed)
    each = len(sites) * len(days) * len(clocks)
    drawn = tuple(draw_scenarios(scenario, samples, seed, each=each) if samples else ())
    plan = Plan(scenario, drawn, clocks, limit_of(wet_limit))
    if chunks is None:
        with shown(progress) as told:
            result = plan.over(sites, days, threads, told)
    else:
        result = lazy_season(plan, sites, days, chunks, threads)
    coords: dict[str, object] = {
        "site": ("site", list(sites), {"long_name": "weather record"}),
        "day": ("day", days.to_numpy(), {"long_name": "day on the record's own clock"}),
        "clock": ("clock", [clock_text(each) for each in clocks], {"long_name": "clock time of spraying"}),
        "hour": (
            "clock",
            clocks / pd.Timedelta(hours=1),
            {"long_name": "clock time of spraying", "units": "hour"},
        ),
        "time_zone": (
            "site",
            [each.time_zone for each in sites.values()],
            {"long_name": "clock of the record"},
        ),
    }
    if isinstance(weather, WeatherGrid):
        coords |= coordinates_of_cells(weather)
    some = np.unique(np.linspace(0, len(days) - 1, min(len(days), _DAYS_AT_ENDS)).round().astype(int))
    coords |= along_ends(scenario)
    coords["day_at_ends"] = (
        "day_at_ends",
        days[some].to_numpy(),
        {"long_name": "days on which both ends of the residue are computed"},
    )

    def at_ends(each: Plan) -> Any:
        if chunks is None:
            return each.ends(sites, days[some], threads)
        return lazy_ends(each, sites, days[some], threads)

    about = str(result["growth_control"].attrs["long_name"])
    more = _sun(sites, days) | _ends("growth_control", about, at_ends(plan))
    attrs = dict(result.attrs)
    if rewets(scenario):
        plain = replace(plan, scenario=without_rewetting(scenario), drawn=())
        more |= _ends("control_without_rewetting", "growth control without the re-wetting", at_ends(plain))
        attrs["rewetting"] = about_water(scenario)
    attrs |= {"central": CENTRAL, "read_for": READ_FOR}
    if samples:
        attrs |= {"samples": samples, "seed": told_seed(seed)}
    # made anew at once, since each change of a Dataset costs as much
    own = result.variables
    return xr.Dataset(
        {name: own[name] for name in result.data_vars} | more,
        {name: own[name] for name in result.coords} | coords,
        attrs,
    )


def _ends(name: str, long_name: str, values: Any) -> dict[str, object]:
    """Return a growth control at both ends of the residue, on days spread over the season."""
    return {
        f"{name}_at_ends": (
            ("residue", "site", "day_at_ends", "clock"),
            values,
            attributes(name, "1", f"{long_name}, at both ends of the residue"),
        )
    }


def _sun(sites: Mapping[str, Weather], days: pd.DatetimeIndex) -> dict[str, object]:
    """Return sunrise and sunset by each record's clock; NaN where `wetspan.nights.sun` knows none."""
    known = [sun(weather, days) for weather in sites.values()]
    found: dict[str, object] = {}
    for name, which in (("sunrise", "rise"), ("sunset", "set")):
        hours = [
            clock_hours(weather, getattr(each, which))
            for weather, each in zip(sites.values(), known, strict=True)
        ]
        found[name] = (
            ("site", "day"),
            np.array(hours),
            {"long_name": f"{name} on the record's own clock", "units": "hour"},
        )
    return found
