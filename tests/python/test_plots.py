"""Pictures: drawn, labelled with units, and holding what was computed."""

import struct
import xml.etree.ElementTree as ET

import matplotlib as mpl
import numpy as np
import pytest
import wetspan as ws
import xarray as xr
from matplotlib.figure import Figure
from refusal import refused
from wetspan import drawing, plots, spray
from wetspan.errors import InputError


def texts(axes) -> list[str]:
    legend = axes.get_legend()
    return [text.get_text() for text in legend.get_texts()] if legend else []


def test_a_day(day):
    figure = plots.plot_day(day)
    above, below, light = figure.axes
    assert above.get_ylabel() == "wet after the spray [min], log scale"
    assert below.get_ylabel() == "shorter than untreated [%]"
    assert light.get_ylabel() == "light at the crop [W/m²], dotted"
    assert below.get_xlabel() == "time of spraying, 2026-05-16, clock UTC-05:00"
    assert above.get_title(loc="left") == day.attrs["title"]
    marks = "wet past sunset, or more than 8 h"
    assert texts(above) == ["leaves, 80 % of draws", "leaves", "stems", marks]
    assert set(texts(below)) == {"through leaves", "through stems", "through roots", "80 % of draws"}
    leaves = next(line for line in above.lines if line.get_label() == "leaves")
    assert leaves.get_ydata() == pytest.approx(day["wet_time"].values / 60)
    heights = np.sum([[bar.get_height() for bar in bars] for bars in below.containers], axis=0)
    assert heights == pytest.approx(100 * day["growth_control"].values)
    tops = [bar.get_y() + bar.get_height() for bar in below.containers[-1]]  # one upon the other
    assert tops == pytest.approx(100 * day["growth_control"].values)
    assert below.get_ylim()[0] == 0.0
    assert 0.0 < above.get_ylim()[0] < float(day["wet_time_low"].min()) / 60  # noon is not on the axis
    printed = [float(text.get_text()) for text in above.texts]
    assert printed == pytest.approx(day["wet_time"].values / 60, rel=0.05)
    for axes, name, factor in ((above, "wet_time_high", 1 / 60), (below, "growth_control_high", 100)):
        assert axes.get_ylim()[1] > 1.1 * factor * float(day[name].max())  # room for the legend


def test_a_day_on_a_printed_page_keeps_its_width(day):
    with mpl.rc_context({"font.size": 9.0}):
        figures = [Figure(figsize=(5.1, 3.0), layout="constrained") for _ in "ab"]
        axes = [figure.subplots() for figure in figures]
        plots.plot_day(day, axes)
        for figure, panel in zip(figures, axes, strict=True):
            figure.draw_without_rendering()
            legend = panel.get_legend().get_window_extent().transformed(panel.transAxes.inverted())
            assert panel.get_position().width > 0.6  # a legend too wide for it would squeeze it
            assert legend.x0 > -0.05
    (stems,) = (line for line in axes[0].lines if line.get_label() == "stems")
    assert stems.get_ydata().max() < axes[0].get_ylim()[1] / 2.5  # below the legend's lines
    legend = axes[1].get_legend().get_window_extent().transformed(axes[1].transData.inverted())
    assert 100 * float(day["growth_control_high"].max()) < legend.y0


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
    if outcome.status == "nothing wet":
        split, heights = figure.axes
        assert [bar.get_width() for bar in split.patches][::-1][:3] == [0.0, 0.0, pytest.approx(100.0)]
        assert [text.get_text() for text in split.texts][::-1] == ["0 %", "0 %", "100 %"]
        treated = next(line for line in heights.lines if line.get_label() == "treated")
        untreated = next(line for line in heights.lines if line.get_label() == "untreated")
        shorter = 1.0 - treated.get_ydata()[-1] / untreated.get_ydata()[-1]
        assert shorter == pytest.approx(outcome.growth_control, abs=1e-9)
        figure.canvas.draw()
        return
    above, below, humidity = figure.axes
    assert above.get_ylabel() == "share [%]"
    assert below.get_ylabel() == "temperature [°C]"
    assert humidity.get_ylabel() == "relative humidity of the air [%]"
    assert below.get_xlabel() == "time since the spray [min]"
    said = [text.get_text() for text in above.texts]
    if outcome.status == "dry":
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
    assert struct.unpack(">II", head[16:24]) == (1200, 990)
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


# --- what all pictures share --------------------------------------------------------------------------------


def grey(colour: str) -> float:
    """Lightness L* by another way than the library's: linear light by numpy, then CIE 1976."""
    value = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return 116.0 * float(np.cbrt(linear @ [0.2126, 0.7152, 0.0722])) - 16.0


