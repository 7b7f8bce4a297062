"""Whatever the package hands out can be pickled: sent to a worker, kept on disk, the same again."""

import copy
import dataclasses
import math
import pickle
import types
import warnings
from collections.abc import Callable, Mapping
from functools import cached_property

import numpy as np
import pandas as pd
import pytest
import wetspan as ws
import xarray as xr

TRIAL = pd.DataFrame(
    {
        "treatment": ["untreated", "spray", "drench"] * 5,
        "block": np.repeat([1, 2, 3, 4, 5], 3),
        "height_cm": [
            20.0, 16.0, 15.2, 21.1, 15.7, 14.8, 19.5, 16.4, 15.1, 20.6, 16.2, 14.5, 20.2, 15.9, 15.5
        ],
    }
)  # fmt: skip


class Given:
    """What several of the examples begin with."""

    def __init__(self, quick: ws.Scenario, weather: ws.Weather, folder: object) -> None:
        self.quick, self.weather, self.folder = quick, weather, folder
        self.moment = "2026-05-15T15:00"

    @cached_property
    def outcome(self) -> ws.Outcome:
        return ws.simulate(self.quick, self.weather, self.moment)

    @cached_property
    def season(self) -> xr.Dataset:
        return ws.season(self.quick, self.weather, "2026-05-15", "2026-05-15", [9, 15], samples=2)

    @cached_property
    def day(self) -> xr.Dataset:
        return ws.compare_times(self.quick, self.weather, self.moment, self.moment)

    @cached_property
    def jug(self) -> xr.Dataset:
        return ws.settle("paclobutrazol", days=2)

    @cached_property
    def trial(self) -> ws.TrialResult:
        return ws.read_trial(TRIAL, block="block")

    @cached_property
    def calibration(self) -> ws.Calibration:
        return ws.calibrate(self.quick, self.trial, changes={"spray": {}, "drench": None})


#: One of what each public name hands out, or is.
EXAMPLES: dict[str, Callable[[Given], object]] = {
    "CAUTIONS": lambda _: ws.CAUTIONS,
    "__version__": lambda _: ws.__version__,
    "InputError": lambda _: ws.InputError("no"),
    "IntegrationError": lambda _: ws.IntegrationError("no"),
    "Outcome": lambda g: g.outcome,
    "simulate": lambda g: ws.simulate(g.quick),
    "Scenario": lambda g: g.quick,
    "Weather": lambda g: g.weather,
    "Why": lambda g: ws.why(g.outcome),
    "why": lambda g: ws.why(ws.simulate(g.quick)),
    "BenchResult": lambda g: ws.spray_bench(g.quick, volume="500 mL", volume_per_pot="100 mL"),
    "spray_bench": lambda g: ws.spray_bench(g.quick, "boom"),
    "card": lambda g: ws.card(g.quick),
    "deposit": lambda g: ws.deposit(g.quick),
    "spectrum": lambda _: ws.spectrum(dv10="100 um", dv50="200 um", dv90="350 um"),
    "season": lambda g: g.season,
    "mix": lambda _: ws.mix("paclobutrazol", "30 mg/L", volume="10 L"),
}


def alike(one: object, other: object) -> bool:
    return True


@pytest.mark.parametrize("name", sorted(EXAMPLES))
def test_it_pickles(name, quick, piedmont, tmp_path):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        made = EXAMPLES[name](Given(quick, piedmont, tmp_path))
    again = pickle.loads(pickle.dumps(made))
    assert alike(made, again)
