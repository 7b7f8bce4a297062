"""The commands `wetspan mix`, `wetspan jug` and `wetspan bench`: even results."""

from __future__ import annotations

import argparse
from typing import Any

import pandas as pd
import xarray as xr
from matplotlib.figure import Figure
from rich.table import Table

from wetspan import plots, report
from wetspan.bench import bench_document, bench_report, spray_bench
from wetspan.jug import SHAKING, pours, settle
from wetspan.product import PRODUCTS
from wetspan.scenario import Scenario, load
from wetspan.tank import applied, mix

_PRODUCT = "paclobutrazol 0.4 % suspension concentrate"


def add_commands(commands: Any) -> None:
    """Add the commands to the parser's sub-commands."""
    _add_mix(commands)
    _add_jug(commands)
    _add_bench(commands)


def _command(commands: Any, name: str, does: str, description: str) -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = commands.add_parser(
        name, help=does, description=description, epilog=report.CAUTIONS
    )
    return parser


def _add_product(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--product",
        default=_PRODUCT,
        metavar="NAME",
        help=f"one of: {'; '.join(PRODUCTS)}; left out: the first".replace("%", "%%"),
    )


def _add_mix(commands: Any) -> None:
    command = _command(
        commands,
        "mix",
        "mix a tank: how much product and water",
        "How much product and water make the spray liquid, in both unit systems; or, with --amount, what "
        "plants got from product that was used.",
    )
    _add_product(command)
    what = command.add_mutually_exclusive_group(required=True)
    what.add_argument(
        "--target", metavar="X", help="concentration, such as '30 mg/L', or dose, such as '0.118 mg/pot'"
    )
    what.add_argument("--amount", metavar="X", help="product that was used, such as '4 fl oz'")
    command.add_argument("--area", metavar="A", help="area, such as '500 ft^2'")
    command.add_argument("--volume-rate", metavar="V", help="volume per area, such as '2 qt / (100 ft^2)'")
    command.add_argument("--pots", type=int, metavar="N", help="number of pots")
    command.add_argument(
        "--volume-per-pot", metavar="V", help="volume of a drench per pot, such as '4 fl oz'"
    )
    command.add_argument("--volume", metavar="V", help="final volume, such as '10 gal'")
    command.add_argument("--tank", metavar="V", help="what the tank holds, such as '4 gal'")
    command.add_argument("--measure", metavar="D", help="smallest division of the measure, such as '1 mL'")
    command.add_argument("--water", metavar="V", help="with --amount: water that the product was added to")
    command.add_argument("--final-volume", metavar="V", help="with --amount: volume it was made up to")
    command.add_argument("--json", action="store_true", help="write JSON")
    command.set_defaults(run=_mix)


def _mix(asked: argparse.Namespace) -> None:
    if asked.target is not None:
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
        told = applied(
            asked.product,
            asked.amount,
            water=asked.water,
            final_volume=asked.final_volume,
            area=asked.area,
            pots=asked.pots,
        )
    if asked.json:
        report.write_json(told.to_dict())
    else:
        report.console().print(told.text)


def _add_jug(commands: Any) -> None:
    command = _command(
        commands,
        "jug",
        "let a jug of product stand, and pour from it",
        "What settles in a standing jug of product, and what each pour delivers, unshaken and shaken.",
    )
    _add_product(command)
    command.add_argument(
        "--days", type=float, default=60.0, metavar="N", help="how long it stands (default %(default)g)"
    )
    command.add_argument(
        "--pours", type=int, default=8, metavar="N", help="equal pours that empty it (default %(default)s)"
    )
    command.add_argument("--draw", default="top", metavar="END", help="top or bottom (default %(default)s)")
    command.add_argument("--temperature", metavar="T", help="such as '25 degC'")
    command.add_argument("--json", action="store_true", help="write JSON")
    command.add_argument("--picture", metavar="FILE", help="also draw it, as PNG, SVG or PDF")
    command.set_defaults(run=_jug)


