"""A table of texts with the value that every door must give; doors equal to each other."""

import csv
import io
import json
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
import pytest
import wetspan as ws
from hypothesis import given
from hypothesis import strategies as st
from wetspan.bench.inputs import value as bench_value
from wetspan.command_line import main
from wetspan.jug import _value as jug_value
from wetspan.parameters import TABLE
from wetspan.scenario_file import from_document
from wetspan.spray.inputs import si as spray_value
from wetspan.unit_columns import column
from wetspan.units import in_si, share

TEXTS = Path(__file__).parent / "data" / "quantities.csv"
SUSPENSION = "paclobutrazol 0.4 % suspension concentrate"
Door = Callable[[str], float]


def scenario(key: str) -> dict[str, Door]:
    """The doors of an input of a scenario: code, a file, a column of a batch, an axis of a sweep."""
    section, name = key.split(".")
    return {
        "replace": lambda text: ws.Scenario().replace({key: text})[key],
        "file": lambda text: from_document({section: {name: text}})[key],
        "column": lambda text: float(column(TABLE[key], [text, text])[1]),
        "labelled column": lambda text: float(column(TABLE[key], pd.Series([text]))[0]),
    }


def mixed(name: str, unit: str, **given: str) -> dict[str, Door]:
    """The doors of an amount of the tank: code and the command."""

    def from_code(text: str) -> float:
        made = ws.mix(**({"product": SUSPENSION, "target": "20 mg/L"} | given | {name: text}))
        return float(
            getattr(made, {"target": "concentration", "volume": "final_volume"}.get(name, name)).m_as(unit)
        )

    return {"mix": from_code}


def planned(text: str) -> float:
    plan = ws.plan_trial(rates=[text], cv=0.1, plants=4, seed=1)
    assert plan.rates is not None
    (rate,) = plan.rates.values()
    unit = plan.rate_unit.replace("ppm", "mg/L")
    return float(in_si(np.array([rate]), unit, "kg/m^3", "rate")[0])


def constant(name: str) -> dict[str, Door]:
    """The door of what a record of weather lacks and is told."""
    moments = pd.date_range("2026-05-14T06:00", periods=3, freq="h", tz="UTC")
    stated = {
        "columns": {"time": "time", "temperature": "T", "relative_humidity": "RH"},
        "units": {"temperature": "degC", "relative_humidity": "percent"},
        "label": "instant",
        "exposure": "crop",
    }

    def from_file(text: str) -> float:
        others = {"wind_speed": "1 m/s", "shortwave": "0 W/m^2"}
        with TemporaryDirectory() as folder:
            path = Path(folder) / "logger.csv"
            pd.DataFrame({"time": moments, "T": 20.0, "RH": 60.0}).to_csv(
                path, index=False, date_format="%Y-%m-%dT%H:%M%z"
            )
            weather = ws.read_weather(path, constants=others | {name: text}, **stated)
        return float(weather.data[name].iloc[0])

    return {"weather": from_file}


DOORS: dict[str, dict[str, Door]] = {
    "volume per area": scenario("application.volume_rate") | mixed("volume_rate", "m", area="500 ft^2"),
    "volume": scenario("substrate.volume")
    | mixed("volume", "m^3")
    | {"bench": lambda text: bench_value("bench", "volume", text)},
    "concentration": scenario("application.concentration")
    | mixed("target", "kg/m^3", volume="10 L")
    | {"plan": planned},
    "temperature": scenario("air.temperature") | {"jug": lambda text: jug_value("temperature", text)},
    "share": scenario("air.relative_humidity")
    | {"option": lambda text: share("--cv", text), "bench": lambda text: bench_value("bench", "band", text)},
    "speed": scenario("air.speed")
    | constant("wind_speed")
    | {"boom": lambda text: bench_value("boom", "speed", text)},
    "irradiance": scenario("air.shortwave") | constant("shortwave"),
    "length": scenario("nozzle.height")
    | {"bench": lambda text: bench_value("layout", "spacing", text)}
    | {"spray": lambda text: spray_value("leaf.width", text)},
}


def texts() -> list[dict[str, str]]:
    lines = [line for line in TEXTS.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(io.StringIO("\n".join(lines))))


@pytest.mark.parametrize("row", texts(), ids=lambda row: f"{row['kind']}: {row['text']}")
def test_every_door_gives_the_value_of_the_table(row: dict[str, str]) -> None:
    for name, door in DOORS[row["kind"]].items():
        if row["value"]:
            assert door(row["text"]) == pytest.approx(float(row["value"]), rel=1e-12), name
        else:
            with pytest.raises(ws.InputError) as refused:
                door(row["text"])
            wrong_dimension = name == "weather" and row["refused"] == "wrong dimension"
            wanted = "is not a number with a unit of" if wrong_dimension else row["refused"]
            assert wanted in str(refused.value), name
            assert "\n" not in str(refused.value)
            assert len(str(refused.value)) < 400


