"""What you touch in the notebook."""

from labkit.widgets.recording import RecordingSlip, measuring
from labkit.widgets.sheet import MixingSheet, tune
from labkit.widgets.trend import TrendBoard, watch
from labkit.widgets.weighing import WeighingBoard, weigh

__all__ = [
    "MixingSheet",
    "RecordingSlip",
    "TrendBoard",
    "WeighingBoard",
    "measuring",
    "tune",
    "watch",
    "weigh",
]
