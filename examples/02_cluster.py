"""A season on a cluster: two worker processes here; elsewhere the address of a scheduler instead."""

import tempfile
from pathlib import Path

import wetspan as ws
from distributed import Client, LocalCluster

DAYS = "2026-05-11", "2026-05-20"
HOURS = [6, 9, 12, 15, 18]


class EnoughError(Exception):
    """Stands for whatever ends a run half-way: Ctrl-C, a time limit, a power cut."""


def half_way(done: int, chunks: int) -> None:
    print(f"{done} of {chunks} chunks are written")
    if 2 * done >= chunks:
        raise EnoughError


def main() -> None:
    scenario = ws.Scenario({"droplets.bins": 6, "numerics.tolerance": 1e-4})
    sites = {name: ws.read_weather(name) for name in ("miami", "piedmont")}
    season = ws.season(scenario, sites, *DAYS, HOURS, samples=2, chunks=5)  # nothing is computed yet
    with (
        tempfile.TemporaryDirectory() as folder,
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster),
    ):
        store = Path(folder) / "season.zarr"
        try:
            ws.to_zarr(season, store, progress=half_way)
        except EnoughError:
            print("ended half-way; what is written stays")
        found = ws.to_zarr(season, store, resume=True, progress=lambda *told: print(*told)).load()

    print(ws.share_below(found, "20 min")["share"].to_series().unstack("site").round(2))
    at_once = ws.season(scenario, sites, *DAYS, HOURS, samples=2)
    for name in at_once.data_vars:
        assert found[name].values.tobytes() == at_once[name].values.tobytes(), name
    print("bit for bit what one process computes")


if __name__ == "__main__":
    main()
