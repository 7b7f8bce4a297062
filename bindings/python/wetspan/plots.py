"""Pictures of sprays, days, seasons and the jug.

Each function draws on a new figure, or on `ax`: one Axes, or as many as the picture has panels, in their
order. It returns the figure. A picture of an effect or a rate has the short caution below it.
"""

from __future__ import annotations

import os
from pathlib import Path

import matplotlib.dates as mdates
import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.collections import QuadMesh
from matplotlib.colors import BoundaryNorm
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, MultipleLocator, NullFormatter, StrMethodFormatter

from wetspan.day import OF_A_DAY
from wetspan.drawing import AIR, HATCHES, LEAF, ROOT, STEM, SUN, Where, caution, panels, tidy
from wetspan.errors import InputError, only_for
from wetspan.files import written
from wetspan.jug import SHAKING
from wetspan.nights import about_marks, wet_nights
from wetspan.outcome import Outcome, entries, minutes
from wetspan.season.windows import whole

_SITES = {"leaf": ("leaves", LEAF), "stem": ("stems", STEM), "root": ("roots", ROOT)}
_MOST_PRINTED = 16  # times of a day whose minutes are printed
_NARROW = 7.0  # width of a figure [in] below which a legend takes several lines
_FORMATS = (".png", ".svg", ".pdf")
#: What a season is drawn of: label, factor from SI, values that lines are drawn at.
_IN_SEASONS: dict[str, tuple[str, float, tuple[float, ...]]] = {
    "wet_time": ("leaves wet after the spray [min]", 1.0 / 60.0, (5, 10, 20, 40, 60, 120, 240, 480, 960)),
    "stem_wet_time": ("stems wet after the spray [min]", 1.0 / 60.0, (5, 10, 20, 40, 60, 120, 240, 480, 960)),
    "growth_control": ("shorter than untreated [%]", 100.0, (5, 10, 15, 20, 25, 30, 40, 50, 60, 70, 80)),
}


def plot_day(day: xr.Dataset, ax: Where = None) -> Figure:
    """Draw a day of spray times in two panels: wet times of leaves and stems on a log scale, and growth
    control by site of uptake.

    Rings mark leaves that are wet past sunset or too long, which invites leaf disease. A drench wets no
    leaves; its first panel is the split.
    """
    only_for("plot_day is for the Dataset of ws.compare_times", day, xr.Dataset, *OF_A_DAY)
    drench = bool((day["status"].values == "nothing wet").all())
    figure, (above, below) = panels(
        ax, ("wet times", "growth control"), lambda: _two_panels(sharex=not drench), "plot_day"
    )
    title = str(day.attrs["title"] or "Spray times compared")
    above.set_title(title, loc="left", fontweight="bold", wrap=True)
    tidy(above, below)
    if drench:
        _draw_split(above, day["split"].mean("time"))
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
    if not drench and not _under_each_other(above, below):
        above.set_xlabel(below.get_xlabel())
    caution(figure)
    return figure


def plot_season(season: xr.Dataset, variable: str = "wet_time", ax: Where = None) -> Figure:
    """Draw a season (`ws.season`) as day by clock time, one panel for each site, with sunrise and sunset.

    `variable` is wet_time or stem_wet_time [min], or growth_control [%], in bands. Lightness rises with the
    value alone, so the picture can be read in grey. Crosses mark plants that are not dry when the record or
    numerics.longest ends, and dots leaves that are wet past sunset or too long, which invites leaf disease.
    Sprays that were not computed are blank.
    """
    season = whole("plot_season", season, "day", "clock")
    if variable not in _IN_SEASONS:
        raise InputError(f"variable = {variable!r}; allowed are {', '.join(_IN_SEASONS)}")
    label, factor, levels = _IN_SEASONS[variable]
    values = factor * season[variable].transpose("site", "clock", "day").values
    nights = wet_nights(season).transpose("site", "clock", "day").values
    seen = values[np.isfinite(values)]
    inside = [each for each in levels if seen.size and seen.min() < each < seen.max()]
    scale = BoundaryNorm(inside if len(inside) > 2 else levels, 256, extend="both")
    sites = [str(name) for name in season["site"].values]

    def own() -> list[Axes]:
        figure = Figure(figsize=(9.0, 1.2 + 3.0 * len(sites)), layout="constrained")
        return list(figure.subplots(len(sites), 1, sharex=True, squeeze=False)[:, 0])

    figure, of_sites = panels(ax, sites, own, "plot_season")
    drawn = None
    for i, (axes, site) in enumerate(zip(of_sites, sites, strict=True)):
        here = season.isel(site=i)
        drawn = _draw_days(axes, here, values[i], scale)
        _mark_days(axes, here, np.isinf(values[i]), nights[i])
        _draw_sun(axes, here)
        alone = len(sites) == 1 and season.attrs["title"]
        axes.set_title(
            f"{season.attrs['title']}; {site}" if alone else site,
            loc="left",
            fontsize="medium",
            fontweight="bold",
            pad=20.0,  # the legend stands below
        )
        if axes.get_legend_handles_labels()[0]:
            axes.legend(loc="lower right", bbox_to_anchor=(1, 1), ncols=3, frameon=False, fontsize="small")
    last = of_sites[-1].xaxis
    last.set_major_formatter(mdates.ConciseDateFormatter(last.get_major_locator()))
    of_sites[-1].set_xlabel("day of spraying")
    if drawn is not None:
        bar = figure.colorbar(drawn, ax=of_sites, label=label, pad=0.01, spacing="uniform")
        bar.ax.yaxis.set_major_formatter(StrMethodFormatter("{x:g}"))
    caution(figure)
    return figure


