"""Pages to print: well-formed, whole in themselves, every section there, numbers those of the result."""

import base64
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
import wetspan as ws
from wetspan import command_line, printed, report
from wetspan.errors import InputError
from wetspan.outcome import entries
from wetspan.parameters import TABLE
from wetspan.printed import assumed
from wetspan.sensitivity import control_range
from wetspan.trials.wording import describe

OF_ALL = ["answer", "pictures", "numbers", "assumed", "unsure", "cautions"]
SVG = "{http://www.w3.org/2000/svg}svg"
SMALL = {"rows": 3, "columns": 4}


class Page:
    """A page as a reader of its markup sees it. It parses as XML, so every element is closed."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.root = ET.fromstring(text)

    def section(self, name: str) -> ET.Element:
        (found,) = self.root.findall(f".//section[@id='{name}']")
        return found

    def words(self, name: str) -> str:
        return words(self.section(name))

    def table(self, name: str, place: int = 0) -> list[list[str]]:
        table = self.section(name).findall(".//table")[place]
        return [[words(cell) for cell in row] for row in table.findall(".//tr")]


def words(element: ET.Element) -> str:
    return " ".join("".join(element.itertext()).split())


def page_of(result: object, **more: object) -> Page:
    return Page(printed.page(result, **more))


@pytest.fixture(scope="module", autouse=True)
def fewer_draws():
    """Rank inputs by fewer draws than a page does, which is half of its time."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(assumed, "_DRAWS", 256)
        yield


@pytest.fixture(scope="module")
def outcome(example: ws.Scenario) -> ws.Outcome:
    return ws.simulate(example)


@pytest.fixture(scope="module")
def spread(example: ws.Scenario):
    return control_range(example, samples=8)


@pytest.fixture(scope="module")
def of_spray(outcome, spread) -> Page:
    return page_of(outcome, when="2026-05-16 15:00; <by hand> & watched", spread=spread)


@pytest.fixture(scope="module")
def of_day(day) -> Page:
    return page_of(day)


@pytest.fixture(scope="module")
def found(example, piedmont):
    return ws.season(example, piedmont, "2026-05-01", "2026-05-04", [6, 10, 14])


@pytest.fixture(scope="module")
def of_season(found) -> Page:
    return page_of(found, below="15 min")


@pytest.fixture(scope="module")
def bench(example) -> ws.BenchResult:
    return ws.spray_bench(example, {"by": "wand", "pace": "0.3 m/s"}, layout=SMALL)


@pytest.fixture(scope="module")
def of_bench(bench) -> Page:
    return page_of(bench)


@pytest.fixture(scope="module")
def trial() -> ws.TrialResult:
    random = np.random.default_rng(2)
    plan = ws.plan_trial(rates=["5 mg/L", "10 mg/L", "20 mg/L"], cv=0.1, plants=6, seed=1)
    table = plan.layout.assign(rate_mg_per_L=plan.layout["treatment"].map({plan.check: 0.0, **plan.rates}))
    table["height_cm"] = 25 - 0.4 * table["rate_mg_per_L"] + random.normal(0, 1.5, len(table))
    return ws.read_trial(table, rate="rate_mg_per_L")


@pytest.fixture(scope="module")
def of_trial(trial) -> Page:
    return page_of(trial, control=0.2)


PAGES = ["of_spray", "of_day", "of_season", "of_bench", "of_trial"]
SPRAYS = ["of_spray", "of_day", "of_bench"]


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_whole_in_itself(name, request):
    page = request.getfixturevalue(name)
    assert page.text.startswith("<!DOCTYPE html>\n")
    assert page.root.attrib["lang"] == "en"
    assert words(page.root.find("head/title"))
    assert not page.root.findall(".//script") + page.root.findall(".//link") + page.root.findall(".//iframe")
    for element in page.root.iter():
        for attribute in ("src", "href", "srcset", "action", "data"):
            assert re.match(r"#|data:|$", element.attrib.get(attribute, "")), element.attrib
    assert not re.search(r"https?://|url\(|@import", page.text)
    names = [element.attrib["id"] for element in page.root.iter() if "id" in element.attrib]
    assert len(set(names)) == len(names)
    links = [element.attrib["href"] for element in page.root.iter("a")]
    assert {link.removeprefix("#") for link in links} <= set(names)


