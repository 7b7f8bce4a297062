"""Pictures of sprays, days, seasons and the jug.

Each function draws on a new figure, or on `ax`: one Axes, or as many as the picture has panels, in their
order. It returns the figure. A picture of an effect or a rate has the short caution below it.
"""

from wetspan.plots.day import plot_day
from wetspan.plots.jug import plot_jug
from wetspan.plots.outcome import plot_outcome, plot_split
from wetspan.plots.saving import check_path, save
from wetspan.plots.season import plot_season

__all__ = ["check_path", "plot_day", "plot_jug", "plot_outcome", "plot_season", "plot_split", "save"]
