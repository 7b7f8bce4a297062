"""The command `wetspan`: data on standard output, messages on standard error, exit status 2 for bad input."""

from __future__ import annotations

import argparse
import io
import os
import sys
import warnings
from collections.abc import Sequence
from typing import Any

from wetspan.cautions import CAUTIONS
from wetspan.commands.parser import Parser, add_command
from wetspan.errors import InputError, IntegrationError
from wetspan.unit_registry import in_own_process

#: What each command does; its module in `wetspan.commands` is loaded when it is asked for.
COMMANDS = {
    "day": "compare times of spraying over a day",
    "run": "compute one spray",
    "season": "compare times of spraying over the days of a season",
    "uncertainty": "draw the unknown inputs: ranges, and the evidence they rest on",
    "example": "print a scenario to begin with",
    "validate": "check files of scenarios, crops, weather and trials",
    "parameters": "show every input: default, bounds, unit, evidence, source",
    "page": "write a page for a browser, for those who cannot install this",
    "mix": "mix a tank: how much product and water",
    "jug": "let a jug of product stand, and pour from it",
    "bench": "spray a bench, and see how even the crop comes out",
    "trial": "plan a trial, read it, calibrate a crop to it",
    "measure": "weigh it yourself: plan, sheet, reading, and a crop calibrated to it",
}


def program() -> int:
    """Run the command as a process of its own; return its exit status."""
    in_own_process()
    return main()


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return its exit status."""
    os.environ["MPLBACKEND"] = "Agg"  # pictures go to files; no window is opened, whatever is set
    if sys.stderr is None:  # it was closed, and print() would write to standard output in its place
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 - until the process ends
    if sys.stdout is None:  # it was closed before the command began
        return _said("standard output is closed", 2)
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
    except Warning as warning:  # where the user wants warnings to be errors, as by PYTHONWARNINGS=error
        return _said(warning, 2)
    except KeyboardInterrupt:
        return 130
    except (ImportError, SystemError) as error:
        if _interrupted(error):  # while an extension module was loaded
            return 130
        raise
    except BrokenPipeError:  # the reader of a pipe has gone
        _close_output()
        return 1
    except OSError as error:  # standard output cannot take it, as on a full disk
        _close_output()
        return _said(f"standard output cannot be written ({error.strerror or error})", 2)
    except MemoryError:
        return _said("this needs more memory than there is", 2)


def _interrupted(error: BaseException | None) -> bool:
    """Return whether an interrupt stands behind an error."""
    while error is not None:
        if isinstance(error, KeyboardInterrupt):
            return True
        error = error.__cause__ or error.__context__
    return False


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


class _Version(argparse.Action):
    def __call__(self, parser: argparse.ArgumentParser, *_: Any) -> None:
        from wetspan._core import __version__  # which other commands load when they run

        print(f"wetspan {__version__}")
        parser.exit()


def _parser() -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = Parser(
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
