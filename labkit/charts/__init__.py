"""What you look at: live in a notebook, still there on paper."""

from labkit.charts.acidity import titration, working_share
from labkit.charts.composition import composition
from labkit.charts.drying import dry_down
from labkit.charts.effects import waterfall
from labkit.charts.emulsifying import required_hlb
from labkit.charts.figure import Chart
from labkit.charts.flow import FlowChart, flow_curve
from labkit.charts.repeats import repeats
from labkit.charts.swatches import Swatches, colour_swatches
from labkit.charts.ternary import ternary
from labkit.charts.tradeoff import surprises, trade_off
from labkit.charts.tree import family_tree
from labkit.charts.trend import trend

__all__ = [
    "Chart",
    "FlowChart",
    "Swatches",
    "colour_swatches",
    "composition",
    "dry_down",
    "family_tree",
    "flow_curve",
    "repeats",
    "required_hlb",
    "surprises",
    "ternary",
    "titration",
    "trade_off",
    "trend",
    "waterfall",
    "working_share",
]
