"""Where a spray comes to rest, written a second time from docs/science/landing.md, impact.md, collection.md,
in_full.md and the headers: impact on leaves, stems, layers, run-off, ground.

It shares with the library the flights of its droplets, which second_flight.py writes again.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import second_air as air
from scipy.optimize import brentq
from scipy.special import ndtri
from second_drying import merged

FINEST = 5e-6  # [m] what is finer does not settle
TANGENTIAL = 5 / 7  # of the tangential speed is kept
PIECES = 8  # of a size class
STEEPEST = 1.5  # [rad] path angles at stems
STEMFLOW = (0.60, 0.15, 0.05)  # of funnel, rounded, pendulous crowns


# One droplet on one leaf ---------------------------------------------------------------------------------


def mean_incidence_cosine(leaf, path):
    """Over the azimuth of leaves inclined at `leaf` (Warren Wilson 1960)."""
    level = np.cos(leaf) * np.cos(path)
    if path <= np.pi / 2 - leaf or leaf == 0:
        return level
    p = np.arccos(1 / (np.tan(leaf) * np.tan(path)))
    return level * (1 + 2 / np.pi * (np.tan(p) - p))


def spread(we, re, angle):
    """Largest spread over the droplet's diameter, Mao et al. 1997."""
    rises = 0.25 * (1 - np.cos(angle)) + 0.2 * we**0.83 / re**0.33
    roots = np.roots([rises, 0.0, -(we / 12 + 1), 2 / 3])
    real = roots.real[np.abs(roots.imag) < 1e-9]
    return max(1.0, real.max())


@dataclass
class Leaf:
    """What droplets hit: liquid and leaf."""

    density: float
    viscosity: float
    tension: float
    threshold: float
    splashed: float
    contact: float

    def hit(self, d, speed, cosine):
        """What leaves: ("stick", 0, 0, 0), or outcome, its share, diameter and speed."""
        normal, along = speed * cosine, speed * np.sqrt(max(0.0, 1 - cosine**2))
        we = self.density * normal**2 * d / self.tension
        re = self.density * normal * d / self.viscosity
        if we == 0:
            return "stick", 0.0, 0.0, 0.0
        k = we**0.5 * re**0.25
        if k > self.threshold:
            return self.shatter(d, we, we * (self.threshold / k) ** 1.6, along)
        b, wetting = spread(we, re, self.contact), 1 - np.cos(self.contact)
        recoil = 0.12 * b**2.3 * wetting**0.63
        excess = min(0.25 * b**2 * wetting - recoil + 2 / (3 * b) - 1, we / 12 - recoil)
        if excess <= 0:
            return "stick", 0.0, 0.0, 0.0
        return "rebound", 1.0, d, self.leaves(excess, d, along)

    def leaves(self, energy, d, along):
        """Speed from the kinetic energy normal to the leaf, over pi d^2 sigma, and what is kept along it."""
        return np.hypot(np.sqrt(12 * self.tension * energy / (self.density * d)), TANGENTIAL * along)

    def shatter(self, d, we, critical, along):
        r = self.splashed
        n = 1 + 5 * (we / critical - 1)
        energy = r * (we - critical) / 12
        surface = r ** (2 / 3) * (np.cbrt(n) - 1)
        if surface > energy:
            surface, n = energy, (1 + energy / r ** (2 / 3)) ** 3
        return "shatter", r, d * np.cbrt(r / n), self.leaves((energy - surface) / r, d, along)


def collection(K, phi):  # noqa: N803
    """Efficiency of a cylinder, Langmuir and Blodgett 1946."""
    if K <= 1 / 8:
        return 0.0
    re = np.sqrt(K * phi)
    y = np.cbrt(re) / np.sqrt(6)
    shortens = 3 * (1 - np.arctan(y) / y) / y**2 if y > 1e-3 else 1 - 0.6 * y**2
    k0 = 1 / 8 + (K - 1 / 8) * shortens
    fine = 0.466 * np.log10(8 * k0) ** 2
    return min(fine, K / (K + np.pi / 2 + 0.1124 * re**0.63 + 0.754e-4 * re**1.38))


