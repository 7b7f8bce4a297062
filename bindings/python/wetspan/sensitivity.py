"""What the unknown inputs make of the outcomes: how uncertain they are, and whose doing it is."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt
import xarray as xr
from scipy.stats import rankdata

from wetspan import _core
from wetspan.batch.dataset import of_rows
from wetspan.batch.weather import set_by_a_record
from wetspan.draws import CropDraws, Given, checked_samples, draw, ranges_of, scaled, told
from wetspan.errors import InputError
from wetspan.evidence import KINDS, about_evidence, by_evidence, kind_of
from wetspan.outcome import Outcome
from wetspan.parameters import row_of
from wetspan.progress import Progress, shown
from wetspan.record import Moment, local
from wetspan.scenario import Scenario, require_scenario
from wetspan.seeds import Seed, fixed, stream
from wetspan.seeds import told as told_seed
from wetspan.sensors import Accuracy, Sensors, draw_errors, measured_with, read, stated_with
from wetspan.study import CENTRAL, _about, compare_times, quantile_over_draws, screening, simulate
from wetspan.weather import Weather

Numbers: TypeAlias = npt.NDArray[np.float64]
#: Numbers from 0 to 1 (rows x inputs) to outcomes by name (rows first).
Model: TypeAlias = Callable[[Numbers], Mapping[str, Numbers]]

_OUTCOMES = ("wet_time", "growth_control", "uptake", "split")
_QUANTILES = (0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95)
_PORTION = 64  # records with errors of their own that are held at a time
_RESAMPLED = 200  # times, for the confidence of Sobol indices


def uncertainty(
    scenario: Scenario,
    samples: int = 2000,
    seed: Seed = 1,
    *,
    weather: Weather | None = None,
    time: Moment | None = None,
    inputs: Collection[str] | None = None,
    spreads: Mapping[str, float] | None = None,
    sensors: Sensors = False,
    crop: CropDraws | None = None,
    given: Given = "anchors",
    quantiles: Sequence[float] = _QUANTILES,
    keep_draws: bool = False,
    threads: int = 0,
    progress: Progress | None = None,
) -> xr.Dataset:
    """Carry every input's plausible deviation through to the outcomes.

    In the scenario's unchanging air, or sprayed at `time` of `weather`, as by `simulate`. Inputs are drawn as
    by `ws.draw`, of which `seed`, `inputs`, `spreads` and `given` are: given the three anchors, so that the
    drench that the model was calibrated to always gives its 20 to 25 %; or given a `crop` calibrated to
    trials. `sensors` adds the errors of those that the air was measured with, of a record the same offset at
    every time: "sensor.temperature" and its like, shares of the limit of each (`ws.sensor_accuracy()`).

    The Dataset holds, for wet_time, growth_control, each uptake and each split, the quantiles along
    `quantile`, the `_nominal` outcome, and along `input` its `_influence`: the squared rank correlation of
    outcome and input over the draws. `grade` and `measured_on` stand beside each input, and `_by_evidence`
    adds up along `evidence` which share of the rank variance comes from inputs measured on this substance or
    crop, measured on another, of published formulas, calibrated, and assumed, and what is left to inputs
    acting together; NaN with fewer than three draws an input. The attribute `by_evidence` says it of growth
    control in a sentence. With `keep_draws` also the outcomes of the draws (`_draws`) along
    `sample`, their `status`, and `drawn`, what was drawn [SI] along `sample` and `input`. The attributes
    count the draws that stay wet (`not_dry`) and those that could not be followed and are left out
    (`failed`). `progress` is called with the draws done and all draws; without it a bar is shown in a
    terminal or a notebook, once it has taken two seconds.

    What a squared rank correlation is not. Chance gives each input 1 / (samples - 1) where it does nothing.
    It sees rising and falling alone: an input with a best value in the middle may show 0. What two inputs do
    only together goes to neither. And given the anchors inputs are drawn to agree with each other, so that
    one also carries what goes with those it is tied to; shares do not add up to 1. `ws.sobol` has none of
    the four flaws, but wants inputs drawn each on its own, and many more runs.
    """
    require_scenario(scenario)
    seed, samples = fixed(seed), checked_samples(samples)
    place = _Place.of(scenario, weather, time)
    levels = _levels(quantiles)
    accuracy = read(sensors, weather)
    columns = draw(
        scenario, samples, seed, inputs=inputs, spreads=spreads, given=given if crop is None else crop
    )
    errors = draw_errors(accuracy, samples, seed)
    columns, used = place.columns(columns, accuracy, errors)
    one = scenario if crop is None else scenario.replace({key: crop[key] for key in crop})
    nominal = _values_of(simulate(one, weather, time))
    with shown(progress) as heard:
        runs = place.run(columns, accuracy, errors, threads, heard)
    kept = _followed(runs)
    stay_wet = int((runs["status"].values == "wet at end").sum())
    runs = runs.isel(row=kept)
    values = np.column_stack(list(used.values()))[kept]

    result = xr.Dataset(
        coords={"quantile": ("quantile", levels, {"long_name": "quantile over the draws", "units": "1"})}
        | _input_coords(list(used), accuracy)
    )
    for name in _OUTCOMES:
        outcome = runs[name]
        result[name] = (
            ("quantile", *outcome.dims[1:]),
            quantile_over_draws(outcome.values, levels),
            outcome.attrs,
        )
        result[f"{name}_nominal"] = (outcome.dims[1:], nominal[name], outcome.attrs | {"comment": CENTRAL})
    _add_influence(result, runs, values)
    if keep_draws:
        _add_draws(result, runs, values, np.flatnonzero(kept), [_unit(key) for key in used])
    result = result.assign_coords({name: runs[name] for name in ("site", "target")})
    result.attrs = (
        _about(scenario)
        | place.told()
        | {
            "samples": samples,
            "seed": told_seed(seed),
            "given": told(given if crop is None else crop),
            "by_evidence": about_evidence(result["growth_control_by_evidence"], "growth control"),
            "not_dry": stay_wet,
            "failed": int((~kept).sum()),
        }
    )
    return result


def _followed(runs: xr.Dataset) -> npt.NDArray[np.bool_]:
    """Return which draws could be followed, and warn of those that could not; not all may fail."""
    kept = np.asarray(runs["status"].values != "failed")
    if not kept.any():
        raise InputError(f"no draw could be followed; the first: {runs['reason'].values[0]}")
    if not kept.all():
        reason = runs["reason"].values[~kept][0]
        warnings.warn(
            f"{(~kept).sum()} of {len(kept)} runs failed; the first: {reason}", RuntimeWarning, stacklevel=3
        )
    return kept


def _add_influence(result: xr.Dataset, runs: xr.Dataset, values: Numbers) -> None:
    """Add whose doing the spread of each outcome is: that of inputs, and that of kinds of evidence."""
    result.coords["evidence"] = (
        "evidence",
        [*KINDS, "together"],
        {"long_name": "grade of inputs, and what a measured one was measured on"},
    )
    grades = (result[name].values for name in ("grade", "measured_on"))
    kinds = [kind_of(*each) for each in zip(*grades, strict=True)]
    for name in _OUTCOMES:
        outcome = runs[name]
        dims, about = outcome.dims[1:], f"of the {outcome.attrs['long_name']}"
        result[f"{name}_influence"] = (
            ("input", *dims),
            _influence(values, outcome.values),
            {"long_name": f"squared rank correlation {about}", "units": "1"},
        )
        result[f"{name}_by_evidence"] = (
            ("evidence", *dims),
            _by_evidence(values, outcome.values, kinds),
            {"long_name": f"share of the rank variance {about} by the evidence of inputs", "units": "1"},
        )


def _add_draws(
    result: xr.Dataset, runs: xr.Dataset, values: Numbers, numbers: npt.NDArray[np.int64], units: list[str]
) -> None:
    """Add what was drawn (draws x inputs), by the numbers of the draws, and what came of it."""
    for name in _OUTCOMES:
        result[f"{name}_draws"] = (("sample", *runs[name].dims[1:]), runs[name].values, runs[name].attrs)
    result["status"] = ("sample", runs["status"].values, runs["status"].attrs)
    about = "what was drawn, in SI; of sensors the error as a share of its limit"
    result["drawn"] = (("sample", "input"), values, {"long_name": about})
    result.coords["sample"] = ("sample", numbers, {"long_name": "number of the draw, from 0"})
    result.coords["input_units"] = ("input", units, {"long_name": "unit of what was drawn"})


def sobol(
    scenario: Scenario,
    samples: int = 256,
    seed: Seed = 1,
    *,
    weather: Weather | None = None,
    time: Moment | None = None,
    inputs: Collection[str] | None = None,
    spreads: Mapping[str, float] | None = None,
    sensors: Sensors = False,
    confidence: float = 0.9,
    threads: int = 0,
    progress: Progress | None = None,
) -> xr.Dataset:
    """Return the Sobol indices of the inputs that are not known: whose doing the variance of outcomes is.

    `_first` [1] is the share of an outcome's variance that an input explains on its own, however it does it;
    `_total` the share that would be left if all others were known: what an input does alone and with others.
    Inputs whose total is near 0 may be fixed. Each has its `_confidence`, half the width of an interval of
    that confidence over resampled runs; where that is as large as the index, take more samples. Variables are
    of wet_time, growth_control, each uptake and each split, with the `_variance` of each, along `input`.

    Inputs are drawn as by `ws.draw(..., given=None)`: each on its own, which the indices rest on. So the
    anchors do not hold, outcomes spread wider than `uncertainty` tells, and shares are those of that wider
    spread. A wet time of a plant that does not dry counts as long as it is followed.

    `samples`, a power of 2, times the number of inputs plus 2 is the number of runs: name the `inputs` that
    matter (`uncertainty` tells which may). Samples with a run that fails are left out (`failed`). `progress`
    is called with the runs done and all runs; without it a bar is shown as by `uncertainty`.

    Saltelli's scheme with a scrambled Sobol' sequence, estimators of Saltelli et al. 2010 (Comput. Phys.
    Commun. 181:259), through SALib, an optional dependency (`pip install wetspan[sensitivity]`).
    """
    require_scenario(scenario)
    samples, seed = checked_samples(samples), fixed(seed)
    if samples & (samples - 1):
        raise InputError(f"samples = {samples} is not a power of 2, such as {1 << samples.bit_length()}")
    place = _Place.of(scenario, weather, time)
    accuracy = read(sensors, weather)
    idle = set(place.idle())
    ranges = {
        key: each for key, each in ranges_of(scenario, inputs, spreads or {}).items() if key not in idle
    }
    if "speed" in accuracy and weather is None:
        ranges.pop("air.speed", None)  # drawn as a reading
    keys = [*ranges, *(f"sensor.{name}" for name in accuracy)]
    if not keys:
        raise InputError("there is nothing to draw: no input with a spread is above 0")
    longest = scenario["numerics.longest"]
    about: dict[str, Any] = {}

    def model(uniform: Numbers) -> dict[str, Numbers]:
        columns = scaled(scenario, ranges, uniform[:, : len(ranges)]) if ranges else {}
        errors = {
            f"sensor.{name}": 2.0 * uniform[:, len(ranges) + i] - 1.0 for i, name in enumerate(accuracy)
        }
        columns, _ = place.columns(columns, accuracy, errors)
        with shown(progress, "runs") as heard:
            runs = place.run(columns, accuracy, errors, threads, heard)
        about.update({name: runs[name] for name in (*_OUTCOMES, "site", "target", "status")})
        found = {name: runs[name].values for name in _OUTCOMES}
        found["wet_time"] = np.minimum(found["wet_time"], longest)  # infinite where it does not dry
        return found

    found, lost = indices(model, keys, samples, seed, confidence)
    result = _indices_of(found, about, _input_coords(keys, accuracy), confidence)
    result = result.assign_coords({name: about[name] for name in ("site", "target")})
    result.attrs = (
        _about(scenario)
        | place.told()
        | {
            "samples": samples,
            "runs": samples * (len(keys) + 2),
            "seed": told_seed(seed),
            "given": told(None),
            "not_dry": int((about["status"] == "wet at end").sum()),
            "failed": lost,
        }
    )
    return result


def _indices_of(
    found: dict[str, dict[str, Numbers]], about: dict[str, Any], inputs: dict[str, object], confidence: float
) -> xr.Dataset:
    """Lay out Sobol indices along `input` and the dimensions of each outcome."""
    result = xr.Dataset(coords=inputs)
    for name, several in found.items():
        dims, long_name = about[name].dims[1:], about[name].attrs["long_name"]
        for index, values in several.items():
            told_as = {
                "first": f"share of the variance of the {long_name} that the input explains alone",
                "total": f"share of the variance of the {long_name} left if all other inputs were known",
                "variance": f"variance of the {long_name}",
            }.get(index, f"half the {confidence:.0%} confidence interval of {name}_{index.partition('_')[0]}")
            along = dims if index == "variance" else ("input", *dims)
            units = (
                "1"
                if index != "variance" or about[name].attrs["units"] == "1"
                else f"{about[name].attrs['units']}^2"
            )
            result[f"{name}_{index}"] = (along, values, {"long_name": told_as, "units": units})
    return result


def indices(
    model: Model, names: Sequence[str], samples: int, seed: Seed, confidence: float = 0.9
) -> tuple[dict[str, dict[str, Numbers]], int]:
    """Return first and total Sobol indices of a model's outcomes, and how many samples were left out.

    By outcome: "first", "first_confidence", "total", "total_confidence" (inputs first), and "variance". 0 of
    outcomes that do not vary.
    """
    try:
        from SALib.analyze.sobol import analyze
        from SALib.sample.sobol import sample
    except ModuleNotFoundError:
        raise InputError(
            "Sobol indices want SALib, which is not installed: pip install wetspan[sensitivity]"
        ) from None
    if not 0.0 < confidence < 1.0:
        raise InputError(f"confidence = {confidence!r} is not a share between 0 and 1")
    count = len(names)
    problem = {"num_vars": count, "names": list(names), "bounds": [[0.0, 1.0]] * count}
    branches = [int(stream(seed, branch).integers(2**31)) for branch in (0, 1)]
    outcomes = model(sample(problem, samples, calc_second_order=False, seed=branches[0]))
    block = count + 2  # of runs that belong together
    good = np.ones(samples, dtype=bool)
    for values in outcomes.values():
        good &= np.isfinite(values.reshape(samples, -1)).all(axis=1)
    if good.sum() < 2:
        raise InputError(f"{samples - good.sum()} of {samples} samples have a run that failed")

    def of(one: Numbers) -> tuple[Numbers, ...]:
        if np.ptp(one) == 0.0:
            return tuple(np.zeros(count) for _ in range(4))
        told = analyze(
            problem, one, calc_second_order=False, num_resamples=_RESAMPLED, conf_level=confidence,
            seed=branches[1],
        )  # fmt: skip
        return tuple(np.asarray(told[key], dtype=float) for key in ("S1", "S1_conf", "ST", "ST_conf"))

    found = {}
    for name, values in outcomes.items():
        shape = values.shape[1:]
        flat = values.reshape(samples, block, -1)[good].reshape(int(good.sum()) * block, -1)
        stacked = np.stack([np.stack(of(one)) for one in flat.T], axis=-1).reshape(4, count, *shape)
        found[name] = dict(
            zip(("first", "first_confidence", "total", "total_confidence"), stacked, strict=True)
        )
        independent = flat.reshape(-1, block, flat.shape[1])[:, [0, -1]]
        found[name]["variance"] = independent.reshape(-1, flat.shape[1]).var(axis=0).reshape(shape)
    return found, int((~good).sum())


class ControlRange(NamedTuple):
    """The 10 and 90 % quantiles of growth control over draws of the unknown inputs.

    `not_dry` of the draws stay wet to the end: their growth control, and so the range, are lower bounds.
    """

    low: float
    high: float
    samples: int
    seed: int | str
    not_dry: int


def control_range(
    scenario: Scenario,
    weather: Weather | None = None,
    time: Moment | None = None,
    *,
    samples: int = 64,
    seed: Seed = 1,
    crop: CropDraws | None = None,
) -> ControlRange:
    """Return the range of one spray's growth control, as `compare_times` and `uncertainty` draw it."""
    samples, seed = checked_samples(samples), fixed(seed)
    if weather is None or time is None:
        drawn = uncertainty(scenario, samples, seed, crop=crop)
        low, high = (float(drawn["growth_control"].sel(quantile=level)) for level in (0.1, 0.9))
        not_dry = drawn.attrs["not_dry"]
    else:
        day = compare_times(scenario, weather, time, time, samples=samples, seed=seed, crop=crop)
        low, high = (float(day[f"growth_control_{end}"][0]) for end in ("low", "high"))
        not_dry = int(day["not_dry"][0])
    return ControlRange(low, high, samples, told_seed(seed), not_dry)


