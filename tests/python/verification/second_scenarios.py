"""Random scenarios on which library and second writing are compared, and how far apart they come out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from types import SimpleNamespace

import numpy as np
import second_air
import second_flight
import second_house
import second_landing
import second_simulate
import wetspan as ws
from second_landing import Landing
from wetspan import _core
from wetspan.outcome import single

HOUR, DAY = 3600.0, 86400.0
#: Liquid that leaves and stems hold, layer by layer [m per area of bench].
Held = tuple[np.ndarray, np.ndarray] | None

#: Ranges of what is drawn, in the table's SI; evenly, or evenly on the log where a third entry says so.
RANGES = {
    "application.volume_rate": (1e-4, 6e-4),
    "application.concentration": (0.005, 0.3, "log"),
    "liquid.surface_tension": (0.03, 0.07),
    "droplets.dv50": (150e-6, 500e-6),
    "droplets.relative_span": (0.6, 1.6),
    "air.temperature": (283.0, 308.0),
    "air.relative_humidity": (0.3, 0.92),
    "air.pressure": (85e3, 103e3),
    "air.speed": (0.05, 2.0, "log"),
    "air.shortwave": (0.0, 500.0),
    "air.surroundings_offset": (-12.0, 5.0),
    "house.sprayed_share": (0.1, 0.9),
    "house.air_changes": (0.5 / HOUR, 20 / HOUR, "log"),
    "house.heat_loss": (4.0, 10.0),
    "house.cover_conductance": (0.001, 0.006),
    "house.bench_conductance": (0.001, 0.006),
    "canopy.leaf_area": (0.02, 0.1),
    "canopy.crown_cover": (0.5, 1.0),
    "canopy.growing_share": (0.0, 1.0),
    "canopy.wind_attenuation": (0.0, 1.5),
    "canopy.stem_area": (5e-4, 5e-3),
    "canopy.pot_diameter": (0.05, 0.14),
    "retention.underleaf": (0.02, 0.3),
    "leaf.width": (0.02, 0.1),
    "leaf.absorptance": (0.3, 0.7),
    "leaf.turbulence": (1.0, 1.8),
    "leaf.heat_capacity": (500.0, 2000.0),
    "leaf.stomatal_conductance": (0.0, 0.01),
    "leaf.contact_angle": (0.7, 2.0),
    "leaf.receding_angle": (0.1, 0.7),
    "stem.diameter": (0.002, 0.01),
    "active.solubility": (0.01, 0.2, "log"),
    "active.log_kow": (2.5, 3.7),
    "active.loss_rate": (2e-8, 3e-7),
    "active.sorption": (0.1, 0.8),
    "uptake.cuticle": (0.3, 5.0, "log"),
    "uptake.growing_cuticle": (0.5, 5.0, "log"),
    "uptake.stem_cuticle": (0.3, 3.0, "log"),
    "uptake.activation_energy": (40e3, 80e3),
    "uptake.supersaturation": (1.0, 6.0),
    "uptake.accelerator": (1.0, 10.0, "log"),
    "uptake.mobile_share": (0.02, 0.7, "log"),
    "uptake.mobile_rate": (0.2 / DAY, 2.0 / DAY),
    "uptake.wax_capacity": (1e-5, 2e-4, "log"),
    "uptake.residue_loss": (0.0, 0.3 / DAY),
    "uptake.horizon": (20 * DAY, 80 * DAY),
    "substrate.moisture": (0.3, 0.95),
    "substrate.upper_root_share": (0.3, 0.7),
    "substrate.sorption_factor": (0.2, 2.5),
    "crop.tip_share": (0.1, 0.5),
    "crop.leaf_tip_share": (0.0, 0.1),
    "crop.depot_rate": (0.03 / DAY, 0.5 / DAY),
    "crop.metabolism": (0.0, 0.1 / DAY),
    "crop.metabolism_q10": (1.5, 4.0),
    "crop.dilution": (0.02 / DAY, 0.2 / DAY),
    "crop.half_amount": (3e-11, 1e-9, "log"),
    "crop.base_temperature": (270.0, 278.0),
    "crop.mean_temperature": (286.0, 300.0),
}
CHOICES = {
    "droplets.distribution": 2,
    "house.enclosed": 2,
    "air.diffusivity": 2,
    "uptake.transpiration": 2,
    "canopy.habit": 3,
    "canopy.pots_covered": 2,
}


@dataclass(frozen=True)
class Group:
    """Scenarios of one kind: how many, how far apart they may come out, what is set on top of the draw."""

    name: str
    count: int
    tolerance: float  # relative, but see `allowed`
    sets: dict[str, tuple[float, float]] = field(default_factory=dict)  # ranges


GROUPS = (
    Group("sprays that dry out", 8, 1e-5),
    Group("sprays in changing air", 3, 1e-5),
    Group(
        "humectants",
        2,
        1e-5,
        {"liquid.humectant": (0.002, 0.03), "liquid.kappa": (0.1, 0.6), "numerics.longest": (4 * HOUR,) * 2},
    ),
    Group(
        "dew",
        3,
        1e-5,
        {
            "air.relative_humidity": (0.88, 0.95),
            "air.shortwave": (0.0, 0.0),
            "air.speed": (0.1, 0.4),
            "air.surroundings_offset": (-30.0, -20.0),
            "house.enclosed": (0.0, 0.0),
            "canopy.layers": (1.0, 1.0),
            "numerics.follow": (4 * HOUR,) * 2,
            "numerics.longest": (8 * HOUR,) * 2,
        },
    ),
    Group("drenches, floods, feeding", 6, 1e-5, {"application.volume_rate": (1e-3, 15e-3)}),
    Group("calendars", 2, 1e-5),
    Group(
        "re-wettings of dry leaves",
        3,
        1e-5,
        {
            "air.relative_humidity": (0.3, 0.7),
            "air.surroundings_offset": (-2.0, 2.0),
            "rewetting.volume_rate": (2e-5, 3e-4),
            "rewetting.delay": (6 * HOUR, 20 * HOUR),
            "rewetting.dv50": (150e-6, 400e-6),
        },
    ),
    Group(
        "re-wettings of wet leaves",
        3,
        1e-5,
        {
            "air.relative_humidity": (0.7, 0.85),
            "air.surroundings_offset": (-2.0, 2.0),
            "droplets.dv50": (300e-6, 500e-6),
            "rewetting.volume_rate": (2e-5, 3e-4),
            "rewetting.delay": (300.0, 900.0),
            "rewetting.dv50": (150e-6, 400e-6),
        },
    ),
    Group(
        "salts in air that dries and moistens",
        3,
        1e-5,
        {
            "liquid.humectant": (0.002, 0.02),
            "liquid.kappa": (0.4, 0.7),
            "liquid.efflorescence": (0.3, 0.4),
            "liquid.deliquescence": (0.7, 0.8),
            "air.shortwave": (0.0, 100.0),
            "air.surroundings_offset": (-2.0, 2.0),
            "house.enclosed": (0.0, 0.0),
            "numerics.longest": (6 * HOUR,) * 2,
        },
    ),
)


def between(random: np.random.Generator, low: float, high: float, law: str = "even") -> float:
    """A number between bounds, evenly or evenly on the log."""
    if law == "log":
        return float(np.exp(random.uniform(np.log(low), np.log(high))))
    return float(random.uniform(low, high))


def drawn(group: Group, number: int) -> ws.Scenario:
    """A scenario of the group; the same one for the same number."""
    random = np.random.default_rng([GROUPS.index(group), number])
    values = {key: between(random, *how) for key, how in RANGES.items()}
    values |= {key: float(random.integers(count)) for key, count in CHOICES.items()}
    values |= {"droplets.bins": float(random.integers(2, 5)), "canopy.layers": float(random.integers(1, 3))}
    values["numerics.tolerance"] = 1e-8  # so that what differs is what is computed, not how closely
    values |= {key: between(random, *of) for key, of in group.sets.items()}
    values["leaf.receding_angle"] = min(values["leaf.receding_angle"], values["leaf.contact_angle"])
    if group.name.startswith("drenches"):
        values["application.method"] = float(1 + number % 3)
    scenario = ws.Scenario().in_si(values)
    if not group.name.startswith("calendars"):
        return scenario
    days = np.sort(random.uniform(0, 0.6 * values["uptake.horizon"] / DAY, 3))
    return scenario.replace(
        applications=[
            {"at": f"{days[0]} day"},
            {"at": f"{days[1]} day", "method": "drench", "volume_rate": "4 L/m^2", "concentration": "1 mg/L"},
            {"at": f"{days[2]} day", "concentration": "12 mg/L", "volume_rate": "0.15 L/m^2"},
        ]
    )


def changing(scenario: ws.Scenario, seed: int) -> tuple[_core.CropAir, np.ndarray]:
    """Air that bends every twenty minutes about the scenario's, and daily temperatures of three weeks."""
    random = np.random.default_rng(seed)
    steady = _core.steady_air(scenario._core)
    time = np.arange(0.0, scenario["numerics.longest"] + 1, 1200.0)
    steady = {key: float(column[0]) for key, column in steady.columns.items()}
    up = {key: random.uniform(-1, 1, len(time)) for key in steady}
    columns = {
        "temperature": steady["temperature"] + 2 * up["temperature"],
        "vapour_pressure": steady["vapour_pressure"] * (0.9 + 0.08 * up["vapour_pressure"]),
        "pressure": np.full(len(time), steady["pressure"]),
        "speed": steady["speed"] * (1 + 0.5 * up["speed"]),
        "shortwave": steady["shortwave"] * (1 + 0.8 * up["shortwave"]),
        "radiant_temperature": steady["radiant_temperature"] + 2 * up["radiant_temperature"],
        "air_changes": steady["air_changes"] * (1 + 0.5 * up["air_changes"]),
    }
    return _core.CropAir(time, columns), random.uniform(280.0, 304.0, 21)


