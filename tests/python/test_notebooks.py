"""The numbered notebooks for a class: what each holds, and that their solutions are what the model says.

That they run, with every slider at its ends, is `nox -s examples`.
"""

import re
import runpy
from pathlib import Path
from types import SimpleNamespace

import nbformat
import pytest
import wetspan as ws
from matplotlib.figure import Figure

pytest.importorskip("ipywidgets")
from wetspan import classroom

ROOT = Path(__file__).parents[2]
NOTEBOOKS = sorted(ROOT.glob("notebooks/[0-9]*.ipynb"))
MOST_CELLS = 24
LESSON = 50  # min; weighing leaves takes two
NUMBER = re.compile(r"(?<![\w.])[-+]?\d+(?:\.\d+)?")

pytestmark = pytest.mark.skipif(not NOTEBOOKS, reason="a source distribution has no notebooks")


def sheet_of(notebook):
    return notebook.parent / "instructor" / f"{notebook.stem}.md"


def alike(shown, printed):
    """Whether two texts have the same words, and numbers within 5 % or a unit of the last digit shown."""
    if NUMBER.sub("#", shown).split() != NUMBER.sub("#", printed).split():
        return False
    for one, other in zip(NUMBER.findall(shown), NUMBER.findall(printed), strict=True):
        unit = 10.0 ** -len(one.partition(".")[2])
        if abs(float(one) - float(other)) > max(0.05 * abs(float(one)), 1.001 * unit):
            return False
    return True


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_is_a_lesson(path):
    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    texts = [cell.source for cell in notebook.cells if cell.cell_type == "markdown"]
    codes = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert len(notebook.cells) <= MOST_CELLS
    assert re.match(rf"# {path.name[:2]} .+\?\n\n\*\*The question\.\*\* ", texts[0])
    assert "class of 20" in texts[0]
    headings = [line for text in texts for line in text.splitlines() if line.startswith("## ")]
    minutes = [int(re.search(r" \((\d+) min\)$", heading)[1]) for heading in headings]
    assert sum(minutes) == LESSON * (2 if path.stem == "11_weigh_a_leaf" else 1), headings
    names = [re.sub(r"^## | \(\d+ min\)$", "", heading) for heading in headings]
    assert (names[0], *names[-2:]) == ("A guess first", "Exercises", "What we do not know")
    assert [name[:2] for name in names[1:-2]] == [f"{n}." for n in range(1, len(names) - 2)]
    source = "\n".join(cell.source for cell in codes)
    guesses = re.findall(r"^(\w+) = Guess\(", source, re.M)
    assert guesses
    assert all(f"\n{guess}.compare(" in f"\n{source}" for guess in guesses)
    assert "\nslide(" in source
    assert codes[-1].source == "print(ws.CAUTIONS)"
    for cell in codes:
        assert cell.metadata["jupyter"]["source_hidden"]
        assert "hide-input" in cell.metadata["tags"]
        assert not cell.outputs


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_line_at_a_computed_value_is_named(path):
    """A line across a picture at 0, 1 or 100 % explains itself; one at a set point needs a label."""
    notebook = nbformat.read(path, as_version=4)
    source = "\n".join(cell.source for cell in notebook.cells if cell.cell_type == "code")
    for value, rest in re.findall(r"\.ax[hv]line\(([^,]+),(.*)\)$", source, re.M):
        assert re.fullmatch(r"[\d.]+", value) or " label=" in rest, value


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_every_exercise_has_its_solution(path):
    texts = [cell.source for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == "markdown"]
    (asked,) = [text for text in texts if text.startswith("## Exercises")]
    numbers = re.findall(r"^(\d+)\. ", asked, re.M)
    sheet = sheet_of(path).read_text(encoding="utf-8")
    assert sheet.startswith(f"# {texts[0].splitlines()[0].removeprefix('# ')} For the instructor\n")
    solutions = re.split(r"^### (\d+)\. ", sheet.partition("## Solutions\n")[2], flags=re.M)
    assert solutions[1::2] == numbers == [str(n + 1) for n in range(len(numbers))]
    assert len(numbers) >= 3
    assert all("```text\n" in solution for solution in solutions[2::2])


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_solutions_are_what_the_model_says(path):
    tool = runpy.run_path(str(ROOT / "tools/write_instructor_sheets.py"))
    blocks = list(tool["solved"](sheet_of(path)))
    assert blocks
    for code, shown, printed in blocks:
        assert alike(shown, printed), f"run tools/write_instructor_sheets.py\n{code}\n{shown}\n{printed}"


def test_what_is_not_alike():
    assert alike("100 um: 1.38 times", "100 um: 1.40 times")
    assert not alike("100 um: 1.38 times", "100 um: 1.58 times")
    assert not alike("3 quarts", "3 pints")


@pytest.fixture
def displayed(monkeypatch):
    """What is displayed: handles whose `shown` is replaced by updates."""
    handles = []

    def display(*objects, display_id=None):
        handle = SimpleNamespace(shown=objects[0])
        handle.update = lambda shown: setattr(handle, "shown", shown)
        handles.append(handle)
        return handle

    monkeypatch.setattr("IPython.display.display", display)
    return handles


def test_a_slider_draws_anew(displayed):
    def draw(humidity, mood):
        if mood == "cross":
            raise ws.InputError("no")
        figure, (axes,) = classroom.panels()
        axes.plot([0, humidity])
        return figure, f"{humidity:g} %"

    humidity = classroom.slider("humidity [%]", 30, 90, 0.5, 60)
    mood = classroom.choice("mood", ["calm", "cross"], "calm")
    classroom.slide(draw, humidity=humidity, mood=mood)
    _, picture, text = displayed
    first = picture.shown.data
    assert (first[:4], text.shown.data) == (b"\x89PNG", "60 %")
    humidity.value = 200  # kept within its bounds
    assert text.shown.data == "90 %"
    assert picture.shown.data != first
    mood.value = "cross"
    assert text.shown.data == "**Not possible:** no"


def test_a_guess_is_compared_when_there_is_one(displayed):
    guess = classroom.Guess("How long is a leaf wet?", "min")
    guess.compare(50.0)
    told = displayed[-1]
    assert "50" not in told.shown.data
    for text, verdict in (("48", "close"), ("100 min", "2 times too much"), ("12,5", "4 times too little")):
        guess.field.value = text
        assert f"**50 min**. Your guess: {guess.value:g}, {verdict}" in told.shown.data
    guess.field.value = "long"
    assert guess.value is None
    assert guess.computed == 50.0
    guess.field.value = "-3"
    assert "too little" in told.shown.data


def test_panels_lie_side_by_side():
    figure, axes = classroom.panels(2)
    assert isinstance(figure, Figure)
    assert len(axes) == 2
