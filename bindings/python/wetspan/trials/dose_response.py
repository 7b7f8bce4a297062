"""The log-logistic curve of height against rate, fitted plant by plant.

height(x) = c + (d - c) / (1 + (x / e)^b)

with upper limit d (the untreated check, x = 0), lower limit c, half-way rate e and slope b > 0. Four
parameters fit all; three set c = 0; two set c = 0 and hold d at a given check height. NumPy and SciPy only:
nothing here needs the spray model, so that a calibration can import it from either side.

Sources: Finney D J (1978) Statistical Method in Biological Assay, 3rd ed.; Seber G A F & Wild C J (1989)
Nonlinear Regression, ch. 5 (intervals by linearisation).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats
from scipy.optimize import least_squares
from scipy.special import expit

from wetspan.errors import InputError

Array = NDArray[np.float64]

SLOPES = (0.05, 50.0)  # bounds of b [-]: flatter or steeper cannot be told from a line or a step
LEAST_RATES = 3  # check included
UNFIXED = "The rates tested do not fix the shape of the curve: add rates between those that act and not."
TOLD = 1000.0  # a limit further than this factor from its rate is told as beyond that
REACH = 10.0  # ln(e) is sought this far beyond the tested rates: a factor of 22 000


def plain_number(value: float, digits: int = 3) -> str:
    """A number to so many digits as people write it, without an exponent unless it is absurd."""
    if not 1e-6 <= abs(value) < 1e9:
        return f"{value:.{digits}g}"
    return np.format_float_positional(value, digits, unique=False, fractional=False, trim="-")


def _remaining(log_rate: Array, slope: float, log_half: float) -> Array:
    """1 / (1 + (x/e)^b), from ln(x); 1 at x = 0."""
    return np.asarray(expit(-slope * (log_rate - log_half)), dtype=float)


def _log(rate: Array) -> Array:
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(rate), dtype=float)


def log_logistic(rate: ArrayLike, slope: float, half: float, lower: float, upper: float) -> Array:
    """Height at `rate`: lower + (upper - lower) / (1 + (rate / half)^slope).

    Parameters: `rate` >= 0 (concentration or dose, any unit); `slope` b > 0 [-]; `half` e > 0 [unit of rate];
    `lower` c and `upper` d [unit of height].
    """
    x = np.asarray(rate, dtype=float)
    return lower + (upper - lower) * _remaining(_log(x), slope, float(np.log(half)))


@dataclass(frozen=True)
class RateEstimate:
    """The rate for a wanted growth control, with its interval and warnings.

    `rate`, `lower` and `upper` are in `unit`; `rate` is nan if the curve does not reach this control.
    """

    control: float
    rate: float
    lower: float
    upper: float
    unit: str
    level: float
    warnings: tuple[str, ...] = ()

    @property
    def inside_tested_range(self) -> bool:
        """True if the rate and both limits lie within the rates that were tested."""
        return not self.warnings

    @property
    def limits(self) -> str:
        """The interval as people read it: "73.4 to 121", or "under 0.223 to over 223000" of a rate of 223."""
        low, high = max(self.lower, self.rate / TOLD), min(self.upper, self.rate * TOLD)
        under, over = ("under " if self.lower < low else ""), ("over " if self.upper > high else "")
        return f"{under}{plain_number(low)} to {over}{plain_number(high)}"

    @property
    def text(self) -> str:
        share = f"{100 * self.control:.3g} %"
        if np.isnan(self.rate):
            return " ".join([f"No rate can be given for {share} shorter plants.", *self.warnings])
        if np.isnan(self.lower):
            interval = "no interval can be given"
        else:
            interval = f"{100 * self.level:.3g} % interval {self.limits}"
        told = f"{plain_number(self.rate)} {self.unit}".rstrip()
        return " ".join(
            [
                f"For {share} shorter plants: {told} ({interval}).",
                *self.warnings,
            ]
        )


@dataclass(frozen=True)
class LogLogisticFit:
    """A fitted curve. `covariance` is that of (slope, ln half, lower, upper); held parameters have zeros.

    Heights in the unit of the table, `half`, `lowest` and `highest` (tested rates above zero) in the unit of
    the rate. `effect_p`: F test of the curve against no effect of rate; `lack_of_fit_p`: F test of the curve
    against free treatment means (nan where the curve has as many parameters as there are rates).
    """

    parameters: int
    slope: float
    half: float
    lower: float
    upper: float
    covariance: Array
    sigma: float
    df: int
    rss: float
    plants: int
    lowest: float
    highest: float
    effect_p: float
    lack_of_fit_p: float
    warnings: tuple[str, ...] = ()

    @property
    def standard_errors(self) -> dict[str, float]:
        """Of slope, half (e times that of ln e), lower and upper."""
        slope, log_half, lower, upper = np.sqrt(np.diag(self.covariance))
        return {"slope": slope, "half": self.half * log_half, "lower": lower, "upper": upper}

    def _t(self, level: float) -> float:
        return float(stats.t.isf((1 - level) / 2, self.df))

    def _gradient(self, rate: Array) -> tuple[Array, Array]:
        """Share of the range remaining, and d height / d (slope, ln half, lower, upper)."""
        log_rate = _log(rate)
        g = _remaining(log_rate, self.slope, float(np.log(self.half)))
        return g, np.stack(
            _curve_gradient(log_rate, g, self.slope, float(np.log(self.half)), self.lower, self.upper), -1
        )

    def height(self, rate: ArrayLike) -> Array:
        """Height on the curve [unit of height]."""
        return log_logistic(rate, self.slope, self.half, self.lower, self.upper)

    def height_band(self, rate: ArrayLike, level: float = 0.95) -> tuple[Array, Array]:
        """Pointwise confidence limits of the curve (mean height, not single plants)."""
        x = np.asarray(rate, dtype=float)
        _, gradient = self._gradient(x)
        spread = self._t(level) * np.sqrt(np.einsum("...i,ij,...j->...", gradient, self.covariance, gradient))
        return self.height(x) - spread, self.height(x) + spread

    def control(self, rate: ArrayLike) -> Array:
        """Growth control 1 - height / height at zero rate [-]."""
        return 1 - self.height(rate) / self.upper

    def control_band(self, rate: ArrayLike, level: float = 0.95) -> tuple[Array, Array]:
        """Pointwise confidence limits of the growth control, upper limit included as an estimate."""
        x = np.asarray(rate, dtype=float)
        _, gradient = self._gradient(x)
        gradient = -gradient / self.upper
        gradient[..., 3] += self.height(x) / self.upper**2
        spread = self._t(level) * np.sqrt(np.einsum("...i,ij,...j->...", gradient, self.covariance, gradient))
        return self.control(x) - spread, self.control(x) + spread

    def rate_for(
        self, control: float, *, of: str = "check", level: float = 0.95, unit: str = ""
    ) -> RateEstimate:
        """Return the rate that gives `control`: EC20 is rate_for(0.20).

        With of="check" plants are shorter by `control` of the untreated height, as growers mean it. With
        of="range" `control` is the share of the way from the untreated to the lower limit, as in bioassay.
        The two agree if the lower limit is zero. The interval is symmetrical on the log of the rate
        (linearisation).
        """
        if not 0 < control < 1:
            raise InputError(
                f"control={control}: a share between 0 and 1 is needed, 0.2 for 20 % shorter plants"
            )
        if of not in ("check", "range"):
            raise InputError(f"of='{of}': allowed are 'check' (share of untreated height) and 'range'")
        b, c, d = self.slope, self.lower, self.upper
        room = d * (1 - control) - c
        if of == "check" and room <= 0:
            plateau = np.array([0.0, 0.0, -1 / d, c / d**2])  # gradient of 1 - lower / upper
            most = 1 - c / d + self._t(level) * np.sqrt(plateau @ self.covariance @ plateau)
            reach = f"The fitted curve levels off at {plain_number(100 * (1 - c / d))} % control"
            reach += "." if most < control else ", but not surely: test higher rates."
            return RateEstimate(control, np.nan, np.nan, np.nan, unit, level, (reach, *self.warnings))
        odds = d * control / room if of == "check" else control / (1 - control)
        log_rate = np.log(self.half) + np.log(odds) / b
        gradient = np.array([-np.log(odds) / b**2, 1.0, 0.0, 0.0])
        if of == "check":
            gradient[2:] = 1 / (b * room), -c / (b * d * room)
        spread = self._t(level) * np.sqrt(gradient @ self.covariance @ gradient)
        with np.errstate(over="ignore"):
            rate, lower, upper = np.exp([log_rate, log_rate - spread, log_rate + spread]).tolist()
        return RateEstimate(
            control,
            rate,
            lower,
            upper,
            unit,
            level,
            (*self._range_warnings(rate, lower, upper, unit), *self.warnings),
        )

    def _range_warnings(self, rate: float, lower: float, upper: float, unit: str) -> list[str]:
        ends = f"{plain_number(self.lowest)} to {plain_number(self.highest)} {unit}".rstrip()
        tested = f"the rates tested ({ends})"
        if rate > self.highest:
            return [f"This is above {tested}: extrapolated, not measured. Test it before use."]
        if rate < self.lowest:
            return [
                f"This is below {tested}: it rests on the curve's shape, not on plants. Test it before use."
            ]
        if np.isnan(lower):
            return ["The plants do not fix this rate."]
        if lower < self.lowest or upper > self.highest:
            return [f"The interval reaches beyond {tested}."]
        return []


def _curve_gradient(
    log_rate: Array, g: Array, slope: float, log_half: float, lower: float, upper: float
) -> tuple[Array, Array, Array, Array]:
    """d height / d slope, d ln half, d lower, d upper, with g the share of the range remaining."""
    distance = np.where(np.isfinite(log_rate), log_rate - log_half, 0.0)
    steep = (upper - lower) * g * (1 - g)
    return -steep * distance, steep * slope, 1 - g, g


def _f_test(rss_small: float, rss_large: float, steps: int, df: int) -> float:
    """p value for the larger of two nested models: ((rss_small - rss_large) / steps) / (rss_large / df)."""
    gained = max(rss_small - rss_large, 0.0) / steps
    return float(stats.f.sf(gained / (rss_large / df), steps, df)) if rss_large > 0 else float(gained == 0)


@dataclass(frozen=True)
class _Cells:
    """Plants of the same rate and position, which the curve fits alike, as one cell each.

    ln rate, mean height, position columns, square root of the number of plants; `within`: sum of squares
    about the means of the cells, which no curve can change.
    """

    log_rate: Array
    height: Array
    position: Array
    root: Array
    within: float

    def least(self, design: Array, target: Array) -> tuple[Array, float]:
        """Least squares over the plants: estimates and residual sum of squares."""
        if design.shape[1] == 0:
            return np.empty(0), float(np.sum((self.root * target) ** 2)) + self.within
        found, *_ = np.linalg.lstsq(self.root[:, None] * design, self.root * target, rcond=None)
        residual = self.root * (target - design @ found)
        return np.asarray(found, dtype=float), float(residual @ residual) + self.within


def _cells(rate: Array, height: Array, position: Array) -> _Cells:
    codes = np.unique(rate, return_inverse=True)[1]
    for column in position.T:
        levels, code = np.unique(column, return_inverse=True)
        codes = np.unique(codes * len(levels) + code, return_inverse=True)[1]
    _, first, counts = np.unique(codes, return_index=True, return_counts=True)
    mean = np.bincount(codes, height) / counts
    about = height - mean[codes]
    return _Cells(_log(rate[first]), mean, position[first], np.sqrt(counts), float(about @ about))


def _fit(cells: _Cells, parameters: int, check_height: float | None) -> tuple[Array, Array, float]:
    """Least squares for (slope, ln half, [lower,] [upper,] position...): estimates, Jacobian of the
    cells times their roots, residual sum of squares.

    Lower, upper and the position effects enter linearly, so a coarse grid over (slope, ln half) with exact
    linear fits gives a start in the right valley.
    """
    log_rate, position = cells.log_rate, cells.position
    tested = log_rate[np.isfinite(log_rate)]
    free_lower, free_upper = parameters == 4, check_height is None

    def columns(g: Array) -> Array:
        return np.column_stack([*([1 - g] if free_lower else []), *([g] if free_upper else []), position])

    def limits(linear: Array) -> tuple[float, float, Array]:
        head = int(free_lower) + int(free_upper)
        lower = float(linear[0]) if free_lower else 0.0
        upper = float(linear[head - 1]) if check_height is None else check_height
        return lower, upper, linear[head:]

    best: tuple[float, Array] = (np.inf, np.empty(0))
    for slope in (0.7, 2.0, 6.0):
        for log_half in np.linspace(tested.min() - 1, tested.max() + 1, 7):
            g = _remaining(log_rate, slope, log_half)
            held = 0.0 if check_height is None else check_height * g
            linear, rss = cells.least(columns(g), cells.height - held)
            if rss < best[0]:
                best = rss, np.concatenate([[slope, log_half], linear])

    def residual(theta: Array) -> Array:
        lower, upper, shift = limits(theta[2:])
        g = _remaining(log_rate, theta[0], theta[1])
        fitted = lower + (upper - lower) * g + position @ shift
        return np.asarray(cells.root * (fitted - cells.height), dtype=float)

    def jacobian(theta: Array) -> Array:
        lower, upper, _ = limits(theta[2:])
        g = _remaining(log_rate, theta[0], theta[1])
        by_slope, by_half, _, _ = _curve_gradient(log_rate, g, theta[0], theta[1], lower, upper)
        return np.asarray(cells.root[:, None] * np.column_stack([by_slope, by_half, columns(g)]))

    free = np.full(len(best[1]) - 2, np.inf)
    found = least_squares(
        residual,
        best[1],
        jac=jacobian,
        bounds=(
            np.concatenate([[SLOPES[0], tested.min() - REACH], -free]),
            np.concatenate([[SLOPES[1], tested.max() + REACH], free]),
        ),
        x_scale="jac",
        xtol=1e-12,
        ftol=1e-12,
        gtol=1e-12,
        max_nfev=500,
    )
    theta = np.asarray(found.x, dtype=float)
    return theta, jacobian(theta), 2 * float(found.cost) + cells.within


def fit_log_logistic(
    rate: ArrayLike,
    height: ArrayLike,
    *,
    parameters: int | str = "auto",
    check_height: tuple[float, float] | None = None,
    position: ArrayLike | None = None,
) -> LogLogisticFit:
    """Fit the log-logistic curve to single plants by least squares.

    Raises InputError for bad numbers or for fewer rates than the parameters asked for.

    Parameters
    ----------
    rate
        One per plant, >= 0; zero is the untreated check (needed) [any unit].
    height
        One per plant [any unit].
    parameters
        4, 3, 2 or "auto". Auto takes 4 where there are three rates above zero, the plants fix the
        shape and the lower limit comes out above zero, else 3. It does not choose by goodness of fit: that
        makes intervals too narrow.
    check_height
        Upper limit held by the two-parameter curve, and its standard error (0: known exactly);
        default the mean of the check plants, its error from the spread of all plants. The other curves
        estimate it.
    position
        Columns of nuisance effects, one row per plant (block or bench position), fitted together with
        the curve after centring, so that the curve is that of the average position.
    """
    x, y = np.asarray(rate, dtype=float), np.asarray(height, dtype=float)
    if x.ndim != 1 or x.shape != y.shape:
        raise InputError(f"rate and height need one value per plant: got shapes {x.shape} and {y.shape}")
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise InputError("rate and height must be finite numbers")
    if (x < 0).any():
        raise InputError(f"rate {x.min():g}: a rate cannot be negative")
    if not (x == 0).any():
        raise InputError("the dose response needs the untreated check: no plant has rate 0")
    rates = np.unique(x)
    if len(rates) < LEAST_RATES:
        raise InputError(f"a dose response needs the check and two rates above zero: got {len(rates) - 1}")
    z = np.zeros((len(x), 0)) if position is None else np.asarray(position, dtype=float).reshape(len(x), -1)
    z = z - z.mean(axis=0)

    if parameters == "auto":
        if len(rates) >= 4 and len(x) > 4 + z.shape[1]:
            four = _fitted(x, y, z, 4, None)
            if four.lower > 0 and UNFIXED not in four.warnings:
                return four
        return _fitted(x, y, z, 3, None)
    if parameters not in (2, 3, 4):
        raise InputError(f"parameters={parameters!r}: allowed are 4, 3, 2 and 'auto'")
    if len(rates) < int(parameters):
        raise InputError(
            f"a {parameters}-parameter curve needs {parameters} rates, check included: got {len(rates)}"
        )
    if parameters == 2 and check_height is None:
        error = _fitted(x, y, z, 3, None).sigma / np.sqrt(np.sum(x == 0))
        check_height = float(y[x == 0].mean()), float(error)
    return _fitted(x, y, z, int(parameters), check_height if parameters == 2 else None)


def _fitted(
    x: Array, y: Array, z: Array, parameters: int, check_height: tuple[float, float] | None
) -> LogLogisticFit:
    """The fit with its covariance, F tests and warnings; `check_height` (value, error) for two parameters."""
    estimates = parameters + z.shape[1]
    df = len(y) - estimates
    if df < 1:
        raise InputError(f"{len(y)} plants are too few for a curve with {estimates} estimates")
    rates = np.unique(x)
    held = None if check_height is None else check_height[0]
    cells = _cells(x, y, z)
    theta, jacobian, rss = _fit(cells, parameters, held)
    slope, half = float(theta[0]), float(np.exp(theta[1]))
    lower = float(theta[2]) if parameters == 4 else 0.0
    upper = float(theta[parameters - 1]) if held is None else held

    log_rate, one = cells.log_rate, np.ones(len(cells.height))
    flat = cells.least(
        np.column_stack([*([one] if held is None else []), cells.position]), cells.height - (held or 0.0)
    )
    effect_p = _f_test(flat[1], rss, parameters - (held is None), df)
    means = np.column_stack([(log_rate[:, None] == _log(rates)).astype(float), cells.position])
    df_means = len(y) - int(np.linalg.matrix_rank(means))
    of_means = cells.least(means, cells.height)[1]
    lack_p = _f_test(rss, of_means, df - df_means, df_means) if df > df_means > 0 else np.nan

    warnings = []
    ends = (log_rate[np.isfinite(log_rate)].min() - REACH, log_rate.max() + REACH)
    if upper <= lower or effect_p > 0.05:
        warnings.append(
            "Heights are not shown to fall with rate (5 % level): rates read from this curve are guesses."
        )
    if min(abs(slope - end) for end in SLOPES) < 1e-3 or min(abs(theta[1] - end) for end in ends) < 1e-3:
        warnings.append(UNFIXED)
    elif lack_p < 0.05:
        warnings.append(
            "The curve misses the treatment means by more than the plants vary (lack of fit, 5 % level)."
        )
    return LogLogisticFit(
        parameters, slope, half, lower, upper,
        _covariance(cells, theta, jacobian, rss / df, parameters, check_height),
        float(np.sqrt(rss / df)), df, rss, len(y), float(rates[1]), float(rates[-1]), effect_p, lack_p,
        tuple(warnings),
    )  # fmt: skip


def _covariance(
    cells: _Cells,
    theta: Array,
    jacobian: Array,
    variance: float,
    parameters: int,
    check_height: tuple[float, float] | None,
) -> Array:
    """Covariance of (slope, ln half, lower, upper): s^2 (J'J)^-1; nan for what the plants do not fix.

    A held upper limit u with standard error e adds e^2 d d' with d = d(slope, ln half)/du = -(J'J)^-1 J' g.
    """
    covariance = np.zeros((4, 4))
    kept = [0, 1, 2, 3] if parameters == 4 else [0, 1, 3] if parameters == 3 else [0, 1]
    scale = np.linalg.norm(jacobian, axis=0)
    if (scale == 0).any() or np.linalg.cond(jacobian / scale) > 1e8:
        covariance[np.ix_(kept, kept)] = np.nan
        return covariance
    inverse = np.linalg.inv((jacobian / scale).T @ (jacobian / scale)) / np.outer(scale, scale)
    covariance[np.ix_(kept, kept)] = (variance * inverse)[:parameters, :parameters]
    if check_height is not None:
        g = cells.root * np.where(
            np.isfinite(cells.log_rate), _remaining(cells.log_rate, theta[0], theta[1]), 0.0
        )
        moved = np.append(-(inverse @ jacobian.T @ g)[:2], 1.0)
        covariance[np.ix_([0, 1, 3], [0, 1, 3])] += check_height[1] ** 2 * np.outer(moved, moved)
    return covariance
