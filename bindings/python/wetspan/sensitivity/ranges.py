"""Quantiles of the outcomes over draws of the inputs that are not known."""

from __future__ import annotations

import warnings
from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import xarray as xr
from scipy.stats import rankdata

from wetspan.day import compare_times
from wetspan.draws import CENTRAL, CropDraws, Given, checked_samples, draw, quantile_over_draws, told
from wetspan.errors import InputError, yes_or_no
from wetspan.evidence import KINDS, about_evidence, by_evidence, kind_of
from wetspan.outcome import Outcome, scenario_attributes
from wetspan.parameters import row_of
from wetspan.progress import Progress, shown
from wetspan.record import Moment, Numbers
from wetspan.scenario import Scenario, require_scenario
from wetspan.seeds import Seed, fixed
from wetspan.seeds import told as told_seed
from wetspan.sensitivity.sprays import OUTCOMES, DrawnSprays, input_coordinates
from wetspan.sensors import Sensors, draw_errors, read
from wetspan.study import simulate
from wetspan.weather import Weather

_QUANTILES = (0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95)


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
    """Compute how uncertain the outcomes are, from draws of the inputs that are not known.

    The spray is computed in the scenario's constant air, or at `time` of `weather`, as by `simulate`. Inputs
    are drawn as by `ws.draw`, which has `seed`, `inputs`, `spreads` and `given` too. By default the draws
    agree with the three anchors, so the drench to which the model was calibrated gives 20 to 25 % in every
    draw. With a `crop` that was calibrated to trials, its inputs are drawn from what the trials left
    possible. `sensors` adds the errors of the sensors that the air was measured with, for a record one offset
    at all times: "sensor.temperature" and the like, as shares of the limit of each sensor
    (`ws.sensor_accuracy()`).

    The Dataset has for wet_time, growth_control, each uptake and each split

    - the quantiles over the draws, along `quantile`;
    - `_nominal`, the outcome with the inputs as given;
    - `_influence`, along `input`: the squared rank correlation of outcome and input over the draws. `grade`
      and `measured_on` are coordinates of each input;
    - `_by_evidence`, along `evidence`: the share of the rank variance that comes from inputs measured on this
      substance or crop, measured on another, taken from published formulas, calibrated, and assumed, and the
      rest, which comes from inputs acting together. It is NaN with fewer than three draws for each input. The
      attribute `by_evidence` is a sentence on this for growth control;
    - with `keep_draws`, the outcomes of the draws (`_draws`) along `sample`, their `status`, and `drawn`, the
      drawn inputs [SI] along `sample` and `input`.

    The attributes count the draws that stay wet (`not_dry`) and those that could not be computed and are left
    out (`failed`). `progress` is called with the number of draws done and of all draws. Without it, a bar is
    shown in a terminal or a notebook after two seconds.

    A squared rank correlation has four flaws. An input without effect gets 1 / (samples - 1) by chance. Only
    effects that rise or fall throughout are seen, so an input whose best value lies in the middle may get 0.
    An effect that two inputs have only together is counted for neither. And the anchors correlate the draws,
    so an input also shows the effect of those it is correlated with, and the shares do not add up to 1.
    `ws.sobol` has none of these flaws, but needs inputs that are drawn independently, and many more runs.
    """
    require_scenario(scenario)
    seed, samples, keep_draws = fixed(seed), checked_samples(samples), yes_or_no("keep_draws", keep_draws)
    place = DrawnSprays.of(scenario, weather, time)
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
        | input_coordinates(list(used), accuracy)
    )
    for name in OUTCOMES:
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
        scenario_attributes(scenario)
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
    for name in OUTCOMES:
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
    for name in OUTCOMES:
        result[f"{name}_draws"] = (("sample", *runs[name].dims[1:]), runs[name].values, runs[name].attrs)
    result["status"] = ("sample", runs["status"].values, runs["status"].attrs)
    about = "what was drawn, in SI; of sensors the error as a share of its limit"
    result["drawn"] = (("sample", "input"), values, {"long_name": about})
    result.coords["sample"] = ("sample", numbers, {"long_name": "number of the draw, from 0"})
    result.coords["input_units"] = ("input", units, {"long_name": "unit of what was drawn"})


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


def _levels(quantiles: Sequence[float]) -> Numbers:
    try:
        levels = np.atleast_1d(np.asarray(quantiles, dtype=float))
    except (TypeError, ValueError):
        levels = np.empty(0)
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
