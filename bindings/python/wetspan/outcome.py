"""What a simulation tells, as floats and labelled arrays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import xarray as xr

from wetspan import _core
from wetspan.scenario import Scenario
from wetspan.units import convert

#: The dimension along which a group of an outcome's numbers lies.
_DIMENSIONS = {"split": "target", "uptake": "site", "tips": "site"}
#: Units of datasets where they are not the table's SI: masses per plant in mg.
_UNITS = {"kg": "mg"}
_STANDARD_NAMES = {"air_temperature": "air_temperature", "relative_humidity": "relative_humidity"}
_HISTORY = {
    "leaf_temperature": ("K", "leaf temperature"),
    "air_temperature": ("K", "air temperature at the crop, with what the spray took from it"),
    "relative_humidity": ("1", "relative humidity at the crop, with what the spray added to it"),
    "leaf_water": ("1", "share of the landed liquid left on leaves"),
    "stem_water": ("1", "share of the landed liquid left on stems"),
    "wet_share": ("1", "wet share of the upper leaf side"),
    "leaf_uptake": ("1", "share of the leaf's active ingredient taken up"),
    "stem_uptake": ("1", "share of the stem's active ingredient taken up"),
}

Columns = Mapping[str, npt.NDArray[np.float64]]


@dataclass(frozen=True, eq=False, repr=False)
class Outcome:
    """What one spray comes to.

    split
        Dataset along `target` (leaf, stem, substrate, bench, airborne, evaporated): `share` [1] of the sprayed
        volume, which sums to 1, and `volume` [L/m2 of bench].
    wet_time
        From spray to dry leaves [s]; infinite, with `status` "wet at end", when they do not dry within the record.
    last_drop_time, stem_wet_time
        From spray to the last drop on a leaf, and to dry stems [s]; infinite likewise.
    status
        "dry", "wet at end" or "nothing wet" (a drench).
    uptake
        Active ingredient taken up per plant along `site` (leaf, stem, root) [mg].
    at_tips
        The part of it that reaches the growing tips [mg].
    growth_control
        Share shorter than the untreated check [1].
    history
        Dataset over `time` [s from the spray]: leaf_temperature, air_temperature and relative_humidity in the house,
        leaf_water, stem_water, wet_share, leaf_uptake, stem_uptake.
    account
        Where the active ingredient is when height is judged, along `place` [1]; sums to 1.
    water_balance
        Landed less evaporated less left, over landed [1]: zero to rounding.
    scenario
        What was computed.
    """

    split: xr.Dataset
    wet_time: float
    last_drop_time: float
    stem_wet_time: float
    status: str
    uptake: xr.DataArray
    at_tips: xr.DataArray
    growth_control: float
    history: xr.Dataset
    account: xr.DataArray
    water_balance: float
    scenario: Scenario

    def __repr__(self) -> str:
        shares = ", ".join(f"{name} {share:.0%}" for name, share in split_of(self).items() if share > 0.0005)
        return f"Outcome({self.status}; wet {minutes(self.wet_time)}; {shares}; growth control {self.growth_control:.1%})"


def split_of(outcome: Outcome) -> dict[str, float]:
    """Return the shares of the sprayed volume by target."""
    return {
        str(name): float(share)
        for name, share in zip(outcome.split["target"].values, outcome.split["share"].values, strict=True)
    }


def minutes(seconds: float) -> str:
    """Return a wet time as people say it: minutes, or hours from two on."""
    if not np.isfinite(seconds):
        return "to the end of the record"
    return f"{seconds / 60.0:.0f} min" if seconds < 7200.0 else f"{seconds / 3600.0:.1f} h"


def single(scenario: Scenario, told: tuple[Columns, Columns, Mapping[str, float], float]) -> Outcome:
    """Wrap what the core tells of one spray."""
    numbers, course, account, balance = told
    values = dataset(numbers, (), {})
    history = xr.Dataset(
        {
            name: ("time", course[name], {"units": unit, "long_name": long_name} | _standard(name))
            for name, (unit, long_name) in _HISTORY.items()
        },
        coords={"time": ("time", course["time"], {"units": "s", "long_name": "time from the spray"})},
    )
    litres = values["split"] * convert(scenario["application.volume_rate"], "m", "L/m^2")
    litres.attrs = {"units": "L/m^2", "long_name": "volume per area of bench"}
    return Outcome(
        split=xr.Dataset({"share": values["split"], "volume": litres}),
        wet_time=float(values["wet_time"]),
        last_drop_time=float(values["last_drop_time"]),
        stem_wet_time=float(values["stem_wet_time"]),
        status=str(values["status"].item()),
        uptake=values["uptake"],
        at_tips=values["tips"],
        growth_control=float(values["growth_control"]),
        history=history,
        account=xr.DataArray(
            list(account.values()),
            dims="place",
            coords={"place": list(account)},
            attrs={"units": "1", "long_name": "where the active ingredient is when height is judged"},
        ),
        water_balance=balance,
        scenario=scenario,
    )


def dataset(
    columns: Columns, dims: Sequence[str], coords: Mapping[str, object], shape: Sequence[int] = ()
) -> xr.Dataset:
    """Return the core's columns as a Dataset over `dims` of `shape`, groups along a dimension of their own."""
    groups: dict[str, dict[str, npt.NDArray[np.float64]]] = {}
    result = xr.Dataset(coords=dict(coords))
    for name, unit, _, meaning in _core.outcome_variables():
        to = _UNITS.get(unit, unit)
        values = np.asarray(columns[name]).reshape(shape) * convert(1.0, unit, to)
        group, _, member = name.partition(".")
        if member:
            groups.setdefault(group, {})[member] = values
        else:
            result[name] = (dims, values, {"units": to, "long_name": meaning})
    long_names = {
        "split": ("1", "share of the sprayed volume"),
        "uptake": ("mg", "active ingredient taken up per plant"),
        "tips": ("mg", "active ingredient at the growing tips per plant"),
    }
    for group, members in groups.items():
        along = _DIMENSIONS[group]
        unit, long_name = long_names[group]
        stacked = np.stack(list(members.values()), axis=-1)
        result = result.assign_coords({along: list(members)})
        result[group] = ((*dims, along), stacked, {"units": unit, "long_name": long_name})
    result["status"] = (
        dims,
        np.asarray(columns["status"]).reshape(shape),
        {"long_name": "how the wet span ended"},
    )
    return result


def _standard(name: str) -> dict[str, str]:
    return {"standard_name": _STANDARD_NAMES[name]} if name in _STANDARD_NAMES else {}
