"""One spray: where it ends up, and the course of leaf, air and heights."""

from __future__ import annotations

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from wetspan.drawing import (
    AIR,
    HATCHES,
    LEAF,
    ROOT,
    STEM,
    Where,
    caution,
    panels,
    tidy,
    two_panels,
    under_each_other,
)
from wetspan.errors import only_for
from wetspan.outcome import Outcome, entries, minutes


def plot_outcome(outcome: Outcome, ax: Where = None) -> Figure:
    """Draw the course of one spray in two panels: the liquid that is left; leaf and air temperature, and
    humidity.

    A drench wets no leaves; its panels are the split, and the heights in the weeks after it.
    """
    only_for("plot_outcome is for the Outcome of ws.simulate", outcome, Outcome)
    drench = outcome.status == "nothing wet"
    names = ("where it ends up", "heights") if drench else ("liquid left", "temperatures and humidity")
    figure, (above, below) = panels(ax, names, lambda: two_panels(sharex=not drench), "plot_outcome")
    above.set_title(outcome.scenario.title or "One application", loc="left", fontweight="bold", wrap=True)
    tidy(above, below)
    if drench:
        draw_split(above, outcome.split["share"])
        _draw_heights(below, outcome)
    else:
        _draw_liquid(above, outcome)
        _draw_air(below, outcome)
        if not under_each_other(above, below):
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
    draw_split(axes, outcome.split["share"])
    caution(figure)
    return figure


def draw_split(axes: Axes, split: xr.DataArray) -> None:
    """Draw shares of the liquid as bars, the first of them uppermost."""
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