def _noons(season: xr.Dataset) -> npt.NDArray[np.datetime64]:
    return np.asarray(season["day"].values + np.timedelta64(12, "h"))


def _draw_days(
    axes: Axes, season: xr.Dataset, values: npt.NDArray[np.float64], scale: BoundaryNorm
) -> QuadMesh:
    """Draw one site's values, clock times x days, in bands; the clock axis reaches from dawn to dusk."""
    hour = season["hour"].values
    shown = np.where(np.isfinite(values), values, np.nan)
    drawn = axes.pcolormesh(
        _noons(season), hour, shown, cmap="cividis", norm=scale, shading="nearest", rasterized=True
    )
    spacing = float(np.min(np.diff(hour))) if len(hour) > 1 else 1.0
    sun = season[["sunrise", "sunset"]].to_array().values
    reach = sun[np.isfinite(sun)]
    axes.set_ylim(min([hour[0] - spacing / 2, *(reach - 0.3)]), max([hour[-1] + spacing / 2, *(reach + 0.3)]))
    axes.set_ylabel(f"clock time, {season['time_zone'].item()}")
    axes.yaxis.set_major_formatter(FuncFormatter(_clock))
    axes.yaxis.set_major_locator(MultipleLocator(3.0 if np.ptp(axes.get_ylim()) > 8.0 else 1.0))
    return drawn


def _clock(hour: float, _: int | None = None) -> str:
    return f"{int(hour):02d}:{round(60 * (hour % 1)):02d}"


def _mark_days(
    axes: Axes, season: xr.Dataset, never_dry: npt.NDArray[np.bool_], nights: npt.NDArray[np.bool_]
) -> None:
    """Mark the sprays of one site, clock times x days, that do not dry, and those with a wet night."""
    noons, hour = _noons(season), season["hour"].values
    wet = np.argwhere(never_dry)
    if len(wet):
        axes.plot(noons[wet[:, 1]], hour[wet[:, 0]], "x", color="black", markersize=3, label="not dry")
    marked = np.argwhere(nights)
    if len(marked):
        axes.plot(
            noons[marked[:, 1]],
            hour[marked[:, 0]],
            "o",
            color="black",
            markersize=2.5,
            markeredgecolor="white",
            markeredgewidth=0.4,
            label=about_marks(season),
        )


def _draw_sun(axes: Axes, season: xr.Dataset) -> None:
    """Draw sunrise and sunset over the days of one site."""
    for name, style in (("sunrise", "--"), ("sunset", ":")):
        sun = season[name].values
        if np.isfinite(sun).any():
            for colour, width in (("white", 3.0), ("black", 1.3)):  # seen on light and on dark
                axes.plot(_noons(season), sun, color=colour, linestyle=style, linewidth=width)
            axes.plot([], [], color="black", linestyle=style, label=name)


def plot_outcome(outcome: Outcome, ax: Where = None) -> Figure:
    """Draw the course of one spray in two panels: the liquid that is left; leaf and air temperature, and
    humidity.

    A drench wets no leaves; its panels are the split, and the heights in the weeks after it.
    """
    only_for("plot_outcome is for the Outcome of ws.simulate", outcome, Outcome)
    drench = outcome.status == "nothing wet"
    names = ("where it ends up", "heights") if drench else ("liquid left", "temperatures and humidity")
    figure, (above, below) = panels(ax, names, lambda: _two_panels(sharex=not drench), "plot_outcome")
    above.set_title(outcome.scenario.title or "One application", loc="left", fontweight="bold", wrap=True)
    tidy(above, below)
    if drench:
        _draw_split(above, outcome.split["share"])
        _draw_heights(below, outcome)
    else:
        _draw_liquid(above, outcome)
        _draw_air(below, outcome)
        if not _under_each_other(above, below):
            above.set_xlabel(below.get_xlabel())
    caution(figure)
    return figure


