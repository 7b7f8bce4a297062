"""Amounts of the trade: volumes, masses, areas, rates and strengths, as text or pint quantities, in SI."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

from wetspan.errors import InputError, echo
from wetspan.unit_registry import registry
from wetspan.units import quantity, refuse_angles

if TYPE_CHECKING:
    import pint

#: Text with a unit, or a pint quantity. A bare number is refused: nobody measures a tank in SI.
Amount: TypeAlias = "str | pint.Quantity[Any]"


class Kind(NamedTuple):
    """What an amount may be: its SI unit, and how people write it."""

    si: str
    example: str
    per_pot: bool = False  # may be said "per pot"


VOLUME = Kind("m^3", "'2.5 gal' or '10 L'")
SMALL_VOLUME = Kind("m^3", "'4 fl oz' or '118 mL'")
MASS = Kind("kg", "'4.5 g' or '1 oz'")
POT_VOLUME = Kind("m^3", "'4 fl oz' or '118 mL' per pot", per_pot=True)
DOSE = Kind("kg", "'0.118 mg' per pot", per_pot=True)
AREA = Kind("m^2", "'500 ft^2' or '50 m^2'")
VOLUME_RATE = Kind("m", "'2 qt / (100 ft^2)' or '0.2 L/m^2'")
CONCENTRATION = Kind("kg/m^3", "'30 mg/L' or '30 ppm'")
STRENGTH = Kind("kg/m^3", "'4 g/L'")
DENSITY = Kind("kg/m^3", "'1.0 kg/L'")
SHARE = Kind("dimensionless", "'0.4 %' by mass")


def read_amount(name: str, given: object, *kinds: Kind) -> tuple[float, Kind]:
    """Return `given` in the SI unit of whichever of `kinds` it is; it must be finite and above zero."""
    allowed = f"give {', or '.join(kind.example for kind in kinds)}"
    amount, written = quantity(name, given, allowed)
    refuse_angles(name, str(amount.units), "dimensionless", echo(given))
    if written is not None and not written.unit:
        raise InputError(f"{name} = {echo(given)} has no unit; {allowed}")
    if str(amount.units) == "ppm":
        if SHARE in kinds:
            raise InputError(f"{name} = {echo(given)} may be mg/L or parts by mass; {allowed}")
        if CONCENTRATION in kinds:
            amount = registry().Quantity(amount.magnitude, "mg/L")
    kind = next((kind for kind in kinds if amount.is_compatible_with(kind.si)), None)
    if kind is None:
        hint = "; oz alone is a mass, liquid measure is fl oz" if "ounce" in str(amount.units).split() else ""
        raise InputError(f"{name} = {echo(given)} has the wrong dimension ({amount.units}){hint}; {allowed}")
    if written is not None and (written.of or (written.per and not kind.per_pot)):
        counted = (written.of + written.per)[0]
        raise InputError(f"{name} = {echo(given)}: it is not counted by {counted}; {allowed}")
    value = float(amount.to(kind.si).magnitude)
    if not math.isfinite(value) or value <= 0:
        raise InputError(f"{name} = {echo(given)} is not allowed: it must be above zero and finite")
    return value, kind


def amount_in_si(name: str, given: object, kind: Kind) -> float:
    """Return `given` in the SI unit of its kind; it must be finite and above zero."""
    return read_amount(name, given, kind)[0]
