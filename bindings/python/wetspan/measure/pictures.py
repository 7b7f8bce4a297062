"""Pictures of what was measured. Each returns a matplotlib figure, not yet shown, or draws on given axes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from wetspan.drawing import Where
from wetspan.measure.weighed_leaf import density
from wetspan.trials.plots import ACCENT, INK, MUTED, _drawing

if TYPE_CHECKING:
    from wetspan.measure.leaf import LeafResult

_GREEN, _PAPER_LEAF = "#24806f", "#b58a2e"


def leaf_picture(result: LeafResult, ax: Where = None) -> Figure:
    """Liquid left over time, weighed and foretold; wet times measured against foretold; residuals."""
    names = ("liquid left", "wet times", "residuals")
    with _drawing(ax, names, "LeafResult.plot", 12.5, 4.4, width_ratios=(1.5, 0.9, 1.1)) as drawn:
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
                label = None if kind in said or kind == "paper" else "foretold"
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
        most = 1.1 * float(table[["wet_upper", "foretold_upper"]].max().max())
        middle.plot([0, most], [0, most], color=MUTED, lw=1)
        for _, row in table.iterrows():
            colour = _GREEN if row["kind"] == "leaf" else _PAPER_LEAF
            middle.plot(
                [row["foretold_lower"], row["foretold_upper"]], [row["wet_time"]] * 2, color=colour, lw=1
            )
            middle.plot([row["foretold"]] * 2, [row["wet_lower"], row["wet_upper"]], color=colour, lw=2)
            middle.plot(row["foretold"], row["wet_time"], "o", ms=6, mfc=colour, mec=INK)
        middle.set(xlabel="wet time foretold [min]", ylabel="wet time measured [min]",
                   title=f"{100 * result.level:.3g} % intervals")  # fmt: skip
        right.axhline(0, color=ACCENT, lw=1)
        right.set(
            xlabel="after the first wet weighing [min]", ylabel="weighed less fitted [mg]", title="Residuals"
        )
    return figure
