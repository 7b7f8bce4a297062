"""Dotted names of inputs: by section, and in files."""

import pytest
import wetspan as ws
import xarray as xr
from refusal import refused


@pytest.fixture(scope="module")
def batch(quick) -> xr.Dataset:
    return ws.batch(
        quick, {"air.speed": [0.1, 0.3], "air.temperature": [290.0, 300.0], "leaf.width": [0.03, 0.04]}
    )


def test_inputs_by_section(quick, batch):
    found = ws.sections(batch)
    assert set(found) == {"air", "leaf"}
    assert found["air"]["speed"].values.tolist() == [0.1, 0.3]
    assert found["air"]["speed"].attrs == batch["air.speed"].attrs
    assert found["leaf"]["width"].dims == ("row",)
    swept = ws.sweep(quick, {"air.speed": [0.1, 0.2], "leaf.width": [0.03]})
    assert ws.sections(swept)["air"]["speed"].values.tolist() == [0.1, 0.2]
    refused(lambda: ws.sections(batch["wet_time"]), "is no Dataset")


@pytest.mark.parametrize("kind", ["batch", "sweep"])
def test_files_hold_names_that_cf_allows_and_give_back_the_dotted_ones(kind, quick, batch, tmp_path):
    pytest.importorskip("netCDF4")
    result = batch if kind == "batch" else ws.sweep(quick, {"air.speed": [0.1, 0.2], "leaf.width": [0.03]})
    written = ws.to_cf(result)
    assert "air.speed" in result.variables  # as it was
    assert all(str(name).replace("_", "").isalnum() for name in (*written.variables, *written.dims))
    assert written["air__speed"].attrs["key"] == "air.speed"
    assert "air_temperature" in written or kind == "sweep"  # of the results, not the input of that name
    written.to_netcdf(tmp_path / "result.nc", engine="netcdf4")
    back = ws.from_cf(xr.load_dataset(tmp_path / "result.nc", engine="netcdf4", decode_timedelta=False))
    assert set(back.variables) == set(result.variables)
    assert set(back.coords) == set(result.coords)
    for name, variable in result.variables.items():
        assert back[name].dims == variable.dims
        assert back[name].values.tolist() == variable.values.tolist()
    xr.testing.assert_identical(ws.from_cf(written), result)


def test_a_store_too(quick, tmp_path):
    dask = pytest.importorskip("dask")
    pytest.importorskip("zarr")
    lazy = ws.batch(quick, {"air.speed": [0.1, 0.3, 0.2]}, chunks=2)
    with dask.config.set(scheduler="sync"):
        found = ws.to_zarr(lazy, tmp_path / "batch.zarr").load()
    assert found["air.speed"].values.tolist() == [0.1, 0.3, 0.2]
    with xr.open_zarr(tmp_path / "batch.zarr", decode_timedelta=False) as store:
        assert "air__speed" in store.variables
        assert not any("." in str(name) for name in store.variables)
        assert ws.from_cf(store)["air.speed"].values.tolist() == [0.1, 0.3, 0.2]


def test_a_name_that_is_there_twice_is_refused():
    written = ws.to_cf(ws.batch(ws.Scenario(), {"air.speed": [0.1, 0.2]}))
    doubled = written.assign({"air.speed": written["wet_time"]})
    refused(lambda: ws.from_cf(doubled), "air.speed is in this Dataset under two names")
