"""A day of spray times: how long plants stay wet, and growth control."""

from __future__ import annotations

import matplotlib.dates as mdates
import numpy as np
import numpy.typing as npt
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import LogLocator, NullFormatter, StrMethodFormatter

from wetspan.day import whole_day
from wetspan.drawing import (
    HATCHES,
    LEAF,
    ROOT,
    STEM,
    SUN,
    Where,
    caution,
    panels,
    tidy,
    two_panels,
    under_each_other,
)
from wetspan.nights import about_marks, wet_nights
from wetspan.plots.outcome import draw_split

_SITES = {"leaf": ("leaves", LEAF), "stem": ("stems", STEM), "root": ("roots", ROOT)}
_MOST_PRINTED = 16  # times of a day whose minutes are printed
_NARROW = 7.0  # width of a figure [in] below which a legend takes several lines


def plot_day(day: xr.Dataset, ax: Where = None) -> Figure:
    """Draw a day of spray times in two panels: wet times of leaves and stems on a log scale, and growth
    control by site of uptake.

    Rings mark leaves that are wet past sunset or too long, which invites leaf disease. A drench wets no
    leaves; its first panel is the split.
    """
    whole_day("plot_day is for the Dataset of ws.compare_times", day)
    drench = bool((day["status"].values == "nothing wet").all())
    figure, (above, below) = panels(
        ax, ("wet times", "growth control"), lambda: two_panels(sharex=not drench), "plot_day"
    )
    title = str(day.attrs["title"] or "Spray times compared")
    above.set_title(title, loc="left", fontweight="bold", wrap=True)
    tidy(above, below)
    if drench:
        draw_split(above, day["split"].mean("time"))
    else:
        _draw_wet_times(above, day)
    _draw_control(below, day)
    first, last = day["time"].values[[0, -1]].astype("datetime64[D]")
    several = first != last
    dates = f"{first} to {last}" if several else str(first)
    below.set_xlabel(f"time of spraying, {dates}, clock {day['time'].attrs['time_zone']}")
    style = mdates.DateFormatter("%m-%d\n%H:%M" if several else "%H:%M")
    for axes in (below,) if drench else (above, below):
        axes.xaxis.set_major_formatter(style)
    if not drench and not under_each_other(above, below):
        above.set_xlabel(below.get_xlabel())
    caution(figure)
    return figure


def _draw_wet_times(axes: Axes, day: xr.Dataset) -> None:
    time = day["time"].values
    light = _draw_light(axes, day)
    told = {
        str(name): values.values / 60.0 for name, values in day.data_vars.items() if "wet_time" in str(name)
    }
    known = np.concatenate([values[np.isfinite(values) & (values > 0.0)] for values in told.values()])
    narrow = _narrow(axes)
    longest = known.max() if known.size else 45.0
    bottom, top = 0.6 * known.min() if known.size else 1.0, (4.5 if narrow else 2.2) * longest  # the legend's
    _in_minutes(axes, bottom, top)
    if "wet_time_low" in told:
        low, high = (np.minimum(told[f"wet_time_{end}"], top) for end in ("low", "high"))
        axes.fill_between(time, low, high, color=LEAF, alpha=0.15, linewidth=0, label="leaves, 80 % of draws")
    top_row = 1.22 * longest  # for those that do not dry
    _draw_minutes(axes, time, told["wet_time"], top_row, "leaves", LEAF, "-", "o", LEAF)
    _draw_minutes(axes, time, told["stem_wet_time"], top_row, "stems", STEM, "--", "s", "white")
    marked = wet_nights(day).values
    if marked.any():
        at = np.where(np.isfinite(told["wet_time"]), told["wet_time"], top_row)
        axes.plot(
            time[marked],
            at[marked],
            "o",
            color="black",
            markersize=11,
            markerfacecolor="none",
            label=about_marks(day),
        )
    if len(time) <= _MOST_PRINTED:
        for at, value in zip(time, told["wet_time"], strict=True):
            if np.isfinite(value):
                axes.annotate(f"{value:.{0 if value >= 9.95 else 1}f}", (at, value), xytext=(0, -13),
                              textcoords="offset points", ha="center", fontsize="x-small")  # fmt: skip
    axes.set_ylabel("wet after the spray [min], log scale")
    axes.set_zorder(light.get_zorder() + 1)
    axes.patch.set_visible(False)
    columns = 2 if narrow else 5
    axes.legend(loc="upper right", frameon=False, ncols=columns, fontsize="small", handlelength=3.0)


