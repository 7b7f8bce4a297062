"""Pictures: drawn, labelled with units, and holding what was computed."""

import struct
import xml.etree.ElementTree as ET

import numpy as np
import pytest
import wetspan as ws
from wetspan import plots
from wetspan.errors import InputError


def texts(axes) -> list[str]:
    legend = axes.get_legend()
    return [text.get_text() for text in legend.get_texts()] if legend else []


def test_a_day(day):
    figure = plots.plot_day(day)
    above, below, light = figure.axes
    assert above.get_ylabel() == "wet after the spray [min]"
    assert below.get_ylabel() == "shorter than untreated [%]"
    assert light.get_ylabel() == "light at the crop [W/m²]"
    assert below.get_xlabel() == "time of spraying, 2026-05-16, clock UTC-05:00"
    assert above.get_title(loc="left") == day.attrs["title"]
    assert texts(above) == ["leaves, 80 % of draws", "leaves", "stems"]
    assert set(texts(below)) == {"through leaves", "through stems", "through roots", "80 % of draws"}
    leaves = next(line for line in above.lines if line.get_label() == "leaves")
    assert leaves.get_ydata() == pytest.approx(day["wet_time"].values / 60)
    heights = np.sum([[bar.get_height() for bar in bars] for bars in below.containers], axis=0)
    assert heights == pytest.approx(100 * day["growth_control"].values)
    tops = [bar.get_y() + bar.get_height() for bar in below.containers[-1]]  # one upon the other
    assert tops == pytest.approx(100 * day["growth_control"].values)
    for axes in (above, below):
        assert axes.get_ylim()[0] == 0.0
    for axes, name, factor in ((above, "wet_time_high", 1 / 60), (below, "growth_control_high", 100)):
        assert axes.get_ylim()[1] > 1.1 * factor * float(day[name].max())  # room for the legend


def test_leaves_that_stay_wet_are_marked(day):
    some = day.copy(deep=True)
    some["wet_time"][2] = some["wet_time_high"][2] = np.inf
    above = plots.plot_day(some).axes[0]
    assert "leaves not dry" in texts(above)
    assert np.isfinite(above.get_ylim()).all()
    marks = next(line for line in above.lines if line.get_label() == "leaves not dry")
    assert len(marks.get_xdata()) == 1
    assert (marks.get_ydata() < above.get_ylim()[1]).all()


CASES = {
    "dries": {},
    "drench": {"application.method": "drench"},
    "water": {"application.concentration": 0.0},
    "never dries": {"air.relative_humidity": 1.0, "air.shortwave": 0.0, "house.enclosed": False},
}


@pytest.mark.parametrize("changes", CASES.values(), ids=CASES)
def test_one_spray(example, changes):
    outcome = ws.simulate(example.replace(changes))
    figure = plots.plot_outcome(outcome)
    above, below, humidity = figure.axes
    assert above.get_ylabel() == "share [%]"
    assert below.get_ylabel() == "temperature [°C]"
    assert humidity.get_ylabel() == "relative humidity of the air [%]"
    assert below.get_xlabel() == "time since the spray [min]"
    said = [text.get_text() for text in above.texts]
    if outcome.status == "nothing wet":
        assert said == ["Nothing is wetted: no course to draw."]
    elif outcome.status == "dry":
        assert said == [f" leaves dry after {outcome.wet_time / 60:.0f} min"]
    else:
        assert said == []
    assert np.ptp(below.get_ylim()) >= 1.0
    figure.canvas.draw()


@pytest.mark.parametrize("end", ["12:00", "13:00"])
@pytest.mark.parametrize("changes", [{}, CASES["drench"], CASES["water"]], ids=["spray", "drench", "water"])
def test_short_days(example, piedmont, changes, end):
    day = ws.compare_times(
        example.replace(changes), piedmont, "2026-05-16T12:00", f"2026-05-16T{end}", "1h", samples=2
    )
    figure = plots.plot_day(day)
    figure.canvas.draw()
    widths = [bar.get_width() for bars in figure.axes[1].containers for bar in bars]
    assert widths == pytest.approx([0.7 / 24] * len(widths))  # days on the axis


def test_several_days_say_so(example, piedmont):
    days = ws.compare_times(example, piedmont, "2026-05-16T12:00", "2026-05-18T12:00", "24h")
    below = plots.plot_day(days).axes[1]
    assert below.get_xlabel() == "time of spraying, 2026-05-16 to 2026-05-18, clock UTC-05:00"


def test_files(tmp_path, day, example):
    figure = plots.plot_day(day)
    plots.save(figure, tmp_path / "day.png")
    head = (tmp_path / "day.png").read_bytes()[:24]
    assert head[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">II", head[16:24]) == (1200, 960)
    plots.save(figure, str(tmp_path / "day.SVG"))
    assert ET.parse(tmp_path / "day.SVG").getroot().tag.endswith("svg")
    plots.save(figure, tmp_path / "day.pdf")
    assert (tmp_path / "day.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("name", "fragment"),
    [("day.bmp", ".png, .svg, .pdf"), ("day", ".png, .svg, .pdf"), ("no/such/day.png", "no folder")],
)
def test_files_that_cannot_be(tmp_path, day, name, fragment):
    with pytest.raises(InputError, match=fragment):
        plots.save(plots.plot_day(day), tmp_path / name)
    with pytest.raises(InputError, match=fragment):
        plots.check_path(tmp_path / name)
    (tmp_path / "folder.png").mkdir()
    with pytest.raises(InputError, match="cannot be written"):
        plots.save(plots.plot_day(day), tmp_path / "folder.png")
