"""What the sheet's page receives: the whole state as one plain dictionary."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from labkit.formula import Formula, Line
from labkit.formula.compare import Comparison
from labkit.formula.grid import show, units_of
from labkit.formula.moves import rank_of
from labkit.widgets.state import SheetState

__all__ = ["moving_dict", "page_dict"]


def page_dict(state: SheetState, changes: Comparison | None) -> dict[str, Any]:
    """The state of a sheet; shares in grid units of 0.0001 %, masses in g.

    Parameters
    ----------
    state : SheetState
    changes : Comparison or None
        What differs from the marked formula, see :attr:`SheetState.changes`.
    """
    formula = state.formula
    return moving_dict(state, changes) | {
        "name": formula.name,
        "phases": [{"key": p.key, "title": p.title} for p in formula.phases],
        "lines": _lines(state),
        "rank": rank_of(formula.lines),
        "qs": None if formula.qs is None else state.ids[formula.qs],
        "give": state.give,
        "chosen": list(state.chosen),
        "batch_g": float(state.batch_g),
        "balance_g": float(state.balance_g),
        "parent": state.parent_label,
        "marks": state.marks_label,
        "steps": [x.words for x in state.steps[-60:]],
        "first_step": max(0, len(state.steps) - 60),
        "note": state.note,
    }


def moving_dict(state: SheetState, changes: Comparison | None) -> dict[str, Any]:
    """The part of a sheet's state that a running gesture can change."""
    return {
        "units": [units_of(line.percent) for line in state.formula.lines],
        "differences": _differences(changes),
        "undo": state.undo_words,
        "redo": state.redo_words,
        "at": state.at,
        "refusal": None if state.refusal is None else state.refusal.as_dict(),
        "recorded": state.recorded,
    }


def _differences(changes: Comparison | None) -> list[dict[str, str]]:
    """Only the lines that differ from the marked formula, largest change first."""
    return [
        {
            "phase": d.phase,
            "material": d.material,
            "before": "–" if d.before is None else show(d.before),
            "after": "–" if d.after is None else show(d.after),
            "change": f"{d.change:+.4f}".removesuffix("00"),
        }
        for d in changes or ()
    ]


def _lines(state: SheetState) -> list[dict[str, Any]]:
    marked = _marked(state.marks)
    return [
        _line(line, mark, marked) for line, mark in zip(state.formula.lines, state.ids, strict=True)
    ]


def _marked(marks: Formula | None) -> dict[tuple[str, str], list[Decimal]]:
    """The marked shares by phase and material, in order where one stands twice."""
    found: dict[tuple[str, str], list[Decimal]] = {}
    for line in marks.lines if marks is not None else ():
        found.setdefault((line.phase.casefold(), line.identity), []).append(line.percent)
    return found


def _line(line: Line, mark: int, marked: dict[tuple[str, str], list[Decimal]]) -> dict[str, Any]:
    was = marked.get((line.phase.casefold(), line.identity))
    return {
        "id": mark,
        "phase": line.phase,
        "material": line.material,
        "units": units_of(line.percent),
        "low": units_of(line.bounds[0]),
        "high": units_of(line.bounds[1]),
        "bounded": [line.low is not None, line.high is not None],
        "locked": line.locked,
        "note": line.note,
        "was": units_of(was.pop(0)) if was else None,
    }
