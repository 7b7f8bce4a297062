"""Greenhouse sprays of plant growth regulators: how they land, how long leaves stay wet, what is taken up.

`load` or build a `Scenario`, `simulate` one spray, ask `why`, `compare_times` over a day of real weather,
`sweep` and `uncertainty` for what matters; `nozzle`, `fly`, `deposit` and `card` for the way to the leaf;
`spray_bench`, `settle` and `mix` for even results; `plan_trial`, `read_trial` and `calibrate` for whether it
worked. The tool estimates; it does not prescribe: the product label and local
regulations rule.
"""

from wetspan._core import __version__, air, water
from wetspan.active import PublishedSet, active, actives, substrate, substrates
from wetspan.batch import batch, batches
from wetspan.bench import BenchResult, spray_bench
from wetspan.errors import InputError, IntegrationError
from wetspan.jug import pours, settle
from wetspan.outcome import Outcome
from wetspan.parameters import parameters
from wetspan.plots import plot_day, plot_outcome
from wetspan.product import Product
from wetspan.report import CAUTIONS, advice
from wetspan.scenario import Scenario, load
from wetspan.spray import (
    card,
    deposit,
    fly,
    fly_classes,
    impact_map,
    nozzle,
    nozzle_chart,
    size_class,
    size_classes,
    spectrum,
)
from wetspan.study import compare_times, simulate, sweep, uncertainty
from wetspan.tank import TankMix, applied, mix
from wetspan.trials import (
    Calibration,
    Crop,
    TrialPlan,
    TrialResult,
    calibrate,
    load_crop,
    plan_trial,
    read_trial,
)
from wetspan.weather import Weather, read_weather, sample_weather
from wetspan.why import Why, why

__all__ = [
    "CAUTIONS",
    "BenchResult",
    "Calibration",
    "Crop",
    "InputError",
    "IntegrationError",
    "Outcome",
    "Product",
    "PublishedSet",
    "Scenario",
    "TankMix",
    "TrialPlan",
    "TrialResult",
    "Weather",
    "Why",
    "__version__",
    "active",
    "actives",
    "advice",
    "air",
    "applied",
    "batch",
    "batches",
    "calibrate",
    "card",
    "compare_times",
    "deposit",
    "fly",
    "fly_classes",
    "impact_map",
    "load",
    "load_crop",
    "mix",
    "nozzle",
    "nozzle_chart",
    "parameters",
    "plan_trial",
    "plot_day",
    "plot_outcome",
    "pours",
    "read_trial",
    "read_weather",
    "sample_weather",
    "settle",
    "simulate",
    "size_class",
    "size_classes",
    "spectrum",
    "spray_bench",
    "substrate",
    "substrates",
    "sweep",
    "uncertainty",
    "water",
    "why",
]
