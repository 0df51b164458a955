"""Every finding that labkit can make, with its question and its source."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from html import escape
from typing import TYPE_CHECKING, Any, overload

from labkit import tables
from labkit.estimates.contents import Contents
from labkit.estimates.finding import SEVERITIES, Finding, Severity
from labkit.estimates.limit_table import limits_for
from labkit.estimates.rules import rules
from labkit.estimates.sourcing import source_words
from labkit.formula.brief import MARKETS
from labkit.formula.moves import Move

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Catalogue", "Entry", "catalogue", "finding"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One finding that can come up: its code, how grave it is, what it asks, where it stands."""

    code: str
    severity: Severity
    question: str
    source: str


class Catalogue(Sequence[Entry]):
    """Every finding that can come up, in the order of the codes."""

    def __init__(self, entries: Iterable[Entry]) -> None:
        self._all = tuple(sorted(entries, key=lambda e: e.code))

    @overload
    def __getitem__(self, index: int) -> Entry: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Entry]: ...
    def __getitem__(self, index: int | slice) -> Entry | Sequence[Entry]:
        return self._all[index]

    def __len__(self) -> int:
        return len(self._all)

    def table(self) -> pd.DataFrame:
        """Columns code, severity, question, source."""
        import pandas as pd

        rows = [(e.code, e.severity, e.question, e.source) for e in self._all]
        return pd.DataFrame(rows, columns=["code", "severity", "question", "source"])

    def __str__(self) -> str:
        counts = [f"{sum(e.severity == s for e in self._all)} {s}" for s in SEVERITIES]
        return f"{len(self._all)} findings can come up: {', '.join(counts)}."

    def _repr_html_(self) -> str:
        """The page that lists them all."""
        rows = "".join(
            f"<tr><td>{escape(e.code)}</td><td>{e.severity}</td><td>{escape(e.question)}</td>"
            f"<td>{escape(e.source)}</td></tr>"
            for e in self._all
        )
        heads = "".join(f"<th>{h}</th>" for h in ("code", "severity", "question", "source"))
        return f"<p>{self}</p><table><tr>{heads}</tr>{rows}</table>"


def catalogue() -> Catalogue:
    """Every finding code with its source: rules, limits, and the checks beside them.

    Returns
    -------
    Catalogue
        A page in a notebook, a sequence of :class:`Entry` otherwise.

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
    return Catalogue(found)


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