def _jug(asked: argparse.Namespace) -> None:
    inputs = {} if asked.temperature is None else {"temperature": asked.temperature}
    jug = settle(asked.product, asked.days, **inputs)
    poured = pours(jug, float(jug["day"][-1]), count=asked.pours, draw=asked.draw)
    if asked.picture:
        plots.save(plot_jug(jug, poured), asked.picture)
    if asked.json:
        report.write_json(
            {
                "product": asked.product,
                "days": [float(day) for day in jug["day"]],
                "afloat": {
                    str(name): jug["afloat"].sel(component=name).values.tolist()
                    for name in jug["component"].values
                },
                "pours": {str(case): poured[case].tolist() for case in poured},
                "spread": {str(case): float(spread) for case, spread in poured.attrs["spread"].items()},
                "about": {str(name): value for name, value in jug.attrs.items()},
                "cautions": report.CAUTIONS,
            }
        )
        return
    console = report.console()
    console.print(f"{asked.product}, {asked.days:g} days standing\n")
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("day", justify="right")
    for name in jug["component"].values:
        table.add_column(f"{name}\nafloat, %", justify="right")
    for day in sorted({*range(0, int(asked.days) + 1, max(1, round(asked.days / 8))), int(asked.days)}):
        at = jug.sel(day=day, method="nearest")
        table.add_row(
            f"{float(at['day']):g}",
            *(f"{100 * float(at['afloat'].sel(component=name)):.0f}" for name in jug["component"].values),
        )
    console.print(table)
    console.print(f"\nEach of {asked.pours} equal pours from the {asked.draw}, in % of the label:")
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("pour", justify="right")
    for case in SHAKING:
        table.add_column(case, justify="right")
    for number, row in enumerate(poured[list(SHAKING)].itertuples(index=False), start=1):
        table.add_row(str(number), *(f"{100 * value:.0f}" for value in row))
    console.print(table)
    console.print(
        f"\n{jug.attrs['comment']}\n\n{report.CAUTIONS}" if "comment" in jug.attrs else f"\n{report.CAUTIONS}"
    )


def plot_jug(jug: xr.Dataset, poured: pd.DataFrame) -> Figure:
    """Draw how much is afloat over the days, where it lies at the end, and what pours deliver."""
    figure = Figure(figsize=(9.0, 3.8), layout="constrained")
    figure.suptitle(str(jug.attrs.get("title", "A jug left standing")), x=0.01, ha="left", fontweight="bold")
    left, middle, right = figure.subplots(1, 3)
    colours = {"active ingredient": "#5b4a8a", "carrier": "#b5651d"}
    for name in map(str, jug["component"].values):
        one = jug.sel(component=name)
        left.plot(jug["day"].values, 100.0 * one["afloat"].values, color=colours.get(name, "0.3"), label=name)
        middle.plot(
            100.0 * one["relative_to_label"].isel(day=-1).values,
            100.0 * jug["depth"].values,
            color=colours.get(name, "0.3"),
        )
    left.set_xlabel("days standing")
    left.set_ylabel("afloat [%]")
    left.set_ylim(0, 105)
    left.legend(frameon=False, fontsize="small")
    middle.set_xlabel(f"concentration on day {float(jug['day'][-1]):g} [% of label]")
    middle.set_xscale("symlog", linthresh=100)
    middle.set_ylabel("depth [cm]")
    middle.invert_yaxis()
    for case, style in zip(SHAKING, (":", "--", "-"), strict=True):
        right.plot(
            range(1, len(poured) + 1),
            100.0 * poured[case].to_numpy(),
            color="#2f6f9f",
            linestyle=style,
            marker="o",
            markersize=3,
            label=case,
        )
    right.set_xlabel("pour")
    right.set_ylabel("delivered [% of label]")
    right.set_ylim(bottom=0)
    right.legend(frameon=False, fontsize="small")
    plots.tidy(left, middle, right)
    return figure


def _add_bench(commands: Any) -> None:
    command = _command(
        commands,
        "bench",
        "spray a bench, and see how even the crop comes out",
        "Sprays a bench plant by plant: how even deposit, dose and height come out, and what would even them "
        "most.",
    )
    command.add_argument(
        "file", nargs="?", metavar="FILE", help="scenario file (TOML); left out: the example"
    )
    command.add_argument(
        "--seed", type=int, default=1, metavar="N", help="seed of the unevenness (default %(default)s)"
    )
    command.add_argument("--json", action="store_true", help="write JSON")
    command.add_argument("--picture", metavar="FILE", help="also draw it, as PNG, SVG or PDF")
    command.set_defaults(run=_bench)


def _bench(asked: argparse.Namespace) -> None:
    from wetspan.command_line import example

    scenario: Scenario = example() if asked.file is None else load(asked.file)
    result = spray_bench(scenario, seed=asked.seed)
    if asked.picture:
        plots.save(result.plot(), asked.picture)
    if asked.json:
        report.write_json(bench_document(result))
        return
    console = report.console()
    for line in bench_report(result):
        console.print(line)
