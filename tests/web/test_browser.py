"""The page in a browser without a network: it follows its sliders, agrees with Python, refuses in words."""

import math
import os
import shutil
from pathlib import Path

import pytest
import wetspan as ws
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect, sync_playwright
from wetspan.nights import CAUTION
from wetspan.residue import about_times

PAGE = Path(os.environ["WETSPAN_WEB"]) / "wetspan.html"
#: A logger of a stated formula: every half hour of 36 hours from midnight on, month before day, Fahrenheit.
LOGGER = "\n".join(
    ["Invented logger", "", "#;Date Time;Temp (°F);RH (%)"]
    + [
        f"{i};05/{14 + i // 48}/2026 {i % 48 // 2:02d}:{i % 2 * 30:02d};"
        f"{70 - 8 * math.cos(i / 48 * 6.283):.1f};{75 + 15 * math.cos(i / 48 * 6.283):.1f}"
        for i in range(72)
    ]
)
WHOLE = "window.page.ranges && window.page.ranges.influences"


@pytest.fixture(scope="module")
def browser():
    with sync_playwright() as playwright:
        path = shutil.which("chromium")
        # --no-sandbox: the gate may run as root
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture
def page(browser):
    context = browser.new_context(offline=True, locale="en-GB", viewport={"width": 1366, "height": 768})
    page = context.new_page()
    errors = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on(
        "request", lambda asked: asked.url.startswith(("file:", "blob:", "data:")) or errors.append(asked.url)
    )
    page.goto(PAGE.as_uri())
    page.wait_for_function("window.page && window.page.answered", timeout=60_000)
    yield page
    assert errors == []
    context.close()


def settled(page: Page) -> None:
    """Wait for the ranges that belong to what is asked now."""
    page.wait_for_timeout(300)
    page.wait_for_function(WHOLE, timeout=120_000)


def set_slider(page: Page, name: str, value: str) -> None:
    page.evaluate(
        "([id, value]) => { const s = document.getElementById(id); s.value = value;"
        " s.dispatchEvent(new Event('input', {bubbles: true})); }",
        [name, value],
    )


def kept(page: Page, button: str) -> str:
    page.evaluate("document.getElementById('file-text').value = ''")
    page.get_by_role("button", name=button).click()
    page.wait_for_function("document.getElementById('file-text').value !== ''")
    return page.input_value("#file-text")


def kept_in(page: Page, tmp_path: Path) -> tuple[ws.Scenario, ws.Weather]:
    """Return the scenario and the day that the page gives as files."""
    (tmp_path / "scenario.toml").write_text(kept(page, "Copy as scenario file"), encoding="utf-8")
    (tmp_path / "day.csv").write_text(kept(page, "Copy the day as CSV"), encoding="utf-8")
    scenario = ws.load(tmp_path / "scenario.toml")
    weather = ws.read_weather(
        tmp_path / "day.csv",
        columns={
            "time": "time",
            "temperature": "temperature K",
            "relative_humidity": "relative humidity 1",
            "shortwave": "shortwave W/m^2",
            "wind_speed": "wind speed m/s",
            "pressure": "pressure Pa",
        },
        units={
            "temperature": "K",
            "relative_humidity": "1",
            "shortwave": "W/m^2",
            "wind_speed": "m/s",
            "pressure": "Pa",
        },
        time_zone="UTC",
        label="instant",
        exposure="crop",
    )
    return scenario, weather


def test_answers_are_those_of_python(page, tmp_path):
    for slider, value in {
        "s-application-volume_rate": "0.3",
        "s-droplets-dv50": "220",
        "s-air-speed": "0.15",
        "s-canopy-leaf_area": "900",
        "s-warmest": "31",
        "s-humidity": "80",
    }.items():
        set_slider(page, slider, value)
    settled(page)
    told = page.evaluate("window.page.answered.one.numbers")
    scenario, weather = kept_in(page, tmp_path)
    expected, steady = (
        ws.simulate(scenario, weather, "2026-05-16T14:00")._numbers,
        ws.simulate(scenario).wet_time,
    )
    for name, value in expected.items():
        assert told[name] == pytest.approx(value, rel=1e-9, abs=1e-15), name
    print(f"wet time on the page {told['wet_time']!r} s, in Python {expected['wet_time']!r} s")
    # the scenario alone has the air of that moment, unchanging
    assert steady == pytest.approx(expected["wet_time"], rel=0.1)
    minutes = f"{told['wet_time'] / 60:.0f} min"
    expect(page.locator("#sentences strong").first).to_have_text(minutes)


