"""Weather records: what the stamps of each format mean, what is refused, and how times are answered."""

from __future__ import annotations

import csv
import dataclasses
import functools
import re
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pvlib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from refusal import refused
from scipy.integrate import trapezoid
from wetspan.errors import InputError, nearest
from wetspan.weather import VARIABLES, Place, Weather, read_weather, sample_weather

DATA = Path(__file__).parent / "data"
SAMPLES = ("miami", "sand-point", "piedmont")
LOGGER = {
    "columns": {"time": "time", "temperature": "T", "relative_humidity": "RH"},
    "units": {"temperature": "degC", "relative_humidity": "percent"},
    "time_zone": "UTC-05:00",
    "label": "instant",
    "exposure": "crop",
    "constants": {"wind_speed": "0.2 m/s", "shortwave": "0 W/m^2"},
}
STATION = {
    "columns": {name: name for name in ("time", *VARIABLES)},
    "units": {name: variable.unit for name, variable in VARIABLES.items()},
    "exposure": "outdoor",
}


@functools.cache
def sample(name: str) -> Weather:
    return read_weather(name)


def local_times(weather: Weather, moments: list[str]) -> pd.DatetimeIndex:
    return pd.DatetimeIndex([weather.local(moment) for moment in moments])


def logger(folder: Path, text: str, **changes: Any) -> Weather:
    """Read a text as the file of a logger, with changes to how it is read."""
    file = folder / "logger.csv"
    file.write_bytes(text.encode())
    return read_weather(file, **{**LOGGER, **changes})


def rows(*stamps: str, value: str = "20,60") -> str:
    return "time,T,RH\n" + "".join(f"{stamp},{value}\n" for stamp in stamps)


TWO = rows("2026-05-14T06:00", "2026-05-14T07:00")


# --- an invented station, as an EPW -----------------------------------------------------------------------

SITE = Place("Invented Flats, XX", 40.0, -95.0, 300.0)
ZONE = "UTC-06:00"


def clear_sun(starts: pd.DatetimeIndex) -> np.ndarray:
    """Hourly means of clear-sky shortwave [W/m2], of the hours that begin at local standard times."""
    steps = pd.to_timedelta(np.arange(5, 60, 10), unit="min")
    fine = pd.DatetimeIndex((starts.to_numpy()[:, None] + steps.to_numpy()).ravel()).tz_localize("Etc/GMT+6")
    sun = pvlib.solarposition.get_solarposition(fine, SITE.latitude, SITE.longitude)
    return (
        pvlib.clearsky.haurwitz(sun["apparent_zenith"])["ghi"].to_numpy().reshape(-1, len(steps)).mean(axis=1)
    )


def reading(starts: pd.DatetimeIndex) -> np.ndarray:
    """An invented temperature [degC] at the end of each hour, different for every hour of the year."""
    hour_of_year = (starts.day_of_year - 1) * 24 + starts.hour + 1
    return np.round(hour_of_year / 400.0, 4)


def epw(
    starts: pd.DatetimeIndex, years: np.ndarray | None = None, periods: str = "DATA PERIODS,1,1,Data"
) -> str:
    header = [
        "LOCATION,Invented Flats,XX,XXX,invented,000000,40.0,-95.0,-6.0,300.0",
        *("DESIGN CONDITIONS,0", "TYPICAL/EXTREME PERIODS,0", "GROUND TEMPERATURES,0"),
        *("HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0", "COMMENTS 1,invented", "COMMENTS 2,invented", periods),
    ]
    years = starts.year.to_numpy() if years is None else years
    lines = [
        f"{year},{start.month},{start.day},{start.hour + 1},60,?,{celsius},5,60,97700,0,0,300,{sun:.3f},0,0"
        ",0,0,0,0,180,2.5,0,0,20,7777,9,999999999,0,0,0,88,0.2,0,1"
        for start, year, celsius, sun in zip(starts, years, reading(starts), clear_sun(starts), strict=True)
    ]
    return "\n".join([*header, *lines]) + "\n"


@functools.cache
def typical_epw() -> str:
    starts = pd.date_range("2023-01-01", periods=8760, freq="h")
    return epw(starts, years=np.where(starts.month % 2 == 0, 2004, 2011))


@pytest.fixture
def epw_file(tmp_path: Path) -> Callable[[str], Path]:
    def write(text: str) -> Path:
        file = tmp_path / "flats.epw"
        file.write_text(text)
        return file

    return write


# --- off by an hour? --------------------------------------------------------------------------------------


def minutes_after_noon(weather: Weather, place: Place, day: str) -> float:
    """Centroid of a day's shortwave minus solar noon of pvlib (SPA, Reda & Andreas 2004) [min]."""
    sun = weather.day(day)["shortwave"]
    seconds = (sun.index - sun.index[0]) / pd.Timedelta(seconds=1)
    centroid = trapezoid(sun * seconds, seconds) / trapezoid(sun, seconds)
    noon = pvlib.solarposition.sun_rise_set_transit_spa(
        pd.DatetimeIndex([weather.local(f"{day}T12:00")]), place.latitude, place.longitude
    )["transit"].iloc[0]
    return float((sun.index[0] + pd.Timedelta(seconds=centroid) - noon) / pd.Timedelta(minutes=1))


def clearest_days(weather: Weather, place: Place, count: int = 11) -> list[str]:
    """Days of 2026 with the largest share of the clear-sky shortwave of Haurwitz (1945)."""
    days = pd.date_range("2026-01-01", "2026-12-31", tz=weather.tz)
    times = pd.date_range(days[0], periods=365 * 48, freq="30min")
    sun = weather.at(times)["shortwave"].to_numpy().reshape(365, 48).sum(axis=1)
    zenith = pvlib.solarposition.get_solarposition(times, place.latitude, place.longitude)["apparent_zenith"]
    clear = pvlib.clearsky.haurwitz(zenith)["ghi"].to_numpy().reshape(365, 48).sum(axis=1)
    return [f"{day:%Y-%m-%d}" for day in days[np.argsort(sun / clear)[-count:]]]


def as_end_stamped_csv(weather: Weather, file: Path) -> None:
    """Write the means of a typical year's shortwave to a CSV of 2025 whose stamps end the hours."""
    ends = pd.date_range("2025-01-01 01:00", "2025-12-31 23:00", freq="h", tz=weather.tz)
    values = weather.at(ends - pd.Timedelta("30min"))
    table = values.set_axis(ends.tz_localize(None), axis=0).rename_axis("time")
    table.to_csv(file, date_format="%Y-%m-%dT%H:%M")


@pytest.mark.parametrize("name", SAMPLES)
def test_the_sun_of_clear_days_is_centred_on_solar_noon(name: str) -> None:
    weather = sample(name)
    assert weather.place is not None
    errors = [
        minutes_after_noon(weather, weather.place, day) for day in clearest_days(weather, weather.place)
    ]
    assert abs(np.median(errors)) < 3
    assert max(map(abs, errors)) < 10


def test_the_sun_of_an_epw_is_centred_on_solar_noon(epw_file: Callable[[str], Path]) -> None:
    weather = read_weather(epw_file(typical_epw()))
    for day in ("2026-01-15", "2026-05-14", "2026-09-30"):
        assert abs(minutes_after_noon(weather, SITE, day)) < 1


@pytest.mark.parametrize(("label", "error"), [("end", 0), ("middle", 30), ("instant", 30), ("start", 60)])
def test_a_wrong_label_moves_the_sun(tmp_path: Path, label: str, error: float) -> None:
    weather = sample("piedmont")
    assert weather.place is not None
    file = tmp_path / "station.csv"
    as_end_stamped_csv(weather, file)
    relabelled = read_weather(file, **STATION, time_zone="UTC-05:00", label=label)
    days = [day.replace("2026", "2025") for day in clearest_days(weather, weather.place)]
    found = np.median([minutes_after_noon(relabelled, weather.place, day) for day in days])
    assert found == pytest.approx(error, abs=3)


