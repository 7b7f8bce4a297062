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
__all__: list[str] = ['Bench', 'BenchLayout', 'BenchLever', 'BySite', 'Card', 'CardReading', 'Concentrate', 'CropAir', 'Day', 'DayAtEnd', 'Distribution', 'DrenchInstead', 'DropletFlight', 'DryDeposit', 'Effect', 'Equivalent', 'Evenness', 'FailedRow', 'FallingLiquid', 'FlightInput', 'HeightCourse', 'HeightVariable', 'History', 'HistoryVariable', 'ImpactMap', 'LandedSprays', 'Landing', 'LeafLayer', 'LeverEffect', 'NozzleSize', 'Outcome', 'OutcomeVariable', 'Outdoor', 'OwedToWetTime', 'Parameter', 'RateForHeight', 'ResidueEnds', 'RewettingGain', 'RowTable', 'Scenario', 'Section', 'SettledJug', 'SizeClass', 'Spectrum', 'SpreadLaw', 'StemPart', 'StillAir', 'TankMix', 'Why', 'WithRewetting', 'air', 'air_at_crop', 'air_from_logger', 'applied_mix', 'bench_measured_pattern', 'bench_parameters', 'bench_pattern', 'best_time', 'boom_passes', 'card_spots', 'compare_times', 'concentration_for_dose', 'conditions', 'deposit_left', 'drenches_as_sprays', 'droplet_density', 'dry_deposit', 'drying_leaf', 'exit_speed', 'falling_below', 'fan_width', 'flight_input', 'flight_path', 'fly', 'half_amounts', 'height_course', 'height_variables', 'history_variables', 'impact_map', 'in_still_air', 'instructions', 'jug_parameters', 'jug_pours', 'jug_spread', 'land', 'leaf_coverage', 'may_change', 'mean_temperatures', 'measured_spectrum', 'mix_tank', 'mobile_shares_if_rewetted', 'nozzle_flow', 'nozzle_sizes', 'outcome_variables', 'over_best', 'owed_to_wet_time', 'pace_for', 'parameters', 'path_names', 'pot_cover', 'rates_for_height', 'read_card', 'reading_error', 'reading_tolerance', 'refusal_names', 'residue_ends', 'rewetting_gain', 'rewetting_water', 'sauter_mean_diameter', 'sections', 'settle_jug', 'share_below', 'simulate', 'simulate_rows', 'size_classes', 'spectrum', 'spray_bench', 'spray_parameters', 'sprays_as_drenches', 'status_names', 'steady_air', 'suspensibility', 'three_quantile_spectrum', 'undissolved', 'volume_for_pots', 'volume_over_area', 'volume_quantile', 'volume_rate', 'volume_tolerance', 'wand_passes', 'water', 'wettability_class', 'why', 'without_rewetting']
class Parameter:
    """
    One row of the table of inputs.
    """
    @property
    def choices(self) -> list[str]:
        """
        Names of the options of a choice; empty for other kinds.
        """
    @property
    def grade(self) -> str:
        """
        Evidence of the default: A measured, B published formula or standard, C calibrated, D assumption.
        """
    @property
    def high(self) -> float:
        """
        Largest allowed value.
        """
    @property
    def key(self) -> str:
        """
        Name of the input: section.name.
        """
    @property
    def kind(self) -> str:
        """
        Kind of the input: number, count, toggle or choice.
        """
    @property
    def low(self) -> float:
        """
        Smallest allowed value.
        """
    @property
    def meaning(self) -> str:
        """
        Description of the input.
        """
    @property
    def measured_on(self) -> str:
        """
        What a measured value was measured on: 'this' or 'another' substance, crop or surface; empty if it was not measured.
        """
    @property
    def name(self) -> str:
        """
        Name of the input within its section.
        """
    @property
    def section(self) -> str:
        """
        Section of a scenario to which the input belongs.
        """
    @property
    def shown(self) -> str:
        """
        Unit in which people are shown the value.
        """
    @property
    def source(self) -> str:
        """
        Source of the default.
        """
    @property
    def spread(self) -> float:
        """
        Factor within which the truth plausibly (90 %) lies of the default; 1 if the user states it.
        """
    @property
    def standard(self) -> float:
        """
        Default in `unit`; of a choice, its position in `choices`.
        """
    @property
    def unit(self) -> str:
        """
        SI unit, which a number without a unit is in.
        """
class Section:
    """
    A section of a scenario.
    """
    @property
    def about(self) -> str:
        """
        Description of the section.
        """
    @property
    def name(self) -> str:
        """
        Name of the section.
        """
class Scenario:
    """
    A value for each row of the table of inputs, in the SI units and the order of the table.
    """
    def __init__(self) -> None:
        ...
    def check(self) -> None:
        """
        Raises InputError if inputs contradict each other.
        """
    def copy(self) -> Scenario:
        """
        Returns a copy.
        """
    def equals(self, other: Scenario) -> bool:
        """
        Whether all inputs and the calendar are equal.
        """
    def get(self, position: typing.SupportsInt | typing.SupportsIndex) -> float:
        """
        Returns the value of the input at a position of the table.
        """
    def set(self, position: typing.SupportsInt | typing.SupportsIndex, value: typing.SupportsFloat | typing.SupportsIndex) -> None:
        """
        Sets the input at a position of the table. Raises InputError if the value is not allowed.
        """
    @property
    def applications(self) -> list[tuple[float, dict[int, float]]]:
        """
        The calendar of applications: for each, its time after the start of growth [s] and the values of the inputs that differ from the scenario, by position in the table.
        """
    @applications.setter
    def applications(self, arg1: collections.abc.Sequence[tuple[typing.SupportsFloat | typing.SupportsIndex, collections.abc.Mapping[typing.SupportsInt | typing.SupportsIndex, typing.SupportsFloat | typing.SupportsIndex]]]) -> None:
        ...
