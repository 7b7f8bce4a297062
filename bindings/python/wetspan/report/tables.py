"""The look of every table that people read; pages to print take theirs from these."""

from __future__ import annotations

from rich.table import Table


def table(*headings: str) -> Table:
    """Return a plain table; a heading that ends in * is of numbers, set to the right."""
    made = Table(box=None, pad_edge=False, header_style="bold")
    for heading in headings:
        right = heading.endswith("*")
        made.add_column(heading.rstrip("*"), justify="right" if right else "left", no_wrap=right)
    return made
