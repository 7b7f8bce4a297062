"""Flight from nozzle to crop: which droplets arrive, with which size, speed and angle."""

from __future__ import annotations

import numpy as np
import xarray as xr

from wetspan import _core
from wetspan.errors import InputError
from wetspan.record import Moment
from wetspan.scenario import Scenario, require_scenario
from wetspan.spray.inputs import (
    Amount,
    Numbers,
    about,
    air_when_sprayed,
    increasing,
    require_spray,
    si,
    variable,
)
from wetspan.spray.spectra import COMPARATIVE, DropletSpectrum, size_class, size_classes, spectrum
from wetspan.weather import Weather

_FATES = ("delivered", "evaporated", "airborne")
_COMMENT = (
    "One droplet stands for its size: no turbulence, no spread of directions. The air jet of the spray is an "
    "assumption (grade D) and matters most for the finest droplets."
)


def fly(
    scenario: Scenario,
    diameters: object = None,
    *,
    droplets: DropletSpectrum | None = None,
    weather: Weather | None = None,
    time: Moment | None = None,
) -> xr.Dataset:
    """Compute the flight of a spray's droplets from the nozzle to the crop.

    diameters
        Sizes at the nozzle, such as ["50 um", "100 um"] (bare: m), or else
    droplets
        a spectrum, whose bins are computed; by default the scenario's own.
    weather, time
        As for `ws.simulate`; without them the air is the constant air of the scenario.

    Returns
    -------
    Dataset along `diameter` [um] at the nozzle: evaporated, airborne (past the edge of the bench, or still in
    the air) and delivered [1], shares of the droplet's volume that sum to 1; and `end`. At the crop, NaN for
    droplets that do not arrive: diameter_at_crop [um], speed [m s-1], angle [degree, from straight down],
    offset [m, downwind of the spray's axis], flight_time [s]. For comparison, in still air: terminal_speed [m
    s-1], stop_distance from the speed at the nozzle [m], and still_air_lifetime of a droplet at rest [s],
    infinite in saturated air. `droplet_temperature` [degC] is the steady temperature of a small evaporating
    droplet. A spectrum also has `volume_share`, and `total` of the sprayed volume along `fate`.

    >>> ws.fly(scenario, ["50 um", "100 um", "300 um"]).speed
    """
    require_scenario(scenario)
    require_spray(scenario)
    if diameters is not None and droplets is not None:
        raise InputError("give diameters or droplets, not both")
    air, start = air_when_sprayed(scenario, weather, time)
    if diameters is not None:
        return _flown(scenario, air, start, increasing("droplet.diameter", diameters))
    sprayed = spectrum(scenario) if droplets is None else droplets
    core = sprayed.core
    flown = _flown(scenario, air, start, core.diameter).assign_attrs(droplets=sprayed.text)
    flown["volume_share"] = ("diameter", core.volume_share, variable("1", "share of the sprayed volume"))
    flown = flown.assign_coords(fate=("fate", list(_FATES), {"long_name": "what becomes of the liquid"}))
    total = [float((flown["volume_share"] * flown[fate]).sum()) for fate in _FATES]
    flown["total"] = ("fate", total, variable("1", "share of the sprayed volume"))
    return flown


def flight_paths(
    scenario: Scenario,
    diameters: object,
    every: Amount = "10 ms",
    *,
    weather: Weather | None = None,
    time: Moment | None = None,
) -> xr.Dataset:
    """Compute the paths of droplets from the nozzle to the end of their flight.

    diameters
        Sizes at the nozzle, such as ["50 um", "100 um"] (bare: m).
    every
        Time between the points of a path, 1 ms to 10 s.
    weather, time
        As for `ws.simulate`; without them the air is the constant air of the scenario.

    Returns
    -------
    Dataset along `diameter` [um] at the nozzle and `point`. A path begins at the nozzle and ends with the
    flight; points beyond its end are NaN. Variables: flight_time [s] since the release; downwind [m], the
    distance from the nozzle; height [m] above the crop; speed [m s-1]; droplet_diameter [um]; temperature
    [degC].

    >>> paths = ws.flight_paths(scenario, ["50 um", "300 um"])
    >>> paths.height.max("point")
    """
    require_spray(scenario)
    sizes, interval = increasing("droplet.diameter", diameters), si("droplet.interval", every)
    air, start = air_when_sprayed(scenario, weather, time)
    released = _core.flight_input(scenario._held, air, start)
    paths = [_core.flight_path(size, released, interval) for size in sizes]
    table = np.full((len(paths), max(map(len, paths)), 6), np.nan)
    for filled, path in zip(table, paths, strict=True):
        filled[: len(path)] = path
    told = (
        ("flight_time", "s", "time since the release", 1.0, 0.0),
        ("downwind", "m", "distance downwind of the nozzle", 1.0, 0.0),
        ("height", "m", "height above the crop", 1.0, 0.0),
        ("speed", "m s-1", "speed of the droplet", 1.0, 0.0),
        ("droplet_diameter", "um", "diameter of the droplet", 1e6, 0.0),
        ("temperature", "degC", "temperature of the droplet", 1.0, -273.15),
    )
    return xr.Dataset(
        {
            name: (("diameter", "point"), factor * table[:, :, i] + offset, variable(units, long_name))
            for i, (name, units, long_name, factor, offset) in enumerate(told)
        },
        coords={"diameter": ("diameter", sizes * 1e6, variable("um", "droplet diameter at the nozzle"))},
        attrs=about(scenario, _COMMENT),
    )


