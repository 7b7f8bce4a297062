"""What growers and experiments found, against the model: on real weather, with the example house and crop.

Three inputs are calibrated to facts of the trade: crop.half_amount, crop.leaf_tip_share, uptake.mobile_share
(held in tests/cpp/study/test_simulate.cpp). docs/science/sites_of_uptake.md tells what comes out and what
does not.
"""

from importlib.resources import files

import numpy as np
import pytest
import wetspan as ws
from published import rows, table_of_page
from wetspan import _core

AFTERNOON = "2026-05-14T15:00"
PLANT_DENSITY = 400 / 9.290304  # pots at 6 in by 6 in, per m2


@pytest.fixture(scope="module")
def weather():
    return ws.read_weather("piedmont")


@pytest.fixture(scope="module")
def bench():
    return ws.load(str(files("wetspan") / "examples/afternoon_bench.toml"))


@pytest.fixture(scope="module")
def once(bench, weather):
    return ws.simulate(bench, weather, AFTERNOON)


def published(table, quantity):
    """Rows of a reference table: inputs and value."""
    return [(row.inputs, row.value) for row in rows(table, quantity)]


def drench(scenario, litres_per_pot, milligrams_per_litre):
    return scenario.replace(
        {
            "application.method": "drench",
            "application.volume_rate": f"{PLANT_DENSITY * litres_per_pot} L/m^2",
            "application.concentration": f"{milligrams_per_litre} mg/L",
        }
    )


def at_volume(scenario, factor, dilute=False):
    change = {"application.volume_rate": f"{2 * factor} qt / (100 ft^2)"}
    if dilute:
        change["application.concentration"] = f"{30 / factor} mg/L"
    return scenario.replace(change)


# Re-wetting ---------------------------------------------------------------------------------------------


def test_a_light_rewetting_the_next_morning(bench, weather, once):
    # common practice, no source: about 10 % more control; the mobile share was set with it: calibrated
    low, high = rows("response_facts", "height control added by a light re-wetting")
    again = ws.simulate(
        bench.replace({"rewetting.volume_rate": "0.5 qt / (100 ft^2)", "rewetting.delay": "17 hour"}),
        weather,
        AFTERNOON,
    )
    gained = again.growth_control / once.growth_control - 1
    assert low.lies(gained, low.value, high.value)
    assert float(again.account.sum()) == pytest.approx(1, abs=1e-12)
    # residue is dissolved and taken up; a part is washed to the ground
    surface, substrate = (
        again.account.sel(place=p) - once.account.sel(place=p) for p in ("leaf surface", "substrate")
    )
    assert float(surface) < 0 < float(substrate)
    assert (again.uptake > once.uptake).all()


@pytest.mark.parametrize("day", ["2026-03-20", "2026-05-14", "2026-07-10", "2026-10-05"])
def test_rewetting_gains_in_every_season_and_more_with_more_water(bench, weather, day):
    control = ws.simulate(bench, weather, f"{day}T15:00").growth_control
    for quarts in (0.25, 0.5, 1):
        wetter = bench.replace(
            {"rewetting.volume_rate": f"{quarts} qt / (100 ft^2)", "rewetting.delay": "17 hour"}
        )
        again = ws.simulate(wetter, weather, f"{day}T15:00").growth_control
        assert again > control
        if quarts == 0.5:  # about a tenth: calibrated
            assert 1.03 < again / ws.simulate(bench, weather, f"{day}T15:00").growth_control < 1.2
        control = again


# The tables of the page on the wet leaf ------------------------------------------------------------------

PAGE = "wet_leaf"


def in_the_dark(celsius):
    air = {"house.enclosed": False, "air.temperature": f"{celsius} degC", "air.shortwave": 0.0}
    return ws.Scenario().replace(air)


def test_the_page_tells_what_rewetting_gains(bench, weather):
    months = {"March": "03", "May": "05", "July": "07", "October": "10"}
    for name, told in table_of_page(PAGE, "| water, US qt/100 ft2 | 0.5 | 1 | 2 |"):
        day, month = name.split()
        time = f"2026-{months[month]}-{int(day):02d}T15:00"
        once = ws.simulate(bench, weather, time).growth_control
        for quarts, gain in zip((0.5, 1, 2), told, strict=True):
            wetter = {"rewetting.volume_rate": f"{quarts} qt / (100 ft^2)", "rewetting.delay": "17 hour"}
            again = ws.simulate(bench.replace(wetter), weather, time).growth_control
            assert 100 * (again / once - 1) == pytest.approx(gain, rel=0.03, abs=0.5), (name, quarts)


