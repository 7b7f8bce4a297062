"""Numbers as people read them in sentences and tables."""

from __future__ import annotations

from typing import Any

import numpy as np

from wetspan.outcome import minutes
from wetspan.unit_choice import UnitChoice


def per_cent(share: float) -> str:
    """Return a share as whole per cent."""
    return f"{100.0 * share:.0f} %"


def per_cent_range(low: float, high: float) -> str:
    """Return two shares as a range of whole per cent."""
    same = per_cent(low) == per_cent(high)
    return per_cent(high) if same else f"{100.0 * low:.0f} to {per_cent(high)}"


def quantile(values: Any, level: float) -> float:
    return float(np.nanquantile(values, level, method="inverted_cdf"))


def clock_text(hour: float) -> str:
    return f"{int(hour):02d}:{round(60.0 * (hour % 1.0)):02d}"


def minutes_to_dry(minutes: float) -> str:
    return f"{minutes:.{0 if minutes >= 9.95 else 1}f}" if np.isfinite(minutes) else "not dry"


def minutes_cell(seconds: float) -> str:
    return minutes(seconds).split()[0] if np.isfinite(seconds) else "not dry"


def micrograms(milligrams: float) -> str:
    """Return a mass in ug, to three digits."""
    told = 1e3 * milligrams
    return f"{told:.{0 if told >= 100.0 else 1 if told >= 10.0 else 2}f}"


def warmth(units: UnitChoice, temperature: float) -> str:
    return f"{units.number(temperature - 273.15, 'degC'):.1f} {units.unit('degC')}"


def volume_text(units: UnitChoice, volume: float) -> str:
    return f"{units.number(volume, 'L/m^2'):.3f} {units.unit('L/m^2')}"


def of_draws(samples: int) -> str:
    return f"80 % of {samples} draws of the unknown inputs, most of them assumptions (grade D)"
