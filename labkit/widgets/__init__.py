"""What you touch in the notebook."""

from labkit.widgets.sheet import MixingSheet, tune

__all__ = ["MixingSheet", "tune"]
