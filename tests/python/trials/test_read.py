"""Reading trials: published analyses, what was lost, the rates, and tables that cannot be understood."""

from __future__ import annotations

import re
import time

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from wetspan.errors import InputError
from wetspan.trials import log_logistic, plan_trial, read_trial
from wetspan.trials.dose_response import RateEstimate


def trial(rates=(0, 5, 10, 20, 40), plants=8, seed=1, sigma=1.5, truth=(1.4, 30.0, 0.0, 28.0)):
    """A made-up trial: one row per plant."""
    rate = np.repeat(np.array(rates, dtype=float), plants)
    height = log_logistic(rate, *truth) + np.random.default_rng(seed).normal(0, sigma, len(rate))
    return pd.DataFrame(
        {
            "plant": np.arange(1, len(rate) + 1),
            "treatment": ["untreated" if r == 0 else f"{r:g} mg/L" for r in rate],
            "rate_mg_per_L": rate,
            "height_cm": height.round(1),
        }
    )


@pytest.fixture
def bench(raw):
    return {"table": raw("bench"), "treatment": "dose", "check": "1"}


def test_rates_that_were_not_named_are_said(tmp_path):
    data = trial()
    unused = read_trial(data)
    assert [note for note in unused.notes if "rate='rate_mg_per_L' (--rate rate_mg_per_L)" in note]
    assert unused.notes[0] in unused.text
    assert read_trial(data, rate="rate_mg_per_L").notes == ()
    assert read_trial(data.drop(columns="rate_mg_per_L").assign(rated_by="me", rate=3)).notes == ()
    assert read_trial(data, treatment="rate_mg_per_L", check="0").notes == ()
    plan = plan_trial(rates=["5 mg/L", "10 mg/L"], cv=0.1, plants=4, seed=1)
    plan.save_csv(tmp_path / "sheet.csv")
    sheet = pd.read_csv(tmp_path / "sheet.csv").assign(height_cm=np.linspace(20, 25, 12))
    assert f"Column '{plan.rate_column}' of the table was not used" in read_trial(sheet).text


def test_numbers_are_told_without_exponents():
    data = trial(rates=(0, 1000, 2500, 5000), truth=(1.2, 3000.0, 0.0, 2800.0))
    data["height_mm"] = data.pop("height_cm")
    result = read_trial(data, height="height_mm", rate="rate_mg_per_L")
    assert not re.search(r"\de[+-]\d", result.text)
    assert f"{result.check_mean:.4g}"[:3] in result.text
    data.loc[9, "height_mm"] = 4e5
    absurd = read_trial(data, height="height_mm")
    assert absurd.cv > 10
    assert not re.search(r"\de[+-]\d|inf", absurd.text)
    assert "no limits at 95 %" in absurd.text


def test_published_sums_of_squares(published, bench):
    ignored = read_trial(**bench).anova
    found = read_trial(**bench, column="column").anova
    for terms, label, table in (
        (("treatment", "residual"), "ignoring position", ignored),
        (("column",), "", found),
        (("treatment", "residual"), "after column", found),
    ):
        for term in terms:
            (row,) = published(f"bench {term} sum of squares {label}".strip())
            assert row.holds(table.loc[term, "sum_of_squares"])
            assert table.loc[term, "df"] == row.inputs["df"]


def test_a_bench_trend_that_is_ignored_hides_the_doses(bench):
    ignored, found = read_trial(**bench), read_trial(**bench, column="column")
    assert ignored.anova.loc["treatment", "p"] > 0.01
    assert found.anova.loc["treatment", "p"] < 1e-4
    assert found.sigma < ignored.sigma / 2
    shown = {
        name: (table["p"] < 0.05).sum()
        for name, table in (("ignored", ignored.table), ("found", found.table))
    }
    assert shown == {"ignored": 1, "found": 2}
    assert "Bench position (column) made a difference" in found.text
    assert "had it been ignored" in found.text
    assert any("column='column'" in note for note in ignored.notes)
    pd.testing.assert_frame_equal(found.anova_ignoring_position, ignored.anova)


