"""What can go wrong for a person: one type per failure, each message one line."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches


class InputError(ValueError):
    """An input that is not allowed: wrong name, wrong kind, out of bounds, inconsistent.

    The message says what was given, what is allowed and, where one is close, the name that was probably
    meant.
    """


class IntegrationError(RuntimeError):
    """An integration that could not be finished within its step bounds.

    The message says the time reached, the state, and the input most likely at fault.
    """


def nearest(name: str, options: Iterable[str]) -> str:
    """Return "did you mean 'x'?" for the options closest to `name` (three at most), "" if none is close.

    Upper and lower case count as the same.
    """
    by_lower = {option.lower(): option for option in options}
    *others, last = [f"'{by_lower[match]}'" for match in get_close_matches(name.lower(), by_lower, n=3)] or [
        ""
    ]
    if not last:
        return ""
    return f"did you mean {', '.join(others)} or {last}?" if others else f"did you mean {last}?"


def shortened(given: object, most: int = 60) -> str:
    """Return a value as it can be echoed: on one line, cut to `most` characters."""
    line = " ".join(str(given).split())
    return line if len(line) <= most else f"{line[: most - 3]}..."


def echo(given: object) -> str:
    """Return what was given as code shows it, on one line and cut."""
    return shortened(repr(given))
