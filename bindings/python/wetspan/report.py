"""What people read: sentences, tables and the usual cautions."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr
from rich.table import Table

from wetspan._core import __version__
from wetspan.cautions import CAUTIONS
from wetspan.draws import agreeing
from wetspan.errors import only_for
from wetspan.evidence import about_evidence
from wetspan.nights import CAUTION as WET_NIGHTS
from wetspan.nights import TOLD as NIGHTS_TOLD
from wetspan.nights import about_marks, wet_nights
from wetspan.outcome import Outcome, entries, minutes, not_dry, still_wet
from wetspan.residue import about_times, about_wet_time, owed_to_wet_time, told_ends
from wetspan.rewetting import rewets
from wetspan.rewetting_gain import about_gain, rewetting_gain
from wetspan.scenario import Scenario, pot_cover
from wetspan.sensitivity import ControlRange
from wetspan.study import OF_A_DAY, air_at, best_time
from wetspan.unit_choice import UnitChoice
from wetspan.units import convert

#: Times that differ by less read as the same: wet time as a factor, growth control as a share. Grade D.
_SAME_WET_TIME, _SAME_CONTROL = 1.05, 0.005

Numbers: TypeAlias = npt.NDArray[np.float64]


def per_cent(share: float) -> str:
    """Return a share as whole per cent."""
    return f"{100.0 * share:.0f} %"


def what_is_sprayed(scenario: Scenario) -> str:
    """Return one line on the application."""
    method = str(scenario.shown("application.method"))
    volume, strength = (scenario.show(f"application.{name}") for name in ("volume_rate", "concentration"))
    line = f"{method} of {volume} at {strength}"
    if method == "drench":
        litres = scenario["application.volume_rate"] / scenario["canopy.plant_density"]
        pour = scenario.units.text(convert(litres, "m^3", "mL"), "mL")
        line = f"{method} of {pour} a pot ({volume}) at {strength}, {_applied(scenario):.3g} mg a pot"
    if method == "spray":
        line += f", droplets of {scenario.show('droplets.dv50')}"
    return f"{scenario.title}: {line}" if scenario.title else line[0].upper() + line[1:]


def _applied(scenario: Scenario) -> float:
    """Return the active ingredient that is put out for each plant [mg]."""
    amount = scenario["application.volume_rate"] * scenario["application.concentration"]
    return convert(amount / scenario["canopy.plant_density"], "kg", "mg")


def where_it_lands(split: xr.DataArray) -> str:
    """Return one line on the split, over all times of a day."""
    over_times = [dim for dim in split.dims if dim != "target"]
    least, most = (dict(entries(part)) for part in (split.min(over_times), split.max(over_times)))
    return "Where it ends up: " + ", ".join(
        f"{name} {per_cent_range(least[name], most[name])}" for name in most if most[name] >= 0.005
    )


def advice(day: xr.Dataset) -> str:
    """Return what a day of spray times says, in plain sentences that agree with its numbers."""
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
    if wet_nights(day).any() and WET_NIGHTS not in answers:  # those that do not dry
        answers.append(WET_NIGHTS)
    if "control_without_rewetting" in day:
        best = best_time(day["growth_control"].values, day["status"].values)
        answers.append(_about_rewetting(day, best, at[best]))
    unsure = _about_ends(ranked, dry)
    if "bridged" in day and day["bridged"].any():
        unsure.append(
            "The record has a gap, bridged by straight lines, while plants sprayed at "
            f"{_stretches(at, day['bridged'].values)} are wet: do not trust these times."
        )
    if "growth_control_low" in day and len(at) > 1:
        compared = day if ended.all() else day.isel(time=~ended)
        unsure.append(
            "Numbers before a range are nominal, computed with the inputs as given. Ranges hold "
            f"{_draws(day.attrs['samples'])}{_stay_wet(compared)}: they are wide, and shared by all times, "
            "so the order of the times is better known than the level."
        )
    return answers, unsure


def _stay_wet(day: xr.Dataset) -> str:
    most = int(day["not_dry"].max())
    return f" (up to {most} of them stay wet: lower bounds)" if most else ""


def _draws(samples: int) -> str:
    return f"80 % of {samples} draws of the unknown inputs, most of them assumptions (grade D)"


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
    return told


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
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("spray\nat", no_wrap=True)
    for heading in (
        f"air\n{units.unit('degC')}",
        "humid\n%",
        "light\nW/m2",
        "leaves\nwet min",
        "stems\nwet min",
        "uptake\nleaf",  # the first lines read on: uptake ug per plant
        "ug per\nstem",
        "plant\nroot",
        "growth\ncontrol",
    ):
        table.add_column(heading, justify="right", no_wrap=True)
    marked = wet_nights(day).values
    if marked.any():
        table.caption = f"* {about_marks(day)}"
        table.caption_justify, table.caption_style = "left", ""
    for i, at in enumerate(clocks(day)):
        now = day.isel(time=i)
        control = per_cent(float(now["growth_control"]))
        if "growth_control_low" in day:
            low, high = (100.0 * float(now[f"growth_control_{end}"]) for end in ("low", "high"))
            control += f" ({low:.0f}-{high:.0f})"
        if now["status"] == "wet at end":
            control = f">={control}"
        table.add_row(
            at,
            f"{units.number(float(now['air_temperature']) - 273.15, 'degC'):.1f}",
            f"{100 * float(now['relative_humidity']):.0f}",
            f"{float(now['shortwave']):.0f}",
            _cell(float(now["wet_time"])) + ("*" if marked[i] else ""),
            _cell(float(now["stem_wet_time"])),
            *(_micrograms(amount) for _, amount in entries(now["uptake"])),
            control,
        )
    return table


def day_document(day: xr.Dataset) -> dict[str, Any]:
    """Return a day of spray times for programs, in the units it tells; infinite wet times are null."""
    names = [str(name) for name in day.data_vars]
    times = pd.DatetimeIndex(day["time"].values)
    return dict(day.attrs) | {
        "time_zone": day["time"].attrs["time_zone"],
        "units": {name: day[name].attrs["units"] for name in names if "units" in day[name].attrs},
        "times": [
            {"time": time.isoformat()} | {name: _plain(day[name].isel(time=i)) for name in names}
            for i, time in enumerate(times)
        ],
        "advice": advice(day),
        "cautions": CAUTIONS,
    }


def season_table(found: xr.Dataset, shares: xr.Dataset) -> Table:
    """Return what a season comes to at each clock time of its first site."""
    limit = str(shares["share"].attrs["long_name"]).rpartition("less than ")[2]
    units = UnitChoice.of(found)
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("spray\nat", no_wrap=True)
    for heading in (
        f"air {units.unit('degC')}\nmedian day",
        "humid %\nmedian day",
        "leaves wet min\nmedian day (10-90 % of days)",
        f"days below\n{limit}",
        "wet nights\n% of days",
        "growth control\nmedian day",
    ):
        table.add_column(heading, justify="right", no_wrap=True)
    for i, clock in enumerate(found["clock"].values):
        now = found.isel(site=0, clock=i)
        wet = now["wet_time"].values / 60.0
        low, middle, high = (_day_quantile(wet, level) for level in (0.1, 0.5, 0.9))
        share = per_cent(float(shares["share"][0, i]))
        if "share_low" in shares:
            ends = (100.0 * float(shares[f"share_{end}"][0, i]) for end in ("low", "high"))
            share += " ({:.0f}-{:.0f})".format(*ends)
        table.add_row(
            str(clock),
            f"{units.number(float(now['air_temperature'].median()) - 273.15, 'degC'):.1f}",
            f"{100.0 * float(now['relative_humidity'].median()):.0f}",
            f"{_to_dry(middle)} ({_to_dry(low)}-{_to_dry(high)})",
            share,
            f"{100.0 * float(wet_nights(now).mean()):.0f}",
            per_cent(float(now["growth_control"].median())),
        )
    return table


def season_advice(found: xr.Dataset, shares: xr.Dataset, windows: xr.Dataset) -> str:
    """Return what a season says of its first site, in plain sentences."""
    answers, unsure = season_advised(found, shares, windows)
    return " ".join([*answers, *unsure])


def season_advised(found: xr.Dataset, shares: xr.Dataset, windows: xr.Dataset) -> tuple[list[str], list[str]]:
    """Return the sentences of `season_advice`: those that answer, and those on how sure that is."""
    share = shares["share"].isel(site=0).values
    clocks = [str(clock) for clock in found["clock"].values]
    limit = str(shares["share"].attrs["long_name"]).rpartition("less than ")[2]
    fast, slow = int(np.nanargmax(share)), int(np.nanargmin(share))
    answers, unsure = [], []
    answers.append(
        f"Sprayed at {clocks[fast]}, leaves dry in less than {limit} on {per_cent(share[fast])} of "
        f"the days, at {clocks[slow]} on {per_cent(share[slow])}."
    )
    best = windows["best"].isel(site=0).dropna("day")
    if best.size:
        width = float(windows["width"].isel(site=0).median())
        low, middle, high = (_at(_day_quantile(best.values, level)) for level in (0.25, 0.5, 0.75))
        answers.append(
            f"The time with the largest growth control of its day is {middle} on the median day, {low} to "
            f"{high} on half of them; the window around it at 95 % of the best or more is {width:.0f} h wide "
            "on the median day."
        )
        answers += _about_best_nights(found, windows)
        unsure += _about_season_ends(found, fast, slow)
        unsure += _about_season_rewetting(found, fast)
    ended = int((found["status"].isel(site=0) == "wet at end").sum())
    if ended:
        answers.append(
            f"From {ended} of {found['status'][0].size} sprays plants do not dry while they are followed."
        )
    return answers, [*unsure, "All numbers are nominal, computed with the inputs as given."]


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
        f"On {per_cent(int(marked.sum()) / days)} of the days leaves sprayed at that time are wet past "
        f"sunset or for more than {found.attrs['wet_limit']}.",
        WET_NIGHTS,
    ]
    other = windows["best_without"].isel(site=0).dropna("day")
    if other.size:
        told.append(
            f"Of the times without a wet night the best is {_at(_day_quantile(other.values, 0.5))} on the "
            "median day."
        )
    return told


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
        **{name: _numbers(found[name].isel(site=0).values) for name in names},
        "status": found["status"].isel(site=0).values.tolist(),
        "wet_night": wet_nights(found).isel(site=0).values.tolist(),
        "wet_limit": found.attrs["wet_limit"],
        "share_below": {
            "of": shares["share"].attrs["long_name"],
            "share": _numbers(shares["share"][0].values),
        },
        "best_windows": {str(name): _numbers(values[0].values) for name, values in windows.data_vars.items()},
        "cautions": CAUTIONS,
    }


def uncertainty_tables(study: xr.Dataset, most: int = 12) -> list[Table]:
    """Return what draws make of the outcomes, and the inputs that their spread comes from the most."""
    ranges = Table(box=None, pad_edge=False, header_style="bold")
    influence = Table(box=None, pad_edge=False, header_style="bold")
    ranges.add_column("", no_wrap=True)
    levels = [0.1, 0.5, 0.9]
    for heading in ("nominal", *(f"{level:.0%} of draws" for level in levels)):
        ranges.add_column(heading.replace("%", " %"), justify="right")
    for label, name, told in (
        ("leaves wet [min]", "wet_time", _cell),
        ("growth control", "growth_control", per_cent),
    ):
        values = [float(study[f"{name}_nominal"]), *study[name].sel(quantile=levels).values.tolist()]
        ranges.add_row(label, *map(told, values))
    influence.add_column("input", no_wrap=True)
    for heading in ("grade", "measured on"):
        influence.add_column(heading, no_wrap=True)
    for heading in ("of the spread of\ngrowth control", "of the spread of\nwet time"):
        influence.add_column(heading, justify="right", no_wrap=True)
    control, wet = (study[f"{name}_influence"].values for name in ("growth_control", "wet_time"))
    for i in np.argsort(-np.maximum(control, wet))[:most]:
        influence.add_row(
            str(study["input"].values[i]),
            str(study["grade"].values[i]),
            str(study["measured_on"].values[i]),
            per_cent(float(control[i])),
            per_cent(float(wet[i])),
        )
    return [ranges, influence]


def uncertainty_told(study: xr.Dataset) -> str:
    """Return what the spread of outcomes rests on, in plain sentences."""
    drawn = f"{study.attrs['samples']} draws {agreeing(study.attrs['given'])}."
    spread = [
        about_evidence(study[f"{name}_by_evidence"], what)
        for name, what in (("growth_control", "growth control"), ("wet_time", "wet time"))
    ]
    return " ".join(
        [drawn, *spread, "What is measured on another substance or crop may not hold for this one."]
    )


def uncertainty_document(study: xr.Dataset) -> dict[str, Any]:
    """Return an uncertainty study for programs, in SI."""
    return dict(study.attrs) | {
        "quantiles": study["quantile"].values.tolist(),
        **{name: _numbers(study[name].values) for name in ("wet_time", "growth_control")},
        "inputs": [
            {name: str(study[name].values[i]) for name in ("input", "grade", "measured_on")}
            | {
                f"{name}_influence": float(study[f"{name}_influence"].values[i])
                for name in ("wet_time", "growth_control")
            }
            for i in range(study.sizes["input"])
        ],
        **{
            f"{name}_by_evidence": dict(
                zip(
                    map(str, study["evidence"].values),
                    _numbers(study[f"{name}_by_evidence"].values),
                    strict=True,
                )
            )
            for name in ("wet_time", "growth_control")
        },
        "cautions": CAUTIONS,
    }


def _day_quantile(values: Any, level: float) -> float:
    return float(np.nanquantile(values, level, method="inverted_cdf"))


def _to_dry(minutes: float) -> str:
    return f"{minutes:.{0 if minutes >= 9.95 else 1}f}" if np.isfinite(minutes) else "not dry"


def _at(hour: float) -> str:
    return f"{int(hour):02d}:{round(60.0 * (hour % 1.0)):02d}"


def _numbers(values: Any) -> Any:
    """Return numbers as JSON can hold them."""
    if np.ndim(values):
        return [_numbers(each) for each in values]
    return float(values) if np.isfinite(values) else None


def outcome_table(outcome: Outcome, control: ControlRange | None = None) -> Table:
    """Return one spray as a table of plain lines, with the range of its growth control where there is one."""
    if outcome.status == "nothing wet":
        wet = "no leaf is wetted"
    else:
        wet = ", ".join(
            f"{part} {f'for {minutes(time)}' if np.isfinite(time) else not_dry(outcome.longest)}"
            for part, time in (("leaves", outcome.wet_time), ("stems", outcome.stem_wet_time))
        )
    air = air_when_sprayed(outcome)
    volumes, units = dict(entries(outcome.split["volume"])), outcome.scenario.units
    landed = [
        f"{name} {per_cent(share)} ({_volume(units, volumes[name])})"
        for name, share in entries(outcome.split["share"])
        if share >= 0.005
    ]
    uptake = [f"{site} {_micrograms(amount)} ug" for site, amount in entries(outcome.uptake)]
    warm, damp, light = (air[name] for name in ("air_temperature", "relative_humidity", "shortwave"))
    shorter = f"{per_cent(outcome.growth_control)} shorter than the untreated check"
    if outcome.status == "wet at end":
        shorter = f"at least {shorter}"
    if control is None:
        known = "not computed; --samples draws the unknown inputs"
    else:
        known = f"{per_cent_range(control.low, control.high)}, which holds {_draws(control.samples)}"
        if control.not_dry:
            known += f"; {control.not_dry} of them stay wet, and the range is a lower bound"
    lines = {
        "air at the crop": f"{_warmth(units, warm)}, {per_cent(damp)} humidity, light {light:.0f} W/m2",
        "put out per plant": f"{_applied(outcome.scenario):.3g} mg",
        "split": ", ".join(landed),
        **_about_the_bench(outcome),
        "wet": wet,
        "uptake per plant": ", ".join(uptake),
        "growth control": shorter,
        "its range": known,
    }
    if rewets(outcome.scenario):
        lines["re-wetting"] = str(rewetting_gain(outcome))
    owed = owed_to_wet_time(outcome)
    if outcome.status != "nothing wet" and np.isfinite(owed).all():
        lines["the wet time"] = about_wet_time(owed)
    if outcome.status == "wet at end":
        ends = outcome.longest < outcome.scenario["numerics.longest"] - 1.0  # s
        why = "the record is too short" if ends else "followed no longer than numerics.longest"
        lines["still wet"] = f"{outcome.still_wet}; {why}: uptake and growth control are lower bounds"
    if outcome.bridged:
        lines["a gap"] = (
            "the record has one, bridged by a straight line, while plants are wet: do not trust this"
        )
    total = float(outcome.at_tips.sum())
    if total > 0.0:
        shares = [f"{per_cent(amount / total)} through {site}" for site, amount in entries(outcome.at_tips)]
        lines["growing tips"] = ", ".join(shares)
    table = Table.grid(padding=(0, 2))
    for name, told in lines.items():
        table.add_row(name, told)
    return table


#: From this share of a spray on the bench on, `run` says why (grade D: what a reader asks about).
MUCH_ON_BENCH = 0.4


def _about_the_bench(outcome: Outcome) -> dict[str, str]:
    """Why much of a spray lands beside the pots, where it does."""
    share, scenario = float(outcome.split["share"].sel(target="bench")), outcome.scenario
    if share < MUCH_ON_BENCH:
        return {}
    pots = pot_cover(scenario)
    leaves = scenario["canopy.plant_density"] * scenario["canopy.leaf_area"]
    told = (
        f"{per_cent(share)} lands on the bench: pots cover {per_cent(min(1.0, pots))} of it, and there"
        f" are {leaves:.2g} m2 of leaf for each m2 of bench. The volume is set by the area of the bench,"
        " so where plants stand apart each is given more, and more goes to waste"
    )
    return {"beside the pots": told}


def _warmth(units: UnitChoice, temperature: float) -> str:
    return f"{units.number(temperature - 273.15, 'degC'):.1f} {units.unit('degC')}"


def _volume(units: UnitChoice, volume: float) -> str:
    return f"{units.number(volume, 'L/m^2'):.3f} {units.unit('L/m^2')}"


def outcome_document(outcome: Outcome, control: ControlRange | None = None) -> dict[str, Any]:
    """Return one spray for programs, in the units it tells; an infinite wet time is null.

    With the range of its growth control: growth_control_low, growth_control_high, samples, seed, and not_dry,
    the draws that stay wet, which make the range a lower bound.
    """
    told = {name: (getattr(outcome, name), "s") for name in ("wet_time", "last_drop_time", "stem_wet_time")}
    told["growth_control"] = (outcome.growth_control, "1")
    if control is not None:
        told |= {f"growth_control_{end}": (getattr(control, end), "1") for end in ("low", "high")}
    told |= {name: (float(values[0]), units) for name, (values, units, _) in _air(outcome).items()}
    for name, array in (
        ("owed_to_wet_time", owed_to_wet_time(outcome)),
        ("split", outcome.split["share"]),
        ("volume", outcome.split["volume"]),
        ("uptake", outcome.uptake),
        ("at_tips", outcome.at_tips),
        ("account", outcome.account),
    ):
        told[name] = (array, array.attrs["units"])
    again = asdict(rewetting_gain(outcome)) if rewets(outcome.scenario) else None
    return {
        "title": outcome.scenario.title,
        "scenario": outcome.scenario.to_toml(),
        "wetspan_version": __version__,
        "units": {name: units for name, (_, units) in told.items()},
        "status": outcome.status,
        "bridged": outcome.bridged,
        **{name: _plain(xr.DataArray(values)) for name, (values, _) in told.items()},
        **(
            {}
            if control is None
            else {"samples": control.samples, "seed": control.seed, "not_dry": control.not_dry}
        ),
        **({} if again is None else {"rewetting": {name: _finite(each) for name, each in again.items()}}),
        "cautions": CAUTIONS,
    }


def air_when_sprayed(outcome: Outcome) -> dict[str, float]:
    """Return what people know the air at the crop by at the moment of spraying, in SI."""
    return {name: float(values[0]) for name, (values, _, _) in _air(outcome).items()}


def _air(outcome: Outcome) -> dict[str, tuple[Numbers, str, str]]:
    """Return the air at the crop at the moment of spraying."""
    return air_at([outcome.air], np.zeros(1, dtype=np.uint64), np.array([outcome.start]))


def _plain(values: xr.DataArray) -> Any:
    """Return a number or text, or a mapping of them, as JSON can hold it."""
    if values.ndim == 1:
        return dict(entries(values))
    value = values.item()
    return value if isinstance(value, str) or np.isfinite(value) else None


def _finite(value: Any) -> Any:
    """Return a value as JSON can hold it: None for what is infinite or not known."""
    return None if isinstance(value, float) and not np.isfinite(value) else value


def _cell(seconds: float) -> str:
    return minutes(seconds).split()[0] if np.isfinite(seconds) else "not dry"


def per_cent_range(low: float, high: float) -> str:
    """Return two shares as a range of whole per cent."""
    same = per_cent(low) == per_cent(high)
    return per_cent(high) if same else f"{100.0 * low:.0f} to {per_cent(high)}"


def _micrograms(milligrams: float) -> str:
    """Return a mass in ug, to three digits."""
    told = 1e3 * milligrams
    return f"{told:.{0 if told >= 100.0 else 1 if told >= 10.0 else 2}f}"


def _control(day: xr.Dataset, i: int) -> str:
    text = per_cent(float(day["growth_control"][i]))
    if "growth_control_low" in day:
        low, high = (float(day[f"growth_control_{end}"][i]) for end in ("low", "high"))
        text += f" (range {per_cent_range(low, high)})"
    return text
