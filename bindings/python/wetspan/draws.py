"""Draws of the inputs that are not known, given what is known of their outcome from practice or from a trial.

Inputs that are drawn independently contradict the facts they were calibrated to: a drench that shortens
plants by 20 to 25 % would then give 7 to 46 %. So draws are made given three anchors. All three were used in
the calibration, so none is a validation:

- "drench": 118 mL of 1 mg/L shorten a chrysanthemum by 20 to 25 % (a trade magazine article). The half amount
  of every draw is solved so that the drench gives a control drawn uniformly from this range.
- "spray": 30 to 50 mg/L control a chrysanthemum (Menhenett 1984, Sci. Hortic. 24:349, seen as abstract). This
  is read as the control of the drench, within a factor of 1.6 (90 %), at 40 mg/L.
- "rewetting": a light re-wetting on the following morning raises control by about a tenth (common practice,
  no source), within a factor of 2.

The last two determine the probability with which a draw is kept. The anchors refer to the default crop in its
default conditions. There, the drawn inputs deviate by the same factors as in the scenario, so a crop of
another sensitivity keeps its own value and its uncertainty.
"""

from __future__ import annotations

import warnings
from collections.abc import Collection, Iterator, Mapping
from numbers import Integral, Real
from typing import Protocol, TypeAlias

import numpy as np
import numpy.typing as npt
from scipy.stats import norm, qmc

from wetspan import _core
from wetspan.batch.core import compute
from wetspan.batch.landing_tables import TABLE_PAYS
from wetspan.errors import InputError, echo, nearest
from wetspan.parameters import POSITION, TABLE, row_of
from wetspan.scenario import Scenario, require_scenario
from wetspan.seeds import Seed, fixed, stream
from wetspan.sensors import Sensors, draw_errors, read, stated_with

Numbers: TypeAlias = npt.NDArray[np.float64]

ANCHORS = ("drench", "spray", "rewetting")
HALF_AMOUNT, MOBILE = "crop.half_amount", "uptake.mobile_share"

#: What the single numbers of outputs are, beside which ranges stand.
CENTRAL = "nominal: computed once, with the inputs as given; not the median of draws"
SCREENING_TOLERANCE = 1e-4  # of each of the many runs of an uncertainty study
#: Draws that memory is kept for.
MOST_SAMPLES = 100_000

_Z90 = float(norm.ppf(0.95))
_DRENCH = (0.20, 0.25)  # growth control
_DRENCH_VOLUME, _DRENCH_CONCENTRATION = 118e-6, 1e-3  # m3 a plant, kg/m3
_SPRAY, _SPRAY_FACTOR, _SPRAY_CONCENTRATION = 0.225, 1.6, 0.040  # growth control, 90 % factor, kg/m3
_GAIN, _GAIN_FACTOR = 0.10, 2.0  # of the control by re-wetting, 90 % factor
#: Sections whose inputs the anchors bear upon: the substance, its uptake and what it does.
_RESPONSE = ("active", "uptake", "substrate", "crop")
_TOLERANCE = 1e-4  # of the integration of the anchors' sprays
_ROUNDS = 20


class CropDraws(Protocol):
    """A calibrated crop (`ws.load_crop`): its inputs by key, and draws of them."""

    def __iter__(self) -> Iterator[str]: ...
    def __getitem__(self, key: str) -> float: ...
    def draw(self, scenario: Scenario, n: int, seed: Seed = 1) -> list[Scenario]: ...


Given: TypeAlias = str | Collection[str] | CropDraws | None


def draw(
    scenario: Scenario,
    n: int,
    seed: Seed = 1,
    *,
    inputs: Collection[str] | None = None,
    spreads: Mapping[str, float] | None = None,
    given: Given = "anchors",
    sensors: Sensors = False,
) -> dict[str, Numbers]:
    """Draw `n` values of the inputs that are not known, as columns in SI by key, which `ws.batch` takes.

    Inputs with a `spread` s (`ws.parameters()`) and a value above zero are drawn log-uniformly between value
    / s and value s, within their bounds. A receding contact angle is held below the advancing one.

    `seed` is a whole number, numpy's SeedSequence, or a Generator. The same number or SeedSequence gives the
    same draws; a Generator gives others each time. The draws of the inputs do not depend on `sensors`.

    Parameters
    ----------
    inputs
        Keys of the inputs to draw; all by default. A key without a spread needs one in `spreads`.
    spreads
        90 % factors in place of those of the table, by key.
    given
        What the draws agree with: "anchors", some of the anchors by name ("drench", "spray", "rewetting"), a
        calibrated crop (`ws.load_crop`), or None. The inputs of a crop are drawn together, from what its
        trials left possible. An anchor counts only if the inputs that it bears on are drawn: without
        "crop.half_amount" among the inputs there is no "drench".
    sensors
        Errors of the sensors that the air was measured with: True for temperature, relative_humidity, speed
        and shortwave with their usual accuracy (`ws.sensor_accuracy()`), names of some of them, or their
        limits, {"temperature": "1 K", "shortwave": "10 %"}. The errors are drawn uniformly within these
        limits and added to air.temperature and the like. A measured air.speed is then not drawn within its
        spread as well. The errors of a weather record are drawn by `ws.uncertainty`.
    """
    require_scenario(scenario)
    n, seed = whole("n", n, 1), fixed(seed)
    if n > MOST_SAMPLES:
        raise InputError(f"n = {n} is above {MOST_SAMPLES}, as many as memory is kept for")
    accuracy = read(sensors, None)
    columns = _draw(scenario, n, seed, inputs, spreads, given)
    return columns | stated_with(scenario, accuracy, draw_errors(accuracy, n, seed))


