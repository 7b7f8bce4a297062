"""Weather records: air and sun in SI, on a stated clock.

Position of a value in time
    A stamp in a file may be the start, the middle or the end of the interval of a mean, or the moment of a
    reading. A record places each value at its own moment: the mean of an interval at the middle of the
    interval, a reading at its stamp. Between these moments a record is linear. All variables share one index.

Typical years
    A typical year combines months of different years, so its stamps mean month, day and time of day only. A
    question about any calendar year is answered from the same month, day and time. December continues with
    January, and 29 February repeats 28 February.
"""

from __future__ import annotations

from calendar import isleap
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta, timezone, tzinfo
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from wetspan.errors import InputError
from wetspan.unit_shown import with_unit
from wetspan.weather.clock import (
    HOUR,
    YEAR,
    YEARS,
    YEARS_ALLOWED,
    Moments,
    clock_of,
    duration,
    localize,
    moment_of,
    seconds,
)
from wetspan.weather.memory import cf_variables, from_cell, from_frame
from wetspan.weather.variables import EXPOSURES, FORMATS, LABELS, VARIABLES, Place, allowed, known


@dataclass(frozen=True, eq=False, repr=False)
class Weather:
    """A weather record of a station or of a logger: checked, in SI, each value at its own moment.

    data
        Columns temperature [K], relative_humidity [fraction, 0..1], pressure [Pa], wind_speed [m/s],
        shortwave [W/m2 on the horizontal], on an increasing index in UTC; no NaN; read-only. Values are
        linear between rows. Means are placed at the middle of their interval, readings at their stamp.
    place
        Place of the measurement; None if not stated.
    time_zone
        The record's own clock: "UTC", a fixed offset such as "UTC-05:00", or an IANA zone.
    label
        Position of a stamp in its averaging interval *in the file*: "start", "middle" or "end"; "instant" for
        readings. `data` already accounts for it. In the hourly formats it applies to the shortwave.
    exposure
        "outdoor": weather outside, which drives a house; "crop": air measured at crop height, used as it is.
    typical
        True for a typical year, whose stamps stand for any calendar year; the index of `data` has a nominal
        year.
    source, format
        Name of the file, and "tmy2", "tmy3", "epw" or "csv"; "memory" for a record that was not a file.
    interval
        Time between the stamps of the file, over which its means were taken.
    notes
        What was assumed or left out in reading, one sentence each.
    gaps
        The two stamps in UTC around each gap that was bridged by a straight line.
    lines
        Line of the file for each row of `data`, where each row comes from one line.
    settings
        How the file was read, as stated and as recognised: the content of [weather] in a scenario file.
    """

    data: pd.DataFrame
    place: Place | None
    time_zone: str
    label: str
    exposure: str
    typical: bool
    source: str
    format: str
    interval: pd.Timedelta
    notes: tuple[str, ...] = ()
    gaps: tuple[tuple[pd.Timestamp, pd.Timestamp], ...] = ()
    lines: tuple[int, ...] = ()
    settings: Mapping[str, Any] = field(default_factory=dict)

    @classmethod
    def from_dataframe(
        cls,
        frame: pd.DataFrame,
        *,
        label: str | None = None,
        time_zone: str | None = None,
        columns: Mapping[str, str] | None = None,
        units: Mapping[str, str] | None = None,
        exposure: str = "outdoor",
        place: Place | None = None,
        constants: Mapping[str, str] | None = None,
        longest_gap: str | timedelta = "3h",
        source: str = "DataFrame",
    ) -> Weather:
        """Make a record of a DataFrame with a DatetimeIndex.

        Columns with pvlib's names and units are recognised: temp_air [degC], relative_humidity [percent],
        pressure [Pa], wind_speed [m/s], ghi [W/m2]. `columns` names others, {"shortwave": "sun"}, and `units`
        their units. An index without a zone needs `time_zone`, the clock of its stamps. The zone of an index
        is the record's clock, unless `time_zone` gives another. `label` is the position of a stamp in its
        averaging interval: "start", "middle", "end", or "instant" for readings; it has to be given. Values
        are checked, and notes are made, as `read_weather` does for a plain CSV. `source` is the name of the
        record in messages.
        """
        return cls(
            **from_frame(
                frame,
                label=label,
                time_zone=time_zone,
                columns=columns,
                units=units,
                exposure=exposure,
                place=place,
                constants=constants,
                longest_gap=longest_gap,
                source=source,
            )
        )

    @classmethod
    def from_xarray(
        cls,
        dataset: xr.Dataset,
        *,
        label: str = "instant",
        time_zone: str | None = None,
        exposure: str | None = None,
        place: Place | None = None,
        constants: Mapping[str, str] | None = None,
        longest_gap: str | timedelta = "3h",
        source: str = "Dataset",
    ) -> Weather | WeatherGrid:
        """Make a record of a Dataset under the CF conventions; with more dimensions than time, one record of
        each cell.

        Variables are found by their standard_name (air_temperature, relative_humidity, air_pressure,
        wind_speed, surface_downwelling_shortwave_flux_in_air) or by these as names, and must have `units`.
        Times are UTC, as under CF; `time_zone` is the record's own clock ("UTC" by default). `label` is the
        position of a time in its averaging interval, the same for all variables. The place of a cell is given
        by its coordinates latitude (or lat), longitude (or lon; -180 to 180 or 0 to 360) and altitude, found
        by standard_name or by name. What is not given of `time_zone` and `exposure` (else "outdoor") is taken
        from the attributes that `to_xarray` writes, and so is that a record is of a typical year.
        With dimensions besides time, such as latitude and longitude, the result is a `WeatherGrid`, which
        `ws.batch` and `ws.season` accept in place of a record.
        """
        about: dict[str, Any] = {
            "label": label, "time_zone": time_zone, "exposure": exposure, "place": place,
            "constants": constants, "longest_gap": longest_gap,
        }  # fmt: skip
        found = cf_variables(dataset, source)
        dims = [str(dim) for dim in dataset[list(found.values())].dims if dim != "time"]
        if not dims:
            return cls(**from_cell(dataset, source=source, **about))
        cells = dataset.stack(cell=dims, create_index=False)
        records = {}
        for i in range(cells.sizes["cell"]):
            cell = cells.isel(cell=i)
            name = ", ".join(f"{dim} {cell[dim].values if dim in cell.coords else i}" for dim in dims)
            if name in records:
                raise InputError(f"{source}: {name} stands twice among its cells; labels have to differ")
            records[name] = cls(**from_cell(cell, source=f"{source}, {name}", **about))
        coords = {name: each for name, each in dataset.coords.items() if set(each.dims) <= set(dims)}
        shape = [dataset.sizes[dim] for dim in dims]
        names = np.array(list(records)).reshape(shape)
        return WeatherGrid(records, xr.DataArray(names, coords=coords, dims=dims, name="weather"))

    def __post_init__(self) -> None:
        known("label", [self.label], LABELS)
        known("exposure", [self.exposure], EXPOSURES)
        known("format", [self.format], (*FORMATS, "memory"))
        object.__setattr__(self, "time_zone", str(clock_of(self.time_zone)))
        index = self.data.index
        if not isinstance(index, pd.DatetimeIndex) or str(index.tz) != "UTC":
            raise InputError(f"{self.source}: the index of a record is a DatetimeIndex in UTC")
        if len(index) < 2 or index.hasnans or not (index.is_monotonic_increasing and index.is_unique):
            raise InputError(f"{self.source}: a record has two rows or more, at increasing times")
        if list(self.data.columns) != list(VARIABLES):
            raise InputError(
                f"{self.source}: columns {list(self.data.columns)}; a record has {list(VARIABLES)}"
            )
        if self.typical:
            first = index[0].tz_convert(self.tz).year
            new_year = pd.Timestamp(year=first + 1, month=1, day=1, tz=self.tz)
            whole = YEAR - HOUR <= index[-1] - index[0] < YEAR and index[-1] <= new_year
            if isleap(first) or not whole or not isinstance(self.tz, timezone):
                raise InputError(
                    f"{self.source}: a typical year is January to December, 365 days, on a fixed UTC offset"
                )
        values = self.data.to_numpy(dtype=np.float64, copy=True)
        for column, (name, rule) in enumerate(VARIABLES.items()):
            right = (values[:, column] >= rule.low) & (values[:, column] <= rule.high)
            if not right.all():
                row = int(right.argmin())
                said = with_unit(f"{values[row, column]:g}", rule.unit)
                raise InputError(
                    f"{self.source}, {index[row].isoformat()}: {name} is {said}; allowed is "
                    f"{allowed(name, rule.unit)}"
                )
        values.flags.writeable = False
        if len(self.lines) != len(values):  # of part of a record they would name other rows
            object.__setattr__(self, "lines", ())
        data = pd.DataFrame(values, index=index.rename("time"), columns=list(VARIABLES), copy=False)
        object.__setattr__(self, "data", data)

    def __repr__(self) -> str:
        first, last = (moment.tz_convert(self.tz).isoformat() for moment in self._index[[0, -1]])
        return (
            f"Weather({self.place or 'place not stated'}; "
            f"{'typical year' if self.typical else f'{first} to {last}'}, every {duration(self.interval)}, "
            f"clock {self.time_zone}; {self.exposure}; {self.source}, {self.format})"
        )

    @property
    def tz(self) -> tzinfo:
        """The record's own clock as a tzinfo."""
        return clock_of(self.time_zone)

    @property
    def _index(self) -> pd.DatetimeIndex:
        return pd.DatetimeIndex(self.data.index)

    def local(self, moment: str | date | pd.Timestamp) -> pd.Timestamp:
        """Return a moment on the record's own clock, with its zone.

        A moment without an offset is wall-clock time of `time_zone`; in the hourly formats that is standard
        time all year, an hour behind a grower's clock in summer. A moment with an offset
        ("2026-05-14T06:00-04:00", or any aware datetime) is converted. Text is ISO 8601. Wall-clock time that
        daylight saving skips or repeats is refused.
        """
        given = moment_of(moment)
        if given.tzinfo is not None:
            return given.tz_convert(self.tz)
        moments, fault = localize(pd.DatetimeIndex([given]), self.tz)
        if fault is not None:
            raise InputError(_not_on_the_clock(given, fault[1], self.time_zone))
        return moments[0]

    def utc_of(self, moments: pd.DatetimeIndex) -> tuple[pd.DatetimeIndex, dict[int, str]]:
        """Return moments in UTC, read as `local` does; for those that cannot be known NaT, and why."""
        wrong = {int(i): "its time is missing (NaT)" for i in np.flatnonzero(moments.isna())}
        if (
            len(wrong) < len(moments)
            and not YEARS[0] <= moments.min().year <= moments.max().year <= YEARS[-1]
        ):
            years = moments.year
            for i in np.flatnonzero((years < YEARS[0]) | (years > YEARS[-1])).tolist():
                wrong[i] = f"{moments[i].isoformat()}: {YEARS_ALLOWED}"
        if wrong:
            moments = pd.DatetimeIndex(moments.where(~np.isin(np.arange(len(moments)), list(wrong))))
        if moments.tz is not None:
            return moments.tz_convert("UTC"), wrong
        found = moments.tz_localize(self.tz, ambiguous="NaT", nonexistent="NaT")
        for i in np.setdiff1d(np.flatnonzero(found.isna()), list(wrong)).tolist():
            _, fault = localize(moments[[i]], self.tz)
            assert fault is not None
            wrong[i] = _not_on_the_clock(moments[i], fault[1], self.time_zone)
        return found.tz_convert("UTC"), wrong

    def where(self, moment: pd.Timestamp) -> str:
        """Name a moment of the record in a message: source, line if known, the moment on its own clock."""
        row = int(self._index.get_indexer(pd.DatetimeIndex([moment]), method="nearest")[0])
        line = f", line {self.lines[row]}" if self.lines and not self.typical else ""
        return f"{self.source}{line}, {moment.tz_convert(self.tz).isoformat()}"

    def at(self, times: pd.DatetimeIndex) -> pd.DataFrame:
        """Return the record at given times, a DatetimeIndex with a time zone, linear between its rows.

        Times outside the record are refused; a typical year answers for any calendar year.
        """
        if not isinstance(times, pd.DatetimeIndex):
            raise InputError(
                f"times are a {type(times).__name__}; allowed is a DatetimeIndex with a time zone"
            )
        if times.tz is None:
            raise InputError("times have no time zone; give them one, as in times.tz_localize(weather.tz)")
        if times.hasnans:
            raise InputError(f"times are missing (NaT) at position {int(times.isna().argmax())}")
        return self._interpolated(self._rows(_near(self._years(times))), times)

    def _interpolated(self, rows: pd.DataFrame, times: pd.DatetimeIndex) -> pd.DataFrame:
        known, utc = pd.DatetimeIndex(rows.index), times.tz_convert("UTC")
        outside = (utc < known[0]) | (utc > known[-1])
        if outside.any():
            first, last = (moment.tz_convert(self.tz).isoformat() for moment in known[[0, -1]])
            asked = utc[int(outside.argmax())].tz_convert(self.tz).isoformat()
            raise InputError(f"{asked} is outside the record {self.source}, {first} to {last}")
        x, xs = seconds(utc, known[0]), seconds(known, known[0])
        return pd.DataFrame({name: np.interp(x, xs, rows[name]) for name in VARIABLES}, index=times)

    def between(self, start: str | date | pd.Timestamp, end: str | date | pd.Timestamp) -> pd.DataFrame:
        """Return the rows of the record from start to end, with one interpolated at each of the two; in UTC.

        Start and end are read as by `local`.
        """
        ends = pd.DatetimeIndex([self.local(start).tz_convert("UTC"), self.local(end).tz_convert("UTC")])
        if ends[0] >= ends[1]:
            raise InputError(f"start {ends[0].isoformat()} is not before end {ends[1].isoformat()}")
        first, last = self._years(ends)[[0, -1]]
        rows = self._rows(_near(np.arange(first, last + 1)))
        index = pd.DatetimeIndex(rows.index)
        begin, end_ = index.searchsorted(ends[0], "right"), index.searchsorted(ends[1], "left")
        if index[0] <= ends[0] and ends[1] <= index[-1]:  # otherwise it is refused, and told how far rows go
            rows = rows.iloc[max(begin - 1, 0) : end_ + 1]  # one on either side, to interpolate the ends
        return self._interpolated(rows, ends.union(index[begin:end_]).rename("time"))

    def day(self, day: str | date) -> pd.DataFrame:
        """Return the record of one day on its own clock, midnight to midnight."""
        try:
            given = date.fromisoformat(day) if isinstance(day, str) else day
            following = given + timedelta(days=1)
        except (TypeError, ValueError, OverflowError):
            raise InputError(f"{day!r} is not a day such as 2026-05-14") from None
        if isinstance(given, datetime):
            raise InputError(f"{day!r} is a moment; a day such as 2026-05-14 is needed")
        return self.between(given, following)

    def to_xarray(self) -> xr.Dataset:
        """Return the record as a Dataset under the CF conventions; its time is UTC, stored without a zone."""
        dataset = xr.Dataset.from_dataframe(self.data.set_axis(self._index.tz_localize(None), axis=0))
        seconds = f"{self.interval.total_seconds():g} s"
        for name, rule in VARIABLES.items():
            is_mean = name == "shortwave" if self.format != "csv" else self.label != "instant"
            dataset[name].attrs = {
                "standard_name": rule.standard_name,
                "long_name": rule.long_name,
                "units": rule.unit,
                "cell_methods": f"time: mean (interval: {seconds})" if is_mean else "time: point",
            }
        dataset["time"].attrs = {"standard_name": "time", "long_name": "time in UTC; of a mean, its middle"}
        for name, unit in {"latitude": "degrees_north", "longitude": "degrees_east", "altitude": "m"}.items():
            value = getattr(self.place, name, None)
            if value is not None:
                attributes = {"standard_name": name, "long_name": name, "units": unit}
                dataset = dataset.assign_coords({name: ((), value, attributes)})
        dataset.attrs = {
            "Conventions": "CF-1.11",
            "title": "typical weather year" if self.typical else "weather record",
            "source": f"{self.source}, {self.format}",
            "place": "" if self.place is None else self.place.name,
            "time_zone": self.time_zone,
            "label": self.label,
            "exposure": self.exposure,
            "typical": int(self.typical),
            "comment": " ".join(self.notes),
        }
        return dataset

    def _years(self, times: pd.DatetimeIndex) -> npt.NDArray[np.int64]:
        """Calendar years of times on the record's own clock, each once, increasing."""
        years = np.unique(times.tz_convert(self.tz).year.to_numpy(dtype=np.int64))
        for year in years[[0, -1]] if len(years) else ():
            if year not in YEARS:
                raise InputError(f"times: year {year}; {YEARS_ALLOWED}")
        return years

    def _rows(self, years: npt.NDArray[np.int64]) -> pd.DataFrame:
        """Return the rows of the record; of a typical year, laid out over calendar years."""
        if not self.typical or len(years) == 0:
            return self.data
        offset = np.timedelta64(self.tz.utcoffset(None) or timedelta(), "us")
        stamps = self._index.tz_convert(self.tz).tz_localize(None).to_numpy().astype("datetime64[us]")
        moments, order = _lay_out(stamps, years)
        return self.data.iloc[order].set_axis(pd.DatetimeIndex(moments - offset).tz_localize("UTC"), axis=0)


