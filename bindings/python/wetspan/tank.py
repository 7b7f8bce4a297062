"""The tank: how much product in how much water for what area or how many pots, and what it delivers.

Exact arithmetic on the label's strength, computed by the core (spray/tank.hpp). Volumes of product and water
are taken to add up. *Final volume* is product plus water: what the tank holds when filled up to the mark.
*Water* is what the product is added to. They differ by the product's own volume, which matters at high rates.

    final volume V,  target c,  strength S:    product = V c / S,    water = V - product

Text carries its unit, metric or US liquid measure ("2 qt / (100 ft^2)", "2 qt per 100 sq ft", "1 1/2 gal",
"4 fl oz per pot", "30 ppm"). A part per million is read as 1 mg/L. Bare numbers are in the unit that each
argument names.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import KW_ONLY, dataclass, field, fields
from numbers import Integral, Real
from types import MappingProxyType
from typing import Any, Literal, NamedTuple, TypeAlias

import pint

from wetspan import _core
from wetspan.errors import InputError, nearest
from wetspan.report import CAUTIONS
from wetspan.units import registry

#: Text with a unit, a bare number in the documented unit, or a pint quantity.
Amount: TypeAlias = str | float | pint.Quantity[Any]
Quantity: TypeAlias = pint.Quantity[Any]
Formulation: TypeAlias = Literal["suspension", "solution", "powder"]

#: Spray volume that rates in mg/L are usually meant for. Common practice, no source.
LABEL_VOLUME_RATE = "2 qt / (100 ft^2)"
#: Share by which a spray volume may differ from that before it is remarked on. Assumption (grade D).
VOLUME_TOLERANCE = _core.volume_tolerance
#: Largest reading error of a measured dose that passes without remark. Assumption (grade D).
READING_TOLERANCE = _core.reading_tolerance


class Evidence(NamedTuple):
    """Where the number of that name comes from: A measured or stated, B formula, C deduced, D assumed."""

    name: str
    grade: str
    source: str


# Reading amounts ------------------------------------------------------------------------------------------


class _Kind(NamedTuple):
    si: str
    bare: str  # the unit of a bare number
    example: str
    per_pot: bool = False  # may be said "per pot"


_VOLUME = _Kind("m^3", "L", "'2.5 gal' or '10 L'")
_SMALL_VOLUME = _Kind("m^3", "mL", "'4 fl oz' or '118 mL'")
_MASS = _Kind("kg", "g", "'4.5 g' or '1 oz'")
_POT_VOLUME = _Kind("m^3", "mL", "'4 fl oz' or '118 mL' per pot", per_pot=True)
_DOSE = _Kind("kg", "mg", "'0.118 mg' per pot", per_pot=True)
_AREA = _Kind("m^2", "m^2", "'500 ft^2' or '50 m^2'")
_VOLUME_RATE = _Kind("m", "L/m^2", "'2 qt / (100 ft^2)' or '0.2 L/m^2'")
_CONCENTRATION = _Kind("kg/m^3", "mg/L", "'30 mg/L' or '30 ppm'")
_STRENGTH = _Kind("kg/m^3", "g/L", "'4 g/L'")
_DENSITY = _Kind("kg/m^3", "kg/m^3", "'1.0 kg/L'")
_SHARE = _Kind("dimensionless", "dimensionless", "'0.4 %' by mass")

_SPOKEN = [
    (r"(?i)\b(?:US|U\.S\.)\s+(?=[a-z])", ""),
    (r"(?i)\bfl(?:uid)?\.?[\s_]*(?:oz|ounces?)\b\.?", "fluid_ounce"),
    (r"(?i)\bsq(?:uare)?\.?\s*(ft|feet|foot|m|meters?|metres?|in|inch(?:es)?|yd|yards?)\b\.?", r"\1^2"),
    (r"(?<=[A-Za-z])([23])\b", r"^\1"),
    (r"(?i)\bper\b", "/"),
]
_PER_POT = re.compile(r"(?i)\s*(?:/|\bper\b)\s*(?:pot|plant|container|basket|cell|flat)\s*$")
_THOUSANDS = re.compile(r"(?<![\d.,])[1-9]\d{0,2}(?:,\d{3})+(?![\d,])")
_MIXED_NUMBER = re.compile(r"^(\d+)\s+(\d+)\s*/\s*(\d+)(?!\d)")
_READABLE = re.compile(r"[-+]?\.?\d[\w\s.+\-*/^()%µμ²³]*")


def _read(name: str, given: object, *kinds: _Kind) -> tuple[float, _Kind]:
    """Return `given` in the SI unit of whichever of `kinds` it is; it must be finite and above zero."""
    allowed = f"give {', or '.join(kind.example for kind in kinds)}"
    quantity = _quantity(name, given, kinds, allowed)
    for kind in kinds:
        if quantity.is_compatible_with(kind.si):
            value = float(quantity.to(kind.si).magnitude)
            break
    else:
        hint = (
            "; oz alone is a mass, liquid measure is fl oz" if "ounce" in str(quantity.units).split() else ""
        )
        raise InputError(f"{name} = {given!s} has the wrong dimension ({quantity.units}){hint}; {allowed}")
    if not math.isfinite(value) or value <= 0:
        raise InputError(f"{name} = {given!s} is not allowed: it must be above zero and finite")
    return value, kind


def _si(name: str, given: object, kind: _Kind) -> float:
    return _read(name, given, kind)[0]


def _quantity(name: str, given: object, kinds: tuple[_Kind, ...], allowed: str) -> Quantity:
    if isinstance(given, pint.Quantity):  # it may belong to another registry
        quantity: Quantity = registry.Quantity(given.magnitude, str(given.units))
    elif isinstance(given, str):
        said = _PER_POT.sub("", given) if any(kind.per_pot for kind in kinds) else given
        quantity = _parse(name, said, allowed)
    elif isinstance(given, bool) or not isinstance(given, Real):
        raise InputError(f"{name} = {given!r} is not an amount; {allowed}")
    else:
        quantity = registry.Quantity(float(given), kinds[0].bare)
    if not isinstance(quantity.magnitude, Real):
        raise InputError(f"{name} = {given!s} is not a single amount; {allowed}")
    return registry.Quantity(quantity.magnitude, "mg/L") if str(quantity.units) == "ppm" else quantity


def _parse(name: str, text: str, allowed: str) -> Quantity:
    said = _THOUSANDS.sub(lambda m: m[0].replace(",", ""), text.strip())
    for spoken, written in _SPOKEN:
        said = re.sub(spoken, written, said)
    said = _MIXED_NUMBER.sub(lambda m: repr(int(m[1]) + int(m[2]) / int(m[3])) if int(m[3]) else m[0], said)
    # "2 qt / 100 ft^2" is meant as it is spoken, per 100 ft^2; the slash of "1/2 gal" stands before any unit
    above, slash, below = said.rpartition("/")
    if slash and re.search("[A-Za-z]", above) and "(" not in said:
        said = f"{above}/({below})"
    if not _READABLE.fullmatch(said) or "**" in said or re.search(r"\^\s*-?\d\d", said):
        raise InputError(f"{name} = {text!r} cannot be read as a number with a unit; {allowed}")
    try:
        quantity: Quantity = registry.Quantity(said)
    except pint.UndefinedUnitError as error:
        names = ", ".join(error.unit_names)
        raise InputError(f"{name} = {text!r}: there is no unit '{names}'; {allowed}") from None
    except Exception:  # whatever parsing raises inside pint and its tokenizer
        raise InputError(f"{name} = {text!r} cannot be read as a number with a unit; {allowed}") from None
    if re.search(r"(?<![A-Za-z])M[Ll]\b", said):
        raise InputError(f"{name} = {text!r} is a million litres; a millilitre is written mL")
    if re.fullmatch(r"[-+.\deE]+", said):
        raise InputError(f"{name} = {text!r} has no unit; {allowed}")
    return quantity


# Products -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Product:
    """A concentrate as its label describes it.

    strength
        Active ingredient per volume ("4 g/L"; a bare number is g/L) or per mass of product ("0.4 %"), which
        needs `density` unless the product is a powder.
    formulation
        "suspension": particles that settle (suspension concentrate). "solution": solution or microemulsion,
        uniform always. "powder": soluble, weighed instead of measured.
    density
        Of the product; a bare number is kg/m3.
    solubility
        Of the active ingredient in water at 20 degC; a bare number is mg/L. Without it nothing is said about
        what stays undissolved.
    evidence
        Grade and source of any of these numbers.
    """

    name: str
    _: KW_ONLY
    active_ingredient: str
    strength: Amount
    formulation: Formulation
    density: Amount | None = None
    solubility: Amount | None = None
    evidence: tuple[Evidence, ...] = ()

    #: Active ingredient per volume of product [kg/m3]; None for a powder.
    concentration: float | None = field(init=False)
    #: Active ingredient per mass of product [1]; None where the density is not known.
    mass_share: float | None = field(init=False)

    def __post_init__(self) -> None:
        if self.formulation not in ("suspension", "solution", "powder"):
            hint = nearest(str(self.formulation), ("suspension", "solution", "powder"))
            raise InputError(
                f"formulation = {self.formulation!r} is not 'suspension', 'solution' or 'powder'"
                + (f"; {hint}" if hint else "")
            )
        strength, kind = _read("strength", self.strength, _STRENGTH, _SHARE)
        density = None if self.density is None else _si("density", self.density, _DENSITY)
        if self.formulation == "powder":
            if kind is not _SHARE and density is None:
                raise InputError(f"strength = {self.strength!s} of a powder: give it by mass, such as '85 %'")
            share = strength if kind is _SHARE or density is None else strength / density
            label = _core.Concentrate.powder(share)
        elif kind is _STRENGTH:
            label = _core.Concentrate.by_volume(strength, density)
        elif density is None:
            raise InputError(
                f"strength = {self.strength!s} is by mass: a liquid needs its density too, such as '1.0 kg/L'"
            )
        else:
            label = _core.Concentrate.by_mass(strength, density)
        if self.solubility is not None:
            _si("solubility", self.solubility, _CONCENTRATION)
        object.__setattr__(self, "concentration", label.concentration)
        object.__setattr__(self, "mass_share", label.mass_share)


_LABEL = "US federal registration label text, paclobutrazol 0.4 % suspension concentrate for ornamentals"
_MONOGRAPH = Evidence("solubility", "A", "pesticide monograph entry for paclobutrazol (online copy), 20 degC")

#: Products by name. Another one is a `Product` with the strength its label states.
PRODUCTS: Mapping[str, Product] = MappingProxyType(
    {
        product.name: product
        for product in (
            Product(
                "paclobutrazol 0.4 % suspension concentrate",
                active_ingredient="paclobutrazol",
                strength="0.4 %",
                formulation="suspension",
                density="1 kg/L",
                solubility="26 mg/L",
                evidence=(
                    Evidence("strength", "A", f"{_LABEL}: 0.4 %, 0.12 g per US fl oz (0.1183 exactly)"),
                    Evidence("density", "C", "deduced from the label: 0.4 % by mass and 4000 mg/L"),
                    _MONOGRAPH,
                ),
            ),
            Product(
                "paclobutrazol 4 % microemulsion",
                active_ingredient="paclobutrazol",
                strength="40 g/L",
                formulation="solution",
                solubility="26 mg/L",
                evidence=(
                    Evidence(
                        "strength",
                        "A",
                        "4 %, ten times the other: Runkle, A new paclobutrazol, trade magazine article",
                    ),
                    _MONOGRAPH,
                ),
            ),
            Product(
                "uniconazole 0.055 % solution",
                active_ingredient="uniconazole",
                strength="0.055 %",
                formulation="solution",
                density="0.906 kg/L",
                evidence=(
                    Evidence("strength", "A", "Runkle, PGR dilution guide, Michigan State University"),
                    Evidence("density", "C", "deduced: 38 mL per US gal make 5 mg/L (the same guide)"),
                ),
            ),
            Product(
                "daminozide 85 % soluble powder",
                active_ingredient="daminozide",
                strength="85 %",
                formulation="powder",
                evidence=(
                    Evidence("strength", "A", "Runkle, PGR dilution guide, Michigan State University"),
                ),
            ),
        )
    }
)


def find_product(name: str | Product) -> Product:
    """Return the product of that name; an unknown name is refused with the nearest there is."""
    if isinstance(name, Product):
        return name
    if name in PRODUCTS:
        return PRODUCTS[name]
    hint = nearest(str(name), PRODUCTS) or f"known are {', '.join(repr(known) for known in PRODUCTS)}"
    raise InputError(f"unknown product {name!r}; {hint}, or describe yours with Product(...)")


# Results --------------------------------------------------------------------------------------------------


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
    """What to measure, and what reaches the crop. Amounts are pint quantities; None where nothing is known.

    concentration
        Active ingredient in the spray liquid [mg/L].
    product_volume, product_mass
        Product to measure [mL], or to weigh if it is a powder [g].
    final_volume, water_volume
        Product and water together, and the water alone [L]. A powder's own volume is not known:
        `water_volume` is None and the powder is made up to the final volume.
    used_volume, active_ingredient
        What is put out of it [L], and the active ingredient in that [mg].
    area, volume_rate, active_per_area
        [m2], [L/m2], [mg/m2] of bench.
    pots, volume_per_pot, active_per_pot
        Count, [mL], [mg]. Over a sprayed area it is the bench's share of a pot, more than its plant catches.
    fills, refills, fill_volume, product_per_fill, last_fill_volume, product_in_last_fill
        Tankfuls, how often to come back, and what goes into a full tank and into the last.
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
        if not isinstance(value, pint.Quantity):
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
            if isinstance(value, pint.Quantity):
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
    """Return what to mix so that the spray liquid holds `target`.

    target
        Concentration ("30 mg/L", "30 ppm"; a bare number is mg/L), or a dose per pot ("0.118 mg"), which
        needs `volume_per_pot`.
    area, volume_rate
        A bench and the volume over it: bare numbers are m2 and L/m2.
    pots, volume_per_pot
        A drench: a count, and each pot's volume (bare: mL). `pots` may also stand beside an area, to share it
        out.
    volume
        Instead of either: the final volume itself (bare: L).
    tank
        What the tank holds when full (bare: L), if it has to be refilled.
    measuring_device
        The smallest division of what the product is measured with ("1 mL"; for a powder "0.1 g").
    label_volume_rate
        The volume that the rate in mg/L is meant for.

    >>> ws.mix("paclobutrazol 0.4 % suspension concentrate", "30 mg/L", area="500 ft^2",
    ...        volume_rate="2 qt / (100 ft^2)")
    """
    chosen = find_product(product)
    rate = None if volume_rate is None else _si("volume_rate", volume_rate, _VOLUME_RATE)
    per_pot = None if volume_per_pot is None else _si("volume_per_pot", volume_per_pot, _POT_VOLUME)
    surface = None if area is None else _si("area", area, _AREA)
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
        final = _si("volume", volume, _VOLUME)

    goal, kind = _read("target", target, _CONCENTRATION, _DOSE)
    if kind is _DOSE:
        if per_pot is None:
            raise InputError(f"target = {target!s} is a dose per pot: give volume_per_pot and pots too")
        goal = _core.concentration_for_dose(goal, per_pot)

    made = _core.mix_tank(
        _label(chosen),
        goal,
        final,
        area=surface,
        pots=count,
        tank=None if tank is None else _si("tank", tank, _VOLUME),
    )
    warnings = []
    if rate is not None:
        warnings += _about_volume(rate, _si("label_volume_rate", label_volume_rate, _VOLUME_RATE))
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
        Product measured (bare: mL), or weighed (bare: g for a powder; a liquid by mass needs its density).
    water, final_volume
        One of the two (bare: L): the water the product was added to, or the volume it was all made up to.
        "1 fl oz per gallon" of a 0.4 % product is 31.25 mg/L when made up to a gallon, and 31.01 mg/L when
        added to a gallon of water.
    area, pots
        What it was put on (bare: m2), one or both.
    used
        How much of it was put out (bare: L); all of it unless given.
    """
    chosen = find_product(product)
    measured, kind = _read(
        "amount", amount, *((_MASS,) if chosen.formulation == "powder" else (_SMALL_VOLUME, _MASS))
    )
    weighed = kind is _MASS
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
        water=None if water is None else _si("water", water, _VOLUME),
        final_volume=None if final_volume is None else _si("final_volume", final_volume, _VOLUME),
        used=None if used is None else _si("used", used, _VOLUME),
        area=None if area is None else _si("area", area, _AREA),
        pots=None if pots is None else _count(pots),
    )
    warnings = []
    if made.volume_rate is not None:
        label = _si("label_volume_rate", label_volume_rate, _VOLUME_RATE)
        warnings += _about_volume(made.volume_rate, label)
    if water is not None and chosen.formulation == "powder":
        warnings.append("the powder's own volume is not counted: the true concentration is slightly lower")
    warnings += _about_solubility(chosen, made.concentration)
    return _told(chosen, made, warnings)


def _count(pots: object) -> int:
    if isinstance(pots, bool) or not isinstance(pots, Integral) or pots < 1:
        raise InputError(f"pots = {pots!r} is not a whole number of pots, 1 or more")
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
    amount: Quantity = registry.Quantity(value, si).to(unit)
    return amount


def _mg_per_l(concentration: float) -> str:
    return f"{concentration * 1000:.4g} mg/L"


def _about_solubility(product: Product, concentration: float) -> list[str]:
    if product.solubility is None:
        return []
    soluble = _si("solubility", product.solubility, _CONCENTRATION)
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
    metric, us = _in_both("volume_rate", registry.Quantity(rate, "m"))
    return f"{metric[1]} ({us[1]})" if us is not None else metric[1]


def _about_reading(product: Product, dose: float, device: Amount) -> list[str]:
    powder = product.formulation == "powder"
    division = _si("measuring_device", device, _MASS if powder else _SMALL_VOLUME)
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