def _draw(
    scenario: Scenario,
    n: int,
    seed: Seed,
    inputs: Collection[str] | None,
    spreads: Mapping[str, float] | None,
    given: Given,
) -> dict[str, Numbers]:
    ranges = ranges_of(scenario, inputs, spreads or {})
    anchors, crop = _read(given)
    if crop is not None:
        columns = _free(scenario, ranges, n, seed, 0)
        posterior = crop.draw(scenario, n, seed)
        return columns | {key: np.array([each[key] for each in posterior]) for key in crop}
    if not anchors or not any(key.split(".")[0] in _RESPONSE for key in ranges):
        return _free(scenario, ranges, n, seed, 0)
    kept: list[dict[str, Numbers]] = []
    found = 0
    for round_ in range(_ROUNDS):
        columns = _given(
            scenario, _free(scenario, ranges, max(2 * n, 32), seed, round_), anchors, seed, round_
        )
        kept.append(columns)
        found += len(next(iter(columns.values())))
        if found >= n:
            break
    else:
        warnings.warn(
            f"only {found} of {n} draws agree with the anchors, which the inputs drawn can hardly meet; the "
            "last are taken again",
            RuntimeWarning,
            stacklevel=3,
        )
        if not found:
            raise InputError(
                "no draw agrees with the anchors: the inputs drawn cannot meet them. Draw more inputs, with "
                "wider spreads, or give given=None and say so"
            )
    joined = {key: np.concatenate([columns[key] for columns in kept]) for key in kept[0]}
    return {key: np.resize(values, n) for key, values in joined.items()}


def told(given: Given) -> str:
    """Return what draws are given, in words."""
    anchors, crop = _read(given)
    if crop is not None:
        return f"the calibrated crop {getattr(crop, 'name', '')}".strip()
    return ", ".join(anchors) or "nothing"


_KNOWN_OF = {"drench": "drenches", "spray": "sprays", "rewetting": "re-wetting"}


def agreeing(given: str) -> str:
    """Return which draws these are, in plain words after "draws", of what `told` returned."""
    if given == "nothing":
        return "of the unknown inputs"
    known = [_KNOWN_OF.get(each) for each in given.split(", ")]
    if None in known:
        return f"of the unknown inputs that agree with {given}"
    *first, last = map(str, known)
    listed = f"{', '.join(first)} and {last}" if first else last
    return f"of the unknown inputs that agree with what is known of {listed}"


def whole(name: str, given: int, least: int) -> int:
    """Return a whole number from `least` on, or refuse what was given."""
    if not isinstance(given, Integral) or isinstance(given, bool) or given < least:
        raise InputError(f"{name} = {given!r} is not a whole number from {least} on")
    return int(given)


def checked_samples(given: int) -> int:
    """Return a number of draws, 2 to `MOST_SAMPLES`, or refuse what was given."""
    if whole("samples", given, 2) > MOST_SAMPLES:
        raise InputError(f"samples = {given} is above {MOST_SAMPLES}, as many as memory is kept for")
    return int(given)


def drawn_inputs(scenario: Scenario) -> list[_core.Parameter]:
    """Return the rows of the table that are drawn by default."""
    return [
        row for row in TABLE.values() if row.kind == "number" and row.spread > 1.0 and scenario[row.key] > 0.0
    ]


