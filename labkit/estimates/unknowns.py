"""What was not checked, and why: unknown materials, a missing pH, an open brief."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from labkit.estimates.carrying import Carrying
from labkit.estimates.catalogue import finding
from labkit.estimates.contents import Contents
from labkit.estimates.finding import Finding
from labkit.estimates.rules import Rule, unanswered
from labkit.estimates.state import Atom, Board, Candidate, State, Test, always, test
from labkit.formula.brief import Brief

__all__ = ["unknown_candidates"]

Mask = NDArray[np.bool_]


def unknown_candidates(
    contents: Contents, brief: Brief, form: str, board: Board, carrying: Carrying
) -> list[Candidate]:
    """What to say about the things nobody looked at."""
    found = []
    strange = contents.unknown > 0
    if strange.any():
        found.append(_materials(strange, contents, board))
    waiting = unanswered(contents, brief, form, board, carrying)
    if waiting:
        found.append(_without_ph(waiting, contents))
    if brief.leave_on is None and brief.kind.use in ("", "any") and _asks_use(contents):
        found.append(_without_use(contents))
    return found


def _materials(strange: Mask, contents: Contents, board: Board) -> Candidate:
    decide = Test((Atom(board.term(strange), 0.0),))

    def tell(state: State, sure: bool) -> Finding:
        lines = tuple(int(i) for i in np.flatnonzero(strange & (state.percent > 0)))
        share = float(state.percent[list(lines)].sum())
        return finding(
            "UNK01",
            contents,
            lines,
            f"Not known, and so not checked: {', '.join(contents.line_names(lines))} "
            f"({share:.4g} % of the batch).",
            "Clashes, limits, allergens, windows, heat and cost were judged without these lines.",
            "Choose the material from the list, or add it with what its sheet says.",
            share=share,
        )

    return Candidate(code="UNK01", severity="check", certain=decide, possible=decide, tell=tell)


def _without_ph(waiting: list[tuple[Rule, Test]], contents: Contents) -> Candidate:
    def decide(state: State) -> Mask | bool:
        open_ph = np.isnan(state.ph_low)
        if not open_ph.any():
            return open_ph
        asked = [np.broadcast_to(np.asarray(d(state)), state.shape) for _, d in waiting]
        return np.asarray(open_ph & np.any(asked, axis=0))

    def tell(state: State, sure: bool) -> Finding:
        rules = [rule for rule, d in waiting if bool(np.all(d(state)))]
        words = "; ".join(dict.fromkeys(r.happens for r in rules))
        return finding(
            "UNK02",
            contents,
            (),
            f"Without a pH these were not answered: {words}.",
            "These rules ask for the pH of the finished product.",
            "Measure it at 25 °C, or give the materials their acids and bases for a forecast.",
            rules=tuple(r.id for r in rules),
        )

    held = test(decide)
    return Candidate(code="UNK02", severity="fyi", certain=held, possible=held, tell=tell)


def _asks_use(contents: Contents) -> bool:
    groups = {v for row in contents.words for words in row for k, v in words if k == "group"}
    return bool(groups & {"preservative", "acid-preservative", "essential-oil", "retinoid", "aha"})


def _without_use(contents: Contents) -> Candidate:
    def tell(state: State, sure: bool) -> Finding:
        return finding(
            "UNK03",
            contents,
            (),
            "The brief does not say whether the product stays on or is rinsed off.",
            "Limits and allergen thresholds differ; the stricter was taken for allergens, and "
            "broken limits are told as checks.",
            "Give the brief a product type.",
        )

    return Candidate(code="UNK03", severity="fyi", certain=always, possible=always, tell=tell)