def test_a_straight_gradient_takes_one_degree_of_freedom(bench):
    table = read_trial(**bench, column="column", position="linear").anova
    assert table.loc["column", "df"] == 1
    drawn_only = read_trial(**bench, column="column", row="row", position="none")
    assert drawn_only.position == ()
    assert {"row", "column"} <= set(drawn_only.measured.columns)


def test_published_dunnett_test(published, raw):
    result = read_trial(
        raw("plant_growth"), height="weight", treatment="group", check="ctrl", units={"weight": "cm"}
    )
    for row in published("plant growth difference from control"):
        assert row.holds(result.table["difference"].iloc[int(row.inputs["treatment"])])
    for row in published("plant growth Dunnett p"):
        assert row.holds(result.table["p"].iloc[int(row.inputs["treatment"])])


def test_without_position_the_table_is_scipys():
    data = trial(plants=7)
    result = read_trial(data)
    groups = [data.loc[data["treatment"] == name, "height_cm"] for name in result.table.index]
    scipy = stats.dunnett(*groups[1:], control=groups[0], rng=np.random.default_rng(1))
    interval = scipy.confidence_interval(0.95)
    assert result.table["p"].iloc[1:].to_numpy() == pytest.approx(scipy.pvalue, abs=2e-4)
    assert result.table["difference_lower"].iloc[1:].to_numpy() == pytest.approx(interval.low, abs=0.02)
    assert result.table["difference_upper"].iloc[1:].to_numpy() == pytest.approx(interval.high, abs=0.02)
    assert result.table["adjusted_mean"].to_numpy() == pytest.approx(result.table["mean"].to_numpy())
    assert result.table["control"].iloc[2] == pytest.approx(1 - groups[2].mean() / groups[0].mean())


def test_blocks_are_taken_out_also_when_plants_are_lost():
    """The block of a lost plant must not bias the treatment: adjusted means come back, plain means do not."""
    rows = [
        (f"{b}-{t}", t, b, 20 - 4 * (t == "a") + 3 * b + 0.01 * ((7 * b + 3 * i) % 5 - 2))
        for b in range(6)
        for i, t in enumerate(("untreated", "a"))
    ]
    data = pd.DataFrame(rows, columns=["plant", "treatment", "block", "height_cm"])
    data.loc[(data["treatment"] == "a") & (data["block"] >= 4), "height_cm"] = np.nan
    result = read_trial(data, block="block")
    assert result.table.loc["a", "difference"] == pytest.approx(-4, abs=0.02)
    assert result.table.loc["a", "mean"] - result.table.loc["untreated", "mean"] == pytest.approx(
        -7, abs=0.05
    )
    assert result.table.loc["a", "missing"] == 2


def test_controls_are_those_at_the_average_position():
    """With every treatment in every block, adjusted means are the plain ones, and so are their ratios."""
    random = np.random.default_rng(4)
    block, group = np.repeat(np.arange(6), 3), np.tile(np.arange(3), 6)
    heights = 20.0 + 3.0 * block - 4.0 * group + random.normal(0, 0.5, 18)
    names = np.array(["untreated", "a", "b"])[group]
    table = pd.DataFrame({"treatment": names, "block": block, "height_cm": heights})
    result = read_trial(table, block="block")
    means = np.array([heights[group == i].mean() for i in range(3)])
    assert result.table["adjusted_mean"].to_numpy() == pytest.approx(means, rel=1e-12)
    assert result.table["control"].to_numpy() == pytest.approx(1 - means / means[0], abs=1e-12)


def test_dead_and_missing_plants_are_counted_and_said():
    data = trial().astype({"height_cm": object})
    data["alive"] = "yes"
    data.loc[0, "height_cm"] = "dead"
    data.loc[9, "alive"] = "no"
    data.loc[17, "height_cm"] = ""
    data.loc[18, "height_cm"] = None
    result = read_trial(data)
    assert result.table[["listed", "measured", "dead", "missing"]].iloc[:3].to_numpy().tolist() == [
        [8, 7, 1, 0], [8, 7, 1, 0], [8, 6, 0, 2],
    ]  # fmt: skip
    assert "36 of 40 plants measured (2 dead, 2 missing" in result.text
    assert len(result.plants) == 40
    assert list(result.plants.loc[[0, 9, 17, 1], "status"]) == ["dead", "dead", "missing", "measured"]


