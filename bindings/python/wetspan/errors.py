"""The exceptions, each with a message of one line for a person."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from difflib import get_close_matches

_LONGEST = 700  # characters of a message
_MOST = 50  # problems of a file that are listed


class InputError(ValueError):
    """An input that is not allowed: a wrong name or kind, a value out of bounds, or inputs that contradict
    each other.

    The message says what was given, what is allowed and, if one is close, the name that was probably meant.
    `problems` are all problems of a file, one line each, of which the message is the first.
    """

    def __init__(self, message: str = "", others: Iterable[str] = ()) -> None:
        self.problems = tuple(shortened(each, _LONGEST) for each in (message, *others))
        more = f" (and {len(self.problems) - 1} more)" if len(self.problems) > 1 else ""
        super().__init__(f"{self.problems[0]}{more}")

    def listed(self) -> list[str]:
        """Return the problems one by one; of very many the first, and how many more there are."""
        told, more = list(self.problems[:_MOST]), len(self.problems) - _MOST
        return [*told, f"... and {more} more"] if more > 0 else told

    def __reduce__(self) -> tuple[type[InputError], tuple[str, tuple[str, ...]]]:
        return type(self), (self.problems[0], self.problems[1:])


class IntegrationError(RuntimeError):
    """An integration that could not be completed within its limits of steps.

    The message gives the time reached, the state, and the input that is most likely the cause.
    """


class Problems:
    """What is wrong with a file, collected so that all of it is told at once."""

    def __init__(self) -> None:
        self._told: list[str] = []

    def __bool__(self) -> bool:
        return bool(self._told)

    def add(self, problem: str) -> None:
        """Note a problem."""
        self._told.append(problem)

    @contextmanager
    def noted(self, where: str = "") -> Iterator[None]:
        """Note what is refused within, after the place it stands at, and go on."""
        try:
            yield
        except InputError as error:
            self._told += [f"{where}{problem}" for problem in error.problems]

    def refuse(self) -> None:
        """Raise InputError if there are any."""
        if self._told:
            raise InputError(self._told[0], self._told[1:])


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
    try:
        line = str(given)
    except ValueError:  # a whole number of more digits than Python writes
        line = "a number of thousands of digits"
    line = " ".join(line[: 4 * most].split()) if len(line) > most else " ".join(line.split())
    return line if len(line) <= most else f"{line[: most - 3]}..."


def echo(given: object) -> str:
    """Return what was given as code shows it, on one line and cut."""
    try:
        return shortened(repr(given))
    except ValueError:
        return shortened(given)


def described(given: object) -> str:
    """Return what was given in a few words: a short value as code shows it, of other things the type."""
    if given is None or isinstance(given, str | bytes | int | float | complex):
        return echo(given)
    kind = type(given).__name__
    along = [str(dim) for dim in getattr(given, "dims", ())]
    told = f"{'an' if kind[:1] in 'AEIOUaeio' else 'a'} {kind}"
    return shortened(f"{told} along {', '.join(along)}" if along else told)


def yes_or_no(name: str, given: object) -> bool:
    """Return an argument that is True or False; others are refused, since Python takes any text for True."""
    if isinstance(given, bool) or (
        getattr(given, "dtype", None) == "bool" and getattr(given, "ndim", 1) == 0
    ):
        return bool(given)
    raise InputError(f"{name} = {described(given)}: allowed are True and False")


def only_for(what: str, given: object, kind: type, *names: str) -> None:
    """Refuse what is not of a kind, or a Dataset or table without some names; `what` says what is wanted."""
    there = {str(name) for every in ("variables", "dims", "columns") for name in getattr(given, every, ())}
    if not isinstance(given, kind) or not there.issuperset(names):
        raise InputError(f"{what}; given {described(given)}")
