"""Explanation of an outcome: the routes of the active ingredient, and the levers with the largest effect."""

from __future__ import annotations

from dataclasses import dataclass
from numbers import Integral

from wetspan import _core
from wetspan.batch.core import allowed_threads
from wetspan.cautions import CAUTIONS
from wetspan.errors import InputError, only_for
from wetspan.outcome import SITES, Outcome
from wetspan.residue import EXPERIMENT, MOBILE, residue_ends, told_ends
from wetspan.scenario import Scenario

_ALL = 1000  # levers


@dataclass(frozen=True)
class Lever:
    """One change and what it does: growth control with it, less growth control without.

    `gain_locked` and `gain_mobile` are the gain at both ends of what the dried residue does
    (`ws.residue_ends`); less than 0.05 points is told as 0.
    """

    change: str
    control: float
    gain: float
    gain_locked: float
    gain_mobile: float

    def __str__(self) -> str:
        ends = " or ".join(f"{100 * gain:+.1f}" for gain in (self.gain_locked, self.gain_mobile))
        told = f"{self.change}: growth control {100 * self.control:.1f} %"
        return f"{told}, {100 * self.gain:+.1f} points ({ends} at the ends)"


@dataclass(frozen=True)
class Why:
    """The sources of an outcome's growth control, and the changes with the largest effect on it.

    `through` is the share of each site of uptake in the amount that reaches the growing tips. `levers` are
    changes of the application or its surroundings, those with the largest effect first, each computed alone
    in the same air; effects below 0.05 percentage points are left out. Gains are also given for the lowest
    and the highest plausible mobile share of the dried residue, which are the two `mobile_shares` [1].
    """

    through: dict[str, float]
    levers: tuple[Lever, ...]
    control: float
    mobile_shares: tuple[float, float]

    def __str__(self) -> str:
        ways = ", ".join(f"{100 * share:.0f} % through {site}" for site, share in self.through.items())
        lines = [f"Growth control {100 * self.control:.1f} %. Of what reaches the growing tips came {ways}."]
        lines += [f"- {lever}" for lever in self.levers]
        if self.levers:
            ends = ", or ".join(told_ends(self.mobile_shares))
            lines.append(f"The ends are those of what the dried residue does: {ends}. {EXPERIMENT}")
        return "\n".join([*lines, "", CAUTIONS])


def why(outcome: Outcome, *, most: int = 6, threads: int = 0) -> Why:
    """Return the sources of an outcome's growth control, and the changes with the largest effect on it."""
    only_for("why is for the Outcome of ws.simulate", outcome, Outcome)
    if not isinstance(most, Integral) or isinstance(most, bool) or most < 0:
        raise InputError(f"most = {most!r} is not a whole number of changes, 0 or more")

    def told_of(scenario: Scenario, levers: int) -> _core.Why:
        return _core.why(
            scenario._core,
            outcome.air,
            outcome.start,
            levers,
            weeks=outcome.weeks,
            threads=allowed_threads(threads),
        )

    told = told_of(outcome.scenario, int(most))
    through = {site: getattr(told.through, site) for site in SITES}
    ends = residue_ends(outcome.scenario)
    gains = [{lever.change: lever.gain for lever in told_of(end, _ALL).levers} for end in ends]
    levers = tuple(
        Lever(lever.change, lever.control, lever.gain, *(each.get(lever.change, 0.0) for each in gains))
        for lever in told.levers
    )
    return Why(through, levers, told.control, (ends.locked[MOBILE], ends.mobile[MOBILE]))
