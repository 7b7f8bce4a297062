"""A jug of product that settles, and what it pours."""

from __future__ import annotations

import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from wetspan.drawing import AIR, STEM, Where, caution, panels, tidy
from wetspan.errors import only_for
from wetspan.jug import SHAKING


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
