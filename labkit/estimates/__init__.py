"""What to expect and what could go wrong: forecast, findings, declaration, cost."""

from labkit.estimates.alternatives import Alternative, alternatives
from labkit.estimates.catalogue import catalogue
from labkit.estimates.check import Checker, check
from labkit.estimates.costing import Costing, cost
from labkit.estimates.declaration import Declaration, declare
from labkit.estimates.estimate import Estimate
from labkit.estimates.finding import Finding, Findings
from labkit.estimates.forecast import Forecast, Forecaster, forecast
from labkit.estimates.limits import ceilings
from labkit.estimates.reminders import reminders
from labkit.estimates.roles import roles
from labkit.estimates.triage import questions, triage

__all__ = [
    "Alternative",
    "Checker",
    "Costing",
    "Declaration",
    "Estimate",
    "Finding",
    "Findings",
    "Forecast",
    "Forecaster",
    "alternatives",
    "catalogue",
    "ceilings",
    "check",
    "cost",
    "declare",
    "forecast",
    "questions",
    "reminders",
    "roles",
    "triage",
]
