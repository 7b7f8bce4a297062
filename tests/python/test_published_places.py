"""Where water, heat and active ingredient go, against what was published: fog, stems, a lance, residues.

Most abstracts leave out something that the model asks for; the tables say what stands in for it here. So a
hit says that the published number is possible in the model, and a miss that none of the values tried here
gives it.
"""

from __future__ import annotations

import numpy as np
import pytest
import wetspan as ws
from published import rows
from wetspan import _core, air

DAY = 86400.0
PSYCHROMETRIC = 66.5  # [Pa/K], of air at sea level: what fog adds to the vapour pressure as it cools the air


# Leaves in fog and under sprinklers ---------------------------------------------------------------------


def leaf(temperature, humidity, shortwave, wet, **changes):
    """Temperature [K] of leaves in steady air: dry, or the coldest after they were wetted."""
    values = {
        "air.temperature": temperature,
        "air.relative_humidity": float(humidity),
        "air.shortwave": shortwave,
        "air.speed": 0.3,
        "air.surroundings_offset": 0.0,
        "house.enclosed": 0.0,
        "leaf.width": 0.1,
        "canopy.layers": 1.0,
        "application.volume_rate": 3e-4 if wet else 1e-6,
        "numerics.follow": 3000.0,
    }
    course = ws.simulate(ws.Scenario().in_si(values | changes)).history["leaf_temperature"].values
    return float(course.min() if wet else course[-1])


def test_dry_leaves_fall_with_the_air_that_fog_cools():
    (row,) = rows("leaf", "fall of leaf temperature as fog cools the air")
    before, fall = 303.15, row.inputs["fall_of_air"]
    after = row.inputs["fogged_humidity"] * air.saturation_pressure(before - fall)
    humidity = (after - PSYCHROMETRIC * fall) / air.saturation_pressure(before)
    ours = leaf(before, humidity, 400.0, False) - leaf(
        before - fall, row.inputs["fogged_humidity"], 400.0, False
    )
    assert row.holds(ours)
    assert ours < fall  # moister air takes less from leaves by transpiration


@pytest.mark.parametrize(("humidity", "held"), [(0.7, True), (0.8, True), (0.9, False)])
def test_sunlit_leaves_wetted_by_fog_cool_as_published_at_70_to_80_percent(humidity, held):
    (row,) = rows("leaf", "fall of the temperature of sunlit leaves in fog")
    dry, wet = (leaf(298.15, humidity, 400.0, wetted) for wetted in (False, True))
    assert row.holds(dry - wet, f"{humidity:.0%} humidity") is held


@pytest.mark.parametrize(("humidity", "held"), [(0.8, False), (0.9, False), (0.95, True)])
def test_shaded_leaves_cool_by_less_than_a_kelvin_only_in_nearly_saturated_air(humidity, held):
    """A miss: at the humidity at which sunlit leaves cool by 3 K, shaded ones would by 2 if as wet."""
    (row,) = rows("leaf", "fall of the temperature of shaded leaves in fog")
    dry, wet = (leaf(298.15, humidity, 20.0, wetted) for wetted in (False, True))
    assert row.at_most(dry - wet, f"{humidity:.0%} humidity") is held
    assert dry - wet < 3.0


@pytest.mark.parametrize("humidity", [0.5, 0.6])
def test_sprinkled_canopies_cool_as_published_in_air_of_50_to_60_percent(humidity):
    for row in rows("leaf", "fall of canopy temperature under sprinklers"):
        before = 302.15
        given = row.inputs
        after = before - given["fall_of_air"]
        deficit = (1 - humidity) * air.saturation_pressure(before) - given["fall_of_deficit"]
        field = {
            "air.speed": 0.8,
            "air.surroundings_offset": -10.0,
            "leaf.contact_angle": np.radians(given["contact_angle_deg"]),
        }
        dry = leaf(before, humidity, 600.0, False, **field)
        wet = leaf(after, 1 - deficit / air.saturation_pressure(after), 600.0, True, **field)
        assert row.holds(dry - wet, f"{humidity:.0%} humidity")


@pytest.mark.parametrize(
    ("wet", "name", "held"), [(False, "dry leaves", [True, False]), (True, "wetted leaves", [True, True])]
)
def test_leaves_of_a_misted_rose_house_are_colder_than_its_air_only_where_wet(wet, name, held):
    """A miss for dry leaves under mist: the conductance of their stomata does not rise with humidity here."""
    found = []
    for row in rows("leaf", "leaves less air in a rose house"):
        given = row.inputs
        humidity = 1 - given["deficit"] / air.saturation_pressure(given["temperature"])
        less = leaf(given["temperature"], humidity, 0.6 * given["outdoor_shortwave"], wet)
        found.append(row.at_most(less - given["temperature"], name))
        assert less - given["temperature"] < 0.6
    assert found == held


