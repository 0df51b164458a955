"""Every finding that labkit can make, with its question and its source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from labkit import tables
from labkit.estimates.contents import Contents
from labkit.estimates.finding import SEVERITIES, Finding, Severity
from labkit.estimates.limit_table import limits_for
from labkit.estimates.rules import rules
from labkit.estimates.sourcing import source_words
from labkit.formula.brief import MARKETS
from labkit.formula.moves import Move

__all__ = ["Entry", "catalogue", "finding"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One finding that can come up: its code, how grave it is, what it asks, where it stands."""

    code: str
    severity: Severity
    question: str
    source: str


def catalogue() -> tuple[Entry, ...]:
    """Every finding code with its source, in the order of the codes.

    Returns
    -------
    tuple of Entry

    Examples
    --------
    >>> [e.severity for e in catalogue() if e.code in ("INC01", "UL002", "WEIGH01")]
    ['stop', 'stop', 'check']
    """
    found = [
        Entry(code=r.id, severity=r.severity, question=_asked(r.id), source=r.source)
        for r in rules().values()
    ]
    limits = {x.id: x for market in MARKETS for x in limits_for(market)}
    found += [
        Entry(
            code=x.id,
            severity="stop",
            question=f"Is {x.substance} within {x.percent:g} % ({x.product_type}, {x.market})?",
            source=x.source,
        )
        for x in limits.values()
    ]
    found += [
        Entry(code=code, severity=_severity(row), question=row["question"] or "", source=source)
        for code, (row, source) in _own().items()
    ]
    return tuple(sorted(found, key=lambda e: e.code))


def _asked(rule_id: str) -> str:
    row = next(r for r in tables.rows("incompatibilities") if r["rule_id"] == rule_id)
    return f"{row['class_a']} with {row['class_b']}: {row['what_happens']}?"


def _severity(row: tables.Row) -> Severity:
    return next(s for s in SEVERITIES if s == row["severity"])


@cache
def _own() -> Mapping[str, tuple[tables.Row, str]]:
    return {row["code"] or "": (row, source_words(row)) for row in tables.rows("findings")}


def finding(
    code: str,
    contents: Contents,
    lines: tuple[int, ...],
    what: str,
    why: str,
    do: str,
    severity: Severity | None = None,
    move: Move | None = None,
    source: str | None = None,
    **facts: Any,
) -> Finding:
    """A finding of the catalogue, with its usual severity and source unless told otherwise."""
    row, known = _own()[code]
    return Finding(
        code=code,
        severity=severity or _severity(row),
        what=what,
        lines=lines,
        names=contents.line_names(lines),
        why=why,
        do=do,
        move=move,
        source=source or known,
        facts=facts,
    )
