"""Measure it yourself, with a balance and a spray bottle: what the sources leave open about your crop.

A weighed leaf tells how long it is wet, weighed pots where the spray went, washed deposits whether the
residue goes on entering. Of each, `plan_...` says how many and when, and prints the sheet; `read_...` reads
the filled-in table and holds it against the model. `calibrate` joins what was measured, with height trials
where there are some, into a crop that is saved.
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
