"""Across the bench: why one bench of a crop comes out uneven, and what would make it more even.

A nozzle's pattern is carried along its path over the bench (the deposit map); every plant is then computed
through split, wet time, uptake and growth with what fell on its own crown. See docs/science/bench.md.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.collections import EllipseCollection, LineCollection
from matplotlib.colors import LinearSegmentedColormap, Normalize
from matplotlib.figure import Figure

from wetspan import _core
from wetspan.batch import compute
from wetspan.errors import InputError, nearest
from wetspan.outcome import Columns, attributes, dataset
from wetspan.parameters import TABLE
from wetspan.record import Moment, air_at_spraying
from wetspan.report import CAUTIONS, per_cent, what_is_sprayed
from wetspan.scenario import Scenario
from wetspan.study import _about, _whole
from wetspan.units import bounded, convert, value_in_si
from wetspan.weather import Weather

Numbers: TypeAlias = npt.NDArray[np.float64]
Inputs: TypeAlias = "str | Mapping[str, object]"

#: Every input of the bench by table (pattern, wand, boom, layout, bench) and name: bounds, grade, source.
BENCH_INPUTS: Mapping[str, Mapping[str, _core.Parameter]] = MappingProxyType(
    {
        section: {row.name: row for row in _core.bench_parameters() if row.section == section}
        for section in dict.fromkeys(row.section for row in _core.bench_parameters())
    }
)
_PASS_COLUMNS = ["x0", "y0", "x1", "y1", "speed", "height", "flow"]
_TOLERANCE, _LEVER_TOLERANCE = 1e-4, 1e-3  # of the many runs; growth control errs by 1e-5 at most
_LEAST_DEPOSIT = TABLE["application.volume_rate"].low  # what counts as sprayed at all [m]
_MORE = 1.5  # times the liquid in the lever on volume
_CAUSES = {
    "speed": "even speed",
    "height": "even nozzle height",
    "overlap": "even overlap",
    "volume": "more liquid",
    "drench": "drench instead",
    "size": "plants of one size",
}


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
    """What a spray leaves on a bench, plant by plant.

    map
        Dataset over `y` and `x` [m]: `deposit` [L/m2].
    plants
        Dataset along `plant`, with coordinates x, y [m], row and column: `pot_diameter` [m], `size` [1,
        linear, over the mean], `deposit` [L/m2 on its crown], and what `ws.simulate` tells of each:
        split(target), wet_time, uptake(site), growth_control, ...; `dose` [mg at the growing tips],
        `relative_height` [1, of the untreated check] and `in_band`.
    passes
        Table of the nozzle's path: x0, y0, x1, y1 [m], speed [m/s], height [m], flow [m3/s].
    evenness
        Coefficients of variation of deposit, dose and height, and the share of plants outside the band.
    levers
        What would make the bench more even, most first: each computed anew with one cause taken away. As
        text, one line each.

    What is emitted, what falls beside the bench and who sprays stand in the attributes of `map` and `plants`.
    """

    scenario: Scenario
    map: xr.Dataset
    plants: xr.Dataset
    passes: pd.DataFrame
    evenness: Evenness
    levers: tuple[Lever, ...]

    @property
    def text(self) -> str:
        """The bench in plain lines, with the usual cautions."""
        return "\n".join(bench_report(self))

    def plot(self) -> Figure:
        """Draw the deposit map, the plants' heights, and what each lever would do."""
        return _picture(self)

    def __str__(self) -> str:
        return self.text

    def __repr__(self) -> str:
        even = self.evenness
        return (
            f"BenchResult({self.plants.sizes['plant']} plants; varying by: deposit {even.deposit:.0%}, "
            f"dose {even.dose:.0%}, height {even.height:.1%}; {even.outside:.0%} outside the band)"
        )