def _read(given: Given) -> tuple[tuple[str, ...], CropDraws | None]:
    """Return the anchors that are given, or the crop."""
    if given is None:
        return (), None
    if isinstance(given, str):
        given = ANCHORS if given == "anchors" else (given,)
    if hasattr(given, "draw"):
        return (), given  # type: ignore[return-value]
    if not isinstance(given, Collection):
        raise InputError(
            f"given = {echo(given)} is no anchor; anchors are {', '.join(ANCHORS)}; or 'anchors' for all, a "
            "crop, or None"
        )
    names = [str(name) for name in given]
    for name in names:
        if name not in ANCHORS:
            hint = nearest(name, ANCHORS) or f"anchors are {', '.join(ANCHORS)}"
            raise InputError(f"given = {name!r} is no anchor; {hint}; or 'anchors' for all, a crop, or None")
    return tuple(names), None


def ranges_of(
    scenario: Scenario, inputs: Collection[str] | None, spreads: Mapping[str, float]
) -> dict[str, tuple[float, float]]:
    """Return the lowest and the highest value that is drawn, by key."""
    if not isinstance(spreads, Mapping):
        raise InputError(f"spreads = {echo(spreads)} are not factors by input, {{'uptake.cuticle': 3}}")
    for key, spread in spreads.items():
        row_of(key)
        if not (isinstance(spread, Real) and np.isfinite(float(spread)) and spread > 1.0):
            raise InputError(f"spreads: {key} = {echo(spread)} is not a factor above 1")
    if isinstance(inputs, str):
        inputs = [inputs]
    if inputs is not None and not isinstance(inputs, Collection):
        raise InputError(f"inputs = {echo(inputs)} are not names of inputs, such as ['uptake.cuticle']")
    keys = [row.key for row in drawn_inputs(scenario)] + list(spreads) if inputs is None else inputs
    ranges = {}
    for key in dict.fromkeys(keys):
        row = row_of(key)
        value, spread = scenario[key], float(spreads.get(key, row.spread))
        if row.kind != "number":
            raise InputError(f"{key} is not drawn: it is a {row.kind}")
        if not value > 0.0:
            raise InputError(f"{key} is not drawn: it is {value:g}, and values above 0 are multiplied")
        if not spread > 1.0:
            raise InputError(f"{key} is not drawn: you state it; give its 90 % factor in spreads")
        ranges[key] = max(row.low, value / spread), min(row.high, value * spread)
    return ranges


def _free(
    scenario: Scenario, ranges: Mapping[str, tuple[float, float]], n: int, seed: Seed, round_: int
) -> dict[str, Numbers]:
    """Draw inputs log-uniformly, each on its own, by a Latin hypercube."""
    if not ranges:
        raise InputError("there is nothing to draw: no input with a spread is above 0")
    source = stream(seed, round_) if round_ else stream(seed)
    return scaled(scenario, ranges, qmc.LatinHypercube(d=len(ranges), rng=source).random(n))


def scaled(
    scenario: Scenario, ranges: Mapping[str, tuple[float, float]], uniform: Numbers
) -> dict[str, Numbers]:
    """Return columns by key of numbers from 0 to 1 (draws x inputs), log-uniform within their ranges."""
    low, high = np.array(list(ranges.values())).T
    values = np.clip(low * (high / low) ** uniform, low, high)
    columns = {key: np.ascontiguousarray(values[:, i]) for i, key in enumerate(ranges)}
    if "leaf.receding_angle" in columns:
        contact = columns.get("leaf.contact_angle", np.full(len(uniform), scenario["leaf.contact_angle"]))
        columns["leaf.receding_angle"] = np.minimum(columns["leaf.receding_angle"], contact)
    return columns


def _given(
    scenario: Scenario, columns: dict[str, Numbers], anchors: Collection[str], seed: Seed, round_: int
) -> dict[str, Numbers]:
    """Return the draws that agree with the anchors, their half amounts solved."""
    source = stream(seed, round_, 1)
    count = len(next(iter(columns.values())))
    reference = Scenario()
    # at the anchors the inputs deviate by the same factors
    there = {
        key: np.clip(reference[key] * values / scenario[key], TABLE[key].low, TABLE[key].high)
        for key, values in columns.items()
        if key.split(".")[0] in _RESPONSE and reference[key] > 0.0
    }
    keep = np.ones(count, dtype=bool)
    if "drench" in anchors and HALF_AMOUNT in columns:
        control = _DRENCH[0] + (_DRENCH[1] - _DRENCH[0]) * source.random(count)
        half = _core.half_amounts(
            reference.replace({"application.method": "drench"})._core,
            [(POSITION[key], values) for key, values in there.items() if key != HALF_AMOUNT],
            _DRENCH_VOLUME,
            _DRENCH_CONCENTRATION,
            control,
        )
        row = TABLE[HALF_AMOUNT]
        columns = columns | {HALF_AMOUNT: half * (scenario[HALF_AMOUNT] / reference[HALF_AMOUNT])}
        there[HALF_AMOUNT] = half
        keep &= np.isfinite(half) & (half >= row.low) & (half <= row.high)
        keep &= (columns[HALF_AMOUNT] >= row.low) & (columns[HALF_AMOUNT] <= row.high)
    weight = np.ones(count)
    weighed = np.flatnonzero(keep)
    if len(weighed) and ("spray" in anchors or "rewetting" in anchors):
        sprays, gains = _sprays(reference, {key: values[weighed] for key, values in there.items()}, anchors)
        if "spray" in anchors:
            weight[weighed] *= _likely(sprays, _SPRAY, _SPRAY_FACTOR)
        if "rewetting" in anchors:
            weight[weighed] *= _likely(gains, _GAIN, _GAIN_FACTOR)
    keep &= source.random(count) < weight
    return {key: values[keep] for key, values in columns.items()}


