"""What the unknown inputs make of the outcomes: how uncertain they are, and whose doing it is."""

from wetspan.sensitivity.ranges import ControlRange, control_range, uncertainty
from wetspan.sensitivity.sobol_indices import indices, sobol

__all__ = ["ControlRange", "control_range", "indices", "sobol", "uncertainty"]
