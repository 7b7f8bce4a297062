"""Options that several commands share: a scenario with its crop, weather, draws, output."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from datetime import date
from importlib.resources import as_file, files
from typing import Any

import pandas as pd

from wetspan import weather_table
from wetspan.crop import Crop, load_crop
from wetspan.draws import MOST_SAMPLES, checked_samples
from wetspan.errors import InputError, echo
from wetspan.nights import WET_LIMIT
from wetspan.scenario import Scenario
from wetspan.scenario_file import load
from wetspan.weather import Weather, read_weather, sample_weather

EXAMPLE = "afternoon_bench.toml"
EXAMPLE_WEATHER = "piedmont"
EXAMPLE_DATE = "2026-05-16"


def example() -> Scenario:
    """Return the scenario that comes with the package."""
    with as_file(files("wetspan") / "examples" / EXAMPLE) as path:
        return load(path)


def example_text(units: str) -> str:
    """Return the text of a scenario to begin with, in "us" or "metric" units."""
    return (files("wetspan") / "examples" / f"your_house_{units}.toml").read_text(encoding="utf-8")


def add_scenario(command: argparse.ArgumentParser, *, optional: bool = False) -> None:
    """Add FILE and --crop."""
    if optional:
        told = "scenario file (TOML); left out: the example"
        command.add_argument("file", nargs="?", metavar="FILE", help=told)
    else:
        command.add_argument("file", metavar="FILE", help="scenario file (TOML)")
    command.add_argument(
        "--crop",
        metavar="CROP",
        help="file of a calibrated crop (`wetspan trial calibrate --save`), whose values take the place of "
        "the scenario's",
    )
    add_units(command)


def add_units(command: argparse.ArgumentParser, left_out: str = "those that the file speaks") -> None:
    """Add --units; `left_out` says what is shown without it."""
    command.add_argument("--units", choices=("us", "metric"), help=f"units to show; left out: {left_out}")


def scenario_of(asked: argparse.Namespace) -> tuple[Scenario, Crop | None]:
    """Return the scenario that is asked for, with the crop in it that is; a value that changes is told."""
    scenario = example() if asked.file is None else load(asked.file)
    if asked.units is not None:
        scenario = scenario.in_units(asked.units)
    if asked.crop is None:
        return scenario, None
    crop = load_crop(asked.crop)
    own = scenario.changed()
    grown = scenario.in_si(crop)
    for key in crop:
        if key in own and grown.show(key) != scenario.show(key):
            print(
                f"wetspan: {key} = {grown.show(key)} from {asked.crop}, in place of the scenario's "
                f"{scenario.show(key)}",
                file=sys.stderr,
            )
    return grown, crop


def add_weather(command: argparse.ArgumentParser) -> None:
    """Add --weather and what a plain CSV has to state."""
    group = command.add_argument_group(
        "weather",
        "Left out: what [weather] of FILE says, which `wetspan validate LOGGER --save FILE` writes. What a "
        "plain CSV does not say itself has to be stated.",
    )
    group.add_argument(
        "--weather",
        metavar="W",
        help="weather file (TMY3, TMY2, EPW or CSV), or the name of a public typical year: "
        + ", ".join(sample_weather()),
    )
    add_csv(group)


def add_csv(group: argparse._ArgumentGroup) -> None:
    """Add what a plain CSV of weather has to state."""
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
        "--longest-gap", metavar="TIME", help="longest gap of a CSV that is bridged, such as 6h (default 3h)"
    )
    group.add_argument(
        "--light",
        metavar="W",
        help="where the light comes from if a CSV has none: a station's file, or the name of a typical year",
    )
    group.add_argument(
        "--transmittance",
        metavar="SHARE",
        help="of the cover for that light, such as '60 %%' (default: the scenario's house.transmittance)",
    )
    group.add_argument(
        "--typical", choices=("yes", "no"), help="whether an EPW is a typical year; found out if left out"
    )
    for option, metavar, told in (
        ("--column", "NAME=HEADING", "heading of a CSV's column, such as temperature='Temp (F)'; repeat"),
        ("--unit", "NAME=UNIT", "unit of a CSV's column, such as temperature=degF; repeat"),
        ("--constant", "NAME=VALUE", "value of what a CSV lacks, such as wind_speed='0.3 m/s'; repeat"),
    ):
        group.add_argument(option, action="append", default=[], metavar=metavar, help=told)


#: What `read_weather` calls these options.
WEATHER_NAMES = {"columns": "--column", "units": "--unit", "constants": "--constant"}


def weather_of(
    asked: argparse.Namespace, default: str | None, scenario: Scenario | None = None
) -> Weather | None:
    """Return the weather that is asked for: --weather, else what the scenario's file names."""
    if scenario is not None and asked.light is not None and asked.transmittance is None:
        asked.transmittance = scenario.show("house.transmittance")
    if asked.weather is None and asked.file is not None and weather_table.stated(asked.file) is not None:
        return read_asked(asked.file, asked)
    name = asked.weather or default
    return None if name is None else read_asked(name, asked)


