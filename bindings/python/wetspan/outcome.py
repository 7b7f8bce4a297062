"""The result of a simulation, as floats and labelled arrays."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import xarray as xr

from wetspan import _core
from wetspan.scenario import Scenario
from wetspan.unit_shown import convert

#: Units of datasets where they are not the table's SI: masses per plant in mg.
_UNITS = {"kg": "mg"}
#: What a group of an outcome's numbers is, the dimension it lies along, and what that is.
_GROUPS = {
    "split": ("share of the sprayed volume", "target", "where the sprayed liquid ends up"),
    "uptake": ("active ingredient taken up per plant", "site", "where the active ingredient enters"),
    "tips": (
        "active ingredient that reached the growing tips per plant",
        "site",
        "where the active ingredient enters",
    ),
}
#: Where active ingredient enters a plant.
SITES = ("leaf", "stem", "root")
_FROM_START = {"time": {"long_name": "time from the start of growth", "units": "s"}}

Columns = Mapping[str, npt.NDArray[np.float64]]


class _Effect(NamedTuple):
    """What one application does: lengths [m], and amounts by site [kg per plant]."""

    to_come: float
    saved: float
    uptake: Mapping[str, float]
    tips: Mapping[str, float]

    @classmethod
    def of(cls, told: _core.Effect) -> _Effect:
        return cls(told.to_come, told.saved, _by_site(told.uptake), _by_site(told.tips))


@dataclass(frozen=True, eq=False, repr=False)
class Outcome:
    """The result of the applications to a crop.

    split
        Dataset along `target` (leaf, stem, substrate, bench, airborne, evaporated) of the first application:
        `share` [1] of the sprayed volume, which sums to 1, and `volume` [L/m2 of bench].
    wet_time
        Time from the first spray to dry leaves [s]; infinite, with the `status` "wet at end", if they do not
        dry within `longest`.
    last_drop_time, stem_wet_time
        Time from the spray until the last drop on a leaf is dry, and until stems are dry [s]; infinite
        likewise.
    status
        "dry", "wet at end" or "nothing wet" (a drench). It is "wet at end" if leaves, their last drops or
        stems are wet when the record or numerics.longest ends; `still_wet` says which. Liquid that is left
        then counts as dried at that time, so uptake and growth control are lower bounds.
    uptake
        Active ingredient per plant that is taken up until height is judged, along `site` (leaf, stem, root)
        [mg].
    at_tips
        The part of it that reached the growing tips [mg].
    growth_control
        Share by which the plant is shorter than the untreated check when height is judged [1].
    heights
        Dataset over `time` [s from the start of growth] of the untreated and the treated plant.
    applications
        Dataset along `application`: time, growth still to come, length saved, and by site uptake and the
        amount that reached the tips.
    inhibition_half_gone
        Time from the start of growth until inhibition has fallen to half of its maximum [s]; infinite if that
        is after height is judged.
    history
        Dataset over `time` [s from the spray]: leaf_temperature, air_temperature and relative_humidity in the
        house, leaf_water, stem_water, wet_share, leaf_uptake, stem_uptake.
    account
        Shares of the active ingredient when height is judged, along `place` [1]; they sum to 1 if there is
        any.
    in_plant
        Where the active ingredient that was taken up is at that time, along `place` [mg]; sums to `uptake`.
    water_balance
        Water that landed, less what evaporated and what is left, over what landed [1]: zero to rounding.
    path
        Method that followed the wet span: "clock" where the droplets' clocks are exact, otherwise
        "reference".
    scenario, air, start, weeks
        What was computed: the inputs, the air at the crop, the moment in its record [s], and the daily mean
        temperatures of the weeks [K] (None: crop.mean_temperature).
    bridged
        Whether the wet span crosses a gap of the record that was bridged by a straight line.
    """

    wet_time: float
    last_drop_time: float
    stem_wet_time: float
    status: str
    path: str
    growth_control: float
    water_balance: float
    inhibition_half_gone: float
    scenario: Scenario
    air: _core.CropAir
    start: float
    weeks: npt.NDArray[np.float64]
    _numbers: Mapping[str, float]
    _places: Sequence[tuple[str, float]]
    _plant: Sequence[tuple[str, float]]
    _applications: Sequence[_Effect]
    bridged: bool = False

    @cached_property
    def _values(self) -> xr.Dataset:
        columns = {name: np.array([value]) for name, value in self._numbers.items()}
        return dataset(columns, [self.status], (), {})

    @cached_property
    def split(self) -> xr.Dataset:
        """The shares and volumes of the spray, along `target`."""
        share = self._values["split"]
        volume = share * convert(self.scenario["application.volume_rate"], "m", "L/m^2")
        volume.attrs = {"long_name": "volume per area of bench", "units": "L/m^2"}
        return xr.Dataset({"share": share, "volume": volume})

    @property
    def rewet_time(self) -> float:
        """How long leaves are wet again after a re-wetting [s]; 0 without one."""
        return self._numbers["rewet_time"]

    @property
    def uptake(self) -> xr.DataArray:
        """Active ingredient taken up per plant, along `site` [mg]."""
        return self._values["uptake"]

    @property
    def at_tips(self) -> xr.DataArray:
        """The part of it that reached the growing tips [mg]."""
        return self._values["tips"]

    @cached_property
    def account(self) -> xr.DataArray:
        """Where the active ingredient is when height is judged, along `place` [1]."""
        return xr.DataArray(
            [share for _, share in self._places],
            coords={"place": ("place", [place for place, _ in self._places], {"long_name": "place"})},
            attrs={"long_name": "where the active ingredient is when height is judged", "units": "1"},
        )

    @cached_property
    def history(self) -> xr.Dataset:
        """The course of the wet span over `time`, followed by the full system when first asked for."""
        told = _core.simulate(self.scenario._core, self.air, self.start, history=True, weeks=self.weeks)
        time = ("time", told.history.time, {"long_name": "time from the spray", "units": "s"})
        return _course(told.history.columns, _core.history_variables(), time)

    @cached_property
    def in_plant(self) -> xr.DataArray:
        """Where in the plant is what was taken up when height is judged, along `place` [mg]."""
        return xr.DataArray(
            [convert(amount, "kg", "mg") for _, amount in self._plant],
            coords={"place": ("place", [place for place, _ in self._plant], {"long_name": "place"})},
            attrs={"long_name": "active ingredient taken up, per plant", "units": "mg"},
        )

    @cached_property
    def heights(self) -> xr.Dataset:
        """Heights of the treated plant and of the untreated check over `time` [s from the start of growth].

        Variables untreated, treated [m], inhibition, the share of the rate of elongation held back [1], and
        tips, the active ingredient at the growing tips [kg per plant].
        """
        told = _core.height_course(self.scenario._core, self.air, self.start, weeks=self.weeks)
        return _course(told.columns, _core.height_variables(), ("time", told.time, _FROM_START["time"]))

    @cached_property
    def applications(self) -> xr.Dataset:
        """What each application does, along `application` and `site`.

        Variables time [s from the start of growth], growth_to_come, the length that the untreated check still
        grows after it [m], length_saved, the length held back by it [m], uptake and tips [mg per plant]. What
        applications hold back together is shared by their amounts at the growing tips; that amounts add up
        there is a choice, see docs/science/growth.md.
        """
        times = [each["at"] for each in self.scenario.applications] or [0.0]

        def in_mg(amounts: Iterable[Mapping[str, float]]) -> list[list[float]]:
            return [[convert(by_site[site], "kg", "mg") for site in SITES] for by_site in amounts]

        along = ["application", "site"]
        return xr.Dataset(
            {
                "growth_to_come": (
                    "application",
                    [each.to_come for each in self._applications],
                    attributes("growth_to_come", "m", "length the untreated check still grows"),
                ),
                "length_saved": (
                    "application",
                    [each.saved for each in self._applications],
                    attributes("length_saved", "m", "length held back"),
                ),
                "uptake": (
                    along,
                    in_mg(each.uptake for each in self._applications),
                    attributes("uptake", "mg", _GROUPS["uptake"][0]),
                ),
                "tips": (
                    along,
                    in_mg(each.tips for each in self._applications),
                    attributes("tips", "mg", _GROUPS["tips"][0]),
                ),
            },
            coords={
                "application": ("application", np.arange(1, len(times) + 1)),
                "time": ("application", times, _FROM_START["time"]),
                "site": ("site", list(SITES), {"long_name": _GROUPS["uptake"][2]}),
            },
        )

    @property
    def still_wet(self) -> str:
        """What is still wet at the end, such as "stems" or "leaves and stems"; "" where all is dry."""
        if self.status != "wet at end":
            return ""
        return still_wet(self.wet_time, self.last_drop_time, self.stem_wet_time)

    @property
    def longest(self) -> float:
        """How long a wet plant is followed [s]: numerics.longest, or to the end of the air's record."""
        return min(self.scenario["numerics.longest"], float(self.air.time[-1]) - self.start)

    def __repr__(self) -> str:
        if self.status == "nothing wet":
            wet = self.status
        else:
            wet = f"wet {minutes(self.wet_time)}" if np.isfinite(self.wet_time) else not_dry(self.longest)
        if self.status == "wet at end" and np.isfinite(self.wet_time):
            wet += f", {self.still_wet} {not_dry(self.longest)}"
        least = "at least " if self.status == "wet at end" else ""
        shares = ", ".join(
            f"{name} {share:.0%}" for name, share in entries(self.split["share"]) if share >= 0.005
        )
        return f"Outcome({wet}; {shares}; growth control {least}{self.growth_control:.0%})"


