"""Write docs/validation.csv and docs/validation.md from what the tests compared with published values.

    python tools/write_validation.py [--check] COMPARISONS ...

COMPARISONS are the files that the C++ and the Python tests wrote, where WETSPAN_COMPARISONS named them in the
environment. Without any, page and picture are written anew from docs/validation.csv. With --check nothing is
written: the exit status is 1 when a row came or went, when a hit became a miss or a miss a hit, or when ours
moved by more than a twentieth of its band. The pictures, docs/images/validation*.png, need matplotlib.
"""

# ruff: noqa: E501  (tables of the page are long lines)
from __future__ import annotations

import argparse
import csv
import math
import re
import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[1]
REFERENCE = ROOT / "tests/reference"
TABLE, PAGE = ROOT / "docs/validation.csv", ROOT / "docs/validation.md"
PICTURE = ROOT / "docs/images/validation.png"
MEASURED = ROOT / "docs/images/validation_measured.png"

MOVED = 0.05  # of the band: how far ours may move before the page is stale
DIGITS = 4
ROOMS = {
    "Air and water": ("air", "water"),
    "Spray": ("droplets", "nozzle", "flight"),
    "Plant": ("collection", "impact", "coverage", "substrate"),
    "Leaf and drying": ("canopy", "retention", "leaf", "drying", "water_activity"),
    "Uptake and response": ("uptake", "response", "response_facts"),
    "Bench": ("bench",),
    "Jug and tank": ("jug", "tank"),
    "Trials": ("trials",),
}


BEFORE = """\
# Comparisons with published values

Every row is a comparison that a test makes: a published value of `tests/reference`, the model's value at this commit,
the difference, the band that the test allows, and whether the model's value lies inside it. Each row of the tables
names its source and says whether the value was *seen* in it, *computed* from a named formula, or recalled from
*memory*.

What a hit says depends on the kind of value:

"""

#: Kinds of published values, and what a hit says of the model.
KINDS = {
    "measured": "measured by others, at inputs that they tell, and used to set nothing: the model is tested",
    "measured, inputs guessed": "measured by others, who leave out something that the model asks for; a hit says that "
    "the published value is possible, a miss that nothing tried gives it",
    "calibrated": "an input was set with it: no test",
    "practice": "a standard, a label, a table of a trade or a recollection: at most a check of plausibility",
    "computed": "a formula, a table of properties or a calculation by others: tests that it was coded correctly",
    "stated": "a default of ours beside a bound: no output of the model",
}

#: The kind of a table's values, unless one of KIND_OF says otherwise.
KIND_OF_TABLE = {
    "air": "computed",
    "water": "computed",
    "droplets": "computed",
    "nozzle": "practice",
    "flight": "computed",
    "collection": "computed",
    "impact": "computed",
    "coverage": "computed",
    "substrate": "measured, inputs guessed",
    "canopy": "stated",
    "retention": "measured, inputs guessed",
    "leaf": "computed",
    "drying": "computed",
    "water_activity": "computed",
    "uptake": "computed",
    "response": "calibrated",
    "response_facts": "calibrated",
    "bench": "measured, inputs guessed",
    "jug": "computed",
    "tank": "practice",
    "trials": "computed",
}

#: By the beginning of "quantity / by what ours was made"; the first that fits.
KIND_OF = {
    "share below 150 um": "practice",
    "terminal speed of a": "measured",
    "Cd of a sphere": "measured",
    "drops shatter above": "calibrated",
    "share that leaves a hydrophilic leaf": "measured, inputs guessed",
    "spread area": "measured, inputs guessed",
    "residue of a drench in the substrate": "calibrated",
    "canopy cover / an extinction": "calibrated",
    "canopy cover": "measured",
    "retained over store": "computed",
    "stemflow over rain /": "calibrated",
    "capture factor": "calibrated",
    "share that falls between pots": "measured",
    "fall of": "measured, inputs guessed",
    "leaves less air": "measured, inputs guessed",
    "change of leaves less air": "measured, inputs guessed",
    "share in 24 h": "calibrated",
    "uptake per wet hour": "calibrated",
    "noise": "computed",
    "largest transverse CV": "practice",
    "deposit CV of hand-held": "practice",
    "active ingredient afloat": "calibrated",
    "carrier afloat": "calibrated",
    "least suspensibility": "practice",
}

WIDE = 3.0  # highest over lowest value of a band from which on it is called wide
EDGE = 0.9  # of the way from the middle of a band to its end, from which on ours is called at its edge

BANDS = f"""\

Where the sources state an error, the bands follow from it. The other bands were set after the comparison, just wide
enough, unless the source's line says otherwise. They show the size of the difference, and a hit in them is no successful
prediction. A hit is therefore marked: *one-sided* where the band has one end only, *wide* where its ends differ by
a factor of {WIDE:.0f} or more, *edge* where the model lies in the last tenth of it. Wide and one-sided bands could hardly be
missed.
"""

#: Marks of a hit that says little.
WEAK = ("one-sided", "wide", "edge")

PICTURED = """
## Series of published values, and the model

![Twelve series of published values, and the model at the same places](images/validation.png)

Dots are published values, with the band that the test allows; lines and crosses are the model. Hollow dots are computed
from a formula or from memory.

## All measured values, and the model

![The model over each measured value, by quantity, hits and misses](images/validation_measured.png)

Every comparison of the kinds *measured* and *measured, inputs guessed* whose published value is not 0: the model's value over
the published one. Crosses are misses. Hollow marks are those whose inputs are partly guessed. Arrows lie beyond the axis.
Where a range of inputs is tried, each of its ends is a mark of its own.
"""