def test_tmy3_values_stand_where_the_file_has_them() -> None:
    """Every reading at the end of its hour, every mean of shortwave at the middle, against the raw text."""
    weather = sample("piedmont")
    with sample_weather()["piedmont"].open() as file:
        next(file)
        table = list(csv.DictReader(file))
    ends = [f"2026-{row['Date (MM/DD/YYYY)'][:2]}-{row['Date (MM/DD/YYYY)'][3:5]}" for row in table]
    hours = [int(row["Time (HH:MM)"][:2]) for row in table]
    stamps = pd.to_datetime(ends) + pd.to_timedelta(hours, unit="h")
    stamps = stamps.tz_localize(weather.tz)
    readings = weather.at(stamps)
    np.testing.assert_allclose(
        readings["temperature"], [float(row["Dry-bulb (C)"]) + 273.15 for row in table]
    )
    np.testing.assert_allclose(readings["relative_humidity"], [float(row["RHum (%)"]) / 100 for row in table])
    np.testing.assert_allclose(readings["pressure"], [float(row["Pressure (mbar)"]) * 100 for row in table])
    np.testing.assert_allclose(readings["wind_speed"], [float(row["Wspd (m/s)"]) for row in table])
    means = weather.at(stamps - pd.Timedelta("30min"))
    np.testing.assert_allclose(means["shortwave"], [float(row["GHI (W/m^2)"]) for row in table], atol=1e-9)


def test_tmy2_values_stand_where_the_file_has_them() -> None:
    """Field positions from Marion & Urban (1995), User's Manual for TMY2s, table 3-2 (from memory)."""
    weather = sample("miami")
    lines = sample_weather()["miami"].read_text().splitlines()[1:]
    stamps = pd.DatetimeIndex(
        [datetime(2026, int(line[3:5]), int(line[5:7])) + timedelta(hours=int(line[7:9])) for line in lines]
    ).tz_localize(weather.tz)
    readings = weather.at(stamps)
    np.testing.assert_allclose(readings["temperature"], [int(line[67:71]) / 10 + 273.15 for line in lines])
    np.testing.assert_allclose(readings["relative_humidity"], [int(line[79:82]) / 100 for line in lines])
    np.testing.assert_allclose(readings["pressure"], [int(line[84:88]) * 100 for line in lines])
    np.testing.assert_allclose(readings["wind_speed"], [int(line[95:98]) / 10 for line in lines])
    means = weather.at(stamps - pd.Timedelta("30min"))
    np.testing.assert_allclose(means["shortwave"], [int(line[17:21]) for line in lines], atol=1e-9)


def test_a_reading_of_hour_24_of_february_is_not_lost_in_a_leap_year() -> None:
    # The February of the Piedmont year is of 1996, where 24:00 of the 28th is 0:00 of the 29th.
    assert "02/28/1996,24:00" in sample_weather()["piedmont"].read_text()
    weather = sample("piedmont")
    assert len(weather.data) == 2 * 8760
    assert (weather.data.index[1:] - weather.data.index[:-1] == pd.Timedelta("30min")).all()


# --- the samples ------------------------------------------------------------------------------------------


def test_samples_are_files_of_the_installed_pvlib() -> None:
    paths = sample_weather()
    assert tuple(paths) == SAMPLES
    assert all(path.is_file() for path in paths.values())


@pytest.mark.parametrize(
    ("name", "place", "zone", "form"),
    [
        ("miami", Place("MIAMI, FL", 25.8, -(80 + 16 / 60), 2.0), "UTC-05:00", "tmy2"),
        ("sand-point", Place("SAND POINT, AK", 55.317, -160.517, 7.0), "UTC-09:00", "tmy3"),
        ("piedmont", Place("GREENSBORO PIEDMONT TRIAD INT, NC", 36.1, -79.95, 273.0), "UTC-05:00", "tmy3"),
    ],
)
def test_samples_know_their_place_and_clock(name: str, place: Place, zone: str, form: str) -> None:
    weather = sample(name)
    assert weather.place == place
    assert (weather.time_zone, weather.format, weather.label) == (zone, form, "end")
    assert weather.typical
    assert weather.exposure == "outdoor"
    assert weather.interval == pd.Timedelta("1h")
    assert weather.notes == ()
    assert list(weather.data.columns) == list(VARIABLES)
    assert str(weather.data.index.tz) == "UTC"


def test_a_sample_missing_from_pvlib_is_said_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("wetspan.weather.files.SAMPLES", {"miami": "gone.tm2"})
    refused(sample_weather, "sample 'miami'", "gone.tm2", pvlib.__version__)
    refused(lambda: read_weather("miami"), "sample 'miami'", "gone.tm2")


def test_unknown_names_get_the_nearest() -> None:
    refused(lambda: read_weather("piedmnt"), "piedmnt: no such file", "did you mean 'piedmont'?")
    refused(lambda: read_weather(DATA / "bench_loger.csv"), "did you mean 'bench_logger.csv'?")
    refused(lambda: read_weather("miami", format="tmy4"), "format: 'tmy4'", "tmy3")
    refused(lambda: read_weather("/no/such/folder/at/all.csv"), "no such file")


def test_nearest() -> None:
    assert nearest("piedmnt", SAMPLES) == "did you mean 'piedmont'?"
    assert nearest("MIAMI", SAMPLES) == "did you mean 'miami'?"
    assert nearest("xyz", SAMPLES) == ""
    assert nearest("", SAMPLES) == ""
    assert nearest("aab", ["aaa", "aac", "zzz"]) == "did you mean 'aac' or 'aaa'?"
    assert nearest("aa1", ["aaa", "aab", "aac"]) == "did you mean 'aac', 'aab' or 'aaa'?"


# --- EPW --------------------------------------------------------------------------------------------------


def test_epw_readings_end_their_hour(epw_file: Callable[[str], Path]) -> None:
    weather = read_weather(epw_file(typical_epw()))
    assert weather.typical
    assert weather.place == SITE
    assert weather.time_zone == ZONE
    starts = pd.date_range("2026-01-01", periods=8760, freq="h")
    ends = (starts + pd.Timedelta("1h")).tz_localize(weather.tz)
    np.testing.assert_allclose(weather.at(ends)["temperature"], reading(starts) + 273.15)


def test_epw_of_one_run_of_dates_is_a_record_of_these_dates(epw_file: Callable[[str], Path]) -> None:
    starts = pd.date_range("2023-12-30", periods=96, freq="h")  # two calendar years, but one run
    weather = read_weather(epw_file(epw(starts)))
    assert not weather.typical
    assert weather.data.index[0] == pd.Timestamp("2023-12-30T01:00-06:00")
    assert weather.data.index[-1] == pd.Timestamp("2024-01-02T23:30-06:00")
    assert any("first reading" in note for note in weather.notes)
    ends = (starts + pd.Timedelta("1h")).tz_localize(weather.tz)[:-1]
    np.testing.assert_allclose(weather.at(ends)["temperature"], reading(starts)[:-1] + 273.15)
    refused(
        lambda: weather.day("2024-06-01"),
        "2024-06-01T00:00:00-06:00 is outside the record flats.epw",
        "2023-12-30T01:00:00-06:00 to 2024-01-02T23:30:00-06:00",
    )


def test_epw_with_29_february(epw_file: Callable[[str], Path]) -> None:
    starts = pd.date_range("2024-02-27", periods=96, freq="h")
    weather = read_weather(epw_file(epw(starts)))
    assert len(weather.day("2024-02-29")) == 49
    refused(lambda: read_weather(epw_file(epw(starts)), typical=True), "flats.epw, line 57", "29 February")


def test_epw_stamped_with_one_year_can_be_told_typical(epw_file: Callable[[str], Path]) -> None:
    file = epw_file(re.sub(r"(?m)^20(04|11),", "2005,", typical_epw()))
    assert not read_weather(file).typical
    told = read_weather(file, typical=True)
    assert told.typical
    np.testing.assert_array_equal(told.data, read_weather(epw_file(typical_epw())).data)


