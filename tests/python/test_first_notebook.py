"""The notebook people are promised: these lines run as they stand, and give what is said beside them."""

from importlib.resources import files

import matplotlib
import numpy as np
import pytest
import wetspan as ws
import xarray as xr

matplotlib.use("Agg")

PROMISED = """
# 1. one event
scenario = ws.load("examples/afternoon_bench.toml")
outcome = ws.simulate(scenario)
outcome.split
outcome.wet_time
outcome.uptake
outcome.growth_control
outcome.history

# 2. units at the door
wetter = scenario.replace({"application.volume_rate": "3 qt / (100 ft^2)", "air.temperature": "84 degF"})

# 3. when to spray
weather = ws.read_weather("piedmont")
day = ws.compare_times(scenario, weather, start="2026-05-14T06:00", end="2026-05-14T20:00", every="30min")
day.wet_time.plot()

# 4. what matters
grid = ws.sweep(scenario, {"air.relative_humidity": [0.4, 0.6, 0.8], "air.speed": [0.1, 0.3, 1.0]})
band = ws.uncertainty(scenario, samples=2000, seed=1)
"""


@pytest.fixture(scope="module")
def notebook():
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(str(files("wetspan")))  # where examples/ is
        names = {"ws": ws}
        exec(PROMISED, names)
    matplotlib.pyplot.close("all")
    return names


def test_one_event(notebook):
    outcome = notebook["outcome"]
    assert list(outcome.split["target"]) == ["leaf", "stem", "substrate", "bench", "airborne", "evaporated"]
    assert float(outcome.split["share"].sum()) == pytest.approx(1.0, abs=1e-12)
    assert outcome.split["volume"].attrs["units"] == "L/m^2"
    assert float(outcome.split["volume"].sum()) == pytest.approx(
        1e3 * outcome.scenario["application.volume_rate"]
    )
    assert 0.0 < outcome.wet_time < np.inf
    assert outcome.status == "dry"
    assert list(outcome.uptake["site"]) == ["leaf", "stem", "root"]
    assert outcome.uptake.attrs["units"] == "mg"
    assert 0.0 < outcome.growth_control < 1.0
    assert isinstance(outcome.history, xr.Dataset)
    assert outcome.history.sizes["time"] > 10


def test_units_at_the_door(notebook):
    wetter = notebook["wetter"]
    # 1 US qt = 0.946352946 L and 1 ft = 0.3048 m, both exact
    assert wetter["application.volume_rate"] == pytest.approx(
        3 * 0.946352946e-3 / (100 * 0.3048**2), rel=1e-9
    )
    assert wetter["air.temperature"] == pytest.approx((84 - 32) / 1.8 + 273.15, rel=1e-12)
    with pytest.raises(ws.InputError, match="24 degC"):
        wetter.replace({"air.temperature": 24})


def test_when_to_spray(notebook):
    day = notebook["day"]
    assert day.sizes["time"] == 29
    assert str(day["time"].values[0]).startswith("2026-05-14T06:00")
    assert day["wet_time"].attrs["units"] == "s"
    assert day["time"].attrs["time_zone"] == "UTC-05:00"


def test_what_matters(notebook):
    grid, band = notebook["grid"], notebook["band"]
    assert dict(grid["wet_time"].sizes) == {"air.relative_humidity": 3, "air.speed": 3}
    assert (np.diff(grid["wet_time"].values, axis=0) > 0).all()  # damp air dries slower
    assert (np.diff(grid["wet_time"].values, axis=1) < 0).all()  # moving air dries faster
    assert list(grid["air.relative_humidity"].values) == [0.4, 0.6, 0.8]  # as given
    assert grid["air.relative_humidity"].attrs["units"] == "1"
    for name in ("wet_time", "growth_control", "uptake", "split"):
        assert (np.diff(band[name].values, axis=0) >= 0).all()  # quantiles rise
        assert band[f"{name}_influence"].sizes["input"] == band.sizes["input"]
    assert band.attrs["seed"] == 1
