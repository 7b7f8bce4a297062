"""docs/science/numerics.md names tests that exist, the constants of the source, all that integrates."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
PAGE = (ROOT / "docs" / "science" / "numerics.md").read_text(encoding="utf-8")
FLAT = " ".join(PAGE.split())
SOURCES = sorted((ROOT / "lib" / "src").rglob("*.[ch]pp"))
METHODS = re.compile(
    r"odeint/stepper|include \"[./]*root\.hpp\"|Newton|Simpson|Gauss-Legendre|bisection|Heun|Rodas5P of order"
)
#: They define methods or pass them on; what uses them is named.
NO_METHOD = {"root.hpp", "dormand_prince.hpp", "wet_span_steps.hpp"}


def cases(name: str) -> set[str]:
    """Titles of the test cases of a file of C++ tests."""
    (path,) = (ROOT / "tests" / "cpp").rglob(name)
    return set(re.findall(r"TEST_CASE\(\s*\"([^\"]+)\"", path.read_text(encoding="utf-8")))


def test_every_test_that_the_page_names_exists():
    functions = set()
    for path in Path(__file__).parent.glob("test_*.py"):
        functions |= set(re.findall(r"^def (test_\w+)", path.read_text(encoding="utf-8"), re.M))
    named = set(re.findall(r"`(test_\w+)`", PAGE))
    assert len(named) > 15
    assert named <= functions
    titles = [title for title in re.findall(r"\"([^\"]+)\"", FLAT) if title.count(" ") > 2]
    files = set(re.findall(r"`(test_\w+\.cpp)`", PAGE))
    known = set().union(*(cases(name) for name in files))
    assert len(titles) > 25
    assert set(titles) <= known


@pytest.mark.parametrize("file", ["test_laws.py", "test_convergence.py"])
def test_the_page_names_every_law_and_every_convergence(file):
    text = (Path(__file__).parent / file).read_text(encoding="utf-8")
    assert {name for name in re.findall(r"^def (test_\w+)", text, re.M) if name not in PAGE} == set()


def test_the_page_names_every_file_that_integrates_or_searches():
    methods = {path.name for path in SOURCES if METHODS.search(path.read_text(encoding="utf-8"))} - NO_METHOD
    assert len(methods) > 15
    assert {name for name in methods if f"`{name}`" not in PAGE} == set()


def test_constants_on_the_page_are_those_of_the_source():
    source = "\n".join(path.read_text(encoding="utf-8") for path in SOURCES)
    constants = re.findall(r"`(\w+) = ([0-9.e+-]+)`", PAGE)
    assert len(constants) > 12
    for name, value in constants:
        assert re.search(rf"\b{name} = {re.escape(value)}\b", source), (name, value)
