"""The product jug: how a suspension settles while it stands, and what each pour then delivers."""

from __future__ import annotations

from collections.abc import Mapping
from numbers import Integral, Real
from types import MappingProxyType
from typing import Literal

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from wetspan import _core
from wetspan.amounts import CONCENTRATION, amount_in_si
from wetspan.cautions import CAUTIONS
from wetspan.errors import InputError, nearest
from wetspan.product import Product, find_product
from wetspan.unit_choice import METRIC, UnitChoice
from wetspan.unit_shown import convert, show
from wetspan.units import bounded, in_unit, value_in_si

#: Every input of the jug by its name, with its bounds, grade and source.
JUG_INPUTS: Mapping[str, _core.Parameter] = MappingProxyType(
    {row.name: row for row in _core.jug_parameters()}
)
#: How well a jug is shaken: the share of its contents that is lifted and spread evenly.
SHAKING: Mapping[str, float] = MappingProxyType({"unshaken": 0.0, "part-shaken": 0.5, "shaken": 1.0})
PART_SHAKEN = (
    "part-shaken: half of what the jug holds is lifted and spread evenly, the rest stays where it lies "
    "(assumption, grade D, for any half-hearted shake); shaken: all of it"
)
#: Pours that differ by less read as the same. Grade D.
_SAME_POURS = 0.05
#: Of the label, below which a pour holds nothing worth a number. Grade D.
_NOTHING = 0.005

_DAY = 86400.0
_CALIBRATED = (
    "Sinking speeds are calibrated (grade C) to what the trade sees - half of the active ingredient out of "
    "place within a week, half of the carrier over about two months - and not validated. Shake the jug, as "
    "the label says."
)
_UNIFORM = "A solution or microemulsion stays uniform."


def settle(
    product: str | Product, days: object = 60.0, *, every: object = 1.0, **inputs: object
) -> xr.Dataset:
    """Compute how a well-shaken, full jug of `product` settles while it stands.

    days, every
        How long it stands, and the interval of the results: text with its unit ("8 weeks"), or a bare number
        of days.
    inputs
        Inputs of the jug by name (`JUG_INPUTS`), such as temperature="30 degC" or active_diameter="0.8 um":
        text with a unit, or a bare number in SI.

    Returns
    -------
    Dataset over `day`, `component` (active ingredient, carrier) and `depth` below the surface:
    `concentration` [kg m-3], `relative_to_label` [1], and `afloat` [1], the share that is not yet out of
    place. The attributes give value, grade and source of each input and of the product's. A solution or
    microemulsion stays uniform.

    >>> ws.settle("paclobutrazol 0.4 % suspension concentrate", days=60)
    """
    chosen = find_product(product)
    if chosen.concentration is None:
        raise InputError(f"{chosen.name} is a powder: only liquids settle in a jug")
    values = {name: _value(name, given) for name, given in inputs.items()}
    stood = _days(days, every)
    told = _core.settle_jug(chosen.concentration, chosen.formulation, values, list(stood * _DAY))

    roles = {"active ingredient": told.active}
    if told.carrier is not None:
        roles["carrier"] = told.carrier
    concentration = np.stack(list(roles.values()), axis=1)
    edges = told.edge
    jug = xr.Dataset(
        {
            "concentration": (
                ("day", "component", "depth"),
                concentration,
                {"units": "kg m-3", "long_name": "mass of component per volume of product"},
            ),
            "relative_to_label": (
                ("day", "component", "depth"),
                concentration / concentration[0].mean(axis=-1)[:, None],
                {"units": "1", "long_name": "concentration over that of the well-shaken jug"},
            ),
            "afloat": (
                ("day", "component"),
                [[_core.suspensibility(layers) for layers in at_time] for at_time in concentration],
                {"units": "1", "long_name": "share not out of place: (10/9) (1 - share in the bottom tenth)"},
            ),
            "depth_bounds": (("depth", "bound"), np.stack([edges[:-1], edges[1:]], axis=1), {"units": "m"}),
        },
        coords={
            "day": ("day", stood, {"units": "day", "long_name": "time the jug has stood"}),
            "component": ("component", list(roles)),
            "depth": (
                "depth",
                0.5 * (edges[:-1] + edges[1:]),
                {
                    "units": "m",
                    "standard_name": "depth",
                    "long_name": "depth below the surface",
                    "positive": "down",
                    "axis": "Z",
                    "bounds": "depth_bounds",
                },
            ),
        },
        attrs=_attributes(chosen, values),
    )
    for name in ("concentration", "relative_to_label", "afloat"):
        jug[name].attrs["grade"] = "B" if chosen.formulation == "solution" else "C"
    return jug


