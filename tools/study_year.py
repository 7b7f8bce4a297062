"""A year of hours at three sites with draws: at once, and on two workers, killed half-way and resumed.

`python tools/study_year.py` takes a quarter of an hour on two cores and prints what docs/how_to/cluster.md
tells: time, memory, and whether both gave the same bits. `--to 2026-01-31` does a month. Each part is a
process of its own.
"""

import argparse
import hashlib
import json
import os
import resource
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import wetspan as ws
import xarray as xr

SITES = ("miami", "piedmont", "sand-point")
SAMPLES = 20


def season(last: str, **how: object) -> xr.Dataset:
    """Return the season, computed or lazy."""
    bench = ws.load(Path(__file__).parents[1] / "examples/afternoon_bench.toml")
    sites = {name: ws.read_weather(name) for name in SITES}
    return ws.season(bench, sites, "2026-01-01", last, range(24), samples=SAMPLES, **how)


def digests(found: xr.Dataset) -> dict[str, str]:
    """Return a digest of the bits of each variable that both ways tell."""
    return {
        str(name): hashlib.sha256(variable.values.tobytes()).hexdigest()
        for name, variable in found.data_vars.items()
        if name not in ("reason", "written")
    }


def at_once(last: str) -> dict[str, object]:
    """Compute in this process, in threads."""
    found = season(last)
    return {"rows": found["wet_time"].size * (1 + SAMPLES), "slow": ws.slow_rows(found)} | {
        "digests": digests(found)
    }


def on_workers(last: str, store: str) -> dict[str, object]:
    """Compute on two workers into a store, or what is missing there."""
    from distributed import Client, LocalCluster

    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        found = ws.to_zarr(season(last, chunks="auto"), store, resume=True)
        most = client.run(lambda: resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
        return {"workers_MB": [round(each) for each in most.values()], "digests": digests(found.load())}


def part(name: str, last: str, *more: str) -> subprocess.Popen[str]:
    """Start a part in a process group of its own."""
    command = [sys.executable, __file__, "--part", name, "--to", last, *more]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True, start_new_session=True)


def result_of(process: subprocess.Popen[str]) -> dict[str, object]:
    """Wait for a part, and return what it tells."""
    out, _ = process.communicate()
    if process.returncode:
        raise SystemExit(f"a part ended with {process.returncode}")
    return dict(json.loads(out.splitlines()[-1]))


def chunks_of(store: Path) -> tuple[int, int]:
    """Return how many chunks of a store are written, and how many there are."""
    if not store.exists():
        return 0, 1
    with xr.open_zarr(store, decode_timedelta=False) as begun:
        marks = begun["written"]
        sizes = marks.encoding["chunks"]
        firsts = marks.values[tuple(slice(None, None, size) for size in sizes)]
    return int(firsts.sum()), firsts.size


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--to", default="2026-12-31")
    reader.add_argument("--part", choices=("at_once", "on_workers"))
    reader.add_argument("--store")
    asked = reader.parse_args()
    if asked.part:
        began = time.perf_counter()
        told = at_once(asked.to) if asked.part == "at_once" else on_workers(asked.to, asked.store)
        used = resource.getrusage(resource.RUSAGE_SELF)
        told |= {"seconds": round(time.perf_counter() - began, 1), "MB": round(used.ru_maxrss / 1024)}
        told |= {"cpu": round(used.ru_utime + used.ru_stime, 1)}
        print(json.dumps(told))
        return

    whole = result_of(part("at_once", asked.to))
    print({name: told for name, told in whole.items() if name != "digests"}, flush=True)
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "year.zarr"
        began = time.perf_counter()
        first = part("on_workers", asked.to, "--store", str(store))
        while 2 * (written := chunks_of(store))[0] < written[1] and first.poll() is None:
            time.sleep(1.0)
        os.killpg(first.pid, signal.SIGKILL)
        first.wait()
        killed = time.perf_counter() - began
        print(f"killed after {killed:.0f} s with {written[0]} of {written[1]} chunks written", flush=True)
        cut = result_of(part("on_workers", asked.to, "--store", str(store)))
        size = sum(each.stat().st_size for each in store.rglob("*") if each.is_file())
    told = {name: told for name, told in cut.items() if name != "digests"}
    print(told | {"with_the_killed": round(killed + float(cut["seconds"])), "store_MB": round(size / 1e6)})
    same = whole["digests"] == cut["digests"]
    print("the same bits in both" if same else "NOT the same bits", f"({len(whole['digests'])} variables)")
    sys.exit(not same)


if __name__ == "__main__":
    main()