def fly_classes(
    scenario: Scenario, *, weather: Weather | None = None, time: Moment | None = None
) -> xr.Dataset:
    """Compute the flight of the representative of every droplet size class in place of the scenario's own
    droplets.

    Returns
    -------
    Dataset along `size_class`, finest first: evaporated, airborne and delivered [1] of the sprayed volume;
    `dv50` [um] at the nozzle; and the volume-weighted means of `speed` [m s-1] and `angle` [degree] of the
    droplets that arrive.
    """
    require_scenario(scenario)
    flown = {}
    for name in size_classes().index:
        droplets = spectrum(scenario.replace(size_class(name)))
        flown[name] = fly(scenario, droplets=droplets, weather=weather, time=time)
    totals = np.array([each["total"].values for each in flown.values()])

    def mean(name: str) -> list[float]:
        return [
            float((each[name] * each["volume_share"] * each["delivered"]).sum() / each["total"][0])
            for each in flown.values()
        ]

    table: dict[str, tuple[str, object, dict[str, object]]] = {
        fate: ("size_class", totals[:, i], variable("1", f"share of the sprayed volume {fate}"))
        for i, fate in enumerate(_FATES)
    }
    table["dv50"] = (
        "size_class",
        size_classes()["dv50"].to_numpy(),
        variable("um", "volume median diameter at the nozzle"),
    )
    table["speed"] = ("size_class", mean("speed"), variable("m s-1", "mean speed at the crop, by volume"))
    table["angle"] = (
        "size_class",
        mean("angle"),
        variable("degree", "mean angle of the path at the crop from straight down, by volume"),
    )
    return xr.Dataset(
        table,
        coords={"size_class": ("size_class", list(flown), {"long_name": "droplet size class"})},
        attrs=about(scenario, f"{_COMMENT} {COMPARATIVE}"),
    )


def _flown(scenario: Scenario, air: _core.CropAir, start: float, diameters: Numbers) -> xr.Dataset:
    released = _core.flight_input(scenario._held, air, start)
    flights = _core.fly(diameters, released)
    still = [_core.in_still_air(diameter, released) for diameter in diameters]
    end = [flight.end for flight in flights]

    def of(name: str) -> Numbers:
        return np.array([getattr(flight, name) for flight in flights])

    def arriving(values: Numbers) -> Numbers:
        return np.where(np.array(end) == "reached crop", values, np.nan)

    numbers = {
        "evaporated": (of("evaporated"), "1", "share of the droplet that evaporates in flight"),
        "airborne": (of("airborne"), "1", "share carried past the edge of the bench, or still aloft"),
        "delivered": (of("delivered"), "1", "share that reaches the crop"),
        "diameter_at_crop": (arriving(of("diameter") * 1e6), "um", "droplet diameter at the crop"),
        "speed": (arriving(of("speed")), "m s-1", "speed at the crop"),
        "angle": (
            arriving(np.degrees(of("angle"))),
            "degree",
            "angle of the path at the crop from straight down",
        ),
        "offset": (arriving(of("offset")), "m", "landing point downwind of the spray's axis"),
        "flight_time": (arriving(of("time")), "s", "time of flight"),
        "terminal_speed": (
            np.array([each.terminal_speed for each in still]),
            "m s-1",
            "speed at which the droplet would fall in still air at its size at the nozzle",
        ),
        "stop_distance": (
            np.array([each.stop_distance for each in still]),
            "m",
            "distance in which still air would stop the droplet from its speed at the nozzle",
        ),
        "still_air_lifetime": (
            np.array([each.lifetime for each in still]),
            "s",
            "time in which the droplet would evaporate at rest, to its dry core",
        ),
    }
    return xr.Dataset(
        {
            name: ("diameter", values, variable(units, long_name))
            for name, (values, units, long_name) in numbers.items()
        }
        | {
            "end": ("diameter", end, {"long_name": "how the flight ended"}),
            "droplet_temperature": (
                (),
                released.droplet_temperature - 273.15,
                variable("degC", "temperature that a small droplet takes while it evaporates"),
            ),
        },
        coords={"diameter": ("diameter", diameters * 1e6, variable("um", "droplet diameter at the nozzle"))},
        attrs=about(scenario, _COMMENT)
        | {"exit_speed_m_s": released.exit_speed, "jet_length_m": released.jet_length},
    )