def test_the_page_tells_what_wet_minutes_bring():
    for name, (minutes, while_wet, week, control) in table_of_page(
        PAGE, "| humidity | wet time | taken up while wet | after a week | growth control |"
    ):
        damp = in_the_dark(20).replace({"air.relative_humidity": name})
        outcome = ws.simulate(damp)
        assert outcome.wet_time / 60 == pytest.approx(minutes, rel=0.03), name
        assert 100 * outcome.growth_control == pytest.approx(control, abs=0.1), name
        history = outcome.history
        entered = np.interp(outcome.wet_time, history["time"], history["leaf_uptake"])
        assert 100 * entered == pytest.approx(while_wet, rel=0.06), name
        share = outcome.split["share"]
        landed = float(share.sel(target="leaf")) / (1 - float(share.sel(target="evaporated")))
        account = ws.simulate(damp.replace({"uptake.horizon": "7 day"})).account
        assert 100 * float(account.sel(place="leaf")) / landed == pytest.approx(week, abs=0.1), name


def test_the_page_tells_what_humectants_do():
    liquids = {
        "no humectant": {},
        "0.1 % glycerol": {"humectant": 0.001, "kappa": 0.31},
        "1 % glycerol": {"humectant": 0.01, "kappa": 0.31},
        "1 % ammonium sulfate": {
            "humectant": 0.01, "kappa": 0.58, "deliquescence": 0.80, "efflorescence": 0.35,
        },
        "1 % calcium chloride, $\\kappa$ = 2": {"humectant": 0.01, "kappa": 2.0},
    }  # fmt: skip
    day = in_the_dark(25).replace({"numerics.follow": "24 hour", "numerics.longest": "24.1 hour"})
    rows = table_of_page(PAGE, "| | 30 % RH | 60 % | 85 % |")
    assert [name for name, _ in rows] == list(liquids)
    for name, told in rows:
        for i, humidity in enumerate((30, 60, 85)):
            history = ws.simulate(
                day.replace({"air.relative_humidity": f"{humidity} %"}, liquid=liquids[name])
            ).history
            after = [
                float(np.interp(86400, history["time"], history[column]))
                for column in ("leaf_water", "wet_share", "leaf_uptake")
            ]
            water, wet, uptake = told[3 * i : 3 * i + 3]
            assert after[0] == pytest.approx(water, rel=0.1, abs=1e-3), (name, humidity)
            assert after[1] == pytest.approx(wet, abs=0.01), (name, humidity)
            assert 100 * after[2] == pytest.approx(uptake, abs=0.6), (name, humidity)


# Wetness ------------------------------------------------------------------------------------------------


def test_still_air_keeps_leaves_wet_and_feeds_them(bench, weather):
    wet, taken = np.inf, np.inf
    for speed in (0.1, 0.3, 1.0):
        outcome = ws.simulate(bench.replace({"air.speed": f"{speed} m/s"}), weather, AFTERNOON)
        assert outcome.wet_time < wet
        assert float(outcome.uptake.sel(site="leaf")) < taken
        wet, taken = outcome.wet_time, float(outcome.uptake.sel(site="leaf"))


def test_dew_outdoors_is_of_the_measured_order(bench, weather):
    """Ten September nights in the open; the sky is taken 15 K colder than the air, clear or not."""
    lower, upper = rows("retention", "dew on leaves at sunrise")
    outdoors = bench.replace(
        {"house.enclosed": False, "air.surroundings_offset": "-15 delta_degC", "numerics.follow": "18 hour"}
    )
    dew = []
    for day in range(1, 31, 3):
        outcome = ws.simulate(outdoors, weather, f"2026-09-{day:02d}T15:00")
        history = outcome.history
        landed = 1e3 * float(outcome.split["volume"].sel(target="leaf")) / (PLANT_DENSITY * 0.05)
        late = history["leaf_water"].where(history["time"] > 6 * 3600, 0)
        dew.append(landed * float(late.max()))
        assert abs(outcome.water_balance) < 1e-12
    assert np.median(dew) > 0.5 * 1e3 * lower.value
    assert lower.lies(max(dew) / 1e3, lower.value, upper.value, "the dewiest of ten nights")
    assert min(dew) == pytest.approx(0, abs=1)  # some nights are too dry or windy


# Volume -------------------------------------------------------------------------------------------------


def test_volume(bench, weather):
    same, diluted = (
        [
            ws.simulate(at_volume(bench, factor, dilute), weather, AFTERNOON).growth_control
            for factor in (1, 1.5, 2, 3)
        ]
        for dilute in (False, True)
    )
    # more of the same liquid does more: it is more active ingredient
    assert (np.diff(same) > 0.03).all()
    # the same amount in more liquid: no effect (Bailey 1989, in Barrett, Bartuska and Nell 1994)
    assert (np.abs(np.array(diluted) / diluted[0] - 1) < 0.1).all()


def test_volume_matters_more_where_the_substrate_is_open(bench, weather):
    # uniconazole on chrysanthemum: Barrett, Bartuska and Nell 1994
    gains = {}
    for name, cover in (("open", {}), ("covered", {"canopy.pots_covered": True})):
        controls = [
            ws.simulate(at_volume(bench, factor).replace(cover), weather, AFTERNOON).growth_control
            for factor in (1, 3)
        ]
        gains[name] = controls[1] - controls[0]
        assert gains[name] > 0
    assert gains["open"] > 1.5 * gains["covered"]


