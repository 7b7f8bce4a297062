"""Trials: plan one with an untreated check, read it, and calibrate a crop to it.

`plan_trial` computes how many plants are needed and where each one stands. `read_trial` computes from the
heights growth control with intervals, a dose response and the next rate to try. `calibrate` fits the crop of
a scenario to trials, and `load_crop` reads the crop from its file.
"""

from wetspan.crop import Crop, load_crop
from wetspan.trials.calibration import Calibration, calibrate
from wetspan.trials.dose_response import LogLogisticFit, RateEstimate, fit_log_logistic, log_logistic
from wetspan.trials.plan import TrialPlan, plan_trial
from wetspan.trials.read import TrialResult, read_trial
from wetspan.trials.statistics import Diagnostics, Trend

__all__ = [
    "Calibration",
    "Crop",
    "Diagnostics",
    "LogLogisticFit",
    "RateEstimate",
    "Trend",
    "TrialPlan",
    "TrialResult",
    "calibrate",
    "fit_log_logistic",
    "load_crop",
    "log_logistic",
    "plan_trial",
    "read_trial",
]
