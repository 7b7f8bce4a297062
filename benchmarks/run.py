"""Time the wet span's two paths against general-purpose integrators, on the same events, in one run.

    python benchmarks/run.py [--events 2048] [--quick] [--write]

See benchmarks/README.md for what is compared and what it needs.
"""

from __future__ import annotations

import argparse
import importlib
import importlib.metadata
import itertools
import json
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
WHERE_THE_TIME_GOES = ROOT / "benchmarks" / "where_the_time_goes.md"  # put into the page where it exists
BEFORE_AND_AFTER = ROOT / "benchmarks" / "before_and_after.md"  # measured by hand, put at the page's end
SITES = ("piedmont", "miami")
TOLERANCES = (1e-4, 1e-6)
REFERENCE_TOLERANCE = 1e-12
AGREEMENT_TOLERANCE, AGREEMENT = 1e-9, 1e-6  # at which all have to find the same wet times, and how nearly
AGREEMENT_EVENTS = 4
ACCURACY = 1e-5  # of the wet time, at which solvers are compared whatever their tolerance
CORES = 2  # of the runs that tell how threads scale
THREAD_ROUNDS = 7  # of one thread and several, taking turns
PRODUCT_ROWS = 100_000
ODEINT, NUMBA, SCIPY = "Odeint dopri5, plainly used", "numba RK45", "SciPy RK45"
CVODE = ("CVODE BDF", "CVODE Adams")


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
    best: dict[float, Report] = field(default_factory=dict)

    def time(self, tolerance: float, events: int) -> None:
        report = self.run(tolerance, min(events, self.most_events))
        before = self.best.get(tolerance)
        if before is None or report.seconds < before.seconds:
            self.best[tolerance] = report


def short(tolerance: float) -> str:
    """Return a tolerance as it is written: 1e-4."""
    return np.format_float_scientific(tolerance, trim="-", exp_digits=1)


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


def clock_name(instructions: str, lanes: str) -> str:
    """Return the name of a case of the clock path; `lanes` is "one" or "full"."""
    return f"wetspan, clock path, {instructions}, {'one lane' if lanes == 'one' else 'all lanes'}"


def all_cases(programs: Programs, many: int) -> list[Case]:
    """Return what is compared; a slow solver runs on the first of the events only, `many` at most."""
    found = [
        python_case(SCIPY, "with_scipy", 16, programs.events),
        python_case(NUMBA, "with_numba", 256, programs.events),
    ]
    cases = [case for case in found if case is not None]
    if programs.has("with_cvode"):
        cases.append(Case(CVODE[0], 64, programs.solver("with_cvode", "bdf")))
        cases.append(Case(CVODE[1], 512, programs.solver("with_cvode", "adams")))
    else:
        say("without CVODE: SUNDIALS 6 was not found (Debian: libsundials-dev)")
    cases.append(Case(ODEINT, 512, programs.solver("with_odeint")))
    cases.append(Case("wetspan, reference path", 512, programs.solver("with_wetspan", "reference")))
    for instructions in programs.lines("with_wetspan", "instructions"):
        for lanes in ("one", "full"):
            words = ("clock", instructions, lanes, "1")
            cases.append(Case(clock_name(instructions, lanes), many, programs.solver("with_wetspan", *words)))
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
    clocks = [case for case in cases if "clock" in case.name]
    return min(clocks, key=lambda case: per_event(case, tolerance))


def per_event(case: Case, tolerance: float) -> float:
    """Return the time of an event [us]."""
    report = case.best[tolerance]
    return 1e6 * report.seconds / report.wet_times.size


