"""The model with which a weighed leaf is compared: one level leaf alone, in the air that was recorded.

The mass of leaf i at time t is

    m(t) = M_i + b_i t + A_i rho d_i w(t; d_i, theta)

with its own mass M_i, its own drift b_i (transpiration), its one-sided area A_i, the depth d_i of liquid on
it at the first weighing after the spray, and the share w of this liquid that is left. `_core.drying_leaf`,
the library's own wet leaf, computes w. theta are

    G         ln of the factor on the forced transfer of the boundary layer, relative to leaf.turbulence
    receding  ln of leaf.receding_angle
    contact   ln of leaf.contact_angle
    dv50      ln of droplets.dv50
    humidity  error of the hygrometer, positive if it reads too little [1]

Forced transfer is proportional to the turbulence factor and to the square root of the air speed. So a factor
e^G on it is exactly equivalent to an air speed that is e^(2 G) times as high, and is computed in this way for
any G.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from wetspan import _core
from wetspan._core import air as moist
from wetspan._core import water
from wetspan.parameters import TABLE
from wetspan.scenario import Scenario

Array = NDArray[np.float64]

#: What the fit shares among the leaves of a kind, in their order.
SHARED = ("boundary", "receding", "contact", "dv50", "humidity")
_KEYS = {"receding": "leaf.receding_angle", "contact": "leaf.contact_angle", "dv50": "droplets.dv50"}
#: One leaf in the open: no neighbours, level, in full view of all light and of the whole sky.
_ALONE = {
    "canopy.layers": 1,
    "canopy.plant_density": 1.0,
    "canopy.leaf_area": 1e-3,
    "canopy.crown_cover": 1.0,
    "canopy.extinction": 1.0,
    "canopy.clumping": 1.0,
    "canopy.stem_area": 0.0,
    "canopy.wind_attenuation": 0.0,
    "canopy.pot_diameter": 0.01,
    "house.enclosed": 0.0,
    "liquid.humectant": 0.0,
    "droplets.bins": 8,
    "numerics.tolerance": 1e-4,
}
_LONGEST = 4.0  # times the weighings' own length: how long the model is followed
_FASTEST = TABLE["air.speed"].high


@dataclass(frozen=True)
class Weighings:
    """One leaf on the balance, in SI; times from its first weighing after the spray.

    `air` holds the columns temperature [K], humidity [1], speed [m/s], light [W/m2] at `air_time`.
    """

    name: str
    kind: str
    area: float
    width: float
    time: Array
    mass: Array
    wet: NDArray[np.bool_]
    air_time: Array
    air: dict[str, Array]

    @property
    def own_mass(self) -> float:
        """Mean mass while dry [kg]."""
        return float(self.mass[~self.wet].mean())

    @property
    def depth(self) -> float:
        """Liquid per one-sided area at the first weighing after the spray [m]."""
        first = float(self.mass[self.wet][0])
        return (first - self.own_mass) / (self.area * density(self))


class Course(NamedTuple):
    """How a leaf dries: share of its liquid that is left at some times, and its wet time [s]."""

    left: Array
    wet_time: float


def density(leaf: Weighings) -> float:
    """Density of water at the air's temperature at the first weighing [kg/m3]."""
    return water_density(leaf.air["temperature"][0])


def water_density(temperature: float) -> float:
    """Density of water at a temperature [K], within the range of the liquids that the library computes."""
    return float(water.density(np.clip(temperature, 273.16, 323.15)))


class LeafModel:
    """The drying of one leaf as a function of what the leaves share and of its own depth of liquid."""

    def __init__(self, scenario: Scenario, leaf: Weighings) -> None:
        self.leaf = leaf
        longest = max(600.0, _LONGEST * float(leaf.time[-1]))
        alone = _ALONE | {"leaf.width": leaf.width, "numerics.longest": longest}
        if leaf.kind == "paper":
            alone["leaf.stomatal_conductance"] = 0.0
        self.scenario = scenario.in_si(alone)
        self._places = {name: list(TABLE).index(key) for name, key in _KEYS.items()}
        self._time = np.concatenate([leaf.air_time, [max(leaf.air_time[-1], longest) + 60.0]])
        self._columns = {name: np.append(values, values[-1]) for name, values in leaf.air.items()}
        self.start = np.array([0.0, *(np.log(self.scenario[key]) for key in _KEYS.values()), 0.0])

    def air(self, boundary: float, humidity: float) -> _core.CropAir:
        """The recorded air, with the factor e^boundary on forced transfer and a corrected hygrometer."""
        temperature, scenario = self._columns["temperature"], self.scenario
        moisture = np.clip(self._columns["humidity"] + humidity, 0.01, 1.0)
        pressure = np.full_like(temperature, scenario["air.pressure"])
        columns = {
            "temperature": temperature,
            "vapour_pressure": moisture * moist.saturation_pressure(temperature),
            "pressure": pressure,
            "speed": np.minimum(_FASTEST, self._columns["speed"] * np.exp(2.0 * boundary)),
            "shortwave": self._columns["light"],
            "radiant_temperature": temperature + scenario["air.surroundings_offset"],
            "air_changes": np.zeros_like(temperature),
        }
        return _core.CropAir(self._time, columns)

    def course(self, shared: Array, depth: float, at: Array) -> Course:
        """How the leaf dries from `depth` [m] at its first weighing, at times from then [s]."""
        values = dict(zip(SHARED, shared, strict=True))
        values["receding"] = min(values["receding"], values["contact"])  # the most an edge can do
        core = self.scenario._core.copy()
        for name, place in self._places.items():
            row = TABLE[_KEYS[name]]
            core.set(place, float(np.clip(np.exp(values[name]), row.low, row.high)))
        told = _core.drying_leaf(core, self.air(values["boundary"], values["humidity"]), 0.0, float(depth))
        time, left = told["time"], told["water"]
        end = float(left[-1]) if not np.isfinite(told["wet_time"]) else 0.0
        return Course(np.interp(at, time, left, right=end), float(told["wet_time"]))