# The crop ------------------------------------------------------------------------------------------------


@dataclass
class Stem:
    """Liquids [m per area of bench] of a layer's stems and petioles."""

    caught: float = 0.0
    from_leaves: float = 0.0
    from_above: float = 0.0
    liquid: float = 0.0
    run_off: float = 0.0


@dataclass
class Sizes:
    """Droplets by size, with shares of their volume."""

    diameter: np.ndarray
    volume_share: np.ndarray


@dataclass
class Layer:
    """Liquids [m per area of bench] of a layer's leaves, and what they intercept of the flux in crowns."""

    interception: float
    kept: list[tuple[float, float]] = field(default_factory=list)  # diameters and volumes of droplets
    liquid: float = 0.0
    run_off: float = 0.0
    droplets: Sizes | None = None
    stem: Stem = field(default_factory=Stem)


@dataclass
class Landing:
    """Where a spray came to rest: shares of the sprayed volume, and layers from the top down."""

    split: dict[str, float]
    layers: list[Layer]
    straight: float = 0.0
    shattered: float = 0.0
    rebounded: float = 0.0
    heat: float = 0.0  # that the flight takes from the air, per sprayed volume [J/m3]


@dataclass
class Parcel:
    """Droplets of one size: volume over the sprayed volume, by area of bench."""

    diameter: float
    speed: float
    angle: float
    volume: float
    touched: bool = False
    coming: float = 0.0  # volume that reaches the next layer from the leaves of this one
    leaves: Parcel | None = None  # what leaves the leaves that these droplets hit


def arrivals(sizes, shares, flights):
    """Parcels at the crop, and the losses on the way, between the flights of neighbouring sizes."""
    names = ("evaporated", "airborne", "diameter", "speed", "angle")
    told = np.array([[getattr(flight, name) for name in names] for flight in flights])
    at = np.log(sizes)
    ends = np.concatenate([at[:1], 0.5 * (at[1:] + at[:-1]), at[-1:]])
    losses = {"evaporated": 0.0, "airborne": 0.0}
    parcels = []
    for i, share in enumerate(shares):
        for x in (np.arange(PIECES) + 0.5) / PIECES:
            if x < 0.5:
                where = ends[i] + 2 * x * (at[i] - ends[i])
            else:
                where = at[i] + (2 * x - 1) * (ends[i + 1] - at[i])
            evaporated, airborne, diameter, speed, angle = (np.interp(where, at, column) for column in told.T)
            losses["evaporated"] += share / PIECES * evaporated
            losses["airborne"] += share / PIECES * airborne
            arrives = share / PIECES * (1 - evaporated - airborne)
            parcels.append(Parcel(diameter, speed, abs(angle), arrives))
    return parcels, losses


