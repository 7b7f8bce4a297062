"""`wetspan bench`: spray a bench, and see how even the crop comes out."""

from __future__ import annotations

import argparse

from wetspan.bench import bench_document, bench_report, spray_bench
from wetspan.commands.inputs import add_output, add_scenario, scenario_of
from wetspan.commands.output import (
    check_output,
    console,
    save_picture,
    save_report,
    write_json,
)

NAMES = {"drench.volume_per_pot": "--volume-per-pot", "drench.pouring_variation": "--pouring-variation"}


def add(command: argparse.ArgumentParser) -> None:
    """Add what the command takes."""
    command.description = (
        "Spray a bench plant by plant: how even deposit, dose and height come out, and what would even them "
        "most."
    )
    add_scenario(command, optional=True)
    command.add_argument(
        "--seed", type=int, default=1, metavar="N", help="seed of the unevenness (default %(default)s)"
    )
    command.add_argument(
        "--volume-per-pot", metavar="V", help="of a drench, such as '4 fl oz' (default: the scenario's)"
    )
    command.add_argument(
        "--pouring-variation",
        metavar="SHARE",
        help="of a drench: standard deviation over mean of what is poured into each pot, such as '5 %%' "
        "(default 10 %%, an assumption: 5 to 20 %%)",
    )
    add_output(command)


def run(asked: argparse.Namespace) -> None:
    """Spray the bench, and tell it."""
    check_output(asked)
    scenario, _ = scenario_of(asked)
    result = spray_bench(
        scenario,
        seed=asked.seed,
        volume_per_pot=asked.volume_per_pot,
        pouring_variation=asked.pouring_variation,
    )
    save_picture(lambda _: result.plot(), asked.picture)
    save_report(result, asked.report)
    if asked.json:
        write_json(bench_document(result))
        return
    told = console()
    for line in bench_report(result):
        told.print(line)