@pytest.mark.parametrize(
    "sliders",
    [{}, {"s-humidity": "97", "s-noon": "150", "s-air-speed": "0.04", "s-application-volume_rate": "0.5"}],
)
def test_wet_nights_and_ends_of_the_residue_are_those_of_python(page, tmp_path, sliders):
    for slider, value in sliders.items():
        set_slider(page, slider, value)
    settled(page)
    told = page.evaluate("(({sprays, nights, ends}) => ({sprays, nights, ends}))(window.page.answered)")
    scenario, weather = kept_in(page, tmp_path)
    day = ws.compare_times(scenario, weather, start="2026-05-16T06:00", end="2026-05-16T20:00", every="30min")
    wet = [spray["numbers"]["wet_time"] for spray in told["sprays"]]
    assert wet == pytest.approx(day["wet_time"].values, rel=1e-9)
    assert [one["past"] for one in told["nights"]] == day["wet_past_sunset"].values.tolist()
    assert [one["long"] for one in told["nights"]] == day["wet_too_long"].values.tolist()
    assert any(one["past"] for one in told["nights"])
    assert not all(one["past"] for one in told["nights"])
    text = page.inner_text("#more")
    assert CAUTION in text
    page.locator("#chosen").focus()
    page.keyboard.press("End")
    expect(page.locator("#sentences")).to_contain_text("They are wet past sunset, or more than 8 h.")
    dry = day.isel(time=day["status"].values == "dry")
    fast, slow = int(dry["wet_time"].values.argmin()), int(dry["wet_time"].values.argmax())
    at_ends = dry["growth_control_at_ends"]
    ends = at_ends.isel(time=fast, drop=True) / at_ends.isel(time=slow, drop=True)
    assert [end["ratio"] for end in told["ends"]["told"]] == pytest.approx(ends.values, rel=1e-6)
    clocks = [str(dry["time"].values[i])[11:16] for i in (fast, slow)]
    assert about_times(ends, *clocks) in text


def test_units_of_the_us_give_the_same_answer_and_a_file_in_them(page, tmp_path):
    before = page.evaluate("window.page.answered.one.numbers.wet_time")
    page.get_by_label("US", exact=True).check()
    expect(page.locator("output[for=s-coolest]")).to_have_text("60.8 °F")
    set_slider(page, "s-application-volume_rate", "3")
    settled(page)
    assert page.evaluate("window.page.answered.one.numbers.wet_time") > before
    text = kept(page, "Copy as scenario file")
    assert 'volume_rate = "3 qt / (100 ft^2)"' in text
    (tmp_path / "us.toml").write_text(text, encoding="utf-8")
    given = ws.load(tmp_path / "us.toml")
    assert given["application.volume_rate"] == pytest.approx(3 * 9.46352946e-4 / (100 * 0.3048**2), rel=1e-12)


@pytest.mark.parametrize(
    ("locale", "first", "unit"),
    [("en-US", "us", "°F"), ("de-DE", "metric", "°C"), ("en-CA", "metric", "°C"), ("en", "metric", "°C")],
)
def test_units_are_those_of_the_reader_and_a_choice_is_kept(browser, locale, first, unit):
    context = browser.new_context(offline=True, locale=locale)
    page = context.new_page()
    page.goto(PAGE.as_uri())
    chosen = "document.querySelector('input[name=system]:checked').value"
    assert page.evaluate(chosen) == first
    assert unit in page.locator("output[for=s-warmest]").inner_text()
    other = {"us": "metric", "metric": "us"}[first]
    page.get_by_label(other.replace("us", "US"), exact=True).check()
    page.reload()
    assert page.evaluate(chosen) == other
    context.close()


