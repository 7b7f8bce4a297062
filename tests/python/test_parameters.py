"""The table of inputs as people and programs read it."""

import re
import tomllib

import jsonschema
import pytest
import wetspan as ws
from hypothesis import given, settings
from hypothesis import strategies as st
from wetspan.errors import InputError
from wetspan.parameters import GRADES, POSITION, SECTIONS, TABLE, parameters, row_of, schema
from wetspan.scenario_file import from_document
from wetspan.unit_shown import shown
from wetspan.units import value_in_si


@pytest.fixture(scope="module")
def validator():
    jsonschema.Draft202012Validator.check_schema(schema())
    return jsonschema.Draft202012Validator(schema())


def test_every_row_is_complete():
    for key, row in TABLE.items():
        assert key == f"{row.section}.{row.name}"
        assert row.section in SECTIONS
        assert row.low <= row.standard <= row.high
        assert row.spread >= 1.0
        assert row.grade in GRADES
        assert row.source
        assert row.meaning
    assert list(TABLE) == [key for section in SECTIONS for key in TABLE if key.startswith(f"{section}.")]


def test_defaults_are_those_of_a_new_scenario():
    scenario = ws.Scenario()
    assert dict(scenario) == {key: row.standard for key, row in TABLE.items()}
    assert list(POSITION) == list(TABLE)


def test_parameters_as_a_table():
    table = parameters()
    assert list(table.index) == list(TABLE)
    for key, line in table.iterrows():
        row = TABLE[key]
        assert line["default"] == shown(row, row.standard)
        assert (line["unit"], line["si_unit"]) == (row.shown, row.unit)
        if row.kind == "number":  # the columns are in the unit that stands beside them
            unit = "" if row.shown == "1" else f" {row.shown}"
            for column, value in (("default", row.standard), ("lowest", row.low), ("highest", row.high)):
                assert value_in_si(row, f"{line[column]!r}{unit}") == pytest.approx(value, rel=1e-11)


@pytest.mark.parametrize(
    ("key", "fragments"),
    [
        ("air.temprature", ["'air.temprature'", "did you mean 'air.temperature'"]),
        ("AIR.SPEED", ["did you mean 'air.speed'"]),
        ("width", ["did you mean 'leaf.width'?"]),
        ("leaff", ["did you mean 'leaf'?"]),
        ("air.zzz", ["'air' has temperature, relative_humidity"]),
        ("zzz", ["sections are application"]),
        (3, ["unknown input '3'"]),
    ],
)
def test_unknown_keys_are_refused_with_the_nearest(key, fragments):
    with pytest.raises(InputError) as caught:
        row_of(key)
    for fragment in fragments:
        assert fragment in str(caught.value)


def test_help_lists_every_input():
    text = ws.Scenario.__doc__
    for section, about in SECTIONS.items():
        assert f"{section}: {about}" in text
    for row in TABLE.values():
        assert re.search(rf"^ +{row.name} = .*: {re.escape(row.meaning)}$", text, re.MULTILINE)


def test_examples_keep_to_the_schema(validator, examples):
    paths = list(examples.glob("**/*.toml"))
    assert paths
    for path in paths:
        validator.validate(tomllib.loads(path.read_text(encoding="utf-8")))
        assert isinstance(ws.load(path), ws.Scenario)


@st.composite
def scenarios(draw):
    """Scenarios with some inputs anywhere within their bounds."""
    rows = draw(st.lists(st.sampled_from(list(TABLE.values())), max_size=8, unique_by=lambda row: row.key))
    values = {}
    for row in rows:
        if row.kind == "number":
            values[row.key] = draw(st.floats(row.low, row.high))
        else:
            values[row.key] = float(draw(st.integers(int(row.low), int(row.high))))
    try:
        return ws.Scenario(values, title=draw(st.text(st.characters(codec="utf-8"), max_size=12)))
    except InputError:  # two of them contradict each other
        return ws.Scenario()


@settings(max_examples=40)
@given(scenario=scenarios())
def test_written_scenarios_keep_to_the_schema_and_read_back(validator, scenario):
    document = tomllib.loads(scenario.to_toml())
    validator.validate(document)
    assert from_document(document) == scenario


@pytest.mark.parametrize(
    "text",
    [
        'air = "warm"',
        "[air]\ntemperature = 24",
        '[air]\ntemprature = "24 degC"',
        '[weather]\ntemperature = "24 degC"',
        "[air]\nrelative_humidity = 60",
        '[air]\nspeed = "fast"',
        "[air]\nspeed = true",
        "[droplets]\nbins = 12.5",
        '[application]\nmethod = "drip"',
        '[house]\nenclosed = "maybe"',
        "title = 3",
    ],
)
def test_schema_and_reader_refuse_alike(validator, text):
    document = tomllib.loads(text)
    assert not validator.is_valid(document)
    with pytest.raises(InputError):
        from_document(document)
