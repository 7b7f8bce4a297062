"""The printable sheet of a plan: bench map, summary, cautions, and the table to fill in by hand."""

from __future__ import annotations

import io
from html import escape
from os import PathLike, fspath
from pathlib import Path
from textwrap import fill
from typing import Any

import matplotlib as mpl
import pandas as pd
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from wetspan.drawing import INK, MUTED
from wetspan.errors import InputError
from wetspan.trials.layout import codes
from wetspan.trials.planned import PlannedTrial
from wetspan.trials.plots import bench_map, draw_bench

PAGE = (8.27, 11.0)  # width of A4 and height of US Letter [in]: printed as it is on either
LINES = 46  # plants per page
FULL = 1.08  # widest table of a page, over its axes
LINE = 0.168  # height of a line of the summary [in]

_CSS = """
body { font: 15px/1.5 Georgia, serif; color: #22302b; max-width: 52rem; margin: 2rem auto; padding: 0 1rem }
h1 { font-size: 1.5rem } svg { width: 100%; height: auto }
table { border-collapse: collapse; width: 100%; font-size: .9rem } thead { display: table-header-group }
th, td { border: 1px solid #b9bfba; padding: .25rem .5rem; text-align: left } tr { break-inside: avoid }
td.fill { width: 16% } aside { border-left: 4px solid #b4532a; padding-left: 1rem }
"""


def save_sheet(plan: PlannedTrial, path: str | PathLike[str]) -> None:
    """Write `plan` to a .pdf or .html (map, text, table) or .png (map and text)."""
    target = Path(fspath(path))
    kind = target.suffix.lower()
    if kind == ".html":
        target.write_text(_html(plan), encoding="utf-8")
    elif kind == ".png":
        _first_page(plan).savefig(target, dpi=150)
    elif kind == ".pdf":
        with PdfPages(target) as pages:
            pages.savefig(_first_page(plan))
            table = _table(plan)
            for start in range(0, len(table), LINES):
                pages.savefig(_table_page(table.iloc[start : start + LINES], _height(plan)))
    else:
        raise InputError(f"{target.name}: the sheet is written as .pdf, .html or .png")


def _height(plan: PlannedTrial) -> str:
    return f"Height [{plan.height_unit}]"


def _table(plan: PlannedTrial) -> pd.DataFrame:
    mark = codes(plan.check, plan.treatments)
    table = plan.layout.rename(columns=str.capitalize)
    table.insert(5, "Mark", [mark[name] for name in table["Treatment"]])
    if plan.blocks == 1:
        table = table.drop(columns="Block")
    for name in (_height(plan), *plan.also, "Alive", "Notes"):
        table[name] = ""
    return table


def _first_page(plan: PlannedTrial) -> Figure:
    style: Any = {
        "text.color": INK,
        "axes.labelcolor": INK,
        "legend.frameon": False,
        "axes.titlelocation": "left",
    }
    with mpl.rc_context(style):
        figure = Figure(figsize=PAGE)
        rows, columns = plan.bench
        keys = len(plan.treatments) + 1 + bool(plan.guards) + (plan.blocks > 1)
        legend = 0.75 + 0.22 * ((keys + 1) // 2)  # [in], with what is around it
        summary = "\n\n".join(fill(line, 104) for line in plan.text.splitlines() if line)
        left = 0.92 * PAGE[1] - legend - LINE * (summary.count("\n") + 1)
        cell = max(0.1, min(0.8 * PAGE[0] / columns, left / rows, 0.55))  # [in]
        width, height = cell * columns / PAGE[0], cell * rows / PAGE[1]
        draw_bench(figure.add_axes((0.1, 0.94 - height, width, height)), plan, cell, legend_below=True)
        below = 0.94 - height - legend / PAGE[1]
        figure.text(0.1, below, summary, va="top", fontsize=9, linespacing=1.3)
    return figure


def _table_page(table: pd.DataFrame, height: str) -> Figure:
    with mpl.rc_context({"text.color": INK}):
        figure = Figure(figsize=PAGE)
        ax = figure.add_axes((0.06, 0.04, 0.88, 0.92))
        ax.axis("off")
        least = {height: 0.12, "Notes": 0.2}
        longest = [max(len(str(cell)) for cell in (name, *table[name])) for name in table.columns]
        widths = [
            max(least.get(str(name), 0.08), 0.03 + 0.0105 * count)
            for name, count in zip(table.columns, longest, strict=True)
        ]
        smaller = min(1.0, FULL / sum(widths))
        drawn = ax.table(
            table.astype(str).to_numpy().tolist(), colLabels=list(table.columns), loc="upper center",
            cellLoc="left",
            colWidths=[smaller * width for width in widths],
        )  # fmt: skip
        drawn.auto_set_font_size(False)
        drawn.set_fontsize(8.5 * smaller)
        for (line, _), cell in drawn.get_celld().items():
            cell.set(edgecolor=MUTED, linewidth=0.5, height=1 / (LINES + 1))
            if line == 0:
                cell.set_text_props(weight="bold")
    return figure


def _html(plan: PlannedTrial) -> str:
    picture = io.StringIO()
    bench_map(plan).savefig(picture, format="svg", metadata={"Date": None})
    svg = picture.getvalue()
    svg = svg[svg.index("<svg") :]
    plain, _, cautions = plan.text.partition("\n\n")
    table = _table(plan)
    head = "".join(f"<th>{escape(str(name))}</th>" for name in table.columns)
    body = "\n".join(
        "<tr>"
        + "".join(f"<td>{escape(str(cell))}</td>" if str(cell) else '<td class="fill"></td>' for cell in row)
        + "</tr>"
        for row in table.itertuples(index=False)
    )
    paragraphs = "\n".join(f"<p>{escape(line)}</p>" for line in plain.splitlines())
    warned = "\n".join(f"<p>{escape(line)}</p>" for line in cautions.splitlines())
    return (
        '<!doctype html>\n<html lang="en"><meta charset="utf-8"><title>Trial sheet</title>\n'
        f"<style>{_CSS}</style>\n"
        f"<h1>Trial against {escape(plan.check)}</h1>\n{paragraphs}\n<aside>{warned}</aside>\n{svg}\n"
        f"<table><thead><tr>{head}</tr></thead><tbody>\n{body}\n</tbody></table></html>\n"
    )
