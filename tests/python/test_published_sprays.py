"""Where sprays come to rest, against what was published on booms, leaves, stems and pots.

Abstracts leave out leaf angles, liquids or winds; the tables say what stands in for them here. A hit
therefore says that the published number is possible in the model; a miss, that nothing tried here gives it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import wetspan as ws
from published import rows
from wetspan import _core

#: A field boom half a metre above a closed crop, in the open; no stems, so that leaves alone catch.
BOOM = {
    "application.volume_rate": 2e-5,
    "application.angle": 0.0,
    "nozzle.height": 0.5,
    "droplets.dv50": 2e-4,
    "air.speed": 2.0,
    "air.temperature": 288.15,
    "air.relative_humidity": 0.7,
    "house.enclosed": 0.0,
    "canopy.bench_width": 200.0,
    "canopy.plant_density": 300.0,
    "canopy.crown_cover": 1.0,
    "canopy.clumping": 1.0,
    "canopy.layers": 4.0,
    "canopy.pot_diameter": 0.03,
    "canopy.stem_area": 0.0,
}
DENSITY = BOOM["canopy.plant_density"]
WETTABLE = {"liquid.surface_tension": 0.03, "leaf.contact_angle": np.radians(40)}
WAXY = {"liquid.surface_tension": 0.0727, "leaf.contact_angle": np.radians(130)}


def split(changes):
    """Shares of a spray by place."""
    scenario = ws.Scenario().in_si(BOOM | changes)
    drops = _core.spectrum(_core.Distribution.lognormal, scenario["droplets.dv50"], 1.2, 16)
    return dict(_core.land(scenario._core, _core.steady_air(scenario._core), 0.0, drops).split)


@pytest.mark.parametrize(
    ("surface", "name", "held"),
    [(WETTABLE, "a wetting agent", [False, False, True]), (WAXY, "water on waxy leaves", [False] * 3)],
)
def test_plants_catch_nearly_what_they_cover(surface, name, held):
    """Misses: half of a droplet that shatters leaves the leaf, and on waxy leaves droplets rebound."""
    found = []
    for row in rows("retention", "share of a boom's spray on plants over their cover"):
        cover = row.inputs["cover"]
        index = -math.log(1 - cover) / ws.Scenario()["canopy.extinction"]
        shares = split(surface | {"canopy.leaf_area": index / DENSITY})
        ours = (1 - shares["substrate"] - shares["bench"]) / cover
        found.append(row.holds(ours, name))
        assert 0.5 < ours < 1.0
    assert found == held


def test_all_but_a_few_percent_of_a_spray_reaches_the_crop_where_a_third_was_missed():
    """A miss: the field's collectors did not account for a third of the dose."""
    (row,) = rows("retention", "share of a boom's spray that reaches the top of the crop")
    shares = split({"droplets.dv50": 2.5e-4})
    ours = 1 - shares["airborne"] - shares["evaporated"]
    assert not row.holds(ours)
    assert 0.95 < ours < 1.0


def on_leaves(angle, surface):
    """Share of what falls on the ground that leaves cover when level, and that they retain at an angle."""
    index, along = 0.05, math.cos(angle)
    few = {
        "liquid.surface_tension": 0.0727,
        "droplets.dv50": 2.5e-4,
        "air.speed": 0.0,
        "canopy.layers": 1.0,
        "canopy.leaf_angle": angle,
        "canopy.extinction": max(along, 0.1),
        "canopy.leaf_area": index / DENSITY,
    }
    return split(few | surface)["leaf"] / (1 - math.exp(-index))


def test_level_leaves_retain_a_little_more_or_less_than_was_measured():
    """Misses on either side: radish and barley retained nearly the same; here wettable leaves retain more."""
    surfaces = {1.0: (WETTABLE, "a wettable leaf"), 2.0: (WAXY, "a waxy leaf")}
    for row in rows("retention", "share of a spray that level leaves retain"):
        surface, name = surfaces[row.inputs["species"]]
        ours = on_leaves(0.0, {"leaf.contact_angle": surface["leaf.contact_angle"]})
        assert not row.holds(ours, name)
        assert abs(ours - row.value) < 0.2
    rows("retention", "spray retained by leaves at 45 degrees and upright over level ones")
    level, inclined, upright = (on_leaves(np.radians(angle), {}) for angle in (0, 45, 84))
    assert level > inclined > upright


