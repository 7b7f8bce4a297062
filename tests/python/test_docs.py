"""Pages and notebooks: written from the model where they can be, no dead ends, no stale outputs."""

import inspect
import json
import re
import runpy
from collections import Counter
from pathlib import Path

import pytest
import wetspan as ws
from wetspan.command_line import main
from wetspan.parameters import TABLE

ROOT = Path(__file__).parents[2]
PAGES = sorted((*ROOT.glob("*.md"), *ROOT.glob("docs/**/*.md")))

pytestmark = pytest.mark.skipif(not (ROOT / "docs").is_dir(), reason="a source distribution has no docs")


def test_parameter_table_is_current():
    tool = runpy.run_path(str(ROOT / "tools/write_parameter_table.py"))
    assert tool["PAGE"].read_text(encoding="utf-8") == tool["page"](), "run tools/write_parameter_table.py"


def test_parameter_table_names_every_choice():
    lines = (ROOT / "docs/parameters.md").read_text(encoding="utf-8").splitlines()
    choices = {key: row.choices for key, row in TABLE.items() if row.kind == "choice"}
    assert "drench" in choices["application.method"]
    for key, names in choices.items():
        (line,) = [line for line in lines if line.startswith(f"| `{key}` |")]
        assert sorted(re.split(", | or ", line.split(" | ")[2])) == sorted(names)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_links_lead_somewhere(page):
    links = re.findall(r"\]\(([^)#\s]+)[^)]*\)", page.read_text(encoding="utf-8"))
    missing = [link for link in links if "://" not in link and not (page.parent / link).exists()]
    assert missing == []


def test_every_reference_table_is_on_the_validation_page():
    validation = (ROOT / "docs/validation.md").read_text(encoding="utf-8")
    tables = [path.name for path in (ROOT / "tests/reference").glob("*.csv")]
    assert tables
    assert [name for name in tables if f"tests/reference/{name}" not in validation] == []


def test_every_constant_stands_in_one_file():
    tool = runpy.run_path(str(ROOT / "tools/write_constants.py"))
    assert len(tool["numbers"]()) > 200
    assert tool["strays"]() == []
    assert len(tool["python_numbers"]()) > 10
    assert tool["python_strays"]() == []
    assert tool["PAGE"].read_text(encoding="utf-8") == tool["page"](), "run tools/write_constants.py"


def test_a_stray_constant_is_found(tmp_path):
    tool = runpy.run_path(str(ROOT / "tools/write_constants.py"))
    for name, line in (
        ("a.cpp", "double a = 8.3145e0;"),
        ("b.cpp", "f(8.3145);  // 8.3145"),
        ("c.cpp", "// 8.3145"),
    ):
        (tmp_path / "lib/src").mkdir(parents=True, exist_ok=True)
        (tmp_path / "lib/src" / name).write_text(line + "\n", encoding="utf-8")
    for name, line in (("python/wetspan/d.py", "x = 8.3145"), ("cpp/e.cpp", "g(8.3145, 8.3);")):
        (tmp_path / "bindings" / name).parent.mkdir(parents=True)
        (tmp_path / "bindings" / name).write_text(line + "\n", encoding="utf-8")
    tool["numbers"].__globals__["ROOT"] = tmp_path
    assert "8.3145 stands in src/a.cpp:1, src/b.cpp:1, bindings/cpp/e.cpp:1" in tool["strays"]()
    assert "8.3145 stands in d.py:1 and in src/a.cpp" in tool["python_strays"]()


TWICE = 6  # lines of code that may not stand in two places


def code_lines(path):
    """Lines of a C++ file that say something: no blanks, braces, comments or includes."""
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        text = re.sub(r"//.*", "", line).strip()
        if len(text) > 3 and not text.startswith("#include"):
            yield number, text


def standing_twice(paths):
    """Places of every run of lines that stands at more than one place."""
    places = {}
    for path in paths:
        lines = list(code_lines(path))
        for first in range(len(lines) - TWICE + 1):
            text = "\n".join(line for _, line in lines[first : first + TWICE])
            places.setdefault(text, []).append(f"{path.name}:{lines[first][0]}")
    return [found for found in places.values() if len(found) > 1]


def test_no_six_lines_of_the_library_stand_twice():
    folders = ("lib", "bindings/cpp", "bindings/web", "benchmarks")  # each example stands alone
    sources = sorted(path for folder in folders for path in (ROOT / folder).rglob("*.?pp"))
    assert len(sources) > 100
    assert standing_twice(sources) == []


def test_lines_that_stand_twice_are_found(tmp_path):
    lines = [f"double x{i} = {i}.0;" for i in range(TWICE)]
    (tmp_path / "a.cpp").write_text("\n".join(lines), encoding="utf-8")
    (tmp_path / "b.cpp").write_text(
        "{\n" + "\n\n".join(f"  {line}  // b" for line in lines), encoding="utf-8"
    )
    paths = sorted(tmp_path.glob("*.cpp"))
    assert standing_twice(paths) == [["a.cpp:1", "b.cpp:2"]]
    assert standing_twice(paths[:1]) == []


def test_validation_page_is_written_from_its_table():
    tool = runpy.run_path(str(ROOT / "tools/write_validation.py"))
    assert tool["PAGE"].read_text(encoding="utf-8") == tool["page"](), "run tools/write_validation.py"


