"""The tank: product and water for an area or a number of pots, and what an amount of product delivers.

This is exact arithmetic on the strength that the label states, computed by the core (spray/tank.hpp). Volumes
of product and water are assumed to be additive. The *final volume* is that of product and water together, to
which the tank is filled. *Water* is the volume to which the product is added. They differ by the volume of
the product, which matters at high rates.

    final volume V,  target c,  strength S:    product = V c / S,    water = V - product

Amounts are text with a unit, metric or US liquid measure ("2 qt / (100 ft^2)", "2 qt per 100 sq ft", "1 1/2
gal", "4 fl oz per pot", "30 ppm"), or pint quantities. A part per million of a spray liquid is read as 1
mg/L. A bare number is refused, since nobody measures a tank in SI.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from numbers import Integral
from typing import NamedTuple

from wetspan import _core
from wetspan.amounts import (
    AREA,
    CONCENTRATION,
    DOSE,
    MASS,
    POT_VOLUME,
    SMALL_VOLUME,
    VOLUME,
    VOLUME_RATE,
    Amount,
    amount_in_si,
    read_amount,
)
from wetspan.cautions import CAUTIONS
from wetspan.errors import InputError, echo, nearest
from wetspan.product import Product, find_product
from wetspan.unit_registry import registry
from wetspan.units import Quantity, is_quantity

#: Spray volume that rates in mg/L are usually meant for. Common practice, no source.
LABEL_VOLUME_RATE = "2 qt / (100 ft^2)"
#: Share by which a spray volume may differ from that before it is remarked on. Assumption (grade D).
VOLUME_TOLERANCE = _core.volume_tolerance
#: Largest reading error of a measured dose that passes without remark. Assumption (grade D).
READING_TOLERANCE = _core.reading_tolerance
#: Share of the final volume beyond which the product is told to be too weak (grade D).
MOST_PRODUCT = 0.2


MOST_POTS = 1_000_000_000


class _Shown(NamedTuple):
    metric: str
    us: str = ""  # as printed; "" where the trade uses the metric unit alone
    us_unit: str = ""  # as pint knows it
    per: float = 1.0  # how many of it


_SHOWN = {
    "concentration": _Shown("mg/L"),
    "product_volume": _Shown("mL", "fl oz", "fluid_ounce"),
    "product_mass": _Shown("g", "oz", "ounce"),
    "water_volume": _Shown("L", "gal", "gallon"),
    "final_volume": _Shown("L", "gal", "gallon"),
    "used_volume": _Shown("L", "gal", "gallon"),
    "active_ingredient": _Shown("mg"),
    "area": _Shown("m^2", "ft2", "foot^2"),
    "volume_rate": _Shown("L/m^2", "qt/100 ft2", "quart/foot^2", 100.0),
    "active_per_area": _Shown("mg/m^2", "mg/ft2", "mg/foot^2"),
    "volume_per_pot": _Shown("mL", "fl oz", "fluid_ounce"),
    "active_per_pot": _Shown("mg"),
    "fill_volume": _Shown("L", "gal", "gallon"),
    "product_per_fill": _Shown("mL", "fl oz", "fluid_ounce"),
    "last_fill_volume": _Shown("L", "gal", "gallon"),
    "product_in_last_fill": _Shown("mL", "fl oz", "fluid_ounce"),
}
_BY_WEIGHT = _SHOWN["product_mass"]


@dataclass(frozen=True)
class TankMix:
    """What to measure, and what is applied to the crop. Amounts are pint quantities; None where nothing is
    known.

    concentration
        Active ingredient in the spray liquid [mg/L].
    product_volume, product_mass
        Product to measure [mL], or to weigh if it is a powder [g].
    final_volume, water_volume
        Volume of product and water together, and of the water alone [L]. The volume of a powder itself is not
        known: `water_volume` is None, and the powder is made up to the final volume.
    used_volume, active_ingredient
        Volume that is applied [L], and the active ingredient in it [mg].
    area, volume_rate, active_per_area
        [m2], [L/m2], [mg/m2] of bench.
    pots, volume_per_pot, active_per_pot
        Number, [mL], [mg]. For a sprayed area it is the volume for the area divided by the number of pots,
        which is more than the plants catch.
    fills, refills, fill_volume, product_per_fill, last_fill_volume, product_in_last_fill
        Number of tank fills, number of refills, and the contents of a full tank and of the last one.
    warnings
        One line each.
    """

    product: Product
    concentration: Quantity
    product_volume: Quantity | None
    product_mass: Quantity | None
    water_volume: Quantity | None
    final_volume: Quantity
    used_volume: Quantity
    active_ingredient: Quantity
    area: Quantity | None
    volume_rate: Quantity | None
    active_per_area: Quantity | None
    pots: int | None
    volume_per_pot: Quantity | None
    active_per_pot: Quantity | None
    fills: int
    fill_volume: Quantity
    product_per_fill: Quantity
    last_fill_volume: Quantity
    product_in_last_fill: Quantity
    warnings: tuple[str, ...]

    @property
    def refills(self) -> int:
        """How often the tank is filled again after the first time."""
        return self.fills - 1

    def shown(self, name: str) -> str:
        """Return an amount in both systems, such as '70.98 mL (2.4 fl oz)'."""
        value = getattr(self, name, None)
        if not is_quantity(value):
            raise InputError(
                f"'{name}' is not an amount of this mix; {nearest(name, _SHOWN) or ', '.join(_SHOWN)}"
            )
        metric, us = _in_both(name, value)
        return metric[1] if us is None else f"{metric[1]} ({us[1]})"

    @property
    def text(self) -> str:
        """The mix in plain lines, with warnings and the usual cautions."""
        lines = [
            f"{self.product.name}: {self.shown('concentration')} ({self.concentration.magnitude:.4g} ppm)"
        ]
        measure = self.shown("product_mass" if self.product_mass is not None else "product_volume")
        water = "" if self.water_volume is None else f", {self.shown('water_volume')} of it water"
        lines.append(f"{measure} of product made up to a final volume of {self.shown('final_volume')}{water}")
        if self.used_volume != self.final_volume:
            lines.append(f"Put out: {self.shown('used_volume')}")
        if self.fills > 1:
            lines.append(
                f"Tank: {self.fills} fills ({self.refills} refill{'s' * (self.refills > 1)}). "
                f"Full: {self.shown('product_per_fill')} in {self.shown('fill_volume')}; "
                f"last: {self.shown('product_in_last_fill')} in {self.shown('last_fill_volume')}"
            )
        if self.area is not None:
            lines.append(
                f"Bench: {self.shown('area')} at {self.shown('volume_rate')} gets "
                f"{self.shown('active_per_area')} of {self.product.active_ingredient}"
            )
        if self.pots is not None:
            dose = f"{self.shown('volume_per_pot')} with {self.shown('active_per_pot')}"
            if self.area is None:
                lines.append(f"Pots: {self.pots}, each {dose} of {self.product.active_ingredient}")
            else:
                lines.append(f"Pots on the bench: {self.pots}, a share of {dose} each; plants catch less")
        return "\n".join([*lines, *(f"Note: {warning}" for warning in self.warnings), "", CAUTIONS])

    def to_dict(self) -> dict[str, object]:
        """Return everything as plain numbers and text, ready for JSON; amounts with metric and US values."""
        told: dict[str, object] = {"product": self.product.name, "active": self.product.active_ingredient}
        for part in fields(self):
            value = getattr(self, part.name)
            if is_quantity(value):
                metric, us = _in_both(part.name, value)
                told[part.name] = {"value": metric[0], "unit": metric[2]}
                if us is not None:
                    told[part.name] = {
                        "value": metric[0],
                        "unit": metric[2],
                        "us_value": us[0],
                        "us_unit": us[2],
                    }
            elif part.name != "product":
                told[part.name] = list(value) if isinstance(value, tuple) else value
        return told | {"refills": self.refills, "cautions": CAUTIONS}

    def __str__(self) -> str:
        return self.text


def _in_both(name: str, value: Quantity) -> tuple[tuple[float, str, str], tuple[float, str, str] | None]:
    """Value, text and unit, metric and (if the trade uses one) US."""
    shown = _SHOWN[name]
    if name.startswith("product_") and value.check("[mass]"):
        shown = _BY_WEIGHT
    metric = float(value.to(shown.metric).magnitude)
    unit = shown.metric.replace("^", "")
    first = (metric, f"{metric:.4g} {unit}", unit)
    if not shown.us:
        return first, None
    us = float(value.to(shown.us_unit).magnitude) * shown.per
    return first, (us, f"{us:.4g} {shown.us}", shown.us)


# Mixing ---------------------------------------------------------------------------------------------------


def mix(
    product: str | Product,
    target: Amount,
    *,
    area: Amount | None = None,
    volume_rate: Amount | None = None,
    pots: int | None = None,
    volume_per_pot: Amount | None = None,
    volume: Amount | None = None,
    tank: Amount | None = None,
    measuring_device: Amount | None = None,
    label_volume_rate: Amount = LABEL_VOLUME_RATE,
) -> TankMix:
    """Return how much product and water to mix so that the spray liquid contains `target`.

    target
        Concentration ("30 mg/L", "30 ppm"), or a dose per pot ("0.118 mg"), which needs `volume_per_pot`.
    area, volume_rate
        Area of the bench, and volume per area ("500 ft^2", "2 qt per 100 sq ft").
    pots, volume_per_pot
        For a drench: number of pots, and volume for each pot ("4 fl oz"). `pots` may also be given with an
        area, whose volume is then divided by it.
    volume
        In place of either: the final volume ("10 gal").
    tank
        Volume of a full tank, if it has to be refilled.
    measuring_device
        Smallest division of the device that measures the product ("1 mL"; for a powder "0.1 g").
    label_volume_rate
        Volume per area for which the rate in mg/L is meant.

    >>> ws.mix("paclobutrazol 0.4 % suspension concentrate", "30 mg/L", area="500 ft^2",
    ...        volume_rate="2 qt / (100 ft^2)")
    """
    chosen = find_product(product)
    rate = None if volume_rate is None else amount_in_si("volume_rate", volume_rate, VOLUME_RATE)
    per_pot = None if volume_per_pot is None else amount_in_si("volume_per_pot", volume_per_pot, POT_VOLUME)
    surface = None if area is None else amount_in_si("area", area, AREA)
    count = None if pots is None else _count(pots)

    given = [
        name
        for name, value in (("volume_rate", rate), ("volume_per_pot", per_pot), ("volume", volume))
        if value is not None
    ]
    if len(given) != 1:
        said = " and ".join(given) or "none of them"
        raise InputError(
            f"give one of volume_rate (with area), volume_per_pot (with pots) or volume; given: {said}"
        )
    if rate is not None:
        if surface is None:
            raise InputError("volume_rate needs the area it is put on, such as area='500 ft^2'")
        final = _core.volume_over_area(rate, surface)
    elif per_pot is not None:
        if count is None:
            raise InputError("volume_per_pot needs the number of pots, such as pots=120")
        final = _core.volume_for_pots(per_pot, count)
    else:
        final = amount_in_si("volume", volume, VOLUME)

    goal, kind = read_amount("target", target, CONCENTRATION, DOSE)
    if kind is DOSE:
        if per_pot is None:
            raise InputError(f"target = {target!s} is a dose per pot: give volume_per_pot and pots too")
        goal = _core.concentration_for_dose(goal, per_pot)

    made = _core.mix_tank(
        _label(chosen),
        goal,
        final,
        area=surface,
        pots=count,
        tank=None if tank is None else amount_in_si("tank", tank, VOLUME),
    )
    warnings = []
    if rate is not None:
        warnings += _about_volume(rate, amount_in_si("label_volume_rate", label_volume_rate, VOLUME_RATE))
    warnings += _about_strength(chosen, made)
    warnings += _about_solubility(chosen, goal)
    if measuring_device is not None:
        warnings += _about_reading(chosen, made.product_in_last_fill, measuring_device)
    return _told(chosen, made, warnings)


def applied(
    product: str | Product,
    amount: Amount,
    *,
    water: Amount | None = None,
    final_volume: Amount | None = None,
    area: Amount | None = None,
    pots: int | None = None,
    used: Amount | None = None,
    label_volume_rate: Amount = LABEL_VOLUME_RATE,
) -> TankMix:
    """Return what the plants got from `amount` of product in water: the inverse of `mix`.

    amount
        Product that was measured ("1 fl oz"), or weighed ("20 g"; for a liquid this needs its density).
    water, final_volume
        One of the two: the water to which the product was added, or the final volume to which it was made up.
        "1 fl oz per gallon" of a 0.4 % product is 31.25 mg/L if it is made up to a gallon, and 31.01 mg/L if
        it is added to a gallon of water.
    area, pots
        Where it was applied, one or both.
    used
        Volume that was applied; all of it by default.
    """
    chosen = find_product(product)
    measured, kind = read_amount(
        "amount", amount, *((MASS,) if chosen.formulation == "powder" else (SMALL_VOLUME, MASS))
    )
    weighed = kind is MASS
    if weighed and chosen.mass_share is None:
        raise InputError(
            f"amount = {amount!s} is a mass: the density of {chosen.name} is not known, give a volume"
        )
    if (water is None) == (final_volume is None):
        raise InputError(
            "give either water (what the product was added to) or final_volume (what it was made up to)"
        )
    made = _core.applied_mix(
        _label(chosen),
        volume=None if weighed else measured,
        mass=measured if weighed else None,
        water=None if water is None else amount_in_si("water", water, VOLUME),
        final_volume=None if final_volume is None else amount_in_si("final_volume", final_volume, VOLUME),
        used=None if used is None else amount_in_si("used", used, VOLUME),
        area=None if area is None else amount_in_si("area", area, AREA),
        pots=None if pots is None else _count(pots),
    )
    warnings = []
    if made.volume_rate is not None:
        label = amount_in_si("label_volume_rate", label_volume_rate, VOLUME_RATE)
        warnings += _about_volume(made.volume_rate, label)
    if water is not None and chosen.formulation == "powder":
        warnings.append("the powder's own volume is not counted: the true concentration is slightly lower")
    warnings += _about_solubility(chosen, made.concentration)
    return _told(chosen, made, warnings)


def _count(pots: object) -> int:
    if isinstance(pots, bool) or not isinstance(pots, Integral) or not 1 <= int(pots) <= MOST_POTS:
        raise InputError(f"pots = {echo(pots)} is not a whole number of pots, 1 to {MOST_POTS}")
    return int(pots)


def _label(product: Product) -> _core.Concentrate:
    return _core.Concentrate(product.concentration, product.mass_share)


def _told(product: Product, made: _core.TankMix, warnings: list[str]) -> TankMix:
    """Return a mix with its units."""
    powder = product.formulation == "powder"

    def measured(amount: float) -> Quantity:
        return _amount(amount, "kg", "g") if powder else _amount(amount, "m^3", "mL")

    return TankMix(
        product=product,
        concentration=_amount(made.concentration, "kg/m^3", "mg/L"),
        product_volume=None if powder else measured(made.product),
        product_mass=measured(made.product) if powder else None,
        water_volume=_known(made.water, "m^3", "L"),
        final_volume=_amount(made.final_volume, "m^3", "L"),
        used_volume=_amount(made.used_volume, "m^3", "L"),
        active_ingredient=_amount(made.active_ingredient, "kg", "mg"),
        area=_known(made.area, "m^2", "m^2"),
        volume_rate=_known(made.volume_rate, "m", "L/m^2"),
        active_per_area=_known(made.active_per_area, "kg/m^2", "mg/m^2"),
        pots=made.pots,
        volume_per_pot=_known(made.volume_per_pot, "m^3", "mL"),
        active_per_pot=_known(made.active_per_pot, "kg", "mg"),
        fills=made.fills,
        fill_volume=_amount(made.fill_volume, "m^3", "L"),
        product_per_fill=measured(made.product_per_fill),
        last_fill_volume=_amount(made.last_fill_volume, "m^3", "L"),
        product_in_last_fill=measured(made.product_in_last_fill),
        warnings=tuple(warnings),
    )


def _known(value: float | None, si: str, unit: str) -> Quantity | None:
    return None if value is None else _amount(value, si, unit)


def _amount(value: float, si: str, unit: str) -> Quantity:
    amount: Quantity = registry().Quantity(value, si).to(unit)
    return amount


def _mg_per_l(concentration: float) -> str:
    return f"{concentration * 1000:.4g} mg/L"


def _about_strength(product: Product, made: _core.TankMix) -> list[str]:
    if product.formulation == "powder":
        return []
    share = made.product / made.final_volume
    if share <= MOST_PRODUCT:
        return []
    return [
        f"the product is {share:.0%} of the final volume: it is too weak for "
        f"{_mg_per_l(made.concentration)}, and what else is in it comes along hardly diluted; take a "
        "stronger product, or a lower concentration"
    ]


def _about_solubility(product: Product, concentration: float) -> list[str]:
    if product.solubility is None:
        return []
    soluble = amount_in_si("solubility", product.solubility, CONCENTRATION)
    excess = _core.undissolved(concentration, soluble)
    if excess == 0.0:
        return []
    said = (
        f"{_mg_per_l(concentration)} is above what water dissolves, {_mg_per_l(soluble)} at 20 degC: "
        f"{_mg_per_l(excess)} "
    )
    if product.formulation == "suspension":
        return [said + "stays particulate and settles; keep the tank agitated"]
    return [said + "stays in the formulation's own droplets and may come out on long standing"]


def _about_volume(rate: float, label: float) -> list[str]:
    ratio = rate / label
    if abs(ratio - 1) <= VOLUME_TOLERANCE:
        return []
    more = "more runs off to stems and substrate" if ratio > 1 else "less runs off to stems and substrate"
    return [
        f"the volume is {ratio:.3g} times the {_both_rates(label)} that rates in mg/L are usually meant for: "
        f"{ratio:.3g} times the active ingredient per area, and {more}"
    ]


def _both_rates(rate: float) -> str:
    metric, us = _in_both("volume_rate", registry().Quantity(rate, "m"))
    return f"{metric[1]} ({us[1]})" if us is not None else metric[1]


def _about_reading(product: Product, dose: float, device: Amount) -> list[str]:
    powder = product.formulation == "powder"
    division = amount_in_si("measuring_device", device, MASS if powder else SMALL_VOLUME)
    error = _core.reading_error(dose, division)
    if error <= READING_TOLERANCE:
        return []
    little, step = (
        f"{value * 1e3:.3g} g" if powder else f"{value * 1e6:.3g} mL" for value in (dose, division)
    )
    return [
        f"{little} is little for a device with divisions of {step}: half a division is {error:.0%} of it; "
        "use a finer one, or measure from a known first dilution"
    ]
