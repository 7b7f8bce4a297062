"""Write docs/science/answers.md: what the model answers to the questions that people ask.

Usage: python tools/write_answers.py

Rates, days, warmth, re-wetting, hours, what a spray equals as a drench, and the ranges that the unknown
inputs leave. The helpers are those of write_response_table.py; nothing is computed here that the library
does not compute.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from importlib.resources import files
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
import wetspan as ws
from wetspan.batch.core import compute
from wetspan.evidence import KINDS
from wetspan.parameters import POSITION
from write_response_table import CROP, control, controls, drench, on_day, spray

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "science" / "answers.md"

EXAMPLE = ws.load(str(files("wetspan") / "examples/afternoon_bench.toml"))
DAY = "2026-05-16"
EARLY, FAST = f"{DAY}T06:00", f"{DAY}T14:00"
SAMPLES = 400
SEEDS = 40
BENCH = {"rows": 8, "columns": 10}
#: What draws agree with, and how it is told.
GIVEN = {
    "three anchors": "anchors",
    "without common practice": ("drench", "spray"),
    "no anchor": None,
}

Numbers = npt.NDArray[np.float64]


def per_cent(value: float) -> str:
    """A share in whole per cent, in tenths below one."""
    return f"{100 * value:.0f} %" if abs(value) >= 0.0095 else f"{100 * value:.1f} %"


def gained(value: float) -> str:
    """A gain with its sign."""
    return ("+" if value >= 0 else "") + per_cent(value)


def table(head: Iterable[str], *rows: Iterable[str]) -> list[str]:
    """A table, its lines and an empty one."""
    cells = list(head)
    lines = [cells, ["---"] * len(cells), *(list(row) for row in rows)]
    return [*(f"| {' | '.join(line)} |" for line in lines), ""]


def shares(scenarios: Sequence[ws.Scenario]) -> list[str]:
    """Growth controls as text."""
    return [per_cent(each / 100.0) for each in controls(list(scenarios))]


def rates() -> list[str]:
    """Control by rate, open and covered."""
    strengths = (10, 30, 60, 100, 160, 300)
    return table(
        ["spray of", *(f"{each} mg/L" for each in strengths)],
        ["open pots", *shares([spray(each) for each in strengths])],
        ["covered pots", *shares([spray(each, **{"canopy.pots_covered": True}) for each in strengths])],
    )


def days() -> list[str]:
    """Control by day."""
    when = (0, 14, 28, 42)
    return table(
        ["first application on day", *map(str, when)],
        ["spray of 30 mg/L", *shares([on_day(spray(30), day) for day in when])],
        ["drench of 118 mL of 1 mg/L", *shares([on_day(drench(1), day) for day in when])],
    )


def warmth() -> list[str]:
    """Control by the weeks' temperature."""
    celsius = (16, 22, 28)
    weeks = [{"crop.mean_temperature": f"{each} degC"} for each in celsius]
    return table(
        ["weeks at", *(f"{each} degC" for each in celsius)],
        *(
            [f"spray of {rate} mg/L", *shares([spray(rate, **each) for each in weeks])]
            for rate in (15, 30, 45)
        ),
        ["drench of 118 mL of 1 mg/L", *shares([drench(1, **each) for each in weeks])],
    )


def rewetting() -> list[str]:
    """Gain of control by re-wetting, by rate, water and end of the residue."""
    strengths = (10, 30, 100, 300)

    def gains(ends: Sequence[ws.Scenario], quarts: float) -> list[str]:
        again = {"rewetting.volume_rate": f"{quarts} qt / (100 ft^2)"}
        return [gained(control(each.replace(again)) / control(each) - 1.0) for each in ends]

    sprays = [spray(each) for each in strengths]
    locked, mobile = zip(*(ws.residue_ends(each) for each in sprays), strict=True)
    return table(
        ["water the next morning, per 100 ft2", *(f"{each} mg/L" for each in strengths)],
        *([f"{quarts} US qt", *gains(sprays, quarts)] for quarts in (0.25, 0.5, 1.0)),
        ["0.5 US qt, if uptake stops with the water", *gains(locked, 0.5)],
        ["0.5 US qt, if uptake goes on from the dried deposit", *gains(mobile, 0.5)],
    )


def hours() -> list[str]:
    """The default day."""
    day = ws.compare_times(EXAMPLE, ws.read_weather("piedmont"), EARLY, f"{DAY}T20:00", "2h")
    locked, mobile = day["growth_control_at_ends"].values
    return table(
        ["sprayed at", "wet", "control", "if uptake stops with the water", "if it goes on when dry"],
        *(
            [f"{str(time)[11:16]}", f"{wet / 60:.0f} min", per_cent(one), per_cent(least), per_cent(most)]
            for time, wet, one, least, most in zip(
                day["time"].values,
                day["wet_time"].values,
                day["growth_control"].values,
                locked,
                mobile,
                strict=True,
            )
        ),
    )


