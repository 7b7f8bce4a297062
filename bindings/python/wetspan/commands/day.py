"""`wetspan day`: compare times of spraying over a day."""

from __future__ import annotations

import argparse
from datetime import date, time

from wetspan.cautions import CAUTIONS
from wetspan.commands.inputs import (
    EXAMPLE_DATE,
    EXAMPLE_WEATHER,
    WEATHER_NAMES,
    add_output,
    add_samples,
    add_scenario,
    add_weather,
    add_wet_limit,
    check,
    check_samples,
    last_day,
    scenario_of,
    weather_of,
    when_and_where,
)
from wetspan.commands.output import (
    check_output,
    console,
    save_picture,
    save_report,
    write_json,
)
from wetspan.day import compare_times
from wetspan.errors import InputError
from wetspan.report import advised, day_document, day_table, what_is_sprayed, where_it_lands

NAMES = WEATHER_NAMES | {"wet_limit": "--wet-limit"}


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = (
        "Compare times of spraying over one day of weather. Without arguments: an example greenhouse with a "
        f"made-up crop, on {EXAMPLE_DATE} of a public typical weather year."
    )
    add_scenario(command, optional=True)
    add_weather(command)
    command.add_argument(
        "--date",
        metavar="DAY",
        help=f"day, such as 2026-05-14 (default: the last whole day of a record, {EXAMPLE_DATE} of a typical "
        "year)",
    )
    for option, name, default in (("--from", "first", "06:00"), ("--to", "last", "20:00")):
        told = f"{name} time of spraying (default %(default)s)"
        command.add_argument(option, dest=name, default=default, metavar="HH:MM", help=told)
    command.add_argument(
        "--every", default="60min", metavar="STEP", help="step between times (default %(default)s)"
    )
    add_wet_limit(command)
    add_samples(command)
    add_output(command)


def run(asked: argparse.Namespace) -> None:
    """Compare the times, and tell it."""
    check_output(asked)
    check_samples(asked)
    scenario, crop = scenario_of(asked)
    weather = weather_of(asked, EXAMPLE_WEATHER, scenario)
    assert weather is not None
    if asked.date is None:
        asked.date = EXAMPLE_DATE if weather.typical else last_day(weather)
    check("--date", asked.date, date.fromisoformat, "a day such as 2026-05-14")
    check("--from", asked.first, time.fromisoformat, "a time of day such as 06:00")
    check("--to", asked.last, time.fromisoformat, "a time of day such as 20:00")
    if time.fromisoformat(asked.last) < time.fromisoformat(asked.first):
        raise InputError(f"--to {asked.last} is before --from {asked.first}")
    first, last = (f"{asked.date}T{clock}" for clock in (asked.first, asked.last))
    draws = {"samples": asked.samples, "seed": asked.seed}
    day = compare_times(
        scenario, weather, first, last, asked.every, wet_limit=asked.wet_limit, crop=crop, **draws
    )
    save_picture(lambda plots: plots.plot_day(day), asked.picture)
    when = when_and_where(asked.date, weather)
    save_report(day, asked.report, when=when)
    if asked.json:
        write_json(day_document(day) | {"weather_notes": list(weather.notes)})
        return
    told = console()
    told.print(what_is_sprayed(scenario))
    told.print(where_it_lands(day["split"]))
    (answer, *others), unsure = advised(day)
    told.print(f"{when}\n\n{answer}\n")
    told.print(day_table(day))
    told.print("\n" + "\n\n".join(filter(None, [*others, " ".join(unsure), CAUTIONS])))
