"""Inverse questions: the rate for a wanted height, and the drench or spray that equals a spray or drench.

The results are estimates for study, with ranges from draws of the unknown inputs. They depend on a crop that
is calibrated to a few facts of the trade, and on the check height that is given. They do not prescribe; see
`ws.CAUTIONS`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from wetspan import _core
from wetspan.batch.weather import set_by_a_record
from wetspan.cautions import CAUTIONS
from wetspan.draws import Given, agreeing, checked_samples, draw
from wetspan.draws import told as what_is_given
from wetspan.errors import InputError
from wetspan.progress import working
from wetspan.record import (
    Moment,
    airs_at,
    follow,
    followed,
    local,
    raised,
    starts_in,
    stretches_of,
    weeks_at,
)
from wetspan.rewetting import timed
from wetspan.scenario import Scenario, require_scenario
from wetspan.seeds import Seed
from wetspan.unit_choice import METRIC, UnitChoice
from wetspan.unit_shown import convert
from wetspan.units import in_unit
from wetspan.weather import Weather

Numbers = npt.NDArray[np.float64]

_TOLERANCE = 1e-4  # of the many runs of the draws
_POUR = "118 mL"  # a drench of a 15 cm pot: a trade drench guide
_VOLUME_RATE = "2 qt / (100 ft^2)"


def usual_amount(method: str, units: UnitChoice) -> str:
    """Return a usual volume of a drench of a pot, or volume rate of a spray, in the units shown."""
    us = "liquid" in units.us
    if method == "drench":
        return "4 fl oz" if us else _POUR
    return "2 qt/100 ft2" if us else "0.2 L/m2"


@dataclass(frozen=True)
class Rate:
    """The concentration that gives a wanted height, and its range.

    reach
        "found", "none needed" (the untreated check is not taller), or "not reachable" (too little growth is
        still to come, or the largest concentration that is allowed does not suffice).
    concentration
        [kg/m3]; NaN unless found, 0 if none is needed.
    low, high
        10 and 90 % quantiles over the draws in which a rate was found [kg/m3]; NaN without draws.
    reached
        Share of the draws in which some rate gives the height [1].
    least_height
        Height that the largest concentration allowed gives [m].
    calendar
        Whether there are several applications, whose concentrations are all multiplied by the same factor.
    """

    height: float
    reach: str
    concentration: float
    low: float
    high: float
    reached: float
    least_height: float
    given: str
    method: str
    calendar: bool = False

    def __str__(self) -> str:
        return f"{self.told()}\n{CAUTIONS}"

    def told(self, units: UnitChoice = METRIC) -> str:
        """Return the rate in one sentence, without the cautions."""
        wanted = units.text(convert(self.height, "m", "cm"), "cm")
        if self.reach == "none needed":
            return f"The untreated check is no taller than {wanted}: nothing is needed."
        if self.reach == "not reachable":
            least = units.text(convert(self.least_height, "m", "cm"), "cm")
            return (
                f"{wanted} cannot be reached by a {self.method}: too little growth is still to come; {least} "
                "is the least that any concentration gives."
            )
        text = f"For {wanted}: a {self.method} of {_strength(units, self.concentration, 3)}"
        if np.isfinite(self.low):
            low, high = (_strength(units, end, 2) for end in (self.low, self.high))
            text += f" ({low} to {high} in 80 % of the draws {agreeing(self.given)}"
            text += (
                f"; {100 * (1 - self.reached):.0f} % of the draws cannot reach it)"
                if self.reached < 1.0
                else ")"
            )
        if self.calendar:
            text += ", and the concentrations that the calendar gives in the same proportion"
        return f"{text}."


def _strength(units: UnitChoice, concentration: float, digits: int) -> str:
    """Return a concentration [kg/m3] as text, to some digits."""
    return units.text(convert(concentration, "kg/m^3", "mg/L"), "mg/L", digits)


@working("seeks the rate")
def rate_for(
    scenario: Scenario,
    height: object,
    weather: Weather | None = None,
    time: Moment | None = None,
    *,
    samples: int = 0,
    seed: Seed = 1,
    given: Given = "anchors",
    threads: int = 0,
) -> Rate:
    """Return the concentration that gives a wanted final height.

    The application is computed in the scenario's constant air, or at `time` of `weather`, as by `simulate`:
    growth starts at this time, and the weeks have the record's temperatures, through the house, as far as the
    record reaches. `height` is text with its unit, or a quantity. The scenario's method, volume and time
    are kept. The concentrations of a calendar are all multiplied by the same factor. With `samples`, the
    unknown inputs are drawn as by `ws.draw`, except those that the record sets, and the rate has a range; all
    draws have the nominal temperatures of the weeks. If too little growth is still to come for this height,
    the result says so.
    """
    require_scenario(scenario)
    wanted = in_unit("height", height, "m", "give a height such as '24 cm'")
    place = _Place.of(scenario, weather, time)
    (one,) = place.seek([place.scenario], wanted, threads)
    low = high = np.nan
    reached = 1.0 if one.reach == "found" else 0.0
    if samples:
        found = place.seek(place.drawn(samples, seed, given), wanted, threads)
        rates = np.array([each.concentration for each in found if each.reach == "found"])
        reached = float(np.mean([each.reach != "not reachable" for each in found]))
        if len(rates):
            low, high = (float(np.quantile(rates, level)) for level in (0.1, 0.9))
    if one.reach == "failed":
        raise InputError(one.reason)
    return Rate(
        wanted,
        one.reach,
        one.concentration,
        low,
        high,
        reached,
        one.least_height,
        what_is_given(given),
        str(scenario.shown("application.method")).replace("_", "-"),
        len(scenario.applications) > 1,
    )


@dataclass(frozen=True)
class Equivalent:
    """The drench that equals a spray, or the spray that equals a drench; concentrations in kg/m3.

    same_amount
        Concentration of the drench that puts as much active ingredient into the pot as the spray; NaN for a
        spray that equals a drench.
    same_control
        Concentration that gives the same growth control; NaN if none does.
    low, high
        10 and 90 % quantiles of same_control over the draws; NaN without draws.
    volume
        Volume of the drench for each plant [m3]; NaN for a spray that equals a drench.
    """

    of: str
    instead: str
    control: float
    same_amount: float
    same_control: float
    low: float
    high: float
    given: str
    volume: float = np.nan

    def short(self, units: UnitChoice = METRIC) -> str:
        """Return what a spray equals as a drench, in one sentence without the cautions."""
        pour = units.text(convert(self.volume, "m^3", "mL"), "mL")

        def said(strength: float) -> str:
            milligrams = convert(strength * self.volume, "kg", "mg")
            return f"{_strength(units, strength, 2)} ({milligrams:.2g} mg)"

        if not np.isfinite(self.same_control):
            control = "no concentration gives the same growth control"
        else:
            control = f"{said(self.same_control)} for the same growth control"
        in_pot = f"{said(self.same_amount)} is what this spray puts into it"
        return f"As a drench of {pour} a pot: {control}; {in_pot}."

    def __str__(self) -> str:
        return f"{self.told()}\n{CAUTIONS}"

    def told(self, units: UnitChoice = METRIC) -> str:
        """Return what it equals in one sentence, with its range and without the cautions."""

        def said(value: float, digits: int = 3) -> str:
            return _strength(units, value, digits)

        text = f"This {self.of} ({100 * self.control:.0f} % growth control) as {self.instead}: "
        if np.isfinite(self.same_control):
            text += f"{said(self.same_control)} for the same control"
            if np.isfinite(self.low):
                ends = f"{said(self.low, 2)} to {said(self.high, 2)}"
                text += f" ({ends} in 80 % of the draws {agreeing(self.given)})"
        else:
            text += "none gives the same control"
        if np.isfinite(self.same_amount):
            text += f"; {said(self.same_amount)} for the same amount in the pot"
        return f"{text}."


@working("seeks the drench")
def as_drench(
    scenario: Scenario,
    volume: object = _POUR,
    weather: Weather | None = None,
    time: Moment | None = None,
    *,
    samples: int = 0,
    seed: Seed = 1,
    given: Given = "anchors",
    threads: int = 0,
) -> Equivalent:
    """Return the drench that equals a spray, for a `volume` to each plant, such as "4 fl oz".

    Both are applied in the scenario's constant air, or at `time` of `weather`, as by `rate_for`.
    """
    require_scenario(scenario)
    if scenario.shown("application.method") != "spray" or scenario.applications:
        raise InputError("as_drench wants a scenario of one spray, without a calendar")
    litres = in_unit("volume", volume, "m^3", f"give a volume such as {_POUR!r}")
    place = _Place.of(scenario, weather, time)

    def equivalents(asked: Sequence[Scenario]) -> list[_core.Equivalent]:
        return _core.sprays_as_drenches(*place.jobs(asked), litres, threads)

    found = _equivalent(place, f"a drench of {volume}", equivalents, samples, seed, given)
    return replace(found, volume=litres)


@working("seeks the spray")
def as_spray(
    scenario: Scenario,
    volume_rate: object = _VOLUME_RATE,
    weather: Weather | None = None,
    time: Moment | None = None,
    *,
    samples: int = 0,
    seed: Seed = 1,
    given: Given = "anchors",
    threads: int = 0,
) -> Equivalent:
    """Return the spray of `volume_rate` that equals a drench.

    Both are applied in the scenario's constant air, or at `time` of `weather`, as by `rate_for`.
    """
    require_scenario(scenario)
    if scenario.shown("application.method") == "spray" or scenario.applications:
        raise InputError("as_spray wants a scenario of one drench, without a calendar")
    change = {"application.method": "spray", "application.volume_rate": volume_rate}
    place = _Place.of(scenario, weather, time)

    def equivalents(asked: Sequence[Scenario]) -> list[_core.Equivalent]:
        cores, airs, starts, weeks = place.jobs(asked)
        sprays = [each.replace(change)._core for each in asked]
        return _core.drenches_as_sprays(cores, sprays, airs, starts, weeks, threads)

    return _equivalent(place, f"a spray of {volume_rate}", equivalents, samples, seed, given)


def _equivalent(
    place: _Place,
    instead: str,
    equivalents: Callable[[Sequence[Scenario]], list[_core.Equivalent]],
    samples: int,
    seed: Seed,
    given: Given,
) -> Equivalent:
    """Seek the concentration of the other way of applying that gives the same height, in every draw."""
    (one,) = equivalents([place.scenario])
    if np.isnan(one.control):
        raise InputError(one.same_control.reason)
    low = high = np.nan
    if samples:
        drawn = equivalents(place.drawn(samples, seed, given))
        found = [each.same_control for each in drawn if each.same_control.reach == "found"]
        rates = np.array([each.concentration for each in found])
        if len(rates):
            low, high = (float(np.quantile(rates, level)) for level in (0.1, 0.9))
    return Equivalent(
        str(place.scenario.shown("application.method")).replace("_", "-"),
        instead,
        one.control,
        one.same_amount,
        one.same_control.concentration if one.same_control.reach == "found" else np.nan,
        low,
        high,
        what_is_given(given),
    )


@dataclass(frozen=True)
class _Place:
    """Where and when crops are treated: in unchanging air, or at a moment of a record."""

    scenario: Scenario
    weather: Weather | None
    moment: pd.DatetimeIndex  # one, or none without weather
    weeks: Numbers | None

    @classmethod
    def of(cls, scenario: Scenario, weather: Weather | None, time: Moment | None) -> _Place:
        if weather is None:
            if time is not None:
                raise InputError("a time was given without weather; give both, or neither for unchanging air")
            return cls(scenario, None, pd.DatetimeIndex([]), None)
        if time is None:
            raise InputError("weather was given without a time of spraying, such as time='2026-05-14T15:00'")
        moment = pd.DatetimeIndex([local(weather, time)])
        own = timed(scenario, weather, moment[0])
        airs_at(own, weather, moment)  # refuses a moment outside the record, and warns of its light, once
        (weeks,), _ = weeks_at(own, weather, moment)
        return cls(own, weather, moment, weeks)

    def drawn(self, samples: int, seed: Seed, given: Given) -> list[Scenario]:
        """Return the scenario with its unknown inputs drawn, but for those that the record sets."""
        columns = draw(self.scenario, checked_samples(samples), seed, given=given)
        if self.weather is not None:
            for name in set_by_a_record(self.weather, bool(self.scenario["house.enclosed"])):
                columns.pop(name, None)
        loose = {"numerics.tolerance": max(self.scenario["numerics.tolerance"], _TOLERANCE)}
        rows = zip(*(values.tolist() for values in columns.values()), strict=True)
        return [self.scenario.in_si(loose | dict(zip(columns, row, strict=True))) for row in rows]

    def jobs(
        self, scenarios: Sequence[Scenario]
    ) -> tuple[list[_core.Scenario], list[_core.CropAir], Numbers, Numbers | None]:
        """Return scenarios, each in its own air, as the core takes them."""
        cores = [each._core for each in scenarios]
        if self.weather is None:
            return cores, [_core.steady_air(core) for core in cores], np.zeros(len(cores)), None
        (stretch,), which = stretches_of(self.weather, self.moment, followed(self.scenario))
        (start,) = starts_in(self.weather, [stretch], which, self.moment)
        airs = [raised(air) for air in follow([(self.weather, stretch, each) for each in scenarios])]
        return cores, airs, np.full(len(cores), start), self.weeks

    def seek(self, scenarios: Sequence[Scenario], height: float, threads: int) -> list[_core.RateForHeight]:
        return _core.rates_for_height(*self.jobs(scenarios), height, threads)