def drawn(given: object) -> dict[str, Numbers]:
    """Draws of what substance, uptake, substrate and crop are not known by."""
    keys = [
        row.key
        for row in ws.draws.drawn_inputs(CROP)
        if row.key.split(".")[0] in ("active", "uptake", "substrate", "crop")
        or row.key == "canopy.growing_share"
    ]
    return ws.draw(CROP, SAMPLES, inputs=keys, given=given)


def over(scenario: ws.Scenario, columns: dict[str, Numbers]) -> Numbers:
    """Growth control of a scenario in every draw [1]."""
    inputs = [(POSITION[key], values) for key, values in columns.items()]
    return np.asarray(compute([scenario], [], count=SAMPLES, inputs=inputs).columns["growth_control"])


def spread(values: Numbers, told: object = per_cent) -> list[str]:
    """The 10, 50 and 90 % quantiles as text."""
    return [told(float(each)) for each in np.quantile(values, (0.1, 0.5, 0.9))]  # type: ignore[operator]


def ranges() -> list[str]:
    """What draws leave, with and without the anchors."""
    weather = ws.read_weather("piedmont")
    rows: list[list[str]] = []
    halves, wholes, hour_rows = [], [], []
    for name, given in GIVEN.items():
        columns = drawn(given)
        once = over(spray(30), columns)
        rows.append(["drench of 118 mL of 1 mg/L", name, *spread(over(drench(1), columns))])
        rows.append(["spray of 30 mg/L", name, *spread(once)])
        for quarts, into in ((0.5, halves), (1.0, wholes)):
            again = over(spray(30, **{"rewetting.volume_rate": f"{quarts} qt / (100 ft^2)"}), columns)
            into.append([f"{quarts} US qt the next morning, gain", name, *spread(again / once - 1.0, gained)])
        slow, fast = (
            ws.batch(EXAMPLE, columns | {"time": np.full(SAMPLES, time)}, weather)["growth_control"].values
            for time in (EARLY, FAST)
        )
        hour_rows.append(
            ["control at 14:00 over that at 06:00, less 1", name, *spread(fast / slow - 1.0, gained)]
        )
    rows.sort(key=lambda row: row[0])
    return table(
        ["what", "given", "10 %", "median", "90 % of the draws"], *rows, *halves, *wholes, *hour_rows
    )


def equivalents() -> list[str]:
    """What a spray equals as a drench, the reverse, and volumes at equal amounts."""
    as_drench = ws.as_drench(spray(30), samples=SAMPLES)
    as_spray = ws.as_spray(drench(1), samples=SAMPLES)

    def strength(value: float) -> str:
        return f"{1e3 * value:.2g} mg/L"

    def same(told: ws.Equivalent) -> list[str]:
        return [strength(each) for each in (told.same_control, told.low, told.high)]

    columns = drawn("anchors")
    once = over(spray(30), columns)
    volumes = []
    for quarts in (3, 6):
        more = spray(60 / quarts, **{"application.volume_rate": f"{quarts} qt / (100 ft^2)"})
        low, _, high = spread(over(more, columns) / once - 1.0, gained)
        nominal = gained(control(more) / control(spray(30)) - 1.0)
        volumes.append([f"{quarts} qt over 2 qt at equal active ingredient, control", nominal, low, high])
    return table(
        ["what", "default", "10 %", "90 % of the draws given the anchors"],
        ["the spray of 30 mg/L as a drench of 118 mL, same control", *same(as_drench)],
        ["the same, same amount in the pot", strength(as_drench.same_amount), "", ""],
        ["a drench of 118 mL of 1 mg/L as a spray of 2 qt/100 ft2, same control", *same(as_spray)],
        *volumes,
    )


def evidence() -> list[str]:
    """What the spread of growth control comes from, by grade."""
    found = ws.uncertainty(spray(30), SAMPLES)["growth_control_by_evidence"]
    meaning = KINDS | {"together": "acting together, and what ranks do not follow"}
    return table(
        ["inputs", "share of the spread of growth control"],
        *([told, per_cent(max(0.0, float(found.sel(evidence=kind))))] for kind, told in meaning.items()),
    )


def at_height(scenario: ws.Scenario, mean_height: float, passes: object, seed: int) -> float:
    """Variation of height [1] on a bench, at the strength that gives it a mean height over the check's."""
    for _ in range(8):
        result = ws.spray_bench(scenario, passes, layout=BENCH, seed=seed, levers=False)
        given, wanted = 1.0 - result.evenness.mean_height, 1.0 - mean_height
        if abs(given - wanted) < 5e-4:
            return float(result.evenness.height)
        strength = scenario["application.concentration"] * wanted / (1.0 - wanted) * (1.0 - given) / given
        scenario = scenario.in_si({"application.concentration": strength})
    raise RuntimeError(f"no strength gives a mean height of {mean_height}")


