"""A crop's sensitivity in a file: what trials said about it, how sure that is, and what it rests on."""

from __future__ import annotations

import datetime
import os
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import tomli_w
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from wetspan._core import __version__
from wetspan.errors import InputError
from wetspan.parameters import TABLE, row_of
from wetspan.scenario import Scenario
from wetspan.units import exact, shown, value_in_si

Array = NDArray[np.float64]

GRADE = "C calibrated"
#: Standard deviations from the middle to either end of 90 % of a normal distribution.
Z90 = float(stats.norm.ppf(0.95))
_ROUNDS = 100  # of draws, until enough lie within the table's bounds


@dataclass(frozen=True, eq=False)
class Crop(Mapping[str, float]):
    """Calibrated inputs of a crop, by key, each in the SI unit of the table: `scenario.replace(crop)`.

    `log_covariance` is that of the natural logs, in the order of the inputs. `scenario` is the text of the
    scenario file the calibration rests on: a dose is counted as the model counts it under those inputs.
    """

    name: str
    values_in_si: dict[str, float]
    log_covariance: Array = field(repr=False)
    active: str
    source: str
    date: datetime.date
    scenario: str = field(repr=False, default="")
    grade: str = GRADE

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

    def draw(self, scenario: Scenario, n: int, seed: int = 1) -> list[Scenario]:
        """Return `n` scenarios with the crop's inputs drawn from what the calibration left possible."""
        keys = list(self)
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
        remark = (
            "# A calibrated crop. [spread] is the 90 % factor about each value, [log_covariance] that of\n"
            "# the natural logs; [rests_on] is the scenario before the trials. Calibrated, not validated.\n"
        )
        return remark + tomli_w.dumps(
            head | sections | doubt | {"rests_on": {"scenario": self.scenario}}, multiline_strings=True
        )

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write the crop to a TOML file that `load_crop` reads."""
        try:
            Path(path).write_text(self.to_toml(), encoding="utf-8")
        except OSError as error:
            raise InputError(f"{os.fspath(path)}: cannot be written ({error.strerror})") from None


def bounds(keys: Sequence[str]) -> tuple[Array, Array]:
    """Natural logs of the table's bounds of some inputs, -inf where it allows 0."""
    with np.errstate(divide="ignore"):
        low, high = (np.log([getattr(row_of(key), end) for key in keys]) for end in ("low", "high"))
    return low, high


def draw_logs(keys: Sequence[str], mean: ArrayLike, covariance: Array, n: int, seed: int) -> Array:
    """Draw natural logs of inputs from a normal distribution cut off at the table's bounds, one row each."""
    for name, given, least in (("n", n, 1), ("seed", seed, 0)):
        if isinstance(given, bool) or given != int(given) or given < least:
            raise InputError(f"{name} = {given!r} is not a whole number from {least} on")
    rng = np.random.default_rng(int(seed))
    low, high = bounds(keys)
    kept = np.empty((0, len(keys)))
    for _ in range(_ROUNDS):
        drawn = rng.multivariate_normal(np.asarray(mean, dtype=float), covariance, int(n), method="eigh")
        kept = np.vstack([kept, drawn[((drawn >= low) & (drawn <= high)).all(axis=1)]])
        if len(kept) >= n:
            return kept[:n]
    raise InputError(f"hardly any draw of {', '.join(keys)} lies within the table's bounds")


def load_crop(path: str | os.PathLike[str]) -> Crop:
    """Read a crop file: the changes for `scenario.replace`, with their spreads and covariance."""
    name = os.fspath(path)
    try:
        document = tomllib.loads(Path(path).read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise InputError(f"{name}: cannot be read ({error.strerror})") from None
    except UnicodeDecodeError:
        raise InputError(f"{name}: this is not a text file in UTF-8") from None
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{name}: this is not TOML: {error}") from None
    try:
        return _from_document(document)
    except InputError as error:
        raise InputError(f"{name}: {error}") from None


def _from_document(document: dict[str, Any]) -> Crop:
    told = dict(document)
    covariance = told.pop("log_covariance", None)
    if not isinstance(covariance, dict) or not {"inputs", "matrix"} <= covariance.keys():
        raise InputError("no crop file: [log_covariance] with inputs and matrix is missing")
    keys = [str(key) for key in covariance["inputs"]]
    try:
        matrix = np.array(covariance["matrix"], dtype=float)
    except (TypeError, ValueError):
        raise InputError("log_covariance.matrix does not hold numbers") from None
    if matrix.shape != (len(keys), len(keys)) or not keys:
        raise InputError(f"log_covariance.matrix has shape {matrix.shape}, {len(keys)} inputs are named")
    if not np.isfinite(matrix).all() or not np.allclose(matrix, matrix.T):
        raise InputError("log_covariance.matrix is not a symmetrical matrix of finite numbers")
    if np.linalg.eigvalsh(matrix).min() < -1e-9 * np.trace(matrix):
        raise InputError("log_covariance.matrix is no covariance: a variance comes out negative")
    values = {}
    for key in keys:
        row = row_of(key)
        if row.name not in told.get(row.section, {}):
            raise InputError(f"{key} is in log_covariance.inputs and has no value in [{row.section}]")
        values[key] = value_in_si(row, told[row.section][row.name], bare=False)
    extra = [f"{section}.{name}" for section in {row.section for row in TABLE.values()} & told.keys()
             for name in told[section] if f"{section}.{name}" not in keys]  # fmt: skip
    if extra:
        raise InputError(f"{extra[0]} has a value and is not in log_covariance.inputs")
    Scenario(values)  # refuses what is out of bounds
    date = told.get("date")
    if not isinstance(date, datetime.date):
        raise InputError(f"date = {date!r} is not a date such as 2026-05-14")
    texts = {text: str(told.get(text, "")) for text in ("name", "active_ingredient", "source", "grade")}
    return Crop(
        texts["name"], values, matrix, texts["active_ingredient"], texts["source"], date,
        str(told.get("rests_on", {}).get("scenario", "")), texts["grade"],
    )  # fmt: skip
