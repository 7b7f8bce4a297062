"""Uptake from leaves and stems, written a second time from docs/science/uptake.md and drying.md.

Active ingredient by surface: upper and lower sides of every leaf layer, then its stems; in liquid, mobile or
locked, with what was taken up and lost, all per area of bench [kg/m2]. It follows the drying crop of
second_drying.py and does not act back on it.
"""

from __future__ import annotations

import numpy as np
import second_air as air

LIQUID, MOBILE, LOCKED, TAKEN, LOST = range(5)


def arrhenius(energy, temperature, reference):
    return np.exp(-energy / air.R * (1 / temperature - 1 / reference))


def permeance(s, temperature):
    """Of the crop's cuticle [m/s]: Kerler and Schonherr 1988 at 25 degC."""
    log_partition = 0.057 + 0.970 * s["active.log_kow"]
    reference = 10 ** (238 * log_partition / (1e6 * s["active.molar_volume"]) - 12.48)
    factor = s["uptake.accelerator"] * s["uptake.cuticle"]
    return factor * reference * arrhenius(s["uptake.activation_energy"], temperature, 298.15)


def mobile_rate(s, temperature):
    """At which the mobile deposit enters [1/s]."""
    factor = s["uptake.accelerator"] * s["uptake.mobile_rate"]
    return factor * arrhenius(s["uptake.activation_energy"], temperature, 293.15)


def solubility(s, temperature):
    """[kg/m3]"""
    return s["active.solubility"] * arrhenius(s["active.solubility_enthalpy"], temperature, 293.15)


def turns_mobile(s, mass):
    """Of a liquid deposit per area of contact that dries [kg/m2]."""
    z = s["uptake.mobile_share"] * mass
    return z / (1 + z / s["uptake.wax_capacity"])


def growing(s, count):
    """Share of each of `count` leaf layers that is still growing [1]: the youngest leaves stand on top."""
    return np.clip(s["canopy.growing_share"] * count - np.arange(count), 0.0, 1.0)


