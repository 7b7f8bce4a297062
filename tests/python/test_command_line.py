"""The command: data on standard output, one clear line on standard error, exit status 0, 1 or 2."""

import errno
import json
import os
import re
import subprocess
import sys
import warnings
from datetime import date
from importlib.metadata import version
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import wetspan as ws
from wetspan import command_line
from wetspan.commands import parser
from wetspan.errors import IntegrationError
from wetspan.parameters import TABLE
from wetspan.trials import Crop

QUICK = ["--every", "7h", "--samples", "0"]  # 06:00, 13:00 and 20:00
CROP = """time,T,RH
2026-05-14T06:00,18.0,80
2026-05-14T09:00,21.0,70
2026-05-14T12:00,27.0,50
2026-05-14T15:00,27.0,50
2026-05-14T18:00,21.0,70
"""
STATED = [
    "--column=time=time",
    "--column=temperature=T",
    "--column=relative_humidity=RH",
    "--unit=temperature=degC",
    "--unit=relative_humidity=percent",
    "--label=instant",
    "--exposure=crop",
    "--constant=wind_speed=0.3 m/s",
    "--constant=shortwave=200 W/m^2",
]


@pytest.fixture
def command(capsys, monkeypatch, tmp_path):
    """Run a command in an empty folder; return exit status, standard output and standard error."""
    monkeypatch.chdir(tmp_path)

    def run(*arguments: object) -> tuple[int, str, str]:
        try:
            status = command_line.main([str(argument) for argument in arguments])
        except SystemExit as exit_:  # argparse
            status = int(exit_.code or 0)
        out, err = capsys.readouterr()
        return status, out, err

    return run


@pytest.fixture
def refused(command):
    """Check that a command ends with status 2, one line on standard error and nothing else."""

    def check(*arguments: object, fragments: tuple[str, ...] = ()) -> None:
        status, out, err = command(*arguments)
        assert (status, out) == (2, "")
        assert err.startswith("wetspan")
        assert err.endswith("\n")
        assert err.count("\n") == 1
        assert "Traceback" not in err
        for fragment in fragments:
            assert fragment in err

    return check


@pytest.fixture(scope="session")
def bench(examples: Path) -> Path:
    return examples / "afternoon_bench.toml"


def as_a_process(*arguments: object, **others) -> subprocess.CompletedProcess:
    command = [sys.executable, "-m", "wetspan", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, timeout=100, check=False, **others)


# --- a day ------------------------------------------------------------------------------------------------


def test_a_day_without_arguments_but_speed(command, example):
    status, out, err = command("day", *QUICK)
    assert (status, err) == (0, "")
    assert out.startswith(example.title)
    assert "Where it ends up: leaf" in out
    assert "2026-05-16, clock UTC-05:00; outdoor weather of a typical year: GREENSBORO PIEDMONT" in out
    assert re.findall(r"^(\d\d:\d\d)  ", out, re.MULTILINE) == ["06:00", "13:00", "20:00"]
    assert re.search(r"^Leaves stay wet for \d+ min when sprayed at 06:00", out, re.MULTILINE)
    assert " ".join(out.split()).endswith(ws.CAUTIONS)


def test_a_day_for_programs_and_its_picture(command, bench):
    status, out, err = command("day", bench, "--weather=miami", "--date=2026-12-31", *QUICK, "--json")
    assert (status, err) == (0, "")
    document = json.loads(out)
    assert [row["time"] for row in document["times"]] == [
        f"2026-12-31T{hour}:00:00" for hour in ("06", "13", "20")
    ]
    assert "samples" not in document
    status, out, err = command("day", *QUICK[:2], "--samples=2", "--seed=7", "--picture=day.png", "--json")
    assert (status, err) == (0, "")
    assert (json.loads(out)["samples"], json.loads(out)["seed"]) == (2, 7)
    assert Path("day.png").read_bytes().startswith(b"\x89PNG")


