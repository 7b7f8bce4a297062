"""Weather prepared for the core: the air at the crop through a week of a record, computed once and kept.

A record is divided into weeks, Monday to Sunday in UTC, independently of what is asked. The air of a spray is
computed from a day before its week, which is enough for a house to lose the effect of its initial state, to
the end of the week and for as long afterwards as wet plants are followed. So a spray has bitwise the same air
alone, in a day and in any batch, and the air of one week and one house serves all sprays in it.
"""

from __future__ import annotations

import os
import re
import threading
from collections import OrderedDict
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from functools import cached_property
from typing import Any, NamedTuple, TypeAlias
from weakref import WeakKeyDictionary

import numpy as np
import numpy.typing as npt
import pandas as pd

from wetspan import _core
from wetspan.doubts import doubt_light
from wetspan.errors import InputError, IntegrationError, described
from wetspan.parameters import TABLE
from wetspan.scenario import Scenario
from wetspan.weather import Weather

Moment: TypeAlias = str | date | pd.Timestamp | np.datetime64
Numbers: TypeAlias = npt.NDArray[np.float64]
Times: TypeAlias = npt.NDArray[np.datetime64]
Places: TypeAlias = npt.NDArray[np.int64]

SETTLING = pd.Timedelta(hours=24)  # within 0.005 K and 1 Pa the air is then that of a longer past (measured)
_WEEK = pd.Timedelta(days=7)
_A_MONDAY = pd.Timestamp("1970-01-05", tz="UTC")
_EPOCH, _DAY = pd.Timestamp("1970-01-01", tz="UTC"), pd.Timedelta(days=1)
_MONDAYS = 1  # weeks from that of 1970-01-01 to that of _A_MONDAY
_WHOLE = -1_000_000  # the "week" that is the whole record, where nothing has to be followed
_KEPT = 128 * 2**20  # bytes of air kept for each record
_MEANS = 4096  # weeks whose mean temperatures are kept for each record

#: Inputs that the air of a house, or of a crop outdoors, answers to.
REACH_THE_AIR = (
    *(
        key
        for key in TABLE
        if key.startswith("house.") and key not in ("house.sprayed_share", "house.bench_conductance")
    ),
    "air.speed",
    "air.surroundings_offset",
    "air.diffusivity",
    "canopy.plant_density",
    "canopy.leaf_area",
    "canopy.crown_cover",
    "canopy.extinction",
    "canopy.clumping",
    "leaf.width",
    "leaf.absorptance",
    "leaf.turbulence",
    "leaf.stomatal_conductance",
    "leaf.stomatal_half_light",
)


class Stretch(NamedTuple):
    """A week of a record, and the days after it through which wet plants are followed."""

    week: int
    reach: int

    def own(self, utc: Times) -> tuple[np.datetime64, np.datetime64]:
        """Return the first moment of the week itself and that of the next; of a whole record all of `utc`."""
        if self.week == _WHOLE:
            return utc[0], utc[-1] + np.timedelta64(1, "s")
        monday = _A_MONDAY + self.week * _WEEK
        return monday.to_datetime64(), (monday + _WEEK).to_datetime64()


def local(weather: Weather, moment: Moment) -> pd.Timestamp:
    """Return a moment on the record's own clock, as `weather.local` reads it."""
    if not isinstance(weather, Weather):
        raise InputError(
            f"weather = {described(weather)} is no record; read it first, as in ws.read_weather('miami')"
        )
    return weather.local(pd.Timestamp(moment) if isinstance(moment, np.datetime64) else moment)


def air_at_spraying(scenario: Scenario, weather: Weather, time: Moment) -> tuple[_core.CropAir, float]:
    """Return the air at the crop around a moment of spraying, and that moment in it [s]."""
    (air,), _, starts = airs_at(scenario, weather, pd.DatetimeIndex([local(weather, time)]))
    return air, float(starts[0])


