"""A card in the crop with the stains of the simulated spray, for comparison with a real card."""

from __future__ import annotations

import os
from dataclasses import dataclass
from textwrap import wrap

import numpy as np
import numpy.typing as npt
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from scipy import ndimage

from wetspan import _core
from wetspan.drawing import Where, panels
from wetspan.errors import InputError
from wetspan.plots import check_path
from wetspan.record import Moment
from wetspan.scenario import Scenario
from wetspan.spray.inputs import Amount, about, air_when_sprayed, default, require_spray, variable, whole
from wetspan.spray.landing import card_of, falling
from wetspan.spray.spectra import DropletSpectrum, for_cards
from wetspan.weather import Weather

_PAPER, _STAIN, _EDGE, _TEXT = (241, 238, 230), (58, 76, 94), "#b9b4a7", "#2b2b2b"
_INCH = 0.0254
_MARGIN, _PANEL = 0.008, 0.070  # m: around the card, and the width of the text beside it
_LEAST_HEIGHT = 0.064  # m: what the text needs
_ESTIMATE = "An estimate: lay cards in your own crop and compare."
_LETTERS = 46  # of a line of text beside the card
_AT_ONCE = 4_000_000  # pixels tested at a time


@dataclass(frozen=True, eq=False, repr=False)
class SimulatedCard:
    """One card as a simulated spray would stain it.

    droplets_per_cm2, covered
        Droplets whose stain is seen, and stained share [1], of this card.
    stains_per_cm2
        Separate stains on it, as one counts them by eye or from a scan: touching ones count as one.
    expected_droplets_per_cm2, expected_covered
        What cards show on average.
    deposit
        Liquid that fell on it [m, that is m3/m2].
    below
        Leaf layers above it.
    seed
        The same seed gives the same card on every machine.
    image
        DataArray over `y` and `x` [mm from the lower left corner]: True where stained.
    scenario, droplets
        What was sprayed.
    """

    droplets_per_cm2: float
    covered: float
    stains_per_cm2: float
    expected_droplets_per_cm2: float
    expected_covered: float
    deposit: float
    below: int
    seed: int
    image: xr.DataArray
    scenario: Scenario
    droplets: DropletSpectrum

    @property
    def text(self) -> str:
        """The card in plain lines."""
        return "\n".join(_lines(self))

    def plot(self, ax: Where = None) -> Figure:
        """Draw the card true to scale, its numbers beside it; on an Axes `ax` the card alone, in mm."""
        if ax is None:
            return _picture(self)
        figure, (paper,) = panels(ax, ("card",), list, "the picture of a card")
        _draw_card(paper, self)
        return figure

    def save(self, path: str | os.PathLike[str], dpi: int = 600) -> None:
        """Write the picture to a PNG, SVG or PDF file; printed at 100 % the card has its true size."""
        check_path(path)
        resolution = whole("dpi", dpi, 50, 2400)
        try:
            self.plot().savefig(path, dpi=resolution)
        except OSError as error:
            raise InputError(f"{os.fspath(path)}: cannot be written ({error.strerror})") from None

    def __str__(self) -> str:
        return self.text

    def __repr__(self) -> str:
        return f"SimulatedCard({self.droplets_per_cm2:.3g} droplets/cm2, {self.covered:.0%} covered)"