@pytest.mark.parametrize(
    ("old", "new", "fragments"),
    [
        (
            "60,?,12.5,5,60,",
            "60,?,99.9,5,60,",
            ("line 5008", "'temp_air'", "'99.9' degC; allowed is -90 to 60 degC"),
        ),
        ("60,?,12.5,5,60,", "60,?,12.5,5,999,", ("line 5008", "'relative_humidity'", "'999'", "0 to 1")),
        ("60,?,12.5,5,60,", "60,?,12.5,5,,", ("line 5008", "'relative_humidity'", "'nan' is not a number")),
        (
            "60,?,12.5,5,60,97700",
            "60,?,warm,5,60,97700",
            ("line 5008", "'temp_air'", "'warm' is not a number"),
        ),
        ("60,?,12.5,5,60,97700", "60,?,12.5,5,60,999999", ("line 5008", "'atmospheric_pressure'", "999999")),
        ("60,?,12.5,5,60,97700", "60,?,12.5,5,60", ("line 5008", "33 commas", "34")),
        ("2011,7,28,8,", "2011,7,28,7,", ("line 5008", "07-28 06:00", "due", "07-28 07:00")),
        ("2011,7,28,8,", "2011,13,28,8,", ("line 5008: starts with '2011,13,28,8,", "a date and hour")),
        ("2011,7,28,8,", "2011,7,28,25,", ("line 5008: starts with '2011,7,28,25,", "a date and hour")),
        ("2004,6,30,8,", "2004,6,31,8,", ("not readable as EPW",)),
        ("LOCATION,", "PLACE,", ("is not EPW", "PLACE,Invented Flats")),
        ("40.0,-95.0,-6.0", "140.0,-95.0,-6.0", ("latitude", "140", "-90 to 90")),
        ("40.0,-95.0,-6.0", "north,-95.0,-6.0", ("line 1 has 'north' for the latitude",)),
        (
            "-95.0,-6.0",
            "-95.0,6.0",
            ("longitude -95 degrees east and the time zone +6 h", "is a sign wrong?"),
        ),
        ("-95.0,-6.0", "95.0,-6.0", ("longitude 95 degrees east and the time zone -6 h", "is a sign wrong?")),
        ("-95.0,-6.0", "-95.0,-30", ("line 1 has the time zone -30; allowed is -12 to 14",)),
        ("-95.0,-6.0", "-95.0,", ("line 1 has '' for the time zone; a number is needed",)),
        ("-6.0,300.0", "-6.0", ("line 1 has 9 fields between commas; 10 are needed",)),
        ("Invented Flats", '"Flats, Invented"', ("line 1 has 11 fields between commas",)),
        ("DATA PERIODS,1,1,Data", "DATA PERIODS", ("line 8 is 'DATA PERIODS'", "hourly")),
        ("DATA PERIODS,1,1", "DATA PERIODS,1,4", ("line 8", "DATA PERIODS,1,4", "hourly")),
    ],
)
def test_broken_epw(epw_file: Callable[[str], Path], old: str, new: str, fragments: tuple[str, ...]) -> None:
    text = typical_epw()
    assert text.count(old) == 1
    refused(lambda: read_weather(epw_file(text.replace(old, new)), format="epw"), "flats.epw", *fragments)


def test_epw_with_more_or_fewer_fields(epw_file: Callable[[str], Path]) -> None:
    lines = typical_epw().splitlines()
    for change, count in ((lambda line: line + ",0", 36), (lambda line: line.rsplit(",", 5)[0], 30)):
        text = "\n".join([*lines[:8], *map(change, lines[8:])])
        refused(lambda text=text: read_weather(epw_file(text)), f"line 9: {count} fields; an EPW has 35")


def test_a_location_in_small_letters_is_an_epw(epw_file: Callable[[str], Path]) -> None:
    text = typical_epw().replace("LOCATION,", " location,")
    assert read_weather(epw_file(text)).format == "epw"


def test_epw_of_one_leap_year_without_its_leap_day_asks_whether_it_is_typical(
    epw_file: Callable[[str], Path],
) -> None:
    text = typical_epw().replace("\n2011,", "\n2004,")
    refused(lambda: read_weather(epw_file(text)), "due is the one that starts 02-29 00:00", "typical=True")
    assert read_weather(epw_file(text), typical=True).typical
    later = text.splitlines()
    turned = [*later[:8], *later[8 + 4344 :], *later[8 : 8 + 4344]]
    refused(lambda: read_weather(epw_file("\n".join(turned))), "starts 2004-01-01 00:00", "starts 2005-01-01")


@pytest.mark.parametrize(
    ("line", "old", "new", "said"),
    [
        (2, "GHI (W/m^2)", "Gh (W/m^2)", "no column 'GHI (W/m^2)'; did you mean"),
        (2, "DNI (W/m^2)", "GHI (W/m^2)", "two columns 'GHI (W/m^2)'"),
        (3, ",01:00,", ",01:30,", "line 3: starts with '01/01/"),
        (3, ",01:00,", ",00:00,", "hours of these files go from 1 to 24 and are whole"),
        (1, ",-5.0,", ",5.0,", "is a sign wrong?"),
        (1, ",-5.0,", ",x,", "line 1 has 'x' for the time zone"),
        (1, ",-5.0,", ",-30,", "allowed is -12 to 14 hours"),
        (1419, "03/01/", "02/29/", "line 1419: 29 February; a typical year has 365 days"),
    ],
)
def test_broken_tmy3(tmp_path: Path, line: int, old: str, new: str, said: str) -> None:
    """A missing column was an error of Python, half hours were read as hours, 29 February as 1 March."""
    lines = sample_weather()["piedmont"].read_text().splitlines()
    assert old in lines[line - 1]
    lines[line - 1] = lines[line - 1].replace(old, new, 1)
    (tmp_path / "town.csv").write_text("\n".join(lines))
    refused(lambda: read_weather(tmp_path / "town.csv"), "town.csv", said)


def test_tmy3_with_its_columns_in_another_order(tmp_path: Path) -> None:
    lines = sample_weather()["piedmont"].read_text().splitlines()
    turned = [[*cells[:2], *reversed(cells[2:])] for cells in (line.split(",") for line in lines[1:])]
    turned[0] = [f'"{heading}"' for heading in turned[0]]
    (tmp_path / "town.csv").write_text("\n".join([lines[0], *map(",".join, turned)]))
    np.testing.assert_array_equal(read_weather(tmp_path / "town.csv").data, sample("piedmont").data)


def test_epw_of_a_zone_half_an_hour_off(epw_file: Callable[[str], Path]) -> None:
    weather = read_weather(epw_file(typical_epw().replace(",-95.0,-6.0,", ",-52.0,-3.5,")))
    assert weather.time_zone == "UTC-03:30"
    noon = weather.at(pd.DatetimeIndex(["2026-05-14T15:30Z"]))["temperature"].item()
    assert noon == pytest.approx(reading(pd.DatetimeIndex(["2026-05-14T11:00"]))[0] + 273.15)


def test_epw_with_hours_missing(epw_file: Callable[[str], Path]) -> None:
    lines = typical_epw().splitlines()
    refused(lambda: read_weather(epw_file("\n".join(lines[:-24]))), "8736 hours", "8760")
    refused(lambda: read_weather(epw_file("\n".join(lines[:8]))), "no hours")
    refused(lambda: read_weather(epw_file("\n".join(lines[:3]))), "no hours")
    one_year = [re.sub("^2011,", "2004,", line) for line in lines]
    del one_year[100]
    refused(
        lambda: read_weather(epw_file("\n".join(one_year))), "line 101", "01-04 21:00", "due", "01-04 20:00"
    )


@pytest.mark.parametrize("name", ["piedmont", "miami"])
def test_broken_typical_years(tmp_path: Path, name: str) -> None:
    original = sample_weather()[name]
    text = original.read_text()
    file = tmp_path / original.name

    def read(changed: str) -> Weather:
        file.write_text(changed)
        return read_weather(file)

    lines = text.splitlines()
    refused(lambda: read("\n".join(lines[:-1])), "8759 hours", "8760")
    refused(lambda: read("\n".join([*lines[:50], *lines[51:]])), file.name, "line 51", "due")
    refused(lambda: read("\n".join([*lines[:50], lines[50][:40], *lines[51:]])), file.name, "line 51")
    undated = lines[50].replace("0103", "9903").replace("01/03", "99/03")
    refused(
        lambda: read("\n".join([*lines[:50], undated, *lines[51:]])), file.name, "line 51", "a date and hour"
    )
    if name == "piedmont":
        cells = lines[50].split(",")
        cells[31] = "-9900"
        refused(
            lambda: read("\n".join([*lines[:50], ",".join(cells), *lines[51:]])),
            *(file.name, "line 51", "'Dry-bulb (C)'", "-9900"),
        )
    else:
        broken = lines[50][:67] + "9999" + lines[50][71:]
        refused(lambda: read("\n".join([*lines[:50], broken, *lines[51:]])), "line 51", "'DryBulb'", "999.9")
        garbled = lines[50][:67] + "warm" + lines[50][71:]
        refused(lambda: read("\n".join([*lines[:50], garbled, *lines[51:]])), "not readable as TMY2", "warm")


