"""What to expect and what could go wrong: forecast, findings, declaration, cost."""
