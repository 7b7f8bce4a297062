"""Reading of a table of weighed leaves: each leaf with its weighings and its air."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from wetspan.errors import InputError
from wetspan.measure.table import Measured, Quantity, Table, resolution_of, spoken_clock
from wetspan.measure.weighed_leaf import Weighings
from wetspan.parameters import TABLE
from wetspan.scenario import Scenario
from wetspan.units import in_unit

Array = NDArray[np.float64]

KINDS = ("leaf", "paper")
LEAST_WET = 5  # weighings of a wet leaf
DEEPEST, THINNEST = 2e-3, 1e-7  # m of liquid on a leaf: beyond them a unit is wrong
_RISE = 0.02  # of the liquid: a wet leaf that gains more has been wetted again, or misread


def _bounds(key: str) -> tuple[float, float]:
    return TABLE[key].low, TABLE[key].high


QUANTITIES = (
    Quantity("time", "s", "min", 0.0, 7e5),
    Quantity("mass", "kg", "g", 0.0, 10.0),
    Quantity("area", "m^2", "cm^2", 1e-5, 1.0),
    Quantity("temperature", "K", "degC", *_bounds("air.temperature")),
    Quantity("humidity", "1", "percent", *_bounds("air.relative_humidity")),
    Quantity("speed", "m/s", "m/s", *_bounds("air.speed")),
    Quantity("light", "W/m^2", "W/m^2", *_bounds("air.shortwave"), needed=False),
    Quantity("width", "m", "cm", *_bounds("leaf.width"), needed=False),
)


def table_of(table: Table, units: Mapping[str, str] | None = None) -> Measured:
    """The table of weighed leaves, its cells read; arguments as in `read_leaf`."""
    return Measured(table, ("leaf", "kind", "state"), QUANTITIES, units)


def leaves_of(scenario: Scenario, measured: Measured, balance: object) -> tuple[list[Weighings], float]:
    """The leaves of a table and the step of the balance [kg]; refuses what cannot be."""
    names = measured.need_text("leaf", "the name of the leaf that was weighed")
    states = measured.choices("state", ("dry", "wet"))
    kinds = measured.choices("kind", KINDS, "leaf")
    everything = np.arange(measured.rows)
    for name in ("time", "mass"):
        measured.filled(name, everything)
    measured.problems.refuse()
    mass = measured.numbers["mass"]
    step = resolution_of(mass) if balance is None else in_unit("balance", balance, "kg", "such as '1 mg'")
    found = []
    for name in dict.fromkeys(names):
        rows = np.array([row for row in everything if names[row] == name])
        wet = np.array([states[row] == "wet" for row in rows])
        leaf = _leaf(scenario, measured, name, rows, wet, [kinds[row] for row in rows], step)
        if leaf is not None:
            found.append(leaf)
    measured.problems.refuse()
    if sum(leaf.kind == "leaf" for leaf in found) < 2:
        raise InputError(
            f"{measured.name}: only one leaf was weighed; how leaves differ cannot be told from one, weigh"
            " two or more (`measure plan leaf` says how many)"
        )
    return found, step


def _leaf(
    scenario: Scenario,
    measured: Measured,
    name: str,
    rows: NDArray[np.intp],
    wet: NDArray[np.bool_],
    kinds: list[str],
    step: float,
) -> Weighings | None:
    """One leaf, or None where something is wrong with it, which is noted."""
    before = len(measured.source.rows_unread)
    time, mass = measured.numbers["time"][rows], measured.numbers["mass"][rows]
    first = int(rows[0])
    for place in np.flatnonzero(np.diff(time) <= 0):
        here, there = (spoken_clock(measured, time[place + i]) for i in (1, 0))
        measured.refuse(
            int(rows[place + 1]), f"leaf {name}: the clock runs back, {here} stands after {there}"
        )
    if len(set(kinds)) > 1:
        measured.refuse(first, f"leaf {name} is called leaf here and paper there")
    if wet.sum() < LEAST_WET:
        measured.refuse(first, f"leaf {name} has {wet.sum()} wet weighings; {LEAST_WET} or more are needed")
    if not (~wet).any():
        measured.refuse(first, f"leaf {name} was not weighed dry: its own mass is not known")
    if len(measured.source.rows_unread) > before:
        return None
    own, wet_rows = float(mass[~wet].mean()), rows[wet]
    wet_mass = mass[wet]
    liquid = wet_mass[0] - own
    if liquid <= 3 * step:
        measured.refuse(
            int(wet_rows[0]),
            f"leaf {name} weighs {1e3 * wet_mass[0]:.6g} g wet and {1e3 * own:.6g} g dry: there is no liquid"
            " on it",
        )
        return None
    for place in np.flatnonzero(np.diff(wet_mass) > max(5 * step, _RISE * liquid)):
        gained = 1e3 * (wet_mass[place + 1] - wet_mass[place])
        measured.refuse(
            int(wet_rows[place + 1]), f"leaf {name}: its mass rises by {gained:.3g} g while it should dry"
        )
    area = _constant(measured, "area", name, rows)
    width = _constant(measured, "width", name, rows) if "width" in measured.numbers else None
    depth = liquid / (1e3 * area)
    if np.isfinite(depth) and not THINNEST < depth < DEEPEST:
        measured.refuse(
            int(wet_rows[0]),
            f"leaf {name} would carry {1e3 * depth:.3g} mm of liquid; look at the units of mass and area",
        )
    if wet_mass[-1] - own > 0.5 * liquid:
        measured.refuse(
            int(wet_rows[-1]), f"leaf {name}: half of the liquid is still on it; weigh on until it is dry"
        )
    start = float(time[wet][0])
    air_time, air = _air(measured, name, rows, start)
    if len(measured.source.rows_unread) > before:
        return None
    return Weighings(
        name, kinds[0], area, scenario["leaf.width"] if width is None else width, time - start, mass, wet,
        air_time, air,
    )  # fmt: skip


def _constant(measured: Measured, column: str, name: str, rows: NDArray[np.intp]) -> float:
    """The one value of a leaf's column; blank in some rows is allowed."""
    values = measured.numbers[column][rows]
    known = np.unique(values[np.isfinite(values)])
    if len(known) != 1:
        said = "is not told" if not len(known) else "is told in several ways"
        measured.refuse(int(rows[0]), f"leaf {name}: its {column} {said}")
        return float("nan")
    return float(known[0])


def _air(
    measured: Measured, name: str, rows: NDArray[np.intp], start: float
) -> tuple[Array, dict[str, Array]]:
    """The air from the first wet weighing on: at every weighing, in between its readings linear."""
    time = measured.numbers["time"][rows] - start
    at = np.union1d(time[time >= 0], [0.0])
    columns = {}
    for column in ("temperature", "humidity", "speed", "light"):
        if column not in measured.numbers:
            columns[column] = np.zeros_like(at)
            continue
        values = measured.numbers[column][rows]
        known = np.isfinite(values)
        if not known.any():
            measured.refuse(int(rows[0]), f"leaf {name}: its {column} was not read once")
            continue
        columns[column] = np.interp(at, time[known], values[known])
    return at, columns
