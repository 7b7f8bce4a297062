"""Across the bench: why one bench of a crop comes out uneven, and what would make it more even.

A nozzle's pattern is carried along its path over the bench (the deposit map); every plant is then computed
through split, wet time, uptake and growth with what fell on its own crown. The core computes it
(study/bench.hpp); here is what a bench is asked for (`inputs`), and what became of it as datasets (`spray`),
in words and as a picture. See docs/science/bench.md.
"""

from wetspan.bench.inputs import BENCH_INPUTS
from wetspan.bench.spray import BenchResult, Evenness, Lever, spray_bench
from wetspan.bench.words import bench_document, bench_report

__all__ = [
    "BENCH_INPUTS",
    "BenchResult",
    "Evenness",
    "Lever",
    "bench_document",
    "bench_report",
    "spray_bench",
]
