"""A calibrated crop and its file: the values, how sure they are, and the scenario they refer to."""

from __future__ import annotations

import datetime
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from statistics import NormalDist
from typing import Any

import numpy as np
import tomli_w
from numpy.typing import ArrayLike, NDArray

from wetspan._core import __version__
from wetspan.errors import InputError, Problems, echo
from wetspan.files import file_name, read_toml, toml_lines, write_text
from wetspan.parameters import TABLE, row_of
from wetspan.scenario import Scenario
from wetspan.seeds import Seed, stream
from wetspan.unit_shown import shown
from wetspan.units import exact, outside, value_in_si

Array = NDArray[np.float64]

GRADE = "C calibrated"
#: Version of what a crop's file holds. Another is refused: its numbers would mean something else.
FORMAT = 3
#: Standard deviations from the middle to either end of 90 % of a normal distribution.
Z90 = NormalDist().inv_cdf(0.95)
_ROUNDS = 100  # of draws, until enough lie within the table's bounds


@dataclass(frozen=True, eq=False)
class Crop(Mapping[str, float]):
    """Calibrated inputs of a crop, by key, each in the SI unit of the table: `scenario.replace(crop)`.

    `log_covariance` is the covariance of their natural logs, in the order of the inputs. `scenario` is the
    text of the scenario file to which the calibration refers, because a dose is counted as the model counts
    it under those inputs. `log_draws` are equally likely natural logs of the inputs in SI [draw, input],
    since the distribution that trials leave possible is skewed. Without them, draws are normal.
    """

    name: str
    values_in_si: dict[str, float]
    log_covariance: Array = field(repr=False)
    active: str
    source: str
    date: datetime.date
    scenario: str = field(repr=False, default="")
    grade: str = GRADE
    log_draws: Array = field(repr=False, default_factory=lambda: np.empty((0, 0)))

    def __getitem__(self, key: str) -> float:
        return self.values_in_si[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self.values_in_si)

    def __len__(self) -> int:
        return len(self.values_in_si)

    @property
    def spreads(self) -> dict[str, float]:
        """90 % factor about each value, as `spread` in `ws.parameters()`: the priors of the next trial."""
        return dict(zip(self, np.exp(Z90 * np.sqrt(np.diag(self.log_covariance))).tolist(), strict=True))

    def draw(self, scenario: Scenario, n: int, seed: Seed = 1) -> list[Scenario]:
        """Return `n` scenarios with the crop's inputs drawn from what the calibration left possible."""
        keys = list(self)
        if len(self.log_draws):
            logs = self.log_draws[stream(seed).integers(len(self.log_draws), size=draws_asked(n))]
        else:
            logs = draw_logs(keys, np.log(list(self.values())), self.log_covariance, n, seed)
        return [scenario.in_si(dict(zip(keys, np.exp(row).tolist(), strict=True))) for row in logs]

    def to_toml(self) -> str:
        """Return the crop as a file's text; its sections are written as in a scenario file."""
        head: dict[str, Any] = {
            "name": self.name,
            "grade": self.grade,
            "active_ingredient": self.active,
            "source": self.source,
            "date": self.date,
            "format": FORMAT,
            "wetspan": __version__,
        }
        sections: dict[str, dict[str, object]] = {}
        for key, value in self.items():
            row = row_of(key)
            plain = row.shown == "1"
            sections.setdefault(row.section, {})[row.name] = shown(row, value) if plain else exact(row, value)
        doubt = {
            "spread": {key: float(f"{spread:.6g}") for key, spread in self.spreads.items()},
            "log_covariance": {
                "inputs": list(self),
                "matrix": [[float(f"{value:.8g}") for value in row] for row in self.log_covariance.tolist()],
            },
        }
        lines = [" ".join(f"{value:.6g}" for value in row) for row in self.log_draws.tolist()]
        drawn = {"draws": {"logs": "\n".join(lines) + "\n"}} if lines else {}
        remark = (
            "# A calibrated crop. [spread] is the 90 % factor about each value, [log_covariance] that of\n"
            "# the natural logs; [draws] are equally likely logs in SI; [rests_on] is the scenario before\n"
            "# the trials. Calibrated, not validated.\n"
        )
        return remark + tomli_w.dumps(
            head | sections | doubt | {"rests_on": {"scenario": self.scenario}} | drawn,
            multiline_strings=True,
        )

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write the crop to a TOML file that `load_crop` reads."""
        write_text(path, self.to_toml())


def bounds(keys: Sequence[str]) -> tuple[Array, Array]:
    """Natural logs of the table's bounds of some inputs, -inf where it allows 0."""
    with np.errstate(divide="ignore"):
        low, high = (np.log([getattr(row_of(key), end) for key in keys]) for end in ("low", "high"))
    return low, high


def draws_asked(n: int) -> int:
    """A number of draws."""
    if isinstance(n, bool) or n != int(n) or n < 1:
        raise InputError(f"n = {n!r} is not a whole number from 1 on")
    return int(n)


def draw_logs(keys: Sequence[str], mean: ArrayLike, covariance: Array, n: int, seed: Seed) -> Array:
    """Draw natural logs of inputs from a normal distribution cut off at the table's bounds, one row each."""
    number, rng = draws_asked(n), stream(seed)
    low, high = bounds(keys)
    kept = np.empty((0, len(keys)))
    for _ in range(_ROUNDS):
        drawn = rng.multivariate_normal(np.asarray(mean, dtype=float), covariance, number, method="eigh")
        kept = np.vstack([kept, drawn[((drawn >= low) & (drawn <= high)).all(axis=1)]])
        if len(kept) >= number:
            return kept[:number]
    raise InputError(f"hardly any draw of {', '.join(keys)} lies within the table's bounds")


