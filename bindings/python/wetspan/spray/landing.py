"""Where a spray comes to rest: droplets and wetted share by leaf layer and side, and on cards in the crop."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
import xarray as xr

from wetspan import _core
from wetspan.cautions import CAUTIONS
from wetspan.record import Moment
from wetspan.scenario import Scenario
from wetspan.spray.inputs import (
    Amount,
    about,
    air_when_sprayed,
    default,
    require_spray,
    variable,
)
from wetspan.spray.spectra import DropletSpectrum, for_cards, spectrum
from wetspan.weather import Weather

#: Dimensions, values and attributes of a variable of a dataset.
Variable: TypeAlias = tuple[str | tuple[str, ...], npt.ArrayLike, dict[str, object]]

_PER_CM2 = 1e-4
_SIDES = ("upper", "lower")
_COMMENT = (
    "Droplets are counted as they land, before neighbours merge; the wetted share counts overlaps once. The "
    "lower side's share of the deposit is an assumption (retention.underleaf, grade D). Cards lie level "
    f"inside crowns and leave out drip from leaves. {CAUTIONS}"
)


def deposit(
    scenario: Scenario,
    *,
    droplets: DropletSpectrum | None = None,
    spread_factor: Amount | None = None,
    smallest_stain: Amount | None = None,
    weather: Weather | None = None,
    time: Moment | None = None,
) -> xr.Dataset:
    """Return where a spray comes to rest, by leaf layer, by side, and on cards.

    droplets
        A spectrum in place of the scenario's own, such as a measured one.
    spread_factor, smallest_stain
        Of the cards: the ratio of the diameters of stain and droplet, and the diameter of the smallest stain
        seen.
    weather, time
        As for `ws.simulate`; without them the air is the constant air of the scenario.

    Returns
    -------
    Dataset with

    - along `layer` (1 is the top): leaf_area, interception [1], liquid and run_off [L m-2 of bench]; for the
      stems and petioles in that layer stem_area, stem_caught, stem_liquid and stem_run_off;
    - along `layer` and `side` (upper, lower): deposit [L m-2 of leaf], droplet_density [cm-2], wet_share [1];
    - along `layer` and `bin`, for the droplets that stayed: droplet_diameter [um] and volume_share [1];
    - along `below`, the number of leaf layers above a card (0 lies on top of the crop): card_deposit [L m-2],
      card_density [cm-2] and card_coverage [1];
    - along `target`: split [1] of the sprayed volume; and shattered, rebounded [1].

    >>> ws.deposit(scenario).wet_share.to_pandas()
    """
    require_spray(scenario)
    air, start = air_when_sprayed(scenario, weather, time)
    sprayed = for_cards(scenario) if droplets is None else droplets
    as_simulated = spectrum(scenario, bins=int(scenario["droplets.bins"])) if droplets is None else droplets
    landing = _core.land(scenario._held, air, start, as_simulated.core)
    paper = card_of(spread_factor=spread_factor, smallest_stain=smallest_stain)
    cards = np.array(
        [
            reading(scenario, air, start, sprayed, paper, below)
            for below in range(int(scenario["canopy.layers"]) + 1)
        ]
    )
    names, shares = zip(*landing.split, strict=True)
    return xr.Dataset(
        {
            **_by_layer(landing.layers),
            **_by_side(scenario, landing.layers),
            **_droplets(landing.layers),
            **_on_cards(cards),
            "split": ("target", list(shares), variable("1", "share of the sprayed volume")),
            "shattered": (
                (),
                landing.shattered,
                variable("1", "volume that left leaves in pieces, over the sprayed"),
            ),
            "rebounded": (
                (),
                landing.rebounded,
                variable("1", "volume that bounced off leaves, over the sprayed"),
            ),
        },
        coords={
            "layer": (
                "layer",
                np.arange(1, len(landing.layers) + 1),
                {"long_name": "leaf layer from the top down"},
            ),
            "side": ("side", list(_SIDES), {"long_name": "side of the leaf"}),
            "below": ("below", np.arange(len(cards)), {"long_name": "leaf layers above the card"}),
            "target": ("target", list(names), {"long_name": "where the sprayed liquid ends up"}),
        },
        attrs=about(scenario, _COMMENT) | {"droplets": sprayed.text},
    )


def _by_layer(layers: Sequence[_core.LeafLayer]) -> dict[str, Variable]:
    """Return leaves and stems of each layer, and their liquid per area of bench."""
    litres = "L m-2"
    columns: dict[str, tuple[list[float], str, str]] = {
        "leaf_area": ([each.area for each in layers], "1", "one-sided leaf area per area of bench"),
        "interception": (
            [each.interception for each in layers],
            "1",
            "share of what passes inside crowns that meets a leaf",
        ),
        "liquid": ([1e3 * each.liquid for each in layers], litres, "liquid on leaves per area of bench"),
        "run_off": (
            [1e3 * each.run_off for each in layers],
            litres,
            "liquid that ran off leaves per area of bench",
        ),
        "stem_area": (
            [each.stem.area for each in layers],
            "1",
            "lateral area of stems and petioles per area of bench",
        ),
        "stem_caught": (
            [1e3 * each.stem.caught for each in layers],
            litres,
            "liquid of droplets that hit stems, per area of bench",
        ),
        "stem_liquid": (
            [1e3 * each.stem.liquid for each in layers],
            litres,
            "liquid that stayed on stems per area of bench",
        ),
        "stem_run_off": (
            [1e3 * each.stem.run_off for each in layers],
            litres,
            "liquid that ran down to the stem below or the substrate, per area of bench",
        ),
    }
    return {
        name: ("layer", values, variable(units, long_name))
        for name, (values, units, long_name) in columns.items()
    }


def _by_side(scenario: Scenario, layers: Sequence[_core.LeafLayer]) -> dict[str, Variable]:
    """Return the deposit on each side of the leaves of each layer."""
    lower = scenario["retention.underleaf"]
    depths, density, wet = np.zeros((3, len(layers), len(_SIDES)))
    for i, layer in enumerate(layers):
        for j, share in enumerate((1.0 - lower, lower)):
            depth = share * layer.liquid / layer.area
            if depth > 0.0:
                depths[i, j] = depth
                density[i, j] = _core.droplet_density(layer.droplets, depth).sum()
                wet[i, j] = _core.leaf_coverage(layer.droplets, depth, scenario["leaf.contact_angle"])
    along = ("layer", "side")
    return {
        "deposit": (along, 1e3 * depths, variable("L m-2", "liquid per one-sided leaf area")),
        "droplet_density": (along, _PER_CM2 * density, variable("cm-2", "droplets per leaf area")),
        "wet_share": (along, wet, variable("1", "wetted share of the leaf's side")),
    }


def _droplets(layers: Sequence[_core.LeafLayer]) -> dict[str, Variable]:
    """Return the droplets that stayed in each layer; NaN beyond the bins that it has."""
    size = max(1, *(layer.droplets.diameter.size for layer in layers))
    diameter, volume = np.full((2, len(layers), size), math.nan)
    for i, layer in enumerate(layers):
        count = layer.droplets.diameter.size
        diameter[i, :count], volume[i, :count] = layer.droplets.diameter * 1e6, layer.droplets.volume_share
    along = ("layer", "bin")
    return {
        "droplet_diameter": (along, diameter, variable("um", "diameter of the droplets")),
        "volume_share": (along, volume, variable("1", "share of the layer's liquid")),
    }


def _on_cards(cards: npt.NDArray[np.float64]) -> dict[str, Variable]:
    """Return what cards below so many layers read: rows of liquid, density and coverage."""
    return {
        "card_deposit": ("below", 1e3 * cards[:, 0], variable("L m-2", "liquid per area of card")),
        "card_density": (
            "below",
            _PER_CM2 * cards[:, 1],
            variable("cm-2", "droplets that leave a stain, per area of card"),
        ),
        "card_coverage": ("below", cards[:, 2], variable("1", "stained share of the card")),
    }


def card_of(
    width: Amount | None = None,
    height: Amount | None = None,
    spread_factor: Amount | None = None,
    smallest_stain: Amount | None = None,
) -> _core.Card:
    """Return a card in SI."""
    return _core.Card(
        default("card.width", width),
        default("card.height", height),
        default("card.spread_factor", spread_factor),
        default("card.smallest_stain", smallest_stain),
    )


def falling(
    scenario: Scenario, air: _core.CropAir, start: float, droplets: DropletSpectrum, below: int
) -> tuple[float, _core.Spectrum]:
    """Return what falls on a level card below so many leaf layers [m of liquid], and its droplets."""
    passing = _core.falling_below(scenario._held, air, start, droplets.core, below)
    return passing.share * scenario["application.volume_rate"], passing.droplets


def reading(
    scenario: Scenario,
    air: _core.CropAir,
    start: float,
    droplets: DropletSpectrum,
    paper: _core.Card,
    below: int,
) -> tuple[float, float, float]:
    """Return a card's liquid [m], and the density [1/m2] and coverage [1] that are expected of it."""
    depth, arriving = falling(scenario, air, start, droplets, below)
    if depth <= 0.0:
        return 0.0, 0.0, 0.0
    card = _core.read_card(arriving, depth, paper)
    return depth, card.density, card.coverage
