"""Greenhouse sprays of plant growth regulators: where the liquid goes, how long leaves stay wet, what is
taken up.

`load` or build a `Scenario`, `simulate` one spray, explain it with `why`, and `compare_times` over a day of
real weather. `sweep` and `uncertainty` show which inputs matter. `nozzle`, `fly`, `deposit` and `card` treat
the way to the leaf, `spray_bench`, `settle` and `mix` the evenness of the result, and `plan_trial`,
`read_trial` and `calibrate` trials. The tool estimates; it does not prescribe: the product label and local
regulations rule.

Values are text with a unit, pint quantities, arrays that state their unit, or bare numbers in SI. Modules are
loaded when they are first used.
"""

import importlib
import importlib.util
import sys
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from wetspan._core import __version__, air, water
    from wetspan.active import PublishedSet, active, actives, substrate, substrates
    from wetspan.batch import batch, batches
    from wetspan.bench import BenchResult, spray_bench
    from wetspan.cautions import CAUTIONS
    from wetspan.crop import Crop, load_crop
    from wetspan.day import compare_times
    from wetspan.draws import draw
    from wetspan.errors import InputError, IntegrationError
    from wetspan.house_air import house_air
    from wetspan.jug import pours, settle
    from wetspan.lazy import to_zarr
    from wetspan.names import from_cf, sections, to_cf
    from wetspan.outcome import Outcome
    from wetspan.parameters import parameters
    from wetspan.paths import slow_rows
    from wetspan.plots import plot_day, plot_outcome, plot_season
    from wetspan.printed import write_report
    from wetspan.product import Product
    from wetspan.rates import Equivalent, Rate, as_drench, as_spray, rate_for
    from wetspan.report import advice
    from wetspan.residue import residue_ends
    from wetspan.rewetting_gain import RewettingGain, compare_rewettings, rewetting_gain
    from wetspan.scenario import Scenario
    from wetspan.scenario_file import load
    from wetspan.season import best_windows, season, share_below
    from wetspan.sensitivity import sobol, uncertainty
    from wetspan.sensors import sensor_accuracy
    from wetspan.spray import (
        card,
        deposit,
        flight_paths,
        fly,
        fly_classes,
        impact_map,
        nozzle,
        nozzle_chart,
        size_class,
        size_classes,
        spectrum,
    )
    from wetspan.study import simulate, sweep
    from wetspan.tank import TankMix, applied, mix
    from wetspan.trials import (
        Calibration,
        TrialPlan,
        TrialResult,
        calibrate,
        plan_trial,
        read_trial,
    )
    from wetspan.weather import Weather, read_weather, sample_weather
    from wetspan.why import Why, why

#: What the package offers, by the module that it comes from.
_OFFERED = {
    "wetspan._core": "__version__ air water",
    "wetspan.active": "PublishedSet active actives substrate substrates",
    "wetspan.batch": "batch batches",
    "wetspan.bench": "BenchResult spray_bench",
    "wetspan.cautions": "CAUTIONS",
    "wetspan.crop": "Crop load_crop",
    "wetspan.day": "compare_times",
    "wetspan.draws": "draw",
    "wetspan.errors": "InputError IntegrationError",
    "wetspan.house_air": "house_air",
    "wetspan.jug": "pours settle",
    "wetspan.lazy": "to_zarr",
    "wetspan.names": "from_cf sections to_cf",
    "wetspan.outcome": "Outcome",
    "wetspan.parameters": "parameters",
    "wetspan.paths": "slow_rows",
    "wetspan.plots": "plot_day plot_outcome plot_season",
    "wetspan.printed": "write_report",
    "wetspan.product": "Product",
    "wetspan.rates": "Equivalent Rate as_drench as_spray rate_for",
    "wetspan.report": "advice",
    "wetspan.residue": "residue_ends",
    "wetspan.rewetting_gain": "RewettingGain compare_rewettings rewetting_gain",
    "wetspan.scenario": "Scenario",
    "wetspan.scenario_file": "load",
    "wetspan.season": "best_windows season share_below",
    "wetspan.sensitivity": "sobol uncertainty",
    "wetspan.sensors": "sensor_accuracy",
    "wetspan.spray": "card deposit flight_paths fly fly_classes impact_map nozzle nozzle_chart size_class "
    "size_classes spectrum",
    "wetspan.study": "simulate sweep",
    "wetspan.tank": "TankMix applied mix",
    "wetspan.trials": "Calibration TrialPlan TrialResult calibrate plan_trial read_trial",
    "wetspan.weather": "Weather read_weather sample_weather",
    "wetspan.why": "Why why",
}
_FROM = {name: module for module, names in _OFFERED.items() for name in names.split()}

__all__ = [
    "CAUTIONS",
    "BenchResult",
    "Calibration",
    "Crop",
    "Equivalent",
    "InputError",
    "IntegrationError",
    "Outcome",
    "Product",
    "PublishedSet",
    "Rate",
    "RewettingGain",
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
    "as_drench",
    "as_spray",
    "batch",
    "batches",
    "best_windows",
    "calibrate",
    "card",
    "compare_rewettings",
    "compare_times",
    "deposit",
    "draw",
    "flight_paths",
    "fly",
    "fly_classes",
    "from_cf",
    "house_air",
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
    "plot_season",
    "pours",
    "rate_for",
    "read_trial",
    "read_weather",
    "residue_ends",
    "rewetting_gain",
    "sample_weather",
    "season",
    "sections",
    "sensor_accuracy",
    "settle",
    "share_below",
    "simulate",
    "size_class",
    "size_classes",
    "slow_rows",
    "sobol",
    "spectrum",
    "spray_bench",
    "substrate",
    "substrates",
    "sweep",
    "to_cf",
    "to_zarr",
    "uncertainty",
    "water",
    "why",
    "write_report",
]


def __getattr__(name: str) -> Any:
    """Load what is asked for: a name that is offered, or a module of the package."""
    if name in _FROM:
        found = getattr(importlib.import_module(_FROM[name]), name)
        globals()[name] = found
        return found
    if not name.startswith("__") and importlib.util.find_spec(f"{__name__}.{name}") is not None:
        return importlib.import_module(f"{__name__}.{name}")
    raise AttributeError(f"module 'wetspan' has no attribute '{name}'")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})


class _Package(ModuleType):
    """The package, in which `batch` stays the function although a module of that name is loaded."""

    def __setattr__(self, name: str, value: object) -> None:
        if isinstance(value, ModuleType) and _FROM.get(name) == value.__name__:
            value = getattr(value, name)
        super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package
