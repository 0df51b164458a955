"""Limits of law, on the basis in which each is written: as acid, as active, as a sum."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_FLOOR, Decimal
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from labkit.estimates.contents import Contents
from labkit.estimates.finding import Finding, Severity
from labkit.estimates.limit_exceptions import DECIDES, counted, exception_candidates
from labkit.estimates.limit_table import (
    Limit,
    applies,
    in_force,
    limits_for,
    next_change,
)
from labkit.estimates.state import Atom, Board, Candidate, State, Test, never
from labkit.formula.brief import MARKETS, Brief
from labkit.formula.grid import STEP
from labkit.formula.moves import Move
from labkit.formula.names import fold

__all__ = ["Ceiling", "ceilings", "limit_candidates"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ceiling:
    """The highest level of one substance under one entry.

    ``percent`` is on the entry's own basis; ``as_supplied`` is the same as the substance
    itself, in % of the product.
    """

    id: str
    inci: str
    percent: float
    basis: str
    as_supplied: float
    product_type: str
    market: str
    applies: bool | None
    dated: str
    source: str


def ceilings(inci: str, brief: Brief) -> list[Ceiling]:
    """What the markets of a brief allow of a substance, with the basis shown.

    Parameters
    ----------
    inci : str
        The substance.
    brief : Brief
        Decides which entries apply; those it leaves open are listed too.

    Returns
    -------
    list of Ceiling
        Lowest first; empty where no entry names the substance.

    Examples
    --------
    >>> found = ceilings("Sodium Benzoate", Brief(product="hand cream"))[0]
    >>> found.percent, found.basis, round(found.as_supplied, 2)
    (0.5, 'as acid (Benzoic Acid)', 0.59)
    """
    found = []
    for limit, answer in _applicable(brief):
        factor = next((m.factor for m in limit.members if fold(m.inci) == fold(inci)), None)
        if factor is not None and answer is not False:
            found.append(
                Ceiling(
                    id=limit.id,
                    inci=inci,
                    percent=limit.percent,
                    basis=_basis(limit),
                    as_supplied=limit.percent / factor,
                    product_type=limit.product_type,
                    market=limit.market,
                    applies=answer,
                    dated=limit.dated,
                    source=limit.source,
                )
            )
    return sorted(found, key=lambda c: c.as_supplied)


@lru_cache(maxsize=64)
def _applicable(brief: Brief) -> tuple[tuple[Limit, bool | None], ...]:
    """Each entry of the brief's markets, with whether it covers the product."""
    found = []
    for market in brief.market:
        entries = limits_for(market)
        for limit in entries:
            others = tuple(
                applies(x.scope, brief)
                for x in entries
                if x is not limit
                and x.substance == limit.substance
                and x.role == limit.role
                and x.scope
                and "other" not in x.scope.split()
            )
            found.append((limit, applies(limit.scope, brief, others)))
    return tuple(found)


def limit_candidates(contents: Contents, brief: Brief, board: Board, day: date) -> list[Candidate]:
    """What could break a limit with these materials."""
    entries = [
        (limit, answer)
        for limit, answer in _applicable(brief)
        if contents.columns(m.inci for m in limit.members)
        and (limit.only_with is None or contents.columns([limit.only_with]))
    ]
    mixtures = {fold(m.inci) for x, _ in entries if x.only_with for m in x.members}
    entries = [
        (x, a)
        for x, a in entries
        if not (fold(x.substance) in mixtures and x.only_with is None and _mixture(x, contents))
    ]
    found: list[Candidate] = []
    pooled: set[object] = set()
    for limit, answer in entries:
        if answer is not False and not _outranked(limit, entries):
            if limit.pool is not None:
                if limit.pool in pooled:
                    continue
                pooled.add(limit.pool)
            members = _pool_members(limit, entries)
            found += _candidates(limit, members, answer, contents, brief, board, day)
    return found + exception_candidates(entries, contents, brief, board)


def _mixture(limit: Limit, contents: Contents) -> bool:
    """Whether a substance comes only as the mixture that has an entry of its own."""
    columns = contents.columns(m.inci for m in limit.members)
    alone = [
        m is not None and not m.is_blend and contents.most[i, columns].any()
        for i, m in enumerate(contents.materials)
    ]
    return limit.role == "preservative" and not any(alone)


def _outranked(limit: Limit, entries: Iterable[tuple[Limit, bool | None]]) -> bool:
    """A preservative entry gives way where the same substance has an entry for other uses."""
    if limit.role != "preservative":
        return False
    return any(
        x.substance == limit.substance
        and x.role == "restricted"
        and x.market == limit.market
        and answer is not False
        and x.percent >= limit.percent
        for x, answer in entries
    )


def _pool_members(limit: Limit, entries: Iterable[tuple[Limit, bool | None]]) -> dict[str, float]:
    group = [x for x, _ in entries if limit.pool is not None and x.pool == limit.pool] or [limit]
    return {fold(m.inci): m.factor for x in group for m in x.members}


def _over(limit: Limit, column: int) -> Test:
    room = -1e-9 if limit.below else min(5e-5, 1e-3 * limit.percent)
    return Test((Atom(column, limit.percent + room),))


