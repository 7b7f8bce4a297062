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
__all__: list[str] = ['Bench', 'BenchLayout', 'BenchLever', 'BySite', 'Card', 'CardReading', 'Concentrate', 'CropAir', 'Distribution', 'DrenchInstead', 'DropletFlight', 'DryDeposit', 'Effect', 'Equivalent', 'Evenness', 'FailedRow', 'Falling', 'FlightInput', 'HeightCourse', 'HeightVariable', 'History', 'HistoryVariable', 'ImpactMap', 'Landing', 'LeafLayer', 'LeverEffect', 'NozzleSize', 'Outcome', 'OutcomeVariable', 'Outdoor', 'Parameter', 'RateForHeight', 'RowTable', 'Scenario', 'Section', 'SettledJug', 'SizeClass', 'Spectrum', 'StemPart', 'StillAir', 'TankMix', 'Why', 'air', 'air_at_crop', 'applied_mix', 'bench_measured_pattern', 'bench_parameters', 'bench_pattern', 'boom_passes', 'card_spots', 'concentration_for_dose', 'deposit_left', 'drenches_as_sprays', 'droplet_density', 'dry_deposit', 'drying_leaf', 'exit_speed', 'falling', 'fan_width', 'flight_input', 'fly', 'half_amounts', 'height_course', 'height_variables', 'history_variables', 'impact_map', 'in_still_air', 'instructions', 'jug_parameters', 'jug_pours', 'jug_spread', 'land', 'leaf_coverage', 'may_change', 'measured_spectrum', 'mix_tank', 'nozzle_flow', 'nozzle_sizes', 'outcome_variables', 'pace_for', 'parameters', 'path_names', 'rates_for_height', 'read_card', 'reading_error', 'reading_tolerance', 'refusal_names', 'sauter_mean_diameter', 'sections', 'settle_jug', 'share_below', 'simulate', 'simulate_rows', 'size_classes', 'spectrum', 'spray_bench', 'spray_parameters', 'sprays_as_drenches', 'status_names', 'steady_air', 'suspensibility', 'three_quantile_spectrum', 'undissolved', 'volume_for_pots', 'volume_over_area', 'volume_quantile', 'volume_rate', 'volume_tolerance', 'wand_passes', 'water', 'wettability_class', 'why']
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
    def measured_on(self) -> str:
        """
        what a measured value was measured on: this, another (substance, crop or surface), or nothing
        """
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
class Section:
    """
    A section of a scenario.
    """
    @property
    def about(self) -> str:
        ...
    @property
    def name(self) -> str:
        ...
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
    @property
    def applications(self) -> list[tuple[float, dict[int, float]]]:
        """
        The calendar: time after the start of growth [s], and inputs that differ, by position.
        """
    @applications.setter
    def applications(self, arg1: collections.abc.Sequence[tuple[typing.SupportsFloat | typing.SupportsIndex, collections.abc.Mapping[typing.SupportsInt | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex]]]) -> None:
        ...
class CropAir:
    """
    The air at the crop through time.
    """
    def __getstate__(self) -> tuple[numpy.typing.NDArray[numpy.float64], dict]:
        ...
    def __init__(self, time: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], columns: collections.abc.Mapping[str, typing.Annotated[numpy.typing.ArrayLike, numpy.float64]]) -> None:
        """
        Time [s] and columns temperature [K], vapour_pressure [Pa], pressure [Pa], speed [m/s], shortwave [W/m2], radiant_temperature [K], air_changes [1/s].
        """
    def __setstate__(self, arg0: tuple) -> None:
        ...
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
class OutcomeVariable:
    """
    A number that an outcome tells.
    """
    @property
    def meaning(self) -> str:
        ...
    @property
    def name(self) -> str:
        """
        A dotted name belongs to a group.
        """
    @property
    def shown(self) -> str:
        """
        The unit people are shown.
        """
    @property
    def unit(self) -> str:
        """
        SI
        """
class HistoryVariable:
    """
    A column of a wet span's history.
    """
    @property
    def meaning(self) -> str:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def unit(self) -> str:
        """
        SI
        """
class HeightVariable:
    """
    A column of the course of heights.
    """
    @property
    def meaning(self) -> str:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def unit(self) -> str:
        """
        SI
        """