class Uptake:
    """Deposits of a drying crop, `y[surface, what]`, surfaces layer by layer: upper, lower, stem."""

    def __init__(self, scenario, landing, drying):
        self.s, self.drying = dict(scenario), drying
        self.count = drying.count
        self.size = 15 * self.count
        split = dict(landing.split)
        kept = sum(share for name, share in split.items() if name != "evaporated")
        self.concentration = scenario["application.concentration"] / kept  # of what came to rest
        self.landing = landing

    def start(self):
        y = np.zeros((self.count, 3, 5))
        below = self.s["retention.underleaf"]
        for k, layer in enumerate(self.landing.layers):
            on_leaf = self.concentration * layer.liquid
            y[k, :, LIQUID] = (1 - below) * on_leaf, below * on_leaf, self.concentration * layer.stem.liquid
        return y.ravel()

    def wetted_again(self, y, temperature, on_leaves, on_stems):
        """Deposits after a pass of plain water on what leaves and stems hold [m], and what it washes off.

        Returns amounts per area of bench [kg/m2]: on the surfaces, to the pot, to the bench.
        """
        y = y.reshape(self.count, 3, 5).copy()
        y[..., (TAKEN, LOST)] = 0.0
        most, below = solubility(self.s, temperature), self.s["retention.underleaf"]
        drips = flows = 0.0  # active ingredient in what falls from leaves and runs down stems

        def dissolve(k, surface, water):
            dissolves = min(y[k, surface, LOCKED], most * water)
            y[k, surface, LIQUID] += dissolves
            y[k, surface, LOCKED] -= dissolves

        for k, layer in enumerate(self.landing.layers):
            y[k, 0, LIQUID] += layer.interception * drips
            drips -= layer.interception * drips
            water = on_leaves[k] + layer.liquid + layer.run_off
            dissolve(k, 0, (1 - below) * water)
            dissolve(k, 1, below * water)
            on_leaf = y[k, :2, LIQUID].sum()
            washed = layer.run_off * min(on_leaf / water, most)
            y[k, :2, LIQUID] *= 1 - washed / on_leaf
            along_petioles = washed * layer.stem.from_leaves / layer.run_off if layer.run_off > 0 else 0.0
            drips += washed - along_petioles
            y[k, 2, LIQUID] += along_petioles + flows
            water = on_stems[k] + layer.stem.liquid + layer.stem.run_off
            dissolve(k, 2, water)
            flows = layer.stem.run_off * min(y[k, 2, LIQUID] / water, most)
            y[k, 2, LIQUID] -= flows
        pots = self.s["canopy.plant_density"] * np.pi / 4 * self.s["canopy.pot_diameter"] ** 2
        opened = 0.0 if self.s["canopy.pots_covered"] else 1.0
        to_pot = opened * (flows + drips * min(1.0, pots / self.s["canopy.crown_cover"]))
        return y.ravel(), to_pot, flows + drips - to_pot

    def rates(self, y):
        """Of the crop as the last Drying.rates() found it."""
        s, now, layers = self.s, self.drying.now, self.drying.layers
        y = y.reshape(self.count, 3, 5)
        dy = np.zeros_like(y)
        area = np.column_stack([layers.area, layers.area, layers.stem_area])
        temperature = np.column_stack(
            [now["leaf"], now["leaf"], np.full(self.count, now["air"]["temperature"])]
        )
        young = growing(s, self.count)
        mean = np.ones((self.count, 3))
        mean[:, :2] = (1 - young + young * s["uptake.growing_cuticle"])[:, None]
        P = mean * permeance(s, temperature)  # noqa: N806
        P[:, 2] *= s["uptake.stem_cuticle"]
        most = s["uptake.supersaturation"] * solubility(s, temperature)
        depth = np.column_stack([now["water"], now["stem_water"]])
        covered = np.column_stack([now["covered"], now["stem_cover"]])
        held = y[..., LIQUID] / area
        with np.errstate(divide="ignore", invalid="ignore"):
            c = np.where(depth > 0, np.minimum(held / depth, most), 0.0)
        enters_wet = np.where(held > 0, P * c * covered * area, 0.0)
        enters = mean * mobile_rate(s, temperature) * y[..., MOBILE]
        dry = np.column_stack([1 - now["dew_cover"], 1 - now["dew_cover"], np.ones(self.count)])
        lost = s["uptake.residue_loss"] * dry * y[..., LOCKED]
        dy[..., LIQUID], dy[..., MOBILE], dy[..., LOCKED] = -enters_wet, -enters, -lost
        dy[..., TAKEN], dy[..., LOST] = enters_wet + enters, lost
        if now["dew"].any():
            self.under_dew(y, dy, P, solubility(s, temperature))
        return dy.ravel()

    def under_dew(self, y, dy, P, S):  # noqa: N803
        """Dew dissolves locked deposit that it covers; what falls out as it dries is in part mobile."""
        now, area = self.drying.now, self.drying.layers.area
        contact = self.drying.contact.reshape(self.count, 2)
        for k in np.flatnonzero(now["dew"] > 0):
            water, cover = 0.5 * now["dew"][k], now["dew_cover"][k]
            dries = max(0.0, -0.5 * now["dew_changes"][k])  # [m/s]
            for side in (0, 1):
                locked = max(0.0, y[k, side, LOCKED]) / area[k]
                if locked == 0:
                    continue
                full = locked / (contact[k, side] * water / cover)  # were all of it dissolved
                saturated = full > S[k, side]
                enters = P[k, side] * min(full, S[k, side]) * contact[k, side] * cover
                spreads = 2 / 3 * cover / water if cover < 1 else 0.0
                falls_out = dries * (S[k, side] * contact[k, side] if saturated else locked * spreads)
                turns = self.s["uptake.mobile_share"] * falls_out
                dy[k, side, LOCKED] -= (enters + turns) * area[k]
                dy[k, side, MOBILE] += turns * area[k]
                dy[k, side, TAKEN] += enters * area[k]

    def dries(self, y, k, surface, part, contact):
        """A part of what a surface's liquid holds dries on `contact`, per area of bench."""
        y = y.reshape(self.count, 3, 5)
        moved = part * y[k, surface, LIQUID]
        turned = contact * turns_mobile(self.s, moved / contact) if contact > 0 else 0.0
        y[k, surface, LIQUID] -= moved
        y[k, surface, MOBILE] += turned
        y[k, surface, LOCKED] += moved - turned

    def dissolved(self, crystals, y):
        """Classes that Drying.take_up() wetted again take their share of what is locked along."""
        drying = self.drying
        y = y.reshape(self.count, 3, 5)
        for side in np.unique(drying.side[crystals]):
            here = drying.side == side
            part = (
                drying.landed[crystals[drying.side[crystals] == side]].sum()
                / drying.landed[here & (~drying.lies | np.isin(np.arange(len(here)), crystals))].sum()
            )
            moved = part * y[side // 2, side % 2, LOCKED]
            y[side // 2, side % 2, LOCKED] -= moved
            y[side // 2, side % 2, LIQUID] += moved

    def liquid_gone(self, what, i, y):
        """What Drying.let_go() let go takes its share along; it counts among what lies no more."""
        drying = self.drying
        if what == "stem":
            self.dries(y, i, 2, 1.0, drying.layers.stem_area[i])
        if what == "class":
            side = drying.side[i]
            others = drying.lies & (drying.side == side)
            part = drying.landed[i] / (drying.landed[i] + drying.landed[others].sum())
            disc = drying.number[i] * np.pi * drying.radius[i] ** 2
            self.dries(y, side // 2, side % 2, part, disc * drying.layers.area[side // 2])
