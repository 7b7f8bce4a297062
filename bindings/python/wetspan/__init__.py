"""Greenhouse sprays of plant growth regulators: how they land, how long leaves stay wet, what is taken up.

`load` or build a `Scenario`, `simulate` one spray, `compare_times` over a day of real weather, `sweep` and
`uncertainty` for what matters. The tool estimates; it does not prescribe: the product label and local
regulations rule.
"""

from wetspan._core import __version__, air, water
from wetspan.errors import InputError, IntegrationError
from wetspan.outcome import Outcome
from wetspan.parameters import parameters
from wetspan.report import CAUTIONS
from wetspan.scenario import Scenario, load
from wetspan.study import compare_times, simulate, sweep, uncertainty
from wetspan.weather import Weather, read_weather, sample_weather

__all__ = [
    "CAUTIONS",
    "InputError",
    "IntegrationError",
    "Outcome",
    "Scenario",
    "Weather",
    "__version__",
    "air",
    "compare_times",
    "load",
    "parameters",
    "read_weather",
    "sample_weather",
    "simulate",
    "sweep",
    "uncertainty",
    "water",
]
