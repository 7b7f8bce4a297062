"""`wetspan page`: the page with a scenario filled in, where the package has one."""

import json
import re
import shutil
import subprocess
from importlib.resources import files
from pathlib import Path

import pytest
import wetspan as ws
import wetspan.page
from wetspan.command_line import main
from wetspan.page import _data, _table, page, texts
from wetspan.weather import headings


@pytest.fixture
def stand_in(tmp_path, monkeypatch):
    """Put a page without a library into the place of the built one."""
    text = (
        "<html><head><title>How long</title></head><body>"
        '<script type="application/json" id="start">{"title": "", "inputs": {}}</script>'
        f'<script type="application/json" id="table">{json.dumps(_table())}</script>'
        f'<script type="application/json" id="texts">{json.dumps(texts())}</script>'
        "</body></html>"
    )
    (tmp_path / "page.html").write_text(text, encoding="utf-8")
    monkeypatch.setattr(wetspan.page, "files", lambda _: tmp_path)
    return tmp_path / "page.html"


@pytest.mark.usefixtures("stand_in")
def test_page_starts_from_the_scenario():
    scenario = ws.Scenario({"air.speed": "0.5 m/s"}, title="</script><b> & house 3")
    text = page(scenario)
    assert text.count("</script>") == 3
    assert _data(text, "start") == {"title": scenario.title, "inputs": {"air.speed": 0.5}}
    assert "<title>&lt;/script&gt;&lt;b&gt; &amp; house 3: How long</title>" in text
    assert ws.Scenario(_data(text, "start")["inputs"], title=scenario.title) == scenario
    assert _data(page(), "start") == {"title": "", "inputs": {}}
    assert _data(page(scenario.in_units("us")), "start")["units"] == "us"


@pytest.mark.usefixtures("stand_in")
def test_command_writes_a_page_and_overwrites_none(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    ws.Scenario({"air.speed": 0.5}).save("mine.toml")
    assert main(["page", "mine.toml", "--to", "mine.html"]) == 0
    assert "mine.html" in capsys.readouterr().out
    assert _data((tmp_path / "mine.html").read_text(), "start")["inputs"] == {"air.speed": 0.5}
    assert main(["page", "--to", "mine.html"]) == 2
    assert capsys.readouterr().err == "wetspan: mine.html: is there already; --force writes over it\n"
    assert main(["page", "--to", "mine.html", "--force"]) == 0
    assert _data((tmp_path / "mine.html").read_text(), "start")["inputs"] == {}
    assert main(["page", "--to", "mine.toml"]) == 2
    assert main(["page", "--to", "nowhere/mine.html"]) == 2


def test_page_of_another_version_is_refused(stand_in):
    text = stand_in.read_text()
    for old, new in (('"leaf.width"', '"leaf.breadth"'), ("grey mould", "mould")):
        stand_in.write_text(text.replace(old, new))
        with pytest.raises(ws.InputError, match=r"another version.*nox -s web"):
            page()
    stand_in.unlink()
    with pytest.raises(ws.InputError, match=r"has no page.*nox -s web"):
        page()


WEB = Path(__file__).parents[2] / "bindings/web"
#: Headings of the air, and of much else, as loggers write them.
HEADINGS = (
    *("Temp (°C)", "Air temp, degF", "Temperature_C", "Temp High (°F)", "Temp (°C) Max", "Root zone temp"),
    *(
        "Outside Temp (°C)",
        "Ambient temp",
        "Station temperature",
        "Heater temp",
        "Temp set point",
        "Boiler temp",
    ),
    *(
        "Wet bulb temp",
        "Temperature range",
        "Leaf temp (°C)",
        "Media temp",
        "Enclosure temp",
        "Temp (high side)",
    ),
    *(
        "RH (%)",
        "Relative humidity, %",
        "Humidity (g/kg)",
        "Humidity ratio",
        "RH deficit (%)",
        "Outdoor RH (%)",
    ),
    *("Humidity target", "Specific humidity", "Humidity [kPa]", "RH low (%)", "Absolute humidity", "RH flag"),
    *(
        "Solar radiation (W/m2)",
        "Light (PAR), W/m2",
        "PAR light (W/m2)",
        "Net radiation",
        "Longwave radiation",
    ),
    *("Shortwave [W/m2]", "Diffuse irradiance", "Lamps light", "Light sum DLI", "Supplemental light"),
)


def test_page_and_python_know_the_same_words_of_headings(tmp_path):
    """What is a column of something else is written once; the page's reader takes it from Python's texts."""
    script = (WEB / "page/logger.js").read_text(encoding="utf-8")
    assert not re.search(r"wet ?\?bulb|setpoint|heating|canopy|outdoor", script)
    assert texts()["headings"] == headings.FOR_PAGE
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is not here")
    (tmp_path / "logger.mjs").write_text(script, encoding="utf-8")
    asked = {"headings": HEADINGS, "others": texts()["headings"]}
    program = (
        f"import {{ isAbout }} from './logger.mjs'; const asked = {json.dumps(asked)};"
        "const keys = ['temperature', 'relative_humidity', 'shortwave'];"
        "const told = asked.headings.map(one => keys.map(key => isAbout(key, one, asked.others)));"
        "console.log(JSON.stringify(told));"
    )
    (tmp_path / "ask.mjs").write_text(program, encoding="utf-8")
    told = json.loads(subprocess.run([node, "ask.mjs"], cwd=tmp_path, capture_output=True, check=True).stdout)
    away = re.compile(headings._ELSEWHERE["crop"])
    for heading, answers in zip(HEADINGS, told, strict=True):
        at_crop = not away.search(headings._words(heading))
        expected = [
            at_crop and headings._is_about(heading, "temperature"),
            at_crop and headings._is_about(heading, "relative_humidity"),
            at_crop
            and headings._is_about(heading, "shortwave")
            and not headings._PHOTOSYNTHETIC.search(headings._words(heading)),
        ]
        assert answers == expected, heading


def test_the_module_asks_what_was_meant_as_python_does(tmp_path):
    """50 m where a nozzle is 50 cm above the crop: both doors ask about cm."""
    with pytest.raises(ws.InputError, match="did you mean '50 cm'") as refused:
        ws.Scenario({"nozzle.height": "50 m"})
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is not here")
    for name in ("units.js", "errors.js"):
        text = (WEB / "src" / name).read_text(encoding="utf-8").replace("./errors.js", "./errors.mjs")
        (tmp_path / name.replace(".js", ".mjs")).write_text(text, encoding="utf-8")
    row = next(row for row in _table()["parameters"] if row["key"] == "nozzle.height")
    (tmp_path / "ask.mjs").write_text(
        f"import {{ valueInSi }} from './units.mjs'; const row = {json.dumps(row)};"
        "try { valueInSi(row, '50 m'); } catch (error) { console.log(error.message); }",
        encoding="utf-8",
    )
    told = subprocess.run([node, "ask.mjs"], cwd=tmp_path, capture_output=True, check=True, text=True).stdout
    assert told.strip().endswith("; did you mean '50 cm'?")
    assert str(refused.value).endswith("; did you mean '50 cm'?")


def test_the_built_page_is_of_this_library_and_carries_the_cautions():
    if not (files("wetspan") / "page.html").is_file():
        pytest.skip("this build of the package has no page")
    text = page()
    assert ws.CAUTIONS in text
    assert not re.search(r'(src|href)="|https?://(?!www\.w3\.org/)', re.sub(r'id="wasm">[^<]*', "", text))