def test_a_logger_in_the_house(command, refused, bench):
    Path("logger.csv").write_text(CROP, encoding="utf-8")
    day = [
        "day",
        bench,
        "--weather=logger.csv",
        "--date=2026-05-14",
        "--to=16:00",
        "--every=5h",
        "--samples=0",
    ]
    status, out, err = command(*day, *STATED, "--time-zone=UTC-05:00")
    assert (status, err) == (0, "")
    assert "crop weather: logger.csv" in out
    assert re.search(r"^06:00 +18\.0 +80 +200 ", out, re.MULTILINE)
    refused(*day, *STATED, fragments=("logger.csv", "--time-zone"))  # naive times
    status, out, err = command(*day)  # all that is open is told
    assert (status, out) == (2, "")
    for answer in ("--column 'temperature=HEADING'", "--exposure", "--label", "wind_speed", "--light"):
        assert answer in err
    light = "--constant=shortwave=100 W/m^2"
    refused(*day, *STATED[:7], light, "--time-zone=UTC", fragments=("--constant 'wind_speed=0.3 m/s'",))
    refused(*day, "--column", "time", fragments=("--column 'time' is not written as temperature=degF",))
    refused(*day, *STATED, "--time-zone=Mars", fragments=("Mars",))
    late = "--date=2026-05-16"
    refused(*day[:3], late, *STATED, "--time-zone=UTC", fragments=("outside the record",))
    refused(*day[:3], *STATED, "--time-zone=UTC", fragments=("logger.csv has no whole day", "--date DAY"))


@pytest.mark.parametrize(
    ("arguments", "fragments"),
    [
        (["--weather=nowhere"], ["nowhere", "miami, sand-point, piedmont"]),
        (["--weather=piedmond"], ["piedmond"]),
        (["--weather=empty.csv"], ["empty.csv: the file is empty"]),
        (["--weather=."], ["."]),
        (["--date=2026-02-30"], ["--date '2026-02-30' is not a day"]),
        (["--date=tomorrow"], ["--date 'tomorrow' is not a day"]),
        (["--from=6am"], ["--from '6am' is not a time of day"]),
        (["--to=25:00"], ["--to '25:00' is not a time of day"]),
        (["--from=20:00", "--to=06:00"], ["--to 06:00 is before --from 20:00"]),
        (["--every=0min"], ["--every '0min'", "second or more"]),
        (["--every=30"], ["--every '30'", "second or more"]),
        (["--every=often"], ["--every 'often' is not a time step"]),
        (["--samples=1"], ["--samples 1 is"]),
        (["--samples=-4"], ["--samples -4 is"]),
        (["--samples=many"], ["--samples: invalid int value: 'many'", "--help"]),
        (["--samples=1000000000"], ["--samples 1000000000 is above 100000"]),
        (["--samples=2", "--seed=-1"], ["--seed -1 is"]),
        (["--picture=day.bmp"], [".png, .svg, .pdf"]),
        (["--picture=day"], [".png, .svg, .pdf"]),
        (["--picture=no/such/day.png"], ["there is no folder 'no/such'"]),
        (
            ["--picturs=day.png", "--jsn"],
            ["day: unrecognized arguments: --picturs=day.png --jsn; did you mean '--picture'?; see"],
        ),
        (["no.toml"], ["no.toml: there is no such file"]),
    ],
)
def test_days_that_are_refused(refused, tmp_path, arguments, fragments):
    (tmp_path / "empty.csv").touch()
    if not any("samples" in argument for argument in arguments):
        arguments = [*arguments, "--samples=0"]
    refused("day", *arguments, fragments=tuple(fragments))


# --- one spray --------------------------------------------------------------------------------------------