def test_the_table_has_values_and_refusals_of_every_kind() -> None:
    for kind in DOORS:
        rows = [row for row in texts() if row["kind"] == kind]
        assert any(row["value"] for row in rows), kind
        assert all(bool(row["value"]) != bool(row["refused"]) for row in rows)


# Any number in any of its writings, before any unit in any of its writings.

VULGAR = {"1/4": "¼", "1/2": "½", "3/4": "¾", "1/3": "⅓", "2/3": "⅔", "1/8": "⅛", "5/8": "⅝"}
UNITS = {
    "volume per area": (
        ("L/m^2", "L/m2", "L m-2", "L/m²", "L per square meter", "liters per sq. m", "L / (1 m^2)"),
        ("qt / (100 ft^2)", "qt per 100 sq ft", "US qt per 100 sq. ft.", "quarts/100 ft2", "qt / 100 ft²"),
    ),
    "volume": (
        ("fl oz", "fl. oz.", "fluid ounce", "fluid_ounce", "floz"),
        ("L", "l", "liter", "dm3", "dm^3"),
    ),
    "concentration": (("mg/L", "mg L-1", "mg per liter", "g/m3", "g m⁻³"),),
    "temperature": (("degF", "°F", "deg F", "degrees F", "℉"),),
    "share": (("percent", "%", "per cent"),),
    "speed": (("m/s", "m s-1", "m per s", "m·s⁻¹"), ("km/h", "km per hour", "kph")),
    "irradiance": (("W/m2", "W/m^2", "W m-2", "W per square meter"),),
    "length": (("in", "in.", "inch", "inches"), ("cm", "centimeter")),
}
RANGES = {
    "volume per area": (0.1, 10), "volume": (1, 90), "concentration": (1, 3000), "temperature": (40, 110),
    "share": (2, 50), "speed": (0.1, 2), "irradiance": (1, 1000), "length": (6, 11),
}  # fmt: skip


@st.composite
def writings(draw: st.DrawFn) -> tuple[str, str, str]:
    """Return a kind and two texts that say the same."""
    kind = draw(st.sampled_from(sorted(UNITS)))
    low, high = RANGES[kind]
    spellings = draw(st.sampled_from(UNITS[kind]))
    if draw(st.booleans()):
        number = draw(st.floats(low, high))
        plain, other = repr(number), draw(st.sampled_from([f"{number!r}", f"+{number!r}", f"{number:.17e}"]))
    else:
        whole = draw(st.integers(max(1, int(low) + 1), int(high) - 1 if high > 2 else 1))
        part = draw(st.sampled_from(sorted(VULGAR)))
        plain = repr(float(whole + Fraction(part)))
        writing = draw(
            st.sampled_from(["{whole} {part}", "{whole}{vulgar}", "{whole} {vulgar}", "{whole}-{part}"])
        )
        other = writing.format(whole=whole, part=part, vulgar=VULGAR[part])
    return kind, f"{plain} {spellings[0]}", f"{other} {draw(st.sampled_from(spellings))}"


@given(writings())
def test_doors_agree_on_all_writings(given: tuple[str, str, str]) -> None:
    kind, plain, other = given
    values = {(name, text): door(text) for name, door in DOORS[kind].items() for text in (plain, other)}
    first = values["replace", plain]
    assert all(value == pytest.approx(first, rel=1e-13, abs=0.0) for value in values.values()), values


BOUNDS = ("outside", "allowed is", "above zero", "below", "above", "zero or more", "counted")
AWKWARD = st.text("0123456789.,/ -+eE^*()½²³⁹%°µmLsqftgalpoztperdCFK", max_size=24)


@given(st.sampled_from(sorted(DOORS)), AWKWARD)
def test_doors_agree_on_what_is_refused(kind: str, text: str) -> None:
    """One door refuses what the others refuse, but for bounds and for what a count is of."""
    said: dict[str, float | None] = {}
    for name, door in DOORS[kind].items():
        try:
            said[name] = door(text)
        except ws.InputError as error:
            if any(
                word in str(error) for word in ("outside", "above zero", "below", "zero or more", "counted")
            ):
                continue
            said[name] = None
    assert len({None if value is None else round(value, 12) for value in said.values()}) <= 1, said


def test_the_command_reads_as_the_library(capsys: pytest.CaptureFixture[str]) -> None:
    for row in texts():
        if row["kind"] == "volume":
            status = main(["mix", "--target", "20 mg/L", "--volume", row["text"], "--json"])
            out, error = capsys.readouterr()
            assert status == (0 if row["value"] else 2)
            if row["value"]:
                assert json.loads(out)["final_volume"]["value"] == pytest.approx(
                    1e3 * float(row["value"]), rel=1e-12
                )
            else:
                assert error.count("\n") == 1
                assert row["refused"] in error


@pytest.mark.parametrize(
    "text",
    ["1 (9)**(99999999) m/s", "1 m/s (9)" + "⁹" * 40, "1 percent^999999", "9" * 400, "(" * 79, "1 m" * 26],
)
def test_no_text_takes_long(text: str) -> None:
    with pytest.raises(ws.InputError):
        ws.Scenario().replace({"air.speed": text})
