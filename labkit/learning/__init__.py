"""What the trials taught: predictions with bands, their calibration, and charts over batches."""

from labkit.learning.calibrate import Calibration, Forecast, calibrate, surprise
from labkit.learning.learner import Learner, Prediction, fit

__all__ = [
    "Calibration",
    "Forecast",
    "Learner",
    "Prediction",
    "calibrate",
    "fit",
    "surprise",
]
