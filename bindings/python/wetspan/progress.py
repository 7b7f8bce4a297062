"""Progress of what takes long: a bar in a terminal or a notebook after two seconds, silence elsewhere."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

_PATIENCE = 2.0  # s


class Bar:
    """Called with what is done and all there is; shows itself once that has taken a while."""

    def __init__(self, what: str) -> None:
        self._what, self._started = what, time.monotonic()
        self._bar: Any = None

    def __call__(self, done: int, of_all: int) -> None:
        if self._bar is None:
            if time.monotonic() - self._started < _PATIENCE:
                return
            from rich.console import Console
            from rich.progress import Progress

            self._bar = Progress(console=Console(stderr=True), transient=True)
            self._bar.start()
            self._bar.add_task(self._what, total=of_all)
        self._bar.update(self._bar.task_ids[0], completed=done)

    def stop(self) -> None:
        """Take the bar away."""
        if self._bar is not None:
            self._bar.stop()


@contextmanager
def shown(
    progress: Callable[[int, int], object] | None, what: str = "sprays"
) -> Iterator[Callable[[int, int], object] | None]:
    """Give the progress that a user asked for; without one a bar, where somebody can see it."""
    if progress is not None or not _seen():
        yield progress
        return
    bar = Bar(what)
    try:
        yield bar
    finally:
        bar.stop()


def _seen() -> bool:
    """Return whether somebody looks on: in a terminal, or in a notebook."""
    if sys.stderr is not None and sys.stderr.isatty():
        return True
    shell = getattr(sys.modules.get("IPython"), "get_ipython", lambda: None)()
    return type(shell).__name__ == "ZMQInteractiveShell"
