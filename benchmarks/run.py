"""Time the wet span's two paths against general-purpose integrators, on the same events, in one run.

    python benchmarks/run.py [--events 2048] [--quick] [--write]

See benchmarks/README.md for what is compared and what it needs.
"""

from __future__ import annotations

import argparse
import importlib
import importlib.metadata
import itertools
import os
import platform
import re
import subprocess
import sys
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "benchmarks.md"
SITES = ("piedmont", "miami")
TOLERANCES = (1e-4, 1e-6)
REFERENCE_TOLERANCE = 1e-12
AGREEMENT_TOLERANCE, AGREEMENT = 1e-9, 1e-6  # at which all have to find the same wet times, and how nearly
AGREEMENT_EVENTS = 4
ACCURACY = 1e-5  # of the wet time, at which solvers are compared whatever their tolerance
CORES = 2  # of the runs that tell how threads scale


@dataclass(frozen=True)
class Report:
    """One timed pass: seconds, evaluations of the right-hand side, the wet time of each event [s]."""

    seconds: float
    evaluations: float
    wet_times: Array


@dataclass
class Case:
    """A solver in the comparison; `run` takes a tolerance and a number of events."""

    name: str
    most_events: int
    run: Callable[[float, int], Report]
    threads: int = 1
    best: dict[float, Report] = field(default_factory=dict)

    def time(self, tolerance: float, events: int) -> None:
        report = self.run(tolerance, min(events, self.most_events))
        before = self.best.get(tolerance)
        if before is None or report.seconds < before.seconds:
            self.best[tolerance] = report


def say(text: str) -> None:
    """Progress, with the time of day."""
    print(f"{time.strftime('%H:%M:%S')}  {text}", file=sys.stderr, flush=True)


# --- programs and events ----------------------------------------------------------------------------------


def build(directory: Path) -> dict[str, str]:
    """Build the programs; return the versions of what they were built with."""
    say(f"build in {directory}")
    configure = ["cmake", "-S", str(ROOT / "benchmarks"), "-B", str(directory), "-DCMAKE_BUILD_TYPE=Release"]
    told = subprocess.run(configure, check=True, stdout=subprocess.PIPE, text=True).stdout
    subprocess.run(
        ["cmake", "--build", str(directory), "-j", str(os.cpu_count() or 1)],
        check=True,
        stdout=subprocess.DEVNULL,
    )
    return dict(re.findall(r"version of (\S+): (\S+)", told))


def write_weather(path: Path) -> None:
    """Write the weather outside, in the form that events.cpp reads."""
    import pandas as pd
    import wetspan as ws

    names = ("temperature", "relative_humidity", "pressure", "wind_speed", "shortwave")
    with path.open("wb") as file:
        for site in SITES:
            weather = ws.read_weather(site)
            local = pd.DatetimeIndex(weather.data.index).tz_convert(weather.tz)
            seconds = (local - local[0].normalize()).total_seconds().to_numpy()
            np.array([len(seconds)], dtype="<i8").tofile(file)
            for values in (seconds, *(weather.data[name].to_numpy() for name in names)):
                np.asarray(values, dtype="<f8").tofile(file)


def report_of(command: list[str]) -> Report:
    """Run a program and read its report."""
    told = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout.split()
    numbers = np.array(told, dtype=np.float64)
    return Report(float(numbers[0]), float(numbers[1]), numbers[2:])


@dataclass(frozen=True)
class Programs:
    """The C++ programs, over one file of events."""

    directory: Path
    events: Path

    def has(self, name: str) -> bool:
        return (self.directory / name).exists()

    def run(self, name: str, tolerance: float, first: int, last: int, *words: str) -> Report:
        numbers = (repr(tolerance), str(first), str(last))
        return report_of([str(self.directory / name), str(self.events), *numbers, *words])

    def solver(self, name: str, *words: str) -> Callable[[float, int], Report]:
        return lambda tolerance, events: self.run(name, tolerance, 0, events, *words)

    def lines(self, name: str, *words: str) -> list[str]:
        command = [str(self.directory / name), *words]
        return subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout.splitlines()


# --- cases ------------------------------------------------------------------------------------------------


def python_case(name: str, module: str, most_events: int, path: Path) -> Case | None:
    """Return the case of a rival in Python, or None, with a message, where a library of its is missing."""
    try:
        solver = importlib.import_module(module)
        equations = importlib.import_module("equations")
    except ImportError as error:
        say(f"without {name}: {error.name} is not installed")
        return None

    def run(tolerance: float, events: int) -> Report:
        return Report(*solver.run(list(equations.read_events(path, events)), tolerance))

    return Case(name, most_events, run)


