"""Pictures of outcomes and days."""

from __future__ import annotations

import os
from pathlib import Path

import matplotlib.dates as mdates
import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm
from matplotlib.figure import Figure
from matplotlib.ticker import MultipleLocator

from wetspan.errors import InputError
from wetspan.files import written
from wetspan.jug import SHAKING
from wetspan.outcome import Outcome, minutes

_LEAF, _STEM, _ROOT, _AIR, _SUN = "#3b7a57", "#b5651d", "#5b4a8a", "#2f6f9f", "#e0b84c"
_SITES = {"leaf": ("leaves", _LEAF), "stem": ("stems", _STEM), "root": ("roots", _ROOT)}
_FORMATS = (".png", ".svg", ".pdf")
#: What a season is drawn of: label, factor from SI, values that lines are drawn at.
_IN_SEASONS: dict[str, tuple[str, float, tuple[float, ...]]] = {
    "wet_time": ("leaves wet after the spray [min]", 1.0 / 60.0, (5, 10, 20, 40, 60, 120, 240, 480, 960)),
    "stem_wet_time": ("stems wet after the spray [min]", 1.0 / 60.0, (5, 10, 20, 40, 60, 120, 240, 480, 960)),
    "growth_control": ("shorter than untreated [%]", 100.0, (5, 10, 15, 20, 25, 30, 40, 50, 60, 70, 80)),
}


def plot_day(day: xr.Dataset) -> Figure:
    """Draw a day of spray times: how long leaves and stems stay wet, growth control by the way it came."""
    figure, above, below = _two_panels(str(day.attrs["title"] or "Spray times compared"))
    _draw_wet_times(above, day)
    _draw_control(below, day)
    first, last = day["time"].values[[0, -1]].astype("datetime64[D]")
    several = first != last
    dates = f"{first} to {last}" if several else str(first)
    below.set_xlabel(f"time of spraying, {dates}, clock {day['time'].attrs['time_zone']}")
    style = mdates.DateFormatter("%m-%d\n%H:%M" if several else "%H:%M")
    below.xaxis.set_major_formatter(style)
    return figure


def plot_season(season: xr.Dataset, variable: str = "wet_time") -> Figure:
    """Draw a season (`ws.season`), day by clock time, one panel a site, with sunrise and sunset.

    `variable` is wet_time or stem_wet_time [min], or growth_control [%], in bands. Lightness rises with the
    value alone, so the picture reads in grey. Crosses: not dry
    when the record or numerics.longest ends; blank: not computed.
    """
    if not isinstance(season, xr.Dataset) or not {"site", "day", "clock"} <= set(season.dims):
        raise InputError("plot_season is for the Dataset of ws.season")
    if variable not in _IN_SEASONS:
        raise InputError(f"variable = {variable!r}; allowed are {', '.join(_IN_SEASONS)}")
    label, factor, levels = _IN_SEASONS[variable]
    values = factor * season[variable].transpose("site", "clock", "day").values
    seen = values[np.isfinite(values)]
    inside = [each for each in levels if seen.size and seen.min() < each < seen.max()]
    scale = BoundaryNorm(inside if len(inside) > 2 else levels, 256, extend="both")
    sites = [str(name) for name in season["site"].values]
    figure = Figure(figsize=(9.0, 1.2 + 3.0 * len(sites)), layout="constrained")
    panels = figure.subplots(len(sites), 1, sharex=True, squeeze=False)[:, 0]
    days, hour = season["day"].values, season["hour"].values
    noons = days + np.timedelta64(12, "h")
    drawn = None
    for i, (axes, site) in enumerate(zip(panels, sites, strict=True)):
        shown = np.where(np.isfinite(values[i]), values[i], np.nan)
        drawn = axes.pcolormesh(
            noons, hour, shown, cmap="cividis", norm=scale, shading="nearest", rasterized=True
        )
        wet = np.argwhere(np.isinf(values[i]))
        if len(wet):
            axes.plot(noons[wet[:, 1]], hour[wet[:, 0]], "x", color="black", markersize=3, label="not dry")
        for name, style in (("sunrise", "--"), ("sunset", ":")):
            sun = season[name].values[i]
            if np.isfinite(sun).any():
                for colour, width in (("white", 3.0), ("black", 1.3)):  # seen on light and on dark
                    axes.plot(noons, sun, color=colour, linestyle=style, linewidth=width)
                axes.plot([], [], color="black", linestyle=style, label=name)
        spacing = float(np.min(np.diff(hour))) if len(hour) > 1 else 1.0
        sun = season[["sunrise", "sunset"]].isel(site=i).to_array().values
        reach = sun[np.isfinite(sun)]
        axes.set_ylim(
            min([hour[0] - spacing / 2, *(reach - 0.3)]), max([hour[-1] + spacing / 2, *(reach + 0.3)])
        )
        axes.set_ylabel(f"clock time, {season['time_zone'].values[i]}")
        axes.yaxis.set_major_formatter(lambda at, _: f"{int(at):02d}:{round(60 * (at % 1)):02d}")
        axes.yaxis.set_major_locator(MultipleLocator(3.0 if np.ptp(axes.get_ylim()) > 8.0 else 1.0))
        alone = len(sites) == 1 and season.attrs["title"]
        axes.set_title(
            f"{season.attrs['title']}; {site}" if alone else site,
            loc="left",
            fontsize="medium",
            fontweight="bold",
        )
        if axes.get_legend_handles_labels()[0]:
            axes.legend(loc="lower right", bbox_to_anchor=(1, 1), ncols=3, frameon=False, fontsize="small")
    panels[-1].xaxis.set_major_formatter(mdates.ConciseDateFormatter(panels[-1].xaxis.get_major_locator()))
    panels[-1].set_xlabel("day of spraying")
    if drawn is not None:
        bar = figure.colorbar(drawn, ax=list(panels), label=label, pad=0.01, spacing="uniform")
        bar.ax.yaxis.set_major_formatter(lambda at, _: f"{at:g}")
    return figure


