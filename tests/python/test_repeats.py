"""No six lines of code stand twice in the library, its bindings and its Python package."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MOST = 5  # lines in a row that may be equal in two places
FUNCTIONS = (ast.FunctionDef, ast.AsyncFunctionDef)


def not_code(text: str) -> set[int]:
    """The lines of a Python module that are imports, signatures or docstrings."""
    lines: set[int] = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import | ast.ImportFrom):
            lines |= set(range(node.lineno, (node.end_lineno or node.lineno) + 1))
        if isinstance(node, FUNCTIONS):
            lines |= set(range(node.lineno, node.body[0].lineno))
        if isinstance(node, (*FUNCTIONS, ast.ClassDef, ast.Module)) and ast.get_docstring(node) is not None:
            lines |= set(range(node.body[0].lineno, (node.body[0].end_lineno or 0) + 1))
    return lines


def code(name: str, text: str) -> Iterator[tuple[int, str]]:
    """The lines of code of a source, with equal spaces, and their numbers; brackets alone do not count."""
    python = name.endswith(".py")
    left_out = not_code(text) if python else set()
    for number, line in enumerate(text.splitlines(), 1):
        told = " ".join(re.sub(r"\s# .*|^\s*#.*" if python else r"//.*|^\s*#include.*", "", line).split())
        if number not in left_out and re.search(r"\w", told):
            yield number, told


def repeats(sources: dict[str, str]) -> list[str]:
    """The places at which more than MOST lines of code are those of another place."""
    places: dict[tuple[str, ...], list[str]] = defaultdict(list)
    for name, text in sources.items():
        lines = list(code(name, text))
        for i in range(len(lines) - MOST):
            window = lines[i : i + MOST + 1]
            places[tuple(line for _, line in window)].append(f"{name}:{window[0][0]}")
    return [" = ".join(found) for found in places.values() if len(found) > 1]


@pytest.mark.skipif(not (ROOT / "lib").is_dir(), reason="there is no source tree")
def test_no_six_lines_stand_twice():
    files = [*ROOT.glob("lib/**/*.?pp"), *ROOT.glob("bindings/*/**/*.?pp"), *ROOT.glob("bindings/**/*.py")]
    assert len(files) > 200
    sources = {str(path.relative_to(ROOT)): path.read_text(encoding="utf-8") for path in sorted(files)}
    assert repeats(sources) == []


def test_what_stands_twice_is_found():
    lines = [f"  x{i} = f({i});  // why {i}" for i in range(6)]
    twice = {"a.cpp": "\n".join(lines), "b.cpp": "\n}\n".join(line.replace("//", "//  ") for line in lines)}
    assert repeats(twice) == ["a.cpp:1 = b.cpp:1"]
    assert repeats({name: text.replace("x5", name[0]) for name, text in twice.items()}) == []
    python = "\n".join(f"x{i} = {i}" for i in range(6))
    assert repeats({"a.py": python, "b.py": f'"""Say."""\n\nimport re\n\n{python}'}) == ["a.py:1 = b.py:5"]
    signatures = "def f(\n    a,\n    b,\n    c,\n    d,\n    e,\n    g,\n):\n    return a\n"
    assert repeats({"a.py": signatures, "b.py": signatures}) == []
