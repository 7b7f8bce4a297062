"""Pictures as files."""

from __future__ import annotations

import os
from pathlib import Path

from matplotlib.figure import Figure

from wetspan.errors import InputError
from wetspan.files import written

_FORMATS = (".png", ".svg", ".pdf")


def save(figure: Figure, path: str | os.PathLike[str]) -> None:
    """Write a figure to a PNG, SVG or PDF file."""
    check_path(path)
    with written(path) as beside:
        figure.savefig(beside, dpi=150)


def check_path(path: str | os.PathLike[str]) -> None:
    """Raise InputError unless the path is one that `save` can write a picture to."""
    name = os.fspath(path)
    if Path(path).suffix.lower() not in _FORMATS:
        raise InputError(f"{name}: a picture is written as {', '.join(_FORMATS)}; this name ends otherwise")
    if not Path(path).parent.is_dir():
        raise InputError(f"{name}: there is no folder '{Path(path).parent}' to put it in")
