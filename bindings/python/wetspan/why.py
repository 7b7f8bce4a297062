"""Why an outcome is what it is: the ways the substance came, and the largest levers, each computed."""

from __future__ import annotations

from dataclasses import dataclass
from numbers import Integral

from wetspan import _core
from wetspan.batch import allowed_threads
from wetspan.cautions import CAUTIONS
from wetspan.errors import InputError
from wetspan.outcome import Outcome


@dataclass(frozen=True)
class Lever:
    """One change and what it does: growth control with it, less growth control without."""

    change: str
    control: float
    gain: float

    def __str__(self) -> str:
        return f"{self.change}: growth control {100 * self.control:.1f} %, {100 * self.gain:+.1f} points"


@dataclass(frozen=True)
class Why:
    """Where an outcome's growth control comes from.

    `through` is the share of what reaches the growing tips by site; `levers` are the changes that move growth
    control the most, the largest first, each computed on its own in the same air; those that move it by less
    than 0.05 points are left out.
    """

    through: dict[str, float]
    levers: tuple[Lever, ...]
    control: float

    def __str__(self) -> str:
        ways = ", ".join(f"{100 * share:.0f} % through {site}" for site, share in self.through.items())
        lines = [f"Growth control {100 * self.control:.1f} %. Of what reaches the growing tips came {ways}."]
        return "\n".join([*lines, *(f"- {lever}" for lever in self.levers), "", CAUTIONS])


def why(outcome: Outcome, *, most: int = 6, threads: int = 0) -> Why:
    """Tell where an outcome's growth control comes from and which changes would move it the most."""
    if not isinstance(most, Integral) or isinstance(most, bool) or most < 0:
        raise InputError(f"most = {most!r} is not a whole number of changes, 0 or more")
    told = _core.why(outcome.scenario._core, outcome.air, outcome.start, int(most), allowed_threads(threads))
    through = {site: told.through[site] for site in ("leaf", "stem", "root")}
    levers = tuple(Lever(lever.change, lever.control, lever.gain) for lever in told.levers)
    return Why(through, levers, told.control)
