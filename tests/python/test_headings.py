"""Loggers' files as people have them: what they say is taken, what they leave open is asked for at once.

The files are invented.
"""

from __future__ import annotations

import math
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import wetspan as ws
from hypothesis import given, settings
from hypothesis import strategies as st
from wetspan.errors import InputError
from wetspan.weather.headings import unit_in
from wetspan.weather.stamps import pattern_of, plain_stamp
from wetspan.weather.variables import VARIABLES, allowed, convert, light_factor

HOUR = timedelta(hours=3)
STATED: dict[str, Any] = {
    "exposure": "crop",
    "label": "instant",
    "time_zone": "UTC-05:00",
    "constants": {"wind_speed": "0.3 m/s", "shortwave": "100 W/m^2"},
}


def read(folder: Path, text: str | bytes, **changes: Any) -> ws.Weather:
    file = folder / "logger.csv"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    return ws.read_weather(file, **{**STATED, **changes})


def fahrenheit(hours: int = 30) -> str:
    """An invented logger: a preamble, 12-hour clock, degree signs, a line of an event at its end."""
    lines = ['"Title: bench 3"', '"#","Date Time, GMT-04:00","Temp, °F (sensor 1)","RH, %","Host Connected"']
    start = datetime(2026, 5, 13, 22)
    for i in range(hours):
        at = start + timedelta(hours=i)
        warm = 70.0 + 10.0 * math.sin((at.hour - 9) / 12 * math.pi)
        lines.append(f"{i},{at:%m/%d/%y %I:%M:%S %p},{warm:.1f},{130 - warm:.0f},")
    lines.append(f"{hours},{start + timedelta(hours=hours):%m/%d/%y %I:%M:%S %p},,,Logged")
    return "\r\n".join(lines)


def test_a_fahrenheit_logger_says_most_of_it_itself(tmp_path):
    given_ = {name: value for name, value in STATED.items() if name != "time_zone"}
    file = tmp_path / "logger.csv"
    file.write_bytes(b"\xef\xbb\xbf" + fahrenheit().encode())  # with a byte order mark
    weather = ws.read_weather(file, **given_)
    assert weather.time_zone == "UTC-04:00"
    assert len(weather.data) == 30
    assert weather.local("2026-05-14T15:00") in weather.data.index
    at_three = weather.at(weather.data.index[17:18])  # 22:00 and 17 hours
    assert float(at_three["temperature"].iloc[0]) == pytest.approx((80.0 - 32) / 1.8 + 273.15, abs=0.03)
    assert float(at_three["relative_humidity"].iloc[0]) == pytest.approx(0.5)
    assert any("'Temp, °F (sensor 1)' in degF" in note for note in weather.notes)
    assert any("1 line(s) without any reading" in note and "line 33" in note for note in weather.notes)


def test_everything_that_is_open_is_told_at_once(tmp_path):
    file = tmp_path / "logger.csv"
    file.write_text("Date/Time,Temp,RH\n5/6/2026 14:00,71,60\n5/6/2026 15:00,72,61\n")
    with pytest.raises(InputError) as caught:
        ws.read_weather(file)
    told = "\n".join(caught.value.problems)
    for answer in (
        "units={'time': '%m/%d/%Y %H:%M'} or units={'time': '%d/%m/%Y %H:%M'}",
        "'Temp' does not say its unit; give units={'temperature': 'degC'}, or 'degF'",
        "exposure='crop'",
        "label='instant'",
        "constants={'wind_speed': '0.3 m/s'}",
        "light='piedmont'",
    ):
        assert answer in told
    answers = {
        "exposure": "crop",
        "label": "instant",
        "time_zone": "America/New_York",
        "units": {"time": "%m/%d/%Y %H:%M", "temperature": "degF"},
        "constants": {"wind_speed": "0.3 m/s"},
        "light": "piedmont",
    }
    assert len(ws.read_weather(file, **answers).data) == 2  # the answers are enough