def pours(
    jug: xr.Dataset,
    day: object,
    *,
    count: int = 10,
    draw: Literal["top", "bottom"] = "top",
    shaking: Mapping[str, float] = SHAKING,
) -> pd.DataFrame:
    """Return what each of `count` equal pours that empty the jug delivers, relative to the label.

    jug
        The result of `settle`; `day` is one of its days, as text with its unit or a bare number of days.
    draw
        "top" if the jug is decanted, "bottom" if a tap or dip tube draws from the bottom.
    shaking
        Cases by name, each with the share of the contents that shaking lifts and spreads evenly, 0 to 1.
        "part-shaken" stands for any incomplete shake (assumption, grade D). Pouring itself stirs a little, so
        "unshaken" is an extreme.

    Returns
    -------
    One row per pour and one column per case; 1 is the concentration of active ingredient on the label.
    `attrs["spread"]` has the standard deviation over the mean of each case.
    """
    if "concentration" not in getattr(jug, "data_vars", ()):
        raise InputError("pours needs the jug that settle(...) returned")
    if draw not in ("top", "bottom"):
        raise InputError(f"draw = {draw!r} is not 'top' or 'bottom'")
    equal, given, day = _pours(count), day, _in_days("day", day)
    reported = jug["day"].values
    at = np.flatnonzero(np.isclose(reported, day, rtol=0.0, atol=1e-6))
    if at.size == 0:
        raise InputError(
            f"day = {given!r} is not one the jug reports: {reported[0]:g} to {reported[-1]:g}; "
            "let it settle for longer or report it more often"
        )
    layers = jug["concentration"].sel(component="active ingredient").values[at[0]]
    told = {
        case: _core.jug_pours(layers, equal, draw == "bottom", _lifted(case, lifted))
        for case, lifted in shaking.items()
    }
    table = pd.DataFrame(told, index=pd.RangeIndex(1, len(equal) + 1, name="pour"))
    table.attrs = {
        "units": "1",
        "long_name": "active ingredient delivered relative to the label",
        "day": float(reported[at[0]]),
        "draw": draw,
        "spread": {case: float(_core.jug_spread(delivered)) for case, delivered in told.items()},
        "comment": jug.attrs.get("comment", ""),
    }
    return table


def about_pours(
    jug: xr.Dataset, poured: pd.DataFrame, target: object = "30 mg/L", units: UnitChoice = METRIC
) -> list[str]:
    """Return what the pours of a jug mean for a tank that is mixed to `target`, in sentences.

    `poured` is what `pours` returned of `jug`; its first column is the case that is told first. The
    temperature of the jug stands in the last sentence.
    """
    wanted = convert(amount_in_si("target", target, CONCENTRATION), "kg/m^3", "mg/L")
    first = str(poured.columns[0])
    lines = [f"{first.capitalize()}, {_about_a_case(poured[first].to_numpy())}."]
    number = min(3, len(poured))
    shares = {case: float(poured[case].iloc[number - 1]) for case in poured}
    really = [
        f"{units.text(wanted * share, 'mg/L', 2) if share >= _NOTHING else 'next to nothing'} {case}"
        for case, share in shares.items()
    ]
    lines.append(
        f"A tank mixed to {units.text(wanted, 'mg/L')} from the {_ordinal(number)} pour is really "
        f"{', '.join(really)}."
    )
    if jug.attrs["product_formulation"] != "solution":
        warm = str(jug.attrs["input_temperature"]).partition(";")[0]
        celsius = convert(value_in_si(JUG_INPUTS["temperature"], warm), "K", "degC")
        lines.append(f"It stood at {units.text(celsius, 'degC')}. {PART_SHAKEN[0].upper()}{PART_SHAKEN[1:]}.")
    return lines


def jug_document(product: str, jug: xr.Dataset, poured: pd.DataFrame) -> dict[str, object]:
    """Return a jug and its pours for programs."""
    return {
        "product": product,
        "days": [float(day) for day in jug["day"]],
        "afloat": {
            str(name): jug["afloat"].sel(component=name).values.tolist() for name in jug["component"].values
        },
        "pours": {str(case): poured[case].tolist() for case in poured},
        "spread": {str(case): float(spread) for case, spread in poured.attrs["spread"].items()},
        "about": {str(name): value for name, value in jug.attrs.items()},
        "cautions": CAUTIONS,
    }