def spray_bench(
    scenario: Scenario,
    passes: Inputs | pd.DataFrame | Sequence[Mapping[str, float]] = "wand",
    layout: Mapping[str, object] | None = None,
    pattern: Inputs | None = None,
    *,
    seed: int = 1,
    volume: object = None,
    cell: object = "2 cm",
    band: object = "5 %",
    weather: Weather | None = None,
    time: Moment | None = None,
    levers: bool = True,
    threads: int = 0,
) -> BenchResult:
    """Spray one bench and compute every plant on it.

    passes
        "wand" (hand-held, swept from side to side) or "boom", or a mapping with `by` and what differs from
        its table, such as {"by": "wand", "pace": "0.3 m/s", "speed_variation": "10 %"}. Or the path itself:
        rows of x0, y0, x1, y1 [m], speed [m/s], height [m] and optionally flow, as a table or mappings; the
        bench lies between 0 and its length along x, 0 and its width along y.
    layout
        What differs from the table: rows, columns, spacing, arrangement ("square" or "staggered"),
        size_variation; and pot_diameter, one or a sequence that the rows take in turn. Spacing and pots are
        the scenario's unless given; a spacing that is given sets the density of plants.
    pattern
        A shape ("uniform", "triangular", "trapezoid", "elliptical", "cone", "ring"), or a mapping with
        `shape` and what differs from its table, or as measured: {"offsets": [m], "amounts": [any unit],
        "height": m}.
    seed
        A whole number that makes all noise: the same seed gives the same bench.
    volume
        What is emitted in all (bare: m3). Left out, as much as gives the bench application.volume_rate on
        average; what falls beside the bench comes on top.
    cell, band
        Size of the map's cells, and what deviation from the mean height is acceptable.
    weather, time
        As for `ws.simulate`; without them in the unchanging air of the scenario.
    levers
        Whether to compute the bench anew with each cause of unevenness taken away, which takes six times as
        long.

    Inputs are in `BENCH_INPUTS`; text carries its unit ("15 cm"), bare numbers are SI. A wand's height, the
    fan's angle and its thickness are those of the scenario's nozzle unless given; given here they shape the
    deposit and not the droplets' flight. All plants stand in the same house, whose air answers to the mean
    spray. Plants that get less than 1 mL/m2 count as missed.

    >>> ws.spray_bench(scenario, passes={"by": "boom", "speed": "0.2 m/s"}, layout={"spacing": "20 cm"})
    """
    if scenario.shown("application.method") != "spray":
        raise InputError(
            "application.method is 'drench': a drench is measured into pots, there is no bench to spray"
        )
    seed, threads = _whole("seed", seed, 0), _whole("threads", threads, 0)
    if seed >= 2**64:
        raise InputError(f"seed = {seed} is not below 2^64")
    allowed = _value("bench", "band", band)
    stand = _stand(scenario, layout or {}, seed)
    grid = _core.grid_over(
        stand.length, stand.width, _value("bench", "cell", cell), 0.5 * float(stand.crown.max())
    )
    bars = _pattern(pattern, scenario)
    path, by = _path(passes, stand, seed)
    depth, on, off = _core.deposit_passes(grid, bars, path)
    if on <= 0.0:
        raise InputError("nothing falls on the bench; look at passes")
    given = None if volume is None else _value("bench", "volume", volume)
    area = stand.length * stand.width
    scale = scenario["application.volume_rate"] * area / on if given is None else given / (on + off)
    spray = _Spray(
        grid, bars, path, scale * depth, scale * on / area, *_air(scenario, weather, time), threads
    )
    grown = _grow(spray, stand, spray.depth)
    flowing = np.column_stack([path[:, :-1], scale * path[:, -1]])
    about = _about(scenario) | {
        "seed": seed,
        "sprayed_by": by,
        "bench_length": stand.length,
        "bench_width": stand.width,
        "emitted_litres": 1e3 * scale * (on + off),
        "emitted_as": "scaled" if given is None else "given",
        "off_bench_litres": 1e3 * scale * off,
        "litres_per_minute": 6e4 * scale * (on + off) / _core.duration(path),
        "band": allowed,
        "comment": "variation of speed, height, spacing and plant size is assumed noise (grade D)",
    }
    return BenchResult(
        scenario=scenario,
        map=_map(spray).assign_attrs(about),
        plants=_plants(stand, grown, allowed).assign_attrs(about),
        passes=pd.DataFrame(flowing, columns=_PASS_COLUMNS),
        evenness=_evenness(grown, allowed),
        levers=_levers(spray, stand, grown, allowed) if levers else (),
    )


