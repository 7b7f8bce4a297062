"""Weighed leaves: truths are found again within the intervals, bad tables are refused, physics comes back.

Simulated experiments are invented (wetspan.measure.invented); that 500 of them are met as well is in
docs/science/measuring.md.
"""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
import wetspan as ws
from published import rows
from refusal import refused
from wetspan import measure
from wetspan.command_line import main
from wetspan.measure.invented import invent_leaf
from wetspan.measure.leaf import waves

SCENARIO = ws.Scenario(title="a made-up room").replace({"air.shortwave": "20 W/m^2"})
EXPERIMENTS = 30


@pytest.fixture(scope="module")
def experiments():
    """Readings of invented experiments, with their truths."""
    found = []
    for seed in range(EXPERIMENTS):
        invented = invent_leaf(SCENARIO, leaves=3, seed=seed, weighings=20)
        found.append((invented, measure.read_leaf(SCENARIO, invented.table)))
    return found


@pytest.fixture(scope="module")
def one():
    return invent_leaf(SCENARIO, leaves=3, paper=1, seed=11, weighings=16)


def test_a_leaf_that_the_model_never_dries_is_refused_without_warnings_of_numbers(recwarn):
    """Degrees Celsius under a heading of Fahrenheit gave a ratio of wet times that is no number."""
    table = invent_leaf(SCENARIO, leaves=3, seed=1, weighings=12).table
    cold = table.rename(columns={"temperature [degC]": "temperature [degF]"})
    refused(lambda: measure.read_leaf(SCENARIO, cold), "the model would never dry it", "and their units")
    assert not list(recwarn)


@pytest.mark.parametrize(("level", "least", "most"), [(0.80, 0.67, 0.95), (0.95, 0.85, 1.0)])
def test_intervals_cover_what_they_say(experiments, level, least, most):
    # 90 truths for 30 experiments: three standard errors of the nominal coverage, and the part that is
    # the same for all leaves of an experiment
    met = []
    for invented, result in experiments:
        truth = invented.truth | {"leaf.turbulence": invented.truth["factor"] * SCENARIO["leaf.turbulence"]}
        for key in result.learned.keys:
            _, low, high = result.learned.interval(key, level)
            met.append(low <= truth[key] <= high)
    assert len(met) == 3 * EXPERIMENTS
    assert least <= np.mean(met) <= most


def test_wet_times_are_known_as_well_as_they_say(experiments):
    off = [
        np.log(row["wet_time"] / invented.wet_times[name])
        / (np.log(row["wet_upper"] / row["wet_lower"]) / 2 / 1.96)
        for invented, result in experiments
        for name, row in result.table.iterrows()
    ]
    assert 0.86 <= np.mean(np.abs(off) < 1.96) <= 1.0
    assert 0.70 <= np.mean(np.abs(off) < 1.28) <= 0.92


def test_the_planned_precision_is_met_within_a_fifth(experiments):
    plan = measure.plan_leaf(SCENARIO, leaves=3)
    reach = []
    for _, result in experiments:
        _, low, high = result.factor
        reach.append(np.log(high / low) / 2)
    # the mean of 30 widths of intervals from three leaves is itself known to 7 %
    assert np.mean(reach) == pytest.approx(plan.boundary_precision, rel=0.2)


def test_more_leaves_for_more_precision():
    fine, coarse = (measure.plan_leaf(SCENARIO, precision=each) for each in (0.1, 0.3))
    assert fine.leaves > coarse.leaves
    assert fine.precision <= 0.1
    assert coarse.precision <= 0.3


def test_too_few_leaves_are_told_how_many_would_do():
    few, enough = measure.plan_leaf(SCENARIO, leaves=3), measure.plan_leaf(SCENARIO)
    assert few.enough == enough.leaves > 3
    assert f"weigh {enough.leaves} leaves" in few.text
    assert "not reach either" in measure.plan_leaf(SCENARIO, precision=0.01).text


