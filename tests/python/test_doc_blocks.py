"""Every block of code on the pages runs, in its order, in an empty folder with the examples.

Python blocks of a page share their names. A CSV or TOML block is written to the file named last before it,
if there is one. A console block runs each line that starts with `$ wetspan`; what the page shows below such a
line must be what it prints, where `...` stands for any text. What cannot run here has a comment before it,
`<!-- not run: why -->`. Blocks of other kinds are not run here: they build, install, or need own files.
"""

import contextlib
import io
import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from wetspan.command_line import main

ROOT = Path(__file__).parents[2]
PAGES = sorted(ROOT.glob("docs/**/*.md"))  # README.md: test_docs.py
BLOCK = re.compile(r"(?:<!-- not run: (.+?) -->\n+)?```(\w+)\n(.*?)```", re.S)
FILE = re.compile(r"`([\w.-]+\.(?:csv|toml))`")
OTHERS = {"cpp", "sh", "text", "json", "bibtex"}  # C++ of README.md: nox -s consumer

pytestmark = pytest.mark.skipif(not (ROOT / "docs").is_dir(), reason="a source distribution has no docs")


class Block(NamedTuple):
    kind: str
    text: str
    line: int
    file: str
    skipped: str


def blocks(page: Path) -> Iterator[Block]:
    """The blocks of a page, with the file that the text before each one names."""
    text = page.read_text(encoding="utf-8")
    for found in BLOCK.finditer(text):
        named = FILE.findall(text, 0, found.start())
        line = text.count("\n", 0, found.start(3))
        yield Block(found[2], found[3], line, named[-1] if named else "", found[1] or "")


def printed(command: str) -> str:
    """What a command prints; `> file` sends it to a file."""
    words = shlex.split(command, comments=True)
    to = None
    if ">" in words:
        to = words[words.index(">") + 1]
        words = words[: words.index(">")]
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        assert main(words[1:]) == 0, command
    if to:
        Path(to).write_text(out.getvalue(), encoding="utf-8")
        return ""
    return out.getvalue()


def run_console(text: str) -> None:
    """Run the commands of a console block, and hold what each prints against what is shown below it."""
    for entry in re.split(r"^\$ ", text, flags=re.M)[1:]:
        command, _, shown = entry.partition("\n")
        if not command.startswith("wetspan"):
            continue
        told = "\n".join(line.rstrip() for line in printed(command).splitlines()).strip()
        pattern = re.escape(shown.strip()).replace(r"\.\.\.", ".*")
        assert not shown.strip() or re.fullmatch(pattern, told, re.S), f"{command}\n{told}"


def run_block(block: Block, page: Path, names: dict[str, Any]) -> None:
    if block.kind == "python":
        exec(compile("\n" * block.line + block.text, str(page), "exec"), names)
    elif block.kind in ("csv", "toml"):
        if block.file.endswith(block.kind):
            Path(block.file).write_text(block.text, encoding="utf-8")
    elif block.kind == "console":
        run_console(block.text)
    else:
        assert block.kind in OTHERS, f"{page}:{block.line}: how is '{block.kind}' run?"


@pytest.mark.parametrize(
    "page",
    [page for page in PAGES if any(block.kind not in OTHERS for block in blocks(page))],
    ids=lambda page: str(page.relative_to(ROOT)),
)
def test_blocks_run(page, tmp_path, monkeypatch, recwarn):
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    monkeypatch.chdir(tmp_path)
    names: dict[str, Any] = {}
    for block in blocks(page):
        if not block.skipped:
            run_block(block, page, names)


def test_a_console_block_that_shows_something_else_fails():
    run_console("$ wetspan parameters leaf.width\n...\n")
    with pytest.raises(AssertionError):
        run_console("$ wetspan parameters leaf.width\nnothing of the kind\n")