@pytest.mark.parametrize("wet", [False, True])
def test_leaves_fall_below_the_air_as_its_deficit_rises(wet):
    (row,) = rows("leaf", "change of leaves less air with rising deficit")
    temperature, humidities = 303.15, (0.9, 0.65, 0.4)
    deficits = [(1 - humidity) * air.saturation_pressure(temperature) / 1e3 for humidity in humidities]
    less = [leaf(temperature, humidity, 400.0, wet) - temperature for humidity in humidities]
    slopes = np.diff(less) / np.diff(deficits)
    assert row.at_most(slopes.max(), "wetted leaves" if wet else "dry leaves")


# Stems and containers -----------------------------------------------------------------------------------


def landed(values):
    scenario = ws.Scenario().in_si(values)
    drops = _core.spectrum(_core.Distribution.lognormal, scenario["droplets.dv50"], 1.0, 16)
    return _core.land(scenario._core, _core.steady_air(scenario._core), 0.0, drops)


#: 10 mm of rain or sprinkler water: drops of a millimetre that fall straight down.
RAIN = {
    "application.volume_rate": 0.01,
    "application.angle": 0.0,
    "liquid.surface_tension": 0.0727,
    "droplets.dv50": 1e-3,
    "nozzle.height": 1.0,
    "nozzle.pressure": 2e4,
    "air.speed": 0.0,
    "canopy.bench_width": 200.0,
}
STICKING = {"retention.shatter_threshold": 500.0, "leaf.contact_angle": 0.35, "leaf.receding_angle": 0.0}
SPLASHES = {"drops splash": {}, "no drop splashes": STICKING}


def maize(plants, leaf_area, splash):
    """Share of the rain that runs down the stems of maize: erect leaves, stems of 22 mm."""
    crop = {
        "canopy.habit": 0.0,
        "canopy.plant_density": plants,
        "canopy.leaf_area": leaf_area,
        "canopy.crown_cover": min(1.0, 0.15 + plants * leaf_area / 3),
        "canopy.stem_area": 0.12 * leaf_area,
        "stem.diameter": 0.022,
        "canopy.pot_diameter": 0.03,
        "canopy.layers": 4.0,
    }
    return down_stems(landed(RAIN | SPLASHES[splash] | crop))


def down_stems(landing):
    return landing.layers[-1].stem.run_off / RAIN["application.volume_rate"]


@pytest.mark.parametrize(
    ("plants", "splash", "held"),
    [
        (5.0, "drops splash", True),
        (7.0, "drops splash", True),
        (5.0, "no drop splashes", True),
        (7.0, "no drop splashes", False),
    ],
)
def test_grown_maize_leads_as_much_down_its_stems_as_was_measured(plants, splash, held):
    """The share of run-off that follows stems was set with other plants (docs/science/landing.md)."""
    low, high = rows("retention", "stemflow over rain, maize")
    ours = maize(plants, 0.5, splash)
    assert low.at_least(ours, f"{plants:g} plants per m2, {splash}")
    assert high.at_most(ours, f"{plants:g} plants per m2, {splash}") is held
    assert ours < 0.6


@pytest.mark.parametrize(("splash", "held"), [("drops splash", False), ("no drop splashes", True)])
def test_stemflow_of_maize_by_leaf_area_is_met_only_if_no_drop_splashes(splash, held):
    """A miss with the default threshold: half of a drop that shatters falls past the leaf."""
    for row in rows("retention", "stemflow over rain, maize by leaf area"):
        ours = maize(7.0, row.inputs["leaf_area"], splash)
        assert row.holds(ours, splash) is held
        assert 0.3 * row.value < ours < row.value


def shrub(habit, leaf_area=1.5, plants=3.1, cover=0.9):
    """A shrub in a 27 cm container under sprinklers: water captured over that of the bare container."""
    crop = {
        "canopy.habit": float(habit),
        "canopy.plant_density": plants,
        "canopy.leaf_area": leaf_area,
        "canopy.crown_cover": cover,
        "canopy.stem_area": 0.02,
        "canopy.pot_diameter": 0.27,
    }
    landing = landed(RAIN | STICKING | crop)
    return dict(landing.split)["substrate"] / (plants * np.pi / 4 * 0.27**2), down_stems(landing)


def test_containers_capture_and_stems_lead_what_the_habits_were_set_to():
    """Calibrated: the shares of run-off were set with these two sources."""
    least, most = rows("retention", "capture factor")
    lower, upper = rows("retention", "stemflow over rain")
    for habit, name in enumerate(("funnel", "rounded", "pendulous")):
        captured, down = shrub(habit)
        assert least.at_least(captured, name)
        assert most.at_most(captured, name)
        if name == "funnel":
            assert upper.at_least(down, name)
        else:
            assert lower.at_least(down, name)
            assert upper.at_most(down, name)


