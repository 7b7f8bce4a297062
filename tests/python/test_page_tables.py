"""Tables of pages of docs/science that nothing else computes: the page says what the library says today."""

from __future__ import annotations

import numpy as np
import pytest
import wetspan as ws
import xarray as xr
from published import table_of_page
from scipy.optimize import brentq
from wetspan import _core, spray

# Droplets ------------------------------------------------------------------------------------------------


def test_the_page_tells_how_much_of_each_class_drifts() -> None:
    rows = table_of_page("droplets", "| class | Dv0.5, um | span | below 150 um, lognormal | Rosin-Rammler |")
    assert [name for name, _ in rows] == list(spray.size_classes().index)
    for name, (dv50, span, *below) in rows:
        for law, told in zip(("lognormal", "rosin_rammler"), below, strict=True):
            found = spray.spectrum(name, distribution=law)
            assert found.dv50 * 1e6 == pytest.approx(dv50), name
            assert found.relative_span == pytest.approx(span), name
            half_digit = 0.5 if told >= 10 else 0.051
            assert 100 * found.below_150um == pytest.approx(told, abs=half_digit), (name, law)


def test_the_page_tells_how_bins_converge() -> None:
    """The moment at which 1 % of the liquid is left by the d2 law, and the Sauter diameter."""

    def of(law: _core.Distribution, bins: int) -> tuple[float, float]:
        core = _core.spectrum(law, 200e-6, 1.4, bins)
        size, share = np.asarray(core.diameter) / 200e-6, np.asarray(core.volume_share)

        def left(time: float) -> float:
            return float(np.sum(share * np.clip(1 - time / size**2, 0, None) ** 1.5)) - 0.01

        return 1 / float(np.sum(share / size)), brentq(left, 0.0, float(size.max()) ** 2)

    law = _core.Distribution.lognormal
    for name, (told_d32, told_time, *_) in table_of_page(
        "droplets", "| | D32 | time to last 1 % | evaporated |"
    ):
        if name.startswith("equal"):
            continue
        if name.startswith("Rosin"):
            law = _core.Distribution.rosin_rammler
        bins = int(name.removesuffix(" bins").split()[-1])
        d32, time = of(law, bins)
        exact_d32, exact_time = of(law, 256)
        assert 100 * (d32 / exact_d32 - 1) == pytest.approx(told_d32, abs=0.006), name
        assert 100 * (time / exact_time - 1) == pytest.approx(told_time, abs=0.06), name


# Impact --------------------------------------------------------------------------------------------------

SPEEDS = np.arange(0.5, 14.5, 0.01)  # m/s


def of_water(angle: str, law: str, diameters: list[str], speeds: object = SPEEDS) -> xr.Dataset:
    """Impacts of water at 20 degC; in saturated air droplets have the temperature of the air."""
    air = ws.Scenario().replace({"air.temperature": "20 degC", "air.relative_humidity": "100 %"})
    return ws.impact_map(
        air,
        contact_angle=angle,
        surface_tension="72.7 mN/m",
        shatter_threshold=57.7,
        spread_law=law,
        diameters=diameters,
        speeds=speeds,
    )


def test_the_page_tells_when_droplets_bounce_and_shatter() -> None:
    header = "| contact angle | 50 um | 100 um | 200 um | 300 um | 500 um |"
    sizes = [f"{size} um" for size in (50, 100, 200, 300, 500)]
    for name, told in table_of_page("impact", header):
        shatters = name == "shatters above"
        angle = "60 deg" if shatters else f"{name.split()[0]} deg"
        for i, law in enumerate(("mao",) if shatters else ("mao", "pasandideh_fard")):
            outcome = of_water(angle, law, sizes).outcome.transpose("speed", "diameter").values
            reached = outcome == (2 if shatters else 1)
            assert reached.any(axis=0).all(), (name, law)
            lowest = SPEEDS[reached.argmax(axis=0)]
            assert lowest == pytest.approx(told if shatters else told[i::2], abs=0.07), (name, law)


@pytest.mark.parametrize(
    ("law", "told"), [("mao", (1.56, 1.85, 2.40)), ("pasandideh_fard", (1.98, 2.10, 2.46))]
)
def test_the_page_tells_how_far_droplets_spread(law: str, told: tuple[float, ...]) -> None:
    spread = of_water("90 deg", law, ["200 um"], [1.0, 2.0, 4.0]).maximum_spread
    assert spread.values.ravel() == pytest.approx(told, abs=0.006)
    assert not (of_water("90 deg", law, ["50 um", "200 um", "500 um"]).outcome == 1).any()


# Bench ---------------------------------------------------------------------------------------------------


def spread_of(values: np.ndarray) -> float:
    return 100 * float(values.std() / values.mean())


def test_the_page_tells_how_maps_converge_with_their_cells() -> None:
    def sprayed(cell: str) -> tuple[float, np.ndarray]:
        result = ws.spray_bench(ws.Scenario(), cell=cell, levers=False)
        return spread_of(result.map.deposit.values), result.plants.deposit.values

    _, exact = sprayed("2.5 mm")
    header = "| cell | CV of the map | CV over plants | largest deviation of a plant |"
    for name, told in table_of_page("bench", header):
        over_map, plants = sprayed(" ".join(name.split()[:2]))
        largest = 100 * float(np.abs(plants / exact - 1).max())
        assert [over_map, spread_of(plants)] == pytest.approx(told[:2], abs=0.06), name
        assert largest == pytest.approx(told[2], rel=0.05), name


def test_the_page_tells_how_paths_converge_with_their_steps() -> None:
    still = {"by": "wand", "speed_variation": 0.0, "height_variation": 0.0, "spacing_variation": 0.0}

    def sprayed(step: str) -> np.ndarray:
        result = ws.spray_bench(ws.Scenario(), {**still, "step": step}, cell="1 cm", levers=False)
        return result.plants.deposit.values

    exact = sprayed("5 mm")
    for name, told in table_of_page("bench", "| step | CV over plants | largest deviation of a plant |"):
        plants = sprayed(" ".join(name.split()[:2]))
        largest = 100 * float(np.abs(plants / exact - 1).max())
        assert spread_of(plants) == pytest.approx(told[0], abs=0.06), name
        assert largest == pytest.approx(told[1], rel=0.07), name
