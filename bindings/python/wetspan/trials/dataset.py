"""A trial result as a labelled dataset."""

from __future__ import annotations

import numpy as np
import xarray as xr

from wetspan.trials.statistics import TrialStatistics

CURVE_POINTS = 101


def to_dataset(result: TrialStatistics) -> xr.Dataset:
    """Treatments on `treatment`, the fitted curve on `curve_rate`; every variable carries its unit and
    meaning."""
    height, table = result.height_unit, result.table
    per_cent = f"{100 * result.level:.3g} %"
    about = {
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
    data = xr.Dataset(
        {name: ("treatment", table[name].to_numpy()) for name in about},
        {"treatment": list(table.index.astype(str))},
    )
    if "rate" in table:
        about["rate"] = (result.rate_unit, "rate applied")
        data = data.assign_coords(rate=("treatment", table["rate"].to_numpy()))
    if result.rated:
        fit = result.fit
        rates = np.concatenate([[0.0], np.geomspace(fit.lowest / 10, fit.highest, CURVE_POINTS - 1)])
        low, high = fit.height_band(rates, result.level)
        data = data.assign_coords(curve_rate=rates).assign(
            curve_height=("curve_rate", fit.height(rates)),
            curve_height_lower=("curve_rate", low),
            curve_height_upper=("curve_rate", high),
            curve_control=("curve_rate", fit.control(rates)),
        )
        about |= {
            "curve_rate": (result.rate_unit, "rate along the fitted curve"),
            "curve_height": (height, "height on the log-logistic curve"),
            "curve_height_lower": (height, f"lower {per_cent} limit of the curve, point by point"),
            "curve_height_upper": (height, f"upper {per_cent} limit of the curve, point by point"),
            "curve_control": ("1", "growth control on the curve"),
        }
        data.attrs |= {
            "log_logistic_parameters": fit.parameters,
            "slope": fit.slope,
            "half_rate": fit.half,
            "lower_limit": fit.lower,
            "upper_limit": fit.upper,
        }
    data.attrs |= {
        "check": result.check,
        "level": result.level,
        "residual_df": result.df,
        "residual_sd": result.sigma,
    }
    for name, (unit, meaning) in about.items():
        data[name].attrs = {"units": unit, "long_name": meaning}
    return data
