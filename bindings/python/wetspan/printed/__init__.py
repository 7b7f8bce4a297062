"""A page to print of a result: one HTML file for paper and for a telephone, which needs no other file.

`contents` has the contents for each kind of result, and `parts` what these are made of; `assumed` has the
inputs that were assumed, and `record` the form to fill in by hand. The page is template.html with
style.css in it. Pictures are embedded as data, and nothing is fetched from a network.
"""

from __future__ import annotations

import os
import re
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from wetspan.errors import InputError
from wetspan.files import write_text

if TYPE_CHECKING:
    import xarray as xr

    from wetspan.bench import BenchResult
    from wetspan.outcome import Outcome
    from wetspan.sensitivity import ControlRange
    from wetspan.trials import TrialResult

__all__ = ["check_path", "page", "write_report"]

_ENDINGS = (".html", ".htm")
_PRINTED = tuple(
    (re.compile(spelt), printed)
    for spelt, printed in (
        (r"\bdeg([CF])\b", r"°\1"),
        (r"\bu([gmL])\b", r"µ\1"),
        (r"(?<=\d) percent\b", " %"),
        (r"\b([kcmd]?m|ft|in)\^?2\b", r"\1²"),
        (r"\b([kcmd]?m|ft|in)\^?3\b", r"\1³"),
        (r"(?<=\w)\*(?=[a-zA-Z])", "·"),
        (r"(?<=\d) %", "\u202f%"),  # a number keeps its sign
    )
)


def write_report(
    result: Outcome | BenchResult | TrialResult | xr.Dataset,
    path: str | os.PathLike[str],
    *,
    when: str = "",
    spread: ControlRange | None = None,
    below: object = "20 min",
    control: float = 0.25,
) -> None:
    """Write a page to print of a result: one HTML file that needs no network.

    The page has the answer in sentences, pictures, the numbers, the assumptions, the uncertainty and the
    usual cautions. The page of an application ends with a record to fill in by hand.

    result
        A result of `ws.simulate`, `ws.compare_times`, `ws.season` (its first site), `ws.spray_bench` or
        `ws.read_trial`.
    path
        The file, .html or .htm.
    when
        A line on the moment and the weather, shown under the title.
    spread
        For one spray: the range of its growth control over draws of the unknown inputs.
    below
        For a season: the wet time that is too short (bare: s).
    control
        For a trial with rates: the growth control wanted from the next rate [1].

    Raises InputError for a file that cannot be written, and for an object that is not such a result.
    """
    check_path(path)
    write_text(path, page(result, when=when, spread=spread, below=below, control=control))


def page(
    result: Outcome | BenchResult | TrialResult | xr.Dataset,
    *,
    when: str = "",
    spread: ControlRange | None = None,
    below: object = "20 min",
    control: float = 0.25,
) -> str:
    """Return the page of `write_report` as text."""
    import jinja2  # which only pages want

    from wetspan.printed.contents import contents_of  # which loads matplotlib

    contents = contents_of(result, when=when, spread=spread, below=below, control=control)
    source = files("wetspan") / "printed"
    made = jinja2.Environment(
        autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    made.filters["typeset"] = typeset
    template = made.from_string((source / "template.html").read_text(encoding="utf-8"))
    style = (source / "style.css").read_text(encoding="utf-8")
    return template.render(page=contents, style=style) + "\n"


def typeset(text: str) -> str:
    """Return text in which units that a terminal spells in plain letters are set as in print."""
    for spelt, printed in _PRINTED:
        text = spelt.sub(printed, text)
    return text


def check_path(path: str | os.PathLike[str]) -> None:
    """Raise InputError unless the path is one that a page can be written to."""
    name = os.fspath(path)
    if Path(path).suffix.lower() not in _ENDINGS:
        raise InputError(f"{name}: a page is written as {' or '.join(_ENDINGS)}; this name ends otherwise")
    if not Path(path).parent.is_dir():
        raise InputError(f"{name}: there is no folder '{Path(path).parent}' to put it in")
