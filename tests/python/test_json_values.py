"""Values as JSON can hold them."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from wetspan.json_values import by_name, nested, plain, records


@pytest.mark.parametrize("value", [np.inf, -np.inf, np.nan, np.float64("nan"), np.float32("inf")])
def test_what_is_infinite_or_not_known_is_null(value):
    assert plain(value) is None


@pytest.mark.parametrize("value", [np.float64(1.5), np.int64(3), np.bool_(True), np.str_("dry"), "dry", None])
def test_other_values_stay(value):
    assert plain(value) == value
    json.dumps(plain(value), allow_nan=False)


def test_arrays_are_lists_and_mappings():
    assert nested(np.array([[1.0, np.nan], [np.inf, 2.0]])) == [[1.0, None], [None, 2.0]]
    uptake = xr.DataArray(
        [[1.0, np.nan], [3.0, 4.0]], {"site": ["leaf", "root"], "day": [0, 1]}, ("site", "day")
    )
    assert by_name(uptake) == {"leaf": {"0": 1.0, "1": None}, "root": {"0": 3.0, "1": 4.0}}
    assert by_name(uptake[0, 1]) is None


def test_tables_are_rows():
    table = pd.DataFrame({"plant": ["a", "b"], "height": [12.5, np.nan], "measured": [True, False]})
    assert records(table) == [
        {"plant": "a", "height": 12.5, "measured": True},
        {"plant": "b", "height": None, "measured": False},
    ]