@pytest.mark.parametrize(
    ("stamps", "pattern"),
    [
        (["5/16/2026 2:05:00 PM", "5/16/2026 3:05:00 PM"], "%m/%d/%Y %I:%M:%S %p"),
        (["16/05/2026 14:05", "16/05/2026 15:05"], "%d/%m/%Y %H:%M"),
        (["16.05.26 14:05", "16.05.26 15:05"], "%d.%m.%y %H:%M"),
        (["04.05.2026 14:05", "04.05.2026 15:05"], "%d.%m.%Y %H:%M"),
        (["2026/5/4 14:05", "2026/5/4 15:05"], "%Y/%m/%d %H:%M"),
        (["05-16-26 2:05pm", "05-16-26 3:05 p.m."], "%m-%d-%y %I:%M %p"),
        (["5/1/2026 23:00", "5/2/2026 0:00"], "%m/%d/%Y %H:%M"),  # as days they are a month apart
        (["1/5/2026 23:00", "2/5/2026 0:00"], "%d/%m/%Y %H:%M"),
    ],
)
def test_stamps_tell_where_the_month_stands(stamps, pattern):
    plain = [plain_stamp(stamp) for stamp in stamps]
    assert pattern_of(plain, HOUR) == pattern
    moments = [datetime.strptime(stamp, pattern) for stamp in plain]
    assert timedelta(0) < moments[1] - moments[0] <= HOUR


def test_a_date_of_two_readings_is_refused():
    with pytest.raises(InputError, match="'5/6/2026 14:00' may have the month first or the day"):
        pattern_of(["5/6/2026 14:00", "5/6/2026 15:00"], HOUR)


@settings(max_examples=60, deadline=None)
@given(
    st.datetimes(datetime(1990, 1, 1), datetime(2040, 1, 1)),
    st.sampled_from(["%m/%d/%Y %I:%M %p", "%d/%m/%Y %H:%M", "%Y-%m-%d %H:%M", "%m-%d-%y %I:%M:%S %p"]),
)
def test_stamps_are_read_as_they_were_written_or_refused(start, pattern):
    start = start.replace(second=0, microsecond=0)
    moments = [start + timedelta(hours=hour) for hour in range(30)]
    texts = [moment.strftime(pattern) for moment in moments]
    try:
        found = pattern_of(texts, HOUR)
    except InputError:
        assert all(moment.day <= 12 for moment in moments)
        return
    assert [datetime.strptime(text, found) for text in texts] == moments


@pytest.mark.parametrize(
    ("heading", "name", "unit"),
    [
        ("Temp (°F)", "temperature", "degF"),
        ("Temperature_F", "temperature", "degF"),
        ("Air Temp [C]", "temperature", "degC"),
        ("Temp, °C (LGR 1)", "temperature", "degC"),
        ("RH (%)", "relative_humidity", "percent"),
        ("Humidity, %", "relative_humidity", "percent"),
        ("Wind Speed (mph)", "wind_speed", "mph"),
        ("PAR (µmol/m²/s)", "shortwave", "umol/m^2/s"),
        ("PAR (umol m-2 s-1)", "shortwave", "umol/m^2/s"),
        ("Light (foot-candles)", "shortwave", "foot-candle"),
        ("Intensity, lum/ft²", "shortwave", "foot-candle"),
        ("Solar Radiation (W/m²)", "shortwave", "W/m^2"),
        ("Temp", "temperature", None),
        ("Light", "shortwave", None),
    ],
)
def test_headings_say_their_unit(heading, name, unit):
    assert unit_in(heading, name) == unit


def test_light_of_sun_and_sky():
    """Thimijan and Heins 1983: 0.20 umol/m2/s a foot-candle; full sun, 10 000 of them, is about 970 W/m2."""
    umol, foot_candle, lux = (light_factor(unit) for unit in ("umol/m2/s", "fc", "lux"))
    assert foot_candle / umol == pytest.approx(0.20, rel=0.01)
    assert umol == pytest.approx(1 / 2.06, rel=0.01)
    assert 10_000 * foot_candle == pytest.approx(970, rel=0.01)
    assert lux * 10.7639 == pytest.approx(foot_candle, rel=1e-4)
    assert light_factor("W/m^2") is None
    assert convert(np.array([2000.0]), "µmol/m²/s", "shortwave")[0] == pytest.approx(972, rel=0.01)
    assert allowed("shortwave", "umol/m^2/s") == "0 to 4113 umol/m^2/s"


