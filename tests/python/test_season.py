"""Seasons: the sprays of many days, shares and windows of them, the air of the house, the command."""

import datetime as dt
import json
import warnings

import numpy as np
import pandas as pd
import pytest
import wetspan as ws
import xarray as xr
from refusal import refused
from wetspan.command_line import main


@pytest.fixture(scope="module")
def spring(quick, sites) -> xr.Dataset:
    return ws.season(
        quick, sites, "2026-05-14", "2026-05-17", ["06:00", "09:30", "15:00", "22:00"], samples=3
    )


def test_a_season_is_its_single_sprays(quick, sites, spring):
    assert dict(spring["wet_time"].sizes) == {"site": 2, "day": 4, "clock": 4}
    assert spring["clock"].values.tolist() == ["06:00", "09:30", "15:00", "22:00"]
    assert spring["hour"].values.tolist() == [6.0, 9.5, 15.0, 22.0]
    for site, day, clock in (("hills", "2026-05-14", "09:30"), ("coast", "2026-05-17", "22:00")):
        one = ws.simulate(quick, sites[site], f"{day}T{clock}")
        cell = spring.sel(site=site, day=day, clock=clock)
        assert float(cell["wet_time"]) == one.wet_time
        assert float(cell["growth_control"]) == one.growth_control
        assert cell["uptake"].values.tolist() == one.uptake.values.tolist()
        assert cell["split"].values.tolist() == one.split["share"].values.tolist()
        moment = sites[site].local(f"{day}T{clock}").tz_convert("UTC").tz_localize(None)
        assert cell["time_utc"].values == moment.to_datetime64()
        day_of = ws.compare_times(quick, sites[site], f"{day}T{clock}", f"{day}T{clock}")
        for name in ("air_temperature", "relative_humidity", "vapour_pressure_deficit", "air_changes"):
            assert float(cell[name]) == float(day_of[name][0])
    for variable in spring.variables.values():
        assert variable.attrs["long_name"]
    assert "growth control compares times of one day" in spring.attrs["read_for"].lower()
    assert spring.attrs["weather"].startswith("hills: Weather(")


def test_draws_of_a_season_are_those_of_its_days(quick, sites, spring):
    day = ws.compare_times(
        quick, sites["hills"], "2026-05-15T06:00", "2026-05-15T15:00", "9h", samples=3, seed=1
    )
    cell = spring.sel(site="hills", day="2026-05-15", clock=["06:00", "15:00"])
    for name in ("wet_time_low", "wet_time_high", "growth_control_low", "growth_control_high", "not_dry"):
        assert cell[name].values.tolist() == day[name].values.tolist()
    assert dict(spring["wet_time_draws"].sizes) == {"sample": 3, "site": 2, "day": 4, "clock": 4}
    assert (spring.attrs["samples"], spring.attrs["seed"]) == (3, 1)


def test_few_sprays_of_a_draw_are_flown_each(quick, piedmont):
    asked = (piedmont, "2026-05-14", "2026-05-14", [9, 15])
    table, each = (
        ws.season(quick.replace({"numerics.flights": how}), *asked, samples=2) for how in ("table", "each")
    )
    assert table["wet_time_draws"].values.tolist() == each["wet_time_draws"].values.tolist()
    assert table["wet_time"].values.tolist() != each["wet_time"].values.tolist()  # not drawn: as was asked


def test_shares_of_days(spring):
    found = ws.share_below(spring, "20 min")
    by_hand = (spring["wet_time"].values < 1200.0).mean(axis=1)
    assert found["share"].values.tolist() == by_hand.tolist()
    assert found["share"].attrs["long_name"].endswith("dry in less than 20 min")
    assert found["days"].values.tolist() == [[4] * 4] * 2
    drawn = (spring["wet_time_draws"].values < 1200.0).mean(axis=2)
    assert found["share_high"].values == pytest.approx(np.quantile(drawn, 0.9, axis=0))
    stems = ws.share_below(spring, "1200 s", part="stems")["share"]
    assert (stems.values == (spring["stem_wet_time"].values < 1200.0).mean(axis=1)).all()
    lost = spring.copy(deep=True)
    lost["status"][0, 0, 0], lost["wet_time"][0, 0, 0] = "failed", np.nan
    assert ws.share_below(lost, "20 min")["days"].values[0].tolist() == [3, 4, 4, 4]
    refused(lambda: ws.share_below(spring, "20 L"), "wet_time = '20 L'", "such as '20 min'")
    for bare in (20, 20.0, np.float64(20.0), np.array(20)):  # 20 minutes, or seconds?
        refused(lambda bare=bare: ws.share_below(spring, bare), "wet_time = ", "has no unit", "'20 min'")
    refused(lambda: ws.share_below(spring, "20 min", part="roots"), "'stems'")
    refused(lambda: ws.share_below(spring["wet_time"], "20 min"), "ws.season")


