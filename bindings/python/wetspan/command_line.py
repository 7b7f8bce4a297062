"""The command `wetspan`: data on standard output, messages on standard error, exit status 2 for bad input."""

from __future__ import annotations

import argparse
import importlib
import io
import os
import re
import sys
import warnings
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NoReturn

from wetspan.cautions import CAUTIONS
from wetspan.errors import InputError, IntegrationError

#: What each command does; its module in `wetspan.commands` is loaded when it is asked for.
COMMANDS = {
    "day": "compare times of spraying over a day",
    "run": "compute one spray",
    "season": "compare times of spraying over the days of a season",
    "validate": "check files of scenarios, crops, weather and trials",
    "parameters": "show every input: default, bounds, unit, evidence, source",
    "page": "write a page for a browser, for those who cannot install this",
    "mix": "mix a tank: how much product and water",
    "jug": "let a jug of product stand, and pour from it",
    "bench": "spray a bench, and see how even the crop comes out",
    "trial": "plan a trial, read it, calibrate a crop to it",
}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return its exit status."""
    os.environ["MPLBACKEND"] = "Agg"  # pictures go to files; no window is opened, whatever is set
    try:
        asked = _asked(arguments)
        if isinstance(sys.stdout, io.TextIOWrapper):  # print what the screen cannot show as '?'
            sys.stdout.reconfigure(errors="replace")
        with warnings.catch_warnings():
            warnings.showwarning = lambda message, *_, **__: print(f"wetspan: {message}", file=sys.stderr)
            status = int(_run(asked) or 0)
        sys.stdout.flush()
        return status
    except IntegrationError as error:
        return _said(error, 1)
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:  # the reader of a pipe has gone
        _close_output()
        return 1
    except OSError as error:  # standard output cannot take it, as on a full disk
        _close_output()
        return _said(f"standard output cannot be written ({error.strerror or error})", 2)
    except MemoryError:
        return _said("this needs more memory than there is", 2)


def _asked(arguments: Sequence[str] | None) -> argparse.Namespace:
    try:
        return _parser().parse_args(arguments)
    except SystemExit:
        sys.stdout.flush()  # of help; fails where it cannot be written
        raise


def _run(asked: argparse.Namespace) -> int | None:
    try:
        done: int | None = asked.run(asked)
        return done
    except InputError as error:
        for problem in error.listed():
            _said(asked.as_options(problem), 2)
        return 2


def _said(message: object, status: int) -> int:
    print(f"wetspan: {message}", file=sys.stderr)
    return status


def _close_output() -> None:
    """Have nothing more written to standard output, at exit neither."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


class _Parser(argparse.ArgumentParser):
    """A parser that says what is wrong in one line, and is filled when it is first used."""

    fill: Callable[[argparse.ArgumentParser], None] | None = None

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        if self.fill is not None:
            fill, self.fill = self.fill, None
            fill(self)
        return super().parse_known_args(args, namespace)

    def _print_message(self, message: str, file: Any = None) -> None:
        (file or sys.stderr).write(message)  # argparse itself is silent where it cannot be written

    def error(self, message: str) -> NoReturn:
        self.exit(2, f"{self.prog}: {message}; see {self.prog} --help\n")


class _Version(argparse.Action):
    def __call__(self, parser: argparse.ArgumentParser, *_: Any) -> None:
        from wetspan._core import __version__

        print(f"wetspan {__version__}")
        parser.exit()


def _parser() -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = _Parser(
        prog="wetspan",
        description="Greenhouse sprays of plant growth regulators: where the liquid ends up, how long leaves "
        "stay wet, what leaves, stems and roots take up, how much shorter plants stay.",
        epilog=CAUTIONS,
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="show the version")
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")
    for name, does in COMMANDS.items():
        add_command(commands, f"wetspan.commands.{name}", name, does)
    return parser


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


if __name__ == "__main__":
    sys.exit(main())
