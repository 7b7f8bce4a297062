"""The command `wetspan`: data on standard output, messages on standard error, exit status 2 for bad input."""

from __future__ import annotations

import argparse
import io
import os
import sys
import warnings
from collections.abc import Callable, Sequence
from datetime import date, time
from importlib.resources import as_file, files
from typing import Any, NoReturn

from rich.table import Table
from rich.text import Text

from wetspan import _core, even_commands, page, plots, report
from wetspan.errors import InputError, IntegrationError
from wetspan.parameters import GRADES, SECTIONS, TABLE, parameters, row_of, schema
from wetspan.scenario import Scenario, load
from wetspan.study import compare_times, control_range, simulate
from wetspan.trials import command_line as trial_commands
from wetspan.units import show
from wetspan.weather import Weather, read_weather, sample_weather

EXAMPLE = "afternoon_bench.toml"
EXAMPLE_WEATHER = "piedmont"
EXAMPLE_DATE = "2026-05-16"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return its exit status."""
    asked = _parser().parse_args(arguments)
    if isinstance(sys.stdout, io.TextIOWrapper):  # print what the screen cannot show as '?'
        sys.stdout.reconfigure(errors="replace")
    try:
        with warnings.catch_warnings():
            warnings.showwarning = lambda message, *_, **__: print(f"wetspan: {message}", file=sys.stderr)
            return int(asked.run(asked) or 0)
    except InputError as error:
        print(f"wetspan: {error}", file=sys.stderr)
        return 2
    except IntegrationError as error:
        print(f"wetspan: {error}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:  # the reader of a pipe has gone; nothing more may be written, at exit neither
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1


def example() -> Scenario:
    """Return the scenario that comes with the package."""
    with as_file(files("wetspan") / "examples" / EXAMPLE) as path:
        return load(path)


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        """Say in one line what is wrong with the arguments."""
        self.exit(2, f"{self.prog}: {message}; see {self.prog} --help\n")


def _parser() -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = _Parser(
        prog="wetspan",
        description="Greenhouse sprays of plant growth regulators: where the liquid ends up, how long leaves "
        "stay wet, what leaves, stems and roots take up, how much shorter plants stay.",
        epilog=report.CAUTIONS,
    )
    parser.add_argument("--version", action="version", version=f"wetspan {_core.__version__}")
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")

    day = commands.add_parser(
        "day",
        help="compare times of spraying over a day",
        description="Compare times of spraying over one day of weather. Without arguments: an example "
        f"greenhouse with a made-up crop, on {EXAMPLE_DATE} of a public typical weather year.",
        epilog=report.CAUTIONS,
    )
    day.add_argument("file", nargs="?", metavar="FILE", help="scenario file (TOML); left out: the example")
    _add_weather(day)
    day.add_argument(
        "--date", default=EXAMPLE_DATE, metavar="DAY", help="day, such as 2026-05-14 (default %(default)s)"
    )
    day.add_argument(
        "--from",
        dest="first",
        default="06:00",
        metavar="HH:MM",
        help="first time of spraying (default %(default)s)",
    )
    day.add_argument(
        "--to",
        dest="last",
        default="20:00",
        metavar="HH:MM",
        help="last time of spraying (default %(default)s)",
    )
    day.add_argument(
        "--every", default="60min", metavar="STEP", help="step between times (default %(default)s)"
    )
    _add_samples(day)
    _add_output(day)
    day.set_defaults(run=_day)

    run = commands.add_parser(
        "run",
        help="compute one spray",
        epilog=report.CAUTIONS,
        description="Compute one spray: in the scenario's unchanging air, or at a time of a weather record.",
    )
    run.add_argument("file", metavar="FILE", help="scenario file (TOML)")
    _add_weather(run)
    run.add_argument(
        "--time", metavar="TIME", help="time of spraying with --weather, such as 2026-05-14T15:00"
    )
    _add_samples(run)
    _add_output(run)
    run.set_defaults(run=_run)

    validate = commands.add_parser(
        "validate", help="check scenario files", description="Check scenario files and say what they change."
    )
    validate.add_argument("files", nargs="+", metavar="FILE", help="scenario file (TOML)")
    validate.set_defaults(run=_validate)

    table = commands.add_parser(
        "parameters",
        help="show every input: default, bounds, unit, evidence, source",
        description="Show every input. Evidence: "
        + " ".join(f"{grade} - {meaning}." for grade, meaning in GRADES.items()),
    )
    table.add_argument(
        "name", nargs="?", metavar="NAME", help="one section, such as leaf, or one input, such as leaf.width"
    )
    table.add_argument("--json", action="store_true", help="write JSON")
    table.add_argument("--schema", action="store_true", help="write the JSON Schema of scenario files")
    table.set_defaults(run=_parameters)
    page.add_command(commands)
    even_commands.add_commands(commands)
    trial_commands.add_commands(commands)
    return parser


def _add_weather(command: argparse.ArgumentParser) -> None:
    group = command.add_argument_group(
        "weather",
        "Times and headings of a plain CSV have to be stated; messages name these options as Python does: "
        "columns=, units=, constants=, time_zone=, label=, exposure=.",
    )
    group.add_argument(
        "--weather",
        metavar="W",
        help="weather file (TMY3, TMY2, EPW or CSV), or the name of a public typical year: "
        + ", ".join(sample_weather()),
    )
    group.add_argument(
        "--time-zone", metavar="ZONE", help="clock of a CSV's times, such as UTC-05:00 or America/New_York"
    )
    group.add_argument(
        "--label",
        metavar="WHERE",
        help="where a CSV's time stands in its interval: start, middle, end or instant",
    )
    group.add_argument(
        "--exposure",
        metavar="WHERE",
        help="outdoor (drives the house) or crop (a logger in the house, used as it is)",
    )
    group.add_argument(
        "--column",
        action="append",
        default=[],
        metavar="NAME=HEADING",
        help="heading of a CSV's column, such as temperature='Temp (F)'; repeat",
    )
    group.add_argument(
        "--unit",
        action="append",
        default=[],
        metavar="NAME=UNIT",
        help="unit of a CSV's column, such as temperature=degF; repeat",
    )
    group.add_argument(
        "--constant",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="value of what a CSV lacks, such as wind_speed='0.3 m/s'; repeat",
    )


def _add_samples(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--samples",
        type=int,
        default=64,
        metavar="N",
        help="draws of the unknown inputs for the ranges; 0 for none (default %(default)s)",
    )
    command.add_argument(
        "--seed", type=int, default=1, metavar="N", help="seed of the draws (default %(default)s)"
    )


def _add_output(command: argparse.ArgumentParser) -> None:
    group = command.add_argument_group("output")
    group.add_argument("--json", action="store_true", help="write JSON instead of a table")
    group.add_argument("--picture", metavar="FILE", help="also draw it, as PNG, SVG or PDF")


def _weather(asked: argparse.Namespace, default: str | None) -> Weather | None:
    name = asked.weather or default
    options: dict[str, Any] = {"time_zone": asked.time_zone, "label": asked.label, "exposure": asked.exposure}
    for option, given in (("columns", asked.column), ("units", asked.unit), ("constants", asked.constant)):
        pairs = [text.partition("=") for text in given]
        if not all(separator for _, separator, _ in pairs):
            raise InputError(f"--{option.removesuffix('s')} takes NAME=VALUE, such as temperature=degF")
        options[option] = {key: value for key, _, value in pairs} or None
    return None if name is None else read_weather(name, **options)


def _day(asked: argparse.Namespace) -> None:
    if asked.picture:
        plots.check_path(asked.picture)
    scenario = example() if asked.file is None else load(asked.file)
    weather = _weather(asked, EXAMPLE_WEATHER)
    assert weather is not None
    _check("--date", asked.date, date.fromisoformat, "a day such as 2026-05-14")
    _check("--from", asked.first, time.fromisoformat, "a time of day such as 06:00")
    _check("--to", asked.last, time.fromisoformat, "a time of day such as 20:00")
    first, last = (f"{asked.date}T{clock}" for clock in (asked.first, asked.last))
    day = compare_times(scenario, weather, first, last, asked.every, samples=asked.samples, seed=asked.seed)
    if asked.picture:
        plots.save(plots.plot_day(day), asked.picture)
    if asked.json:
        report.write_json(report.day_document(day))
        return
    console = report.console()
    console.print(report.what_is_sprayed(scenario))
    console.print(report.where_it_lands(day["split"]))
    console.print(f"{_when_and_where(asked.date, weather)}\n")
    console.print(report.day_table(day))
    console.print(f"\n{report.advice(day)}\n\n{report.CAUTIONS}")


def _when_and_where(when: str, weather: Weather) -> str:
    kind = f"{weather.exposure} weather{' of a typical year' if weather.typical else ''}"
    return f"{when}, clock {weather.time_zone}; {kind}: {weather.place or weather.source}"


def _check(option: str, given: str, parse: Callable[[str], object], wanted: str) -> None:
    try:
        parse(given)
    except ValueError:
        raise InputError(f"{option} {given!r} is not {wanted}") from None


def _not_a_bare_day(given: str) -> None:
    try:
        date.fromisoformat(given)
    except ValueError:
        return
    raise ValueError


def _run(asked: argparse.Namespace) -> None:
    if asked.picture:
        plots.check_path(asked.picture)
    scenario, weather = load(asked.file), _weather(asked, None)
    if asked.time is not None:
        _check("--time", asked.time, _not_a_bare_day, "a day and a time of day such as 2026-05-14T15:00")
    outcome = simulate(scenario, weather, asked.time)
    draws = {"samples": asked.samples, "seed": asked.seed}
    control = control_range(scenario, weather, asked.time, **draws) if asked.samples else None
    if asked.picture:
        plots.save(plots.plot_outcome(outcome), asked.picture)
    if asked.json:
        document = report.outcome_document(outcome, control)
        if weather is not None:
            moment = weather.local(asked.time).isoformat()
            document |= {"time": moment, "time_zone": weather.time_zone, "weather": repr(weather)}
        report.write_json(document)
        return
    console = report.console()
    console.print(report.what_is_sprayed(scenario))
    if weather is not None:
        console.print(_when_and_where(f"{weather.local(asked.time):%Y-%m-%d %H:%M}", weather))
    console.print(report.outcome_table(outcome, control))
    console.print(f"\n{report.CAUTIONS}")


def _validate(asked: argparse.Namespace) -> int:
    refused = 0
    for path in asked.files:
        try:
            scenario = load(path)
        except InputError as error:
            print(f"wetspan: {error}", file=sys.stderr)
            refused = 2
            continue
        differ = {key: show(row, row.standard) for key, row in TABLE.items()}
        differ = {key: default for key, default in differ.items() if scenario.show(key) != default}
        print(f"{path}: good; {len(differ)} of {len(TABLE)} inputs differ from their defaults")
        for key, default in differ.items():
            print(f"  {key} = {scenario.show(key)} (default {default})")
    return refused


def _parameters(asked: argparse.Namespace) -> None:
    if asked.schema:
        report.write_json(schema())
        return
    rows = list(TABLE.values())
    if asked.name in SECTIONS:
        rows = [row for row in rows if row.section == asked.name]
    elif asked.name:
        rows = [row_of(asked.name)]
    if asked.json:
        table = parameters().loc[[row.key for row in rows]]
        report.write_json(table.reset_index().to_dict("records"))
        return
    view = Table(box=None, pad_edge=False, header_style="bold")
    view.add_column("input", no_wrap=True)
    view.add_column("default", max_width=14)
    view.add_column("allowed", max_width=14)
    view.add_column("spread", justify="right")
    view.add_column("grade")
    view.add_column("meaning; source", min_width=24)
    for row in rows:
        view.add_row(
            row.key,
            show(row, row.standard),
            _allowed(row),
            f"{row.spread:g}" if row.spread > 1.0 else "",
            row.grade,
            Text.assemble(f"{row.meaning}; ", (row.source, "dim")),
        )
    report.console().print(view)


def _allowed(row: _core.Parameter) -> str:
    if row.kind == "toggle":
        return "true or false"
    return " or ".join(row.choices) or f"{show(row, row.low).split()[0]} to {show(row, row.high)}"


if __name__ == "__main__":
    sys.exit(main())