def test_validation_table_has_every_published_value():
    """What ours is today, the gate compares when all tests have run (nox -s validation)."""
    tool = runpy.run_path(str(ROOT / "tools/write_validation.py"))
    names = ("table", "quantity", "inputs", "source")
    held = {tuple(row[name] for name in names): row for row in tool["read_table"]()}
    known = tool["published"]()
    assert set(known) == set(held), "see DEVELOPERS.md, Published values"
    for key, value in known.items():
        row = held[key]
        assert (float(row["published"]), row["unit"], row["mark"]) == value
    assert Counter(row["quantity"] for row in tool["read_table"]() if row["hit"] == "miss") == {
        "terminal speed of a flattened drop": 12,
        "fall of the temperature of sunlit leaves in fog": 1,
        "fall of the temperature of shaded leaves in fog": 2,
        "leaves less air in a rose house": 1,
        "share that leaves a hydrophilic leaf": 2,
        "spread area at 7.0 over 3.5 m/s": 3,
        "spread area over the droplet's section, 481 over 175 um": 3,
        "canopy cover": 2,
        "share of a boom's spray on plants over their cover": 5,
        "share of a boom's spray that reaches the top of the crop": 1,
        "share of a spray that level leaves retain": 2,
        "droplets caught per surface, stems over leaves": 1,
        "share that falls between pots that touch": 1,
        "share of a sprayed triazole that leaches in a season": 1,
        "stemflow over rain, maize": 1,
        "stemflow over rain, maize by leaf area": 2,
        "ground losses at 2000 over 1000 kPa": 1,
        "residue of a drench in roots": 1,
    }


def test_every_published_value_is_of_a_kind_and_a_hit_that_says_little_is_marked():
    tool = runpy.run_path(str(ROOT / "tools/write_validation.py"))
    compared = [row for row in tool["read_table"]() if row["ours"]]
    assert set(map(tool["kind_of"], compared)) == set(tool["KINDS"])
    for begins in tool["KIND_OF"]:
        assert any(f"{row['quantity']} / {row['by']}".startswith(begins) for row in compared), begins
    with pytest.raises(SystemExit, match="KIND_OF_TABLE"):
        tool["kind"]("clouds", "albedo", "")

    def weak(ours, low, high, value=1.0):
        return tool["weakness"](tool["Comparison"](None, "", ours, low, high), value)

    assert weak(1.0, 1.0, float("inf")) == weak(0.5, 0.0, 1.0) == "one-sided"
    assert weak(1.0, 0.5, 1.5) == "wide"
    assert weak(-1.0, -1.5, -0.5, -1.0) == "wide"
    assert weak(1.095, 0.9, 1.1) == weak(0.905, 0.9, 1.1) == "edge"
    assert weak(1.08, 0.9, 1.1) == weak(1.0, 1.0, 1.0) == ""


@pytest.mark.parametrize("path", sorted(ROOT.glob("notebooks/*.ipynb")), ids=lambda path: path.stem)
def test_notebooks_are_kept_without_outputs(path):
    notebook = json.loads(path.read_text(encoding="utf-8"))
    assert notebook["metadata"]["kernelspec"]["name"] == "python3"
    for cell in notebook["cells"]:
        assert not cell.get("outputs")
        assert cell.get("execution_count") is None


def test_readme_runs_as_it_stands(tmp_path, monkeypatch, capsys):
    (code,) = re.findall(r"```python\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.S)
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    monkeypatch.chdir(tmp_path)
    exec(code, {})
    assert re.fullmatch(r"\d+ min wet, plants \d+% shorter\n", capsys.readouterr().out)
    assert (tmp_path / "day.png").read_bytes().startswith(b"\x89PNG")


def test_every_public_name_of_python_is_documented():
    page = (ROOT / "docs/api/python.rst").read_text(encoding="utf-8")
    listed = re.findall(r"^\.\. auto\w+:: wetspan\.(\w+)$", page, re.M)
    assert sorted(listed) == sorted(ws.__all__)
    offered = {name: getattr(ws, name) for name in ws.__all__ if not isinstance(getattr(ws, name), str)}
    for name, each in list(offered.items()):
        if inspect.isclass(each) or inspect.ismodule(each):
            inside = {f"{name}.{part}": getattr(each, part) for part in dir(each) if not part.startswith("_")}
            offered |= {
                path: part for path, part in inside.items() if callable(part) or isinstance(part, property)
            }
    assert len(offered) > 150
    assert [name for name, each in offered.items() if not inspect.getdoc(each)] == []


def test_every_command_has_a_page(capsys):
    with pytest.raises(SystemExit):
        main(["--help"])
    commands = re.findall(r"^    ([a-z]+)(?: |$)", capsys.readouterr().out, re.M)
    assert {"run", "day", "trial"} <= set(commands)
    pages = "".join(path.read_text(encoding="utf-8") for path in ROOT.glob("docs/how_to/*.md"))
    assert [command for command in commands if not re.search(rf"wetspan {command}\b", pages)] == []


def test_every_header_of_cpp_has_its_place():
    """Comments within the headers: nox -s docs."""
    pages = "".join(path.read_text(encoding="utf-8") for path in ROOT.glob("docs/api/cpp/*.rst"))
    headers = [path.name for path in (ROOT / "lib/include").rglob("*.hpp") if path.name != "wetspan.hpp"]
    assert sorted(re.findall(r"^\.\. doxygenfile:: (\S+)$", pages, re.M)) == sorted(headers)
