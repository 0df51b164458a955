"""Recipes as they lie around, read with a report of what was read as what."""
