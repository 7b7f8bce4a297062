"""Measurements on your own crop with a balance and a spray bottle, of quantities that the sources leave open.

A weighed leaf shows how long it is wet, weighed pots show where the spray went, and washed deposits show
whether the residue continues to enter. For each, `plan_...` computes the number and the times and prints the
sheet, and `read_...` reads the filled-in table and compares it with the model. `calibrate` combines the
measurements, and height trials if there are any, into a crop that can be saved.
"""

from wetspan.measure.calibrate import MeasuredCrop, calibrate
from wetspan.measure.leaf import LeafResult, read_leaf
from wetspan.measure.leaf_plan import LeafPlan, plan_leaf
from wetspan.measure.learned import Learned
from wetspan.measure.pots import PotsResult, read_pots
from wetspan.measure.pots_plan import PotsPlan, plan_pots
from wetspan.measure.wash import WashResult, read_wash
from wetspan.measure.wash_plan import WashPlan, plan_wash

__all__ = [
    "LeafPlan",
    "LeafResult",
    "Learned",
    "MeasuredCrop",
    "PotsPlan",
    "PotsResult",
    "WashPlan",
    "WashResult",
    "calibrate",
    "plan_leaf",
    "plan_pots",
    "plan_wash",
    "read_leaf",
    "read_pots",
    "read_wash",
]
