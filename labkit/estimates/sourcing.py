"""How a finding names where its rule stands."""

from __future__ import annotations

from collections.abc import Mapping

from labkit import tables

__all__ = ["source_words"]


def source_words(row: Mapping[str, str | None]) -> str:
    """Citation and place of a row, with memory and practice said as such.

    Examples
    --------
    >>> source_words({"source_id": "common-practice", "source_kind": "common-practice"})
    'common practice'
    """
    known = tables.sources()
    names = [
        known[x].citation if x in known else x
        for x in (part.strip() for part in (row.get("source_id") or "").split(";"))
        if x
    ]
    words = "; ".join(names) or "no source named"
    if row.get("place"):
        words += f", {row['place']}"
    if row.get("source_kind") == "memory" and "from memory" not in words:
        words += " (from memory)"
    return words
