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
from wetspan.errors import InputError, Problems, echo, nearest, shortened
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
#: Standard deviation of a log beyond which nothing is known: a factor of 5e21 either way (grade D).
_WIDEST = 50.0
#: Standard deviations by which a value, the most probable one, may lie outside all draws (grade D).
_APART = 4.0
#: What a crop's file holds beside the sections of its inputs.
_TEXTS = ("name", "active_ingredient", "source", "grade")
_KEYS = (*_TEXTS, "date", "format", "wetspan")
_TABLES = {
    "spread": (),
    "log_covariance": ("inputs", "matrix"),
    "rests_on": ("scenario",),
    "draws": ("logs",),
}


@dataclass(frozen=True, eq=False)
class Crop(Mapping[str, float]):
    """Calibrated inputs of a crop, by key, each in the SI unit of the table: `scenario.replace(crop)`.

    `log_covariance` is the covariance of their natural logs, in the order of the inputs. `scenario` is the
    text of the scenario file to which the calibration refers, because a dose is counted as the model counts
    it under those inputs. `log_draws` are equally likely natural logs of the inputs in SI [draw, input],
    since the distribution that trials leave possible is skewed. Without them, draws are normal. InputError
    names what of this does not go together.
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

    def __post_init__(self) -> None:
        if not isinstance(self.values_in_si, Mapping) or not self.values_in_si:
            raise InputError(
                f"values_in_si = {echo(self.values_in_si)} has no input, such as crop.half_amount"
            )
        values = {key: _allowed(key, value) for key, value in self.values_in_si.items()}
        matrix = _checked_covariance(list(values), self.log_covariance)
        draws = _checked_draws(values, matrix, self.log_draws)
        if not isinstance(self.date, datetime.date):
            raise InputError(f"date = {echo(self.date)} is not a date such as 2026-05-14")
        for name in ("name", "active", "source", "scenario", "grade"):
            if not isinstance(told := getattr(self, name), str):
                raise InputError(f"{name} = {echo(told)} is not a text")
        day = self.date.date() if isinstance(self.date, datetime.datetime) else self.date
        for name, checked in (
            ("values_in_si", values), ("log_covariance", matrix), ("log_draws", draws), ("date", day),
        ):  # fmt: skip
            object.__setattr__(self, name, checked)

    def __getitem__(self, key: str) -> float:
        return self.values_in_si[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self.values_in_si)

    def __len__(self) -> int:
        return len(self.values_in_si)

    @property
    def spreads(self) -> dict[str, float]:
        """90 % factor about each value, as `spread` in `ws.parameters()`: the priors of the next trial."""
        return dict(zip(self, _spreads(self.log_covariance), strict=True))

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
    whole = isinstance(n, (int, float, np.integer, np.floating)) and not isinstance(n, bool) and n % 1 == 0
    if not whole or n < 1:
        raise InputError(f"n = {echo(n)} is not a whole number from 1 on")
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
    _check_names(document, place, problems)
    with problems.noted(place("log_covariance")):
        keys, matrix = _covariance(document.get("log_covariance"))
    problems.refuse()
    with problems.noted(place("draws")):
        draws = _draws(document.get("draws"), keys)
    values = {}
    for key in keys:
        with problems.noted(place(key)):
            values[key] = _calibrated(document, key)
    for key in (f"{section}.{name}" for section in _sections(document) for name in document[section]):
        if key not in keys:
            problems.add(f"{place(key)}{key} has a value and is not in log_covariance.inputs")
    texts: dict[str, Any] = {name: document.get(name) for name in _TEXTS}
    for name, text in texts.items():
        if not isinstance(text, str):  # where trials name no active ingredient, its text is empty
            said = f"there is no {name}" if text is None else f"{name} = {echo(text)} is not a text"
            problems.add(f"{place(name)}{said}")
    if isinstance(texts["grade"], str) and texts["grade"] != GRADE:
        problems.add(f"{place('grade')}grade = {echo(texts['grade'])}: what trials say is '{GRADE}'")
    date = document.get("date")
    if not isinstance(date, datetime.date):
        problems.add(f"{place('date')}date = {echo(date)} is not a date such as 2026-05-14")
    rests_on = _rests_on(document)
    if not isinstance(rests_on, str):
        problems.add(f"{place('rests_on')}rests_on.scenario is not the text of a scenario file")
    problems.refuse()
    with problems.noted(place("draws")):
        _checked_draws(values, matrix, draws)
    _check_spreads(
        document.get("spread", {}), dict(zip(keys, _spreads(matrix), strict=True)), place, problems
    )
    problems.refuse()
    Scenario().in_si(values)  # refuses what does not go together
    assert isinstance(date, datetime.date)
    return Crop(
        texts["name"], values, matrix, texts["active_ingredient"], texts["source"], date, str(rests_on),
        GRADE, draws,
    )  # fmt: skip


def _sections(document: Mapping[str, Any]) -> list[str]:
    """Return the sections of a file that hold inputs."""
    known = {row.section for row in TABLE.values()}
    return [name for name in document if name in known and isinstance(document[name], dict)]


def _check_names(document: Mapping[str, Any], place: Callable[[str], str], problems: Problems) -> None:
    """Note what a crop's file does not have: a misspelt table would be left out without a word."""
    known = [*_KEYS, *_TABLES, *_sections(document)]
    for name in document:
        if name not in known:
            hint = nearest(name, known) or "`trial calibrate --save` writes no such entry"
            problems.add(f"{place(name)}'{shortened(name)}' is unknown in a crop's file; {hint}")
    for table, names in _TABLES.items():
        told = document.get(table)
        for name in told if names and isinstance(told, dict) else ():
            if name not in names:
                hint = nearest(name, names) or f"it has {' and '.join(names)}"
                problems.add(f"{place(f'{table}.{name}')}'{shortened(name)}' is unknown in [{table}]; {hint}")