def test_a_treatment_that_died_is_named_not_dropped():
    data = trial().astype({"height_cm": object})
    data.loc[data["rate_mg_per_L"] == 40, "height_cm"] = "dead"
    result = read_trial(data, rate="rate_mg_per_L")
    assert "40 mg/L" not in result.table.index
    assert "'40 mg/L' is not compared: 0 of its 8 plants could be measured." in result.text
    assert "8 dead" in result.text
    assert result.fit.highest == 20


def test_limits_far_from_their_rate_are_told_as_beyond_a_thousandth_and_a_thousand_times_of_it():
    assert RateEstimate(0.25, 223.0, 73.4, 1210.0, "mg/L", 0.95).limits == "73.4 to 1210"
    assert RateEstimate(0.25, 223.0, 2e-4, 2e8, "mg/L", 0.95).limits == "under 0.223 to over 223000"


def test_rates_and_next_rate():
    result = read_trial(trial(plants=20), rate="rate_mg_per_L", parameters=3)
    true_rate = 30 * (0.25 / 0.75) ** (1 / 1.4)
    found = result.next_rate(0.25)
    assert found.lower < true_rate < found.upper
    assert found.unit == "mg/L"
    assert f"For 25 % shorter plants: {found.rate:.3g} mg/L" in result.text
    assert list(result.ec.index) == ["EC10", "EC20", "EC50"]
    assert result.ec["rate"].is_monotonic_increasing
    assert result.trend.t < 0
    assert result.trend.p < 1e-6


def test_rate_outside_the_tested_range_is_warned_of_in_result_and_text():
    result = read_trial(trial(rates=(0, 2, 4, 6), sigma=0.5), rate="rate_mg_per_L")
    found = result.next_rate(0.25)
    assert found.rate > 6
    assert not found.inside_tested_range
    assert "above the rates tested" in found.text
    assert "above the rates tested" in result.text
    assert "EC50" in result.text
    assert "outside the rates tested" in result.text
    assert result.ec.loc["EC50", "warning"]


def test_block_effects_are_taken_out_of_the_dose_response():
    data = trial(plants=8, sigma=0.4)
    data["block"] = np.tile(np.arange(8), 5)
    data["height_cm"] += 1.5 * (data["block"] - 3.5)
    fitted = read_trial(data, rate="rate_mg_per_L", block="block", parameters=3)
    assert fitted.fit.sigma < 0.6
    assert fitted.fit.half == pytest.approx(30, rel=0.1)


def test_treatments_made_from_rates(raw):
    result = read_trial(
        raw("ryegrass"),
        height="rootl",
        treatment=None,
        rate="conc",
        units={"rootl": "cm", "conc": "mM"},
        parameters=4,
    )
    assert list(result.table.index) == [
        "untreated",
        "0.94 mM",
        "1.88 mM",
        "3.75 mM",
        "7.5 mM",
        "15 mM",
        "30 mM",
    ]
    assert result.fit.half == pytest.approx(3.058, abs=1e-3)


def test_a_curve_that_cannot_be_fitted_is_refused_when_the_table_is_read():
    with pytest.raises(InputError, match="needs 4 rates"):
        read_trial(trial(rates=(0, 10, 20)), rate="rate_mg_per_L", parameters=4)


def test_trend_follows_the_order_told():
    data = trial()
    with pytest.raises(InputError, match="order"):
        _ = read_trial(data).trend
    names = ["5 mg/L", "10 mg/L", "20 mg/L", "40 mg/L"]
    told, by_rate = read_trial(data, order=names), read_trial(data, rate="rate_mg_per_L")
    assert told.trend == by_rate.trend
    with pytest.raises(InputError, match="'40 mg/L' is not in it"):
        read_trial(data, order=names[:3])
    with pytest.raises(InputError, match="did you mean '5 mg/L'"):
        read_trial(data, order=["5 mg/l", *names[1:]])