def waves(scenario: ws.Scenario) -> tuple[_core.CropAir, np.ndarray]:
    """The scenario's air, whose humidity goes from 25 to 92 % and back in three hours."""
    steady = _core.steady_air(scenario._core)
    time = np.arange(0.0, scenario["numerics.longest"] + 1, 600.0)
    columns = {key: np.full(len(time), float(column[0])) for key, column in steady.columns.items()}
    humidity = 0.585 + 0.335 * np.cos(2 * np.pi * time / (3 * HOUR))
    columns["vapour_pressure"] = humidity * second_air.saturation_pressure(columns["temperature"])
    return _core.CropAir(time, columns), np.zeros(0)


def record(air: _core.CropAir):
    """The air as a function of time [s]."""
    columns = {key: np.asarray(column) for key, column in air.columns.items()}
    time = np.asarray(air.time)
    if all(np.ptp(column) == 0 for column in columns.values()):
        steady = {key: float(column[0]) for key, column in columns.items()}
        return lambda _: steady
    return lambda t: {key: float(np.interp(t, time, column)) for key, column in columns.items()}


def by_library(scenario: ws.Scenario, air: _core.CropAir, at: float) -> _core.Landing:
    """Where a spray comes to rest, by the library."""
    law = list(_core.Distribution.__members__.values())[int(scenario["droplets.distribution"])]
    sizes = ("droplets.dv50", "droplets.relative_span", "droplets.bins")
    dv50, span, bins = (scenario[key] for key in sizes)
    return _core.land(scenario._core, air, at, _core.spectrum(law, dv50, span, int(bins)))


