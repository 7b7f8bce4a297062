"""Measure what a row of ws.batch and ws.season costs, beside the kernel and in threads; print a table.

    python benchmarks/threads.py [--rows 40000] [--threads 1,2,4,8,16]

It takes some three minutes and needs the installed package alone. Times of single rows are processor times of
one thread; those of threads are wall times, the best of some turns that the numbers of threads take, and so
want an idle machine.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import platform
import statistics
import time
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import wetspan as ws
import xarray as xr
from wetspan import _core
from wetspan.record import airs_at

SITE, TURNS = "piedmont", 4
Columns = dict[str, npt.NDArray[Any]]


def drawn(count: int) -> Columns:
    """Return moments by day over two weeks, and two inputs that reach neither flight nor house."""
    random = np.random.default_rng(20260514)
    seconds = 86400 * random.integers(0, 14, count) + random.integers(7 * 3600, 17 * 3600, count)
    return {
        "time": np.datetime64("2026-05-04T00:00:00", "s") + seconds.astype("timedelta64[s]"),
        "uptake.cuticle": ws.Scenario()["uptake.cuticle"] * random.uniform(0.8, 1.25, count),
        "crop.half_amount": ws.Scenario()["crop.half_amount"] * random.uniform(0.8, 1.25, count),
    }


class InTheCore:
    """Counts the time in the core's call, while it is entered: of processors, and by the wall."""

    def __enter__(self) -> InTheCore:
        self.processor = self.wall = 0.0
        self._call = _core.simulate_rows

        def timed(*of: Any, **how: Any) -> Any:
            begin = time.process_time(), time.perf_counter()
            try:
                return self._call(*of, **how)
            finally:
                self.processor += time.process_time() - begin[0]
                self.wall += time.perf_counter() - begin[1]

        _core.simulate_rows = timed
        return self

    def __exit__(self, *_: object) -> None:
        _core.simulate_rows = self._call


def processor(call: Callable[[], object]) -> float:
    begin = time.process_time()
    call()
    return time.process_time() - begin


def wall(call: Callable[[], object]) -> float:
    begin = time.perf_counter()
    call()
    return time.perf_counter() - begin


def bits(result: xr.Dataset) -> str:
    """Return a digest of all numbers of a result."""
    digest = hashlib.sha256()
    for name in sorted(map(str, result.data_vars)):
        digest.update(result[name].values.tobytes())
    return digest.hexdigest()[:16]


def moments_of(season: xr.Dataset) -> Columns:
    """Return the moments of a season as rows."""
    return {"time": season["time_utc"].values.ravel()}


def events_of(
    scenario: ws.Scenario, weather: ws.Weather, rows: Columns, in_utc: bool = False
) -> tuple[Any, int]:
    """Return the rows' wet spans for the kernel alone, which begins when sprays have landed, and how many."""
    times = pd.DatetimeIndex(rows["time"])
    moments = times.tz_localize("UTC") if in_utc else weather.utc_of(times)[0]
    moments = moments.tz_convert(weather.tz)
    airs, air_of, starts = airs_at(scenario, weather, moments)
    return _core.LandedSprays(scenario._core, airs, air_of, starts), len(starts)


