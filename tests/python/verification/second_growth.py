"""Substrate and growth, written a second time from docs/science/substrate.md, uptake.md and growth.md."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from scipy.integrate import solve_ivp

DAY = 86400.0
SITES = ("leaf", "stem", "root")


def transpiration_factor(s):
    """TSCF by Briggs et al. 1982, or Burken and Schnoor 1998."""
    height, middle, width = ((0.784, 1.78, 2.44), (0.756, 2.50, 2.58))[int(s["uptake.transpiration"])]
    return height * np.exp(-((s["active.log_kow"] - middle) ** 2) / width)


def placed(s, method, volume):
    """Share of `volume` [m3 per plant] that the pot keeps, and availability to roots."""
    holds = s["substrate.volume"] * s["substrate.container_capacity"]
    room = holds * (1 - s["substrate.moisture"])
    if method == "continuous":
        return 1.0, 1.0
    depth = min(1.0, volume / room) if room > 0 else 1.0
    g = 2 - 4 * s["substrate.upper_root_share"]
    if method == "sub_irrigation":
        return min(1.0, room / volume), 1 + g * (1 - depth)
    excess = max(0.0, volume - room)
    leached = (excess - (holds - room) * (1 - np.exp(-excess / holds))) / volume if excess > 0 else 0.0
    return 1 - leached, 1 - g * (1 - depth)


class Growth:
    """A plant over the weeks: `availability` by application, arrivals as lists of dicts."""

    def __init__(self, scenario, availability, mobile_rate, temperatures=()):
        s = self.s = dict(scenario)
        self.mobile_rate = mobile_rate  # a function of temperature
        self.temperatures = temperatures
        capacity = s["substrate.volume"] * (
            s["substrate.water_content"]
            + s["substrate.sorption_factor"] * s["active.sorption"] * s["substrate.dry_density"]
        )
        up = s["uptake.water_use"] * transpiration_factor(s) / capacity
        self.up = up * np.asarray(availability)
        n = self.n = len(availability)
        # deposits on mature leaves, on growing ones and on stems, depot of stem and root, tips, broken down;
        # in substrates, lost from them; uptake by site, to tips by site; thermal time; saved
        names = ["leaf", "growing", "stem", "depot_stem", "depot_root", "tips"]
        self.at = {name: i for i, name in enumerate(names)}
        self.pots = slice(6, 6 + n)
        self.lost, self.taken, self.to_tips = 6 + n, slice(7 + n, 10 + n), slice(10 + n, 13 + n)
        self.theta, self.saved = 13 + n, 14 + n
        self.size = 15 + n

    def temperature(self, t):
        day = int(t // DAY)
        return self.temperatures[day] if day < len(self.temperatures) else self.s["crop.mean_temperature"]

    def logistic(self, theta):
        return 1 / (1 + np.exp(-self.s["crop.growth_steepness"] * (theta - self.s["crop.growth_middle"])))

    def slope(self, theta):
        of = self.logistic(theta)
        return self.s["crop.growth_steepness"] * of * (1 - of)

    def rates(self, y, temperature, scale):
        """At a steady temperature; `scale` is length over the logistic's rise [m]."""
        s, dy, at = self.s, np.zeros(self.size), self.at
        growing = max(0.0, min(temperature, s["crop.optimum_temperature"]) - s["crop.base_temperature"])
        breaks = s["crop.metabolism"] * s["crop.metabolism_q10"] ** ((temperature - 293.15) / 10)
        dilution = s["crop.dilution"] * growing / (293.15 - s["crop.base_temperature"])
        k_b, k_x, tau = self.mobile_rate(temperature), s["crop.depot_rate"], s["crop.tip_share"]
        leaf, stem = k_b * y[at["leaf"]], k_b * y[at["stem"]]
        growing_blades = s["uptake.growing_cuticle"] * k_b * y[at["growing"]]
        roots = self.up * y[self.pots]
        dy[at["leaf"]], dy[at["growing"]], dy[at["stem"]] = -leaf, -growing_blades, -stem
        dy[self.pots] = -roots - s["active.loss_rate"] * y[self.pots]
        dy[self.lost] = s["active.loss_rate"] * y[self.pots].sum()
        for name, enters in (("depot_stem", stem), ("depot_root", roots.sum())):
            dy[at[name]] = enters - (k_x + breaks) * y[at[name]]
        arrives = np.array(
            [
                s["crop.leaf_tip_share"] * growing_blades,
                tau * k_x * y[at["depot_stem"]],
                tau * k_x * y[at["depot_root"]],
            ]
        )
        tips = y[at["tips"]]
        dy[at["tips"]] = arrives.sum() - (breaks + dilution) * tips
        dy[self.taken] = leaf + growing_blades, stem, roots.sum()
        dy[self.to_tips] = arrives
        dy[self.theta] = growing
        inhibition = s["crop.largest_inhibition"] * tips / (tips + s["crop.half_amount"])
        dy[self.saved] = scale * self.slope(y[self.theta]) * growing * inhibition
        return dy

    def follow(self, arrivals):
        """Heights and amounts when height is judged, after `uptake.horizon`."""
        s, at, horizon = self.s, self.at, self.s["uptake.horizon"]
        turns = {0.0, horizon} | {a["time"] for a in arrivals if a["time"] < horizon}
        turns |= {DAY * i for i in range(1, len(self.temperatures) + 1) if DAY * i < horizon}
        turns = sorted(turns)
        warmth = sum(
            (b - a)
            * max(
                0.0,
                min(self.temperature(a), s["crop.optimum_temperature"]) - s["crop.base_temperature"],
            )
            for a, b in pairwise(turns)
        )
        scale = (s["crop.final_height"] - s["crop.initial_height"]) / (
            self.logistic(warmth) - self.logistic(0.0)
        )
        y = np.zeros(self.size)
        amount = max(
            1e-15, max(sum(a.get(k, 0.0) for k in ("leaf", "growing", "stem", "pot")) for a in arrivals)
        )
        atol = np.full(self.size, 1e-12 * amount)
        atol[self.theta], atol[self.saved] = 1e-3, 1e-11
        for begin, end in pairwise(turns):
            for a in arrivals:
                if a["time"] == begin:
                    self.arrive(a, y)
            temperature = self.temperature(begin)
            solved = solve_ivp(
                lambda _, z, temperature=temperature: self.rates(z, temperature, scale),
                (begin, end),
                y,
                method="DOP853",
                rtol=1e-9,
                atol=atol,
                max_step=5 * DAY,
            )
            y = solved.y[:, -1]
        for a in arrivals:
            if a["time"] >= horizon:
                self.arrive(a, y)
        final = s["crop.final_height"]
        return {
            "growth_control": y[self.saved] / final,
            "uptake": dict(zip(SITES, y[self.taken], strict=True)),
            "tips": dict(zip(SITES, y[self.to_tips], strict=True)),
            "leaf_mobile": y[at["leaf"]] + y[at["growing"]],
            "stem_mobile": y[at["stem"]],
            "substrate": y[self.pots].sum(),
            "lost": y[self.lost],
        }

    def arrive(self, a, y):
        """What comes at one moment [kg per plant]."""
        at = self.at
        leaf, stem = a.get("entered_leaf", 0.0), a.get("entered_stem", 0.0)
        y[at["leaf"]] += a.get("leaf", 0.0)
        y[at["growing"]] += a.get("growing", 0.0)
        y[at["stem"]] += a.get("stem", 0.0)
        y[self.pots.start + a.get("application", 0)] += a.get("pot", 0.0)
        y[at["depot_stem"]] += stem
        of_leaf = self.s["crop.leaf_tip_share"] * a.get("entered_growing", 0.0)
        y[at["tips"]] += of_leaf
        y[self.taken] += leaf, stem, 0.0
        y[self.to_tips] += of_leaf, 0.0, 0.0
