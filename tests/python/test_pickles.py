"""Whatever the package hands out can be pickled: sent to a worker, kept on disk, the same when it is back."""

import dataclasses
import pickle
import types
import warnings
from collections.abc import Callable, Mapping
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import wetspan as ws
import xarray as xr
from matplotlib.figure import Figure

SUSPENSION = "paclobutrazol 0.4 % suspension concentrate"
MOMENT = "2026-05-15T15:00"
HEIGHTS = {0.0: [20.0, 21.1, 19.5, 20.6], 5.0: [16.0, 15.7, 16.4, 16.2], 10.0: [15.2, 14.8, 15.1, 14.5]}


class Given:
    """What the examples begin with."""

    def __init__(self, quick: ws.Scenario, weather: ws.Weather, folder: Path) -> None:
        self.quick, self.weather, self.folder = quick, weather, folder
        self.wetted = quick.replace({"rewetting.volume_rate": "0.02 L/m^2"})
        self.drench = quick.replace({"application.method": "drench"})

    @cached_property
    def outcome(self) -> ws.Outcome:
        return ws.simulate(self.quick, self.weather, MOMENT)

    @cached_property
    def day(self) -> xr.Dataset:
        return ws.compare_times(self.quick, self.weather, MOMENT, "2026-05-15T16:00", "1h")

    @cached_property
    def season(self) -> xr.Dataset:
        return ws.season(self.quick, self.weather, "2026-05-15", "2026-05-15", [9, 15])

    @cached_property
    def jug(self) -> xr.Dataset:
        return ws.settle(SUSPENSION, days=1)

    @cached_property
    def trial(self) -> ws.TrialResult:
        rows = [(f"{rate:g} mg/L", rate, height) for rate, all_ in HEIGHTS.items() for height in all_]
        table = pd.DataFrame(rows, columns=["treatment", "rate", "height_cm"])
        return ws.read_trial(
            table.replace({"treatment": {"0 mg/L": "untreated"}}), rate="rate", units={"rate": "mg/L"}
        )

    @cached_property
    def calibration(self) -> ws.Calibration:
        return ws.calibrate(self.quick, self.trial)

    def crop(self) -> ws.Crop:
        self.calibration.save(self.folder / "crop.toml", "mine")
        return ws.load_crop(self.folder / "crop.toml")


#: What each public name is, or hands out: one of each. Types of it stand with the function that makes them.
EXAMPLES: dict[str, Callable[[Given], object]] = {
    "CAUTIONS": lambda _: ws.CAUTIONS,
    "__version__": lambda _: ws.__version__,
    "InputError": lambda _: ws.InputError("no"),
    "IntegrationError": lambda _: ws.IntegrationError("no"),
    "Scenario": lambda g: g.quick,
    "Weather": lambda g: g.weather,
    "Product": lambda _: ws.mix(SUSPENSION, "30 mg/L", volume="10 L").product,
    "load": lambda _: ws.load("examples/afternoon_bench.toml"),
    "read_weather": lambda _: ws.read_weather("miami"),
    "sample_weather": lambda _: ws.sample_weather(),
    "simulate": lambda g: g.outcome,
    "Outcome": lambda g: ws.simulate(g.drench),
    "why": lambda g: ws.why(g.outcome),
    "rewetting_gain": lambda g: ws.rewetting_gain(ws.simulate(g.wetted)),
    "compare_rewettings": lambda g: ws.compare_rewettings(g.wetted, g.weather, MOMENT, ["05:00"]),
    "residue_ends": lambda g: ws.residue_ends(g.quick),
    "spray_bench": lambda g: ws.spray_bench(
        g.quick, layout={"rows": 3, "columns": 4}, volume_per_pot="100 mL"
    ),
    "card": lambda g: ws.card(g.quick),
    "deposit": lambda g: ws.deposit(g.quick),
    "fly": lambda g: ws.fly(g.quick),
    "flight_paths": lambda g: ws.flight_paths(g.quick, [1e-4, 3e-4]),
    "fly_classes": lambda g: ws.fly_classes(g.quick),
    "impact_map": lambda g: ws.impact_map(g.quick),
    "nozzle": lambda _: ws.nozzle("04", "3 bar"),
    "nozzle_chart": lambda _: ws.nozzle_chart(),
    "size_class": lambda _: ws.size_class("medium"),
    "size_classes": lambda _: ws.size_classes(),
    "spectrum": lambda _: ws.spectrum(dv10="100 um", dv50="200 um", dv90="350 um"),
    "mix": lambda _: ws.mix(SUSPENSION, "30 mg/L", volume="10 L"),
    "applied": lambda _: ws.applied(SUSPENSION, "10 mL", water="10 L", area="100 ft^2"),
    "settle": lambda g: g.jug,
    "pours": lambda g: ws.pours(g.jug, 1),
    "rate_for": lambda g: ws.rate_for(g.quick, "20 cm"),
    "as_drench": lambda g: ws.as_drench(g.quick),
    "as_spray": lambda g: ws.as_spray(g.drench),
    "plan_trial": lambda _: ws.plan_trial(rates=["5 mg/L", "10 mg/L"], cv=0.1, plants=4, seed=1),
    "read_trial": lambda g: g.trial,
    "calibrate": lambda g: g.calibration,
    "load_crop": lambda g: g.crop(),
    "active": lambda _: ws.active("paclobutrazol"),
    "actives": lambda _: ws.actives(),
    "substrate": lambda _: ws.substrate(ws.substrates()[0]),
    "substrates": lambda _: ws.substrates(),
    "parameters": lambda _: ws.parameters(),
    "sensor_accuracy": lambda _: ws.sensor_accuracy(),
    "draw": lambda g: ws.draw(g.quick, 4),
    "uncertainty": lambda g: ws.uncertainty(g.quick, 4),
    "sobol": lambda g: ws.sobol(g.quick, 2, inputs=["crop.half_amount"]),
    "sweep": lambda g: ws.sweep(g.quick, {"air.speed": [0.2]}),
    "batch": lambda g: ws.batch(g.quick, {"air.speed": [0.2]}),
    "batches": lambda g: list(ws.batches(g.quick, [{"air.speed": [0.2]}])),
    "slow_rows": lambda g: ws.slow_rows(g.season),
    "sections": lambda g: ws.sections(ws.batch(g.quick, {"air.speed": [0.2]})),
    "to_cf": lambda g: ws.to_cf(ws.sweep(g.quick, {"air.speed": [0.2]})),
    "from_cf": lambda g: ws.from_cf(ws.to_cf(ws.sweep(g.quick, {"air.speed": [0.2]}))),
    "compare_times": lambda g: g.day,
    "season": lambda g: g.season,
    "share_below": lambda g: ws.share_below(g.season, "20 min"),
    "best_windows": lambda g: ws.best_windows(g.season),
    "house_air": lambda g: ws.house_air(g.quick, g.weather, MOMENT, "2026-05-15T16:00"),
    "advice": lambda g: ws.advice(g.day),
    "plot_day": lambda g: ws.plot_day(g.day),
    "plot_outcome": lambda g: ws.plot_outcome(g.outcome),
    "plot_season": lambda g: ws.plot_season(g.season),
}
#: Functions that hand out nothing, or what another name here does; modules of functions.
OTHERS = {"air", "water", "to_zarr", "write_report"}
OPTIONAL = {"sobol": "SALib"}