def bench_report(result: BenchResult) -> list[str]:
    """Return a bench in plain lines, with the usual cautions."""
    plants, even, about = result.plants, result.evenness, result.map.attrs
    height = plants["relative_height"].values
    emitted, off = about["emitted_litres"], about["off_bench_litres"]
    mean = float(result.map["deposit"].mean())
    how = "as given: the bench gets" if about["emitted_as"] == "given" else "scaled to give the bench"
    missed = int((plants["status"] == "missed").sum())
    bench = f"{about['bench_length']:.3g} m x {about['bench_width']:.3g} m, {plants.sizes['plant']} plants"
    lines = [
        what_is_sprayed(result.scenario),
        f"Bench of {bench}, sprayed by {about['sprayed_by']}; seed {about['seed']}",
        f"Emitted {emitted:.3g} L at {about['litres_per_minute']:.3g} L/min a nozzle, {how} {mean:.3g} L/m2 "
        f"on average; {per_cent(off / emitted)} of it falls beside the bench",
        f"Varies from plant to plant (standard deviation over mean): deposit by {_cent(even.deposit)}, "
        f"dose by {_cent(even.dose)}, height by {_cent(even.height)}",
        f"Height is {per_cent(height.mean())} of the untreated check on average, {per_cent(height.min())} to "
        f"{per_cent(height.max())}; {per_cent(even.outside)} of the plants are more than "
        f"{per_cent(about['band'])} off the mean",
    ]
    if missed:
        lines.append(f"{missed} plants get less than {_LEAST_DEPOSIT * 1e6:.0f} mL/m2 and count as missed")
    if result.levers:
        lines += ["", "What would make it more even, each computed anew:"]
        lines += [f"  {lever}" for lever in result.levers]
    return [
        *lines,
        "",
        "Variation of speed, height, spacing and plant size is assumed (grade D), not measured: lay cards on "
        "your bench and compare. Differences that the plants had before the spray come on top.",
        "",
        CAUTIONS,
    ]


def bench_document(result: BenchResult) -> dict[str, Any]:
    """Return a bench for programs: units beside the numbers, an infinite wet time as null with its status."""
    plants, about = result.plants, result.map.attrs
    rows = []
    for i in range(plants.sizes["plant"]):
        at = plants.isel(plant=i)
        row: dict[str, Any] = {str(name): _plain(at[name]) for name in ("x", "y", "row", "column")}
        row |= {str(name): _plain(values) for name, values in at.data_vars.items()}
        rows.append(row)
    return {
        "title": result.scenario.title,
        "scenario": result.scenario.to_toml(),
        "seed": about["seed"],
        "sprayed_by": about["sprayed_by"],
        "bench": {"length": about["bench_length"], "width": about["bench_width"]},
        "emitted_litres": about["emitted_litres"],
        "emitted_as": about["emitted_as"],
        "off_bench_litres": about["off_bench_litres"],
        "band": about["band"],
        "evenness": result.evenness._asdict(),
        "levers": [
            {"name": lever.name, "text": lever.text, "evenness": lever.evenness._asdict()}
            for lever in result.levers
        ],
        "units": {
            str(name): str(values.attrs["units"])
            for name, values in plants.variables.items()
            if "units" in values.attrs
        },
        "plants": rows,
        "cautions": CAUTIONS,
    }


# Reading what is asked for --------------------------------------------------------------------------------


def _value(section: str, name: str, given: object) -> float:
    return bounded(name, BENCH_INPUTS[section][name], given)


def _inputs(section: str, given: Mapping[str, object]) -> dict[str, float]:
    """Return the inputs of one table in SI, within their bounds."""
    rows = BENCH_INPUTS[section]
    for name in given:
        if name not in rows:
            hint = nearest(str(name), rows) or f"known are {', '.join(rows)}"
            raise InputError(f"unknown input '{name}' of the {section}; {hint}")
    return {
        name: value_in_si(rows[name], value) if rows[name].kind == "choice" else _value(section, name, value)
        for name, value in given.items()
    }