def test_hourly_formats_settle_their_own_clock() -> None:
    for extra in (
        {"time_zone": "UTC"},
        {"label": "end"},
        {"columns": {}},
        {"units": {}},
        {"exposure": "crop"},
        {"place": SITE},
        {"constants": {}},
        {"longest_gap": "2h"},
        {"typical": False},
    ):
        refused(
            lambda extra=extra: read_weather("miami", **extra), "12839.tm2", f"leave out {next(iter(extra))}="
        )
    assert read_weather("miami", exposure="outdoor", format="TMY2").format == "tmy2"


# --- plain CSV --------------------------------------------------------------------------------------------


def test_a_logger_file_as_loggers_write_them() -> None:
    weather = read_weather(
        DATA / "bench_logger.csv",
        columns={
            "time": "Date Time",
            "temperature": "Temp (°F)",
            "relative_humidity": "RH (%)",
            "wind_speed": "Air speed (mph)",
        },
        units={
            "time": "%m/%d/%Y %H:%M",
            "temperature": "degF",
            "relative_humidity": "percent",
            "wind_speed": "mph",
        },
        time_zone="America/New_York",
        label="instant",
        exposure="crop",
        constants={"shortwave": "0 W/m^2"},
        place=Place("house 3", altitude=250.0),
    )
    assert weather.data.index[0] == pd.Timestamp("2026-05-14T10:00Z")
    assert weather.interval == pd.Timedelta("10min")
    first = weather.data.iloc[0]
    assert first["temperature"] == pytest.approx((64.4 - 32) * 5 / 9 + 273.15, abs=1e-9)
    assert first["relative_humidity"] == pytest.approx(0.88)
    assert first["wind_speed"] == pytest.approx(0.4 * 0.44704)  # the international mile, by definition
    assert (weather.data["shortwave"] == 0).all()
    assert "Columns not read: #, Battery (V)." in weather.notes
    assert any("250 m" in note for note in weather.notes)
    assert any("0 W/m^2 throughout" in note for note in weather.notes)
    assert "house 3, 250 m" in repr(weather)
    assert "crop" in repr(weather)


@pytest.mark.parametrize(
    # Altitude [m] and pressure [Pa]: U.S. Standard Atmosphere, 1976 (from memory).
    ("place", "pressure"),
    [(None, 101325.0), (SITE, 97773.0), (Place("high", altitude=1000.0), 89874.6)],
)
def test_pressure_from_altitude(tmp_path: Path, place: Place | None, pressure: float) -> None:
    weather = logger(tmp_path, TWO, place=place)
    assert weather.data["pressure"].to_numpy() == pytest.approx(pressure, abs=2)
    assert any("standard atmosphere" in note for note in weather.notes)


def test_constants_are_used_and_noted(tmp_path: Path) -> None:
    weather = logger(
        tmp_path, TWO, constants=LOGGER["constants"] | {"pressure": "990 hPa", "wind_speed": "1 mph"}
    )
    assert weather.data["pressure"].iloc[0] == pytest.approx(99000)
    assert weather.data["wind_speed"].iloc[0] == pytest.approx(0.44704)
    assert sum("as stated" in note for note in weather.notes) == 3


@pytest.mark.parametrize(
    ("label", "shift"), [("start", "15min"), ("end", "-15min"), ("middle", "0min"), ("instant", "0min")]
)
def test_means_stand_at_the_middle_of_their_interval(tmp_path: Path, label: str, shift: str) -> None:
    text = rows("2026-05-14T06:00", "2026-05-14T06:30", "2026-05-14T07:00", "2026-05-14T08:30")
    weather = logger(tmp_path, text, label=label)
    assert weather.interval == pd.Timedelta("30min")
    assert weather.data.index[0] == pd.Timestamp("2026-05-14T11:00Z") + pd.Timedelta(shift)
    assert weather.data.index[-1] == pd.Timestamp("2026-05-14T13:30Z") + pd.Timedelta(shift)


def test_stamps_with_offsets(tmp_path: Path) -> None:
    weather = logger(tmp_path, rows("2026-05-14T06:00-04:00", "2026-05-14T07:00-04:00"), time_zone=None)
    assert weather.data.index[0] == pd.Timestamp("2026-05-14T10:00Z")
    assert weather.time_zone == "UTC-04:00"
    weather = logger(tmp_path, rows("2026-05-14T06:00Z", "2026-05-14T07:00Z"), time_zone="America/New_York")
    assert weather.data.index[0] == pd.Timestamp("2026-05-14T06:00Z")
    assert weather.local("2026-05-14T02:30") == pd.Timestamp("2026-05-14T06:30Z")
    pattern = {"units": LOGGER["units"] | {"time": "%d.%m.%Y %H:%M %z"}}
    weather = logger(
        tmp_path, rows("14.05.2026 06:00 +0200", "14.05.2026 07:00 +0200"), time_zone=None, **pattern
    )
    assert weather.data.index[0] == pd.Timestamp("2026-05-14T04:00Z")
    autumn = rows("2026-11-01T01:30-04:00", "2026-11-01T01:30-05:00")
    refused(
        lambda: logger(tmp_path, autumn, time_zone=None), "2 offsets", "UTC-05:00 to UTC-04:00", "time_zone"
    )
    weather = logger(tmp_path, autumn, time_zone="America/New_York")
    assert weather.interval == pd.Timedelta("1h")


def test_daylight_saving(tmp_path: Path) -> None:
    spring = rows("2026-03-08T01:30", "2026-03-08T02:30", "2026-03-08T03:30")
    autumn = rows("2026-11-01T00:30", "2026-11-01T01:30", "2026-11-01T02:30")
    assert (
        len(logger(tmp_path, spring).data) == len(logger(tmp_path, autumn).data) == 3
    )  # standard time all year
    refused(
        lambda: logger(tmp_path, spring, time_zone="America/New_York"),
        *(
            "logger.csv, line 3, column 'time': '2026-03-08T02:30' does not exist",
            "America/New_York",
            "UTC-05:00",
        ),
    )
    refused(
        lambda: logger(tmp_path, autumn, time_zone="America/New_York"),
        *("logger.csv, line 3, column 'time': '2026-11-01T01:30' comes twice", "America/New_York"),
    )
    october = rows("2026-10-25T01:30", "2026-10-25T02:30", "2026-10-25T03:30")
    refused(lambda: logger(tmp_path, october, time_zone="Europe/Berlin"), "twice", "time_zone='UTC+01:00'")


GOOD = "2026-05-14T06:00,20,60\n2026-05-14T07:00,"