def test_one_spray(command, bench, example):
    status, out, err = command("run", bench)
    assert (status, err) == (0, "")
    outcome = ws.simulate(example)
    assert f"leaves for {outcome.wet_time / 60:.0f} min" in out
    assert f"{100 * outcome.growth_control:.0f} % shorter" in out
    status, out, err = command("run", bench, "--json")
    assert (status, err) == (0, "")
    assert json.loads(out)["wet_time"] == outcome.wet_time
    then = ["--weather=piedmont", "--time=2026-05-16T16:00-04:00"]
    status, out, err = command("run", bench, *then, "--json", "--picture=run.svg")
    assert (status, err) == (0, "")
    weather = ws.read_weather("piedmont")
    assert json.loads(out)["wet_time"] == ws.simulate(example, weather, "2026-05-16T15:00").wet_time
    assert "<svg" in Path("run.svg").read_text(encoding="utf-8")
    assert json.loads(out)["time"] == "2026-05-16T15:00:00-05:00"
    assert (json.loads(out)["time_zone"], json.loads(out)["weather"]) == ("UTC-05:00", repr(weather))
    status, out, err = command("run", bench, *then)
    assert (status, err) == (0, "")
    where = "2026-05-16 15:00, clock UTC-05:00; outdoor weather of a typical year: GREENSBORO PIEDMONT"
    assert where in out.splitlines()[1]


def test_one_spray_has_the_range_that_its_day_has(command, refused, bench):
    when = ["--weather=piedmont", "--samples=8", "--seed=2", "--json"]
    (day,) = json.loads(command("day", bench, *when, "--from=15:00", "--to=15:00")[1])["times"]
    run = json.loads(command("run", bench, *when, "--time=2026-05-16T15:00")[1])
    for name in ("growth_control", "growth_control_low", "growth_control_high"):
        assert run[name] == day[name]
        assert run["units"][name] == "1"
    assert (run["samples"], run["seed"]) == (8, 2)
    text = command("run", bench, *when[:3], "--time=2026-05-16T15:00")[1]
    low, high = (f"{100 * run[f'growth_control_{end}']:.0f}" for end in ("low", "high"))
    assert re.search(rf"^its range +{low} to {high} %, which holds 80 % of 8 draws", text, re.MULTILINE)
    assert "64 draws" in command("run", bench)[1]
    status, out, err = command("run", bench, "--samples=0")
    assert (status, err) == (0, "")
    assert re.search(r"^its range +not computed; --samples draws the unknown inputs *$", out, re.MULTILINE)
    assert "samples" not in json.loads(command("run", bench, "--samples=0", "--json")[1])
    refused("run", bench, "--samples=1", fragments=("--samples 1",))


def test_run_tells_the_rate_for_a_height(command, refused, bench):
    scenario = ws.load(bench)
    status, out, err = command("run", bench, "--height=24 cm", "--samples=8")
    assert (status, err) == (0, "")
    assert re.search(r"For 24 cm: a spray of [\d.]+ mg/L \(", out)
    assert "as a drench of 4 fl oz: " in out  # the file speaks of quarts
    assert "mL" not in out
    assert (
        "as a drench of 118 mL: "
        in command("run", bench, "--height=24 cm", "--units=metric", "--samples=0")[1]
    )
    told = json.loads(command("run", bench, "--height=24 cm", "--samples=0", "--json")[1])
    rate, equal = told["for_height"]
    assert rate["concentration"] == ws.rate_for(scenario, "24 cm").concentration
    assert equal["same_control"] == ws.as_drench(scenario, "4 fl oz").same_control
    assert rate["low"] is None
    out = command("run", bench, "--height=7 cm", "--samples=0")[1]
    assert "cannot be reached" in out
    json.loads(command("run", bench, "--height=7 cm", "--samples=0", "--json")[1])
    refused("run", bench, "--height=3 kg", fragments=("--height '3 kg'",))


def test_run_tells_the_rate_for_a_height_in_weather(command, bench):
    when = ("--weather=piedmont", "--time=2026-05-16T15:00", "--samples=0", "--json")
    told = json.loads(command("run", bench, "--height=24 cm", *when)[1])
    weather = ws.read_weather("piedmont")
    rate, equal = told["for_height"]
    assert (
        rate["concentration"]
        == ws.rate_for(ws.load(bench), "24 cm", weather, "2026-05-16T15:00").concentration
    )
    assert equal["same_control"] > 0.0
    late = command("run", bench, "--height=7 cm", "--weather=piedmont", "--time=2026-05-16T15:00")[1]
    assert "cannot be reached" in late


