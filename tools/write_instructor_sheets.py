"""Write what the solutions in notebooks/instructor print, after a change of the model.

Each Python block of a sheet runs below the code cells of the notebook of the same number, in one go; the text
block after it shows what it prints. Sliders are left out.
"""

import contextlib
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path
from unittest import mock

import matplotlib
from wetspan import classroom

ROOT = Path(__file__).parents[1]
SHEETS = sorted((ROOT / "notebooks/instructor").glob("[0-9]*.md"))
BLOCK = re.compile(r"```python\n(.*?)```\n+```text\n(.*?)```", re.S)


def notebook_of(sheet: Path) -> Path:
    """The notebook whose exercises a sheet solves: it has the same name."""
    return ROOT / "notebooks" / f"{sheet.stem}.ipynb"


def code_cells(notebook: Path) -> Iterator[str]:
    for cell in json.loads(notebook.read_text(encoding="utf-8"))["cells"]:
        if cell["cell_type"] == "code":
            yield "".join(cell["source"])


def solved(sheet: Path) -> Iterator[tuple[str, str, str]]:
    """The blocks of a sheet: code, what the sheet shows, and what the code prints now."""
    names: dict[str, object] = {}
    notebook = notebook_of(sheet)
    with (
        mock.patch.object(classroom, "slide"),
        contextlib.redirect_stdout(io.StringIO()),
        matplotlib.rc_context({"backend": "Agg"}),
    ):
        for cell in code_cells(notebook):
            exec(compile(cell.replace("%matplotlib inline\n", ""), str(notebook), "exec"), names)
    for found in BLOCK.finditer(sheet.read_text(encoding="utf-8")):
        out = io.StringIO()
        with contextlib.redirect_stdout(out):
            exec(compile(found[1], str(sheet), "exec"), names)
        yield found[1], found[2], out.getvalue()


def page(sheet: Path) -> str:
    """A sheet with what its solutions print now."""
    printed = [now for _, _, now in solved(sheet)]
    text = sheet.read_text(encoding="utf-8")
    return BLOCK.sub(lambda found: f"```python\n{found[1]}```\n\n```text\n{printed.pop(0)}```", text)


if __name__ == "__main__":
    for each in SHEETS:
        each.write_text(page(each), encoding="utf-8")