@pytest.mark.parametrize(
    ("text", "changes", "fragments"),
    [
        # values
        (f"{GOOD}20,143\n", {}, ("line 3, column 'RH': '143' percent; allowed is 0 to 100 percent",)),
        (f"{GOOD}20,-2\n", {}, ("line 3, column 'RH': '-2'", "0 to 1")),
        (f"{GOOD}20,nan\n", {}, ("line 3, column 'RH': 'nan' is not a number", "percent")),
        (f"{GOOD}20,\n", {}, ("line 3, column 'RH': '' is blank",)),
        (f"{GOOD}20,inf\n", {}, ("line 3, column 'RH': 'inf'",)),
        (f"{GOOD}84.2,60\n", {}, ("line 3, column 'T': '84.2' degC; allowed is -90 to 60 degC",)),
        (f"{GOOD}20,740\n", {}, ("line 3, column 'RH': '740' percent; allowed is 0 to 100 percent",)),
        (
            f"{GOOD}-200,60\n",
            {"units": {"temperature": "degF", "relative_humidity": "percent"}},
            ("'-200' degF; allowed is -130 to 140 degF",),
        ),
        (
            f"{GOOD}20,damp\n",
            {"units": {"temperature": "degC", "relative_humidity": "1"}},
            ("'damp' is not a number; allowed is a plain number",),
        ),
        (
            f"{GOOD}20,60\n",
            {"constants": {"wind_speed": "500 km/h"}},
            ("constants['wind_speed']: '500 km/h'; allowed is 0 to 432 km/h",),
        ),
        (f"{GOOD}-9999,60\n", {}, ("line 3, column 'T': '-9999'",)),
        (f"{GOOD}warm,60\n", {}, ("line 3, column 'T': 'warm' is not a number", "degC")),
        (f"{GOOD}20 C,60\n", {}, ("line 3, column 'T': '20 C' is not a number",)),
        ("2026-05-14T06:00,20,0.6\n2026-05-14T07:00,20,0.7\n", {}, ("'0.7' percent", "did you mean", "'1'")),
        ("2026-05-14T06:00,82,60\n2026-05-14T07:00,84,60\n", {}, ("'82' degC", "did you mean", "'degF'")),
        (
            f"{GOOD}20,60\n",
            {"units": {"temperature": "K", "relative_humidity": "percent"}},
            ("'20' K", "'degC'"),
        ),
        (
            f"{GOOD}20,60\n",
            {"units": {"temperature": "degC", "relative_humidity": "1"}},
            ("column 'RH': '60', as is another; allowed is 0 to 1; did you mean", "'percent'"),
        ),
        # stamps
        (
            f"{GOOD}20,60\n2026-05-14T07:00,20,60\n",
            {},
            ("line 4, column 'time'", "repeats the stamp of line 3"),
        ),
        (f"{GOOD}20,60\n2026-05-14T06:30,20,60\n", {}, ("line 4, column 'time'", "earlier than line 3")),
        (
            f"{GOOD}20,60\n2026-05-14T11:00,20,60\n",
            {},
            ("line 4", "comes 4 h after line 3", "longest_gap= is 3 h"),
        ),
        (f"{GOOD}20,60\n", {"longest_gap": "59min"}, ("line 3", "1 h after line 2", "59 min")),
        (
            f"{GOOD}20,60\n2026-05-14T07:20,20,60\n2026-05-14T08:20,20,60\n",
            {"label": "end"},
            ("line 4", "multiple of 1 h"),
        ),
        (
            f"{GOOD}20,60\n5/14/2026 8:00,20,60\n",
            {},
            ("line 4, column 'time': '5/14/2026 8:00'", "ISO 8601", "%m/%d/%Y"),
        ),
        (f"{GOOD}20,60\n2026-05-14T08:00Z,20,60\n", {}, ("line 4", "UTC offset or none")),
        (f"{GOOD}20,60\n", {"time_zone": None}, ("line 2, column 'time'", "no UTC offset", "time_zone=")),
        (
            f"{GOOD}20,60\n",
            {"units": LOGGER["units"] | {"time": "%d/%m/%Y"}},
            ("line 2", "allowed is %d/%m/%Y"),
        ),
        (
            "2026-02-29T06:00,20,60\n2026-03-01T06:00,20,60\n",
            {},
            ("line 2", "'2026-02-29T06:00' is not a time"),
        ),
        # shape of the file
        (f"{GOOD}20\n", {}, ("line 3: 2 field(s)", "3")),
        (f"{GOOD}20,60,9\n", {}, ("line 3: 4 field(s)", "3")),
        ("2026-05-14T06:00,20,60\n", {}, ("1 line(s)", "two")),
        ("", {}, ("0 line(s)", "two")),
        # what the caller states
        (f"{GOOD}20,60\n", {"label": None}, ("what is a stamp? Give label='instant'",)),
        (f"{GOOD}20,60\n", {"exposure": None, "units": None}, ("'T' does not say its unit", "(and 1 more)")),
        (f"{GOOD}20,60\n", {"columns": None}, ("give columns=",)),
        (f"{GOOD}20,60\n", {"label": "begin"}, ("label: 'begin'", "start, middle, end, instant")),
        (f"{GOOD}20,60\n", {"exposure": "indoor"}, ("exposure: 'indoor'", "did you mean 'outdoor'?")),
        (
            f"{GOOD}20,60\n",
            {"time_zone": "America/NewYork"},
            ("'America/NewYork'", "did you mean 'America/New_York'"),
        ),
        (f"{GOOD}20,60\n", {"time_zone": "EDT"}, ("time_zone: 'EDT'", "UTC-05:00")),
        (f"{GOOD}20,60\n", {"time_zone": "America"}, ("time_zone: 'America'",)),
        (f"{GOOD}20,60\n", {"time_zone": "../etc/passwd"}, ("time_zone: '../etc/passwd'",)),
        (f"{GOOD}20,60\n", {"time_zone": "UTC+15:00"}, ("time_zone: 'UTC+15:00'", "UTC+14:00")),
        (f"{GOOD}20,60\n", {"longest_gap": "soon"}, ("longest_gap: 'soon'", "'3h'")),
        (f"{GOOD}20,60\n", {"longest_gap": "0h"}, ("longest_gap: '0h'",)),
        (f"{GOOD}20,60\n", {"typical": True}, ("typical=", "EPW")),
        (f"{GOOD}20,60\n", {"exposure": "outdoor"}, ("no shortwave", "outdoor weather needs")),
        (f"{GOOD}20,60\n", {"constants": {"wind_speed": "1 m/s"}}, ("no shortwave", "'0 W/m^2'")),
        (f"{GOOD}20,60\n", {"constants": None}, ("no wind_speed", "{'wind_speed': '0.3 m/s'}")),
        (f"{GOOD}20,60\n", {"constants": {"windspeed": "1 m/s"}}, ("constants: 'windspeed'", "'wind_speed'")),
        (f"{GOOD}20,60\n", {"constants": {"wind_speed": "1 s"}}, ("constants['wind_speed']: '1 s'", "m/s")),
        (f"{GOOD}20,60\n", {"constants": {"wind_speed": "fast"}}, ("constants['wind_speed']: 'fast'", "m/s")),
        (
            f"{GOOD}20,60\n",
            {"constants": {"wind_speed": "-1 m/s"}},
            ("constants['wind_speed']", "0 to 120 m/s"),
        ),
        (f"{GOOD}20,60\n", {"constants": {"wind_speed": "nan m/s"}}, ("constants['wind_speed']",)),
        (f"{GOOD}20,60\n", {"constants": {"temperature": "290 K"}}, ("constants: 'temperature'",)),
        (
            f"{GOOD}20,60\n",
            {"units": {"relative_humidity": "percent"}},
            ("'T' does not say its unit; give units={'temperature': 'degC'}, or 'degF' or 'K'",),
        ),
        (
            f"{GOOD}20,60\n",
            {"units": LOGGER["units"] | {"temperature": "C"}},
            ("'C' is not a unit of air temp", "'degC'", "did you mean 'degC'?"),
        ),
        (
            f"{GOOD}20,60\n",
            {"units": LOGGER["units"] | {"temperature": "F"}},
            ("'F' is not a unit of air temp", "'degF'", "did you mean 'degF'?"),
        ),
        (f"{GOOD}20,60\n", {"units": LOGGER["units"] | {"temperature": "]["}}, ("']['", "'degC'")),
        (
            f"{GOOD}20,60\n",
            {"units": LOGGER["units"] | {"temprature": "K"}},
            ("'temprature'", "'temperature'"),
        ),
        (
            f"{GOOD}20,60\n",
            {"units": LOGGER["units"] | {"pressure": "Pa"}},
            ("units has 'pressure', columns has not",),
        ),
        (
            f"{GOOD}20,60\n",
            {"columns": {"time": "time", "relative_humidity": "RH"}},
            (
                "no heading says air temperature",
                "there are time, T, RH",
                "columns={'temperature': 'HEADING'}",
            ),
        ),
        (
            f"{GOOD}20,60\n",
            {"columns": LOGGER["columns"] | {"humidity": "RH"}},
            ("columns: 'humidity'", "relative_humidity"),
        ),
        (
            f"{GOOD}20,60\n",
            {"columns": LOGGER["columns"] | {"time": "Tme"}},
            ("no column 'Tme'", "did you mean 'time'?"),
        ),
        (
            f"{GOOD}20,60\n",
            {"columns": LOGGER["columns"] | {"relative_humidity": "RHum"}},
            ("line 1: no columns 'RHum'", "time, T, RH", "did you mean 'RH'?"),
        ),
        (
            f"{GOOD}20,60\n",
            {
                "columns": LOGGER["columns"] | {"wind_speed": "RH"},
                "units": LOGGER["units"] | {"wind_speed": "m/s"},
            },
            ("'wind_speed' is among columns and constants",),
        ),
    ],
)
def test_broken_csv(tmp_path: Path, text: str, changes: dict[str, Any], fragments: tuple[str, ...]) -> None:
    refused(lambda: logger(tmp_path, "time,T,RH\n" + text, **changes), *fragments)