class CropAir:
    """
    A record of the air at the crop.
    """
    def __getstate__(self) -> tuple[numpy.typing.NDArray[numpy.float64], dict]:
        ...
    def __init__(self, time: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], columns: collections.abc.Mapping[str, typing.Annotated[numpy.typing.ArrayLike, numpy.float64]]) -> None:
        """
        Makes a record from its times [s] and the columns temperature [K], vapour_pressure [Pa], pressure [Pa], speed [m/s], shortwave [W/m2], radiant_temperature [K] and air_changes [1/s]. Raises InputError if a column is missing, has another length, or holds a value that is not allowed.
        """
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def columns(self) -> dict[str, numpy.typing.NDArray[numpy.float64]]:
        """
        The columns by name, in SI.
        """
    @property
    def time(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Times of the rows [s].
        """
class Outdoor:
    """
    A record of the weather outside the house.
    """
    def __init__(self, time: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], columns: collections.abc.Mapping[str, typing.Annotated[numpy.typing.ArrayLike, numpy.float64]]) -> None:
        """
        Makes a record from its times [s] and the columns temperature [K], vapour_pressure [Pa], pressure [Pa], wind_speed [m/s] and shortwave [W/m2]. Raises InputError if a column is missing or has another length.
        """
class OutcomeVariable:
    """
    Name, units and meaning of a number in an outcome.
    """
    @property
    def meaning(self) -> str:
        """
        Description.
        """
    @property
    def name(self) -> str:
        """
        Name; the part before a dot is a group.
        """
    @property
    def shown(self) -> str:
        """
        Unit in which people are shown the value.
        """
    @property
    def unit(self) -> str:
        """
        SI unit of the value.
        """
class HistoryVariable:
    """
    Name, unit and meaning of a column in the history of a wet span.
    """
    @property
    def meaning(self) -> str:
        """
        Description.
        """
    @property
    def name(self) -> str:
        """
        Name of the column.
        """
    @property
    def unit(self) -> str:
        """
        SI unit of the values.
        """
class HeightVariable:
    """
    Name, unit and meaning of a column in the time series of heights.
    """
    @property
    def meaning(self) -> str:
        """
        Description.
        """
    @property
    def name(self) -> str:
        """
        Name of the column.
        """
    @property
    def unit(self) -> str:
        """
        SI unit of the values.
        """
class History:
    """
    Time series of a wet span.
    """
    @property
    def columns(self) -> dict[str, numpy.typing.NDArray[numpy.float64]]:
        """
        The columns by name, in SI.
        """
    @property
    def time(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Time since the spray [s].
        """
class HeightCourse:
    """
    Time series of the heights of a treated plant and of the untreated check.
    """
    @property
    def columns(self) -> dict[str, numpy.typing.NDArray[numpy.float64]]:
        """
        The columns by name, in SI.
        """
    @property
    def time(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Time since the start of growth [s].
        """
class BySite:
    """
    An amount, divided by the site where it entered the plant.
    """
    @property
    def leaf(self) -> float:
        """
        Amount that entered through leaves.
        """
    @property
    def root(self) -> float:
        """
        Amount that entered through roots.
        """
    @property
    def stem(self) -> float:
        """
        Amount that entered through stems.
        """
class Effect:
    """
    The effect of one application on height.
    """
    @property
    def saved(self) -> float:
        """
        Length by which the application shortens the plant [m].
        """
    @property
    def tips(self) -> BySite:
        """
        Part of the uptake that reaches the growing tips [kg per plant].
        """
    @property
    def to_come(self) -> float:
        """
        Length that the untreated check still grows after the application [m].
        """
    @property
    def uptake(self) -> BySite:
        """
        Active ingredient that the plant takes up [kg per plant].
        """
class Outcome:
    """
    The result of the applications to one crop.
    """
    @property
    def account(self) -> dict[str, float]:
        """
        Places of the active ingredient when height is judged, as shares of the applied amount [1].
        """
    @property
    def applications(self) -> list[Effect]:
        """
        The effect of each application.
        """
    @property
    def history(self) -> History:
        """
        Time series of the first wet span, which includes a re-wetting; empty unless it was asked for.
        """
    @property
    def in_plant(self) -> dict[str, float]:
        """
        Places within the plant of the active ingredient that was taken up [kg per plant].
        """
    @property
    def numbers(self) -> dict[str, float]:
        """
        The values of all outcome variables by name, in SI.
        """
    @property
    def path(self) -> str:
        """
        Path that computed the first wet span: 'reference' or 'clock'.
        """
    @property
    def status(self) -> str:
        """
        How the first wet span ended.
        """
    @property
    def water_balance(self) -> float:
        """
        Error of the water balance: water that landed, less what evaporated and what is left, over what landed [1].
        """
class FailedRow:
    """
    A row that could not be computed.
    """
    def raise_error(self) -> None:
        """
        Raises the exception that ended the row.
        """
    @property
    def reason(self) -> str:
        """
        Reason, in words.
        """
    @property
    def row(self) -> int:
        """
        Position of the row.
        """
class RowTable:
    """
    Results of rows. All rows count as failed until they are computed.
    """
    def __init__(self, count: typing.SupportsInt | typing.SupportsIndex) -> None:
        ...
    @property
    def conditions(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Conditions at the start of each row: temperature [K], relative humidity [1], vapour pressure deficit [Pa], shortwave [W/m2] and air changes [1/s], by row; NaN in a failed row.
        """
    @property
    def count(self) -> int:
        """
        Number of rows.
        """
    @property
    def failed(self) -> list[FailedRow]:
        """
        The failed rows, those of each call in order.
        """
    @property
    def path(self) -> numpy.typing.NDArray[numpy.uint8]:
        """
        Path that computed each row, as a position in path_names.
        """
    @property
    def refusal(self) -> numpy.typing.NDArray[numpy.uint8]:
        """
        Reason why the reference path computed a row, as a position in refusal_names; 0 for other rows.
        """
    @property
    def status(self) -> numpy.typing.NDArray[numpy.uint8]:
        """
        Status of each row, as a position in status_names.
        """
    @property
    def values(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Values by outcome variable and row, in SI; NaN in a failed row.
        """
class LandedSprays:
    """
    Wet spans after the sprays have landed, for the clock path alone.
    """
    def __init__(self, scenario: Scenario, airs: collections.abc.Sequence[CropAir], air_of: typing.Annotated[numpy.typing.ArrayLike, numpy.uint64], starts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> None:
        ...
    def wet_times(self, instructions: str | None = None, one_lane: bool = False) -> numpy.typing.NDArray[numpy.float64]:
        """
        Computes the spans on this thread. Returns the wet times [s]; NaN where the clock path does not hold.
        """
class LeverEffect:
    """
    The effect of one change on growth control.
    """
    @property
    def change(self) -> str:
        """
        Description of the change.
        """
    @property
    def control(self) -> float:
        """
        Growth control with the change [1].
        """
    @property
    def gain(self) -> float:
        """
        Growth control with the change less that without it [1].
        """
class Why:
    """
    The sources of growth control in an outcome.
    """
    @property
    def control(self) -> float:
        """
        Growth control of the scenario [1].
        """
    @property
    def levers(self) -> list[LeverEffect]:
        """
        Effects of changes, the largest first.
        """
    @property
    def through(self) -> BySite:
        """
        Shares of the amount at the growing tips by site of entry [1].
        """
class DayAtEnd:
    """
    A day of spray times at one end of what the residue may do.
    """
    @property
    def control(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Growth control at each time [1].
        """
    @property
    def control_over_best(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Growth control at each time over that at `best` [1].
        """
class Day:
    """
    Results of the same spray at many times.
    """
    @property
    def best(self) -> int:
        """
        Position of the best time.
        """
    @property
    def control_over_best(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Growth control at each time over that at `best` [1].
        """
    @property
    def locked(self) -> DayAtEnd:
        """
        The same where the least of the residue stays mobile.
        """
    @property
    def mobile(self) -> DayAtEnd:
        """
        The same where the most of it stays mobile.
        """
    @property
    def status(self) -> numpy.typing.NDArray[numpy.uint8]:
        """
        Status of each time, as a position in status_names.
        """
    @property
    def values(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Values by outcome variable and time, in SI.
        """
class ResidueEnds:
    """
    A scenario at both ends of what its dried residue may do.
    """
    @property
    def locked(self) -> Scenario:
        """
        The least of the residue stays mobile.
        """
    @property
    def mobile(self) -> Scenario:
        """
        The most of it stays mobile.
        """
class OwedToWetTime:
    """
    The share of growth control that is owed to the wet time [1].
    """
    @property
    def locked(self) -> float:
        """
        Where the least of the residue stays mobile.
        """
    @property
    def mobile(self) -> float:
        """
        Where the most of it stays mobile.
        """
class WithRewetting:
    """
    Growth control with a re-wetting, and without it.
    """
    @property
    def gain(self) -> float:
        """
        Increase of growth control, as a share of `without` [1]; NaN if that is 0.
        """
    @property
    def with_it(self) -> float:
        """
        Growth control with the re-wetting [1].
        """
    @property
    def without(self) -> float:
        """
        Growth control without it [1].
        """
class RewettingGain:
    """
    The gain of a re-wetting in growth control.
    """
    @property
    def locked(self) -> WithRewetting:
        """
        Where the least of the residue stays mobile.
        """
    @property
    def mobile(self) -> WithRewetting:
        """
        Where the most of it stays mobile.
        """
    @property
    def nominal(self) -> WithRewetting:
        """
        With the inputs as given.
        """
    @property
    def wet_time(self) -> float:
        """
        From the re-wetting to dry leaves [s].
        """
class RateForHeight:
    """
    The concentration that gives a wanted height.
    """
    @property
    def concentration(self) -> float:
        """
        The concentration [kg/m3]; NaN unless found, 0 if none is needed.
        """
    @property
    def height(self) -> float:
        """
        Height at this concentration [m].
        """
    @property
    def least_height(self) -> float:
        """
        Height at the largest allowed concentration [m].
        """
    @property
    def reach(self) -> str:
        """
        Result of the search: 'found', 'none needed' (the untreated check is no taller than wanted), 'not reachable' (too little growth remains) or 'failed'.
        """
    @property
    def reason(self) -> str:
        """
        Reason if the search failed; otherwise empty.
        """
class Equivalent:
    """
    The equivalent of an application by another method.
    """
    @property
    def control(self) -> float:
        """
        Growth control of the given application [1].
        """
    @property
    def same_amount(self) -> float:
        """
        Concentration at which a drench applies the same amount per pot [kg/m3]; NaN for a spray.
        """
    @property
    def same_control(self) -> RateForHeight:
        """
        The concentration that gives the same height.
        """
class BenchLayout:
    """
    Positions of the plants on a bench.
    """
    def __init__(self, inputs: collections.abc.Mapping[str, typing.SupportsFloat | typing.SupportsIndex], plant_density: typing.SupportsFloat | typing.SupportsIndex) -> None:
        """
        Makes a layout. `inputs` replace the defaults of the table `layout` by name, in SI. If they give a spacing, it determines the density of plants [1/m2]; otherwise `plant_density` determines the spacing.
        """
    @property
    def length(self) -> float:
        """
        Length of the bench [m].
        """
    @property
    def plant_density(self) -> float:
        """
        Plants per area [1/m2].
        """
    @property
    def width(self) -> float:
        """
        Width of the bench [m].
        """
class Evenness:
    """
    Evenness of a bench, as coefficients of variation among plants [1].
    """
    @property
    def deposit(self) -> float:
        """
        Of the deposit.
        """
    @property
    def dose(self) -> float:
        """
        Of the active ingredient at the growing tips.
        """
    @property
    def height(self) -> float:
        """
        Of the height relative to the untreated check.
        """
    @property
    def mean_height(self) -> float:
        """
        Mean height relative to the untreated check [1].
        """
    @property
    def outside(self) -> float:
        """
        Share of the plants whose height lies outside the band around the mean [1].
        """
class BenchLever:
    """
    Evenness of the bench when it is computed without one cause of unevenness.
    """
    @property
    def cause(self) -> str:
        """
        Name of the cause.
        """
    @property
    def evenness(self) -> Evenness:
        """
        Evenness without the cause.
        """
class DrenchInstead:
    """
    The drench that gives the same mean height as the spray.
    """
    def __getstate__(self) -> tuple[float, float]:
        ...
    def __setstate__(self, arg0: tuple) -> None:
        ...
    @property
    def concentration(self) -> float:
        """
        Concentration [kg/m3].
        """
    @property
    def volume_per_pot(self) -> float:
        """
        Volume for each pot [m3].
        """
class Bench:
    """
    Results for the plants of a bench, in SI. Columns have one entry per plant.
    """
    def in_band(self, band: typing.SupportsFloat | typing.SupportsIndex) -> numpy.typing.NDArray[numpy.bool]:
        """
        Whether each height differs from the mean height by at most `band`, as a fraction of the mean.
        """
    @property
    def column(self) -> numpy.typing.NDArray[numpy.int32]:
        """
        Place of the plant in its row, from 0.
        """
    @property
    def columns(self) -> dict[str, numpy.typing.NDArray[numpy.float64]]:
        """
        The values of all outcome variables by name, in SI.
        """
    @property
    def crown_diameters(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Diameter of the crown [m].
        """
    @property
    def deposits(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Volume per crown area, for a drench per ground area of the plant [m].
        """
    @property
    def depth(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Deposit as volume per area [m] over [y, x] of the bench; empty for a drench.
        """
    @property
    def doses(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Active ingredient at the growing tips [kg].
        """
    @property
    def drench(self) -> DrenchInstead | None:
        """
        The drench of the lever 'drench'; None without it.
        """
    @property
    def emitted(self) -> float:
        """
        Volume emitted, including what falls beside the bench [m3].
        """
    @property
    def evenness(self) -> Evenness:
        """
        Evenness of the bench.
        """
    @property
    def flow(self) -> float:
        """
        Mean flow per nozzle that emits the volume along the path [m3/s]; 0 for a drench.
        """
    @property
    def heights(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Height relative to the untreated check of the same plant [1].
        """
    @property
    def length(self) -> float:
        """
        Length of the bench [m].
        """
    @property
    def levers(self) -> list[BenchLever]:
        """
        The bench without each cause of unevenness, the most even first; empty unless asked for.
        """
    @property
    def nozzle_flow(self) -> float:
        """
        Flow of the scenario's nozzle at its pressure [m3/s].
        """
    @property
    def off_bench(self) -> float:
        """
        Volume that falls beside the bench [m3].
        """
    @property
    def passes(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        The path as rows of x0, y0, x1, y1 [m], speed [m/s], height [m] and flow [m3/s].
        """
    @property
    def pot_diameters(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Diameter of the pot [m].
        """
    @property
    def row(self) -> numpy.typing.NDArray[numpy.int32]:
        """
        Row of the plant, from 0.
        """
    @property
    def sizes(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Linear size relative to the mean [1].
        """
    @property
    def status(self) -> list[str]:
        """
        How the wet span of each plant ended; 'missed' for a plant that received too little.
        """
    @property
    def width(self) -> float:
        """
        Width of the bench [m].
        """
    @property
    def x(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Position along the bench [m].
        """
    @property
    def y(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Position across the bench [m].
        """
class SettledJug:
    """
    Concentrations in a jug while it stands.
    """
    @property
    def active(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Concentration of the active ingredient [kg/m3] by time and layer.
        """
    @property
    def carrier(self) -> numpy.typing.NDArray[numpy.float64] | None:
        """
        Concentration of the carrier [kg/m3] by time and layer; None for a product without a carrier.
        """
    @property
    def edge(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Depths of the boundaries between layers [m], from 0 at the surface.
        """
    @property
    def mass_error(self) -> float:
        """
        Error of the mass balance: the largest relative change of the mass of a particle class [1].
        """
    @property
    def steps(self) -> int:
        """
        Number of time steps.
        """
    @property
    def time(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Times since the jug was shaken [s].
        """
class NozzleSize:
    """
    A nozzle size of ISO 10625.
    """
    @property
    def colour(self) -> str:
        """
        Colour of the body or cap.
        """
    @property
    def flow(self) -> float:
        """
        Flow of water at 3 bar [m3/s].
        """
    @property
    def name(self) -> str:
        """
        Name, such as '02'.
        """
class Distribution:
    """
    Law of the volume's distribution over diameter.
    
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
        Diameters [m], increasing.
        """
    @property
    def volume_share(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Shares of the volume [1], which sum to 1; empty if there is no liquid.
        """
class SizeClass:
    """
    The representative of a droplet size class.
    """
    @property
    def dv50(self) -> float:
        """
        Volume median diameter [m].
        """
    @property
    def name(self) -> str:
        """
        Name, such as 'medium'.
        """
    @property
    def relative_span(self) -> float:
        """
        Relative span [1].
        """
    @property
    def source(self) -> str:
        """
        Source of the volume median diameter.
        """
class FlightInput:
    """
    Release of a spray: nozzle, air and geometry.
    """
    @property
    def droplet_temperature(self) -> float:
        """
        Steady temperature of a small water droplet in the air [K].
        """
    @property
    def exit_speed(self) -> float:
        """
        Speed of the liquid at the nozzle [m/s].
        """
    @property
    def jet_length(self) -> float:
        """
        Length scale of the air jet [m].
        """
class DropletFlight:
    """
    Result of the flight of one droplet. The three shares refer to its volume at the nozzle and sum to 1.
    """
    @property
    def airborne(self) -> float:
        """
        Share that passes the edge of the bench or is still in the air [1].
        """
    @property
    def angle(self) -> float:
        """
        Angle of the path at the end from straight down [rad].
        """
    @property
    def delivered(self) -> float:
        """
        Share that reaches the crop [1].
        """
    @property
    def diameter(self) -> float:
        """
        Diameter at the end [m].
        """
    @property
    def end(self) -> str:
        """
        End of the flight: 'reached crop', 'left target', 'evaporated' or 'still aloft'.
        """
    @property
    def evaporated(self) -> float:
        """
        Share that evaporates [1].
        """
    @property
    def heat(self) -> float:
        """
        Heat taken from the air, per volume of the droplet at the nozzle [J/m3].
        """
    @property
    def offset(self) -> float:
        """
        Position at the end, downwind of the axis of the spray [m].
        """
    @property
    def speed(self) -> float:
        """
        Speed at the end [m/s].
        """
    @property
    def temperature(self) -> float:
        """
        Temperature at the end [K].
        """
    @property
    def time(self) -> float:
        """
        Duration of the flight [s].
        """
class StillAir:
    """
    Fall, stopping distance and evaporation of a droplet in still air.
    """
    @property
    def lifetime(self) -> float:
        """
        Time in which it evaporates to its non-volatile core, motionless [s].
        """
    @property
    def stop_distance(self) -> float:
        """
        Distance in which drag alone stops it from the exit speed [m].
        """
    @property
    def terminal_speed(self) -> float:
        """
        Terminal speed of its fall [m/s].
        """
class ImpactMap:
    """
    Impacts of droplets on a leaf, as arrays over [speed, diameter].
    """
    @property
    def excess_energy(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Excess rebound energy over the surface energy of the droplet [1].
        """
    @property
    def leaving_speed(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Speed of the volume that leaves [m/s].
        """
    @property
    def maximum_spread(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Maximum spread over the diameter of the droplet [1].
        """
    @property
    def outcome(self) -> numpy.typing.NDArray[numpy.int32]:
        """
        0 if the droplet adheres, 1 if it rebounds, 2 if it shatters.
        """
    @property
    def retained_share(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Share of the volume that stays on the leaf [1].
        """
    @property
    def splash_parameter(self) -> numpy.typing.NDArray[numpy.float64]:
        """
        Splash parameter We^1/2 Re^1/4 [1].
        """
class SpreadLaw:
    """
    Law for the maximum spread of a droplet.
    
    Members:
    
      mao : Mao, Kuhn & Tran 1997
    
      pasandideh_fard : Pasandideh-Fard et al. 1996
    """
    __members__: typing.ClassVar[dict[str, SpreadLaw]]
    mao: typing.ClassVar[SpreadLaw]
    pasandideh_fard: typing.ClassVar[SpreadLaw]
    @typing.overload
    def __eq__(self, other: SpreadLaw) -> bool:
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
    def __ne__(self, other: SpreadLaw) -> bool:
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
class StemPart:
    """
    Stems and petioles within a leaf layer, and the balance of their liquid per area of bench [m].
    """
    @property
    def area(self) -> float:
        """
        Lateral area per area of bench [1].
        """
    @property
    def caught(self) -> float:
        """
        Liquid of the droplets that hit them [m].
        """
    @property
    def from_above(self) -> float:
        """
        Run-off of the stems above [m].
        """
    @property
    def from_leaves(self) -> float:
        """
        Run-off of the layer's leaves that follows petioles [m].
        """
    @property
    def liquid(self) -> float:
        """
        Retained liquid [m].
        """
    @property
    def run_off(self) -> float:
        """
        Run-off [m].
        """
class LeafLayer:
    """
    A layer of leaves and stems, and the liquid that it retains.
    """
    @property
    def area(self) -> float:
        """
        One-sided leaf area per area of bench [1].
        """
    @property
    def droplets(self) -> Spectrum:
        """
        Sizes of the retained droplets; empty if there are none.
        """
    @property
    def interception(self) -> float:
        """
        Share of the flux through crowns that its leaves intercept [1].
        """
    @property
    def liquid(self) -> float:
        """
        Liquid retained on its leaves, per area of bench [m].
        """
    @property
    def run_off(self) -> float:
        """
        Run-off from its leaves, per area of bench [m].
        """
    @property
    def stem(self) -> StemPart:
        """
        The stems and petioles between its leaves.
        """
class Landing:
    """
    Result of a landing: where the liquid came to rest.
    """
    @property
    def heat(self) -> float:
        """
        Heat that the flight takes from the air, per sprayed volume [J/m3].
        """
    @property
    def layers(self) -> list[LeafLayer]:
        """
        The leaf layers, from the top down.
        """
    @property
    def rebounded(self) -> float:
        """
        Volume that rebounded from leaves over the sprayed volume, summed over impacts [1].
        """
    @property
    def shattered(self) -> float:
        """
        Volume that shattered on leaves over the sprayed volume, summed over impacts [1].
        """
    @property
    def split(self) -> list[tuple[str, float]]:
        """
        Shares of the sprayed volume by place [1], which sum to 1.
        """
    @property
    def straight(self) -> float:
        """
        Share that reached the substrate without touching a leaf or stem [1].
        """
class FallingLiquid:
    """
    Liquid that falls inside crowns.
    """
    @property
    def droplets(self) -> Spectrum:
        """
        Its droplets; empty if nothing falls there.
        """
    @property
    def share(self) -> float:
        """
        Volume per area of crown over the sprayed volume per area of bench [1].
        """
class Card:
    """
    A water-sensitive card that lies level.
    """
    def __init__(self, width: typing.SupportsFloat | typing.SupportsIndex, height: typing.SupportsFloat | typing.SupportsIndex, spread_factor: typing.SupportsFloat | typing.SupportsIndex, smallest_stain: typing.SupportsFloat | typing.SupportsIndex) -> None:
        """
        Makes a card from its width and height [m], the diameter of a stain over that of its droplet [1], and the smallest diameter of a visible stain [m].
        """
class CardReading:
    """
    Reading of a card.
    """
    @property
    def coverage(self) -> float:
        """
        Share of the card that is stained [1].
        """
    @property
    def density(self) -> float:
        """
        Visible stains per area [1/m2].
        """
class Concentrate:
    """
    A product as its label states its strength.
    """
    @staticmethod
    def by_mass(strength: typing.SupportsFloat | typing.SupportsIndex, density: typing.SupportsFloat | typing.SupportsIndex) -> Concentrate:
        """
        Makes a liquid product with `strength` [1] of active ingredient by mass and a density [kg/m3].
        """
    @staticmethod
    def by_volume(strength: typing.SupportsFloat | typing.SupportsIndex, density: typing.SupportsFloat | typing.SupportsIndex | None = None) -> Concentrate:
        """
        Makes a liquid product with `strength` [kg/m3] of active ingredient. The density [kg/m3] may be None if it is not known.
        """
    @staticmethod
    def powder(strength: typing.SupportsFloat | typing.SupportsIndex) -> Concentrate:
        """
        Makes a powder with `strength` [1] of active ingredient by mass.
        """
    def __init__(self, concentration: typing.SupportsFloat | typing.SupportsIndex | None, mass_share: typing.SupportsFloat | typing.SupportsIndex | None) -> None:
        """
        Makes a product from its active ingredient per volume [kg/m3] and per mass [1]; either may be None.
        """
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
    Amounts to measure and amounts that reach the crop, in SI. A member is None if it does not apply or its input was not given.
    """
    @property
    def active_ingredient(self) -> float:
        """
        Amount that is applied [kg].
        """
    @property
    def active_per_area(self) -> float | None:
        """
        Active ingredient per area [kg/m2].
        """
    @property
    def active_per_pot(self) -> float | None:
        """
        Active ingredient per pot [kg].
        """
    @property
    def area(self) -> float | None:
        """
        Area that is treated [m2].
        """
    @property
    def concentration(self) -> float:
        """
        Active ingredient per volume of the mix [kg/m3].
        """
    @property
    def fill_volume(self) -> float:
        """
        Volume of a full tank [m3].
        """
    @property
    def fills(self) -> int:
        """
        Number of fills of the tank.
        """
    @property
    def final_volume(self) -> float:
        """
        Volume of the mix [m3].
        """
    @property
    def last_fill_volume(self) -> float:
        """
        Volume of the last fill [m3].
        """
    @property
    def pots(self) -> int | None:
        """
        Number of pots that are treated.
        """
    @property
    def product(self) -> float:
        """
        Amount of product [m3], of a powder [kg].
        """
    @property
    def product_in_last_fill(self) -> float:
        """
        Product for the last fill [m3], of a powder [kg].
        """
    @property
    def product_per_fill(self) -> float:
        """
        Product for a full tank [m3], of a powder [kg].
        """
    @property
    def used_volume(self) -> float:
        """
        Volume that is applied [m3].
        """
    @property
    def volume_per_pot(self) -> float | None:
        """
        Volume per pot [m3].
        """
    @property
    def volume_rate(self) -> float | None:
        """
        Volume per area [m].
        """
    @property
    def water(self) -> float | None:
        """
        Volume of water [m3]; None for a powder.
        """
class DryDeposit:
    """
    Fate of a deposit after it has dried, as shares of the deposit [1].
    """
    @property
    def lost(self) -> float:
        """
        Share that was lost.
        """
    @property
    def taken_up(self) -> float:
        """
        Share that the plant has taken up.
        """
def air_at_crop(scenario: Scenario, outdoor: Outdoor) -> CropAir:
    """
    Computes the air at the crop from the weather outside, as it is while nothing is sprayed.
    """
def air_from_logger(scenario: Scenario, measured: Outdoor) -> CropAir:
    """
    Returns the air at the crop as a logger there measured it, in surroundings that are warmer by air.surroundings_offset, with house.air_changes.
    """
def applied_mix(product: Concentrate, *, volume: typing.SupportsFloat | typing.SupportsIndex | None = None, mass: typing.SupportsFloat | typing.SupportsIndex | None = None, water: typing.SupportsFloat | typing.SupportsIndex | None = None, final_volume: typing.SupportsFloat | typing.SupportsIndex | None = None, used: typing.SupportsFloat | typing.SupportsIndex | None = None, area: typing.SupportsFloat | typing.SupportsIndex | None = None, pots: typing.SupportsInt | typing.SupportsIndex | None = None) -> TankMix:
    """
    Computes what an amount of product delivered. The amount is a `volume` [m3] or a `mass` [kg]; the mix is given by the `water` that was added or by its `final_volume` [m3]. `used` [m3] was applied, by default all of it, to an `area` [m2] or to `pots`.
    """
def bench_measured_pattern(offsets: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], amounts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], height: typing.SupportsFloat | typing.SupportsIndex, thickness_angle: typing.SupportsFloat | typing.SupportsIndex) -> numpy.typing.NDArray[numpy.float64]:
    """
    Returns the footprint of a fan that was measured at `height` [m]: amounts at offsets [m], with linear interpolation. thickness_angle [rad] is the opening across the fan.
    """
def bench_parameters() -> list[Parameter]:
    """
    Returns all rows of the bench's tables of inputs, in the order of the tables: pattern, wand, boom, layout, bench, drench.
    """
def bench_pattern(inputs: collections.abc.Mapping[str, typing.SupportsFloat | typing.SupportsIndex]) -> numpy.typing.NDArray[numpy.float64]:
    """
    Returns the footprint of a nozzle as rows of left, right, at_left, at_right, back and front, with lengths relative to the height. `inputs` replace the defaults of the table `pattern` by name, in SI.
    """
def best_time(control: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], wet_at_end: typing.Annotated[numpy.typing.ArrayLike, numpy.uint8]) -> int:
    """
    Returns the position of the largest growth control among the rows whose plants dry, if there are any.
    """
def boom_passes(inputs: collections.abc.Mapping[str, typing.SupportsFloat | typing.SupportsIndex], layout: BenchLayout, seed: typing.SupportsInt | typing.SupportsIndex) -> numpy.typing.NDArray[numpy.float64]:
    """
    Returns the passes of a boom over a bench, in the form of `wand_passes`. `inputs` replace the defaults of the table `boom`.
    """
def card_spots(spectrum: Spectrum, deposit: typing.SupportsFloat | typing.SupportsIndex, seed: typing.SupportsInt | typing.SupportsIndex, card: Card) -> numpy.typing.NDArray[numpy.float64]:
    """
    Draws the stains of one card, as rows of x, y from the lower left corner and radius [m]. The centre of a stain at the edge may lie beside the card.
    """
def compare_times(scenario: Scenario, airs: collections.abc.Sequence[CropAir], air_of: typing.Annotated[numpy.typing.ArrayLike, numpy.uint64], starts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], weeks: collections.abc.Sequence[typing.Annotated[numpy.typing.ArrayLike, numpy.float64]], weeks_of: typing.Annotated[numpy.typing.ArrayLike, numpy.uint64], delays: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] | None = None, threads: typing.SupportsInt | typing.SupportsIndex = 0, progress: typing.Any = None) -> Day:
    """
    Sprays a scenario at each of `starts` [s] in airs[air_of[i]], also at both ends of the residue. The crop grows at weeks[weeks_of[i]], daily mean temperatures [K]. `delays` [s] are those of the re-wetting. `progress` is called with the number of finished rows, three for each time.
    """
def concentration_for_dose(dose: typing.SupportsFloat | typing.SupportsIndex, volume_per_pot: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Returns the concentration [kg/m3] that gives each pot `dose` [kg] in `volume_per_pot` [m3].
    """
def conditions(air: CropAir, moments: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> numpy.typing.NDArray[numpy.float64]:
    """
    Conditions of an air record at moments [s]; rows as in RowTable.conditions.
    """
def deposit_left(scenario: Scenario, mobile_share: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], mobile_rate: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], residue_loss: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], mass: typing.SupportsFloat | typing.SupportsIndex, temperature: typing.SupportsFloat | typing.SupportsIndex, times: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], rewet_at: typing.SupportsFloat | typing.SupportsIndex | None = None, water: typing.SupportsFloat | typing.SupportsIndex = 0.0, wet_time: typing.SupportsFloat | typing.SupportsIndex = 0.0) -> numpy.typing.NDArray[numpy.float64]:
    """
    Shares of a deposit of `mass` [kg per m2 of contact] that are still on the surface at `times` [s] after it dried, mobile and locked together, at a constant `temperature` [K]. There is one row for each uptake.mobile_share [1], uptake.mobile_rate [1/s] and uptake.residue_loss [1/s]. If `rewet_at` [s] is given, a depth of `water` [m] wets the deposit again at that time and dries within `wet_time` [s].
    """
def drenches_as_sprays(scenarios: collections.abc.Sequence[Scenario], sprays: collections.abc.Sequence[Scenario], airs: collections.abc.Sequence[CropAir], starts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], weeks: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] | None, threads: typing.SupportsInt | typing.SupportsIndex = 0) -> list[Equivalent]:
    """
    Finds the equivalent of each drench as a spray. `sprays` describe the spray for each drench; their concentration is computed.
    """
def droplet_density(spectrum: Spectrum, deposit: typing.SupportsFloat | typing.SupportsIndex) -> numpy.typing.NDArray[numpy.float64]:
    """
    Returns the droplets per area [1/m2] in each bin of a deposit [m].
    """
def dry_deposit(scenario: Scenario, mass: typing.SupportsFloat | typing.SupportsIndex, temperature: typing.SupportsFloat | typing.SupportsIndex, duration: typing.SupportsFloat | typing.SupportsIndex) -> DryDeposit:
    """
    Computes the shares of a deposit of `mass` [kg per m2 of contact] that are taken up and lost within `duration` [s] after it has dried, at a constant temperature [K].
    """
def drying_leaf(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, depth: typing.SupportsFloat | typing.SupportsIndex) -> dict:
    """
    Follows a crop until its leaves are dry. At `start` [s] of an air record the leaves carry `depth` [m of liquid per one-sided leaf area] in droplets of the scenario's spectrum; everything else is dry. Returns `time` since the start [s], `water` as a share of the water at the start [1], the leaves' `temperature` [K], and `wet_time` [s].
    """
def exit_speed(pressure: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], liquid_density: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], velocity_coefficient: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any:
    """
    Returns the speed of the liquid at the orifice [m/s]: C_v sqrt(2 p / rho).
    """
def falling_below(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, spectrum: Spectrum, below: typing.SupportsInt | typing.SupportsIndex) -> FallingLiquid:
    """
    Computes the liquid that falls inside crowns below `below` leaf layers, without drip from leaves.
    """
def fan_width(height: typing.SupportsFloat | typing.SupportsIndex, fan_angle: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Returns the width [m] that a fan of opening fan_angle [rad] covers from `height` [m]: 2 h tan(angle / 2).
    """
def flight_input(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex) -> FlightInput:
    """
    Returns the release of a scenario's spray into the air of a record at `start` [s].
    """
def flight_path(diameter: typing.SupportsFloat | typing.SupportsIndex, input: FlightInput, interval: typing.SupportsFloat | typing.SupportsIndex) -> numpy.typing.NDArray[numpy.float64]:
    """
    Computes the path of a droplet with a diameter [m] at the nozzle, as rows of time [s], position downwind [m], height above the crop [m], speed [m/s], diameter [m] and temperature [K]. There is a row every `interval` [s], and one for the end of the flight.
    """
def fly(diameters: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], input: FlightInput) -> list[DropletFlight]:
    """
    Computes the flights of droplets with these diameters [m] at the nozzle.
    """
def half_amounts(scenario: Scenario, inputs: collections.abc.Sequence[tuple[typing.SupportsInt | typing.SupportsIndex, typing.Annotated[numpy.typing.ArrayLike, numpy.float64]]], volume: typing.SupportsFloat | typing.SupportsIndex, concentration: typing.SupportsFloat | typing.SupportsIndex, control: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> numpy.typing.NDArray[numpy.float64]:
    """
    Finds crop.half_amount [kg] for each growth control [1]. With it, `volume` [m3 per plant] of a liquid of `concentration` [kg/m3], applied to the pot by the scenario's method, gives the growth control. `inputs` (positions and columns) change the scenario for each. NaN where no value gives it.
    """
def height_course(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, weeks: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] | None = None) -> HeightCourse:
    """
    Simulates the applications to one crop, and returns the heights over time.
    """
def height_variables() -> list[HeightVariable]:
    """
    Returns a description of every column of the time series of heights except time.
    """
def history_variables() -> list[HistoryVariable]:
    """
    Returns a description of every column of a history except time.
    """
def impact_map(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, diameters: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], speeds: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], incidence: typing.SupportsFloat | typing.SupportsIndex, spread_law: SpreadLaw) -> ImpactMap:
    """
    Computes the impacts on the scenario's leaf of droplets of these diameters [m] and speeds [m/s], whose path has the angle `incidence` [rad] to the leaf's normal.
    """
def in_still_air(diameter: typing.SupportsFloat | typing.SupportsIndex, input: FlightInput) -> StillAir:
    """
    Computes fall, stopping distance and evaporation in still air of a droplet of a diameter [m]; NaN outside 1e-6 .. 6e-3 m.
    """
def instructions() -> list[str]:
    """
    Returns the vector instructions that the clock path can use on this machine, the fastest last.
    """
def jug_parameters() -> list[Parameter]:
    """
    Returns all rows of the jug's tables of inputs, in the order of the tables.
    """
def jug_pours(concentration: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], share: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], from_bottom: bool, shaken: typing.SupportsFloat | typing.SupportsIndex) -> numpy.typing.NDArray[numpy.float64]:
    """
    Computes the strength of each pour relative to the label [1]. `share` holds the share of the jug in each pour; `shaken` is the share of every layer that shaking mixes evenly over the jug before the pours.
    """
def jug_spread(pours: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> float:
    """
    Computes the coefficient of variation of pours: sample standard deviation over mean [1].
    """
def land(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, spectrum: Spectrum) -> Landing:
    """
    Computes where the scenario's application comes to rest, if it is sprayed in droplets of `spectrum` at `start` [s] of an air record.
    """
def leaf_coverage(spectrum: Spectrum, deposit: typing.SupportsFloat | typing.SupportsIndex, contact_angle: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Returns the share of a leaf that a deposit [m] wets, in droplets with the shape of caps at a contact angle [rad].
    """
def may_change(position: typing.SupportsInt | typing.SupportsIndex) -> bool:
    """
    Whether the applications of a calendar may differ in the input at a position of the table.
    """
def mean_temperatures(air: CropAir, edges: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> numpy.typing.NDArray[numpy.float64]:
    """
    Returns the mean air temperature [K] between each of `edges` [s] and the next; NaN where the record covers less than half of that time.
    """
def measured_spectrum(diameter: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], cumulative_share: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], bins: typing.SupportsInt | typing.SupportsIndex) -> Spectrum:
    """
    Returns the bins of a measured spectrum: the share of the volume below each diameter [m], from 0 to 1.
    """
def mix_tank(product: Concentrate, concentration: typing.SupportsFloat | typing.SupportsIndex, final_volume: typing.SupportsFloat | typing.SupportsIndex, *, area: typing.SupportsFloat | typing.SupportsIndex | None = None, pots: typing.SupportsInt | typing.SupportsIndex | None = None, tank: typing.SupportsFloat | typing.SupportsIndex | None = None) -> TankMix:
    """
    Computes the amounts for a mix of `final_volume` [m3] with `concentration` [kg/m3]. `area` [m2] or `pots` state what is treated, and `tank` [m3] is the volume of a full tank.
    """
def mobile_shares_if_rewetted(scenario: Scenario, inputs: collections.abc.Sequence[tuple[typing.SupportsInt | typing.SupportsIndex, typing.Annotated[numpy.typing.ArrayLike, numpy.float64]]], count: typing.SupportsInt | typing.SupportsIndex) -> numpy.typing.NDArray[numpy.float64]:
    """
    Returns, for each of `count` rows, the mobile share of the residue [1] at which a spray without a re-wetting has about the growth control of the same spray with a usual one. `inputs` (positions and columns) change the scenario for each row.
    """
def nozzle_flow(rated_flow: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], pressure: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], rated_pressure: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] = 300000.0) -> typing.Any:
    """
    Returns the flow [m3/s] at `pressure` [Pa] of a nozzle that gives `rated_flow` at `rated_pressure`: Q0 sqrt(p / p0).
    """
def nozzle_sizes() -> list[NozzleSize]:
    """
    Returns the nozzle sizes of ISO 10625, the smallest first.
    """
def outcome_variables() -> list[OutcomeVariable]:
    """
    Returns a description of every number in an outcome, in the order of the columns of tables.
    """
def over_best(control: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], best: typing.SupportsInt | typing.SupportsIndex) -> numpy.typing.NDArray[numpy.float64]:
    """
    Returns growth control over that at position `best` [1]; 1 if that is 0.
    """
def owed_to_wet_time(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, weeks: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> OwedToWetTime:
    """
    Computes the share of growth control that would be missing if the same deposit had dried at once.
    """
def pace_for(flow: typing.SupportsFloat | typing.SupportsIndex, rate: typing.SupportsFloat | typing.SupportsIndex, swath: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Returns the pace [m/s] at which a flow [m3/s] gives the volume per area `rate` [m] over `swath` [m]: Q / (q w).
    """
def parameters() -> list[Parameter]:
    """
    Returns all rows of the table of inputs, in the order of the table.
    """
def pot_cover(scenario: Scenario) -> float:
    """
    Returns the area of the pots over that of the bench [1]. Raises InputError if they do not fit.
    """
def rates_for_height(scenarios: collections.abc.Sequence[Scenario], airs: collections.abc.Sequence[CropAir], starts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], weeks: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] | None, height: typing.SupportsFloat | typing.SupportsIndex, threads: typing.SupportsInt | typing.SupportsIndex = 0) -> list[RateForHeight]:
    """
    Finds the concentration at which the plants of each scenario have a `height` [m] when height is judged.
    """
def read_card(spectrum: Spectrum, deposit: typing.SupportsFloat | typing.SupportsIndex, card: Card) -> CardReading:
    """
    Returns the expected reading of a card under a deposit [m of liquid].
    """
def reading_error(amount: typing.SupportsFloat | typing.SupportsIndex, division: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Returns the reading error of a measured amount [1]: half a division of the measuring device over the amount.
    """
def residue_ends(scenario: Scenario) -> ResidueEnds:
    """
    Returns the scenario with the least and with the largest plausible uptake.mobile_share. crop.leaf_tip_share moves the other way, so that their product stays.
    """
def rewetting_gain(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, weeks: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> RewettingGain:
    """
    Computes a scenario with and without its re-wetting, also at both ends of the residue.
    """
def rewetting_water(scenario: Scenario) -> float:
    """
    Returns the water of a re-wetting [m]; of a calendar, the largest of its applications.
    """
@typing.overload
def sauter_mean_diameter(distribution: Distribution, dv50: typing.SupportsFloat | typing.SupportsIndex, relative_span: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Returns the Sauter mean diameter [m].
    """
@typing.overload
def sauter_mean_diameter(spectrum: Spectrum) -> float:
    """
    Returns the Sauter mean diameter [m] of a spectrum in bins.
    """
def sections() -> list[Section]:
    """
    Returns all sections of a scenario, in the order of the table.
    """
def settle_jug(strength: typing.SupportsFloat | typing.SupportsIndex, formulation: str, inputs: collections.abc.Mapping[str, typing.SupportsFloat | typing.SupportsIndex], times: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex]) -> SettledJug:
    """
    Computes the settling of a product of `strength` [kg/m3] that stands after it was well shaken, and returns its layers at `times` [s].
    
    `formulation` is 'suspension' or 'solution'. `inputs` replace the defaults of the tables by name, in SI. Raises IntegrationError if max_steps do not suffice.
    """
@typing.overload
def share_below(distribution: Distribution, dv50: typing.SupportsFloat | typing.SupportsIndex, relative_span: typing.SupportsFloat | typing.SupportsIndex, diameter: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Returns the share of the volume in droplets smaller than `diameter` [m].
    """
@typing.overload
def share_below(spectrum: Spectrum, diameter: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Returns the same share of a spectrum in bins.
    """
def simulate(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, history: bool = False, weeks: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] | None = None) -> Outcome:
    """
    Simulates the applications to one crop. Growth starts at `start` [s] of the air record; `weeks` are the daily mean temperatures from then on [K], and crop.mean_temperature holds after them.
    """
def simulate_rows(count: typing.SupportsInt | typing.SupportsIndex, scenarios: collections.abc.Sequence[Scenario], airs: collections.abc.Sequence[CropAir], *, inputs: collections.abc.Sequence[tuple[typing.SupportsInt | typing.SupportsIndex, typing.Annotated[numpy.typing.ArrayLike, numpy.float64]]] = [], scenario_of: typing.Annotated[numpy.typing.ArrayLike, numpy.uint64] | None = None, air_of: typing.Annotated[numpy.typing.ArrayLike, numpy.uint64] | None = None, starts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] | None = None, weeks: collections.abc.Sequence[typing.Annotated[numpy.typing.ArrayLike, numpy.float64]] = [], weeks_of: typing.Annotated[numpy.typing.ArrayLike, numpy.uint64] | None = None, rows: typing.Annotated[numpy.typing.ArrayLike, numpy.uint64] | None = None, into: RowTable = None, threads: typing.SupportsInt | typing.SupportsIndex = 0, instructions: str | None = None, reference_only: bool = False, progress: typing.Any = None) -> RowTable:
    """
    Computes many sprays. A row is the scenario scenarios[scenario_of[row]] with the values of `inputs` (positions and columns). It is sprayed at starts[row] [s] in airs[air_of[row]]; without airs, in the constant air of its own scenario. The crop then grows at weeks[weeks_of[row]], daily mean temperatures [K], or at crop.mean_temperature. If `rows` is given, only these rows are computed. Results are written to the table `into`, or to a new one. `progress` is called about ten times a second with the number of finished rows. An interrupt ends the computation.
    """
def size_classes() -> list[SizeClass]:
    """
    Returns the representative of each droplet size class, the finest first.
    """
def spectrum(distribution: Distribution, dv50: typing.SupportsFloat | typing.SupportsIndex, relative_span: typing.SupportsFloat | typing.SupportsIndex, bins: typing.SupportsInt | typing.SupportsIndex) -> Spectrum:
    """
    Returns the bins of a two-parameter spectrum with the volume median diameter dv50 [m].
    """
def spray_bench(scenario: Scenario, layout: BenchLayout, *, pot_diameters: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex], pattern: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], passes: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], volume: typing.SupportsFloat | typing.SupportsIndex | None, volume_per_pot: typing.SupportsFloat | typing.SupportsIndex | None, pouring_variation: typing.SupportsFloat | typing.SupportsIndex, cell: typing.SupportsFloat | typing.SupportsIndex, band: typing.SupportsFloat | typing.SupportsIndex, seed: typing.SupportsInt | typing.SupportsIndex, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, weeks: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex], levers: bool, threads: typing.SupportsInt | typing.SupportsIndex) -> Bench:
    """
    Sprays or drenches a bench and computes every plant. The rows take the pot_diameters [m] in turn. `pattern` is a footprint as from `bench_pattern`, and `passes` a path as from `wand_passes`. Volumes are in m3, or None for those of the scenario; `cell` [m] is the size of the map's cells.
    """
