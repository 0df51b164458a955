"""The page's own files, joined in a stated order: no bundler, nothing fetched."""

from __future__ import annotations

from functools import cache
from pathlib import Path

__all__ = ["PROPOSING", "RECORDING", "SHEET", "SPLITTING", "TREND", "WEIGHING", "joined"]

_HERE = Path(__file__).parent

SHEET = (
    "rebalance",
    "text",
    "dom",
    "scale",
    "link",
    "gesture",
    "slider",
    "row",
    "menu",
    "reorder",
    "lens",
    "readouts",
    "header",
    "footer",
    "adding",
    "view",
    "sheet",
)
TREND = ("text", "dom", "link", "board", "chart", "card", "trend")
RECORDING = ("text", "dom", "link", "board", "recording")
PROPOSING = ("text", "dom", "link", "board", "proposing")
SPLITTING = ("text", "dom", "link", "board", "splitting")
WEIGHING = ("text", "dom", "link", "board", "weighing")


@cache
def joined(names: tuple[str, ...], kind: str) -> str:
    """The named files as one text; ``kind`` is ``"js"`` or ``"css"``."""
    parts = [(_HERE / kind / f"{name}.{kind}").read_text(encoding="utf-8") for name in names]
    return "\n".join(parts)
