"""Write docs/science/responses.md: published responses to growth regulators, against the model.

Usage: python tools/write_response_table.py

Rows stand in tests/reference/growth/responses.csv with their sources; tests/python/test_responses.py holds
the orders and signs. Nothing is computed here that the library does not compute.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import wetspan as ws
from wetspan import _core
from wetspan.batch import compute

ROOT = Path(__file__).resolve().parents[1]
ROWS = ROOT / "tests" / "reference" / "growth" / "responses.csv"
PAGE = ROOT / "docs" / "science" / "responses.md"

CROP = ws.Scenario()
DENSITY = CROP["canopy.plant_density"]
COVERED = {"canopy.pot_diameter": "1 cm"}
UNICONAZOLE = {"crop.half_amount": CROP["crop.half_amount"] / 4.0}  # 3 to 5 times as potent (R13, R62)


def controls(scenarios: list[ws.Scenario]) -> np.ndarray:
    """Growth controls [%] of some scenarios in unchanging air."""
    jobs = np.arange(len(scenarios), dtype=np.uint64)
    return 100.0 * compute(scenarios, [], count=len(jobs), scenario_of=jobs).columns["growth_control"]


def control(scenario: ws.Scenario) -> float:
    """Growth control [%] of one."""
    return float(controls([scenario])[0])


def spray(milligrams_per_litre: float, **others: object) -> ws.Scenario:
    """A spray of the default crop."""
    return CROP.in_si({"application.concentration": milligrams_per_litre * 1e-3}).replace(others)


def drench(
    milligrams_per_litre: float, litres: float = 0.118, method: str = "drench", **others: object
) -> ws.Scenario:
    """A drench of the default crop."""
    drenched = CROP.in_si(
        {
            "application.concentration": milligrams_per_litre * 1e-3,
            "application.volume_rate": litres * 1e-3 * DENSITY,
        }
    )
    return drenched.replace({"application.method": method} | others)


def on_day(scenario: ws.Scenario, day: float) -> ws.Scenario:
    """The same on a day of growth."""
    return scenario.replace(applications=[{"at": f"{day} day"}])


def rate_for(scenario: ws.Scenario, percent: float) -> float:
    """Concentration [mg/L] for a growth control [%]."""
    height = (1.0 - percent / 100.0) * scenario["crop.final_height"]
    (found,) = _core.rates_for_height(
        [scenario._core], [_core.steady_air(scenario._core)], np.zeros(1), None, height, 1
    )
    return 1e3 * found.concentration


def falls(values: np.ndarray) -> bool:
    """Whether values fall all the way."""
    return bool((np.diff(values) < 0.0).all())


def in_a_day(mobile_share: float, celsius: float) -> float:
    """Share [%] of a thin dry deposit taken up in 24 h."""
    leaf = CROP.replace({"uptake.mobile_share": mobile_share})
    return 100.0 * _core.dry_deposit(leaf._core, 1e-8, 273.15 + celsius, 86400.0)[0]


def by_day(days: np.ndarray) -> np.ndarray:
    """Shares of a thin dry deposit taken up by some days at 20 degC."""
    return np.array([_core.dry_deposit(CROP._core, 1e-8, 293.15, day * 86400.0)[0] for day in days])


def half_life() -> float:
    """Days until half of a thin dry deposit has gone, into the leaf or from it."""
    days = np.linspace(0.0, 60.0, 601)
    gone = [sum(_core.dry_deposit(CROP._core, 1e-8, 293.15, day * 86400.0)) for day in days]
    return float(np.interp(0.5, gone, days))


def parent(days: float) -> float:
    """Parent compound [%] of what roots and stems took up, some days after a drench."""
    outcome = ws.simulate(drench(1.0).replace({"uptake.horizon": f"{days} day"}))
    plant = outcome.in_plant
    return 100.0 * (1.0 - float(plant.sel(place="metabolised") / plant.sum()))


@cache
def shoots() -> tuple[float, float]:
    """Height [m] of an untreated shoot 2 and 4 weeks after pinching."""
    grown = ws.simulate(
        CROP.replace({"crop.initial_height": "0.5 cm", "crop.final_height": "22.2 cm"})
    ).heights["untreated"]
    day = grown["time"].values / 86400.0
    height = np.interp([0.0, 14.0, 28.0], day, grown.values)
    return float(height[1]), float(height[2])


def faded() -> float:
    """Integral of a pulse's inhibition over its first value, without metabolism [d]."""
    pulse = CROP.in_si(
        {
            "crop.metabolism": 0.0,
            "crop.leaf_tip_share": 0.1,
            "uptake.mobile_rate": 0.0,
            "canopy.stem_area": 0.0,
        }
    ).replace(COVERED)
    course = ws.simulate(pulse).heights
    time, held = course["time"].values / 86400.0, course["inhibition"].values
    return float(np.trapezoid(held[1:], time[1:]) / held[1])


def line() -> float:
    """R2 of a line through the control of sprays."""
    rates = np.array([10.0, 20.0, 40.0, 80.0, 160.0])
    return float(np.corrcoef(rates, controls([spray(rate) for rate in rates]))[0, 1] ** 2)