#: Pictured series: quantity, input along the axis, its factor and label, by what ours was made, other inputs.
SERIES: tuple[tuple[str, str, float, str, str, dict[str, float]], ...] = (
    ("terminal speed of a sphere-like drop", "d", 1e3, "diameter, mm", "Turton-Levenspiel", {}),
    ("terminal speed of a flattened drop", "d", 1e3, "diameter, mm", "", {}),
    ("lifetime of a droplet without ventilation", "d", 1e6, "diameter, um", "still air", {"rh": 0.8}),
    ("flow over flow at 40 psi", "pressure", 1e-3, "pressure, kPa", "", {"size": 4}),
    ("Cd Re/24 of a sphere", "Re", 1.0, "Reynolds number", "Turton-Levenspiel", {}),
    ("stop distance over Stokes distance", "Re", 1.0, "Reynolds number", "Turton-Levenspiel", {}),
    ("cylinder collection", "K", 1.0, "inertia parameter K", "their fit", {"phi": 0}),
    ("first-order rate of leaf uptake, flusilazol", "temperature", 1.0, "temperature, K", "", {}),
    (
        "stemflow over rain, maize by leaf area",
        "leaf_area",
        1e4,
        "leaf area, cm2 a plant",
        "drops splash",
        {},
    ),
    (
        "share of a boom's spray on plants over their cover",
        "cover",
        100.0,
        "plant cover, %",
        "a wetting agent",
        {},
    ),
    ("canopy cover", "leaf_area_index", 1.0, "leaf area index", "the default extinction", {}),
    ("evaporation factor by Hu and Larson", "angle", 1.0, "contact angle, degrees", "", {}),
)
LOGARITHMIC = {"Re", "K"}

#: Why the model misses: the beginning of a quantity, and what is known of the cause.
WHY = {
    "terminal speed of a flattened drop": "Drops above 2 mm flatten as they fall; in the model they stay spheres. "
    "Sprays have hardly any of that size.",
    "fall of the temperature of sunlit": "At 90 % humidity a wet leaf in this sun cools by 2 K; the source does not "
    "state the humidity, and at 70 to 80 % the model meets it.",
    "fall of the temperature of shaded": "The model cools by less than 1 K only in air of 92 % or more, at which sunlit "
    "leaves would cool by less than 2. Shaded leaves may have caught less fog than sunlit ones; the source gives "
    "neither their wetness nor the humidity.",
    "stemflow over rain, maize": "The share of run-off that follows the stem (0.60 for rising leaves) is of grade D, "
    "and so is the half of a drop that splashes past the leaf. The two experiments lie on either side: the field "
    "agrees with the model if drops splash, the rain simulator if none does.",
    "ground losses at 2000": "The two papers contradict each other on the sign. In the model droplets keep their size "
    "and hit leaves faster, so more of them shatter; finer droplets at the higher pressure would lower the loss.",
    "share that leaves a hydrophilic leaf": "One threshold of shattering holds for all leaves. It was set with cabbage, "
    "which is waxy; on a leaf that water wets, droplets with a splash parameter of 100 were seen to stay whole. So sprays "
    "of large or fast droplets lose too much on wettable leaves here; `retention.shatter_threshold` is of grade D.",
    "spread area": "The laws of the largest spread were measured on drops of 1.5 to 3.5 mm. And a deposit dries on the base that "
    "its contact angle gives, as if it had been laid down: on a wettable leaf, whose edge stays where the impact left it, "
    "the wetted area is too small here, and droplets dry too slowly.",
    "canopy cover": "The default extinction, 0.5 among leaves of all angles with a clumping of 0.9, is for droplets among "
    "steep leaves; the mixed crop of the source had flatter ones. The extinction that its two covers imply, 0.75, meets "
    "both, but was fitted to them.",
    "share of a boom's spray on plants": "Half of a droplet that shatters goes on to the ground (grade D), and the single "
    "threshold shatters too many on wettable leaves (see there). On waxy leaves water rebounds; the source's rule is "
    "for formulated products, so this line is a contrast, not a test.",
    "share of a boom's spray that reaches": "The source does not account for a third of the dose. In the model 99 % arrives. "
    "Other spray accounts have the same gap: 49 % of a permethrin spray was found again on greenhouse chrysanthemums, "
    "benches and aisles (Giles et al. 1992, J. Agric. Food Chem. 40:2510-2516, abstract). Whether it drifts, evaporates, "
    "runs off or escapes the collectors is not known.",
    "share of a spray that level leaves": "Wettable leaves retain more, waxy ones less than was measured; radish and barley, which "
    "ought to differ, did not. Neither liquid nor contact angles are told, and the authors call the values provisional.",
    "droplets caught per surface": "In still air droplets of this size fall straight past an upright stem. A boom in the field "
    "brings wind and slanted droplets. So the stems of a crop in a closed house catch little, unless it is sprayed "
    "from the side.",
    "share that falls between pots": "By 0.009. Circles in triangles leave 9.3 % free; granules bounce, and plants lead some off.",
    "share of a sprayed triazole": "Later watering is not part of the model. The loss of the active ingredient from the "
    "substrate was set with pots that were watered, and so contains what leached from them.",
    "leaves less air in a rose house": "With mist, dry leaves are 0.3 K warmer than the air here. The authors' canopy was colder, and "
    "its stomata opened wider under mist; in the model, conductance does not depend on humidity, and its default, 5 mm/s on one "
    "side, is of grade D. Wetted leaves are 3 K colder than the air.",
    "residue of a drench in roots": "Roots and stems are one depot, which empties towards the tips. Roots that hold "
    "the substance as the substrate does are not part of the model.",
}