def test_twice_the_boundary_layer_is_noticed_and_the_usual_is_not():
    for factor, noticed in ((2.0, True), (0.5, True), (1.0, False)):
        told = [
            measure.read_leaf(
                SCENARIO, invent_leaf(SCENARIO, leaves=4, seed=seed, weighings=12, factor=factor).table
            )
            for seed in range(2)
        ]
        said = [any("boundary layer as the model says" in line for line in each.warnings) for each in told]
        assert said == [noticed] * 2, factor


def test_a_paper_leaf_gives_the_physics_back_or_the_set_up_is_doubted(one):
    result = measure.read_leaf(SCENARIO, one.table)
    assert result.paper_factor[1] < 1 < result.paper_factor[2]
    assert "gives the physics back" in result.text
    slow = one.table.assign(**{"speed [m/s]": [f"{float(x) / 9:.4f}" for x in one.table["speed [m/s]"]]})
    assert any("paper leaf does not give" in line for line in measure.read_leaf(SCENARIO, slow).warnings)


def test_residuals_do_not_run_in_waves_where_the_model_holds(experiments):
    p = [waves(result.fits["leaf"]) for _, result in experiments]
    assert np.mean(np.array(p) < 0.01) <= 0.15


# Published lifetimes ---------------------------------------------------------------------------------------


def drops(volume: float, angle: float, temperature: float, humidity: float, left, life: float):
    """Weighings of drops so far apart, in so strong a wind, that each evaporates as if alone."""
    area, depth = 0.5, 2e-7  # m2, m of liquid
    time = np.linspace(0.0, 1.1 * life, 45)
    mass = 998.0 * area * depth * np.array([left(min(1.0, t / life)) for t in time])
    rng = np.random.default_rng(1)
    table = pd.DataFrame(
        [
            {
                "leaf": name,
                "state": state,
                "time [s]": f"{t:.2f}",
                "mass [mg]": f"{1e6 * m + 500 + 0.02 * rng.normal():.2f}",
                "area [m^2]": area,
                "temperature [K]": temperature,
                "humidity [1]": humidity,
                "speed [m/s]": 10.0,
            }
            for name in ("a", "b")
            for state, t, m in [
                ("dry", 0, 0.0),
                *(("wet", t + 60, m) for t, m in zip(time, mass, strict=True)),
            ]
        ]
    )
    diameter = (6 * volume / np.pi) ** (1 / 3)
    scenario = ws.Scenario().replace(
        {
            "droplets.dv50": diameter,
            "droplets.relative_span": 0.05,
            "leaf.contact_angle": f"{angle} deg",
            "leaf.heat_capacity": 1e4,
            "leaf.stomatal_conductance": 0.0,
            "retention.underleaf": 0.0,
        }
    )
    return table, scenario


def read_drops(table, scenario):
    return measure.read_leaf(scenario, table, humidity_error=0.001, speed_error=0.01, run_off=False)


def test_published_lifetimes_of_receding_drops_put_in_as_weighings_give_the_physics_back():
    # a drop that keeps its angle loses m0 (1 - t / life)^(3/2); it is down to 1 % at 0.954 of it
    for row in rows("drying", "constant-angle lifetime"):
        given = row.inputs
        if not (given["volume"] == 1e-9 and 60 <= given["angle"] <= 90):
            continue
        table, scenario = drops(
            1e-9, given["angle"], given["T"], given["rh"], lambda share: (1 - share) ** 1.5, row.value
        )
        result = read_drops(table, scenario.replace({"leaf.receding_angle": f"{given['angle'] / 1.5} deg"}))
        life = 60 * result.table["wet_time"].mean() / (1 - 0.01 ** (2 / 3))
        assert life == pytest.approx(row.value, rel=0.02), row.given
        angle = np.degrees(result.learned.interval("leaf.receding_angle", 0.95))
        assert angle[1] * 0.95 <= given["angle"] <= angle[2] * 1.10, angle
        assert (
            result.factor[1] < 1 < result.factor[2]
        )  # of lone drops in a gale the boundary layer is nothing


