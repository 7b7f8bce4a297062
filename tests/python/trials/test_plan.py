"""Plans: enough plants, the promised power, fair and repeatable layouts, sheets that read back."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from refusal import refused
from scipy import stats
from wetspan.errors import InputError
from wetspan.trials import plan_trial
from wetspan.trials.compare import dunnett_critical, trend_contrast

RATES = {"low": "15 mg/L", "middle": "30 mg/L", "high": "60 mg/L"}


def simulated_power(plan, means, trials, contrasts, critical):
    """Share of simulated trials, on the plan's own layout with strong block effects, where |t| > critical."""
    random = np.random.default_rng(9)
    names = [plan.check, *plan.treatments]
    treatment = np.array([names.index(name) for name in plan.layout["treatment"]])
    design = (treatment[:, None] == np.arange(len(names))).astype(float)
    block = plan.layout["block"].to_numpy()
    design = np.column_stack([design, (block[:, None] == np.arange(2, plan.blocks + 1)).astype(float)])
    solve, shift = np.linalg.pinv(design), 0.05 * (block - block.mean())
    heights = means[treatment] + shift + plan.cv * random.standard_normal((trials, len(treatment)))
    estimates = heights @ solve.T
    s2 = ((heights - estimates @ design.T) ** 2).sum(axis=1) / plan.df
    weights = np.zeros(design.shape[1])
    weights[: len(names)] = contrasts
    t = estimates @ weights / np.sqrt(s2 * (weights @ np.linalg.inv(design.T @ design) @ weights))
    return float(np.mean(np.abs(t) > critical))


@pytest.mark.parametrize("options", [{}, {"design": "blocked"}, {"design": "blocked", "more_check": True}])
def test_planned_dunnett_trials_have_the_power_they_promise(options):
    plan = plan_trial(rates=RATES, cv=0.1, difference=0.15, seed=3, **options)
    assert plan.power >= 0.8
    means = np.array([1.0, 1.0, 0.85, 1.0])  # one treatment acts
    ratio = plan.plants / (plan.plants + plan.check_plants)
    correlation = np.full((3, 3), ratio) + (1 - ratio) * np.eye(3)
    critical = dunnett_critical(correlation, plan.df)
    found = simulated_power(plan, means, 8000, np.array([-1.0, 0.0, 1.0, 0.0]), critical)
    assert found == pytest.approx(plan.power, abs=0.014)  # 3 standard errors


def test_planned_trend_trials_have_the_power_they_promise():
    plan = plan_trial(rates=RATES, cv=0.1, difference=0.12, test="trend", design="blocked", seed=3)
    assert plan.power >= 0.8
    means = 1 - 0.12 * np.arange(4) / 3
    critical = float(stats.t.isf(0.025, plan.df))
    assert simulated_power(plan, means, 8000, trend_contrast(3), critical) == pytest.approx(
        plan.power, abs=0.014
    )


def test_one_plant_fewer_would_not_do():
    for options in ({}, {"design": "blocked"}, {"more_check": True}, {"test": "trend"}):
        plan = plan_trial(["a", "b", "c"], cv=0.12, seed=1, **options)
        fewer = plan_trial(["a", "b", "c"], cv=0.12, seed=1, plants=plan.plants - 1, **options)
        assert fewer.power < 0.8 <= plan.power


def test_two_groups_need_what_the_two_sample_t_test_needs():
    """One treatment: Dunnett's test is Student's; statsmodels solves the same plan."""
    from statsmodels.stats.power import TTestIndPower

    plan = plan_trial(["a"], cv=0.1, difference=0.1, seed=1)
    assert plan.plants == int(np.ceil(TTestIndPower().solve_power(1.0, power=0.8, alpha=0.05)))
    assert plan.power == pytest.approx(TTestIndPower().power(1.0, plan.plants, 0.05), abs=1e-9)


