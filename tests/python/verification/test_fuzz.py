"""Any text, any file: a value or one clear line, never another exception, never a hang.

Counts in the gate, 11 050 in all: by Hypothesis, which shrinks what fails, 400 texts of quantities, 300
scenario files, 200 weather files and 150 tables of trials; by a plain generator, which costs next to nothing,
9 000 texts at nine doors, 600 scenario files, 300 weather files and 100 tables. All times WETSPAN_FUZZ where
the environment has it, from another seed each time.
"""

from __future__ import annotations

import io
import math
import os
import random
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import timedelta
from importlib.resources import files

import pandas as pd
import pytest
import wetspan as ws
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from wetspan import InputError
from wetspan.amounts import POT_VOLUME, SMALL_VOLUME, read_amount
from wetspan.units import in_unit, share
from wetspan.weather.clock import clock_of, moment_of, span

TIMES = int(os.environ.get("WETSPAN_FUZZ", "1"))
SLOW = timedelta(seconds=20)  # of a loaded machine; a hang is longer


def many(count: int) -> settings:
    return settings(
        max_examples=count * TIMES,
        deadline=SLOW,
        derandomize=TIMES == 1,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
    )


def told_in_a_line(error: InputError) -> None:
    message = str(error)
    assert message
    assert "\n" not in message
    assert len(message) < 1500


LISTED = (
    *("1", "2", "0.5", "-3", "1e3", "1e-999", "9999999999", "½", "⁹⁹", "nan", "inf"),
    *("**", "^", "*", "/", "(", ")", "[", "]", "{", "}", "=", "#", ",", ".", "+", "_", "\\", '"', "'"),
    *("per", "m", "m2", "ft^2", "L/m^2", "qt", "US", "mg/L", "percent", "%", "degC", "°F", "K", "day"),
    *("square", "cubic", "sq.", "ft.", "\x00", "\u202e"),
)
PIECES = st.sampled_from(LISTED)
TEXTS = st.one_of(
    st.lists(PIECES, max_size=12).map(" ".join), st.lists(PIECES, max_size=12).map("".join), st.text()
)


@many(400)
@given(TEXTS, st.sampled_from(["application.volume_rate", "air.temperature", "air.relative_humidity"]))
def test_any_text_is_a_quantity_or_refused(text, key):
    try:
        value = ws.Scenario({key: text})[key]
    except InputError as error:
        told_in_a_line(error)
    else:
        assert math.isfinite(value)


EXAMPLE = (files("wetspan") / "examples" / "afternoon_bench.toml").read_text(encoding="utf-8")


