"""The commands `wetspan mix`, `jug` and `bench`: data on standard output, one line for bad input."""

import json
from pathlib import Path

import pytest
from wetspan.command_line import main

SUSPENSION = "paclobutrazol 0.4 % suspension concentrate"


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    status = main(arguments)
    told = capsys.readouterr()
    return status, told.out, told.err


def test_mix_tells_both_unit_systems_and_the_cautions(capsys):
    rate = "2 qt / (100 ft^2)"
    status, out, _ = run(capsys, "mix", "--target", "30 mg/L", "--area", "500 ft^2", "--volume-rate", rate)
    assert status == 0
    # 30 mg/L of a 4000 mg/L product in 2.5 US gal: 9.4635 L x 30 / 4000 = 70.98 mL
    assert "70.98 mL" in out
    assert "2.5 gal" in out
    assert "label" in out


def test_mix_backwards(capsys):
    # 1 US fl oz of a 0.4 % product made up to a US gallon: 4000 mg/L / 128 = 31.25 mg/L
    status, out, _ = run(
        capsys, "mix", "--amount", "1 fl oz", "--final-volume", "1 gal", "--area", "100 ft^2", "--json"
    )
    assert status == 0
    assert "31.25" in out
    json.loads(out)


def test_jug_settles_and_pours(capsys, tmp_path: Path):
    picture = tmp_path / "jug.png"
    status, out, _ = run(capsys, "jug", "--days", "7", "--json", "--picture", str(picture))
    told = json.loads(out)
    assert status == 0
    assert picture.stat().st_size > 10_000
    assert told["pours"]["shaken"] == pytest.approx([1.0] * 8, abs=1e-9)
    # the pours that empty a jug deliver its contents, however unevenly
    assert sum(told["pours"]["unshaken"]) / 8 == pytest.approx(1.0, abs=1e-9)
    assert told["pours"]["unshaken"][0] < 0.9
    assert "re-entry" in told["cautions"]


def test_jug_prints_tables(capsys):
    status, out, _ = run(capsys, "jug", "--days", "14", "--pours", "4", "--draw", "bottom")
    assert status == 0
    assert "afloat" in out
    assert "unshaken" in out


def test_bench_tells_how_even_it_is_and_what_would_help(capsys, tmp_path: Path):
    scenario = tmp_path / "quick.toml"
    scenario.write_text("[droplets]\nbins = 3\n[canopy]\nlayers = 1\n[numerics]\ntolerance = 1e-3\n")
    status, out, _ = run(capsys, "bench", str(scenario), "--json")
    assert status == 0
    told = json.loads(out)
    assert json.dumps(told).count("NaN") == 0
    assert "levers" in told


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("mix", "--target", "30 kg", "--volume", "1 L"), "target"),
        (("mix", "--target", "30 mg/L"), "volume"),
        (("mix", "--target", "30 mg/L", "--volume", "-1 L"), "above zero"),
        (("mix", "--product", "paclobutrasol", "--target", "30 mg/L", "--volume", "1 L"), "paclobutrazol"),
        (("jug", "--days", "-1"), "days"),
        (("jug", "--draw", "middle"), "top"),
        (("jug", "--temperature", "20 kg"), "temperature"),
        (("bench", "no_such.toml"), "no such file"),
    ],
)
def test_bad_input_is_one_line_and_exit_2(capsys, arguments, says):
    status, out, err = run(capsys, *arguments)
    assert status == 2
    assert out == ""
    assert says in err
    assert err.count("\n") == 1
