"""Results in sentences and tables, with the usual cautions.

There is one module each for sprays (`outcome`), days of spray times (`day`), seasons (`season`) and
uncertainty (`uncertainty`); `numbers` formats numbers. The words of benches, trials and measurements are in
their packages.
"""

from wetspan.report.day import advice, advised, clocks, day_document, day_table
from wetspan.report.numbers import per_cent, per_cent_range
from wetspan.report.outcome import (
    air_when_sprayed,
    outcome_document,
    outcome_table,
    what_is_sprayed,
    what_it_comes_to,
    where_it_lands,
)
from wetspan.report.season import season_advised, season_document, season_table
from wetspan.report.uncertainty import uncertainty_document, uncertainty_tables, uncertainty_told

__all__ = [
    "advice",
    "advised",
    "air_when_sprayed",
    "clocks",
    "day_document",
    "day_table",
    "outcome_document",
    "outcome_table",
    "per_cent",
    "per_cent_range",
    "season_advised",
    "season_document",
    "season_table",
    "uncertainty_document",
    "uncertainty_tables",
    "uncertainty_told",
    "what_is_sprayed",
    "what_it_comes_to",
    "where_it_lands",
]
