"""What you touch in the notebook."""

from labkit.widgets.recording import RecordingSlip, measuring
from labkit.widgets.sheet import MixingSheet, tune
from labkit.widgets.trend import TrendBoard, watch

__all__ = ["MixingSheet", "RecordingSlip", "TrendBoard", "measuring", "tune", "watch"]
