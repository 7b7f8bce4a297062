"""The page: the library in one HTML file that needs no installation and no network (`wetspan page`)."""

from __future__ import annotations

import html
import json
import re
from importlib.resources import files
from typing import Any

from wetspan import _core, nights, residue
from wetspan.cautions import CAUTIONS
from wetspan.doubts import DARK
from wetspan.errors import InputError
from wetspan.parameters import TABLE
from wetspan.scenario import Scenario
from wetspan.weather.headings import FOR_PAGE

#: Where the page is in an installed package, if the source tree had it when it was installed or packed.
_PAGE = "page.html"
_HOW = "in a source tree `nox -s web` builds it, and a wheel or an installation made after that has it"


def page(scenario: Scenario | None = None) -> str:
    """Return the page as HTML, starting from a scenario; from the defaults without one."""
    source = files("wetspan") / _PAGE
    if not source.is_file():
        raise InputError(f"this installation has no page: {_HOW}")
    text = source.read_text(encoding="utf-8")
    if _data(text, "table") != _table() or _data(text, "texts") != texts():
        raise InputError(f"the page in this installation is of another version of the library: {_HOW}")
    if scenario is None:
        return text
    start: dict[str, Any] = {"title": scenario.title, "inputs": scenario.changed()}
    if "temperature" in scenario.units.us:  # what the file speaks; else the reader's country decides
        start["units"] = "us"
    before, after = re.split(r'(?<=id="start">).*?(?=</script>)', text, maxsplit=1)
    told = json.dumps(start, allow_nan=False).replace("<", "\\u003c")
    if scenario.title:
        name = html.escape(scenario.title, quote=False)
        before = re.sub(r"(?<=<title>)", lambda _: f"{name}: ", before, count=1)
    return before + told + after


def texts() -> dict[str, Any]:
    """Return the sentences, bounds and patterns that the page has in common with Python, written once."""
    return {
        "cautions": CAUTIONS,
        "nights": {
            "told": nights.TOLD,
            "caution": nights.CAUTION,
            "limit": nights.limit_of(nights.WET_LIMIT),  # s
            "limit_shown": nights.WET_LIMIT,
            "dark": DARK,  # W/m2
        },
        "headings": FOR_PAGE,
        "residue": {
            "told": residue.TOLD,
            "ends": list(residue.MEANING.values()),
            "experiment": residue.EXPERIMENT,
            "matters": residue.MATTERS,
        },
    }


def _data(text: str, name: str) -> Any:
    match = re.search(rf'id="{name}">(.*?)</script>', text, re.DOTALL)
    return json.loads(match[1]) if match else None


def _table() -> dict[str, Any]:
    """Return what the page has to say of the library, as it says it."""
    names = ("key", "section", "name", "kind", "standard", "low", "high", "spread", "unit", "shown", "grade")
    told = [
        {name: getattr(row, name) for name in (*names, "source", "meaning", "choices")}
        for row in TABLE.values()
    ]
    sections = [{"name": each.name, "about": each.about} for each in _core.sections()]
    return {"version": _core.__version__, "parameters": told, "sections": sections}
