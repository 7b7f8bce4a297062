"""One bench, sprayed or drenched by the core, as datasets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.figure import Figure

from wetspan import _core
from wetspan.bench.inputs import (
    BENCH_INPUTS,
    PASS_COLUMNS,
    Inputs,
    Numbers,
    Passes,
    footprint,
    given_keys,
    layout_and_pots,
    path,
    value,
)
from wetspan.bench.pictures import picture
from wetspan.bench.words import ACTIONS, bench_report, instead
from wetspan.drawing import Where
from wetspan.draws import whole
from wetspan.errors import InputError, yes_or_no
from wetspan.outcome import attributes, dataset, scenario_attributes
from wetspan.progress import working
from wetspan.record import Moment, air_at_spraying, local, weeks_at
from wetspan.rewetting import timed
from wetspan.scenario import Scenario, require_scenario
from wetspan.unit_shown import convert
from wetspan.weather import Weather


class Evenness(NamedTuple):
    """How even a bench is."""

    deposit: float  #: coefficient of variation of the deposit from plant to plant [1]
    dose: float  #: of the dose at the growing tips [1]
    height: float  #: of the height relative to the untreated check [1]
    outside: float  #: share of the plants whose height lies outside the band around the mean [1]
    mean_height: float  #: mean height relative to the untreated check [1]


class Lever(NamedTuple):
    """One cause of unevenness, and the bench computed anew without it."""

    name: str
    action: str
    evenness: Evenness
    text: str  #: one line with the numbers

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, eq=False, repr=False)
class BenchResult:
    """The result of a spray or a drench on a bench, plant by plant.

    map
        Dataset over `y` and `x` [m]: `deposit` [L/m2]; without cells for a drench.
    plants
        Dataset along `plant`, with coordinates x, y [m], row and column: `pot_diameter` [m], `size` [1,
        linear, relative to the mean], `crown_diameter` [m], `deposit` [L/m2 on the plant's crown, or for a
        drench on its ground], and the results of `ws.simulate` for each plant: split(target), wet_time,
        uptake(site), growth_control, ...; `dose` [mg at the growing tips], `relative_height` [1, of the
        untreated check] and `in_band`.
    passes
        Table of the nozzle's path: x0, y0, x1, y1 [m], speed [m/s], height [m], flow [m3/s].
    evenness
        Coefficients of variation of deposit, dose and height, and the share of plants outside the band.
    levers
        Changes that would make the bench more even, the largest effect first: each is the bench computed
        again without one cause of unevenness. As text, one line each.
    drench
        The drench with which the lever "drench" compares: `volume_per_pot` [m3] and `concentration` [kg/m3];
        None without levers.
    given
        Keys of `BENCH_INPUTS`, such as "wand.pace", that were given; the others have their defaults.

    The attributes of `map` and `plants` give the emitted volume, what falls beside the bench, and how it is
    sprayed.
    """

    scenario: Scenario
    map: xr.Dataset
    plants: xr.Dataset
    passes: pd.DataFrame
    evenness: Evenness
    levers: tuple[Lever, ...]
    drench: _core.DrenchInstead | None
    given: frozenset[str]

    @property
    def text(self) -> str:
        """The bench in plain lines, with the usual cautions."""
        return "\n".join(bench_report(self))

    def plot(self, ax: Where = None) -> Figure:
        """Draw the deposit map (of a spray), the plants' heights, and the effect of each lever (if computed).

        The picture is on a new figure, or on `ax`, one Axes for each of these panels.
        """
        return picture(self, ax)

    def __str__(self) -> str:
        return self.text

    def __repr__(self) -> str:
        even = self.evenness
        return (
            f"BenchResult({self.plants.sizes['plant']} plants; varying by: deposit {even.deposit:.0%}, "
            f"dose {even.dose:.0%}, height {even.height:.1%}; {even.outside:.0%} outside the band)"
        )


@working("sprays the bench")
def spray_bench(
    scenario: Scenario,
    passes: Passes = "wand",
    layout: Mapping[str, object] | None = None,
    pattern: Inputs | None = None,
    *,
    seed: int = 1,
    volume: object = None,
    volume_per_pot: object = None,
    pouring_variation: object = None,
    cell: object = "2 cm",
    band: object = "5 %",
    weather: Weather | None = None,
    time: Moment | None = None,
    levers: bool = True,
    threads: int = 0,
) -> BenchResult:
    """Spray or drench one bench, and compute every plant on it.

    passes
        "wand" (hand-held, swept from side to side) or "boom", or a mapping with `by` and the inputs that
        differ from their table, such as {"by": "wand", "pace": "0.3 m/s", "speed_variation": "10 %"}. Or the
        path itself: rows of x0, y0, x1, y1, speed, height and optionally flow, as a table or mappings, each
        as text with its unit or a bare number in SI. The bench lies between 0 and its length along x, and
        between 0 and its width along y.
    layout
        Inputs that differ from their table: rows, columns, spacing, arrangement ("square" or "staggered"),
        size_variation; and pot_diameter, one value or a sequence that the rows use in turn. Without them,
        spacing and pots are those of the scenario. A spacing that is given determines the density of plants.
    pattern
        A shape ("uniform", "triangular", "trapezoid", "elliptical", "cone", "ring"), or a mapping with
        `shape` and the inputs that differ from their table, or a measured pattern: {"offsets": [m],
        "amounts": [any unit], "height": m}.
    seed
        A whole number that determines all random numbers: the same seed gives the same bench.
    volume
        Volume that is emitted in all (bare: m3). By default the bench receives application.volume_rate on
        average, and what falls beside the bench comes in addition.
    volume_per_pot, pouring_variation
        Of a drench: the volume that is poured into each pot (bare: m3; by default application.volume_rate
        divided by the plants per area), and its coefficient of variation (10 % by default: an assumption,
        grade D). A scenario with the application.method "drench" is poured. For a spray they describe the
        drench that it is compared with.
    cell, band
        Size of the map's cells, and the deviation from the mean height that is acceptable.
    weather, time
        As for `ws.simulate`; without them the air is the constant air of the scenario.
    levers
        Whether to compute the bench again without each cause of unevenness, which takes six times as long.

    Inputs are listed in `wetspan.bench.BENCH_INPUTS`; text has its unit ("15 cm"), bare numbers are in SI.
    The height of a wand, and the angle and thickness of the fan, are by default those of the scenario's
    nozzle. Values given here change the deposit but not the flight of the droplets. All plants stand in the
    same house, whose air is computed for the mean spray. Plants that receive less than 1 mL/m2 count as
    missed.

    >>> ws.spray_bench(scenario, passes={"by": "boom", "speed": "0.2 m/s"}, layout={"spacing": "20 cm"})
    """
    require_scenario(scenario)
    seed, threads, levers = _seed(seed), whole("threads", threads, 0), yes_or_no("levers", levers)
    allowed = value("bench", "band", band)
    stand, pots = layout_and_pots(scenario, layout or {})
    drenched = scenario.shown("application.method") == "drench"
    if drenched and not (passes == "wand" and pattern is None and volume is None):
        raise InputError(
            "application.method is 'drench': it is poured into pots, and passes, pattern and volume are a "
            "spray's; give volume_per_pot"
        )
    nozzles, by = path(passes, scenario, stand, seed)
    error = _pouring_variation(pouring_variation)
    air, start, weeks = _air(scenario, weather, time)
    if weather is not None and time is not None:
        scenario = timed(scenario, weather, local(weather, time))
    told = _core.spray_bench(
        scenario._core,
        stand,
        pot_diameters=pots,
        pattern=footprint(pattern, scenario),
        passes=nozzles,
        volume=None if volume is None else value("bench", "volume", volume),
        volume_per_pot=None if volume_per_pot is None else value("drench", "volume_per_pot", volume_per_pot),
        pouring_variation=error,
        cell=value("bench", "cell", cell),
        band=allowed,
        seed=seed,
        air=air,
        start=start,
        weeks=weeks.tolist(),
        levers=bool(levers),
        threads=threads,
    )
    about = scenario_attributes(scenario) | _told_of(told, stand)
    about |= {
        "seed": seed,
        "sprayed_by": "pouring into every pot" if drenched else by,
        "emitted_as": "scaled" if volume is None else "given",
        "band": allowed,
        "pouring_variation": error,
        "comment": "variation of speed, height, spacing, pouring and plant size is assumed noise (grade D)",
    }
    given = given_keys(
        passes,
        layout=layout,
        pattern=pattern,
        bench={"volume": volume},
        drench={"volume_per_pot": volume_per_pot, "pouring_variation": pouring_variation},
    )
    return _result(scenario, told, about, allowed, given)


def _seed(seed: int) -> int:
    seed = whole("seed", seed, 0)
    if seed >= 2**64:
        raise InputError(f"seed = {seed} is not below 2^64")
    return seed


def _pouring_variation(given: object) -> float:
    if given is None:
        return BENCH_INPUTS["drench"]["pouring_variation"].standard
    return value("drench", "pouring_variation", given)


def _result(
    scenario: Scenario,
    told: _core.Bench,
    about: Mapping[str, object],
    band: float,
    given: frozenset[str],
) -> BenchResult:
    evenness = _evenness(told.evenness)
    return BenchResult(
        scenario=scenario,
        map=_map(told).assign_attrs(about),
        plants=_plants(told, band).assign_attrs(about),
        passes=pd.DataFrame(told.passes, columns=PASS_COLUMNS),
        evenness=evenness,
        levers=tuple(_lever(lever, evenness) for lever in told.levers),
        drench=told.drench,
        given=given,
    )


def _told_of(told: _core.Bench, stand: _core.BenchLayout) -> dict[str, float]:
    """Return a bench's extent and what is emitted over it."""
    return {
        "bench_length": told.length,
        "bench_width": told.width,
        "ground_area": 1.0 / stand.plant_density,
        "emitted_litres": 1e3 * told.emitted,
        "off_bench_litres": 1e3 * told.off_bench,
        "litres_per_minute": 6e4 * told.flow,
        "nozzle_litres_per_minute": 6e4 * told.nozzle_flow,
    }


