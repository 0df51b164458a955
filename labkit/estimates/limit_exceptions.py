"""What an entry of law says besides its figure: products it does not name, children, eyes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from labkit import tables
from labkit.estimates.contents import Contents
from labkit.estimates.finding import Finding, Severity
from labkit.estimates.limit_table import Limit, applies, conditions_for
from labkit.estimates.sourcing import source_words
from labkit.estimates.state import Atom, Board, Candidate, State, Test
from labkit.formula.brief import Brief
from labkit.formula.names import fold

__all__ = ["DECIDES", "counted", "exception_candidates"]

Array = NDArray[np.float64]
Entries = Sequence[tuple[Limit, bool | None]]

DECIDES = "The law of the market decides; read the entry, and ask a qualified safety assessor."
UNLISTED = "unlisted"
_TRACE = 1e-4
"""What is below this level [% of the batch] is carried in, not added."""


def counted(contents: Contents, members: dict[str, float], matrix: Array) -> Array:
    """How much each line counts towards a limit, per % of the line."""
    total = np.zeros(contents.n_lines)
    for j, name in enumerate(contents.substances):
        if name in members:
            total += members[name] * matrix[:, j]
    return total


def exception_candidates(
    entries: Entries, contents: Contents, brief: Brief, board: Board
) -> list[Candidate]:
    """Conditions of the entries that this product meets."""
    rows: dict[str, list[tables.Row]] = {}
    for row in tables.rows("limit_conditions"):
        rows.setdefault(row["row_id"] or "", []).append(row)
    found = _not_named(entries, rows, contents, brief, board)
    found += _without_figure(contents, brief, board)
    for limit, answer in entries:
        for row in rows.get(limit.id, ()):
            when = row["when"] or ""
            if answer is not False and when != UNLISTED and applies(when, brief) is True:
                severity: Severity = "stop" if row["severity"] == "stop" else "check"
                found.append(
                    _candidate(
                        "LIM03",
                        severity,
                        limit,
                        row["words"] or "",
                        source_words(row),
                        contents,
                        board,
                    )
                )
    return found


def _not_named(
    entries: Entries,
    rows: dict[str, list[tables.Row]],
    contents: Contents,
    brief: Brief,
    board: Board,
) -> list[Candidate]:
    """Substances whose entries all name other products than this one."""
    found = []
    for market in brief.market:
        here = [(x, a) for x, a in entries if x.market == market or x.inherited]
        for substance in sorted({x.substance for x, _ in here}):
            group = [(x, a) for x, a in here if x.substance == substance]
            if any(answer is not False for _, answer in group):
                continue
            limit = group[0][0]
            words = [row for x, _ in group for row in rows.get(x.id, ()) if row["when"] == UNLISTED]
            if limit.role == "preservative" and limit.entry.startswith("V/"):
                found.append(_not_allowed(limit, contents, board))
            elif words:
                found.append(
                    _candidate(
                        "LIM02",
                        "check",
                        limit,
                        words[0]["words"] or "",
                        source_words(words[0]),
                        contents,
                        board,
                    )
                )
    return found


def _without_figure(contents: Contents, brief: Brief, board: Board) -> list[Candidate]:
    """Entries that ask for something only the supplier or the label can answer."""
    found = []
    for market in brief.market:
        for limit in conditions_for(market):
            if contents.columns(m.inci for m in limit.members) and (
                applies(limit.scope, brief) is not False
            ):
                found.append(
                    _candidate("LIM04", "fyi", limit, _asked(limit), limit.source, contents, board)
                )
    return found


def _asked(limit: Limit) -> str:
    figure = f" {limit.percent:g} %" if limit.percent else ""
    more = f"; {limit.conditions}" if limit.conditions else ""
    return f"{limit.basis}{figure}{more}"


def _not_allowed(limit: Limit, contents: Contents, board: Board) -> Candidate:
    words = "the list of allowed preservatives names other products only"
    sold_for_it = any(
        m is not None and "preservative" in m.functions and fold(m.inci) == fold(limit.substance)
        for m in contents.materials
    )
    severity: Severity = "stop" if sold_for_it else "check"
    return _candidate("LIM01", severity, limit, words, limit.source, contents, board)


def _candidate(
    code: str,
    severity: Severity,
    limit: Limit,
    words: str,
    source: str,
    contents: Contents,
    board: Board,
) -> Candidate:
    weights = counted(contents, {fold(m.inci): m.factor for m in limit.members}, contents.share)
    column = board.term(weights)

    decide = Test((Atom(column, _TRACE),))

    def tell(state: State, sure: bool) -> Finding:
        lines = tuple(int(i) for i in np.flatnonzero(weights * state.percent > 1e-12))
        return Finding(
            code=code,
            severity=severity,
            what=f"{limit.substance}: {words} ({limit.market}).",
            lines=lines,
            names=contents.line_names(lines),
            why=f"Condition of entry {limit.entry}, {limit.dated}.",
            do=_advice(code),
            source=source,
            facts={
                "kind": "law",
                "substance": limit.substance,
                "percent": float(state.percent @ weights),
                "limit": 0.0,
                "market": limit.market,
                "certain": True,
            },
        )

    return Candidate(code=code, severity=severity, certain=decide, possible=decide, tell=tell)


def _advice(code: str) -> str:
    if code == "LIM04":
        return f"Ask the supplier, and look at the label. {DECIDES}"
    return f"Choose another material, or look at the product type of the brief. {DECIDES}"
