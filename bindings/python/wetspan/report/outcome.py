"""One spray in words: what is sprayed, where it lands, how long plants are wet, and what is taken up."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np
import xarray as xr
from rich.table import Table

from wetspan._core import __version__
from wetspan.cautions import CAUTIONS
from wetspan.json_values import by_name, plain
from wetspan.outcome import Outcome, entries, minutes, not_dry
from wetspan.parameters import TABLE
from wetspan.record import Numbers, air_at
from wetspan.report.numbers import (
    micrograms,
    of_draws,
    per_cent,
    per_cent_range,
    volume_text,
    warmth,
)
from wetspan.residue import about_wet_time, owed_to_wet_time
from wetspan.rewetting import rewets
from wetspan.rewetting_gain import rewetting_gain
from wetspan.scenario import Scenario, pot_cover
from wetspan.sensitivity import ControlRange
from wetspan.unit_shown import convert

#: A spray volume so many times the usual one, or less than its inverse, is told to be. Assumption (grade D).
_UNUSUAL = 2.5


def what_is_sprayed(scenario: Scenario) -> str:
    """Return one line on the application."""
    method = str(scenario.shown("application.method"))
    volume, strength = (scenario.show(f"application.{name}") for name in ("volume_rate", "concentration"))
    row = TABLE["application.volume_rate"]
    ratio = scenario["application.volume_rate"] / row.standard
    if method == "spray" and not 1.0 / _UNUSUAL < ratio < _UNUSUAL:
        volume += f" ({ratio:.2g} times the usual {scenario.units.show(row, row.standard)})"
    line = f"{method} of {volume} at {strength}"
    if method == "drench":
        litres = scenario["application.volume_rate"] / scenario["canopy.plant_density"]
        pour = scenario.units.text(convert(litres, "m^3", "mL"), "mL")
        line = (
            f"{method} of {pour} a pot ({volume}) at {strength}, {applied_per_plant(scenario):.3g} mg a pot"
        )
    if method == "spray":
        line += f", droplets of {scenario.show('droplets.dv50')}"
    return f"{scenario.title}: {line}" if scenario.title else line[0].upper() + line[1:]


def applied_per_plant(scenario: Scenario) -> float:
    """Return the active ingredient that is put out for each plant [mg]."""
    amount = scenario["application.volume_rate"] * scenario["application.concentration"]
    return convert(amount / scenario["canopy.plant_density"], "kg", "mg")


def where_it_lands(split: xr.DataArray) -> str:
    """Return one line on the split, over all times of a day."""
    over_times = [dim for dim in split.dims if dim != "target"]
    least, most = (dict(entries(part)) for part in (split.min(over_times), split.max(over_times)))
    return "Where it ends up: " + ", ".join(
        f"{name} {per_cent_range(least[name], most[name])}" for name in most if most[name] >= 0.005
    )


def what_it_comes_to(outcome: Outcome, control: ControlRange | None = None) -> str:
    """Return one spray in a sentence: wet time and growth control, with its range where there is one."""
    if outcome.status == "nothing wet":
        wet = "No leaf is wetted"
    elif np.isfinite(outcome.wet_time):
        wet = f"Leaves stay wet for {minutes(outcome.wet_time)}"
    else:
        wet = f"Leaves are {not_dry(outcome.longest)}"
    least = "at least " if outcome.status == "wet at end" else ""
    known = "" if control is None else f" (range {per_cent_range(control.low, control.high)})"
    return (
        f"{wet}; plants are expected {least}{per_cent(outcome.growth_control)} shorter than untreated ones"
        f"{known}."
    )


def outcome_table(outcome: Outcome, control: ControlRange | None = None) -> Table:
    """Return one spray as a table of plain lines, with the range of its growth control where there is one."""
    if outcome.status == "nothing wet":
        wet = "no leaf is wetted"
    else:
        wet = ", ".join(
            f"{part} {f'for {minutes(time)}' if np.isfinite(time) else not_dry(outcome.longest)}"
            for part, time in (("leaves", outcome.wet_time), ("stems", outcome.stem_wet_time))
        )
    air = air_when_sprayed(outcome)
    volumes, units = dict(entries(outcome.split["volume"])), outcome.scenario.units
    landed = [
        f"{name} {per_cent(share)} ({volume_text(units, volumes[name])})"
        for name, share in entries(outcome.split["share"])
        if share >= 0.005
    ]
    uptake = [f"{site} {micrograms(amount)} ug" for site, amount in entries(outcome.uptake)]
    warm, damp, light = (air[name] for name in ("air_temperature", "relative_humidity", "shortwave"))
    shorter = f"{per_cent(outcome.growth_control)} shorter than the untreated check"
    if outcome.status == "wet at end":
        shorter = f"at least {shorter}"
    if control is None:
        known = "not computed; --samples draws the unknown inputs"
    else:
        known = f"{per_cent_range(control.low, control.high)}, which holds {of_draws(control.samples)}"
        if control.not_dry:
            known += f"; {control.not_dry} of them stay wet, and the range is a lower bound"
    lines = {
        "air at the crop": f"{warmth(units, warm)}, {per_cent(damp)} humidity, light {light:.0f} W/m2",
        "put out per plant": f"{applied_per_plant(outcome.scenario):.3g} mg",
        "split": ", ".join(landed),
        **_about_the_bench(outcome),
        "wet": wet,
        "uptake per plant": ", ".join(uptake),
        "growth control": shorter,
        "its range": known,
    }
    if rewets(outcome.scenario):
        lines["re-wetting"] = str(rewetting_gain(outcome))
    owed = owed_to_wet_time(outcome)
    if outcome.status != "nothing wet" and np.isfinite(owed).all():
        lines["the wet time"] = about_wet_time(owed)
    if outcome.status == "wet at end":
        ends = outcome.longest < outcome.scenario["numerics.longest"] - 1.0  # s
        why = "the record is too short" if ends else "followed no longer than numerics.longest"
        lines["still wet"] = f"{outcome.still_wet}; {why}: uptake and growth control are lower bounds"
    if outcome.bridged:
        lines["a gap"] = (
            "the record has one, bridged by a straight line, while plants are wet: do not trust this"
        )
    total = float(outcome.at_tips.sum())
    if total > 0.0:
        shares = [f"{per_cent(amount / total)} through {site}" for site, amount in entries(outcome.at_tips)]
        lines["growing tips"] = ", ".join(shares)
    table = Table.grid(padding=(0, 2))
    for name, told in lines.items():
        table.add_row(name, told)
    return table


#: From this share of a spray on the bench on, `run` says why (grade D: what a reader asks about).
MUCH_ON_BENCH = 0.4


def _about_the_bench(outcome: Outcome) -> dict[str, str]:
    """Why much of a spray lands beside the pots, where it does."""
    share, scenario = float(outcome.split["share"].sel(target="bench")), outcome.scenario
    if share < MUCH_ON_BENCH:
        return {}
    pots = pot_cover(scenario)
    leaves = scenario["canopy.plant_density"] * scenario["canopy.leaf_area"]
    told = (
        f"{per_cent(share)} lands on the bench: pots cover {per_cent(min(1.0, pots))} of it, and there"
        f" are {leaves:.2g} m2 of leaf for each m2 of bench. The volume is set by the area of the bench,"
        " so where plants stand apart each is given more, and more goes to waste"
    )
    return {"beside the pots": told}


def outcome_document(outcome: Outcome, control: ControlRange | None = None) -> dict[str, Any]:
    """Return one spray for programs, in the units it tells; an infinite wet time is null.

    With the range of its growth control: growth_control_low, growth_control_high, samples, seed, and not_dry,
    the draws that stay wet, which make the range a lower bound.
    """
    told = {name: (getattr(outcome, name), "s") for name in ("wet_time", "last_drop_time", "stem_wet_time")}
    told["growth_control"] = (outcome.growth_control, "1")
    if control is not None:
        told |= {f"growth_control_{end}": (getattr(control, end), "1") for end in ("low", "high")}
    told |= {name: (float(values[0]), units) for name, (values, units, _) in _air(outcome).items()}
    for name, array in (
        ("owed_to_wet_time", owed_to_wet_time(outcome)),
        ("split", outcome.split["share"]),
        ("volume", outcome.split["volume"]),
        ("uptake", outcome.uptake),
        ("at_tips", outcome.at_tips),
        ("account", outcome.account),
    ):
        told[name] = (array, array.attrs["units"])
    again = asdict(rewetting_gain(outcome)) if rewets(outcome.scenario) else None
    return {
        "title": outcome.scenario.title,
        "scenario": outcome.scenario.to_toml(),
        "wetspan_version": __version__,
        "units": {name: units for name, (_, units) in told.items()},
        "status": outcome.status,
        "bridged": outcome.bridged,
        **{name: by_name(xr.DataArray(values)) for name, (values, _) in told.items()},
        **(
            {}
            if control is None
            else {"samples": control.samples, "seed": control.seed, "not_dry": control.not_dry}
        ),
        **({} if again is None else {"rewetting": {name: plain(each) for name, each in again.items()}}),
        "cautions": CAUTIONS,
    }


def air_when_sprayed(outcome: Outcome) -> dict[str, float]:
    """Return what people know the air at the crop by at the moment of spraying, in SI."""
    return {name: float(values[0]) for name, (values, _, _) in _air(outcome).items()}


def _air(outcome: Outcome) -> dict[str, tuple[Numbers, str, str]]:
    """Return the air at the crop at the moment of spraying."""
    return air_at([outcome.air], np.zeros(1, dtype=np.uint64), np.array([outcome.start]))