def test_light_in_photons_is_noted(tmp_path):
    text = "Time,Temp (F),RH %,PAR (umol/m2/s)\n2026-05-14T06:00,70,60,200\n2026-05-14T07:00,71,60,400\n"
    weather = read(tmp_path, text, constants={"wind_speed": "0.3 m/s"})
    assert weather.data["shortwave"].to_numpy() == pytest.approx([97.25, 194.5], rel=1e-3)
    assert any("sun and sky" in note and "lamps" in note for note in weather.notes)


def test_light_of_a_typical_year(tmp_path):
    only_wind = {"wind_speed": "0.3 m/s"}
    text = "Time,Temp (F),RH %\n" + "".join(f"2026-05-14T{hour:02d}:00,70,60\n" for hour in range(24))
    weather = read(tmp_path, text, constants=only_wind, light="piedmont", transmittance="50 %")
    outside = ws.read_weather("piedmont").at(weather.data.index)["shortwave"].to_numpy()
    assert weather.data["shortwave"].to_numpy() == pytest.approx(0.5 * outside)
    assert outside.max() > 300.0
    assert any("typical year, not of these days, 50 % of it" in note for note in weather.notes)
    again = read(tmp_path, text, constants=only_wind, light=ws.read_weather("piedmont"), transmittance=0.5)
    assert again.data.equals(weather.data)
    for wrong, fragment in (
        ({"light": weather}, "was measured at a crop"),
        ({"light": "piedmont", "transmittance": "150 %"}, "outside what is allowed"),
        ({"transmittance": "50 %", "constants": STATED["constants"]}, "transmittance= goes with light="),
    ):
        with pytest.raises(InputError, match=fragment):
            read(tmp_path, text, **{"constants": only_wind, **wrong})


def test_semicolons_decimal_commas_and_units_in_cells(tmp_path):
    text = (
        "Datum;Date;Time;Temp (°C);RH\nx;14.05.2026;06:00;18,4 °C;61,5 %\nx;14.05.2026;07:00;18,9 °C;60,0 %\n"
    )
    weather = read(tmp_path, text)
    assert weather.data["temperature"].to_numpy() == pytest.approx([291.55, 292.05])
    assert weather.data["relative_humidity"].to_numpy() == pytest.approx([0.615, 0.6])
    assert "Decimals are written with a comma in the file." in weather.notes
    thousand = (
        text.replace("18,4", "18,400")
        .replace("18,9", "18,900")
        .replace("61,5", "61,500")
        .replace("60,0", "60,000")
    )
    with pytest.raises(InputError, match="may be"):
        read(tmp_path, thousand)
    latin = "Time;Temp (°C);RH (%)\n2026-05-14T06:00;18.4;61\n2026-05-14T07:00;18.9;60\n".encode("latin-1")
    assert "Not UTF-8: read as Latin-1." in read(tmp_path, latin).notes


WARM = "Date,Time,Temp (F),RH (%)\n" + "".join(
    f"05/14/2026,{hour:02d}:00,{60 + hour},{80 - hour}\n" for hour in range(9)
)
SERIAL = "Time,Temp (F),RH (%)\n46156.25,60,80\n46156.5,64,70\n46156.75,66,60\n"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            WARM.replace("(F)", "(C)"),
            r"'61' degC, as are 7 others; .*; did you mean units={'temperature': 'degF'}",
        ),
        (
            SERIAL,
            r"'46156.25' is not a time, nor is that of 2 more lines; .* day number, 2026-05-14 06:00: give",
        ),
        (
            WARM.replace(":00,6", ":00,6,"),
            r"line 2 and 8 more: 5 field.s.; .*; if decimals are written with a comma",
        ),
        (WARM.replace("03:00,63", "03:00,"), r"line 5, column 'Temp .F.': '' is blank; take out lines"),
    ],
)
def test_a_slip_of_a_whole_column_is_told_once(tmp_path, text, told):
    with pytest.raises(InputError, match=told) as refused:
        read(tmp_path, text)
    assert len(refused.value.problems) <= 2