def spray_parameters() -> list[Parameter]:
    """
    Returns all inputs of the spray calculators that a scenario does not have.
    """
def sprays_as_drenches(scenarios: collections.abc.Sequence[Scenario], airs: collections.abc.Sequence[CropAir], starts: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], weeks: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] | None, volume: typing.SupportsFloat | typing.SupportsIndex, threads: typing.SupportsInt | typing.SupportsIndex = 0) -> list[Equivalent]:
    """
    Finds the equivalent of each spray as a drench of `volume` [m3] for each plant.
    """
def steady_air(scenario: Scenario) -> CropAir:
    """
    Returns the constant air of a scenario, long enough for all its applications.
    """
def suspensibility(concentration: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> float:
    """
    Computes the suspensibility [0..1], the share that is still suspended: (10/9) (1 - share in the bottom tenth).
    """
def three_quantile_spectrum(dv10: typing.SupportsFloat | typing.SupportsIndex, dv50: typing.SupportsFloat | typing.SupportsIndex, dv90: typing.SupportsFloat | typing.SupportsIndex, bins: typing.SupportsInt | typing.SupportsIndex) -> Spectrum:
    """
    Returns the bins of the spectrum with three given quantiles [m].
    """
def undissolved(concentration: typing.SupportsFloat | typing.SupportsIndex, solubility: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Returns the concentration of active ingredient that stays undissolved [kg/m3].
    """
def volume_for_pots(volume_per_pot: typing.SupportsFloat | typing.SupportsIndex, pots: typing.SupportsInt | typing.SupportsIndex) -> float:
    """
    Returns the volume [m3] that drenches `pots` with `volume_per_pot` [m3] each.
    """
def volume_over_area(volume_rate: typing.SupportsFloat | typing.SupportsIndex, area: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Returns the volume [m3] that covers `area` [m2] at `volume_rate` [m].
    """
def volume_quantile(distribution: Distribution, dv50: typing.SupportsFloat | typing.SupportsIndex, relative_span: typing.SupportsFloat | typing.SupportsIndex, share: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Returns the diameter [m] below which `share` of the volume lies.
    """
def volume_rate(flow: typing.SupportsFloat | typing.SupportsIndex, pace: typing.SupportsFloat | typing.SupportsIndex, swath: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Returns the volume per area [m] from flow [m3/s], pace [m/s] and swath [m]: Q / (v w).
    """
def wand_passes(inputs: collections.abc.Mapping[str, typing.SupportsFloat | typing.SupportsIndex], layout: BenchLayout, seed: typing.SupportsInt | typing.SupportsIndex) -> numpy.typing.NDArray[numpy.float64]:
    """
    Returns the passes of a hand-held wand over a bench, with a flow of 1 m3/s, as rows of x0, y0, x1, y1 [m], speed [m/s], height [m] and flow [m3/s]. `inputs` replace the defaults of the table `wand`.
    """
def wettability_class(contact_angle: typing.SupportsFloat | typing.SupportsIndex) -> str:
    """
    Returns the wettability class of a leaf by the contact angle of water [rad].
    """
def why(scenario: Scenario, air: CropAir, start: typing.SupportsFloat | typing.SupportsIndex, most: typing.SupportsInt | typing.SupportsIndex, weeks: typing.Annotated[numpy.typing.ArrayLike, numpy.float64] | None = None, threads: typing.SupportsInt | typing.SupportsIndex = 0) -> Why:
    """
    Computes the contribution of each site of entry to growth control, and the effect of each practical change alone. Returns at most `most` changes, those with the largest effect.
    """
def without_rewetting(scenario: Scenario) -> Scenario:
    """
    Returns the scenario without a re-wetting, at any of its applications.
    """
__version__: str
path_names: tuple = ('reference', 'clock')
reading_tolerance: float = 0.05
refusal_names: tuple = ('', 'no liquid on leaves', 'a hygroscopic liquid', 'dew on the leaves', 'followed beyond drying', 'not followed to the end', 'a tolerance beyond the polynomials', 'a contact angle beyond the polynomial', 'too many droplet classes', 'a re-wetting follows', 'dew, or the like, on the way', 'the caller asks for it')
status_names: tuple = ('dry', 'wet at end', 'nothing wet', 'failed')
volume_tolerance: float = 0.05
