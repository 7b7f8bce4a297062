"""A day of spray times in words: which time is best, and how sure that is."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr
from rich.table import Table

from wetspan.cautions import CAUTIONS
from wetspan.day import OF_A_DAY, best_time
from wetspan.errors import only_for
from wetspan.json_values import by_name
from wetspan.nights import CAUTION as WET_NIGHTS
from wetspan.nights import TOLD as NIGHTS_TOLD
from wetspan.nights import about_marks, wet_nights
from wetspan.outcome import entries, minutes, still_wet
from wetspan.record import Numbers
from wetspan.report.numbers import (
    micrograms,
    minutes_cell,
    of_draws,
    per_cent,
    per_cent_range,
)
from wetspan.report.tables import table
from wetspan.residue import about_times
from wetspan.rewetting_gain import about_gain
from wetspan.unit_choice import UnitChoice

#: Times that differ by less read as the same: wet time as a factor, growth control as a share. Grade D.
_SAME_WET_TIME, _SAME_CONTROL = 1.05, 0.005


def advice(day: xr.Dataset) -> str:
    """Return sentences on a day of spray times, with its numbers."""
    only_for("advice is for the Dataset of ws.compare_times", day, xr.Dataset, *OF_A_DAY)
    answers, unsure = advised(day)
    return " ".join([*answers, *unsure])


def advised(day: xr.Dataset) -> tuple[list[str], list[str]]:
    """Return the sentences of `advice`: those that answer, and those on how sure that is."""
    at = clocks(day)
    if (day["status"].values == "nothing wet").all():
        no_matter = "A drench wets no leaves: the time of day does not matter here."
        return [no_matter, f"Expected growth control {_control(day, 0)}."], []
    ended = day["status"].values == "wet at end"
    answers = [_about_the_end(day, at, ended)] if ended.any() else []
    dry = [clock for clock, late in zip(at, ended, strict=True) if not late]
    ranked = day.isel(time=~ended)
    answers += _ranked(ranked, dry, "the other times" if ended.any() else "these times")
    if wet_nights(day).any() and not any(WET_NIGHTS in each for each in answers):  # those that do not dry
        answers.append(WET_NIGHTS)
    if "control_without_rewetting" in day:
        best = best_time(day["growth_control"].values, day["status"].values)
        answers.append(_about_rewetting(day, best, at[best]))
    answers += _about_ends(ranked, dry)
    unsure = []
    if "bridged" in day and day["bridged"].any():
        unsure.append(
            "The record has a gap, bridged by straight lines, while plants sprayed at "
            f"{_stretches(at, day['bridged'].values)} are wet: do not trust these times."
        )
    if "growth_control_low" in day and len(at) > 1:
        compared = day if ended.all() else day.isel(time=~ended)
        unsure.append(
            "Numbers before a range are nominal, computed with the inputs as given. Ranges hold "
            f"{of_draws(day.attrs['samples'])}{_stay_wet(compared)}: they are wide, and shared by all times, "
            "so the order of the times is better known than the level."
        )
    return answers, unsure


def _stay_wet(day: xr.Dataset) -> str:
    most = int(day["not_dry"].max())
    return f" (up to {most} of them stay wet: lower bounds)" if most else ""


def _ranked(day: xr.Dataset, at: list[str], all_of_them: str) -> list[str]:
    """Return sentences on times at all of which plants dry."""
    wet = day["wet_time"].values
    if not at:
        return []
    if len(at) == 1:
        told = f"Sprayed at {at[0]}, leaves stay wet for {minutes(wet[0])}."
        return [f"{told} Expected growth control {_control(day, 0)}.", *_about_nights(day, at)]
    first, *others = _about_control(day, at, all_of_them)
    return [_about_wet_times(wet, at, all_of_them), first, *_about_nights(day, at), *others]


def _about_nights(day: xr.Dataset, at: list[str]) -> list[str]:
    """Return which times leave the crop wet into the night or too long, and the best of the others."""
    if not wet_nights(day).any():
        return []
    past, long = (day[name].values for name in ("wet_past_sunset", "wet_too_long"))
    parts = [
        NIGHTS_TOLD[how].format(times=_stretches(at, marks), limit=day.attrs["wet_limit"])
        for how, marks in (("past", past), ("long", long & ~past))
        if marks.any()
    ]
    told = [NIGHTS_TOLD["all"].format(parts=", ".join(parts)), WET_NIGHTS]
    marked, control = past | long, day["growth_control"].values
    best = int(np.argmax(control))
    if marked.all():
        told += ["No time compared is without."] if len(at) > 1 else []
    elif marked[best]:
        other = int(np.argmax(np.where(marked, -np.inf, control)))
        told.append(f"{at[best]} is one of them; of the others {at[other]} is best, {_control(day, other)}.")
    return [" ".join(told)]


def _about_the_end(day: xr.Dataset, at: list[str], ended: npt.NDArray[np.bool_]) -> str:
    """Return what holds for times from which plants are not followed until they are dry."""
    control = day["growth_control"].values[ended]
    least = per_cent_range(control.min(), control.max())
    times = (day[name].values[ended].max() for name in ("wet_time", "last_drop_time", "stem_wet_time"))
    wet = still_wet(*times) or "plants"
    left_out = "" if ended.all() else ", and the comparison leaves them out"
    return (
        f"The record, or numerics.longest, is too short for {_stretches(at, ended)}: {wet} are still wet at "
        f"its end. Uptake and growth control ({least} or more) are lower bounds there{left_out}."
    )


def _stretches(at: list[str], chosen: npt.NDArray[np.bool_]) -> str:
    """Return chosen times as text, those that follow each other by the first and the last."""
    places = np.flatnonzero(chosen)
    runs = np.split(places, np.flatnonzero(np.diff(places) > 1) + 1)
    return ", ".join(at[run[0]] + (f" to {at[run[-1]]}" if len(run) > 1 else "") for run in runs)


def _about_wet_times(wet: Numbers, at: list[str], all_of_them: str) -> str:
    long, short = int(np.argmax(wet)), int(np.argmin(wet))
    if wet[long] < _SAME_WET_TIME * wet[short]:
        return f"Leaves stay wet for {minutes(wet[short])} at any of {all_of_them}."
    ratio = wet[long] / wet[short]
    longest = f"Leaves stay wet for {minutes(wet[long])} when sprayed at {at[long]}"
    times = f"{ratio:.{0 if ratio >= 10.0 else 1}f} times as long"
    return f"{longest}, for {minutes(wet[short])} at {at[short]}: {times}."


def _about_control(day: xr.Dataset, at: list[str], all_of_them: str) -> list[str]:
    control = day["growth_control"].values
    best, worst = int(np.argmax(control)), int(np.argmin(control))
    if control[best] - control[worst] < _SAME_CONTROL:
        first = f"Expected growth control is {_control(day, best)} at any of {all_of_them}."
    else:
        ratio = float(day["control_over_best"][worst])
        first = (
            f"Expected growth control is highest at {at[best]}, {_control(day, best)}, and lowest at "
            f"{at[worst]}, {_control(day, worst)}, which is {ratio:.2f} of the highest"
        )
        if "control_over_best_low" in day:
            low, high = (float(day[f"control_over_best_{end}"][worst]) for end in ("low", "high"))
            first += f" (range {low:.2f} to {high:.2f})"
        first += "."
    tips = dict(entries(day["tips"].isel(time=best)))
    total = sum(tips.values())
    if total == 0.0:
        return [first]
    roots = (
        f"At {at[best]}, {per_cent(tips['root'] / total)} of what reaches the growing tips comes through the "
        "roots, which do not mind how fast leaves dry."
    )
    return [first, roots]


def _about_ends(day: xr.Dataset, at: list[str]) -> list[str]:
    """Return what the best and the worst time come to at both ends of what the dried residue does."""
    control = day["growth_control"].values
    if len(at) < 2 or "growth_control_at_ends" not in day or control.argmax() == control.argmin():
        return []
    best, worst = int(np.argmax(control)), int(np.argmin(control))
    at_ends = day["growth_control_at_ends"]
    with np.errstate(invalid="ignore"):
        ends = at_ends.isel(time=worst, drop=True) / at_ends.isel(time=best, drop=True)
    return [about_times(ends, at[worst], at[best])] if np.isfinite(ends).all() else []


def _about_rewetting(day: xr.Dataset, i: int, at: str) -> str:
    """Return what the re-wetting of a spray at one of the times gains for its water."""
    now = day.isel(time=i)
    again, without = float(now["rewet_time"]), float(now["control_without_rewetting"])
    wet = f"for {minutes(again)} again" if np.isfinite(again) else "again, and they do not dry"
    told = f"Sprayed at {at}, a re-wetting of {day.attrs['rewetting']} wets leaves {wet} and takes growth"
    told += f" control from {100 * without:.1f} to {100 * float(now['growth_control']):.1f} %"
    if without <= 0.0:
        return f"{told}."
    with np.errstate(invalid="ignore", divide="ignore"):
        ends = now["growth_control_at_ends"] / now["control_without_rewetting_at_ends"] - 1.0
    gain = float(now["growth_control"]) / without - 1.0
    low, high = ends.values.tolist()
    return f"{told}: {about_gain(gain, (low, high), (now['mobile_share'].values / 100.0).tolist())}"


def clocks(day: xr.Dataset) -> list[str]:
    """Return the times of a day such as '07:00', with the date when there are several days."""
    times = pd.DatetimeIndex(day["time"].values)
    one_day = times.normalize().nunique() == 1
    return list(times.strftime("%H:%M" if one_day else "%Y-%m-%d %H:%M"))


def day_table(day: xr.Dataset) -> Table:
    """Return the table of a day of spray times."""
    units = UnitChoice.of(day)
    made = table(
        "spray\nat",
        f"air\n{units.unit('degC')}*",
        "humid\n%*",
        "light\nW/m2*",
        "leaves\nwet min*",
        "stems\nwet min*",
        "uptake\nleaf*",  # the first lines read on: uptake ug per plant
        "ug per\nstem*",
        "plant\nroot*",
        "growth\ncontrol*",
    )
    made.columns[0].no_wrap = True
    marked = wet_nights(day).values
    if marked.any():
        made.caption = f"* {about_marks(day)}"
        made.caption_justify, made.caption_style = "left", ""
    for i, at in enumerate(clocks(day)):
        now = day.isel(time=i)
        control = per_cent(float(now["growth_control"]))
        if "growth_control_low" in day:
            low, high = (100.0 * float(now[f"growth_control_{end}"]) for end in ("low", "high"))
            control += f" ({low:.0f}-{high:.0f})"
        if now["status"] == "wet at end":
            control = f">={control}"
        made.add_row(
            at,
            f"{units.number(float(now['air_temperature']) - 273.15, 'degC'):.1f}",
            f"{100 * float(now['relative_humidity']):.0f}",
            f"{float(now['shortwave']):.0f}",
            minutes_cell(float(now["wet_time"])) + ("*" if marked[i] else ""),
            minutes_cell(float(now["stem_wet_time"])),
            *(micrograms(amount) for _, amount in entries(now["uptake"])),
            control,
        )
    return made


def day_document(day: xr.Dataset) -> dict[str, Any]:
    """Return a day of spray times for programs, in the units it tells; infinite wet times are null."""
    names = [str(name) for name in day.data_vars]
    times = pd.DatetimeIndex(day["time"].values)
    return dict(day.attrs) | {
        "time_zone": day["time"].attrs["time_zone"],
        "units": {name: day[name].attrs["units"] for name in names if "units" in day[name].attrs},
        "times": [
            {"time": time.isoformat()} | {name: by_name(day[name].isel(time=i)) for name in names}
            for i, time in enumerate(times)
        ],
        "advice": advice(day),
        "cautions": CAUTIONS,
    }


def _control(day: xr.Dataset, i: int) -> str:
    text = per_cent(float(day["growth_control"][i]))
    if "growth_control_low" in day:
        low, high = (float(day[f"growth_control_{end}"][i]) for end in ("low", "high"))
        text += f" (range {per_cent_range(low, high)})"
    return text
