"""Rows in weather: the record, the moment and the stretch of the record that belong to each row."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt
import pandas as pd

from wetspan.batch.columns import distinct_values
from wetspan.doubts import doubt_light
from wetspan.errors import InputError, nearest
from wetspan.outcome import Columns
from wetspan.parameters import TABLE
from wetspan.record import (
    REACH_THE_AIR,
    Numbers,
    Stretch,
    crosses_a_gap,
    distinct,
    followed,
    local,
    outside,
    starts_in,
    stretches_of,
)
from wetspan.rewetting import DELAY, delays_at, without_clock
from wetspan.scenario import Scenario
from wetspan.weather import Weather

Skies: TypeAlias = Weather | Mapping[str, Weather]
#: Inputs of unchanging air alone: a record sets them.
_OF_UNCHANGING_AIR = ("air.temperature", "air.relative_humidity", "air.pressure", "air.shortwave")


@dataclass
class Placed:
    """Where rows stand in weather: each one's record and moment, its stretch of it, its house.

    `at` is the place of each row's record among `records`; `job` that of its stretch and house among `jobs`,
    -1 for a row that has none, and then `reasons` says why.
    """

    records: list[tuple[str, Weather]]
    at: npt.NDArray[np.int64]
    moments: pd.DatetimeIndex
    starts: Numbers
    job: npt.NDArray[np.int64]
    jobs: list[tuple[Weather, Stretch]]
    reasons: dict[int, str]

    def coordinates(self, columns: Mapping[str, Any]) -> dict[str, object]:
        """Return the times of rows, on the clock of each one's record and in UTC, and which record it is."""
        clock = np.full(len(self.at), "NaT", dtype="datetime64[ns]")
        for place, (_, weather) in enumerate(self.records):
            its = self.at == place
            clock[its] = self.moments[its].tz_convert(weather.tz).tz_localize(None).to_numpy()
        coords: dict[str, object] = {
            "time": (
                "row",
                clock,
                {
                    "long_name": "time of spraying on the record's own clock",
                    "time_zone": zones_of(self.records),
                },
            ),
            "time_utc": (
                "row",
                self.moments.tz_localize(None).to_numpy().astype("datetime64[ns]"),
                {"standard_name": "time", "long_name": "time of spraying in UTC"},
            ),
        }
        if "weather" in columns:
            names = np.array([name for name, _ in self.records] or [""])
            coords["weather"] = ("row", names[self.at], {"long_name": "weather record"})
        return coords

    def delays(self, scenario: Scenario) -> Numbers:
        """Return the time from each row's spray to its re-wetting [s], 0 for rows without a moment."""
        delays = np.zeros(len(self.at))
        for place, (_, weather) in enumerate(self.records):
            its = np.flatnonzero((self.at == place) & self.moments.notna())
            told = delays_at(scenario, weather, self.moments[its])
            delays[its] = 0.0 if told is None else told
        return delays

    def told(self) -> str:
        """Return the records in words."""
        return "; ".join(f"{name}: {weather!r}" if name else repr(weather) for name, weather in self.records)

    def bridged(self, columns: Columns, longest: float | Numbers) -> npt.NDArray[np.bool_]:
        """Return whether each row's wet span crosses a gap of its record."""
        if not any(weather.gaps for _, weather in self.records):
            return np.zeros(len(self.at), dtype=np.bool_)
        wet = np.fmax(columns["wet_time"], columns["stem_wet_time"])
        wet = np.minimum(np.nan_to_num(wet, nan=0.0, posinf=np.inf), longest)
        crosses = np.zeros(len(wet), dtype=np.bool_)
        for place, (_, weather) in enumerate(self.records):
            its = np.flatnonzero((self.at == place) & self.moments.notna())
            crosses[its] = crosses_a_gap(weather, self.moments[its], wet[its])
        return crosses


def zones_of(records: Iterable[tuple[str, Weather]]) -> str:
    """Return the clock of records in words."""
    zones = {weather.time_zone for _, weather in records}
    several = "; ".join(f"{name}: {weather.time_zone}" for name, weather in records)
    return zones.pop() if len(zones) == 1 else several


def place_in_weather(
    weather: Skies,
    scenario: Scenario,
    columns: Mapping[str, Any],
    inputs: Mapping[str, Numbers],
    count: int,
) -> Placed:
    if "time" not in columns and "time_utc" not in columns:
        raise InputError("weather was given without a column 'time' of the moments of spraying")
    records, at = _records(weather, columns, count)
    reaching = [name for name in inputs if name in REACH_THE_AIR]
    house_of = np.zeros(count, dtype=np.int64)
    if reaching and count:
        house_of, _ = distinct([inputs[name] for name in reaching])
    longest: Any = inputs.get("numerics.longest", scenario["numerics.longest"])
    longest = np.clip(np.nan_to_num(longest, nan=0.0), 0.0, TABLE["numerics.longest"].high)
    longest = longest + (followed(scenario) - scenario["numerics.longest"])

    job = np.full(count, -1, dtype=np.int64)
    starts = np.full(count, np.nan)
    utc = np.full(count, "NaT", dtype="datetime64[ns]")
    reasons: dict[int, str] = {}
    jobs: list[tuple[Weather, Stretch]] = []
    for place, (_, record) in enumerate(records):
        rows = np.flatnonzero(at == place)
        _refuse_what_is_set(record, scenario, inputs, rows)
        moments, wrong = _moments(record, columns, rows)
        utc[rows] = moments.tz_localize(None).to_numpy()
        wrong |= outside(record, moments.tz_convert(record.tz))
        reasons |= {int(rows[i]): why for i, why in wrong.items()}
        known = np.asarray(moments.notna())
        known[list(wrong)] = False
        if not known.all():
            rows, moments = rows[known], moments[known]
        doubt_light(record, moments)
        stretches, which = stretches_of(record, moments, longest[rows] if np.ndim(longest) else longest)
        starts[rows] = starts_in(record, stretches, which, moments)
        own, firsts = distinct([which, house_of[rows]])
        job[rows] = len(jobs) + own
        jobs += [(record, stretches[stretch]) for stretch in which[firsts].tolist()]
    return Placed(records, at, pd.DatetimeIndex(utc, tz="UTC"), starts, job, jobs, reasons)