def test_what_the_plan_asks_of_plants():
    usual = plan_trial(["a", "b"], cv=0.1, seed=1)
    assert plan_trial(["a", "b"], cv=0.2, seed=1).plants > 3 * usual.plants
    assert plan_trial(["a", "b"], cv=0.1, difference=0.2, seed=1).plants < usual.plants
    assert plan_trial(["a", "b"], cv=0.1, power=0.9, seed=1).plants > usual.plants
    assert plan_trial(list("abcdef"), cv=0.1, seed=1).plants > usual.plants
    assert plan_trial(["a", "b"], cv=0.1, test="trend", seed=1).plants < usual.plants


def test_detectable_difference_is_found_with_the_wanted_power():
    plan = plan_trial(["a", "b", "c"], cv=0.1, plants=6, seed=1)
    again = plan_trial(["a", "b", "c"], cv=0.1, plants=6, difference=plan.detectable, seed=1)
    assert again.power == pytest.approx(0.8, abs=1e-4)
    assert "That is less than the power of 0.80 asked for" in plan.text


def test_more_plants_on_the_check():
    plan = plan_trial(list("abcd"), cv=0.1, more_check=True, seed=1)
    assert plan.check_plants == 2 * plan.plants
    assert plan.layout["treatment"].value_counts()["untreated"] == plan.check_plants


@pytest.mark.parametrize("gradient", ["rows", "columns"])
def test_every_block_holds_every_treatment_and_lies_across_the_gradient(gradient):
    plan = plan_trial(rates=RATES, cv=0.08, design="blocked", bench=(9, 14), gradient=gradient, seed=5)
    along = "column" if gradient == "columns" else "row"
    spans = []
    for _, block in plan.layout.groupby("block"):
        assert sorted(block["treatment"]) == sorted([plan.check, *plan.treatments])
        spans.append(block[along].max() - block[along].min())
    assert max(spans) <= 1
    means = plan.layout.groupby("block")[along].mean()
    assert means.is_monotonic_increasing


def test_layout_is_complete_and_inside_the_border():
    plan = plan_trial(rates=RATES, cv=0.1, bench=(10, 20), seed=5)
    layout = plan.layout
    assert list(layout.columns) == ["plant", "row", "column", "block", "treatment"]
    assert list(layout["plant"]) == list(range(1, len(layout) + 1))
    assert not layout.duplicated(["row", "column"]).any()
    assert layout["row"].between(2, 9).all()
    assert layout["column"].between(2, 19).all()
    assert set(plan.guards).isdisjoint(zip(layout["row"], layout["column"], strict=True))
    open_bench = plan_trial(rates=RATES, cv=0.1, bench=(8, 18), border=False, seed=5)
    assert open_bench.layout["row"].min() == 1


def test_every_trial_plant_has_neighbours_on_all_sides():
    for design in ("randomised", "blocked"):
        plan = plan_trial(rates=RATES, cv=0.1, bench=(10, 20), design=design, seed=5)
        trial = set(zip(plan.layout["row"], plan.layout["column"], strict=True))
        taken = trial | set(plan.guards)
        assert all((r + i, c + j) in taken for r, c in trial for i in (-1, 0, 1) for j in (-1, 0, 1))


def test_the_draw_is_repeatable_and_fair():
    one, same, other = (plan_trial(["a", "b"], cv=0.1, seed=seed) for seed in (11, 11, 12))
    pd.testing.assert_frame_equal(one.layout, same.layout)
    assert not one.layout.equals(other.layout)
    drawn = plan_trial(["a", "b"], cv=0.1)
    pd.testing.assert_frame_equal(plan_trial(["a", "b"], cv=0.1, seed=drawn.seed).layout, drawn.layout)
    draws = [plan_trial(["a", "b"], cv=0.1, plants=4, seed=seed).layout["treatment"] for seed in range(900)]
    on_first = pd.Series([draw.iloc[0] for draw in draws]).value_counts()
    assert stats.chisquare(on_first).pvalue > 0.001


