"""Inputs that the functions of this package share: units, bounds, the air, the droplets."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
import numpy.typing as npt

from wetspan import _core
from wetspan.errors import InputError
from wetspan.outcome import scenario_attributes
from wetspan.parameters import TABLE
from wetspan.record import Moment, air_at_spraying
from wetspan.scenario import Scenario, require_scenario
from wetspan.units import bounded, is_quantity
from wetspan.weather import Weather

if TYPE_CHECKING:
    import pint

Numbers: TypeAlias = npt.NDArray[np.float64]
#: Text with a unit, a bare number in SI, or a pint quantity.
Amount: TypeAlias = "str | float | pint.Quantity[Any]"

#: What the calculators ask for beyond a scenario's inputs, with bounds, grade and source.
SPRAY_INPUTS: Mapping[str, _core.Parameter] = MappingProxyType(
    {row.key: row for row in _core.spray_parameters()}
)


def row_of(key: str) -> _core.Parameter:
    """Return the row of a key, of a scenario or of a calculator."""
    return SPRAY_INPUTS[key] if key in SPRAY_INPUTS else TABLE[key]


def si(key: str, given: object) -> float:
    """Return an input in SI, within its bounds."""
    return bounded(key, row_of(key), given)


def default(key: str, given: object) -> float:
    """Return an input in SI; its row's default if it is not given."""
    return row_of(key).standard if given is None else si(key, given)


def each(key: str, given: object) -> Numbers:
    """Return one or many values of an input in SI, each within its bounds."""
    inside = given.magnitude if is_quantity(given) else given
    many = isinstance(inside, Iterable) and not isinstance(inside, str) and getattr(inside, "ndim", 1) > 0
    return np.array([si(key, value) for value in given] if many else [si(key, given)])  # type: ignore[attr-defined]


def increasing(key: str, given: object) -> Numbers:
    """Return one or many values of an input in SI, each larger than the one before."""
    values = each(key, given)
    if values.size == 0 or (np.diff(values) <= 0.0).any():
        raise InputError(f"{key}: give one value or several, each larger than the one before")
    return values


def whole(name: str, given: object, low: int, high: int) -> int:
    """Return a whole number within its bounds."""
    if isinstance(given, bool) or not isinstance(given, (int, np.integer)) or not low <= given <= high:
        raise InputError(f"{name} = {given!r} is not a whole number from {low} to {high}")
    return int(given)


def require_spray(scenario: Scenario) -> None:
    """Raise InputError for anything but a scenario of a spray."""
    require_scenario(scenario)
    if scenario.shown("application.method") != "spray":
        raise InputError("application.method is 'drench': nothing flies, and no leaf or card is wetted")


def air_when_sprayed(
    scenario: Scenario, weather: Weather | None, time: Moment | None
) -> tuple[_core.CropAir, float]:
    """Return the air at the crop, and the moment of spraying in it, as `simulate` has them."""
    if (weather is None) != (time is None):
        raise InputError("weather and time go together; give both, or neither for unchanging air")
    if weather is None or time is None:
        return _core.steady_air(scenario._held), 0.0
    return air_at_spraying(scenario, weather, time)


def about(scenario: Scenario, comment: str) -> dict[str, Any]:
    """Return the attributes of a dataset that belongs to a scenario."""
    return scenario_attributes(scenario) | {"comment": comment}


def variable(units: str, long_name: str, **more: object) -> dict[str, object]:
    """Return the attributes of a variable under the CF conventions."""
    return {"long_name": long_name, "units": units} | more