@pytest.mark.parametrize(
    ("text", "fragments"),
    [
        ('[air]\nrelative_humidity = "-10 %"', ["mine.toml, line 2: ", "'-10 %'", "1 % to 100 %"]),
        ("a = " + "[" * 5000 + "]" * 5000, ["mine.toml: tables or arrays are nested too deep"]),
        (f"[air]\nrelative_humidity = {'9' * 400}", ["mine.toml, line 2: ", "999...", "is not a number"]),
        (f"[air]\nrelative_humidity = {'9' * 5000}", ["mine.toml: this is not TOML"]),
        (f"[air]\nspeed = '{'9' * 4000} m/s'", ["mine.toml, line 2: ", "has 4004 characters, 80 are read"]),
        (f"{'a' * 5000} = 1", ["aaa...", "unknown section"]),
        ('[air]\ntemperature = "300 degC"', ["'300 degC'", "-10 degC to 50 degC"]),
        ('[air]\ntemprature = "24 degC"', ["'air.temprature'", "did you mean 'air.temperature'"]),
        ('[air]\ntemperature = "24 m"', ["wrong dimension"]),
        ("[air]\ntemperature = 24", ["no unit", "'24 degC'"]),
        ("[air", ["not TOML"]),
        ("\x00", ["not TOML"]),
        ('[canopy]\nplant_density = "400 / m^2"', ["pots"]),
    ],
)
def test_scenarios_that_are_refused(refused, tmp_path, text, fragments):
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    refused("run", "mine.toml", fragments=("wetspan: mine.toml", *fragments))
    refused("validate", "mine.toml", fragments=("wetspan: mine.toml", *fragments))


def test_sprays_that_are_refused(refused, bench, tmp_path):
    (tmp_path / "mine.toml").touch()
    refused("run", fragments=("FILE", "--help"))
    refused("run", "min.toml", fragments=("no such file", "there is 'mine.toml'"))
    refused("run", tmp_path, fragments=("cannot be read",))
    refused("run", bench, "--time=2026-05-14T15:00", fragments=("without weather",))
    refused("run", bench, "--weather=miami", fragments=("without a time",))
    refused("run", bench, "--weather=miami", "--time=noon", fragments=("'noon' is not a time",))
    for day in ("2026-05-14", "20260514"):
        refused(
            "run",
            bench,
            "--weather=miami",
            f"--time={day}",
            fragments=(f"--time '{day}' is not a day and a time of day such as 2026-05-14T15:00",),
        )
    refused("run", bench, "--picture=x.jpeg", fragments=(".png, .svg, .pdf",))


def test_what_cannot_be_followed_is_status_1(command, bench, monkeypatch):
    def fail(*_):
        raise IntegrationError("the wet span could not be followed beyond 3 s")

    monkeypatch.setattr("wetspan.commands.run.simulate", fail)
    assert command("run", bench) == (1, "", "wetspan: the wet span could not be followed beyond 3 s\n")


def test_titles_that_a_screen_cannot_show(tmp_path):
    ws.Scenario(title="Café 菊").save(tmp_path / "mine.toml")
    narrow = os.environ | {"PYTHONIOENCODING": "ascii"}
    text = as_a_process("run", "mine.toml", cwd=tmp_path, env=narrow)
    assert (text.returncode, text.stderr) == (0, "")
    assert text.stdout.startswith("Caf? ?: spray")
    document = as_a_process("run", "mine.toml", "--json", cwd=tmp_path, env=narrow)
    assert json.loads(document.stdout)["title"] == "Café 菊"


def test_titles_are_printed_as_they_are(command, tmp_path):
    title = "House [3] [/bold] :seedling: [red]"
    ws.Scenario(title=title).save(tmp_path / "mine.toml")
    assert command("run", "mine.toml")[1].startswith(f"{title}: spray")


# --- files and inputs --------------------------------------------------------------------------------------


