"""Uncertainty in weather, errors of sensors, seeds, and Sobol indices against what is known of them."""

import numpy as np
import pytest
import wetspan as ws
import xarray as xr
from refusal import refused
from wetspan.batch.core import compute
from wetspan.draws import ranges_of, scaled
from wetspan.parameters import POSITION
from wetspan.sensitivity import control_range, indices
from wetspan.sensors import AT_CROP, OUTDOORS, measured_with

MOMENT = "2026-05-14T15:00"
FEW = ("crop.half_amount", "uptake.cuticle", "uptake.mobile_share")


# --- seeds ------------------------------------------------------------------------------------------------


def test_a_seed_is_a_number_a_sequence_or_a_generator(quick):
    def drawn(seed, **others):
        return ws.draw(quick, 20, seed, **others)["uptake.cuticle"].tolist()

    assert drawn(np.random.SeedSequence(7), given=None) == drawn(7, given=None)  # numpy makes them one stream
    children = np.random.SeedSequence(7).spawn(2)
    assert drawn(children[0]) == drawn(np.random.SeedSequence(7).spawn(1)[0])
    assert drawn(children[0]) != drawn(children[1])
    one, two = np.random.default_rng(3), np.random.default_rng(3)
    first = drawn(one)
    assert first == drawn(two)
    assert drawn(one) != first  # a generator moves on
    study = ws.uncertainty(quick, 4, np.random.default_rng(3), quantiles=[0.5], keep_draws=True)
    assert "SeedSequence(" in study.attrs["seed"]
    again = eval(study.attrs["seed"], {"SeedSequence": np.random.SeedSequence})
    xr.testing.assert_identical(ws.uncertainty(quick, 4, again, quantiles=[0.5], keep_draws=True), study)
    refused(lambda: drawn(-1), "seed = -1", "SeedSequence")
    refused(lambda: drawn(1.5), "seed = 1.5")


# --- sensors ----------------------------------------------------------------------------------------------


def test_errors_of_sensors_stay_within_their_limits_and_leave_other_draws_alone(quick):
    plain, measured = ws.draw(quick, 400, 2), ws.draw(quick, 400, 2, sensors=True)
    assert all((measured[key] == plain[key]).all() for key in plain if key != "air.speed")
    speed = quick["air.speed"]
    for key, limit in (
        ("air.temperature", 0.5),
        ("air.relative_humidity", 0.03),
        ("air.speed", 0.05 + 0.05 * speed),
        ("air.shortwave", 0.2 * quick["air.shortwave"]),
    ):
        error = measured[key] - quick[key]
        assert 0.99 * limit < np.abs(error).max() <= limit * (1.0 + 1e-9)
        assert np.abs(error.mean()) < 0.02 * limit
    mine = ws.draw(quick, 50, 2, sensors={"temperature": "2 K"})
    assert 1.9 < np.ptp(mine["air.temperature"]) / 2.0 <= 2.0
    assert "air.relative_humidity" not in mine
    table = ws.sensor_accuracy()
    from_memory = table["source"].str.contains("from memory")
    assert table["grade"][from_memory].eq("D").all()  # what is from memory is an assumption
    assert table["grade"][~from_memory].eq("B").all()
    assert table["source"].str.contains("doi|WMO-No. 8").all()
    refused(lambda: ws.draw(quick, 5, sensors="humidty"), "'humidty' is no sensor")
    refused(lambda: ws.draw(quick, 5, sensors={"speed": "0 m/s"}), "not a limit")


def test_limits_of_sensors_are_those_that_were_published():
    """Scientific Data 2023, doi:10.1038/s41597-023-02568-3, table 2; WMO-No. 8 (2024), annex 1.A, quoted."""
    limits = ws.sensor_accuracy()["limit"]
    assert limits["crop", "temperature"] == 0.5  # K, required
    assert limits["crop", "speed"] == 0.05  # m/s, required
    assert 0.025 <= limits["crop", "relative_humidity"] <= 0.05  # desirable, required
    assert limits["outdoor", "temperature"] == 0.2  # K, achievable
    assert limits["outdoor", "relative_humidity"] == 0.03  # achievable by solid-state sensors
    winds = np.array([1.0, 5.0, 12.0])  # 0.5 m/s up to 5 m/s, 10 % above, required
    assert OUTDOORS["speed"].of(winds) == pytest.approx([0.5, 0.5, 1.2])


