"""Errors of the sensors with which the air was measured, for draws.

An error is one offset for all readings of a record, or one factor on its shortwave: it stands for the
sensor's calibration and place, not for noise. It is drawn uniformly within the limits of the sensor's
accuracy, as the Guide to the Expression of Uncertainty in Measurement (JCGM 100:2008, 4.3.7) recommends where
only limits are known.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
import numpy.typing as npt

from wetspan.errors import InputError, echo, nearest
from wetspan.parameters import TABLE
from wetspan.scenario import Scenario
from wetspan.seeds import Seed, stream
from wetspan.units import value_in_si
from wetspan.weather import Weather
from wetspan.weather.variables import VARIABLES

if TYPE_CHECKING:
    import pandas as pd

Numbers: TypeAlias = npt.NDArray[np.float64]
#: True for all sensors with the usual accuracy, names of some, or limits by name, {"temperature": "1 K"}.
Sensors: TypeAlias = bool | str | Collection[str] | Mapping[str, object]


@dataclass(frozen=True)
class Accuracy:
    """Limits of a sensor's error.

    That is `limit`, and `added` of the reading; or `or_share` of the reading if that is more. With
    `of_reading` the limit is itself a share of the reading.
    """

    limit: float
    unit: str
    grade: str
    source: str
    meaning: str
    added: float = 0.0
    or_share: float = 0.0
    of_reading: bool = False

    def of(self, reading: float | Numbers) -> Numbers:
        """Return the limit of the error of a reading."""
        if self.of_reading:
            return self.limit * np.asarray(reading)
        return np.maximum(self.limit + self.added * np.asarray(reading), self.or_share * np.asarray(reading))


# The standards' own texts were not at hand: the figures were read where others quote them.
_ANNEX = "WMO-No. 8 (2024), volume I, annex 1.A, as public quality controls of stations quote it"
_STATION = f"achievable in operation, 95 % of readings: {_ANNEX}"
_INDOORS = "required of measurements indoors: Scientific Data 2023, doi:10.1038/s41597-023-02568-3, table 2"
# Of the light of an hour: 3 % of a pyranometer of high quality, 8 % of a good and 20 % of a moderate one.
_LIGHT = (
    "achievable, 95 % of hourly totals: WMO-No. 8 (1996), chapter 7, which asks of such an instrument what "
    "ISO 9060:1990 asks of its {}; read where a pyranometer's manual quotes it"
)
#: The usual accuracy of sensors at a crop, or of a reading that a user states.
AT_CROP = {
    "temperature": Accuracy(
        0.5,
        "K",
        "B",
        f"{_INDOORS}; in naturally ventilated shields sensors were off by 0.19 to 0.53 K (RMS) from "
        "ventilated ones: Sensors 2023, doi:10.3390/s23135976, table 6",
        "air temperature, of a shaded sensor",
    ),
    "relative_humidity": Accuracy(
        0.03, "1", "B", f"{_STATION}; 2.5 % is desirable and 5 % {_INDOORS}", "relative humidity"
    ),
    "speed": Accuracy(
        0.05,
        "m/s",
        "D",
        f"{_INDOORS}; the 5 % of the speed from memory (ISO 7726:1998)",
        "air speed: 0.05 m/s and 5 % of it",
        added=0.05,
    ),
    "shortwave": Accuracy(
        0.2,
        "1",
        "B",
        _LIGHT.format("second class"),
        "shortwave: 20 % of it, of a pyranometer of moderate quality; not the shade of the house's frame",
        of_reading=True,
    ),
}
#: The usual accuracy of a station's sensors outdoors.
OUTDOORS = {
    "temperature": Accuracy(
        0.2, "K", "B", _STATION, "air temperature, of a sensor whose screen keeps the sun off"
    ),
    "relative_humidity": Accuracy(0.03, "1", "B", f"{_STATION}, solid-state sensors", "relative humidity"),
    "speed": Accuracy(
        0.5,
        "m/s",
        "B",
        f"required, 95 % of readings: {_ANNEX}",
        "wind: 0.5 m/s, or 10 % of it if more",
        or_share=0.1,
    ),
    "shortwave": Accuracy(
        0.08,
        "1",
        "B",
        _LIGHT.format("first class"),
        "shortwave: 8 % of it, of a pyranometer of good quality",
        of_reading=True,
    ),
}
#: What a sensor's error changes: the input that a user states, and the column of a record.
_INPUTS = {
    "temperature": "air.temperature",
    "relative_humidity": "air.relative_humidity",
    "speed": "air.speed",
    "shortwave": "air.shortwave",
}
_COLUMNS = {
    "temperature": "temperature",
    "relative_humidity": "relative_humidity",
    "speed": "wind_speed",
    "shortwave": "shortwave",
}
#: The inputs in whose units limits are stated.
_LIMITS = {
    "temperature": "air.surroundings_offset",
    "relative_humidity": "air.relative_humidity",
    "shortwave": "air.relative_humidity",  # a share
}
_BRANCH = 1000  # of the seed's streams


def sensor_accuracy() -> pd.DataFrame:
    """Return the usual accuracy of sensors: limit, unit, grade, source, meaning; by exposure and sensor."""
    import pandas as pd

    rows = [
        {"exposure": exposure, "sensor": name, "limit": each.limit, "unit": each.unit, "grade": each.grade,
         "source": each.source, "meaning": each.meaning}
        for exposure, table in (("crop", AT_CROP), ("outdoor", OUTDOORS))
        for name, each in table.items()
    ]  # fmt: skip
    return pd.DataFrame(rows).set_index(["exposure", "sensor"])


def read(sensors: Sensors, weather: Weather | None) -> dict[str, Accuracy]:
    """Return the accuracy of the sensors whose errors are drawn, by name."""
    usual = OUTDOORS if weather is not None and weather.exposure == "outdoor" else AT_CROP
    if isinstance(sensors, bool):
        return dict(usual) if sensors else {}
    if not isinstance(sensors, Collection):
        raise InputError(
            f"sensors = {echo(sensors)} is not True, names of {', '.join(usual)}, or limits by name"
        )
    given = [sensors] if isinstance(sensors, str) else list(sensors)
    for name in given:
        if name not in usual:
            hint = nearest(str(name), usual) or f"sensors are {', '.join(usual)}"
            raise InputError(f"sensors: {name!r} is no sensor whose error is known; {hint}")
    if not isinstance(sensors, Mapping):
        return {name: usual[name] for name in given}
    return {name: _stated(name, usual[name], limit) for name, limit in sensors.items()}


def _stated(name: str, usual: Accuracy, given: object) -> Accuracy:
    try:
        limit = value_in_si(TABLE[_LIMITS.get(name, _INPUTS[name])], given)
    except InputError as error:  # which names the input in whose unit the limit is
        raise InputError(f"sensors: limit of {name}: {error}") from None
    if not (np.isfinite(limit) and limit > 0.0):
        raise InputError(f"sensors: {name} = {given!r} is not a limit of its error above 0")
    return replace(usual, limit=limit, added=0.0, or_share=0.0, grade="D", source="stated by the user")


def draw_errors(sensors: Collection[str], n: int, seed: Seed) -> dict[str, Numbers]:
    """Draw errors as shares of their limits, evenly from -1 to 1, one stratum for each draw."""
    from scipy.stats import qmc

    if not sensors:
        return {}
    drawn = 2.0 * qmc.LatinHypercube(d=len(sensors), rng=stream(seed, _BRANCH)).random(n) - 1.0
    return {f"sensor.{name}": np.ascontiguousarray(drawn[:, i]) for i, name in enumerate(sensors)}


def stated_with(
    scenario: Scenario, accuracy: Mapping[str, Accuracy], shares: Mapping[str, Numbers]
) -> dict[str, Numbers]:
    """Return the air that a user states with errors of these shares of their limits: columns by key."""
    columns = {}
    for name, each in accuracy.items():
        row = TABLE[_INPUTS[name]]
        reading = scenario[row.key]
        columns[row.key] = np.clip(reading + shares[f"sensor.{name}"] * each.of(reading), row.low, row.high)
    return columns


def measured_with(weather: Weather, accuracy: Mapping[str, Accuracy], shares: Mapping[str, float]) -> Weather:
    """Return a record whose readings have errors of these shares of their limits."""
    data = weather.data.copy()
    for name, each in accuracy.items():
        column = _COLUMNS[name]
        readings = data[column].to_numpy()
        rule = VARIABLES[column]
        data[column] = np.clip(readings + shares[f"sensor.{name}"] * each.of(readings), rule.low, rule.high)
    return replace(weather, data=data)
