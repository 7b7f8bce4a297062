"""The columns of a batch as they are given, and as they are read: inputs in SI, times, names of records."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from wetspan.errors import InputError, described
from wetspan.parameters import TABLE, row_of
from wetspan.scenario import Scenario
from wetspan.unit_columns import column

#: Columns by name: a dict, a DataFrame, a Dataset along one dimension.
Rows: TypeAlias = Mapping[str, Any] | pd.DataFrame | xr.Dataset
#: Columns that are no inputs.
ABOUT_ROWS = ("time", "time_utc", "weather")


class Plain(dict[str, Any]):
    """Columns that are read: inputs in SI, times, names of records."""


def in_dask(rows: Rows) -> bool:
    """Return whether Dask holds some of the columns."""
    if isinstance(rows, pd.DataFrame) or not isinstance(rows, Mapping | xr.Dataset):
        return False
    given = given_columns(rows).values()
    return any(hasattr(each.data if isinstance(each, xr.DataArray) else each, "dask") for each in given)


def given_columns(rows: Rows) -> dict[str, Any]:
    """Return the columns of rows as they were given, by name."""
    if not isinstance(rows, Mapping | pd.DataFrame | xr.Dataset):
        raise InputError(
            "rows are columns by name, a dict, a DataFrame or a Dataset, such as {'air.speed': [0.1, 0.3]}; "
            f"given {described(rows)}"
        )
    table: Any = rows
    names: list[Any] = list(table)
    if isinstance(rows, xr.Dataset):
        names += [name for name in rows.coords if name in ABOUT_ROWS or name in TABLE]
    return {str(name): table[name] for name in names}


def columns_of(scenario: Scenario, rows: Rows) -> tuple[dict[str, Any], int]:
    """Return the columns of rows by name, and how many rows there are."""
    read = isinstance(rows, Plain)
    given = given_columns(rows)
    _refuse_other_labels(given)
    columns = {name: values if read else _plain(scenario, name, values) for name, values in given.items()}
    for name, values in columns.items():
        if values.ndim != 1:
            raise InputError(f"{name} has {values.ndim} dimensions; a column has one")
    lengths = {name: len(values) for name, values in columns.items()}
    if not lengths:
        raise InputError("a batch needs columns, such as {'air.speed': [0.1, 0.3]}")
    if len(set(lengths.values())) > 1:
        told = ", ".join(f"{name} {length}" for name, length in lengths.items())
        raise InputError(f"the columns of a batch are not equally long: {told}")
    return columns, next(iter(lengths.values()))


def _refuse_other_labels(columns: Mapping[str, Any]) -> None:
    """Refuse labelled columns whose labels differ: put side by side, their rows would not belong together."""
    first: tuple[str, str, pd.Index[Any] | None] | None = None
    for name, values in columns.items():
        if isinstance(values, xr.DataArray) and values.ndim == 1:
            dim = str(values.dims[0])
            labels = values.indexes.get(values.dims[0])
        elif isinstance(values, pd.Series) and not values.index.equals(pd.RangeIndex(len(values))):
            dim, labels = "rows", values.index
        else:
            continue
        if first is None:
            first = (name, dim, labels)
            continue
        other, along, known = first
        if dim != along:
            raise InputError(
                f"{other} lies along '{along}' and {name} along '{dim}'; columns of a batch lie along one "
                "dimension, for all combinations use ws.sweep"
            )
        if (
            labels is not None
            and known is not None
            and len(labels) == len(known)
            and not labels.equals(known)
        ):
            row = int(np.flatnonzero(np.asarray(labels != known))[0])
            raise InputError(
                f"row {row} is '{known[row]}' in {other} and '{labels[row]}' in {name}; put the columns in "
                "one order first, for example with xarray.align or in one DataFrame"
            )


def _plain(scenario: Scenario, name: str, values: Any) -> Any:
    """Return a column without labels: of an input in the table's unit, of times with their zone."""
    if name not in ABOUT_ROWS:
        return np.atleast_1d(column(row_of(name), values, usual=scenario[name]))
    if isinstance(getattr(values, "dtype", None), pd.DatetimeTZDtype):
        return pd.DatetimeIndex(values)
    return np.atleast_1d(values.to_numpy() if hasattr(values, "to_numpy") else np.asarray(values))


def distinct_values(name: str, values: npt.NDArray[Any]) -> tuple[npt.NDArray[np.int64], Any]:
    """Return the position of each value among the distinct ones, and these; a missing value is refused."""
    codes, known = pd.factorize(values)
    if (codes < 0).any():
        raise InputError(f"{name}: row {int((codes < 0).argmax())} has no value")
    return np.asarray(codes, dtype=np.int64), known