def _air(
    scenario: Scenario, weather: Weather | None, time: Moment | None
) -> tuple[_core.CropAir, float, Numbers]:
    """Return the air at the crop, the moment of spraying in it, and the temperatures of the weeks after."""
    if (weather is None) != (time is None):
        raise InputError("weather and time go together; give both, or neither for unchanging air")
    if weather is None or time is None:
        return _core.steady_air(scenario._held), 0.0, np.zeros(0)
    (weeks,), _ = weeks_at(scenario, weather, pd.DatetimeIndex([local(weather, time)]))
    return *air_at_spraying(scenario, weather, time), weeks


def _evenness(told: _core.Evenness) -> Evenness:
    return Evenness(*(getattr(told, name) for name in Evenness._fields))


def _lever(told: _core.BenchLever, now: Evenness) -> Lever:
    then, action = _evenness(told.evenness), ACTIONS[told.cause]
    return Lever(told.cause, action, then, f"{action}: {instead(then, now)}")


def _map(told: _core.Bench) -> xr.Dataset:
    depth = told.depth

    def centres(cells: int, extent: float) -> Numbers:
        return (np.arange(cells) + 0.5) * extent / max(cells, 1)

    return xr.Dataset(
        {
            "deposit": (
                ("y", "x"),
                convert(1.0, "m", "L/m^2") * depth,
                attributes("deposit", "L/m^2", "volume deposited per area of bench"),
            )
        },
        coords={
            "x": (
                "x",
                centres(depth.shape[1], told.length),
                attributes("x", "m", "distance along the bench"),
            ),
            "y": (
                "y",
                centres(depth.shape[0], told.width),
                attributes("y", "m", "distance across the bench"),
            ),
        },
    )