def test_windows_of_days():
    control = np.array([[0.20, 0.30, 0.29, 0.10, 0.295, 0.2], [0.1, 0.1, 0.1, 0.5, 0.1, 0.2], [np.nan] * 6])
    status = np.full(control.shape, "dry", dtype="<U10")
    status[1, 3], status[2] = "wet at end", "failed"
    hour = np.arange(6.0, 12.0)
    made = xr.Dataset(
        {
            "growth_control": (("site", "day", "clock"), control[None]),
            "wet_time": (("site", "day", "clock"), 100.0 * control[None]),
            "status": (("site", "day", "clock"), status[None]),
        },
        coords={"site": ["here"], "day": pd.date_range("2026-05-14", periods=3), "hour": ("clock", hour)},
    )
    found = ws.best_windows(made).isel(site=0)
    assert found["best"].values[:2].tolist() == [7.0, 11.0]  # a lower bound is not the best
    assert found["opens"].values[:2].tolist() == [7.0, 11.0]
    assert found["closes"].values[:2].tolist() == [8.0, 11.0]  # 10:00 is as good, but 9:00 lies between
    assert found["width"].values[:2].tolist() == [2.0, 1.0]
    assert found["wet_time"].values[0] == 30.0
    assert np.isnan(found["best"].values[2])
    assert ws.best_windows(made, within=0.3).isel(site=0)["closes"].values[0] == 11.0
    uneven = made.assign_coords(hour=("clock", np.array([6.0, 7.0, 9.0, 12.0, 15.0, 20.0])))
    width = ws.best_windows(uneven).isel(site=0)["width"].values
    assert width[:2].tolist() == [10.5 - 6.5, 22.5 - 17.5]  # to half-way between clock times
    refused(lambda: ws.best_windows(made, within=0.0), "within = 0.0")
    refused(lambda: ws.best_windows(made["wet_time"]), "ws.season")


def test_the_sun_of_a_season_is_that_of_its_place(spring):
    """Greensboro, 36.1 N 79.95 W, 15 May: sunrise 6:13, sunset 20:20 daylight time, from memory."""
    hills = spring.sel(site="hills", day="2026-05-15")
    assert float(hills["sunrise"]) == pytest.approx(5.0 + 13.0 / 60.0, abs=0.1)
    assert float(hills["sunset"]) == pytest.approx(19.0 + 20.0 / 60.0, abs=0.1)


def test_hours_that_do_not_exist_fail_alone(quick, tmp_path):
    times = pd.date_range("2026-03-07T00:00Z", "2026-03-10T12:00Z", freq="1h")
    table = pd.DataFrame(
        {"time": times.strftime("%Y-%m-%dT%H:%M:%S+00:00"), "T": 20.0, "RH": 60.0, "sun": 100.0}
    )
    table.loc[5, "sun"] = 101.0
    table.to_csv(tmp_path / "logger.csv", index=False)
    weather = ws.read_weather(
        tmp_path / "logger.csv",
        columns={"time": "time", "temperature": "T", "relative_humidity": "RH", "shortwave": "sun"},
        units={"temperature": "degC", "relative_humidity": "percent", "shortwave": "W/m^2"},
        time_zone="America/New_York",
        label="instant",
        exposure="crop",
        constants={"wind_speed": "0.2 m/s"},
    )
    with pytest.warns(RuntimeWarning, match="1 of 6 rows failed.*02:30.*does not exist"):
        found = ws.season(quick, weather, "2026-03-07", "2026-03-09", ["02:30", dt.time(14)])
    assert found["site"].values.tolist() == ["logger.csv"]
    assert found["status"].values[0].tolist() == [["dry", "dry"], ["failed", "dry"], ["dry", "dry"]]
    assert np.isnan(found["sunrise"]).all()
    assert ws.share_below(found, "1 day")["share"].values.tolist() == [[1.0, 1.0]]
    assert ws.best_windows(found)["best"].values[0, 1] == 14.0
    ws.plot_season(found)


