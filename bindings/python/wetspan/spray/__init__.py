"""From the nozzle to the leaf and the card, each room by itself: what a scenario's spray is made of.

`nozzle` and `nozzle_chart` for pressure, pace and volume; `spectrum`, `size_class` and `size_classes` for
droplets; `fly`, `fly_classes` and `flight_paths` for what arrives and how; `impact_map` for what it does to a
leaf; `deposit` for where it comes to rest; `card` for what a card in the crop would show.
"""

from wetspan.spray.cards import SimulatedCard, card
from wetspan.spray.flights import flight_paths, fly, fly_classes
from wetspan.spray.impacts import impact_map, plot_impact
from wetspan.spray.landing import deposit
from wetspan.spray.nozzles import Nozzle, nozzle, nozzle_chart
from wetspan.spray.spectra import DropletSpectrum, size_class, size_classes, spectrum

__all__ = [
    "DropletSpectrum",
    "Nozzle",
    "SimulatedCard",
    "card",
    "deposit",
    "flight_paths",
    "fly",
    "fly_classes",
    "impact_map",
    "nozzle",
    "nozzle_chart",
    "plot_impact",
    "size_class",
    "size_classes",
    "spectrum",
]