@pytest.mark.parametrize("name", PAGES)
def test_a_page_has_its_sections_in_order(name, request):
    page = request.getfixturevalue(name)
    sections = [section.attrib["id"] for section in page.root.iter("section")]
    assert sections == [*OF_ALL, *(["record"] if name in SPRAYS else [])]
    for section in page.root.iter("section"):
        heading = section.attrib["aria-labelledby"]
        assert section.findall(f"h2[@id='{heading}']")
    assert len(list(page.root.iter("h1"))) == 1
    for table in page.root.iter("table"):
        assert table.findall("caption")
        assert table.findall("thead//th")
    assert ws.CAUTIONS in page.words("cautions")
    style = page.root.find("head/style").text
    assert "@page { margin" in style  # no size of its own: A4 and US Letter alike
    assert "@media print" in style
    assert "max-width: 36rem" in style


@pytest.mark.parametrize("name", PAGES)
def test_pictures_are_data_and_told_in_words(name, request):
    page = request.getfixturevalue(name)
    figures = page.section("pictures").findall("figure")
    assert len(figures) >= 2
    for figure in figures:
        image = figure.find("img")
        assert len(image.attrib["alt"]) > 40
        assert words(figure.find("figcaption"))
        kind, _, data = image.attrib["src"].partition(",")
        assert kind == "data:image/svg+xml;base64"
        drawn = ET.fromstring(base64.b64decode(data))
        assert drawn.tag == SVG
        for element in drawn.iter():
            for attribute, value in element.attrib.items():
                if attribute.endswith("href"):
                    assert value.startswith(("#", "data:"))


def plain(text: str) -> str:
    """Text of a page as the terminal spells it: numbers and signs."""
    return text.replace("\u202f", " ").replace("²", "2").replace("°", "deg").replace("µ", "u")


def test_numbers_of_a_spray(of_spray, outcome, spread):
    answer = plain(of_spray.words("answer"))
    assert f"Leaves stay wet for {outcome.wet_time / 60:.0f} min" in answer
    ends = f"range {100 * spread.low:.0f} to {100 * spread.high:.0f} %"
    assert f"{100 * outcome.growth_control:.0f} % shorter than untreated ones ({ends})" in answer
    for name, share in entries(outcome.split["share"]):
        if share >= 0.005:
            assert f"{name} {100 * share:.0f} %" in answer
    rows = {row[0]: row[1] for row in of_spray.table("numbers")[1:]}
    air = report.air_when_sprayed(outcome)
    assert rows["air at the crop"].startswith(f"{air['air_temperature'] - 273.15:.1f} °C")
    uptake = dict(entries(outcome.uptake))
    assert f"leaf {1e3 * uptake['leaf']:.2f} µg" in rows["uptake per plant"]
    assert f"{spread.samples} draws" in plain(of_spray.words("unsure"))
    assert "is owed to the wet time if" in of_spray.words("unsure")  # both ends of the residue
    assert "what was computed" in of_spray.words("record").lower()
    assert "<by hand> & watched" in words(of_spray.root.find(".//header"))  # text, no markup


def test_numbers_of_a_day(of_day, day):
    answers, unsure = report.advised(day)
    assert plain(of_day.words("answer")).startswith(f"The answer {' '.join(answers)}")
    for sentence in unsure:
        assert sentence in plain(of_day.words("unsure"))
    rows = of_day.table("numbers")
    head = rows[0]
    assert len(rows) == 1 + day.sizes["time"]
    for i, row in enumerate(rows[1:]):
        at = day.isel(time=i)
        assert row[0] == str(at["time"].values)[11:16]
        wet = float(row[head.index("leaves wet, min")].rstrip("*"))
        assert wet == pytest.approx(float(at["wet_time"]) / 60, rel=0.05)
        told = plain(row[head.index("growth control")])
        assert told.startswith(f"{100 * float(at['growth_control']):.0f} %")
        by_leaves = float(row[head.index("uptake by leaves, µg per plant")])
        assert by_leaves == pytest.approx(1e3 * float(at["uptake"].sel(site="leaf")), rel=0.05)


