"""The lowest and the highest plausible mobile share of the dried residue, which decide the value of wet
minutes.

Published shares of a dried deposit that stay mobile differ 30-fold, and all of them are of other substances
(docs/science/uptake.md). At the low end nearly all of the deposit is locked, uptake ends when the leaf dries,
and a fast afternoon costs much. At the high end the deposit stays mobile, uptake continues for days from the
dry deposit, and a fast afternoon costs little. No measurement for paclobutrazol was found, so every
comparison of wet times gives results at both ends.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import xarray as xr

from wetspan import _core
from wetspan.outcome import Outcome, attributes
from wetspan.parameters import POSITION, TABLE
from wetspan.rewetting import without_clock
from wetspan.scenario import Scenario, require_scenario

Numbers = npt.NDArray[np.float64]

MOBILE, LEAF_TIP = "uptake.mobile_share", "crop.leaf_tip_share"
#: The names of the ends along the dimension `residue`, and what they mean.
LOCKED_END, MOBILE_END = "locked", "mobile"
MEANING = {
    LOCKED_END: "uptake stops with the water",
    MOBILE_END: "uptake goes on for days from the dried deposit",
}
EXPERIMENT = (
    "No measurement for paclobutrazol was found; washing the deposit off the leaves of plants in covered "
    "pots 1, 24 and 120 h after the spray would decide it."
)
#: How a fast and a slow time of spraying are compared, for `str.format`; the page fills in the same texts.
TOLD = {
    "end": "{what} ({share} % of the residue stays mobile)",
    "times": "What the shorter wet time costs depends on what the dried residue does: if {stops}, growth "
    "control at {fast} is {locked} of that at {slow}; if {goes_on}, it is {mobile}",
    "little": "At either end the hour matters little here.",
    "how much": "How much the hour matters is not decided.",
    "whether": "Whether the hour matters is not decided.",
}
#: A change of growth control, as a share of it, that is told to matter. Assumption (grade D).
MATTERS = 0.05


class ResidueEnds(NamedTuple):
    """A scenario at both ends of what its dried residue may do."""

    locked: Scenario
    mobile: Scenario


def residue_ends(scenario: Scenario) -> ResidueEnds:
    """Return the scenario with the lowest and with the highest plausible mobile share of the dried residue.

    uptake.mobile_share is divided and multiplied by its 90 % factor (`ws.parameters()`), within its bounds;
    by default this gives 2 and 72 %. crop.leaf_tip_share is changed in the opposite direction, so that the
    product of the two stays the same, because the calibration to a spray determines only this product
    (docs/science/growth.md). Stems have the same mobile share, but their uptake does not depend on
    crop.leaf_tip_share. So the level of growth control differs between the two ends: compare times with each
    other at one end. A mobile share of 0 counts as known, and both ends are then the scenario itself.
    """
    require_scenario(scenario)
    ends = _core.residue_ends(without_clock(scenario)._core)
    return ResidueEnds(*(scenario.in_si(_residue(each)) for each in (ends.locked, ends.mobile)))


def _residue(core: _core.Scenario) -> dict[str, float]:
    return {key: core.get(POSITION[key]) for key in (MOBILE, LEAF_TIP)}


def along_ends(scenario: Scenario) -> dict[str, object]:
    """Return the coordinates of the dimension `residue`."""
    shares = [100.0 * end[MOBILE] for end in residue_ends(scenario)]
    return {
        "residue": ("residue", list(MEANING), {"long_name": "end of what the dried residue does"}),
        "mobile_share": ("residue", shares, attributes("mobile_share", "percent", TABLE[MOBILE].meaning)),
    }


def owed_to_wet_time(outcome: Outcome) -> xr.DataArray:
    """Return the share of an outcome's growth control that is owed to its wet time, along `residue` [1].

    It is what would be missing had the same deposit dried at once: computed again with the permeance from
    the liquid, uptake.cuticle, at the hundredth of the reference that is its least. NaN where nothing is
    controlled.
    """
    scenario = outcome.scenario
    owed = _core.owed_to_wet_time(scenario._core, outcome.air, outcome.start, outcome.weeks)
    return xr.DataArray(
        [owed.locked, owed.mobile],
        coords=along_ends(scenario),
        dims="residue",
        attrs=attributes("owed_to_wet_time", "1", "share of growth control that is owed to the wet time"),
    )


def told_end(name: str, mobile_share: float) -> str:
    """Return what happens at an end of the residue, whose mobile share [1] is given, in words."""
    return TOLD["end"].format(what=MEANING[name], share=f"{100.0 * mobile_share:.0f}")


def told_ends(mobile_shares: Iterable[float]) -> list[str]:
    """Return what happens at both ends of the residue, whose mobile shares [1] are given, in words."""
    return list(map(told_end, MEANING, mobile_shares))


def _told_ends(ends: xr.DataArray) -> list[tuple[float, str]]:
    """Return the values of both ends, each with what happens there."""
    shares = ends["mobile_share"].values / 100.0
    return list(zip(ends.values.tolist(), told_ends(shares), strict=True))


def about_times(ends: xr.DataArray, fast: str, slow: str, over: str = "") -> str:
    """Return what a fast time of spraying costs beside a slow one, at both ends of the residue.

    `ends` is the growth control at the fast time over that at the slow one, along `residue` with its
    `mobile_share`; `over` says what these are, where they are not of one day.
    """
    (locked, stops), (mobile, goes_on) = _told_ends(ends)
    told = TOLD["times"].format(
        fast=fast, slow=slow, stops=stops, locked=f"{locked:.2f}", goes_on=goes_on, mobile=f"{mobile:.2f}"
    )
    told += f" ({over})." if over else "."
    much, little = sorted((abs(1.0 - locked), abs(1.0 - mobile)), reverse=True)
    if much < MATTERS:
        return f"{told} {TOLD['little']}"
    decided = TOLD["how much" if little >= MATTERS else "whether"]
    return f"{told} {decided} {EXPERIMENT}"


def about_wet_time(owed: xr.DataArray) -> str:
    """Return what a wet time is worth at both ends; `owed` is that of `owed_to_wet_time`."""
    (locked, stops), (mobile, goes_on) = _told_ends(owed)
    ends = (
        f"of the growth control, {100.0 * locked:.0f} % is owed to the wet time if {stops}, and "
        f"{100.0 * mobile:.0f} % if {goes_on}"
    )
    if float(np.abs(owed).max()) < MATTERS:
        return f"{ends}: little at either end"
    return f"{ends}. {EXPERIMENT}"
