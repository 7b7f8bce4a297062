"""`wetspan mix`: how much product and water make a spray liquid, or what plants got."""

from __future__ import annotations

import argparse

from wetspan.commands.output import write_json, write_text
from wetspan.errors import InputError
from wetspan.product import PRODUCTS
from wetspan.tank import applied, mix

PRODUCT = next(iter(PRODUCTS))
NAMES = {"measuring_device": "--measure"}
_FOR_TARGET = ("volume_rate", "volume_per_pot", "volume", "tank", "measure")
_FOR_AMOUNT = ("water", "final_volume")


def add_product(command: argparse.ArgumentParser) -> None:
    """Add --product."""
    command.add_argument(
        "--product",
        default=PRODUCT,
        metavar="NAME",
        help=f"one of: {'; '.join(PRODUCTS)}; left out: the first".replace("%", "%%"),
    )


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = (
        "How much product and water make the spray liquid, in both unit systems; or, with --amount, what "
        "plants got from product that was used."
    )
    add_product(command)
    what = command.add_mutually_exclusive_group(required=True)
    what.add_argument(
        "--target", metavar="X", help="concentration, such as '30 mg/L', or dose, such as '0.118 mg/pot'"
    )
    what.add_argument("--amount", metavar="X", help="product that was used, such as '4 fl oz'")
    for option, metavar, told in (
        ("--area", "A", "area, such as '500 ft^2'"),
        ("--volume-rate", "V", "volume per area, such as '2 qt / (100 ft^2)' or '2 1/2 qt per 100 sq ft'"),
        ("--volume-per-pot", "V", "volume of a drench per pot, such as '4 fl oz'"),
        ("--volume", "V", "final volume, such as '10 gal'"),
        ("--tank", "V", "what the tank holds, such as '4 gal'"),
        ("--measure", "D", "smallest division of the measure, such as '1 mL'"),
        ("--water", "V", "with --amount: water that the product was added to"),
        ("--final-volume", "V", "with --amount: volume it was made up to"),
    ):
        command.add_argument(option, metavar=metavar, help=told)
    command.add_argument("--pots", type=int, metavar="N", help="number of pots")
    command.add_argument("--json", action="store_true", help="write JSON")


def run(asked: argparse.Namespace) -> None:
    """Compute the mix, and tell it."""
    other = "--amount" if asked.target is None else "--target"
    for name in _FOR_TARGET if asked.target is None else _FOR_AMOUNT:
        if getattr(asked, name) is not None:
            raise InputError(f"--{name.replace('_', '-')} does not go with {other}")
    if asked.target is not None:
        if sum(each is not None for each in (asked.volume_rate, asked.volume_per_pot, asked.volume)) != 1:
            raise InputError(
                "give one of --volume-rate (with --area), --volume-per-pot (with --pots) or --volume"
            )
        told = mix(
            asked.product,
            asked.target,
            area=asked.area,
            volume_rate=asked.volume_rate,
            pots=asked.pots,
            volume_per_pot=asked.volume_per_pot,
            volume=asked.volume,
            tank=asked.tank,
            measuring_device=asked.measure,
        )
    else:
        if (asked.water is None) == (asked.final_volume is None):
            raise InputError(
                "give either --water (what the product was added to) or --final-volume (what it was made up "
                "to)"
            )
        told = applied(
            asked.product,
            asked.amount,
            water=asked.water,
            final_volume=asked.final_volume,
            area=asked.area,
            pots=asked.pots,
        )
    if asked.json:
        write_json(told.to_dict())
    else:
        write_text(told.text)
