"""The picture of a bench: the map of the deposit, the plants' heights, and the effect of each lever."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.collections import EllipseCollection, LineCollection
from matplotlib.colors import LinearSegmentedColormap, Normalize
from matplotlib.figure import Figure
from matplotlib.ticker import MultipleLocator

from wetspan.bench.words import in_cent
from wetspan.drawing import HATCHES, LEAF, STEM, Where, caution, panels
from wetspan.report import per_cent

if TYPE_CHECKING:
    from wetspan.bench.spray import BenchResult
    from wetspan.unit_choice import UnitChoice

_CAUSES = {
    "speed": "even speed",
    "height": "even nozzle height",
    "overlap": "even overlap",
    "volume": "more liquid",
    "drench": "drench instead",
    "size": "plants of one size",
    "pouring": "even pouring",
}
_DEPOSIT = LinearSegmentedColormap.from_list(
    "deposit", ["#f6f3e8", "#9cc5b0", "#3f8f8b", "#1f4e79", "#14213d"]
)
#: From short and dark to tall and light: lightness rises all the way, so the picture reads in grey.
_HEIGHT = LinearSegmentedColormap.from_list("height", ["#2b2158", "#6f5fa6", "#c3b3b8", "#f0cd98", "#fdf3df"])


def picture(result: BenchResult, ax: Where = None) -> Figure:
    length, width = (result.map.attrs[f"bench_{name}"] for name in ("length", "width"))
    units = result.scenario.units
    panel = min(7.4 * width / length, 7.4)
    sprayed = result.map["deposit"].size > 0
    heights = [panel] * (2 if sprayed else 1) + [1.9] * bool(result.levers)
    names = ["deposit"] * sprayed + ["heights"] + ["levers"] * bool(result.levers)

    def own() -> list[Axes]:
        figure = Figure(figsize=(9.6, sum(heights) + 2.0), layout="constrained")
        figure.suptitle(result.scenario.title or "Across the bench", x=0.02, ha="left", fontweight="bold")
        return list(figure.subplots(len(heights), 1, height_ratios=heights, squeeze=False)[:, 0])

    figure, rest = panels(ax, names, own, "the picture of a bench")
    benches = rest[: 2 if sprayed else 1]
    if sprayed:
        _draw_map(benches[0], result)
    _draw_plants(benches[-1], result)
    for axes in benches:
        axes.set(xlim=(0.0, length), ylim=(0.0, width), aspect="equal")
        axes.set(xlabel=f"along the bench [{units.unit('m')}]", ylabel=f"across [{units.unit('m')}]")
        for axis in (axes.xaxis, axes.yaxis):
            _tick_in(axis, units)
    for axes in rest[len(benches) :]:
        _draw_levers(axes, result)
    caution(figure)
    return figure


def _tick_in(axis: Axis, units: UnitChoice) -> None:
    """Put the ticks of an axis in metres at round numbers of the unit that is shown."""
    if units.unit("m") != "m":
        axis.set_major_locator(MultipleLocator(2.0 / units.number(1.0, "m")))
        axis.set_major_formatter(lambda metres, _: f"{units.number(metres, 'm'):.3g}")


def _draw_map(axes: Axes, result: BenchResult) -> None:
    """Draw the deposit from nothing to twice the mean, so that benches compare at a glance."""
    units = result.scenario.units
    deposit = units.number(result.map["deposit"], "L/m^2")
    most = 2.0 * float(deposit.mean())
    image = axes.pcolormesh(
        deposit["x"], deposit["y"], deposit, cmap=_DEPOSIT, vmin=0.0, vmax=most, rasterized=True
    )
    tracks = result.passes[result.passes["flow"] > 0.0]
    ends = tracks[["x0", "y0", "x1", "y1"]].to_numpy().reshape(-1, 2, 2)
    axes.add_collection(LineCollection(list(ends), colors="white", linewidths=0.8, alpha=0.6))
    over = "max" if float(deposit.max()) > most else "neither"
    axes.figure.colorbar(image, ax=axes, pad=0.02, extend=over, label=f"deposit [{units.unit('L/m^2')}]")
    varies = in_cent(result.evenness.deposit)
    axes.set_title(
        f"deposit varies by {varies} from plant to plant; white: the nozzle's path",
        loc="left",
        fontsize="medium",
    )


def _draw_plants(axes: Axes, result: BenchResult) -> None:
    plants, band = result.plants, float(result.map.attrs["band"])
    height = 100.0 * plants["relative_height"].values
    mean = float(height.mean())
    reach = max(float(np.abs(height - mean).max()), 2.0 * band * mean, 1.0)
    crown = plants["crown_diameter"].values
    places = np.column_stack([plants["x"].values, plants["y"].values])
    inside = plants["in_band"].values
    discs = EllipseCollection(
        crown,
        crown,
        np.zeros_like(crown),
        units="x",
        offsets=places,
        offset_transform=axes.transData,
        cmap=_HEIGHT,
        norm=Normalize(mean - reach, mean + reach),
        edgecolors=np.where(inside, "0.75", "0.1").tolist(),
        linewidths=np.where(inside, 0.4, 1.4).tolist(),
    )
    discs.set_array(height)
    axes.add_collection(discs)
    axes.figure.colorbar(discs, ax=axes, pad=0.02, label="height [% of untreated]")
    axes.set_title(
        f"height varies by {in_cent(result.evenness.height)}; ringed black: more than {per_cent(band)} off "
        f"the mean, {per_cent(result.evenness.outside)} of {len(height)} plants",
        loc="left",
        fontsize="medium",
    )


def _draw_levers(axes: Axes, result: BenchResult) -> None:
    names = ["as it is", *(lever.name for lever in result.levers)]
    heights = [
        100.0 * even.height for even in (result.evenness, *(lever.evenness for lever in result.levers))
    ]
    at = np.arange(len(names))[::-1]
    better = [height < heights[0] for height in heights[1:]]
    bars = axes.barh(at, heights, height=0.62, color=["0.8", *(LEAF if each else STEM for each in better)])
    for bar, each in zip(bars[1:], better, strict=True):
        bar.set(hatch="" if each else HATCHES[STEM], edgecolor="0.2", linewidth=0.6)
    axes.axvline(heights[0], color="0.4", linewidth=1.0, linestyle=":")
    for y, value in zip(at, heights, strict=True):
        told = axes.annotate(
            f"{value:.1f} %", (value, y), (5, 0), textcoords="offset points", va="center", fontsize="small"
        )
        told.set_bbox({"facecolor": "white", "linewidth": 0.0, "pad": 0.5})  # over the dotted line
    axes.set_yticks(at, [_CAUSES.get(name, name) for name in names])
    axes.set(xlim=(0.0, 1.15 * max(*heights, 1e-6)), xlabel="variation of height from plant to plant [%]")
    axes.set_title(
        "what would make it more even, each computed anew; hatched: no better", loc="left", fontsize="medium"
    )
    axes.spines[["top", "right"]].set_visible(False)
