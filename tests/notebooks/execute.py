"""Execute notebooks as a class would, and move every slider to its ends.

    python tests/notebooks/execute.py [--jobs 2] [--keep FOLDER] NOTEBOOK...

Fails where a cell fails, an end of a slider is refused, a notebook takes longer than LONGEST, or something
with sliders shows no figure. With --keep the executed notebooks are written to FOLDER.
"""

import argparse
import time
from concurrent.futures import ProcessPoolExecutor
from itertools import repeat
from pathlib import Path

import nbformat
from nbclient import NotebookClient

LONGEST = 30.0  # s of processor time, without moving the sliders: more than it takes on two idle cores
ENDS = """
from wetspan import classroom as _classroom

_slide, _asked = _classroom.slide, []


def _and_ask(draw, /, **controls):
    _slide(draw, **controls)
    _asked.append((draw, controls))


_classroom.slide = _and_ask
"""
MOVE = """
for _draw, _controls in _asked:
    _start = {name: control.value for name, control in _controls.items()}
    for _name, _control in _controls.items():
        for _end in (_control.options if hasattr(_control, "options") else (_control.min, _control.max)):
            _figure, _text = _draw(**_start | {_name: _end})
            assert _text and _figure.axes, _name
            assert "nan" not in _text, (_name, _end, _text)
"""


def execute(path: Path, keep: Path | None) -> None:
    """Execute a notebook with its sliders at their start, then at their ends."""
    notebook = nbformat.read(path, as_version=4)
    before, after = nbformat.v4.new_code_cell(ENDS), nbformat.v4.new_code_cell(MOVE)
    notebook.cells = [before, *notebook.cells]
    clock = nbformat.v4.new_code_cell("import time as _time\n\nprint(_time.process_time())")
    client = NotebookClient(notebook, timeout=600)
    with client.setup_kernel():
        begin = time.monotonic()
        for index, cell in enumerate(notebook.cells):
            client.execute_cell(cell, index)
        waited = time.monotonic() - begin
        notebook.cells += [clock, after]
        for index in (-2, -1):
            client.execute_cell(notebook.cells[index], len(notebook.cells) + index)
        client.set_widgets_metadata()
    took = float(clock.outputs[0].text)
    ends = time.monotonic() - begin - waited
    told = f"{took:.1f} s of processor time, {waited:.1f} s waited, {ends:.1f} s for the sliders"
    print(f"{path.name}: {told}", flush=True)
    assert took < LONGEST, f"{path.name} takes {took:.0f} s"
    notebook.cells = notebook.cells[1:-2]
    for cell in notebook.cells:
        if cell.cell_type == "code" and "\nslide(" in cell.source:
            shown = [output.get("data", {}) for output in cell.outputs]
            assert any("image/png" in data for data in shown), f"no figure:\n{cell.source}"
    if keep:
        nbformat.write(notebook, keep / path.name)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--keep", type=Path)
    parser.add_argument("notebooks", type=Path, nargs="+")
    parser.add_argument("--jobs", type=int, default=1, help="how many run side by side")
    arguments = parser.parse_args()
    if arguments.keep:
        arguments.keep.mkdir(parents=True, exist_ok=True)
    with ProcessPoolExecutor(arguments.jobs) as pool:
        list(pool.map(execute, arguments.notebooks, repeat(arguments.keep)))