def airs_at(
    scenario: Scenario, weather: Weather, moments: pd.DatetimeIndex
) -> tuple[list[_core.CropAir], npt.NDArray[np.uint64], Numbers]:
    """Return the airs of moments of spraying, which is each moment's, and the moment in it [s]."""
    refuse_outside(weather, moments)
    doubt_light(weather, moments)
    stretches, which = stretches_of(weather, moments, followed(scenario))
    airs = [raised(air) for air in follow([(weather, each, scenario) for each in stretches])]
    return airs, which.astype(np.uint64), starts_in(weather, stretches, which, moments)


def followed(scenario: Scenario) -> float:
    """Return how long after the start of growth plants may be followed while wet [s]."""
    last = max((each["at"] for each in scenario.applications), default=0.0)
    return scenario["numerics.longest"] + last


def weeks_at(
    scenario: Scenario, weather: Weather, moments: pd.DatetimeIndex
) -> tuple[list[Numbers], npt.NDArray[np.uint64]]:
    """Return the daily mean temperatures at the crop over the weeks of growth [K], and whose they are.

    Days are those of UTC, from that of the spray for as long as growth goes on or the record reaches. A
    house's are those of this scenario, whatever a study draws.
    """
    if not len(moments):
        return [], np.empty(0, dtype=np.uint64)
    day_of = _since(moments, _EPOCH) // _DAY.value
    which, firsts = distinct([day_of])
    days = day_of[firsts]
    count = int(np.ceil(scenario["uptake.horizon"] / 86400.0))
    reach = int(np.ceil(followed(scenario) / 86400.0))
    first = int(days[0])
    means = np.full(int(days[-1]) - first + count + 1, np.nan)  # the last stays unknown
    wanted = np.unique((days[:, None] + np.arange(count) + 3) // 7)
    house = _house(scenario)
    for week in wanted.tolist():
        for day, mean in _kept(weather).daily(weather, week, reach, scenario, house).items():
            if 0 <= day - first < len(means) - 1:
                means[day - first] = mean
    unknown = np.flatnonzero(np.isnan(means))
    begins = days - first
    ends = np.minimum(begins + count, unknown[np.searchsorted(unknown, begins)])
    weeks = [means[begin:end] for begin, end in zip(begins.tolist(), ends.tolist(), strict=True)]
    return weeks, which.astype(np.uint64)


def _daily(scenario: Scenario, weather: Weather, week: int, reach: int) -> dict[int, float]:
    """Return the mean temperature of the days of a week that the record covers by half or more [K]."""
    monday = week * 7 - 3  # days since 1970-01-01, a Thursday
    starts = (_EPOCH + monday * _DAY, _EPOCH + (monday + 7) * _DAY)
    if not weather.typical:
        known = pd.DatetimeIndex(weather.data.index)
        if starts[1] <= known[0] or starts[0] >= known[-1]:
            return {}
    stretch = Stretch(_WHOLE, 0) if weather.exposure == "crop" else Stretch(week - _MONDAYS, reach)
    record = _kept(weather).record(weather, stretch)
    air = raised(follow([(weather, stretch, scenario)])[0])
    edges = record.seconds(pd.DatetimeIndex([starts[0] + d * _DAY for d in range(8)]))
    means = _core.mean_temperatures(air, edges).tolist()
    return {monday + d: mean for d, mean in enumerate(means) if not np.isnan(mean)}


def refuse_outside(weather: Weather, moments: pd.DatetimeIndex) -> None:
    """Refuse moments of spraying outside a record."""
    wrong = outside(weather, moments)
    if wrong:
        raise InputError(wrong[min(wrong)])


def outside(weather: Weather, moments: pd.DatetimeIndex) -> dict[int, str]:
    """Return the positions of moments that a record does not hold, each with the reason."""
    if weather.typical or len(moments) == 0:
        return {}
    first, last = (moment.tz_convert(weather.tz) for moment in weather.data.index[[0, -1]])
    wrong = np.flatnonzero((moments < first) | (moments >= last))
    span = f"the record {weather.source}, {first.isoformat()} to {last.isoformat()}"
    return {
        row: f"{weather.source} ends at the last time of spraying; nothing can dry after it"
        if moments[row] == last
        else f"{moments[row].isoformat()} is outside {span}"
        for row in wrong.tolist()
    }


def stretches_of(
    weather: Weather, moments: pd.DatetimeIndex, longest: float | Numbers
) -> tuple[list[Stretch], npt.NDArray[np.int64]]:
    """Return the stretches of moments whose plants are followed for `longest` [s], and which is whose."""
    days = np.broadcast_to(np.ceil(np.asarray(longest, dtype=float) / 86400.0).astype(np.int64), len(moments))
    if weather.exposure == "crop":  # measured where the crop stands: nothing has to be followed
        return [Stretch(_WHOLE, 0)], np.zeros(len(moments), dtype=np.int64)
    weeks = _since(moments, _A_MONDAY) // _WEEK.value
    which, firsts = distinct([weeks, days] if np.ndim(longest) else [weeks])
    return [Stretch(*each) for each in zip(weeks[firsts].tolist(), days[firsts].tolist(), strict=True)], which


def distinct(columns: Sequence[npt.NDArray[Any]]) -> tuple[Places, Places]:
    """Return a number for each row, of whole numbers in their order, and a row of each number.

    Numbers come from counting or hashing, in a tenth of the time of sorting rows.
    """
    number, size = np.zeros(len(columns[0]), dtype=np.int64), min(1, len(columns[0]))
    for values in columns:
        codes, known = _codes(values)
        number, size = _codes(number * known + codes) if known > 1 else (number, size)
    firsts = np.zeros(size, dtype=np.int64)
    firsts[number[::-1]] = np.arange(len(number))[::-1]  # the first row, written last
    return number, firsts


def _codes(values: npt.NDArray[Any]) -> tuple[Places, int]:
    """Return the place of each value among the distinct ones, and how many these are."""
    if len(values) and values.dtype == np.int64:
        low = int(values.min())
        span = int(values.max()) - low + 1
        if span <= 2 * len(values):
            seen = np.zeros(span, dtype=bool)
            seen[values - low] = True
            return (np.cumsum(seen) - 1)[values - low], int(seen.sum())
    codes, known = pd.factorize(values, sort=values.dtype == np.int64, use_na_sentinel=False)
    return np.asarray(codes, dtype=np.int64), len(known)


def in_order(keys: Places, below: int) -> Places:
    """Return rows in the order of keys from -1 on, equal ones as they are; few keys are counted."""
    if below < np.iinfo(np.uint16).max:
        keys = (keys + 1).astype(np.uint16)
    return np.argsort(keys, kind="stable")


def starts_in(
    weather: Weather,
    stretches: Sequence[Stretch],
    which: npt.NDArray[np.int64],
    moments: pd.DatetimeIndex,
) -> Numbers:
    """Return moments in seconds of the stretch of each [s]."""
    if not len(moments):
        return np.empty(0)
    since = np.array([_kept(weather).record(weather, stretch).begins for stretch in stretches])
    return np.asarray((_since(moments, _EPOCH) - since[which]) / 1e9, dtype=np.float64)


def _since(moments: pd.DatetimeIndex, origin: pd.Timestamp) -> Places:
    """Return the nanoseconds from a moment to others, which are all known."""
    return np.asarray(moments.as_unit("ns").asi8 - origin.as_unit("ns").value, dtype=np.int64)


def utc_in(weather: Weather, stretch: Stretch, air: _core.CropAir) -> Times:
    """Return the times of the air of a stretch, in UTC."""
    first = _kept(weather).record(weather, stretch).index[0].to_datetime64()
    since = np.round(1e3 * air.time).astype("timedelta64[ms]")
    return np.asarray(first.astype("datetime64[us]") + since)


def follow(
    jobs: Sequence[tuple[Weather, Stretch, Scenario]],
    threads: int = 0,
    done: Callable[[], object] | None = None,
) -> list[_core.CropAir | InputError | IntegrationError]:
    """Return the air of each stretch at the crop of each scenario, or why there is none.

    What was followed before is kept. `done` is called now and then. `threads` 0 is one per processor.
    """

    houses = {id(scenario): scenario for _, _, scenario in jobs}
    keys = {which: _house(scenario) for which, scenario in houses.items()}

    def one(job: tuple[Weather, Stretch, Scenario]) -> _core.CropAir | InputError | IntegrationError:
        weather, stretch, scenario = job
        try:
            return _kept(weather).air(weather, stretch, scenario, keys[id(scenario)])
        except (InputError, IntegrationError) as error:
            return error

    crew = min(threads or _processors(), len(jobs))
    found: list[_core.CropAir | InputError | IntegrationError] = []
    if crew <= 1:
        for job in jobs:
            found.append(one(job))
            if done is not None:
                done()
        return found
    pool = ThreadPoolExecutor(crew)
    try:
        for air in pool.map(one, jobs):
            found.append(air)
            if done is not None:
                done()
    finally:
        pool.shutdown(cancel_futures=True)
    return found


def crosses_a_gap(weather: Weather, moments: pd.DatetimeIndex, seconds: Numbers) -> npt.NDArray[np.bool_]:
    """Return which spans, from moments for so long [s], cross a gap of the record that was bridged."""
    crosses = np.zeros(len(moments), dtype=np.bool_)
    if not weather.gaps:
        return crosses
    begins, ends = (np.array([gap[end].timestamp() for gap in weather.gaps]) for end in (0, 1))
    first = np.asarray((moments - pd.Timestamp(0, tz="UTC")) / pd.Timedelta(seconds=1), dtype=float)
    following = np.searchsorted(ends, first, side="right")  # the first gap that ends after the spray
    there = following < len(ends)
    crosses[there] = begins[following[there]] < (first + seconds)[there]
    return crosses


#: What people know the air at the crop by: units and meaning.
ABOUT_AIR = {
    "air_temperature": ("K", "air temperature at the crop"),
    "relative_humidity": ("1", "relative humidity at the crop"),
    "vapour_pressure_deficit": ("Pa", "vapour pressure deficit at the crop"),
    "shortwave": ("W/m^2", "shortwave at the top of the crop"),
    "air_changes": ("1/hour", "air changes of the house"),
}


def conditions(air: _core.CropAir, starts: Numbers) -> dict[str, Numbers]:
    """Return what people know the air at the crop by (`ABOUT_AIR`), at some moments [s]."""
    return told_conditions(np.asarray(_core.conditions(air, starts)))


def told_conditions(rows: Numbers) -> dict[str, Numbers]:
    """Return the columns of `ABOUT_AIR`, of the core's conditions; air changes are its last, in 1/s."""
    return dict(zip(ABOUT_AIR, [*rows[:-1], 3600.0 * rows[-1]], strict=True))


def air_at(
    airs: Sequence[_core.CropAir], air_of: npt.NDArray[np.uint64], starts: Numbers
) -> dict[str, tuple[Numbers, str, str]]:
    """Return values, units and meaning of what people know the air at the crop by, at some moments [s]."""
    known = {name: np.empty(len(starts)) for name in ABOUT_AIR}
    for place, air in enumerate(airs):
        its = air_of == place
        for name, values in conditions(air, starts[its]).items():
            known[name][its] = values
    return {name: (known[name], *about) for name, about in ABOUT_AIR.items()}


class Record:
    """The rows of a weather record from `first` to `last`."""

    def __init__(self, weather: Weather, first: pd.Timestamp, last: pd.Timestamp) -> None:
        rows = weather.between(first, last)
        self.index = pd.DatetimeIndex(rows.index)
        self.begins = int(self.index[:1].as_unit("ns").asi8[0])  # ns since 1970 in UTC
        self.exposure = weather.exposure
        self.time = self.seconds(self.index)
        self.columns = {
            name: rows[name].to_numpy() for name in ("temperature", "pressure", "wind_speed", "shortwave")
        }
        self.columns["vapour_pressure"] = np.asarray(
            _core.air.vapour_pressure(rows["relative_humidity"].to_numpy(), self.columns["temperature"])
        )

    @classmethod
    def of(cls, weather: Weather, stretch: Stretch) -> Record:
        """Return the rows of a stretch, as far as the record has them."""
        known = pd.DatetimeIndex(weather.data.index)
        if stretch.week == _WHOLE:
            return cls(weather, known[0], known[-1])
        monday = _A_MONDAY + stretch.week * _WEEK
        first, last = monday - SETTLING, monday + _WEEK + pd.Timedelta(days=stretch.reach)
        if not weather.typical:
            first, last = max(first, known[0]), min(last, known[-1])
        return cls(weather, first, last)

    def seconds(self, moments: pd.DatetimeIndex) -> Numbers:
        """Return moments in seconds of the record [s]."""
        return np.asarray((moments - self.index[0]) / pd.Timedelta(seconds=1), dtype=np.float64)

    @cached_property
    def _outdoor(self) -> _core.Outdoor:
        return _core.Outdoor(self.time, self.columns)

    def air(self, scenario: Scenario) -> _core.CropAir:
        """Return the air at the crop: through the house from outdoors, or as a logger there measured it."""
        at_crop = _core.air_at_crop if self.exposure == "outdoor" else _core.air_from_logger
        return at_crop(scenario._held, self._outdoor)


class _Kept:
    """What was followed of one record: its stretches, and their airs, those used last up to a limit."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._records: dict[Stretch, Record] = {}
        self._airs: OrderedDict[tuple[Stretch, bytes], _core.CropAir] = OrderedDict()
        self._bytes = 0
        self._means: OrderedDict[tuple[int, int, bytes], dict[int, float]] = OrderedDict()

    def daily(
        self, weather: Weather, week: int, reach: int, scenario: Scenario, house: bytes
    ) -> dict[int, float]:
        """Return the mean temperatures of the days of a week, as `_daily` does."""
        key = week, reach, house
        with self._lock:
            known = self._means.get(key)
        if known is None:
            known = _daily(scenario, weather, week, reach)
            with self._lock:
                self._means[key] = known
                while len(self._means) > _MEANS:
                    self._means.popitem(last=False)
        return known

    def record(self, weather: Weather, stretch: Stretch) -> Record:
        with self._lock:
            if stretch not in self._records:
                self._records[stretch] = Record.of(weather, stretch)
            return self._records[stretch]

    def air(self, weather: Weather, stretch: Stretch, scenario: Scenario, house: bytes) -> _core.CropAir:
        key = stretch, house
        with self._lock:
            if key in self._airs:
                self._airs.move_to_end(key)
                return self._airs[key]
        record = self.record(weather, stretch)
        try:
            air = record.air(scenario)
        except InputError as error:  # the core counts rows; people know files and lines
            row = re.match("air record, row (\\d+): ", str(error))
            if row is None:
                raise
            where = weather.where(record.index[int(row[1])])
            raise InputError(f"{where}: {str(error)[row.end() :]}") from None
        with self._lock:
            if key not in self._airs:
                self._airs[key] = air
                self._bytes += _size(air)
            while self._bytes > _KEPT and len(self._airs) > 1:
                self._bytes -= _size(self._airs.popitem(last=False)[1])
        return air


_all_kept: WeakKeyDictionary[Weather, _Kept] = WeakKeyDictionary()
_lock = threading.Lock()


def _kept(weather: Weather) -> _Kept:
    with _lock:
        return _all_kept.setdefault(weather, _Kept())


def _house(scenario: Scenario) -> bytes:
    """Return what of a scenario reaches the air."""
    return np.array([scenario[name] for name in REACH_THE_AIR]).tobytes()


def _size(air: _core.CropAir) -> int:
    return 8 * 8 * len(air.time)  # the time and seven columns, eight bytes each


def _processors() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def raised(air: _core.CropAir | InputError | IntegrationError) -> _core.CropAir:
    """Return an air, or raise why there is none."""
    if isinstance(air, Exception):
        raise air
    return air
