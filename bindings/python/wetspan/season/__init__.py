"""Seasons: the same spray at every clock time of every day, at one site or several."""

from wetspan.season.run import season
from wetspan.season.windows import best_windows, share_below

__all__ = ["best_windows", "season", "share_below"]
