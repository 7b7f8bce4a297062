"""The parts of a page: its pictures, its tables, and what stands behind a result."""

from __future__ import annotations

import io
import re
import tomllib
from base64 import b64encode
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import matplotlib as mpl
import rich.table
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from wetspan._core import __version__
from wetspan.bench import BenchResult
from wetspan.bench.words import in_cent
from wetspan.cautions import CAUTIONS
from wetspan.drawing import caution
from wetspan.errors import InputError
from wetspan.outcome import entries
from wetspan.printed import assumed
from wetspan.printed.record import Line
from wetspan.report import (
    what_is_sprayed,
)
from wetspan.scenario import Scenario
from wetspan.scenario_file import from_document
from wetspan.unit_choice import UnitChoice

_STYLE: Any = {
    "font.size": 9.0,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "legend.columnspacing": 1.0,
    "legend.handletextpad": 0.4,
    "svg.fonttype": "path",
    "svg.hashsalt": "wetspan",  # the same page of the same result
    "figure.facecolor": "white",
    "axes.facecolor": "white",
}
#: A weather as its repr has it, perhaps after the name of its site.
_WEATHER = re.compile(r".*Weather\((.*)\)")
#: Headings of the terminal's narrow table of a day, spelt out.
_SPELT = {
    "humid %": "humidity, %",
    "light W/m2": "light, W/m²",
    "leaves wet min": "leaves wet, min",
    "stems wet min": "stems wet, min",
    "uptake leaf": "uptake by leaves, µg per plant",
    "ug per stem": "by stems, µg per plant",
    "plant root": "by roots, µg per plant",
    "spray at": "sprayed at",
}


@dataclass(frozen=True)
class Picture:
    """A picture as data, what it shows in words for those who do not see it, and its caption."""

    data: str
    alt: str
    caption: str


@dataclass(frozen=True)
class Table:
    """A table; columns whose number is in `right` hold numbers."""

    caption: str
    headings: Sequence[str]
    rows: Sequence[Sequence[str]]
    right: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Contents:
    """What one page holds, in its order."""

    kind: str
    title: str
    facts: Sequence[str]
    answer: str
    sentences: Sequence[str]
    pictures: Sequence[Picture]
    tables: Sequence[Table]
    unsure: Sequence[str]
    rests_on: Sequence[str] = ()
    given: Sequence[assumed.Assumption] = ()
    matters: Sequence[assumed.Assumption] = ()
    how_matters: str = ""
    not_given: Mapping[str, Sequence[assumed.Assumption]] = field(default_factory=dict)
    record: Sequence[Line] = ()
    scenario: str = ""
    cautions: str = CAUTIONS
    version: str = __version__


def facts_of(scenario: Scenario, when: str) -> list[str]:
    sprayed = what_is_sprayed(scenario).removeprefix(f"{scenario.title}: ")
    return [f"{sprayed[0].upper()}{sprayed[1:]}", *when.splitlines()]


def scenario_of(result: xr.Dataset) -> Scenario:
    try:
        document = tomllib.loads(str(result.attrs["scenario"]))
    except ValueError as error:
        raise InputError(f"the scenario in the attributes of this Dataset is not TOML: {error}") from None
    scenario = from_document(document)
    return scenario.in_units(UnitChoice.of(result))


def standing(
    scenario: Scenario, air: Mapping[str, float], *, weather: str = "", bench: BenchResult | None = None
) -> dict[str, Any]:
    """Return what a page says of the inputs behind a result of the model."""
    inputs = {
        "air.temperature": "air_temperature",
        "air.relative_humidity": "relative_humidity",
        "air.shortwave": "shortwave",
    }
    known = {key: air[name] for key, name in inputs.items() if name in air}
    left = assumed.not_given(scenario)
    if bench is not None:
        left = left | assumed.of_bench(bench)
    matters, evidence = assumed.that_matter(scenario, known)
    rests_on = [assumed.in_words([row for rows in left.values() for row in rows]), evidence]
    if weather:
        told = _WEATHER.fullmatch(weather)
        rests_on.insert(0, f"Weather: {told[1] if told else weather}.")
    return {
        "given": assumed.given(scenario),
        "matters": matters,
        "how_matters": assumed.HOW,
        "not_given": left,
        "rests_on": rests_on,
        "scenario": scenario.to_toml(),
    }


def drawn_of(draw: Callable[[Any], object], several: Sequence[tuple[float, str, str]]) -> list[Picture]:
    """Return the panels that a plot function draws, each a picture of its own: height [in], alt, caption."""
    with mpl.rc_context(_STYLE):
        figures = [Figure(figsize=(5.1, height), layout="constrained") for height, _, _ in several]
        axes: list[Axes] = [figure.subplots() for figure in figures]
        draw(axes)
        pictures = []
        for figure, one, (_, alt, caption_) in zip(figures, axes, several, strict=True):
            caution(figure)
            one.set_title("", loc="left")  # the page's own heading
            data = io.BytesIO()
            figure.savefig(data, format="svg", metadata={"Date": None, "Creator": None}, dpi=200)
            pictures.append(Picture(b64encode(data.getvalue()).decode("ascii"), alt, caption_))
    return pictures


def split_words(split: xr.DataArray) -> str:
    return "Shares of the liquid: " + ", ".join(
        f"{name} {in_cent(share)}" for name, share in entries(split) if share >= 0.0005
    )


def plain_table(table: rich.table.Table, caption_: str, headings: Sequence[str] | None = None) -> Table:
    """Return a terminal's table for a page, what was asked for before what it depends on."""
    told = [" ".join(str(column.header).split("\n")) for column in table.columns]
    asked = [i for i, heading in enumerate(told) if i and ("wet" in heading or "growth" in heading)]
    order = sorted(range(len(told)), key=lambda i: (i > 0, i not in asked, i))
    columns = [list(map(str, table.columns[i].cells)) for i in order]
    right = {place for place, i in enumerate(order) if table.columns[i].justify == "right"}
    note = f"{caption_}. {table.caption}" if table.caption else caption_
    return Table(
        note,
        headings or [_SPELT.get(told[i], told[i]) for i in order],
        list(zip(*columns, strict=True)),
        frozenset(right),
    )
