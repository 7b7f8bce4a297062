"""`wetspan season`: wet times at every clock time of a season's days."""

from __future__ import annotations

import argparse
import re
from datetime import date

from wetspan.cautions import CAUTIONS
from wetspan.commands.inputs import (
    EXAMPLE_WEATHER,
    WEATHER_NAMES,
    add_output,
    add_samples,
    add_scenario,
    add_weather,
    add_wet_limit,
    check,
    check_samples,
    scenario_of,
    weather_of,
    when_and_where,
)
from wetspan.commands.output import (
    check_folder,
    check_output,
    console,
    save,
    save_picture,
    save_report,
    write_json,
)
from wetspan.errors import InputError
from wetspan.nights import limit_of
from wetspan.paths import slow_rows
from wetspan.progress import shown
from wetspan.report import season_advised, season_document, season_table, what_is_sprayed
from wetspan.season import best_windows, season, share_below

NAMES = WEATHER_NAMES | {"wet_limit": "--wet-limit"}


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = (
        "Compute the same spray at every clock time of every day: how long leaves stay wet, on which share "
        "of the days they dry too fast, which times are best."
    )
    add_scenario(command, optional=True)
    add_weather(command)
    for option, name, such in (("--from", "first", "2026-05-01"), ("--to", "last", "2026-05-31")):
        told = f"{name} day, such as {such}"
        command.add_argument(option, dest=name, required=True, metavar="DAY", help=told)
    command.add_argument(
        "--hours", default="6-20", metavar="H-H", help="first and last hour of spraying (default %(default)s)"
    )
    command.add_argument(
        "--below", default="20 min", metavar="TIME", help="wet time that is too short (default %(default)s)"
    )
    add_wet_limit(command)
    add_samples(command, 0)
    group = add_output(command)
    group.add_argument("--save", metavar="FILE", help="also write every number, as netCDF (.nc)")


def run(asked: argparse.Namespace) -> None:
    """Compute the season, and tell it."""
    check_output(asked)
    check_samples(asked)
    check_folder(asked.save)
    limit_of(asked.below, "--below", "20 min")
    if asked.save and not asked.save.endswith(".nc"):
        raise InputError(
            f"--save {asked.save!r}: numbers are written as netCDF; give a name that ends in .nc"
        )
    scenario, _ = scenario_of(asked)
    weather = weather_of(asked, EXAMPLE_WEATHER, scenario)
    assert weather is not None
    for option, day in (("--from", asked.first), ("--to", asked.last)):
        check(option, day, date.fromisoformat, "a day such as 2026-05-14")
    with shown(None) as progress:
        found = season(
            scenario,
            weather,
            asked.first,
            asked.last,
            _hours(asked.hours),
            wet_limit=asked.wet_limit,
            samples=asked.samples,
            seed=asked.seed,
            progress=progress,
        )
    shares, windows = share_below(found, asked.below), best_windows(found)
    save_picture(lambda plots: plots.plot_season(found), asked.picture)
    when = when_and_where(f"{asked.first} to {asked.last}", weather)
    save_report(found, asked.report, when=when, below=asked.below)
    save(lambda path: found.to_netcdf(path), asked.save)
    if asked.json:
        write_json(season_document(found, shares, windows) | {"weather_notes": list(weather.notes)})
        return
    told = console()
    told.print(what_is_sprayed(scenario))
    (answer, *others), unsure = season_advised(found, shares, windows)
    told.print(f"{when}\n\n{answer}\n")
    told.print(season_table(found, shares))
    if found["path_reason"].values.any():
        told.print(f"Computed by the full system of equations, which is slow: {slow_rows(found)}.")
    about = [*others, " ".join(unsure), found.attrs["read_for"], CAUTIONS]
    told.print("\n" + "\n\n".join(filter(None, about)))


def _hours(text: str) -> range:
    match = re.fullmatch(r"(\d{1,2})-(\d{1,2})", text)
    first, last = (int(match[1]), int(match[2])) if match else (0, -1)
    if not first <= last <= 23:
        raise InputError(f"--hours {text!r} is not a first and a last hour such as 6-20")
    return range(first, last + 1)