@st.composite
def mutated(draw: st.DrawFn, text: str, most: int = 6) -> bytes:
    """A file with some bytes, characters or lines changed, left out or doubled."""
    raw = text
    for _ in range(draw(st.integers(1, most))):
        at = draw(st.integers(0, len(raw)))
        to = min(len(raw), at + draw(st.integers(0, 30)))
        what = draw(st.integers(0, 4))
        if what == 0:
            raw = raw[:at] + raw[to:]
        elif what == 1:
            raw = raw[:at] + raw[at:to] * 2 + raw[to:]
        elif what == 2:
            raw = raw[:at] + draw(TEXTS) + raw[to:]
        elif what == 3:
            lines = raw.splitlines(keepends=True)
            i = draw(st.integers(0, max(0, len(lines) - 1)))
            raw = "".join(lines[:i] + lines[i + 1 :])
        else:
            raw = (
                raw[:at]
                + draw(st.sampled_from(["\r", "\t", "\x00", "[[", '"""', "''", "=", "é", ";;"]))
                + raw[at:]
            )
    data = raw.encode("utf-8", "surrogatepass")
    return draw(
        st.sampled_from([data, data, data, raw.encode("utf-16", "surrogatepass"), data[: len(data) // 2]])
    )


@many(300)
@given(mutated(EXAMPLE))
def test_any_scenario_file_is_read_or_refused(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("fuzz", numbered=True) / "bench.toml"
    path.write_bytes(data)
    try:
        scenario = ws.load(path)
    except InputError as error:
        told_in_a_line(error)
    else:
        assert all(math.isfinite(scenario[key]) for key in scenario)


LOGGER = "time,T,RH,wind,sun\n" + "".join(
    f"2026-05-14T{hour:02d}:00+00:00,{15 + hour % 9},{60 + hour},0.5,{20 * hour}\n" for hour in range(24)
)
STATED = {
    "columns": {
        "time": "time",
        "temperature": "T",
        "relative_humidity": "RH",
        "wind_speed": "wind",
        "shortwave": "sun",
    },
    "units": {
        "temperature": "degC",
        "relative_humidity": "percent",
        "wind_speed": "m/s",
        "shortwave": "W/m^2",
    },
    "label": "instant",
    "exposure": "crop",
}


@many(200)
@given(mutated(LOGGER))
@pytest.mark.filterwarnings("ignore")
def test_any_weather_file_is_read_or_refused(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("fuzz", numbered=True) / "logger.csv"
    path.write_bytes(data)
    try:
        weather = ws.read_weather(path, **STATED)
    except InputError as error:
        told_in_a_line(error)
    else:
        columns = weather.data[["temperature", "relative_humidity", "wind_speed", "shortwave"]]
        assert not columns.isna().any().any()
        assert weather.data.index.is_monotonic_increasing


TRIAL = "treatment,rate,height_cm\n" + "".join(
    f"{name},{rate},{height + 0.3 * i}\n"
    for name, rate, height in (("untreated", 0, 30), ("low", 15, 26), ("high", 60, 21))
    for i in range(4)
)


@many(150)
@given(mutated(TRIAL))
@pytest.mark.filterwarnings("ignore")
def test_any_table_of_a_trial_is_read_or_refused(data):
    try:
        table = pd.read_csv(io.BytesIO(data))
    except Exception:  # pandas' own refusals are not ours
        return
    try:
        result = ws.read_trial(table, rate="rate", units={"rate": "mg/L"})
    except InputError as error:
        told_in_a_line(error)
    else:
        assert result.text


# --- many cheap cases ---------------------------------------------------------------------------------------


@contextmanager
def case(number: int, given: object) -> Iterator[None]:
    """Say which case failed; refusals must be one clear line."""
    try:
        yield
    except InputError as error:
        told_in_a_line(error)
    except Exception as error:
        error.add_note(f"case {number}: {given!r}")
        raise


def cases(count: int, seed: str) -> Iterator[tuple[int, random.Random]]:
    """Count from 0, each number with its own random numbers; from another seed if more than in the gate."""
    start = 0 if TIMES == 1 else random.SystemRandom().randrange(10**9)
    for number in range(start, start + count * TIMES):
        yield number, random.Random(f"{seed} {number}")


def quantity_at(key: str) -> Callable[[str], object]:
    return lambda text: ws.Scenario({key: text})[key]


#: What reads a text, and sound texts for it.
DOORS: dict[str, tuple[Callable[[str], object], tuple[str, ...]]] = {
    "volume rate": (
        quantity_at("application.volume_rate"),
        ("2 1/2 qt per 100 sq ft", "0.2 L/m^2", "2 qt/100 ft^2", "30 US gal per acre", "1e3 L/ha"),
    ),
    "temperature": (quantity_at("air.temperature"), ("75 degF", "22.5 °C", "295 K", "20.5 degC")),
    "method": (quantity_at("application.method"), ("drench", "spray", "continuous", "sub_irrigation")),
    "length": (
        lambda text: in_unit("height", text, "m", "24 cm"),
        ("24 cm", "100.5 cm", "9 1/2 in", "1 ft", "0.3 m"),
    ),
    "amount": (
        lambda text: read_amount("volume", text, SMALL_VOLUME, POT_VOLUME)[0],
        ("4 fl oz", "118 mL", "250 mL", "½ cup", "0.1 L"),
    ),
    "share": (lambda text: share("sprayed", text), ("60 %", "0.6", "60 percent", "1/2")),
    "moment": (
        moment_of,
        ("2026-05-14T15:00", "2026-05-14 15:00", "2026-05-14T15:00+02:00", "2026-05-14T15:00Z"),
    ),
    "span": (span, ("15 min", "30min", "1 h", "1h30min", "90 s")),
    "clock": (clock_of, ("America/New_York", "UTC-05:00", "UTC+05:30", "UTC")),
}
GOOD = [text for _, texts in DOORS.values() for text in texts]
GOOD += ["1.000,5 cm", "2026-05-14 03:00 PM", "118 mL per pot", "20,5 degC"]


def text_of(draw: random.Random, good: Sequence[str] = GOOD) -> str:
    """Return a joined handful of pieces, or a sound text with some of its characters changed."""
    if draw.random() < 0.3:
        return draw.choice((" ", "")).join(draw.choices(LISTED, k=draw.randrange(9)))
    text = draw.choice(good if draw.random() < 0.8 else GOOD)
    for _ in range(draw.randrange(4)):
        at, length = draw.randrange(len(text) + 1), draw.randrange(3)
        new = draw.choice(("", draw.choice(LISTED), chr(draw.randrange(32, 0x2100)), text[at : at + 4]))
        text = text[:at] + new + text[at + length :]
    return text


@pytest.mark.parametrize("door", DOORS)
def test_a_thousand_texts_at_a_door(door):
    read, good = DOORS[door]
    refused = 0
    for number, draw in cases(1000, door):
        text = text_of(draw, good)
        refused += 1
        with case(number, text):
            value = read(text)
            refused -= 1
            assert not isinstance(value, float) or math.isfinite(value)
    assert 100 * TIMES < refused < 950 * TIMES  # many of both


def mutant(draw: random.Random, text: str) -> bytes:
    """Return a file with some bytes, pieces or lines changed, left out, doubled or exchanged."""
    lines = text.splitlines(keepends=True)
    for _ in range(draw.randrange(1, 5)):
        i, j = draw.randrange(len(lines)), draw.randrange(len(lines))
        at, to = sorted(draw.choices(range(len(lines[i]) + 1), k=2))
        what = draw.randrange(5)
        if what == 0:
            lines[i], lines[j] = lines[j], lines[i]
        elif what == 1:
            lines[i] *= draw.choice((0, 2))
        elif what == 2:
            lines[i] = lines[i][:at] + text_of(draw) + lines[i][to:]
        elif what == 3:
            lines[i] = lines[i][:at] + lines[i][to:]
        else:
            lines[i] = lines[i][:at] + draw.choice(lines[j] or " ") + lines[i][at:]
    data = bytearray("".join(lines).encode("utf-8", "surrogatepass"))
    if data and draw.random() < 0.2:
        data[draw.randrange(len(data))] = draw.randrange(256)
    return bytes(data)


def test_six_hundred_scenario_files(tmp_path):
    path = tmp_path / "bench.toml"
    for number, draw in cases(600, "scenario"):
        data = mutant(draw, EXAMPLE)
        path.write_bytes(data)
        with case(number, data):
            scenario = ws.load(path)
            assert all(math.isfinite(scenario[key]) for key in scenario)


@pytest.mark.filterwarnings("ignore")
def test_three_hundred_weather_files(tmp_path):
    path = tmp_path / "logger.csv"
    for number, draw in cases(300, "weather"):
        data = mutant(draw, LOGGER)
        path.write_bytes(data)
        with case(number, data):
            weather = ws.read_weather(path, **STATED)
            assert not weather.data[["temperature", "relative_humidity"]].isna().any().any()
            assert weather.data.index.is_monotonic_increasing


@pytest.mark.filterwarnings("ignore")
def test_a_hundred_tables_of_trials():
    for number, draw in cases(100, "trial"):
        data = mutant(draw, TRIAL)
        try:
            table = pd.read_csv(io.BytesIO(data))
        except Exception:  # pandas' own refusals are not ours
            continue
        with case(number, data):
            assert ws.read_trial(table, rate="rate", units={"rate": "mg/L"}).text