def landing(
    scenario: ws.Scenario, air: _core.CropAir, at: float, flown: bool = False, held: Held = None
) -> Landing:
    """The same by the second writing; flights, which take long, are the library's unless `flown`."""
    now, sizes = record(air)(at), second_landing.sizes_of(scenario)[0]
    if not flown:
        flights = _core.fly(list(sizes), _core.flight_input(scenario._core, air, at))
        return second_landing.land(scenario, now, flights, held)
    released = second_landing.exit_speed(scenario, now), second_landing.jet_length(scenario, now)
    flight = second_flight.Flight(scenario, now, *released)
    flights = [SimpleNamespace(**flight.fly(size)) for size in sizes]
    # what the library takes as steady in fine droplets changes wet times by up to 1e-4: see flown()
    for i, library in enumerate(_core.fly(list(sizes), _core.flight_input(scenario._core, air, at))):
        if flights[i].diameter <= FINE:
            flights[i] = library
    return second_landing.land(scenario, now, flights, held)


def rewetted(scenario: ws.Scenario, air: _core.CropAir) -> tuple[ws.Scenario, Callable[[Held], Landing]]:
    """A pass of plain water as a scenario, and where it comes to rest on what leaves and stems hold."""
    temperature = float(air.columns["temperature"][0])
    plain = {
        "application.volume_rate": scenario["rewetting.volume_rate"],
        "droplets.dv50": scenario["rewetting.dv50"],
        "liquid.surface_tension": second_air.surface_tension(temperature),
    }
    water = scenario.in_si(plain)
    return water, lambda held: landing(water, air, scenario["rewetting.delay"], held=held)


