"""Crop files: they read back, refuse what they cannot mean, and go into a scenario."""

from __future__ import annotations

import dataclasses
import datetime
from pathlib import Path

import numpy as np
import pytest
import wetspan as ws
from refusal import refused
from wetspan.errors import InputError
from wetspan.trials import Crop, load_crop

KEYS = ("crop.half_amount", "crop.metabolism_q10", "uptake.cuticle")
COVARIANCE = np.array([[0.04, -0.01, 0.0], [-0.01, 0.02, 0.001], [0.0, 0.001, 0.09]])


@pytest.fixture
def crop():
    values = dict(zip(KEYS, (1.25e-9, 2.3, 0.8), strict=True))
    about = "calibrated to a made-up trial", datetime.date(2026, 5, 14), ws.Scenario(title="before").to_toml()
    return Crop("my mum", values, COVARIANCE, "paclobutrazol", *about)


@pytest.fixture
def path(crop, tmp_path):
    path = tmp_path / "my_mum.toml"
    crop.save(path)
    return path


def test_a_saved_crop_reads_back(crop, path):
    read = load_crop(path)
    assert dict(read) == pytest.approx(dict(crop), rel=1e-12)
    assert list(read) == list(KEYS)
    assert read.log_covariance == pytest.approx(COVARIANCE, rel=1e-7)
    for name in ("name", "active", "source", "date", "scenario", "grade"):
        assert getattr(read, name) == getattr(crop, name), name
    assert read.grade == "C calibrated"
    assert 'title = "before"' in read.scenario


def test_draws_of_a_skewed_posterior_go_through_the_file(crop, tmp_path):
    logs = np.log(list(crop.values())) - np.random.default_rng(1).exponential(0.05, (50, 3))
    path = tmp_path / "skewed.toml"
    dataclasses.replace(crop, log_draws=logs).save(path)
    read = load_crop(path)
    assert read.log_draws == pytest.approx(logs, rel=1e-5)
    drawn = np.log([[each[key] for key in KEYS] for each in read.draw(ws.Scenario(), 40)])
    distance = np.abs(drawn[:, None] - logs).max(axis=2).min(axis=1)
    assert distance.max() < 1e-4
    text = path.read_text(encoding="utf-8")
    first = text.split('logs = """\n')[1].split("\n")[0]
    for new, said in (
        ("1 2", "has not 3 numbers on each line"),
        ("a b c", "has not 3 numbers on each line"),
        ("-20 1e6 1", "outside what the table of inputs allows"),
        ("nan 0 0", "outside what the table of inputs allows"),
    ):
        path.write_text(text.replace(first, new, 1), encoding="utf-8")
        refused(lambda: load_crop(path), said)


def test_a_crop_goes_into_a_scenario(path):
    scenario = ws.Scenario(air={"temperature": "20 degC"}).replace(load_crop(path))
    assert scenario["crop.half_amount"] == pytest.approx(1.25e-9)
    assert scenario["uptake.cuticle"] == pytest.approx(0.8)
    assert scenario["air.temperature"] == pytest.approx(293.15)


def test_its_sections_are_those_of_a_scenario_file(path, tmp_path):
    """What stands in [crop] and [uptake] can be pasted into a scenario file as it is."""
    text = path.read_text(encoding="utf-8")
    sections = "[crop]" + text.split("[crop]")[1].split("[spread]")[0]
    pasted = tmp_path / "scenario.toml"
    pasted.write_text(sections, encoding="utf-8")
    assert ws.load(pasted) == ws.Scenario().replace(load_crop(path))


