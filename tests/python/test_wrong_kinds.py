"""What is given to a public function and is not what it is for is refused in one short line; so are axes."""

import importlib
import inspect
import pkgutil
import warnings
from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
import wetspan as ws
import xarray as xr
from matplotlib.figure import Figure
from wetspan import InputError, plots, spray

SUSPENSION = "paclobutrazol 0.4 % suspension concentrate"
NOON = "2026-05-15T12:00"
PLACES = {"rows": 3, "columns": 4}


@pytest.fixture(scope="module")
def things(quick, piedmont) -> dict[str, object]:
    """Return one of each kind of thing that a user may hold."""
    day = ws.compare_times(quick, piedmont, NOON, "2026-05-15T13:00", "1h")
    return {
        "nothing": None, "number": 3, "text": "no such thing", "list": [1, 2], "array": np.zeros(3),
        "frame": pd.DataFrame({"a": [1]}), "empty": xr.Dataset(), "column": day["wet_time"], "day": day,
        "scenario": quick, "weather": piedmont, "outcome": ws.simulate(quick),
        "season": ws.season(quick, piedmont, "2026-05-15", "2026-05-15", [9, 15]),
        "batch": ws.batch(quick, {"air.speed": [0.2]}),
        "house": ws.house_air(quick, piedmont, NOON, "2026-05-15T14:00"),
        "jug": ws.settle(SUSPENSION, days=1), "impacts": ws.impact_map(quick, diameters=["100 um", "200 um"]),
    }  # fmt: skip


Take = Callable[[object, dict[str, object]], object]
DATASETS = ("empty", "day", "season", "batch", "house", "jug", "impacts")
#: How a thing is given to each public function, first or in another place, and which things are taken.
TAKES: dict[str, tuple[Take, tuple[str, ...]]] = {
    "advice": (lambda x, _: ws.advice(x), ("day",)),
    "why": (lambda x, _: ws.why(x), ("outcome",)),
    "plot_day": (lambda x, _: ws.plot_day(x), ("day",)),
    "plot_outcome": (lambda x, _: ws.plot_outcome(x), ("outcome",)),
    "plot_season": (lambda x, _: ws.plot_season(x), ("season",)),
    "plots.plot_split": (lambda x, _: plots.plot_split(x), ("outcome",)),
    "plots.plot_jug": (lambda x, t: plots.plot_jug(x, ws.pours(t["jug"], 1)), ("jug",)),
    "plots.plot_jug, pours": (lambda x, t: plots.plot_jug(t["jug"], x), ()),
    "spray.plot_impact": (lambda x, _: spray.plot_impact(x), ("impacts",)),
    "share_below": (lambda x, _: ws.share_below(x, "20 min"), ("season",)),
    "best_windows": (lambda x, _: ws.best_windows(x), ("season",)),
    "slow_rows": (lambda x, _: ws.slow_rows(x), ("season", "batch")),
    "pours": (lambda x, _: ws.pours(x, 1), ("jug",)),
    "sections": (lambda x, _: ws.sections(x), DATASETS),
    "to_cf": (lambda x, _: ws.to_cf(x), DATASETS),
    "from_cf": (lambda x, _: ws.from_cf(x), DATASETS),
    "to_zarr": (lambda x, _: ws.to_zarr(x, "never.zarr"), ()),
    "write_report": (lambda x, _: ws.write_report(x, "never.html"), ("outcome", "day", "season")),
    "residue_ends": (lambda x, _: ws.residue_ends(x), ("scenario",)),
    "rewetting_gain": (lambda x, _: ws.rewetting_gain(x), ()),
    "compare_rewettings": (lambda x, t: ws.compare_rewettings(x, t["weather"], NOON, ["05:00"]), ()),
    "simulate": (lambda x, _: ws.simulate(x), ("scenario",)),
    "simulate, weather": (lambda x, t: ws.simulate(t["scenario"], x, NOON), ("weather",)),
    "compare_times": (lambda x, t: ws.compare_times(x, t["weather"], NOON, NOON), ("scenario",)),
    "compare_times, weather": (lambda x, t: ws.compare_times(t["scenario"], x, NOON, NOON), ("weather",)),
    "season": (lambda x, t: ws.season(x, t["weather"], "2026-05-15", "2026-05-15"), ("scenario",)),
    "season, weather": (lambda x, t: ws.season(t["scenario"], x, "2026-05-15", "2026-05-15"), ("weather",)),
    "house_air": (lambda x, t: ws.house_air(x, t["weather"], NOON, "2026-05-15T13:00"), ("scenario",)),
    "house_air, weather": (lambda x, t: ws.house_air(t["scenario"], x, NOON, NOON), ("weather",)),
    "batch": (lambda x, _: ws.batch(x, {"air.speed": [0.2]}), ("scenario",)),
    "batch, rows": (lambda x, t: ws.batch(t["scenario"], x), ("batch", "scenario")),
    "batch, weather": (lambda x, t: ws.batch(t["scenario"], {"time": [NOON]}, x), ("nothing", "weather")),
    "batches": (lambda x, _: list(ws.batches(x, [{"air.speed": [0.2]}])), ("scenario",)),
    "sweep": (lambda x, _: ws.sweep(x, {"air.speed": [0.2]}), ("scenario",)),
    "uncertainty": (lambda x, _: ws.uncertainty(x, 4), ("scenario",)),
    "sobol": (lambda x, _: ws.sobol(x, 2, inputs=["crop.half_amount"]), ("scenario",)),
    "draw": (lambda x, _: ws.draw(x, 4), ("scenario",)),
    "rate_for": (lambda x, _: ws.rate_for(x, "20 cm"), ("scenario",)),
    "as_drench": (lambda x, _: ws.as_drench(x), ("scenario",)),
    "as_spray": (lambda x, _: ws.as_spray(x), ()),
    "spray_bench": (lambda x, _: ws.spray_bench(x, layout=PLACES), ("scenario",)),
    "card": (lambda x, _: ws.card(x), ("scenario",)),
    "deposit": (lambda x, _: ws.deposit(x), ("scenario",)),
    "fly": (lambda x, _: ws.fly(x), ("scenario",)),
    "fly_classes": (lambda x, _: ws.fly_classes(x), ("scenario",)),
    "flight_paths": (lambda x, _: ws.flight_paths(x, ["100 um"]), ("scenario",)),
    "impact_map": (lambda x, _: ws.impact_map(x, diameters=["100 um"]), ("scenario", "nothing")),
    "spectrum": (lambda x, _: ws.spectrum(x), ("nothing", "scenario")),
    "nozzle": (lambda x, _: ws.nozzle(x, "3 bar"), ()),
    "size_class": (lambda x, _: ws.size_class(x), ()),
    "settle": (lambda x, _: ws.settle(x, days=1), ()),
    "mix": (lambda x, _: ws.mix(x, "30 mg/L", volume="10 L"), ()),
    "applied": (lambda x, _: ws.applied(x, "10 mL", water="10 L", area="100 ft^2"), ()),
    "load": (lambda x, _: ws.load(x), ()),
    "read_weather": (lambda x, _: ws.read_weather(x), ()),
    "read_trial": (lambda x, _: ws.read_trial(x), ()),
    "load_crop": (lambda x, _: ws.load_crop(x), ()),
    "calibrate": (lambda x, t: ws.calibrate(t["scenario"], x), ()),
    "active": (lambda x, _: ws.active(x), ()),
    "substrate": (lambda x, _: ws.substrate(x), ()),
}
#: Public functions that take settings alone, not things.
SETTINGS = {"actives", "substrates", "parameters", "sensor_accuracy", "sample_weather", "nozzle_chart",
            "size_classes", "plan_trial"}  # fmt: skip