def _pattern(given: Inputs | None, scenario: Scenario) -> Numbers:
    """Return the bars of a nozzle's footprint."""
    inputs = {} if given is None else {"shape": given} if isinstance(given, str) else dict(given)
    nozzle = {"angle": scenario["nozzle.fan_angle"], "thickness_angle": scenario["nozzle.fan_thickness"]}
    if "offsets" not in inputs and "amounts" not in inputs:
        return _core.bench_pattern(nozzle | _inputs("pattern", inputs))
    table = [inputs.pop(name, None) for name in ("offsets", "amounts")]
    try:
        offsets, amounts = (np.asarray(column, dtype=np.float64).ravel() for column in table)
    except (TypeError, ValueError):
        raise InputError("a measured pattern is offsets [m] and amounts, lists of numbers") from None
    if "height" not in inputs:
        raise InputError("a measured pattern needs the height it was measured at, such as height='50 cm'")
    height = _value("wand", "height", inputs.pop("height"))
    thickness = (nozzle | _inputs("pattern", inputs))["thickness_angle"]
    return _core.bench_measured_pattern(offsets, amounts, height, thickness)


def _path(given: object, stand: _Stand, seed: int) -> tuple[Numbers, str]:
    """Return the passes, each at a flow of 1, and who makes them."""
    inputs = {"by": given} if isinstance(given, str) else given
    if isinstance(inputs, Mapping):
        inputs = dict(inputs)
        by = inputs.pop("by", "wand")
        make = {"wand": _core.wand_passes, "boom": _core.boom_passes}
        if by not in make:
            raise InputError(f"passes = {by!r} is neither 'wand' nor 'boom', nor a table of passes")
        if by == "wand":
            inputs = {"height": stand.scenario["nozzle.height"]} | inputs
        path = make[str(by)](_inputs(str(by), inputs), stand.length, stand.width, 1.0, seed)
        return path, {"wand": "a hand-held wand", "boom": "a boom"}[str(by)]
    try:
        table = pd.DataFrame(given)  # type: ignore[call-overload]
    except (TypeError, ValueError):
        raise InputError(f"passes = {given!r} is neither 'wand' nor 'boom', nor a table of passes") from None
    if "flow" not in table:
        table["flow"] = 1.0
    lacking = [name for name in _PASS_COLUMNS if name not in table]
    if lacking:
        raise InputError(f"passes lack {', '.join(lacking)}; each is {', '.join(_PASS_COLUMNS)}, in SI")
    try:
        path = table[_PASS_COLUMNS].to_numpy(dtype=np.float64)
    except (TypeError, ValueError):
        raise InputError(f"passes are numbers in SI: {', '.join(_PASS_COLUMNS)}") from None
    return path, "passes of the user's own"


def _air(scenario: Scenario, weather: Weather | None, time: Moment | None) -> tuple[_core.CropAir, float]:
    """Return the air at the crop, and the moment of spraying in it."""
    if (weather is None) != (time is None):
        raise InputError("weather and time go together; give both, or neither for unchanging air")
    if weather is None or time is None:
        return _core.steady_air(scenario._core), 0.0
    return air_at_spraying(scenario, weather, time)


# The plants -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Stand:
    """The plants on the bench."""

    scenario: Scenario
    x: Numbers
    y: Numbers
    row: npt.NDArray[np.int64]
    column: npt.NDArray[np.int64]
    size: Numbers
    pot: Numbers
    density: float
    length: float
    width: float

    @property
    def crown(self) -> Numbers:
        """Diameters of the crowns [m]."""
        return np.asarray(_core.crown_diameter(self.scenario._core) * self.size)


@dataclass(frozen=True)
class _Spray:
    """What is sprayed, and the air it dries in."""

    grid: _core.BenchGrid
    bars: Numbers
    path: Numbers
    depth: Numbers  # [m] over the grid and its margin
    mean: float  # of it over the bench [m]
    air: _core.CropAir
    start: float
    threads: int
    tolerance: float = _TOLERANCE

    def inner(self, depth: Numbers) -> Numbers:
        """Return the part of a map that is bench."""
        edge = self.grid.margin
        return depth[edge : edge + self.grid.rows, edge : edge + self.grid.columns]

    def along(self, path: Numbers) -> Numbers:
        """Return the map of another path that leaves as much on the bench."""
        return self.level(_core.deposit_passes(self.grid, self.bars, path)[0])

    def level(self, depth: Numbers) -> Numbers:
        """Return a map scaled to leave as much on the bench as this spray."""
        return np.asarray(depth * (self.mean / self.inner(depth).mean()))