def test_validate(command, bench, tmp_path):
    status, out, err = command("validate", bench)
    assert (status, err) == (0, "")
    assert out.startswith(f"{bench}: good; 3 of {len(TABLE)} inputs differ from their defaults\n")
    assert "  house.sprayed_share = 25 percent (default 60 percent)\n" in out
    (tmp_path / "bad.toml").write_text("air = 3", encoding="utf-8")
    (tmp_path / "worse.toml").write_text("aire = 3", encoding="utf-8")
    (tmp_path / "empty.toml").touch()
    status, out, err = command("validate", "bad.toml", "empty.toml", "worse.toml")  # all are looked at
    assert status == 2
    assert out.splitlines() == [f"empty.toml: good; 0 of {len(TABLE)} inputs differ from their defaults"]
    assert [line.split(": ")[1] for line in err.splitlines()] == ["bad.toml, line 1", "worse.toml, line 1"]


def test_parameters(command, refused):
    status, out, err = command("parameters")
    assert (status, err) == (0, "")
    for key in TABLE:
        assert re.search(rf"^{re.escape(key)} ", out, re.MULTILINE)
    assert max(len(line) for line in out.splitlines()) <= 118
    assert re.search(
        r"^leaf\.width +5 cm +0\.2 to 50 cm +1\.3 +D +", command("parameters", "leaf")[1], re.MULTILINE
    )
    assert "air.speed" not in command("parameters", "leaf")[1]
    (line,) = json.loads(command("parameters", "leaf.width", "--json")[1])
    assert (line["key"], line["default"], line["unit"], line["grade"]) == ("leaf.width", 5.0, "cm", "D")
    assert len(json.loads(command("parameters", "--json")[1])) == len(TABLE)
    jsonschema.Draft202012Validator.check_schema(json.loads(command("parameters", "--schema")[1]))
    refused("parameters", "leaff", fragments=("did you mean 'leaf'?",))
    refused("parameters", "leaf.wdth", fragments=("did you mean 'leaf.width'?",))


def test_help_and_version(command, refused):
    status, out, err = command("--version")
    assert (status, out, err) == (0, f"wetspan {ws.__version__}\n", "")
    for arguments in ([], ["day"], ["run"], ["validate"], ["parameters"]):
        status, out, err = command(*arguments, "--help")
        assert (status, err) == (0, "")
        assert out.startswith("usage: wetspan")
        if arguments != ["validate"] and arguments != ["parameters"]:
            assert "not a prescription" in " ".join(out.split())
    refused(fragments=("COMMAND", "--help"))
    refused("dya", fragments=("invalid choice: 'dya'",))


# --- as a process ------------------------------------------------------------------------------------------


def test_exit_statuses_of_a_process(bench, tmp_path):
    good = as_a_process("run", bench, "--json", cwd=tmp_path)
    assert (good.returncode, good.stderr) == (0, "")
    assert json.loads(good.stdout)["status"] == "dry"
    bad = as_a_process("run", "nothing.toml", cwd=tmp_path)
    assert (bad.returncode, bad.stdout) == (2, "")
    assert bad.stderr == "wetspan: nothing.toml: there is no such file\n"


@pytest.mark.skipif(os.name == "nt", reason="pipes and signals of POSIX")
def test_a_reader_that_goes_leaves_no_traces(tmp_path):
    command = [sys.executable, "-m", "wetspan", "parameters"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=tmp_path) as run:
        run.stdout.close()
        assert run.stderr.read() == b""
        assert run.wait(timeout=100) == 1


@pytest.mark.skipif(os.name == "nt", reason="no SIGINT to send")
def test_an_interrupt_leaves_no_traces(interrupted):
    code = (
        "from wetspan.command_line import main\nprint('ready', flush=True)\n"
        "raise SystemExit(main(['day', '--samples=100000']))"
    )
    assert interrupted(code) == (130, "", "")