class Crop:
    """A crop that a spray falls on."""

    def __init__(self, scenario, now):
        s = self.s = dict(scenario)
        self.count = int(s["canopy.layers"])
        self.leaf_area = s["canopy.plant_density"] * s["canopy.leaf_area"] / self.count
        self.stem_area = s["canopy.plant_density"] * s["canopy.stem_area"] / self.count
        self.cover = s["canopy.crown_cover"]
        optical = s["canopy.extinction"] * s["canopy.clumping"] * self.leaf_area / self.cover
        self.leaf_hits, self.interception = optical, 1 - np.exp(-optical)
        t, P, e = now["temperature"], now["pressure"], now["vapour_pressure"]  # noqa: N806
        self.rho_w, self.rho_a, self.mu_a = air.water_density(t), air.density(t, e / P, P), air.viscosity(t)
        self.leaf = Leaf(
            float(self.rho_w),
            air.water_viscosity(t),
            s["liquid.surface_tension"],
            s["retention.shatter_threshold"],
            s["retention.splashed_share"],
            s["leaf.contact_angle"],
        )
        pots = s["canopy.plant_density"] * np.pi / 4 * s["canopy.pot_diameter"] ** 2
        opened = 0.0 if s["canopy.pots_covered"] else 1.0
        self.below = opened * min(1.0, pots / self.cover)
        self.between = opened * (max(0.0, pots - self.cover) / (1 - self.cover) if self.cover < 1 else 0.0)
        self.base = opened
        odds = STEMFLOW[int(s["canopy.habit"])]
        odds = odds / (1 - odds) * s["retention.stemflow_odds"]
        self.to_stem = odds / (1 + odds)

    def stem_hits(self, parcel):
        angle = min(parcel.angle, STEEPEST)
        across = parcel.speed * np.sin(angle)
        D = self.s["stem.diameter"]  # noqa: N806
        K = self.rho_w * parcel.diameter**2 * across / (9 * self.mu_a * D)  # noqa: N806
        phi = 9 * self.rho_a**2 * across * D / (self.mu_a * self.rho_w)
        return self.stem_area / self.cover / np.pi * collection(K, phi) * np.tan(angle)

    def land(self, parcels, losses, held=None):
        """Parcels at the top of the crop, shares of the sprayed volume; `losses` on the way to it.

        `held` are the liquids that leaves and stems hold already [m per area of bench], layer by layer.
        """
        volume = self.s["application.volume_rate"]
        found = Landing(dict(losses), [Layer(self.interception) for _ in range(self.count)])
        found.split["airborne"] += sum(p.volume for p in parcels if p.diameter < FINEST)
        falling = [p for p in parcels if p.diameter >= FINEST]
        self.ground = {"substrate": 0.0, "bench": 0.0}
        for p in falling:
            found.straight += self.between * p.volume * (1 - self.cover)
            self.reaches(self.between, p.volume * (1 - self.cover))
        falling = [Parcel(p.diameter, p.speed, p.angle, p.volume * self.cover) for p in falling]
        for layer in found.layers:
            self.passes(layer, falling, found)
        for p in falling:
            self.reaches(self.below, p.volume)
            found.straight += 0.0 if p.touched else self.below * p.volume
        leaves, stems = held or (np.zeros(self.count), np.zeros(self.count))
        drips = flows = 0.0  # [m]
        for layer, on_leaf, on_stem in zip(found.layers, leaves, stems, strict=True):
            came = sum(v for _, v in layer.kept) + self.interception * drips
            layer.liquid = retained(came, self.s["retention.leaf_store"] * self.leaf_area, on_leaf)
            layer.run_off = came - layer.liquid
            layer.stem.from_leaves, layer.stem.from_above = self.to_stem * layer.run_off, flows
            drips = (1 - self.interception) * drips + (1 - self.to_stem) * layer.run_off
            came = layer.stem.caught + layer.stem.from_leaves + flows
            layer.stem.liquid = retained(came, self.s["retention.stem_store"] * self.stem_area, on_stem)
            flows = layer.stem.run_off = came - layer.stem.liquid
            # drip alone has the sizes of the spray
            kept = layer.kept or list(zip(*sizes_of(self.s), strict=True))
            sizes = np.array(sorted(kept, key=lambda each: each[0])).T
            layer.droplets = Sizes(*merged(sizes[0], sizes[1] / sizes[1].sum(), int(self.s["droplets.bins"])))
        self.reaches(self.below, drips / volume)
        self.reaches(self.base, flows / volume)
        found.split |= self.ground
        found.split["leaf"] = sum(layer.liquid for layer in found.layers) / volume
        found.split["stem"] = sum(layer.stem.liquid for layer in found.layers) / volume
        return found

    def reaches(self, opening, amount):
        """What falls on ground of which a share is open pot."""
        self.ground["substrate"] += opening * amount
        self.ground["bench"] += (1 - opening) * amount

    def passes(self, layer, falling, found):
        """Droplets through one layer; those that fall on into the next are in `falling` then.

        What leaves where the same droplets hit leaves has one size and path in all layers: one parcel.
        """
        volume = self.s["application.volume_rate"]
        for p in list(falling):
            hits = self.leaf_hits + self.stem_hits(p)
            met = p.volume * -np.expm1(-hits)
            on_leaf = met * self.leaf_hits / hits
            layer.stem.caught += (met - on_leaf) * volume
            cosine = mean_incidence_cosine(self.s["canopy.leaf_angle"], p.angle)
            outcome, share, size, speed = self.leaf.hit(p.diameter, p.speed, cosine)
            p.volume -= met
            if share < 1 and on_leaf > 0:
                layer.kept.append((p.diameter * np.cbrt(1 - share), on_leaf * (1 - share) * volume))
            if outcome == "shatter":
                found.shattered += on_leaf * share
            else:
                found.rebounded += on_leaf * share
            if share > 0 and size < FINEST:
                found.split["airborne"] += on_leaf * share
            elif share > 0:
                if p.leaves is None:
                    p.leaves = Parcel(size, speed, 0.0, 0.0, True)
                    falling.append(p.leaves)
                p.leaves.coming += on_leaf * share
        for p in falling:
            p.volume, p.coming = p.volume + p.coming, 0.0