def test_published_lifetimes_of_pinned_drops_leave_a_small_receding_angle():
    factors = {row.inputs["angle"]: row.value for row in rows("drying", "evaporation factor")}
    angles = np.linspace(90.0, 0.5, 400)
    known = sorted(factors)
    factor = np.interp(angles, known, [factors[each] for each in known])
    half = np.tan(np.radians(angles) / 2)
    volume = (half**3 + 3 * half) / 4
    clock = np.concatenate([[0.0], np.cumsum(-np.diff(volume) / (0.5 * (factor[1:] + factor[:-1])))])
    clock /= clock[-1]
    row = next(
        row
        for row in rows("drying", "pinned lifetime")
        if row.inputs["volume"] == 1e-9 and row.inputs["angle"] == 90
    )
    table, scenario = drops(
        1e-9, 90, 293.15, 0.5, lambda share: np.interp(share, clock, volume / volume[0]), row.value
    )
    result = read_drops(table, scenario.replace({"leaf.receding_angle": "10 deg"}))
    life = 60 * result.table["wet_time"].mean() / np.interp(-0.01, -volume / volume[0], clock)
    assert life == pytest.approx(row.value, rel=0.02)
    assert np.degrees(result.learned.interval("leaf.receding_angle", 0.95)[0]) < 12


# Tables ----------------------------------------------------------------------------------------------------


def changed(table: pd.DataFrame, row: int, column: str, value: str) -> pd.DataFrame:
    told = table.astype(str)
    told.loc[row, column] = value
    return told


def test_bad_tables_are_refused_in_one_line(one, tmp_path):
    table = one.table
    path = tmp_path / "leaf.csv"

    def read(told: pd.DataFrame):
        told.to_csv(path, index=False)
        return lambda: measure.read_leaf(SCENARIO, path)

    refused(read(changed(table, 5, "mass [g]", "1250 mg")), "line 7", "units are mixed")
    risen = f"{float(table.loc[2, 'mass [g]']) + 0.3:.6f}"
    refused(read(changed(table, 8, "mass [g]", risen)), "line 10", "rises")
    refused(read(changed(table, 6, "time [s]", "10")), "clock runs back")
    refused(read(table[table["leaf"] == "leaf 1"]), "only one leaf was weighed")
    refused(read(table[table["state"] == "wet"]), "not weighed dry")
    refused(read(changed(table, 4, "humidity [percent]", "160")), "line 6", "outside 1 to 100 percent")
    refused(read(changed(table, 4, "mass [g]", "1,5")), "line 6", "decimals with a point")
    refused(read(changed(table, 4, "state", "damp")), "line 6", "it is dry or wet")
    refused(read(table.rename(columns={"mass [g]": "mass"})), "does not say its unit")
    refused(read(table.rename(columns={"mass [g]": "weight [g]"})), "no column 'mass'")
    refused(read(table.rename(columns={"area [cm2]": "area [mm2]"})), "look at the units")
    refused(read(table.assign(**{"speed [m/s]": ""})), "speed was not read once")


def test_a_clock_and_units_beside_the_table_are_read(one):
    seconds = one.table["time [s]"].astype(float)
    clock = [f"{10 + int(s // 3600)}:{int(s // 60 % 60):02d}:{int(s % 60):02d}" for s in seconds]
    told = one.table.drop(columns="time [s]").assign(clock=clock).rename(columns={"mass [g]": "mass"})
    by_clock = measure.read_leaf(SCENARIO, told, units={"mass": "g"})
    result = measure.read_leaf(SCENARIO, one.table)
    assert by_clock.factor[0] == pytest.approx(result.factor[0], rel=0.05)
    back = told.assign(clock=[*clock[:5], "09:00", *clock[6:]])
    refused(lambda: measure.read_leaf(SCENARIO, back, units={"mass": "g"}), "clock runs back, 09:00")


# A crop ----------------------------------------------------------------------------------------------------


def test_a_crop_is_saved_and_read_back(one, tmp_path):
    result = measure.read_leaf(SCENARIO, one.table)
    found = measure.calibrate(SCENARIO, result)
    found.save(tmp_path / "crop.toml", "my mum")
    crop = ws.load_crop(tmp_path / "crop.toml")
    assert set(crop) == {"retention.leaf_store", "leaf.receding_angle", "leaf.turbulence"}
    assert crop["retention.leaf_store"] == pytest.approx(
        result.learned.values()["retention.leaf_store"], rel=1e-5
    )
    assert ws.simulate(SCENARIO.replace(crop)).wet_time > 0
    assert "weighed leaves" in crop.source