def test_every_error_of_a_file_is_told_with_its_line(command, tmp_path):
    text = """title = 3
crop_file = "none.toml"
[air]
temperature = "24 C"  # a coulomb
relative_humidity = 60
speed = "1,5 m/s"

[leaf]
wdth = "5 cm"
width = "5 cm"

[leef]
width = 1
"""
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    for arguments in (["validate", "mine.toml"], ["run", "mine.toml"], ["bench", "mine.toml"]):
        status, out, err = command(*arguments)
        assert (status, out) == (2, "")
        told = err.splitlines()
        assert [line.split(": ")[1] for line in told] == [
            f"mine.toml, line {number}" for number in (1, 2, 4, 5, 6, 9, 12)
        ]
        for line, fragment in zip(
            told,
            ["title", "no such file", "degC", "above 1", "did you mean 1.5?", "leaf.width", "'leaf'"],
            strict=True,
        ):
            assert fragment in line


# --- a calibrated crop -------------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def crop_text() -> str:
    key = next(key for key, row in TABLE.items() if row.section == "crop" and row.kind == "number")
    row = TABLE[key]
    values = {key: row.standard * 0.75}
    return Crop("my mum", values, np.array([[0.04]]), "paclobutrazol", "trials", date(2026, 5, 14)).to_toml()


def test_a_calibrated_crop_beside_a_scenario(command, bench, crop_text, tmp_path):
    (tmp_path / "my.toml").write_text(crop_text, encoding="utf-8")
    crop = ws.load_crop("my.toml")
    grown = ws.load(bench).replace(crop)
    status, out, err = command("run", bench, "--crop", "my.toml", "--samples=0", "--json")
    assert (status, err) == (0, "")
    assert json.loads(out)["growth_control"] == ws.simulate(grown).growth_control
    assert json.loads(out)["growth_control"] != ws.simulate(ws.load(bench)).growth_control
    status, out, err = command("day", bench, "--crop", "my.toml", *QUICK, "--json")
    assert (status, err) == (0, "")
    assert len({row["growth_control"] for row in json.loads(out)["times"]}) > 1
    (tmp_path / "named.toml").write_text("crop_file = 'my.toml'\n", encoding="utf-8")
    assert dict(ws.load("named.toml")) == dict(ws.Scenario().replace(crop))
    (key,) = crop
    (tmp_path / "own.toml").write_text(ws.Scenario({key: 1.1 * crop[key]}).to_toml(), encoding="utf-8")
    status, out, err = command("run", "own.toml", "--crop", "my.toml", "--samples=0")
    assert status == 0
    assert err.startswith(f"wetspan: {key} = {grown.show(key)} from my.toml, in place of the scenario's ")


def test_crops_that_are_refused(command, refused, bench, crop_text, tmp_path):
    (tmp_path / "my.toml").write_text(crop_text, encoding="utf-8")
    status, out, err = command("validate", "my.toml")
    assert (status, err) == (0, "")
    assert out.startswith("my.toml: good; the calibrated crop 'my mum'")
    for alone in ("run", "day", "bench"):
        refused(alone, "my.toml", fragments=("my.toml: this is a calibrated crop, no scenario", "--crop"))
    refused("run", bench, "--crop", bench, fragments=("this is no calibrated crop",))
    refused("run", bench, "--crop", "m.toml", fragments=("m.toml: there is no such file",))
    line = crop_text[: crop_text.index("date = ")].count("\n") + 1
    for old, new, fragment in (
        ("format = 3", "format = 2", "calibrated by an earlier version (format 2, this one reads 3)"),
        ("format = 3\n", "", "calibrated by an earlier version"),
        ("format = 3", "format = 9", "calibrated by another version (format 9"),
        ("date = 2026-05-14", "date = 'May'", f"my.toml, line {line}: date = 'May' is not a date"),
    ):
        assert old in crop_text
        (tmp_path / "my.toml").write_text(crop_text.replace(old, new), encoding="utf-8")
        refused("run", bench, "--crop", "my.toml", fragments=(fragment,))
        refused("validate", "my.toml", fragments=(fragment,))


# --- what goes wrong outside --------------------------------------------------------------------------------


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_is_one_line(tmp_path):
    for arguments in (["parameters"], ["mix", "--target=30 mg/L", "--volume=10 L", "--json"], ["--help"]):
        with Path("/dev/full").open("w") as full:
            command = [sys.executable, "-m", "wetspan", *arguments]
            ended = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
        assert ended.returncode == 2
        assert ended.stderr == "wetspan: standard output cannot be written (No space left on device)\n"
    with pytest.raises(ws.InputError, match="/dev/full: cannot be written"):
        ws.Scenario({"air.speed": 0.2}).save("/dev/full")