def test_seasons_that_are_refused(quick, sites):
    def season(start="2026-05-14", end="2026-05-14", hours=(12,), weather=None, **others):
        return lambda: ws.season(quick, weather or sites["hills"], start, end, hours, **others)

    refused(season(start="2026-05-15"), "before start")
    refused(season(start="May"), "start = 'May' is not a day")
    refused(season(start=dt.datetime(2026, 5, 14, 6)), "is not a day")
    refused(season(end="2036-05-14"), "days")
    for hours in ((), "06:00", 6):
        refused(season(hours=hours), "hours = ")
    for hour in (24, -1, "6 o'clock", "25:00", 6.5, dt.time(6, tzinfo=dt.UTC)):
        refused(season(hours=[hour]), "is not a clock time")
    refused(season(hours=[12, 6]), "have to increase")
    refused(season(samples=1), "samples = 1")
    refused(season(samples=2, seed="x"), "seed = 'x'")
    for chunks in (0, -5, 1.5, True, "x"):
        refused(season(chunks=chunks), "chunks = ")
    for threads in (-1, 2.5, True, "x"):
        refused(season(threads=threads), "threads = ")
        refused(lambda threads=threads: ws.batch(quick, {"air.speed": [0.1]}, threads=threads), "threads = ")
    refused(season(weather="miami"), "read_weather")
    refused(season(weather={"here": "miami"}), "read_weather")


def test_airs_of_a_house_that_are_refused(quick, piedmont, sites):
    def air(scenario=quick, weather=piedmont, start="2026-05-14", end="2026-05-15"):
        return lambda: ws.house_air(scenario, weather, start, end)

    refused(air(start="2026-05-15"), "is not before end")
    for nothing in ("May", "NaT", pd.NaT, 3):
        refused(air(start=nothing), "is not a time such as")
    refused(air(weather="piedmont"), "read_weather")
    refused(air(scenario=3), "scenario = 3 is no scenario")
    stamps = pd.date_range("2026-05-14", periods=49, freq="h", tz="UTC-05:00")
    kept = pd.DataFrame({"temp_air": 25.0, "relative_humidity": 60.0}, index=stamps)
    own = ws.Weather.from_dataframe(
        kept, label="instant", exposure="crop", constants={"wind_speed": "0.3 m/s", "shortwave": "0 W/m^2"}
    )
    assert air(weather=own)().sizes["time"] == 25
    refused(air(weather=own, end="2026-06-15"), "2026-06-15", "is outside the record")


def test_the_air_of_a_house_is_what_sprays_meet(quick, piedmont):
    air = ws.house_air(quick, piedmont, "2026-05-15T00:00", "2026-05-19T00:00")
    assert air.sizes["time"] == 4 * 288 + 1
    assert (np.diff(air["time"].values) == np.timedelta64(300, "s")).all()
    assert (air["time"].values - air["clock"].values == np.timedelta64(5, "h")).all()
    assert air["time"].attrs["standard_name"] == "time"
    times = ["2026-05-15T13:00", "2026-05-18T02:35"]  # in two weeks
    rows = ws.batch(quick, {"time": times}, piedmont)
    for row, moment in enumerate(rows["time_utc"].values):
        now = air.sel(time=moment)
        for name in ("air_temperature", "relative_humidity", "vapour_pressure_deficit", "shortwave"):
            assert float(now[name]) == float(rows[name][row])
    saturated = ws.air.saturation_pressure(air["air_temperature"].values)
    assert air["vapour_pressure"].values == pytest.approx(saturated * air["relative_humidity"].values)
    for variable in air.data_vars.values():
        assert variable.attrs["units"]
    refused(lambda: ws.house_air(quick, piedmont, "2026-05-15", "2026-05-14"), "not before")
    refused(lambda: ws.house_air(quick, "miami"), "read_weather")
    refused(lambda: ws.house_air("bench", piedmont), "scenario")


def test_pictures_of_seasons(spring):
    for variable in ("wet_time", "stem_wet_time", "growth_control"):
        figure = ws.plot_season(spring, variable)
        panels = [axes for axes in figure.axes if axes.get_title(loc="left")]
        assert [axes.get_title(loc="left") for axes in panels] == ["hills", "coast"]
        assert {text.get_text() for text in panels[0].get_legend().texts} == {
            "sunrise",
            "sunset",
            "wet past sunset, or more than 8 h",
        }
        figure.canvas.draw()
    luminance = [
        0.2126 * r + 0.7152 * g + 0.0722 * b for r, g, b, _ in figure.axes[0].collections[0].cmap(range(256))
    ]
    assert (np.diff(luminance) > 0.0).all()  # reads in grey
    wet = spring.copy(deep=True)
    wet["wet_time"][0, 1, 3] = np.inf
    assert "not dry" in {text.get_text() for text in ws.plot_season(wet).axes[0].get_legend().texts}
    refused(lambda: ws.plot_season(spring, "wind"), "variable = 'wind'", "wet_time")
    refused(lambda: ws.plot_season(spring["wet_time"]), "ws.season")