def _candidates(
    limit: Limit,
    members: dict[str, float],
    answer: bool | None,
    contents: Contents,
    brief: Brief,
    board: Board,
    day: date,
) -> list[Candidate]:
    usual = counted(contents, members, contents.share if limit.bans else contents.least)
    most = counted(contents, members, contents.most)
    if not most.any():
        return []
    over = _over(limit, board.term(usual))
    at_most = _over(limit, board.term(most))
    later = next_change(limit)
    severity: Severity = "stop"
    if not in_force(limit, day):
        if later is None or later < day:
            return []
        severity, at_most = "fyi", over

    def tell(state: State, sure: bool) -> Finding:
        total = float(state.percent @ usual)
        return _told(
            limit,
            total,
            float(state.percent @ most),
            usual,
            contents,
            state,
            severity,
            sure,
            answer,
        )

    certain = over if answer is True else never
    return [
        Candidate(code=limit.id, severity=severity, certain=certain, possible=at_most, tell=tell)
    ]


def _told(
    limit: Limit,
    total: float,
    most: float,
    weights: Array,
    contents: Contents,
    state: State,
    severity: Severity,
    sure: bool,
    answer: bool | None,
) -> Finding:
    lines = tuple(int(i) for i in np.flatnonzero(weights * state.percent > 1e-12))
    level = severity if sure or severity == "fyi" else "check"
    held = total if sure or total > limit.percent else most
    ban = limit.percent == 0
    what = f"{limit.substance}: {held:.4g} %{_basis_words(limit)}, "
    what += "not allowed" if ban else f"limit {'under ' if limit.below else ''}{limit.percent:g} %"
    kind = limit.product_type.removesuffix(" products")
    what += f" in {kind} products ({limit.market})."
    return Finding(
        code=limit.id,
        severity=level,
        what=what,
        lines=lines,
        names=contents.line_names(lines),
        why=_reason(limit, contents, lines, sure, answer, total),
        do=_advice(limit, weights, lines, contents, ban),
        move=_lower(limit, total, weights, lines, contents, state) if sure else None,
        source=limit.source,
        facts={
            "kind": "harm" if limit.status == "opinion" else "law",
            "substance": limit.substance,
            "percent": total,
            "limit": limit.percent,
            "market": limit.market,
            "certain": sure,
        },
    )


def _reason(
    limit: Limit,
    contents: Contents,
    lines: tuple[int, ...],
    sure: bool,
    answer: bool | None,
    total: float,
) -> str:
    text = f"Entry {limit.entry} for {MARKETS.get(limit.market, limit.market)}, {limit.dated}."
    if limit.status == "opinion":
        text += " A scientific opinion, not yet law when it was read."
    if limit.inherited:
        text += " Great Britain took over the EU text of 31 December 2020 and amends it separately."
    if limit.conditions:
        text += f" Conditions: {limit.conditions}."
    if answer is None:
        text += " The brief leaves open whether the product is of this type."
    elif not sure and total <= limit.percent and not _guessed(limit, contents, lines):
        text += " Only at the top of the range that the supplier states."
    if _guessed(limit, contents, lines):
        text += " Only the order inside the blend is known: judged on the worst case."
    return text


def _guessed(limit: Limit, contents: Contents, lines: tuple[int, ...]) -> bool:
    """Whether a share was taken at the worst that its place in a blend allows."""
    names = {fold(m.inci) for m in limit.members}
    inside = [j for j, name in enumerate(contents.substances) if name in names]
    return any(bool(contents.assumed[i, inside].any()) for i in lines)


def _advice(
    limit: Limit, weights: Array, lines: tuple[int, ...], contents: Contents, ban: bool
) -> str:
    if ban:
        return f"Take it out or choose another material. {DECIDES}"
    if len(lines) == 1 and weights[lines[0]] > 0:
        name = contents.formula.lines[lines[0]].material
        ceiling = limit.percent / weights[lines[0]]
        words = "below" if limit.below else "at most"
        return f"Keep {name} {words} {ceiling:.3g} % of the batch. {DECIDES}"
    return f"Lower one of them: their sum counts. {DECIDES}"


def _lower(
    limit: Limit,
    total: float,
    weights: Array,
    lines: tuple[int, ...],
    contents: Contents,
    state: State,
) -> Move | None:
    """The move that brings the largest contributor down so that the sum meets the limit."""
    formula = contents.formula
    free = [i for i in lines if not formula.lines[i].locked and i != formula.qs]
    if not free or formula.qs is None:
        return None
    i = max(free, key=lambda k: float(state.percent[k] * weights[k]))
    share = state.percent[i] - (total - limit.percent) / weights[i]
    target = Decimal(repr(max(float(share), 0.0))).quantize(STEP, rounding=ROUND_FLOOR)
    if limit.below:
        target -= STEP
    low, high = formula.lines[i].bounds
    if not low <= target <= high:
        return None
    return Move(
        kind="set", line=i, material=formula.lines[i].material, percent=max(target, Decimal(0))
    )


def _basis(limit: Limit) -> str:
    acid = f" ({limit.acid})" if limit.acid and limit.basis == "as acid" else ""
    return f"{limit.basis}{acid}"


def _basis_words(limit: Limit) -> str:
    plain = ("as substance (active)", "as supplied", "not permitted", "prohibited", "sum", "")
    if limit.basis in plain or limit.below:
        return ""
    return f" {_basis(limit)}"
