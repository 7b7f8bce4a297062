"""The inputs of a bench, read for the core: layout, pots, nozzle pattern and path."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from numbers import Real
from types import MappingProxyType
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt
import pandas as pd

from wetspan import _core
from wetspan.errors import InputError, nearest
from wetspan.parameters import TABLE
from wetspan.scenario import Scenario
from wetspan.units import bounded, in_si, in_unit, value_in_si

Numbers: TypeAlias = npt.NDArray[np.float64]
Inputs: TypeAlias = "str | Mapping[str, object]"
Passes: TypeAlias = "Inputs | pd.DataFrame | Sequence[Mapping[str, object]]"

#: Every input of the bench by table (pattern, wand, boom, layout, bench, drench) and name: bounds, grade,
#: source.
BENCH_INPUTS: Mapping[str, Mapping[str, _core.Parameter]] = MappingProxyType(
    {
        section: {row.name: row for row in _core.bench_parameters() if row.section == section}
        for section in dict.fromkeys(row.section for row in _core.bench_parameters())
    }
)
PASS_COLUMNS = ["x0", "y0", "x1", "y1", "speed", "height", "flow"]
_PATHS = {
    "wand": ("a hand-held wand", _core.wand_passes),
    "boom": ("a boom", _core.boom_passes),
}


def value(section: str, name: str, given: object) -> float:
    """Return an input in SI, within its bounds."""
    return bounded(name, BENCH_INPUTS[section][name], given)


def layout_and_pots(
    scenario: Scenario, layout: Mapping[str, object]
) -> tuple[_core.BenchLayout, list[float]]:
    """Return where plants stand, and the pots' diameters [m], which the rows take in turn."""
    given = dict(layout)
    pots = given.pop("pot_diameter", scenario["canopy.pot_diameter"])
    pots = list(pots) if isinstance(pots, (list, tuple, np.ndarray)) else [pots]
    if not pots:
        raise InputError("layout: pot_diameter is an empty list; give one diameter or more")
    diameters = [value_in_si(TABLE["canopy.pot_diameter"], pot) for pot in pots]
    return _core.BenchLayout(_inputs("layout", given), scenario["canopy.plant_density"]), diameters


def given_keys(passes: Passes, **tables: Inputs | None) -> frozenset[str]:
    """Return the keys of the inputs that were given of some tables, and of the way of spraying."""
    by = str(passes.get("by", "wand")) if isinstance(passes, Mapping) else "wand"
    given = {f"{by}.{name}" for name in passes if name != "by"} if isinstance(passes, Mapping) else set()
    for table, inputs in tables.items():
        told = {"shape": inputs} if isinstance(inputs, str) else inputs or {}
        given |= {f"{table}.{name}" for name, value in told.items() if value is not None}
    return frozenset(given)


def footprint(given: Inputs | None, scenario: Scenario) -> Numbers:
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
    height = value("wand", "height", inputs.pop("height"))
    thickness = (nozzle | _inputs("pattern", inputs))["thickness_angle"]
    return _core.bench_measured_pattern(offsets, amounts, height, thickness)


def path(given: Passes, scenario: Scenario, layout: _core.BenchLayout, seed: int) -> tuple[Numbers, str]:
    """Return the passes, their flows relative to each other, and who makes them."""
    inputs = {"by": given} if isinstance(given, str) else given
    if not isinstance(inputs, Mapping):
        return _own_path(given), "passes of the user's own"
    inputs = dict(inputs)
    by = inputs.pop("by", "wand")
    if by not in _PATHS:
        raise InputError(f"passes = {by!r} is neither 'wand' nor 'boom', nor a table of passes")
    if by == "wand":
        inputs = {"height": scenario["nozzle.height"]} | inputs
    who, make = _PATHS[str(by)]
    return make(_inputs(str(by), inputs), layout, seed), who


def _own_path(given: object) -> Numbers:
    try:
        table = pd.DataFrame(given)  # type: ignore[call-overload]
    except (TypeError, ValueError):
        raise InputError(f"passes = {given!r} is neither 'wand' nor 'boom', nor a table of passes") from None
    if "flow" not in table:
        table["flow"] = 1.0
    lacking = [name for name in PASS_COLUMNS if name not in table]
    if lacking:
        raise InputError(f"passes lack {', '.join(lacking)}; each is {', '.join(PASS_COLUMNS)}")
    return np.column_stack([_pass_column(name, table[name]) for name in PASS_COLUMNS])


def _pass_column(name: str, values: pd.Series[Any]) -> Numbers:
    """Return a column of the passes in SI: bare numbers are, texts and quantities state their unit."""
    unit = {"speed": "m/s", "flow": "m^3/s"}.get(name, "m")
    stated = values.attrs.get("units")
    if stated is not None:
        return in_si(values.to_numpy(dtype=np.float64), str(stated), unit, f"passes {name}")
    example = f"give numbers in {unit}, or text with a unit"
    return np.array(
        [
            float(each)
            if isinstance(each, Real) and not isinstance(each, bool)
            else in_unit(f"passes {name}", each, unit, example)
            for each in values.tolist()
        ]
    )


def _inputs(section: str, given: Mapping[str, object]) -> dict[str, float]:
    """Return the inputs of one table in SI, within their bounds."""
    rows = BENCH_INPUTS[section]
    for name in given:
        if name not in rows:
            hint = nearest(str(name), rows) or f"known are {', '.join(rows)}"
            raise InputError(f"unknown input '{name}' of the {section}; {hint}")
    return {
        name: value_in_si(rows[name], each) if rows[name].kind == "choice" else value(section, name, each)
        for name, each in given.items()
    }
