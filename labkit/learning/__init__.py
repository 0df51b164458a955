"""What the trials taught: fits, effects, calibration, control limits."""
