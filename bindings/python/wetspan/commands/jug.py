"""`wetspan jug`: let a jug of product stand, and pour from it."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from wetspan.cautions import CAUTIONS
from wetspan.commands.inputs import add_units
from wetspan.commands.mix import add_product
from wetspan.commands.output import check_picture, console, save_picture, write_json
from wetspan.jug import JUG_INPUTS, about_pours, jug_document, pours, settle
from wetspan.parameters import TABLE
from wetspan.report.jug import afloat_table, pours_table
from wetspan.unit_choice import UnitChoice
from wetspan.units import number, unit_of

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

NAMES = {"count": "--pours", "jug.temperature": "--temperature"}


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = (
        "What settles in a standing jug of product, and what each pour delivers, unshaken and shaken."
    )
    add_product(command)
    command.add_argument(
        "--days",
        default="60",
        metavar="N",
        help="how long it stands: days, or a time such as '8 weeks' (default %(default)s)",
    )
    command.add_argument(
        "--pours", type=int, default=8, metavar="N", help="equal pours that empty it (default %(default)s)"
    )
    command.add_argument("--draw", default="top", metavar="END", help="top or bottom (default %(default)s)")
    command.add_argument("--temperature", metavar="T", help="such as '25 degC' or '77 degF'")
    command.add_argument(
        "--target",
        default="30 mg/L",
        metavar="X",
        help="concentration of a tank that is mixed from a pour (default %(default)s)",
    )
    add_units(command, "those that --target and --temperature speak")
    command.add_argument("--json", action="store_true", help="write JSON")
    command.add_argument("--picture", metavar="FILE", help="also draw it, as PNG, SVG or PDF")


def run(asked: argparse.Namespace) -> None:
    """Let the jug settle, pour from it, and tell it."""
    check_picture(asked.picture)
    inputs = {} if asked.temperature is None else {"temperature": asked.temperature}
    days = asked.days if unit_of(asked.days) else number("--days", asked.days)
    jug = settle(asked.product, days, **inputs)
    poured = pours(jug, float(jug["day"][-1]), count=asked.pours, draw=asked.draw)
    save_picture(lambda plots: plots.plot_jug(jug, poured), asked.picture)
    spoken = [
        (JUG_INPUTS["temperature"], asked.temperature),
        (TABLE["application.concentration"], asked.target),
    ]
    units = UnitChoice.spoken_by(spoken) if asked.units is None else UnitChoice.named(asked.units)
    told = about_pours(jug, poured, asked.target, units)
    if asked.json:
        write_json(jug_document(asked.product, jug, poured) | {"text": told})
    else:
        _print(asked, jug, poured, told)


def _print(asked: argparse.Namespace, jug: xr.Dataset, poured: pd.DataFrame, about: list[str]) -> None:
    told = console()
    first, *others = about
    told.print(f"{asked.product}, {float(jug['day'][-1]):g} days standing\n\n{first}\n")
    told.print(afloat_table(jug))
    told.print(f"\nEach of {asked.pours} equal pours from the {asked.draw}, in % of the label:")
    told.print(pours_table(poured))
    told.print("\n" + " ".join(others))
    comment = f"\n{jug.attrs['comment']}\n" if "comment" in jug.attrs else ""
    told.print(f"{comment}\n{CAUTIONS}")
