"""What you did: records, store, family tree, verify.

This door is lazy: the store is loaded when a bench is opened.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from labkit.bench.batches import Batch
    from labkit.bench.bench import Bench
    from labkit.bench.compare import ReadingChange, TrialComparison
    from labkit.bench.following import News
    from labkit.bench.history import History
    from labkit.bench.lineage import FamilyTree
    from labkit.bench.place import BenchPlaceWarning
    from labkit.bench.records import Record
    from labkit.bench.stock import Lot, Stock
    from labkit.bench.verify import Problem, Verification
    from labkit.bench.views import Reading, Trial

__all__ = [
    "Batch",
    "Bench",
    "BenchPlaceWarning",
    "FamilyTree",
    "History",
    "Lot",
    "News",
    "Problem",
    "Reading",
    "ReadingChange",
    "Record",
    "Stock",
    "Trial",
    "TrialComparison",
    "Verification",
]

_MODULE_OF = {
    "Batch": "batches",
    "Bench": "bench",
    "BenchPlaceWarning": "place",
    "FamilyTree": "lineage",
    "History": "history",
    "Lot": "stock",
    "News": "following",
    "Problem": "verify",
    "Reading": "views",
    "ReadingChange": "compare",
    "Record": "records",
    "Stock": "stock",
    "Trial": "views",
    "TrialComparison": "compare",
    "Verification": "verify",
}


def __getattr__(name: str) -> Any:
    if name not in _MODULE_OF:
        raise AttributeError(f"labkit.bench has no '{name}'; it has {', '.join(__all__)}")
    return getattr(importlib.import_module(f"labkit.bench.{_MODULE_OF[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