def test_limits_of_pyranometers_are_those_that_were_published(quick):
    """WMO-No. 8 (1996), chapter 7, hourly totals, 95 %: 3, 8 and 20 % of high, good and moderate quality."""
    light = np.array([0.0, 500.0])
    assert OUTDOORS["shortwave"].of(light) == pytest.approx([0.0, 40.0])  # good: first class of ISO 9060:1990
    assert AT_CROP["shortwave"].of(light) == pytest.approx([0.0, 100.0])  # moderate: second class
    mine = ws.draw(quick, 50, 2, sensors={"shortwave": "3 %"})["air.shortwave"] / quick["air.shortwave"]
    assert 0.028 < np.abs(mine - 1.0).max() <= 0.03 * (1.0 + 1e-9)
    refused(lambda: ws.draw(quick, 5, sensors={"shortwave": "30 W/m^2"}), "limit of shortwave")


def test_a_record_with_an_error_is_off_by_it(piedmont):
    off = measured_with(piedmont, AT_CROP, {"sensor.temperature": 1.0, "sensor.relative_humidity": -1.0,
                                            "sensor.speed": -1.0, "sensor.shortwave": -0.5})  # fmt: skip
    assert (off.data["temperature"] - piedmont.data["temperature"]).to_numpy() == pytest.approx(0.5)
    humid = piedmont.data["relative_humidity"] > 0.2
    lower = (off.data["relative_humidity"] - piedmont.data["relative_humidity"])[humid]
    assert lower.to_numpy() == pytest.approx(-0.03)
    assert off.data["wind_speed"].min() == 0.0
    assert off.data["shortwave"].to_numpy() == pytest.approx(0.9 * piedmont.data["shortwave"].to_numpy())


def test_errors_of_a_record_widen_the_range_of_wet_times(quick, piedmont):
    asked = {"weather": piedmont, "time": MOMENT, "inputs": ["uptake.cuticle"], "given": None}
    wide = {"temperature": "3 K", "relative_humidity": "15 %"}
    exact, off = (ws.uncertainty(quick, 70, **asked, sensors=each) for each in (False, wide))
    assert np.ptp(exact["wet_time"].values) == 0.0  # uptake does nothing to it
    assert np.ptp(off["wet_time"].values) > 0.05 * float(off["wet_time_nominal"])
    assert off["input"].values.tolist() == [
        "uptake.cuticle",
        "sensor.temperature",
        "sensor.relative_humidity",
    ]
    assert off["grade"].values.tolist()[1:] == ["D", "D"]  # as the user states them
    assert float(off["wet_time_influence"][1:].sum()) > 0.5
    assert off["wet_time_nominal"] == exact["wet_time_nominal"]


# --- uncertainty ------------------------------------------------------------------------------------------


def test_uncertainty_in_weather_is_that_of_a_day(quick, piedmont):
    study = ws.uncertainty(quick, 12, 3, weather=piedmont, time=MOMENT, quantiles=[0.1, 0.9], keep_draws=True)
    day = ws.compare_times(quick, piedmont, MOMENT, MOMENT, samples=12, seed=3)
    for name in ("wet_time", "growth_control"):
        assert study[name].values.tolist() == [float(day[f"{name}_{end}"][0]) for end in ("low", "high")]
        assert float(study[f"{name}_nominal"]) == float(day[name][0])
        assert study[f"{name}_draws"].sizes == {"sample": 12}
    assert "air.speed" in study["input"].values  # of a house with fans
    assert study.attrs["weather"].startswith("Weather(")
    low, high = (float(each) for each in study["growth_control"])
    assert control_range(quick, piedmont, MOMENT, samples=12, seed=3)[:2] == (low, high)
    drawn = study["drawn"].sel(input="uptake.cuticle").values
    assert drawn.tolist() == ws.draw(quick, 12, 3)["uptake.cuticle"].tolist()
    assert study["input_units"].sel(input="air.speed") == "m/s"
    refused(lambda: ws.uncertainty(quick, 4, time=MOMENT), "without weather")
    refused(lambda: ws.uncertainty(quick, 4, weather=piedmont), "without a time")
    refused(lambda: ws.uncertainty(quick, 4, quantiles=[1.5]), "quantiles = [1.5]")


# --- Sobol indices ----------------------------------------------------------------------------------------


