"""The record of an application, to fill in by hand: the computed values stand beside empty fields for the
actual ones.

The actual weather differs from the computed one, so its fields are empty too.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from wetspan.scenario import Scenario


class Line(NamedTuple):
    """One line of the record."""

    what: str
    computed: str  #: as the page reckons it; "" where it does not
    hint: str = ""  #: what belongs there
    tall: bool = False


def lines_of(
    scenario: Scenario,
    when: str,
    air: Mapping[str, float] | None,
    *,
    volume: str = "",
    area: str = "",
) -> list[Line]:
    """Return the lines of an application; `air` [SI] is the computed air when it is applied, if it is one."""
    units = scenario.units
    method = str(scenario.shown("application.method")).replace("_", " ")
    rate, strength = (scenario.show(f"application.{name}") for name in ("volume_rate", "concentration"))
    how = method
    if method == "spray":
        how += f", nozzle at {scenario.show('nozzle.pressure')}, {scenario.show('nozzle.height')} above"
    weather = ""
    if air is not None:
        warm = f"{units.number(air['air_temperature'] - 273.15, 'degC'):.1f} {units.unit('degC')}"
        weather = (
            f"{warm}, {100.0 * air['relative_humidity']:.0f} % humidity, light {air['shortwave']:.0f} W/m²"
        )
    return [
        Line("Date and time", when, "begun, ended"),
        Line("Done by", "", "name, and licence where one is asked for"),
        Line("Place and crop", scenario.title, "house, bench, crop, cultivar, number of plants", tall=True),
        Line("Product", "", "name and registration number as on the label", tall=True),
        Line("Strength", strength, "of the active ingredient in the liquid"),
        Line("Amount mixed", "", "product, water, and what else is in the tank", tall=True),
        Line("Volume used", f"{volume} at {rate}" if volume else rate, "what was put out in all"),
        Line("Area treated", area, ""),
        Line("Method", how, "equipment, nozzle, pressure, pace", tall=True),
        Line("Weather", weather, "measured in the house: temperature, humidity, light, vents", tall=True),
        Line("Re-entry", "", "interval on the label; no entry before (date, time)"),
        Line("Protection worn", "", ""),
        Line("Untreated check", "", "how many plants, and where they stand"),
        Line("Remarks", "", "what went otherwise than planned; what is left, and where it went", tall=True),
    ]