def test_a_closed_output_is_one_line(monkeypatch, capsys):
    monkeypatch.setattr(sys, "stdout", None)
    assert command_line.main(["parameters"]) == 2
    assert capsys.readouterr().err == "wetspan: standard output is closed\n"


def test_warnings_that_are_errors_are_one_line(refused, tmp_path):
    file = tmp_path / "dry.toml"
    file.write_text('[liquid]\nhumectant = "5 %"\n')
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        refused("run", file, "--samples=0", fragments=("liquid.humectant is above zero", "liquid.kappa"))


def test_a_file_that_cannot_be_written_leaves_the_one_before(tmp_path, monkeypatch):
    path = tmp_path / "mine.toml"
    ws.Scenario(title="before").save(path)

    def full(self, *arguments, **others):
        with self.open("w") as file:
            file.write("half")
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Path, "write_text", full)
    with pytest.raises(ws.InputError, match="No space left"):
        ws.Scenario(title="after").save(path)
    assert ws.load(path).title == "before"
    assert list(tmp_path.iterdir()) == [path]
    with pytest.raises(ws.InputError, match=r"there is no folder .*make it first"):
        ws.Scenario().save(tmp_path / "no" / "mine.toml")


def test_a_backend_that_does_not_exist_is_no_matter(tmp_path):
    bogus = os.environ | {"MPLBACKEND": "bogus"}
    for arguments in (["mix", "--target=30 mg/L", "--volume=10 L"], ["jug", "--days=2", "--picture=jug.png"]):
        ended = as_a_process(*arguments, cwd=tmp_path, env=bogus)
        assert (ended.returncode, ended.stderr) == (0, "")


def test_what_needs_no_heavy_library_loads_none():
    loads = {"pint", "scipy"}  # pint may load it
    if version("pint").startswith("0.24"):
        loads |= {"pandas", "xarray"}  # so does an older pint
    loaded = (
        "import sys\nfrom wetspan.command_line import main\n"
        "try:\n    main({arguments})\nexcept SystemExit:\n    pass\n"
        "heavy = {{'pandas', 'xarray', 'scipy', 'statsmodels', 'pvlib', 'matplotlib', 'pint'}} - set({but})\n"
        "sys.exit(' '.join(heavy & {{name.split('.')[0] for name in sys.modules}}) or 0)"
    )
    for arguments, but in (
        (["--help"], []),
        (["--version"], []),
        (["mix", "--target=30 mg/L", "--volume=10 L"], loads),
    ):
        code = loaded.format(arguments=arguments, but=but)
        ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
        assert (ended.returncode, ended.stderr) == (0, "")
    code = "import sys, wetspan; sys.exit('pandas' in sys.modules or 'numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_names_are_offered_from_where_they_are():
    assert set(ws.__all__) == set(ws._FROM)
    for name in ws.__all__:
        assert getattr(ws, name) is getattr(sys.modules[ws._FROM[name]], name)
    assert callable(ws.batch)
    assert callable(ws.why)
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = ws.nothing


def test_keywords_of_python_are_told_as_options():
    names = {"units": "--unit", "time_zone": "--time-zone", "samples": "--samples", "constants": "--constant"}
    names["typical"] = "--typical"
    for said, told in (
        ("did you mean units={'temperature': 'degF'}?", "did you mean --unit 'temperature=degF'?"),
        ("constants['shortwave']: 'x' is", "--constant shortwave='x' is"),
        ("has no UTC offset; give time_zone=, such as", "has no UTC offset; give --time-zone, such as"),
        ("give time_zone='UTC-05:00'; else", "give --time-zone 'UTC-05:00'; else"),
        ("samples = 1 is not", "--samples 1 is not"),
        ("units has no 'temperature'; give", "--unit has no 'temperature'; give"),
        ("x.units = 3 stays", "x.units = 3 stays"),
        ("combined here, give typical=True", "combined here, give --typical yes"),
    ):
        assert parser.as_options(said, names) == told