# Sites and crops ----------------------------------------------------------------------------------------


def concentration_for(control, outcome_at):
    """Concentration [mg/L] at which `outcome_at` gives a growth control, by halving on a log scale."""
    low, high = 1e-3, 1e4
    for _ in range(30):
        middle = float(np.sqrt(low * high))
        low, high = (middle, high) if outcome_at(middle).growth_control < control else (low, middle)
    return low


def test_a_drench_works_at_a_fraction_of_a_sprays_concentration(bench, weather):
    # cork oak: sprays need 25 times the concentration of a drench for the same control (HortScience 2005,
    # DIGITAL.CSIC 10261/292922); another crop and volumes, so the order only
    sprayed = concentration_for(
        0.3,
        lambda c: ws.simulate(bench.replace({"application.concentration": f"{c} mg/L"}), weather, AFTERNOON),
    )
    drenched = concentration_for(0.3, lambda c: ws.simulate(drench(bench, 0.118, c)))
    assert 10 < sprayed / drenched < 100


def test_crops_rank_as_in_subirrigation(bench):
    """Half amounts that meet each crop's concentration for 30 % after one sub-irrigation (Million et al.
    2002).

    Roots only. The volume a pot drew up was not read: 0.15 L is an assumption that scales all four alike.
    That they rank as under the continuous supply of 1999 and 2002 is a statement on the crops; the model adds
    that dose goes with concentration.
    """
    once = {
        inputs["crop"]: 1e3 * value
        for inputs, value in published("response_facts", "effective concentration, one sub-irrigation, 30 %")
    }
    half_amounts = {}
    for crop, milligrams_per_litre in once.items():
        flooded = drench(bench, 0.15, milligrams_per_litre).replace({"application.method": "sub_irrigation"})
        (half_amount,) = _core.half_amounts(flooded._core, [], 0.15e-3, 1e-3 * milligrams_per_litre, [0.3])
        half_amounts[crop] = half_amount
        outcome = ws.simulate(flooded.in_si({"crop.half_amount": half_amount}))
        assert list(outcome.at_tips["site"]) == ["leaf", "stem", "root"]
        assert float(outcome.at_tips.sum()) == float(outcome.at_tips.sel(site="root"))
        assert outcome.growth_control == pytest.approx(0.3, rel=1e-9)
    begonia, impatiens, chrysanthemum, petunia = (half_amounts[crop] for crop in (1, 2, 3, 4))
    assert 3 * begonia < impatiens < chrysanthemum < 3 * impatiens
    assert 5 * chrysanthemum < petunia
    for quantity in (
        "effective concentration, continuous, 30 %",
        "effective concentration, continuous, 20 %",
    ):
        other = [value for _, value in published("response_facts", quantity)]
        ranks = np.argsort(np.argsort(other))
        assert list(ranks) == list(np.argsort(np.argsort(list(half_amounts.values()))))
    # the default crop, calibrated to a drench from above, is less sensitive than chrysanthemum from below
    assert 3 < bench["crop.half_amount"] / chrysanthemum < 10


def test_one_subirrigation_against_continuous(bench):
    """Million et al. 2002 needed 2 to 6 times the concentration in one sub-irrigation, by crop.

    Here there is one ratio for all crops, set by how much more a plant drinks until height is judged than its
    pot drew up once. Both are assumptions: 0.15 L in one flood, 50 mL a day; with 100 mL a day it is 9.
    """
    small = bench.replace({"uptake.water_use": "50 mL/day"})
    once = ws.simulate(drench(small, 0.15, 0.1).replace({"application.method": "sub_irrigation"}))
    drunk = 0.05 * 60  # [L]; what is fed in it, given as one litre
    fed = ws.simulate(drench(small, 1, 0.1 * drunk).replace({"application.method": "continuous"}))
    ratio = float(fed.at_tips.sum() / once.at_tips.sum())
    single, continuous = (
        [value for _, value in published("response_facts", f"effective concentration, {supply}, 30 %")]
        for supply in ("one sub-irrigation", "continuous")
    )
    measured = np.array(single) / np.array(continuous)
    assert measured.min() < ratio < 2 * measured.max()


def test_young_crops_get_more_through_the_root(bench, weather):
    # early sprays act more strongly, with less leaf over the substrate: Gilbertz 1992, chrysanthemum
    controls, roots = [], []
    for leaf_area in (100, 200, 500):
        young = bench.replace(
            {
                "canopy.leaf_area": f"{leaf_area} cm^2",
                "canopy.crown_cover": f"{80 * (leaf_area / 500) ** 0.5} %",
            }
        )
        outcome = ws.simulate(young, weather, AFTERNOON)
        controls.append(outcome.growth_control)
        roots.append(float(outcome.at_tips.sel(site="root")))
    assert (np.diff(controls) < 0).all()
    assert (np.diff(roots) < 0).all()