class _Grown(NamedTuple):
    """What became of the plants."""

    deposit: Numbers  # [m] on each crown
    columns: Columns  # what the core tells of each
    status: list[str]

    @property
    def dose(self) -> Numbers:
        """Active ingredient at the growing tips [kg]."""
        return np.asarray(sum(self.columns[f"tips.{site}"] for site in ("leaf", "stem", "root")))

    @property
    def height(self) -> Numbers:
        """Height over that of the untreated check [1]."""
        return np.asarray(1.0 - self.columns["growth_control"])


def _stand(scenario: Scenario, layout: Mapping[str, object], seed: int) -> _Stand:
    given = dict(layout)
    pots = given.pop("pot_diameter", scenario["canopy.pot_diameter"])
    pots = list(pots) if isinstance(pots, (list, tuple, np.ndarray)) else [pots]
    if not pots:
        raise InputError("layout: pot_diameter is an empty list; give one diameter or more")
    diameters = np.array([value_in_si(TABLE["canopy.pot_diameter"], pot) for pot in pots])
    inputs = _inputs("layout", given)
    density = scenario["canopy.plant_density"]
    spaced = "spacing" in inputs
    if not spaced:
        closer = np.sqrt(0.75) if inputs.get("arrangement") == 1.0 else 1.0  # rows of a staggered layout
        inputs["spacing"] = float(np.sqrt(1.0 / (density * closer)))
    told = _core.bench_plants(inputs, seed)
    row = np.asarray(told["row"])
    return _Stand(
        scenario=scenario,
        x=told["x"],
        y=told["y"],
        row=row,
        column=np.asarray(told["column"]),
        size=told["size"],
        pot=diameters[row % len(diameters)],
        density=told["density"] if spaced else density,
        length=told["length"],
        width=told["width"],
    )


def _grow(spray: _Spray, stand: _Stand, depth: Numbers) -> _Grown:
    """Compute every plant with what falls on its crown; plants that are alike are computed once."""
    deposit = _core.mean_over(spray.grid, depth, stand.x, stand.y, stand.crown)
    table = np.column_stack([deposit, stand.size, stand.pot])
    alike, which = np.unique(table, axis=0, return_inverse=True)
    which = which.ravel()
    sprayed = np.flatnonzero(alike[:, 0] >= _LEAST_DEPOSIT)
    air, scenario = _after_spray(spray, stand, float(spray.inner(depth).mean()))
    plants = [
        _core.plant_on_bench(scenario._core, mean, size, pot, stand.density)
        for mean, size, pot in alike[sprayed].tolist()
    ]
    computed = compute(
        plants,
        [air],
        count=len(plants),
        scenario_of=np.arange(len(plants), dtype=np.uint64),
        starts=np.full(len(plants), spray.start),
        threads=spray.threads,
    )
    if computed.failed:
        _core.simulate(plants[computed.failed[0][0]], air, spray.start)  # raises what went wrong
    columns, status = computed.columns, computed.status

    def every(values: Numbers) -> Numbers:
        all_alike = np.zeros(len(alike))
        all_alike[sprayed] = values
        return np.asarray(all_alike[which])

    said = ["missed"] * len(alike)
    for i, how in zip(sprayed, status, strict=True):
        said[i] = how
    return _Grown(
        deposit, {name: every(values) for name, values in columns.items()}, [said[i] for i in which]
    )