@pytest.mark.parametrize(
    ("speed", "name", "held"), [(0.0, "still air", False), (1.0, "1 m/s", True), (2.0, "2 m/s", True)]
)
def test_upright_stems_catch_as_much_per_surface_as_leaves_only_in_wind(speed, name, held):
    """A miss for still air: droplets that fall straight down pass by an upright stem."""
    (row,) = rows("retention", "droplets caught per surface, stems over leaves")
    leaves, stems = 0.1, 0.02  # m2 per m2 of ground: so little that neither shades the other
    few = {
        "air.speed": speed,
        "stem.diameter": 3e-3,
        "canopy.layers": 1.0,
        "canopy.leaf_area": leaves / DENSITY,
        "canopy.stem_area": stems / DENSITY,
    }
    shares = split(WETTABLE | few)
    ours = (shares["stem"] / stems) / (shares["leaf"] / leaves)
    assert row.lies(ours, 0.5, 2.0, name) is held
    assert ours < 2.0


def test_what_falls_between_pots_that_touch_is_what_circles_leave_free():
    """A miss by a percent: granules, which bounce, on pots in triangles."""
    diameter, found = 0.14, []
    for row in rows("retention", "share that falls between pots that touch"):
        pots = 1 if row.inputs["square"] else 2 / math.sqrt(3)
        bare = {
            "droplets.dv50": 1e-3,
            "air.speed": 0.0,
            "canopy.plant_density": pots / diameter**2,
            "canopy.pot_diameter": diameter,
            "canopy.leaf_area": 1e-4,
            "canopy.crown_cover": 0.01,
        }
        ours = split(bare)["bench"]
        found.append(row.at_most(ours) if row.inputs["bound"] else row.at_least(ours))
        assert ours == pytest.approx(1 - pots * math.pi / 4, abs=1e-3)
    assert found == [False, True, True, True]


# Impact -------------------------------------------------------------------------------------------------


def impact(row, diameter, speed, law="mao"):
    found = ws.impact_map(
        contact_angle=f"{row.inputs['angle_deg']} deg",
        surface_tension="72.7 mN/m",
        diameters=[f"{diameter * 1e6} um", "1000 um"],
        speeds=[f"{speed} m/s", "9 m/s"],
        spread_law=law,
    )
    return found.isel(speed=0, diameter=0)


def test_fast_droplets_shatter_on_a_hydrophilic_leaf_where_none_was_seen_to():
    """Misses: one threshold, set with cabbage, holds for all leaves, also for those that water wets."""
    found = []
    for row in rows("impact", "share that leaves a hydrophilic leaf"):
        ours = 1 - float(impact(row, row.inputs["d"], row.inputs["speed"]).retained_share)
        found.append(row.holds(ours))
        assert ours <= 0.5
    assert found == [True, False, True, False]
    (row,) = rows("impact", "droplets of water leave hydrophobic leaves")
    assert float(impact(row, 306e-6, 5.0).retained_share) < 1.0


#: The largest spread, by two laws; the deposit that dries has the contact angle's base, however fast it came.
LAWS = {"maximum spread, Mao": "mao", "maximum spread, Pasandideh-Fard": "pasandideh_fard"}


def test_droplets_spread_with_speed_and_size_less_than_was_measured_and_deposits_not_at_all():
    """Misses: the largest spread by a seventh to a third; deposits forget the impact that spread them."""
    (faster,) = rows("impact", "spread area at 7.0 over 3.5 m/s")
    (larger,) = rows("impact", "spread area over the droplet's section, 481 over 175 um")
    for name, law in LAWS.items():
        fast, slow = (
            float(impact(faster, faster.inputs["d"], speed, law).maximum_spread) for speed in (7.0, 3.5)
        )
        large, small = (
            float(impact(larger, d, larger.inputs["speed"], law).maximum_spread) for d in (481e-6, 175e-6)
        )
        for row, ratio in ((faster, (fast / slow) ** 2), (larger, (large / small) ** 2)):
            assert not row.holds(ratio, name)
            assert 0.65 * row.value < ratio < row.value
    assert not faster.holds(1.0, "the base that dries")
    assert not larger.holds(1.0, "the base that dries")