def _check_spreads(
    told: object, spreads: Mapping[str, float], place: Callable[[str], str], problems: Problems
) -> None:
    """Note a spread that is not that of the covariance: it is told for people, and nothing reads it."""
    for key, spread in told.items() if isinstance(told, dict) else ():
        number = isinstance(spread, (int, float)) and not isinstance(spread, bool)
        if key not in spreads or not number or abs(spread - spreads[key]) > 1e-4 * spreads[key]:
            said = f"{spreads[key]:.6g}" if key in spreads else "nothing of it"
            problems.add(
                f"{place('spread')}the spread of {shortened(key)} is {echo(spread)} and log_covariance says "
                f"{said}; calibrate again, or leave [spread] out"
            )


def _covariance(told: object) -> tuple[list[str], Array]:
    if not isinstance(told, dict) or not {"inputs", "matrix"} <= told.keys():
        raise InputError("[log_covariance] with inputs and matrix is missing")
    if not isinstance(told["inputs"], list) or not told["inputs"]:
        raise InputError(f"log_covariance.inputs = {echo(told['inputs'])} is not a list of inputs")
    keys = [str(key) for key in told["inputs"]]
    if doubled := [key for key in keys if keys.count(key) > 1]:
        raise InputError(f"log_covariance.inputs names {doubled[0]} twice")
    return keys, _checked_covariance(keys, told["matrix"])


def _checked_covariance(keys: Sequence[str], told: object) -> Array:
    """Return a covariance of the logs of some inputs as numbers; refuses what is none."""
    try:
        matrix = np.array(told, dtype=float)
    except (TypeError, ValueError):
        raise InputError("log_covariance.matrix does not hold numbers") from None
    if matrix.shape != (len(keys), len(keys)):
        raise InputError(f"log_covariance.matrix has shape {matrix.shape}, {len(keys)} inputs are named")
    if not np.isfinite(matrix).all() or not np.allclose(matrix, matrix.T):
        raise InputError("log_covariance.matrix is not a symmetrical matrix of finite numbers")
    if np.diag(matrix).max() > _WIDEST**2:
        raise InputError("log_covariance.matrix has variances beyond all measure; are they of natural logs?")
    if np.linalg.eigvalsh(matrix).min() < -1e-9 * np.trace(matrix):
        raise InputError("log_covariance.matrix is no covariance: a variance comes out negative")
    return matrix


def _spreads(covariance: Array) -> list[float]:
    """Return the factors about the values that hold 90 % of a distribution of logs."""
    told: list[float] = np.exp(Z90 * np.sqrt(np.diag(covariance))).tolist()
    return told


def _draws(told: object, keys: list[str]) -> Array:
    """Return the draws of a file, of each input in its order."""
    if told is None:
        return np.empty((0, 0))
    text = told.get("logs") if isinstance(told, dict) else None
    if not isinstance(text, str):
        raise InputError("draws.logs is no text of numbers, a draw on each line")
    rows = [line.split() for line in text.splitlines() if line.strip()]
    if not rows:
        raise InputError("draws.logs holds no draw; without [draws], draws are normal")
    try:
        if any(len(row) != len(keys) for row in rows):
            raise ValueError
        return np.array(rows, dtype=float)
    except ValueError:
        raise InputError(f"draws.logs has not {len(keys)} numbers on each line") from None


def _checked_draws(values: Mapping[str, float], covariance: Array, told: object) -> Array:
    """Return draws of logs as numbers; refuses what no calibration of these values leaves possible."""
    try:
        logs = np.array(told, dtype=float)
    except (TypeError, ValueError):
        raise InputError("draws.logs does not hold numbers") from None
    if not logs.size:
        return np.empty((0, 0))
    if logs.ndim != 2 or logs.shape[1] != len(values):
        raise InputError(f"draws.logs has shape {logs.shape}, {len(values)} inputs are named")
    low, high = bounds(list(values))
    slack = 1e-5 * np.maximum(1.0, np.abs(logs))  # of what a file rounds
    if not (np.isfinite(logs) & (logs >= low - slack) & (logs <= high + slack)).all():
        raise InputError("draws.logs has inputs outside what the table of inputs allows")
    reach = _APART * np.sqrt(np.diag(covariance)) + slack.max()
    at = np.log(list(values.values()))
    for place in np.flatnonzero((at < logs.min(axis=0) - reach) | (at > logs.max(axis=0) + reach)):
        key = list(values)[place]
        row, ends = row_of(key), np.exp([logs[:, place].min(), logs[:, place].max()])
        told = [f"{float(shown(row, value)):.4g}" for value in (values[key], *ends)]
        unit = "" if row.shown == "1" else f" {row.shown}"
        raise InputError(
            f"{key} is {told[0]}{unit} and its draws go from {told[1]} to {told[2]}{unit}: they are not of "
            "one calibration; was one of them changed by hand?"
        )
    return np.asarray(np.clip(logs, low, high), dtype=float)


def _allowed(key: str, value: object) -> float:
    """Return a value in SI of an input, checked against the table."""
    row = row_of(key)
    number = isinstance(value, (int, float, np.integer, np.floating)) and not isinstance(value, bool)
    if not number or not row.low <= value <= row.high:  # type: ignore[operator]
        raise InputError(f"{key} = {echo(value)} is not a number from {row.low:g} to {row.high:g} {row.unit}")
    return float(value)  # type: ignore[arg-type]


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