@pytest.mark.parametrize("unit", ["F", "C", "m", "parsec", "nonsense", "]["])
def test_units_are_refused_in_our_own_words(tmp_path: Path, unit: str) -> None:
    text = f"time,T,RH\n{GOOD}20,60\n"
    for changes in (
        {"units": LOGGER["units"] | {"temperature": unit}},
        {"constants": {"wind_speed": f"3 {unit}"}},
        {"constants": {"wind_speed": "3"}},
    ):
        with pytest.raises(InputError) as caught:
            logger(tmp_path, text, **changes)
        told = str(caught.value)
        assert not re.search(r"[Cc]annot|not defined|dimension|farad|coulomb|\[length\]|\n", told), told


def test_errors_about_a_file_name_it(tmp_path: Path) -> None:
    for text in ("", "time,T,RH\n", rows("x", "y"), rows("2026-05-14", "2026-05-15")):
        refused(lambda text=text: logger(tmp_path, text), "logger.csv")


def test_a_heading_twice_is_refused(tmp_path: Path) -> None:
    refused(lambda: logger(tmp_path, "time,T,T,RH\n"), "line 1: 2 columns 'T'")


def test_lines_are_counted_through_preamble_blank_and_quoted_lines(tmp_path: Path) -> None:
    text = 'a preamble\n\n"time","T","RH","note"\n2026-05-14T06:00,20,60,"two\nlines"\n\n'
    text += "2026-05-14T07:00,20,143,\n"
    refused(lambda: logger(tmp_path, text), "logger.csv, line 7, column 'RH': '143'")


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_delimiters_and_newlines(tmp_path: Path, delimiter: str, newline: str) -> None:
    weather = logger(tmp_path, "\ufeff" + TWO.replace(",", delimiter).replace("\n", newline))
    np.testing.assert_allclose(weather.data["temperature"], 293.15)


def test_latin_1_is_read_and_noted(tmp_path: Path) -> None:
    file = tmp_path / "latin.csv"
    file.write_bytes(TWO.replace(",T,", ",T °C,").encode("latin-1"))
    weather = read_weather(file, **{**LOGGER, "columns": {**LOGGER["columns"], "temperature": "T °C"}})
    assert any("Latin-1" in note for note in weather.notes)


def test_files_that_are_no_weather_files(tmp_path: Path) -> None:
    file = tmp_path / "thing.csv"
    refused(lambda: read_weather(tmp_path), "is a directory")
    refused(lambda: read_weather(tmp_path / "absent.csv"), "no such file")
    refused(lambda: read_weather("x" * 5000), "cannot be opened")
    refused(lambda: read_weather("/dev/null"), "not a regular file")
    for raw, said in (
        (b"", "the file is empty"),
        (b" \n\n", "the file is empty"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "is not text"),
        (b"time,T\x00,RH\n", "is not text: byte 0 at position 6"),
        ("time,T,RH\n".encode("utf-16"), "0 line(s) after the headings"),
        ("time,T,RH\n".encode("utf-16-le"), "UTF-16 text without a byte order mark; save it as UTF-8"),
        ("time,T,RH\n".encode("utf-16-be"), "UTF-16 text without a byte order mark; save it as UTF-8"),
        ("time,T,RH\n".encode("utf-32"), "is text in UTF-32; save it as UTF-8"),
        (b"PK\x03\x04\x14\0\x06\0", "workbook or an archive, not text; save the sheet as CSV"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "workbook, not text; save the sheet as CSV"),
        (b"\x1f\x8b\x08\0", "is compressed, not text; unpack it first"),
        (b"%PDF-1.7\n", "is a PDF"),
        (b"<html><table>", "HTML or XML; save its table as CSV"),
    ):
        file.write_bytes(raw)
        refused(lambda: read_weather(file, **LOGGER), "thing.csv", said)