def volume(covered: bool) -> float:
    """Gain [points] by three times the volume."""
    cover = {"canopy.pot_diameter": "1 cm"} if covered else {}
    one = spray(30.0, **cover)
    three = one.in_si({"application.volume_rate": 3.0 * one["application.volume_rate"]})
    return control(three) - control(one)


def dilute() -> float:
    """Change of control [%] by 1.5 times the volume at the same amount."""
    one = spray(30.0)
    more = spray(20.0).in_si({"application.volume_rate": 1.5 * one["application.volume_rate"]})
    return 100.0 * (control(more) / control(one) - 1.0)


def twice() -> float:
    """Control [%] by 4 mg in a crop that 2 mg shorten by 24 %."""
    (half,) = _core.half_amounts(drench(2.0, 1.0)._core, [], 1e-3, 2e-3, np.array([0.24]))
    return control(drench(4.0, 1.0, **{"crop.half_amount": float(half)}))


def once_over_fed(concentration: float) -> float:
    """One sub-irrigation's concentration over that of continuous feeding, both for 30 %."""
    (half,) = _core.half_amounts(
        drench(1.0, 0.15, "sub_irrigation")._core, [], 0.15e-3, 1e-3 * concentration, np.array([0.3])
    )
    crop = {"crop.half_amount": float(half), "uptake.water_use": "50 mL/day"}
    once = rate_for(drench(1.0, 0.15, "sub_irrigation", **crop), 30.0)
    drunk = 0.05 * CROP["uptake.horizon"] / 86400.0  # [L], that the same amount comes in
    return once / (rate_for(drench(1.0, 1.0, "continuous", **crop), 30.0) / drunk)


def bark() -> float:
    """Concentration of a drench in pine bark over that in peat, for the same control."""
    in_bark, in_peat = (drench(1.0).replace(ws.substrate(name).values) for name in ("pine_bark", "peat"))
    return rate_for(in_bark, 22.5) / rate_for(in_peat, 22.5)


def rewetted(quarts: float = 0.5) -> float:
    """Gain [%] of control by a light pass of water on the next morning."""
    once = spray(30.0)
    again = once.replace({"rewetting.volume_rate": f"{quarts} qt / (100 ft^2)"})
    return 100.0 * (control(again) / control(once) - 1.0)


def thirds() -> float:
    """Control by three sprays a week apart over that by one of three times the concentration."""
    three = spray(30.0).replace(applications=[{"at": f"{day} day"} for day in (0, 7, 14)])
    return control(three) / control(spray(90.0))


def sites() -> bool:
    """Whether leaf blades act less than stems, the whole plant and a drench."""
    covered = ws.simulate(spray(30.0, **{"canopy.pot_diameter": "1 cm"}))
    whole, poured = control(spray(30.0)), control(drench(1.2))
    at_tips, entered = covered.at_tips, covered.uptake
    per_amount = at_tips / entered
    return bool(per_amount.sel(site="leaf") < per_amount.sel(site="stem")) and (
        100.0 * covered.growth_control < min(whole, poured)
    )


def rising(rates: tuple[float, ...], **others: object) -> bool:
    """Whether control rises with the rate."""
    return not falls(controls([spray(rate, **others) for rate in rates])) and bool(
        (np.diff(controls([spray(rate, **others) for rate in rates])) > 0.0).all()
    )


def weaker(of: Callable[[float], ws.Scenario], at: tuple[float, ...]) -> bool:
    """Whether control falls along something."""
    return falls(controls([of(each) for each in at]))


def lasts() -> float:
    """Weeks until inhibition by a spray on covered pots has halved."""
    covered = spray(15.0, **({"canopy.pot_diameter": "1 cm"} | UNICONAZOLE))
    return ws.simulate(covered).inhibition_half_gone / 604800.0


def share_taken(rates: tuple[float, ...]) -> np.ndarray:
    """Share of what was applied that leaves take up, by rate."""
    jobs = [spray(rate) for rate in rates]
    columns = compute(jobs, [], count=len(jobs), scenario_of=np.arange(len(jobs), dtype=np.uint64)).columns
    return np.asarray(columns["uptake.leaf"] / columns["applied"])


WARMTH = (16.0, 22.0, 28.0)

