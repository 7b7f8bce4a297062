"""Units at the door: what is understood, what is refused, and that every documented unit is the one used."""

import contextlib
import math
import re

import numpy as np
import pandas as pd
import pint
import pytest
import xarray as xr
from hypothesis import example, given
from hypothesis import strategies as st
from refusal import refused
from wetspan.errors import InputError
from wetspan.parameters import TABLE
from wetspan.unit_columns import column
from wetspan.unit_shown import convert, inward, show, show_allowed, shown, with_unit
from wetspan.units import bounded, exact, outside, value_in_si

NUMBERS = [row for row in TABLE.values() if row.kind == "number"]

# One of each unit that people are shown, in the SI unit of its rows: definitions of the SI, and of the bar.
ONE = {
    "1": 1.0,
    "percent": 0.01,
    "m": 1.0,
    "cm": 1e-2,
    "mm": 1e-3,
    "um": 1e-6,
    "cm^2": 1e-4,
    "L": 1e-3,
    "1/m^2": 1.0,
    "L/m^2": 1e-3,
    "mL/m^2": 1e-6,
    "deg": math.pi / 180.0,
    "hour": 3600.0,
    "day": 86400.0,
    "1/hour": 1.0 / 3600.0,
    "1/day": 1.0 / 86400.0,
    "L/min": 1e-3 / 60.0,
    "mL/day": 1e-6 / 86400.0,
    "m/s": 1.0,
    "mm/s": 1e-3,
    "delta_degC": 1.0,
    "kPa": 1e3,
    "bar": 1e5,
    "mN/m": 1e-3,
    "W/m^2": 1.0,
    "W/m^2/K": 1.0,
    "J/m^2/K": 1.0,
    "kJ/m^2/K": 1e3,
    "ug": 1e-9,
    "mg/L": 1e-3,
    "mg/m^2": 1e-6,
    "K*day": 86400.0,
    "1/K/day": 1.0 / 86400.0,
    "kg/m^3": 1.0,
    "kJ/mol": 1e3,
    "cm^3/mol": 1e-6,
    "L/kg": 1e-3,
}


def si_of(key: str, given: object) -> float:
    return value_in_si(TABLE[key], given)


@pytest.mark.parametrize("row", NUMBERS, ids=lambda row: row.key)
def test_the_documented_units_are_the_ones_used(row):
    shown_value = 7.0
    si = shown_value + 273.15 if row.shown == "degC" else shown_value * ONE[row.shown]
    text = "7" if row.shown == "1" else f"7 {row.shown}"
    assert value_in_si(row, text) == pytest.approx(si, rel=1e-12)
    assert shown(row, si) == pytest.approx(shown_value, rel=1e-11)
    assert convert(si, row.unit, row.shown) == pytest.approx(shown_value, rel=1e-12)
    assert value_in_si(row, "7" if row.unit == "1" else f"7 {row.unit}") == 7.0
    assert value_in_si(row, 7, usual=7.0) == 7.0


@given(row=st.sampled_from(NUMBERS), share=st.floats(0.0, 1.0))
@example(row=TABLE["application.volume_rate"], share=0.0)
def test_a_written_value_reads_back(row, share):
    value = min(row.low + share * (row.high - row.low), row.high)
    assert value_in_si(row, exact(row, value)) == value
    read = convert(value_in_si(row, show(row, value)), row.unit, row.shown)  # four digits of what is shown
    assert read == pytest.approx(convert(value, row.unit, row.shown), rel=5.1e-4, abs=1e-300)


QUART, OUNCE, FOOT, INCH = 0.946352946e-3, 29.5735295625e-6, 0.3048, 0.0254  # US customary, exact


