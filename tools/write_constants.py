"""Write docs/constants.md: every physical constant and published correlation, and the one file it stands in.

    python tools/write_constants.py

A number of three or more significant digits is taken for a physical constant or a fitted coefficient; one
that stands in two files of the library and its bindings is a stray, unless ALLOWED says why. So is a number
of four or more digits that stands both there and in the Python package. Inputs have a page of their own
(docs/parameters.md), so their rows are left out.
"""

from __future__ import annotations

import io
import re
import sys
import tokenize
from collections import defaultdict
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs/constants.md"
FEWEST_DIGITS = 3
FEWEST_IN_PYTHON = 4  # shorter ones are colours, sizes and shares that only happen to be equal

# why a number may stand in several files
ALLOWED = {
    273.15: "0 degC; in fitted_air.hpp the end of the range that is fitted",
    293.15: "20 degC: temperature at which solubility is stated; a default",
    298.15: "25 degC: temperature at which permeance is stated; any would do in uptake_equations.cpp",
    323.15: "end of a range: the hottest air that droplets are flown in, and sprayed liquid",
    101325.0: "the standard atmosphere; a default in flight.hpp",
    0.125: "an eighth: Langmuir and Blodgett's least K for a hit, and a pot of 12.5 cm",
    0.625: "5/8: an exponent of the heat of cylinders, and a coefficient of water's surface tension",
    0.657: "exponent of Turton and Levenspiel's drag; flight_kernel.hpp fits in this power of Re",
    1.25: "a quarter more: a lever of why.cpp, and the spread of an input of the bindings",
    86400.0: "seconds of a day",
}
ALLOWED_IN_PYTHON = {
    273.15: "0 degC, where temperatures are shown",
    293.15: "20 degC: the liquid at the nozzle of a calculator",
    333.15: "60 degC: the hottest air that a record may state",
    273.16: "where liquid water begins, for the density of what was weighed",
    323.15: "where the library's liquids end, likewise",
}

NUMBER = re.compile(r"(?<![\w.])((?:\d[\d']*\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)(?![\w.])")
WORD = re.compile(r"(?<![\w\[(/])[A-Za-z]{2,}(?![\w\])(/])")
NAME = r"[A-Z][\w'-]+"
PUBLISHED = re.compile(
    r"ASHRAE \d{4}(?: eqs?\. \d+(?:(?:,| and) \d+)*)?"
    r"|IAPWS [A-Z]+[\d-]+(?:\(\d{4}\))?(?: eq\. \d+)?"
    rf"|(?:Warren )?{NAME}(?:, {NAME})*(?: (?:and|&) {NAME}| et al\.)? \(?(?:1[89]|20)\d\d\b\)?"
    r"(?:,? \(?(?:from memory|seen as abstract)\b\)?)?"
)


def library() -> list[Path]:
    return sorted(path for folder in ("include", "src") for path in (ROOT / "lib" / folder).rglob("*.?pp"))


def sources() -> list[Path]:
    bindings = (path for folder in ("cpp", "web") for path in (ROOT / "bindings" / folder).rglob("*.?pp"))
    return library() + sorted(bindings)


def name_of(path: Path) -> str:
    inside = path.relative_to(ROOT)
    return str(inside.relative_to("lib") if inside.parts[0] == "lib" else inside)


def code(path: Path) -> list[str]:
    """A file's lines without text, comments and the rows of the tables of inputs."""
    text = re.sub(r'"(?:\\.|[^"\\])*"', '""', path.read_text(encoding="utf-8"))
    lines, in_row = [], False
    for line in re.sub(r"//[^\n]*", "", text).split("\n"):
        in_row = in_row or re.match(r"\s+P\(\w", line) is not None
        lines.append("" if in_row else line)
        in_row = in_row and line.rstrip().endswith("\\")
    return lines


def significant(number: str) -> int:
    return len(number.lower().split("e")[0].replace("'", "").replace(".", "").strip("0"))


def numbers() -> dict[float, dict[str, int]]:
    """Every number of many digits, with the files and first lines that it stands in."""
    found: dict[float, dict[str, int]] = defaultdict(dict)
    for path in sources():
        for place, line in enumerate(code(path), 1):
            for match in NUMBER.finditer(line):
                if significant(match[1]) >= FEWEST_DIGITS:
                    found[float(match[1].replace("'", ""))].setdefault(name_of(path), place)
    return dict(sorted(found.items()))


