"""
A trial, planned and read
=========================

How many plants three rates and an untreated check need, where each one stands, and what the filled-in sheet
then shows. The greenhouse is made up, and so are the heights: drawn here where a grower would measure.

Requires: wetspan
"""

from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
from wetspan.trials import log_logistic, plan_trial

plan = plan_trial(
    rates=["10 mg/L", "20 mg/L", "40 mg/L"], cv=0.09, difference=0.12, design="blocked", bench=(8, 16), seed=7
)
print(plan.text, "\n")

with TemporaryDirectory() as folder:
    path = Path(folder) / "heights.csv"
    plan.save_csv(path)  # the data-entry sheet; plan.save_sheet("sheet.pdf") prints the bench map with it

    sheet = pd.read_csv(path)
    grown = log_logistic(sheet["rate_mg_per_L"], slope=1.3, half=45.0, lower=6.0, upper=30.0)
    warmer_end = 0.8 * (sheet["column"] - sheet["column"].mean())
    height = grown + warmer_end + np.random.default_rng(7).normal(0, 2.4, len(sheet))
    sheet["height_cm"] = height.round(1)
    sheet.loc[[4, 31], "height_cm"] = np.nan  # two pots knocked over
    sheet.to_csv(path, index=False)

    result = plan.read(path)

print(result.text, "\n")
print(
    result.table[["measured", "adjusted_mean", "control", "control_lower", "control_upper", "p"]].round(3),
    "\n",
)
print(result.anova.round(3))
