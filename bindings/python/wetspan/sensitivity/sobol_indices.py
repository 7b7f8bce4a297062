"""Sobol indices: the share of each input in the variance of the outcomes, alone and with others."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from typing import Any, TypeAlias

import numpy as np
import xarray as xr

from wetspan.draws import checked_samples, ranges_of, scaled, told
from wetspan.errors import InputError
from wetspan.outcome import scenario_attributes
from wetspan.progress import Progress, shown
from wetspan.record import Moment, Numbers
from wetspan.scenario import Scenario, require_scenario
from wetspan.seeds import Seed, fixed, stream
from wetspan.seeds import told as told_seed
from wetspan.sensitivity.sprays import OUTCOMES, DrawnSprays, input_coordinates
from wetspan.sensors import Sensors, read
from wetspan.weather import Weather

#: Numbers from 0 to 1 (rows x inputs) to outcomes by name (rows first).
Model: TypeAlias = Callable[[Numbers], Mapping[str, Numbers]]

_RESAMPLED = 200  # times, for the confidence of Sobol indices
#: What wet times may be off by the integration, over the tolerance [1]: the most that test_clock.cpp allows
#: between the two paths.
_ERROR = 20.0


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
    """Return the Sobol indices of the inputs that are not known: the share of each in the variance of the
    outcomes.

    `_first` [1] is the share of an outcome's variance that an input explains alone. `_total` is the share
    that would remain if all other inputs were known: what the input does alone and together with others. An
    input whose total index is near 0 may be fixed. `_confidence` of either is half the width of its interval
    at that confidence level, from resampled runs; if it is as large as the index, take more samples. The
    outcomes are wet_time, growth_control, each uptake and each split; the indices lie along `input`, and
    `_variance` is the variance of each outcome. The indices are 0 where an outcome varies by no more than its
    integration may be off.

    Inputs are drawn as by `ws.draw(..., given=None)`, each independently, because the indices require this.
    So the anchors do not apply, the outcomes spread wider than with `uncertainty`, and the shares refer to
    this wider spread. If a plant does not dry, its wet time counts as long as the plant is followed.

    `samples`, a power of 2, times the number of inputs plus 2 is the number of runs. Name the `inputs` that
    matter (`uncertainty` shows which may). Samples with a run that fails are left out (`failed`). `progress`
    is called with the number of runs done and of all runs; without it a bar is shown as by `uncertainty`.

    The scheme is Saltelli's with a scrambled Sobol' sequence and the estimators of Saltelli et al. 2010
    (Comput. Phys. Commun. 181:259). SALib computes it, an optional dependency (`pip install
    wetspan[sensitivity]`).
    """
    require_scenario(scenario)
    samples, seed = checked_samples(samples), fixed(seed)
    if samples & (samples - 1):
        raise InputError(f"samples = {samples} is not a power of 2, such as {1 << samples.bit_length()}")
    place = DrawnSprays.of(scenario, weather, time)
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
        about.update({name: runs[name] for name in (*OUTCOMES, "site", "target", "status")})
        found = {name: runs[name].values for name in OUTCOMES}
        found["wet_time"] = np.minimum(found["wet_time"], longest)  # infinite where it does not dry
        return found

    error = _ERROR * scenario["numerics.tolerance"]
    found, lost = indices(model, keys, samples, seed, confidence, error=error)
    result = _indices_of(found, about, input_coordinates(keys, accuracy), confidence)
    result = result.assign_coords({name: about[name] for name in ("site", "target")})
    result.attrs = (
        scenario_attributes(scenario)
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
    model: Model,
    names: Sequence[str],
    samples: int,
    seed: Seed,
    confidence: float = 0.9,
    *,
    error: float = 0.0,
) -> tuple[dict[str, dict[str, Numbers]], int]:
    """Return first and total Sobol indices of a model's outcomes, and how many samples were left out.

    By outcome: "first", "first_confidence", "total", "total_confidence" (inputs first), and "variance". 0 of
    outcomes that do not vary by more than `error`, over their largest value [1]: what a model's integration
    may be off, which the indices would share out among inputs that do not matter.
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
        if np.ptp(one) <= error * np.abs(one).max():
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
