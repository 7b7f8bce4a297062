"""Nozzles: volume per area from pressure, size, pace and swath, and the inverse."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

import xarray as xr

from wetspan import _core
from wetspan.cautions import CAUTIONS
from wetspan.errors import InputError, described, nearest
from wetspan.spray.inputs import Amount, Numbers, default, increasing, si, variable, whole
from wetspan.unit_shown import convert

#: Flow over a size's nominal flow from which a nozzle counts as worn. Common practice, no source.
WORN = 1.10
#: Density of the liquid at the nozzle: water at 20 degC.
_DENSITY = float(_core.water.density(293.15))
_SIZES = {size.name: size for size in _core.nozzle_sizes()}
_NEEDS = {
    "wand": ("swath", "pace"),
    "boom": ("spacing", "pace"),
    "overhead": ("spacing", "line_spacing", "time"),
}


@dataclass(frozen=True)
class Nozzle:
    """One nozzle at work, in SI; `text` says it in everyday units. What was not asked for is None.

    size, colour
        Of ISO 10625; None if only a measured flow was given.
    pressure, flow, rated_flow
        Pressure [Pa], flow at it, and at 3 bar [m3/s].
    over_size
        Flow over that of the size at this pressure [1]: above 1 when worn.
    exit_speed
        Of the liquid at the orifice [m/s].
    height, fan_angle, fan_width
        Above the crop [m], opening [rad], and the width a fan covers there [m].
    by, nozzles
        "wand", "boom" or "overhead", and how many such nozzles it has.
    swath
        Width one nozzle sprays [m]: of a wand all that one walk covers; of a boom and overhead the spacing.
    pace, time
        Of the walk or boom [m/s]; how long overhead nozzles are on [s].
    volume_rate
        Volume per area of bench [m, that is m3/m2].
    area_rate
        Area sprayed per time by all nozzles, wand or boom [m2/s].
    """

    size: str | None
    colour: str | None
    pressure: float
    flow: float
    rated_flow: float
    over_size: float | None
    exit_speed: float
    height: float
    fan_angle: float
    fan_width: float
    by: str
    nozzles: int
    swath: float | None
    line_spacing: float | None
    pace: float | None
    time: float | None
    volume_rate: float | None
    area_rate: float | None

    @property
    def inputs(self) -> dict[str, float]:
        """What a scenario should say of this nozzle, for `scenario.replace`."""
        told = {
            "nozzle.flow": self.rated_flow,
            "nozzle.pressure": self.pressure,
            "nozzle.height": self.height,
            "nozzle.fan_angle": self.fan_angle,
        }
        return told if self.volume_rate is None else told | {"application.volume_rate": self.volume_rate}

    @property
    def text(self) -> str:
        """The nozzle in plain lines, with the usual cautions."""
        return "\n".join([*_lines(self), "", CAUTIONS])

    def __str__(self) -> str:
        return self.text


def nozzle(
    size: str | None = None,
    pressure: Amount | None = None,
    *,
    measured_flow: Amount | None = None,
    by: Literal["wand", "boom", "overhead"] = "wand",
    nozzles: int = 1,
    swath: Amount | None = None,
    spacing: Amount | None = None,
    line_spacing: Amount | None = None,
    pace: Amount | None = None,
    time: Amount | None = None,
    volume_rate: Amount | None = None,
    height: Amount | None = None,
    fan_angle: Amount | None = None,
    velocity_coefficient: Amount | None = None,
) -> Nozzle:
    """Return the flow of a nozzle at a pressure, and the volume per area that it applies or the pace for this
    volume.

    size, measured_flow
        ISO 10625 size such as "02", or the flow that was caught from one nozzle at `pressure`, such as "0.75
        L/min". If both are given, they are compared.
    by
        "wand": carried along the bench at `pace`, swept over `swath`. "boom": nozzles `spacing` apart, moving
        at `pace`. "overhead": fixed nozzles, `spacing` apart on lines `line_spacing` apart, on for `time`.
        Give either `volume_rate` or `pace` (or `time`).
    height, fan_angle, velocity_coefficient
        As in a scenario.

    A text has its unit, a bare number is in SI.

    >>> ws.nozzle("02", "3 bar", swath="1.2 m", pace="0.5 m/s").text
    >>> ws.nozzle("02", "3 bar", swath="1.2 m", volume_rate="2 qt / (100 ft^2)").pace
    """
    if by not in _NEEDS:
        raise InputError(f"by = {by!r} is not {', '.join(map(repr, _NEEDS))}")
    at = default("nozzle.pressure", pressure)
    rated, nominal = _rated(size, measured_flow, at)
    flow = float(_core.nozzle_flow(rated, at))
    count = whole("nozzles", nozzles, 1, 10_000)
    above, fan = default("nozzle.height", height), default("nozzle.fan_angle", fan_angle)

    layout = {"swath": swath, "spacing": spacing, "line_spacing": line_spacing, "pace": pace, "time": time}
    said, rate = _layout(by, layout, volume_rate)
    needed = _NEEDS[by]
    area_rate = None
    if said:
        width = said[needed[0]]
        if by == "overhead":
            area = width * said["line_spacing"]
            if rate is None:
                rate = flow * said["time"] / area
            else:
                said["time"] = rate * area / flow
        else:
            together = flow * count if by == "wand" else flow
            if rate is None:
                rate = _core.volume_rate(together, said["pace"], width)
            else:
                said["pace"] = _core.pace_for(together, rate, width)
            area_rate = said["pace"] * width * (count if by == "boom" else 1)
    return Nozzle(
        size=size,
        colour=None if size is None else _SIZES[size].colour,
        pressure=at,
        flow=flow,
        rated_flow=rated,
        over_size=None if nominal is None else rated / nominal,
        exit_speed=float(
            _core.exit_speed(at, _DENSITY, default("nozzle.velocity_coefficient", velocity_coefficient))
        ),
        height=above,
        fan_angle=fan,
        fan_width=_core.fan_width(above, fan),
        by=by,
        nozzles=count,
        swath=said.get(needed[0]),
        line_spacing=said.get("line_spacing"),
        pace=said.get("pace"),
        time=said.get("time"),
        volume_rate=rate,
        area_rate=area_rate,
    )


def _layout(
    by: str, layout: Mapping[str, Amount | None], volume_rate: Amount | None
) -> tuple[dict[str, float], float | None]:
    """Return what a way of spraying is told of its layout, and the volume rate if that is given.

    Either both are empty, or the layout is complete but for what follows from the volume rate.
    """
    needed = _NEEDS[by]
    for name, given in layout.items():
        if given is not None and name not in needed:
            raise InputError(f"{name} is not for by={by!r}, which takes {', '.join(needed)} and volume_rate")
    said = {name: si(f"nozzle.{name}", given) for name, given in layout.items() if given is not None}
    rate = None if volume_rate is None else si("application.volume_rate", volume_rate)
    if said or rate is not None:
        missing = [name for name in needed[:-1] if name not in said]
        if missing:
            raise InputError(f"by={by!r} needs {' and '.join(missing)} too")
        moving = needed[-1]
        if (moving in said) == (rate is not None):
            raise InputError(f"give {moving} or volume_rate, one of the two: the other follows from it")
    return said, rate


def nozzle_chart(
    pressures: Iterable[Amount] | Amount = ("1 bar", "1.5 bar", "2 bar", "3 bar", "4 bar", "5 bar"),
    sizes: Iterable[str] | None = None,
) -> xr.Dataset:
    """Return flow against pressure of the nozzle sizes of ISO 10625, and the exit speed of the liquid.

    The standard allows a nozzle to differ by 5 % from its size; a worn nozzle gives more.

    >>> ws.nozzle_chart(["2 bar", "3 bar"]).flow.to_pandas()
    """
    at = increasing("nozzle.pressure", pressures)
    names = list(_SIZES) if sizes is None else [_known(size) for size in sizes]
    rated: list[list[float]] = [[_SIZES[name].flow] for name in names]
    flow: Numbers = _core.nozzle_flow(rated, at)
    speed: Numbers = _core.exit_speed(at, _DENSITY, default("nozzle.velocity_coefficient", None))
    return xr.Dataset(
        {
            "flow": (
                ("size", "pressure"),
                flow * convert(1.0, "m^3/s", "L/min"),
                variable("L min-1", "flow of one nozzle"),
            ),
            "exit_speed": ("pressure", speed, variable("m s-1", "speed of the liquid at the orifice")),
        },
        coords={
            "size": ("size", names, {"long_name": "nozzle size of ISO 10625"}),
            "colour": (
                "size",
                [_SIZES[name].colour for name in names],
                {"long_name": "colour of the nozzle"},
            ),
            "pressure": ("pressure", at * 1e-5, variable("bar", "pressure at the nozzle")),
        },
        attrs={
            "Conventions": "CF-1.11",
            "title": "Flow of nozzles against pressure",
            "source": f"wetspan {_core.__version__}: nominal flows at 3 bar, flow with the root of pressure",
            "references": "ISO 10625",
            "comment": "Nominal flows of water, from memory; the standard lets nozzles differ by 5 %.",
        },
    )


def _known(size: object) -> str:
    if isinstance(size, str) and size in _SIZES:
        return size
    hint = nearest(size, _SIZES) if isinstance(size, str) else "a size is text, such as '02'"
    raise InputError(
        f"size = {described(size)} is no nozzle size; known are {', '.join(_SIZES)}; {hint}".rstrip("; ")
    )


def _rated(size: str | None, measured: Amount | None, pressure: float) -> tuple[float, float | None]:
    """Return the flow at 3 bar, and the size's."""
    if size is None and measured is None:
        raise InputError("give the nozzle's size, such as '02', or measured_flow, what one was seen to give")
    nominal = None if size is None else _SIZES[_known(size)].flow
    if measured is None:
        assert nominal is not None
        return nominal, nominal
    caught = si("nozzle.measured_flow", measured)
    return float(_core.nozzle_flow(caught, 3e5, pressure)), nominal


