"""What you touch in the notebook.

This door is lazy: the server of JupyterLab reads ``nodelay`` through it and must load
nothing else.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from labkit.widgets.proposals import ProposalBoard, proposing
    from labkit.widgets.recording import RecordingSlip, measuring
    from labkit.widgets.sheet import MixingSheet, tune
    from labkit.widgets.splitting import SplitBoard, asking_why
    from labkit.widgets.trend import TrendBoard, watch
    from labkit.widgets.weighing import WeighingBoard, weigh

__all__ = [
    "MixingSheet",
    "ProposalBoard",
    "RecordingSlip",
    "SplitBoard",
    "TrendBoard",
    "WeighingBoard",
    "asking_why",
    "measuring",
    "proposing",
    "tune",
    "watch",
    "weigh",
]

_MODULE_OF = {
    "MixingSheet": "sheet",
    "ProposalBoard": "proposals",
    "RecordingSlip": "recording",
    "SplitBoard": "splitting",
    "TrendBoard": "trend",
    "WeighingBoard": "weighing",
    "asking_why": "splitting",
    "measuring": "recording",
    "proposing": "proposals",
    "tune": "sheet",
    "watch": "trend",
    "weigh": "weighing",
}


def __getattr__(name: str) -> Any:
    if name not in _MODULE_OF:
        raise AttributeError(f"labkit.widgets has no '{name}'; it has {', '.join(__all__)}")
    return getattr(importlib.import_module(f"labkit.widgets.{_MODULE_OF[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
