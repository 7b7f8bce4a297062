"""Values as JSON can hold them: what is infinite or not known is null."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr


def plain(value: Any) -> Any:
    """Return a number, a text or a truth value."""
    if isinstance(value, np.generic):
        value = value.item()
    return None if isinstance(value, float) and not math.isfinite(value) else value


def nested(values: Any) -> Any:
    """Return an array of numbers as a list, of lists where it has several dimensions."""
    return [nested(each) for each in values] if np.ndim(values) else plain(float(values))


def by_name(values: xr.DataArray) -> Any:
    """Return an array as a mapping along its first dimension; one without dimensions as its value."""
    if not values.ndim:
        return plain(values.item())
    along = values[values.dims[0]].values
    return {str(name): by_name(each) for name, each in zip(along, values, strict=True)}


def records(table: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows of a table."""
    return [{str(name): plain(value) for name, value in row.items()} for row in table.to_dict("records")]