def _lines(told: Nozzle) -> list[str]:
    name = "Nozzle" if told.size is None else f"Nozzle {told.size} ({told.colour})"
    lines = [
        f"{name} at {told.pressure * 1e-5:.3g} bar ({convert(told.pressure, 'Pa', 'psi'):.3g} psi): "
        f"{told.flow * 6e4:.3g} L/min, leaves at {told.exit_speed:.3g} m/s",
        f"From {100 * told.height:.3g} cm above the crop a fan of "
        f"{convert(told.fan_angle, 'rad', 'deg'):.3g} degrees is {100 * told.fan_width:.3g} cm wide",
    ]
    if told.over_size is not None and told.over_size != 1.0:
        lines.append(f"It gives {told.over_size:.0%} of its size's nominal flow")
        if told.over_size > WORN:
            lines[-1] += f": worn; nozzles are commonly replaced at {WORN:.0%} (common practice, no source)"
    if told.volume_rate is None or told.swath is None:
        return lines
    rate = (
        f"{1e3 * told.volume_rate:.3g} L/m2 ({100 * convert(told.volume_rate, 'm', 'qt/ft^2'):.3g} US qt "
        "per 100 ft2)"
    )
    if told.by == "overhead" and told.time is not None and told.line_spacing is not None:
        grid = f"every {told.swath:.3g} m on lines {told.line_spacing:.3g} m apart"
        return [*lines, f"Overhead, {grid}, on for {told.time:.3g} s: {rate}"]
    assert told.pace is not None
    assert told.area_rate is not None
    pace = f"{told.pace:.3g} m/s ({convert(told.pace, 'm/s', 'ft/min'):.3g} ft/min)"
    if told.by == "wand":
        several = "" if told.nozzles == 1 else f" of {told.nozzles} nozzles"
        lines.append(f"Wand{several}, walked at {pace} over a swath of {told.swath:.3g} m: {rate}")
    else:
        over = told.fan_width / told.swath
        lines.append(f"Boom, nozzles {100 * told.swath:.3g} cm apart, at {pace}: {rate}")
        lines.append(
            f"Every place is under {over:.2g} fans"
            if over >= 1.0
            else f"The fans do not meet: {1 - over:.0%} of the width stays unsprayed"
        )
    lines.append(
        f"100 m2 take {100 / told.area_rate / 60:.3g} min and {1e5 * told.volume_rate:.3g} L"
        + (f" with {told.nozzles} nozzles" if told.nozzles > 1 else "")
    )
    return lines