def test_numbers_of_a_season(of_season, found):
    shares, windows = ws.share_below(found, "15 min"), ws.best_windows(found)
    answers, unsure = report.season_advised(found, shares, windows)
    assert plain(of_season.words("answer")).startswith(f"The answer {' '.join(answers)}")
    assert " ".join([*unsure, found.attrs["read_for"]]) in plain(of_season.words("unsure"))
    rows = of_season.table("numbers")
    assert [row[0] for row in rows[1:]] == ["06:00", "10:00", "14:00"]
    column = next(i for i, heading in enumerate(rows[0]) if heading.startswith("days below"))
    told = [float(plain(row[column]).split()[0]) for row in rows[1:]]
    assert told == pytest.approx(100 * shares["share"][0].values, abs=0.5)


def test_numbers_of_a_bench(of_bench, bench):
    answer = plain(of_bench.words("answer"))
    assert f"Height varies by {100 * bench.evenness.height:.1f} %" in answer
    assert f"{100 * bench.evenness.outside:.0f} % of the plants" in answer
    rows = of_bench.table("numbers")[1:]
    evens = [bench.evenness, *(lever.evenness for lever in bench.levers)]
    assert [plain(row[1]) for row in rows] == [f"{100 * even.height:.1f} %" for even in evens]
    assert [plain(row[4]) for row in rows] == [f"{100 * even.mean_height:.0f} %" for even in evens]
    assert bench.given == {"wand.pace", "layout.rows", "layout.columns"}
    keys = {words(code) for code in of_bench.section("assumed").findall(".//th/code")}
    assert "wand.period" in keys
    assert not keys & bench.given
    assert not any(key.startswith(("boom.", "drench.")) for key in keys)


def test_numbers_of_a_trial(of_trial, trial):
    text = plain(" ".join(of_trial.words(name) for name in ("answer", "unsure")))
    rate = trial.next_rate(0.2)
    for line in [*describe(trial), rate.text]:
        if "For 25 %" not in line:
            assert " ".join(line.removeprefix("- ").split()) in text
    rows = of_trial.table("numbers")[1:]
    assert [row[0] for row in rows] == list(trial.table.index)
    control = [float(plain(row[3]).split()[0]) for row in rows[1:]]
    assert control == pytest.approx(100 * trial.table["control"].iloc[1:], abs=0.5)


def test_every_input_that_was_not_given_is_told_with_its_evidence(of_spray, outcome):
    given = set(outcome.scenario.changed())
    folded = of_spray.section("assumed").findall("details")
    told = {words(code): row for row in folded[1].iter("tr") for code in row.findall("th/code")}
    assert set(told) == set(TABLE) - given
    assert {words(code) for code in folded[0].findall(".//th/code")} == given
    for key, row in told.items():
        _, value, evidence, factor, source = (plain(words(cell)) for cell in row)
        assert evidence.startswith(f"{TABLE[key].grade}, ")
        assert ("another" in evidence) == (TABLE[key].measured_on == "another")
        assert value
        assert source
        if TABLE[key].spread > 1.0:
            assert factor == f"a factor of {TABLE[key].spread:.3g}"
    assert "what differs" not in words(folded[2])
    assert words(folded[2].find("pre")) == " ".join(outcome.scenario.to_toml().split())


def test_inputs_that_matter_are_the_largest_influences(of_spray, outcome):
    matter, evidence = assumed.that_matter(outcome.scenario, {})
    assert evidence in of_spray.words("assumed").replace("\u202f", " ")
    shares = [float(row.matters.split()[0]) for row in matter]
    assert shares == sorted(shares, reverse=True)
    assert 1 <= len(matter) <= 6
    assert not {row.key for row in matter} & set(outcome.scenario.changed())
    assert matter[0].key == "uptake.mobile_share"  # of the example: by far the widest unknown
    shown = [words(code) for code in of_spray.section("assumed").find("table").findall(".//th/code")]
    assert shown == [row.key for row in matter]


