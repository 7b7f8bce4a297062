"""The command `wetspan`: data on standard output, messages on standard error, exit status 2 for bad input."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from importlib.resources import as_file, files
from typing import Any

from rich.console import Console
from rich.table import Table

from wetspan import _core, plots, report
from wetspan.errors import InputError, IntegrationError
from wetspan.parameters import GRADES, TABLE, parameters, row_of, schema
from wetspan.scenario import Scenario, load
from wetspan.study import compare_times, simulate
from wetspan.units import shown
from wetspan.weather import Weather, read_weather, sample_weather

EXAMPLE = "afternoon_bench.toml"
EXAMPLE_WEATHER = "piedmont"
EXAMPLE_DATE = "2026-05-16"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return its exit status."""
    parser = _parser()
    asked = parser.parse_args(arguments)
    try:
        asked.run(asked)
    except InputError as error:
        print(f"wetspan: {error}", file=sys.stderr)
        return 2
    except IntegrationError as error:
        print(f"wetspan: {error}", file=sys.stderr)
        return 1
    except BrokenPipeError:  # the reader of a pipe has gone
        sys.stderr.close()
    return 0


def example() -> Scenario:
    """Return the scenario that comes with the package."""
    with as_file(files("wetspan") / "examples" / EXAMPLE) as path:
        return load(path)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="wetspan",
        description="Greenhouse sprays of plant growth regulators: where the liquid ends up, how long leaves stay wet, "
        "what leaf, stem and root take up, how much shorter plants stay.",
        epilog=report.CAUTIONS,
    )
    parser.add_argument("--version", action="version", version=f"wetspan {_core.__version__}")
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")

    day = commands.add_parser(
        "day",
        help="compare times of spraying over a day",
        description="Compare times of spraying over one day of weather. Without arguments: an example greenhouse, a made-up "
        f"crop, on {EXAMPLE_DATE} of a public typical weather year.",
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
    day.add_argument(
        "--samples",
        type=int,
        default=64,
        metavar="N",
        help="draws of the unknown inputs for the ranges; 0 for none (default %(default)s)",
    )
    day.add_argument(
        "--seed", type=int, default=1, metavar="N", help="seed of the draws (default %(default)s)"
    )
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
        + "; ".join(f"{grade} {meaning}" for grade, meaning in GRADES.items())
        + ".",
    )
    table.add_argument(
        "name", nargs="?", metavar="NAME", help="one section, such as leaf, or one input, such as leaf.width"
    )
    table.add_argument("--json", action="store_true", help="write JSON")
    table.add_argument("--schema", action="store_true", help="write the JSON Schema of scenario files")
    table.set_defaults(run=_parameters)
    return parser