def test_indices_of_ishigami_s_function_are_the_analytic_ones():
    """Ishigami and Homma 1990 (Proc. ISUMA, 398), a = 7, b = 0.1; its variances are elementary integrals."""
    a, b = 7.0, 0.1

    def model(uniform):
        x = np.pi * (2.0 * uniform - 1.0)
        value = np.sin(x[:, 0]) + a * np.sin(x[:, 1]) ** 2 + b * x[:, 2] ** 4 * np.sin(x[:, 0])
        return {"value": value, "both": np.column_stack([value, np.ones(len(value))])}

    found, lost = indices(model, ["x1", "x2", "x3"], 2048, 5)
    own = 0.5 * (1.0 + b * np.pi**4 / 5.0) ** 2, a**2 / 8.0, 0.0
    together = b**2 * np.pi**8 * (1.0 / 18.0 - 1.0 / 50.0)
    whole = sum(own) + together
    assert lost == 0
    assert found["value"]["variance"] == pytest.approx(whole, rel=0.02)
    assert found["value"]["first"] == pytest.approx(np.array(own) / whole, abs=0.02)
    total = np.array([own[0] + together, own[1], together]) / whole
    assert found["value"]["total"] == pytest.approx(total, abs=0.02)
    assert (found["value"]["total_confidence"] < 0.1).all()
    assert found["both"]["first"][:, 0].tolist() == found["value"]["first"].tolist()
    assert (found["both"]["total"][:, 1] == 0.0).all()  # of what does not vary


def test_indices_of_a_spray_are_those_of_nested_draws(quick):
    """By the definition: the variance of the means over all other inputs, and the mean of the variances."""
    found = ws.sobol(quick, 256, 2, inputs=FEW)
    assert found["input"].values.tolist() == list(FEW)
    ranges = ranges_of(quick, FEW, {})
    outer, inner = 64, 64
    stream = np.random.default_rng(11)

    def control(uniform):
        columns = scaled(quick, ranges, uniform)
        inputs = [(POSITION[key], values) for key, values in columns.items()]
        return compute([quick], [], count=len(uniform), inputs=inputs).columns["growth_control"]

    for i, key in enumerate(FEW):
        strata = (np.arange(outer) + 0.5) / outer
        uniform = stream.random((outer * inner, len(FEW)))
        uniform[:, i] = np.repeat(strata, inner)
        nested = control(uniform).reshape(outer, inner)
        within = nested.var(axis=1, ddof=1).mean()
        between = nested.mean(axis=1).var() - within / inner
        first = between / (between + within)
        index = found["growth_control_first"].sel(input=key)
        assert float(index) == pytest.approx(first, abs=0.05)
        # fixed all others, what varies is the input's own: the total index
        uniform = np.repeat(stream.random((outer, len(FEW))), inner, axis=0)
        uniform[:, i] = np.tile((np.arange(inner) + 0.5) / inner, outer)
        alone = control(uniform).reshape(outer, inner).var(axis=1).mean()
        total = alone / float(found["growth_control_variance"])
        assert float(found["growth_control_total"].sel(input=key)) == pytest.approx(total, abs=0.08)
    assert (found["wet_time_total"] == 0.0).all()  # none of the three has to do with it
    assert found.attrs["runs"] == 256 * 5
    refused(lambda: ws.sobol(quick, 100, inputs=FEW), "not a power of 2", "128")


def test_indices_in_weather_take_the_errors_of_sensors(quick, piedmont):
    asked = {"weather": piedmont, "time": MOMENT, "inputs": ["uptake.cuticle"], "sensors": ["temperature"]}
    found = ws.sobol(quick, 8, **asked)
    assert found["input"].values.tolist() == ["uptake.cuticle", "sensor.temperature"]
    assert float(found["wet_time_total"].sel(input="sensor.temperature")) == pytest.approx(1.0, abs=0.2)
    assert (found["uptake_total"].sel(input="uptake.cuticle").values[:2] > 0.5).all()


def test_what_varies_by_the_error_of_its_integration_has_no_index():
    def model(uniform):
        return {"wet": 1.0 + 1e-7 * uniform[:, 0], "told": uniform[:, 0]}

    found, _ = indices(model, ["first", "second"], 64, 1, error=1e-6)
    assert (found["wet"]["first"] == 0.0).all()
    assert (found["wet"]["total"] == 0.0).all()
    assert found["told"]["first"] == pytest.approx([1.0, 0.0], abs=0.1)