def test_rates_in_all_their_forms():
    by_name = plan_trial(rates={"high": "60 mg/L", "low": 15}, rate_unit="mg/L", cv=0.1, seed=1)
    assert (by_name.treatments, by_name.rates, by_name.rate_unit) == (
        ("low", "high"),
        {"low": 15, "high": 60},
        "mg/L",
    )
    listed = plan_trial(rates=["30 ppm", "10 ppm"], cv=0.1, seed=1)
    assert (listed.treatments, listed.rate_unit) == (("10 ppm", "30 ppm"), "ppm")
    with_check = plan_trial(["untreated", "a"], cv=0.1, seed=1)
    assert with_check.treatments == ("a",)


@pytest.mark.parametrize(
    "unit",
    ["mg/L", "g / L", "ppm", "%", "percent", "mL/L", "fl oz/gal", "mM", "mg", "mL", "mg/pot", "ug per plant"],
)
def test_rates_are_concentrations_or_doses_per_pot(unit):
    plan = plan_trial(rates=[f"2 {unit}", f"4 {unit}"], cv=0.1, plants=4, seed=1)
    assert (plan.rate_unit, list(plan.rates.values())) == (unit, [2, 4])
    bare = plan_trial(rates={"low": 2, "high": 4}, rate_unit=unit, cv=0.1, plants=4, seed=1)
    assert bare.rate_unit == unit


@pytest.mark.parametrize(
    "rate", ["15", "15 furlong", "15 rad", "15 mg/m^2", "15 1/day", "15 mg/L/pot", "15 no"]
)
def test_other_rates_are_refused_with_what_to_use_instead(rate):
    refused(
        lambda: plan_trial(rates=[rate], cv=0.1, seed=1),
        f"rate of '{rate}'",
        rate.removeprefix("15").strip() or "without a unit",
        "neither a concentration, such as mg/L, nor a dose per pot",
        "--treatment",
    )


def test_entry_sheet_reads_back(tmp_path):
    plan = plan_trial(rates=RATES, cv=0.1, difference=0.2, design="blocked", seed=2)
    path = tmp_path / "sheet.csv"
    plan.save_csv(path)
    sheet = pd.read_csv(path)
    assert list(sheet.columns) == [
        "plant", "row", "column", "block", "treatment", "rate_mg_per_L", "height_cm", "alive", "notes",
    ]  # fmt: skip
    assert set(sheet.loc[sheet["treatment"] == "untreated", "rate_mg_per_L"]) == {0}
    random = np.random.default_rng(1)
    sheet["height_cm"] = (24 - 0.1 * sheet["rate_mg_per_L"] + random.normal(0, 1, len(sheet))).round(1)
    sheet.to_csv(path, index=False)
    result = plan.read(path)
    assert result.position == ("block",)
    assert result.rate_unit == "mg/L"
    assert result.treatments == plan.treatments
    assert result.table["control"].is_monotonic_increasing


def test_sheet_has_the_columns_asked_for(tmp_path):
    plan = plan_trial(["a"], cv=0.1, seed=2, height_unit="in", also=["width_cm", "flower date"])
    plan.save_csv(tmp_path / "sheet.csv")
    sheet = pd.read_csv(tmp_path / "sheet.csv")
    assert list(sheet.columns)[5:] == ["height_in", "width_cm", "flower date", "alive", "notes"]
    assert "also has width_cm, flower date" in plan.text
    random = np.random.default_rng(3)
    for name, mean in (("height_in", 10), ("width_cm", 40)):
        sheet[name] = mean * (1 - 0.3 * (sheet["treatment"] == "a")) + random.normal(0, 0.1, len(sheet))
    assert plan.read(sheet).height_unit == "in"
    width = plan.read(sheet, height="width_cm")
    assert width.height_unit == "cm"
    assert width.table.loc["a", "control"] == pytest.approx(0.3, abs=0.01)
    plan.save_sheet(tmp_path / "sheet.html")
    page = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert "<th>Height [in]</th><th>width_cm</th><th>flower date</th><th>Alive</th>" in page


