"""A Dormand-Prince 5(4) loop compiled by numba; what has dried is switched off inside the right-hand side.

A step is accepted when the root mean square of error over tolerance is at most one; the next follows from a
proportional-integral controller. The wet time is found in the pair's own fourth-order interpolant.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterable

import equations as eq
import numba
import numpy as np
from equations import (
    BENCH_LEFT,
    CLASSES,
    DRIED,
    EVAPORATION,
    FIRST_CLASS,
    HOUSE_HEAT,
    HOUSE_VAPOUR,
    LAYERS,
    LONGEST_STEP,
    PER_LAYER,
    ROW_SPACING,
    ROWS,
    STATE,
    STEM_LEFT,
    SURFACES,
    TAKEN,
    UPPER,
    WARMTH,
    WARMTH_UNIT,
    WATER_GAS,
    Array,
    Event,
    air_density,
    bench_rate,
    film,
    film_share,
    house_rates,
    latent_heat,
    leaf_nusselt,
    longwave,
    saturation,
    specific_heat,
    stems_rate,
    stomata_in_series,
    uptake,
)

_compiled = numba.njit(error_model="numpy")

# Dormand and Prince 1980; the interpolant of Hairer, Norsett and Wanner 1993, II.6.
STAGES = np.array(
    [
        [1 / 5, 0, 0, 0, 0, 0],
        [3 / 40, 9 / 40, 0, 0, 0, 0],
        [44 / 45, -56 / 15, 32 / 9, 0, 0, 0],
        [19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729, 0, 0],
        [9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656, 0],
        [35 / 384, 0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84],
    ]
)
TIMES = np.array([1 / 5, 3 / 10, 4 / 5, 8 / 9, 1, 1])
ERROR = np.array([71 / 57600, 0, -71 / 16695, 71 / 1920, -17253 / 339200, 22 / 525, -1 / 40])
DENSE = np.array(
    [
        -12715105075 / 11282082432,
        0,
        87487479700 / 32700410799,
        -10690763975 / 1880347072,
        701980252875 / 199316789632,
        -1453857185 / 822651844,
        69997945 / 29380423,
    ]
)


@_compiled
def let_go(e: Event, y: Array) -> float:
    """Return the last of what has dried, over all water that came: it is in the house's air."""
    water = 0.0
    for k in range(LAYERS):
        if y[STEM_LEFT + k] <= DRIED:
            water += y[STEM_LEFT + k] * e.stem_water[k]
    if y[BENCH_LEFT] <= DRIED:
        water += y[BENCH_LEFT] * e.bench_water
    for i in range(CLASSES):
        if y[FIRST_CLASS + i] <= DRIED:
            water += y[FIRST_CLASS + i] * e.area[i // PER_LAYER] * e.landed[i]
    return water / e.came


@_compiled
def excess(e: Event, y: Array) -> float:
    """Return the water on leaves less that which counts as dry [m]."""
    water = -e.dry_water
    for i in range(CLASSES):
        if y[FIRST_CLASS + i] > DRIED:
            water += y[FIRST_CLASS + i] * e.area[i // PER_LAYER] * e.landed[i]
    return water


@_compiled
def finished(y: Array) -> bool:
    """Return whether leaves and stems are dry."""
    wettest = 0.0
    for i in range(STEM_LEFT, TAKEN):
        wettest = max(wettest, y[i])
    for i in range(FIRST_CLASS, STATE):
        wettest = max(wettest, y[i])
    return bool(wettest <= DRIED)


@_compiled
def evaporation_factor(tangent: float) -> float:
    """Return the evaporation factor of a cap."""
    x = math.atan(tangent) * (4.0 / math.pi) - 1.0
    total = 0.0
    for i in range(12, -1, -1):
        total = total * x + EVAPORATION[i]
    return total * math.sqrt(1.0 + tangent * tangent)


@_compiled
def right_hand_side(e: Event, t: float, y: Array, rates: Array) -> None:
    """Set the rates of the state."""
    place = (e.start + t) / ROW_SPACING
    row = min(ROWS - 2, int(place))
    w = place - row
    a, b = e.air[row], e.air[row + 1]
    record = a[0] + w * (b[0] - a[0])
    pressure = a[2] + w * (b[2] - a[2])
    shortwave = a[3] + w * (b[3] - a[3])
    radiant = a[4] + w * (b[4] - a[4])
    air_changes = a[5] + w * (b[5] - a[5])

    share = y[HOUSE_VAPOUR] + let_go(e, y)
    added = share * e.came * e.water_density * e.sprayed_share / e.house_height
    vapour = (a[1] + w * (b[1] - a[1])) / (WATER_GAS * record) + added
    air = record + WARMTH_UNIT * y[HOUSE_HEAT]
    vapour_pressure = max(0.0, vapour * WATER_GAS * air)

    source = 0.0
    for k in range(LAYERS):
        leaf = e.base_temperature + WARMTH_UNIT * y[WARMTH + k]
        surface, _ = saturation(leaf)
        viscosity, conductivity, heat_diffusivity, diffusivity, prandtl, vapour_part = film(
            0.5 * (leaf + air), 0.5 * (surface + vapour_pressure), pressure
        )
        upper, lower = leaf_nusselt(
            e, e.air_speed[k], leaf, surface, air, vapour_pressure, pressure, viscosity, heat_diffusivity,
            prandtl,
        )  # fmt: skip
        length = 0.72 * e.leaf_width
        deficit = surface / (WATER_GAS * leaf) - vapour
        evaporation, bare, through, all_water = 0.0, 1.0, 0.0, 0.0
        for side in range(2):
            water, dissolving, landed = 0.0, 0.0, 0.0
            first = k * PER_LAYER + (UPPER if side else 0)
            last = (k + 1) * PER_LAYER if side else k * PER_LAYER + UPPER
            through = (lower if side else upper) * vapour_part / length
            shells, discs = 0.0, 0.0
            for i in range(first, last):
                left = y[FIRST_CLASS + i]
                landed += e.landed[i]
                rates[FIRST_CLASS + i] = 0.0
                if left <= DRIED:
                    continue
                radius, factor = e.radius[i], e.receding_factor
                if left < e.receding_share:
                    radius *= np.cbrt(left / e.receding_share)
                else:
                    half = 0.5 * left * e.fullness
                    u = np.cbrt(half + math.sqrt(half * half + 1.0))
                    square = u * u
                    factor = evaporation_factor(2.0 * half / (square + 1.0 + 1.0 / square))
                edge = e.number[i] * math.pi * radius
                shell = edge * diffusivity * factor
                rates[FIRST_CLASS + i] = shell
                shells += shell
                discs += edge * radius
                dissolving += e.landed[i]
                water += e.landed[i] * left
            drive = through * deficit / (shells + through)
            for i in range(first, last):
                rates[FIRST_CLASS + i] *= -drive / (e.water_density * e.landed[i])
            evaporation += shells * drive
            covered = -math.expm1(-discs)
            bare = 1.0 - covered
            all_water += water
            entry = TAKEN + SURFACES * k + side
            rates[entry] = uptake(
                e, 1.0, leaf, e.active[k, side], y[entry], dissolving / landed, covered, water
            )
        sun = shortwave * e.absorptance * e.light[k]
        transpires = stomata_in_series(e, sun, bare, through)
        gain = (
            sun
            + longwave(e, e.view_above[k], e.view_below[k], leaf, air, radiant)
            - (upper + lower) * conductivity / length * (leaf - air)
            - latent_heat(leaf) * (evaporation + transpires * max(0.0, deficit))
        )
        rates[WARMTH + k] = gain / (e.dry_heat_capacity + e.water_heat * all_water) / WARMTH_UNIT
        source += e.area[k] * evaporation

    latent = latent_heat(air)
    to_heat = air_density(air, vapour_pressure, pressure) * specific_heat(vapour_pressure, pressure)
    bench_share = film_share(y[BENCH_LEFT]) if y[BENCH_LEFT] > DRIED else 0.0
    bench = bench_rate(e, air, vapour, latent, to_heat, bench_share)
    rates[BENCH_LEFT] = -bench / (e.water_density * e.bench_water)
    source += bench
    for k in range(LAYERS):
        left, entry = y[STEM_LEFT + k], TAKEN + SURFACES * k + 2
        rates[STEM_LEFT + k] = rates[entry] = 0.0
        if left <= DRIED:
            continue
        wet = film_share(left)
        stems = stems_rate(
            e, e.air_speed[k], e.stem_area[k], e.stem_light[k] * shortwave, air, vapour_pressure, vapour,
            pressure, latent, wet,
        )  # fmt: skip
        rates[STEM_LEFT + k] = -stems / (e.water_density * e.stem_water[k])
        source += stems
        depth = e.stem_water[k] / e.stem_area[k] * left
        rates[entry] = uptake(e, e.stem_cuticle, air, e.active[k, 2], y[entry], 1.0, wet, depth)
    rates[HOUSE_HEAT], rates[HOUSE_VAPOUR] = house_rates(
        e, source, latent, to_heat, vapour, added, share, y[HOUSE_HEAT], radiant, air_changes
    )


@_compiled
def wet_time_within(
    e: Event, t: float, step: float, y: Array, ahead: Array, k: Array, inside: Array
) -> float:
    """Return the moment in a step at which leaves are dry, by halving."""
    low, high = 0.0, 1.0
    while (high - low) * step > 1e-12 * (t + step):
        x = 0.5 * (low + high)
        for i in range(STATE):
            rise = ahead[i] - y[i]
            start = step * k[0, i] - rise
            end = rise - step * k[6, i] - start
            bend = 0.0
            for j in range(7):
                bend += DENSE[j] * k[j, i]
            inside[i] = y[i] + x * (rise + (1.0 - x) * (start + x * (end + (1.0 - x) * step * bend)))
        if excess(e, inside) > 0.0:
            low = x
        else:
            high = x
    return t + step * high


@_compiled
def follow(e: Event, initial: Array, rtol: float, atol: float) -> tuple[float, int]:
    """Return the wet time of one event [s] and the evaluations it took; -1 for too many steps."""
    y, ahead, trial = initial.copy(), np.empty(STATE), np.empty(STATE)
    k = np.empty((7, STATE))
    t, step, previous_error, wet_time = 0.0, 1e-2, 1e-4, math.inf
    right_hand_side(e, t, y, k[0])
    evaluations = 1
    for _ in range(1_000_000):
        if finished(y) or t >= e.last:
            return wet_time, evaluations
        for stage in range(6):
            target = ahead if stage == 5 else trial
            for i in range(STATE):
                total = 0.0
                for j in range(stage + 1):
                    total += STAGES[stage, j] * k[j, i]
                target[i] = y[i] + step * total
            right_hand_side(e, t + TIMES[stage] * step, target, k[stage + 1])
        evaluations += 6
        squares = 0.0
        for i in range(STATE):
            total = 0.0
            for j in range(7):
                total += ERROR[j] * k[j, i]
            scaled = step * total / (atol + rtol * max(abs(y[i]), abs(ahead[i])))
            squares += scaled * scaled
        error = math.sqrt(squares / STATE)
        if not error <= 1.0:
            step *= max(0.2, 0.9 * error**-0.2) if math.isfinite(error) else 0.1
            continue
        if wet_time == math.inf and excess(e, ahead) <= 0.0:
            wet_time = wet_time_within(e, t, step, y, ahead, k, trial)
        t += step
        y, ahead = ahead, y
        k[0] = k[6]
        error = max(error, 1e-10)
        step *= min(5.0, max(0.2, 0.9 * error ** (-0.7 / 5) * previous_error ** (0.4 / 5)))
        step = min(step, LONGEST_STEP)
        previous_error = max(error, 1e-4)
    return wet_time, -1


def run(events: Iterable[Event], tolerance: float) -> tuple[float, float, Array]:
    """Return processor time [s], evaluations, and the wet time of every event [s]."""
    starts = [(event, eq.initial_state(event)) for event in events]
    atol = eq.ABSOLUTE_SHARE * tolerance
    follow(*starts[0], tolerance, atol)  # compiles
    begin = time.thread_time()
    found = [follow(event, initial, tolerance, atol) for event, initial in starts]
    seconds = time.thread_time() - begin
    wet_times, evaluations = zip(*found, strict=True)
    if min(evaluations) < 0:
        raise RuntimeError("numba: too many steps")
    return seconds, float(sum(evaluations)), np.array(wet_times)