def test_a_crop_in_frost_or_heat_is_a_heading_that_is_wrong(tmp_path):
    celsius = WARM.replace(",6", ",1")  # 10 to 18
    for heading, stated in (("(F)", "degC"), ("(F)", None), ("(C)", None)):
        text = (celsius if heading == "(F)" else WARM.replace(",6", ",5")).replace("(F)", heading)
        units = {"temperature": stated} if stated else {}
        if stated:
            assert read(tmp_path, text, units=units).data["temperature"].max() == pytest.approx(291.15)
            continue
        with pytest.raises(
            InputError, match=f"'Temp .{heading[1]}.' read in .*, and no crop is kept in that"
        ):
            read(tmp_path, text)
    outdoors = {"exposure": "outdoor", "light": "piedmont", "constants": {"wind_speed": "1 m/s"}}
    assert read(tmp_path, celsius, **outdoors).data["temperature"].max() < 273.15


def test_date_and_time_in_two_columns_are_both_named(tmp_path):
    assert any("time from 'Date' and 'Time'" in note for note in read(tmp_path, WARM).notes)


def test_what_spreadsheets_call_unicode_text_is_read(tmp_path):
    plain = read(tmp_path, WARM).data
    for order in ("utf-16-le", "utf-16-be"):
        text = ("\ufeff" + WARM.replace(",", "\t")).encode(order)
        assert read(tmp_path, text).data.equals(plain)
    with pytest.raises(InputError, match="begins as UTF-16 text and is none"):
        read(tmp_path, b"\xff\xfea")


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("EDT", "did you mean 'America/New_York', or 'UTC-05:00' without daylight saving"),
        ("Pacific time", "did you mean 'America/Los_Angeles'"),
        ("GMTT-4", r"such as 'UTC-05:00'$"),
    ],
)
def test_clocks_as_people_call_them(tmp_path, said, told):
    with pytest.raises(InputError, match=told):
        read(tmp_path, WARM, time_zone=said)


def test_hours_behind_greenwich_are_west_of_it(tmp_path):
    assert read(tmp_path, WARM, time_zone="GMT-4").time_zone == "UTC-04:00"


def test_two_columns_that_may_be_meant_are_asked_about(tmp_path):
    text = "Time,Temp 1 (F),Temp 2 (F),Dew point (F),RH %\n" + "".join(
        f"2026-05-14T{hour:02d}:00,70,80,50,60\n" for hour in range(3)
    )
    with pytest.raises(
        InputError, match=r"'Temp 1 .F.' or 'Temp 2 .F.' may be air temperature; give columns="
    ):
        read(tmp_path, text)
    weather = read(tmp_path, text, columns={"temperature": "Temp 2 (F)"})
    assert weather.data["temperature"].to_numpy() == pytest.approx((80 - 32) / 1.8 + 273.15)


def test_every_variable_has_units_that_headings_may_say():
    for name, rule in VARIABLES.items():
        for unit in rule.common_units:
            assert unit == "1" or unit_in(f"x ({unit})", name) is not None


@pytest.mark.parametrize(
    "heading", ["Humidity [g/kg]", "Humidity, g/kg", "Humidity (g/m3)", "Humidity [kPa]"]
)
def test_grams_of_vapour_are_no_relative_humidity(tmp_path, heading):
    """They were read as shares: 12 g/kg as 1.2 %."""
    text = f't,temp [degC],"{heading}"\n2026-05-14 06:00,20,12\n2026-05-14 07:00,21,13\n'
    with pytest.raises(InputError, match="no heading says relative humidity"):
        read(tmp_path, text.replace("t,", "time,", 1))
    with pytest.raises(InputError, match="'g/kg' is not a unit of relative humidity"):
        read(
            tmp_path,
            text,
            columns={"time": "t", "temperature": "temp [degC]", "relative_humidity": heading},
            units={"temperature": "degC", "relative_humidity": "g/kg"},
        )


def test_how_a_humidity_without_a_unit_was_read_is_told(tmp_path):
    weather = read(tmp_path, "time,temp [degC],RH\n2026-05-14 06:00,20,62\n2026-05-14 07:00,21,64\n")
    assert "relative humidity from 'RH' in percent, by its numbers" in weather.notes[0]


@pytest.mark.parametrize(
    ("mark", "said"), [("|", "'|'"), (" | ", "'|'"), ("^", "'^'"), ("~", "'~'"), ("    ", "spaces")]
)
def test_columns_that_something_else_divides(tmp_path, mark, said):
    text = "Time,Temp (C),RH (%)\n2026-05-14 06:00,20,62\n2026-05-14 07:00,21,64\n".replace(",", mark)
    with pytest.raises(InputError, match="with commas, semicolons or tabs there") as caught:
        read(tmp_path, text)
    assert f"its columns have {said} between them" in str(caught.value)