def test_spreads_hold_90_per_cent_of_the_draws(crop):
    logs = np.log([[each[key] for key in KEYS] for each in crop.draw(ws.Scenario(), 5000, seed=2)])
    spreads = np.log([crop.spreads[key] for key in KEYS])
    inside = np.abs(logs - np.log(list(crop.values()))) < spreads
    assert inside.mean(axis=0) == pytest.approx([0.9, 0.9, 0.9], abs=0.02)
    assert np.cov(logs.T) == pytest.approx(COVARIANCE, abs=5e-3)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "\n[log_covariance]",
            "\n[covariance]",
            "'covariance' is unknown in a crop's file; did you mean 'log_covariance'?",
        ),
        ('    "crop.metabolism_q10",', '    "crop.metabolism_q1",', "did you mean 'crop.metabolism_q10'"),
        ('    "uptake.cuticle",\n', "", "matrix has shape (3, 3), 2 inputs"),
        ("cuticle = 0.8", "", "uptake.cuticle is in log_covariance.inputs and has no value"),
        (
            "cuticle = 0.8",
            "cuticle = 0.8\nwater_use = '1 L/day'",
            "uptake.water_use has a value and is not in",
        ),
        ("cuticle = 0.8", "cuticle = 1e9", "uptake.cuticle"),
        ('"1.25 ug"', "1.25", "has no unit"),
        ('"1.25 ug"', '"1.25 cm"', "wrong dimension"),
        ("0.04,", "-0.04,", "a variance comes out negative"),
        ("0.001,", "0.002,", "not a symmetrical matrix"),
        ("0.04,", "'much',", "does not hold numbers"),
        ("date = 2026-05-14", 'date = "in May"', "is not a date"),
        ("[crop]", "[crop", "this is not TOML"),
        ('name = "my mum"', 'name = ["my mum"]', "name = ['my mum'] is not a text"),
        ('active_ingredient = "paclobutrazol"', "", "there is no active_ingredient"),
        ('grade = "C calibrated"', 'grade = "A measured"', "what trials say is 'C calibrated'"),
        ("\n[spread]", "\n[spraed]", "'spraed' is unknown in a crop's file; did you mean 'spread'?"),
        ("\n[rests_on]", "\n[rest_on]", "did you mean 'rests_on'?"),
        ("\nmatrix =", "\nround = 3\nmatrix =", "'round' is unknown in [log_covariance]"),
        ("\nname =", "\nfoo = 1\nname =", "'foo' is unknown in a crop's file"),
        (
            '"crop.half_amount" = 1.38954',
            '"crop.half_amount" = 99.0',
            "the spread of crop.half_amount is 99.0 and log_covariance says 1.38954",
        ),
        ("0.09,", "1e5,", "variances beyond all measure"),
        ('    "uptake.cuticle",', '    "crop.half_amount",', "inputs names crop.half_amount twice"),
        ("\n[rests_on]", "\n[draws]\nlogs = ''\n[rests_on]", "draws.logs holds no draw"),
        ("\n[rests_on]", '\n[draws]\nlogs = "-20\\n1\\n0"\n[rests_on]', "has not 3 numbers on each line"),
    ],
)
def test_files_that_cannot_be_meant_are_refused_in_one_line(path, old, new, said):
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputError) as refused:
        load_crop(path)
    assert str(refused.value).startswith(str(path))
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


