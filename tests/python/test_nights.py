"""Wet nights: when the sun sets, which times are marked, and what is said of the best of them."""

import numpy as np
import pandas as pd
import pytest
import wetspan as ws
from refusal import refused
from wetspan.nights import CAUTION, sun, wet_nights, wet_past_sunset

DAY = pd.DatetimeIndex(["2026-05-16"])


def hours(weather, moments):
    clock = moments.tz_convert(weather.tz).tz_localize(None)
    return (clock - clock.normalize()) / pd.Timedelta("1h")


def logger(piedmont, **given):
    """A record of one logger without a place: two days of the Piedmont's."""
    rows = piedmont.between("2026-05-15", "2026-05-18")
    units = {"temperature": "K", "relative_humidity": "1", "pressure": "Pa", "wind_speed": "m/s"}
    return ws.Weather.from_dataframe(
        rows.tz_convert(piedmont.tz).assign(**given),
        exposure="crop",
        label="instant",
        time_zone=piedmont.time_zone,
        columns={name: name for name in rows},
        units=units | {"shortwave": "W/m2"},
    )


def at(weather, *clocks):
    return pd.DatetimeIndex([f"2026-05-16T{clock}" for clock in clocks]).tz_localize(weather.tz)


def test_the_sun_sets_where_the_record_is(piedmont):
    # sunrise equation: half the day is acos(-tan(latitude) tan(declination)), declination 19.1 deg on 16 May
    rise, set_ = sun(piedmont, DAY)
    half = np.degrees(np.arccos(-np.tan(np.radians(36.1)) * np.tan(np.radians(19.1)))) / 15
    length = (set_[0] - rise[0]) / pd.Timedelta("1h")
    assert length == pytest.approx(2 * half, abs=0.3)  # refraction adds some ten minutes
    # solar noon: 12 h + (longitude of the zone less that of the place) / 15, the equation of time is 4 min
    noon = hours(piedmont, rise)[0] + length / 2
    assert noon == pytest.approx(12 + (79.95 - 75) / 15 - 4 / 60, abs=0.05)


def test_without_a_place_the_light_tells_and_constant_light_does_not(piedmont):
    own = logger(piedmont)
    assert own.place is None
    known, told = (each.set for each in (sun(piedmont, DAY), sun(own, DAY)))
    assert abs((told[0] - known[0]) / pd.Timedelta("1h")) < 1.01  # rows are hourly
    assert sun(logger(piedmont, shortwave=0.0), DAY).set.isna().all()


def test_what_is_wet_past_sunset(piedmont):
    rise, set_ = (hours(piedmont, each)[0] for each in sun(piedmont, DAY))
    assert 5.0 < rise < 6.0
    assert 19.0 < set_ < 19.6
    moments = at(piedmont, "12:00", "18:30", "18:30", "21:00", "04:30", "02:00", "06:00", "21:00")
    wet = np.array([2.0, 0.5, 1.5, 0.5, 2.0, 1.0, np.inf, 0.0]) * 3600
    told = wet_past_sunset(piedmont, moments, wet)
    # dry by day, before sunset; into the night; after it; dry by daylight, before dawn; never dry; not wet
    assert told.tolist() == [False, False, True, True, False, True, True, False]


def test_a_day_marks_its_wet_nights(day, piedmont):
    dusk = hours(piedmont, sun(piedmont, DAY).set)[0]
    start = day["time"].dt.hour.values
    assert day["wet_past_sunset"].values.tolist() == (start + day["wet_time"].values / 3600 > dusk).tolist()
    assert day["wet_past_sunset"].values.sum() == 2
    assert not day["wet_too_long"].any()


def test_a_limit_marks_longer_wet_times(example, piedmont):
    times = ("2026-05-16T06:00", "2026-05-16T12:00", "1h")
    day = ws.compare_times(example, piedmont, *times, wet_limit="45 min")
    assert day["wet_too_long"].values.tolist() == (day["wet_time"].values > 45 * 60).tolist()
    assert day["wet_too_long"].values.sum() == 2
    assert day.attrs["wet_limit"] == "0.75 h"
    told = ws.advice(day)
    assert "sprayed at 06:00 to 07:00 they are wet for more than 0.75 h" in told
    # the best is one of them: never without a caution, and the best of the others is named
    assert CAUTION in told
    assert "06:00 is one of them; of the others 08:00 is best, 15 %" in told
    for bare in ("8", 8):
        refused(
            lambda bare=bare: ws.compare_times(example, piedmont, *times, wet_limit=bare), "wet_limit", "8 h"
        )
    refused(lambda: ws.compare_times(example, piedmont, *times, wet_limit="0 h"), "not a time above 0")