def compared(group: Group, number: int) -> dict[str, tuple[float, float]]:
    """Quantities by name, as the library and as the second writing tell them."""
    scenario = drawn(group, number)
    if group.name.endswith("changing air") or group.name.startswith("salts"):
        air, weeks = waves(scenario) if group.name.startswith("salts") else changing(scenario, number)
        outcome = single(scenario, air, 0.0, weeks)
    else:
        outcome, weeks = ws.simulate(scenario), np.zeros(0)
        air = outcome.air
    calendar = [dict(each) for each in scenario.applications] or [{"at": 0.0}]
    times = [each.pop("at") for each in calendar]
    plain = ws.Scenario().in_si(dict(scenario))
    each = [plain.in_si(changes) for changes in calendar]
    flown = group is GROUPS[0]
    landings = [
        landing(one, air, at, flown) if one["application.method"] == 0 else by_library(one, air, at)
        for one, at in zip(each, times, strict=True)
    ]
    ends = float(air.time[-1])
    again = rewetted(scenario, air) if scenario["rewetting.volume_rate"] > 0 else None
    ours = second_simulate.simulate(each, times, landings, record(air), ends, weeks, again)
    told = {"growth control": (outcome.growth_control, ours["growth_control"])}
    if outcome.status != "nothing wet":
        told["wet time"] = (outcome.wet_time, ours["wet_time"])
        if not group.name.startswith("salts"):  # see tools/write_second_writing.py
            told["time of the last drop"] = (outcome.last_drop_time, ours["last_drop_time"])
        told["wet time of stems"] = (outcome.stem_wet_time, ours["stem_wet_time"])
    if again is not None:
        told["wet time of the re-wetting"] = (outcome.rewet_time, ours["rewet_time"])
    for i, site in enumerate(("leaf", "stem", "root")):
        told[f"uptake by {site}"] = (float(outcome.uptake[i]), 1e6 * ours["uptake"][site])
        told[f"from {site} to the tips"] = (float(outcome.at_tips[i]), 1e6 * ours["tips"][site])
    account = dict(zip(outcome.account["place"].values, outcome.account.values, strict=True))
    masses = {
        "on leaves": ("leaf surface", ours["leaf_mobile"] + ours["leaf_locked"]),
        "on stems": ("stem surface", ours["stem_mobile"] + ours["stem_locked"]),
        "weathered": ("weathered", ours["weathered"]),
        "in the substrate": ("substrate", ours["substrate"]),
        "lost from the substrate": ("lost from substrate", ours["lost"]),
        "on the bench or drained": ("bench", ours["bench"]),
    }
    for name, (place, mass) in masses.items():
        told[f"share {name}"] = (float(account[place]), mass / ours["applied"])
    return told


