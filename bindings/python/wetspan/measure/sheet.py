"""The printable sheet of a measurement: cautions, instructions, and the table to fill in by hand."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from os import PathLike, fspath
from pathlib import Path
from textwrap import fill
from typing import Any

import pandas as pd

from wetspan.cautions import CAUTIONS
from wetspan.errors import InputError
from wetspan.files import write_text, written

NO_ACTIVE = (
    "This needs no active ingredient at all: use plain water with a drop of food dye. If you weigh a real"
    " spray all the same, wear gloves and what else the label asks for, and keep its re-entry time."
)
PAGE = (8.27, 11.0)  # width of A4 and height of US Letter [in]: printed as it is on either
LINES = 44  # rows of the table on a page

_CSS = """
body { font: 15px/1.5 Georgia, serif; color: #22302b; max-width: 54rem; margin: 2rem auto; padding: 0 1rem }
h1 { font-size: 1.5rem } table { border-collapse: collapse; width: 100%; font-size: .85rem }
thead { display: table-header-group } tr { break-inside: avoid }
th, td { border: 1px solid #b9bfba; padding: .3rem .4rem; text-align: left; height: 1.1rem }
aside { border-left: 4px solid #b4532a; padding-left: 1rem }
"""


@dataclass(frozen=True)
class Sheet:
    """What is printed; the first of the paragraphs is the caution that comes first."""

    title: str
    paragraphs: list[str]
    steps: list[str]
    table: pd.DataFrame


class Planned:
    """What every planned measurement has in common."""

    #: The caution that is read first.
    first_caution = NO_ACTIVE

    @property
    def lines(self) -> list[str]:
        """What to do, and what it decides."""
        raise NotImplementedError

    def sheet(self) -> Sheet:
        """The sheet to print and fill in."""
        raise NotImplementedError

    @property
    def text(self) -> str:
        """The plan in plain sentences, cautions first and last."""
        return "\n".join([self.first_caution, "", *self.lines, "", CAUTIONS])

    def save_sheet(self, path: str | PathLike[str]) -> None:
        """Write the sheet: .pdf or .html to print, .csv to fill in."""
        save_sheet(self.sheet(), path)


def save_sheet(sheet: Sheet, path: str | PathLike[str]) -> None:
    """Write a sheet as .pdf or .html to print, or its table as .csv to fill in."""
    kind = Path(fspath(path)).suffix.lower()
    if kind == ".html":
        write_text(path, _html(sheet))
    elif kind == ".csv":
        with written(path) as beside:
            sheet.table.to_csv(beside, index=False)
    elif kind == ".pdf":
        with written(path) as beside:
            _pdf(sheet, beside)
    else:
        raise InputError(f"{Path(fspath(path)).name}: the sheet is written as .pdf, .html or .csv")


def _html(sheet: Sheet) -> str:
    first, *others = sheet.paragraphs
    head = "".join(f"<th>{escape(str(name))}</th>" for name in sheet.table.columns)
    body = "\n".join(
        "<tr>" + "".join(f"<td>{escape(str(cell))}</td>" for cell in row) + "</tr>"
        for row in sheet.table.itertuples(index=False)
    )
    steps = "\n".join(f"<li>{escape(step)}</li>" for step in sheet.steps)
    said = "\n".join(f"<p>{escape(line)}</p>" for line in others)
    return (
        f'<!doctype html>\n<html lang="en"><meta charset="utf-8"><title>{escape(sheet.title)}</title>\n'
        f"<style>{_CSS}</style>\n<h1>{escape(sheet.title)}</h1>\n<aside><p>{escape(first)}</p></aside>\n{said}\n"
        f"<ol>{steps}</ol>\n<table><thead><tr>{head}</tr></thead><tbody>\n{body}\n</tbody></table>\n"
        f"<p>{escape(CAUTIONS)}</p></html>\n"
    )


def _pdf(sheet: Sheet, path: Path) -> None:
    import matplotlib as mpl
    from matplotlib.backends.backend_pdf import PdfPages
    from matplotlib.figure import Figure

    from wetspan.drawing import INK, MUTED  # which loads matplotlib

    style: Any = {"text.color": INK}
    with PdfPages(path) as pages, mpl.rc_context(style):
        page = Figure(figsize=PAGE)
        page.text(0.09, 0.94, sheet.title, fontsize=16, fontweight="bold", va="top")
        said = [fill(line, 92) for line in sheet.paragraphs]
        said += [fill(f"{i}. {step}", 92, subsequent_indent="   ") for i, step in enumerate(sheet.steps, 1)]
        page.text(0.09, 0.89, "\n\n".join([*said, fill(CAUTIONS, 92)]), fontsize=9, va="top", linespacing=1.3)
        pages.savefig(page)
        for start in range(0, len(sheet.table), LINES):
            page = Figure(figsize=PAGE)
            ax = page.add_axes((0.05, 0.04, 0.90, 0.92))
            ax.axis("off")
            part = sheet.table.iloc[start : start + LINES].astype(str)
            drawn = ax.table(
                part.to_numpy().tolist(),
                colLabels=[str(name).replace(" [", "\n[") for name in part.columns],
                loc="upper center",
                cellLoc="left",
            )
            drawn.auto_set_font_size(False)
            drawn.set_fontsize(7.5)
            for (line, _), cell in drawn.get_celld().items():
                cell.set(edgecolor=MUTED, linewidth=0.5, height=(1.6 if line == 0 else 1.0) / (LINES + 2))
            pages.savefig(page)
