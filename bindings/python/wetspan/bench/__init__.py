"""One bench, plant by plant: why a crop is uneven, and what would make it more even.

The footprint of a nozzle moves along its path over the bench, which gives the map of the deposit. Every plant
is then computed with the deposit on its own crown, from split and wet time to uptake and growth. The core
computes this (study/bench.hpp). The modules here read the inputs of a bench (`inputs`), and present its
results as datasets (`spray`), in words and as a picture. See docs/science/bench.md.
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
