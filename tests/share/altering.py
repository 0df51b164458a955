"""Take a shared history apart and put it together again, altered."""

from __future__ import annotations

import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

__all__ = ["altered", "entries", "record_names", "written"]


def entries(path: Path) -> dict[str, bytes]:
    """Every file of a history by its path below the one folder."""
    with zipfile.ZipFile(path) as packed:
        return {name.partition("/")[2]: packed.read(name) for name in packed.namelist()}


def written(path: Path, files: Mapping[str, bytes], root: str = "gel") -> Path:
    """A zip with these files in one folder."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, raw in files.items():
            packed.writestr(f"{root}/{name}", raw)
    return path


def altered(source: Path, target: Path, change: Callable[[dict[str, bytes]], None]) -> Path:
    """A copy in which something was changed."""
    files = entries(source)
    change(files)
    return written(target, files)


def record_names(files: Mapping[str, bytes], kind: str) -> list[str]:
    """Paths of the records of a kind."""
    mark = f'"schema":"labkit/{kind}/1"'.encode()
    return [name for name, raw in files.items() if name.startswith("records/") and mark in raw]
