"""Inputs that are allowed and hardly meant: each is told, and the run goes on."""

import warnings

import numpy as np
import pandas as pd
import pytest
import wetspan as ws

STAMPS = pd.date_range("2026-05-14T00:00", "2026-05-15T00:00", freq="1h")


def logger(folder, light="0 W/m^2", **columns) -> ws.Weather:
    """Read a made-up day at the crop, its light the same throughout."""
    table = pd.DataFrame({"time": STAMPS.strftime("%Y-%m-%dT%H:%M"), "T": 22.0, "RH": 60.0}).assign(**columns)
    path = folder / "logger.csv"
    table.to_csv(path, index=False)
    return ws.read_weather(
        path,
        columns={"time": "time", "temperature": "T", "relative_humidity": "RH"},
        units={"temperature": "degC", "relative_humidity": "percent"},
        time_zone="UTC-05:00",
        label="instant",
        exposure="crop",
        constants={"wind_speed": "0.2 m/s", "shortwave": light},
    )


def test_a_humectant_that_takes_up_no_water_is_doubted(example):
    forgotten = example.replace({"liquid.humectant": "2 %"})
    told = r"liquid\.kappa is zero.*dry sooner; give liquid\.kappa"
    with pytest.warns(RuntimeWarning, match=told):
        sooner = ws.simulate(forgotten)
    assert sooner.wet_time < ws.simulate(example).wet_time
    with pytest.warns(RuntimeWarning, match=told):
        ws.batch(example, {"liquid.humectant": [0.0, 0.02], "liquid.kappa": [0.0, 0.0]})
    with pytest.warns(RuntimeWarning, match=told):
        ws.sweep(example, {"liquid.humectant": ["0 %", "2 %"]})
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        ws.batch(example, {"liquid.humectant": [0.0, 0.02], "liquid.kappa": [0.0, 0.3]})


@pytest.mark.parametrize(
    ("light", "hour", "told"),
    [
        ("4 W/m^2", 12, "no light around noon"),  # it is dark below 5 W/m2
        ("6 W/m^2", 1, "the same light around midnight"),
        ("0 W/m^2", 1, None),
        ("300 W/m^2", 12, None),
        ("0 W/m^2", 7, None),
    ],
)
def test_light_that_never_changes_is_doubted(example, tmp_path, light, hour, told):
    weather, moment = logger(tmp_path, light), f"2026-05-14T{hour:02d}:00"
    for run in (
        lambda: ws.simulate(example, weather, moment),
        lambda: ws.batch(example, {"time": [moment]}, weather),
        lambda: ws.compare_times(example, weather, moment, moment),
    ):
        if told is None:
            with warnings.catch_warnings():
                warnings.simplefilter("error")
                run()
        else:
            with pytest.warns(RuntimeWarning, match=rf"logger\.csv.*2026-05-14 {hour:02d}:00: {told}"):
                run()


def test_humidity_just_above_saturation_is_saturation(tmp_path):
    humidity = np.full(len(STAMPS), 60.0)
    humidity[[3, 4]] = 100.5, 103.0
    weather = logger(tmp_path, RH=humidity)
    assert weather.data["relative_humidity"].tolist()[2:6] == [0.6, 1.0, 1.0, 0.6]
    assert (
        "Relative humidity above saturation is read as saturation: 2 value(s), at most 103 %."
        in weather.notes
    )
    humidity[5] = 106.0
    with pytest.raises(ws.InputError, match=r"logger\.csv, line 7, column 'RH': '106\.0' percent; allowed"):
        logger(tmp_path, RH=humidity)


def test_a_spike_is_noticed(tmp_path):
    temperature = 20.0 + 5.0 * np.sin(np.arange(len(STAMPS)) / 4.0)
    assert not any("readings around" in note for note in logger(tmp_path, T=temperature).notes)
    temperature[9] = 60.0
    told = (
        r"logger\.csv, line 11, column 'T': '60\.0' is 3\d K from the readings around it; read as it stands"
    )
    with pytest.warns(RuntimeWarning, match=told):
        weather = logger(tmp_path, T=temperature)
    assert any("line 11" in note for note in weather.notes)
    assert weather.data["temperature"].iloc[9] == pytest.approx(333.15)


def test_a_gap_that_is_bridged_is_noted_and_flagged(example, tmp_path):
    kept = ~np.isin(STAMPS.hour, [9, 10]) | (STAMPS.day == 15)
    table = pd.DataFrame(
        {"time": STAMPS[kept].strftime("%Y-%m-%dT%H:%M"), "T": 22.0, "RH": 60.0, "sun": 100.0}
    )
    path = tmp_path / "logger.csv"
    table.to_csv(path, index=False)
    weather = ws.read_weather(
        path,
        columns={"time": "time", "temperature": "T", "relative_humidity": "RH", "shortwave": "sun"},
        units={"temperature": "degC", "relative_humidity": "percent", "shortwave": "W/m^2"},
        time_zone="UTC",
        label="instant",
        exposure="crop",
        constants={"wind_speed": "0.2 m/s"},
    )
    assert weather.gaps == ((pd.Timestamp("2026-05-14T08:00Z"), pd.Timestamp("2026-05-14T11:00Z")),)
    assert any("1 gap(s) are bridged by straight lines, the longest of 3 h" in note for note in weather.notes)
    times = ["2026-05-14T06:00", "2026-05-14T07:50", "2026-05-14T09:30", "2026-05-14T11:00"]
    result = ws.batch(example, {"time": times}, weather)
    wet = np.fmax(result["wet_time"], result["stem_wet_time"]).values
    assert 600.0 < wet.max() < 7200.0
    assert result["bridged"].values.tolist() == [False, True, True, False]
    day = ws.compare_times(example, weather, times[0], times[2], "110min")
    assert day["bridged"].values.tolist() == [False, True, True][: day.sizes["time"]]
    assert "while plants sprayed at 07:50" in ws.advice(day)
    assert "gap" not in ws.advice(day.isel(time=[0]))


def test_air_that_is_refused_is_named_by_file_and_line(example, tmp_path):
    temperature = np.full(len(STAMPS), 22.0)
    temperature[13] = -45.0  # allowed in a record, not at a crop
    with pytest.warns(RuntimeWarning, match="readings around"):
        weather = logger(tmp_path, "300 W/m^2", T=temperature)
    with pytest.raises(
        ws.InputError,
        match=r"logger\.csv, line 15, 2026-05-14T13:00:00-05:00: temperature \[K\] = 228\.15 is outside",
    ):
        ws.simulate(example, weather, "2026-05-14T12:00")
