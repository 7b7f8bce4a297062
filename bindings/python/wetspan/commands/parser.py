"""Parsers that load a command when it is used, and error messages that name options in place of Python's
keywords.
"""

from __future__ import annotations

import argparse
import importlib
import re
import sys
from collections.abc import Callable, Mapping
from typing import Any, NoReturn

from wetspan.cautions import CAUTIONS
from wetspan.errors import nearest


class _Once(argparse.Action):
    """An option with a value, which stands once: of two values the first would be lost."""

    _given_in: argparse.Namespace | None = None

    def __call__(self, parser: Any, namespace: argparse.Namespace, values: Any, option: Any = None) -> None:
        if option is not None and self._given_in is namespace and getattr(namespace, self.dest) != values:
            raise argparse.ArgumentError(self, "it is given twice, with two values")
        self._given_in = namespace
        setattr(namespace, self.dest, values)


class Parser(argparse.ArgumentParser):
    """A parser that says what is wrong in one line, and is filled when it is first used."""

    fill: Callable[[argparse.ArgumentParser], None] | None = None

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for name in (None, "store"):
            self.register("action", name, _Once)

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        if self.fill is not None:
            fill, self.fill = self.fill, None
            fill(self)
        found, left = super().parse_known_args(args, namespace)
        if left:  # told by the command that has them not, not by `wetspan` itself
            options = [each for action in self._actions for each in action.option_strings]
            hint = nearest(left[0].partition("=")[0], options) if left[0].startswith("-") else ""
            self.error(f"unrecognized arguments: {' '.join(left)}{f'; {hint}' if hint else ''}")
        return found, left

    def _print_message(self, message: str, file: Any = None) -> None:
        (file or sys.stderr).write(message)  # argparse itself is silent where it cannot be written

    def error(self, message: str) -> NoReturn:
        self.exit(2, f"{self.prog}: {message}; see {self.prog} --help\n")


def add_command(commands: Any, module: str, name: str, does: str) -> None:
    """Add a command whose module is loaded when the command is asked for."""
    command = commands.add_parser(name, help=does, epilog=CAUTIONS)

    def fill(parser: argparse.ArgumentParser) -> None:
        loaded = importlib.import_module(module)
        loaded.add(parser)
        if hasattr(loaded, "run"):
            names = options_of(parser, loaded.NAMES)
            parser.set_defaults(run=loaded.run, as_options=lambda problem: as_options(problem, names))

    command.fill = fill


def options_of(parser: argparse.ArgumentParser, others: Mapping[str, str]) -> dict[str, str]:
    """Return the options of a command by the names that Python has for them."""
    own = {action.dest: action.option_strings[-1] for action in parser._actions if action.option_strings}
    return own | dict(others)


def as_options(problem: str, names: Mapping[str, str]) -> str:
    """Return a message in which keywords of Python are the options of the command.

    units={'temperature': 'degF'} becomes --unit 'temperature=degF', and samples = 1 becomes --samples 1.
    """
    problem = re.sub(r"(?<!\S)(--[a-z-]+) = ", r"\1 ", problem)
    for name, option in sorted(names.items(), key=lambda item: -len(item[0])):
        word = rf"(?<![\w.\-']){re.escape(name)}"
        problem = re.sub(
            rf"{word}=\{{'([^']*)': \{{'([^']*)': '([^']*)'\}}\}}", rf"{option} '\1: \2=\3'", problem
        )
        problem = re.sub(rf"{word}=\{{'([^']*)': ([^'{{}}]+)\}}", rf"{option} \1=\2", problem)
        problem = re.sub(rf"{word}=\.\.\.", f"{option} NAME", problem)
        problem = re.sub(rf"{word}=True\b", f"{option} yes", problem)
        problem = re.sub(rf"{word}=\{{'([^']*)': '([^']*)'\}}", rf"{option} '\1=\2'", problem)
        problem = re.sub(rf"{word}\['([^']*)'\]:? ?=? ?", rf"{option} \1=", problem)
        problem = re.sub(rf"{word}=(?=['\"\d(\[-]|None\b)", f"{option} ", problem)
        problem = re.sub(rf"{word}=(?![\w'\"])", option, problem)
        problem = re.sub(rf"{word} = ", f"{option} ", problem)
        problem = re.sub(rf"{word}: (?=')", f"{option} ", problem)
        problem = re.sub(rf"{word}(?= has (?:no )?')", option, problem)
        if "_" in name:
            problem = re.sub(rf"{word}\b(?!=)", option, problem)
    return problem