def test_containers_capture_more_under_larger_plants_and_less_when_set_close():
    rows("retention", "capture factor over plant size")
    rows("retention", "capture factor over spacing")
    small, grown = shrub(0, leaf_area=0.4, cover=0.35)[0], shrub(0)[0]
    # containers that touch: no water falls between, so there is hardly more to capture
    close = shrub(0, plants=1 / 0.27**2, cover=1.0)[0]
    assert 1.0 < small < grown
    assert close < 4 / np.pi < grown


# A hand lance from the side -----------------------------------------------------------------------------


def on_the_ground(pressure, leaf_area_index=4.0, angle=np.pi / 3):
    """Share of a lance's spray below a tall crop without pots."""
    values = {
        "application.volume_rate": 1e-4,
        "application.angle": angle,
        "nozzle.pressure": pressure,
        "droplets.dv50": 2e-4,
        "canopy.plant_density": 2.5,
        "canopy.leaf_area": leaf_area_index / 2.5,
        "canopy.crown_cover": 1.0,
        "canopy.layers": 4.0,
        "canopy.pots_covered": 1.0,
        "canopy.bench_width": 20.0,
        "canopy.stem_area": 0.15,
        "leaf.width": 0.08,
        "stem.diameter": 0.012,
    }
    return float(ws.simulate(ws.Scenario().in_si(values)).split["share"].sel(target="bench"))


def test_a_lance_from_the_side_loses_about_as_much_to_the_ground_as_was_measured():
    for row in rows("retention", "share of a lance's spray on the ground"):
        assert row.holds(on_the_ground(row.inputs["pressure"]))
    level, above = (on_the_ground(1e6, angle=angle) for angle in (np.pi / 3, 0.0))
    assert level < above


def test_pressure_raises_ground_losses_where_one_of_two_papers_saw_them_fall():
    """A miss: the papers contradict each other, and droplets of one size shatter more at higher speed."""
    (row,) = rows("retention", "ground losses at 2000 over 1000 kPa")
    ours = on_the_ground(2e6) / on_the_ground(1e6)
    assert not row.holds(ours)
    assert 1.0 < ours < 0.287 / 0.217


# Residues of a drench -----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def drenched():
    """Oleander drenched with 20 mg a plant, 30 and 156 days later."""
    plants = 16.0
    scenario = (
        ws.Scenario()
        .replace({"application.method": "drench"})
        .in_si(
            {
                "canopy.plant_density": plants,
                "substrate.volume": 2.5e-3,
                "application.volume_rate": 2e-4 * plants,
                "application.concentration": 0.1,
            }
        )
    )
    return [ws.simulate(scenario.in_si({"uptake.horizon": day * DAY})) for day in (30.0, 156.0)]


def test_residues_of_a_drench_move_as_in_oleander_but_for_the_roots(drenched):
    """The loss from the substrate was set with the first row, which holds what leached as well: calibrated.

    Stems and roots are one depot here, which empties; in oleander only the stems' did: a miss.
    """
    early, late = drenched
    pot = [float(one.account.sel(place="substrate")) for one in drenched]
    (row,) = rows("substrate", "residue of a drench in the substrate")
    assert row.holds(pot[1] / pot[0])
    passed = [float(one.in_plant.sel(place=["elsewhere", "grown away"]).sum()) for one in (early, late)]
    depot = [float(one.in_plant.sel(place="depot")) for one in (early, late)]
    (leaves,) = rows("substrate", "residue of a drench in leaves")
    assert leaves.at_least(passed[1] / passed[0])
    (stems,) = rows("substrate", "residue of a drench in stems")
    assert stems.at_most(depot[1] / depot[0])
    (roots,) = rows("substrate", "residue of a drench in roots")
    assert not roots.holds(depot[1] / depot[0])


def test_nothing_leaches_from_a_pot_that_has_room_for_the_drench():
    (row,) = rows("substrate", "share leached on the day of a drench")
    scenario = ws.Scenario().replace({"application.method": "drench"})
    density = scenario["canopy.plant_density"]
    shares = [
        float(
            ws.simulate(scenario.in_si({"application.volume_rate": volume * density})).account.sel(
                place="bench"
            )
        )
        for volume in (118e-6, 500e-6)
    ]
    assert row.holds(shares[0])
    assert shares[1] > 0.05


def test_what_leaches_from_a_sprayed_pot_over_a_season_is_not_in_the_model():
    """A miss: a spray brings too little liquid to displace any, and later watering is left out."""
    (row,) = rows("substrate", "share of a sprayed triazole that leaches in a season")
    outcome = ws.simulate(ws.Scenario())
    beside, evaporated = (
        float(outcome.split["share"].sel(target=target)) for target in ("bench", "evaporated")
    )
    ours = float(outcome.account.sel(place="bench")) - beside / (1 - evaporated)
    assert not row.holds(ours)
    assert ours == pytest.approx(0.0, abs=1e-6)
