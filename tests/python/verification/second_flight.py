"""One droplet from nozzle to crop, written a second time from flight.hpp and docs/science/in_full.md.

Position, velocity, squared diameter and temperature, by SciPy's implicit Radau: no droplet is small enough to
need the library's steady slip.
"""

from __future__ import annotations

import numpy as np
import second_air as air
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

CALM_SPREAD = 0.2  # half-width of the jet over distance
LONGEST = 600.0


def drag_factor(reynolds):
    """Drag over Stokes drag, Turton and Levenspiel 1986."""
    r = max(reynolds, 1e-300)
    return 1 + 0.173 * r**0.657 + r / 24 * 0.413 / (1 + 16300 * r**-1.09)


class Flight:
    """Droplets of one release in unchanging air; `speed` and `jet_length` are the nozzle's."""

    def __init__(self, s, now, speed, jet_length):
        self.s, self.jet_length = dict(s), jet_length
        self.ta, self.P = now["temperature"], now["pressure"]
        self.e = min(now["vapour_pressure"], air.saturation_pressure(self.ta))
        self.draught = min(now["speed"], 5.0)
        self.speed = speed
        self.drop = self.steady_temperature()
        film = self.film = 0.5 * (self.ta + self.drop)
        share = self.e / self.P
        self.mu, self.k = air.viscosity(film), air.conductivity(film)
        self.rho = air.density(film, share, self.P)
        self.c_air = air.specific_heat(share)
        self.D = air.diffusivity(film, self.P, self.s["air.diffusivity"])
        self.rho_w = float(air.water_density(self.drop))
        self.c_w = float(air.water_specific_heat(self.drop))
        self.lam = float(air.latent_heat(self.drop))
        self.prandtl = self.mu * self.c_air / self.k
        self.schmidt = self.mu / (self.rho * self.D)

    def drive(self, film, diffusivity, temperature):
        """Vapour that a droplet gives off over its diameter and half its Sherwood number [kg/m/s over pi]."""
        escaping = np.log((self.P - self.e) / (self.P - air.saturation_pressure(temperature)))
        return diffusivity * air.M_WATER * self.P / (air.R * film) * escaping

    def steady_temperature(self):
        """Heat conducted in is the heat of the vapour that diffuses out."""

        def missing(t):
            film = 0.5 * (t + self.ta)
            diffusivity = air.diffusivity(film, self.P, self.s["air.diffusivity"])
            lost = air.latent_heat(t) * self.drive(film, diffusivity, t)
            return air.conductivity(film) * (self.ta - t) - lost

        return brentq(missing, self.ta - 40, self.ta + 1e-9, xtol=1e-11) if self.ta > 274 else self.ta

    def wind(self, x, z):
        """Draught and jet at a place."""
        angle, height = self.s["application.angle"], self.s["nozzle.height"]
        down = height - z
        along = x * np.sin(angle) + down * np.cos(angle)
        across = x * np.cos(angle) - down * np.sin(angle)
        if along < 0 or self.jet_length <= 0:
            return self.draught, 0.0
        b = CALM_SPREAD * (self.jet_length + along)
        jet = self.speed * self.jet_length / (self.jet_length + along)
        jet *= np.exp(-((across / b) ** 2)) * np.tanh(max(z, 0.0) / b)
        return self.draught + jet * np.sin(angle), -jet * np.cos(angle)

    def rates(self, _, y):
        x, z, vx, vz, d2, t = y
        d = np.sqrt(max(d2, 1e-18))
        ux, uz = self.wind(x, z)
        slip = np.hypot(vx - ux, vz - uz)
        reynolds = self.rho * slip * d / self.mu
        drag = 18 * self.mu / (self.rho_w * d**2) * drag_factor(reynolds)
        weight = -air.GRAVITY * (1 - self.rho / self.rho_w)
        sherwood = 2 + 0.6 * np.sqrt(reynolds) * np.cbrt(self.schmidt)
        nusselt = 2 + 0.6 * np.sqrt(reynolds) * np.cbrt(self.prandtl)
        shrinks = -4 * sherwood / self.rho_w * self.drive(self.film, self.D, t) if self.wet else 0.0
        warms = 6 * nusselt * self.k * (self.ta - t) / (self.rho_w * self.c_w * d**2)
        warms += 1.5 * self.lam / (self.c_w * d**2) * shrinks
        return [vx, vz, -drag * (vx - ux), weight - drag * (vz - uz), shrinks, warms]

    def fly(self, diameter):
        """What becomes of a droplet: ends, shares, and its state where it reaches the crop."""
        angle, height = self.s["application.angle"], self.s["nozzle.height"]
        width = self.s["canopy.bench_width"]
        core = self.s["liquid.humectant"] ** (2 / 3) * diameter**2

        def lands(_, y):
            return y[1]

        def misses(_, y):
            beside = y[0] - (height - y[1]) * np.tan(angle)
            return width - abs(beside)

        def dries(_, y):
            return y[4] - max(core, (1e-4 * diameter) ** 2)

        for event in (lands, misses, dries):
            event.terminal, event.direction = True, -1.0
        y = [0.0, height, self.speed * np.sin(angle), -self.speed * np.cos(angle), diameter**2, self.ta]
        scale = np.array([1.0, 1.0, 1.0, 1.0, diameter**2, 1.0])
        time, self.wet, events = 0.0, True, (lands, misses, dries)
        while True:
            solved = solve_ivp(
                self.rates, (time, LONGEST), y, method="Radau", rtol=1e-8, atol=1e-9 * scale, events=events
            )
            assert solved.success, solved.message
            y, time = solved.y[:, -1], solved.t[-1]
            met = [bool(len(each)) for each in solved.t_events]
            if not met[-1] or not self.wet:
                break
            if core == 0:
                y[4] = 0.0
                break
            self.wet, events = False, (lands, misses)  # it goes on as a grain
            y[5] = self.ta
        end = ["reached crop", "left target", "evaporated"][met.index(True)] if any(met) else "still aloft"
        offset = y[0] - (height - y[1]) * np.tan(angle)
        evaporated = 1 - (y[4] / diameter**2) ** 1.5
        beside = 1.0 if end == "still aloft" else min(1.0, abs(offset) / width)
        return {
            "end": end,
            "evaporated": evaporated,
            "airborne": beside * (1 - evaporated),
            "time": time,
            "diameter": np.sqrt(y[4]),
            "temperature": y[5],
            "speed": np.hypot(y[2], y[3]),
            "angle": np.arctan2(y[2], -y[3]),
            "offset": offset,
            "heat": self.rho_w * (self.lam * evaporated - self.c_w * (self.ta - y[5])),
        }