@pytest.mark.parametrize(
    ("key", "given", "si"),
    [
        ("application.volume_rate", "2 qt / (100 ft^2)", 2 * QUART / (100 * FOOT**2)),
        ("application.volume_rate", "2 qt / 100 ft^2", 2 * QUART / (100 * FOOT**2)),
        ("application.volume_rate", "2 qt/100 ft2", 2 * QUART / (100 * FOOT**2)),
        ("application.volume_rate", "2 quarts per 100 sq ft", 2 * QUART / (100 * FOOT**2)),
        ("application.volume_rate", "0.7 fl oz / sq. ft", 0.7 * OUNCE / FOOT**2),
        ("application.volume_rate", " 204 mL/m2 ", 204e-6),
        ("application.volume_rate", "0.2 mm", 2e-4),
        ("application.concentration", "30 mg/L", 0.03),
        ("application.concentration", "30 ppm", 0.03),
        ("application.concentration", "3e1 g/m^3", 0.03),
        ("canopy.plant_density", "400 / (100 ft^2)", 4 / FOOT**2),
        ("canopy.plant_density", "4/ft^2", 4 / FOOT**2),
        ("canopy.pot_diameter", "6 in", 6 * INCH),
        ("air.temperature", "84 degF", (84 - 32) / 1.8 + 273.15),
        ("air.temperature", "-5 °C", 268.15),
        ("air.temperature", "297 K", 297.0),
        ("air.relative_humidity", "60 %", 0.6),
        ("air.relative_humidity", "60percent", 0.6),
        ("air.relative_humidity", "0.6", 0.6),
        ("air.relative_humidity", ".6", 0.6),
        ("house.vent_band", "4 degC", 4.0),
        ("house.vent_band", "9 degF", 5.0),
        ("house.vent_band", "4 delta_degC", 4.0),
        ("house.vent_band", "4 K", 4.0),
        ("house.heat_loss", "7 W/m^2/degC", 7.0),
        ("house.heat_loss", "7 W / (m^2 K)", 7.0),
        ("house.air_changes", "2 per hour", 2 / 3600),
        ("uptake.horizon", "4 weeks", 28 * 86400),
        ("droplets.dv50", "300 µm", 300e-6),
        ("droplets.bins", "12", 12.0),
        ("droplets.bins", 12, 12.0),
        ("house.enclosed", "no", 0.0),
        ("house.enclosed", "True", 1.0),
        ("house.enclosed", False, 0.0),
        ("application.method", "drench", 1.0),
        ("application.method", 0, 0.0),
    ],
)
def test_everyday_text(key, given, si):
    assert si_of(key, given) == pytest.approx(si, rel=1e-9)


@pytest.mark.parametrize(
    ("key", "given", "si"),
    [
        ("air.temperature", np.float64(290.0), 290.0),
        ("air.temperature", np.float32(290.0), 290.0),
        ("air.temperature", np.array(290.0), 290.0),
        ("droplets.bins", np.int64(8), 8.0),
        ("house.enclosed", np.bool_(False), 0.0),
        ("air.diffusivity", np.str_("marrero_mason"), 1.0),
        ("application.method", np.int32(1), 1.0),
    ],
)
def test_numpy_scalars(key, given, si):
    assert si_of(key, given) == si


def test_quantities_of_any_registry():
    for registry in (pint.get_application_registry(), pint.UnitRegistry()):
        assert si_of("air.temperature", registry.Quantity(24.0, "degC")) == pytest.approx(297.15, rel=1e-15)
        assert si_of("house.vent_band", registry.Quantity(4.0, "degC")) == pytest.approx(4.0, rel=1e-15)
        assert si_of("air.speed", registry.Quantity(1, "km/h")) == pytest.approx(1 / 3.6, rel=1e-15)
        with pytest.raises(InputError, match="wrong dimension"):
            si_of("air.speed", registry.Quantity(1, "km"))
        with pytest.raises(InputError, match="single number"):
            si_of("air.speed", registry.Quantity([1.0, 2.0], "m/s"))


