"""Functions of the package fit on a page, so that a reader can hold one in the head."""

from __future__ import annotations

import ast
from pathlib import Path

import wetspan

LONGEST = 60  # lines of code, without the signature and the docstring


def lengths(path: Path) -> dict[str, int]:
    """Lines of code of every function of a file."""
    found = {}
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            body = node.body[1:] if ast.get_docstring(node) is not None else node.body
            last = node.end_lineno or node.lineno
            found[f"{path.name}:{node.lineno}: {node.name}"] = last - body[0].lineno + 1 if body else 0
    return found


def test_no_function_is_longer_than_a_page():
    (package,) = wetspan.__path__
    files = sorted(Path(package).rglob("*.py"))
    found = {name: length for path in files for name, length in lengths(path).items()}
    assert len(found) > 500
    assert {name: length for name, length in found.items() if length > LONGEST} == {}


def test_the_lines_of_a_function_are_counted(tmp_path):
    path = tmp_path / "one.py"
    path.write_text('def f(\n    x,\n):\n    """Say\n    what.\n    """\n    y = x\n\n    return y\n')
    assert lengths(path) == {"one.py:1: f": 3}
