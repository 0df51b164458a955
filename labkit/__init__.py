"""labkit: a formulation lab notebook toolkit for small benches.

    import labkit as lk

    mats = lk.Materials.starter()
    cream = lk.Formula.read("hand-cream.csv")
    lk.tune(cream, mats)

This door is lazy: nothing heavy is loaded before it is used.
"""

from __future__ import annotations

import importlib
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from labkit import charts, estimates, learning, paperwork, plan, science, share, teach
    from labkit.bench import Bench
    from labkit.bench.demo import demo_bench
    from labkit.errors import LabkitError
    from labkit.estimates.check import check
    from labkit.estimates.estimate import Estimate
    from labkit.estimates.finding import Finding
    from labkit.estimates.forecast import forecast
    from labkit.formula import Brief, Formula, Line, Move, Phase
    from labkit.materials import Material, Materials
    from labkit.quantities import Quantity
    from labkit.reading import read_recipe
    from labkit.widgets import asking_why, measuring, proposing, tune, watch, weigh

__version__ = "0.1.0"

__all__ = [
    "Bench",
    "Brief",
    "Estimate",
    "Finding",
    "Formula",
    "LabkitError",
    "Line",
    "Material",
    "Materials",
    "Move",
    "Phase",
    "Quantity",
    "__version__",
    "asking_why",
    "charts",
    "check",
    "demo_bench",
    "estimates",
    "forecast",
    "learning",
    "measuring",
    "paperwork",
    "plan",
    "proposing",
    "read_recipe",
    "science",
    "share",
    "teach",
    "tune",
    "watch",
    "weigh",
]

_ROOM_OF = {
    "Bench": "bench",
    "Brief": "formula",
    "Estimate": "estimates",
    "Finding": "estimates",
    "Formula": "formula",
    "LabkitError": "errors",
    "Line": "formula",
    "Material": "materials",
    "Materials": "materials",
    "Move": "formula",
    "Phase": "formula",
    "Quantity": "quantities",
    "asking_why": "widgets",
    "check": "estimates",
    "demo_bench": "bench.demo",
    "forecast": "estimates",
    "read_recipe": "reading",
    "measuring": "widgets",
    "proposing": "widgets",
    "tune": "widgets",
    "watch": "widgets",
    "weigh": "widgets",
}
_ROOMS = {"charts", "estimates", "learning", "paperwork", "plan", "science", "share", "teach"}


def __getattr__(name: str) -> Any:
    if name in _ROOMS:
        return importlib.import_module(f"labkit.{name}")
    if name not in _ROOM_OF:
        raise AttributeError(f"labkit has no '{name}'; it has {', '.join(__all__)}")
    if name == "Formula":
        importlib.import_module("labkit.reading")
    found = getattr(importlib.import_module(f"labkit.{_ROOM_OF[name]}"), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted(__all__)


def load_ipython_extension(shell: Any) -> None:
    """Register the cell magics; ``import labkit`` does it too inside a notebook."""
    importlib.import_module("labkit.magics").register(shell)


def _register_in_a_running_notebook() -> None:
    shell = sys.modules["IPython"].get_ipython() if "IPython" in sys.modules else None
    if shell is not None:
        load_ipython_extension(shell)


_register_in_a_running_notebook()
