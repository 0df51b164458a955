"""What the page may ask for, each as a function of the state; nothing else is heard."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from labkit.errors import LabkitError, MoveError
from labkit.formula import Move
from labkit.formula.grid import read_percent
from labkit.widgets.state import SheetState

__all__ = ["edited"]

Edit = Mapping[str, Any]
KINDS = {"set", "swap", "add", "remove", "place", "lock", "bound", "qs", "note"}


def edited(state: SheetState, edit: Edit) -> SheetState:
    """The state after an edit of the page; what cannot be done leaves a refusal."""
    act = ACTS.get(str(edit.get("do")))
    if act is None:
        return state
    try:
        return act(state, edit)
    except LabkitError as error:
        return state.refused(error)


def _move(state: SheetState, edit: Edit) -> SheetState:
    written = dict(edit.get("move") or {})
    try:
        move = Move.from_dict(written)
        if move.kind not in KINDS:
            raise ValueError(move.kind)
    except (TypeError, ValueError, ArithmeticError) as error:
        raise _not_understood(state) from error
    gesture = edit.get("gesture")
    return state.moved(
        move,
        line_id=edit.get("id"),
        gesture=None if gesture is None else str(gesture),
        final=bool(edit.get("final", True)),
    )


def _not_understood(state: SheetState) -> MoveError:
    return MoveError(
        where=state.formula.name,
        found="a change that this sheet does not know",
        allowed="The changes that the sheet offers",
        cause="The page and the notebook are of different versions",
        do="Save the notebook, load the page anew and run the cell again",
    )


def _where(state: SheetState, edit: Edit) -> tuple[int | None, str]:
    line_id = edit.get("id")
    if line_id in state.ids:
        return line_id, state.formula.lines[state.ids.index(line_id)].where
    return line_id, state.formula.name


def _typed(state: SheetState, edit: Edit) -> SheetState:
    line_id, where = _where(state, edit)
    try:
        percent = read_percent(str(edit.get("text", "")), where=where)
    except LabkitError as error:
        refused = state.settled().refused(error)
        return refused.at_line(line_id)
    return state.moved(Move(kind="set", percent=percent), line_id=line_id)


def _bound(state: SheetState, edit: Edit) -> SheetState:
    line_id, where = _where(state, edit)
    try:
        low, high = (
            read_percent(text, where=where) if (text := str(edit.get(side) or "").strip()) else None
            for side in ("low", "high")
        )
    except LabkitError as error:
        return state.settled().refused(error).at_line(line_id)
    return state.moved(Move(kind="bound", low=low, high=high), line_id=line_id)


def _give(state: SheetState, edit: Edit) -> SheetState:
    chosen = edit.get("chosen")
    picked = None if chosen is None else tuple(i for i in chosen if i in state.ids)
    return state.giving(str(edit.get("mode")), picked)


ACTS: Mapping[str, Callable[[SheetState, Edit], SheetState]] = {
    "move": _move,
    "typed": _typed,
    "bound": _bound,
    "give": _give,
    "cancel": lambda state, edit: state.cancelled(),
    "undo": lambda state, edit: state.undone(),
    "redo": lambda state, edit: state.redone(),
    "goto": lambda state, edit: state.stepped(int(edit.get("to", state.at))),
    "weigh": lambda state, edit: state.weighing(edit.get("batch"), edit.get("balance")),
    "note": lambda state, edit: state.noting(str(edit.get("note", ""))[:20_000]),
    "dismiss": lambda state, edit: replace(state, refusal=None),
}