def test_a_logger_is_read_where_it_is_dropped(page, tmp_path):
    page.evaluate(
        """text => { const files = new DataTransfer();
        files.items.add(new File([text], 'bench.csv', {type: 'text/csv'}));
        document.getElementById('drop').dispatchEvent(
            new DragEvent('drop', {bubbles: true, dataTransfer: files})); }""",
        LOGGER,
    )
    page.wait_for_function("window.page.answered.weather.temperature.length === 72")
    settled(page)
    told = page.evaluate("window.page.answered")
    assert told["weather"]["temperature"][24] == pytest.approx((78.0 - 32.0) / 1.8 + 273.15, abs=0.06)
    assert told["weather"]["shortwave"][24] == pytest.approx(400.0)  # the file has none: the made-up noon
    scenario, weather = kept_in(page, tmp_path)
    expected = ws.simulate(scenario, weather, f"2026-05-16T{told['chosen'] / 3600:02.0f}:00")
    assert told["one"]["numbers"]["wet_time"] == pytest.approx(expected.wet_time, rel=1e-9)
    page.get_by_role("button", name="Back to the made-up day").click()
    page.wait_for_function("window.page.answered.weather.temperature.length > 72")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            "time,Temp C,RH %\n2026-05-16 06:00,20,80\n2026-05-16 07:00,warm,75\n",
            ["line 3", "'warm'", "number"],
        ),
        ("time,Temp C,RH %\n2026-05-16 06:00,20,80\n2026-05-16 06:00,21,75\n", ["line 3", "increase"]),
        ("time,Temp C,RH %\n2026-05-16 06:00,20,80\n2026-05-16 12:00,21,75\n", ["line 3", "6.0 h"]),
        ("time,Temp C,RH %\n2026-05-16 06:00,200,80\n2026-05-16 07:00,21,75\n", ["line 2", "unit"]),
        ("time,Temp,RH %\n2026-05-16 06:00,20,80\n2026-05-16 07:00,21,75\n", ["unit", "Temp"]),
        ("time,Temp C,RH %\n2026-05-16 06:00,20\n", ["line 2", "2 fields", "3"]),
        ("nothing of the kind\n", ["headings"]),
        ("time|Temp C|RH %\n2026-05-16 06:00|20|80\n", ["headings", "'|' between them"]),
        ("\0\1\2", ["not a text file"]),
    ],
)
def test_a_bad_file_is_refused_in_one_line(page, text, words):
    before = page.evaluate("window.page.answered.one.numbers.wet_time")
    page.set_input_files("#logger", {"name": "bad.csv", "mimeType": "text/csv", "buffer": text.encode()})
    expect(page.locator("#file-refusal")).to_be_visible()
    told = page.inner_text("#file-refusal")
    assert "bad.csv" in told
    assert "\n" not in told
    for word in words:
        assert word in told
    assert page.evaluate("window.page.answered.one.numbers.wet_time") == before


def test_inputs_that_contradict_are_refused_in_the_words_of_the_library(page):
    page.get_by_text("All inputs").click()
    page.locator("#f-leaf-receding_angle").fill("100")
    page.locator("#f-leaf-receding_angle").blur()
    expect(page.locator("#refusal")).to_contain_text("leaf.receding_angle is larger than leaf.contact_angle")
    page.get_by_role("button", name="Back to the start").click()
    expect(page.locator("#refusal")).to_be_hidden()


def test_what_was_meant_is_asked_in_the_unit_that_the_page_shows(page):
    page.get_by_text("All inputs").click()
    page.locator("#f-canopy-bench_width").fill("250")
    page.locator("#f-canopy-bench_width").blur()
    expect(page.locator("#refusal")).to_contain_text("did you mean '250 cm'?")
    page.get_by_role("button", name="Back to the start").click()


def test_keyboard_alone_moves_the_answer(page):
    before = page.evaluate("window.page.answered.one.numbers.wet_time")
    page.locator("#s-application-volume_rate").focus()
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    page.wait_for_function(f"window.page.answered.one.numbers.wet_time > {before}")
    page.locator("#chosen").focus()
    page.keyboard.press("Home")
    expect(page.locator("#chosen-told")).to_have_text("06:00")
    expect(page.locator("#history-at")).to_have_text("06:00")


@pytest.mark.parametrize("width", [390, 1366])
def test_nothing_serious_for_screen_readers(page, width):
    page.set_viewport_size({"width": width, "height": 800})
    settled(page)
    page.get_by_text("All inputs").click()
    page.get_by_text("What this is, and what it is not").click()
    found = Axe().run(page).response["violations"]
    print([(one["id"], one["impact"], len(one["nodes"])) for one in found])
    assert [one["id"] for one in found if one["impact"] in ("serious", "critical")] == []


def test_cautions_are_there_and_printed(page, tmp_path):
    expect(page.locator(".cautions")).to_have_text(ws.CAUTIONS)
    settled(page)
    page.pdf(path=tmp_path / "page.pdf")
    assert (tmp_path / "page.pdf").read_bytes().startswith(b"%PDF")
    page.emulate_media(media="print")
    assert page.locator(".cautions").is_visible()
    assert not page.locator("#drop").is_visible()


def test_pictures_follow_a_slider_at_once(page):
    page.wait_for_timeout(500)
    page.evaluate("window.page.measured.length = 0")
    for step in range(40):
        set_slider(page, "s-air-speed", str(0.1 + 0.02 * step))
        page.wait_for_timeout(120)
    times = sorted(page.evaluate("window.page.measured"))
    median, worst = times[len(times) // 2], times[-1]
    print(f"slider to pictures: median {median:.0f} ms, worst {worst:.0f} ms of {len(times)}")
    assert median < 1000.0  # what a loaded machine may take