#: What the model says to each row, in its unit; an order is true or false.
MODEL: dict[str, Callable[[], float | bool]] = {
    **{
        f"U0{i}": (lambda celsius=celsius: in_a_day(0.7, celsius))
        for i, celsius in ((1, 10), (2, 20), (3, 30))
    },
    **{
        f"U0{i}": (lambda celsius=celsius: in_a_day(0.7, celsius))
        for i, celsius in ((4, 10), (5, 20), (6, 30))
    },
    "U07": lambda: float(1.0 + np.diff(np.log(share_taken((1.0, 3.0))))[0] / np.log(3.0)),
    "U15": lambda: falls(np.diff(by_day(np.arange(0.0, 13.0)))),
    "U16": lambda: rewetted() > 0.0,
    "U19": lambda: float(np.interp(0.95, by_day(d := np.linspace(0, 30, 601)) / by_day(d)[-1], d)),
    "U24": lambda: falls(share_taken((10.0, 100.0, 1000.0))),
    "U30": lambda: in_a_day(0.7, 25.0) > in_a_day(0.7, 15.0),
    "U38": half_life,
    "T02": lambda: parent(27.0),
    "T07": lambda: parent(9.0),
    "T12": sites,
    "G01": lambda: 100.0 * shoots()[0],
    "G02": lambda: 100.0 * shoots()[1],
    "G03": lambda: 100.0 * shoots()[1] / 0.222,
    "R03": lambda: (
        ws.simulate(spray(80.0, **COVERED)).inhibition_half_gone
        > ws.simulate(spray(10.0, **COVERED)).inhibition_half_gone
    ),
    "R06": faded,
    "R07": lambda: bool(
        np.diff([float(ws.simulate(spray(rate)).heights["inhibition"][1]) for rate in (10, 30, 90)]).min() > 0
    ),
    "R11": line,
    "R15": lambda: control(on_day(spray(30.0, **UNICONAZOLE), 14.0)),
    "R16": lambda: weaker(lambda day: on_day(spray(30.0), day), (0.0, 14.0, 28.0)),
    "R18": lambda: rate_for(drench(1.0, **UNICONAZOLE), 20.0) * 0.118,
    "R19": sites,
    "R20": lambda: volume(False) > volume(True),
    "R21": dilute,
    "R23": twice,
    "R42": lambda: all(
        weaker(lambda c, rate=rate: spray(rate, **{"crop.mean_temperature": f"{c} degC"}), WARMTH)
        for rate in (15.0, 30.0, 45.0)
    ),
    "R43": lambda: weaker(lambda day: on_day(drench(1.0), day), (0.0, 7.0, 14.0, 21.0, 28.0)),
    "R46": lambda: control(drench(1.0, 0.118, "sub_irrigation")) > control(drench(1.0)),
    "R47": lambda: once_over_fed(0.01),
    "R48": lambda: once_over_fed(0.09),
    "R50": lambda: once_over_fed(2.4),
    "R51": bark,
    "R54": lambda: control(spray(625.0)),
    "R56": lambda: rising((30.0, 100.0, 300.0, 1000.0, 2400.0)) and rising((30.0, 300.0, 2400.0), **COVERED),
    "R60": lambda: control(on_day(spray(30.0), 56.0)),
    "R61": lasts,
    "R64": lambda: control(spray(40.0)),
    "R66": lambda: control(drench(1.0)),
    "R68": rewetted,
    "REP": thirds,
}


@dataclass(frozen=True)
class Row:
    """A published response and what the model says to it."""

    published: dict[str, str]
    ours: float | bool

    @property
    def met(self) -> bool:
        """Whether the order is right, or the value within the band."""
        if isinstance(self.ours, bool):
            return self.ours
        return float(self.published["low"]) <= self.ours <= float(self.published["high"])


def rows() -> list[Row]:
    """Every row of the table, computed."""
    with ROWS.open(encoding="utf-8", newline="") as file:
        return [Row(each, MODEL[each["id"]]()) for each in csv.DictReader(file)]


def text(row: Row) -> str:
    """One row of the page."""
    told = row.published
    order = isinstance(row.ours, bool)
    unit = "" if told["unit"] in ("1", "order") else f" {told['unit']}"
    ours = ("as published" if row.ours else "the opposite") if order else f"{row.ours:.3g}{unit}"
    band = "" if order else f"{told['low']} to {told['high']}"
    cells = (
        f"{told['quantity']} ({told['conditions']})",
        f"{told['value']}{unit}",
        band,
        ours,
        "hit" if row.met else "**miss**",
        told["sets_a_default"] if told["sets_a_default"] == "yes" else "",
        told["source"] + (" - from memory" if told["mark"] == "memory" else ""),
    )
    return f"| {' | '.join(cells)} |"


def page(computed: list[Row]) -> str:
    """The page."""
    tests = [row for row in computed if row.published["sets_a_default"] != "yes"]
    orders = [row for row in tests if isinstance(row.ours, bool)]
    sizes = [row for row in tests if not isinstance(row.ours, bool)]
    return "\n".join(
        [
            "# Published responses against the model",
            "",
            "Written by `python tools/write_response_table.py` from tests/reference/growth/responses.csv:",
            "change those, not this page. The default crop in its default conditions unless a row says",
            "otherwise. Other crops, cultivars and seasons differ by factors: orders and signs count first.",
            "A row that set a default is no test: that it is met says nothing for the model.",
            "",
            f"Of the rows that set no default {sum(row.met for row in orders)} of {len(orders)} orders and "
            f"signs and {sum(row.met for row in sizes)} of {len(sizes)} sizes are met.",
            "",
            "| What | Published | Band | Model | | Sets a default | Source |",
            "|---|---|---|---|---|---|---|",
            *(text(row) for row in computed),
            "",
            "Rates here are estimates for study. Product labels and local regulations rule; keep protective",
            "equipment and re-entry intervals; test on a few plants first.",
            "",
        ]
    )


if __name__ == "__main__":
    PAGE.write_text(page(rows()), encoding="utf-8")