def test_diagnostics_find_the_odd_plant_and_uneven_spread():
    clean = read_trial(trial(seed=3))
    assert clean.diagnostics.outlying == ()
    assert "no single plant decides" in clean.text
    data = trial(seed=3)
    data.loc[12, "height_cm"] += 15
    odd = read_trial(data)
    assert odd.diagnostics.outlying == ("13",)
    assert "check the record: plant 13" in odd.text
    data = trial(seed=3, plants=20)
    low = data.loc[20:39, "height_cm"]
    data.loc[20:39, "height_cm"] = low.mean() + 3 * (low - low.mean())
    uneven = read_trial(data)
    assert uneven.diagnostics.variance_p < 0.01
    assert "differ in spread" in uneven.text


def test_two_plants_of_a_treatment_tell_nothing_of_their_spread():
    """Both are as far from their middle as each other: a test would find a difference in every trial."""
    for seed in range(5):
        pairs = read_trial(trial(seed=seed, plants=2))
        assert np.isnan(pairs.diagnostics.variance_p)
        assert "differ in spread" not in pairs.text
    assert read_trial(trial(plants=3)).diagnostics.variance_p <= 1.0


def test_a_table_of_200_000_plants_is_read_in_seconds():
    data = trial(plants=40_000)
    data.loc[77, "height_cm"] += 20.0
    started = time.process_time()
    result = read_trial(data, rate="rate_mg_per_L")
    assert result.diagnostics.outlying == ("78",)
    assert "check the record: plant 78" in result.text
    assert time.process_time() - started < 10.0  # 3 s on an idle core


def test_text_carries_the_cautions():
    text = read_trial(trial()).text
    for words in (
        "label",
        "protective equipment",
        "re-entry",
        "few plants first",
        "licensed practice decides",
    ):
        assert words in text


def test_dataset_has_units_and_meanings():
    result = read_trial(trial(), rate="rate_mg_per_L")
    data = result.to_xarray()
    assert all(
        {"units", "long_name"} <= set(data[name].attrs) for name in (*data.data_vars, "rate", "curve_rate")
    )
    assert data["adjusted_mean"].attrs["units"] == "cm"
    assert data["rate"].attrs["units"] == "mg/L"
    assert data["control"].sel(treatment="20 mg/L") == result.table.loc["20 mg/L", "control"]
    assert float(data["curve_height"][0]) == pytest.approx(result.fit.upper)
    assert "curve_rate" not in read_trial(trial()).to_xarray().coords


def test_units_come_from_the_name_or_are_asked_for():
    data = trial().rename(columns={"height_cm": "height", "rate_mg_per_L": "rate"})
    with pytest.raises(InputError, match="no unit for the height column 'height'"):
        read_trial(data, height="height")
    with pytest.raises(InputError, match="unit 'furlong'"):
        read_trial(data, height="height", units={"height": "furlong"})
    with pytest.raises(InputError, match="did you mean 'height'"):
        read_trial(data, height="height", units={"heigth": "cm"})
    result = read_trial(data, height="height", rate="rate", units={"height": "in", "rate": "ppm"})
    assert (result.height_unit, result.rate_unit) == ("in", "ppm")


GOOD = """plant,treatment,rate_mg_per_L,height_cm,alive,block,row,column
1,untreated,0,21.0,yes,1,1,1
2,untreated,0,22.5,yes,2,1,2
3,low,10,18.1,yes,1,1,3
4,low,10,17.2,yes,2,2,1
5,high,20,14.0,yes,1,2,2
6,high,20,15.1,yes,2,2,3
"""


def written(tmp_path, text):
    path = tmp_path / "trial.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_good_table_is_read(tmp_path):
    remarked = "# a remark\n\n" + GOOD
    for text in (GOOD, remarked, "\ufeff" + GOOD, GOOD.replace("\n", "\r\n")):
        assert len(read_trial(written(tmp_path, text), rate="rate_mg_per_L", block="block").plants) == 6


