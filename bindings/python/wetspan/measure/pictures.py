"""Pictures of what was measured. Each returns a matplotlib figure, not yet shown, or draws on given axes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

from wetspan.drawing import ACCENT, INK, MUTED, Where, styled_panels
from wetspan.measure.weighed_leaf import density

if TYPE_CHECKING:
    from wetspan.measure.leaf import LeafResult
    from wetspan.measure.pots import PotsResult
    from wetspan.measure.wash import WashResult

_GREEN, _PAPER_LEAF = "#24806f", "#b58a2e"


def leaf_picture(result: LeafResult, ax: Where = None) -> Figure:
    """Liquid left over time, weighed and predicted; wet times measured against predicted; residuals."""
    names = ("liquid left", "wet times", "residuals")
    with styled_panels(ax, names, "LeafResult.plot", 12.5, 4.4, width_ratios=(1.5, 0.9, 1.1)) as drawn:
        figure, (left, middle, right) = drawn
        said: set[str] = set()
        for kind, fit in result.fits.items():
            colour = _GREEN if kind == "leaf" else _PAPER_LEAF
            for i, model in enumerate(fit.leaves):
                leaf, own = model.leaf, fit.own(i)
                time = leaf.time[leaf.wet]
                full = leaf.area * density(leaf) * np.exp(own[0])
                weighed = (leaf.mass[leaf.wet] - own[3] - own[4] * time) / full
                fine = np.linspace(0, time[-1], 200)
                label = None if kind in said else f"{kind} weighed"
                left.plot(time / 60, 100 * weighed, "o", ms=3, color=colour, alpha=0.7, label=label)
                fitted = model.course(fit.shared_of(i), float(np.exp(own[0])), fine).left
                left.plot(fine / 60, 100 * fitted, color=colour, lw=1.2)
                told = model.course(model.start, float(np.exp(own[0])), fine).left
                label = None if kind in said or kind == "paper" else "predicted"
                left.plot(fine / 60, 100 * told, color=MUTED, lw=1, ls=(0, (4, 3)), label=label)
                right.plot(time / 60, 1e6 * fit.residuals[i][leaf.wet], ".", ms=4, color=colour)
                said.add(kind)
        left.axhline(0, color=MUTED, lw=0.8)
        left.set(
            xlabel="after the first wet weighing [min]",
            ylabel="liquid left [%]",
            title="Dots weighed, lines fitted",
        )
        left.legend()
        table = result.table
        most = 1.1 * float(table[["wet_upper", "predicted_upper"]].max().max())
        middle.plot([0, most], [0, most], color=MUTED, lw=1)
        for _, row in table.iterrows():
            colour = _GREEN if row["kind"] == "leaf" else _PAPER_LEAF
            middle.plot(
                [row["predicted_lower"], row["predicted_upper"]], [row["wet_time"]] * 2, color=colour, lw=1
            )
            middle.plot([row["predicted"]] * 2, [row["wet_lower"], row["wet_upper"]], color=colour, lw=2)
            middle.plot(row["predicted"], row["wet_time"], "o", ms=6, mfc=colour, mec=INK)
        middle.set(xlabel="wet time predicted [min]", ylabel="wet time measured [min]",
                   title=f"{100 * result.level:.3g} % intervals")  # fmt: skip
        right.axhline(0, color=ACCENT, lw=1)
        right.set(
            xlabel="after the first wet weighing [min]", ylabel="weighed less fitted [mg]", title="Residuals"
        )
    return figure


def pots_picture(result: PotsResult, ax: Where = None) -> Figure:
    """Shares of the spray, measured and predicted; inputs before and after, over what was assumed."""
    with styled_panels(ax, ("split", "inputs"), "PotsResult.plot", 10.5, 4.2, width_ratios=(1.3, 1)) as drawn:
        figure, (left, right) = drawn
        table = result.table
        for i, (_, row) in enumerate(table.iterrows()):
            left.plot(
                [100 * row["predicted_lower"], 100 * row["predicted_upper"]],
                [i + 0.15] * 2,
                color=MUTED,
                lw=5,
            )
            left.plot(100 * row["predicted"], i + 0.15, "|", ms=13, color=INK)
            left.plot([100 * row["lower"], 100 * row["upper"]], [i - 0.15] * 2, color=_GREEN, lw=2)
            left.plot(100 * row["measured"], i - 0.15, "o", ms=7, color=_GREEN)
        left.set_yticks(range(len(table)), [str(name) for name in table.index])
        left.invert_yaxis()
        left.set(
            xlabel="of the spray [%]", title=f"Measured (dot), predicted (bar), {100 * result.level:.3g} %"
        )
        _draw_inputs(right, result.inputs)
    return figure


def _draw_inputs(ax: Axes, inputs: pd.DataFrame) -> None:
    """Inputs over their value before, with intervals before (bar) and after (dot)."""
    for i, (_, row) in enumerate(inputs.iterrows()):
        ax.plot(
            [row["prior_lower"] / row["prior"], row["prior_upper"] / row["prior"]], [i] * 2, color=MUTED, lw=5
        )
        ax.plot([row["lower"] / row["prior"], row["upper"] / row["prior"]], [i] * 2, color=ACCENT, lw=2)
        ax.plot(row["value"] / row["prior"], i, "o", ms=7, color=ACCENT)
    ax.set_yticks(range(len(inputs)), [str(name).split(".")[1].replace("_", " ") for name in inputs.index])
    ax.set_xscale("log")
    _plain_ticks(ax.xaxis)
    ax.invert_yaxis()
    ax.set(xlabel="over the value assumed before", title="Inputs before (bar) and after (dot)")


def _plain_ticks(axis: Axis) -> None:
    """Ticks of a logarithmic axis as plain numbers."""
    axis.set_major_locator(FixedLocator([0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100]))
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axis.set_minor_locator(NullLocator())


def wash_picture(result: WashResult, ax: Where = None) -> Figure:
    """Deposit left over time; the joint posterior of mobile share and rate; what wet minutes are worth."""
    with styled_panels(ax, ("left", "posterior", "worth"), "WashResult.plot", 12.5, 4.2) as drawn:
        figure, (left, middle, right) = drawn
        model, table = result.model, result.table
        hours = np.linspace(0.0, 1.1 * float(table["hours"].max()), 120)
        best = model.logs[int(np.argmax(result.weights))]
        for logs, style, label in ((best, "-", "fitted"), (model.center, "--", "predicted")):
            course = model.left(logs, 3600 * hours, False, False)[0]
            left.plot(hours, 100 * course, style, color=_GREEN if style == "-" else MUTED, label=label)
        for row in table.to_dict("records"):
            colour = _PAPER_LEAF if row["surface"] == "glass" else _GREEN
            mark = "s" if row["rewetted"] else "o"
            left.plot([row["hours"]] * 2, [100 * row["lower"], 100 * row["upper"]], color=colour, lw=1.5)
            left.plot(row["hours"], 100 * row["left"], mark, ms=7, color=colour)
        left.set(
            xlabel="after the spray [h]",
            ylabel="still to be washed off [%]",
            title="Washed (dots) and fitted",
        )
        left.set_ylim(bottom=0)
        if (table["surface"] == "glass").any():
            left.plot([], [], "o", color=_PAPER_LEAF, label="glass")
        left.legend()
        joint = result.weights.reshape(model.shape).sum(axis=2).T
        share, rate = 100 * np.exp(model.axes[0]), 86400 * np.exp(model.axes[1])
        middle.contourf(share, rate, joint, levels=8, cmap="Greens")
        middle.plot(100 * np.exp(model.center[0]), 86400 * np.exp(model.center[1]), "+", ms=12, color=ACCENT)
        middle.set(xscale="log", yscale="log", xlabel="mobile share [%]", ylabel="mobile rate [1/day]",
                   title="What is left possible (+: before)")  # fmt: skip
        _plain_ticks(middle.xaxis)
        _plain_ticks(middle.yaxis)
        for i, when in enumerate(("before", "after")):
            rows = result.worth[result.worth["when"] == when]
            gain = 100 * rows["gain"].to_numpy(dtype=float)
            right.plot([gain[0], gain[2]], [i, i], color=MUTED if when == "before" else ACCENT, lw=5)
            right.plot(gain[1], i, "o", ms=8, color=INK)
        right.set_yticks([0, 1], ["before", "after"])
        right.set_ylim(1.6, -0.6)
        short, long = (each / 60 for each in result.wet_times)
        right.set(xlabel="more growth control [%]", title=f"{long:.0f} instead of {short:.0f} wet minutes")
    return figure
