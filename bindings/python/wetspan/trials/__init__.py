"""Trials: plan one against an untreated check, and read it.

`plan_trial` says how many plants are needed and where each one stands; `read_trial` turns the heights into
growth control with intervals, a dose response and the next rate to try.
"""

from wetspan.trials.dose_response import LogLogisticFit, RateEstimate, fit_log_logistic, log_logistic
from wetspan.trials.plan import TrialPlan, plan_trial
from wetspan.trials.read import Diagnostics, Trend, TrialResult, read_trial

__all__ = [
    "Diagnostics",
    "LogLogisticFit",
    "RateEstimate",
    "Trend",
    "TrialPlan",
    "TrialResult",
    "fit_log_logistic",
    "log_logistic",
    "plan_trial",
    "read_trial",
]