def read_asked(name: str, asked: argparse.Namespace) -> Weather:
    """Return the weather of a file as the options state it."""
    return read_weather(name, **stated_of(asked))


def stated_of(asked: argparse.Namespace) -> dict[str, Any]:
    """Return what the options state of a weather file."""
    given: dict[str, Any] = {
        name: getattr(asked, name)
        for name in ("time_zone", "label", "exposure", "longest_gap", "light", "transmittance")
    }
    for option, texts in (("columns", asked.column), ("units", asked.unit), ("constants", asked.constant)):
        given[option] = pairs(f"--{option.removesuffix('s')}", texts, "temperature=degF") or None
    if asked.typical is not None:
        given["typical"] = asked.typical == "yes"
    return given


def pairs(option: str, texts: list[str], example: str) -> dict[str, str]:
    """Return NAME=VALUE texts as a mapping."""
    cut = [text.partition("=") for text in texts]
    for text, (name, separator, value) in zip(texts, cut, strict=True):
        if not (name.strip() and separator and value.strip()):
            raise InputError(f"{option} {echo(text)} is not written as {example}")
    return {name.strip(): value.strip() for name, _, value in cut}


def add_wet_limit(command: argparse.ArgumentParser) -> None:
    """Add --wet-limit."""
    command.add_argument(
        "--wet-limit",
        default=WET_LIMIT,
        metavar="TIME",
        help="wet time beyond which leaves are marked for disease, as they are when wet past sunset (default "
        "%(default)s; common practice, no source)",
    )


def add_samples(command: argparse.ArgumentParser, default: int = 64, *, none: bool = True) -> None:
    """Add --samples and --seed; `none` says whether the command also answers without draws."""
    command.add_argument(
        "--samples",
        type=int,
        default=default,
        metavar="N",
        help=f"draws of the unknown inputs for the ranges, up to {MOST_SAMPLES}"
        f"{'; 0 for none' if none else ''} (default %(default)s)",
    )
    command.add_argument(
        "--seed", type=int, default=1, metavar="N", help="seed of the draws (default %(default)s)"
    )


def check_samples(asked: argparse.Namespace) -> None:
    """Refuse a number of draws before anything is computed."""
    if asked.samples:
        checked_samples(asked.samples)


def add_json(command: argparse.ArgumentParser) -> argparse._ArgumentGroup:
    """Add --json."""
    group = command.add_argument_group("output")
    group.add_argument("--json", action="store_true", help="write JSON instead of a table")
    return group


def add_output(command: argparse.ArgumentParser) -> argparse._ArgumentGroup:
    """Add --json, --picture and --report."""
    group = add_json(command)
    group.add_argument("--picture", metavar="FILE", help="also draw it, as PNG, SVG or PDF")
    add_report(group)
    return group


def add_report(group: argparse._ArgumentGroup) -> None:
    """Add --report."""
    group.add_argument(
        "--report", metavar="FILE", help="also write a page to print (.html), with what was assumed"
    )


def check(option: str, given: str, parse: Callable[[str], object], wanted: str) -> None:
    """Refuse a text that `parse` cannot read."""
    try:
        parse(given)
    except ValueError:
        raise InputError(f"{option} {echo(given)} is not {wanted}") from None


def not_a_bare_day(given: str) -> None:
    """Raise ValueError for a day without a time of day."""
    try:
        date.fromisoformat(given)
    except ValueError:
        return
    raise ValueError


def last_day(weather: Weather) -> str:
    """Return the last day that lies in a record from midnight to midnight on its own clock."""
    index = weather.data.index
    first, last = (moment.tz_convert(weather.tz) for moment in (index[0], index[-1]))
    day = last.normalize() - pd.Timedelta(days=1)
    if day.tz_convert("UTC") < first.tz_convert("UTC"):
        raise InputError(
            f"{weather.source} has no whole day, only {first.isoformat()} to {last.isoformat()}; give --date "
            "DAY, with --from and --to"
        )
    return f"{day:%Y-%m-%d}"


def when_and_where(when: str, weather: Weather) -> str:
    """Return one line on a moment and its weather, and one on each thing that reading it noted."""
    kind = f"{weather.exposure} weather{' of a typical year' if weather.typical else ''}"
    lines = [f"{when}, clock {weather.time_zone}; {kind}: {weather.place or weather.source}", *weather.notes]
    return "\n".join(lines)
