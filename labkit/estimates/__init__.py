"""What to expect and what could go wrong: forecast, findings, declaration, cost."""

from labkit.estimates.check import check
from labkit.estimates.estimate import Estimate
from labkit.estimates.finding import Finding, Findings
from labkit.estimates.forecast import Forecast, Forecaster, forecast

__all__ = ["Estimate", "Finding", "Findings", "Forecast", "Forecaster", "check", "forecast"]