def test_heights_and_leaves_are_joined(one):
    scenario = SCENARIO
    rates = np.repeat([0.0, 20.0, 40.0, 80.0], 8)
    sprays = {
        rate: ws.simulate(scenario.replace({"application.concentration": f"{rate} mg/L"}))
        for rate in (20, 40, 80)
    }
    rng = np.random.default_rng(2)
    height = [
        30 * (1 - (sprays[rate].growth_control if rate else 0)) * (1 + 0.06 * rng.normal()) for rate in rates
    ]
    names = ["untreated" if rate == 0 else f"{rate:g} mg/L" for rate in rates]
    from wetspan.trials import read_trial

    trial = read_trial(
        pd.DataFrame({"treatment": names, "rate_mg_per_L": rates, "height_cm": np.round(height, 2)}),
        rate="rate_mg_per_L",
    )
    result = measure.read_leaf(scenario, one.table)
    found = measure.calibrate(scenario, result, trial)
    alone = ws.calibrate(scenario, trial)
    assert {"crop.half_amount", "crop.metabolism", "retention.leaf_store", "leaf.turbulence"} <= set(
        found.learned.keys
    )
    # heights say next to nothing on the store: what the leaves said stands
    assert found.table.loc["retention.leaf_store", "value"] == pytest.approx(
        result.inputs.loc["retention.leaf_store", "value"], rel=0.1
    )
    # three leaves: Student's t makes the saved interval 1.8 times as wide as that of many
    assert found.learned.sd[found.learned.keys.index("retention.leaf_store")] == pytest.approx(
        np.sqrt(result.learned.wide[0, 0]), rel=0.1
    )
    assert found.table.loc["crop.half_amount", "width"] == pytest.approx(
        alone.table.loc["crop.half_amount", "width"], rel=0.25
    )
    assert "trial" in found.source


# Command and pictures --------------------------------------------------------------------------------------


@pytest.fixture
def files(one, tmp_path):
    SCENARIO.save(tmp_path / "room.toml")
    one.table.to_csv(tmp_path / "leaf.csv", index=False)
    return tmp_path


def test_the_command_plans_reads_and_calibrates(files, capsys):
    room, table = str(files / "room.toml"), str(files / "leaf.csv")
    assert (
        main(
            [
                "measure",
                "plan",
                "leaf",
                room,
                "--csv",
                str(files / "sheet.csv"),
                "--sheet",
                str(files / "s.pdf"),
            ]
        )
        == 0
    )
    said = capsys.readouterr().out
    assert said.index("no active ingredient") < said.index("The question")
    assert "re-entry" in said
    assert (files / "s.pdf").read_bytes().startswith(b"%PDF")
    assert {"leaf", "state", "clock", "mass [g]"} <= set(pd.read_csv(files / "sheet.csv").columns)
    assert main(["measure", "sheet", "leaf", room, str(files / "s.html")]) == 0
    assert "no active ingredient" in (files / "s.html").read_text()
    assert main(["measure", "read", "leaf", room, table, "--picture", str(files / "leaf.png")]) == 0
    assert "stayed wet" in capsys.readouterr().out
    assert (files / "leaf.png").read_bytes().startswith(b"\x89PNG")
    assert main(["measure", "read", "leaf", room, table, "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["table"]) == 4
    crop = str(files / "crop.toml")
    assert main(["measure", "calibrate", room, "--leaf", table, "--save", crop, "--name", "mum"]) == 0
    assert "retention.leaf_store" in capsys.readouterr().out
    assert set(ws.load_crop(crop)) >= {"leaf.receding_angle"}


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("plan", "lef"), "did you mean 'leaf'"),
        (("plan", "leaf", "--precision", "5"), "--precision"),
        (("plan", "leaf", "--number", "1"), "two leaves or more"),
    ],
)
def test_the_command_refuses_in_one_line(files, capsys, arguments, said):
    part, what, *others = arguments
    assert main(["measure", part, what, str(files / "room.toml"), *others]) == 2
    told = capsys.readouterr().err
    assert said in told
    assert told.count("\n") == 1
