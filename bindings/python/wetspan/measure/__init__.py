"""Measure it yourself, with a balance and a spray bottle: what the sources leave open about your crop.

A weighed leaf tells how long it is wet. `plan_leaf` says how many leaves, on which balance and when to
weigh, and prints the sheet; `read_leaf` reads the filled-in table and holds it against the model.
`calibrate` joins what was measured, with height trials where there are some, into a crop that is saved.
"""

from wetspan.measure.calibrate import MeasuredCrop, calibrate
from wetspan.measure.leaf import LeafResult, read_leaf
from wetspan.measure.leaf_plan import LeafPlan, plan_leaf
from wetspan.measure.learned import Learned

__all__ = [
    "LeafPlan",
    "LeafResult",
    "Learned",
    "MeasuredCrop",
    "calibrate",
    "plan_leaf",
    "read_leaf",
]
