"""Monotone laws: what has to rise or fall with one input, whatever the others are.

Each draws a greenhouse and two values of one input, and compares. Where a law does not hold everywhere, the
test says where it does.
"""

from __future__ import annotations

import numpy as np
import pytest
import wetspan as ws
from hypothesis import assume, given, settings
from hypothesis import strategies as st

DAY = 86400.0
SLACK = 1e-5  # relative: the error of the integration
PLAIN = {
    "application.volume_rate": st.floats(1e-4, 5e-4),
    "application.concentration": st.floats(0.005, 0.3),
    "air.temperature": st.floats(285.0, 305.0),
    "air.relative_humidity": st.floats(0.2, 0.9),
    "air.speed": st.floats(0.1, 1.5),
    "air.shortwave": st.floats(0.0, 400.0),
    "droplets.dv50": st.floats(1.5e-4, 4.5e-4),
    "canopy.leaf_area": st.floats(0.02, 0.1),
    "house.enclosed": st.booleans(),
    "house.air_changes": st.floats(0.5 / 3600, 5 / 3600),
}
greenhouses = st.fixed_dictionaries(PLAIN)
shares = st.floats(0.0, 1.0)
laws = settings(max_examples=25)


def outcomes(values: dict[str, float], key: str, *of: float) -> list[ws.Outcome]:
    """One input at some values, the others alike."""
    scenario = ws.Scenario(values)
    return [ws.simulate(scenario.in_si({key: value})) for value in of]


def pair(draw: float, low: float, high: float) -> tuple[float, float]:
    """Two values a tenth of the range apart or more."""
    middle = low + draw * 0.5 * (high - low)
    return middle, middle + 0.1 * (high - low) + draw * 0.3 * (high - low)


def not_below(more: float, less: float) -> None:
    assert more >= less * (1 - SLACK) - 1e-12


@laws
@given(greenhouses, shares)
def test_moister_air_keeps_all_wet_for_longer(values, where):
    dry, moist = outcomes(values, "air.relative_humidity", *pair(where, 0.2, 0.92))
    not_below(moist.wet_time, dry.wet_time)
    not_below(moist.stem_wet_time, dry.stem_wet_time)
    not_below(moist.last_drop_time, dry.last_drop_time)


@laws
@given(greenhouses, shares)
def test_warmer_air_of_the_same_humidity_dries_sooner(values, where):
    cool, warm = outcomes(values, "air.temperature", *pair(where, 283.0, 308.0))
    not_below(cool.wet_time, warm.wet_time)
    not_below(cool.stem_wet_time, warm.stem_wet_time)


@laws
@given(greenhouses, shares)
def test_more_sun_dries_sooner_where_stomata_are_shut(values, where):
    """Dim light opens stomata, and their transpiration can cool a leaf by more than the light warms it."""
    shut = values | {"leaf.stomatal_conductance": 0.0}
    dull, bright = outcomes(shut, "air.shortwave", *pair(where, 0.0, 600.0))
    not_below(dull.wet_time, bright.wet_time)


@laws
@given(greenhouses, shares)
def test_wind_dries_sooner_in_the_open_without_sun(values, where):
    """In the sun wind cools leaves, and in a closed house the air fills whatever moves it: not there."""
    assume(values["air.relative_humidity"] < 0.85)
    dark = values | {"air.shortwave": 0.0, "house.enclosed": False, "nozzle.height": 0.3}
    scenario = ws.Scenario(dark)
    calm, windy = pair(where, 0.1, 1.5)
    # the landing changes with the wind as well: the same liquid on the same leaf is what the law is about
    still, moved = (ws.simulate(scenario.in_si({"air.speed": speed})) for speed in (calm, windy))
    assume(float(moved.split["volume"].sel(target="leaf")) <= float(still.split["volume"].sel(target="leaf")))
    not_below(still.wet_time, moved.wet_time)


@laws
@given(greenhouses, shares)
def test_more_volume_leaves_more_everywhere_and_stays_wet_for_longer(values, where):
    little, much = outcomes(values, "application.volume_rate", *pair(where, 1e-4, 6e-4))
    for target in ("leaf", "stem", "substrate", "bench"):
        less, more = (float(one.split["volume"].sel(target=target)) for one in (little, much))
        not_below(more, less)
    not_below(much.wet_time, little.wet_time)
    not_below(much.growth_control, little.growth_control)  # at the same concentration


