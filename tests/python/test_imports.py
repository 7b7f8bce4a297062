"""Modules of the package import each other in one direction, so that each can be read without the others."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from graphlib import CycleError, TopologicalSorter
from pathlib import Path
from typing import NamedTuple

import pytest
import wetspan

#: Libraries that take long to load, or that not everybody has: a function may load them when it is called.
HEAVY = {
    "IPython", "SALib", "dask", "distributed", "ipywidgets", "jinja2", "matplotlib", "pandas", "pint",
    "pvlib", "rich", "scipy", "zarr",
}  # fmt: skip


class Import(NamedTuple):
    """One module that another one imports."""

    target: str
    line: int
    inside: bool  # a function, which runs it when it is called
    reason: bool  # is said by a comment on its line


def modules(package: Path) -> dict[str, Path]:
    """The modules of a package by their dotted names."""
    found = {}
    for path in sorted(package.rglob("*.py")):
        *parents, name = path.relative_to(package.parent).with_suffix("").parts
        found[".".join(parents if name == "__init__" else [*parents, name])] = path
    return found


def imports(text: str, known: Mapping[str, object]) -> Iterator[Import]:
    """What a module imports; what only a type checker reads does not count."""
    lines = text.splitlines()

    def within(node: ast.AST, inside: bool) -> Iterator[Import]:
        for each in ast.iter_child_nodes(node):
            if isinstance(each, ast.If) and "TYPE_CHECKING" in ast.unparse(each.test):
                continue
            targets: list[str] = []
            if isinstance(each, ast.Import):
                targets = [alias.name for alias in each.names]
            elif isinstance(each, ast.ImportFrom):
                names = [f"{each.module}.{alias.name}" for alias in each.names]
                targets = [name if name in known else str(each.module) for name in names]
            elif isinstance(each, ast.Call) and ast.unparse(each.func).endswith("import_module"):
                targets = [arg.value for arg in each.args[:1] if isinstance(arg, ast.Constant)]
            for target in dict.fromkeys(targets):
                yield Import(target, each.lineno, inside, "#" in lines[each.lineno - 1])
            function = isinstance(each, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
            yield from within(each, inside or function)

    return within(ast.parse(text), False)


def runs(module: str, target: str, known: Mapping[str, object]) -> set[str]:
    """The modules that importing a target runs: itself and its parents, but for those that run already."""
    parts = target.split(".")
    chain = {".".join(parts[:i]) for i in range(1, len(parts) + 1)}
    return {each for each in chain & known.keys() if f"{module}.".startswith(f"{each}.") is False}


def circle(files: Mapping[str, str], *, called: bool) -> list[str] | None:
    """Modules that import each other in a circle; `called`: with the imports inside functions."""
    graph = {
        module: {
            each
            for one in imports(text, files)
            if called or not one.inside
            for each in runs(module, one.target, files)
        }
        for module, text in files.items()
    }
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        return list(error.args[1])
    return None


@pytest.fixture(scope="module")
def files() -> dict[str, str]:
    (package,) = wetspan.__path__
    return {name: path.read_text(encoding="utf-8") for name, path in modules(Path(package)).items()}


@pytest.mark.parametrize("called", [False, True], ids=["at import", "and inside functions"])
def test_no_modules_import_each_other_in_a_circle(files, called):
    assert len(files) > 100
    assert circle(files, called=called) is None


def test_imports_inside_functions_are_of_heavy_libraries_or_say_why(files):
    bare = [
        f"{module}, line {each.line}: {each.target}"
        for module, text in files.items()
        for each in imports(text, files)
        if each.inside and not each.reason and each.target.split(".")[0] not in HEAVY
    ]
    assert bare == []


def test_a_circle_is_found():
    one, two = "from p.two import x\n", "def f():\n    from p import one\n"
    files = {"p": "", "p.one": one, "p.two": two}
    assert circle(files, called=False) is None
    assert circle(files, called=True) is not None
    # a package runs before what is in it
    assert circle({"p": "", "p.q": "import p.one\n", "p.q.r": "", "p.one": "import p.q.r\n"}, called=False)
    for_types = "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    import p.one\n"
    assert circle({"p": "", "p.one": "import p.two\n", "p.two": for_types}, called=True) is None