#: What a miss means to someone who acts on the model's answer, by the same beginnings.
MEANS = {
    "terminal speed of a flattened drop": "Falls too fast. Nothing for sprays, whose droplets are below 1 mm; do not use it for drips.",
    "share that leaves a hydrophilic leaf": "Too much leaves. On leaves that water wets, a coarse spray puts too little on leaves here and too "
    "much on substrate and bench. Raise `retention.shatter_threshold` above 100 to see whether the answer hangs on it.",
    "spread area": "Wets too small an area. On wettable leaves wet times come out too long; leaf uptake may be off either way, since it has "
    "longer and a smaller area. Compare with a smaller `leaf.contact_angle`.",
    "fall of the temperature of sunlit": "Cools too little, in moist air only. The source does not tell its humidity, so this decides nothing.",
    "fall of the temperature of shaded": "Cools too much. Wetted leaves in shade may be warmer than here by up to 1.4 K, and would then dry "
    "sooner. Not decided: their wetness is not told.",
    "leaves less air in a rose house": "Dry leaves too warm by 0.3 K. Small beside the 3 K of wetted ones; set "
    "`leaf.stomatal_conductance` where you know it.",
    "canopy cover": "Covers too little. A crop with flat leaves lets less through to the substrate than the default says. Estimate the cover from "
    "a photograph from above, and set `canopy.extinction` or `canopy.leaf_area` by it.",
    "stemflow over rain, maize": "Too little in the simulator, too much in the field. What a spray to run-off brings down stems into the pot is "
    "uncertain by a factor of three at small leaf areas. Compare half and twice `retention.stemflow_odds` before you trust a substrate's share.",
    "ground losses at 2000": "The opposite sign. Do not choose a pressure by the model.",
    "share of a boom's spray on plants": "Too little on plants: by a tenth with a wetting agent, by a third to two fifths with water on waxy leaves. "
    "Leaf deposits are rather too low here and what reaches the ground too high; sprays compare better with each other than with drenches.",
    "share of a boom's spray that reaches": "Hardly anything is lost on the way here. If the published loss is real, all deposits come out up to "
    "two fifths too high. Do not read the model's residues as what a laboratory would find per dose applied.",
    "share of a spray that level leaves": "Wettable leaves keep too much, waxy ones too little: the difference between a waxy and a wettable crop is "
    "exaggerated. Do not carry a rate from one to the other by the model.",
    "droplets caught per surface": "Stems catch next to nothing in still air, in the field as much as leaves. With fans, draught or a lance from the "
    "side, stems take up more than here, and act more. Compare with `application.angle` and `air.speed` raised.",
    "share that falls between pots": "Too little by a tenth of itself, within how evenly pots are set. Nothing.",
    "residue of a drench in roots": "Too little is left in roots after months. Do not read residues of roots; heights were calibrated through drenches, "
    "so they need not share the error.",
    "share of a sprayed triazole": "Nothing leaches after the day itself, where 4 to 29 % did in a season. Do not use the model to judge what "
    "drains; a pot that is watered until it drips loses more than it says.",
}