def _likely(values: Numbers, about: float, factor: float) -> Numbers:
    """Return how likely values are beside the likeliest, lognormal with a 90 % factor; 0 of what failed."""
    with np.errstate(divide="ignore", invalid="ignore"):
        off = np.log(values / about) / (np.log(factor) / _Z90)
    return np.asarray(np.nan_to_num(np.exp(-0.5 * off**2), nan=0.0))


def _sprays(
    reference: Scenario, there: Mapping[str, Numbers], anchors: Collection[str]
) -> tuple[Numbers, Numbers]:
    """Return the control of the anchor's spray, and what a re-wetting adds to the default one's.

    A re-wetted spray is taken as one of which more was mobile from the start, at a hundredth of the cost of a
    full computation (mobile_share_if_rewetted in the C++ header study/rewetting.hpp).
    """
    count = len(next(iter(there.values())))
    plain = reference.replace({"numerics.tolerance": _TOLERANCE})
    strong = plain.in_si({"application.concentration": _SPRAY_CONCENTRATION})
    computed = [strong, plain, plain] if "rewetting" in anchors else [strong]
    inputs = {key: np.tile(values, len(computed)) for key, values in there.items()}
    if "rewetting" in anchors:
        mobile = there.get(MOBILE, np.full(count, reference[MOBILE]))
        given = [(POSITION[key], values) for key, values in there.items()]
        more = _core.mobile_shares_if_rewetted(reference._core, given, count)
        inputs[MOBILE] = np.concatenate([mobile, mobile, more])
    done = compute(
        computed,
        [],
        count=count * len(computed),
        inputs=[(POSITION[key], values) for key, values in inputs.items()],
        scenario_of=np.repeat(np.arange(len(computed), dtype=np.uint64), count),
    )
    control = done.columns["growth_control"].reshape(len(computed), count)
    if len(computed) == 1:
        return control[0], np.full(count, np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        return control[0], control[2] / control[1] - 1.0


def quantile_over_draws(values: Numbers, levels: float | Numbers) -> Numbers:
    """Quantiles over the first axis, each one of the values: they may be infinite. NaN does not count."""
    ordered = np.sort(values, axis=0)  # NaN come last
    known = np.asarray((~np.isnan(values)).sum(axis=0))
    level = np.asarray(levels, dtype=float).reshape(np.shape(levels) + (1,) * known.ndim)
    place = np.clip(np.ceil(known * level - 1.0), 0, max(len(values) - 1, 0)).astype(np.intp)
    if level.ndim == known.ndim:
        return np.asarray(np.take_along_axis(ordered, place[None], axis=0)[0])
    return np.asarray(np.take_along_axis(ordered, place, axis=0))


def draw_scenarios(
    scenario: Scenario, samples: int, seed: Seed, crop: CropDraws | None = None, *, each: int = 1
) -> list[Scenario]:
    """Draw scenarios around one, as `uncertainty` does; `each` times are run of every one."""
    columns = draw(scenario, checked_samples(samples), seed, given="anchors" if crop is None else crop)
    loose = screening(scenario, each)
    values = np.array(list(columns.values())).T.tolist()
    return [loose.in_si(dict(zip(columns, each, strict=True))) for each in values]


def screening(scenario: Scenario, each: int = 1) -> Scenario:
    """Return a scenario as one of many draws is run, with the tolerance of that.

    Where fewer runs than a table pays for (`each`) share the spray of a draw, its flights are computed.
    """
    values = {"numerics.tolerance": max(scenario["numerics.tolerance"], SCREENING_TOLERANCE)}
    if each < TABLE_PAYS:
        values["numerics.flights"] = 0.0
    return scenario.in_si(values)