def python_numbers() -> dict[float, list[str]]:
    """Every number of many digits in the Python package, with its places."""
    found: dict[float, list[str]] = defaultdict(list)
    for path in sorted((ROOT / "bindings/python/wetspan").rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        for token in tokenize.generate_tokens(io.StringIO(text).readline):
            if token.type == tokenize.NUMBER and not token.string.lower().startswith(("0x", "0b", "0o")):
                number = token.string.replace("_", "")
                if not number.lower().endswith("j") and significant(number) >= FEWEST_IN_PYTHON:
                    found[float(number)].append(f"{path.name}:{token.start[0]}")
    return found


def python_strays() -> list[str]:
    """Numbers in the Python package and in the library that ALLOWED_IN_PYTHON does not explain."""
    ours, theirs = numbers(), python_numbers()
    both = [value for value in theirs if value in ours]
    return [
        f"{value!r} stands in {', '.join(theirs[value])} and in {next(iter(ours[value]))}"
        for value in both
        if value not in ALLOWED_IN_PYTHON
    ] + [
        f"{value!r} is in ALLOWED_IN_PYTHON and not in both"
        for value in ALLOWED_IN_PYTHON
        if value not in both
    ]


def strays() -> list[str]:
    """Numbers in several files that ALLOWED does not explain, and reasons for what is no stray."""
    several = {value: files for value, files in numbers().items() if len(files) > 1}
    told = [
        f"{value!r} stands in " + ", ".join(f"{file}:{line}" for file, line in files.items())
        for value, files in several.items()
        if value not in ALLOWED
    ]
    return told + [
        f"{value!r} is in ALLOWED and stands in one file" for value in ALLOWED if value not in several
    ]


def named() -> list[tuple[str, str, str, str]]:
    """Named constants: name, value, what its comment says, file."""
    rows = []
    one = re.compile(r"^\s*(?:inline |static )*constexpr (?:double|int|auto) (\w+ = [^;{]+);\s*(?://(.*))?$")
    for path in library():
        lines = path.read_text(encoding="utf-8").split("\n")
        above: list[str] = []
        for place, line in enumerate(lines):
            if match := one.match(line):
                beside = match[2] and " ".join([match[2], *continued(lines, place)])
                enough = beside and len(WORD.findall(beside)) > 1
                comment = " ".join([*([] if enough else above), beside or ""]).strip(" /<")
                each = re.split(r", (?=\w+ = )", match[1])
                parts = re.split(r"[;,] (?=\[)|; ", comment)
                if len(parts) != len(each) or ". " in comment:
                    parts = [comment] * len(each)
                for constant, says in zip(each, parts, strict=True):
                    name, _, value = constant.partition(" = ")
                    if says:
                        rows.append((name, value, says, name_of(path)))
            elif line.strip().startswith("//"):
                begins = place == 0 or not lines[place - 1].strip().startswith("//")
                above = [*([] if begins else above), line.strip().lstrip("/ ")]
            else:
                above = []
    return rows


def continued(lines: list[str], place: int) -> list[str]:
    """What the comment beside a constant says in the lines below, where it starts in the same column."""
    column, more = lines[place].index("//"), []
    for line in lines[place + 1 :]:
        if line.find("//") != column or line[:column].strip():
            break
        more.append(line[column + 2 :].strip())
    return more


DECLARED = re.compile(
    r"(?:\s*template <[^\n]*>\n)?"
    r"(?:\s*(?:enum class|struct|class) (\w+)"  # a type
    r"|(?!\s*(?:return|using|case|if|for)\b)\s*(?:\[\[[\w:]+\]\] )?"
    r"[\w:<>,&*\s\[\]]*?[\s&*](\w+)\()"  # a function
)


def correlations() -> list[tuple[str, str, str, str]]:
    """Functions and types whose comment names a publication: name, quantity, publications, file."""
    rows = []
    commented = re.compile(r"((?:^[ ]*//[^\n]*\n)+)(?=((?:template[^\n]*\n)?[^\n]*(?:\n[^\n]*)?))", re.M)
    for path in library():
        for comment, below in commented.findall(path.read_text(encoding="utf-8")):
            if not (declared := DECLARED.match(below)):
                continue
            text = " ".join(line.strip().lstrip("/<").strip() for line in comment.splitlines())
            if published := dict.fromkeys(match[0] for match in PUBLISHED.finditer(text)):
                quantity = re.split(r"(?<!\.)[.:;] ", text + " ")[0]
                remembered = " (both from memory)" if "oth from memory" in text else ""
                sources = "; ".join(map(closed, published)) + remembered
                rows.append((declared[1] or declared[2], quantity, sources, name_of(path)))
    return rows


def closed(source: str) -> str:
    """A source without a bracket that is not closed."""
    return source if source.count("(") == source.count(")") else source.replace("(", "").replace(")", "")


def cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|")


def page() -> str:
    """The page's text."""
    out = [
        "<!-- Written by tools/write_constants.py from the sources; do not edit. -->",
        "",
        "# Constants and correlations, and the file of each",
        "",
        "Paths are below `lib`. The page on [parameters](parameters.md) lists the inputs, and the page on",
        "[validation](validation.md) the comparisons with published values.",
        "",
        "## Published correlations",
        "",
        "The comment of each function states its equation, its range and its source.",
        "",
        "| Function | Quantity | Published in | File |",
        "|---|---|---|---|",
    ]
    out += [
        f"| `{name}` | {cell(quantity)} | {cell(published)} | `{file}` |"
        for name, quantity, published, file in correlations()
    ]
    out += ["", "## Named constants", "", "| Name | Value | What | File |", "|---|---|---|---|"]
    out += [
        f"| `{name}` | `{cell(value)}` | {cell(says)} | `{file}` |" for name, value, says, file in named()
    ]
    out += [
        "",
        "## Numbers of three or more digits",
        "",
        "Each of these numbers, most of them coefficients of fits, occurs in one file only.",
        "",
        "| File | Numbers |",
        "|---|---|",
    ]
    by_file: dict[str, list[str]] = defaultdict(list)
    for value, files in numbers().items():
        if len(files) == 1:
            by_file[next(iter(files))].append(f"{value!r}")
    out += [f"| `{file}` | {', '.join(values)} |" for file, values in sorted(by_file.items())]
    out += ["", "These occur in several files, for a reason:", "", "| Number | Why |", "|---|---|"]
    out += [f"| {value!r} | {why} |" for value, why in sorted(ALLOWED.items())]
    return "\n".join(out) + "\n"


def main() -> int:
    told = strays() + python_strays()
    print(*told, sep="\n")
    PAGE.write_text(page(), encoding="utf-8")
    return bool(told)


if __name__ == "__main__":
    sys.exit(main())
