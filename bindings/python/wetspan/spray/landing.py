"""Where a spray comes to rest: droplets and wetted share by leaf layer and side, and on cards in the crop."""

from __future__ import annotations

import math

import numpy as np
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
from wetspan.spray.spectra import DropletSpectrum, spectrum
from wetspan.weather import Weather

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
    """Return where a spray comes to rest, by leaf layer, side, and on cards.

    droplets
        A spectrum instead of the scenario's own, such as a measured one.
    spread_factor, smallest_stain
        Of the cards: stain over droplet diameter, and what stains are seen.
    weather, time
        As for `ws.simulate`; without them in the unchanging air of the scenario.

    Returns
    -------
    Dataset. Along `layer` (1 is the top): leaf_area, interception [1], liquid and run_off [L m-2 of bench].
    The same of the stems and petioles in that layer: stem_area, stem_caught, stem_liquid and stem_run_off.
    Along `layer` and `side` (upper, lower): deposit [L m-2 of leaf], droplet_density [cm-2], wet_share [1].
    Along `layer` and `bin`: the droplets that stayed, droplet_diameter [um] and volume_share [1]. Along
    `below` (leaf layers above a card; 0 lies on top of the crop): card_deposit [L m-2], card_density [cm-2]
    and card_coverage [1]. Along `target`: split [1] of the sprayed volume. And shattered, rebounded [1].

    >>> ws.deposit(scenario).wet_share.to_pandas()
    """
    require_spray(scenario)
    air, start = air_when_sprayed(scenario, weather, time)
    sprayed = spectrum(scenario) if droplets is None else droplets
    as_simulated = spectrum(scenario, bins=int(scenario["droplets.bins"])) if droplets is None else droplets
    landing = _core.land(scenario._held, air, start, as_simulated.core)
    layers = landing.layers
    lower = scenario["retention.underleaf"]
    leaf = {name: np.zeros((len(layers), 2)) for name in ("deposit", "droplet_density", "wet_share")}
    for i, layer in enumerate(layers):
        for j, share in enumerate((1.0 - lower, lower)):
            depth = share * layer.liquid / layer.area
            if depth > 0.0:
                leaf["deposit"][i, j] = depth
                leaf["droplet_density"][i, j] = _core.droplet_density(layer.droplets, depth).sum()
                leaf["wet_share"][i, j] = _core.leaf_coverage(
                    layer.droplets, depth, scenario["leaf.contact_angle"]
                )
    size = max(1, *(layer.droplets.diameter.size for layer in layers))
    diameter, volume = np.full((2, len(layers), size), math.nan)
    for i, layer in enumerate(layers):
        count = layer.droplets.diameter.size
        diameter[i, :count], volume[i, :count] = layer.droplets.diameter * 1e6, layer.droplets.volume_share
    paper = card_of(spread_factor=spread_factor, smallest_stain=smallest_stain)
    cards = np.array(
        [
            reading(scenario, air, start, sprayed, paper, below)
            for below in range(int(scenario["canopy.layers"]) + 1)
        ]
    )
    names, shares = zip(*landing.split, strict=True)
    per_bench, per_leaf = ("layer",), ("layer", "side")
    return xr.Dataset(
        {
            "leaf_area": (
                per_bench,
                [layer.area for layer in layers],
                variable("1", "one-sided leaf area per area of bench"),
            ),
            "interception": (
                per_bench,
                [layer.interception for layer in layers],
                variable("1", "share of what passes inside crowns that meets a leaf"),
            ),
            "liquid": (
                per_bench,
                [1e3 * layer.liquid for layer in layers],
                variable("L m-2", "liquid on leaves per area of bench"),
            ),
            "run_off": (
                per_bench,
                [1e3 * layer.run_off for layer in layers],
                variable("L m-2", "liquid that ran off leaves per area of bench"),
            ),
            "stem_area": (
                per_bench,
                [layer.stem.area for layer in layers],
                variable("1", "lateral area of stems and petioles per area of bench"),
            ),
            "stem_caught": (
                per_bench,
                [1e3 * layer.stem.caught for layer in layers],
                variable("L m-2", "liquid of droplets that hit stems, per area of bench"),
            ),
            "stem_liquid": (
                per_bench,
                [1e3 * layer.stem.liquid for layer in layers],
                variable("L m-2", "liquid that stayed on stems per area of bench"),
            ),
            "stem_run_off": (
                per_bench,
                [1e3 * layer.stem.run_off for layer in layers],
                variable(
                    "L m-2", "liquid that ran down to the stem below or the substrate, per area of bench"
                ),
            ),
            "deposit": (
                per_leaf,
                1e3 * leaf["deposit"],
                variable("L m-2", "liquid per one-sided leaf area"),
            ),
            "droplet_density": (
                per_leaf,
                _PER_CM2 * leaf["droplet_density"],
                variable("cm-2", "droplets per leaf area"),
            ),
            "wet_share": (per_leaf, leaf["wet_share"], variable("1", "wetted share of the leaf's side")),
            "droplet_diameter": (("layer", "bin"), diameter, variable("um", "diameter of the droplets")),
            "volume_share": (("layer", "bin"), volume, variable("1", "share of the layer's liquid")),
            "card_deposit": ("below", 1e3 * cards[:, 0], variable("L m-2", "liquid per area of card")),
            "card_density": (
                "below",
                _PER_CM2 * cards[:, 1],
                variable("cm-2", "droplets that leave a stain, per area of card"),
            ),
            "card_coverage": ("below", cards[:, 2], variable("1", "stained share of the card")),
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
            "layer": ("layer", np.arange(1, len(layers) + 1), {"long_name": "leaf layer from the top down"}),
            "side": ("side", list(_SIDES), {"long_name": "side of the leaf"}),
            "below": ("below", np.arange(len(cards)), {"long_name": "leaf layers above the card"}),
            "target": ("target", list(names), {"long_name": "where the sprayed liquid ends up"}),
        },
        attrs=about(scenario, _COMMENT) | {"droplets": sprayed.text},
    )


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
    share, arriving = _core.falling(scenario._held, air, start, droplets.core, below)
    return share * scenario["application.volume_rate"], arriving


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
    return (depth, *_core.read_card(arriving, depth, paper)) if depth > 0.0 else (0.0, 0.0, 0.0)