def test_a_text_that_ends_as_old_programs_end_it(tmp_path: Path) -> None:
    assert len(logger(tmp_path, TWO + "\x1a").data) == len(logger(tmp_path, TWO).data)


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "locked.csv"
    file.write_text(TWO)

    def locked(self: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", locked)
    refused(lambda: read_weather(file, **LOGGER), "locked.csv", "Permission denied")


def test_a_field_too_long_for_csv(tmp_path: Path) -> None:
    refused(
        lambda: logger(tmp_path, TWO + "x" * 200_000 + ",20,60\n"),
        "logger.csv, line 4",
        "not readable as CSV",
    )


# --- the record as a value --------------------------------------------------------------------------------


def test_a_record_is_frozen() -> None:
    weather = sample("miami")
    with pytest.raises(dataclasses.FrozenInstanceError):
        weather.label = "start"  # type: ignore[misc]
    with pytest.raises(ValueError, match="read-only"):
        weather.data.iloc[0, 0] = 0.0


def test_a_record_keeps_its_own_copy(tmp_path: Path) -> None:
    table = logger(tmp_path, TWO).data.copy()
    weather = dataclasses.replace(logger(tmp_path, TWO), data=table)
    table.iloc[0, 0] = 300.0
    assert weather.data.iloc[0, 0] == pytest.approx(293.15)


def test_a_record_made_in_code_is_checked(tmp_path: Path) -> None:
    weather = logger(tmp_path, TWO)
    table = weather.data.copy()

    def made(**changes: Any) -> Callable[[], Weather]:
        return lambda: dataclasses.replace(weather, **changes)

    refused(made(data=table.tz_convert("America/New_York")), "DatetimeIndex in UTC")
    refused(made(data=table.tz_localize(None)), "DatetimeIndex in UTC")
    refused(made(data=table.reset_index(drop=True)), "DatetimeIndex in UTC")
    refused(made(data=table[::-1]), "increasing")
    refused(made(data=table[:1]), "two rows")
    refused(made(data=table.drop(columns="pressure")), "columns", "pressure")
    refused(made(data=table.assign(temperature=[290.0, np.nan])), "temperature is nan K", "183.15 to 333.15")
    refused(
        made(data=table.assign(relative_humidity=[0.5, 50])),
        "2026-05-14T12:00:00+00:00",
        "relative_humidity is 50",
    )
    refused(made(label="begin"), "label: 'begin'")
    refused(made(exposure="indoor"), "exposure: 'indoor'")
    refused(made(format="xls"), "format: 'xls'")
    refused(made(time_zone="Mars"), "time_zone: 'Mars'")
    refused(made(typical=True), "typical year is January to December")
    assert made(time_zone="+05:30")().time_zone == "UTC+05:30"
    assert made(time_zone="UTC-0")().time_zone == "UTC"


def test_a_typical_year_is_one_calendar_year() -> None:
    weather = sample("miami")
    for days in (1, 180):
        shifted = weather.data.set_axis(weather.data.index + pd.Timedelta(days=days), axis=0)
        refused(lambda shifted=shifted: dataclasses.replace(weather, data=shifted), "January to December")
    refused(lambda: dataclasses.replace(weather, time_zone="America/New_York"), "fixed UTC offset")


@pytest.mark.parametrize(
    ("latitude", "longitude", "altitude"), [(91, 0, 0), (0, 181, 0), (0, 0, 1e4), (float("nan"), 0, 0)]
)
def test_places_are_on_earth(latitude: float, longitude: float, altitude: float) -> None:
    refused(lambda: Place("nowhere", latitude, longitude, altitude), "of 'nowhere' is", "allowed")


def test_repr_says_what_the_record_is(tmp_path: Path) -> None:
    assert repr(sample("piedmont")) == (
        "Weather(GREENSBORO PIEDMONT TRIAD INT, NC, 36.10 N, 79.95 W, 273 m; typical year, every 1 h, "
        "clock UTC-05:00; outdoor; 723170TYA.CSV, tmy3)"
    )
    assert repr(logger(tmp_path, TWO)) == (
        "Weather(place not stated; 2026-05-14T06:00:00-05:00 to 2026-05-14T07:00:00-05:00, every 1 h, "
        "clock UTC-05:00; crop; logger.csv, csv)"
    )
    assert str(Place("south", -33.9, 18.4)) == "south, 33.90 S, 18.40 E"


def test_to_xarray_follows_cf() -> None:
    weather = sample("piedmont")
    dataset = weather.to_xarray()
    assert {name: dataset[name].attrs["standard_name"] for name in VARIABLES} == {
        "temperature": "air_temperature",
        "relative_humidity": "relative_humidity",
        "pressure": "air_pressure",
        "wind_speed": "wind_speed",
        "shortwave": "surface_downwelling_shortwave_flux_in_air",
    }
    assert [dataset[name].attrs["units"] for name in VARIABLES] == ["K", "1", "Pa", "m/s", "W/m^2"]
    assert all(dataset[name].attrs["long_name"] for name in VARIABLES)
    assert dataset["shortwave"].attrs["cell_methods"] == "time: mean (interval: 3600 s)"
    assert dataset["temperature"].attrs["cell_methods"] == "time: point"
    assert dataset["latitude"].item() == 36.1
    assert dataset["altitude"].attrs["units"] == "m"
    assert dataset["time"].values[0] == np.datetime64("2001-01-01T05:30")
    assert dataset.attrs["typical"] == 1
    assert dataset.attrs["time_zone"] == "UTC-05:00"
    np.testing.assert_array_equal(dataset["shortwave"], weather.data["shortwave"])
    assert dataset.to_netcdf(engine="scipy")  # every attribute is of a kind that a file can hold


def test_to_xarray_of_a_logger(tmp_path: Path) -> None:
    averaged = logger(tmp_path, TWO, label="end").to_xarray()
    assert all(averaged[name].attrs["cell_methods"] == "time: mean (interval: 3600 s)" for name in VARIABLES)
    read = logger(tmp_path, TWO).to_xarray()
    assert all(read[name].attrs["cell_methods"] == "time: point" for name in VARIABLES)
    assert "latitude" not in read.coords
    assert "standard atmosphere" in read.attrs["comment"]


# --- asking for times -------------------------------------------------------------------------------------


def test_local_reads_the_wall_clock_of_the_record() -> None:
    weather = sample("piedmont")
    moment = pd.Timestamp("2026-05-14T11:00Z")
    for given_moment in (
        "2026-05-14T06:00",
        "2026-05-14 06:00",
        "2026-05-14T07:00-04:00",
        "2026-05-14T11:00Z",
        datetime(2026, 5, 14, 6),
        pd.Timestamp("2026-05-14T06:00"),
        pd.Timestamp("2026-05-14T07:00", tz="America/New_York"),
    ):
        local = weather.local(given_moment)
        assert local == moment
        assert local.isoformat() == "2026-05-14T06:00:00-05:00"
    assert (
        weather.local(date(2026, 5, 14)) == weather.local("2026-05-14") == pd.Timestamp("2026-05-14T05:00Z")
    )


@pytest.mark.parametrize(
    "moment", ["noon", "5/14/2026", "", "2026-13-01", pd.NaT, None, 5, 5.0, "2026-05-14T25:00"]
)
def test_local_refuses_what_is_no_time(moment: Any) -> None:
    refused(lambda: sample("piedmont").local(moment), "is not a time such as 2026-05-14T06:00")


def test_local_refuses_skipped_and_repeated_times(tmp_path: Path) -> None:
    weather = logger(tmp_path, TWO, time_zone="America/New_York")
    assert weather.local("2026-05-14T06:00") == pd.Timestamp("2026-05-14T10:00Z")
    refused(
        lambda: weather.local("2026-03-08T02:30"), "2026-03-08T02:30:00 does not exist", "America/New_York"
    )
    refused(lambda: weather.local("2026-11-01T01:30"), "2026-11-01T01:30:00 comes twice", "UTC offset")
    assert weather.local("2026-11-01T01:30-05:00") == pd.Timestamp("2026-11-01T06:30Z")


def test_at_is_linear(tmp_path: Path) -> None:
    text = "time,T,RH\n2026-05-14T06:00,20,60\n2026-05-14T07:00,24,50\n"
    weather = logger(tmp_path, text)
    times = local_times(weather, ["2026-05-14T06:45", "2026-05-14T06:00", "2026-05-14T07:00"])
    found = weather.at(times)
    assert found.index.equals(times)
    np.testing.assert_allclose(found["temperature"], [296.15, 293.15, 297.15])
    np.testing.assert_allclose(found["relative_humidity"], [0.525, 0.6, 0.5])
    assert weather.at(times[:0]).empty


def test_at_refuses(tmp_path: Path) -> None:
    weather = logger(tmp_path, TWO)
    naive = pd.DatetimeIndex(["2026-05-14T06:30"])
    refused(lambda: weather.at(naive), "no time zone")
    refused(lambda: weather.at(["2026-05-14T06:30"]), "list", "DatetimeIndex")  # type: ignore[arg-type]
    refused(lambda: weather.at(pd.DatetimeIndex(["2026-05-14T06:30Z", None])), "NaT", "position 1")
    span = "logger.csv, 2026-05-14T06:00:00-05:00 to 2026-05-14T07:00:00-05:00"
    for moment in ("2026-05-14T05:59", "2026-05-14T07:01"):
        refused(
            lambda moment=moment: weather.at(local_times(weather, [moment])),
            moment,
            "outside the record",
            span,
        )
    refused(lambda: weather.between("2026-05-14T06:30", "2026-05-14T08:00"), "outside the record", span)
    refused(lambda: weather.between("2026-05-14T06:30", "2026-05-14T06:30"), "is not before")
    refused(lambda: weather.day("2026-05-14"), "outside the record", span)
    assert sample("miami").at(naive[:0].tz_localize("UTC")).empty


def test_between_holds_the_rows_of_the_record_and_both_ends(tmp_path: Path) -> None:
    weather = logger(tmp_path, rows("2026-05-14T06:00", "2026-05-14T07:00", "2026-05-14T08:00"))
    found = weather.between("2026-05-14T06:30", "2026-05-14T08:00")
    expected = local_times(weather, ["2026-05-14T06:30", "2026-05-14T07:00", "2026-05-14T08:00"])
    assert list(found.index) == list(expected)
    assert str(found.index.tz) == "UTC"
    assert found.index.name == "time"


def test_day_runs_midnight_to_midnight(tmp_path: Path) -> None:
    weather = sample("piedmont")
    day = weather.day("2026-05-14")
    assert day.index[0] == pd.Timestamp("2026-05-14T00:00-05:00")
    assert day.index[-1] == pd.Timestamp("2026-05-15T00:00-05:00")
    assert len(day) == 49
    pd.testing.assert_frame_equal(day, weather.day(date(2026, 5, 14)))
    hours = pd.date_range("2026-03-07T12:00Z", "2026-03-10T12:00Z", freq="h").strftime("%Y-%m-%dT%H:%M%z")
    house = logger(tmp_path, rows(*hours), time_zone="America/New_York")
    assert len(house.day("2026-03-08")) == 24  # 23 hours: daylight saving begins
    for wrong in ("14 May", "2026-05-14T06:00", 20260514, None, date.max):
        refused(lambda wrong=wrong: weather.day(wrong), "is not a day such as 2026-05-14")
    refused(lambda: weather.day(datetime(2026, 5, 14)), "a day such as 2026-05-14 is needed")


def test_years_far_from_now(tmp_path: Path) -> None:
    weather = sample("piedmont")
    assert len(weather.day("1700-01-01")) == 49
    assert len(weather.day("2200-12-30")) == 49
    for day in ("1699-12-31", "0001-01-01", "2201-01-01", "9999-12-30"):
        refused(lambda day=day: weather.day(day), "1700 to 2200")
        text = rows(f"{day}T00:00", f"{day}T01:00")
        refused(
            lambda text=text: logger(tmp_path, text), f"line 2, column 'time': '{day}T00:00'", "1700 to 2200"
        )
    late = pd.DatetimeIndex(np.array(["2201-06-01"], dtype="datetime64[us]")).tz_localize("UTC")
    refused(lambda: weather.at(late), "year 2201", "1700 to 2200")


# --- the turn of the year, and 29 February ----------------------------------------------------------------


def test_december_runs_on_into_january() -> None:
    weather = sample("piedmont")
    turn = weather.between("2025-12-31T23:00", "2026-01-01T01:00")
    assert len(turn) == 5
    times = local_times(weather, ["2026-01-01T00:00", "2026-01-01T00:15", "2026-01-01T01:00"])
    values = weather.at(times)["temperature"].to_numpy()
    assert values[1] == pytest.approx(values[0] + (values[2] - values[0]) / 4)


def test_29_february_repeats_28_february() -> None:
    weather = sample("piedmont")
    leap, plain = weather.day("2028-02-29"), weather.day("2028-02-28")
    np.testing.assert_array_equal(leap.iloc[1:], plain.iloc[1:])  # from after 0:00 to 24:00
    np.testing.assert_array_equal(leap.iloc[0], plain.iloc[-1])
    np.testing.assert_array_equal(plain, weather.day("2026-02-28"))
    np.testing.assert_array_equal(weather.day("2028-03-01"), weather.day("2026-03-01"))
    assert len(weather.between("2028-01-01", "2029-01-01")) == 366 * 48 + 1
    assert len(weather.between("2026-01-01", "2027-01-01")) == 365 * 48 + 1


def test_a_question_over_several_years(tmp_path: Path) -> None:
    weather = sample("piedmont")
    four = weather.between("2025-01-01", "2029-01-01")["shortwave"].to_numpy()
    one = weather.between("2026-01-01", "2027-01-01")["shortwave"].to_numpy()
    assert len(four) == 1461 * 48 + 1
    np.testing.assert_array_equal(four[: 365 * 48], one[:-1])
    far_apart = local_times(weather, ["1950-07-01T12:00", "2150-07-01T12:00"])
    values = weather.at(far_apart)
    np.testing.assert_array_equal(values.iloc[0], values.iloc[1])


MINUTES = st.integers(0, 525_599)


@settings(max_examples=60, deadline=None)
@given(minute=MINUTES, year=st.sampled_from([1970, 1999, 2025, 2026, 2100]))
def test_a_typical_year_is_the_same_in_every_year_without_29_february(minute: int, year: int) -> None:
    weather = sample("piedmont")
    start = pd.Timestamp(year=year, month=1, day=1, tz=weather.tz)
    here = weather.at(pd.DatetimeIndex([start + pd.Timedelta(minutes=minute)]))
    there = weather.at(
        pd.DatetimeIndex([pd.Timestamp("2001-01-01", tz=weather.tz) + pd.Timedelta(minutes=minute)])
    )
    np.testing.assert_allclose(here, there, rtol=1e-12, atol=1e-9)


@settings(max_examples=60, deadline=None)
@given(minute=st.integers(0, 527_039), seconds=st.integers(0, 59))
def test_leap_years_follow_the_calendar(minute: int, seconds: int) -> None:
    """The values of the same month, day and time, but in the half hour after 0:00 of 29 February."""
    weather = sample("miami")
    asked = pd.Timestamp("2028-01-01", tz=weather.tz) + pd.Timedelta(minutes=minute, seconds=seconds)
    joint = pd.Timestamp("2028-02-29", tz=weather.tz)
    leap_day = (asked.month, asked.day) == (2, 29)
    nominal = asked.replace(year=2001, day=28) if leap_day else asked.replace(year=2001)
    here = weather.at(pd.DatetimeIndex([asked])).to_numpy()
    there = weather.at(pd.DatetimeIndex([nominal])).to_numpy()
    if joint <= asked < joint + pd.Timedelta("30min"):
        before = weather.at(pd.DatetimeIndex([joint])).to_numpy()
        after = weather.at(pd.DatetimeIndex([joint + pd.Timedelta("30min")])).to_numpy()
        there = before + (after - before) * ((asked - joint) / pd.Timedelta("30min"))
    np.testing.assert_allclose(here, there, rtol=1e-12, atol=1e-9)


@settings(max_examples=100, deadline=None)
@given(data=st.data())
def test_interpolation_of_any_record(data: st.DataObject) -> None:
    """Exact at the rows, between its neighbours elsewhere, and linear; in whatever zone it is asked."""
    count = data.draw(st.integers(2, 12))
    gaps = data.draw(st.lists(st.integers(1, 7200), min_size=count - 1, max_size=count - 1))
    first = pd.Timestamp("2026-05-14T11:00Z")
    index = pd.DatetimeIndex([first + pd.Timedelta(seconds=int(at)) for at in np.cumsum([0, *gaps])])
    table = pd.DataFrame(
        {
            name: data.draw(st.lists(st.floats(rule.low, rule.high), min_size=count, max_size=count))
            for name, rule in VARIABLES.items()
        },
        index=index,
    )
    weather = Weather(
        data=table,
        place=None,
        time_zone="UTC-05:00",
        label="instant",
        exposure="crop",
        typical=False,
        source="drawn",
        format="csv",
        interval=pd.Timedelta("1min"),
    )
    zone = data.draw(st.sampled_from(["UTC", "America/New_York", "Asia/Kolkata"]))
    np.testing.assert_array_equal(weather.at(index.tz_convert(zone)), table)
    row = data.draw(st.integers(0, count - 2))
    share = data.draw(st.floats(0, 1))
    asked = index[row] + pd.Timedelta(seconds=share * gaps[row])
    found = weather.at(pd.DatetimeIndex([asked]).tz_convert(zone)).iloc[0]
    low, high = table.iloc[[row, row + 1]].min(), table.iloc[[row, row + 1]].max()
    slack = 1e-9 * high.abs() + 1e-9
    assert ((found >= low - slack) & (found <= high + slack)).all()
    true_share = (asked - index[row]) / pd.Timedelta(seconds=gaps[row])
    expected = table.iloc[row] + (table.iloc[row + 1] - table.iloc[row]) * true_share
    np.testing.assert_allclose(found, expected, rtol=1e-9, atol=1e-6)
    part = weather.between(index[0], index[-1])
    np.testing.assert_array_equal(part, table)


@settings(max_examples=40, deadline=None)
@given(
    start=st.datetimes(datetime(1990, 1, 1), datetime(2060, 1, 1)),
    hours=st.floats(0.01, 20_000, allow_nan=False),
)
def test_between_is_at_for_its_own_rows(start: datetime, hours: float) -> None:
    weather = sample("sand-point")
    end = start + timedelta(hours=hours)
    part = weather.between(start, end)
    assert part.index[0] == weather.local(start)
    assert part.index[-1] == weather.local(end)
    assert part.index.is_monotonic_increasing
    assert part.index.is_unique
    assert (part.index[1:] - part.index[:-1]).max() <= pd.Timedelta("30min")
    pd.testing.assert_frame_equal(part, weather.at(part.index), check_freq=False)


# --- every error at once -----------------------------------------------------------------------------------


def test_every_error_of_a_file_is_told_with_its_line(tmp_path):
    rows = ["time,T,RH", "2026-05-14T06:00,18.0,80", "2026-05-14T07:00,eighteen,80", "noon,19.0,180"]
    rows += ["2026-05-14T09:00,19.0,70,9", "2026-05-14T10:00,2_0,70", '2026-05-14T11:00,"19,5",70']
    stated = {
        "columns": {"time": "time", "temperature": "T", "relative_humidity": "RH"},
        "units": {"temperature": "degC", "relative_humidity": "percent"},
        "label": "instant",
        "exposure": "crop",
        "time_zone": "UTC",
        "constants": {"wind_speed": "0.3 m/s", "shortwave": "0 W/m2"},
    }
    path = tmp_path / "logger.csv"
    path.write_text("\n".join(rows), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_weather(path, **stated)
    assert caught.value.problems == ("logger.csv, line 5: 4 field(s); the headings are 3",)
    path.write_text("\n".join([*rows[:4], *rows[5:]]), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_weather(path, **stated)
    problems = caught.value.problems
    assert [problem.split(": '")[0] for problem in problems] == [
        "logger.csv, line 4, column 'time'",
        "logger.csv, line 3, column 'T'",
        "logger.csv, line 5, column 'T'",
        "logger.csv, line 6, column 'T'",
        "logger.csv, line 4, column 'RH'",
    ]
    assert "did you mean 19.5?" in problems[3]
    assert "(and 4 more)" in str(caught.value)
    path.write_text("\n".join([rows[0], rows[1], *["x,18.0,80"] * 100]), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_weather(path, **stated)
    assert len(caught.value.problems) == 100
    assert caught.value.listed()[-1] == "... and 50 more"