def _plants(told: _core.Bench, band: float) -> xr.Dataset:
    count = len(told.x)
    coords: dict[str, Any] = {
        "plant": ("plant", np.arange(1, count + 1), {"long_name": "plant, row by row"}),
        "x": ("plant", told.x, attributes("x", "m", "distance along the bench")),
        "y": ("plant", told.y, attributes("y", "m", "distance across the bench")),
        "row": ("plant", told.row + 1, {"long_name": "row across the bench"}),
        "column": ("plant", told.column + 1, {"long_name": "place in the row"}),
    }
    plants = dataset(told.columns, told.status, ["plant"], coords, [count])
    for name, values, units, long_name in (
        ("pot_diameter", told.pot_diameters, "m", "diameter of the pot"),
        ("size", told.sizes, "1", "linear size when sprayed, over the mean"),
        ("crown_diameter", told.crown_diameters, "m", "diameter of the crown when sprayed"),
        ("deposit", 1e3 * told.deposits, "L/m^2", "mean deposit over the crown"),
        ("dose", 1e6 * told.doses, "mg", "active ingredient at the growing tips"),
        ("relative_height", told.heights, "1", "height over that of the untreated check"),
    ):
        plants[name] = ("plant", values, attributes(name, units, long_name))
    inside = {"long_name": f"height within {band:.3g} of the mean height, over it"}
    plants["in_band"] = ("plant", told.in_band(band), inside)
    return plants