def _draw_minutes(
    axes: Axes,
    time: npt.NDArray[np.datetime64],
    minutes: npt.NDArray[np.float64],
    top: float,
    label: str,
    colour: str,
    style: str,
    marker: str,
    fill: str,
) -> None:
    """Draw the wet times of leaves or stems; those that do not dry are triangles at `top`."""
    late = ~np.isfinite(minutes)
    axes.plot(
        time,
        np.where(late, np.nan, minutes),
        color=colour,
        linestyle=style,
        marker=marker,
        markersize=5,
        markerfacecolor=fill,
        label=label,
    )
    if late.any():
        axes.plot(
            time[late],
            np.full(late.sum(), top),
            color=colour,
            marker="^",
            markerfacecolor=fill,
            linestyle="none",
            label=f"{label} not dry",
        )


def _draw_light(axes: Axes, day: xr.Dataset) -> Axes:
    """Draw the light at the crop behind `axes`, and return its own axes."""
    light = axes.twinx()
    light.spines["top"].set_visible(False)
    light.fill_between(day["time"].values, day["shortwave"].values, color=SUN, alpha=0.2, linewidth=0)
    light.plot(day["time"].values, day["shortwave"].values, color="0.5", linestyle=":", linewidth=1.2)
    light.set_ylabel("light at the crop [W/m²], dotted", color="0.35")
    light.set_ylim(0, max(50.0, 2.2 * float(day["shortwave"].max())))
    return light


def _in_minutes(axes: Axes, bottom: float, top: float) -> None:
    """Set a scale of minutes on logarithms, with plain numbers at 1, 2 and 5."""
    axes.set_yscale("log")
    axes.set_ylim(bottom, top)
    axes.yaxis.set_major_locator(LogLocator(subs=(1, 2, 5)))
    axes.yaxis.set_major_formatter(StrMethodFormatter("{x:g}"))
    axes.yaxis.set_minor_formatter(NullFormatter())
    axes.yaxis.set_minor_locator(LogLocator(subs=()))


def _draw_control(axes: Axes, day: xr.Dataset) -> None:
    time, control = day["time"].values, 100.0 * day["growth_control"]
    tips = day["tips"].sum("site")
    shares = (day["tips"] / tips).where(tips > 0.0, 0.0)
    spacing = np.min(np.diff(time)) if len(time) > 1 else np.timedelta64(3600, "s")
    bottom = np.zeros(len(time))
    for site, (label, colour) in _SITES.items():
        height = (shares.sel(site=site) * control).values
        axes.bar(
            time,
            height,
            0.7 * spacing,
            bottom,
            color=colour,
            hatch=HATCHES[colour],
            edgecolor="0.2",
            linewidth=0.6,
            label=f"through {label}",
        )
        bottom += height
    top = float(control.max())
    if "growth_control_low" in day:
        low, high = (100.0 * day[f"growth_control_{end}"].values for end in ("low", "high"))
        axes.vlines(time, low, high, color="white", linewidth=4.0)  # seen on dark and on light
        axes.vlines(time, low, high, color="black", linewidth=1.4, label="80 % of draws")
        top = max(top, float(high.max()))
    axes.set_ylabel("shorter than untreated [%]")
    narrow = _narrow(axes)
    axes.set_ylim(0, (1.4 if narrow else 1.25) * max(5.0, top))  # the legend's
    axes.set_xlim(time[0] - spacing, time[-1] + spacing)
    axes.legend(loc="upper right", frameon=False, ncols=2 if narrow else 4, fontsize="small")


def _narrow(axes: Axes) -> bool:
    """Return whether the figure is too narrow for a legend in one line."""
    figure = axes.get_figure(root=True)
    assert figure is not None
    return bool(figure.get_size_inches()[0] < _NARROW)
