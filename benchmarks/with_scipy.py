"""SciPy's solve_ivp (RK45) over a right-hand side in NumPy; what has dried is switched off inside it."""

from __future__ import annotations

import time
from collections.abc import Iterable

import equations as eq
import numpy as np
from equations import Array, Event
from scipy.integrate import solve_ivp


class RightHandSide:
    """The equations of one event; the classes of both leaf layers are handled as arrays."""

    def __init__(self, event: Event) -> None:
        self.event = event
        by_layer = (eq.LAYERS, eq.PER_LAYER)
        self.landed = event.landed.reshape(by_layer)
        self.edge = np.pi * (event.number * event.radius).reshape(by_layer)
        self.disc = self.edge * event.radius.reshape(by_layer)
        self.all_landed = np.add.reduceat(self.landed, [0, eq.UPPER], axis=1)
        self.per_bench = (event.area[:, None] * self.landed).ravel()
        # all that can dry out, in the order of the state
        stems = np.arange(eq.STEM_LEFT, eq.TAKEN)
        self.water = np.concatenate([event.stem_water, [event.bench_water], self.per_bench])
        self.films_and_classes = np.r_[stems, eq.BENCH_LEFT, eq.FIRST_CLASS : eq.STATE]
        self.leaves_and_stems = np.r_[stems, eq.FIRST_CLASS : eq.STATE]

    def excess(self, t: float, y: Array) -> float:
        """Return the water on leaves less that which counts as dry [m]."""
        left = y[eq.FIRST_CLASS :]
        return float(self.per_bench @ np.where(left > eq.DRIED, left, 0.0)) - self.event.dry_water

    def wettest(self, t: float, y: Array) -> float:
        """Return what the wettest of classes and stems has left, above that which counts as dry."""
        return float(y[self.leaves_and_stems].max()) - eq.DRIED

    def air(self, t: float) -> Array:
        """Return the air's record at a moment."""
        place = (self.event.start + t) / eq.ROW_SPACING
        i = min(eq.ROWS - 2, int(place))
        before, after = self.event.air[i : i + 2]
        return np.asarray(before + (place - i) * (after - before))

    def __call__(self, t: float, y: Array) -> Array:
        e, rates = self.event, np.zeros(eq.STATE)
        record, record_pressure, pressure, shortwave, radiant, air_changes = self.air(t).tolist()
        # the last of what has dried is in the house's air
        liquids = y[self.films_and_classes]
        let_go = float(self.water @ np.where(liquids > eq.DRIED, 0.0, liquids)) / e.came
        share = float(y[eq.HOUSE_VAPOUR]) + let_go
        added = share * e.came * e.water_density * e.sprayed_share / e.house_height
        vapour = record_pressure / (eq.WATER_GAS * record) + added
        heat = float(y[eq.HOUSE_HEAT])
        air = record + eq.WARMTH_UNIT * heat
        vapour_pressure = max(0.0, vapour * eq.WATER_GAS * air)

        # every class: its cap, and the shell it evaporates through
        left = y[eq.FIRST_CLASS :].reshape(eq.LAYERS, eq.PER_LAYER)
        wet = left > eq.DRIED
        left = np.where(wet, left, 0.0)
        half = 0.5 * e.fullness * left
        u = np.cbrt(half + np.sqrt(half * half + 1.0))
        square = u * u
        tangent = 2.0 * half / (square + 1.0 + 1.0 / square)
        x = np.arctan(tangent) * (4.0 / np.pi) - 1.0
        series = np.full_like(x, eq.EVAPORATION[-1])
        for coefficient in eq.EVAPORATION[-2::-1]:
            series *= x
            series += coefficient
        series *= np.sqrt(1.0 + tangent * tangent)
        pinned = left >= e.receding_share
        radius = np.where(pinned, 1.0, np.cbrt(left / e.receding_share))
        shells = self.edge * radius * np.where(pinned, series, e.receding_factor)
        sides = [0, eq.UPPER]
        shells_of = np.add.reduceat(shells, sides, axis=1)
        discs_of = np.add.reduceat(self.disc * radius * radius, sides, axis=1)
        covered = -np.expm1(-discs_of)
        water = np.add.reduceat(self.landed * left, sides, axis=1).tolist()
        part = (np.add.reduceat(self.landed * wet, sides, axis=1) / self.all_landed).tolist()

        flux = np.empty((eq.LAYERS, 2))  # over the shell of a class
        source = 0.0
        for k in range(eq.LAYERS):
            leaf = e.base_temperature + eq.WARMTH_UNIT * float(y[eq.WARMTH + k])
            surface, _ = eq.saturation(leaf)
            viscosity, conductivity, heat_diffusivity, diffusivity, prandtl, vapour_part = eq.film(
                0.5 * (leaf + air), 0.5 * (surface + vapour_pressure), pressure
            )
            upper, lower = eq.leaf_nusselt(
                e, float(e.air_speed[k]), leaf, surface, air, vapour_pressure, pressure, viscosity,
                heat_diffusivity, prandtl,
            )  # fmt: skip
            length = 0.72 * e.leaf_width
            through_lower = lower * vapour_part / length
            deficit = surface / (eq.WATER_GAS * leaf) - vapour
            evaporation = 0.0
            for side, through in enumerate((upper * vapour_part / length, through_lower)):
                shell = float(shells_of[k, side]) * diffusivity
                drive = through * deficit / (shell + through)
                flux[k, side] = diffusivity * drive
                evaporation += shell * drive
            sun = shortwave * e.absorptance * float(e.light[k])
            transpires = eq.stomata_in_series(e, sun, 1.0 - float(covered[k, 1]), through_lower)
            gain = (
                sun
                + eq.longwave(e, float(e.view_above[k]), float(e.view_below[k]), leaf, air, radiant)
                - (upper + lower) * conductivity / length * (leaf - air)
                - eq.latent_heat(leaf) * (evaporation + transpires * max(0.0, deficit))
            )
            capacity = e.dry_heat_capacity + e.water_heat * sum(water[k])
            rates[eq.WARMTH + k] = gain / capacity / eq.WARMTH_UNIT
            for side in range(2):
                entry = eq.TAKEN + eq.SURFACES * k + side
                rates[entry] = eq.uptake(
                    e, 1.0, leaf, float(e.active[k, side]), float(y[entry]), part[k][side],
                    float(covered[k, side]), water[k][side],
                )  # fmt: skip
            source += float(e.area[k]) * evaporation
        of_class = np.repeat(flux, [eq.UPPER, eq.LOWER], axis=1)
        rates[eq.FIRST_CLASS :] = (-shells * of_class / (e.water_density * self.landed)).ravel()

        latent = eq.latent_heat(air)
        to_heat = eq.air_density(air, vapour_pressure, pressure) * eq.specific_heat(vapour_pressure, pressure)
        bench_left = float(y[eq.BENCH_LEFT])
        bench_share = eq.film_share(bench_left) if bench_left > eq.DRIED else 0.0
        bench = eq.bench_rate(e, air, vapour, latent, to_heat, bench_share)
        rates[eq.BENCH_LEFT] = -bench / (e.water_density * e.bench_water)
        source += bench
        for k in range(eq.LAYERS):
            stem_left, entry = float(y[eq.STEM_LEFT + k]), eq.TAKEN + eq.SURFACES * k + 2
            if stem_left <= eq.DRIED:
                continue
            share_wet, area, on_stems = (
                eq.film_share(stem_left),
                float(e.stem_area[k]),
                float(e.stem_water[k]),
            )
            stems = eq.stems_rate(
                e, float(e.air_speed[k]), area, float(e.stem_light[k]) * shortwave, air, vapour_pressure,
                vapour, pressure, latent, share_wet,
            )  # fmt: skip
            rates[eq.STEM_LEFT + k] = -stems / (e.water_density * on_stems)
            source += stems
            rates[entry] = eq.uptake(
                e, e.stem_cuticle, air, float(e.active[k, 2]), float(y[entry]), 1.0, share_wet,
                on_stems / area * stem_left,
            )  # fmt: skip
        rates[eq.HOUSE_HEAT], rates[eq.HOUSE_VAPOUR] = eq.house_rates(
            e, source, latent, to_heat, vapour, added, share, heat, radiant, air_changes
        )
        return rates