@pytest.mark.parametrize(
    ("key", "given", "fragments"),
    [
        ("air.temperature", "24", ["no unit", "'24 degC'"]),
        ("air.temperature", "24 C", ["wrong dimension", "'24 degC'", "did you mean 'degC'?"]),
        ("air.temperature", "84 F", ["wrong dimension", "'24 degC'", "did you mean 'degF'?"]),
        ("air.temperature", "84F", ["did you mean 'degF'?"]),
        ("air.temperature", "84 f", ["did you mean 'degF'?"]),
        ("air.temperature", "24 c", ["did you mean 'degC'?"]),
        ("house.vent_band", "9 F", ["difference of temperature", "did you mean 'degF'?"]),
        ("air.temperature", "24 m", ["wrong dimension", "'24 degC'"]),
        ("air.temperature", "24 degC*m", ["wrong dimension"]),
        ("air.speed", "3 furlongz", ["no unit 'furlongz'", "m/s"]),
        ("air.speed", "0,3 m/s", ["point"]),
        ("air.speed", "1,500 m/s", ["comma"]),
        ("air.speed", "fast", ["number"]),
        ("air.speed", "nan m/s", ["number"]),
        ("air.speed", "", ["number"]),
        ("air.speed", "3 m/s )", ["')' is out of place"]),
        ("air.speed", None, ["not a number"]),
        ("air.speed", True, ["not a number"]),
        ("air.speed", [1, 2], ["not a number"]),
        ("air.speed", 1j, ["not a number"]),
        ("air.relative_humidity", "60 m", ["wrong dimension", "percentage"]),
        ("air.relative_humidity", "30 deg", ["wrong dimension (degree)", "an angle is not meant here"]),
        ("application.angle", "30 percent", ["wrong dimension (percent)", "an angle, such as '30 deg'"]),
        ("house.air_changes", "0.5 rpm", ["wrong dimension", "an angle is not meant here"]),
        ("house.air_changes", "2 ACH", ["no unit 'ACH'; did you mean '1/hour'?"]),
        ("nozzle.pressure", "300 kpa", ["no unit 'kpa'; did you mean 'kPa'?"]),
        ("air.speed", np.ma.masked, ["not a number"]),
        ("application.volume_rate", "2 qt", ["wrong dimension", "2 qt / (100 ft^2)"]),
        (
            "application.concentration",
            "0.4 %",
            ["wrong dimension", "30 mg/L", "of product in water, `wetspan mix"],
        ),
        (
            "application.concentration",
            "1 fl oz/gal",
            ["wrong dimension", "of product in water, `wetspan mix"],
        ),
        ("application.concentration", "30 PPM", ["no unit 'PPM'; did you mean 'ppm'?"]),
        ("crop.final_height", '12"', ["has no meaning in a unit; write in for inches and ft for feet"]),
        ("house.vent_band", "3 m", ["wrong dimension", "difference of temperature"]),
        ("application.method", "sprya", ["'spray' or 'drench'", "did you mean 'spray'?"]),
        ("application.method", 9, ["'spray' or 'drench'"]),
        ("application.method", True, ["'spray' or 'drench'"]),
        ("house.enclosed", "maybe", ["neither true nor false"]),
        ("house.enclosed", 2, ["neither true nor false"]),
    ],
)
def test_refused_in_one_line(key, given, fragments):
    with pytest.raises(InputError) as caught:
        si_of(key, given)
    message = str(caught.value)
    assert message.startswith(f"{key} = ")
    assert "\n" not in message
    for fragment in fragments:
        assert fragment in message


def test_farads_are_no_degrees_elsewhere():
    with pytest.raises(InputError, match="wrong dimension") as caught:
        si_of("air.speed", "3 F")
    assert "did you mean" not in str(caught.value)
    with pytest.raises(InputError, match="did you mean 'degF'"):
        si_of("air.temperature", pint.get_application_registry().Quantity(84.0, "F"))


@pytest.mark.parametrize(
    ("key", "given", "told"),
    [
        ("air.temperature", "300 degF", "'300 degF' is outside what is allowed, 14 degF to 122 degF"),
        ("air.temperature", 500.0, "500.0 K is outside what is allowed, 263.15 K to 323.15 K"),
        ("air.relative_humidity", 300.0, "300.0 is outside what is allowed, 0.01 to 1"),
        ("air.relative_humidity", "130 %", "'130 %' is outside what is allowed, 1 % to 100 %"),
        (
            "application.concentration",
            "300000 ppm",
            "'300000 ppm' is outside what is allowed, 0 ppm to 50000 ppm",
        ),
        ("canopy.layers", "9", "'9' is outside what is allowed, 1 to 4"),
    ],
)
def test_bounds_are_told_in_the_unit_that_was_given(key, given, told):
    assert str(outside(key, TABLE[key], given)) == f"{key} = {told}"


@pytest.mark.parametrize(
    ("key", "given", "meant"),
    [
        ("air.temperature", "84 degC", "'84 degF'"),
        ("air.temperature", "24 K", "'24 degC' or '24 degF'"),
        ("air.temperature", "24 degF", "'24 degC'"),
        ("air.temperature", 3.0, "'3 degC'"),
        ("air.relative_humidity", 3.0, "'3 percent'"),
        ("air.relative_humidity", "60", "'60 percent'"),
        ("air.relative_humidity", "0.6 %", "'60 %'"),
    ],
)
def test_a_number_that_is_allowed_in_another_unit_is_asked_about(key, given, meant):
    assert str(outside(key, TABLE[key], given)).endswith(f"; did you mean {meant}?")


@pytest.mark.parametrize("end", ["low", "high"])
@pytest.mark.parametrize("key", [key for key, row in TABLE.items() if row.kind == "number"])
def test_a_bound_is_allowed_in_the_unit_that_people_are_shown(key, end):
    row = TABLE[key]
    bound = getattr(row, end)
    number = convert(bound, row.unit, row.shown)
    few = float(f"{number:.6g}")
    written = few if few == pytest.approx(number, rel=1e-12, abs=0.0) else number
    assert bounded(key, row, with_unit(repr(written), row.shown)) == pytest.approx(bound, rel=1e-15, abs=0.0)
    told = with_unit(repr(shown(row, bound)), row.shown)
    assert bounded(key, row, told) == pytest.approx(bound, rel=1e-11, abs=0.0)


