"""Which sprays the full system followed, and why; it takes a hundred times as long as the clock path."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt
import xarray as xr

from wetspan import _core
from wetspan.errors import only_for

#: Why the full system followed a spray, by code; "" of those on the droplets' clocks.
REASONS: tuple[str, ...] = _core.refusal_names
#: Sprays without liquid on leaves, drenches, take no time on either path.
_NOTHING_WET = "no liquid on leaves"


def flags() -> dict[str, object]:
    """Return the attributes of codes under the CF conventions."""
    return {
        "long_name": "why the full system followed the wet span",
        "flag_values": np.arange(len(REASONS), dtype=np.int8),
        "flag_meanings": " ".join(each.replace(",", "").replace(" ", "_") or "none" for each in REASONS),
    }


def count(codes: npt.NDArray[np.int8]) -> dict[str, int]:
    """Return how many sprays the full system followed, by reason, the most frequent first."""
    found = np.bincount(codes.ravel(), minlength=len(REASONS))
    several = {
        why: int(n) for why, n in zip(REASONS, found, strict=True) if n and why not in ("", _NOTHING_WET)
    }
    return dict(sorted(several.items(), key=lambda each: -each[1]))


def told(slow: Mapping[str, int], rows: int) -> str:
    """Return counts by reason in words, of so many rows."""
    why = ", ".join(f"{reason} {n}" for reason, n in slow.items())
    return f"{sum(slow.values())} of {rows} rows" + (f": {why}" if why else "")


def slow_rows(result: xr.Dataset) -> str:
    """Return as text how many rows of a batch or season the full system followed, and why.

    An example is "12 of 2016 rows: dew, or the like, on the way 12". Such a row takes a hundred times as long
    as one on the droplets' clocks, or longer. For a lazy Dataset or a store, the rows are computed or read
    when this is called. For the draws of a season only their number is known (`slow_draws`), not the reasons.
    """
    only_for("slow_rows is for the Dataset of ws.batch or ws.season", result, xr.Dataset, "path_reason")
    codes = result["path_reason"].values
    return told(count(codes), codes.size)