def card(
    scenario: Scenario,
    seed: int = 1,
    *,
    below: int = 0,
    droplets: DropletSpectrum | None = None,
    width: Amount | None = None,
    height: Amount | None = None,
    spread_factor: Amount | None = None,
    smallest_stain: Amount | None = None,
    pixel: Amount | None = None,
    weather: Weather | None = None,
    time: Moment | None = None,
) -> SimulatedCard:
    """Compute the picture of a level card in the crop after the spray.

    seed
        Determines the random places of the droplets.
    below
        Number of leaf layers above the card: 0 on top of the crop, up to canopy.layers under all leaves of a
        crown. Between crowns a card gets the same stains as on top.
    droplets
        A spectrum in place of the scenario's own, such as a measured one.
    width, height, spread_factor, smallest_stain
        Of the card: its size, "26 mm" by "76 mm"; the ratio of the diameters of stain and droplet (2, grade
        D; the leaflet of your cards may state it); the diameter of the smallest stain that is seen.
    pixel
        Size of a pixel of the image: "20 um".
    weather, time
        As for `ws.simulate`; without them the air is the constant air of the scenario.

    >>> ws.card(scenario, below=1).save("card.png")
    """
    require_spray(scenario)
    seeded = whole("seed", seed, 0, 2**64 - 1)
    layers_above = whole("below", below, 0, int(scenario["canopy.layers"]))
    paper = card_of(width, height, spread_factor, smallest_stain)
    wide, high = default("card.width", width), default("card.height", height)
    side = default("card.pixel", pixel)
    air, start = air_when_sprayed(scenario, weather, time)
    sprayed = for_cards(scenario) if droplets is None else droplets
    depth, arriving = falling(scenario, air, start, sprayed, layers_above)
    if depth > 0.0:
        expected = _core.read_card(arriving, depth, paper)
        density, coverage = expected.density, expected.coverage
        spots = _core.card_spots(arriving, depth, seeded, paper)
    else:
        density, coverage, spots = 0.0, 0.0, np.empty((0, 3))
    stained = _stained(spots, wide, high, side)
    on_card = (spots[:, 0] >= 0) & (spots[:, 0] < wide) & (spots[:, 1] >= 0) & (spots[:, 1] < high)
    area_cm2 = 1e4 * wide * high
    _, separate = ndimage.label(stained, structure=np.ones((3, 3)))
    rows, columns = stained.shape
    return SimulatedCard(
        droplets_per_cm2=int(on_card.sum()) / area_cm2,
        covered=float(stained.mean()),
        stains_per_cm2=separate / area_cm2,
        expected_droplets_per_cm2=1e-4 * density,
        expected_covered=coverage,
        deposit=depth,
        below=layers_above,
        seed=seeded,
        image=xr.DataArray(
            stained,
            dims=("y", "x"),
            coords={
                "y": (
                    "y",
                    (np.arange(rows) + 0.5) * 1e3 * high / rows,
                    variable("mm", "up from the lower left corner"),
                ),
                "x": (
                    "x",
                    (np.arange(columns) + 0.5) * 1e3 * wide / columns,
                    variable("mm", "right from the lower left corner"),
                ),
            },
            attrs=about(scenario, "Simulated, not a photograph.")
            | {"long_name": "stained", "droplets": sprayed.text, "seed": seeded, "below": layers_above},
        ),
        scenario=scenario,
        droplets=sprayed,
    )