def _by_site(told: _core.BySite) -> dict[str, float]:
    return {site: getattr(told, site) for site in SITES}


def _course(
    columns: Columns,
    variables: Sequence[_core.HistoryVariable] | Sequence[_core.HeightVariable],
    time: tuple[str, npt.NDArray[np.float64], Mapping[str, str]],
) -> xr.Dataset:
    """Return the columns of a course over its time."""
    return xr.Dataset(
        {
            each.name: ("time", columns[each.name], attributes(each.name, each.unit, each.meaning))
            for each in variables
        },
        coords={"time": time},
    )


def entries(values: xr.DataArray) -> list[tuple[str, float]]:
    """Return the entries of a one-dimensional array with their names."""
    return [
        (str(name), float(value))
        for name, value in zip(values[values.dims[0]].values, values.values, strict=True)
    ]


def minutes(seconds: float) -> str:
    """Return a wet time as people say it, such as '8.4 min' or '150 min (2.5 h)'."""
    told = seconds / 60.0
    return f"{told:.{0 if told >= 10.0 else 1}f} min" + (f" ({told / 60.0:.1f} h)" if told >= 120.0 else "")


def still_wet(wet: float, last_drop: float, stem: float) -> str:
    """Return what is still wet, of the times in which leaves, their last drops and stems dry [s]."""
    leaves = "leaves" if np.isinf(wet) else "last drops on leaves" if np.isinf(last_drop) else ""
    stems = "stems" if np.isinf(stem) else ""
    return " and ".join(part for part in (leaves, stems) if part)