def all_cases(programs: Programs, many: int) -> list[Case]:
    """Return what is compared; a slow solver runs on the first of the events only, `many` at most."""
    found = [
        python_case("SciPy RK45", "with_scipy", 16, programs.events),
        python_case("numba RK45", "with_numba", 256, programs.events),
    ]
    cases = [case for case in found if case is not None]
    if programs.has("with_cvode"):
        cases.append(Case("CVODE BDF", 64, programs.solver("with_cvode", "bdf")))
        cases.append(Case("CVODE Adams", 512, programs.solver("with_cvode", "adams")))
    else:
        say("without CVODE: SUNDIALS 6 was not found (Debian: libsundials-dev)")
    cases.append(Case("Odeint dopri5, plainly used", 512, programs.solver("with_odeint")))
    cases.append(Case("wetspan, reference path", 512, programs.solver("with_wetspan", "reference")))
    for instructions in programs.lines("with_wetspan", "instructions"):
        for lanes, threads in (("one", 1), ("full", 1), ("full", CORES)):
            if threads > (os.cpu_count() or 1):
                continue
            width = "one lane" if lanes == "one" else "all lanes"
            also = f", {threads} threads" if threads > 1 else ""
            words = ("clock", instructions, lanes, str(threads))
            cases.append(
                Case(
                    f"wetspan, clock path, {instructions}, {width}{also}",
                    many,
                    programs.solver("with_wetspan", *words),
                    threads=threads,
                )
            )
    return cases


def deviations(report: Report, reference: Array) -> Array:
    """Return the relative errors of the wet times that were found."""
    errors = np.abs(report.wet_times / reference[: report.wet_times.size] - 1.0)
    found: Array = errors[~np.isnan(report.wet_times)]
    return found


def check_agreement(cases: Iterable[Case], programs: Programs, events: int) -> None:
    """Refuse to time anything that solves another problem than the library."""
    reference = programs.run("with_wetspan", REFERENCE_TOLERANCE, 0, events, "reference").wet_times
    for case in cases:
        if case.threads > 1:
            continue
        worst = deviations(case.run(AGREEMENT_TOLERANCE, events), reference).max(initial=0.0)
        say(f"{case.name}: within {worst:.1e} of the reference at {AGREEMENT_TOLERANCE:g}")
        if not worst < AGREEMENT:
            raise SystemExit(f"{case.name} solves other equations: its wet times differ by {worst:.1e}")


def reference_times(programs: Programs, events: int) -> Array:
    """Return the wet times by the library's reference path at its tightest tolerance, in two processes."""
    say(f"reference wet times of {events} events at {REFERENCE_TOLERANCE:g}")
    edges = np.linspace(0, events, CORES + 1).astype(int).tolist()
    with ThreadPoolExecutor(CORES) as pool:
        parts = pool.map(
            lambda span: programs.run("with_wetspan", REFERENCE_TOLERANCE, *span, "reference"),
            itertools.pairwise(edges),
        )
        return np.concatenate([part.wet_times for part in parts])


# --- the page ---------------------------------------------------------------------------------------------


def quickest_clock(cases: Iterable[Case], tolerance: float) -> Case:
    """Return the clock path as it runs on one thread of this machine."""
    clocks = [case for case in cases if "clock" in case.name and case.threads == 1]
    return min(clocks, key=lambda case: per_event(case, tolerance))


def per_event(case: Case, tolerance: float) -> float:
    """Return the time of an event [us]."""
    report = case.best[tolerance]
    return 1e6 * report.seconds / report.wet_times.size


def table(cases: list[Case], tolerance: float, reference: Array) -> list[str]:
    """Return the comparison at one tolerance."""
    clock = quickest_clock(cases, tolerance)
    lines = [
        f"## Relative tolerance {tolerance:g}",
        "",
        "| solver | events | us per event | evaluations per event | largest error | 99 % of errors below | "
        "times the clock path |",
        "|---|--:|--:|--:|--:|--:|--:|",
    ]
    for case in cases:
        report = case.best[tolerance]
        errors = deviations(report, reference)
        ratio = per_event(case, tolerance) / per_event(clock, tolerance)
        missing = report.wet_times.size - errors.size
        name = case.name if missing == 0 else f"{case.name} ({missing} left to the reference path)"
        lines.append(
            f"| {name} | {report.wet_times.size} | {per_event(case, tolerance):.4g} | "
            f"{report.evaluations / report.wet_times.size:.0f} | {errors.max():.1e} | "
            f"{usual_error(case, tolerance, reference):.1e} | {ratio:.3g} |"
        )
    return [*lines, ""]


def usual_error(case: Case, tolerance: float, reference: Array) -> float:
    """Return the error of the wet time below which 99 % of the events are."""
    return float(np.quantile(deviations(case.best[tolerance], reference), 0.99))


def at_equal_accuracy(cases: list[Case], reference: Array) -> list[str]:
    """Return what an event costs at one accuracy: tolerances mean different errors to different solvers."""
    costs: dict[str, float] = {}
    for case in cases:
        if case.threads > 1:
            continue
        errors = np.log([usual_error(case, tolerance, reference) for tolerance in TOLERANCES])
        times = np.log([per_event(case, tolerance) for tolerance in TOLERANCES])
        slope = (times[-1] - times[0]) / (errors[-1] - errors[0])
        costs[case.name] = float(np.exp(times[0] + slope * (np.log(ACCURACY) - errors[0])))
    clock = min(cost for name, cost in costs.items() if "clock" in name)
    return [
        f"## At equal accuracy: 99 % of wet times within {ACCURACY:g}",
        "",
        "On the straight line, in logarithms, through the two tolerances above.",
        "",
        "| solver | us per event | times the clock path |",
        "|---|--:|--:|",
        *(f"| {name} | {cost:.4g} | {cost / clock:.3g} |" for name, cost in costs.items()),
        "",
    ]


