"""The assumptions behind a result: which inputs were given, which were not, and which of these matter."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from wetspan import _core
from wetspan.bench import BENCH_INPUTS, BenchResult
from wetspan.evidence import about_evidence
from wetspan.parameters import SECTIONS, TABLE
from wetspan.scenario import Scenario
from wetspan.scenario_inputs import INTERVAL
from wetspan.sensitivity import uncertainty

_GRADES = {
    "A": "measured",
    "B": "published formula or standard",
    "C": "calibrated here to a fact of the trade",
    "D": "assumption",
}
_THIS, _ANOTHER = "on this substance, crop or setting", "on another substance, crop or setting"
#: Draws by which inputs are ranked, how many are told, and the least share that is told [1]: in one result of
#: eight, one of so many inputs reaches it by chance.
_DRAWS, _MOST, _LEAST = 512, 6, 0.02
HOW = f"by {_DRAWS} draws of every unknown input in unchanging air; less than {100 * _LEAST:.0f} % is chance"

_BY = {"wand": "Spraying by hand", "boom": "Spraying by a boom"}
#: Inputs of a bench that are the scenario's unless they are given.
_LEFT_OUT = {
    "pattern.angle",
    "pattern.thickness_angle",
    "wand.height",
    "layout.spacing",
    "drench.volume_per_pot",
}


class Assumption(NamedTuple):
    """One input as a page tells it."""

    key: str
    meaning: str
    value: str
    grade: str  #: in words, with its letter and what a measured one was measured on
    factor: str  #: within which the truth plausibly lies; "" for what users state
    source: str
    matters: str = ""  #: its share of the doubt


def given(scenario: Scenario) -> list[Assumption]:
    """Return the inputs that differ from their defaults."""
    return [_told(scenario, key) for key in scenario.changed()]


def not_given(scenario: Scenario) -> dict[str, list[Assumption]]:
    """Return the inputs that stand at their defaults, by what their section is about."""
    changed = scenario.changed()
    found = {
        about: [
            _told(scenario, key) for key, row in TABLE.items() if row.section == name and key not in changed
        ]
        for name, about in SECTIONS.items()
    }
    return {about: rows for about, rows in found.items() if rows}


def that_matter(scenario: Scenario, air: Mapping[str, float]) -> tuple[list[Assumption], str]:
    """Return the inputs not given that the doubt about growth control goes with the most, the largest first;
    and a sentence on the kinds of evidence that it rests on.

    All unknown inputs are drawn `_DRAWS` times as by `ws.uncertainty`, in unchanging air with the inputs
    `air`. The share of an input is its squared rank correlation with growth control.
    """
    changed = scenario.changed()
    after = {INTERVAL: scenario[INTERVAL]}  # unchanging air has no time of day at which plants are re-wetted
    study = uncertainty(scenario.in_si({**after, **air}), _DRAWS)
    drawn = study["growth_control_influence"]
    shares = sorted(zip(drawn["input"].values, drawn.values.tolist(), strict=True), key=lambda one: -one[1])
    told = [(str(key), share) for key, share in shares if share >= _LEAST and str(key) not in changed]
    largest = [_told(scenario, key)._replace(matters=f"{100.0 * share:.0f} %") for key, share in told[:_MOST]]
    return largest, about_evidence(study["growth_control_by_evidence"], "growth control")


def of_bench(bench: BenchResult) -> dict[str, list[Assumption]]:
    """Return the inputs of a bench that were not given, by what their table is about."""
    units = bench.scenario.units
    tables = {"drench": "Pouring", "layout": "The bench"}
    if bench.passes.size:
        tables = {"pattern": "The nozzle's pattern", "layout": "The bench"}
        tables |= {name: about for name, about in _BY.items() if bench.map.attrs["sprayed_by"].endswith(name)}
    return {
        about: [
            _row(row, "left out" if row.key in _LEFT_OUT else units.show(row, row.standard))
            for row in BENCH_INPUTS[table].values()
            if row.key not in bench.given
        ]
        for table, about in tables.items()
    }


def in_words(rows: list[Assumption]) -> str:
    """Return how many inputs stand on what evidence."""
    count = {letter: sum(row.grade.startswith(letter) for row in rows) for letter in _GRADES}
    another = sum(row.grade.endswith(_ANOTHER) for row in rows)
    return (
        f"Of {len(rows)} inputs that nobody gave, {count['A']} were measured by others ({another} of them "
        f"{_ANOTHER}), {count['B']} come from a published formula or standard, {count['C']} are calibrated "
        f"here to facts of the trade, and {count['D']} are assumptions."
    )


def _told(scenario: Scenario, key: str) -> Assumption:
    return _row(TABLE[key], scenario.show(key))


def _row(row: _core.Parameter, value: str) -> Assumption:
    grade = f"{row.grade}, {_GRADES[row.grade]}"
    if row.grade == "A":
        grade += f" {_ANOTHER if row.measured_on == 'another' else _THIS}"
    factor = f"a factor of {row.spread:.3g}" if row.spread > 1.0 else ""
    return Assumption(row.key, row.meaning, value, grade, factor, row.source)