def test_a_day_without_wet_nights_says_nothing_of_them(example, piedmont):
    day = ws.compare_times(example, piedmont, "2026-05-16T08:00", "2026-05-16T12:00", "2h")
    assert not wet_nights(day).any()
    assert CAUTION not in ws.advice(day)


def test_a_rewetting_in_the_evening_is_marked(example, piedmont):
    again = example.replace({"rewetting.volume_rate": "0.2 L/m^2", "rewetting.delay": "11 hour"})
    day = ws.compare_times(again, piedmont, "2026-05-16T08:00", "2026-05-16T09:00", "1h")
    assert (day["wet_time"] < 3600).all()
    assert day["wet_past_sunset"].all()  # wet again from 19:00 and 20:00
    assert "No time compared is without." in ws.advice(day)


def test_the_best_of_a_season_is_never_a_wet_night_without_a_word(example, piedmont):
    found = ws.season(example, piedmont, "2026-05-14", "2026-05-17", range(12, 21, 2), wet_limit="6 h")
    windows = ws.best_windows(found)
    marked = wet_nights(found)
    for i, day in enumerate(found["day"].values):
        control = found["growth_control"].isel(site=0, day=i)
        best = int(windows["best"][0, i])
        night = bool(marked.isel(site=0, day=i).sel(clock=f"{best}:00"))
        assert bool(windows["best_is_wet_night"][0, i]) == night
        without = control.where(~marked.isel(site=0, day=i))
        assert float(windows["best_without"][0, i]) == float(found["hour"][int(without.argmax("clock"))]), day
    assert windows["best_is_wet_night"].any()  # on the dull day the evening gives the most
    assert windows.attrs["caution"] == CAUTION
    assert found.attrs["wet_limit"] == "6 h"


def test_a_season_tells_both_ends_of_the_residue(example, piedmont):
    found = ws.season(example, piedmont, "2026-05-01", "2026-05-16", [6, 14])
    assert found.sizes["day_at_ends"] == 12
    assert found["day_at_ends"].values[[0, -1]].tolist() == found["day"].values[[0, -1]].tolist()
    ends = found["growth_control_at_ends"].sel(day_at_ends="2026-05-16").isel(site=0)
    for end, given in zip(ws.residue_ends(example), ends.values, strict=True):
        alone = ws.compare_times(end, piedmont, "2026-05-16T06:00", "2026-05-16T14:00", "8h")
        assert given == pytest.approx(alone["growth_control"].values, rel=1e-12)
    ratio = found["growth_control_at_ends"].sel(clock="14:00") / found["growth_control_at_ends"].sel(
        clock="06:00"
    )
    locked, mobile = ratio.median("day_at_ends").isel(site=0).values
    assert locked < 0.9 < 0.97 < mobile


def test_pictures_mark_wet_nights(day, example, piedmont):
    def marks(axes):
        return [line for line in axes.get_lines() if str(line.get_label()).startswith("wet past sunset")]

    (rings,) = [line for axes in ws.plot_day(day).axes for line in marks(axes)]
    assert len(rings.get_xdata()) == int(wet_nights(day).sum()) == 2
    assert rings.get_ydata() == pytest.approx(day["wet_time"].values[wet_nights(day)] / 60)
    morning = ws.compare_times(example, piedmont, "2026-05-16T08:00", "2026-05-16T10:00", "2h")
    assert not any(marks(axes) for axes in ws.plot_day(morning).axes)
    found = ws.season(example, piedmont, "2026-05-14", "2026-05-15", [12, 20])
    (dots,) = [line for axes in ws.plot_season(found).axes for line in marks(axes)]
    assert len(dots.get_xdata()) == int(wet_nights(found).sum()) > 0
