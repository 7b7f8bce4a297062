"""What a spray or drench comes to, by the second writing: from where it landed to the plants' height."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import second_air as air
import second_growth
import second_uptake
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from second_drying import Drying
from second_uptake import LOCKED, LOST, MOBILE, TAKEN, Uptake

METHODS = ("spray", "drench", "continuous", "sub_irrigation")
RELATIVE, ABSOLUTE = 1e-7, 1e-9  # of every entry, over its size


class Span:
    """The wet span of a landed spray: wet times [s], and what lies where at its end.

    `until` ends it at a moment; `before` is the span that a pass of water ends, of which leaves and stems may
    hold some liquid still.
    """

    def __init__(self, scenario, landing, record, longest, until=None, before=None):
        self.s = dict(scenario)
        self.drying = Drying(scenario, landing if before is None else on_top(landing, before), record)
        self.uptake = Uptake(scenario, landing, self.drying)
        self.longest = min(longest, scenario["numerics.longest"])
        moist = self.drying.moist > 0
        self.at_least = max(scenario["numerics.follow"], scenario["numerics.longest"] if moist else 0.0)
        if until is not None:
            self.at_least = self.longest = until
        self.before = before
        self.wet_time = self.last_drop_time = self.stem_wet_time = np.inf
        discs = self.drying.contact.reshape(-1, 2).sum(axis=1)
        self.cover = discs.mean()  # of both sides together
        self.follow()

    def rates(self, t, y):
        split = self.drying.size
        return np.concatenate([self.drying.rates(t, y[:split]), self.uptake.rates(y[split:])])

    def excess(self, y):
        """Water on leaves beyond what counts as dry."""
        drying = self.drying
        water = drying.water_on_leaves(y[: drying.size])
        if drying.moist > 0:  # beyond balance with the air
            now = drying.house(self.t, y)
            leaf = y[drying.T]
            humidity = now["density"] / air.vapour_density(air.saturation_pressure(leaf), leaf)
            with np.errstate(divide="ignore"):
                balance = np.where(humidity < 1, drying.moist * humidity / (1 - humidity), np.inf)
            water = np.maximum(0, water - drying.leaf_water * balance)
        return water.sum() - self.s["numerics.dry_share"] * drying.leaf_water.sum()

    def follow(self):
        drying = self.drying
        if self.before is None:
            y = np.concatenate([drying.start(), self.uptake.start()])
        else:
            deposit, self.to_pot, self.to_bench = self.uptake.wetted_again(
                self.before.y, self.drying.record(0.0)["temperature"], *self.before.held
            )
            y = np.concatenate([drying.start(self.before.left), deposit])
        carried = y[drying.size :].reshape(-1, 5)[:, :3].sum(axis=1)
        atol = np.full(len(y), ABSOLUTE)
        atol[drying.T] = ABSOLUTE * 10
        atol[drying.vapour] = ABSOLUTE * 1e-3
        atol[drying.dew] = ABSOLUTE * self.s["leaf.dew_film"]
        atol[drying.size :] = ABSOLUTE * np.repeat(np.maximum(carried, 1e-30), 5)
        self.t = 0.0
        was = self.excess(y)
        step = 1e-2
        stems_dry = 0.0
        if not drying.stem_wet.any():
            self.stem_wet_time = 0.0
        method = "LSODA" if drying.moist > 0 else "DOP853"
        while self.t < self.longest and not self.finished():
            entries, limits = drying.lets_go_of()

            def lets_go(_, y, entries=entries, limits=limits):
                return (y[entries] - limits).min() if len(entries) else 1.0

            lets_go.terminal, lets_go.direction = True, -1.0
            events = [lets_go, *self.dissolve()]
            if self.t >= self.at_least and np.isfinite(self.last_drop_time + self.stem_wet_time):
                events.append(self.dew_goes())  # nothing else is left
            stop = self.longest if self.t >= self.at_least else min(self.at_least, self.longest)
            with np.errstate(invalid="ignore"):  # a trial step may lead astray, and is refused then
                solved = solve_ivp(
                    self.rates,
                    (self.t, stop),
                    y,
                    method=method,
                    rtol=RELATIVE,
                    atol=atol,
                    events=events,
                    dense_output=True,
                    first_step=min(step, stop - self.t),
                    max_step=600.0,
                )
            assert solved.success, solved.message
            step = max(1e-3, 0.3 * (solved.t[-1] - solved.t[-2]))
            self.find_dry(solved, was)
            y, self.t = solved.y[:, -1].copy(), solved.t[-1]
            if events[-1].__name__ == "dew_has_gone" and len(solved.t_events[-1]):
                self.wet_time = min(self.wet_time, self.t)
            for layer in range(
                drying.count if drying.dissolves and solved.status == 1 and not len(solved.t_events[0]) else 0
            ):
                if drying.humidity(self.t, y)[layer] >= self.s["liquid.deliquescence"] - 1e-6:
                    self.uptake.dissolved(drying.take_up(layer, y), y[drying.size :])
            if solved.status == 1 and len(solved.t_events[0]):
                which = np.argmin(y[entries] - limits)
                entry = entries[which]
                y[entry] = limits[which]
                dy = self.rates(self.t, y)
                later = self.t + drying.last_moments(entry, y, dy)
                what, i = drying.let_go(entry, y)
                self.uptake.liquid_gone(what, i, y[drying.size :])
                if what == "class" and not drying.lies.any():
                    self.last_drop_time = min(self.last_drop_time, later)
                if what == "stem":
                    stems_dry = max(stems_dry, later)
                    if not drying.stem_wet.any():
                        self.stem_wet_time = stems_dry
            was = self.excess(y)
            if was <= 0:
                self.wet_time = min(self.wet_time, self.t)
            if drying.moist > 0 and self.t >= self.at_least:
                break
        if drying.moist > 0 and np.isinf(self.last_drop_time):
            self.last_drop_time = self.wet_time
        self.y = y[drying.size :].reshape(-1, 3, 5)
        self.held = drying.water_on_leaves(y[: drying.size]), drying.stem_water * y[drying.stem]
        on_bench = drying.bench_water * y[drying.bench] if drying.bench_wet else 0.0
        self.left = y[drying.T], y[drying.vapour], y[drying.heat], on_bench

    def dew_goes(self):
        """The event that ends a span of which dew alone is left."""

        def dew_has_gone(_, y):
            return self.excess(y)

        dew_has_gone.terminal, dew_has_gone.direction = True, -1.0
        return dew_has_gone

    def dissolve(self):
        """Events at which the air at a layer's leaves becomes moist enough for its crystals."""
        drying, begins = self.drying, self.s["liquid.deliquescence"]
        events = []
        for layer in range(drying.count if drying.dissolves else 0):
            if (drying.lies | (drying.of_layer != layer)).all():
                continue

            def damp(t, y, layer=layer):
                return drying.humidity(t, y)[layer] - begins

            damp.terminal, damp.direction = True, 1.0
            events.append(damp)
        return events

    def find_dry(self, solved, was):
        """The moment within a stretch at which leaves count as dry."""
        if np.isfinite(self.wet_time) or was <= 0:
            return
        for begin, end in zip(solved.t[:-1], solved.t[1:], strict=True):

            def excess(t):
                self.t = t
                return self.excess(solved.sol(t))

            if excess(end) <= 0:
                self.wet_time = brentq(excess, begin, end, xtol=1e-9) if excess(begin) > 0 else begin
                return

    def finished(self):
        leaves = np.isfinite(self.last_drop_time) and np.isfinite(self.wet_time)
        return self.t > 0 and self.t >= self.at_least and leaves and np.isfinite(self.stem_wet_time)