@laws
@given(greenhouses, shares)
def test_coarser_sprays_evaporate_less_in_flight(values, where):
    """Not so of what drifts: coarse droplets shatter on leaves, and the finest of their pieces drift off."""
    fine, coarse = outcomes(values, "droplets.dv50", *pair(where, 1.2e-4, 5e-4))
    not_below(*(float(one.split["share"].sel(target="evaporated")) for one in (fine, coarse)))


@laws
@given(greenhouses, shares)
def test_a_higher_rate_holds_back_more_and_of_a_share_falls(values, where):
    low, high = pair(where, 0.005, 0.5)
    little, much = outcomes(values, "application.concentration", low, high)
    not_below(much.growth_control, little.growth_control)
    for i in range(3):
        not_below(float(much.uptake[i]), float(little.uptake[i]))
        not_below(float(little.uptake[i]) / low, float(much.uptake[i]) / high)
    assert much.wet_time == pytest.approx(little.wet_time, rel=1e-7)


@laws
@given(greenhouses, shares, st.sampled_from(["spray", "drench"]))
def test_later_holds_back_less_and_never_more_than_the_growth_to_come(values, when, method):
    """From a week on: a spray is at the tips within days, and does most shortly before growth is fastest."""
    scenario = ws.Scenario(values | {"application.method": method})
    early, late = pair(when, 7 * DAY, 55 * DAY)
    first, second = (ws.simulate(scenario.replace(applications=[{"at": at}])) for at in (early, late))
    assert second.growth_control <= first.growth_control
    for one in (first, second):
        saved = float(one.applications["length_saved"][0])
        assert saved <= float(one.applications["growth_to_come"][0]) * scenario["crop.largest_inhibition"]


@laws
@given(greenhouses, st.floats(6.0, 28.0), st.floats(0.02, 0.4))
def test_the_more_growth_is_to_come_the_more_can_be_saved(values, height, taller):
    """Length saved goes with the growth to come, all else alike, since inhibition is of its rate."""
    scenario = ws.Scenario(values | {"crop.final_height": 0.3, "crop.initial_height": height / 100})
    more = ws.simulate(scenario.in_si({"crop.final_height": 0.3 + taller}))
    less = ws.simulate(scenario)
    to_come = [0.3 - height / 100, 0.3 + taller - height / 100]
    saved = [one.growth_control * tall for one, tall in ((less, 0.3), (more, 0.3 + taller))]
    assert saved[1] / to_come[1] == pytest.approx(saved[0] / to_come[0], rel=1e-6)
    assert saved[1] >= saved[0]


@laws
@given(st.floats(5e-4, 8e-3), st.floats(1e-4, 3e-2), st.floats(1.1, 4.0))
def test_a_substrate_that_binds_more_asks_for_more_of_a_drench(volume, concentration, more):
    """Bark against peat: sorption takes the substance out of the solution that roots draw."""
    peat = ws.Scenario(
        {
            "application.method": "drench",
            "application.volume_rate": volume,
            "application.concentration": concentration,
        }
    )
    factor = peat["substrate.sorption_factor"]
    bark = peat.in_si({"substrate.sorption_factor": more * factor})
    in_peat, in_bark = ws.simulate(peat), ws.simulate(bark)
    assert float(in_bark.uptake.sel(site="root")) < float(in_peat.uptake.sel(site="root"))
    assert in_bark.growth_control <= in_peat.growth_control
    enough = ws.simulate(bark.in_si({"application.concentration": min(50.0, 1.05 * more * concentration)}))
    assert enough.growth_control >= in_peat.growth_control


#: A spray that neither shatters nor bounces nor runs off.
STICKS = {
    "retention.shatter_threshold": 500.0,
    "leaf.contact_angle": 1.0,
    "leaf.receding_angle": 0.3,
    "application.volume_rate": 1e-4,
}


@laws
@given(greenhouses, shares)
def test_moister_air_lets_a_larger_part_of_what_lands_on_plants_enter_leaves(values, where):
    """Not of all that is sprayed: in moist air more stays airborne, and uptake may fall by 0.4 %."""
    parts = []
    for one in outcomes(values, "air.relative_humidity", *pair(where, 0.2, 0.92)):
        of_plants = ["leaf surface", "leaf", "stem surface", "stem", "weathered"]
        parts.append(float(one.account.sel(place="leaf")) / float(one.account.sel(place=of_plants).sum()))
    not_below(parts[1], parts[0])


