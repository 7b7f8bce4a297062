"""`wetspan trial plan`, `read` and `calibrate`: what they print and write, and what they refuse."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
import wetspan as ws
from wetspan.command_line import main
from wetspan.trials import load_crop, log_logistic, read_trial


def run(*arguments):
    return main(["trial", *map(str, arguments)])


@pytest.fixture
def table(tmp_path):
    """A made-up trial of four rates."""
    rate = np.repeat([0.0, 30.0, 60.0, 120.0, 240.0], 10)
    height = log_logistic(rate, 1.2, 250.0, 5.0, 30.0) + np.random.default_rng(4).normal(0, 1.5, len(rate))
    names = ["untreated" if r == 0 else f"{r:g} mg/L" for r in rate]
    data = pd.DataFrame({"treatment": names, "rate_mg_per_L": rate, "height_cm": height.round(1)})
    path = tmp_path / "heights.csv"
    data.to_csv(path, index=False)
    return path


@pytest.fixture
def scenario(tmp_path):
    path = tmp_path / "bench.toml"
    ws.Scenario(title="a made-up bench").save(path)
    return path


RATED = ("--rate", "rate_mg_per_L")
PLAN = ("plan", "--rate", "10 mg/L", "--rate", "20 mg/L", "--cv", "9 %", "--difference", "12 %", "--seed", 3)


def test_a_plan_is_told_drawn_and_written(tmp_path, capsys):
    files = {kind: tmp_path / f"plan.{kind}" for kind in ("csv", "pdf", "png")}
    run(*PLAN, "--csv", files["csv"], "--sheet", files["pdf"], "--picture", files["png"], "--bench", "8x14")
    said = capsys.readouterr().out
    assert "10 mg/L, 20 mg/L against the check 'untreated'" in said
    assert "(seed 3)" in said
    assert ws.CAUTIONS.split(".")[0] in said
    drawn = [line.split() for line in said.split("\n\n")[1].splitlines()]
    sheet = pd.read_csv(files["csv"])
    assert sum(row.count("A") for row in drawn) == (sheet["treatment"] == "10 mg/L").sum()
    assert "rate_mg_per_L" in sheet
    assert files["pdf"].read_bytes().startswith(b"%PDF")
    assert files["png"].read_bytes().startswith(b"\x89PNG")


def test_a_plan_for_programs(capsys):
    run(*PLAN, "--json")
    plan = json.loads(capsys.readouterr().out)
    assert plan["rates"] == {"10 mg/L": 10.0, "20 mg/L": 20.0}
    assert len(plan["layout"]) == 2 * plan["plants"] + plan["check_plants"]
    assert plan["power"] >= 0.8
    assert plan["cautions"] == ws.CAUTIONS


def test_a_trial_is_read_told_and_written(table, tmp_path, capsys):
    csv, picture = tmp_path / "treatments.csv", tmp_path / "curve.svg"
    run(
        "read",
        table,
        *RATED,
        "--csv",
        csv,
        "--picture",
        picture,
        "--show",
        "dose-response",
        "--control",
        "30%",
    )
    said = capsys.readouterr().out
    result = read_trial(table, rate="rate_mg_per_L")
    assert f"For 30 % shorter plants: {result.next_rate(0.3).rate:.3g} mg/L" in said
    assert "10/10" in said
    assert "re-entry" in said
    assert pd.read_csv(csv, index_col=0)["control"].to_numpy() == pytest.approx(result.table["control"])
    assert "<svg" in picture.read_text(encoding="utf-8")


def test_a_trial_for_programs(table, capsys):
    run("read", table, *RATED, "--json", "--level", "0.9")
    told = json.loads(capsys.readouterr().out)
    assert told["level"] == 0.9
    check = told["treatments"][0]
    assert (check["treatment"], check["p"]) == ("untreated", None)
    assert told["next_rate"]["control"] == 0.25
    assert [rate["control"] for rate in told["effective_rates"]] == [0.1, 0.2, 0.5]
    run("read", table, "--json")
    assert json.loads(capsys.readouterr().out)["next_rate"] is None


def test_a_crop_is_calibrated_told_and_saved(scenario, table, tmp_path, capsys):
    saved, csv, picture = (tmp_path / name for name in ("mum.toml", "fit.csv", "fit.png"))
    run(
        *("calibrate", scenario, table, *RATED, "--active", "paclobutrazol", "--control", "0.2"),
        *("--save", saved, "--name", "my mum", "--csv", csv, "--picture", picture),
    )
    said = capsys.readouterr().out
    crop = load_crop(saved)
    assert (crop.name, crop.active) == ("my mum", "paclobutrazol")
    assert f"{crop['crop.half_amount'] * 1e9:.3g} ug" in said
    assert "For 20 % shorter plants:" in said
    assert "Calibrated, not validated" in said
    for head in ("95 % interval", "width left", "decided by"):
        assert head in said.splitlines()[0]
    assert "Width left: " in said
    assert "re-entry" in said
    assert list(pd.read_csv(csv)["treatment"]) == ["30 mg/L", "60 mg/L", "120 mg/L", "240 mg/L"]
    assert picture.read_bytes().startswith(b"\x89PNG")


def test_a_calibration_for_programs_of_two_trials_and_changes(scenario, table, capsys):
    run(
        *("calibrate", scenario, table, table, *RATED, "--json", "--parameter", "crop.half_amount"),
        *("--spread", "crop.half_amount=10", "--change", "30 mg/L: air.speed = 0.5 m/s"),
    )
    told = json.loads(capsys.readouterr().out)
    (half,) = told["inputs"]
    assert (half["input"], half["prior_spread"]) == ("crop.half_amount", pytest.approx(10))
    assert half["lower"] < half["value"] < half["upper"]
    assert [row["trial"] for row in told["treatments"]] == [1] * 4 + [2] * 4
    assert np.array(told["log_covariance"]).shape == (1, 1)
    assert told["next_rate"]["unit"] == "mg/L"
    assert told["cautions"] == ws.CAUTIONS


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("plan", "--rate", "10 mg/L", "--cv", "nine"), "--cv 'nine': it does not begin with a number"),
        (("plan", "--rate", "10 mg/L", "--cv", "9"), "--cv 9"),
        (("plan", "--rate", "10 mg/L", "--cv", "0.1", "--bench", "8 by 9"), "--bench '8 by 9'"),
        (("plan", "--rate", "10 mg/L", "--cv", "0.1", "--test", "dunet"), "did you mean 'dunnett'"),
        (
            ("plan", "--rate", "10 mg/L", "--cv", "0.1", "--csv", "nowhere/x.csv"),
            "there is no folder 'nowhere'",
        ),
        (("plan", "--rate", "10 mg/L", "--cv", "0.1", "--sheet", "x.doc"), "the sheet is written as"),
        (("read", "none.csv"), "none.csv: cannot be read"),
        (("read", "{table}", "--rate", "dose"), "no column 'dose' for the rate"),
        (("read", "{table}", "--unit", "height"), "--unit 'height' is not written as height=cm"),
        (("read", "{table}", "--picture", "x.doc"), "a picture is written as"),
        (("read", "{table}", "--level", "95"), "--level 95"),
        (("calibrate", "none.toml", "{table}"), "there is no such file"),
        (("calibrate", "{scenario}", "{table}"), "nothing tells how '30 mg/L' was sprayed"),
        (("calibrate", "{scenario}", "{table}", *RATED, "--save", "x.toml"), "--save FILE and --name NAME"),
        (
            ("calibrate", "{scenario}", "{table}", *RATED, "--parameter", "metabolism"),
            "did you mean 'crop.metabolism'",
        ),
        (
            ("calibrate", "{scenario}", "{table}", *RATED, "--spread", "crop.metabolism=x"),
            "--spread 'x': ",
        ),
        (
            ("calibrate", "{scenario}", "{table}", *RATED, "--change", "drench"),
            "--change 'drench' is not written",
        ),
        (("calibrate", "{scenario}", "{table}", *RATED, "--active", "uniconazole"), "is of uniconazole"),
        (("calibrate", "{scenario}", "{table}", *RATED, "--control", "2"), "--control 2"),
    ],
)
def test_bad_input_is_one_clear_line(arguments, said, scenario, table, capsys):
    paths = {"scenario": scenario, "table": table}
    assert run(*(str(argument).format(**paths) for argument in arguments)) == 2
    out, err = capsys.readouterr()
    assert said in err
    assert (out, err.count("\n")) == ("", 1)


@pytest.mark.parametrize("command", ["plan", "read", "calibrate"])
def test_help_ends_with_the_cautions(command, capsys):
    with pytest.raises(SystemExit) as left:
        run(command, "--help")
    assert left.value.code == 0
    assert "re-entry" in capsys.readouterr().out


def test_the_tools_own_sheet_is_known(tmp_path, capsys):
    sheet = tmp_path / "sheet.csv"
    plan = ["plan", "--rate=15 mg/L", "--rate=30 mg/L", "--cv=0.08", "--design=blocked", "--seed=3"]
    assert run(*plan, f"--csv={sheet}") == 0
    capsys.readouterr()
    table = pd.read_csv(sheet)
    plants = np.random.default_rng(5).normal(20.0, 1.0, len(table))
    table["height_cm"] = plants - 0.1 * table["rate_mg_per_L"] + 0.3 * table["block"]
    table.to_csv(sheet, index=False)
    assert run("read", sheet, "--json") == 0
    known = json.loads(capsys.readouterr().out)
    assert run("read", sheet, "--rate=rate_mg_per_L", "--block=block", "--json") == 0
    assert json.loads(capsys.readouterr().out) == known
    assert known["rate_unit"] == "mg/L"
    assert known["next_rate"] is not None
    assert run("read", sheet, "--rate=none", "--block=none", "--json") == 0
    bare = json.loads(capsys.readouterr().out)
    assert bare["next_rate"] is None
    assert bare["cv"] != known["cv"]  # blocks were not fitted


def test_another_table_is_not_taken_for_it(tmp_path, capsys):
    other = tmp_path / "other.csv"
    rows = [f"untreated,0,{20 + 0.1 * i**2}\na,5,{17 + 0.2 * i**2}\n" for i in range(5)]
    other.write_text("treatment,rate_mg_per_L,height_cm\n" + "".join(rows))
    assert run("read", other, "--json") == 0
    assert json.loads(capsys.readouterr().out)["next_rate"] is None


def test_a_spreadsheets_own_heading_of_heights_is_known(tmp_path, capsys):
    sheet = "plant;treatment;Height (in)\n" + "".join(
        f"{i};{'untreated' if i < 4 else '30 ppm'};{12 - i // 4 * 2 + i % 4 / 10:.1f}\n".replace(".", ",")
        for i in range(8)
    )
    (tmp_path / "sheet.csv").write_text(sheet, encoding="utf-8")
    assert run("read", tmp_path / "sheet.csv") == 0
    assert "height, in" in capsys.readouterr().out