@pytest.mark.parametrize(
    ("old", "new", "options", "message"),
    [
        ("untreated", "nothing", {}, "no untreated check 'untreated' among the treatments"),
        ("untreated", "Untreated", {}, "did you mean 'Untreated'"),
        ("5,high,20,14.0,yes,1,2,2\n", "", {}, "treatment 'high' has one plant"),
        ("17.2", "17.2 cm", {}, "trial.csv, line 5: height_cm '17.2 cm' is not a number"),
        ("17.2", '"17,2"', {}, "write decimals with a point"),
        ("17.2", "-17.2", {}, "line 5: height_cm -17.2 is negative"),
        ("17.2", "0", {}, "line 5: height_cm is 0; leave it blank if missing"),
        ("17.2", "inf", {}, "line 5: height_cm 'inf' is not a number"),
        ("4,low", "3,low", {}, "line 5: plant 3 is already on line 4"),
        ("4,low", ",low", {}, "line 5: plant is blank"),
        ("4,low", "4,", {}, "line 5: treatment is blank"),
        (
            "2,2,1\n",
            "2,1,3\n",
            {"row": "row", "column": "column"},
            "line 5: place .* 1, 3 is already on line 4",
        ),
        ("height_cm", "heigth_cm", {}, "no column 'height_cm' for the height; did you mean 'heigth_cm'"),
        ("height_cm", "h", {}, "columns are plant, treatment"),
        ("height_cm", "plant", {}, "column 'plant' occurs twice"),
        ("17.2,yes", "17.2,perhaps", {}, "line 5: alive 'perhaps' is neither yes nor no"),
        (
            "low,10,17",
            "low,12,17",
            {"rate": "rate_mg_per_L"},
            "line 5: treatment 'low' has rate_mg_per_L 12 here and 10",
        ),
        (
            "low,10,17",
            "low,,17",
            {"rate": "rate_mg_per_L"},
            "line 5: rate_mg_per_L is blank for treatment 'low'",
        ),
        ("low,10,17", "low,-10,17", {"rate": "rate_mg_per_L"}, "line 5: rate_mg_per_L -10 is negative"),
        (
            "untreated,0,22",
            "untreated,3,22",
            {"rate": "rate_mg_per_L"},
            "the check 'untreated' has rate_mg_per_L 3",
        ),
        ("yes,2,2,1", "yes,,2,1", {"block": "block"}, "line 5: block is blank"),
        ("yes,2,", "yes,1,", {"row": "treatment"}, "treatments cannot be told apart from row"),
        ("21.0,yes", ",no", {}, "the check 'untreated' has fewer than two measured plants"),
        (GOOD, "", {}, "the file is empty"),
        (GOOD, "treatment,height_cm\n", {}, "no plants in it"),
        ("4,low", "4,Low", {}, "line 5: treatment 'Low' is written 'low' elsewhere; write one name"),
        ("4,low", "4,lwo", {}, "treatment 'low' has one plant; .*; did you mean 'lwo'"),
        ("yes,2,2,1", "yes,2,2,1,9,9", {}, "line 5: 10 cells, the header names 8 columns"),
        ("4,low", '"4,low', {}, "not a line of a CSV table"),
        (",2,2,1\n", "\n", {}, "line 5: 5 cells, the header names 8 columns"),
        ("21.0", "21.0", {"column": "column", "row": "row"}, "cannot carry"),
        ("21.0", "21.0", {"position": "square"}, "allowed are factor, linear, none"),
        ("21.0", "21.0", {"level": 95}, "level=95"),
        ("21.0", "21.0", {"treatment": None}, "the rate column is needed"),
        ("yes,2,2,1", "yes,2,back,1", {"row": "row", "position": "linear"}, "row 'back' is not a number"),
    ],
)
def test_bad_tables_are_refused_in_one_line(tmp_path, old, new, options, message):
    assert old in GOOD
    path = written(tmp_path, GOOD.replace(old, new))
    with pytest.raises(InputError, match=message) as refused:
        read_trial(path, **options)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("usual", "other"),
    [
        ("5 mg/L", "5mg/L"),
        ("5 mg/L", "5 ppm"),
        ("untreated", "Untreated"),
        ("5 mg/L", "5.0 mg/L"),
        ("5 mg/L", "05 mg/L"),
    ],
)
def test_a_treatment_spelt_in_two_ways_is_refused_with_its_lines(usual, other):
    data = trial(rates=(0, 5, 10))
    odd = data.index[data["treatment"] == usual][:5]
    data.loc[odd[:3], "treatment"] = other
    with pytest.raises(
        InputError, match=f"row {odd[0]}, row .*: treatment '{other}' is written '{usual}' elsewhere"
    ):
        read_trial(data)


