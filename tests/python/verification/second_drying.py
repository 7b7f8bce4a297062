"""Drying, written a second time from docs/science/drying.md and house.md: numpy and SciPy.

A crop that a spray has wetted: leaf temperatures, the water of every class of droplets, dew, films on stems
and bench, and what evaporation does to the air of the house. What is taken up from the liquid stands in
second_uptake.py, which is integrated along.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import second_air as air
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq

LET_GO = 1e-3  # share of its water at which a liquid is let go
STILLEST = 0.002  # [m/s]
FIRST_FILM = 1.01  # water of a crystal that begins to dissolve, over that at which it formed


@cache
def evaporation_factor():
    """Popov's factor f of an isolated cap over its contact angle [rad], to 170 degrees."""
    nodes, weights = np.polynomial.legendre.leggauss(16)
    panels = np.concatenate([np.linspace(0, 2, 120), np.linspace(2.2, 25, 60)])
    x = (0.5 * (panels[1:, None] + panels[:-1, None]) + 0.5 * np.diff(panels)[:, None] * nodes).ravel()
    w = (0.5 * np.diff(panels)[:, None] * weights).ravel()
    angles = np.linspace(0, np.radians(170), 1500)
    outer = np.pi - angles[:, None]  # the variable of integration is x over it
    theta = angles[:, None]
    down = np.exp(-2 * np.pi * x / outer)
    fraction = 2 * (
        np.exp(-2 * np.pi * x / outer)
        + 0.5 * np.exp(-2 * (np.pi - theta) * x / outer)
        + 0.5 * np.exp(-2 * (np.pi + theta) * x / outer)
    )
    integral = (fraction / (1 - down**2) * np.tanh(x) / outer) @ w
    return CubicSpline(angles, np.sin(angles) / (1 + np.cos(angles)) + 4 * integral)


def cap_volume(t):
    """Volume of a cap over the cube of its base radius, t the tangent of half its angle."""
    return np.pi * t * (3 + t**2) / 6


def dew_share(left):
    """Wet share of the area between droplets: a power law, and a parabola for the last 1e-4 of the film."""
    last = 1e-4
    over = np.minimum(1, left / last)
    return np.where(left < last, last ** (2 / 3) * over * (4 - over) / 3, np.minimum(1, left ** (2 / 3)))


def condensing(deficit, saturated):
    """Deficit of vapour that condenses on bare leaf [kg/m3]: it begins in a parabola."""
    onset = 1e-6 * saturated
    begins = -(np.minimum(0, np.maximum(deficit, -2 * onset)) ** 2) / (4 * onset)
    return np.where(deficit > -2 * onset, begins, deficit + onset)


def merged(diameter, share, count):
    """Sizes gathered in `count` classes, which keep volume and surface."""
    middle = np.cumsum(share) - 0.5 * share
    u = (np.arange(count) + 1) / count
    of = np.searchsorted(u[:-1] ** 2 * (3 - 2 * u[:-1]), middle, side="right")
    volume, surface = np.bincount(of, share), np.bincount(of, share / diameter)
    there = volume > 0
    sizes, shares = volume[there] / surface[there], volume[there]
    larger = np.diff(sizes, prepend=0.0) > 1e-12 * sizes  # classes of one size are one
    return sizes[larger], np.bincount(np.cumsum(larger) - 1, shares)


@dataclass
class Layers:
    """What the leaf layers of a canopy are, from the top down."""

    area: np.ndarray  # of leaves, per area of bench
    stem_area: np.ndarray
    light: np.ndarray  # per leaf area
    speed: np.ndarray  # over that above the crop

    @staticmethod
    def of(s):
        count = int(s["canopy.layers"])
        crown = s["canopy.crown_cover"]
        index = s["canopy.plant_density"] * s["canopy.leaf_area"] / count
        passes = np.exp(-s["canopy.extinction"] * s["canopy.clumping"] * index / crown)
        k = np.arange(count)
        return Layers(
            area=np.full(count, index),
            stem_area=np.full(count, s["canopy.plant_density"] * s["canopy.stem_area"] / count),
            light=crown * passes**k * (1 - passes) / index,
            speed=np.exp(-s["canopy.wind_attenuation"] * (k + 0.5) / count),
        )