def evenness() -> list[str]:
    """Variation of height from plant to plant, and on how many seeds it is in the order of practice."""
    spray_2 = ws.Scenario()
    spray_3 = spray_2.in_si(
        {"application.volume_rate": 1.5 * spray_2["application.volume_rate"]}
        | {"application.concentration": spray_2["application.concentration"] / 1.6}
    )
    found = []
    for seed in range(1, SEEDS + 1):
        each = [
            ws.spray_bench(spray_2, layout=BENCH, seed=10 * seed + i, levers=False).passes for i in range(3)
        ]
        four, six = pd.concat(each[:2]), pd.concat(each)
        two = ws.spray_bench(spray_2, four, layout=BENCH, seed=seed)
        drench_instead = {lever.name: lever.evenness for lever in two.levers}["drench"]
        same, more = (at_height(spray_3, two.evenness.mean_height, path, seed) for path in (four, six))
        found.append((two.evenness.height, same, more, drench_instead.height))
    heights = np.array(found)
    two_, same_, more_, drench_ = heights.T
    low, middle, high = np.quantile(heights, (0.1, 0.5, 0.9), axis=0)
    names = (
        "2 qt, four passes",
        "3 qt, the same four passes",
        "3 qt, six passes",
        "drench, poured with 10 %",
    )
    orders = (
        ("3 qt in the same four passes more even than 2 qt", same_ < two_),
        ("3 qt in six passes more even than 2 qt", more_ < two_),
        ("the drench more even than 3 qt in the same four passes", drench_ < same_),
        ("the drench more even than 3 qt in six passes", drench_ < more_),
        ("the drench more even than 2 qt", drench_ < two_),
        ("drench, 3 qt in the same four passes, 2 qt: all in this order", (drench_ < same_) & (same_ < two_)),
        ("drench, 3 qt in six passes, 2 qt: all in this order", (drench_ < more_) & (more_ < two_)),
    )
    return [
        *table(
            ["variation of height from plant to plant", "10 %", "median", "90 % of the seeds", "mean"],
            *(
                [name, *(f"{100 * each:.1f} %" for each in (*spread_of, mean))]
                for name, *spread_of, mean in zip(names, low, middle, high, heights.mean(axis=0), strict=True)
            ),
        ),
        *table(["order", "seeds"], *([told, f"{holds.sum()} of {SEEDS}"] for told, holds in orders)),
    ]


def at_ends() -> str:
    """The two hours at both ends, in a sentence."""
    day = ws.compare_times(EXAMPLE, ws.read_weather("piedmont"), EARLY, FAST, "8h")
    slow, fast = day["wet_time"].values / 60.0
    (locked, mobile) = (each[1] / each[0] - 1.0 for each in day["growth_control_at_ends"].values)
    default = day["growth_control"].values[1] / day["growth_control"].values[0] - 1.0
    return (
        f"Leaves are wet for {slow:.0f} minutes at 06:00 and for {fast:.1f} at 14:00. Compared with 06:00, "
        f"control at 14:00 differs by {gained(locked)} if uptake stops with the water, by {gained(mobile)} "
        f"if it goes on from the dried deposit, and by {gained(default)} with the default between them. "
        "These numbers are for one set of inputs; the last rows of the table are for draws of them."
    )


def page() -> str:
    """The page."""
    return "\n".join(
        [
            "# What the model answers",
            "",
            "This page is written by `python tools/write_answers.py`: change that, not this page. Growth",
            "control is how much shorter plants stay than the untreated check. Unless a line says",
            "otherwise, the numbers are for the default crop in its default air over 60 days at 20 degC,",
            "and for 2 US qt/100 ft2. They serve for comparison and are no advice.",
            "",
            "## Rate",
            "",
            *rates(),
            "## Day",
            "",
            *days(),
            "## Warmth",
            "",
            "The sign of this effect is published for four crops; its size is not.",
            "",
            *warmth(),
            "## Re-wetting",
            "",
            "The table gives the gain of growth control, as a share of it. The water dissolves locked",
            "deposit up to the solubility: most of a thin deposit and little of a thick one.",
            "",
            *rewetting(),
            "## Hour",
            "",
            f"The table is for the example bench on {DAY}, a sunny day of a typical year, for a low and a",
            "high mobile share of the dried residue ([why both](uptake.md)).",
            "",
            *hours(),
            at_ends(),
            "",
            "## Ranges",
            "",
            f"The table is for {SAMPLES} draws of the unknown inputs of substance, uptake, substrate and",
            "crop, with and without the [anchors](growth.md). The range of the drench given its anchor",
            "follows from the anchor and is no result.",
            "",
            *ranges(),
            "## Equivalents",
            "",
            *equivalents(),
            "## Evenness",
            "",
            "The table is for a bench of 80 plants whose sizes vary by 10 %, all at the same mean height.",
            "According to common practice (no source), a drench is the most even, 3 qt comes next, and 2 qt",
            "is the least even. The means of the model have this order; on a single bench the order can",
            "differ ([why](bench.md)). Nothing was calibrated to it.",
            "",
            *evenness(),
            "## What the spread rests on",
            "",
            "The table is for draws of all inputs that are not known, given the anchors, for the default",
            "spray.",
            "",
            *evidence(),
            "Rates here are estimates for study. Product labels and local regulations rule; keep protective",
            "equipment and re-entry intervals; test on a few plants first.",
            "",
        ]
    )


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