AFTER = """
## Compared with programs, not with tables

| What | With | Largest difference |
|---|---|---|
| random greenhouse air, -5 to 50 degC, 1 to 100 %, 80 to 105 kPa | psychrolib: wet bulb | 1 mK |
| the same | CoolProp, real moist air: wet bulb, dew point | 0.04 K, 0.02 K |
| the same | CoolProp: enthalpy, density | 0.4 %, 0.1 % |
| viscosity, conductivity of dry air | CoolProp at 1 bar | 0.16 % |
| water at 1 to 40 degC | the Python package iapws | 0.02 % |
| settling of a crowd | exact kinematic waves (Kynch 1952), 200 layers | 0.7 % of the initial fraction on average |
| wet share of a card | stains placed at random | 0.01 |
| dose-response fit | SciPy's curve_fit | 1e-4 of the standard errors |

## Integrations

How each integration, root and quadrature is tested, with the order that was observed, and which laws hold where:
[integrators, solvers and laws](science/numerics.md). All parts are integrated a second time, by other methods, in
[a second writing](science/second_writing.md).

Raw tables that trials are read from: `tests/reference/trial_plant_growth.csv`, `tests/reference/trial_bench.csv`,
`tests/reference/trial_ryegrass.csv`. Responses of crops, `tests/reference/growth/responses.csv`, have a page of their own:
[responses](science/responses.md).

## Not compared with anything yet

Numbers of plants are those of `ws.plan_trial(..., cv=0.084, difference=0.1)`: for a difference of a tenth of the height,
found with a probability of 0.8, where plants treated alike differ by 8.4 % (an open glasshouse trial). Numbers of pots
or droplets are those that a mean needs for a 95 % interval of +-20 %, if single ones differ by 30 %: 12.

| What | The experiment that would test it |
|---|---|
| The chain as a whole: spray, wet time, uptake *and* height | one crop in one house, sprayed at three hours of one day at equal rate; wet time by camera or sensors, residues on leaf, stem and substrate within the hour, heights after six weeks beside a check: 16 plants per hour and as many checks tell a tenth, 59 a twentieth |
| How much leaves and stems of a crop hold | plants weighed before and after sprays of rising volume, leaves and stems apart: 12 plants at each of five volumes from 0.05 to 0.6 L/m2; where the gain per volume has fallen to half, leaves hold half of their store |
| The split among leaf, stem, substrate and bench | a dye in the tank; leaves, stems, pots, bench and walls washed apart, at two spacings and two nozzles, 12 pots each; decisive only if what is found adds up to the dose within a tenth: published accounts miss a third to a half of it (above) |
| Drying of droplets on real leaves in a house | droplets of known size filmed on leaves of the crop, with leaf and air temperature, humidity and air speed beside them: 12 droplets of each of three sizes at three humidities. Published without seconds: the time rises with size and humidity and is longer on waxy leaves (Zhu et al. 2010); on cowpea it is that of diffusion, on sorghum up to 23 % shorter (Pest Manag. Sci., an imaging study; abstract) |
| The area that a droplet wets after its impact, by its speed, on wettable leaves | stains of dyed droplets of three sizes at three speeds on leaves, 12 each; two published ratios are above |
| Cooling of wetted leaves at a known humidity | leaf temperatures by infrared before, during and after a spray or fog, with humidity, air speed and radiation beside the leaf: a leaf temperature within 0.5 K and a humidity within 2 % decide, since the model's wet leaf falls by 0.15 K per percent; the sources above leave at least one of them out, among them the one that gives the humidity (roses), whose leaf temperatures and wetness were not read |
| Evaporation and drift of the spray's fine drops | flow from the nozzle against what a catcher of the bench's size takes, in dry and in moist air; the strength of the spray's air jet decides this and is an assumption |
| The cuticle of a given crop: permeance, and its rise with temperature | discs or isolated cuticles of that crop under drops kept wet, at three temperatures, several hours |
| Uptake through stems and petioles | drops placed on stems, petioles or blades alone, residues and heights after, 16 plants per site and as many checks |
| Uptake by roots from a given substrate | drenches of three concentrations into two substrates, the substance in solution and in shoots over four weeks, 12 pots each; a batch of bark beside the peat |
| Growth control over temperature | equal doses at the roots, grown on at 16, 20, 24 and 28 degC, 16 plants and 16 checks at each: that sprays act less in warmth is published, by how much is not ([sites of uptake](science/sites_of_uptake.md)) |
| The leaks and the vents of a given house | decay of carbon dioxide or humidity overnight and at noon, vents closed and open. Ten commercial houses changed 0.34 to 1 of their volume per hour, 0.56 on average (an abstract at aivc.org, authors not shown); the default is 1 |
| What runs down the stems of a floriculture crop into the pot | a dye in a spray to run-off; collars about stems and dishes under drip, of an upright and a drooping crop, 12 plants each. A forb in rain led 3 to 27 % of it down (quartiles), 37 % on average (Gordon et al. 2020, Hydrol. Earth Syst. Sci. 24:4587, abstract) |
| The size of the pot: one dose in 0.3, 0.6 and 1.7 L | equal milligrams per plant drenched into three pots, substance in solution and heights over six weeks, 16 plants each and as many checks |
| Residues by method, with the share leached | equal milligrams per plant as spray, drench and flood; residues in leaf, stem, root, substrate and in what drains, on days 1, 7 and 28; 12 pots each, which tell a leached share within a fifth. No published share of paclobutrazol was found, only that it grew (oleander), and what stood in the recirculated water of nine greenhouses: up to 35 ug/L where sprays were meant to drench, 26 where pots were drenched, below 3 where foliage was sprayed (Raudales et al. 2024, HortTechnology 34(2):198, abstract). Later watering is not part of the model |
| Wash-off by watering from above | deposits washed off by 1, 2 and 5 mm, 1 h and 24 h after the spray, 12 leaves each; heights of 16 plants each. Not part of the model, in which only a stated re-wetting carries residue off. Of mancozeb, which does not enter leaves, 5 mm of rain removed 75 to 90 % (Crop Prot. 26:768-774, abstract) |
| Two hand lances from the side: a flat-fan lance lost 2 to 2.75 times less to the ground than a gun (pepper; Sanchez-Hermosilla et al. 2021, Agriculture 11:532, abstract), a trolley with rows of nozzles lost 54 % less than a gun and left 34 to 41 % more on leaves (tomato; a comparison of trolley and gun, abstract) | cards in three heights, on both sides of leaves and on the ground, for each lance at the same volume, with leaf area, pressure and droplet size; the model has a slant but no aim, and a jet that passes between plants is not part of it |
| What a re-wetting gains, by the share that stays mobile | covered pots; deposits washed off 1, 24 and 120 h after the spray, half of the plants wetted again with clean water in between; heights beside a check: 16 plants of each of the six |
| Evenness by hand on a real bench | cards or washed leaves in a grid over one bench, three people, three passes each: 60 places tell a coefficient of variation within about a fifth. Deposits on single leaves of cereals and apple differ by 30 to 90 % (a study of exposed arthropods, abstract); of hand-held sprays over pots no number was read |
| Settling in a jug of a given product | samples from three depths of an unshaken jug after one day, one week, two months |

## Looked for and not found

In November 2026, in abstracts, open reports and openings of papers; what stands in tables and figures behind them was
mostly not to be read:

- the share of paclobutrazol, or of another growth regulator, that leaches from a pot; isotherms on peat and bark beyond
  one abstract; its half-life on leaves; its uptake by leaves, labelled or not
- seconds or minutes until droplets or sprays on leaves are dry, at a stated humidity
- volume at run-off or largest deposit per leaf area, for an ornamental, against volume
- the split of a hand-held spray over potted plants; deposits on upper against lower leaves; coefficients of variation.
  Such numbers exist: Braekman et al. 2009, HortScience 44:1921; Foque, Pieters and Nuyttens 2012, HortScience 47:51;
  Derksen et al. 2008, Trans. ASABE 51:27; Failla and Romano 2020, Sustainability 12:7052; Giles et al. 1992
- temperatures of wetted leaves in a house, with humidity and radiation
- stemflow or drip of a floriculture crop under a spray
- contact angles of water on leaves of chrysanthemum, poinsettia, petunia or geranium
- heights after sprays that were kept wet for different times

Until then the ranges of `wetspan day`, `wetspan run` and `ws.uncertainty` include the plausible deviations of these
inputs, grade D in [parameters](parameters.md).
"""