def _after_spray(spray: _Spray, stand: _Stand, mean: float) -> tuple[_core.CropAir, Scenario]:
    """Return the air as the mean spray leaves it, and the scenario of a plant that does not move it itself.

    Once the mean plant is dry, what its spray did to the air fades within as long again.
    """
    scenario = stand.scenario
    tolerance = max(scenario["numerics.tolerance"], spray.tolerance)
    if scenario.shown("application.method") == "drench" or mean < _LEAST_DEPOSIT:
        return spray.air, scenario
    if not scenario["house.enclosed"] or scenario["house.sprayed_share"] == 0.0:
        return spray.air, scenario.replace({"numerics.tolerance": tolerance})
    plant = _core.plant_on_bench(scenario._core, mean, 1.0, float(stand.pot.mean()), stand.density)
    course = _core.simulate(plant, spray.air, spray.start, history=True)[3]
    passed, at = np.unique(course["time"], return_index=True)
    temperature, humidity = (course[name][at] for name in ("air_temperature", "relative_humidity"))
    left = {
        "temperature": temperature,
        "vapour_pressure": np.asarray(_core.air.vapour_pressure(humidity, temperature)),
    }
    known = spray.air.time
    # the droplets fly through the air as it was; at the end the air goes back to that
    after = np.concatenate([[0.0, 0.1 * passed[1]], passed[1:], [2.0 * passed[-1]]])
    moments = np.unique(np.concatenate([spray.start + after, known]))
    moments = moments[(moments >= spray.start) & (moments <= known[-1])]
    columns = {name: np.interp(moments, known, values) for name, values in spray.air.columns.items()}
    for name, values in left.items():
        added = values - np.interp(spray.start + passed, known, spray.air.columns[name])
        columns[name] += np.interp(moments - spray.start, after, np.concatenate([[0.0], added, [0.0]]))
    alone = {"numerics.tolerance": tolerance, "house.sprayed_share": 0.0}
    return _core.CropAir(moments, columns), scenario.replace(alone)


# What it comes to -----------------------------------------------------------------------------------------


def _variation(values: Numbers) -> float:
    """Coefficient of variation; 0 where all is 0."""
    mean = float(values.mean())
    return float(values.std()) / mean if mean > 0.0 else 0.0


def _inside(height: Numbers, band: float) -> npt.NDArray[np.bool_]:
    return np.asarray(np.abs(height / height.mean() - 1.0) <= band)


def _evenness(grown: _Grown, band: float) -> Evenness:
    return Evenness(
        deposit=_variation(grown.deposit),
        dose=_variation(grown.dose),
        height=_variation(grown.height),
        outside=1.0 - float(_inside(grown.height, band).mean()),
        mean_height=float(grown.height.mean()),
    )


def _levers(spray: _Spray, stand: _Stand, grown: _Grown, band: float) -> tuple[Lever, ...]:
    """Compute the bench anew with one cause of unevenness after the other taken away."""
    scenario, now = stand.scenario, _evenness(grown, band)
    spray = replace(spray, tolerance=_LEVER_TOLERANCE)
    even_speed, even_height = _core.even_speed(spray.path), _core.even_height(spray.path)
    # what the path alone does, and the spray without it
    path_alone = spray.along(_core.even_speed(even_height))
    without_path = np.divide(
        spray.depth, path_alone, out=np.ones_like(path_alone), where=path_alone > 1e-9 * spray.mean
    )
    concentration = scenario["application.concentration"]
    thinner = scenario.in_si({"application.concentration": concentration / _MORE})
    drenched, drench = _same_dose_by_drench(spray, stand, grown)
    cases = (
        ("speed", "Even speed", spray.along(even_speed), stand),
        ("height", "A nozzle held at one height", spray.along(even_height), stand),
        ("overlap", "Even overlap with the edges covered", spray.level(without_path), stand),
        (
            "volume",
            "Half as much liquid again with the same active ingredient",
            _MORE * spray.depth,
            replace(stand, scenario=thinner),
        ),
        ("drench", "The same mean dose as a drench, measured alike into every pot", drench, drenched),
        ("size", "Plants of one size", spray.depth, replace(stand, size=np.ones_like(stand.size))),
    )
    levers = []
    for name, action, depth, on in cases:
        then = _evenness(_grow(spray, on, depth), band)
        levers.append(Lever(name, action, then, f"{action}: {_instead(then, now)}"))
    return tuple(sorted(levers, key=lambda lever: lever.evenness.height))