def test_a_date_in_parts_is_to_be_joined(tmp_path):
    text = "Year,Month,Day,Hour,Minute,Temperature (C),Relative Humidity (%)\n2026,5,14,6,0,20,62\n"
    with pytest.raises(
        InputError, match="write what stands in Year, Month, Day, Hour, Minute into one column"
    ):
        read(tmp_path, text)


def test_headings_of_weather_services(tmp_path):
    """A dry bulb is the air's; sources, doubts and zones of columns are no columns of the air."""
    text = (
        "Time,Time Zone,Dry-bulb (C),Dry-bulb source,Dry-bulb uncert (code),RHum (%),RHum flag\n"
        "2026-05-14 06:00,-5,20,A,7,62,A\n2026-05-14 07:00,-5,21,A,7,64,A\n"
    )
    weather = read(tmp_path, text)
    assert weather.data["temperature"].iloc[0] == pytest.approx(293.15)
    assert weather.data["relative_humidity"].iloc[1] == pytest.approx(0.64)


# What looks like a column of air, and is none -------------------------------------------------------------


def two_days(
    temperature: str = "Temp (°C)", humidity: str = "RH (%)", light: str = "Solar (W/m2)", **more: Any
) -> str:
    """An invented logger of half hours; `more`: texts of its `times` and its `light_cells`."""
    moments = [datetime(2026, 5, 16) + row * timedelta(minutes=30) for row in range(48)]
    times = more.get("times", [f"{moment:%Y-%m-%d %H:%M}" for moment in moments])
    cells = more.get("light_cells", [f"{abs(200 - 10 * row)}" for row in range(48)])
    heads = f"{more.get('heading', 'Time')};{temperature};{humidity};{light}"
    return "\n".join([heads, *(f"{time};20.5;60;{cell}" for time, cell in zip(times, cells, strict=True))])


NO_LIGHT = {"constants": {"wind_speed": "0.3 m/s"}}


@pytest.mark.parametrize(
    "heading",
    ["Temp (°C) Max", "Temp change (°C)", "Temperature set (°C)", "Temp (°C) StdDev", "Outside Temp (°C)",
     "Pipe temp (°C)",
     "Water temp (°C)", "Root temp (°C)", "Feels like temperature (°C)", "Canopy temp (°C)"],
)  # fmt: skip
def test_other_temperatures_are_not_that_of_the_air(tmp_path: Path, heading: str) -> None:
    with pytest.raises(InputError, match="no heading says air temperature"):
        read(tmp_path, two_days(temperature=heading), **NO_LIGHT)


@pytest.mark.parametrize("heading", ["RH deficit (%)", "RH (%) StdDev", "RH target (%)", "Outside RH (%)"])
def test_other_humidities_are_not_that_of_the_air(tmp_path: Path, heading: str) -> None:
    with pytest.raises(InputError, match="no heading says relative humidity"):
        read(tmp_path, two_days(humidity=heading), **NO_LIGHT)


@pytest.mark.parametrize(
    "heading",
    ["Net radiation (W/m2)", "UV light (W/m2)", "Diffuse radiation (W/m2)", "Outside radiation (W/m2)"],
)
def test_other_light_is_no_shortwave_at_the_crop(tmp_path: Path, heading: str) -> None:
    with pytest.raises(InputError, match="no shortwave"):
        read(tmp_path, two_days(light=heading), **NO_LIGHT)


def test_photosynthetic_watts_are_less_than_half_of_shortwave(tmp_path: Path) -> None:
    record = read(tmp_path, two_days(light="PAR (W/m2)"), **NO_LIGHT)
    assert record.data["shortwave"].max() == pytest.approx(270 / 0.45)
    assert any("W/m^2 PAR" in note for note in record.notes)


@pytest.mark.parametrize("heading", ["Temp (ºC)", "Temp (˚C)", "Temp (oC)", "Temp (degrees_C)"])
def test_degrees_are_written_in_several_ways(tmp_path: Path, heading: str) -> None:
    record = read(tmp_path, two_days(temperature=heading), **NO_LIGHT)
    assert record.data["temperature"].iloc[0] == pytest.approx(293.65)