def _stained(
    spots: npt.NDArray[np.float64], width: float, height: float, pixel: float
) -> npt.NDArray[np.bool_]:
    """Return which pixels have their middle in a stain; rows from the lower edge up."""
    rows, columns = max(1, round(height / pixel)), max(1, round(width / pixel))
    stained = np.zeros((rows, columns), dtype=bool)
    for radius in np.unique(spots[:, 2]):
        x, y = (spots[spots[:, 2] == radius, :2] * (columns / width, rows / height)).T
        r_x, r_y = radius * columns / width, radius * rows / height
        reach_x, reach_y = np.arange(-int(r_x) - 1, int(r_x) + 2), np.arange(-int(r_y) - 1, int(r_y) + 2)
        chunk = max(1, _AT_ONCE // (reach_x.size * reach_y.size))
        for first in range(0, x.size, chunk):
            at_x, at_y = x[first : first + chunk, None, None], y[first : first + chunk, None, None]
            column = np.floor(at_x).astype(int) + reach_x[None, None, :]
            row = np.floor(at_y).astype(int) + reach_y[None, :, None]
            inside = ((column + 0.5 - at_x) / r_x) ** 2 + ((row + 0.5 - at_y) / r_y) ** 2 <= 1.0
            inside &= (column >= 0) & (column < columns) & (row >= 0) & (row < rows)
            which, at_row, at_column = np.nonzero(inside)
            stained[row[which, at_row, 0], column[which, 0, at_column]] = True
    return stained


def _place(told: SimulatedCard) -> str:
    layers = int(told.scenario["canopy.layers"])
    if told.below == 0:
        return "on top of the crop"
    return "under all leaves" if told.below == layers else f"under {told.below} of {layers} leaf layers"


def _sprayed(told: SimulatedCard) -> str:
    title = f"{told.scenario.title}: " if told.scenario.title else ""
    half, span = 1e6 * told.droplets.dv50, told.droplets.relative_span
    volume = 1e3 * told.scenario["application.volume_rate"]
    return f"{title}{volume:.3g} L/m2 sprayed in droplets of Dv0.5 {half:.0f} um, relative span {span:.2g}"


def _lines(told: SimulatedCard) -> list[str]:
    return [
        f"Simulated card {_place(told)}, seed {told.seed}",
        _sprayed(told),
        f"{told.droplets_per_cm2:.3g} droplets/cm2 (expected {told.expected_droplets_per_cm2:.3g}); "
        f"{told.stains_per_cm2:.3g} separate stains/cm2",
        f"{100 * told.covered:.3g} % covered (expected {100 * told.expected_covered:.3g} %)",
        f"{1e3 * told.deposit:.3g} L/m2 fell on it",
        _ESTIMATE,
    ]


def _size(told: SimulatedCard) -> tuple[float, float]:
    """Return width and height of a card [m]."""
    wide, high = (1e-3 * float(told.image[axis][-1] + told.image[axis][0]) for axis in ("x", "y"))
    return wide, high


def _draw_card(paper: Axes, told: SimulatedCard) -> None:
    wide, high = _size(told)
    paper.imshow(
        np.where(told.image.values[..., None], _STAIN, _PAPER).astype(np.uint8),
        origin="lower",
        extent=(0.0, 1e3 * wide, 0.0, 1e3 * high),
        aspect="equal",
        interpolation="antialiased",
    )
    paper.set_axis_off()
    paper.add_patch(Rectangle((0, 0), 1e3 * wide, 1e3 * high, fill=False, edgecolor=_EDGE, linewidth=0.8))


def _picture(told: SimulatedCard) -> Figure:
    wide, high = _size(told)
    across, up = wide + 2 * _MARGIN + _PANEL, max(high, _LEAST_HEIGHT) + 2 * _MARGIN
    figure = Figure(figsize=(across / _INCH, up / _INCH), facecolor="white")
    paper = figure.add_axes(
        (_MARGIN / across, (up - _MARGIN - high) / up, wide / across, high / up), frameon=False
    )
    _draw_card(paper, told)
    panel = figure.add_axes(
        ((2 * _MARGIN + wide) / across, _MARGIN / up, (_PANEL - _MARGIN) / across, 1 - 2 * _MARGIN / up)
    )
    panel.set(xlim=(0, 1e3 * (_PANEL - _MARGIN)), ylim=(1e3 * (2 * _MARGIN - up), 0))  # mm
    panel.set_axis_off()
    numbers = [
        (f"{told.droplets_per_cm2:.3g} droplets / cm²", f"expected {told.expected_droplets_per_cm2:.3g}"),
        (f"{100 * told.covered:.3g} % covered", f"expected {100 * told.expected_covered:.3g} %"),
        (f"{told.stains_per_cm2:.3g} separate stains / cm²", "touching ones count as one"),
    ]
    at = 0.0
    for large, small in numbers:
        panel.text(0, -at, large, fontsize=11, fontweight="bold", color=_TEXT, va="top")
        panel.text(0, -at - 5.0, small, fontsize=7.5, color="0.35", va="top")
        at += 11.5
    say = [
        *wrap(f"Simulated card {_place(told)}, seed {told.seed}.", _LETTERS),
        *wrap(f"{_sprayed(told)}.", _LETTERS),
        *wrap(_ESTIMATE, _LETTERS),
    ]
    panel.text(0, -at - 1.0, "\n".join(say), fontsize=7.5, color=_TEXT, va="top", linespacing=1.35)
    bottom = 1e3 * (2 * _MARGIN - up) + 2.0
    panel.plot([0, 10], [bottom, bottom], color=_TEXT, linewidth=1.5, solid_capstyle="butt")
    panel.text(11, bottom, "10 mm, true to scale at 100 %", fontsize=7.5, color=_TEXT, va="center")
    return figure
