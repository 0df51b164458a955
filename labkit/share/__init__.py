"""What you publish, and how a stranger checks it.

This door is lazy: nothing is loaded before it is used.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from labkit.share.exporting import Preview, export, preview
    from labkit.share.folder import FolderWritten, git_ready, write_folder
    from labkit.share.merging import Merged, merge
    from labkit.share.opening import SharedHistory, published
    from labkit.share.opening import open_history as open
    from labkit.share.rebuilding import Rebuilt, rebuild
    from labkit.share.recalculating import Recalculated, Recalculation, recalculate
    from labkit.share.verifying import SharedVerification, verify

_PLACE = {
    "FolderWritten": ("folder", "FolderWritten"),
    "Merged": ("merging", "Merged"),
    "Preview": ("exporting", "Preview"),
    "Rebuilt": ("rebuilding", "Rebuilt"),
    "Recalculated": ("recalculating", "Recalculated"),
    "Recalculation": ("recalculating", "Recalculation"),
    "SharedHistory": ("opening", "SharedHistory"),
    "SharedVerification": ("verifying", "SharedVerification"),
    "export": ("exporting", "export"),
    "git_ready": ("folder", "git_ready"),
    "merge": ("merging", "merge"),
    "open": ("opening", "open_history"),
    "published": ("opening", "published"),
    "preview": ("exporting", "preview"),
    "rebuild": ("rebuilding", "rebuild"),
    "recalculate": ("recalculating", "recalculate"),
    "verify": ("verifying", "verify"),
    "write_folder": ("folder", "write_folder"),
}

__all__ = [
    "FolderWritten",
    "Merged",
    "Preview",
    "Rebuilt",
    "Recalculated",
    "Recalculation",
    "SharedHistory",
    "SharedVerification",
    "export",
    "git_ready",
    "merge",
    "open",
    "preview",
    "published",
    "rebuild",
    "recalculate",
    "verify",
    "write_folder",
]


def __getattr__(name: str) -> Any:
    if name not in _PLACE:
        raise AttributeError(f"labkit.share has no '{name}'; it has {', '.join(__all__)}")
    room, thing = _PLACE[name]
    found = getattr(importlib.import_module(f"labkit.share.{room}"), thing)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted(__all__)