def costs(tolerance: float, weather: ws.Weather, count: int) -> None:
    """Print what an event of the kernel and rows of several kinds cost [us of one thread]."""
    each = ws.Scenario({"numerics.tolerance": tolerance})
    table = each.replace({"numerics.flights": "table"})
    rows = drawn(count)
    few = {name: values[: count // 4] for name, values in rows.items()}
    sizes = np.random.default_rng(1).uniform(0.8, 1.25, len(few["time"]))
    sprays = few | {"droplets.dv50": each["droplets.dv50"] * sizes}
    year = (
        "2026-01-01",
        "2026-12-31",
        [f"{hour:02d}:{minute}0" for hour in range(7, 17) for minute in (0, 3)],
    )
    ws.batch(table, rows, weather, threads=1)  # landings and the house's air are known from now on
    spans, number = events_of(table, weather, few)
    season = ws.season(table, weather, *year)
    in_season, _ = events_of(table, weather, moments_of(season), in_utc=True)
    found: dict[str, list[float]] = {name: [] for name in ("event", "batch", "flown", "of season", "season")}
    for _ in range(TURNS):
        found["event"].append(processor(spans.wet_times) / number)
        found["of season"].append(processor(in_season.wet_times) / season["wet_time"].size)
        found["batch"].append(processor(lambda: ws.batch(table, rows, weather, threads=1)) / count)
        found["season"].append(
            processor(lambda: ws.season(table, weather, *year, threads=1)) / season["wet_time"].size
        )
        flown = processor(lambda: ws.batch(each, sprays, weather, threads=1))
        found["flown"].append(flown / len(sizes))
    print(f"\ntolerance {tolerance:g}; of the season {ws.slow_rows(season)}\n")
    for name, what in {
        "event": "an event of the kernel, making it ready included",
        "batch": "a row of ws.batch",
        "flown": "a row of ws.batch with a spray of its own, flown",
        "of season": "an event of a season, a year from 7:00 to 16:30 by the half-hour",
        "season": "a row of ws.season; the ends of the residue add 7 % of rows",
    }.items():
        events = found["of season" if "season" in name else "event"]
        ratio = statistics.median(here / of for here, of in zip(found[name], events, strict=True))
        print(f"{1e6 * min(found[name]):9.2f} us  {ratio:6.3f} events  {what}")


def around(weather: ws.Weather, count: int) -> None:
    """Print what a row costs outside the core's call, which alone uses threads."""
    scenario = ws.Scenario({"numerics.tolerance": 1e-4, "numerics.flights": "table"})
    rows = drawn(count)
    ws.batch(scenario, rows, weather)
    outside = []
    for _ in range(TURNS):
        begin = time.process_time(), time.perf_counter()
        with InTheCore() as core:
            ws.batch(scenario, rows, weather)
        outside.append(
            (time.process_time() - begin[0] - core.processor, time.perf_counter() - begin[1] - core.wall)
        )
    used, waited = (1e6 * min(each) / count for each in zip(*outside, strict=True))
    print(
        f"\nin {count} rows, outside the core: {used:.2f} us a row of processor, {waited:.2f} us by the wall"
    )


def in_threads(weather: ws.Weather, count: int, threads: list[int]) -> None:
    """Print rows a second by number of threads."""
    scenario = ws.Scenario({"numerics.tolerance": 1e-4, "numerics.flights": "table"})
    rows = drawn(count)
    found = {many: bits(ws.batch(scenario, rows, weather, threads=many)) for many in threads}
    best = dict.fromkeys(threads, float("inf"))
    for _ in range(TURNS):
        for many in threads:
            best[many] = min(
                best[many],
                wall(lambda many=many: ws.batch(scenario, rows, weather, threads=many)),  # type: ignore[misc]
            )
    print(f"\nws.batch of {count} rows, tolerance 1e-4, landings from a table\n")
    for many in threads:
        ratio = best[threads[0]] / best[many] * threads[0]
        print(
            f"{many:3d} threads {count / best[many]:10.0f} rows/s  {ratio:6.2f} times one thread "
            f"({ratio / many:.0%}){'  same bits' if found[many] == found[threads[0]] else '  OTHER BITS'}"
        )


def house_year(weather: ws.Weather) -> Mapping[int, float]:
    """Return the processor time of a year of a house that was not followed before, by threads."""
    times = {}
    for i, threads in enumerate((1, 0)):
        house = ws.Scenario({"house.height": 4.0 + 0.001 * (1 + i)})
        begin = time.process_time(), time.perf_counter()
        ws.house_air(house, weather, "2026-01-01", "2026-12-31")
        times[threads] = time.process_time() - begin[0]
        print(f"{times[threads]:9.3f} s processor, {time.perf_counter() - begin[1]:.3f} s wall  a house-year")
    return times


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    reader.add_argument("--rows", type=int, default=40_000)
    reader.add_argument("--threads", default="1,2,4,8,16")
    asked = reader.parse_args()
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    threads = [many for many in map(int, asked.threads.split(",")) if many <= cores]
    print(f"wetspan {_core.__version__}, {platform.processor() or platform.machine()}, {cores} cores, "
          f"{_core.instructions()[-1]}")  # fmt: skip
    weather = ws.read_weather(SITE)
    in_threads(weather, asked.rows, threads)
    for tolerance in (1e-4, 1e-6):
        costs(tolerance, weather, asked.rows // 2)
    around(weather, 5 * asked.rows // 2)
    print()
    house_year(weather)


if __name__ == "__main__":
    main()