def refusal(take: Callable[[], object], what: str) -> str:
    """Return the words of a refusal; whatever else happens is a failure."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            take()
    except InputError as error:
        return str(error)
    except Exception as error:
        pytest.fail(f"{what} raises {type(error).__name__}: {error}")
    pytest.fail(f"{what} is taken")


def test_every_public_function_is_here():
    functions = {name for name in ws.__all__ if inspect.isfunction(getattr(ws, name))}
    assert functions == {name.split(",")[0] for name in TAKES if "." not in name} | SETTINGS


@pytest.mark.parametrize("name", TAKES)
def test_what_it_is_not_for_is_refused_in_one_line(name, things, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    give, taken = TAKES[name]
    for kind, thing in things.items():
        if kind in taken:
            continue
        told = refusal(lambda thing=thing: give(thing, things), f"{name} of the {kind}")
        assert "\n" not in told, kind
        assert len(told) < 300, (kind, told)
    assert list(tmp_path.iterdir()) == []


def pictures() -> dict[str, Callable[..., Figure]]:
    """Return what draws, in every module: functions and methods whose names begin with "plot"."""
    found = {}
    for module in pkgutil.walk_packages(ws.__path__, "wetspan."):
        if "_core" in module.name or module.name.endswith("__main__"):
            continue
        here = importlib.import_module(module.name)
        for name, thing in vars(here).items():
            if getattr(thing, "__module__", None) != here.__name__:
                continue
            if inspect.isfunction(thing) and name.startswith("plot"):
                found[f"{here.__name__}.{name}"] = thing
            elif inspect.isclass(thing):
                methods = {each: how for each, how in vars(thing).items() if each.startswith("plot")}
                found |= {f"{here.__name__}.{name}.{each}": how for each, how in methods.items()}
    return found


def test_every_picture_is_drawn_on_axes_of_ones_own():
    found = pictures()
    assert len(found) >= 15
    for name, draw in found.items():
        ax = inspect.signature(draw).parameters.get("ax")
        assert ax is not None, name
        assert ax.default is None, name


#: How each argument that is True or False is given.
SWITCHES: dict[str, Callable[[ws.Scenario, object], object]] = {
    "keep_draws": lambda scenario, x: ws.uncertainty(scenario, 3, keep_draws=x),
    "border": lambda _, x: ws.plan_trial(["low", "high"], cv=0.08, border=x),
    "more_check": lambda _, x: ws.plan_trial(["low", "high"], cv=0.08, more_check=x),
    "levers": lambda scenario, x: ws.spray_bench(scenario, layout=PLACES, levers=x),
    "glass": lambda scenario, x: ws.measure.plan_wash(scenario, glass=x),
    "typical": lambda _, x: ws.read_weather("sand-point", typical=x),
}


@pytest.mark.parametrize("name", SWITCHES)
@pytest.mark.parametrize("given", ["no", 0, 1.0, [], np.array([True])])
def test_what_is_true_or_false_takes_no_other_thing(quick, name, given):
    """Python takes any text for True, "no" among them."""
    with pytest.raises(InputError, match=f"^{name} = .*: allowed are True and False$"):
        SWITCHES[name](quick, given)


def test_truth_of_numpy_is_truth(quick):
    assert "drawn" in ws.uncertainty(quick, 3, keep_draws=np.bool_(True))
    assert "drawn" not in ws.uncertainty(quick, 3, keep_draws=np.array([1.0])[0] > 2.0)