def _same_dose_by_drench(spray: _Spray, stand: _Stand, grown: _Grown) -> tuple[_Stand, Numbers]:
    """Return the stand drenched so that the mean dose is that of the spray, and what it gets.

    Uptake by roots is proportional to what is put on the substrate: one trial gives the strength.
    """
    even = np.full_like(spray.depth, spray.mean)
    drench = stand.scenario.replace({"application.method": "drench"})
    trial = _grow(spray, replace(stand, scenario=drench), even).dose.mean()
    ratio = float(grown.dose.mean() / trial) if trial > 0.0 else 1.0
    strength = ratio * drench["application.concentration"]
    return replace(stand, scenario=drench.in_si({"application.concentration": strength})), even


def _instead(then: Evenness, now: Evenness) -> str:
    said = f"height varies by {_cent(then.height)} instead of {_cent(now.height)}"
    if then.height >= 0.98 * now.height:
        said = f"no gain worth having, {said}"
    else:
        outside = (per_cent(even.outside) for even in (then, now))
        said += ", {} of the plants outside the band instead of {}".format(*outside)
        if abs(then.deposit - now.deposit) >= 0.001:
            said += f"; deposit by {_cent(then.deposit)} instead of {_cent(now.deposit)}"
    if abs(then.mean_height - now.mean_height) >= 0.01:
        heights = (per_cent(even.mean_height) for even in (then, now))
        said += "; mean height {} of the untreated check instead of {}".format(*heights)
    return said


def _cent(share: float) -> str:
    return f"{100.0 * share:.1f} %"


def _map(spray: _Spray) -> xr.Dataset:
    grid = spray.grid
    centres = {
        name: (np.arange(cells) + 0.5) * extent / cells
        for name, cells, extent in (("x", grid.columns, grid.length), ("y", grid.rows, grid.width))
    }
    return xr.Dataset(
        {
            "deposit": (
                ("y", "x"),
                convert(1.0, "m", "L/m^2") * spray.inner(spray.depth),
                attributes("deposit", "L/m^2", "volume deposited per area of bench"),
            )
        },
        coords={
            "x": ("x", centres["x"], attributes("x", "m", "distance along the bench")),
            "y": ("y", centres["y"], attributes("y", "m", "distance across the bench")),
        },
    )


def _plants(stand: _Stand, grown: _Grown, band: float) -> xr.Dataset:
    coords = {
        "plant": ("plant", np.arange(1, len(stand.x) + 1), {"long_name": "plant, row by row"}),
        "x": ("plant", stand.x, attributes("x", "m", "distance along the bench")),
        "y": ("plant", stand.y, attributes("y", "m", "distance across the bench")),
        "row": ("plant", stand.row + 1, {"long_name": "row across the bench"}),
        "column": ("plant", stand.column + 1, {"long_name": "place in the row"}),
    }
    plants = dataset(grown.columns, grown.status, ["plant"], coords, [len(stand.x)])
    for name, values, units, long_name in (
        ("pot_diameter", stand.pot, "m", "diameter of the pot"),
        ("size", stand.size, "1", "linear size when sprayed, over the mean"),
        ("deposit", 1e3 * grown.deposit, "L/m^2", "mean deposit over the crown"),
        ("dose", 1e6 * grown.dose, "mg", "active ingredient at the growing tips"),
        ("relative_height", grown.height, "1", "height over that of the untreated check"),
    ):
        plants[name] = ("plant", values, attributes(name, units, long_name))
    inside = {"long_name": f"height within {band:.3g} of the mean height, over it"}
    plants["in_band"] = ("plant", _inside(grown.height, band), inside)
    return plants


def _plain(values: xr.DataArray) -> Any:
    """Return what JSON can hold: numbers, None for one that is not finite, text, mappings of them."""
    if values.ndim:
        along = values[values.dims[0]]
        return {str(key): _plain(value) for key, value in zip(along.values, values, strict=True)}
    value = values.item()
    return None if isinstance(value, float) and not np.isfinite(value) else value


# The picture ----------------------------------------------------------------------------------------------

_DEPOSIT = LinearSegmentedColormap.from_list(
    "deposit", ["#f6f3e8", "#9cc5b0", "#3f8f8b", "#1f4e79", "#14213d"]
)
_HEIGHT = LinearSegmentedColormap.from_list("height", ["#5b4a8a", "#b9aed6", "#f2f0ea", "#e6b98c", "#b5651d"])


