"""The gain of a re-wetting in growth control, and how it depends on the time of day."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import xarray as xr

from wetspan import _core
from wetspan.errors import InputError, only_for
from wetspan.outcome import Outcome, attributes, minutes
from wetspan.parameters import TABLE
from wetspan.record import Moment
from wetspan.residue import along_ends, residue_ends, told_ends
from wetspan.rewetting import DELAY, rewets, shown_water, water_of
from wetspan.scenario import Scenario, require_scenario
from wetspan.scenario_inputs import clock_time
from wetspan.study import simulate
from wetspan.weather import Weather


@dataclass(frozen=True)
class RewettingGain:
    """The gain of a re-wetting: growth control with and without it, and the water that it takes.

    wet_time
        Time for which leaves are wet after the re-wetting [s]; infinite if they do not dry.
    control, control_without
        Growth control with and without the re-wetting [1].
    gain
        Increase of growth control, as a share of that without the re-wetting [1].
    gain_locked, gain_mobile
        The same for the lowest and the highest plausible mobile share of the dried residue
        (`ws.residue_ends`), which are the two `mobile_shares` [1].
    water
        Water per area of bench [m]; `water_shown` is the same as text.
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
    """Return the gain of the re-wetting of an outcome's scenario over the same spray without it."""
    only_for("rewetting_gain is for the Outcome of ws.simulate", outcome, Outcome)
    scenario = outcome.scenario
    if not rewets(scenario):
        raise InputError("the scenario has no re-wetting; give rewetting.volume_rate, such as '0.1 L/m^2'")
    found = _core.rewetting_gain(scenario._core, outcome.air, outcome.start, outcome.weeks)
    ends, water = residue_ends(scenario), water_of(scenario)
    return RewettingGain(
        wet_time=found.wet_time,
        control=found.nominal.with_it,
        control_without=found.nominal.without,
        gain=found.nominal.gain,
        gain_locked=found.locked.gain,
        gain_mobile=found.mobile.gain,
        mobile_shares=(ends.locked["uptake.mobile_share"], ends.mobile["uptake.mobile_share"]),
        water=water,
        water_shown=shown_water(scenario, water),
    )


def compare_rewettings(
    scenario: Scenario, weather: Weather, time: Moment, clocks: Iterable[object]
) -> xr.Dataset:
    """Compare re-wettings of one spray at several times of day, each at the next such time after the spray.

    `time` is that of the spray, read as by `weather.local`; `clocks` are texts such as "07:00" or
    `datetime.time`. The Dataset lies along `clock`, with `delay` and `rewet_time` [s], `growth_control`, and
    `gain`: the increase over the same spray without re-wetting, as a share of the growth control without it
    (attribute `growth_control_without`). `gain_at_ends`, along `residue`, is the gain for the lowest and the
    highest plausible mobile share of the dried residue (`ws.residue_ends`).
    """
    require_scenario(scenario)
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