@pytest.mark.parametrize("key", [key for key, row in TABLE.items() if row.kind == "number"])
def test_bounds_that_are_told_are_allowed(key):
    row = TABLE[key]
    low, high = show_allowed(row).split(" to ")
    for told in (with_unit(low, row.shown), high):
        assert row.low <= bounded(key, row, told) <= row.high
    refusal = str(outside(key, row, with_unit("1e99", row.shown)))
    for told in re.search(r"allowed, (.*?) to (.*?)(?:;|$)", refusal).groups():
        assert row.low <= bounded(key, row, told) <= row.high


def test_bounds_are_rounded_inward():
    assert inward(2.864788, 148.969026) == ("2.8648", "148.96")
    assert inward(-0.00123456, 0.00123456, digits=3) == ("-0.00123", "0.00123")
    assert inward(0.30000000000000004, 0.8999999999999999) == ("0.3", "0.9")


def test_only_rounding_is_put_at_a_bound():
    volume = TABLE["substrate.volume"]
    assert value_in_si(volume, "100 L") == volume.high
    litres = column(volume, pint.Quantity(np.array([100.0, 50.0]), "L"))
    assert litres.tolist() == [volume.high, pytest.approx(0.05)]
    assert value_in_si(volume, "99.9999999999 L") < volume.high
    refused(lambda: bounded(volume.key, volume, "100.0000000001 L"), "'100.0000000001 L' is outside")
    assert np.isnan(column(volume, pint.Quantity(np.array([100.0, np.nan]), "L"))[1])


def test_a_bare_number_of_a_dimension_is_refused_where_units_are_asked_for():
    with pytest.raises(InputError, match=r"has no unit; write it as text, such as '24 degC'"):
        value_in_si(TABLE["air.temperature"], 297.15, bare=False)
    assert value_in_si(TABLE["air.relative_humidity"], 0.6, bare=False) == 0.6


@given(
    st.sampled_from(
        ["air.temperature", "application.volume_rate", "air.relative_humidity", "house.vent_band"]
    ),
    st.text("0123456789.,eE+-*/^() %degCFKmLsqtpr°µ", max_size=16),
)
def test_any_text_is_read_or_refused(key, text):
    with contextlib.suppress(InputError):  # and nothing else
        assert isinstance(si_of(key, text), float)


def test_values_as_people_read_them():
    assert show(TABLE["air.temperature"], 302.0388888) == "28.89 degC"
    assert show(TABLE["air.relative_humidity"], 0.6) == "60 percent"
    assert show(TABLE["canopy.plant_density"], 43.06) == "43.06 per m^2"
    assert show(TABLE["application.concentration"], 50.0) == "50000 mg/L"
    assert show(TABLE["house.enclosed"], 1.0) == "true"
    assert show(TABLE["application.method"], 1.0) == "drench"
    assert shown(TABLE["droplets.bins"], 12.0) == 12
    assert shown(TABLE["air.relative_humidity"], 0.07) == 7.0  # not 7.000000000000001


CONCENTRATION = TABLE["application.concentration"]
MG_PER_L = pint.get_application_registry().Quantity([15.0, 30.0], "mg/L")


def framed(attrs: dict[str, object]) -> pd.Series:
    frame = pd.DataFrame({CONCENTRATION.key: [15.0, 30.0], "other": [1.0, 2.0]})
    frame.attrs = attrs
    return frame[CONCENTRATION.key]


@pytest.mark.parametrize(
    "values",
    [
        [0.015, 0.03],
        np.array([0.015, 0.03]),
        ["15 mg/L", "30 ppm"],
        pd.Series(["15 mg/L", "0.03 g/L"]),
        MG_PER_L,
        [MG_PER_L[0], "30 mg/L"],
        xr.DataArray([15.0, 30.0], dims="x", attrs={"units": "mg/L"}),
        xr.DataArray([15.0, 30.0], dims="x", attrs={"units": "mg L-1"}),
        xr.DataArray(MG_PER_L, dims="x"),
        xr.DataArray(MG_PER_L, dims="x", attrs={"units": "mg/L"}),
        framed({"units": {CONCENTRATION.key: "mg/L", "other": "m"}}),
        framed({"units": "mg/L"}),
    ],
    ids=lambda values: type(values).__name__,
)
def test_columns_are_read_in_the_unit_that_they_state(values: object) -> None:
    np.testing.assert_allclose(column(CONCENTRATION, values), [0.015, 0.03], rtol=1e-14)


