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
    falls(errors)


@pytest.mark.parametrize("together", [True, False], ids=["in lanes", "one by one"])
def test_the_error_of_a_flight_falls_with_the_tolerance(together):
    scenario = ws.Scenario()
    air = _core.steady_air(scenario._core)

    def found(tolerance):
        released = _core.flight_input(scenario.in_si({"numerics.tolerance": tolerance})._core, air, 0.0)
        sizes = [60e-6, 150e-6, 400e-6]
        if together:
            flights = _core.fly(sizes, released)
        else:
            flights = [_core.fly([size], released)[0] for size in sizes]
        return np.array([[each.evaporated, np.log(each.time)] for each in flights])

    exact = found(1e-12)
    falls([float(np.abs(found(each) - exact).max()) for each in TOLERANCES])


def empty_house(changes: dict[str, float], vapour_pressure: tuple[float, float], outside: float):
    """Twelve hours in a house without sun, crop, heating and condensation: times and columns.

    The tolerance of this integration is fixed (1e-6), so its error is what can be observed.
    """
    empty = {
        "house.crop_share": 0.0,
        "house.heating_power": 0.0,
        "house.cover_conductance": 0.0,
        "house.vent_temperature": 320.0,
    }
    time = np.arange(0.0, 12 * 3600.0 + 1, 3600.0)
    columns = {
        "temperature": np.full(len(time), outside),
        "vapour_pressure": np.linspace(*vapour_pressure, len(time)),
        "pressure": np.full(len(time), 101325.0),
        "wind_speed": np.ones(len(time)),
        "shortwave": np.zeros(len(time)),
    }
    inside = _core.air_at_crop(ws.Scenario().in_si(empty | changes)._core, _core.Outdoor(time, columns))
    return np.asarray(inside.time), {name: np.asarray(column) for name, column in inside.columns.items()}


def test_an_empty_house_cools_as_the_solution_in_closed_form():
    """C T' = -U (T - T_out), from the set point of the heating."""
    changes = {"house.air_changes": 0.0, "house.heating_temperature": 295.15, "house.heat_loss": 7.0}
    time, inside = empty_house(changes, (600.0, 600.0), 278.15)
    exact = 278.15 + 17.0 * np.exp(-7.0 * time / ws.Scenario()["house.heat_capacity"])
    np.testing.assert_allclose(inside["temperature"], exact, rtol=3e-6)


def test_the_air_of_a_house_is_integrated_to_fourth_order():
    """A house that cools f times as fast in steps of 300 s is one that cools alike in steps f times as long.

    The tolerance would allow longer steps than 300 s for these. Rows lie within steps, on dense output of
    order 4.
    """
    settles = 300.0 * np.array([2.0, 3.0, 4.0, 6.0])
    errors = []
    for seconds in settles:
        changes = {"house.air_changes": 0.0, "house.heating_temperature": 295.15, "house.heat_loss": 10.0}
        time, inside = empty_house(changes | {"house.heat_capacity": 10.0 * seconds}, (600.0, 600.0), 278.15)
        early = time < 6 * seconds
        exact = 278.15 + 17.0 * np.exp(-time[early] / seconds)
        errors.append(float(np.abs(inside["temperature"][early] - exact).max()))
    order = -np.polyfit(np.log(settles), np.log(errors), 1)[0]
    assert 4.0 < order < 6.5, (order, errors)


def test_an_empty_house_is_aired_as_the_solution_in_closed_form():
    """rho' = -n (rho - rho_out), with rho_out rising evenly, at the temperature outside."""
    n, outside = 0.5 / 3600, 290.15
    changes = {"house.air_changes": n, "house.heating_temperature": outside}
    time, inside = empty_house(changes, (600.0, 1400.0), outside)
    rise = 800.0 / time[-1]
    exact = 600.0 + rise * (time - (1 - np.exp(-n * time)) / n)
    np.testing.assert_allclose(inside["temperature"], outside, rtol=1e-9)
    np.testing.assert_allclose(inside["vapour_pressure"], exact, rtol=1e-5)


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
def test_growth_is_integrated_to_sixth_order(method):
    """Rates times f and times over f are the same problem in longer or shorter panels: a day is fixed.

    The first panels after the arrival are as short as its rates ask for, so the order is not quite six.
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

    coarse, usual, fine = control(1 / 2), control(1), control(2)
    exact = fine + (fine - usual) / 63
    assert abs(usual - exact) < 1e-11
    assert np.log2(abs(coarse - exact) / abs(usual - exact)) > 5.0
