"""Progress of long computations: a bar in a terminal or a notebook after two seconds, nothing elsewhere."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, TypeAlias

#: Called with what is done and all there is.
Progress: TypeAlias = Callable[[int, int], object]

_PATIENCE = 2.0  # s
#: Whether progress is told already, or nobody is to hear of it.
_told: ContextVar[bool] = ContextVar("told", default=False)


def _of_rich(*columns: Any) -> Any:
    """Return a bar of rich on standard error, with columns or the usual ones."""
    from rich import progress
    from rich.console import Console

    return progress.Progress(*columns, console=Console(stderr=True), transient=True)


class Bar:
    """Called with what is done and all there is; shows itself once that has taken a while."""

    def __init__(self, what: str) -> None:
        self._what, self._started = what, time.monotonic()
        self._bar: Any = None

    def __call__(self, done: int, of_all: int) -> None:
        if self._bar is None:
            if time.monotonic() - self._started < _PATIENCE:
                return
            self._bar = _of_rich()
            self._bar.start()
            self._bar.add_task(self._what, total=of_all)
        self._bar.update(self._bar.task_ids[0], completed=done, total=of_all)

    def stop(self) -> None:
        """Take the bar away."""
        if self._bar is not None:
            self._bar.stop()


@contextmanager
def shown(progress: Progress | None, what: str = "sprays") -> Iterator[Progress | None]:
    """Give the progress that a user asked for; without one a bar, where somebody can see it.

    Within it nothing else shows a bar: what is part of something larger is told by that.
    """
    bar = Bar(what) if progress is None and not _told.get() and _seen() else None
    with silent():
        try:
            yield progress or bar
        finally:
            if bar is not None:
                bar.stop()


@contextmanager
def working(what: str) -> Iterator[None]:
    """Tell that something is being done which cannot say how far it is, once it has taken a while."""
    if _told.get() or not _seen():
        yield
        return
    spinning: list[Any] = []

    def spin() -> None:
        from rich.progress import SpinnerColumn, TimeElapsedColumn

        spinner = _of_rich(SpinnerColumn(), what, TimeElapsedColumn())
        spinner.add_task(what, total=None)
        spinner.start()
        spinning.append(spinner)

    timer = threading.Timer(_PATIENCE, spin)
    timer.daemon = True
    timer.start()
    with silent():
        try:
            yield
        finally:
            timer.cancel()
            timer.join()
            for each in spinning:
                each.stop()


@contextmanager
def silent() -> Iterator[None]:
    """Show no bars."""
    before = _told.set(True)
    try:
        yield
    finally:
        _told.reset(before)


def _seen() -> bool:
    """Return whether somebody looks on: in a terminal, or in a notebook."""
    if sys.stderr is not None and sys.stderr.isatty():
        return True
    shell = getattr(sys.modules.get("IPython"), "get_ipython", lambda: None)()
    return type(shell).__name__ == "ZMQInteractiveShell"
