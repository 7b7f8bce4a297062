"""Weighed pots: the split comes back within its intervals, a missing stemflow is noticed, bad tables are
refused.

Simulated experiments are invented; that 500 of them are met as well is in docs/science/measuring.md.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import wetspan as ws
from refusal import refused
from wetspan import measure
from wetspan.command_line import main
from wetspan.measure.invented import invent_pots
from wetspan.measure.pots import PARTS, SHARES, SplitModel

#: Sprayed to run-off, rising leaves: there stemflow shows.
SCENARIO = ws.Scenario(title="a made-up bench").replace(
    {"application.volume_rate": "6 qt / (100 ft^2)", "canopy.habit": "funnel"}
)


@pytest.fixture(scope="module")
def experiments():
    found = []
    for seed in range(40):
        invented = invent_pots(SCENARIO, seed=seed)
        found.append((invented, measure.read_pots(SCENARIO, invented.table)))
    return found


@pytest.fixture
def table():
    return invent_pots(SCENARIO, seed=5).table


def test_the_model_is_the_librarys_own_split():
    model = SplitModel(SCENARIO)
    split = ws.simulate(SCENARIO).split["share"]
    shares = dict(zip(SHARES, model.shares(model.start), strict=True))
    assert shares["shoot"] == pytest.approx(
        float(split.sel(target="leaf") + split.sel(target="stem")), rel=1e-9
    )
    assert shares["substrate"] == pytest.approx(float(split.sel(target="substrate")), rel=1e-9)
    assert shares["bench"] == pytest.approx(float(split.sel(target="bench")), rel=1e-9)
    layers = ws.deposit(SCENARIO)["stem_run_off"].values
    assert shares["stemflow"] == pytest.approx(
        layers[-1] / 1e3 / SCENARIO["application.volume_rate"], rel=1e-9
    )


@pytest.mark.parametrize(("level", "least", "most"), [(0.80, 0.68, 0.93), (0.95, 0.87, 1.0)])
def test_intervals_cover_what_they_say(experiments, level, least, most):
    met = [
        low <= invented.truth[key] <= high
        for invented, result in experiments
        for key in result.learned.keys
        for _, low, high in [result.learned.interval(key, level)]
    ]
    assert len(met) == 4 * len(experiments)
    assert least <= np.mean(met) <= most


def test_shares_are_known_as_well_as_they_say(experiments):
    met = [
        row["lower"] <= invented.truth[f"share of {name}"] <= row["upper"]
        for invented, result in experiments
        for name, row in result.table.iterrows()
    ]
    assert 0.88 <= np.mean(met) <= 1.0


def test_the_planned_precision_is_met_within_a_fifth(experiments):
    plan = measure.plan_pots(SCENARIO, pots=6)
    reach = [
        result.table.loc["shoot", "upper"] / result.table.loc["shoot", "measured"] - 1
        for _, result in experiments
    ]
    assert np.mean(reach) == pytest.approx(plan.precision, rel=0.2)
    assert measure.plan_pots(SCENARIO, precision=0.15).pots > measure.plan_pots(SCENARIO, precision=0.3).pots


def test_a_crop_without_stemflow_is_noticed():
    none = SCENARIO.replace({"retention.stemflow_odds": 1e-4})
    for seed in range(6):
        result = measure.read_pots(SCENARIO, invent_pots(SCENARIO, seed=seed, truth=none).table)
        assert any("stemflow" in line for line in result.warnings), result.warnings
        usual = measure.read_pots(SCENARIO, invent_pots(SCENARIO, seed=seed, truth=SCENARIO).table)
        assert not any("stemflow" in line for line in usual.warnings)


def test_what_evaporates_before_the_weighing_is_put_back():
    dry = invent_pots(SCENARIO, seed=1, truth=SCENARIO, cv=1e-6, applied_error=0.0, balance=1e-6)
    result = measure.read_pots(SCENARIO, dry.table)
    for name in ("shoot", "substrate", "bench"):
        assert result.table.loc[name, "measured"] == pytest.approx(dry.truth[f"share of {name}"], rel=2e-3)


def test_bad_tables_are_refused_in_one_line(table, tmp_path):
    path = tmp_path / "pots.csv"

    def read(told: pd.DataFrame):
        told.to_csv(path, index=False)
        return lambda: measure.read_pots(SCENARIO, path)

    def changed(row: int, column: str, value: object) -> pd.DataFrame:
        told = table.astype(object)
        told.loc[row, column] = value
        return told

    assert list(table.loc[3:5, "part"]) == ["pot"] * 3
    refused(read(changed(4, "mass [g]", "0.9 kg")), "line 6", "units are mixed")
    refused(read(changed(5, "mass [g]", "990")), "line 7", "mass rises")
    refused(read(changed(5, "time [min]", "1")), "line 7", "clock runs back")
    refused(read(table[table["pot"].isin(["1", "tray 1"])]), "only one pot")
    refused(read(table[table["state"] == "wet"]), "was not weighed dry")
    refused(read(table.drop_duplicates(["pot", "part", "state"])), "twice wet")
    refused(read(table.drop(columns="area [cm2]")), "no column 'area'")
    refused(read(changed(4, "part", "pott")), "did you mean 'pot'")


def test_the_command_and_a_crop(table, tmp_path, capsys):
    SCENARIO.save(tmp_path / "bench.toml")
    table.to_csv(tmp_path / "pots.csv", index=False)
    bench, pots = str(tmp_path / "bench.toml"), str(tmp_path / "pots.csv")
    assert main(["measure", "plan", "pots", bench, "--csv", str(tmp_path / "sheet.csv")]) == 0
    said = capsys.readouterr().out
    assert said.index("no active ingredient") < said.index("where does my spray go")
    assert set(pd.read_csv(tmp_path / "sheet.csv")["part"]) == set(PARTS)
    assert main(["measure", "read", "pots", bench, pots, "--picture", str(tmp_path / "pots.png")]) == 0
    assert "Stemflow" in capsys.readouterr().out
    crop = str(tmp_path / "crop.toml")
    assert main(["measure", "calibrate", bench, "--pots", pots, "--save", crop, "--name", "mum"]) == 0
    assert "retention.stemflow_odds" in ws.load_crop(crop)


def test_bagged_pots_tell_what_falls_past_all_leaves(experiments):
    for invented, result in experiments[:5]:
        row = result.table.loc["straight"]
        assert row["lower"] <= row["measured"] <= row["upper"]
        assert row["predicted"] < result.table.loc["substrate", "predicted"]
        assert invented.truth["share of straight"] < invented.truth["share of substrate"]
    # whoever has no pots to bag leaves their lines blank
    blank = invent_pots(SCENARIO, seed=1, truth=SCENARIO).table.astype(object)
    blank.loc[blank["part"] == "bagged", "mass [g]"] = ""
    without = measure.read_pots(SCENARIO, blank)
    assert "straight" not in without.table.index
    assert any("bagged 3" in line for line in without.notes)
    # bags that drip onto their pots are noticed
    table = invent_pots(SCENARIO, seed=1, truth=SCENARIO).table.astype(object)
    wet = (table["part"] == "bagged") & (table["state"] == "wet")
    table.loc[wet, "mass [g]"] = [f"{float(mass) + 12:.5f}" for mass in table.loc[wet, "mass [g]"]]
    assert any("straight" in line for line in measure.read_pots(SCENARIO, table).warnings)


def test_masses_in_another_unit_are_refused_whichever_way_they_are_off(table, tmp_path):
    """Grams under a heading of mg gave a split of nothing, with doubts of the model."""
    small = table.rename(columns={"mass [g]": "mass [mg]"})
    refused(lambda: measure.read_pots(SCENARIO, small), "next to nothing", "look at the units of mass")
    path = tmp_path / "pots.csv"
    lines = table.to_csv(index=False).splitlines()
    path.write_text("\n".join([lines[0], *(line.replace(".", ",") for line in lines[1:])]), encoding="utf-8")
    refused(lambda: measure.read_pots(SCENARIO, path), "save the table with semicolons between its columns")
    path.write_text(lines[0] + "\n", encoding="utf-8")
    refused(lambda: measure.read_pots(SCENARIO, path), "no rows below its headings")
    for error in (-1, 2, "500 %"):
        refused(lambda error=error: measure.read_pots(SCENARIO, table, applied_error=error), "from 0 to 1")


def test_validate_reads_tables_of_measurements_without_a_scenario(table, tmp_path, capsys):
    path = tmp_path / "pots.csv"
    table.to_csv(path, index=False)
    assert main(["validate", str(path)]) == 0
    assert "6 of pot" in capsys.readouterr().out
    table.astype(object).replace({"tray": "trey"}).to_csv(path, index=False)
    assert main(["validate", str(path)]) == 2
    assert "did you mean 'tray'" in capsys.readouterr().err
