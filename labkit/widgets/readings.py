"""The last readings of a trial, as they stand beside the forecast."""

from __future__ import annotations

from typing import Any

from labkit.bench import Bench
from labkit.bench.conditions import conditions_text
from labkit.bench.views import Trial
from labkit.widgets.readouts import Measured

__all__ = ["last_readings"]

PLACES = {
    "pH": "ph",
    "pH strip": "ph",
    "viscosity": "viscosity",
    "drain time": "viscosity",
    "spread": "viscosity",
    "thickness": "viscosity",
}
"""Which read-out a quantity stands beside: pH by meter or strip, thickness in any form."""


def last_readings(bench: Bench, trial: Trial) -> dict[str, Measured]:
    """The newest reading of pH and of thickness on a trial, with how it was measured."""
    found: dict[str, Measured] = {}
    for record in bench.records("measurement", about=trial):
        reading: Any = bench.reading(record)
        place = PLACES.get(reading.quantity)
        if place is None or reading.withdrawn:
            continue
        name = "" if reading.quantity in {"pH", "viscosity"} else f"{reading.quantity} "
        found[place] = Measured(
            text=name + ", ".join(text.removesuffix(" pH") for text in reading.texts),
            how=conditions_text(reading.conditions),
            label=trial.label,
        )
    return found