def test_the_record_leaves_room_for_what_was_done(of_spray, outcome, example):
    rows = {row[0]: row for row in of_spray.table("record")[1:]}
    assert all(row[2] == "" for row in rows.values())
    asked = " ".join(rows)
    for what in (
        "Date",
        "Done by",
        "crop",
        "registration number",
        "Amount mixed",
        "Area",
        "Weather",
        "Re-entry",
    ):
        assert what in asked
    computed = {name.split()[0]: plain(row[1]) for name, row in rows.items()}
    assert computed["Date"] == "2026-05-16 15:00"
    assert computed["Strength"] == example.show("application.concentration")
    assert computed["Volume"] == example.show("application.volume_rate")
    assert computed["Product"] == computed["Re-entry"] == ""
    humidity = report.air_when_sprayed(outcome)["relative_humidity"]
    assert f"{100 * humidity:.0f} % humidity" in computed["Weather"]


def test_weather_of_a_day_is_no_record(of_day):
    rows = {row[0].split()[0]: row for row in of_day.table("record")[1:]}
    assert rows["Weather"][1:] == ["", ""]


def test_a_drench_has_its_own_pictures(example):
    drench = ws.simulate(example.replace({"application.method": "drench"}))
    page = page_of(drench)
    assert "No leaf is wetted" in page.words("answer")
    alts = [image.attrib["alt"] for image in page.root.iter("img")]
    assert len(alts) == 2
    assert "substrate 100.0" in alts[0]
    assert "its range" not in page.words("numbers")  # none was computed
    assert "nozzle at" not in page.words("record")


def test_a_rewetting_at_a_time_of_day(example, piedmont):
    wetted = example.replace({"rewetting.volume_rate": "0.1 L/m^2", "rewetting.at": "07:00"})
    page = page_of(ws.simulate(wetted, piedmont, "2026-05-16T18:00"))
    assert "re-wetting" in page.words("numbers")
    assert page.section("assumed").findall("table")  # what matters is ranked without the clock too


def test_files_and_what_is_refused(tmp_path, outcome):
    ws.write_report(outcome, tmp_path / "page.html")
    text = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert text == printed.page(outcome)  # the same page of the same result
    for name, fragment in (
        ("page.pdf", ".html or .htm"),
        ("page", ".html or .htm"),
        ("no/page.html", "no folder"),
    ):
        with pytest.raises(InputError, match=fragment):
            ws.write_report(outcome, tmp_path / name)
    for wrong in (3, {"a": 1}, outcome.history):
        with pytest.raises(InputError, match=r"write_report is for what ws\.simulate"):
            ws.write_report(wrong, tmp_path / "page.html")


def test_units_are_those_of_the_command(example):
    page = page_of(ws.simulate(example.in_units("us")))
    assert "°F" in page.words("numbers")
    assert "°C" not in page.words("numbers")
    assert "qt/100 ft²" in page.words("record")


@pytest.mark.parametrize("case", ["run", "day", "season", "bench", "trial"])
def test_the_option_of_every_command(case, tmp_path, monkeypatch, capsys, examples, trial):
    monkeypatch.chdir(tmp_path)
    trial.plants.assign(height_cm=trial.plants["height"])[["plant", "treatment", "height_cm"]].to_csv("t.csv")
    file = str(examples / "afternoon_bench.toml")
    asked = {
        "run": ["run", file, "--samples=4", "--weather=piedmont", "--time=2026-05-16T15:00"],
        "day": ["day", "--every=7h", "--samples=0"],
        "season": ["season", "--from=2026-05-01", "--to=2026-05-02", "--hours=8-9"],
        "bench": ["bench", file],
        "trial": ["trial", "read", "t.csv"],
    }[case]
    assert command_line.main([*asked, "--report=no/out.html"]) == 2
    assert "no folder" in capsys.readouterr().err
    assert command_line.main([*asked, "--report=out.html"]) == 0
    page = Page(Path("out.html").read_text(encoding="utf-8"))
    out = " ".join(capsys.readouterr().out.split())
    first = plain(words(page.section("answer").findall("p")[0]))
    if case in ("day", "season"):
        assert first in out
        assert "typical year" in words(page.root.find(".//header"))
    if case == "run":
        assert page.table("record")[1][1] == "2026-05-16 15:00, clock UTC-05:00"