def is_crop(document: Mapping[str, Any]) -> bool:
    """Return whether a parsed TOML file is that of a calibrated crop."""
    return "log_covariance" in document or "rests_on" in document


def load_crop(path: str | os.PathLike[str]) -> Crop:
    """Read a crop file: the changes for `scenario.replace`, with their spreads and covariance."""
    name = file_name(path)
    document, text = read_toml(path)
    lines = toml_lines(text)
    return _from_document(
        document, lambda key: f"{name}, line {lines[key]}: " if key in lines else f"{name}: "
    )


def _check_format(told: Mapping[str, Any]) -> None:
    if not is_crop(told):
        raise InputError(
            "this is no calibrated crop: it has no [log_covariance]; `trial calibrate --save` writes one"
        )
    version = told.get("format", 1)
    if version != FORMAT:
        age = "an earlier" if isinstance(version, int) and version < FORMAT else "another"
        raise InputError(
            f"the crop was calibrated by {age} version (format {echo(version)}, this one reads {FORMAT}), "
            "whose inputs mean something else: calibrate it again from its trials"
        )


def _from_document(document: dict[str, Any], place: Callable[[str], str]) -> Crop:
    problems = Problems()
    with problems.noted(place("")):
        _check_format(document)
    problems.refuse()
    with problems.noted(place("log_covariance")):
        keys, matrix = _covariance(document.get("log_covariance"))
    problems.refuse()
    with problems.noted(place("draws")):
        draws = _draws(document.get("draws"), keys)
    values = {}
    for key in keys:
        with problems.noted(place(key)):
            values[key] = _calibrated(document, key)
    sections = {row.section for row in TABLE.values()} & document.keys()
    for key in (f"{section}.{name}" for section in sections for name in document[section]):
        if key not in keys:
            problems.add(f"{place(key)}{key} has a value and is not in log_covariance.inputs")
    date = document.get("date")
    if not isinstance(date, datetime.date):
        problems.add(f"{place('date')}date = {echo(date)} is not a date such as 2026-05-14")
    problems.refuse()
    Scenario().in_si(values)  # refuses what does not go together
    texts = [str(document.get(text, "")) for text in ("name", "active_ingredient", "source", "grade")]
    name, active, source, grade = texts
    assert isinstance(date, datetime.date)
    return Crop(name, values, matrix, active, source, date, str(_rests_on(document)), grade, draws)


def _covariance(told: object) -> tuple[list[str], Array]:
    if not isinstance(told, dict) or not {"inputs", "matrix"} <= told.keys():
        raise InputError("[log_covariance] with inputs and matrix is missing")
    if not isinstance(told["inputs"], list) or not told["inputs"]:
        raise InputError(f"log_covariance.inputs = {echo(told['inputs'])} is not a list of inputs")
    keys = [str(key) for key in told["inputs"]]
    try:
        matrix = np.array(told["matrix"], dtype=float)
    except (TypeError, ValueError):
        raise InputError("log_covariance.matrix does not hold numbers") from None
    if matrix.shape != (len(keys), len(keys)):
        raise InputError(f"log_covariance.matrix has shape {matrix.shape}, {len(keys)} inputs are named")
    if not np.isfinite(matrix).all() or not np.allclose(matrix, matrix.T):
        raise InputError("log_covariance.matrix is not a symmetrical matrix of finite numbers")
    if np.linalg.eigvalsh(matrix).min() < -1e-9 * np.trace(matrix):
        raise InputError("log_covariance.matrix is no covariance: a variance comes out negative")
    return keys, matrix


def _draws(told: object, keys: list[str]) -> Array:
    if told is None:
        return np.empty((0, 0))
    text = told.get("logs") if isinstance(told, dict) else None
    if not isinstance(text, str):
        raise InputError("draws.logs is no text of numbers, a draw on each line")
    rows = [line.split() for line in text.splitlines() if line.strip()]
    try:
        logs = np.array(rows, dtype=float).reshape(-1, len(keys))
    except ValueError:
        raise InputError(f"draws.logs has not {len(keys)} numbers on each line") from None
    low, high = bounds(keys)
    slack = 1e-5 * np.maximum(1.0, np.abs(logs))  # of what a file rounds
    if (
        len(logs) != len(rows)
        or not (np.isfinite(logs) & (logs >= low - slack) & (logs <= high + slack)).all()
    ):
        raise InputError("draws.logs has inputs outside what the table of inputs allows")
    return np.asarray(np.clip(logs, low, high), dtype=float)


def _calibrated(document: Mapping[str, Any], key: str) -> float:
    row = row_of(key)
    section = document.get(row.section, {})
    if not isinstance(section, dict) or row.name not in section:
        raise InputError(f"{key} is in log_covariance.inputs and has no value in [{row.section}]")
    value = value_in_si(row, section[row.name], bare=False)
    if not row.low <= value <= row.high:
        raise outside(key, row, section[row.name])
    return value


def _rests_on(told: Mapping[str, Any]) -> object:
    rests_on = told.get("rests_on", {})
    return rests_on.get("scenario", "") if isinstance(rests_on, dict) else ""