LANDINGS = 40
#: Relative; flights at 1e-9 in the library.
LANDING_TOLERANCE = 1e-6


@cache
def landed(number: int) -> dict[str, tuple[float, float]]:
    """Where a random spray comes to rest on a random crop, as both writings tell it."""
    random = np.random.default_rng([77, number])
    ranges = RANGES | {
        "application.volume_rate": (1e-4, 2e-3, "log"),
        "application.angle": (0.0, 1.2),
        "nozzle.height": (0.2, 0.8),
        "nozzle.pressure": (1e5, 6e5),
        "canopy.bench_width": (1.0, 4.0),
        "canopy.leaf_angle": (0.0, 1.4),
        "canopy.extinction": (0.3, 1.0),
        "canopy.clumping": (0.5, 1.0),
        "canopy.crown_cover": (0.1, 1.0),
        "leaf.contact_angle": (0.3, 2.7),
        "retention.leaf_store": (2e-5, 2e-4),
        "retention.stem_store": (0.0, 2e-4),
        "retention.shatter_threshold": (30.0, 200.0),
        "retention.splashed_share": (0.1, 0.9),
        "retention.stemflow_odds": (0.2, 3.0),
    }
    values = {key: between(random, *how) for key, how in ranges.items()}
    values |= {key: float(random.integers(count)) for key, count in CHOICES.items()}
    values |= {"droplets.bins": float(random.integers(2, 9)), "canopy.layers": float(random.integers(1, 5))}
    scenario = ws.Scenario().in_si(values | {"leaf.receding_angle": 0.1, "numerics.tolerance": 1e-9})
    air = _core.steady_air(scenario._core)
    library, ours = by_library(scenario, air, 0.0), landing(scenario, air, 0.0)
    told = {name: (share, ours.split[name]) for name, share in dict(library.split).items()}
    told |= {
        name: (getattr(library, name), getattr(ours, name))
        for name in ("straight", "shattered", "rebounded", "heat")
    }
    for k, (one, other) in enumerate(zip(library.layers, ours.layers, strict=True)):
        for name in ("liquid", "run_off"):
            told[f"leaves of layer {k}, {name}"] = (getattr(one, name), getattr(other, name))
        for name in ("caught", "from_leaves", "from_above", "liquid", "run_off"):
            told[f"stems of layer {k}, {name}"] = (getattr(one.stem, name), getattr(other.stem, name))
        if not other.liquid > 0:
            continue  # sizes of nothing
        sizes = zip(one.droplets.diameter, other.droplets.diameter, strict=True)
        shares = zip(one.droplets.volume_share, other.droplets.volume_share, strict=True)
        told[f"sizes on layer {k}"] = max(sizes, key=lambda both: difference(*both))
        told[f"shares of sizes on layer {k}"] = max(
            shares, key=lambda both: difference(*both), default=(0.0, 0.0)
        )
    return told


HOUSES = 6
#: Relative. The library's dense output rounds the corners where vents and heating begin.
HOUSE_TOLERANCE = {"temperature": 1e-5, "vapour_pressure": 1e-3, "air_changes": 3e-3}