def test_colours_of_sites_differ_in_grey():
    assert drawing.lightness("#000000") == pytest.approx(0.0)
    assert drawing.lightness("#ffffff") == pytest.approx(100.0)
    assert drawing.lightness("#777777") == pytest.approx(50.03, abs=0.05)  # CIE 1976 of sRGB 119
    for colours in ((drawing.LEAF, drawing.STEM, drawing.ROOT), spray.impacts._COLOURS):
        steps = np.diff(sorted(map(grey, colours)))
        assert steps.min() >= drawing.LEAST_STEP
        assert [drawing.lightness(colour) for colour in colours] == pytest.approx(list(map(grey, colours)))
    assert len(set(drawing.HATCHES.values())) == len(drawing.HATCHES)


def test_lines_differ_without_colour(day):
    above = plots.plot_day(day).axes[0]
    marks = {line.get_label(): (line.get_linestyle(), line.get_marker()) for line in above.lines}
    assert marks["leaves"] == ("-", "o")
    assert marks["stems"] == ("--", "s")
    bars = {bars.get_label(): bars.patches[0].get_hatch() for bars in plots.plot_day(day).axes[1].containers}
    assert len(set(bars.values())) == 3


def under(figure) -> str:
    return figure.get_supxlabel()


def test_pictures_are_drawn_on_axes_of_ones_own(day, example, piedmont):
    outcome = ws.simulate(example)
    season = ws.season(example, piedmont, "2026-05-01", "2026-05-02", [8, 14])
    jug = ws.settle("paclobutrazol 0.4 % suspension concentrate", days=2)
    cases = [
        (2, lambda ax: ws.plot_day(day, ax=ax)),
        (2, lambda ax: ws.plot_outcome(outcome, ax=ax)),
        (1, lambda ax: plots.plot_split(outcome, ax=ax)),
        (1, lambda ax: ws.plot_season(season, ax=ax)),
        (1, lambda ax: spray.plot_impact(spray.impact_map(), ax=ax)),
        (3, lambda ax: plots.plot_jug(jug, ws.pours(jug, 2.0), ax=ax)),
        (1, lambda ax: ws.card(example).plot(ax=ax)),
    ]
    for count, draw in cases:
        figure = Figure(layout="constrained")
        own = figure.subplots(1, count)
        assert draw(own) is figure
        assert set(figure.axes) >= set(np.atleast_1d(own))
        assert all(axes.has_data() for axes in np.atleast_1d(own))
        figure.canvas.draw()
        wrong = Figure().subplots(1, count + 1)
        with pytest.raises(InputError, match=rf"draws {count} panels? \(.*\); ax has {count + 1}"):
            draw(wrong)
        with pytest.raises(InputError, match="ax is matplotlib's Axes, one for each panel"):
            draw(3)


def test_pictures_of_effects_carry_the_caution(day, example, tmp_path):
    outcome = ws.simulate(example)
    for figure in (ws.plot_day(day), ws.plot_outcome(outcome), plots.plot_split(outcome)):
        assert under(figure) == ws.cautions.SHORT_CAUTION
    figure = ws.plot_day(day)
    plots.save(figure, tmp_path / "day.svg")
    assert "<!-- An estimate, not a prescription" in (tmp_path / "day.svg").read_text(encoding="utf-8")
    own = Figure()
    own.supxlabel("my own words")
    ws.plot_day(day, ax=own.subplots(2, 1))
    assert under(own) == "my own words"


def test_a_part_of_a_day_is_refused_by_its_picture_and_its_page(tmp_path):
    """Days read again from files may lack what was left out; these ended in errors of Python."""
    times = {"start": "2026-05-16T08:00", "end": "2026-05-16T12:00", "every": "2h"}
    day = ws.compare_times(ws.Scenario(), ws.read_weather("piedmont"), **times)
    told = "is for the Dataset of ws.compare_times"
    for part, said in (
        (day.drop_vars("stem_wet_time"), "it has no stem_wet_time"),
        (day.drop_vars("split"), "it has no split"),
        (xr.Dataset(day.data_vars, day.coords), "it has no title"),
        (day.isel(time=slice(0, 0)), "its wet times are 0 along time"),
        (day.expand_dims(x=[1, 2]), "its wet times are 2 along x, 3 along time"),
    ):
        refused(lambda part=part: ws.plot_day(part), told, said)
        refused(lambda part=part: ws.write_report(part, tmp_path / "day.html"), told, said)
    refused(lambda: ws.plot_day(day.isel(time=0)), told, "one number")
    changed = day.assign_attrs(scenario="garbage = [")
    refused(lambda: ws.write_report(changed, tmp_path / "day.html"), "the scenario in the attributes")
    assert not (tmp_path / "day.html").exists()