class History:
    """
    The course of a wet span.
    """
    @property
    def columns(self) -> dict[str, numpy.typing.NDArray[numpy.float64]]:
        """
        Every column by its name.
        """
    @property
    def time(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        From the spray [s].
        """
class HeightCourse:
    """
    Heights of the treated plant and the untreated check.
    """
    @property
    def columns(self) -> dict[str, numpy.typing.NDArray[numpy.float64]]:
        """
        Every column by its name.
        """
    @property
    def time(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        From the start of growth [s].
        """
class BySite:
    """
    An amount by the site where it entered the plant.
    """
    @property
    def leaf(self) -> float:
        ...
    @property
    def root(self) -> float:
        ...
    @property
    def stem(self) -> float:
        ...
class Effect:
    """
    What one application does to the height.
    """
    @property
    def saved(self) -> float:
        """
        Length held back by it [m].
        """
    @property
    def tips(self) -> BySite:
        """
        Of it, what reached the growing tips [kg per plant].
        """
    @property
    def to_come(self) -> float:
        """
        Length the untreated check still grows after it [m].
        """
    @property
    def uptake(self) -> BySite:
        """
        [kg per plant]
        """
class Outcome:
    """
    What is applied to one crop comes to.
    """
    @property
    def account(self) -> dict[str, float]:
        """
        Active ingredient by place when height is judged, as shares of what was applied.
        """
    @property
    def applications(self) -> list[Effect]:
        """
        What each application does.
        """
    @property
    def history(self) -> History:
        """
        Of the first wet span; empty unless it was asked for.
        """
    @property
    def in_plant(self) -> dict[str, float]:
        """
        What was taken up by its place in the plant [kg per plant].
        """
    @property
    def numbers(self) -> dict[str, float]:
        """
        Every outcome variable by its name, in SI.
        """
    @property
    def path(self) -> str:
        ...
    @property
    def status(self) -> str:
        ...
    @property
    def water_balance(self) -> float:
        """
        Landed less evaporated less left, over landed.
        """
class FailedRow:
    """
    A row that could not be computed.
    """
    @property
    def reason(self) -> str:
        ...
    @property
    def row(self) -> int:
        ...
class RowTable:
    """
    What came out of rows; arrays are views of its memory.
    """
    @property
    def count(self) -> int:
        ...
    @property
    def failed(self) -> list[FailedRow]:
        """
        In order.
        """
    @property
    def path(self) -> numpy.typing.NDArray[numpy.uint8]:
        """
        Positions in path_names.
        """
    @property
    def refusal(self) -> numpy.typing.NDArray[numpy.uint8]:
        """
        Positions in refusal_names: why a row was followed by the full system; 0 of others.
        """
    @property
    def status(self) -> numpy.typing.NDArray[numpy.uint8]:
        """
        Positions in status_names.
        """
    @property
    def values(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        outcome_variables x rows; NaN in a failed row.
        """
class LeverEffect:
    """
    What one change does to growth control.
    """
    @property
    def change(self) -> str:
        """
        in words
        """
    @property
    def control(self) -> float:
        """
        growth control with it
        """
    @property
    def gain(self) -> float:
        """
        that less the growth control without it
        """
class Why:
    """
    Where an outcome's growth control comes from.
    """
    @property
    def control(self) -> float:
        """
        as it is
        """
    @property
    def levers(self) -> list[LeverEffect]:
        """
        the largest effect first
        """
    @property
    def through(self) -> BySite:
        """
        Share of what reaches the growing tips, by site.
        """
class RateForHeight:
    """
    The concentration that gives a wanted height.
    """
    @property
    def concentration(self) -> float:
        """
        [kg/m3]; NaN unless found
        """
    @property
    def height(self) -> float:
        """
        that it gives [m]
        """
    @property
    def least_height(self) -> float:
        """
        that the most allowed gives [m]
        """
    @property
    def reach(self) -> str:
        """
        found, none needed, not reachable (growth to come is too little) or failed
        """
    @property
    def reason(self) -> str:
        """
        why it failed
        """
class Equivalent:
    """
    What an application equals as another way of applying.
    """
    @property
    def control(self) -> float:
        """
        growth control that it gives [1]
        """
    @property
    def same_amount(self) -> float:
        """
        concentration that puts as much into the pot [kg/m3]; NaN for a spray
        """
    @property
    def same_control(self) -> RateForHeight:
        """
        the concentration for the same height
        """
class DryDeposit:
    """
    Shares of a deposit that has dried.
    """
    @property
    def lost(self) -> float:
        """
        [1]
        """
    @property
    def taken_up(self) -> float:
        """
        [1]
        """
class BenchLayout:
    """
    Where plants stand on a bench.
    """
    def __init__(self, inputs: collections.abc.Mapping[str, typing.SupportsFloat | typing.SupportsIndex], plant_density: typing.SupportsFloat | typing.SupportsIndex) -> None:
        """
        Inputs overrule the table `layout` by name, SI; a spacing that is given sets the density of plants [1/m2], otherwise `plant_density` sets the spacing.
        """
    @property
    def length(self) -> float:
        """
        [m]
        """
    @property
    def plant_density(self) -> float:
        """
        [1/m2]
        """
    @property
    def width(self) -> float:
        """
        [m]
        """
class Evenness:
    """
    How even a bench is: coefficients of variation from plant to plant.
    """
    @property
    def deposit(self) -> float:
        ...
    @property
    def dose(self) -> float:
        ...
    @property
    def height(self) -> float:
        ...
    @property
    def mean_height(self) -> float:
        """
        relative to the untreated check
        """
    @property
    def outside(self) -> float:
        """
        share of the plants whose height lies outside the band
        """
class BenchLever:
    """
    The bench computed anew without one cause of unevenness.
    """
    @property
    def cause(self) -> str:
        ...
    @property
    def evenness(self) -> Evenness:
        ...
class DrenchInstead:
    """
    The drench that gives the same mean height as a spray.
    """
    def __getstate__(self) -> tuple[float, float]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def concentration(self) -> float:
        """
        [kg/m3]
        """
    @property
    def volume_per_pot(self) -> float:
        """
        [m3]
        """
class Bench:
    """
    What became of the plants of a bench, in SI; columns have one entry a plant.
    """
    def in_band(self, band: typing.SupportsFloat | typing.SupportsIndex) -> numpy.typing.NDArray[numpy.bool]:
        """
        Whether heights lie within `band` of the mean height, over it.
        """
    @property
    def column(self) -> numpy.typing.NDArray[numpy.int32]:
        """
        from 0
        """
    @property
    def columns(self) -> dict[str, numpy.typing.NDArray[numpy.float64]]:
        """
        Every outcome variable by its name.
        """
    @property
    def crown_diameters(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        [m]
        """
    @property
    def deposits(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        volume per area [m]
        """
    @property
    def depth(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Volume per area [m] over [y, x] of the bench; no cells for a drench.
        """
    @property
    def doses(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        [kg]
        """
    @property
    def drench(self) -> DrenchInstead | None:
        """
        of the lever on drenching
        """
    @property
    def emitted(self) -> float:
        """
        [m3]
        """
    @property
    def evenness(self) -> Evenness:
        ...
    @property
    def flow(self) -> float:
        """
        mean of a nozzle along the path [m3/s]
        """
    @property
    def heights(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        over those of the untreated checks [1]
        """
    @property
    def length(self) -> float:
        """
        [m]
        """
    @property
    def levers(self) -> list[BenchLever]:
        """
        the most even first
        """
    @property
    def nozzle_flow(self) -> float:
        """
        of the scenario's nozzle at its pressure [m3/s]
        """
    @property
    def off_bench(self) -> float:
        """
        [m3]
        """
    @property
    def passes(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Rows of x0, y0, x1, y1 [m], speed [m/s], height [m], flow [m3/s].
        """
    @property
    def pot_diameters(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        [m]
        """
    @property
    def row(self) -> numpy.typing.NDArray[numpy.int32]:
        """
        from 0
        """
    @property
    def sizes(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        linear, over the mean [1]
        """
    @property
    def status(self) -> list[str]:
        """
        How wet spans ended, or that a plant was missed.
        """
    @property
    def width(self) -> float:
        """
        [m]
        """
    @property
    def x(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        [m]
        """
    @property
    def y(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        [m]
        """
class SettledJug:
    """
    Where the particles of a jug lie after it stood.
    """
    @property
    def active(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Concentration of the active ingredient [kg/m3] by time and layer.
        """
    @property
    def carrier(self) -> numpy.typing.NDArray[numpy.float64] | None:
        """
        Concentration of the carrier [kg/m3] likewise; none in a product without one.
        """
    @property
    def edge(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Depths between the layers [m], from 0 at the surface.
        """
    @property
    def mass_error(self) -> float:
        """
        Largest relative change of the mass of any particle class over all times.
        """
    @property
    def steps(self) -> int:
        ...
    @property
    def time(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        [s]
        """
class NozzleSize:
    """
    A nozzle size of ISO 10625.
    """
    @property
    def colour(self) -> str:
        """
        of the body or cap
        """
    @property
    def flow(self) -> float:
        """
        of water at 3 bar [m3/s]
        """
    @property
    def name(self) -> str:
        ...
class Distribution:
    """
    Laws of the volume distribution.
    
    Members:
    
      lognormal
    
      rosin_rammler
    """
    __members__: typing.ClassVar[dict[str, Distribution]]
    lognormal: typing.ClassVar[Distribution]
    rosin_rammler: typing.ClassVar[Distribution]
    @typing.overload
    def __eq__(self, other: Distribution) -> bool:
        ...
    @typing.overload
    def __eq__(self, other: typing.Any) -> bool:
        ...
    def __getstate__(self) -> int:
        ...
    def __hash__(self) -> int:
        ...
    def __index__(self) -> int:
        ...
    def __init__(self, value: typing.SupportsInt | typing.SupportsIndex) -> None:
        ...
    def __int__(self) -> int:
        ...
    @typing.overload
    def __ne__(self, other: Distribution) -> bool:
        ...
    @typing.overload
    def __ne__(self, other: typing.Any) -> bool:
        ...
    def __repr__(self) -> str:
        ...
    def __setstate__(self, state: typing.SupportsInt | typing.SupportsIndex) -> None:
        ...
    def __str__(self) -> str:
        ...
    @property
    def name(self) -> str:
        ...
    @property
    def value(self) -> int:
        ...
class Spectrum:
    """
    Volume shares at representative diameters.
    """
    def __getstate__(self) -> tuple[list[float], list[float]]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def diameter(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        [m], increasing
        """
    @property
    def volume_share(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        [1], sums to 1; nothing landed if empty
        """
class SizeClass:
    """
    The representative of a droplet size class.
    """
    @property
    def dv50(self) -> float:
        """
        [m]
        """
    @property
    def name(self) -> str:
        ...
    @property
    def relative_span(self) -> float:
        """
        [1]
        """
    @property
    def source(self) -> str:
        """
        of dv50
        """
class FlightInput:
    """
    Where and how a spray is released.
    """
    @property
    def exit_speed(self) -> float:
        """
        of the liquid [m/s]
        """
    @property
    def jet_length(self) -> float:
        """
        of the air jet [m]
        """
class DropletFlight:
    """
    The flight of one droplet; shares of its volume.
    """
    @property
    def airborne(self) -> float:
        """
        past the edge of the bench, or still aloft [1]
        """
    @property
    def angle(self) -> float:
        """
        of the path at the end from straight down [rad]
        """
    @property
    def delivered(self) -> float:
        """
        [1]
        """
    @property
    def diameter(self) -> float:
        """
        at the end [m]
        """
    @property
    def end(self) -> str:
        """
        how it ended: reached crop, left target, evaporated or still aloft
        """
    @property
    def evaporated(self) -> float:
        """
        [1]
        """
    @property
    def offset(self) -> float:
        """
        at the end, downwind of the axis of the spray [m]
        """
    @property
    def speed(self) -> float:
        """
        at the end [m/s]
        """
    @property
    def temperature(self) -> float:
        """
        at the end [K]
        """
    @property
    def time(self) -> float:
        """
        [s]
        """
class StillAir:
    """
    What a droplet would do in still air.
    """
    @property
    def lifetime(self) -> float:
        """
        until it has shrunk to its core, motionless [s]
        """
    @property
    def stop_distance(self) -> float:
        """
        in which drag alone stops it from the exit speed [m]
        """
    @property
    def terminal_speed(self) -> float:
        """
        of its fall [m/s]
        """
class ImpactMap:
    """
    Impacts on a leaf: arrays over [speed, diameter].
    """
    @property
    def excess_energy(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        of the rebound, over the surface energy [1]
        """
    @property
    def leaving_speed(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        of what leaves [m/s]
        """
    @property
    def maximum_spread(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        over the droplet's diameter [1]
        """
    @property
    def outcome(self) -> numpy.typing.NDArray[numpy.int32]:
        """
        0 sticks, 1 rebounds, 2 shatters
        """
    @property
    def retained_share(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        of the volume, that stays on the leaf [1]
        """
    @property
    def splash_parameter(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        We^1/2 Re^1/4 [1]
        """
class StemPart:
    """
    Stems and petioles within a leaf layer; liquid per area of bench [m].
    """
    @property
    def area(self) -> float:
        """
        lateral area per area of bench [1]
        """
    @property
    def caught(self) -> float:
        """
        from droplets that hit them [m]
        """
    @property
    def from_above(self) -> float:
        """
        that runs down from the stems above [m]
        """
    @property
    def from_leaves(self) -> float:
        """
        of the layer's run-off, what follows petioles [m]
        """
    @property
    def liquid(self) -> float:
        """
        that came and stayed [m]
        """
    @property
    def run_off(self) -> float:
        """
        that came and ran off [m]
        """
class LeafLayer:
    """
    A layer of leaves and stems and what it holds.
    """
    @property
    def area(self) -> float:
        """
        one-sided leaf area per area of bench [1]
        """
    @property
    def droplets(self) -> Spectrum:
        """
        as they came to rest; empty if none did
        """
    @property
    def interception(self) -> float:
        """
        share of what passes that meets its leaves [1]
        """
    @property
    def liquid(self) -> float:
        """
        that came and stayed, per area of bench [m]
        """
    @property
    def run_off(self) -> float:
        """
        that came and ran off, per area of bench [m]
        """
    @property
    def stem(self) -> StemPart:
        """
        the stems and petioles between its leaves
        """
class Landing:
    """
    Where a spray came to rest.
    """
    @property
    def layers(self) -> list[LeafLayer]:
        """
        from the top down
        """
    @property
    def rebounded(self) -> float:
        """
        share that bounced off at least once [1]
        """
    @property
    def shattered(self) -> float:
        """
        share of the volume that shattered at least once [1]
        """
    @property
    def split(self) -> list[tuple[str, float]]:
        """
        shares of the sprayed volume [1]
        """
    @property
    def straight(self) -> float:
        """
        share that fell onto the substrate past every leaf and stem [1]
        """
class Falling:
    """
    What still falls inside crowns below some leaf layers.
    """
    @property
    def droplets(self) -> Spectrum:
        """
        empty if nothing passes
        """
    @property
    def share(self) -> float:
        """
        of the sprayed volume: per area of crown, over per area of bench [1]
        """
class Card:
    """
    A water-sensitive card, lying level.
    """
    def __init__(self, width: typing.SupportsFloat | typing.SupportsIndex, height: typing.SupportsFloat | typing.SupportsIndex, spread_factor: typing.SupportsFloat | typing.SupportsIndex, smallest_stain: typing.SupportsFloat | typing.SupportsIndex) -> None:
        """
        Width, height [m], stain over droplet diameter [1], least diameter of a stain that is seen [m].
        """
class CardReading:
    """
    What a card shows.
    """
    @property
    def coverage(self) -> float:
        """
        stained share [1]
        """
    @property
    def density(self) -> float:
        """
        stains per area [1/m2]
        """
class Concentrate:
    """
    A product as its label states its strength.
    """
    @staticmethod
    def by_mass(strength: typing.SupportsFloat | typing.SupportsIndex, density: typing.SupportsFloat | typing.SupportsIndex) -> Concentrate:
        """
        A liquid with `strength` [1] of active ingredient by mass; density [kg/m3].
        """
    @staticmethod
    def by_volume(strength: typing.SupportsFloat | typing.SupportsIndex, density: typing.SupportsFloat | typing.SupportsIndex | None = None) -> Concentrate:
        """
        A liquid with `strength` [kg/m3] of active ingredient; density [kg/m3] if it is known.
        """
    @staticmethod
    def powder(strength: typing.SupportsFloat | typing.SupportsIndex) -> Concentrate:
        """
        A powder with `strength` [1] of active ingredient.
        """
    def __init__(self, concentration: typing.SupportsFloat | typing.SupportsIndex | None, mass_share: typing.SupportsFloat | typing.SupportsIndex | None) -> None:
        ...
    @property
    def concentration(self) -> float | None:
        """
        Active ingredient per volume of product [kg/m3]; None for a powder.
        """
    @property
    def mass_share(self) -> float | None:
        """
        Active ingredient per mass of product [1]; None where the density is not known.
        """
class TankMix:
    """
    What to measure, and what reaches the crop, in SI.
    """
    @property
    def active_ingredient(self) -> float:
        """
        put out [kg]
        """
    @property
    def active_per_area(self) -> float | None:
        """
        [kg/m2]
        """
    @property
    def active_per_pot(self) -> float | None:
        """
        [kg]
        """
    @property
    def area(self) -> float | None:
        """
        [m2]
        """
    @property
    def concentration(self) -> float:
        """
        [kg/m3]
        """
    @property
    def fill_volume(self) -> float:
        """
        [m3]
        """
    @property
    def fills(self) -> int:
        ...
    @property
    def final_volume(self) -> float:
        """
        [m3]
        """
    @property
    def last_fill_volume(self) -> float:
        """
        [m3]
        """
    @property
    def pots(self) -> int | None:
        ...
    @property
    def product(self) -> float:
        """
        [m3], of a powder [kg]
        """
    @property
    def product_in_last_fill(self) -> float:
        """
        [m3], of a powder [kg]
        """
    @property
    def product_per_fill(self) -> float:
        """
        [m3], of a powder [kg]
        """
    @property
    def used_volume(self) -> float:
        """
        [m3]
        """
    @property
    def volume_per_pot(self) -> float | None:
        """
        [m3]
        """
    @property
    def volume_rate(self) -> float | None:
        """
        [m]
        """
    @property
    def water(self) -> float | None:
        """
        [m3]; None with a powder
        """
def air_at_crop(scenario: Scenario, outdoor: Outdoor) -> CropAir:
    """
    The air at the crop while nothing is sprayed, from the weather outside.
    """
def applied_mix(product: Concentrate, *, volume: typing.SupportsFloat | typing.SupportsIndex | None = None, mass: typing.SupportsFloat | typing.SupportsIndex | None = None, water: typing.SupportsFloat | typing.SupportsIndex | None = None, final_volume: typing.SupportsFloat | typing.SupportsIndex | None = None, used: typing.SupportsFloat | typing.SupportsIndex | None = None, area: typing.SupportsFloat | typing.SupportsIndex | None = None, pots: typing.SupportsInt | typing.SupportsIndex | None = None) -> TankMix:
    """
    What an amount of product delivered: its volume [m3] or mass [kg], the water it was added to or the final volume [m3], how much was used [m3], area [m2].
    """
def bench_measured_pattern(offsets: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], amounts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], height: typing.SupportsFloat | typing.SupportsIndex, thickness_angle: typing.SupportsFloat | typing.SupportsIndex) -> numpy.typing.NDArray[numpy.float64]:
    """
    A fan as measured at `height` [m]: amounts at offsets [m], linear in between; thickness_angle [rad].
    """
def bench_parameters() -> list[Parameter]:
    """
    Every row of the bench's tables of inputs, in their order: pattern, wand, boom, layout, bench.
    """
def bench_pattern(inputs: collections.abc.Mapping[str, typing.SupportsFloat | typing.SupportsIndex]) -> numpy.typing.NDArray[numpy.float64]:
    """
    The footprint of a nozzle: rows of left, right, at_left, at_right, back, front, lengths per height. Inputs overrule the table `pattern` by name, SI.
    """
def boom_passes(inputs: collections.abc.Mapping[str, typing.SupportsFloat | typing.SupportsIndex], layout: BenchLayout, seed: typing.SupportsInt | typing.SupportsIndex) -> numpy.typing.NDArray[numpy.float64]:
    """
    The passes of a boom over a bench, rows as of a wand.
    """
def card_spots(spectrum: Spectrum, deposit: typing.SupportsFloat | typing.SupportsIndex, seed: typing.SupportsInt | typing.SupportsIndex, card: Card) -> numpy.typing.NDArray[numpy.float64]:
    """
    Stains of one card: rows of x, y from the lower left corner and radius [m]; middles may lie just off the card.
    """
def concentration_for_dose(dose: typing.SupportsFloat | typing.SupportsIndex, volume_per_pot: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Concentration [kg/m3] that gives each pot `dose` [kg] in `volume_per_pot` [m3].
    """
def deposit_left(scenario: Scenario, mobile_share: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], mobile_rate: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], residue_loss: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], mass: typing.SupportsFloat | typing.SupportsIndex, temperature: typing.SupportsFloat | typing.SupportsIndex, times: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], rewet_at: typing.SupportsFloat | typing.SupportsIndex | None = None, water: typing.SupportsFloat | typing.SupportsIndex = 0.0, wet_time: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> numpy.typing.NDArray[numpy.float64]:
    """
    Shares of a deposit of `mass` [kg per m2 of contact] that are still on the surface at `times` [s] after it dried, mobile and locked together, at a constant `temperature` [K]. There is one row for each uptake.mobile_share [1], uptake.mobile_rate [1/s] and uptake.residue_loss [1/s]. If `rewet_at` [s] is given, a depth of `water` [m] wets the deposit again at that time and dries within `wet_time` [s].
    """
def drenches_as_sprays(scenarios: collections.abc.Sequence[Scenario], sprays: collections.abc.Sequence[Scenario], airs: collections.abc.Sequence[CropAir], starts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], weeks: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] | None, threads: typing.SupportsInt | typing.SupportsIndex = 0) -> list[Equivalent]:
    """
    What each drench equals as a spray: `sprays` say how it would be sprayed; their concentration is sought.
    """
def droplet_density(spectrum: Spectrum, deposit: typing.SupportsFloat | typing.SupportsIndex) -> numpy.typing.NDArray[numpy.float64]:
    """
    Droplets per area [1/m2] in each bin of a deposit [m].
    """
def dry_deposit(scenario: Scenario, mass: typing.SupportsFloat | typing.SupportsIndex, temperature: typing.SupportsFloat | typing.SupportsIndex, duration: typing.SupportsFloat | typing.SupportsIndex) -> DryDeposit:
    """
    Shares of a deposit [kg per m2 of contact] that are taken up and lost in a time [s] after it has dried, at a steady temperature [K].
    """
def drying_leaf(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, depth: typing.SupportsFloat | typing.SupportsIndex) -> dict:
    """
    Follows a crop until its leaves are dry. At `start` [s] of an air record the leaves carry `depth` [m of liquid per one-sided leaf area] in droplets of the scenario's spectrum; everything else is dry. Returns `time` since the start [s], `water` as a share of the water at the start [1], the leaves' `temperature` [K], and `wet_time` [s].
    """
def exit_speed(pressure: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], liquid_density: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], velocity_coefficient: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Speed of the liquid at the orifice [m/s]: C_v sqrt(2 p / rho).
    """
def falling(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, spectrum: Spectrum, below: typing.SupportsInt | typing.SupportsIndex) -> Falling:
    """
    What still falls inside crowns below so many leaf layers; drip from leaves is left out.
    """
def fan_width(height: typing.SupportsFloat | typing.SupportsIndex, fan_angle: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Width [m] a fan [rad] covers from a height [m]: 2 h tan(angle / 2).
    """
def flight_input(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex) -> FlightInput:
    """
    Where and how a scenario's spray is released.
    """
def fly(diameters: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], input: FlightInput) -> list[DropletFlight]:
    """
    Flights of droplets of these diameters [m].
    """
def half_amounts(scenario: Scenario, inputs: collections.abc.Sequence[tuple[typing.SupportsInt | typing.SupportsIndex, typing.Annotated[numpy.typing.ArrayLike, numpy.float64]]], volume: typing.SupportsFloat | typing.SupportsIndex, concentration: typing.SupportsFloat | typing.SupportsIndex, control: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> numpy.typing.NDArray[numpy.float64]:
    """
    crop.half_amount [kg] at which `volume` [m3 per plant] of a concentration [kg/m3], put into the pot by the scenario's method, gives each growth control, with some inputs (positions and columns) changed; NaN where none does.
    """
def height_course(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, weeks: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] | None = None) -> HeightCourse:
    """
    Heights over the weeks.
    """
def height_variables() -> list[HeightVariable]:
    """
    Every column of the course of heights but its time.
    """
def history_variables() -> list[HistoryVariable]:
    """
    Every column of a history but its time.
    """
def impact_map(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, diameters: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], speeds: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], incidence: typing.SupportsFloat | typing.SupportsIndex) -> ImpactMap:
    """
    Impacts on the scenario's leaf of droplets of these diameters [m] and speeds [m/s], at an angle [rad] from the leaf's normal.
    """
def in_still_air(diameter: typing.SupportsFloat | typing.SupportsIndex, input: FlightInput) -> StillAir:
    """
    What a droplet of a diameter [m] would do in still air; NaN outside 1e-6 .. 6e-3 m.
    """
def instructions() -> list[str]:
    """
    Vector instructions that the clock path can use on this machine, the fastest last.
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
def land(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, spectrum: Spectrum) -> Landing:
    """
    Follows the scenario's application in droplets of `spectrum` from the nozzle to rest.
    """
def leaf_coverage(spectrum: Spectrum, deposit: typing.SupportsFloat | typing.SupportsIndex, contact_angle: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Share of a leaf wetted by a deposit [m], caps at a contact angle [rad].
    """
def may_change(position: typing.SupportsInt | typing.SupportsIndex) -> bool:
    """
    Whether an application of a calendar may differ from the scenario's in an input.
    """
def measured_spectrum(diameter: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], cumulative_share: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], bins: typing.SupportsInt | typing.SupportsIndex) -> Spectrum:
    """
    Bins of a table of the volume share below each diameter [m], from 0 to 1.
    """
def mix_tank(product: Concentrate, concentration: typing.SupportsFloat | typing.SupportsIndex, final_volume: typing.SupportsFloat | typing.SupportsIndex, *, area: typing.SupportsFloat | typing.SupportsIndex | None = None, pots: typing.SupportsInt | typing.SupportsIndex | None = None, tank: typing.SupportsFloat | typing.SupportsIndex | None = None) -> TankMix:
    """
    What to mix so that `final_volume` [m3] holds `concentration` [kg/m3]; area [m2], tank [m3].
    """
def nozzle_flow(rated_flow: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], pressure: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], rated_pressure: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] = 300000.0) -> typing.Any:
    """
    Flow [m3/s] at a pressure [Pa] of a nozzle that gives `rated_flow` at `rated_pressure`: Q0 sqrt(p / p0).
    """
