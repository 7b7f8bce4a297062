"""Re-wetting: at a time of day instead of an interval, and what it gains for its water."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from wetspan.errors import InputError, only_for
from wetspan.outcome import Outcome, attributes, minutes, single
from wetspan.parameters import POSITION, TABLE
from wetspan.residue import along_ends, residue_ends, told_ends
from wetspan.scenario import Scenario, clock_time, require_scenario, told_clock
from wetspan.weather import Weather

if TYPE_CHECKING:
    from wetspan.record import Moment

Numbers = npt.NDArray[np.float64]

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
    given = [each.get(VOLUME, scenario[VOLUME]) for each in scenario.applications]
    return max(given, default=scenario[VOLUME]) > 0.0


def without_rewetting(scenario: Scenario) -> Scenario:
    """Return a scenario that is not wetted again, at any of its applications."""
    calendar = [
        (each["at"], {POSITION[key]: value for key, value in each.items() if key not in ("at", VOLUME)})
        for each in scenario.applications
    ]
    return without_clock(scenario).in_si({VOLUME: 0.0}).with_calendar(calendar)


@dataclass(frozen=True)
class RewettingGain:
    """What a re-wetting gains: growth control with and without it, and what it costs in water.

    wet_time
        How long leaves are wet the second time [s]; infinite where they do not dry.
    control, control_without
        Growth control with and without it [1].
    gain
        What it adds, as a share of the control without [1]; `gain_locked` and `gain_mobile` at both ends of
        what the dried residue does (`ws.residue_ends`), whose `mobile_shares` [1] are given.
    water
        Water per area of bench [m]; in words in `water_shown`.
    """

    wet_time: float
    control: float
    control_without: float
    gain: float
    gain_locked: float
    gain_mobile: float
    mobile_shares: tuple[float, float]
    water: float
    water_shown: str

    def __str__(self) -> str:
        dries = np.isfinite(self.wet_time)
        again = f"for {minutes(self.wet_time)}" if dries else "as long as it is followed"
        return (
            f"The re-wetting costs {self.water_shown} of water, keeps leaves wet {again} more, and takes "
            f"growth control from {100 * self.control_without:.1f} to {100 * self.control:.1f} %: "
            + about_gain(self.gain, (self.gain_locked, self.gain_mobile), self.mobile_shares)
        )


def about_gain(gain: float, ends: tuple[float, float], mobile_shares: tuple[float, float]) -> str:
    """Return a re-wetting's gain as text, with that at both ends of the residue."""
    parts = ", ".join(
        f"{100.0 * each:+.0f} % if {what}" for each, what in zip(ends, told_ends(mobile_shares), strict=True)
    )
    return f"{100.0 * gain:+.0f} % of it; {parts}."


def rewetting_gain(outcome: Outcome) -> RewettingGain:
    """Return what the re-wetting of an outcome's scenario gains over the same spray without it."""
    only_for("rewetting_gain is for the Outcome of ws.simulate", outcome, Outcome)
    scenario = outcome.scenario
    if not rewets(scenario):
        raise InputError("the scenario has no re-wetting; give rewetting.volume_rate, such as '0.1 L/m^2'")
    pairs = []
    for each in (scenario, *residue_ends(scenario)):
        with_it, without = (
            single(one, outcome.air, outcome.start, outcome.weeks).growth_control
            for one in (each, without_rewetting(each))
        )
        pairs.append((with_it, without))
    gains = [with_it / without - 1.0 if without > 0.0 else np.nan for with_it, without in pairs]
    ends = residue_ends(scenario)
    water = max([each.get(VOLUME, scenario[VOLUME]) for each in scenario.applications] or [scenario[VOLUME]])
    return RewettingGain(
        wet_time=outcome.rewet_time,
        control=pairs[0][0],
        control_without=pairs[0][1],
        gain=gains[0],
        gain_locked=gains[1],
        gain_mobile=gains[2],
        mobile_shares=(ends.locked["uptake.mobile_share"], ends.mobile["uptake.mobile_share"]),
        water=water,
        water_shown=shown_water(scenario, water),
    )


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


def compare_rewettings(
    scenario: Scenario, weather: Weather, time: Moment, clocks: Iterable[object]
) -> xr.Dataset:
    """Compare re-wetting one spray at several times of day, each the next one after the spray.

    `time` is that of the spray, read as by `weather.local`; `clocks` are texts such as "07:00" or
    `datetime.time`. The Dataset lies along `clock`: `delay` and `rewet_time` [s], `growth_control`, and
    `gain` over the same spray without re-wetting, as a share of its control (`growth_control_without`).
    `gain_at_ends`, along `residue`, is the gain at both ends of what the dried residue does
    (`ws.residue_ends`).
    """
    require_scenario(scenario)
    from wetspan.study import simulate  # which itself tells of re-wettings

    given = [clock_time(each) for each in clocks]
    if not given:
        raise InputError("clocks: give times of day, such as ['06:00', '07:00']")
    found = []
    for at in given:
        outcome = simulate(scenario.replace({"rewetting.at": at}), weather, time)
        found.append((outcome.scenario[DELAY], outcome.growth_control, rewetting_gain(outcome)))
    gains = [gain for *_, gain in found]
    clock = [f"{at:%H:%M}" + (f":{at:%S}" if at.second else "") for at in given]
    result = xr.Dataset(
        {
            "delay": (
                "clock",
                [delay for delay, *_ in found],
                attributes("delay", "s", TABLE[DELAY].meaning),
            ),
            "rewet_time": (
                "clock",
                [gain.wet_time for gain in gains],
                attributes("rewet_time", "s", "time from re-wetting to dry leaves"),
            ),
            "growth_control": (
                "clock",
                [control for _, control, _ in found],
                attributes("growth_control", "1", "share shorter than the untreated check"),
            ),
            "gain": (
                "clock",
                [gain.gain for gain in gains],
                attributes("gain", "1", "gain in growth control, as a share of that without re-wetting"),
            ),
            "gain_at_ends": (
                ("residue", "clock"),
                [[gain.gain_locked for gain in gains], [gain.gain_mobile for gain in gains]],
                attributes("gain", "1", "gain in growth control, at both ends of the residue"),
            ),
        },
        coords={"clock": ("clock", clock, {"long_name": "clock time of re-wetting"})} | along_ends(scenario),
        attrs={
            "growth_control_without": gains[0].control_without,
            "water": gains[0].water_shown,
            "title": scenario.title,
        },
    )
    return result


def _check_calendar(scenario: Scenario) -> None:
    for each in scenario.applications:
        off = (each["at"] + 0.5 * 86400.0) % 86400.0 - 0.5 * 86400.0
        if abs(off) > _WHOLE_DAYS and DELAY not in each:
            raise InputError(
                f"rewetting.at: the application {each['at'] / 3600.0:g} h after the start of growth is not "
                "at the time of day of the first; give each application its own rewetting.delay"
            )
