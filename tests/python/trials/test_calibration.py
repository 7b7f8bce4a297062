"""Calibration: known crops come back through the spray model, and it says where the plants said nothing."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest
import wetspan as ws
from refusal import refused
from scipy import stats
from scipy.optimize import brentq, minimize, minimize_scalar
from wetspan.active import active
from wetspan.crop import Z90
from wetspan.errors import InputError
from wetspan.trials import calibrate, compare, crop_posterior, read_trial
from wetspan.trials.crop_fit import DECIDABLE, HALF, TIP_SHARE, CropModel, treatment_means

BENCH = ws.Scenario(application={"concentration": "30 mg/L"}, title="a made-up bench")
DRENCH = BENCH.replace({"application.method": "drench", "application.volume_rate": "4 L/m^2"})
COVERED = BENCH.replace({"canopy.pots_covered": True})
CHECK_HEIGHT = 30.0  # [cm]
TRUTH = (0.2e-9, 4e-7)  # amount at the tips that halves growth [kg], metabolism [1/s]


def controls_of(scenario, crop, rates, more=()):
    """Growth controls that the spray model gives a crop at concentrations [mg/L]."""
    keys = [*DECIDABLE[: len(crop)], *(key for key, _ in more)]
    values = [*crop, *(value for _, value in more)]
    sprays = [scenario.replace({"application.concentration": f"{rate} mg/L"}) for rate in rates]
    return CropModel(keys, sprays).controls(np.log([values]))[0]


def trial(controls, rates, *, plants=10, cv=0.09, seed=1, unit="mg/L", **options):
    """A made-up trial whose treatments are shorter by `controls`; noise as large as plants vary."""
    random = np.random.default_rng(seed)
    names = ["untreated", *(f"{rate:g}" for rate in rates)]
    group = np.repeat(np.arange(len(names)), plants)
    mean = CHECK_HEIGHT * (1 - np.concatenate([[0.0], controls]))
    height = mean[group] + random.normal(0, cv * CHECK_HEIGHT, len(group))
    table = pd.DataFrame(
        {
            "treatment": np.array(names)[group],
            "rate": np.concatenate([[0.0], rates])[group],
            "height_cm": np.maximum(height, 0.5),  # what is left of a plant that hardly grew
        }
    )
    return read_trial(table, rate="rate", units={"rate": unit}, **options)


def simulated(scenario, crop, rates, more=(), **options):
    """A trial of concentrations [mg/L], grown by the spray model."""
    return trial(controls_of(scenario, crop, rates, more), rates, **options)


@pytest.fixture
def fast(monkeypatch):
    """No p values, which are slow and have no part here."""
    monkeypatch.setattr(compare, "dunnett_p", lambda t, *_: np.ones(len(t)))


def test_the_response_is_that_of_one_spray():
    for half, metabolism in ((0.05e-9, 1e-7), (1e-9, 8e-7)):
        spray = BENCH.replace(dict(zip(DECIDABLE, (half, metabolism), strict=True)))
        assert controls_of(BENCH, (half, metabolism), [30.0])[0] == pytest.approx(
            ws.simulate(spray).growth_control, rel=1e-9
        )


def test_a_known_crop_comes_back_where_the_prior_leaves_room():
    """Rates from next to nothing to nearly all tell how much halves growth from how long it lasts."""
    result = simulated(BENCH, TRUTH, [3, 10, 30, 100, 300, 1000, 3000], plants=400, cv=0.01)
    found = calibrate(BENCH, result, spreads={HALF: 20, "crop.metabolism": 20})
    assert found.parameters == DECIDABLE
    assert [found.scenario[key] for key in DECIDABLE] == pytest.approx(TRUTH, rel=0.08)
    assert (found.table["width"] < 0.25).all()
    assert set(found.table["says"]) == {"the plants"}
    assert found.warnings == ()
    assert ws.simulate(found.scenario).growth_control == pytest.approx(
        ws.simulate(BENCH.replace(dict(zip(DECIDABLE, TRUTH, strict=True)))).growth_control, abs=0.002
    )


def test_the_minimum_is_that_of_a_general_optimiser(fast):
    """The whole sum of squares over inputs and check height, minimised without derivatives."""
    rates = [20, 60, 180, 540]
    result = simulated(BENCH, TRUTH, rates)
    found = calibrate(BENCH, result)
    center = np.log([BENCH[key] for key in DECIDABLE])
    scale = np.log(found.table["prior_spread"].to_numpy()) / 1.6448536
    means, weight = result.table["adjusted_mean"].to_numpy(), np.linalg.inv(result.mean_covariance)
    t_over_z = 2.0141034 / 1.9599640  # t 0.975 with 45 degrees of freedom

    def squares(theta):
        controls = controls_of(BENCH, np.exp(center + scale * theta[:2]), rates)
        missed = means - theta[2] * CHECK_HEIGHT * (1 - np.concatenate([[0], controls]))
        return theta[:2] @ theta[:2] + missed @ weight @ missed / t_over_z**2

    assert result.df == 45
    options = {"xatol": 1e-7, "fatol": 1e-11, "maxiter": 2000}
    best = minimize(squares, [0, 0, 1.0], method="Nelder-Mead", options=options)
    u = (np.log([found.scenario[key] for key in DECIDABLE]) - center) / scale
    assert u == pytest.approx(best.x[:2], abs=5e-4)


def crops_from_the_prior(n, seed):
    random = np.random.default_rng(seed)
    spread = ws.parameters().loc[list(DECIDABLE), "spread"].to_numpy()
    logs = np.log([BENCH[key] for key in DECIDABLE]) + random.normal(size=(n, 2)) * np.log(spread) / Z90
    return np.exp(logs)


def test_intervals_cover_the_truth_as_often_as_they_say(fast):
    """60 crops drawn from the prior, a trial of each through the spray model, all intervals at 95 %."""
    rates, wanted = [20.0, 60.0, 180.0, 540.0], 0.25
    hits, crops = [], crops_from_the_prior(60, seed=5)
    for seed, crop in enumerate(crops):
        found = calibrate(BENCH, simulated(BENCH, crop, rates, seed=seed))
        truth = BENCH.replace(dict(zip(DECIDABLE, crop, strict=True)))
        shown = [1e9 * crop[0], 86400 * crop[1]]
        predicted = found.control(["100 mg/L"]).iloc[0]
        rate = found.next_rate(wanted)
        model = CropModel(["application.concentration"], [truth])
        true_rate = brentq(
            lambda x, model=model: model.controls(np.array([[x]]))[0, 0] - wanted, -11, 3.9, xtol=1e-4
        )
        hits.append(
            [
                *((found.table["lower"] < shown) & (shown < found.table["upper"])),
                predicted["lower"] < controls_of(BENCH, crop, [100.0])[0] < predicted["upper"],
                rate.lower < 1e3 * np.exp(true_rate) < rate.upper,
            ]
        )
    share = np.mean(hits, axis=0)
    assert len(hits) == 60
    assert ((share >= 0.88) & (share <= 1.0)).all(), share


def test_without_effect_the_prior_stands_and_it_says_so(tmp_path):
    result = simulated(BENCH, (BENCH[HALF], BENCH["crop.metabolism"]), [0.02, 0.05])
    found = calibrate(BENCH, result)
    assert (found.table["width"] > 0.97).all()
    assert found.silent == DECIDABLE
    assert found.scenario[HALF] == pytest.approx(BENCH[HALF], rel=0.1)
    assert "this is what was assumed before, not a calibration" in found.text
    assert "No combination of these inputs was narrowed" in found.text
    assert any("not a calibration" in doubt for doubt in found.next_rate(0.2).warnings)
    with pytest.raises(InputError, match="nothing was calibrated"):
        found.save(tmp_path / "crop.toml", "nothing")


def test_directions_alike_and_correlation():
    """Low rates know the half amount and metabolism only together: both say how much holds for how long."""
    result = simulated(BENCH, TRUTH, [2, 4, 8], plants=400, cv=0.03)
    found = calibrate(BENCH, result)
    assert abs(found.alike[DECIDABLE]) > 0.9
    assert f"The data cannot tell {DECIDABLE[0]} and {DECIDABLE[1]} apart" in found.text
    assert list(found.directions["width"]) == sorted(found.directions["width"])
    loadings = found.directions[list(DECIDABLE)].to_numpy()
    assert loadings @ loadings.T == pytest.approx(np.eye(2), abs=1e-9)
    assert found.directions["width"].iloc[-1] > 0.8
    assert np.diag(found.correlation) == pytest.approx(np.ones(2))


def test_the_share_of_the_leaves_is_seen_on_covered_pots_only():
    share = (TIP_SHARE, 0.02)
    covered = simulated(COVERED, TRUTH, [30, 100, 300], more=[share], plants=60, cv=0.03, seed=1)
    drench = simulated(DRENCH, TRUTH, [0.3, 1, 3], more=[share], plants=60, cv=0.03, seed=2)
    both = calibrate([COVERED, DRENCH], [covered, drench])
    assert both.parameters == (*DECIDABLE, TIP_SHARE)
    assert both.table.loc[TIP_SHARE, "width"] < 0.6
    assert both.table.loc[TIP_SHARE, "lower"] < 2 < both.table.loc[TIP_SHARE, "upper"]
    assert list(both.treatments["trial"]) == [1, 1, 1, 2, 2, 2]
    open_pots = simulated(BENCH, TRUTH, [30, 100, 300], seed=1)
    assert calibrate(BENCH, open_pots).parameters == DECIDABLE
    refused(lambda: calibrate(BENCH, open_pots, parameters=[HALF, TIP_SHARE]), "a spray on covered pots")
    refused(lambda: calibrate(DRENCH, drench, parameters=[TIP_SHARE]), "a spray on covered pots")


def test_two_trials_know_more_than_one_and_a_second_start_where_the_first_ended(fast):
    first, second = (simulated(BENCH, TRUTH, [20, 60, 180, 540], seed=seed) for seed in (1, 2))
    together = calibrate(BENCH, [first, second], parameters=[HALF])
    once = calibrate(BENCH, first, parameters=[HALF])
    then = calibrate(once.scenario, second, parameters=[HALF], spreads=once.spreads)
    assert together.table.loc[HALF, "spread"] < once.table.loc[HALF, "spread"]
    assert then.scenario[HALF] == pytest.approx(together.scenario[HALF], rel=0.05)
    assert "2 trials" in together.text


def test_treatments_can_be_told_by_their_changes():
    changes = {
        "spray": {"application.concentration": "300 mg/L"},
        "drench": {"application.method": "drench", "application.volume_rate": "4 L/m^2"},
    }
    model = CropModel([HALF], [BENCH.replace(change) for change in changes.values()])
    outcome = model.run(np.log([[0.2e-9]]))
    by_name = pd.DataFrame(
        {
            "treatment": np.repeat(["untreated", *changes], 12),
            "height_cm": np.repeat(30 * (1 - np.concatenate([[0], outcome["growth_control"][0]])), 12)
            + np.tile(np.linspace(-0.5, 0.5, 12), 3),
        }
    )
    result = read_trial(by_name)
    found = calibrate(BENCH, result, parameters=[HALF], changes=changes)
    doses = sum(outcome[f"tips.{site}"][0] for site in ("leaf", "stem", "root"))
    assert found.treatments["dose_ug"].to_numpy() == pytest.approx(doses * 1e9)
    assert found.scenario[HALF] == pytest.approx(0.2e-9, rel=0.05)
    assert np.isnan(found.misfit_p) or found.widening == 1.0
    with pytest.raises(InputError, match="nothing tells how 'drench' was sprayed"):
        calibrate(BENCH, result, changes={"spray": changes["spray"]})


def test_rates_may_set_another_input():
    result = trial([0.1, 0.25], [1, 3], unit="L/m^2")
    found = calibrate(DRENCH, result, rate="application.volume_rate")
    assert list(found.treatments["rate"]) == pytest.approx([1, 3])
    assert found.next_rate(0.2).unit == "L/m^2"
    with pytest.raises(InputError, match=r"'1': application\.concentration = '1\.0 L/m\^2' has the wrong"):
        calibrate(DRENCH, result)


def test_next_rate_is_the_rate_that_the_calibrated_model_needs():
    result = simulated(BENCH, TRUTH, [30, 100, 300], plants=20)
    found = calibrate(BENCH, result)
    rate = found.next_rate(0.3)
    at_it = found.scenario.replace({"application.concentration": f"{rate.rate} mg/L"})
    assert ws.simulate(at_it).growth_control == pytest.approx(0.3, abs=1e-4)
    assert rate.lower < rate.rate < rate.upper
    assert rate.inside_tested_range
    assert found.next_rate(0.3, level=0.5).upper < rate.upper
    predicted = found.control([f"{rate.rate} mg/L", "1 mg/L", "30 mg/L"])
    assert predicted["control"].iloc[0] == pytest.approx(0.3, abs=1e-4)
    assert list(predicted["tested"]) == [True, False, True]
    assert (predicted["lower"] < predicted["control"]).all()
    assert (predicted["upper"] > predicted["control"]).all()


@pytest.mark.parametrize(
    ("control", "said"),
    [
        (0.55, "above the rates tested"),
        (0.02, "below the rates tested"),
        (0.95, "It is not reachable"),
        (1e-5, "far below the rates tested"),
    ],
)
def test_no_rate_outside_the_tested_range_without_a_warning(control, said):
    result = simulated(BENCH, TRUTH, [30, 60, 120], plants=20, cv=0.04)
    rate = calibrate(BENCH, result).next_rate(control)
    assert not rate.inside_tested_range
    assert said in rate.text


def test_another_crop_than_the_priors_is_noticed_and_a_wide_prior_finds_it(fast):
    crop = (20 * BENCH[HALF], BENCH["crop.metabolism"])  # as far from the table's crop as petunia is
    result = simulated(BENCH, crop, [100, 300, 1000, 3000, 10000], plants=20, cv=0.03)
    tight = calibrate(BENCH, result, parameters=[HALF])
    assert any("The plants contradict what was assumed" in warning for warning in tight.warnings)
    assert any("or active ingredient" in warning for warning in tight.warnings)
    wide = calibrate(BENCH, result, spreads={HALF: 100})
    assert wide.scenario[HALF] == pytest.approx(crop[0], rel=0.4)
    assert wide.warnings == ()


def test_a_misfit_is_said_and_widens_the_intervals(fast):
    rates = [20, 60, 180, 540]
    plain = simulated(BENCH, TRUTH, rates, plants=20, cv=0.04)
    bent = trial([0.3, 0.1, 0.5, 0.2], rates, plants=20, cv=0.04)
    found = calibrate(BENCH, bent)
    assert found.misfit_p < 1e-4
    assert found.widening > 3
    assert any("misses the treatment means" in warning for warning in found.warnings)
    assert "does not have the shape" in found.text
    ok = calibrate(BENCH, plain)
    assert ok.widening == 1.0
    assert found.table.loc[HALF, "width"] > 1.2 * ok.table.loc[HALF, "width"]


def test_an_interval_that_the_tables_bounds_cut_off_is_named(fast):
    key = "crop.largest_inhibition"
    near = calibrate(
        BENCH.replace({key: 0.99}), trial([0.2, 0.3, 0.5], [30, 100, 300]), parameters=[HALF, key]
    )
    assert near.table.loc[key, "upper"] <= 100
    assert any(f"interval of {key} is cut off" in warning for warning in near.warnings)
    drawn = [each[key] for each in near.draw(500)]
    assert len(drawn) == 500
    assert max(drawn) <= 1.0


def test_misfits_are_rare_when_there_is_none(fast, monkeypatch):
    monkeypatch.setattr(crop_posterior, "POINTS", 64)  # which have no part here
    crops = crops_from_the_prior(40, seed=8)
    found = [
        calibrate(BENCH, simulated(BENCH, crop, [20, 60, 180, 540], seed=i)) for i, crop in enumerate(crops)
    ]
    assert np.mean([each.widening > 1 for each in found]) < 0.12
    assert np.mean([each.misfit_p for each in found]) == pytest.approx(0.5, abs=0.15)


def test_limits_and_draws_are_those_of_the_exact_posterior(fast, tmp_path):
    """Beside the posterior on a grid, its check height integrated out by the trapezoidal rule."""
    rates = [20.0, 60.0, 180.0, 540.0]
    result = simulated(BENCH, (0.05e-9, 1e-7), rates, seed=4)
    found = calibrate(BENCH, result)
    center = np.log([BENCH[key] for key in DECIDABLE])
    scale = np.log(ws.parameters().loc[list(DECIDABLE), "spread"].to_numpy()) / Z90
    axis = np.linspace(-4.5, 3.5, 33)
    u = np.stack(np.meshgrid(axis, axis, indexing="ij"), axis=-1).reshape(-1, 2)
    sprays = [BENCH.replace({"application.concentration": f"{rate} mg/L"}) for rate in rates]
    relative = 1 - np.pad(CropModel(DECIDABLE, sprays).controls(center + scale * u), ((0, 0), (1, 0)))
    heights = CHECK_HEIGHT * np.linspace(0.8, 1.2, 161)
    missed = result.table["adjusted_mean"].to_numpy() - heights[:, None, None] * relative
    weight = np.linalg.inv(result.mean_covariance) / (2.0141034 / 1.9599640) ** 2
    squares = np.einsum("hij,jk,hik->hi", missed, weight, missed)
    mass = np.exp(-0.5 * (squares - squares.min())).sum(axis=0) * np.exp(-0.5 * (u**2).sum(axis=1))
    mass = mass.reshape(33, 33) / mass.sum()
    drawn = found.draw(4000, seed=3)
    logs = np.log([[each[key] for key in DECIDABLE] for each in drawn])
    crop = found.crop("a made-up crop")
    crop.save(tmp_path / "crop.toml")
    kept = ws.load_crop(tmp_path / "crop.toml").log_draws
    for i in range(2):
        even = mass.sum(axis=1 - i)
        below = np.cumsum(even) - 0.5 * even
        limits = (np.log(found.table[["lower", "upper"]].iloc[i] / found.table["prior"].iloc[i])) / scale[i]
        assert np.interp(limits, axis, below) == pytest.approx(
            [0.025, 0.975], abs=0.02
        )  # 250 points tell no more
        mean = even @ axis
        sd = np.sqrt(even @ (axis - mean) ** 2)
        for sample in (logs, kept):
            of = (sample[:, i] - center[i]) / scale[i]
            assert of.mean() == pytest.approx(mean, abs=0.1 * sd)
            assert of.std() == pytest.approx(sd, rel=0.1)
    assert drawn[0].title == found.scenario.title
    assert found.draw(4000, seed=3) == drawn
    assert found.draw(4000, seed=4) != drawn


def test_the_check_height_is_integrated_out():
    """Likelihoods beside the trapezoidal rule over check heights, of means so uncertain that it matters."""
    rates = [30.0, 300.0]
    sprays = [BENCH.replace({"application.concentration": f"{rate} mg/L"}) for rate in rates]
    means, covariance = np.array([30.0, 24.0, 15.0]), np.diag([16.0, 25.0, 9.0])
    halves = np.array([0.02e-9, 0.1e-9, 0.5e-9, 5e-9])
    heights = np.linspace(-100, 200, 3001)
    t_over_z = 2.4469118 / 1.9599640  # t 0.975 with 6 degrees of freedom
    for widening in (1.0, 2.5):
        data = treatment_means(sprays, means, covariance, df=6)
        found = crop_posterior._likelihood(
            CropModel([HALF], sprays), [data], widening, np.log(halves)[:, None]
        )
        exact = []
        for half in halves:
            relative = 1 - np.concatenate([[0.0], controls_of(BENCH, (half,), rates)])
            missed = (means - heights[:, None] * relative) / (t_over_z * np.sqrt(np.diag(covariance)))
            exact.append(np.log(np.exp(-0.5 * (missed**2).sum(axis=1) / widening).sum()))
        assert found - found[0] == pytest.approx(np.array(exact) - exact[0], abs=1e-6)


def test_intervals_of_controls_and_rates_are_as_wide_as_the_delta_method_says(fast):
    """The covariance of the inputs, carried on by differences, at levels whose z stand in every table."""
    found = calibrate(BENCH, simulated(BENCH, TRUTH, [30, 100, 300], plants=20))
    crop, step = np.log([found.scenario[key] for key in DECIDABLE]), 0.02

    def logit(rate, logs):
        control = controls_of(BENCH, np.exp(logs), [rate])[0]
        return np.log(control / (1 - control))

    def by_inputs(rate):
        ways = step * np.eye(2)
        return np.array([logit(rate, crop + way) - logit(rate, crop - way) for way in ways]) / (2 * step)

    for level, z in ((0.95, 1.9599640), (0.8, 1.2815516)):
        told = found.control(["100 mg/L"], level=level).iloc[0]
        lower, upper = (np.log(told[end] / (1 - told[end])) for end in ("lower", "upper"))
        sd = np.sqrt(by_inputs(100.0) @ found.log_covariance @ by_inputs(100.0))
        assert logit(100.0, crop) - lower == pytest.approx(z * sd, rel=2e-3)
        assert upper - logit(100.0, crop) == pytest.approx(z * sd, rel=2e-3)
        rate = found.next_rate(0.25, level=level)
        by_rate = (logit(rate.rate * np.exp(step), crop) - logit(rate.rate * np.exp(-step), crop)) / (
            2 * step
        )
        sd = np.sqrt(by_inputs(rate.rate) @ found.log_covariance @ by_inputs(rate.rate)) / by_rate
        assert np.log(rate.upper / rate.rate) == pytest.approx(z * sd, rel=2e-3)
        assert np.log(rate.rate / rate.lower) == pytest.approx(z * sd, rel=2e-3)


def test_uniconazole_data_are_no_use_for_the_physics_of_paclobutrazol(raw):
    ours = BENCH.replace(active("paclobutrazol").values)
    assert list(ours.values()) == pytest.approx(list(BENCH.values()), rel=2e-3)  # the table's substance
    result = trial([0.2, 0.3, 0.4], [2, 4, 8], active="Uniconazole")
    assert result.active == "uniconazole"
    with pytest.raises(InputError, match="the trial is of uniconazole, the scenario still has"):
        calibrate(BENCH, result)
    other = {"active.solubility": "8 mg/L", "active.log_kow": 3.7}  # made-up values, for the refusal only
    with pytest.raises(InputError, match=r"still has the active\.molar_volume of paclobutrazol"):
        calibrate(BENCH.replace(other), result)
    other["active.molar_volume"] = "230 cm^3/mol"
    with pytest.raises(InputError, match=r"the prior of crop\.half_amount is that of paclobutrazol"):
        calibrate(BENCH.replace(other), result)
    found = calibrate(BENCH.replace(other), result, spreads={"crop.half_amount": 30})
    assert found.active == "uniconazole"
    ours = trial([0.2, 0.3, 0.4], [20, 40, 80], active="paclobutrazol")
    with pytest.raises(InputError, match="uniconazole and of paclobutrazol cannot calibrate one crop"):
        calibrate(BENCH, [result, ours])
    assert "do not name their active ingredient" in calibrate(BENCH, trial([0.2, 0.3], [20, 40])).text


def bad_results():
    return trial([0.1, 0.2, 0.3], [20, 60, 180])


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"parameters": ["crop.halfamount"]}, "did you mean 'crop.half_amount'"),
        ({"parameters": []}, "name one input or more"),
        ({"parameters": ["crop.metabolism", "crop.metabolism"]}, "named twice"),
        ({"parameters": ["active.log_kow"]}, "grade A, measured on this substance"),
        ({"parameters": ["leaf.absorptance"]}, "grade B, a published formula"),
        ({"parameters": ["application.method"]}, "is a choice"),
        ({"parameters": ["crop.final_height"]}, "a spread of 1 is stated by the user"),
        (
            {"parameters": ["house.sprayed_share"], "spreads": {"house.sprayed_share": 1}},
            "leaves nothing to fit",
        ),
        ({"spreads": {"uptake.cuticle": 2}}, "'uptake.cuticle' is not among the parameters"),
        ({"spreads": {"crop.metabolism": np.nan}}, "leaves nothing to fit"),
        ({"rate": "application.concentratoin"}, "did you mean 'application.concentration'"),
        ({"rate": "application.method"}, "rates are quantities"),
        ({"changes": {"untreated": {"air.speed": 1}}}, "'untreated' is the untreated check"),
        ({"changes": {"200": {"air.speed": 1}}}, "'200' is no treatment of it"),
        ({"changes": {"20": {"air.sped": 1}}}, "did you mean 'air.speed'"),
        ({"changes": {"20": {"crop.metabolism": "0.1 1/day"}}}, "one for the whole crop"),
        ({"changes": [{}, {}]}, "2 changes for 1 trials"),
    ],
)
def test_bad_input_is_refused_in_one_line(options, said):
    with pytest.raises(InputError) as refused:
        calibrate(BENCH, bad_results(), **options)
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


def test_bad_arguments_are_refused_in_one_line():
    result = bad_results()
    for arguments, said in (
        ((BENCH, []), "give what read_trial returned"),
        ((BENCH, ["heights.csv"]), "give what read_trial returned"),
        (([BENCH, BENCH], result), "2 scenarios for 1 trials"),
        (([None], result), "give a Scenario"),
        (
            ([BENCH, BENCH.replace({"crop.metabolism": 1e-7})], [result, result]),
            "crop.metabolism differs between",
        ),
        ((BENCH, trial([0.1, 0.2], [20, 60], unit="mg/pot")), "treatment '20': application.concentration"),
        (
            (BENCH.replace({"uptake.mobile_share": 0}), result, ["uptake.mobile_share"]),
            "is 0 percent",
        ),
    ):
        options = {"parameters": arguments[2]} if len(arguments) == 3 else {}
        with pytest.raises(InputError) as refused:
            calibrate(*arguments[:2], **options)
        assert said in str(refused.value)
        assert "\n" not in str(refused.value)
    found = calibrate(BENCH, result)
    for bad in (lambda: found.next_rate(1.2), lambda: found.next_rate(0.2, level=95), lambda: found.draw(0)):
        with pytest.raises(InputError):
            bad()


def test_one_level_throughout(fast):
    usual, narrow = (
        calibrate(BENCH, simulated(BENCH, TRUTH, [30, 100, 300], level=level)) for level in (0.95, 0.8)
    )
    assert (narrow.table["lower"] > usual.table["lower"]).all()
    assert (narrow.table["prior_upper"] < usual.table["prior_upper"]).all()
    assert (narrow.table["spread"] == usual.table["spread"]).all()
    for found, level in ((usual, 0.95), (narrow, 0.8)):
        said = f"{100 * level:.3g} % interval"
        assert found.level == found.next_rate().level == level
        assert found.text.count(said) == found.text.count("% interval") == 3
        row = found.table.loc["crop.metabolism"]
        reach = row["prior_spread"] ** (stats.norm.isf((1 - level) / 2) / Z90)
        assert row["prior_upper"] == pytest.approx(row["prior"] * reach)
        curve, widths = found.plot().axes
        assert widths.get_xlabel().startswith(said)
        assert any(f"{100 * level:.3g} % band" in text.get_text() for text in curve.get_legend().get_texts())
    mixed = [trial([0.1, 0.2, 0.3], [20, 60, 180], level=level) for level in (0.95, 0.8)]
    refused(lambda: calibrate(BENCH, mixed), "levels 0.8 and 0.95")


def test_picture(fast, tmp_path):
    found = calibrate(BENCH, simulated(BENCH, TRUTH, [30, 100, 300]))
    figure = found.plot(0.3)
    figure.savefig(tmp_path / "calibration.png")
    curve, widths = figure.axes
    words = " ".join(text.get_text() for text in curve.get_legend().get_texts())
    assert f"30 %: {found.next_rate(0.3).rate:.3g} mg/L (" in words
    assert [label.get_text().split("\n")[0] for label in widths.get_yticklabels()] == list(DECIDABLE)
    found.plot(0.9).draw_without_rendering()
    found.plot(None).draw_without_rendering()


def test_rates_are_told_as_the_trials_tell_them():
    rates = [15.0, 30.0, 60.0]
    parts = calibrate(BENCH, [simulated(BENCH, TRUTH, rates, unit="ppm")])
    weight = calibrate(BENCH, [simulated(BENCH, TRUTH, rates, unit="mg/L")])
    assert parts.rate_unit == "ppm"
    assert weight.rate_unit == "mg/L"
    assert "ppm" in parts.next_rate(0.25).text
    assert parts.next_rate(0.25).rate == pytest.approx(weight.next_rate(0.25).rate, rel=1e-9)
    assert parts.control(["30 ppm"]).index.name == "rate [ppm]"
    both = [simulated(BENCH, TRUTH, rates, unit=unit) for unit in ("ppm", "mg/L")]
    assert calibrate(BENCH, both).rate_unit == "mg/L"


def test_limits_of_the_plants_alone_are_profile_likelihood_limits(fast):
    """At each limit the best value of the other input leaves what Student's t allows, by another search."""
    result = simulated(BENCH, TRUTH, [3, 10, 30, 100, 300, 1000, 3000], plants=400, cv=0.01)
    found = calibrate(BENCH, result)
    rates = found.treatments["rate"]
    model = CropModel(DECIDABLE, [BENCH.replace({"application.concentration": f"{r:g} mg/L"}) for r in rates])
    fixed, means = np.linalg.inv(result.mean_covariance), result.table["adjusted_mean"].to_numpy()

    def squares(logs):
        relative = 1 - np.concatenate([[0.0], model.controls(np.array([logs]))[0]])
        height = (relative @ fixed @ means) / (relative @ fixed @ relative)
        return (means - height * relative) @ fixed @ (means - height * relative)

    def least(place, held):
        middle = np.log(TRUTH[1 - place])
        return minimize_scalar(
            lambda other: squares([held, other] if place == 0 else [other, held]),
            bounds=(middle - 1.5, middle + 1.5),
            method="bounded",
        ).fun

    lowest = minimize(squares, np.log(TRUTH), method="Nelder-Mead").fun
    allowed = stats.t.isf(0.025, result.df) ** 2
    for place, unit in enumerate((1e9, 86400)):
        for end in ("lower", "upper"):
            held = np.log(found.alone[end].iloc[place] / unit)
            assert least(place, held) - lowest == pytest.approx(allowed, rel=0.05), (place, end)


