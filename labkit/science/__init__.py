"""Pure numbers: one module a phenomenon, numpy arrays in and out, units in the names.

A module is loaded when it is first asked for: ``labkit.science.rheology.fit(...)``.
"""

from __future__ import annotations

import importlib
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from labkit.science import (
        acidbase,
        ageing,
        batch,
        carriers,
        challenge,
        colour,
        creaming,
        density,
        droplets,
        evaporation,
        exposure,
        fitting,
        flow_models,
        flow_table,
        heat,
        hlb,
        humidity,
        kinetics,
        liquids,
        preservation,
        restoring,
        rheology,
        suspensions,
        viscometer,
        water,
        weighing,
    )

__all__ = [
    "acidbase",
    "ageing",
    "batch",
    "carriers",
    "challenge",
    "colour",
    "creaming",
    "density",
    "droplets",
    "evaporation",
    "exposure",
    "fitting",
    "flow_models",
    "flow_table",
    "heat",
    "hlb",
    "humidity",
    "kinetics",
    "liquids",
    "preservation",
    "restoring",
    "rheology",
    "suspensions",
    "viscometer",
    "water",
    "weighing",
]


def __getattr__(name: str) -> ModuleType:
    if name in __all__:
        return importlib.import_module(f"{__name__}.{name}")
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