def plot_outcome(outcome: Outcome) -> Figure:
    """Draw the course of one spray: liquid left, leaf and air temperature, humidity."""
    history = outcome.history
    time = history["time"].values / 60.0
    figure, above, below = _two_panels(outcome.scenario.title or "One spray")
    if outcome.status == "nothing wet":
        above.text(0.5, 0.5, "Nothing is wetted: no course to draw.", ha="center", transform=above.transAxes)
    elif np.isfinite(outcome.wet_time):
        dry = outcome.wet_time / 60.0
        above.axvline(dry, color="0.4", linewidth=1)
        above.annotate(f" leaves dry after {minutes(outcome.wet_time)}", (dry, 60.0), fontsize="small")
    for name, colour, style, label in (
        ("leaf_water", _LEAF, "-", "liquid left on leaves"),
        ("stem_water", _STEM, "-", "liquid left on stems"),
        ("wet_share", _LEAF, ":", "leaf surface wet"),
    ):
        above.plot(time, 100.0 * history[name].values, color=colour, linestyle=style, label=label)
    above.set_ylabel("share [%]")
    above.set_ylim(0, 105)
    above.legend(loc="best", frameon=False, fontsize="small")

    humidity = below.twinx()
    units = outcome.scenario.units
    leaf, air = (
        units.number(history[f"{what}_temperature"].values - 273.15, "degC") for what in ("leaf", "air")
    )
    lines = [
        *below.plot(time, leaf, color=_LEAF, label="leaf"),
        *below.plot(time, air, color=_AIR, label="air"),
        *humidity.plot(
            time, 100.0 * history["relative_humidity"].values, color="0.5", linestyle="--", label="humidity"
        ),
    ]
    for axes, least in ((below, 1.0), (humidity, 2.0)):  # do not blow up what hardly changes
        low, high = axes.get_ylim()
        if high - low < least:
            axes.set_ylim(0.5 * (low + high - least), 0.5 * (low + high + least))
    below.set_ylabel(f"temperature [{units.unit('degC').replace('deg', '°')}]")
    below.set_xlabel("time since the spray [min]")
    humidity.set_ylabel("relative humidity of the air [%]", color="0.35")
    # above the panel: in it, curves of two axes cross any place
    below.legend(
        handles=lines, loc="lower right", bbox_to_anchor=(1, 1), ncols=3, frameon=False, fontsize="small"
    )
    return figure


def plot_jug(jug: xr.Dataset, poured: pd.DataFrame) -> Figure:
    """Draw how much is afloat over the days, where it lies at the end, and what pours deliver."""
    figure = Figure(figsize=(9.0, 3.8), layout="constrained")
    figure.suptitle(str(jug.attrs.get("title", "A jug left standing")), x=0.01, ha="left", fontweight="bold")
    left, middle, right = figure.subplots(1, 3)
    colours = {"active ingredient": "#5b4a8a", "carrier": "#b5651d"}
    for name in map(str, jug["component"].values):
        one = jug.sel(component=name)
        left.plot(jug["day"].values, 100.0 * one["afloat"].values, color=colours.get(name, "0.3"), label=name)
        middle.plot(
            100.0 * one["relative_to_label"].isel(day=-1).values,
            100.0 * jug["depth"].values,
            color=colours.get(name, "0.3"),
        )
    left.set_xlabel("days standing")
    left.set_ylabel("afloat [%]")
    left.set_ylim(0, 105)
    left.legend(frameon=False, fontsize="small")
    middle.set_xlabel(f"concentration on day {float(jug['day'][-1]):g} [% of label]")
    middle.set_xscale("symlog", linthresh=100)
    middle.set_ylabel("depth [cm]")
    middle.invert_yaxis()
    for case, style in zip(SHAKING, (":", "--", "-"), strict=True):
        right.plot(
            range(1, len(poured) + 1),
            100.0 * poured[case].to_numpy(),
            color="#2f6f9f",
            linestyle=style,
            marker="o",
            markersize=3,
            label=case,
        )
    right.set_xlabel("pour")
    right.set_ylabel("delivered [% of label]")
    right.set_ylim(bottom=0)
    right.legend(frameon=False, fontsize="small")
    tidy(left, middle, right)
    return figure


