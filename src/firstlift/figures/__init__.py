"""One pure SVG writer for every plot of screens and papers, and a plot in characters for terminals."""

from firstlift.figures.budget_figure import draw_budget
from firstlift.figures.history_figure import Past, draw_history
from firstlift.figures.limits_figure import Reading, draw_limits
from firstlift.figures.pull_figure import draw_pull, draw_test
from firstlift.figures.text_plot import plot_pull
from firstlift.figures.trace import Trace, trace_of_si

__all__ = [
    "Past",
    "Reading",
    "Trace",
    "draw_budget",
    "draw_history",
    "draw_limits",
    "draw_pull",
    "draw_test",
    "plot_pull",
    "trace_of_si",
]
