"""Impact of a droplet on a leaf: it sticks, rebounds or shatters."""

from __future__ import annotations

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from wetspan import _core
from wetspan.drawing import Where, panels
from wetspan.errors import InputError
from wetspan.scenario import Scenario
from wetspan.spray.flights import fly
from wetspan.spray.inputs import Amount, about, air_when_sprayed, default, increasing, require_spray, variable

_OUTCOMES = ("sticks", "rebounds", "shatters")
_COLOURS = ("#5f9a76", "#f0dfae", "#8c4330")  # in grey apart by drawing.LEAST_STEP or more
_DIAMETERS = np.geomspace(30e-6, 1e-3, 241)
_SPEEDS = np.linspace(0.1, 20.0, 399)
_NUMBERS = {
    "retained_share": "share of the droplet's volume that stays on the leaf",
    "splash_parameter": "We^(1/2) Re^(1/4)",
    "excess_energy": "excess rebound energy over the droplet's surface energy",
    "maximum_spread": "greatest spread over the droplet's diameter",
}
_SPREAD_LAWS = {"mao": _core.SpreadLaw.mao, "pasandideh_fard": _core.SpreadLaw.pasandideh_fard}
_COMMENT = (
    "Formulas measured on drops of 1.5 to 3.5 mm on smooth plates: droplets on leaves are an extrapolation. "
    "Hairs, veins and leaves that give way are left out; the threshold of shattering is not known to better "
    "than a factor of 2."
)


def impact_map(
    scenario: Scenario | None = None,
    *,
    contact_angle: Amount | None = None,
    surface_tension: Amount | None = None,
    shatter_threshold: Amount | None = None,
    incidence: Amount | None = None,
    spread_law: str = "mao",
    diameters: object = None,
    speeds: object = None,
) -> xr.Dataset:
    """Return whether droplets stick to a leaf, rebound or shatter, over their diameter and speed.

    scenario
        Gives the leaf and the liquid, and the spray whose own droplets are shown on the map. Without it: leaf
        and liquid of the defaults, and no spray.
    contact_angle, surface_tension, shatter_threshold
        In place of the scenario's.
    incidence
        Angle between the path and the normal of the leaf; 0 by default.
    spread_law
        Law for the maximum spread, on which rebound depends: "mao" (Mao, Kuhn & Tran 1997), as in `simulate`,
        or "pasandideh_fard" (Pasandideh-Fard et al. 1996), which shows how much two published laws differ.
    diameters, speeds
        Axes, such as ["100 um", "200 um"] (bare: m, m/s).

    Returns
    -------
    Dataset over `speed` [m s-1] and `diameter` [um]: `outcome` (0 sticks, 1 rebounds, 2 shatters),
    retained_share, splash_parameter, excess_energy, maximum_spread [1], leaving_speed [m s-1]. With a
    scenario there are also arrival_diameter [um] and arrival_speed [m s-1] of its droplets, along `flown`.

    >>> plot_impact(ws.impact_map(contact_angle="130 deg", surface_tension="72 mN/m"))
    """
    given = {
        "leaf.contact_angle": contact_angle,
        "liquid.surface_tension": surface_tension,
        "retention.shatter_threshold": shatter_threshold,
    }
    base = Scenario() if scenario is None else scenario
    require_spray(base)
    leaf = base.replace({key: value for key, value in given.items() if value is not None})
    d = _DIAMETERS if diameters is None else increasing("droplet.diameter", diameters)
    v = _SPEEDS if speeds is None else increasing("droplet.speed", speeds)
    slant = default("droplet.incidence", incidence)
    air, start = air_when_sprayed(leaf, None, None)
    law = _SPREAD_LAWS.get(spread_law)
    if law is None:
        raise InputError(f"spread_law = {spread_law!r} is none of {', '.join(map(repr, _SPREAD_LAWS))}")
    told = _core.impact_map(leaf._held, air, start, d, v, slant, law)
    over = ("speed", "diameter")
    result = xr.Dataset(
        {
            "outcome": (
                over,
                told.outcome,
                {
                    "long_name": "what the droplet does",
                    "flag_values": np.arange(3, dtype=np.int32),
                    "flag_meanings": " ".join(_OUTCOMES),
                },
            ),
            "leaving_speed": (over, told.leaving_speed, variable("m s-1", "speed of what leaves")),
        }
        | {
            name: (over, getattr(told, name), variable("1", long_name))
            for name, long_name in _NUMBERS.items()
        },
        coords={
            "diameter": ("diameter", d * 1e6, variable("um", "droplet diameter")),
            "speed": ("speed", v, variable("m s-1", "speed of the droplet")),
        },
        attrs=about(leaf, _COMMENT)
        | {
            "wettability_of_the_angle": _core.wettability_class(leaf["leaf.contact_angle"]),
            "contact_angle_deg": float(np.degrees(leaf["leaf.contact_angle"])),
            "surface_tension_mN_m": 1e3 * leaf["liquid.surface_tension"],
            "incidence_deg": float(np.degrees(slant)),
            "spread_law": spread_law,
        },
    )
    if scenario is None:
        return result
    flown = fly(leaf)
    return result.assign(
        arrival_diameter=("flown", flown["diameter_at_crop"].values, flown["diameter_at_crop"].attrs),
        arrival_speed=("flown", flown["speed"].values, flown["speed"].attrs),
    )


