"""The sprays that are computed for draws: their place and time, and what is drawn."""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from wetspan import _core
from wetspan.batch.dataset import of_rows
from wetspan.batch.weather import set_by_a_record
from wetspan.draws import screening
from wetspan.errors import InputError
from wetspan.parameters import row_of
from wetspan.progress import Progress
from wetspan.record import Moment, Numbers, local
from wetspan.scenario import Scenario, require_scenario
from wetspan.sensors import Accuracy, measured_with, stated_with
from wetspan.weather import Weather

OUTCOMES = ("wet_time", "growth_control", "uptake", "split")
_PORTION = 64  # records with errors of their own that are held at a time


@dataclass(frozen=True)
class DrawnSprays:
    """Where and when draws are sprayed: unchanging air, or a moment of a record."""

    scenario: Scenario
    weather: Weather | None
    moment: np.datetime64 | None

    @classmethod
    def of(cls, scenario: Scenario, weather: Weather | None, time: Moment | None) -> DrawnSprays:
        require_scenario(scenario)
        if weather is None and time is not None:
            raise InputError("a time was given without weather; give both, or neither for unchanging air")
        if weather is None:
            return cls(scenario, None, None)
        if time is None:
            raise InputError("weather was given without a time of spraying, such as time='2026-05-14T15:00'")
        moment = local(weather, time).tz_convert("UTC").tz_localize(None).to_datetime64()
        return cls(scenario, weather, moment)

    def idle(self) -> list[str]:
        """Return the inputs that the record sets, which are not drawn."""
        return (
            []
            if self.weather is None
            else set_by_a_record(self.weather, bool(self.scenario["house.enclosed"]))
        )

    def columns(
        self, columns: Mapping[str, Numbers], accuracy: Mapping[str, Accuracy], errors: Mapping[str, Numbers]
    ) -> tuple[dict[str, Numbers], dict[str, Numbers]]:
        """Return the columns of a batch, and what was drawn to get them."""
        idle = self.idle()
        free = {key: values for key, values in columns.items() if key not in idle}
        stated = stated_with(self.scenario, accuracy, errors) if self.weather is None else {}
        used = {key: values for key, values in free.items() if key not in stated} | dict(errors)
        return free | stated, used

    def run(
        self,
        columns: Mapping[str, Numbers],
        accuracy: Mapping[str, Accuracy],
        errors: Mapping[str, Numbers],
        threads: int,
        progress: Progress | None,
    ) -> xr.Dataset:
        """Compute draws along `row`, with a `reason` where one failed; crops grow in the nominal weeks."""
        loose = screening(self.scenario)
        count = len(next(iter((columns or errors).values())))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of the nominal spray is warned, and of failures by the caller
            if self.weather is None:
                return of_rows(loose, columns, None, threads, progress)
            rows = {**columns, "time_utc": np.full(count, self.moment)}
            if not errors:
                return of_rows(loose, rows, self.weather, threads, progress, self.scenario)
            parts = []
            for first in range(0, count, _PORTION):
                draws = np.arange(first, min(first + _PORTION, count))
                parts.append(self._measured(loose, rows, accuracy, errors, draws, threads))
                if progress is not None:
                    progress(int(draws[-1]) + 1, count)
        parts = [
            part if "reason" in part else part.assign(reason=("row", np.full(part.sizes["row"], "")))
            for part in parts
        ]
        return xr.concat(
            parts, "row", data_vars="minimal", coords="minimal", compat="override", join="override"
        )

    def _measured(
        self,
        loose: Scenario,
        rows: Mapping[str, npt.NDArray[Any]],
        accuracy: Mapping[str, Accuracy],
        errors: Mapping[str, Numbers],
        draws: npt.NDArray[np.int64],
        threads: int,
    ) -> xr.Dataset:
        """Compute some draws, each in a record with errors of its own."""
        assert self.weather is not None
        records = {
            str(draw): measured_with(
                self.weather, accuracy, {key: float(each[draw]) for key, each in errors.items()}
            )
            for draw in draws.tolist()
        }
        part = {key: values[draws] for key, values in rows.items()}
        return of_rows(
            loose,
            part | {"weather": np.array(list(records))},
            records,
            threads,
            None,
            self.scenario,
            self.weather,
        )

    def told(self) -> dict[str, str]:
        """Return where and when, as attributes."""
        if self.weather is None:
            return {}
        return {"weather": repr(self.weather), "time_utc": str(self.moment)}


def input_coordinates(keys: Sequence[str], accuracy: Mapping[str, Accuracy]) -> dict[str, object]:
    """Return the coordinates along `input`: keys, and the evidence of what each deviates from."""

    def row(key: str) -> Accuracy | _core.Parameter:
        section, _, name = key.partition(".")
        return accuracy[name] if section == "sensor" else row_of(key)

    measured = [getattr(row(key), "measured_on", "") for key in keys]
    return {
        "input": ("input", list(keys), {"long_name": "input"}),
        "grade": (
            "input",
            [row(key).grade for key in keys],
            {"long_name": "evidence grade of the input's default, or of the sensor's accuracy"},
        ),
        "measured_on": ("input", measured, {"long_name": "what a measured default was measured on"}),
    }
