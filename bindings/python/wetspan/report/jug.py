"""A jug of product in tables: what is afloat while it stands, and what its pours deliver."""

from __future__ import annotations

import pandas as pd
import xarray as xr
from rich.table import Table

from wetspan.jug import SHAKING
from wetspan.report.tables import table


def afloat_table(jug: xr.Dataset) -> Table:
    """Return the share of each component that is afloat, on some nine of the days."""
    days, names = float(jug["day"][-1]), jug["component"].values
    made = table("day*", *(f"{name}\nafloat, %*" for name in names))
    for day in sorted({*range(0, int(days) + 1, max(1, round(days / 8))), int(days)}):
        at = jug.sel(day=day, method="nearest")
        shares = (100 * float(at["afloat"].sel(component=name)) for name in names)
        made.add_row(f"{float(at['day']):g}", *(f"{share:.0f}" for share in shares))
    return made


def pours_table(poured: pd.DataFrame) -> Table:
    """Return what each pour delivers, in per cent of the label."""
    made = table("pour*", *(f"{case}*" for case in SHAKING))
    for pour, row in enumerate(poured[list(SHAKING)].itertuples(index=False), start=1):
        made.add_row(str(pour), *(f"{100 * value:.0f}" for value in row))
    return made
