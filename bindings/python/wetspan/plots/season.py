"""A season of spray times, day by clock time."""

from __future__ import annotations

import matplotlib.dates as mdates
import numpy as np
import numpy.typing as npt
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.collections import QuadMesh
from matplotlib.colors import BoundaryNorm
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MultipleLocator, StrMethodFormatter

from wetspan.drawing import Where, caution, panels
from wetspan.errors import InputError
from wetspan.nights import about_marks, wet_nights
from wetspan.season.windows import whole

#: What a season is drawn of: label, factor from SI, values that lines are drawn at.
_IN_SEASONS: dict[str, tuple[str, float, tuple[float, ...]]] = {
    "wet_time": ("leaves wet after the spray [min]", 1.0 / 60.0, (5, 10, 20, 40, 60, 120, 240, 480, 960)),
    "stem_wet_time": ("stems wet after the spray [min]", 1.0 / 60.0, (5, 10, 20, 40, 60, 120, 240, 480, 960)),
    "growth_control": ("shorter than untreated [%]", 100.0, (5, 10, 15, 20, 25, 30, 40, 50, 60, 70, 80)),
}


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