def retained(came, store, held):
    """Liquid that a store keeps of what came on top of what it holds."""
    return (store - held) * -np.expm1(-came / store) if store > 0 else 0.0


# The whole landing ---------------------------------------------------------------------------------------


def quantile(s, share):
    """Diameter below which a share of the volume lies."""
    span, middle = s["droplets.relative_span"], s["droplets.dv50"]
    if int(s["droplets.distribution"]) == 0:
        return middle * np.exp(np.arcsinh(span / 2) / 1.2815515655446004 * ndtri(share))

    def wide(q):
        return (np.log(10) ** (1 / q) - (-np.log(0.9)) ** (1 / q)) / np.log(2) ** (1 / q) - span

    q = brentq(wide, 0.5, 100)
    return middle * (-np.log1p(-share) / np.log(2)) ** (1 / q)


def sizes_of(s):
    """Diameters and shares of a spray's classes: Gauss-Legendre in u, with share u^2 (3 - 2 u)."""
    nodes, weights = np.polynomial.legendre.leggauss(int(s["droplets.bins"]))
    u, w = 0.5 * (1 + nodes), 0.5 * weights
    return quantile(s, u**2 * (3 - 2 * u)), 6 * u * (1 - u) * w


def exit_speed(s, now):
    """Of the liquid [m/s]."""
    density = float(air.water_density(now["temperature"]))
    return s["nozzle.velocity_coefficient"] * np.sqrt(2 * s["nozzle.pressure"] / density)


def jet_length(s, now):
    """Over which a spray passes its momentum to the air [m], at most 1."""
    water = float(air.water_density(now["temperature"]))
    share = now["vapour_pressure"] / now["pressure"]
    of_air = air.density(now["temperature"], share, now["pressure"])
    flow = s["nozzle.flow"] * np.sqrt(s["nozzle.pressure"] / 3e5)
    section = 4 * np.tan(s["nozzle.fan_angle"] / 2) * np.tan(s["nozzle.fan_thickness"] / 2)
    return min(1.0, np.sqrt(water * flow / (of_air * section * exit_speed(s, now))))


def land(scenario, now, flights, held=None):
    """Where a spray comes to rest in steady air; `flights` are those of its classes."""
    diameter, share = sizes_of(scenario)
    parcels, losses = arrivals(diameter, share, flights)
    found = Crop(scenario, now).land(parcels, losses, held)
    found.heat = float(np.dot(share, [flight.heat for flight in flights]))
    return found
