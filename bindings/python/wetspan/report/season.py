"""A season in words: how often leaves dry too fast at each clock time, and when it is best to spray."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from rich.table import Table

from wetspan.cautions import CAUTIONS
from wetspan.json_values import nested
from wetspan.nights import CAUTION as WET_NIGHTS
from wetspan.nights import wet_nights
from wetspan.report.numbers import clock_text, minutes_to_dry, per_cent, quantile
from wetspan.report.tables import table
from wetspan.residue import about_times, told_ends
from wetspan.unit_choice import UnitChoice


def season_table(found: xr.Dataset, shares: xr.Dataset) -> Table:
    """Return what a season comes to at each clock time of its first site."""
    limit = str(shares["share"].attrs["long_name"]).rpartition("less than ")[2]
    units = UnitChoice.of(found)
    made = table(
        "spray\nat",
        f"air {units.unit('degC')}\nmedian day*",
        "humid %\nmedian day*",
        "leaves wet min\nmedian day (10-90 % of days)*",
        f"days below\n{limit}*",
        "wet nights\n% of days*",
        "growth control\nmedian day*",
    )
    made.columns[0].no_wrap = True
    for i, clock in enumerate(found["clock"].values):
        now = found.isel(site=0, clock=i)
        wet = now["wet_time"].values / 60.0
        low, middle, high = (quantile(wet, level) for level in (0.1, 0.5, 0.9))
        share = per_cent(float(shares["share"][0, i]))
        if "share_low" in shares:
            ends = (100.0 * float(shares[f"share_{end}"][0, i]) for end in ("low", "high"))
            share += " ({:.0f}-{:.0f})".format(*ends)
        made.add_row(
            str(clock),
            f"{units.number(float(now['air_temperature'].median()) - 273.15, 'degC'):.1f}",
            f"{100.0 * float(now['relative_humidity'].median()):.0f}",
            f"{minutes_to_dry(middle)} ({minutes_to_dry(low)}-{minutes_to_dry(high)})",
            share,
            f"{100.0 * float(wet_nights(now).mean()):.0f}",
            per_cent(float(now["growth_control"].median())),
        )
    return made


def season_advised(found: xr.Dataset, shares: xr.Dataset, windows: xr.Dataset) -> tuple[list[str], list[str]]:
    """Return what a season says of its first site: sentences that answer, and those on how sure that is."""
    share = shares["share"].isel(site=0).values
    clocks = [str(clock) for clock in found["clock"].values]
    limit = str(shares["share"].attrs["long_name"]).rpartition("less than ")[2]
    fast, slow = int(np.nanargmax(share)), int(np.nanargmin(share))
    answers: list[str] = []
    answers.append(
        f"Sprayed at {clocks[fast]}, leaves dry in less than {limit} on {per_cent(share[fast])} of "
        f"the days, at {clocks[slow]} on {per_cent(share[slow])}."
    )
    best = windows["best"].isel(site=0).dropna("day")
    if best.size:
        width = float(windows["width"].isel(site=0).median())
        low, middle, high = (clock_text(quantile(best.values, level)) for level in (0.25, 0.5, 0.75))
        half = (
            f"{middle} on at least half of the days"
            if low == high
            else f"{middle} on the median day, and between {low} and {high} on half of the days"
        )
        answers.append(
            f"The time with the largest growth control of its day is {half}. The hours around it that give "
            f"95 % of the best or more span {width:.0f} h on the median day."
        )
        answers += _about_best_nights(found, windows)
        answers += _about_season_ends(found, fast, slow)
        answers += _about_season_rewetting(found, fast)
    ended = int((found["status"].isel(site=0) == "wet at end").sum())
    if ended:
        answers.append(
            f"From {ended} of {found['status'][0].size} sprays plants do not dry while they are followed."
        )
    return answers, ["All numbers are nominal, computed with the inputs as given."]


def _about_season_ends(found: xr.Dataset, fast: int, slow: int) -> list[str]:
    """Return what the fastest clock time costs beside the slowest, at both ends of the residue."""
    if fast == slow or "growth_control_at_ends" not in found:
        return []
    control = found["growth_control_at_ends"].isel(site=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = control.isel(clock=fast, drop=True) / control.isel(clock=slow, drop=True)
    ends = ratio.median("day_at_ends")
    clocks = [str(clock) for clock in found["clock"].values]
    days = f"medians of {found.sizes['day_at_ends']} days"
    return [about_times(ends, clocks[fast], clocks[slow], days)] if np.isfinite(ends).all() else []


def _about_season_rewetting(found: xr.Dataset, fast: int) -> list[str]:
    """Return what a re-wetting gains at the fastest clock time, at both ends of the residue."""
    if "control_without_rewetting_at_ends" not in found:
        return []
    now = found.isel(site=0, clock=fast)
    with np.errstate(invalid="ignore", divide="ignore"):
        gains = now["growth_control_at_ends"] / now["control_without_rewetting_at_ends"] - 1.0
    locked, mobile = gains.median("day_at_ends").values.tolist()
    if not np.isfinite([locked, mobile]).all():
        return []
    stops, goes_on = told_ends(found["mobile_share"].values / 100.0)
    return [
        f"A re-wetting of {found.attrs['rewetting']} changes the growth control of sprays at "
        f"{found['clock'].values[fast]} by {100.0 * locked:+.0f} % of it if {stops}, by "
        f"{100.0 * mobile:+.0f} % if {goes_on} (medians of {found.sizes['day_at_ends']} days)."
    ]


def _about_best_nights(found: xr.Dataset, windows: xr.Dataset) -> list[str]:
    """Return how often the best time of a day leaves the crop wet into the night, and the best without."""
    marked = windows["best_is_wet_night"].isel(site=0)
    days = int(np.isfinite(windows["best"].isel(site=0)).sum())
    if not marked.any():
        return []
    told = [
        f"On {per_cent(int(marked.sum()) / days)} of the days the leaves, sprayed at the best time of "
        f"that day, are wet past sunset or for more than {found.attrs['wet_limit']}.",
        WET_NIGHTS,
    ]
    other = windows["best_without"].isel(site=0).dropna("day")
    if other.size:
        told.append(
            f"Of the times without a wet night the best is {clock_text(quantile(other.values, 0.5))} on the "
            "median day."
        )
    return [" ".join(told)]


def season_document(found: xr.Dataset, shares: xr.Dataset, windows: xr.Dataset) -> dict[str, Any]:
    """Return a season for programs: each clock time's days, in SI; what is infinite or not known is null."""
    names = (
        "wet_time",
        "stem_wet_time",
        "growth_control",
        "air_temperature",
        "relative_humidity",
        "shortwave",
    )
    return dict(found.attrs) | {
        "site": str(found["site"].values[0]),
        "days": [str(day) for day in pd.DatetimeIndex(found["day"].values).strftime("%Y-%m-%d")],
        "clock": [str(clock) for clock in found["clock"].values],
        "units": {name: found[name].attrs["units"] for name in names},
        **{name: nested(found[name].isel(site=0).values) for name in names},
        "status": found["status"].isel(site=0).values.tolist(),
        "wet_night": wet_nights(found).isel(site=0).values.tolist(),
        "wet_limit": found.attrs["wet_limit"],
        "share_below": {
            "of": shares["share"].attrs["long_name"],
            "share": nested(shares["share"][0].values),
        },
        "best_windows": {str(name): nested(values[0].values) for name, values in windows.data_vars.items()},
        "cautions": CAUTIONS,
    }
