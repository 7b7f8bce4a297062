"""Time the library from Python: many rows by ws.batch, single sprays by ws.simulate; print JSON.

    python benchmarks/product.py TOLERANCE ROWS

The moments are drawn as events.cpp draws them, by day over the same typical years, for the default spray; two
inputs vary that reach neither flight nor house. Times are processor time of the one thread that is used.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import wetspan as ws

SITES = ("piedmont", "miami")
VARIED = ("uptake.cuticle", "crop.half_amount")
REPEATS = 2
EACH_ROWS = 2000  # with every flight computed
Columns = dict[str, npt.NDArray[Any]]


def draw(scenario: ws.Scenario, count: int) -> Columns:
    """Return `count` moments by day, over all sites, and the inputs that vary by a quarter up and down."""
    random = np.random.default_rng(20260514)
    days, hours = np.floor(random.uniform(1.0, 363.0, count)), random.uniform(7.0, 17.0, count)
    seconds = np.rint(3600.0 * (24.0 * days + hours)).astype("timedelta64[s]")
    columns: Columns = {
        "time": np.datetime64("2026-01-01T00:00:00", "s") + seconds,
        "weather": np.array(SITES)[np.arange(count) % len(SITES)],
    }
    for name in VARIED:
        columns[name] = scenario[name] * random.uniform(0.8, 1.25, count)
    return columns


def timed(call: Callable[[], object]) -> float:
    begin = time.thread_time()
    call()
    return time.thread_time() - begin


def with_air_known(scenario: ws.Scenario, rows: Columns, weather: Mapping[str, ws.Weather]) -> float:
    """Return the best time of a chunk after the first, which followed the house's air [s]."""
    chunks = ws.batches(scenario, [rows] * (1 + REPEATS), weather, threads=1)
    next(chunks)
    return min(timed(lambda: next(chunks)) for _ in range(REPEATS))


def single_sprays(scenario: ws.Scenario) -> dict[str, float]:
    """Return the time of one spray in unchanging air [s]: the first of its kind, and repeated."""
    ws.simulate(scenario)
    cold, warm = [], []
    for i in range(1, 6):
        other = scenario.replace({"droplets.dv50": scenario["droplets.dv50"] * (1.0 + 0.01 * i)})
        cold.append(timed(lambda other=other: ws.simulate(other)))  # type: ignore[misc]
        warm += [timed(lambda other=other: ws.simulate(other)) for _ in range(10)]  # type: ignore[misc]
    return {"cold": min(cold), "warm": min(warm)}


def main(tolerance: float, count: int) -> None:
    each = ws.Scenario({"numerics.tolerance": tolerance})
    table = each.replace({"numerics.flights": "table"})
    weather = {site: ws.read_weather(site) for site in SITES}

    drawn = draw(table, count)
    told = ws.batch(table, drawn, weather, threads=1)  # and the table of landings is filled
    kept = np.flatnonzero((told["path"] == "clock") & (told["status"] == "dry"))
    rows = {name: values[kept] for name, values in drawn.items()}
    few = {name: values[:EACH_ROWS] for name, values in rows.items()}
    whole = min(timed(lambda: ws.batch(table, rows, weather, threads=1)) for _ in range(REPEATS))
    figures = {
        "drawn": count,
        "rows": kept.size,
        "each_rows": len(few["time"]),
        "batch": whole / kept.size,
        "air_known": with_air_known(table, rows, weather) / kept.size,
        "each": with_air_known(each, few, weather) / len(few["time"]),
        **single_sprays(each),
    }
    print(json.dumps(figures))


if __name__ == "__main__":
    main(float(sys.argv[1]), int(sys.argv[2]))