@dataclass(frozen=True)
class _Place:
    """Where and when draws are sprayed: unchanging air, or a moment of a record."""

    scenario: Scenario
    weather: Weather | None
    moment: np.datetime64 | None

    @classmethod
    def of(cls, scenario: Scenario, weather: Weather | None, time: Moment | None) -> _Place:
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


def _levels(quantiles: Sequence[float]) -> Numbers:
    levels = np.atleast_1d(np.asarray(quantiles, dtype=float))
    if levels.ndim != 1 or not len(levels) or not ((levels >= 0.0) & (levels <= 1.0)).all():
        raise InputError(f"quantiles = {quantiles!r} are not numbers from 0 to 1")
    return levels


def _values_of(outcome: Outcome) -> dict[str, Numbers]:
    return {
        "wet_time": np.asarray(outcome.wet_time),
        "growth_control": np.asarray(outcome.growth_control),
        "uptake": outcome.uptake.values,
        "split": outcome.split["share"].values,
    }


def _input_coords(keys: Sequence[str], accuracy: Mapping[str, Accuracy]) -> dict[str, object]:
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


def _unit(key: str) -> str:
    return "1" if key.startswith("sensor.") else row_of(key).unit


def _influence(values: Numbers, outcomes: Numbers) -> Numbers:
    """Squared rank correlation of every input with every outcome; 0 with one that does not vary."""
    inputs, results = (_standardised_ranks(each) for each in (values, outcomes.reshape(len(outcomes), -1)))
    return np.asarray((inputs.T @ results) ** 2).reshape(-1, *outcomes.shape[1:])


def _by_evidence(values: Numbers, outcomes: Numbers, kinds: list[str]) -> Numbers:
    inputs, results = (_standardised_ranks(each) for each in (values, outcomes.reshape(len(outcomes), -1)))
    return by_evidence(inputs, results, kinds).reshape(-1, *outcomes.shape[1:])


def _standardised_ranks(columns: Numbers) -> Numbers:
    ranks = rankdata(columns, axis=0)
    ranks -= ranks.mean(axis=0)
    length = np.linalg.norm(ranks, axis=0)
    return np.asarray(np.divide(ranks, length, out=np.zeros_like(ranks), where=length > 0.0))
