"""Products: concentrates as their labels describe them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import KW_ONLY, dataclass, field
from types import MappingProxyType
from typing import Literal, NamedTuple, TypeAlias

from wetspan import _core
from wetspan.amounts import CONCENTRATION, DENSITY, SHARE, STRENGTH, Amount, amount_in_si, read_amount
from wetspan.errors import InputError, described, nearest

Formulation: TypeAlias = Literal["suspension", "solution", "powder"]


class Evidence(NamedTuple):
    """Where the number of that name comes from: A measured or stated, B formula, C deduced, D assumed."""

    name: str
    grade: str
    source: str


@dataclass(frozen=True)
class Product:
    """A concentrate as described by its label.

    strength
        Active ingredient per volume ("4 g/L") or per mass of product ("0.4 %"); the latter needs `density`
        unless the product is a powder.
    formulation
        "suspension": particles that settle (suspension concentrate). "solution": a solution or microemulsion,
        which stays uniform. "powder": soluble, weighed instead of measured.
    density
        Density of the product, such as "1 kg/L".
    solubility
        Solubility of the active ingredient in water at 20 degC, such as "26 mg/L". Without it, no remark is
        made on active ingredient that stays undissolved.
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
        strength, kind = read_amount("strength", self.strength, STRENGTH, SHARE)
        density = None if self.density is None else amount_in_si("density", self.density, DENSITY)
        if self.formulation == "powder":
            if kind is not SHARE and density is None:
                raise InputError(f"strength = {self.strength!s} of a powder: give it by mass, such as '85 %'")
            share = strength if kind is SHARE or density is None else strength / density
            label = _core.Concentrate.powder(share)
        elif kind is STRENGTH:
            label = _core.Concentrate.by_volume(strength, density)
        elif density is None:
            raise InputError(
                f"strength = {self.strength!s} is by mass: a liquid needs its density too, such as '1.0 kg/L'"
            )
        else:
            label = _core.Concentrate.by_mass(strength, density)
        if self.solubility is not None:
            amount_in_si("solubility", self.solubility, CONCENTRATION)
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
    if not isinstance(name, str):
        raise InputError(f"a product is wanted, by name or as Product(...); given {described(name)}")
    if name in PRODUCTS:
        return PRODUCTS[name]
    hint = nearest(str(name), PRODUCTS) or f"known are {', '.join(repr(known) for known in PRODUCTS)}"
    raise InputError(f"unknown product {name!r}; {hint}, or describe yours with Product(...)")
