"""Weather laid out for the core: the air at the crop through a stretch of a record."""

from __future__ import annotations

from datetime import date
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
import pandas as pd

from wetspan import _core
from wetspan.errors import InputError
from wetspan.scenario import Scenario
from wetspan.weather import Weather

Moment: TypeAlias = str | date | pd.Timestamp | np.datetime64
Numbers: TypeAlias = npt.NDArray[np.float64]

SETTLING = pd.Timedelta(hours=24)  # a house forgets where it started within a day


def local(weather: Weather, moment: Moment) -> pd.Timestamp:
    """Return a moment on the record's own clock, as `weather.local` reads it."""
    if not isinstance(weather, Weather):
        raise InputError(f"weather = {weather!r} is no record; read it first, as in ws.read_weather('miami')")
    return weather.local(pd.Timestamp(moment) if isinstance(moment, np.datetime64) else moment)


def air_at_spraying(scenario: Scenario, weather: Weather, time: Moment) -> tuple[_core.CropAir, float]:
    """Return the air at the crop around a moment of spraying, and that moment in it [s]."""
    moment = pd.DatetimeIndex([local(weather, time)])
    record = Record.around(weather, moment, scenario)
    return record.air(scenario), float(record.seconds(moment)[0])


class Record:
    """The rows of a weather record from `first` to `last`."""

    def __init__(self, weather: Weather, first: pd.Timestamp, last: pd.Timestamp) -> None:
        rows = weather.between(first, last)
        index = pd.DatetimeIndex(rows.index)
        self._origin = index[0]
        self.exposure = weather.exposure
        self.time = self.seconds(index)
        self.columns = {
            name: rows[name].to_numpy() for name in ("temperature", "pressure", "wind_speed", "shortwave")
        }
        self.columns["vapour_pressure"] = np.asarray(
            _core.air.vapour_pressure(rows["relative_humidity"].to_numpy(), self.columns["temperature"])
        )

    @classmethod
    def around(cls, weather: Weather, moments: pd.DatetimeIndex, scenario: Scenario) -> Record:
        """Return a record from a day before some moments for as long as wet leaves are followed."""
        first, last = moments[0] - SETTLING, moments[-1] + pd.Timedelta(seconds=scenario["numerics.longest"])
        if not weather.typical:
            known = weather.data.index
            weather.at(moments[[0, -1]])  # refuses what is outside the record
            if moments[-1] >= known[-1]:
                raise InputError(
                    f"{weather.source} ends at the last time of spraying; nothing can dry after it"
                )
            first, last = max(first, known[0]), min(last, known[-1])
        return cls(weather, first, last)

    def seconds(self, moments: pd.DatetimeIndex) -> Numbers:
        """Return moments in seconds of the record [s]."""
        return np.asarray((moments - self._origin) / pd.Timedelta(seconds=1), dtype=np.float64)

    def air(self, scenario: Scenario) -> _core.CropAir:
        """Return the air at the crop: through the house from outdoors, or as a logger there measured it."""
        if self.exposure == "outdoor":
            return _core.air_at_crop(scenario._core, _core.Outdoor(self.time, self.columns))
        assumed = {
            "speed": self.columns["wind_speed"],
            "radiant_temperature": self.columns["temperature"] + scenario["air.surroundings_offset"],
            "air_changes": np.full(len(self.time), scenario["house.air_changes"]),
        }
        return _core.CropAir(self.time, self.columns | assumed)