def _about_a_case(delivered: npt.NDArray[np.float64]) -> str:
    """Return what equal pours deliver: all alike, or those on the poor side and the one on the rich."""
    low, high = float(delivered.min()), float(delivered.max())
    count = len(delivered)
    if high - low < _SAME_POURS or count == 1:
        return f"every pour gives {_label(low, high)}"
    poor = np.sort(delivered)[:-1] if count == 2 or high > 2.0 * np.sort(delivered)[-2] else None
    if poor is None:
        below = int((delivered < 1.0 - _SAME_POURS).sum())
        weak = _counted(below) if below else "none"
        return (
            f"the pours give {_label(low, high)}, {weak} of {_counted(count)} too little, the "
            f"{_ordinal(int(delivered.argmax()) + 1)} most"
        )
    rich = int(delivered.argmax()) + 1
    which = "last" if rich == count else _ordinal(rich)
    others = _label(float(poor.min()), float(poor.max()))
    return f"{_counted(count - 1)} of {_counted(count)} pours give {others}, the {which} {100.0 * high:.0f} %"


def _label(low: float, high: float) -> str:
    ends = dict.fromkeys(f"{100.0 * end:.0f}" for end in (low, high))
    return f"{' to '.join(ends)} % of the label"


_NUMBERS = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)


def _counted(number: int) -> str:
    return _NUMBERS[number] if number < len(_NUMBERS) else str(number)


def _ordinal(number: int) -> str:
    return {1: "first", 2: "second", 3: "third"}.get(number, f"{number}th")


def _row(name: str) -> _core.Parameter:
    if name in JUG_INPUTS:
        return JUG_INPUTS[name]
    hint = nearest(name, JUG_INPUTS) or f"known are {', '.join(JUG_INPUTS)}"
    raise InputError(f"unknown input '{name}'; {hint}")


def _value(name: str, given: object) -> float:
    row = _row(name)
    value = value_in_si(row, given)
    broken = row.kind == "count" and not value.is_integer()  # the core refuses it
    return value if broken else bounded(name, row, given)


def _days(days: object, every: object) -> npt.NDArray[np.float64]:
    length, step = _above_zero("days", days), _above_zero("every", every)
    if length / step > 10000.0:
        raise InputError(f"every = {every!r} would report {length / step:.3g} times; 10000 are allowed")
    return np.append(np.arange(0.0, length * (1 - 1e-12), step), length)


def _above_zero(name: str, days: object) -> float:
    value = _in_days(name, days)
    if not 0.0 < value <= 36500.0:
        raise InputError(f"{name} = {days!r} is not above 0 days and up to 36500")
    return value


def _in_days(name: str, given: object) -> float:
    if isinstance(given, Real) and not isinstance(given, bool):
        return float(given)
    return in_unit(name, given, "day", "give a number of days, or a time such as '8 weeks'")


def _pours(count: object) -> npt.NDArray[np.float64]:
    if isinstance(count, bool) or not isinstance(count, Integral) or not 1 <= int(count) <= 10000:
        raise InputError(f"count = {count!r} is not a whole number of pours, 1 to 10000")
    return np.full(int(count), 1.0 / int(count))


def _lifted(case: str, share: object) -> float:
    if isinstance(share, bool) or not isinstance(share, Real) or not 0.0 <= float(share) <= 1.0:
        raise InputError(f"shaking {case!r} = {share!r} is not a share from 0 (unshaken) to 1 (shaken)")
    return float(share)


def _attributes(product: Product, values: Mapping[str, float]) -> dict[str, str | float]:
    attributes: dict[str, str | float] = {
        "Conventions": "CF-1.11",
        "title": f"{product.name}, left standing",
        "source": f"wetspan {_core.__version__}: one-dimensional hindered settling of particle classes",
        "references": "Stokes 1851; Kynch 1952; Richardson and Zaki 1954; Beris et al. 1985",
        "comment": _UNIFORM if product.formulation == "solution" else _CALIBRATED,
        "product": product.name,
        "product_formulation": product.formulation,
        "product_concentration": float(product.concentration or 0.0),
    }
    for evidence in product.evidence:
        attributes[f"product_{evidence.name}_evidence"] = f"{evidence.grade}: {evidence.source}"
    for name, row in JUG_INPUTS.items():
        if product.formulation == "solution" and name not in ("height", "cells"):
            continue
        said = show(row, values.get(name, row.standard))
        evidence_of = f"{row.grade}: {row.source}" if name not in values else "the user's"
        attributes[f"input_{name}"] = f"{said}; {evidence_of}"
    return attributes
