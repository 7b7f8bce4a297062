"""`wetspan run`: compute one spray."""

from __future__ import annotations

import argparse

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
    check_picture,
    check_report,
    console,
    save_picture,
    save_report,
    write_json,
)
from wetspan.rates import as_drench
from wetspan.report import outcome_document, outcome_table, what_is_sprayed
from wetspan.sensitivity import control_range
from wetspan.study import simulate

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
    add_samples(command)
    add_output(command)


def run(asked: argparse.Namespace) -> None:
    """Compute the spray, and tell it."""
    check_picture(asked.picture)
    check_report(asked.report)
    check_samples(asked)
    scenario, crop = scenario_of(asked)
    steady = asked.time is None and asked.weather is None  # the weather of the file is for a time of it
    weather = None if steady else weather_of(asked, None, scenario)
    if asked.time is not None:
        check("--time", asked.time, not_a_bare_day, "a day and a time of day such as 2026-05-14T15:00")
    outcome = simulate(scenario, weather, asked.time)
    draws = {"samples": asked.samples, "seed": asked.seed}
    control = control_range(scenario, weather, asked.time, crop=crop, **draws) if asked.samples else None
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
        write_json(document)
        return
    told = console()
    told.print(what_is_sprayed(scenario))
    if when:
        told.print(when)
    told.print(outcome_table(outcome, control))
    if steady and scenario.shown("application.method") == "spray" and not scenario.applications:
        pour = "4 fl oz" if scenario.units.unit("mL") == "fl oz" else "118 mL"
        told.print(f"\n{as_drench(scenario, pour).short(scenario.units)}")
    told.print(f"\n{CAUTIONS}")