def test_unfilled_sheet_is_refused(tmp_path):
    plan = plan_trial(["a"], cv=0.1, seed=2)
    plan.save_csv(tmp_path / "sheet.csv")
    with pytest.raises(InputError, match="check 'untreated' has fewer than two measured plants"):
        plan.read(tmp_path / "sheet.csv")


def test_text_says_what_was_planned_and_how_to_be_careful():
    plan = plan_trial(rates=RATES, cv=0.1, design="blocked", seed=2)
    for words in (
        f"{plan.plants} plants of each treatment",
        f"probability {plan.power:.2f}",
        "label",
        "protective equipment",
        "re-entry",
        "few plants first",
        "licensed practice decides",
    ):
        assert words in plan.text


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"treatments": None}, "either treatments"),
        ({"rates": {"a": "5 mg/L"}}, "either treatments"),
        ({"treatments": "ab"}, "a list of names"),
        ({"treatments": ["untreated"]}, "besides the check"),
        ({"treatments": ["a", " a"]}, "'a' is given twice"),
        ({"treatments": None, "rates": {"a": "weak"}}, "does not begin with a number; write for example"),
        ({"treatments": None, "rates": {"a": "-5 mg/L"}}, "-5 is not allowed"),
        ({"treatments": None, "rates": {"a": "5 mg/L", "b": "5 ppm"}}, "different units"),
        ({"treatments": None, "rates": {"a": "5 mg/L", "b": "5 mg/L"}}, "the same rate"),
        ({"treatments": None, "rates": {"water": "0 mg/L"}}, "has rate 0"),
        ({"cv": 10}, "cv=10: a share between 0 and 1"),
        ({"difference": 0}, "difference=0"),
        ({"power": 0.01}, "above alpha"),
        ({"test": "dunnet"}, "did you mean 'dunnett'"),
        ({"design": "random"}, "did you mean 'randomised'"),
        ({"gradient": "north"}, "columns and rows"),
        ({"height_unit": "hand"}, "height_unit='hand': allowed are mm, cm, m, in, ft"),
        ({"also": "width_cm"}, "also='width_cm': a list of headings is needed"),
        ({"also": ["Row"]}, "also: 'Row' is already a column of the sheet"),
        ({"also": ["w", "w"]}, "also: 'w' is already a column"),
        ({"also": [" "]}, "also: a heading is blank"),
        ({"also": ["height_2"]}, "'height_2' would be read as the height"),
        ({"also": ["rate_2"]}, "'rate_2' would be read as the rate"),
        ({"also": list("abcdefg")}, "7 columns; at most 6 fit"),
        ({"plants": 1}, "at least 2 plants"),
        ({"plants": 2.5}, "whole number"),
        ({"bench": 12}, "give \\(rows, columns\\)"),
        ({"bench": (2, 20)}, "at least 3 rows"),
        ({"bench": (5, 6)}, "has 12 places inside its border: plants=4 fits and has power"),
        ({"bench": (3, 3)}, "not even 2 plants per treatment fit"),
        ({"difference": 0.001, "cv": 0.3}, "more than 1000 plants"),
    ],
)
def test_bad_plans_are_refused_in_one_line(change, message):
    with pytest.raises(InputError, match=message) as refused:
        plan_trial(**{"treatments": ["a", "b"], "cv": 0.1, "seed": 1} | change)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("design", ["randomised", "blocked"])
def test_a_plan_says_how_to_treat_and_what_one_application_is(design):
    plan = plan_trial(["a", "b"], cv=0.08, design=design, seed=1)
    assert "apart from all others, let them dry, and only then set them out as drawn" in plan.text
    assert f"one application, not {plan.plants}" in plan.text
    assert ("treat each block anew" in plan.text) == (design == "blocked")
