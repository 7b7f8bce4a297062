"""The share of days on which leaves dry too fast, and the best clock times of each day."""

from __future__ import annotations

import numpy as np
import xarray as xr

from wetspan.draws import CENTRAL
from wetspan.errors import InputError, only_for
from wetspan.nights import CAUTION, limit_of, wet_nights
from wetspan.record import Numbers
from wetspan.season.run import READ_FOR


def whole(what: str, season: xr.Dataset, *needed: str) -> xr.Dataset:
    """Return a season with its sites along a dimension, also where one was selected by its name.

    Refuses what is no season, and a season without the dimensions `needed`; `what` is the asking function.
    """
    only_for(f"{what} is for the Dataset of ws.season", season, xr.Dataset, "site", "day", "clock")
    for name in needed:
        if name not in season.dims:
            one = str(season[name].values)
            raise InputError(
                f"{what} needs {name} as a dimension; select one {name} as a list: "
                f"season.sel({name}=['{one.partition('T')[0]}'])"
            )
    if "site" in season.dims:
        return season
    zone = season["time_zone"].expand_dims("site")
    return season.expand_dims("site").assign_coords(time_zone=zone)


def share_below(
    season: xr.Dataset, wet_time: object, *, part: str = "leaves", level: tuple[float, float] = (0.1, 0.9)
) -> xr.Dataset:
    """Return the share of days on which leaves, or with `part="stems"` the stems, dry in less than
    `wet_time`, such as "20 min".

    Variables: `share` [1] along site and clock, nominal, and `days`, the number of days that it refers to.
    Days that could not be computed are left out; days on which plants do not dry count as not below. With
    draws there are also `share_low` and `share_high`: each draw has a share of its own, and these are their
    quantiles (`level`).
    """
    name = {"leaves": "wet_time", "stems": "stem_wet_time"}.get(part)
    if name is None:
        raise InputError(f"part = {part!r} is not 'leaves' or 'stems'")
    whole("share_below", season, "day")
    limit = limit_of(wet_time, "wet_time", "20 min")
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
    """Return the best clock time of each day, and the window of clock times around it that are nearly as
    good.

    Variables along site and day, NaN where no time of a day was computed:

    - `best` [h], the clock time with the largest growth control. If plants dry after some of the day's times,
      only these are considered;
    - `opens` and `closes` [h], the ends of the window: the first and the last clock time around the best
      whose growth control is at least `within` of the best, without a gap between them;
    - `width` [h] of the window. Each clock time stands for the hours half-way to its neighbours, and the
      first and the last of a day for as much on their outer side;
    - wet_time [s] and growth_control at the best time;
    - `best_is_wet_night`, whether leaves sprayed at the best time are wet past sunset or too long, which
      invites leaf disease;
    - `best_without` [h], the best of the day's times that are not marked so, NaN if there is none.
    """
    season = whole("best_windows", season, "day", "clock")
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
