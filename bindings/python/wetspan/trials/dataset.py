"""A trial result as a labelled dataset."""

from __future__ import annotations

import numpy as np
import xarray as xr

from wetspan.trials.statistics import TrialStatistics

CURVE_POINTS = 101


def to_dataset(result: TrialStatistics) -> xr.Dataset:
    """Treatments on `treatment`, the fitted curve on `curve_rate`; every variable carries its unit and
    meaning."""
    table = result.table
    about = _treatments(result)
    data = xr.Dataset(
        {name: ("treatment", table[name].to_numpy()) for name in about},
        {"treatment": list(table.index.astype(str))},
    )
    if "rate" in table:
        about["rate"] = (result.rate_unit, "rate applied")
        data = data.assign_coords(rate=("treatment", table["rate"].to_numpy()))
    if result.rated:
        data = _with_curve(data, result)
        about |= _curve(result)
    data.attrs |= {
        "check": result.check,
        "level": result.level,
        "residual_df": result.df,
        "residual_sd": result.sigma,
    }
    for name, (unit, meaning) in about.items():
        data[name].attrs = {"units": unit, "long_name": meaning}
    return data


def _per_cent(result: TrialStatistics) -> str:
    return f"{100 * result.level:.3g} %"


def _treatments(result: TrialStatistics) -> dict[str, tuple[str, str]]:
    """Unit and meaning of what is told of a treatment."""
    height, per_cent = result.height_unit, _per_cent(result)
    return {
        "listed": ("1", "plants in the table"),
        "measured": ("1", "plants measured"),
        "dead": ("1", "plants dead"),
        "missing": ("1", "plants missing"),
        "mean": (height, "mean height of the measured plants"),
        "sd": (height, "standard deviation of height within the treatment"),
        "adjusted_mean": (height, "mean height at the average bench position"),
        "difference": (height, "height minus that of the untreated check"),
        "difference_lower": (
            height,
            f"lower {per_cent} limit of the difference, all comparisons together (Dunnett)",
        ),
        "difference_upper": (
            height,
            f"upper {per_cent} limit of the difference, all comparisons together (Dunnett)",
        ),
        "p": ("1", "p value adjusted for all comparisons with the check (Dunnett)"),
        "control": ("1", "growth control: 1 - height / height of the untreated check"),
        "control_lower": ("1", f"lower {per_cent} limit of the growth control (Fieller)"),
        "control_upper": ("1", f"upper {per_cent} limit of the growth control (Fieller)"),
    }


def _curve(result: TrialStatistics) -> dict[str, tuple[str, str]]:
    """Unit and meaning of what is told of the fitted curve."""
    height, per_cent = result.height_unit, _per_cent(result)
    return {
        "curve_rate": (result.rate_unit, "rate along the fitted curve"),
        "curve_height": (height, "height on the log-logistic curve"),
        "curve_height_lower": (height, f"lower {per_cent} limit of the curve, point by point"),
        "curve_height_upper": (height, f"upper {per_cent} limit of the curve, point by point"),
        "curve_control": ("1", "growth control on the curve"),
    }


def _with_curve(data: xr.Dataset, result: TrialStatistics) -> xr.Dataset:
    fit = result.fit
    rates = np.concatenate([[0.0], np.geomspace(fit.lowest / 10, fit.highest, CURVE_POINTS - 1)])
    low, high = fit.height_band(rates, result.level)
    return (
        data.assign_coords(curve_rate=rates)
        .assign(
            curve_height=("curve_rate", fit.height(rates)),
            curve_height_lower=("curve_rate", low),
            curve_height_upper=("curve_rate", high),
            curve_control=("curve_rate", fit.control(rates)),
        )
        .assign_attrs(
            log_logistic_parameters=fit.parameters,
            slope=fit.slope,
            half_rate=fit.half,
            lower_limit=fit.lower,
            upper_limit=fit.upper,
        )
    )