@pytest.mark.parametrize(
    ("values", "fragments"),
    [
        (
            xr.DataArray(MG_PER_L, dims="x", attrs={"units": "g/L"}),
            ["milligram / liter", "keep one"],
        ),
        (xr.DataArray([15.0], dims="x", attrs={"units": "m/s"}), ["wrong dimension"]),
        (xr.DataArray([15.0], dims="x", attrs={"units": "smoots"}), ["attrs['units']", "smoots"]),
        ([15.0, 30.0, 60.0], ["bare number is in kg/m^3", "'15 mg/L'"]),
        ([None, "3 mg/L"], ["row 0 has no value"]),
        (["3 mg/L", "2,0 mg/L"], ["did you mean 2.0?"]),
        ([True, False], ["true or false"]),
    ],
)
def test_columns_that_are_refused(values: object, fragments: list[str]) -> None:
    refused(lambda: column(CONCENTRATION, values), *fragments)


def test_a_labelled_number_is_read_in_its_unit() -> None:
    one = xr.DataArray(15.0, attrs={"units": "mg/L"})
    assert value_in_si(CONCENTRATION, one) == pytest.approx(0.015, rel=1e-14)


@pytest.mark.parametrize(
    ("key", "given", "meant"),
    [
        ("application.concentration", 30, "30 mg/L"),
        ("application.concentration", 15.0, "15 mg/L"),
        ("application.concentration", 1.9, "1.9 mg/L"),  # 63 times the usual 30 mg/L
        ("rewetting.delay", 18, "18 hour"),
        ("numerics.follow", 24, "24 hour"),  # whose usual value is 0
        ("active.solubility", 26.0, "26 mg/L"),
        ("active.solubility", 410.0, "410 mg/L"),  # which is 15.8 times the usual 26 mg/L
    ],
)
def test_a_bare_number_that_is_likely_a_slip_of_unit_is_refused(key: str, given: float, meant: str) -> None:
    row = TABLE[key]
    refused(lambda: si_of(key, given), "a bare number is in", f"Did you mean '{meant}'?")
    assert value_in_si(row, given, usual=float(given)) == given  # near what the scenario has it is no slip
    assert si_of(key, f"{given} {row.unit}") == given


@pytest.mark.parametrize(
    ("key", "given"),
    [
        ("application.concentration", 1.7),  # 57 times the usual: strong, and may be meant
        ("active.solubility", 425.0),  # in mg/L it would be 16.3 times the usual: no more likely than kg/m3
    ],
)
def test_a_bare_number_that_may_be_meant_is_taken(key: str, given: float) -> None:
    assert si_of(key, given) == given


def test_a_column_over_the_bounds_is_no_slip() -> None:
    values = np.geomspace(1e-3, 50.0, 20)
    np.testing.assert_array_equal(column(CONCENTRATION, values), values)
    assert si_of("application.concentration", 1.0) == 1.0  # 1000 mg/L, a high rate


@pytest.mark.parametrize(
    ("key", "given", "kelvin"),
    [
        ("air.temperature", "24 ºC", 297.15),
        ("air.temperature", "24 Celsius", 297.15),
        ("air.temperature", "24 degrees_C", 297.15),
        ("air.temperature", "77 Fahrenheit", 298.15),
        ("air.speed", "60 fpm", 0.3048),
        ("uptake.horizon", "8 wks", 8 * 7 * 86400.0),
        (
            "application.volume_rate",
            "2 quarts (US) per 100 ft2",
            si_of("application.volume_rate", "2 qt/100 ft2"),
        ),
    ],
)
def test_what_the_trade_writes(key: str, given: str, kelvin: float) -> None:
    assert si_of(key, given) == pytest.approx(kelvin, rel=1e-12)


@pytest.mark.parametrize(
    ("key", "given", "meant"),
    [
        ("nozzle.height", "18 IN", "'in'"),
        ("nozzle.height", "450 MM", "'mm'"),
        ("nozzle.pressure", "40 PSI", "'psi'"),
        ("nozzle.pressure", "40 lb/in2", "is psi"),
        ("application.volume_rate", "2 QT/100 SQ FT", "'ft'"),
        ("application.volume_rate", "2 qt per 1,000 sq ft", "thousands without a comma"),
        ("air.temperature", "24°", "'degC' or 'degF'"),
        ("air.temperature", "24,5 degC", "did you mean 24.5?"),
        ("droplets.bins", "24 bins", "it has none"),
    ],
)
def test_a_refusal_names_what_was_probably_meant(key: str, given: str, meant: str) -> None:
    refused(lambda: si_of(key, given), meant)