def test_a_table_as_spreadsheets_write_it_with_decimal_commas(tmp_path):
    plain = read_trial(written(tmp_path, GOOD), rate="rate_mg_per_L")
    continental = GOOD.replace(",", ";").replace(".", ",").replace("mg;per", "mg_per")
    for text in (continental, continental.replace(";", "\t")):
        found = read_trial(written(tmp_path, text), rate="rate_mg_per_L")
        pd.testing.assert_frame_equal(found.plants, plain.plants)


@pytest.mark.parametrize(
    ("heading", "unit"), [("Height (in)", "in"), ("height [cm]", "cm"), ("Height (inches)", "in")]
)
def test_a_heading_says_its_unit_in_brackets(heading, unit):
    data = trial().rename(columns={"height_cm": heading, "treatment": "Treatment"})
    assert read_trial(data, height=heading).height_unit == unit


def test_an_odd_plant_is_told_before_the_results_it_spoils():
    data = trial(rates=(0, 5, 10))
    data.loc[9, "height_cm"] *= 10
    lines = read_trial(data).text.splitlines()
    odd = next(i for i, line in enumerate(lines) if "check the record: plant 10, " in line)
    assert "('5 mg/L', others" in lines[odd]
    assert odd < next(i for i, line in enumerate(lines) if line.startswith("- 5 mg/L"))


def test_unreadable_files_are_refused_in_one_line(tmp_path):
    with pytest.raises(InputError, match=r"nowhere\.csv: cannot be read: No such file"):
        read_trial(tmp_path / "nowhere.csv")
    with pytest.raises(InputError, match="Is a directory"):
        read_trial(tmp_path)
    (tmp_path / "picture.csv").write_bytes(b"\x89PNG\x0d\x0a\xff\xfe\x00\x01")
    with pytest.raises(InputError, match="is not text"):
        read_trial(tmp_path / "picture.csv")


@pytest.mark.parametrize(("mark", "said"), [("|", "'|'"), (" | ", "'|'"), ("   ", "spaces")])
def test_columns_that_something_else_divides(tmp_path, mark, said):
    path = tmp_path / "trial.csv"
    path.write_text(trial().to_csv(index=False).replace(",", mark), encoding="utf-8")
    with pytest.raises(InputError, match="with commas, semicolons or tabs there") as caught:
        read_trial(path)
    assert f"its columns have {said} between them" in str(caught.value)


@pytest.mark.parametrize(
    "heads", [("untreated", "15 ppm", "30 ppm"), ("plant", "rep1", "rep2"), ("plant", "height 1", "height 2")]
)
def test_heights_abreast_are_to_be_written_below_each_other(heads):
    data = pd.DataFrame({name: [30.0 - i, 26.5, 22.0] for i, name in enumerate(heads)})
    with pytest.raises(InputError, match="write a row for each plant, its treatment in one column"):
        read_trial(data)
    with pytest.raises(InputError, match="no column 'height_cm'") as caught:
        read_trial(trial().rename(columns={"height_cm": "tall"}))
    assert "write a row for each plant" not in str(caught.value)


def test_plants_without_spread_are_refused():
    data = trial(sigma=0).assign(height_cm=lambda table: 20 - 0.1 * table["rate_mg_per_L"])
    with pytest.raises(InputError, match="without spread nothing can be compared"):
        read_trial(data)