class Drying:
    """The state of a wet crop and its rates; `landing` is where the spray came to rest."""

    def __init__(self, scenario, landing, record):
        s = self.s = dict(scenario)  # a plain one, which is read faster
        self.record = record  # a function of time [s] that gives the air as a mapping
        first = record(0.0)
        self.layers = Layers.of(s)
        count = self.count = len(self.layers.area)
        self.water_density = air.water_density(np.clip(first["temperature"], 273.16, 323.15))
        self.water_heat = air.water_specific_heat(first["temperature"]) * self.water_density
        self.answers = bool(s["house.enclosed"]) and s["house.sprayed_share"] > 0
        split = dict(landing.split)
        volume = s["application.volume_rate"]
        solute = self.solute = s["liquid.humectant"]
        self.moist = s["liquid.kappa"] * solute / (1 - solute)
        dry, damp = s["liquid.efflorescence"], s["liquid.deliquescence"]
        self.crystallises = max(LET_GO, self.moist * dry / (1 - dry))  # share of water left
        self.dissolves = damp > 0 and self.moist * damp / (1 - damp) > 2 * self.crystallises
        # classes of droplets, side by side: upper and lower side of the first layer, of the second, ...
        self.side, diameter, landed = [], [], []
        below = s["retention.underleaf"]
        for k, layer in enumerate(landing.layers):
            sizes, shares = np.array(layer.droplets.diameter), np.array(layer.droplets.volume_share)
            if not len(sizes):
                continue
            under = merged(sizes, shares, (int(s["droplets.bins"]) + 1) // 2)
            for lower, (d, v), part in ((0, (sizes, shares), 1 - below), (1, under, below)):
                liquid = layer.liquid * part / self.layers.area[k]
                keep = v * liquid > 0
                self.side += [2 * k + lower] * int(keep.sum())
                diameter += list(d[keep])
                landed += list((v * liquid)[keep])
        self.side = np.array(self.side, dtype=int)
        self.of_layer = self.side // 2
        d, self.landed = np.array(diameter), np.array(landed)
        fresh, receding = np.tan(0.5 * s["leaf.contact_angle"]), np.tan(0.5 * s["leaf.receding_angle"])
        self.full_cap = fresh**3 + 3 * fresh
        self.lets_go = cap_volume(receding) / cap_volume(fresh)
        self.receding_factor = evaporation_factor()(s["leaf.receding_angle"])
        self.number = self.landed / (np.pi / 6 * d**3)
        self.radius = d * np.cbrt(np.pi / 6 / cap_volume(fresh))
        self.water = self.landed * (1 - solute)
        self.leaf_water = np.bincount(self.of_layer, self.water, count) * self.layers.area
        self.stem_water = (1 - solute) * np.array([layer.stem.liquid for layer in landing.layers])
        self.bench_water = split["bench"] * volume * (1 - solute)
        pots = s["canopy.plant_density"] * np.pi / 4 * s["canopy.pot_diameter"] ** 2
        self.bench_area = 1 - pots
        self.lies = np.ones(len(d), dtype=bool)
        self.stem_wet = self.stem_water > 1e-10 * self.layers.stem_area
        self.bench_wet = self.bench_water > 1e-10 * self.bench_area
        discs = np.bincount(self.side, self.number * np.pi * self.radius**2, 2 * count)
        self.contact = 1 - np.exp(-discs)  # of either side when it landed
        # entries of the state
        n = len(d)
        self.T, self.dew, self.stem = (slice(i * count, (i + 1) * count) for i in range(3))
        self.bench, self.heat, self.vapour = (3 * count + i for i in range(3))
        self.left = slice(3 * count + 3, 3 * count + 3 + n)
        self.size = 3 * count + 3 + n
        self.evaporated_in_flight = max(0.0, split["evaporated"]) * volume
        self.cooled_in_flight = landing.heat * volume * s["house.sprayed_share"] / s["house.heat_capacity"]
        self.now = None  # what the last call of rates() found, for uptake

    # ---- the air, and the leaf that it meets

    def house(self, t, y):
        """The record's air with what the spray did to it."""
        now = dict(self.record(t))
        density = air.vapour_density(now["vapour_pressure"], now["temperature"])
        now["recorded_density"] = density
        if self.answers:
            now["temperature"] = now["temperature"] + y[self.heat]
            density = max(density + y[self.vapour], 0.0)
        now["density"] = density
        now["vapour_pressure"] = density * air.R_WATER * now["temperature"]
        now["speed"] = max(now["speed"], STILLEST)
        now["latent"] = float(air.latent_heat(now["temperature"]))
        return now

    def conductances(self, leaf, surface_pressure, now):
        """Heat and vapour conductances of upper and lower sides, and the diffusivity between."""
        s, P, ta = self.s, now["pressure"], now["temperature"]  # noqa: N806
        length = 0.72 * s["leaf.width"]
        film = 0.5 * (leaf + ta)
        share = 0.5 * (surface_pressure + now["vapour_pressure"]) / P
        mu, k, c = air.viscosity(film), air.conductivity(film), air.specific_heat(share)
        rho = air.density(film, share, P)
        prandtl = mu * c / k
        reynolds = now["speed"] * self.layers.speed * length * rho / mu
        forced = 0.664 * s["leaf.turbulence"] * np.sqrt(reynolds) * np.cbrt(prandtl)
        lighter = air.virtual_temperature(leaf, surface_pressure, P) - air.virtual_temperature(
            ta, now["vapour_pressure"], P
        )
        grashof = air.GRAVITY * np.abs(lighter) / film * length**3 * (rho / mu) ** 2
        unstable = 0.54 * (grashof * prandtl) ** 0.25
        rises = lighter > 0
        nusselt = [
            (forced**3.5 + free**3.5) ** (1 / 3.5)
            for free in (np.where(rises, 1.0, 0.5) * unstable, np.where(rises, 0.5, 1.0) * unstable)
        ]
        D = air.diffusivity(film, P, s["air.diffusivity"])  # noqa: N806
        schmidt = mu / (rho * D)
        heat = [each * k / length for each in nusselt]
        vapour = [each * np.cbrt(schmidt / prandtl) * D / length for each in nusselt]
        return heat, vapour, D

    def radiation(self, leaf, now):
        """Shortwave absorbed and longwave gained by leaves [W/m2]."""
        s, light = self.s, self.layers.light
        sun = s["leaf.absorptance"] * light * now["shortwave"]
        longwave = (
            s["leaf.emissivity"]
            * air.SIGMA
            * (
                light * (now["radiant_temperature"] ** 4 - leaf**4)
                + light[::-1] * (now["temperature"] ** 4 - leaf**4)
            )
        )
        return sun, longwave

    def transpiration(self, sun, boundary, bare):
        """Conductance of the stomata of what is bare of lower sides, behind their boundary layer."""
        stomata = self.s["leaf.stomatal_conductance"] * sun / (sun + self.s["leaf.stomatal_half_light"])
        open_ = stomata * bare
        return open_ * boundary / (open_ + boundary)

    def dry_leaves(self, now):
        """Temperatures of leaves that nothing wets."""

        def gain(leaf, k):
            leaf = np.full(self.count, leaf)
            heat, vapour, _ = self.conductances(leaf, np.full(self.count, now["vapour_pressure"]), now)
            sun, longwave = self.radiation(leaf, now)
            saturated = air.vapour_density(air.saturation_pressure(leaf), leaf)
            leaves = self.transpiration(sun, vapour[1], 1.0) * np.maximum(0, saturated - now["density"])
            balance = sun + longwave - (heat[0] + heat[1]) * (leaf - now["temperature"])
            return (balance - air.latent_heat(leaf) * leaves)[k]

        ta = now["temperature"]
        return np.array([brentq(gain, ta - 30, ta + 40, args=(k,), xtol=1e-9) for k in range(self.count)])

    def start(self, before=None):
        """The state when the spray has just landed, on leaves in balance or as an earlier span left all."""
        y = np.zeros(self.size)
        now = self.house(0.0, y)
        if before is None:
            dry = self.dry_leaves(now)
        else:
            dry, y[self.vapour], y[self.heat], on_bench = before
            self.bench_water += on_bench
            self.bench_wet = self.bench_water > 1e-10 * self.bench_area
        liquid = self.water_heat * self.leaf_water / self.layers.area
        share = liquid / (self.s["leaf.heat_capacity"] + liquid)
        wet = air.wet_bulb(now["temperature"], now["vapour_pressure"], now["pressure"])
        y[self.T] = dry + share * (wet - dry)
        y[self.stem] = self.stem_wet
        y[self.bench] = float(self.bench_wet)
        y[self.left] = 1.0
        in_air = self.evaporated_in_flight + self.stem_water[~self.stem_wet].sum()
        in_air += 0.0 if self.bench_wet else self.bench_water
        y[self.vapour] += self.to_house(in_air)
        y[self.heat] -= self.cooled_in_flight if self.answers else 0.0
        return y

    def to_house(self, water):
        """Vapour density that water [m, per area of bench] adds to the house's air."""
        return water * self.water_density * self.s["house.sprayed_share"] / self.s["house.height"]

    # ---- droplets, dew, films

    def droplets(self, y):
        """Relative base radii and evaporation factors of all classes."""
        volume = self.solute + (1 - self.solute) * np.maximum(0, y[self.left])
        pinned = volume >= self.lets_go
        t = 2 * np.sinh(np.arcsinh(0.5 * volume * self.full_cap) / 3)  # t^3 + 3 t = volume x full_cap
        factor = np.where(pinned, evaporation_factor()(2 * np.arctan(t)), self.receding_factor)
        radius = np.where(pinned, 1.0, np.cbrt(volume / self.lets_go) if self.lets_go > 0 else 1.0)
        return radius, factor

    def activity(self, y):
        left = np.maximum(0, y[self.left])
        return left / (left + self.moist) if self.moist > 0 else np.ones(len(left))

    def rates(self, t, y):
        s, count = self.s, self.count
        dy = np.zeros(self.size)
        now = self.house(t, y)
        leaf, dew = y[self.T], np.maximum(0, y[self.dew])
        pressure = air.saturation_pressure(leaf)
        saturated = air.vapour_density(pressure, leaf)
        heat, vapour, D = self.conductances(leaf, pressure, now)  # noqa: N806
        g = np.column_stack(vapour).ravel()  # by side
        radius, factor = self.droplets(y)
        shell = self.lies * self.number * np.pi * self.radius * radius * factor * D[self.of_layer]
        discs = np.bincount(
            self.side, self.lies * self.number * np.pi * (self.radius * radius) ** 2, 2 * count
        )
        drive = shell * self.activity(y) * saturated[self.of_layer]
        sides = 2 * count
        outside = (np.bincount(self.side, drive, sides) + g * now["density"]) / (
            np.bincount(self.side, shell, sides) + g
        )
        flux = drive - shell * outside[self.side]  # [kg per m2 of leaf and s]
        water = np.bincount(self.side, self.lies * self.water * np.maximum(0, y[self.left]), sides)
        solid = np.bincount(self.of_layer, self.lies * self.landed * self.solute, count)
        on_leaf = water.reshape(count, 2).sum(axis=1)
        full = (on_leaf + solid + dew) / s["retention.leaf_store"]
        drips = np.maximum(0, -flux) * full[self.of_layer]
        dy[self.left] = -(flux + drips) / (self.water_density * self.water)

        covered = 1 - np.exp(-discs)
        dew_cover = dew_share(dew / s["leaf.dew_film"])
        deficit = saturated - now["density"]
        bare = (1 - covered).reshape(count, 2)
        falls = condensing(deficit, saturated)  # on all that is bare; the rest of the deficit where dew lies
        of_dew = (np.column_stack(vapour) * bare).sum(axis=1) * (falls + dew_cover * (deficit - falls))
        dew_drips = np.maximum(0, -of_dew) * full
        dy[self.dew] = -(of_dew + dew_drips) / self.water_density
        evaporation = np.bincount(self.of_layer, flux, count) + of_dew

        sun, longwave = self.radiation(leaf, now)
        stomata = self.transpiration(sun, vapour[1], bare[:, 1] * (1 - dew_cover))
        gain = (
            sun
            + longwave
            - (heat[0] + heat[1]) * (leaf - now["temperature"])
            - air.latent_heat(leaf) * (evaporation + stomata * np.maximum(0, deficit))
        )
        dy[self.T] = gain / (s["leaf.heat_capacity"] + self.water_heat * (on_leaf + dew))

        into_air = float(self.layers.area @ evaporation) + self.films(now, y, dy)
        if self.answers:
            dy[self.vapour], dy[self.heat] = self.house_rates(now, y, into_air)
        self.now = {
            "air": now,
            "leaf": leaf,
            "covered": covered.reshape(count, 2),
            "water": water.reshape(count, 2),
            "dew": dew,
            "dew_cover": dew_cover,
            "dew_changes": dy[self.dew],
            "stem_cover": self.film(y[self.stem]) * self.stem_wet,
            "stem_water": self.stem_water / self.layers.stem_area * y[self.stem],
        }
        return dy

    @staticmethod
    def film(left):
        """Wet share of a film of which this share is left."""
        return np.minimum(1, np.maximum(0, left) ** (2 / 3))

    def films(self, now, y, dy):
        """Stems and bench: sets their rates, returns what they give [kg per m2 of bench and s]."""
        s, ta, P = self.s, now["temperature"], now["pressure"]  # noqa: N806
        pressure = air.saturation_pressure(ta)
        saturated = air.vapour_density(pressure, ta)
        slope = (air.saturation_slope(ta) / air.R_WATER - saturated) / ta
        deficit, latent = saturated - now["density"], now["latent"]
        share = now["vapour_pressure"] / P
        rho, c = air.density(ta, share, P), air.specific_heat(share)

        def penman(heat, g, absorbed):
            return g * (deficit * heat + slope * absorbed) / (heat + latent * g * slope)

        total = 0.0
        if self.bench_wet:
            g = s["house.bench_conductance"]
            total = self.bench_area * self.film(y[self.bench]) * penman(g * rho * c, g, 0.0)
            dy[self.bench] = -total / (self.water_density * self.bench_water)
        if not self.stem_wet.any():
            return total
        mu, k = air.viscosity(ta), air.conductivity(ta)
        prandtl = mu * c / k
        diameter = s["stem.diameter"]
        reynolds = now["speed"] * self.layers.speed * diameter * rho / mu
        laminar = 0.62 * np.sqrt(reynolds) * np.cbrt(prandtl) / (1 + (0.4 / prandtl) ** (2 / 3)) ** 0.25
        nusselt = 0.3 + laminar * (1 + (reynolds / 282000) ** 0.625) ** 0.8
        D = air.diffusivity(ta, P, s["air.diffusivity"])  # noqa: N806
        heat = nusselt * k / diameter
        g = nusselt * np.cbrt(mu / (rho * D) / prandtl) * D / diameter
        absorbed = s["leaf.absorptance"] * 0.5 * self.layers.light * now["shortwave"]
        wet = self.film(y[self.stem]) * self.stem_wet
        gives = self.layers.stem_area * wet * penman(heat, g, absorbed)
        dy[self.stem] = -gives / (self.water_density * np.where(self.stem_wet, self.stem_water, 1.0))
        return total + float(gives.sum())

    def house_rates(self, now, y, into_air):
        """Rates of the vapour and the heat that the spray added to the house's air."""
        s, ta, P = self.s, now["temperature"], now["pressure"]  # noqa: N806
        radiant = now["radiant_temperature"]
        cover = air.vapour_density(air.saturation_over_ice_or_water(radiant), radiant)
        condensed = s["house.cover_conductance"] * (
            max(now["density"] - cover, 0.0) - max(now["recorded_density"] - cover, 0.0)
        )
        share = now["vapour_pressure"] / P
        volumetric = air.density(ta, share, P) * air.specific_heat(share)
        of_floor = into_air * s["house.sprayed_share"]
        vapour = (of_floor - condensed) / s["house.height"] - now["air_changes"] * y[self.vapour]
        loss = s["house.heat_loss"] + now["air_changes"] * s["house.height"] * volumetric
        return vapour, -(now["latent"] * of_floor + loss * y[self.heat]) / s["house.heat_capacity"]

    # ---- drying out

    def water_on_leaves(self, y):
        """Water on the leaves of each layer, per area of bench [m]."""
        left = np.bincount(self.of_layer, self.water * y[self.left], self.count) + y[self.dew]
        return left * self.layers.area

    def lets_go_of(self):
        """Entries of the liquids that are let go, and what is left of them then."""
        ends = self.moist == 0 or self.s["liquid.efflorescence"] > 0
        classes = np.flatnonzero(self.lies) if ends else np.array([], dtype=int)
        stems = np.flatnonzero(self.stem_wet)
        bench = [self.bench] if self.bench_wet else []
        entries = np.concatenate([classes + self.left.start, stems + self.stem.start, bench]).astype(int)
        return entries, np.where(entries >= self.left.start, self.crystallises, LET_GO)

    def humidity(self, t, y):
        """Of the air at the temperature of each layer's leaves."""
        leaf = y[self.T]
        return self.house(t, y)["density"] / air.vapour_density(air.saturation_pressure(leaf), leaf)

    def take_up(self, layer, y):
        """The crystals of a layer take up water; returns their classes."""
        crystals = np.flatnonzero(~self.lies & (self.of_layer == layer))
        self.lies[crystals] = True
        y[self.left.start + crystals] = FIRST_FILM * self.crystallises
        if self.answers:
            water = self.water[crystals] * self.layers.area[layer]
            y[self.vapour] -= self.to_house(FIRST_FILM * self.crystallises * water.sum())
        return crystals

    def last_moments(self, entry, y, dy):
        """How long the rest of a liquid takes [s]."""
        if entry < self.left.start:
            factor = 3.0
        else:
            factor = 1.5 if self.solute == 0 and y[entry] < self.lets_go else 1.0
        return factor * y[entry] / -dy[entry] if dy[entry] < 0 else 0.0

    def let_go(self, entry, y):
        """Lets go of a liquid; returns ("class", i), ("stem", k) or ("bench", 0)."""
        if entry >= self.left.start:
            i = entry - self.left.start
            water, what = self.water[i] * self.layers.area[self.of_layer[i]], ("class", i)
            self.lies[i] = False
        elif entry == self.bench:
            water, what = self.bench_water, ("bench", 0)
            self.bench_wet = False
        else:
            k = entry - self.stem.start
            water, what = self.stem_water[k], ("stem", k)
            self.stem_wet[k] = False
        if self.answers:
            y[self.vapour] += self.to_house(y[entry] * water)
        y[entry] = 0.0
        return what