def nozzle_sizes() -> list[NozzleSize]:
    """
    The nozzle sizes of ISO 10625, smallest first.
    """
def outcome_variables() -> list[OutcomeVariable]:
    """
    Every number that an outcome tells, in the order of tables.
    """
def pace_for(flow: typing.SupportsFloat | typing.SupportsIndex, rate: typing.SupportsFloat | typing.SupportsIndex, swath: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Pace [m/s] that gives a volume per area [m]: Q / (q w).
    """
def parameters() -> list[Parameter]:
    """
    Every row of the table of inputs, in its order.
    """
def rates_for_height(scenarios: collections.abc.Sequence[Scenario], airs: collections.abc.Sequence[CropAir], starts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], weeks: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] | None, height: typing.SupportsFloat | typing.SupportsIndex, threads: typing.SupportsInt | typing.SupportsIndex = 0) -> list[RateForHeight]:
    """
    The concentration that gives each scenario's plants a height [m] when height is judged.
    """
def read_card(spectrum: Spectrum, deposit: typing.SupportsFloat | typing.SupportsIndex, card: Card) -> CardReading:
    """
    What is expected of a card under a deposit [m of liquid].
    """
def reading_error(amount: typing.SupportsFloat | typing.SupportsIndex, division: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Half a division of the measuring device over the amount [1].
    """
@typing.overload
def sauter_mean_diameter(distribution: Distribution, dv50: typing.SupportsFloat | typing.SupportsIndex, relative_span: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Sauter mean diameter [m].
    """
@typing.overload
def sauter_mean_diameter(spectrum: Spectrum) -> float:
    """
    The same from bins.
    """
def sections() -> list[Section]:
    """
    Every section of a scenario, in the order of the table.
    """
def settle_jug(strength: typing.SupportsFloat | typing.SupportsIndex, formulation: str, inputs: collections.abc.Mapping[str, typing.SupportsFloat | typing.SupportsIndex], times: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex]) -> SettledJug:
    """
    Lets a well-shaken product of `strength` [kg/m3] stand, and reports its layers at `times` [s].
    
    formulation is 'suspension' or 'solution'; inputs overrule the table by name, SI.
    """
@typing.overload
def share_below(distribution: Distribution, dv50: typing.SupportsFloat | typing.SupportsIndex, relative_span: typing.SupportsFloat | typing.SupportsIndex, diameter: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Share of the volume in droplets smaller than `diameter` [m].
    """
@typing.overload
def share_below(spectrum: Spectrum, diameter: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    The same from bins.
    """
def simulate(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, history: bool = False, weeks: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] | None = None) -> Outcome:
    """
    What is applied to one crop; `weeks` are the daily mean temperatures from the start of growth [K].
    """
def simulate_rows(count: typing.SupportsInt | typing.SupportsIndex, scenarios: collections.abc.Sequence[Scenario], airs: collections.abc.Sequence[CropAir], *, inputs: collections.abc.Sequence[tuple[typing.SupportsInt | typing.SupportsIndex, typing.Annotated[numpy.typing.ArrayLike, numpy.float64]]] = [], scenario_of: typing.Annotated[numpy.typing.ArrayLike, numpy.uint64] | None = None, air_of: typing.Annotated[numpy.typing.ArrayLike, numpy.uint64] | None = None, starts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] | None = None, weeks: collections.abc.Sequence[typing.Annotated[numpy.typing.ArrayLike, numpy.float64]] = [], weeks_of: typing.Annotated[numpy.typing.ArrayLike, numpy.uint64] | None = None, threads: typing.SupportsInt | typing.SupportsIndex = 0, instructions: str | None = None, reference_only: bool = False, progress: typing.Any = None) -> RowTable:
    """
    Many sprays: a row starts from scenarios[scenario_of[row]], changes `inputs` (positions and columns), and is sprayed at starts[row] in airs[air_of[row]], or without airs in its own unchanging air, and grows in weeks[weeks_of[row]], daily mean temperatures [K], or at crop.mean_temperature. `progress` is called now and then with the rows done. An interrupt ends it.
    """
def size_classes() -> list[SizeClass]:
    """
    The representative of each droplet size class, finest first.
    """
def spectrum(distribution: Distribution, dv50: typing.SupportsFloat | typing.SupportsIndex, relative_span: typing.SupportsFloat | typing.SupportsIndex, bins: typing.SupportsInt | typing.SupportsIndex) -> Spectrum:
    """
    Bins of a two-parameter spectrum of volume median diameter dv50 [m].
    """
def spray_bench(scenario: Scenario, layout: BenchLayout, *, pot_diameters: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex], pattern: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], passes: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], volume: typing.SupportsFloat | typing.SupportsIndex | None, volume_per_pot: typing.SupportsFloat | typing.SupportsIndex | None, pouring_variation: typing.SupportsFloat | typing.SupportsIndex, cell: typing.SupportsFloat | typing.SupportsIndex, band: typing.SupportsFloat | typing.SupportsIndex, seed: typing.SupportsInt | typing.SupportsIndex, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, weeks: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex], levers: bool, threads: typing.SupportsInt | typing.SupportsIndex) -> Bench:
    """
    Sprays a bench, or drenches it, and computes every plant: pots [m] that rows take in turn, footprint and passes as above, volumes [m3] or None, cell [m].
    """
def spray_parameters() -> list[Parameter]:
    """
    Every input that the spray calculators ask for beyond a scenario's.
    """
def sprays_as_drenches(scenarios: collections.abc.Sequence[Scenario], airs: collections.abc.Sequence[CropAir], starts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], weeks: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] | None, volume: typing.SupportsFloat | typing.SupportsIndex, threads: typing.SupportsInt | typing.SupportsIndex = 0) -> list[Equivalent]:
    """
    What each spray equals as a drench of `volume` [m3] for each plant.
    """
def steady_air(scenario: Scenario) -> CropAir:
    """
    The unchanging air of a scenario, from 0 to numerics.longest.
    """
def suspensibility(concentration: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> float:
    """
    Share still afloat [0..1]: (10/9) (1 - share in the bottom tenth).
    """
def three_quantile_spectrum(dv10: typing.SupportsFloat | typing.SupportsIndex, dv50: typing.SupportsFloat | typing.SupportsIndex, dv90: typing.SupportsFloat | typing.SupportsIndex, bins: typing.SupportsInt | typing.SupportsIndex) -> Spectrum:
    """
    Bins of the spectrum through three quantiles [m].
    """
def undissolved(concentration: typing.SupportsFloat | typing.SupportsIndex, solubility: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Active ingredient that stays undissolved [kg/m3].
    """
def volume_for_pots(volume_per_pot: typing.SupportsFloat | typing.SupportsIndex, pots: typing.SupportsInt | typing.SupportsIndex) -> float:
    """
    Volume [m3] of so many drenches of `volume_per_pot` [m3].
    """
def volume_over_area(volume_rate: typing.SupportsFloat | typing.SupportsIndex, area: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Volume [m3] that covers `area` [m2] at `volume_rate` [m].
    """
def volume_quantile(distribution: Distribution, dv50: typing.SupportsFloat | typing.SupportsIndex, relative_span: typing.SupportsFloat | typing.SupportsIndex, share: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Diameter [m] below which `share` of the volume lies.
    """
def volume_rate(flow: typing.SupportsFloat | typing.SupportsIndex, pace: typing.SupportsFloat | typing.SupportsIndex, swath: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Volume per area [m] from flow [m3/s], pace [m/s] and swath [m]: Q / (v w).
    """
def wand_passes(inputs: collections.abc.Mapping[str, typing.SupportsFloat | typing.SupportsIndex], layout: BenchLayout, seed: typing.SupportsInt | typing.SupportsIndex) -> numpy.typing.NDArray[numpy.float64]:
    """
    The passes of a hand-held wand over a bench, at a flow of 1 m3/s: rows of x0, y0, x1, y1 [m], speed [m/s], height [m], flow [m3/s].
    """
def wettability_class(contact_angle: typing.SupportsFloat | typing.SupportsIndex) -> str:
    """
    Wettability class of a leaf by the contact angle of water [rad].
    """
def why(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, most: typing.SupportsInt | typing.SupportsIndex, weeks: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] | None = None, threads: typing.SupportsInt | typing.SupportsIndex = 0) -> Why:
    """
    The ways by which the substance came, and the `most` changes that move growth control the most.
    """
__version__: str
path_names: tuple = ('reference', 'clock')
reading_tolerance: float = 0.05
refusal_names: tuple = ('', 'no liquid on leaves', 'a hygroscopic liquid', 'dew on the leaves', 'followed beyond drying', 'not followed to the end', 'a tolerance beyond the polynomials', 'a contact angle beyond the polynomial', 'too many droplet classes', 'a re-wetting follows', 'dew, or the like, on the way', 'the caller asks for it')
status_names: tuple = ('dry', 'wet at end', 'nothing wet', 'failed')
volume_tolerance: float = 0.05