def test_the_plants_alone_do_not_know_the_prior(fast):
    result = simulated(BENCH, TRUTH, [3, 10, 30, 100, 300, 1000, 3000], plants=400, cv=0.01)
    ends = ["lower", "upper"]
    usual = calibrate(BENCH, result)
    elsewhere = calibrate(BENCH.replace({HALF: 3 * BENCH[HALF]}), result, spreads={"crop.metabolism": 1.5})
    assert np.log(elsewhere.alone[ends].to_numpy() / usual.alone[ends].to_numpy()) == pytest.approx(
        np.zeros((2, 2)), abs=0.02
    )
    assert elsewhere.table.loc[HALF, "lower"] > 1.03 * usual.table.loc[HALF, "lower"]


def test_an_end_that_plants_leave_open_is_said(fast):
    found = calibrate(BENCH, simulated(BENCH, TRUTH, [20, 60, 180, 540]))
    assert found.alone.loc["crop.metabolism", "lower"] == 0.0
    assert "From the plants alone, without the prior: no limit." in found.text
    nothing = calibrate(BENCH, simulated(BENCH, TRUTH, [0.02, 0.05]))
    assert nothing.alone.loc[HALF, "upper"] == np.inf
    assert np.isnan(nothing.conflict_p)
    assert re.search("without the prior: (above|no limit)", nothing.text)


def test_plants_that_contradict_the_prior_are_named_with_the_limits_to_read(fast):
    rates, crop = [100, 300, 1000, 3000], (5 * BENCH[HALF], BENCH["crop.metabolism"])
    result = simulated(BENCH, crop, rates, plants=20, cv=0.04)
    off = calibrate(BENCH, result, parameters=[HALF])
    (warning,) = off.warnings
    assert off.conflict_p < 0.01
    assert "do not trust the limits with the prior" in warning
    assert f"spreads={{'{HALF}': 6.25}}" in warning
    assert off.alone.loc[HALF, "lower"] < 1e9 * crop[0] < off.alone.loc[HALF, "upper"]
    wide = calibrate(BENCH, result, parameters=[HALF], spreads={HALF: 6.25})
    assert wide.warnings == ()
    assert wide.conflict_p > 0.05
