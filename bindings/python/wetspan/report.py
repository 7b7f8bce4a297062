"""What people read: sentences, tables and the usual cautions."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr
from rich.table import Table

from wetspan.outcome import Outcome, minutes, split_of
from wetspan.scenario import Scenario
from wetspan.units import convert

CAUTIONS = (
    "This is an estimate, not a prescription. The product label and local regulations rule; wear the protective "
    "equipment and keep the re-entry interval they ask for; test on a few plants first; licensed practice decides."
)
_LOST = ("bench", "airborne", "evaporated")


def clock(moment: np.datetime64) -> str:
    """Return a time of day such as '07:00'."""
    return str(np.datetime_as_string(moment, unit="m"))[11:]


def per_cent(share: float) -> str:
    """Return a share as whole per cent."""
    return f"{100.0 * share:.0f} %"


def what_is_sprayed(scenario: Scenario) -> str:
    """Return one line on the application."""
    volume = convert(scenario["application.volume_rate"], "m", "L/m^2")
    return (
        f"{scenario.title or 'No title'}: {scenario.shown('application.method')} of {volume:.3g} L/m2 at "
        f"{scenario.show('application.concentration')}, droplets of {scenario.show('droplets.dv50')}"
    )


def advice(day: xr.Dataset) -> str:
    """Return what a day of spray times says, in plain sentences that agree with its numbers."""
    wet, times, control = day["wet_time"].values, day["time"].values, day["growth_control"].values
    if (day["status"].values == "nothing wet").all():
        return f"A drench wets no leaves: the time of day does not matter here. Expected growth control {_control(day, 0)}."
    if len(times) == 1:
        return f"Spraying at {clock(times[0])} leaves the leaves wet {_wet(wet[0])}; expected growth control {_control(day, 0)}."
    long, short = _told_apart(day)
    sentences = [
        f"Spraying at {clock(times[short])} leaves the leaves wet {_wet(wet[short])}; at {clock(times[long])} {_wet(wet[long])}"
        + (
            f", {wet[long] / wet[short]:.1f} times as long."
            if np.isfinite(wet[long]) and wet[short] > 0.0
            else "."
        )
    ]
    best, worst = int(np.argmax(control)), int(np.argmin(control))
    apart = control[best] - control[worst]
    sentences.append(
        f"Expected growth control is highest at {clock(times[best])}, {_control(day, best)}, and lowest at "
        f"{clock(times[worst])}, {_control(day, worst)}"
        + (
            f": {control[worst] / control[best]:.2f} times as much."
            if apart > 0.005
            else ": no difference that would show in the crop."
        )
    )
    roots = float((day["tips"].sel(site="root") / day["tips"].sum("site"))[best])
    sentences.append(
        f"At {clock(times[best])} {per_cent(roots)} of what reaches the growing tips comes through the roots, which do not mind "
        "how fast leaves dry."
    )
    if "growth_control_low" in day:
        sentences.append(
            f"Ranges hold 80 % of {day.attrs['samples']} draws of the unknown inputs, most of them assumptions (grade D): "
            "they are wide, and shared by all times, so the order of the times is better known than the level."
        )
    return " ".join(sentences)


def _told_apart(day: xr.Dataset) -> tuple[int, int]:
    """Positions of the longest wet time before ten and the shortest from noon to six; of all, if a day lacks either."""
    wet, hour = day["wet_time"].values, day["time"].dt.hour.values
    morning, afternoon = np.flatnonzero(hour < 10), np.flatnonzero((hour >= 12) & (hour < 18))
    if len(morning) and len(afternoon):
        long, short = morning[np.argmax(wet[morning])], afternoon[np.argmin(wet[afternoon])]
        if wet[long] > wet[short]:
            return int(long), int(short)
    return int(np.argmax(wet)), int(np.argmin(wet))


def day_table(day: xr.Dataset) -> Table:
    """Return the table of a day of spray times."""
    ranges = "growth_control_low" in day
    table = Table(title=None, box=None, pad_edge=False, header_style="bold")
    table.add_column("spray\nat", no_wrap=True)
    for heading in (
        "air\ndegC",
        "humid.\n%",
        "light\nW/m2",
        "leaves\nwet, min",
        "stems\nwet, min",
        "leaf\n%",
        "stem\n%",
        "substr.\n%",
        "lost\n%",
        "uptake ug/plant\nleaf  stem  root",
        "growth\ncontrol",
    ):
        table.add_column(heading, justify="right", no_wrap=True)
    for i in range(day.sizes["time"]):
        at = day.isel(time=i)
        split = {str(name): float(at["split"].sel(target=name)) for name in at["target"].values}
        uptake = [1e3 * float(at["uptake"].sel(site=site)) for site in ("leaf", "stem", "root")]
        control = per_cent(float(at["growth_control"]))
        if ranges:
            control += (
                f" ({100 * float(at['growth_control_low']):.0f}-{100 * float(at['growth_control_high']):.0f})"
            )
        table.add_row(
            clock(at["time"].values),
            f"{float(at['air_temperature']) - 273.15:.1f}",
            f"{100 * float(at['relative_humidity']):.0f}",
            f"{float(at['shortwave']):.0f}",
            _cell(float(at["wet_time"])),
            _cell(float(at["stem_wet_time"])),
            *(
                f"{100 * share:.0f}"
                for share in (
                    split["leaf"],
                    split["stem"],
                    split["substrate"],
                    sum(split[name] for name in _LOST),
                )
            ),
            "  ".join(f"{amount:4.2f}" for amount in uptake),
            control,
        )
    return table


def day_document(day: xr.Dataset) -> dict[str, Any]:
    """Return a day of spray times for programs: SI, infinite wet times as null with their status."""
    rows = []
    for i in range(day.sizes["time"]):
        at = day.isel(time=i)
        row: dict[str, Any] = {
            "time": str(np.datetime_as_string(at["time"].values, unit="s")),
            "status": str(at["status"].item()),
        }
        for name, values in at.data_vars.items():
            if name == "status":
                continue
            if values.ndim == 0:
                row[str(name)] = number(float(values))
            else:
                along = str(values.dims[0])
                row[str(name)] = {
                    str(key): number(float(values.sel({along: key}))) for key in values[along].values
                }
        rows.append(row)
    return {
        "title": day.attrs["title"],
        "time_zone": day["time"].attrs["time_zone"],
        "weather": day.attrs["weather"],
        "scenario": day.attrs["scenario"],
        "units": {
            str(name): str(values.attrs.get("units", ""))
            for name, values in day.data_vars.items()
            if name != "status"
        },
        "times": rows,
        "advice": advice(day),
        "cautions": CAUTIONS,
    }


def outcome_lines(outcome: Outcome) -> list[str]:
    """Return one spray in plain lines."""
    litres = dict(zip(map(str, outcome.split["target"].values), outcome.split["volume"].values, strict=True))
    uptake = {
        str(site): 1e3 * float(amount)
        for site, amount in zip(outcome.uptake["site"].values, outcome.uptake.values, strict=True)
    }
    total = float(outcome.at_tips.sum())
    tips = {
        str(site): float(amount) / total if total else 0.0
        for site, amount in zip(outcome.at_tips["site"].values, outcome.at_tips.values, strict=True)
    }
    wet = (
        "no leaf is wetted"
        if outcome.status == "nothing wet"
        else f"leaves {_wet(outcome.wet_time)}, stems {_wet(outcome.stem_wet_time)}"
    )
    return [
        "split            "
        + ", ".join(
            f"{name} {per_cent(share)} ({litres[name]:.3f} L/m2)"
            for name, share in split_of(outcome).items()
            if share > 0
        ),
        f"wet              {wet} ({outcome.status})",
        "uptake           " + ", ".join(f"{site} {amount:.2f} ug/plant" for site, amount in uptake.items()),
        "growing tips     " + ", ".join(f"{per_cent(share)} through {site}" for site, share in tips.items()),
        f"growth control   {per_cent(outcome.growth_control)} shorter than the untreated check",
    ]


def outcome_document(outcome: Outcome) -> dict[str, Any]:
    """Return one spray for programs: SI but uptake in mg per plant; an infinite wet time as null with its status."""
    return {
        "title": outcome.scenario.title,
        "status": outcome.status,
        "wet_time_s": number(outcome.wet_time),
        "last_drop_time_s": number(outcome.last_drop_time),
        "stem_wet_time_s": number(outcome.stem_wet_time),
        "split": split_of(outcome),
        "uptake_mg_per_plant": {
            str(site): float(amount)
            for site, amount in zip(outcome.uptake["site"].values, outcome.uptake.values, strict=True)
        },
        "growth_control": outcome.growth_control,
        "account": {
            str(place): float(share)
            for place, share in zip(outcome.account["place"].values, outcome.account.values, strict=True)
        },
        "scenario": outcome.scenario.to_toml(),
        "cautions": CAUTIONS,
    }


def number(value: float) -> float | None:
    """Return a number that JSON can hold, or None."""
    return value if np.isfinite(value) else None


def _wet(seconds: float) -> str:
    return f"{seconds / 60.0:.0f} min" if np.isfinite(seconds) else minutes(seconds)


def _cell(seconds: float) -> str:
    return f"{seconds / 60.0:.0f}" if np.isfinite(seconds) else "not dry"


def _control(day: xr.Dataset, i: int) -> str:
    text = per_cent(float(day["growth_control"][i]))
    if "growth_control_low" in day:
        low, high = float(day["growth_control_low"][i]), float(day["growth_control_high"][i])
        text += f" (range {100 * low:.0f} to {100 * high:.0f} %)"
    return text
