"""Calibration: known crops come back through the spray model, and it says where the plants said nothing."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import wetspan as ws
from refusal import refused
from scipy import stats
from scipy.optimize import minimize
from wetspan.active import active
from wetspan.errors import InputError
from wetspan.trials import calibrate, compare, crop_fit, read_trial
from wetspan.trials.crop import Z90
from wetspan.trials.crop_fit import SENSITIVITY

BENCH = ws.Scenario(application={"concentration": "30 mg/L"}, title="a made-up bench")
DRENCH = BENCH.replace({"application.method": "drench", "application.volume_rate": "4 L/m^2"})
CHECK_HEIGHT = 30.0  # [cm]


HALF, METABOLISM = BENCH["crop.half_amount"], BENCH["crop.metabolism"]


def at(scenario, rates):
    """Sprays of some concentrations [mg/L]."""
    return [scenario.in_si({"application.concentration": rate / 1e3}) for rate in rates]


def control_of(crop, sprays):
    """Growth control of sprays on a crop (half amount [kg], metabolism [1/s])."""
    changed = dict(zip(SENSITIVITY, (float(value) for value in crop), strict=True))
    return crop_fit.compute_sprays([spray.in_si(changed) for spray in sprays]).control


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


def simulated(scenario, crop, rates, **options):
    """A trial of concentrations [mg/L], grown by the model."""
    return trial(control_of(crop, at(scenario, rates)), rates, **options)


@pytest.fixture
def fast(monkeypatch):
    """No p values, which are slow and have no part here."""
    monkeypatch.setattr(compare, "dunnett_p", lambda t, *_: np.ones(len(t)))


def test_the_response_is_that_of_the_core():
    for crop in ((0.1e-9, 1e-7), (1e-9, 6e-7)):
        (control,) = control_of(crop, at(BENCH, [70]))
        spray = at(BENCH, [70])[0].in_si(dict(zip(SENSITIVITY, crop, strict=True)))
        assert control == pytest.approx(ws.simulate(spray).growth_control, rel=1e-12)


def test_a_known_crop_comes_back_where_the_prior_leaves_room():
    truth = (3 * HALF, METABOLISM)
    result = simulated(BENCH, truth, [10, 30, 100, 300, 1000, 3000], plants=40, cv=0.02)
    found = calibrate(BENCH, result, spreads={"crop.half_amount": 20})
    half = found.table.loc["crop.half_amount"]
    assert half["lower"] < 3e9 * HALF < half["upper"]
    assert half["says"] == "the plants"
    assert found.warnings == ()
    assert ws.simulate(found.scenario).growth_control == pytest.approx(
        ws.simulate(BENCH.in_si(dict(zip(SENSITIVITY, truth, strict=True)))).growth_control, abs=0.004
    )


def test_the_minimum_is_that_of_a_general_optimiser(fast):
    """The whole sum of squares over inputs and check height, minimised without derivatives."""
    rates = [20, 60, 180, 540]
    result = simulated(BENCH, (1.6 * HALF, METABOLISM), rates)
    found = calibrate(BENCH, result)
    center = np.log([BENCH[key] for key in SENSITIVITY])
    scale = np.log(found.table["prior_spread"].to_numpy()) / 1.6448536
    means, weight = result.table["adjusted_mean"].to_numpy(), np.linalg.inv(result.mean_covariance)
    t_over_z = 2.0141034 / 1.9599640  # t 0.975 with 45 degrees of freedom

    def squares(theta):
        controls = control_of(np.exp(center + scale * theta[:2]), at(BENCH, rates))
        missed = means - theta[2] * CHECK_HEIGHT * (1 - np.concatenate([[0], controls]))
        return theta[:2] @ theta[:2] + missed @ weight @ missed / t_over_z**2

    assert result.df == 45
    best = minimize(
        squares, [0, 0, 1.0], method="Nelder-Mead", options={"xatol": 1e-5, "fatol": 1e-9, "maxiter": 500}
    )
    u = (np.log([found.scenario[key] for key in SENSITIVITY]) - center) / scale
    assert u == pytest.approx(best.x[:2], abs=1e-3)


def crops_from_the_prior(n, seed):
    random = np.random.default_rng(seed)
    spread = ws.parameters().loc[list(SENSITIVITY), "spread"].to_numpy()
    logs = np.log([BENCH[key] for key in SENSITIVITY]) + random.normal(size=(n, 2)) * np.log(spread) / Z90
    return np.exp(logs)


def test_intervals_cover_the_truth_as_often_as_they_say(fast):
    """60 crops drawn from the prior, a trial of each through the model, all intervals at 95 %."""
    rates, wanted = [20.0, 60.0, 180.0, 540.0], 0.25
    hits = []
    for seed, crop in enumerate(crops_from_the_prior(60, seed=5)):
        found = calibrate(BENCH, simulated(BENCH, crop, rates, seed=seed))
        shown = crop * [1e9, 86400]
        predicted = found.control(["100 mg/L"]).iloc[0]
        rate = found.next_rate(wanted)
        ends = control_of(crop, at(BENCH, [rate.lower, rate.upper]))
        hits.append(
            [
                *((found.table["lower"] < shown) & (shown < found.table["upper"])),
                predicted["lower"] < control_of(crop, at(BENCH, [100]))[0] < predicted["upper"],
                ends[0] < wanted < ends[1],
            ]
        )
    share = np.mean(hits, axis=0)
    assert ((share >= 0.85) & (share <= 1.0)).all(), share


def test_without_effect_the_prior_stands_and_it_says_so(tmp_path):
    result = simulated(BENCH, (HALF, METABOLISM), [0.02, 0.05])
    found = calibrate(BENCH, result)
    assert (found.table["width"] > 0.97).all()
    assert found.silent == SENSITIVITY
    assert found.scenario["crop.half_amount"] == pytest.approx(BENCH["crop.half_amount"], rel=0.1)
    assert "this is what was assumed before, not a calibration" in found.text
    assert "No combination of these inputs was narrowed" in found.text
    assert any("not a calibration" in doubt for doubt in found.next_rate(0.2).warnings)
    with pytest.raises(InputError, match="nothing was calibrated"):
        found.save(tmp_path / "crop.toml", "nothing")


def test_directions_alike_and_correlation():
    """One harvest height knows half amount and metabolism only together."""
    result = simulated(BENCH, (HALF, METABOLISM), [10, 30, 90], plants=400, cv=0.03)
    found = calibrate(BENCH, result)
    assert abs(found.alike["crop.half_amount", "crop.metabolism"]) > 0.9
    assert "The data cannot tell crop.half_amount and crop.metabolism apart" in found.text
    assert list(found.directions["width"]) == sorted(found.directions["width"])
    loadings = found.directions[list(SENSITIVITY)].to_numpy()
    assert loadings @ loadings.T == pytest.approx(np.eye(2), abs=1e-9)
    assert np.diag(found.correlation) == pytest.approx(np.ones(2))


def test_the_tip_share_of_leaves_wants_a_spray_on_covered_pots():
    share, keys = "crop.leaf_tip_share", ("crop.half_amount", "crop.leaf_tip_share")
    rates = [20, 60, 180]
    spray = simulated(BENCH, (HALF, METABOLISM), rates, plants=60, cv=0.03, seed=1)
    with pytest.raises(InputError, match="it wants a treatment sprayed on covered pots"):
        calibrate(BENCH, spray, parameters=keys)
    covered = BENCH.replace({"canopy.pot_diameter": "1 cm"})
    truth = covered.in_si({share: 3 * covered[share]})
    other = simulated(truth, (HALF, METABOLISM), rates, plants=60, cv=0.03, seed=2)
    open_ = simulated(BENCH.in_si({share: 3 * covered[share]}), (HALF, METABOLISM), rates, plants=60, cv=0.03)
    both = calibrate([BENCH, covered], [open_, other], parameters=keys)
    assert both.table.loc[share, "lower"] < 1.5 < both.table.loc[share, "upper"]
    assert both.table.loc[share, "width"] < 0.5
    assert list(both.treatments["trial"]) == [1, 1, 1, 2, 2, 2]


def test_two_trials_know_more_than_one_and_a_second_start_where_the_first_ended(fast):
    crop, rates = (1.3 * HALF, METABOLISM), [20, 60, 180, 540]
    first, second = (simulated(BENCH, crop, rates, seed=seed) for seed in (1, 2))
    together = calibrate(BENCH, [first, second])
    once = calibrate(BENCH, first)
    then = calibrate(once.scenario, second, spreads=once.spreads)
    assert together.table.loc["crop.half_amount", "spread"] < once.table.loc["crop.half_amount", "spread"]
    assert then.scenario["crop.half_amount"] == pytest.approx(together.scenario["crop.half_amount"], rel=0.1)
    assert "2 trials" in together.text


def test_treatments_can_be_told_by_their_changes():
    changes = {
        "spray": {"application.concentration": "300 mg/L"},
        "drench": {"application.method": "drench", "application.volume_rate": "4 L/m^2"},
    }
    sprays = [BENCH.replace(change) for change in changes.values()]
    controls = control_of((HALF, METABOLISM), sprays)
    by_name = pd.DataFrame(
        {
            "treatment": np.repeat(["untreated", *changes], 12),
            "height_cm": np.repeat(30 * (1 - np.concatenate([[0], controls])), 12)
            + np.tile(np.linspace(-1, 1, 12), 3),
        }
    )
    result = read_trial(by_name)
    found = calibrate(BENCH, result, changes=changes)
    assert found.treatments["dose_ug"].to_numpy() == pytest.approx(
        crop_fit.compute_sprays(sprays).tips * 1e9, rel=0.3
    )
    assert found.scenario["crop.half_amount"] == pytest.approx(HALF, rel=0.15)
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
    result = simulated(BENCH, (1.1 * HALF, METABOLISM), [30, 100, 300], plants=20)
    found = calibrate(BENCH, result)
    rate = found.next_rate(0.3)
    at_it = found.scenario.replace({"application.concentration": f"{rate.rate} mg/L"})
    assert ws.simulate(at_it).growth_control == pytest.approx(0.3, abs=2e-3)
    assert rate.lower < rate.rate < rate.upper
    assert rate.inside_tested_range
    assert found.next_rate(0.3, level=0.5).upper < rate.upper
    predicted = found.control([f"{rate.rate} mg/L", "1 mg/L", "30 mg/L"])
    assert predicted["control"].iloc[0] == pytest.approx(0.3, abs=2e-3)
    assert list(predicted["tested"]) == [True, False, True]
    assert (predicted["lower"] < predicted["control"]).all()
    assert (predicted["upper"] > predicted["control"]).all()


@pytest.mark.parametrize(
    ("control", "said"),
    [
        (0.55, "above the rates tested"),
        (0.01, "below the rates tested"),
        (0.9, "Growth still to come allows 80 %"),
        (1e-4, "far below the rates tested"),
    ],
)
def test_no_rate_outside_the_tested_range_without_a_warning(control, said):
    result = simulated(BENCH, (1.1 * HALF, METABOLISM), [30, 60, 120], plants=20, cv=0.04)
    rate = calibrate(BENCH, result).next_rate(control)
    assert not rate.inside_tested_range
    assert said in rate.text


def test_another_crop_than_the_priors_is_noticed_and_a_wide_prior_finds_it(fast):
    crop = (30 * HALF, METABOLISM)  # as far from the table's crop as petunia is from chrysanthemum
    result = simulated(BENCH, crop, [100, 300, 1000, 3000, 10000], plants=20, cv=0.05)
    tight = calibrate(BENCH, result, parameters=["crop.half_amount"])
    assert any("outside what was plausible" in warning for warning in tight.warnings)
    assert any("or active ingredient" in warning for warning in tight.warnings)
    wide = calibrate(BENCH, result, spreads={"crop.half_amount": 100})
    assert wide.scenario["crop.half_amount"] == pytest.approx(crop[0], rel=0.3)
    assert wide.warnings == ()


def test_a_misfit_is_said_and_widens_the_intervals(fast):
    rates = [20, 60, 180, 540]
    plain = simulated(BENCH, (HALF, METABOLISM), rates, plants=20, cv=0.04)
    bent = trial([0.3, 0.1, 0.5, 0.2], rates, plants=20, cv=0.04)
    found = calibrate(BENCH, bent)
    assert found.misfit_p < 1e-4
    assert found.widening > 3
    assert any("misses the treatment means" in warning for warning in found.warnings)
    assert "does not have the shape" in found.text
    ok = calibrate(BENCH, plain)
    assert ok.widening == 1.0
    assert found.table.loc["crop.half_amount", "width"] > 1.3 * ok.table.loc["crop.half_amount", "width"]


def test_an_interval_beyond_the_tables_bounds_is_named(fast):
    keys = ("crop.half_amount", "uptake.mobile_share")
    near = calibrate(
        BENCH.replace({"uptake.mobile_share": 0.9}), trial([0.2, 0.3, 0.5], [30, 100, 300]), parameters=keys
    )
    assert near.table.loc["uptake.mobile_share", "upper"] > 100
    assert any("interval of uptake.mobile_share reaches beyond" in warning for warning in near.warnings)
    drawn = [each["uptake.mobile_share"] for each in near.draw(500)]
    assert len(drawn) == 500
    assert max(drawn) <= 1.0


def test_misfits_are_rare_when_there_is_none(fast):
    crops = crops_from_the_prior(50, seed=8)
    found = [
        calibrate(BENCH, simulated(BENCH, crop, [20, 60, 180, 540], seed=i)) for i, crop in enumerate(crops)
    ]
    assert np.mean([each.widening > 1 for each in found]) < 0.12
    assert np.mean([each.misfit_p for each in found]) == pytest.approx(0.5, abs=0.15)


def test_draws_have_the_mode_and_the_spread(fast):
    found = calibrate(BENCH, simulated(BENCH, (1.1 * HALF, METABOLISM), [30, 100, 300]))
    drawn = found.draw(4000, seed=3)
    logs = np.log([[each[key] for key in SENSITIVITY] for each in drawn])
    assert logs.mean(axis=0) == pytest.approx(np.log([found.scenario[key] for key in SENSITIVITY]), abs=0.01)
    assert np.cov(logs.T) == pytest.approx(found.log_covariance, abs=3e-3)
    assert drawn[0].title == found.scenario.title
    assert found.draw(4000, seed=3) == drawn
    assert found.draw(4000, seed=4) != drawn


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
        ({"parameters": ["crop.dilution", "crop.dilution"]}, "named twice"),
        ({"parameters": ["active.solubility"]}, "grade A, measured by others"),
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
        ({"changes": {"20": {"crop.metabolism": 1e-7}}}, "one for the whole crop"),
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
            (BENCH.replace({"house.bench_conductance": 0}), result, ["house.bench_conductance"]),
            "is 0 mm/s",
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
    truth = (1.1 * HALF, METABOLISM)
    usual, narrow = (
        calibrate(BENCH, simulated(BENCH, truth, [30, 100, 300], level=level)) for level in (0.95, 0.8)
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
    found = calibrate(BENCH, simulated(BENCH, (1.1 * HALF, METABOLISM), [30, 100, 300]))
    figure = found.plot(0.3)
    figure.savefig(tmp_path / "calibration.png")
    curve, widths = figure.axes
    words = " ".join(text.get_text() for text in curve.get_legend().get_texts())
    assert f"30 %: {found.next_rate(0.3).rate:.3g} mg/L (" in words
    assert [label.get_text().split("\n")[0] for label in widths.get_yticklabels()] == list(SENSITIVITY)
    found.plot(0.9).draw_without_rendering()
    found.plot(None).draw_without_rendering()
