"""Uncertainty of the outcomes, and the share of each unknown input in it."""

from wetspan.sensitivity.ranges import ControlRange, control_range, uncertainty
from wetspan.sensitivity.sobol_indices import indices, sobol

__all__ = ["ControlRange", "control_range", "indices", "sobol", "uncertainty"]