def test_a_site_selected_by_its_name_is_still_a_season(spring):
    hills = spring.sel(site="hills")
    whole = spring.sel(site=["hills"])
    assert ws.plot_season(hills).axes[0].get_title("left") == ws.plot_season(whole).axes[0].get_title("left")
    xr.testing.assert_equal(ws.best_windows(hills), ws.best_windows(whole))
    share = ws.share_below(whole, "20 min").share.squeeze("site")
    xr.testing.assert_equal(ws.share_below(hills, "20 min").share, share)
    day = spring.sel(day="2026-05-15")
    for asks in (ws.plot_season, ws.best_windows, lambda season: ws.share_below(season, "20 min")):
        with pytest.raises(ws.InputError, match=r"needs day as a dimension; .*sel\(day=\['2026-05-15'\]\)"):
            asks(day)


def test_progress_of_a_season_goes_over_its_draws(quick, piedmont):
    told = []
    ws.season(
        quick, piedmont, "2026-05-14", "2026-05-14", [12], samples=2, progress=lambda *each: told.append(each)
    )
    assert {whole for _, whole in told} == {3}
    done = [each for each, _ in told]
    assert done == sorted(done)
    assert (done[0], done[-1]) == (0, 3)


@pytest.mark.parametrize("samples", ["0", "2"])
def test_the_command(tmp_path, capsys, samples):
    asked = ["season", "--from", "2026-05-14", "--to", "2026-05-15", "--hours", "9-11", "--samples", samples]
    picture, numbers = tmp_path / "season.png", tmp_path / "season.nc"
    files = ["--picture", str(picture)]
    if samples == "0" and pytest.importorskip("netCDF4"):
        files += ["--save", str(numbers)]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the writer
        assert main([*asked, *files]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "09:00" in text
    assert "in less than 20 min" in text
    assert "The product label and local regulations rule" in text
    assert picture.stat().st_size > 5000
    assert main([*asked, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert np.shape(document["wet_time"]) == (2, 3)
    assert document["clock"] == ["09:00", "10:00", "11:00"]
    if samples == "0":
        back = xr.load_dataset(numbers)
        assert back["wet_time"].values[0].tolist() == document["wet_time"]
    assert main(["season", "--from", "2026-05-14", "--to", "2026-05-15", "--hours", "11-9"]) == 2
    assert "--hours '11-9'" in capsys.readouterr().err


def test_the_command_refuses_before_it_computes(capsys, monkeypatch):
    monkeypatch.setattr("wetspan.commands.season.season", lambda *_, **__: pytest.fail("computed"))
    for option, given, said in (
        ("--below", "20", "--below '20' has no unit; write for example '20 min'"),
        ("--save", "no/such.nc", "no/such.nc: there is no folder 'no'"),
    ):
        assert main(["season", "--from", "2026-05-14", "--to", "2026-05-15", option, given]) == 2
        assert said in capsys.readouterr().err


def test_a_season_over_a_grid_has_its_coordinates(quick, piedmont):
    hours = piedmont.data.iloc[3000:3200].tz_localize(None)
    field = xr.concat([hours.to_xarray()] * 2, "lat").assign_coords(lat=[36.0, 37.0])
    field = field.expand_dims(lon=[-80.0])
    names = {"temperature": ("air_temperature", "K"), "relative_humidity": ("relative_humidity", "1"),
             "pressure": ("air_pressure", "Pa"), "wind_speed": ("wind_speed", "m/s"),
             "shortwave": ("surface_downwelling_shortwave_flux_in_air", "W/m^2")}  # fmt: skip
    for name, (_, unit) in names.items():
        field[name].attrs["units"] = unit
    grid = ws.Weather.from_xarray(field.rename({name: told for name, (told, _) in names.items()}))
    day = pd.Timestamp(hours.index[40]).date()
    found = ws.season(quick, grid, day, day, [12])
    assert found["lat"].values.tolist() == [36.0, 37.0]
    assert found["lon"].values.tolist() == [-80.0, -80.0]
    laid = found[["wet_time"]].set_index(site=["lat", "lon"]).unstack("site")
    assert dict(laid["wet_time"].sizes) == {"day": 1, "clock": 1, "lat": 2, "lon": 1}