def scaling(cases: list[Case]) -> list[str]:
    """Return how two threads scale."""
    lines = []
    for several in (case for case in cases if case.threads > 1):
        alone = next(case for case in cases if several.name == f"{case.name}, {several.threads} threads")
        for tolerance in TOLERANCES:
            gain = per_event(alone, tolerance) / per_event(several, tolerance)
            lines.append(
                f"- {alone.name}, {tolerance:g}: {several.threads} threads are {gain:.2f} times as fast, "
                f"{gain / several.threads:.0%} of proportional."
            )
    return ["## Threads", "", *lines, ""] if lines else []


def peak(programs: Programs) -> list[str]:
    """Return the multiply-add peak of one core."""
    measured = [line.split() for line in programs.lines("peak")]
    rows = [f"| {name} | {rate} |" for name, rate in measured]
    return [
        "## Multiply-add peak of one core, measured",
        "",
        "| instructions | GFLOP/s |",
        "|---|--:|",
        *rows,
        "",
    ]


def machine(versions: dict[str, str]) -> str:
    """Return what it was measured on and with."""
    model = platform.processor() or platform.machine()
    cpuinfo = Path("/proc/cpuinfo")
    if cpuinfo.exists() and (found := re.search(r"model name\s*: (.*)", cpuinfo.read_text())):
        model = found[1]
    with_versions = dict(versions) | {"Python": platform.python_version()}
    for package in ("numpy", "scipy", "numba", "wetspan"):
        try:
            with_versions[package] = importlib.metadata.version(package)
        except importlib.metadata.PackageNotFoundError:
            continue
    told = ", ".join(f"{name} {version}" for name, version in with_versions.items())
    return f"{model}, {os.cpu_count()} cores, {platform.system()}; {told}. {datetime.now(UTC):%Y-%m-%d}."


def page(cases: list[Case], reference: Array, programs: Programs, about: str, made: str) -> str:
    """Return docs/benchmarks.md."""
    lines = [
        "# Benchmarks",
        "",
        "Written by `python benchmarks/run.py --write`; what is compared and how is in",
        "[benchmarks/README.md](../benchmarks/README.md).",
        "",
        f"- Machine: {about}",
        f"- Events: {made}",
        "- Time of an event: processor time of the thread; wall time with more threads than one. The best of",
        "  the rounds of one run, the solvers taking turns.",
        "- Error: of the time until leaves are dry, relative to the library's reference path at a tolerance",
        "  of 1e-12.",
        "- Evaluations of the reference path: six for each accepted step; refused ones are not counted.",
        "",
    ]
    for tolerance in TOLERANCES:
        lines += table(cases, tolerance, reference)
    lines += at_equal_accuracy(cases, reference) + scaling(cases) + peak(programs)
    return "\n".join(lines).rstrip() + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--events", type=int, default=2048, help="number of events (2048)")
    parser.add_argument("--quick", action="store_true", help="at most 64 events, one round: does it work?")
    parser.add_argument("--write", action="store_true", help=f"write {PAGE.relative_to(ROOT)}")
    parser.add_argument("--build", type=Path, default=ROOT / "build" / "benchmarks", help="where to build")
    options = parser.parse_args()
    if options.events < AGREEMENT_EVENTS:
        parser.error(f"--events {options.events}: at least {AGREEMENT_EVENTS} are needed")
    events, rounds = (min(64, options.events), 1) if options.quick else (options.events, 3)
    try:
        importlib.import_module("wetspan")
    except ImportError:
        raise SystemExit("run.py reads its weather with wetspan: pip install . first") from None

    directory = options.build.resolve()
    versions = build(directory)
    programs = Programs(directory, directory / "events.bin")
    write_weather(directory / "outdoor.bin")
    say(f"draw {events} events")
    made = programs.lines("events", str(directory / "outdoor.bin"), str(programs.events), str(events))[0]
    say(made)

    cases = all_cases(programs, events)
    check_agreement(cases, programs, AGREEMENT_EVENTS)
    reference = reference_times(programs, events)
    for round_ in range(1, rounds + 1):
        for tolerance in TOLERANCES:
            for case in cases:
                say(f"round {round_} of {rounds}, {tolerance:g}: {case.name}")
                case.time(tolerance, events)
    text = page(cases, reference, programs, machine(versions), made)
    print(text)
    if options.write:
        PAGE.write_text(text, encoding="utf-8")
        say(f"wrote {PAGE}")


if __name__ == "__main__":
    main()