def public_types() -> set[str]:
    return {name for name in ws.__all__ if isinstance(getattr(ws, name), type)}


def test_every_public_name_has_an_example():
    assert set(EXAMPLES) | OTHERS | public_types() == set(ws.__all__)


def alike(one: object, other: object, at: str = "it") -> None:
    """Hold two things against each other, part by part."""
    assert type(one) is type(other), at
    if isinstance(one, xr.Dataset | xr.DataArray):
        xr.testing.assert_identical(one, other)
    elif isinstance(one, pd.DataFrame):
        pd.testing.assert_frame_equal(one, other)
    elif isinstance(one, np.ndarray):
        np.testing.assert_array_equal(one, other, at)
    elif dataclasses.is_dataclass(one):
        for field in dataclasses.fields(one):
            alike(getattr(one, field.name), getattr(other, field.name), f"{at}.{field.name}")
    elif isinstance(one, Mapping) and not isinstance(one, ws.Scenario):
        assert list(one) == list(other), at
        for key in one:
            alike(one[key], other[key], f"{at}[{key!r}]")
    elif isinstance(one, list | tuple):
        assert len(one) == len(other), at
        for i, (a, b) in enumerate(zip(one, other, strict=True)):
            alike(a, b, f"{at}[{i}]")
    elif type(one).__module__.startswith("wetspan._core"):
        for name, what in vars(type(one)).items():
            if isinstance(what, property):
                alike(getattr(one, name), getattr(other, name), f"{at}.{name}")
    elif isinstance(one, Figure | Exception | types.ModuleType):
        assert str(one) == str(other), at
    else:
        assert one == other or (one != one and other != other), at  # NaN


@pytest.fixture(scope="module")
def given(quick, piedmont, tmp_path_factory) -> Given:
    return Given(quick, piedmont, tmp_path_factory.mktemp("pickles"))


#: The public types that an example was of.
seen: set[str] = set()


@pytest.mark.parametrize("name", EXAMPLES)
def test_it_pickles(name, given, monkeypatch, examples):
    monkeypatch.chdir(examples.parent)
    if name in OPTIONAL:
        pytest.importorskip(OPTIONAL[name])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of so few draws, plants and runs
        made = EXAMPLES[name](given)
    alike(made, pickle.loads(pickle.dumps(made)))
    seen.update(each.__name__ for each in type(made).__mro__)


def test_every_public_type_was_among_them(request):
    if len(request.session.items) < len(EXAMPLES):
        pytest.skip("wants all the examples")
    assert public_types() <= seen


def test_a_lazy_season_pickles(quick, piedmont):
    pytest.importorskip("dask")
    lazy = ws.season(quick, piedmont, "2026-05-15", "2026-05-15", [9], chunks=1)
    again = pickle.loads(pickle.dumps(lazy))
    assert again["wet_time"].values.tobytes() == lazy["wet_time"].values.tobytes()