def _records(
    weather: Skies, columns: Mapping[str, Any], count: int
) -> tuple[list[tuple[str, Weather]], npt.NDArray[np.int64]]:
    """Return the records of rows with their names, and the place of each row's among them."""
    if isinstance(weather, Weather):
        if "weather" in columns:
            raise InputError("a column 'weather' wants weather={'name': record, ...}")
        return [("", weather)], np.zeros(count, dtype=np.int64)
    if "weather" not in columns:
        raise InputError("several weather records were given without a column 'weather' that tells which")
    codes, names = distinct_values("weather record", columns["weather"])
    for name in names:
        if name not in weather:
            known = [str(each) for each in weather]
            near = nearest(str(name), known) or f"known are {', '.join(known)}"
            raise InputError(f"there is no weather record {name!r}; {near}")
        if not isinstance(weather[name], Weather):
            raise InputError(f"weather[{name!r}] is no record; read it first, as in ws.read_weather('miami')")
    return [(str(name), weather[name]) for name in names], codes


def _moments(
    weather: Weather, columns: Mapping[str, Any], rows: npt.NDArray[np.int64]
) -> tuple[pd.DatetimeIndex, dict[int, str]]:
    """Return the moments of rows in UTC, NaT for those that cannot be known, and why."""
    name = "time_utc" if "time_utc" in columns else "time"
    given = columns[name][rows]
    if isinstance(given, pd.DatetimeIndex) or np.issubdtype(given.dtype, np.datetime64):
        index = pd.DatetimeIndex(given)
        if name == "time_utc" and index.tz is None:
            index = index.tz_localize("UTC")
        return weather.utc_of(index)
    codes, known = pd.factorize(given)  # a missing one has the code -1
    told = [_moment(weather, _as_utc(each) if name == "time_utc" else each) for each in known]
    utc = np.array([*(moment for moment, _ in told), np.datetime64("NaT")], dtype="datetime64[ns]")
    wrong = dict.fromkeys(np.flatnonzero(codes < 0).tolist(), "its time is missing (NaT)")
    for i in np.flatnonzero(np.isnat(utc[codes]) & (codes >= 0)).tolist():
        wrong[i] = told[codes[i]][1]
    return pd.DatetimeIndex(utc[codes], tz="UTC"), wrong


def _as_utc(given: object) -> object:
    """Return text or a datetime without an offset as UTC; what cannot be read as it is."""
    try:
        # pandas 2 refuses NumPy's own kind of text
        stamp = pd.Timestamp(str(given) if isinstance(given, str) else given)  # type: ignore[arg-type]
    except (ValueError, TypeError):
        return given
    return stamp.tz_localize("UTC") if stamp.tz is None else given


def _moment(weather: Weather, given: object) -> tuple[np.datetime64, str]:
    """Return one moment in UTC, or NaT and why it cannot be known."""
    try:
        moment = local(weather, given)  # type: ignore[arg-type]  # refused in words unless it is a moment
        return moment.tz_convert("UTC").tz_localize(None).to_datetime64(), ""
    except InputError as error:
        return np.datetime64("NaT", "ns"), str(error)


def _refuse_what_is_set(
    weather: Weather, scenario: Scenario, inputs: Mapping[str, Numbers], rows: npt.NDArray[np.int64]
) -> None:
    """Refuse columns that would change nothing in some of a record's rows, since the record sets them."""
    enclosed = (
        inputs["house.enclosed"][rows]
        if "house.enclosed" in inputs
        else np.full(len(rows), scenario["house.enclosed"])
    )
    idle = set_by_a_record(weather, enclosed)
    for name in idle:
        if name in inputs:
            raise InputError(
                f"{name} cannot be a column here: the weather record {weather.source} sets it; leave out the "
                "column, or the weather"
            )


def set_by_a_record(weather: Weather, enclosed: npt.ArrayLike) -> list[str]:
    """Return the inputs that a record sets, of which a column would change nothing in some rows."""
    at_crop, inside = weather.exposure == "crop", np.asarray(enclosed, dtype=bool)
    idle = list(_OF_UNCHANGING_AIR)
    if at_crop or not inside.all():
        idle.append("air.speed")
    if not at_crop and inside.any():
        idle.append("air.surroundings_offset")
    return idle


def with_own_delays(
    scenario: Scenario, inputs: dict[str, Numbers], placed: Placed | None
) -> tuple[Scenario, dict[str, Numbers]]:
    """Return a scenario and its inputs with each row's own interval where re-wetting is at a time of day."""
    if placed is None or scenario.rewetting_at is None:
        return scenario, inputs
    if DELAY in inputs:
        raise InputError(f"the scenario has rewetting.at and the rows have {DELAY}; keep one of them")
    return without_clock(scenario), inputs | {DELAY: placed.delays(scenario)}
