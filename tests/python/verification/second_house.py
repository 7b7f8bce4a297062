"""Weather through a house to the air at the crop, written a second time from docs/science/house.md and
in_full.md: temperature and vapour of one mixed volume of air, by SciPy's solve_ivp.
"""

from __future__ import annotations

import numpy as np
import second_air as air
from scipy.integrate import solve_ivp

ROWS = 300.0  # [s] between two rows of the record at the crop
FOG = 60.0  # [s] in which vapour above saturation condenses
HEATING_BAND = 2.0  # [K]


def in_open(s, outside):
    """Air at a crop without a house."""
    return {
        "temperature": outside["temperature"],
        "vapour_pressure": outside["vapour_pressure"],
        "pressure": outside["pressure"],
        "speed": outside["wind_speed"] * 4.87 / np.log(67.8 * 10 - 5.42),
        "shortwave": outside["shortwave"],
        "radiant_temperature": outside["temperature"] + s["air.surroundings_offset"],
        "air_changes": 0.0 * outside["temperature"],
    }


class House:
    """A house in weather, columns over time."""

    def __init__(self, s, time, outside):
        self.s, self.time, self.outside = dict(s), time, outside
        s = self.s
        self.leaves = s["canopy.plant_density"] * s["canopy.leaf_area"]
        optical = s["canopy.extinction"] * s["canopy.clumping"] * self.leaves / s["canopy.crown_cover"]
        self.intercepts = s["canopy.crown_cover"] * -np.expm1(-optical)

    def outdoors(self, t):
        return {name: np.interp(t, self.time, column) for name, column in self.outside.items()}

    def inside(self, t, temperature, vapour):
        """The air at the crop, as the record tells it."""
        s, out = self.s, self.outdoors(t)
        opening = np.clip((temperature - s["house.vent_temperature"]) / s["house.vent_band"], 0, 1)
        return {
            "temperature": temperature,
            "vapour_pressure": np.maximum(0, vapour * air.R_WATER * temperature),
            "pressure": out["pressure"],
            "speed": s["air.speed"] + 0 * temperature,
            "shortwave": s["house.transmittance"] * out["shortwave"],
            "radiant_temperature": temperature
            - s["house.cover_coupling"] * (temperature - out["temperature"]),
            "air_changes": s["house.air_changes"] + opening * s["house.vent_air_changes"],
        }

    def transpiration(self, now, absorbed):
        """Of leaves [kg per leaf area and s], by the heat balance that is linear in their temperature."""
        s, t, P = self.s, now["temperature"], now["pressure"]  # noqa: N806
        share = now["vapour_pressure"] / P
        mu, k, rho = air.viscosity(t), air.conductivity(t), air.density(t, share, P)
        prandtl = mu * air.specific_heat(share) / k
        length = 0.72 * s["leaf.width"]
        reynolds = max(now["speed"], 0.002) * length * rho / mu
        nusselt = 0.664 * s["leaf.turbulence"] * np.sqrt(reynolds) * np.cbrt(prandtl)
        D = air.diffusivity(t, P, s["air.diffusivity"])  # noqa: N806
        heat = nusselt * k / length
        boundary = nusselt * np.cbrt(mu / (rho * D) / prandtl) * D / length
        stomata = s["leaf.stomatal_conductance"] * absorbed / (absorbed + s["leaf.stomatal_half_light"])
        through = stomata * boundary / (stomata + boundary) if stomata > 0 else 0.0
        pressure = air.saturation_over_ice_or_water(t)
        saturated = air.vapour_density(pressure, t)
        slope = (air.saturation_slope(t) / air.R_WATER - saturated) / t
        deficit = saturated - air.vapour_density(now["vapour_pressure"], t)
        latent = air.latent_heat(t)
        warmer = (absorbed - latent * through * deficit) / (2 * heat + latent * through * slope)
        return max(0.0, through * (deficit + slope * warmer))

    def rates(self, t, y):
        s, (temperature, vapour) = self.s, y
        now, out = self.inside(t, temperature, vapour), self.outdoors(t)
        absorbed = now["shortwave"] * s["leaf.absorptance"] * self.intercepts / self.leaves
        crop = s["house.crop_share"] * self.leaves
        evaporates = crop * self.transpiration(now, absorbed)
        share = now["vapour_pressure"] / now["pressure"]
        carries = air.density(temperature, share, now["pressure"]) * air.specific_heat(share)
        lacks = np.clip((s["house.heating_temperature"] - temperature) / HEATING_BAND, 0, 1)
        gains = s["house.solar_to_air"] * (now["shortwave"] - crop * absorbed) + crop * absorbed
        gains += s["house.heating_power"] * lacks - air.latent_heat(temperature) * evaporates
        loses = s["house.heat_loss"] + now["air_changes"] * s["house.height"] * carries
        saturated, on_cover = (
            air.vapour_density(air.saturation_over_ice_or_water(each), each)
            for each in (temperature, now["radiant_temperature"])
        )
        condenses = s["house.cover_conductance"] * max(0.0, vapour - on_cover)
        condenses += s["house.height"] / FOG * max(0.0, vapour - saturated)
        outdoors = air.vapour_density(out["vapour_pressure"], out["temperature"])
        return [
            (gains - loses * (temperature - out["temperature"])) / s["house.heat_capacity"],
            (evaporates - condenses) / s["house.height"] - now["air_changes"] * (vapour - outdoors),
        ]

    def follow(self):
        """Times and columns of the record at the crop."""
        first = self.outdoors(self.time[0])
        y = [
            max(first["temperature"], self.s["house.heating_temperature"]),
            air.vapour_density(first["vapour_pressure"], first["temperature"]),
        ]
        rows = np.unique(np.append(np.arange(self.time[0], self.time[-1], ROWS), self.time[-1]))
        solved = solve_ivp(
            self.rates,
            (rows[0], rows[-1]),
            y,
            method="LSODA",
            rtol=1e-8,
            atol=[1e-6, 1e-10],
            max_step=ROWS,
            t_eval=rows,
        )
        assert solved.success, solved.message
        return rows, self.inside(rows, *solved.y)