def on_top(landing, before):
    """A pass of water with what the crop held before it, in the sizes of the pass."""
    layers = []
    for layer, on_leaf, on_stem in zip(landing.layers, *before.held, strict=True):
        stem = replace(layer.stem, liquid=layer.stem.liquid + on_stem)
        layers.append(replace(layer, liquid=layer.liquid + on_leaf, stem=stem))
    return replace(landing, layers=layers)


def entered_growing(s, y):
    """Of what a span took up through leaves, the part that entered growing blades [kg/m2 of bench]."""
    young = second_uptake.growing(s, len(y))
    faster = young * s["uptake.growing_cuticle"]
    return (faster / (1 - young + faster)) @ y[:, :2, TAKEN].sum(axis=1)


def one_application(s, landing, record, longest, at, position, again=None):
    """Arrivals [kg per plant] of one application, its availability, and what else became of it.

    `again` is a light pass of water: its scenario, and where it comes to rest on what leaves and stems hold.
    """
    density, volume = s["canopy.plant_density"], s["application.volume_rate"]
    method = METHODS[int(s["application.method"])]
    split = dict(landing.split)
    kept = sum(share for name, share in split.items() if name != "evaporated")
    to_pot = split["substrate"] * volume / density  # [m3 per plant]
    held, availability = second_growth.placed(s, method, to_pot)
    mass = s["application.concentration"] / kept * to_pot * held
    told = {"availability": availability, "weathered": 0.0, "locked": (0.0, 0.0)}
    told["applied"] = s["application.concentration"] * volume / density
    told["bench"] = s["application.concentration"] / kept * volume / density * split["bench"] + mass * (
        1 / held - 1 if held > 0 else 0.0
    )
    told["airborne"] = s["application.concentration"] / kept * volume / density * split["airborne"]
    if method == "continuous":
        days = int(np.ceil((s["uptake.horizon"] - at) / 86400))
        told["arrivals"] = [
            {"time": at + i * 86400.0, "application": position, "pot": mass / days} for i in range(days)
        ]
        return told
    told["arrivals"] = [{"time": at, "application": position, "pot": mass}]
    if method != "spray":
        return told
    delay = s["rewetting.delay"]
    span = told["span"] = Span(s, landing, record, longest, None if again is None else delay)
    if again is not None:
        for site, surfaces in (("leaf", slice(0, 2)), ("stem", slice(2, 3))):
            told["arrivals"][0][f"entered_{site}"] = span.y[:, surfaces, TAKEN].sum() / density
            told["weathered"] += span.y[:, surfaces, LOST].sum() / density
        told["arrivals"][0]["entered_growing"] = entered_growing(s, span.y) / density
        water, lands = again
        pass_ = lands(span.held)
        span = told["rewet"] = Span(water, pass_, lambda t: record(t + delay), longest - delay, before=span)
        told["arrivals"].append({"time": at + delay, "application": position, "pot": span.to_pot / density})
        told["bench"] += span.to_bench / density
        at += delay
    y = span.y
    # what is left in liquid dries on the mean area of contact
    layers = span.drying.layers
    for k in range(span.drying.count):
        contact = 0.5 * span.cover * layers.area[k]
        for surface, area in enumerate((contact, contact, layers.stem_area[k])):
            span.uptake.dries(y, k, surface, 1.0, area)
    by_site = {"leaf": y[:, :2].sum(axis=(0, 1)) / density, "stem": y[:, 2].sum(axis=0) / density}
    for site, of in by_site.items():
        told["arrivals"][-1][f"entered_{site}"] = of[TAKEN]
        told["weathered"] += of[LOST]
    told["arrivals"][-1]["entered_growing"] = entered_growing(s, y) / density
    told["locked"] = tuple(by_site[site][LOCKED] for site in ("leaf", "stem"))
    told["dry_at"] = at + span.t
    young = second_uptake.growing(s, len(y)) @ y[:, :2, MOBILE].sum(axis=1) / density
    mobile = {"leaf": by_site["leaf"][MOBILE] - young, "growing": young, "stem": by_site["stem"][MOBILE]}
    told["arrivals"].append({"time": at + span.t, "application": position} | mobile)
    return told