def plot_impact(impacts: xr.Dataset, ax: Where = None) -> Figure:
    """Draw an impact map on a new figure or on the Axes `ax`; the spray's own droplets as they arrive."""
    if "outcome" not in getattr(impacts, "data_vars", ()):
        raise InputError("plot_impact needs what impact_map(...) returned")

    def own() -> list[Axes]:
        return [Figure(figsize=(7.0, 4.6), layout="constrained").subplots()]

    figure, (axes,) = panels(ax, ("impact map",), own, "plot_impact")
    axes.pcolormesh(
        impacts["diameter"].values,
        impacts["speed"].values,
        impacts["outcome"].values,
        cmap=ListedColormap(_COLOURS),
        norm=BoundaryNorm([-0.5, 0.5, 1.5, 2.5], 3),
        shading="nearest",
        rasterized=True,
    )
    handles: list[object] = [
        Patch(color=colour, label=label) for colour, label in zip(_COLOURS, _OUTCOMES, strict=True)
    ]
    if "arrival_speed" in impacts:
        handles += axes.plot(
            impacts["arrival_diameter"].values,
            impacts["arrival_speed"].values,
            color="#22333b",
            marker="o",
            markersize=3,
            linewidth=1,
            label="this spray's droplets",
        )
    axes.set_xscale("log")
    axes.set_xlim(*impacts["diameter"].values[[0, -1]])
    axes.set_ylim(*impacts["speed"].values[[0, -1]])
    ticks = [t for t in (30, 50, 100, 200, 300, 500, 1000) if _inside(t, impacts["diameter"].values)]
    axes.set_xticks(ticks, [str(t) for t in ticks], minor=False)
    axes.minorticks_off()
    axes.set_xlabel("droplet diameter [µm]")
    axes.set_ylabel("speed on the leaf [m/s]")
    axes.set_title(
        f"Contact angle {impacts.attrs['contact_angle_deg']:.3g}°, "
        f"surface tension {impacts.attrs['surface_tension_mN_m']:.3g} mN/m",
        loc="left",
    )
    if ax is None:
        figure.legend(handles=handles, loc="outside lower center", ncols=4, frameon=False, fontsize="small")
    else:
        axes.legend(handles=handles, loc="best", fontsize="small")
    return figure


def _inside(value: float, axis: np.ndarray[tuple[int], np.dtype[np.float64]]) -> bool:
    return bool(axis[0] <= value <= axis[-1])