def _add_weather(command: argparse.ArgumentParser) -> None:
    group = command.add_argument_group("weather")
    group.add_argument(
        "--weather",
        metavar="W",
        help=f"weather file (TMY3, TMY2, EPW, CSV) or one of the public typical years {', '.join(sample_weather())}",
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


def _add_output(command: argparse.ArgumentParser) -> None:
    group = command.add_argument_group("output")
    group.add_argument("--json", action="store_true", help="write JSON instead of a table")
    group.add_argument("--picture", metavar="FILE", help="also draw it, as PNG, SVG or PDF")


def _weather(asked: argparse.Namespace, default: str | None) -> Weather | None:
    name = asked.weather or default
    options: dict[str, Any] = {"time_zone": asked.time_zone, "label": asked.label, "exposure": asked.exposure}
    for option, given in (("columns", asked.column), ("units", asked.unit)):
        pairs = [text.partition("=") for text in given]
        if any(not separator for _, separator, _ in pairs):
            raise InputError(f"--{option.rstrip('s')} takes NAME=VALUE, such as temperature=degF")
        options[option] = {key: value for key, _, value in pairs} or None
    return None if name is None else read_weather(name, **options)


def _day(asked: argparse.Namespace) -> None:
    scenario = example() if asked.file is None else load(asked.file)
    weather = _weather(asked, EXAMPLE_WEATHER)
    assert weather is not None
    if asked.samples < 0 or asked.samples == 1:
        raise InputError(f"--samples {asked.samples}: 0 for no ranges, or 2 and more")
    day = compare_times(
        scenario,
        weather,
        f"{asked.date}T{asked.first}",
        f"{asked.date}T{asked.last}",
        asked.every,
        samples=asked.samples,
        seed=asked.seed,
    )
    if asked.picture:
        plots.save(plots.plot_day(day), asked.picture)
    if asked.json:
        _write_json(report.day_document(day))
        return
    console = _console()
    console.print(report.what_is_sprayed(scenario))
    console.print(
        f"{asked.date}, clock {weather.time_zone}; {weather.exposure} weather{' of a typical year' if weather.typical else ''}: "
        f"{weather.place or weather.source}\n"
    )
    console.print(report.day_table(day))
    console.print(f"\n{report.advice(day)}\n\n{report.CAUTIONS}")


def _run(asked: argparse.Namespace) -> None:
    scenario = load(asked.file)
    outcome = simulate(scenario, _weather(asked, None), asked.time)
    if asked.picture:
        plots.save(plots.plot_outcome(outcome), asked.picture)
    if asked.json:
        _write_json(report.outcome_document(outcome))
        return
    console = _console()
    console.print(report.what_is_sprayed(scenario))
    for line in report.outcome_lines(outcome):
        console.print(line)
    console.print(f"\n{report.CAUTIONS}")


def _validate(asked: argparse.Namespace) -> None:
    for path in asked.files:
        scenario = load(path)
        changed = scenario.changed()
        print(f"{path}: good; {len(changed)} of {len(scenario)} inputs differ from their defaults")
        for key in changed:
            row = TABLE[key]
            print(
                f"  {key} = {scenario.show(key)}  (default {shown(row, row.standard)} {'' if row.shown == '1' else row.shown})".rstrip()
            )


def _parameters(asked: argparse.Namespace) -> None:
    if asked.schema:
        _write_json(schema())
        return
    table = parameters()
    if asked.name in {row.section for row in TABLE.values()}:
        table = table[table.index.str.startswith(f"{asked.name}.")]
    elif asked.name:
        table = table.loc[[row_of(asked.name).key]]
    if asked.json:
        _write_json([{"key": key} | row for key, row in table.to_dict("index").items()])
        return
    view = Table(box=None, pad_edge=False, header_style="bold")
    for heading in ("input", "default", "allowed", "spread", "grade", "meaning and source"):
        view.add_column(
            heading,
            no_wrap=heading == "input",
            justify="right" if heading == "spread" else "left",
            min_width=40 if heading.startswith("meaning") else None,
        )
    for key, row in table.iterrows():
        unit = "" if row["unit"] == "1" else f" {row['unit']}"
        of = TABLE[str(key)]
        default = f"{row['default']:.4g}{unit}" if of.kind in ("number", "count") else str(row["default"])
        allowed = (
            f"{row['lowest']:.4g} to {row['highest']:.4g}"
            if of.kind in ("number", "count")
            else " or ".join(of.choices) or "true or false"
        )
        view.add_row(
            str(key),
            default,
            allowed,
            f"{row['spread']:g}" if row["spread"] > 1 else "",
            row["grade"],
            f"{row['meaning']}. [dim]{row['source']}[/dim]",
        )
    _console().print(view)


def _console() -> Console:
    console = Console(highlight=False, soft_wrap=False)
    return console if console.is_terminal else Console(highlight=False, width=118)


def _write_json(document: object) -> None:
    json.dump(document, sys.stdout, indent=2, allow_nan=False, ensure_ascii=False)
    print()


if __name__ == "__main__":
    sys.exit(main())