def simulate(scenarios, times, landings, record, longest, weeks=(), again=None):
    """What applications at `times` come to; the first scenario's crop, uptake and substrate grow it."""
    s = scenarios[0]
    each = [
        one_application(scenarios[i], landings[i], record, longest - times[i], times[i], i, again)
        for i in range(len(times))
    ]
    growth = second_growth.Growth(
        s, [one["availability"] for one in each], lambda warm: second_uptake.mobile_rate(s, warm), weeks
    )
    arrivals = sorted((a for one in each for a in one["arrivals"]), key=lambda a: a["time"])
    found = growth.follow(arrivals)
    found |= {"leaf_locked": 0.0, "stem_locked": 0.0, "weathered": 0.0}
    for one in each:
        rest = max(0.0, s["uptake.horizon"] - one.get("dry_at", 0.0))
        stays = np.exp(-s["uptake.residue_loss"] * rest)
        for site, locked in zip(("leaf", "stem"), one["locked"], strict=True):
            found[f"{site}_locked"] += stays * locked
            found["weathered"] += (1 - stays) * locked
        found["weathered"] += one["weathered"]
    for name in ("applied", "bench", "airborne"):
        found[name] = sum(one[name] for one in each)
    span = each[0].get("span")
    for name in ("wet_time", "last_drop_time", "stem_wet_time"):
        found[name] = getattr(span, name) if span else 0.0
        if again and np.isinf(found[name]):  # still wet when the water came
            found[name] = s["rewetting.delay"] + getattr(each[0]["rewet"], name)
    found["rewet_time"] = each[0]["rewet"].wet_time if again else 0.0
    return found
