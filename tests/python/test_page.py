"""`wetspan page`: the page with a scenario filled in, where the package has one."""

import json
import re
from importlib.resources import files

import pytest
import wetspan as ws
import wetspan.page
from wetspan.command_line import main
from wetspan.page import _data, _table, page, texts


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


def test_the_built_page_is_of_this_library_and_carries_the_cautions():
    if not (files("wetspan") / "page.html").is_file():
        pytest.skip("this build of the package has no page")
    text = page()
    assert ws.CAUTIONS in text
    assert not re.search(r'(src|href)="|https?://(?!www\.w3\.org/)', re.sub(r'id="wasm">[^<]*', "", text))
