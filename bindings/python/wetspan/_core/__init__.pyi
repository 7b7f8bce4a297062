"""
wetspan's C++ core. Import wetspan instead: it wraps this module with units, files and tables.
"""
from __future__ import annotations
import collections.abc
import numpy
import numpy.typing
import typing
from . import air
from . import water
__all__: list[str] = ['CropAir', 'Outdoor', 'Parameter', 'Scenario', 'air', 'air_at_crop', 'jug_parameters', 'jug_pours', 'jug_spread', 'outcome_variables', 'parameters', 'sections', 'settle_jug', 'simulate', 'simulate_all', 'steady_air', 'suspensibility', 'water']
class Parameter:
    """
    One row of the table of inputs.
    """
    @property
    def choices(self) -> list[str]:
        """
        names, for a choice
        """
    @property
    def grade(self) -> str:
        """
        evidence: A measured, B published formula, C calibrated, D assumption
        """
    @property
    def high(self) -> float:
        """
        most allowed
        """
    @property
    def key(self) -> str:
        """
        section.name
        """
    @property
    def kind(self) -> str:
        """
        number, count, toggle or choice
        """
    @property
    def low(self) -> float:
        """
        least allowed
        """
    @property
    def meaning(self) -> str:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def section(self) -> str:
        ...
    @property
    def shown(self) -> str:
        """
        the unit people are shown
        """
    @property
    def source(self) -> str:
        ...
    @property
    def spread(self) -> float:
        """
        90 % factor of plausible deviation
        """
    @property
    def standard(self) -> float:
        """
        default, in `unit`; a choice by its position
        """
    @property
    def unit(self) -> str:
        """
        SI: what a bare number means
        """
class Scenario:
    """
    One value of every input, in the table's units and order.
    """
    def __init__(self) -> None:
        ...
    def check(self) -> None:
        """
        Raises InputError on inputs that contradict.
        """
    def copy(self) -> Scenario:
        ...
    def equals(self, other: Scenario) -> bool:
        ...
    def get(self, position: typing.SupportsInt | typing.SupportsIndex) -> float:
        """
        The value of the input at a position of the table.
        """
    def set(self, position: typing.SupportsInt | typing.SupportsIndex, value: typing.SupportsFloat | typing.SupportsIndex) -> None:
        """
        Sets an input; raises InputError when the value is not allowed.
        """
class CropAir:
    """
    The air at the crop through time.
    """
    def __init__(self, time: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], columns: collections.abc.Mapping[str, typing.Annotated[numpy.typing.ArrayLike, numpy.float64]]) -> None:
        """
        Time [s] and columns temperature [K], vapour_pressure [Pa], pressure [Pa], speed [m/s], shortwave [W/m2], radiant_temperature [K], air_changes [1/s].
        """
    @property
    def columns(self) -> dict[str, numpy.typing.NDArray[numpy.float64]]:
        ...
    @property
    def time(self) -> numpy.typing.NDArray[numpy.float64]:
        ...
class Outdoor:
    """
    The weather outside through time.
    """
    def __init__(self, time: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], columns: collections.abc.Mapping[str, typing.Annotated[numpy.typing.ArrayLike, numpy.float64]]) -> None:
        """
        Time [s] and columns temperature [K], vapour_pressure [Pa], pressure [Pa], wind_speed [m/s], shortwave [W/m2].
        """
def air_at_crop(scenario: Scenario, outdoor: Outdoor) -> CropAir:
    """
    The air at the crop while nothing is sprayed, from the weather outside.
    """
def jug_parameters() -> list[Parameter]:
    """
    Every row of the jug's tables of inputs, in their order.
    """
def jug_pours(concentration: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], share: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], from_bottom: bool, shaken: typing.SupportsFloat | typing.SupportsIndex) -> numpy.typing.NDArray[numpy.float64]:
    """
    What each pour delivers relative to the label [-], the pours being `share` of the jug each.
    """
def jug_spread(pours: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> float:
    """
    Sample standard deviation over mean [-] of pours.
    """
def outcome_variables() -> list[tuple[str, str, str, str]]:
    """
    Name, SI unit, shown unit and meaning of every number an outcome tells.
    """
def parameters() -> list[Parameter]:
    """
    Every row of the table of inputs, in its order.
    """
def sections() -> list[tuple[str, str]]:
    """
    Name and meaning of every section of a scenario.
    """
def settle_jug(strength: typing.SupportsFloat | typing.SupportsIndex, formulation: str, inputs: collections.abc.Mapping[str, typing.SupportsFloat | typing.SupportsIndex], times: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex]) -> dict:
    """
    Lets a well-shaken product of `strength` [kg/m3] stand, and reports its layers at `times` [s].
    
    formulation is 'suspension' or 'solution'; inputs overrule the table by name, SI. Returns edge [m],
    active and, if there is one, carrier [kg/m3] by time and layer, steps, mass_error.
    """
def simulate(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex) -> tuple[dict[str, numpy.typing.NDArray[numpy.float64]], str, dict[str, numpy.typing.NDArray[numpy.float64]], list[tuple[str, float]], float]:
    """
    One spray: its numbers (arrays of one), status, course, where the active ingredient is, and how far the liquid's account is from closing.
    """
def simulate_all(scenarios: collections.abc.Sequence[Scenario], airs: collections.abc.Sequence[CropAir], scenario_of: typing.Annotated[numpy.typing.ArrayLike, numpy.uint64], air_of: typing.Annotated[numpy.typing.ArrayLike, numpy.uint64], starts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], threads: typing.SupportsInt | typing.SupportsIndex = 0) -> tuple[dict[str, numpy.typing.NDArray[numpy.float64]], list[str], list[str]]:
    """
    Many sprays: job i computes scenarios[scenario_of[i]] in airs[air_of[i]] at starts[i]. Returns an array of every number, NaN in a job that failed, and the status and the reason of failure of each. An interrupt ends it between jobs.
    """
def steady_air(scenario: Scenario) -> CropAir:
    """
    The unchanging air of a scenario, from 0 to numerics.longest.
    """
def suspensibility(concentration: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> float:
    """
    Share still afloat [0..1]: (10/9) (1 - share in the bottom tenth).
    """
__version__: str
