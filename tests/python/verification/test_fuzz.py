"""Any text, any file: a value or one clear line, never another exception, never a hang.

Counts in the gate: 400 texts of quantities, 300 scenario files, 200 weather files, 150 tables of trials;
times WETSPAN_FUZZ where the environment has it, from another seed each time.
"""

from __future__ import annotations

import io
import math
import os
from datetime import timedelta
from importlib.resources import files

import pandas as pd
import pytest
import wetspan as ws
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from wetspan import InputError

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


PIECES = st.sampled_from(
    [
        *("1", "2", "0.5", "-3", "1e3", "1e-999", "9999999999", "½", "⁹⁹", "nan", "inf"),
        *("**", "^", "*", "/", "(", ")", "[", "]", "{", "}", "=", "#", ",", ".", "+", "_", "\\", '"', "'"),
        *("per", "m", "m2", "ft^2", "L/m^2", "qt", "US", "mg/L", "percent", "%", "degC", "°F", "K", "day"),
        *("square", "cubic", "sq.", "ft.", "\x00", "\u202e"),
    ]
)
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
