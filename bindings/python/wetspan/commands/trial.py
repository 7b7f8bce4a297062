"""`wetspan trial`: plan a trial, read it, calibrate a crop to it."""

from wetspan.trials.command_line import add

__all__ = ["add"]
