"""Pictures of outcomes and days."""

from __future__ import annotations

import os
from pathlib import Path

import matplotlib.dates as mdates
import numpy as np
import xarray as xr
from matplotlib.figure import Figure

from wetspan.errors import InputError
from wetspan.outcome import Outcome

_LEAF, _STEM, _ROOT, _AIR, _SUN = "#3b7a57", "#b5651d", "#5b4a8a", "#2f6f9f", "#e0b84c"
_SITES = {"leaf": _LEAF, "stem": _STEM, "root": _ROOT}
_FORMATS = (".png", ".svg", ".pdf")


def plot_day(day: xr.Dataset) -> Figure:
    """Draw a day of spray times: how long leaves and stems stay wet, and growth control by the way it came."""
    figure = Figure(figsize=(8.0, 6.4), layout="constrained")
    above, below = figure.subplots(2, 1, sharex=True)
    time = day["time"].values
    for name, colour, label in (("wet_time", _LEAF, "leaves"), ("stem_wet_time", _STEM, "stems")):
        above.plot(
            time, day[name].values / 60.0, color=colour, marker="o", markersize=4, label=f"{label} wet"
        )
    if "wet_time_low" in day:
        above.fill_between(
            time,
            day["wet_time_low"].values / 60.0,
            day["wet_time_high"].values / 60.0,
            color=_LEAF,
            alpha=0.15,
            linewidth=0,
            label="leaves, 80 % of draws",
        )
    above.set_ylabel("wet after the spray [min]")
    above.set_ylim(bottom=0)
    light = above.twinx()
    light.fill_between(time, day["shortwave"].values, color=_SUN, alpha=0.18, linewidth=0)
    light.set_ylabel("light at the crop [W/m2]", color="#8a6d1f")
    light.set_ylim(0, max(50.0, 2.2 * float(day["shortwave"].max())))
    above.set_zorder(light.get_zorder() + 1)
    above.patch.set_visible(False)
    above.legend(loc="upper right", frameon=False, ncols=3, fontsize="small")
    above.set_title(str(day.attrs.get("title") or "Spray times compared"), loc="left", fontweight="bold")

    shares = day["tips"] / day["tips"].sum("site")
    width = 0.7 * _spacing(time)
    bottom = np.zeros(len(time))
    for site, colour in _SITES.items():
        height = 100.0 * (shares.sel(site=site) * day["growth_control"]).values
        below.bar(
            time,
            height,
            width=width,
            bottom=bottom,
            color=colour,
            label=f"through {site}s" if site != "leaf" else "through leaves",
        )
        bottom += height
    if "growth_control_low" in day:
        low, high = 100.0 * day["growth_control_low"].values, 100.0 * day["growth_control_high"].values
        below.errorbar(
            time,
            bottom,
            yerr=[bottom - np.minimum(low, bottom), np.maximum(high, bottom) - bottom],
            fmt="none",
            ecolor="0.25",
            elinewidth=1,
            capsize=2,
            label="80 % of draws",
        )
    below.set_ylabel("shorter than untreated [%]")
    below.set_ylim(
        0,
        1.3
        * max(
            float(np.max(bottom)), 100.0 * float(day.get("growth_control_high", day["growth_control"]).max())
        ),
    )
    below.legend(loc="upper right", frameon=False, ncols=4, fontsize="small")
    below.set_xlabel(
        f"time of spraying on {np.datetime_as_string(time[0], unit='D')}, {day['time'].attrs['time_zone']}"
    )
    below.xaxis.set_major_formatter(mdates.DateFormatter("%H:%M"))
    _tidy(above, below)
    return figure


def plot_outcome(outcome: Outcome) -> Figure:
    """Draw the course of one spray: liquid left, leaf and air temperature, humidity."""
    history = outcome.history
    figure = Figure(figsize=(8.0, 6.4), layout="constrained")
    above, below = figure.subplots(2, 1, sharex=True)
    time = history["time"].values / 60.0
    above.plot(time, 100.0 * history["leaf_water"].values, color=_LEAF, label="liquid left on leaves")
    above.plot(time, 100.0 * history["stem_water"].values, color=_STEM, label="liquid left on stems")
    above.plot(
        time, 100.0 * history["wet_share"].values, color=_LEAF, linestyle=":", label="leaf surface wet"
    )
    if np.isfinite(outcome.wet_time):
        above.axvline(outcome.wet_time / 60.0, color="0.4", linewidth=1)
        above.annotate(
            f" dry after {outcome.wet_time / 60:.0f} min",
            (outcome.wet_time / 60.0, 60.0),
            color="0.25",
            fontsize="small",
        )
    above.set_ylabel("share [%]")
    above.set_ylim(0, 105)
    above.legend(loc="upper right", frameon=False, fontsize="small")
    above.set_title(outcome.scenario.title or "One spray", loc="left", fontweight="bold")
    below.plot(time, history["leaf_temperature"].values - 273.15, color=_LEAF, label="leaf")
    below.plot(time, history["air_temperature"].values - 273.15, color=_AIR, label="air")
    below.set_ylabel("temperature [degC]")
    below.set_xlabel("time since the spray [min]")
    humidity = below.twinx()
    humidity.plot(
        time, 100.0 * history["relative_humidity"].values, color="0.5", linestyle="--", label="humidity"
    )
    humidity.set_ylabel("relative humidity [%]", color="0.35")
    lines = [*below.get_lines(), *humidity.get_lines()]
    below.legend(
        lines, [str(line.get_label()) for line in lines], loc="best", frameon=False, fontsize="small"
    )
    _tidy(above, below)
    return figure


def save(figure: Figure, path: str | os.PathLike[str]) -> None:
    """Write a figure to a PNG, SVG or PDF file."""
    if Path(path).suffix.lower() not in _FORMATS:
        raise InputError(f"a picture is written as {', '.join(_FORMATS)}; '{os.fspath(path)}' ends otherwise")
    try:
        figure.savefig(path, dpi=150)
    except OSError as error:
        raise InputError(f"{os.fspath(path)}: cannot be written ({error.strerror})") from None


def _spacing(time: np.ndarray) -> float:  # type: ignore[type-arg]
    """Days between the times, for bars."""
    return float(np.min(np.diff(time)) / np.timedelta64(1, "D")) if len(time) > 1 else 0.02


def _tidy(*axes: object) -> None:
    for each in axes:
        each.spines[["top", "right"]].set_visible(False)  # type: ignore[attr-defined]
        each.grid(axis="y", color="0.9")  # type: ignore[attr-defined]
        each.set_axisbelow(True)  # type: ignore[attr-defined]