def test_rows_of_a_dataframe_are_named_by_their_index():
    data = trial().astype({"height_cm": object})
    data.index = [f"pot {i}" for i in range(len(data))]
    data.loc["pot 7", "height_cm"] = "tall"
    with pytest.raises(InputError, match="table, row pot 7: height_cm 'tall'"):
        read_trial(data)


def test_the_callers_table_is_left_alone():
    data = trial()
    before = data.copy()
    read_trial(data, rate="rate_mg_per_L")
    pd.testing.assert_frame_equal(data, before)


def noted(data, **options):
    """The notes of a table whose rates are named."""
    return " ".join(read_trial(data, rate="rate_mg_per_L", **options).notes)


@pytest.mark.parametrize("height", [261.0, 2.61, 0.261])
def test_a_height_far_from_its_treatment_is_remarked_on(height):
    data = trial()
    data.loc[9, "height_cm"] = height
    assert f"row 9: height_cm {height:g} is far from the" in noted(data)
    assert "in the middle of '5 mg/L'" in noted(data)


def test_heights_in_another_unit_are_remarked_on():
    data = trial()
    treated = data["treatment"] == "10 mg/L"
    mixed = data.assign(height_cm=data["height_cm"].where(~treated, data["height_cm"] / 100))
    assert "Plants of '10 mg/L'" in noted(mixed)
    assert "are all heights in one unit?" in noted(mixed)
    metres = data.rename(columns={"height_cm": "height_m"})
    assert "is that the unit of 'height_m'?" in noted(metres, height="height_m")


@pytest.mark.parametrize(("unit", "rate"), [("mg/L", 0.015), ("g/L", 15.0), ("ppm", 30.0)])
def test_the_rate_in_a_name_is_the_rate(unit, rate):
    data = trial(rates=(0, 15, 60)).replace({"treatment": {"15 mg/L": "15 ppm"}})
    assert "15 ppm" in read_trial(data, rate="rate_mg_per_L").treatments  # a part per million is 1 mg/L
    data.loc[data["rate_mg_per_L"] == 15, "rate_mg_per_L"] = rate
    with pytest.raises(InputError, match=r"treatment '15 ppm' has .*; its name says another rate"):
        read_trial(data, rate="rate_mg_per_L", units={"rate_mg_per_L": unit})


@pytest.mark.parametrize("name", ["Mean", "Grand mean", "Total", "SD", "LSD (0.05)", "CV %", "avg."])
def test_lines_that_sum_up_are_no_treatment(name):
    data = trial()
    summed = pd.concat(
        [data, pd.DataFrame({"plant": [91, 92], "treatment": name, "height_cm": [24.0, 25.0]})]
    )
    with pytest.raises(InputError, match=re.escape(f"'{name}' looks like a summary of plants")):
        read_trial(summed)


def test_columns_that_are_not_read_are_named():
    weeks = trial().assign(week=[1, 2] * 20, house="A")
    assert noted(weeks) == "Columns not read: week. Every row counts as a plant of its own."


@pytest.mark.parametrize("heading", ["height_CM", "Height (Cm)", "Height (cm.)", "height cm"])
def test_units_are_read_in_capitals_and_behind_a_space(heading):
    assert read_trial(trial().rename(columns={"height_cm": heading}), height=heading).height_unit == "cm"


@pytest.mark.parametrize(
    ("heading", "unit"), [("rate (PPM)", "ppm"), ("rate (%)", "percent"), ("Rate ppm", "ppm")]
)
def test_units_of_rates_are_read(heading, unit):
    data = trial().rename(columns={"rate_mg_per_L": heading})
    assert read_trial(data, rate=heading).rate_unit == unit


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "latin-1"])
def test_tables_of_spreadsheets_are_read_in_their_encoding(tmp_path, encoding):
    data = trial().replace({"treatment": {"untreated": "témoin"}})
    (tmp_path / "trial.csv").write_bytes(data.to_csv(index=False).encode(encoding))
    assert read_trial(tmp_path / "trial.csv", check="témoin").check == "témoin"