def _draw_liquid(axes: Axes, outcome: Outcome) -> None:
    history = outcome.history
    for name, colour, style, label in (
        ("leaf_water", LEAF, "-", "liquid left on leaves"),
        ("stem_water", STEM, "--", "liquid left on stems"),
        ("wet_share", LEAF, ":", "leaf surface wet"),
    ):
        axes.plot(
            history["time"].values / 60.0,
            100.0 * history[name].values,
            color=colour,
            linestyle=style,
            linewidth=1.8,
            label=label,
        )
    if np.isfinite(outcome.wet_time):
        dry = outcome.wet_time / 60.0
        axes.axvline(dry, color="0.4", linewidth=1)
        axes.annotate(f" leaves dry after {minutes(outcome.wet_time)}", (dry, 60.0), fontsize="small")
    axes.set_ylabel("share [%]")
    axes.set_ylim(0, 105)
    axes.legend(loc="best", frameon=False, fontsize="small", handlelength=3.0)


def _draw_air(axes: Axes, outcome: Outcome) -> None:
    history, units = outcome.history, outcome.scenario.units
    time, humidity = history["time"].values / 60.0, axes.twinx()
    humidity.spines["top"].set_visible(False)
    leaf, air = (
        units.number(history[f"{what}_temperature"].values - 273.15, "degC") for what in ("leaf", "air")
    )
    lines = [
        *axes.plot(time, leaf, color=LEAF, label="leaf"),
        *axes.plot(time, air, color=AIR, linestyle="-.", label="air"),
        *humidity.plot(
            time, 100.0 * history["relative_humidity"].values, color="0.5", linestyle="--", label="humidity"
        ),
    ]
    for each, least in ((axes, 1.0), (humidity, 2.0)):  # do not blow up what hardly changes
        low, high = each.get_ylim()
        if high - low < least:
            each.set_ylim(0.5 * (low + high - least), 0.5 * (low + high + least))
    axes.set_ylabel(f"temperature [{units.unit('degC').replace('deg', '°')}]")
    axes.set_xlabel("time since the spray [min]")
    humidity.set_ylabel("relative humidity of the air [%]", color="0.35")
    # above the panel: in it, curves of two axes cross any place
    axes.legend(
        handles=lines,
        loc="lower right",
        bbox_to_anchor=(1, 1),
        ncols=3,
        frameon=False,
        fontsize="small",
        handlelength=3.0,
    )


def _draw_heights(axes: Axes, outcome: Outcome) -> None:
    heights, units = outcome.heights, outcome.scenario.units
    days = heights["time"].values / 86400.0
    treated = units.number(100.0 * heights["treated"].values, "cm")
    untreated = units.number(100.0 * heights["untreated"].values, "cm")
    axes.plot(days, untreated, color="0.45", linestyle="--", linewidth=1.8, label="untreated")
    axes.plot(days, treated, color=LEAF, linewidth=1.8, label="treated")
    axes.set_xlabel("days from the start of growth")
    axes.set_ylabel(f"height [{units.unit('cm')}]")
    axes.set_ylim(bottom=0.0)
    axes.annotate(
        f"{100.0 * outcome.growth_control:.0f} % shorter ",
        (days[-1], treated[-1]),
        xytext=(0, -14),
        textcoords="offset points",
        ha="right",
        fontsize="small",
    )
    axes.legend(loc="upper left", frameon=False, fontsize="small", handlelength=3.0)


def plot_split(outcome: Outcome, ax: Where = None) -> Figure:
    """Draw where the liquid of an application ends up, as shares of what is sprayed or poured."""
    only_for("plot_split is for the Outcome of ws.simulate", outcome, Outcome)

    def own() -> list[Axes]:
        return [Figure(figsize=(8.0, 2.8), layout="constrained").subplots()]

    figure, (axes,) = panels(ax, ("where it ends up",), own, "plot_split")
    tidy(axes)
    _draw_split(axes, outcome.split["share"])
    caution(figure)
    return figure