def _picture(result: BenchResult) -> Figure:
    length, width = (result.map.attrs[f"bench_{name}"] for name in ("length", "width"))
    panel = min(7.4 * width / length, 7.4)
    heights = [panel, panel, 1.9] if result.levers else [panel, panel]
    figure = Figure(figsize=(9.6, sum(heights) + 2.0), layout="constrained")
    figure.suptitle(result.scenario.title or "Across the bench", x=0.02, ha="left", fontweight="bold")
    above, middle, *below = figure.subplots(len(heights), 1, height_ratios=heights)
    _draw_map(figure, above, result)
    _draw_plants(figure, middle, result)
    for axes in (above, middle):
        axes.set(xlim=(0.0, length), ylim=(0.0, width), aspect="equal", ylabel="across [m]")
    middle.set_xlabel("along the bench [m]")
    for axes in below:
        _draw_levers(axes, result)
    return figure


def _draw_map(figure: Figure, axes: Axes, result: BenchResult) -> None:
    """Draw the deposit from nothing to twice the mean, so that benches compare at a glance."""
    deposit = result.map["deposit"]
    most = 2.0 * float(deposit.mean())
    image = axes.pcolormesh(
        deposit["x"], deposit["y"], deposit, cmap=_DEPOSIT, vmin=0.0, vmax=most, rasterized=True
    )
    tracks = result.passes[result.passes["flow"] > 0.0]
    ends = tracks[["x0", "y0", "x1", "y1"]].to_numpy().reshape(-1, 2, 2)
    axes.add_collection(LineCollection(list(ends), colors="white", linewidths=0.8, alpha=0.6))
    over = "max" if float(deposit.max()) > most else "neither"
    figure.colorbar(image, ax=axes, pad=0.02, extend=over, label="deposit [L/m2]")
    varies = _cent(result.evenness.deposit)
    axes.set_title(
        f"deposit varies by {varies} from plant to plant; white: the nozzle's path",
        loc="left",
        fontsize="medium",
    )


def _draw_plants(figure: Figure, axes: Axes, result: BenchResult) -> None:
    plants, band = result.plants, float(result.map.attrs["band"])
    height = 100.0 * plants["relative_height"].values
    mean = float(height.mean())
    reach = max(float(np.abs(height - mean).max()), 2.0 * band * mean, 1.0)
    crown = _core.crown_diameter(result.scenario._core) * plants["size"].values
    places = np.column_stack([plants["x"].values, plants["y"].values])
    inside = plants["in_band"].values
    discs = EllipseCollection(
        crown,
        crown,
        np.zeros_like(crown),
        units="x",
        offsets=places,
        offset_transform=axes.transData,
        cmap=_HEIGHT,
        norm=Normalize(mean - reach, mean + reach),
        edgecolors=np.where(inside, "0.75", "0.1").tolist(),
        linewidths=np.where(inside, 0.4, 1.4).tolist(),
    )
    discs.set_array(height)
    axes.add_collection(discs)
    figure.colorbar(discs, ax=axes, pad=0.02, label="height [% of untreated]")
    axes.set_title(
        f"height varies by {_cent(result.evenness.height)}; ringed: more than {per_cent(band)} off the mean, "
        f"{per_cent(result.evenness.outside)} of {len(height)} plants",
        loc="left",
        fontsize="medium",
    )


def _draw_levers(axes: Axes, result: BenchResult) -> None:
    names = ["as it is", *(lever.name for lever in result.levers)]
    heights = [
        100.0 * even.height for even in (result.evenness, *(lever.evenness for lever in result.levers))
    ]
    at = np.arange(len(names))[::-1]
    colours = ["#3b7a57" if height < heights[0] else "#b5651d" for height in heights[1:]]
    axes.barh(at, heights, height=0.62, color=["0.55", *colours])
    for y, value in zip(at, heights, strict=True):
        axes.text(value, y, f" {value:.1f} %", va="center", fontsize="small")
    axes.set_yticks(at, [_CAUSES.get(name, name) for name in names])
    axes.set(xlim=(0.0, 1.15 * max(*heights, 1e-6)), xlabel="variation of height from plant to plant [%]")
    axes.set_title("what would make it more even, each computed anew", loc="left", fontsize="medium")
    axes.spines[["top", "right"]].set_visible(False)