def save(figure: Figure, path: str | os.PathLike[str]) -> None:
    """Write a figure to a PNG, SVG or PDF file."""
    check_path(path)
    with written(path) as beside:
        figure.savefig(beside, dpi=150)


def check_path(path: str | os.PathLike[str]) -> None:
    """Raise InputError unless the path is one that `save` can write a picture to."""
    name = os.fspath(path)
    if Path(path).suffix.lower() not in _FORMATS:
        raise InputError(f"{name}: a picture is written as {', '.join(_FORMATS)}; this name ends otherwise")
    if not Path(path).parent.is_dir():
        raise InputError(f"{name}: there is no folder '{Path(path).parent}' to put it in")


def tidy(*several: Axes) -> None:
    """Leave of a frame what is needed, with a light grid of values behind."""
    for axes in several:
        axes.spines[["top", "right"]].set_visible(False)
        axes.grid(axis="y", color="0.9")
        axes.set_axisbelow(True)


def _two_panels(title: str) -> tuple[Figure, Axes, Axes]:
    figure = Figure(figsize=(8.0, 6.4), layout="constrained")
    above, below = figure.subplots(2, 1, sharex=True)
    above.set_title(title, loc="left", fontweight="bold", wrap=True)
    tidy(above, below)
    return figure, above, below


def _draw_wet_times(axes: Axes, day: xr.Dataset) -> None:
    time = day["time"].values
    light = axes.twinx()
    light.spines["top"].set_visible(False)
    light.fill_between(time, day["shortwave"].values, color=_SUN, alpha=0.18, linewidth=0)
    light.set_ylabel("light at the crop [W/m²]", color="#8a6d1f")
    light.set_ylim(0, max(50.0, 2.2 * float(day["shortwave"].max())))
    told = {
        str(name): values.values / 60.0 for name, values in day.data_vars.items() if "wet_time" in str(name)
    }
    top = 1.25 * max(5.0, *(values[np.isfinite(values)].max(initial=0.0) for values in told.values()))
    if "wet_time_low" in told:
        low, high = (np.minimum(told[f"wet_time_{end}"], top) for end in ("low", "high"))
        axes.fill_between(
            time, low, high, color=_LEAF, alpha=0.15, linewidth=0, label="leaves, 80 % of draws"
        )
    for name, colour, label in (("wet_time", _LEAF, "leaves"), ("stem_wet_time", _STEM, "stems")):
        late = ~np.isfinite(told[name])
        axes.plot(
            time, np.where(late, np.nan, told[name]), color=colour, marker="o", markersize=4, label=label
        )
        if late.any():
            at_the_top = np.full(late.sum(), 0.85 * top)
            axes.plot(
                time[late], at_the_top, color=colour, marker="^", linestyle="none", label=f"{label} not dry"
            )
    axes.set_ylabel("wet after the spray [min]")
    axes.set_ylim(0, top)
    axes.set_zorder(light.get_zorder() + 1)
    axes.patch.set_visible(False)
    axes.legend(loc="upper right", frameon=False, ncols=5, fontsize="small")


def _draw_control(axes: Axes, day: xr.Dataset) -> None:
    time, control = day["time"].values, 100.0 * day["growth_control"]
    tips = day["tips"].sum("site")
    shares = (day["tips"] / tips).where(tips > 0.0, 0.0)
    spacing = np.min(np.diff(time)) if len(time) > 1 else np.timedelta64(3600, "s")
    bottom = np.zeros(len(time))
    for site, (label, colour) in _SITES.items():
        height = (shares.sel(site=site) * control).values
        axes.bar(time, height, 0.7 * spacing, bottom, color=colour, label=f"through {label}")
        bottom += height
    top = float(control.max())
    if "growth_control_low" in day:
        low, high = (100.0 * day[f"growth_control_{end}"].values for end in ("low", "high"))
        axes.vlines(time, low, high, color="black", linewidth=1.2, label="80 % of draws")
        top = max(top, float(high.max()))
    axes.set_ylabel("shorter than untreated [%]")
    axes.set_ylim(0, 1.25 * max(5.0, top))
    axes.set_xlim(time[0] - spacing, time[-1] + spacing)
    axes.legend(loc="upper right", frameon=False, ncols=4, fontsize="small")
