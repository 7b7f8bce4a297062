"""The time of a scenario's re-wetting, after an interval or at a time of day, and its water."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import numpy.typing as npt
import pandas as pd

from wetspan import _core
from wetspan.errors import InputError
from wetspan.parameters import TABLE
from wetspan.scenario import Scenario, wrapped
from wetspan.scenario_inputs import told_clock
from wetspan.weather import Weather

Numbers: TypeAlias = npt.NDArray[np.float64]

DELAY, VOLUME = "rewetting.delay", "rewetting.volume_rate"
_WHOLE_DAYS = 60.0  # s within which applications count as whole days apart


def delays_at(scenario: Scenario, weather: Weather, moments: pd.DatetimeIndex) -> Numbers | None:
    """Return the time from each moment of spraying to the re-wetting [s]; None where it is an interval.

    With rewetting.at it is to the next such time of day on the record's clock, after the spray; NaN for NaT.
    A clock time that daylight saving skips is that of an hour later; of one that comes twice the first.
    """
    at = scenario.rewetting_at
    if at is None:
        return None
    _check_calendar(scenario)
    after = pd.Timedelta(hours=at.hour, minutes=at.minute, seconds=at.second)
    clock = moments.tz_convert(weather.tz).tz_localize(None)
    same_day = clock.normalize() + after
    next_one = same_day.where(same_day > clock, same_day + pd.Timedelta(days=1))
    there = next_one.tz_localize(
        weather.tz, nonexistent="shift_forward", ambiguous=np.ones(len(moments), dtype=bool)
    )
    return np.asarray((there - moments) / pd.Timedelta(seconds=1), dtype=np.float64)


def timed(scenario: Scenario, weather: Weather, moment: pd.Timestamp) -> Scenario:
    """Return a scenario sprayed at a moment (with a zone), its re-wetting after an interval."""
    delays = delays_at(scenario, weather, pd.DatetimeIndex([moment]))
    return scenario if delays is None else scenario.in_si({DELAY: float(delays[0])})


def without_clock(scenario: Scenario) -> Scenario:
    """Return a scenario of which rewetting.at is left out, for what does not depend on it."""
    return scenario if scenario.rewetting_at is None else scenario.in_si({DELAY: TABLE[DELAY].standard})


def rewets(scenario: Scenario) -> bool:
    """Return whether a spray of the scenario is wetted again."""
    return water_of(scenario) > 0.0


def water_of(scenario: Scenario) -> float:
    """Return the water of a re-wetting [m]; of a calendar, the largest of its applications."""
    return _core.rewetting_water(scenario._held)


def without_rewetting(scenario: Scenario) -> Scenario:
    """Return a scenario that is not wetted again, at any of its applications."""
    core = _core.without_rewetting(without_clock(scenario)._core)
    return wrapped(core, scenario.title, scenario.units, None, scenario.weather)


def about_water(scenario: Scenario) -> str:
    """Return when a scenario's re-wetting comes and what it costs, in words."""
    water = shown_water(scenario, scenario[VOLUME])
    when = (
        f"at {told_clock(scenario.rewetting_at)}"
        if scenario.rewetting_at is not None
        else f"{scenario.show(DELAY)} after the spray"
    )
    return f"{water} of water {when}"


def shown_water(scenario: Scenario, water: float) -> str:
    """Return an amount of water per area [m] in the units in which the scenario is shown."""
    return scenario.units.show(TABLE[VOLUME], water)


def _check_calendar(scenario: Scenario) -> None:
    for each in scenario.applications:
        off = (each["at"] + 0.5 * 86400.0) % 86400.0 - 0.5 * 86400.0
        if abs(off) > _WHOLE_DAYS and DELAY not in each:
            raise InputError(
                f"rewetting.at: the application {each['at'] / 3600.0:g} h after the start of growth is not "
                "at the time of day of the first; give each application its own rewetting.delay"
            )