class WeatherGrid(Mapping[str, Weather]):
    """The records of a grid by name; `cells` holds the names along its dimensions, with its coordinates."""

    def __init__(self, records: Mapping[str, Weather], cells: xr.DataArray) -> None:
        self._records, self.cells = dict(records), cells

    def __getitem__(self, name: str) -> Weather:
        return self._records[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._records)

    def __len__(self) -> int:
        return len(self._records)

    def __repr__(self) -> str:
        sizes = " x ".join(f"{dim} {size}" for dim, size in self.cells.sizes.items())
        return f"WeatherGrid({sizes})"


def _not_on_the_clock(moment: pd.Timestamp, fault: str, zone: str) -> str:
    return f"{moment.isoformat()} {fault} on the clock of {zone}; add its UTC offset"


def _near(years: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Years with the one before and the one after each, for interpolation across the turn of the year."""
    return np.unique(np.concatenate([years - 1, years, years + 1]))


def _lay_out(stamps: Moments, years: Iterable[int]) -> tuple[Moments, npt.NDArray[np.intp]]:
    """Lay the stamps of a year without 29 February over calendar years: the moments, and the stamp of each.

    A day runs from just after 0:00 to 24:00. 29 February repeats 28 February.
    """

    def first_of(year: int, month: int) -> Moments:
        return np.array(12 * (year - 1970) + month - 1).astype("datetime64[M]").astype("datetime64[us]")

    own = int(stamps[0].astype("datetime64[Y]").astype(int)) + 1970
    january, march, day = first_of(own, 1), first_of(own, 3), np.timedelta64(1, "D")
    early = np.flatnonzero(stamps <= march)
    repeated = np.flatnonzero((stamps > march - day) & (stamps <= march))
    late = np.flatnonzero(stamps > march)
    moments, order = [], []
    for year in years:
        moments.append(stamps[early] - january + first_of(year, 1))
        order.append(early)
        if isleap(year):
            moments.append(stamps[repeated] - january + first_of(year, 1) + day)
            order.append(repeated)
        moments.append(stamps[late] - march + first_of(year, 3))
        order.append(late)
    return np.concatenate(moments), np.concatenate(order)