def test_one_wrong_humidity_does_not_make_shares_percent(tmp_path: Path) -> None:
    text = two_days(humidity="RH").replace(";60;", ";0.6;")
    with pytest.raises(InputError, match="'RH' does not say its unit"):
        read(tmp_path, text.replace(";0.6;", ";105;", 1), **NO_LIGHT)


def test_points_between_thousands_are_no_decimals(tmp_path: Path) -> None:
    cells = ["0", "950", "1.034", "12.345"] * 12
    with pytest.raises(InputError, match=r"may be 1\.034 or 1034"):
        read(tmp_path, two_days(light="Light (lux)", light_cells=cells), **NO_LIGHT)
    cells = ["0", "5.798", "44.420", "12.345"] * 12
    with pytest.raises(InputError, match=r"may be 5\.798 or 5798"):
        read(tmp_path, two_days(light="Light (lux)", light_cells=cells), **NO_LIGHT)
    cells = ["0", "5.798", "44.42", "12.345"] * 12
    assert read(tmp_path, two_days(light="Light (klux)", light_cells=cells), **NO_LIGHT)


# Clocks and dates -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("heading", "offset"),
    [
        ("Time (UTC-05:00)", -5),
        ("Time (UTC\N{MINUS SIGN}05:00)", -5),
        ("Time (GMT -4)", -4),
        ("Time (UTC)", 0),
    ],
)
def test_the_heading_tells_the_clock(tmp_path: Path, heading: str, offset: int) -> None:
    record = read(tmp_path, two_days(heading=heading), time_zone=None, **NO_LIGHT)
    assert record.data.index[0].hour == -offset
    told = f"UTC{offset:+03d}:00"
    read(tmp_path, two_days(heading=heading), time_zone=told, **NO_LIGHT)  # they agree
    with pytest.raises(InputError, match="gives other times"):
        read(tmp_path, two_days(heading=heading), time_zone="UTC+09:00", **NO_LIGHT)


def stamps(pattern: str, days: int = 1) -> list[str]:
    return [f"{datetime(2026, 5, 16) + days * row * timedelta(minutes=30):{pattern}}" for row in range(48)]


def test_a_year_of_two_digits_may_stand_first_or_last(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="may have the year first or last"):
        read(tmp_path, two_days(times=stamps("%y-%m-%d %H:%M")), **NO_LIGHT)
    record = read(tmp_path, two_days(times=stamps("%y-%m-%d %H:%M", days=6)), **NO_LIGHT)  # the days tell it
    assert record.data.index[0].year == 2026
    pointed = read(tmp_path, two_days(times=stamps("%d.%m.%y %H:%M")), **NO_LIGHT)
    assert (pointed.data.index[0].year, pointed.data.index[0].day) == (2026, 16)


@pytest.mark.parametrize(
    "pattern", ["%d-%b-%Y %H:%M", "%d %B %Y %H:%M", "%b %d, %Y %I:%M %p", "%d-%b-%y %H:%M"]
)
def test_months_have_names(tmp_path: Path, pattern: str) -> None:
    record = read(tmp_path, two_days(times=stamps(pattern)), **NO_LIGHT)
    assert record.data.index[0].isoformat() == "2026-05-16T05:00:00+00:00"


@pytest.mark.parametrize("pattern", ["%Y-%m-%d %H:%M", "%m/%d/%Y %H:%M"])
def test_midnight_ends_a_day(tmp_path: Path, pattern: str) -> None:
    times = stamps(pattern)
    times[0] = f"{datetime(2026, 5, 15):{pattern}}".replace("00:00", "24:00")
    record = read(tmp_path, two_days(times=times), **NO_LIGHT)
    assert record.data.index[0].isoformat() == "2026-05-16T05:00:00+00:00"


def test_a_file_that_begins_with_the_newest(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="the newest stand first: sort the file by time"):
        read(tmp_path, two_days(times=stamps("%Y-%m-%d %H:%M")[::-1]), **NO_LIGHT)


def test_a_clock_is_a_name(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="time_zone: 5"):
        read(tmp_path, two_days(), time_zone=5, **NO_LIGHT)
    record = read(tmp_path, two_days(), time_zone=timezone(timedelta(hours=-5)), **NO_LIGHT)
    assert record.time_zone == "UTC-05:00"