def weather(random: np.random.Generator, hours: int = 48) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Two days of made-up weather by the hour: a trial of numbers, not a climate."""
    time = np.arange(0.0, hours * HOUR + 1, HOUR)
    angle = 2 * np.pi * time / DAY
    count = len(time)
    temperature = random.uniform(272, 298) - random.uniform(3, 12) * np.cos(angle - 0.8)
    temperature += random.normal(0, 1, count)
    humidity = np.clip(0.7 + 0.2 * np.cos(angle) + random.normal(0, 0.08, count), 0.15, 1.0)
    sun = random.uniform(200, 900) * np.maximum(0, -np.cos(angle)) * random.uniform(0.5, 1, count)
    return time, {
        "temperature": temperature,
        "vapour_pressure": second_air.saturation_pressure(temperature) * humidity,
        "pressure": np.full(count, random.uniform(90e3, 102e3)),
        "wind_speed": random.uniform(0.2, 6, count),
        "shortwave": sun,
    }


@cache
def housed(number: int) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """The air at the crop in random weather, as both writings tell it; the last one in the open."""
    random = np.random.default_rng([55, number])
    ranges = RANGES | {
        "house.height": (2.5, 6.0),
        "house.crop_share": (0.2, 0.9),
        "house.vent_air_changes": (5 / HOUR, 60 / HOUR),
        "house.vent_temperature": (294.0, 300.0),
        "house.vent_band": (1.0, 6.0),
        "house.heating_temperature": (280.0, 293.0),
        "house.heating_power": (0.0, 300.0),
        "house.heat_capacity": (2e4, 1.5e5),
        "house.transmittance": (0.4, 0.8),
        "house.solar_to_air": (0.3, 0.9),
        "house.cover_coupling": (0.3, 0.9),
    }
    values = {key: between(random, *how) for key, how in ranges.items()}
    values |= {"air.diffusivity": float(number % 2), "house.enclosed": float(number < HOUSES - 1)}
    scenario = ws.Scenario().in_si(values)
    time, outside = weather(random)
    library = _core.air_at_crop(scenario._core, _core.Outdoor(time, outside))
    if scenario["house.enclosed"]:
        rows, ours = second_house.House(scenario, time, outside).follow()
    else:
        rows, ours = time, second_house.in_open(scenario, outside)
    assert np.array_equal(rows, np.asarray(library.time))
    return {name: (np.asarray(column), ours[name]) for name, column in library.columns.items()}


FLIGHTS = 12
#: Relative; below 40 um the library takes slip and temperature as steady, which changes times by 0.3 %.
FLIGHT_TOLERANCE, OF_FINE = 1e-5, 5e-3
FINE = 40e-6  # [m]


def flown(number: int) -> dict[str, tuple[float, float]]:
    """A flight of a droplet in random air, as both writings tell it; the same for the same number."""
    random = np.random.default_rng([99, number])
    ranges = RANGES | {
        "air.relative_humidity": (0.2, 0.97),
        "application.angle": (0.0, 0.9),
        "nozzle.height": (0.2, 1.0),
        "nozzle.pressure": (1e5, 6e5),
        "canopy.bench_width": (0.5, 4.0),
        "liquid.humectant": (0.0, 0.05),
    }
    values = {key: float(random.uniform(*how[:2])) for key, how in ranges.items()}
    values |= {"numerics.tolerance": 1e-9, "air.diffusivity": float(number % 2)}
    scenario = ws.Scenario().in_si(values)
    diameter = float(np.exp(random.uniform(np.log(50e-6), np.log(800e-6))))
    air = _core.steady_air(scenario._core)
    released = _core.flight_input(scenario._core, air, 0.0)
    (library,) = _core.fly([diameter], released)
    now = {key: float(column[0]) for key, column in air.columns.items()}
    ours = second_flight.Flight(scenario, now, released.exit_speed, released.jet_length).fly(diameter)
    assert library.end == ours["end"], (library.end, ours["end"])
    names = ("evaporated", "airborne", "time", "diameter", "temperature", "speed", "angle", "offset")
    return {name: (getattr(library, name), float(ours[name])) for name in names}


def difference(library: float, ours: float) -> float:
    """Relative difference; of shares and amounts that are next to nothing against 1e-6."""
    if library == ours or (np.isinf(library) and np.isinf(ours)):
        return 0.0
    return abs(ours - library) / max(abs(library), 1e-6)