@laws
@given(greenhouses, shares)
def test_coarser_sprays_keep_their_last_drop_for_longer_where_all_sticks(values, where):
    """Not so where droplets shatter and bounce: then coarser sprays leave less water on leaves."""
    fine, coarse = outcomes(values | STICKS, "droplets.dv50", *pair(where, 1.5e-4, 5e-4))
    not_below(coarse.last_drop_time, fine.last_drop_time)


#: Inputs of which more lets a spray act more (1) or less (-1), over ranges about their defaults.
ACTS = {
    "uptake.mobile_share": (0.02, 0.7, 1),
    "uptake.cuticle": (0.3, 5.0, 1),
    "crop.tip_share": (0.1, 0.5, 1),
    "crop.half_amount": (3e-11, 1e-9, -1),
    "crop.metabolism": (0.0, 1e-6, -1),
    "crop.mean_temperature": (285.0, 303.0, -1),  # of the weeks after the spray
    "substrate.volume": (3e-4, 3e-3, -1),
}


@pytest.mark.parametrize("key", ACTS)
@settings(max_examples=10)
@given(greenhouses, shares)
def test_what_lets_a_spray_act_more_and_what_less(key, values, where):
    low, high, sign = ACTS[key]
    few, many = outcomes(values, key, *pair(where, low, high))
    less, more = (few, many)[::sign]
    not_below(more.growth_control, less.growth_control)
    assert many.wet_time == pytest.approx(few.wet_time, rel=1e-6)  # which none of them changes


METHODS = st.sampled_from(["spray", "drench", "continuous", "sub_irrigation"])
OPTIONS = st.fixed_dictionaries(
    PLAIN
    | {
        "application.method": METHODS,
        "air.relative_humidity": st.floats(0.2, 1.0),
        "air.surroundings_offset": st.floats(-25.0, 10.0),
        "liquid.humectant": st.sampled_from([0.0, 0.003, 0.03]),
        "liquid.kappa": st.sampled_from([0.0, 0.3, 0.6]),
        "liquid.deliquescence": st.sampled_from([0.0, 0.8]),
        "liquid.efflorescence": st.sampled_from([0.0, 0.35]),
        "rewetting.volume_rate": st.sampled_from([0.0, 1e-4]),
        "rewetting.delay": st.floats(600.0, 1e4),
        "canopy.pots_covered": st.booleans(),
        "canopy.habit": st.sampled_from(["funnel", "rounded", "pendulous"]),
        "canopy.layers": st.integers(1, 4),
        "droplets.distribution": st.sampled_from(["lognormal", "rosin_rammler"]),
        "air.diffusivity": st.sampled_from(["massman", "marrero_mason"]),
        "uptake.transpiration": st.sampled_from(["briggs", "burken_schnoor"]),
        "numerics.follow": st.sampled_from([0.0, 7200.0]),
        "numerics.longest": st.floats(10800.0, 21600.0),
        "substrate.moisture": st.floats(0.0, 1.0),
    }
)


@settings(max_examples=40)
@pytest.mark.filterwarnings("ignore:liquid.humectant is above zero")
@given(OPTIONS, st.lists(st.floats(0.0, 50.0), max_size=2))
def test_water_and_active_ingredient_are_kept_under_every_option(values, days):
    values = dict(values)
    if values["liquid.efflorescence"] > values["liquid.deliquescence"]:
        values["liquid.efflorescence"] = 0.0
    scenario = ws.Scenario(values)
    if days:
        scenario = scenario.replace(applications=[{"at": f"{day} day"} for day in sorted(days)])
    outcome = ws.simulate(scenario)
    assert float(outcome.split["share"].sum()) == pytest.approx(1.0, abs=1e-12)
    assert outcome.water_balance == pytest.approx(0.0, abs=1e-12)
    assert float(outcome.account.sum()) == pytest.approx(1.0, abs=1e-12)
    assert float(outcome.account.min()) >= -1e-15
    assert float(outcome.in_plant.sum()) == pytest.approx(float(outcome.uptake.sum()), rel=1e-12, abs=1e-18)
    heights = outcome.heights
    saved = float(outcome.applications["length_saved"].sum())
    ends = heights.isel(time=-1)
    assert outcome.growth_control * scenario["crop.final_height"] == pytest.approx(saved, abs=1e-12)
    # heights are followed by the full system, what is saved on the clocks where these are exact
    assert float(ends["untreated"] - ends["treated"]) == pytest.approx(saved, rel=1e-3, abs=1e-9)
    assert np.all(np.diff(heights["treated"]) >= -1e-15)
