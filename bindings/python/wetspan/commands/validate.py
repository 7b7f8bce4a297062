"""`wetspan validate`: check files, and tell every error of each."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from wetspan import weather_table
from wetspan.commands.inputs import WEATHER_NAMES, add_csv, add_units, example_text, read_asked
from wetspan.crop import is_crop, load_crop
from wetspan.errors import InputError
from wetspan.files import read_toml
from wetspan.measure.check import EXPERIMENTS, checked, experiment_of
from wetspan.parameters import TABLE
from wetspan.scenario_file import load
from wetspan.scenario_inputs import CLOCK, told_clock
from wetspan.trials.own_sheet import headings, is_height
from wetspan.trials.read import read_trial
from wetspan.unit_choice import UnitChoice
from wetspan.weather import Weather, read_weather, sample_weather
from wetspan.weather.files import weather_format

NAMES = WEATHER_NAMES
_KINDS = ("scenario", "crop", "weather", "trial", *EXPERIMENTS)


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = (
        "Check files, and tell every error of each with its line: scenarios and calibrated crops (TOML), "
        "weather (TMY3, TMY2, EPW; CSV with the options below), tables of trials (CSV with height_... and "
        "treatment) and of measurements (weighed leaves, weighed pots, washed deposits)."
    )
    command.epilog = None
    command.add_argument("files", nargs="+", metavar="FILE", help="file to check")
    command.add_argument("--kind", choices=_KINDS, help="what the files are; found out if left out")
    add_units(command)
    command.add_argument(
        "--save",
        metavar="FILE",
        help="put the weather and how it is read into [weather] of a scenario's file; where there is none it "
        "is begun as `wetspan example` does",
    )
    add_csv(command.add_argument_group("weather", "What a plain CSV of weather does not say itself."))


def run(asked: argparse.Namespace) -> int:
    """Check the files; return 2 if one is refused."""
    refused = 0
    if asked.save is not None and (
        len(asked.files) != 1 or (asked.kind or _kind(asked.files[0])) != "weather"
    ):
        raise InputError("--save keeps how one file of weather is read; give that file alone")
    for path in asked.files:
        try:
            lines = _checked(path, asked)
        except InputError as error:
            for problem in error.listed():
                print(f"wetspan: {asked.as_options(problem)}", file=sys.stderr)
            refused = 2
            continue
        print(f"{path}: {lines[0]}")
        for line in lines[1:]:
            print(f"  {line}")
    return refused


def _checked(path: str, asked: argparse.Namespace) -> list[str]:
    """Return what is told of a good file."""
    kind = asked.kind or _kind(path)
    if kind == "crop":
        crop = load_crop(path)
        units = UnitChoice.named(asked.units or "metric")
        told = [f"{key} = {units.show(TABLE[key], value)}" for key, value in crop.items()]
        return [f"good; the calibrated crop '{crop.name}' ({crop.grade}, {crop.date}), for --crop", *told]
    if kind == "weather":
        weather = _weather(path, asked)
        fahrenheit = weather.settings.get("units", {}).get("temperature") == "degF"
        system = asked.units or ("us" if fahrenheit else "metric")
        told = [f"good; {weather!r}", *weather.notes, _readings(weather, UnitChoice.named(system))]
        if asked.save is not None:
            weather_table.save(asked.save, weather.settings, example_text(system))
            told.append(f"saved in [weather] of {asked.save}; next: wetspan day {asked.save}")
        return told
    if kind == "trial":
        trial = read_trial(path, **_headings(path))
        plants, treatments = int(trial.table["listed"].sum()), len(trial.table)
        return [f"good; a trial of {plants} plants, {treatments} treatments with the check", *trial.notes]
    if kind in EXPERIMENTS:
        said = checked(kind, path)
        return [f"good; {said}", f"next: wetspan measure read {kind} SCENARIO {path}"]
    scenario = load(path)
    if asked.units is not None:
        scenario = scenario.in_units(asked.units)
    differ = {key: scenario.units.show(row, row.standard) for key, row in TABLE.items()}
    differ = {key: default for key, default in differ.items() if scenario.show(key) != default}
    told = [f"{key} = {scenario.show(key)} (default {default})" for key, default in differ.items()]
    if scenario.rewetting_at is not None:
        told.append(f"{CLOCK} = {told_clock(scenario.rewetting_at)} (in place of rewetting.delay)")
    if weather_table.stated(path) is not None:
        weather = read_weather(path)
        told += [f"[weather] is good; {weather!r}", *weather.notes]
    return [f"good; {len(differ)} of {len(TABLE)} inputs differ from their defaults", *told]


def _readings(weather: Weather, units: UnitChoice) -> str:
    """Return from where to where the readings go: columns that were exchanged show in it."""
    low, high = weather.data.min(), weather.data.max()
    cool, warm = (units.number(ends["temperature"] - 273.15, "degC") for ends in (low, high))
    dry, damp = (100.0 * ends["relative_humidity"] for ends in (low, high))
    return (
        f"Readings: {cool:.0f} to {warm:.0f} {units.unit('degC')}, {dry:.0f} to {damp:.0f} % relative "
        f"humidity, light {low['shortwave']:.0f} to {high['shortwave']:.0f} W/m2."
    )


def _weather(path: str, asked: argparse.Namespace) -> Weather:
    """Return the weather of a file; what the options state is of plain CSVs, where there are any."""
    csvs = [each for each in asked.files if _kind(each) == "weather" and weather_format(each) == "csv"]
    return read_asked(path, asked) if path in csvs or not csvs else read_weather(path)


def _kind(path: str) -> str:
    """Return what a file is, by its name and its first lines."""
    if path in sample_weather():
        return "weather"
    if Path(path).suffix.lower() in (".csv", ".epw", ".tm2", ".tmy", ".txt", ".tsv") and Path(path).is_file():
        told = headings(path)
        if any(map(is_height, told)):
            return "trial"
        return experiment_of(told) or "weather"
    if Path(path).is_file() and is_crop(read_toml(path)[0]):
        return "crop"
    return "scenario"


def _headings(path: str) -> dict[str, Any]:
    """Return the columns of a trial's sheet by their usual headings."""
    told = headings(path)
    found: dict[str, Any] = {"height": next(filter(is_height, told))}
    for role in ("rate", "block", "row", "column"):
        heading = next((each for each in told if each == role or each.startswith(f"{role}_")), None)
        if heading is not None:
            found[role] = heading
    return found