def _draw_split(axes: Axes, split: xr.DataArray) -> None:
    colours = {"leaf": LEAF, "stem": STEM, "substrate": ROOT}
    told = [(name, 100.0 * share) for name, share in entries(split) if share >= 0.0005 or name in colours]
    told.reverse()  # bars are drawn from below
    names, shares = [name for name, _ in told], [share for _, share in told]
    bars = axes.barh(names, shares, height=0.65, color=[colours.get(name, "0.75") for name in names])
    for bar, name in zip(bars, names, strict=True):
        bar.set(edgecolor="0.2", linewidth=0.6, hatch=HATCHES.get(colours.get(name, ""), ""))
    for name, share in told:
        digits = 0 if share >= 9.95 or share == 0.0 else 1
        axes.annotate(f"{share:.{digits}f} %", (share, name), xytext=(5, 0), textcoords="offset points",
                      va="center", fontsize="small")  # fmt: skip
    axes.set_xlim(0.0, 1.12 * max([*shares, 1.0]))
    axes.set_xlabel("share of the liquid [%]")
    axes.grid(axis="y", visible=False)


def plot_jug(jug: xr.Dataset, poured: pd.DataFrame, ax: Where = None) -> Figure:
    """Draw in three panels how much is afloat over the days, where it lies at the end, what pours deliver."""
    only_for("plot_jug draws the table of ws.pours", poured, pd.DataFrame, *SHAKING)
    only_for("plot_jug is for the Dataset of ws.settle", jug, xr.Dataset, "component", "afloat", "depth")

    def own() -> list[Axes]:
        return list(Figure(figsize=(9.0, 3.8), layout="constrained").subplots(1, 3))

    figure, (left, middle, right) = panels(ax, ("afloat", "depth", "pours"), own, "plot_jug")
    title = str(jug.attrs.get("title", "A jug left standing"))
    if ax is None:
        figure.suptitle(title, x=0.01, ha="left", fontweight="bold")
    else:
        left.set_title(title, loc="left", fontweight="bold", wrap=True)
    styles = {"active ingredient": ("#5b4a8a", "-"), "carrier": (STEM, "--")}
    for name in map(str, jug["component"].values):
        one, (colour, style) = jug.sel(component=name), styles.get(name, ("0.3", ":"))
        afloat, lies = one["afloat"].values, one["relative_to_label"].isel(day=-1).values
        left.plot(jug["day"].values, 100.0 * afloat, color=colour, linestyle=style, label=name)
        middle.plot(100.0 * lies, 100.0 * jug["depth"].values, color=colour, linestyle=style)
    left.set_xlabel("days standing")
    left.set_ylabel("afloat [%]")
    left.set_ylim(0, 105)
    left.legend(frameon=False, fontsize="small")
    middle.set_xlabel(f"concentration on day {float(jug['day'][-1]):g} [% of label]")
    middle.set_xscale("symlog", linthresh=100)
    middle.set_ylabel("depth [cm]")
    middle.invert_yaxis()
    for case, style, marker in zip(SHAKING, (":", "--", "-"), "s^o", strict=True):
        right.plot(
            range(1, len(poured) + 1),
            100.0 * poured[case].to_numpy(),
            color=AIR,
            linestyle=style,
            marker=marker,
            markersize=4,
            label=case,
        )
    right.set_xlabel("pour")
    right.set_ylabel("delivered [% of label]")
    right.set_ylim(bottom=0)
    right.legend(frameon=False, fontsize="small")
    tidy(left, middle, right)
    caution(figure)
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


def _two_panels(*, sharex: bool) -> list[Axes]:
    return list(Figure(figsize=(8.0, 6.6), layout="constrained").subplots(2, 1, sharex=sharex))


def _under_each_other(above: Axes, below: Axes) -> bool:
    return above.get_shared_x_axes().joined(above, below)


def _draw_wet_times(axes: Axes, day: xr.Dataset) -> None:
    time = day["time"].values
    light = _draw_light(axes, day)
    told = {
        str(name): values.values / 60.0 for name, values in day.data_vars.items() if "wet_time" in str(name)
    }
    known = np.concatenate([values[np.isfinite(values) & (values > 0.0)] for values in told.values()])
    figure = axes.get_figure(root=True)
    assert figure is not None
    narrow = figure.get_size_inches()[0] < _NARROW
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
    axes.set_ylim(0, 1.25 * max(5.0, top))
    axes.set_xlim(time[0] - spacing, time[-1] + spacing)
    axes.legend(loc="upper right", frameon=False, ncols=4, fontsize="small")