def follow(event: Event, tolerance: float) -> tuple[float, int]:
    """Return the wet time of one event [s] and the evaluations it took."""
    right_hand_side = RightHandSide(event)

    def dry(t: float, y: Array) -> float:
        return right_hand_side.excess(t, y)

    def finished(t: float, y: Array) -> float:
        return right_hand_side.wettest(t, y)

    finished.terminal = True  # type: ignore[attr-defined]
    solution = solve_ivp(
        right_hand_side,
        (0.0, event.last),
        eq.initial_state(event),
        method="RK45",
        rtol=tolerance,
        atol=eq.ABSOLUTE_SHARE * tolerance,
        max_step=eq.LONGEST_STEP,
        events=(dry, finished),
    )
    if not solution.success or solution.t_events is None:
        raise RuntimeError(f"solve_ivp: {solution.message}")
    times = solution.t_events[0]
    return (float(times[0]) if times.size else float("inf")), int(solution.nfev)


def run(events: Iterable[Event], tolerance: float) -> tuple[float, float, Array]:
    """Return processor time [s], evaluations, and the wet time of every event [s]."""
    begin = time.thread_time()
    found = [follow(event, tolerance) for event in events]
    seconds = time.thread_time() - begin
    wet_times, evaluations = zip(*found, strict=True)
    return seconds, float(sum(evaluations)), np.array(wet_times)