def test_weather_and_trials_are_validated_too(command, tmp_path):
    (tmp_path / "logger.csv").write_text(CROP, encoding="utf-8")
    status, out, err = command("validate", "logger.csv", *STATED, "--time-zone=UTC-05:00")
    assert (status, err) == (0, "")
    assert out.startswith("logger.csv: good; ")
    assert re.search(
        r"\n  Readings: \d+ to \d+ degC, \d+ to \d+ % relative humidity, light \d+ to \d+ W/m2", out
    )
    assert command("validate", "piedmont")[1].startswith("piedmont: good; ")
    (tmp_path / "logger.csv").write_text(CROP.replace("18.0", "x").replace("27.0", "2,7"), encoding="utf-8")
    status, out, err = command("validate", "logger.csv", *STATED, "--time-zone=UTC-05:00")
    assert (status, out) == (2, "")
    assert [line.split(": ")[1].split(",")[1] for line in err.splitlines()] == [f" line {n}" for n in (4, 5)]
    rows = [f"{i},{'untreated' if i % 2 else '30 mg/L'},{15 + i % 3}" for i in range(1, 21)]
    sheet = "\n".join(["plant,treatment,height_cm", *rows])
    (tmp_path / "trial.csv").write_text(sheet, encoding="utf-8")
    status, out, err = command("validate", "trial.csv")
    assert (status, err) == (0, "")
    assert out.startswith("trial.csv: good; a trial of 20 plants, 2 treatments with the check")
    (tmp_path / "own.csv").write_text(sheet.replace("height_cm", "Height (cm)"), encoding="utf-8")
    assert command("validate", "own.csv")[1].startswith("own.csv: good; a trial of 20 plants")
    broken = sheet.replace("\n3,untreated,15", "\n3,untreated,high").replace("\n6,30 mg/L,15", "\n6,,1x")
    (tmp_path / "trial.csv").write_text(broken, encoding="utf-8")
    for arguments in (["validate", "trial.csv"], ["trial", "read", "trial.csv"]):
        status, out, err = command(*arguments)
        assert (status, out) == (2, "")
        assert re.findall(r"trial\.csv, line (\d+): (\w+)", err) == [
            ("7", "treatment"), ("4", "height_cm"), ("7", "height_cm"),
        ]  # fmt: skip


def test_an_option_is_not_given_two_values() -> None:
    command = parser.Parser(prog="wetspan")
    command.add_argument("--date")
    command.add_argument("--also", action="append")
    assert command.parse_args(["--date", "1", "--date", "1"]).date == "1"
    assert command.parse_args(["--also", "1", "--also", "2"]).also == ["1", "2"]
    with pytest.raises(SystemExit) as left:
        command.parse_args(["--date", "1", "--date", "2"])
    assert left.value.code == 2


def test_advice_names_options_as_they_are_written() -> None:
    names = {"spreads": "--spread", "changes": "--change", "check": "--check"}
    told = parser.as_options("give spreads={'crop.half_amount': 2} for", names)
    assert told == "give --spread crop.half_amount=2 for"
    told = parser.as_options("give changes={'low': {'application.concentration': '30 mg/L'}}", names)
    assert told == "give --change 'low: application.concentration=30 mg/L'"
    assert parser.as_options("name it with check=...", names) == "name it with --check NAME"


def test_messages_do_not_go_to_standard_output_where_standard_error_is_closed():
    told = subprocess.run(
        ["/bin/sh", "-c", '"$0" -m wetspan run nowhere.toml 2>&-', sys.executable],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (told.returncode, told.stdout) == (2, "")


def test_the_jug_names_its_own_option(command):
    status, _, err = command("jug", "--temperature", "25")
    assert status == 2
    assert err == "wetspan: --temperature '25' has no unit; write for example '20 degC'\n"


def test_the_bench_names_its_own_option(command):
    status, _, err = command("bench", "--volume-per-pot", "4")
    assert (status, err.split(" has no unit")[0]) == (2, "wetspan: --volume-per-pot '4'")
