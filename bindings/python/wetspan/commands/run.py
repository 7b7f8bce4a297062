"""`wetspan run`: compute one spray."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from typing import Any

from wetspan.cautions import CAUTIONS
from wetspan.commands.inputs import (
    WEATHER_NAMES,
    add_output,
    add_samples,
    add_scenario,
    add_weather,
    check,
    check_samples,
    not_a_bare_day,
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
from wetspan.draws import CropDraws
from wetspan.json_values import plain
from wetspan.rates import Equivalent, Rate, as_drench, as_spray, rate_for, usual_amount
from wetspan.report import outcome_document, outcome_table, what_is_sprayed, what_it_comes_to
from wetspan.scenario import Scenario
from wetspan.sensitivity import control_range
from wetspan.study import simulate
from wetspan.weather import Weather

NAMES = WEATHER_NAMES


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = (
        "Compute one spray: in the scenario's unchanging air, or at a time of a weather record."
    )
    add_scenario(command)
    add_weather(command)
    command.add_argument(
        "--time", metavar="TIME", help="time of spraying with --weather, such as 2026-05-14T15:00"
    )
    command.add_argument(
        "--height",
        metavar="HEIGHT",
        help="also tell the concentration that gives this final height, such as '24 cm', with its range, and "
        "what the application equals: a spray as a drench, a drench as a spray",
    )
    add_samples(command)
    add_output(command)


def run(asked: argparse.Namespace) -> None:
    """Compute the spray, and tell it."""
    check_output(asked)
    check_samples(asked)
    scenario, crop = scenario_of(asked)
    steady = asked.time is None and asked.weather is None  # the weather of the file is for a time of it
    weather = None if steady else weather_of(asked, None, scenario)
    if asked.time is not None:
        check("--time", asked.time, not_a_bare_day, "a day and a time of day such as 2026-05-14T15:00")
    outcome = simulate(scenario, weather, asked.time)
    draws = {"samples": asked.samples, "seed": asked.seed}
    control = control_range(scenario, weather, asked.time, crop=crop, **draws) if asked.samples else None
    sought = _sought(scenario, weather, asked, crop) if asked.height is not None else []
    save_picture(lambda plots: plots.plot_outcome(outcome), asked.picture)
    when = "" if weather is None else when_and_where(f"{weather.local(asked.time):%Y-%m-%d %H:%M}", weather)
    save_report(outcome, asked.report, when=when, spread=control)
    if asked.json:
        document = outcome_document(outcome, control)
        if weather is not None:
            moment = weather.local(asked.time).isoformat()
            document |= {
                "time": moment,
                "time_zone": weather.time_zone,
                "weather": repr(weather),
                "weather_notes": list(weather.notes),
            }
        if sought:
            document["for_height"] = [
                {name: plain(value) for name, value in asdict(each).items()} for each in sought
            ]
        write_json(document)
        return
    told = console()
    told.print(what_is_sprayed(scenario))
    if when:
        told.print(when)
    elif scenario.weather is not None:
        told.print("In the unchanging air of [air]; with --time in the weather of the file")
    told.print(f"\n{what_it_comes_to(outcome, control)}\n")
    told.print(outcome_table(outcome, control))
    for each in sought:
        told.print(f"\n{each.told(scenario.units)}")
    if not sought and scenario.shown("application.method") == "spray" and not scenario.applications:
        pour = usual_amount("drench", scenario.units)
        told.print(f"\n{as_drench(scenario, pour, weather, asked.time).short(scenario.units)}")
    told.print(f"\n{CAUTIONS}")


def _sought(
    scenario: Scenario, weather: Weather | None, asked: argparse.Namespace, crop: CropDraws | None
) -> list[Rate | Equivalent]:
    """Return the rate for the height that is asked for, and what one application equals."""
    options: dict[str, Any] = {
        "weather": weather,
        "time": asked.time,
        "samples": asked.samples,
        "seed": asked.seed,
        "given": "anchors" if crop is None else crop,
    }
    found: list[Rate | Equivalent] = [rate_for(scenario, asked.height, **options)]
    method = scenario.shown("application.method")
    if not scenario.applications and method != "continuous":
        equivalent, other = (as_drench, "drench") if method == "spray" else (as_spray, "spray")
        found.append(equivalent(scenario, usual_amount(other, scenario.units), **options))
    return found
