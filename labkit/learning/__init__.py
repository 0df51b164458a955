"""What the trials taught: predictions with bands, their calibration, and charts over batches."""

from labkit.learning.calibrate import Calibration, Forecast, calibrate, surprise
from labkit.learning.graded import graded
from labkit.learning.learner import Learner, Prediction, fit
from labkit.learning.outcomes import fit_outcome, fit_words
from labkit.learning.track import stored_forecasts, track

__all__ = [
    "Calibration",
    "Forecast",
    "Learner",
    "Prediction",
    "calibrate",
    "fit",
    "fit_outcome",
    "fit_words",
    "graded",
    "stored_forecasts",
    "surprise",
    "track",
]
