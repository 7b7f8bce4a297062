"""What pictures share: axes, colours that can be told apart in grey, style, and the caution below them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, TypeAlias

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from wetspan.cautions import SHORT_CAUTION
from wetspan.errors import InputError

#: Axes of one's own to draw on: one, or as many as a picture has panels. None: a new figure.
Where: TypeAlias = "Axes | Iterable[Axes] | None"

#: The sites of uptake, and air and light. In grey the sites differ by LEAST_STEP or more.
LEAF, STEM, ROOT, AIR, SUN = "#1f5a3c", "#bd7a36", "#cfc6e8", "#2f6f9f", "#e0b84c"
#: Least difference in lightness (CIE L*, 0 black to 100 white) between areas that lie side by side. Grade D.
LEAST_STEP = 20.0
#: What marks a site besides its colour: hatching of areas.
HATCHES = {LEAF: "", STEM: "////", ROOT: "...."}
#: Pictures of plants that were measured: lines and text, what stands back, the page, what is pointed at.
INK, MUTED, PAPER, ACCENT = "#22302b", "#7d8a84", "#fbfaf6", "#b4532a"
_STYLE: Any = {
    "figure.facecolor": PAPER, "axes.facecolor": PAPER, "font.size": 10,
    "axes.edgecolor": MUTED, "axes.labelcolor": INK, "text.color": INK, "xtick.color": INK,
    "ytick.color": INK, "axes.spines.top": False, "axes.spines.right": False, "axes.titlesize": 11,
    "axes.titlelocation": "left", "legend.frameon": False,
}  # fmt: skip


def panels(
    ax: Where, names: Sequence[str], own: Callable[[], Sequence[Axes]], picture: str
) -> tuple[Figure, list[Axes]]:
    """Return the axes to draw a picture's panels on, in the order of their `names`, and their figure.

    `own` makes them where the user gives none. As many are wanted as there are panels.
    """
    if ax is None:
        drawn_on = list(own())
    else:
        drawn_on = list(np.ravel(np.asarray(ax, dtype=object)))
        if not all(isinstance(each, Axes) for each in drawn_on):
            raise InputError(f"{picture}: ax is matplotlib's Axes, one for each panel: {', '.join(names)}")
        if len(drawn_on) != len(names):
            wanted = f"{len(names)} panel{'s' if len(names) > 1 else ''} ({', '.join(names)})"
            raise InputError(f"{picture} draws {wanted}; ax has {len(drawn_on)}")
    figure = drawn_on[0].get_figure(root=True)
    assert isinstance(figure, Figure)
    return figure, drawn_on


def caution(figure: Figure) -> None:
    """Write the short caution under a figure, once, and not where its owner has a label there."""
    if not figure.get_supxlabel():
        figure.supxlabel(SHORT_CAUTION, x=0.01, ha="left", fontsize="x-small", color="0.25")


def tidy(*several: Axes) -> None:
    """Leave of a frame what is needed, with a light grid of values behind."""
    for axes in several:
        axes.spines[["top", "right"]].set_visible(False)
        axes.grid(axis="y", color="0.9")
        axes.set_axisbelow(True)


def lightness(colour: str | tuple[float, float, float]) -> float:
    """Return what a colour is in grey: CIE 1976 L*, from 0, black, to 100, white.

    From sRGB (IEC 61966-2-1) through the luminance Y of its primaries.
    """
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in to_rgb(colour)]
    luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    return 116.0 * luminance ** (1 / 3) - 16.0 if luminance > 216 / 24389 else 24389 / 27 * luminance


@contextmanager
def styled_panels(
    ax: Where, names: Sequence[str], picture: str, width: float, height: float, **layout: Any
) -> Iterator[tuple[Figure, list[Axes]]]:
    """The panels of a picture, on a figure of that size [in] in the house style where the user gives none."""

    def own() -> list[Axes]:
        figure = Figure(figsize=(width, height), layout="constrained")
        return list(figure.subplots(1, len(names), squeeze=False, **layout).flat)

    with mpl.rc_context(_STYLE):
        figure, axes = panels(ax, names, own, picture)
        yield figure, axes
        caution(figure)


def two_panels(*, sharex: bool) -> list[Axes]:
    """Return the panels of a new figure, one above the other."""
    return list(Figure(figsize=(8.0, 6.6), layout="constrained").subplots(2, 1, sharex=sharex))


def under_each_other(above: Axes, below: Axes) -> bool:
    """Return whether two panels share their horizontal axis."""
    return above.get_shared_x_axes().joined(above, below)