class Key(NamedTuple):
    """One published value: where it stands in tests/reference."""

    table: str
    quantity: str
    given: str
    source: str


class Comparison(NamedTuple):
    """Ours beside a published value, and what is allowed."""

    key: Key
    by: str
    ours: float
    low: float
    high: float

    @property
    def hit(self) -> bool:
        return self.low <= self.ours <= self.high


class Published(NamedTuple):
    value: float
    unit: str
    mark: str


def published() -> dict[Key, Published]:
    """Every row of tests/reference that has these columns; raw tables of trials have others."""
    rows = {}
    for path in sorted(REFERENCE.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            reader = csv.DictReader(file)
            if not {"quantity", "inputs"} <= set(reader.fieldnames or ()):
                continue
            for row in reader:
                key = Key(path.stem, row["quantity"], row["inputs"], row["source"])
                rows[key] = Published(float(row["value"]), row["unit"], row["mark"])
    return rows


def recorded(paths: Iterable[Path]) -> tuple[dict[tuple[Key, str], Comparison], set[Key]]:
    """What tests wrote: comparisons, of several of one value the worst; and the rows that they read."""
    compared: dict[tuple[Key, str], Comparison] = {}
    read = set()
    for path in paths:
        for line in path.read_text(encoding="utf-8").splitlines():
            *parts, by, ours, low, high = line.split("\t")
            key = Key(*parts)
            read.add(key)
            if not ours:
                continue
            one = Comparison(key, by, float(ours), float(low), float(high))
            before = compared.get((key, by))
            if before is None or outside(one) > outside(before):
                compared[key, by] = one
    return compared, read


def outside(one: Comparison) -> float:
    """How near ours comes to the end of what is allowed; above 0 outside."""
    return max(one.low - one.ours, one.ours - one.high)


def number(value: float, digits: int = DIGITS) -> str:
    return f"{value:.{digits}g}"


def percent(share: float) -> str:
    """A share in percent with two digits, written without a power of ten."""
    return f"{100 * share:.0f}" if share >= 0.995 else number(100 * share, 2)


def band(one: Comparison, value: float) -> str:
    """What is allowed, as people read it."""
    if math.isinf(one.high):
        return f"at least {number(one.low)}"
    if math.isinf(one.low):
        return f"at most {number(one.high)}"
    half = 0.5 * (one.high - one.low)
    if abs(0.5 * (one.high + one.low) - value) <= 1e-9 * max(abs(value), half):
        if value and half / abs(value) >= 1e-6:
            return f"{percent(half / abs(value))} %"
        return "equal" if half == 0 else f"{number(half, 2)}"
    return f"{number(one.low)} to {number(one.high)}"


def difference(one: Comparison, value: float) -> str:
    """Ours less the published, in percent of it where that says something."""
    if value == 0:
        return number(one.ours, 2)
    share = one.ours / value - 1
    if abs(share) < 5e-6:
        return "0"
    if abs(share) >= 10:
        return f"{number(one.ours / value, 2)} times"
    return f"{'+' if share > 0 else '-'}{percent(abs(share))} %"


def kind(table: str, quantity: str, by: str) -> str:
    """One of KINDS; a table without one is refused."""
    for begins, found in KIND_OF.items():
        if f"{quantity} / {by}".startswith(begins):
            return found
    if table in KIND_OF_TABLE:
        return KIND_OF_TABLE[table]
    raise SystemExit(f"say in KIND_OF_TABLE of tools/write_validation.py what kind of values '{table}' has")


def kind_of(row: dict[str, str]) -> str:
    return kind(row["table"], row["quantity"], row["by"])


def weakness(one: Comparison, value: float) -> str:
    """Why a hit says little: one of WEAK, or nothing. An end at 0 of what cannot be negative is no end."""
    if math.isinf(one.low) or math.isinf(one.high) or (value > 0 and one.low <= 0):
        return "one-sided"
    if one.low * one.high > 0 and max(one.high / one.low, one.low / one.high) >= WIDE:
        return "wide"
    half = 0.5 * (one.high - one.low)
    return "edge" if half > 0 and abs(one.ours - 0.5 * (one.high + one.low)) > EDGE * half else ""


def verdict(row: dict[str, str]) -> str:
    """Hit or miss, as the page has it, with what is weak about a hit."""
    one = comparison_of(row)
    weak = weakness(one, float(row["published"])) if one.hit else ""
    return ", ".join(filter(None, ("hit" if one.hit else "**miss**", weak)))


def by_kind(compared: list[dict[str, str]]) -> list[str]:
    """A table of the kinds: how many comparisons, hits and misses, and how many hits are weak."""
    told = ["| Kind | A hit says | Compared | Hits | Of these one-sided, wide, at the edge | Misses |"]
    told.append("|---|---|---|---|---|---|")
    for name, meaning in KINDS.items():
        verdicts = [verdict(row) for row in compared if kind_of(row) == name]
        hits = [each for each in verdicts if each.startswith("hit")]
        weak = ", ".join(str(sum(each.endswith(mark) for each in hits)) for mark in WEAK)
        cells = (f"**{name}**", meaning, len(verdicts), len(hits), weak, len(verdicts) - len(hits))
        told.append("| " + " | ".join(map(str, cells)) + " |")
    return told


COLUMNS = (
    "table",
    "quantity",
    "inputs",
    "by",
    "published",
    "unit",
    "ours",
    "low",
    "high",
    "hit",
    "mark",
    "source",
)


def rows_of(
    compared: dict[tuple[Key, str], Comparison], read: set[Key], known: dict[Key, Published]
) -> list[dict[str, str]]:
    """The rows of docs/validation.csv; a value that tests read but compared with no number has no `ours`."""
    strangers = sorted({key for key, _ in compared} | read - known.keys())
    strangers = [key for key in strangers if key not in known]
    if strangers:
        raise SystemExit(f"a test compared with what no table of tests/reference has: {strangers[0]}")
    rows = []
    for key, value in known.items():
        of_key = [one for (other, _), one in compared.items() if other == key]
        fixed = {
            "table": key.table,
            "quantity": key.quantity,
            "inputs": key.given,
            "published": repr(value.value),
            "unit": value.unit,
            "mark": value.mark,
            "source": key.source,
        }
        for one in sorted(of_key, key=lambda one: one.by):
            numbers = {name: f"{getattr(one, name):.9g}" for name in ("ours", "low", "high")}
            rows.append(fixed | numbers | {"by": one.by, "hit": "hit" if one.hit else "miss"})
        if not of_key:
            rows.append(fixed | {"by": "", "hit": "in words" if key in read else "unused"})
    return [{name: row.get(name, "") for name in COLUMNS} for row in rows]


def read_table() -> list[dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def write_table(rows: list[dict[str, str]]) -> None:
    with TABLE.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def comparison_of(row: dict[str, str]) -> Comparison:
    key = Key(row["table"], row["quantity"], row["inputs"], row["source"])
    return Comparison(key, row["by"], float(row["ours"]), float(row["low"]), float(row["high"]))


def cell(text: str) -> str:
    return text.replace("|", "\\|")


def line(row: dict[str, str]) -> str:
    one, value = comparison_of(row), float(row["published"])
    inputs = re.sub(r"\s*;\s*", ", ", row["inputs"])
    cells = (
        " / ".join(filter(None, (cell(inputs), cell(row["by"])))),
        f"{number(value, 6)} {row['unit']}".removesuffix(" 1").removesuffix(" -"),
        number(one.ours, 6),
        difference(one, value),
        band(one, value),
        verdict(row),
    )
    return "| " + " | ".join(cells) + " |"


def meanings(compared: list[dict[str, str]]) -> list[str]:
    """The misses by group: how many, how far off and which way, and what that means to a user."""
    out = ["\nWhat they mean to someone who acts on the model's answer:\n"]
    out += ["| What | Missed, of compared | Model less published | So |", "|---|---|---|---|"]
    for begins, means in MEANS.items():
        members = [row for row in compared if row["quantity"].startswith(begins)]
        misses = [row for row in members if row["hit"] == "miss"]
        if not misses:
            raise SystemExit(
                f"nothing misses at '{begins}': take it out of MEANS and WHY of {Path(__file__).name}"
            )
        apart = sorted(misses, key=lambda row: float(row["ours"]) / (abs(float(row["published"])) or 1.0))
        ends = [difference(comparison_of(row), float(row["published"])) for row in (apart[0], apart[-1])]
        told = " to ".join(dict.fromkeys(ends))
        what = "; ".join(dict.fromkeys(cell(row["quantity"]) for row in misses))
        out.append(f"| {what} | {len(misses)}, of {len(members)} | {told} | {means} |")
    for row in compared:
        if row["hit"] == "miss" and not any(row["quantity"].startswith(begins) for begins in MEANS):
            raise SystemExit(f"say in MEANS what the miss of '{row['quantity']}' means to a user")
    return out


def why(quantity: str) -> str:
    """The cause of a miss; every miss has one."""
    for begins, cause in WHY.items():
        if quantity.startswith(begins):
            return cause
    raise SystemExit(f"'{quantity}' is missed: say why in WHY of tools/write_validation.py")


def page(rows: list[dict[str, str]] | None = None) -> str:
    """The page's text."""
    rows = read_table() if rows is None else rows
    compared = [row for row in rows if row["ours"]]
    misses = [row for row in compared if row["hit"] == "miss"]
    out = [
        "<!-- Written by tools/write_validation.py from what the tests compared; do not edit. -->\n",
        BEFORE.rstrip() + "\n",
        *by_kind(compared),
        BANDS,
    ]
    out.append("## At a glance\n")
    values = len({comparison_of(row).key for row in compared})
    out.append(
        f"{len(compared)} comparisons with {values} published values: {len(compared) - len(misses)} hits, "
        f"{len(misses)} misses.\n"
    )
    out.append("| What | By | Kind | Compared | Missed | Weak hits | Largest difference | Band | Mark |")
    out.append("|---|---|---|---|---|---|---|---|---|")
    groups: dict[tuple[str, str, str], list[dict[str, str]]] = {}
    for row in compared:
        groups.setdefault((row["table"], row["quantity"], row["by"]), []).append(row)
    for room, tables in ROOMS.items():
        out.append(f"| **{room}** | | | | | | | | |")
        for (table, quantity, by), members in groups.items():
            if table not in tables:
                continue
            worst = max(
                members,
                key=lambda row: (
                    abs(float(row["ours"]) - float(row["published"])) / (abs(float(row["published"])) or 1.0)
                ),
            )
            missed = sum(row["hit"] == "miss" for row in members)
            weak = Counter(verdict(row).removeprefix("hit, ") for row in members if ", " in verdict(row))
            bands = list(dict.fromkeys(band(comparison_of(row), float(row["published"])) for row in members))
            cells = (
                cell(quantity),
                cell(by),
                kind(table, quantity, by),
                str(len(members)),
                f"**{missed}**" if missed else "0",
                ", ".join(f"{count} {mark}" for mark, count in weak.items()),
                difference(comparison_of(worst), float(worst["published"])),
                bands[0] if len(bands) == 1 else "by row",
                ", ".join(sorted({row["mark"] for row in members})),
            )
            out.append("| " + " | ".join(cells) + " |")
    out.append(PICTURED)
    out.append("## Misses\n")
    out.append(
        "These are the published values that the model does not meet within the band. The tests fix the size of each miss.\n"
    )
    out.append("| Where | Published | Model | Difference | Band | |")
    out.append("|---|---|---|---|---|---|")
    out += [line(row).replace("| ", f"| {cell(row['quantity'])}: ", 1) for row in misses]
    out += meanings(compared)
    out.append("\nThe causes are:\n")
    out += [
        f"- {cell(quantity)}: {why(quantity)}"
        for quantity in dict.fromkeys(row["quantity"] for row in misses)
    ]
    out.append("\n## Used by a test without a numerical comparison\n")
    out.append("Such a value is a bound, an order, a class, or sets an input; the test says how.\n")
    for row in rows:
        if row["hit"] == "in words":
            value = f"{number(float(row['published']), 6)} {row['unit']}".removesuffix(" 1")
            out.append(f"- {cell(row['quantity'])} ({row['inputs']}): {value}. {row['source']}")
    unused = [row for row in rows if row["hit"] == "unused"]
    if unused:
        out.append("\n## In the tables, but not compared\n")
        for row in unused:
            value = f"{number(float(row['published']), 6)} {row['unit']}".removesuffix(" 1")
            out.append(
                f"- {row['table']}: {cell(row['quantity'])} ({row['inputs']}): {value}. {row['source']}"
            )
    out.append(AFTER)
    out.append("## Every value\n")
    for room, tables in ROOMS.items():
        out.append(f"### {room}\n")
        out.append("From " + ", ".join(f"`tests/reference/{table}.csv`" for table in tables) + ".\n")
        for table, quantity in dict.fromkeys((row["table"], row["quantity"]) for row in compared):
            if table not in tables:
                continue
            members = [row for row in compared if (row["table"], row["quantity"]) == (table, quantity)]
            out.append(f"#### {quantity[0].upper()}{quantity[1:]}\n")
            kinds = dict.fromkeys(map(kind_of, members))
            out.append(f"*{'; '.join(kinds).capitalize()}.*\n")
            sources = dict.fromkeys((row["source"], row["mark"]) for row in members)
            out += [f"{source} ({mark}).\n" for source, mark in sources]
            out.append("| Given | Published | Model | Difference | Band | |")
            out.append("|---|---|---|---|---|---|")
            out += [line(row) for row in members]
            out.append("")
    return "\n".join(out).rstrip() + "\n"


def inputs_of(row: dict[str, str]) -> dict[str, float]:
    pairs = (pair.split("=") for pair in row["inputs"].split(";") if pair.strip())
    return {name.strip(): float(value) for name, value in pairs}


def draw_measured(rows: list[dict[str, str]]) -> None:
    """Ours over every measured value, one line for each quantity."""
    from matplotlib.figure import Figure

    told = [row for row in rows if row["ours"] and kind_of(row).startswith("measured")]
    told = [row for row in told if float(row["published"]) != 0]
    quantities = list(dict.fromkeys(row["quantity"] for row in told))
    figure = Figure(figsize=(9, 0.26 * len(quantities) + 0.9), layout="constrained")
    ax = figure.subplots()
    low, high = 0.25, 4.0
    for row in told:
        ratio, y = float(row["ours"]) / float(row["published"]), quantities.index(row["quantity"])
        missed = row["hit"] == "miss"
        inside = low < ratio < high
        marker = ("X" if missed else "o") if inside else "<>"[ratio > 1]
        color = "#b5482a" if missed else "#24806f"
        filled = color if kind_of(row) == "measured" else "none"
        place = min(max(ratio, 1.03 * low), high / 1.03)
        ax.plot(place, y, marker, color=color, mfc=filled, ms=7 if missed else 5)
    ax.axvline(1.0, color="0.7", lw=1, zorder=0)
    ax.set_xscale("log", base=2)
    ticks = [0.25, 0.5, 0.7, 1.0, 1.4, 2.0, 4.0]
    ax.set_xticks(ticks, [number(tick) for tick in ticks])
    ax.minorticks_off()
    ax.set_xlim(low, high)
    ax.set_yticks(range(len(quantities)), quantities, fontsize=8)
    ax.set_ylim(len(quantities) - 0.5, -0.5)
    ax.grid(axis="y", color="0.92")
    ax.set_axisbelow(True)
    ax.set_xlabel("model over published", fontsize=9)
    ax.spines[["top", "right"]].set_visible(False)
    figure.savefig(MEASURED, dpi=110)


def draw(rows: list[dict[str, str]]) -> None:
    """Ours against published, series by series."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(10, 11), layout="constrained")
    for ax, (quantity, name, factor, label, by, others) in zip(
        figure.subplots(4, 3).flat, SERIES, strict=True
    ):
        members = [
            row
            for row in rows
            if (row["quantity"], row["by"]) == (quantity, by)
            and row["ours"]
            and others.items() <= inputs_of(row).items()
        ]
        members.sort(key=lambda row: inputs_of(row)[name])
        x = [factor * inputs_of(row)[name] for row in members]
        published, ours, low, high = (
            [float(row[column]) for row in members] for column in ("published", "ours", "low", "high")
        )
        below = [max(0.0, value - end) for value, end in zip(published, low, strict=True)]
        above = [max(0.0, end - value) for value, end in zip(published, high, strict=True)]
        ax.errorbar(x, published, (below, above), fmt="none", ecolor="0.7", elinewidth=1)
        seen = all(row["mark"] == "seen" for row in members)
        ax.plot(x, published, "o", ms=4, color="0.25", mfc="0.25" if seen else "none", label="published")
        ax.plot(x, ours, "x-", ms=4, lw=1, color="#24806f", label="ours")
        if name in LOGARITHMIC:
            ax.set_xscale("log")
        if max(published) > 100 * min(published) > 0:
            ax.set_yscale("log")
        unit = members[0]["unit"]
        ax.set_title(quantity, fontsize=9)
        ax.set_xlabel(label, fontsize=8)
        ax.set_ylabel("" if unit in ("1", "-") else unit, fontsize=8)
        ax.tick_params(labelsize=8)
        ax.spines[["top", "right"]].set_visible(False)
    figure.axes[0].legend(frameon=False, fontsize=8)
    figure.savefig(PICTURE, dpi=110)


def stale(fresh: list[dict[str, str]], kept: list[dict[str, str]]) -> list[str]:
    """What is not as docs/validation.csv has it."""

    def index(rows: list[dict[str, str]]) -> dict[tuple[str, ...], dict[str, str]]:
        names = ("table", "quantity", "inputs", "by", "source")
        return {tuple(row[name] for name in names): row for row in rows}

    new, old = index(fresh), index(kept)
    told = [f"came: {', '.join(key[:4])}" for key in new.keys() - old.keys()]
    told += [f"went: {', '.join(key[:4])}" for key in old.keys() - new.keys()]
    for key in new.keys() & old.keys():
        a, b = new[key], old[key]
        name = ", ".join(key[:4])
        same = ("hit", "published", "unit", "mark")
        told += [f"{name}: {what} {b[what]} -> {a[what]}" for what in same if a[what] != b[what]]
        if not (a["ours"] and b["ours"]):
            continue
        one, before = comparison_of(a), comparison_of(b)
        for what in ("low", "high"):
            now, then = getattr(one, what), getattr(before, what)
            if not (now == then or math.isclose(now, then, rel_tol=1e-6)):
                told.append(f"{name}: the band's {what} end {then:g} -> {now:g}")
        width = one.high - one.low
        scale = width if math.isfinite(width) else abs(float(a["published"]))
        if abs(one.ours - before.ours) > max(MOVED * scale, 1e-6 * abs(before.ours)):
            told.append(f"{name}: ours {before.ours:.6g} -> {one.ours:.6g}")
    return sorted(told)


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("comparisons", nargs="*", type=Path)
    parser.add_argument("--check", action="store_true")
    given = parser.parse_args()
    if given.comparisons:
        rows = rows_of(*recorded(given.comparisons), published())
        if given.check:
            told = stale(rows, read_table())
            print(*told, sep="\n")
            if told:
                print("the validation page is not what the tests found: see DEVELOPERS.md, Published values")
            return bool(told)
        write_table(rows)
    PAGE.write_text(page(), encoding="utf-8")
    draw(read_table())
    draw_measured(read_table())
    return 0


if __name__ == "__main__":
    sys.exit(main())
