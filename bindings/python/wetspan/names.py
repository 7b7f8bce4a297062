"""Names of inputs in results: dotted keys, by section, and as the CF conventions allow them in files."""

from __future__ import annotations

import xarray as xr

from wetspan.errors import InputError

_KEY = "key"  # the attribute that tells a dotted name in a file


def sections(result: xr.Dataset) -> dict[str, xr.Dataset]:
    """Return the inputs that a result holds, by section: `["air"]["speed"]` is its "air.speed"."""
    found: dict[str, dict[str, xr.DataArray]] = {}
    for name, variable in _checked(result).variables.items():
        section, dot, own = str(name).partition(".")
        if dot:
            found.setdefault(section, {})[own] = xr.DataArray(variable)
    return {section: xr.Dataset(inputs) for section, inputs in found.items()}


def to_cf(result: xr.Dataset) -> xr.Dataset:
    """Return a result whose names have only letters, digits and underscores, for netCDF and Zarr.

    The CF conventions allow no dots: "air.speed" becomes air__speed, and its attribute `key` is the dotted
    name. `from_cf` restores the names: `ws.from_cf(xr.open_dataset(path))`. `ws.to_zarr` does both itself.
    """
    dotted = [str(name) for name in _checked(result).variables if "." in str(name)]
    renamed = result.rename({name: name.replace(".", "__") for name in dotted})
    for name in dotted:
        renamed[name.replace(".", "__")].attrs[_KEY] = name
    return renamed


def from_cf(dataset: xr.Dataset) -> xr.Dataset:
    """Return a Dataset that `to_cf` made, for example one read from a file, with its dotted names."""
    keys = {
        name: each.attrs[_KEY] for name, each in _checked(dataset).variables.items() if _KEY in each.attrs
    }
    taken = [key for name, key in keys.items() if name != key and key in dataset.variables]
    if taken:
        raise InputError(f"{taken[0]} is in this Dataset under two names; was it added after reading?")
    renamed = dataset.rename(keys)
    for name in keys.values():
        renamed[name].attrs = {what: told for what, told in renamed[name].attrs.items() if what != _KEY}
    return renamed


def _checked(given: xr.Dataset) -> xr.Dataset:
    if not isinstance(given, xr.Dataset):
        raise InputError(f"{type(given).__name__} is no Dataset, such as ws.batch and ws.sweep return")
    return given