def not_dry(longest: float) -> str:
    """Return what is known of a wet time that was followed for so long [s], such as 'not dry within 48 h'."""
    return f"not dry within {f'{longest / 3600.0:.3g} h' if longest >= 7200.0 else minutes(longest)}"


def attributes(name: str, units: str, long_name: str) -> dict[str, str]:
    """Return the attributes of a variable under the CF conventions."""
    standard = {"standard_name": name} if name in ("air_temperature", "relative_humidity") else {}
    return standard | {"long_name": long_name, "units": units}


def scenario_attributes(scenario: Scenario) -> dict[str, Any]:
    """Return the attributes of a Dataset that was computed for a scenario."""
    return {
        "Conventions": "CF-1.11",
        "title": scenario.title,
        "scenario": scenario.to_toml(),
        "shown_in": str(scenario.units),
        "wetspan_version": _core.__version__,
    }


def single(
    scenario: Scenario, air: _core.CropAir, start: float, weeks: npt.NDArray[np.float64] | None = None
) -> Outcome:
    """Compute a crop whose growth starts at `start` [s] of the air's record, and wrap what the core tells."""
    weeks = np.zeros(0) if weeks is None else weeks
    told = _core.simulate(scenario._core, air, start, weeks=weeks)
    numbers = told.numbers
    return Outcome(
        wet_time=numbers["wet_time"],
        last_drop_time=numbers["last_drop_time"],
        stem_wet_time=numbers["stem_wet_time"],
        status=told.status,
        path=told.path,
        growth_control=numbers["growth_control"],
        water_balance=told.water_balance,
        inhibition_half_gone=numbers["inhibition_half_gone"],
        scenario=scenario,
        air=air,
        start=start,
        weeks=weeks,
        _numbers=numbers,
        _places=list(told.account.items()),
        _plant=list(told.in_plant.items()),
        _applications=[_Effect.of(each) for each in told.applications],
    )


@cache
def _factor(unit: str, to: str) -> float:
    return float(convert(1.0, unit, to))


def dataset(
    columns: Columns,
    status: Sequence[str] | npt.NDArray[np.str_],
    dims: Sequence[str],
    coords: Mapping[str, object],
    shape: Sequence[int] = (),
    more: Mapping[str, object] | None = None,
) -> xr.Dataset:
    """Return the core's columns, and more variables, as a Dataset over `dims` of `shape`.

    Groups have a dimension of their own. A Dataset is made once, since each change of one costs as much.
    """
    groups: dict[tuple[str, str], dict[str, npt.NDArray[np.float64]]] = {}
    variables: dict[str, object] = {}
    labels = dict(coords)
    for each in _core.outcome_variables():
        name, meaning, units = each.name, each.meaning, _UNITS.get(each.unit, each.unit)
        values = columns[name].reshape(shape)
        if units != each.unit:
            values = values * _factor(each.unit, units)
        group, _, member = name.partition(".")
        if member:
            groups.setdefault((group, units), {})[member] = values
        else:
            variables[name] = (dims, values, attributes(name, units, meaning))
    for (group, units), members in groups.items():
        if group not in _GROUPS:
            raise LookupError(
                f"'{group}.{next(iter(members))}' is in a group without a row in _GROUPS of outcome.py: say "
                "what the group is, the dimension that it lies along, and what that is"
            )
        long_name, along, about = _GROUPS[group]
        labels[along] = (along, list(members), {"long_name": about})
        stacked = np.moveaxis(np.stack(list(members.values())), 0, -1)  # copies whole columns
        variables[group] = ((*dims, along), stacked, attributes(group, units, long_name))
    variables["status"] = (dims, np.asarray(status).reshape(shape), {"long_name": "how the wet span ended"})
    return xr.Dataset(variables | dict(more or {}), labels)
