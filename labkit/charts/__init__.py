"""What you look at: live in a notebook, still there on paper."""

from labkit.charts.composition import composition
from labkit.charts.figure import Chart
from labkit.charts.tree import family_tree
from labkit.charts.trend import trend

__all__ = ["Chart", "composition", "family_tree", "trend"]