def test_files_that_are_not_there_are_refused(crop, tmp_path):
    with pytest.raises(InputError, match="there is no such file"):
        load_crop(tmp_path / "none.toml")
    with pytest.raises(InputError, match="there is no folder"):
        crop.save(tmp_path / "nowhere" / "crop.toml")
    (tmp_path / "bad.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(InputError, match="not a text file"):
        load_crop(tmp_path / "bad.toml")


def test_a_scenario_file_loads_its_crop_and_goes_before_it(tmp_path: Path) -> None:
    crop = ws.Crop(
        name="a made-up cultivar",
        values_in_si={"crop.half_amount": 2e-9, "crop.metabolism_q10": 3.0},
        log_covariance=np.diag([0.01, 0.0004]),
        active="paclobutrazol",
        source="a made-up trial",
        date=datetime.date(2026, 5, 1),
    )
    crop.save(tmp_path / "cultivar.toml")
    (tmp_path / "bench.toml").write_text('crop_file = "cultivar.toml"\n[crop]\nmetabolism_q10 = 2.0\n')
    scenario = ws.load(tmp_path / "bench.toml")
    assert scenario["crop.half_amount"] == pytest.approx(2e-9, rel=1e-9)
    assert scenario["crop.metabolism_q10"] == 2.0
    (tmp_path / "bench.toml").write_text('crop_file = "cultivr.toml"\n')
    with pytest.raises(ws.InputError, match=r"cultivr\.toml"):
        ws.load(tmp_path / "bench.toml")


def test_a_calibrated_crop_narrows_the_uncertainty() -> None:
    scenario = ws.Scenario(numerics={"tolerance": 1e-4}, droplets={"bins": 4})
    crop = ws.Crop(
        name="a made-up cultivar",
        values_in_si={"crop.half_amount": scenario["crop.half_amount"]},
        log_covariance=np.array([[1e-6]]),
        active="paclobutrazol",
        source="a made-up trial",
        date=datetime.date(2026, 5, 1),
    )
    wide, narrow = (ws.uncertainty(scenario, 64, 1, given=each) for each in (None, crop))
    influence = [
        float(study["growth_control_influence"].sel(input="crop.half_amount")) for study in (wide, narrow)
    ]
    assert influence[1] < influence[0]
    spans = [float(study["growth_control"][-1] - study["growth_control"][0]) for study in (wide, narrow)]
    assert spans[1] < spans[0]


def test_a_value_changed_by_hand_does_not_go_with_its_draws(crop, tmp_path):
    """Ranges would have been those of the old value, and the new one stood beside them."""
    around = np.random.default_rng(1).multivariate_normal(np.zeros(3), COVARIANCE, 50)
    path = tmp_path / "edited.toml"
    dataclasses.replace(crop, log_draws=np.log(list(crop.values())) + around).save(path)
    assert load_crop(path).log_draws.shape == (50, 3)
    path.write_text(path.read_text(encoding="utf-8").replace('"1.25 ug"', '"1.25 ng"'), encoding="utf-8")
    refused(lambda: load_crop(path), "crop.half_amount is 0.00125 ug", "are not of one calibration")


def test_a_crop_made_in_python_is_checked_as_one_from_a_file(crop):
    """Each of these ended in an error of Python, or in a file that could not be read."""
    one = {"values_in_si": {"crop.half_amount": 1e-9}, "log_covariance": np.eye(1)}
    for change, said in (
        ({"log_covariance": np.eye(2)}, "matrix has shape (2, 2), 3 inputs"),
        ({"log_covariance": np.full((3, 3), np.nan)}, "finite numbers"),
        ({"log_draws": np.zeros((5, 2))}, "draws.logs has shape (5, 2), 3 inputs"),
        ({"log_draws": np.zeros(5)}, "draws.logs has shape (5,)"),
        ({"log_draws": np.full((5, 3), np.nan)}, "outside what the table of inputs allows"),
        ({"values_in_si": {}}, "has no input"),
        (one | {"values_in_si": {"crop.half_amount": "20 ng"}}, "is not a number from"),
        (one | {"values_in_si": {"crop.half_amount": -1.0}}, "is not a number from"),
        ({"date": "2026-05-14"}, "is not a date such as"),
        ({"name": None}, "name = None is not a text"),
    ):
        refused(lambda change=change: dataclasses.replace(crop, **change), said)
    at_ten = datetime.datetime(2026, 5, 14, 10, tzinfo=datetime.UTC)
    assert dataclasses.replace(crop, date=at_ten).date == datetime.date(2026, 5, 14)
    assert dataclasses.replace(crop, log_covariance=COVARIANCE.tolist()).spreads == crop.spreads
    for n in (None, float("nan"), "3", 1.5):
        refused(lambda n=n: crop.draw(ws.Scenario(), n), "is not a whole number from 1 on")