def table(cases: list[Case], tolerance: float, reference: Array) -> list[str]:
    """Return the comparison at one tolerance."""
    clock = quickest_clock(cases, tolerance)
    lines = [
        f"## Relative tolerance {short(tolerance)}",
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


@dataclass(frozen=True)
class Besides:
    """What is measured beside the cases, at one tolerance."""

    threads: float  # how many times as fast CORES threads are; NaN on a machine of fewer
    operations: dict[str, float]  # of an event, by kind
    product: dict[str, float]  # seconds: see product.py
    product_kernel: float  # the kernel alone on events of the product's kind [s]


def best_clock(programs: Programs, tolerance: float, events: int, threads: int = 1) -> Report:
    """Run the clock path with the fastest instructions."""
    instructions = programs.lines("with_wetspan", "instructions")[-1]
    return programs.run("with_wetspan", tolerance, 0, events, "clock", instructions, "full", str(threads))


def measure_besides(
    programs: Programs, moments: Programs, tolerance: float, events: int, rows: int
) -> Besides:
    """Measure threads, operations and the product path at one tolerance."""
    gain = float("nan")
    if (os.cpu_count() or 1) >= CORES:
        say(f"{tolerance:g}: one thread and {CORES}")
        alone, several = [], []
        for _ in range(THREAD_ROUNDS):
            alone.append(best_clock(programs, tolerance, events).seconds)
            several.append(best_clock(programs, tolerance, events, CORES).seconds)
        gain = min(alone) / min(several)
    say(f"{tolerance:g}: operations")
    counted = programs.lines("count_operations", str(programs.events), repr(tolerance), "0", str(events))
    operations = {kind: float(number) for kind, number in map(str.split, counted)}
    say(f"{tolerance:g}: {rows} rows from Python")
    before = best_clock(moments, tolerance, events)
    command = [sys.executable, str(ROOT / "benchmarks" / "product.py"), repr(tolerance), str(rows)]
    product = json.loads(subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout)
    after = best_clock(moments, tolerance, events)
    return Besides(gain, operations, product, min(before.seconds, after.seconds) / events)


def product_table(besides: dict[float, Besides]) -> list[str]:
    """Return what a row costs from Python."""
    lines = [
        "## From Python",
        "",
        "Rows of the default spray at moments by day over the same years, `uptake.cuticle` and",
        "`crop.half_amount` varying; one thread. The kernel's events are of the same kind; single sprays",
        "are in unchanging air.",
        "",
        f"| | {' | '.join(f'us at {short(tolerance)}' for tolerance in TOLERANCES)} |",
        "|---|--:|--:|",
    ]

    def row(what: str, of: Callable[[Besides], float]) -> None:
        lines.append(f"| {what} | {' | '.join(f'{1e6 * of(besides[each]):.4g}' for each in TOLERANCES)} |")

    first = besides[TOLERANCES[0]].product
    row("an event by the kernel alone, all lanes", lambda each: each.product_kernel)
    row(
        f'a row of {first["rows"]:.0f} by `ws.batches`, `flights="table"`, the house\'s air known',
        lambda each: each.product["air_known"],
    )
    row("the same by `ws.batch`, with both years of the house's air", lambda each: each.product["batch"])
    row(f'a row of {first["each_rows"]:.0f}, `flights="each"`, air known', lambda each: each.product["each"])
    row("`ws.simulate`, the first of its spray", lambda each: each.product["cold"])
    row("`ws.simulate`, repeated", lambda each: each.product["warm"])
    figures = [besides[tolerance].product for tolerance in TOLERANCES]
    left_out = ", ".join(f"{each['drawn'] - each['rows']:.0f}" for each in figures)
    return [*lines, "", f"Rows left out because of dew, or wet to the end: {left_out}.", ""]


def peaks(programs: Programs) -> dict[str, float]:
    """Return the multiply-add peak of one core by instructions [GFLOP/s]."""
    say("multiply-add peak")
    return {name: float(rate) for name, rate in map(str.split, programs.lines("peak"))}


def shares_of_peak(
    cases: list[Case], besides: dict[float, Besides], rates: dict[str, float], tolerance: float
) -> tuple[float, float]:
    """Return what share of the multiply-add peak the AVX-512 clock path reaches: operations, instructions."""
    case = next((case for case in cases if case.name == clock_name("avx512", "full")), None)
    if case is None or "avx512" not in rates:
        return float("nan"), float("nan")
    seconds, rate = 1e-6 * per_event(case, tolerance), 1e9 * rates["avx512"]
    operations = besides[tolerance].operations
    return operations["floating-point"] / seconds / rate, operations["issued"] / seconds / (rate / 2.0)


def peak_table(cases: list[Case], besides: dict[float, Besides], rates: dict[str, float]) -> list[str]:
    """Return the multiply-add peak of one core, and what share of it the clock path reaches."""
    lines = [
        "## Multiply-add peak of one core",
        "",
        "| instructions | GFLOP/s, measured |",
        "|---|--:|",
        *(f"| {name} | {rate:.4g} |" for name, rate in rates.items()),
        "",
        "Operations of an event in its lane, counted by compiling the kernel with numbers that count. Making",
        "an event ready is in the time and not in the count; what a lane does for its neighbours' sake is",
        "not counted.",
        "",
        f"| | {' | '.join(map(short, TOLERANCES))} |",
        "|---|--:|--:|",
    ]
    for kind in besides[TOLERANCES[0]].operations:
        told = {
            "floating-point": "**floating-point operations** (a multiply-add is two; no comparisons)",
            "issued": "**vector operations** (each of the kinds is one)",
            "comparisons": "comparisons, largest and smallest",
            "square-roots": "square roots",
        }.get(kind, kind)
        numbers = " | ".join(f"{besides[tolerance].operations[kind]:.0f}" for tolerance in TOLERANCES)
        lines.append(f"| {told} | {numbers} |")
    shares = [shares_of_peak(cases, besides, rates, tolerance) for tolerance in TOLERANCES]
    for what, of_peak in zip(("floating-point", "vector"), zip(*shares, strict=True), strict=True):
        cells = " | ".join(f"{share:.0%}" for share in of_peak)
        lines.append(f"| {what} operations over those of the peak, AVX-512 | {cells} |")
    return [*lines, ""]


def aims_table(
    cases: list[Case], besides: dict[float, Besides], rates: dict[str, float], reference: Array
) -> list[str]:
    """Return what was aimed at beside what was measured."""
    by_name = {case.name: case for case in cases}
    lines = [
        "## Aims",
        "",
        f"| | aim | {' | '.join(f'measured at {short(tolerance)}' for tolerance in TOLERANCES)} |",
        "|---|---|--:|--:|",
    ]

    def row(what: str, of: Callable[[float], float], form: str, *aims: float, at_most: bool = False) -> None:
        """Add a line; of several aims there is one for each tolerance."""
        cells = []
        for tolerance, aim in zip(TOLERANCES, itertools.cycle(aims), strict=False):
            value = of(tolerance)
            reached = value <= aim if at_most else value >= aim
            told = f"{value:{form}}" + ("" if reached else ", not reached")
            cells.append("not measured" if np.isnan(value) else told)
        bound = "at most" if at_most else "at least"
        lines.append(
            f"| {what} | {bound} {', '.join(f'{aim:{form}}' for aim in aims)} | {' | '.join(cells)} |"
        )

    def times_clock(*names: str) -> Callable[[float], float]:
        return lambda tolerance: (
            min(
                (per_event(by_name[name], tolerance) for name in names if name in by_name),
                default=float("nan"),
            )
            / per_event(quickest_clock(cases, tolerance), tolerance)
        )

    def times_one_lane(instructions: str) -> Callable[[float], float]:
        one, full = (by_name.get(clock_name(instructions, lanes)) for lanes in ("one", "full"))
        if one is None or full is None:
            return lambda tolerance: float("nan")
        return lambda tolerance: per_event(one, tolerance) / per_event(full, tolerance)

    def error(tolerance: float) -> float:
        case = quickest_clock(cases, tolerance)
        return float(deviations(case.best[tolerance], reference).max())

    def times_kernel(figure: str) -> Callable[[float], float]:
        return lambda tolerance: besides[tolerance].product[figure] / besides[tolerance].product_kernel

    def share_of_peak(tolerance: float) -> float:
        return shares_of_peak(cases, besides, rates, tolerance)[0]

    row("clock path, times as fast as plain Odeint", times_clock(ODEINT), ".0f", 60)
    row("as CVODE, the faster of its methods", times_clock(*CVODE), ".0f", 120)
    row("as numba", times_clock(NUMBA), ".0f", 250)
    row("as SciPy", times_clock(SCIPY), ".0f", 5000)
    row("8 lanes, times one lane of the same instructions", times_one_lane("avx512"), ".2f", 5.5)
    row("4 lanes, likewise", times_one_lane("avx2"), ".2f", 3.5)
    row(f"{CORES} threads, of proportional", lambda each: besides[each].threads / CORES, ".1%", 0.95)
    row("floating-point operations over the multiply-add peak", share_of_peak, ".0%", 0.5)
    row("largest error of the wet time", error, ".1e", 1e-5, 2e-6, at_most=True)
    row(
        "a row by `ws.batches`, times the kernel's event", times_kernel("air_known"), ".2f", 1.5, at_most=True
    )
    row("by `ws.batch`, the house's air included", times_kernel("batch"), ".2f", 1.5, at_most=True)
    return [*lines, ""]


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


def page(
    cases: list[Case],
    besides: dict[float, Besides],
    rates: dict[str, float],
    reference: Array,
    about: str,
    made: str,
) -> str:
    """Return docs/benchmarks.md."""
    lines = [
        "# Benchmarks",
        "",
        "Written by `python benchmarks/run.py --write`; what is compared and how is in",
        "`benchmarks/README.md`. The numbers hold for the state of the date below; measure on a machine of",
        "your own before you rely on a ratio. What has become faster or slower since is told "
        "[at the end](#before-and-after).",
        "",
        f"- Machine: {about}",
        f"- Events: {made}",
        "- Time of an event: processor time of the thread; the clock path's includes making it ready. The",
        "  best of the rounds of one run, the solvers taking turns.",
        f"- Threads: wall time of {CORES} over the time of one, each the best of {THREAD_ROUNDS} turns.",
        "- Error: of the time until leaves are dry, relative to the library's reference path at a tolerance",
        "  of 1e-12.",
        "- Evaluations of the reference path: six for each accepted step; refused ones are not counted.",
        "",
        *aims_table(cases, besides, rates, reference),
    ]
    if WHERE_THE_TIME_GOES.exists():
        lines += [WHERE_THE_TIME_GOES.read_text(encoding="utf-8").strip(), ""]
    for tolerance in TOLERANCES:
        lines += table(cases, tolerance, reference)
    lines += at_equal_accuracy(cases, reference)
    lines += product_table(besides) + peak_table(cases, besides, rates)
    lines += ["", BEFORE_AND_AFTER.read_text(encoding="utf-8").strip()]
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
    events, rounds, rows = options.events, 3, PRODUCT_ROWS
    if options.quick:
        events, rounds, rows = min(64, options.events), 1, 2000
    try:
        importlib.import_module("wetspan")
    except ImportError:
        raise SystemExit("run.py reads its weather with wetspan: pip install . first") from None

    directory = options.build.resolve()
    versions = build(directory)
    programs = Programs(directory, directory / "events.bin")
    moments = Programs(directory, directory / "moments.bin")  # of one spray, as the rows from Python
    write_weather(directory / "outdoor.bin")
    say(f"draw {events} events")
    weather = str(directory / "outdoor.bin")
    made = programs.lines("events", weather, str(programs.events), str(events))[0]
    moments.lines("events", weather, str(moments.events), str(events), "moments")
    say(made)

    cases = all_cases(programs, events)
    check_agreement(cases, programs, AGREEMENT_EVENTS)
    reference = reference_times(programs, events)
    for round_ in range(1, rounds + 1):
        for tolerance in TOLERANCES:
            for case in cases:
                say(f"round {round_} of {rounds}, {tolerance:g}: {case.name}")
                case.time(tolerance, events)
    besides = {each: measure_besides(programs, moments, each, events, rows) for each in TOLERANCES}
    text = page(cases, besides, peaks(programs), reference, machine(versions), made)
    print(text)
    if options.write:
        PAGE.write_text(text, encoding="utf-8")
        say(f"wrote {PAGE}")


if __name__ == "__main__":
    main()
