"""
A trial, planned, read, and learned from
========================================

How many plants three rates and an untreated check need, where each one stands, what the filled-in sheet then
shows, and what it says about the crop: half as sensitive as the scenario assumed. The greenhouse is made up,
and so are the heights: grown here by the model where a grower would measure.

Requires: wetspan
"""

from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
import wetspan as ws
from wetspan.trials import calibrate, load_crop, plan_trial

scenario = ws.load(files("wetspan") / "examples" / "afternoon_bench.toml")
plan = plan_trial(
    rates=["30 mg/L", "60 mg/L", "120 mg/L"],
    cv=0.09,
    difference=0.12,
    design="blocked",
    bench=(8, 16),
    seed=7,
)
print(plan.text, "\n")

crop = scenario.replace({"crop.half_amount": 2 * scenario["crop.half_amount"]})
control = {
    name: ws.simulate(crop.replace({"application.concentration": name})).growth_control
    for name in plan.treatments
}

with TemporaryDirectory() as folder:
    path = Path(folder) / "heights.csv"
    plan.save_csv(path)  # the data-entry sheet; plan.save_sheet("sheet.pdf") prints the bench map with it

    sheet = pd.read_csv(path)
    grown = 30.0 * (1 - sheet["treatment"].map({plan.check: 0.0, **control}))
    warmer_end = 0.8 * (sheet["column"] - sheet["column"].mean())
    height = grown + warmer_end + np.random.default_rng(7).normal(0, 2.4, len(sheet))
    sheet["height_cm"] = height.round(1)
    sheet.loc[[4, 31], "height_cm"] = np.nan  # two pots knocked over
    sheet.to_csv(path, index=False)

    result = plan.read(path, active="paclobutrazol")
    print(result.text, "\n")
    print(result.anova.round(3), "\n")

    fitted = calibrate(scenario, result)
    print(fitted.text, "\n")
    print(fitted.control(["45 mg/L", "90 mg/L"]).round(3), "\n")

    fitted.save(Path(folder) / "my_mum.toml", name="my mum")
    ours = scenario.replace(load_crop(Path(folder) / "my_mum.toml"))

for name, each in (("as assumed", scenario), ("as calibrated", ours)):
    shorter = ws.simulate(each).growth_control
    print(f"{name}: {shorter:.0%} shorter at {each.show('application.concentration')}")
