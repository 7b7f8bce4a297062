"""Every integrator comes closer where it is asked to: observed errors, and solutions in closed form.

Steps of wet spans and flights are chosen by their error, so that what can be observed is how the error falls
with the tolerance. Growth goes in steps of its own, whose order is observed.
"""

from __future__ import annotations

import numpy as np
import pytest
import second_scenarios as random_ones
import wetspan as ws
from second_drying import Drying
from wetspan import _core

DAY = 86400.0
TOLERANCES = (1e-4, 1e-5, 1e-6, 1e-7, 1e-8)
WET = {
    "clock": {},
    "reference, a humectant": {
        "liquid.humectant": 0.01,
        "liquid.kappa": 0.4,
        "numerics.longest": 7200.0,
    },
    "reference, dew": {
        "air.relative_humidity": 0.93,
        "air.surroundings_offset": -25.0,
        "air.shortwave": 0.0,
        "air.speed": 0.2,
        "house.enclosed": 0.0,
        "numerics.follow": 14400.0,
        "numerics.longest": 28800.0,
    },
}


#: What classes of a hygroscopic liquid that share their water may cost here (docs/science/wet_leaf.md).
SHARING = 2e-3


def falls(errors: list[float]) -> None:
    """Errors stay below 30 times the tolerance, and fall to a thirtieth or less over its four decades.

    At a loose tolerance other limits of the steps hold the error below it, so it need not fall in proportion.
    """
    assert all(error < 30 * tolerance for error, tolerance in zip(errors, TOLERANCES, strict=True)), errors
    assert errors[-1] < errors[0] / 30, errors


@pytest.mark.filterwarnings("ignore:liquid.humectant is above zero")
@pytest.mark.parametrize("name", WET)
def test_the_error_of_a_wet_span_falls_with_the_tolerance(name):
    scenario = ws.Scenario().in_si({"air.relative_humidity": 0.7, "droplets.bins": 6.0} | WET[name])

    def found(tolerance):
        outcome = ws.simulate(scenario.in_si({"numerics.tolerance": tolerance}))
        assert outcome.path == name.split(",")[0] or tolerance < 1e-9  # the clocks refuse what they cannot
        every = [outcome.wet_time, outcome.stem_wet_time, *outcome.uptake.values[:2], outcome.growth_control]
        return np.array([float(each) for each in every if np.isfinite(each)])

    exact = found(1e-11)
    errors = [float(np.abs(found(each) / exact - 1).max()) for each in TOLERANCES]
    if "humectant" in name:  # classes near balance with the air share their water, whatever the tolerance
        assert max(errors) < SHARING, errors
    else:
        falls(errors)


def test_the_error_of_a_flight_falls_with_the_tolerance():
    scenario = ws.Scenario()
    air = _core.steady_air(scenario._core)

    def found(tolerance):
        released = _core.flight_input(scenario.in_si({"numerics.tolerance": tolerance})._core, air, 0.0)
        flights = _core.fly([60e-6, 150e-6, 400e-6], released)
        return np.array([[each.evaporated, np.log(each.time)] for each in flights])

    exact = found(1e-12)
    falls([float(np.abs(found(each) - exact).max()) for each in TOLERANCES])


@pytest.mark.parametrize("number", range(3))
def test_films_in_steady_air_dry_as_the_solution_in_closed_form(number):
    """w' = -c w^(2/3) of the share w that is left, so (1 - c t / 3)^3, and dry at 3 / c."""
    group = next(group for group in random_ones.GROUPS if group.name == "sprays that dry out")
    scenario = random_ones.drawn(group, number).in_si(
        {"house.enclosed": 0.0, "canopy.layers": 1.0, "numerics.tolerance": 1e-9}
    )
    outcome = ws.simulate(scenario)
    landed = random_ones.landing(scenario, outcome.air, 0.0)
    drying = Drying(scenario, landed, random_ones.record(outcome.air))
    rate = -drying.rates(0.0, drying.start())[drying.stem]
    assert outcome.stem_wet_time == pytest.approx(3.0 / rate[0], rel=1e-7)


@pytest.mark.parametrize("method", ["drench", "sub_irrigation"])
def test_growth_is_integrated_to_third_order_and_better(method):
    """Rates times f and times over f are the same problem in longer or shorter steps: half a day is fixed.

    Simpson's rule is of fourth order; the shorter steps after an arrival make the fall uneven.
    """
    scenario = ws.Scenario(
        {
            "application.method": method,
            "application.volume_rate": "4 L/m^2",
            "application.concentration": "1 mg/L",
        }
    )
    rates = ("uptake.water_use", "active.loss_rate", "crop.depot_rate", "crop.metabolism", "crop.dilution",
             "crop.growth_steepness")  # fmt: skip

    def control(longer):
        changes = {key: scenario[key] / longer for key in rates}
        changes |= {
            "uptake.horizon": 60 * DAY * longer,
            "crop.growth_middle": scenario["crop.growth_middle"] * longer,
        }
        return ws.simulate(scenario.in_si(changes)).growth_control

    coarsest, usual, finest = control(1 / 8), control(1), control(2)
    exact = finest + (finest - usual) / 15
    assert abs(usual - exact) < 3e-9
    assert np.log2(abs(coarsest - exact) / abs(usual - exact)) / 3 > 3.0
