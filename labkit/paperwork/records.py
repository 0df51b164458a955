"""What a bench has on record about a trial, as a paper needs it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from labkit.bench import Bench, Trial
from labkit.paperwork.blocks import Block, Bullets, Facts, Heading, Table, Words

__all__ = ["challenges", "decisions", "none_on_record", "plain_words", "stability"]


_FIRST = ("organism", "strain", "inoculum", "day", "time")
"""Columns of counts that stand first; a record keeps its keys by the alphabet."""


def plain_words(value: Any) -> str:
    """Values of a record as words: lists joined, tables as name and value.

    Examples
    --------
    >>> plain_words({"pH": "5.31", "look": ["white", "smooth"]})
    'pH 5.31; look white, smooth'
    """
    if isinstance(value, Mapping):
        return "; ".join(f"{k} {plain_words(v)}" for k, v in value.items())
    if isinstance(value, list | tuple):
        return ", ".join(plain_words(v) for v in value)
    return "" if value is None else str(value)


def stability(bench: Bench | None, trial: Trial | None) -> Iterator[Block]:
    """Stability records of a trial; none when there are none."""
    if bench is None or trial is None:
        return
    rows = [
        (
            record.created[:10],
            str(record.body.get("event", "")),
            str(record.body.get("condition", "")),
            str(record.body.get("pull", "")),
            plain_words(record.body.get("observations") or record.body.get("plan")),
            str(record.body.get("note", "")),
        )
        for record in bench.records("stability", about=trial)
    ]
    if rows:
        yield Table(head=("Day", "Event", "Kept at", "Pull", "Seen", "Note"), rows=rows)


def challenges(bench: Bench | None, trial: Trial | None) -> Iterator[Block]:
    """Challenge-test records of a trial; none when there are none."""
    if bench is None or trial is None:
        return
    for record in bench.records("challenge", about=trial):
        body = record.body
        yield Facts(
            pairs=[
                ("day", record.created[:10]),
                ("method", str(body.get("method", "not said"))),
                ("criteria", str(body.get("criteria", "not said"))),
                ("results", plain_words(body.get("results")) or "not worked out"),
            ]
        )
        counts = body.get("counts") or []
        named = dict.fromkeys(k for row in counts if isinstance(row, Mapping) for k in row)
        columns = sorted(named, key=lambda k: (_FIRST.index(k) if k in _FIRST else len(_FIRST), k))
        if columns:
            yield Table(
                head=columns,
                rows=[[plain_words(row.get(k, "")) for k in columns] for row in counts],
            )


def decisions(bench: Bench | None, trial: Trial | None) -> Iterator[Block]:
    """What was decided, and findings that were accepted, with the reasons."""
    if bench is None or trial is None:
        return
    said = [
        f"{r.body['verdict']}: {r.body['reason']}" for r in bench.records("decision", about=trial)
    ]
    taken = [
        f"{r.body['code']} accepted: {r.body['reason']}"
        for r in bench.records("acceptance", about=trial)
    ]
    if said or taken:
        yield Heading(text="Decided at the bench", level=3)
        yield Bullets(items=[*said, *taken])


def none_on_record(what: str) -> Words:
    """The sentence for a section without a record."""
    return Words(text=f"No {what} on record.", tone="caution")
