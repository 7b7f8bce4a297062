"""From the nozzle to the leaf and the card, one function for each step of a scenario's spray.

`nozzle` and `nozzle_chart` relate pressure, pace and volume; `spectrum`, `size_class` and `size_classes`
describe droplets; `fly`, `fly_classes` and `flight_paths` compute their flight; `impact_map` shows what they
do to a leaf; `deposit` computes where they come to rest; `card` computes what a card in the crop would show.
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
