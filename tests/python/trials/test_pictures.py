"""Pictures and sheets: they are made for every kind of trial, and show what they should."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from matplotlib.figure import Figure
from wetspan.cautions import SHORT_CAUTION
from wetspan.drawing import lightness
from wetspan.errors import InputError
from wetspan.trials import plan_trial, plots, read_trial, sheet
from wetspan.trials.layout import codes

PLANS = {
    "blocked": {"rates": ["5 mg/L", "10 mg/L"], "design": "blocked", "bench": (8, 12), "plants": 12},
    "open": {"treatments": ["a", "b"], "border": False, "plants": 5},
    "many": {"treatments": [f"t{i}" for i in range(30)], "plants": 2},
    "odd names": {"treatments": ["<b>5 & 6 $x_1$</b>", "x" * 60], "plants": 4},
}


@pytest.fixture(scope="module", params=PLANS)
def plan(request):
    return plan_trial(cv=0.1, seed=1, **PLANS[request.param])


@pytest.fixture(scope="module")
def result():
    random = np.random.default_rng(2)
    plan = plan_trial(
        rates=["5 mg/L", "10 mg/L", "20 mg/L", "40 mg/L"], cv=0.1, plants=8, design="blocked", seed=1
    )
    table = plan.layout.assign(rate_mg_per_L=plan.layout["treatment"].map({plan.check: 0.0, **plan.rates}))
    table["height_cm"] = 25 - 0.2 * table["rate_mg_per_L"] + random.normal(0, 1.5, len(table))
    return read_trial(table, rate="rate_mg_per_L", block="block", row="row", column="column", position="none")


def texts(figure):
    return [text.get_text() for ax in figure.axes for text in ax.texts]


def test_bench_map_marks_every_plant(plan):
    figure = plan.plot()
    figure.draw_without_rendering()
    shown = texts(figure)
    mark = codes(plan.check, plan.treatments)
    assert len(set(mark.values())) == len(mark)
    for name, code in mark.items():
        numbers = [str(n) for n in plan.layout["plant"]]
        assert shown.count(code) - numbers.count(code) == (plan.layout["treatment"] == name).sum()


@pytest.mark.parametrize("kind", ["pdf", "png", "html"])
def test_sheets_are_written(plan, tmp_path, kind):
    path = tmp_path / f"sheet.{kind}"
    plan.save_sheet(path)
    head = path.read_bytes()[:15]
    assert head.startswith({"pdf": b"%PDF", "png": b"\x89PNG", "html": b"<!doctype html>"}[kind])


def test_the_first_page_of_a_sheet_holds_its_text(plan):
    if len(plan.treatments) > 10:
        return  # whose legend alone fills the page
    figure = sheet._first_page(plan)
    figure.draw_without_rendering()
    box = figure.texts[-1].get_window_extent().transformed(figure.transFigure.inverted())
    assert box.y0 > 0.02
    assert box.x1 < 0.98


def test_html_sheet_holds_every_plant_the_map_and_the_cautions(plan, tmp_path):
    path = tmp_path / "sheet.html"
    plan.save_sheet(path)
    page = path.read_text(encoding="utf-8")
    assert page.count("<tr>") == len(plan.layout) + 1
    assert "<svg" in page
    assert "Height [cm]" in page
    assert "re-entry" in page
    assert "<b>5" not in page


def test_other_sheets_are_refused(plan, tmp_path):
    with pytest.raises(InputError, match="the sheet is written as"):
        plan.save_sheet(tmp_path / "sheet.docx")


def test_result_pictures(result, tmp_path):
    heights = result.plot()
    heights.savefig(tmp_path / "heights.png")
    assert "shorter than untreated [%]" in [ax.get_xlabel() for ax in heights.axes]
    curve = result.plot_dose_response(0.2)
    curve.savefig(tmp_path / "curve.png")
    (legend,) = [ax.get_legend() for ax in curve.axes if ax.get_legend()]
    assert any(f"{result.next_rate(0.2).rate:.3g} mg/L" in text.get_text() for text in legend.get_texts())
    checks = result.plot_diagnostics()
    checks.savefig(tmp_path / "checks.png")
    assert len(checks.axes) == 4  # three panels and the colour scale
    for figure in (heights, curve, checks):
        assert figure.get_supxlabel() == SHORT_CAUTION


def test_pictures_on_axes_of_ones_own(plan, result):
    for count, draw in (
        (1, plan.plot),
        (2, result.plot),
        (1, lambda ax: result.plot_dose_response(0.2, ax=ax)),
        (3, result.plot_diagnostics),
    ):
        own = Figure(layout="constrained")
        axes = own.subplots(1, count)
        assert draw(ax=axes) is own
        assert all(each.has_data() for each in np.atleast_1d(axes))
        with pytest.raises(InputError, match=f"ax has {count + 1}"):
            draw(ax=Figure().subplots(1, count + 1))


def test_panels_of_a_trial_apart_name_the_treatments_each(result):
    axes = [Figure().subplots() for _ in range(2)]
    result.plot(ax=axes)
    names = [[text.get_text() for text in each.get_yticklabels()] for each in axes]
    assert names[0] == names[1]
    assert names[1][1].startswith("5 mg/L")


def test_residuals_over_the_bench_read_in_grey():
    steps = np.diff([lightness(plots._LEAN(at)[:3]) for at in np.linspace(0.0, 1.0, 21)])
    assert (steps > 0.5).all()


def test_the_legend_of_a_dose_response_hides_no_plant(result):
    figure = result.plot_dose_response(0.2)
    figure.draw_without_rendering()
    panel = figure.axes[0]
    assert not panel.get_legend().get_window_extent().overlaps(panel.get_window_extent())


def test_the_legend_of_a_dose_response_fits_a_printed_page(result):
    figure = Figure(figsize=(5.1, 3.9), layout="constrained")
    result.plot_dose_response(0.2, ax=figure.subplots())
    figure.draw_without_rendering()
    assert figure.axes[0].get_legend().get_window_extent().x1 < figure.bbox.x1


def test_rates_that_are_not_reached_or_not_tested_are_marked(result):
    for control in (0.9, 0.02):
        figure = result.plot_dose_response(control)
        figure.draw_without_rendering()
        (legend,) = [ax.get_legend() for ax in figure.axes if ax.get_legend()]
        words = " ".join(text.get_text() for text in legend.get_texts())
        assert "see the warnings" in words or "not reached" in words
    result.plot_dose_response(None).draw_without_rendering()


def marks(figure, marker):
    """Where the lines of that marker stand, in the order drawn."""
    return [float(line.get_xdata()[0]) for line in figure.axes[0].lines if line.get_marker() == marker]


def within(figure, x):
    low, high = figure.axes[0].get_xlim()
    return low < x < high


@pytest.mark.parametrize("control", [0.05, 0.3, 0.45])
def test_the_rate_found_stands_in_its_place_beyond_those_tested_too(result, control):
    found, figure = result.next_rate(control), result.plot_dose_response(control)
    (x,) = marks(figure, "D")
    assert x == pytest.approx(np.log10(found.rate))
    assert within(figure, x)
    if control == 0.45:
        assert found.rate > 40


def test_a_rate_far_beyond_those_tested_is_an_arrow_off_the_scale(result):
    found, figure = result.next_rate(0.9), result.plot_dose_response(0.9)
    assert found.rate > plots.FAR * 40
    assert marks(figure, "D") == []
    assert max(marks(figure, ">")) == pytest.approx(np.log10(plots.FAR * 40))
    (legend,) = [ax.get_legend() for ax in figure.axes if ax.get_legend()]
    assert any("off the scale" in text.get_text() for text in legend.get_texts())


def test_pictures_of_the_smallest_trial():
    table = pd.DataFrame(
        {
            "treatment": ["untreated"] * 3 + ["a"] * 3,
            "rate": [0, 0, 0, 5, 5, 5],
            "height_cm": [20.0, 21, 22, 15, 16, 18],
            "row": ["back", "back", "front", "front", "back", "front"],
            "column": [1, 2, 1, 2, 3, 3],
        }
    )
    result = read_trial(table, rate="rate", row="row", column="column", position="none")
    for picture in (result.plot, result.plot_diagnostics):
        picture().draw_without_rendering()
    assert "One rate only" in result.text
    assert "curve_rate" not in result.to_xarray()
    with pytest.raises(InputError, match="two rates above zero: got 1"):
        result.plot_dose_response()
