"""The rules of ``incompatibilities.csv``, decided on arrays of percentages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from labkit import tables
from labkit.estimates.carrying import Carrying
from labkit.estimates.contents import Contents
from labkit.estimates.finding import SEVERITIES, Finding, Severity
from labkit.estimates.needs import (
    Bench,
    Carried,
    Clause,
    Form,
    Market,
    Ph,
    Set,
    Water,
    Wet,
    parse_needs,
)
from labkit.estimates.sourcing import source_words
from labkit.estimates.state import (
    PH_HIGH,
    PH_LOW,
    Atom,
    Board,
    Candidate,
    State,
    Test,
    always,
    test,
)
from labkit.formula.brief import Brief
from labkit.formula.names import fold

__all__ = ["Rule", "bench_reminders", "rule_candidates", "rules", "unanswered"]

Mask = NDArray[np.bool_]
EDGE = 1e-9
"""Room for the rounding of sums, in % of the batch."""

WHO = {
    "harm": "A qualified safety assessor decides.",
    "law": "The law of the market decides: read the entry, and ask a qualified safety assessor.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One row: when it fires, and what is said then."""

    id: str
    severity: Severity
    kind: str
    happens: str
    why: str
    do: str
    exceptions: str
    source: str
    clauses: tuple[Clause, ...]

    @property
    def bench(self) -> str | None:
        """What only the bench can see, where the rule asks for it."""
        return next((c.what for c in self.clauses if isinstance(c, Bench)), None)


@cache
def rules() -> Mapping[str, Rule]:
    """Every rule by its id, read once.

    Examples
    --------
    >>> rules()["INC09"].severity
    'stop'
    """
    found = {}
    for row in tables.rows("incompatibilities"):
        level = row["finding_level"]
        name = row["rule_id"] or ""
        found[name] = Rule(
            id=name,
            severity=next(s for s in SEVERITIES if s == level),
            kind=row["severity"] or "",
            happens=row["what_happens"] or "",
            why=row["why"] or "",
            do=row["what_to_do"] or "",
            exceptions=row["exceptions"] or "",
            source=source_words(row),
            clauses=parse_needs(row["needs"] or "", name),
        )
    return found


def rule_candidates(
    contents: Contents, brief: Brief, form: str, board: Board, carrying: Carrying
) -> list[Candidate]:
    """The rules that this formula's materials could ever meet, with their decisions."""
    found = []
    for rule in rules().values():
        if rule.bench is not None:
            continue
        parts = _decide(rule, contents, brief, form, board, carrying)
        if parts is not None:
            found.append(_candidate(rule, contents, *parts))
    return found


def bench_reminders(
    contents: Contents, brief: Brief, form: str, board: Board, carrying: Carrying
) -> list[tuple[Rule, Test, Mask]]:
    """Rules that hang on something only seen at the bench, for the weigh sheet and triage."""
    found = []
    for rule in rules().values():
        if rule.bench is not None:
            parts = _decide(rule, contents, brief, form, board, carrying)
            if parts is not None:
                found.append((rule, parts[0], parts[2]))
    return found


def unanswered(
    contents: Contents, brief: Brief, form: str, board: Board, carrying: Carrying
) -> list[tuple[Rule, Test]]:
    """Rules that would need the pH: what they ask besides it."""
    found = []
    for rule in rules().values():
        if rule.bench is None and _asks_ph(rule):
            rest = tuple(c for c in rule.clauses if not isinstance(c, Ph) or c.negated)
            parts = _decide(rule, contents, brief, form, board, carrying, rest, blind=True)
            if parts is not None:
                found.append((rule, parts[0]))
    return found


def _asks_ph(rule: Rule) -> bool:
    return any(
        (isinstance(c, Ph) and not c.negated) or (isinstance(c, Set) and c.above_window)
        for c in rule.clauses
    )


Both = tuple[Test, Test]


def _decide(
    rule: Rule,
    contents: Contents,
    brief: Brief,
    form: str,
    board: Board,
    carrying: Carrying,
    clauses: tuple[Clause, ...] | None = None,
    blind: bool = False,
) -> tuple[Test, Test, Mask] | None:
    """Tests for certain and for maybe, and the substances that count; None if never."""
    shown = np.zeros(contents.share.shape, dtype=bool)
    certain, possible = always, always
    for clause in rule.clauses if clauses is None else clauses:
        if isinstance(clause, Set):
            part = _set(clause, contents, board, carrying, shown, blind)
        elif isinstance(clause, Ph):
            part = _ph(clause)
        elif isinstance(clause, Water):
            part = _water(clause, contents, board)
        elif isinstance(clause, Carried):
            part = carrying.decide(clause.carried, _own(rule, contents))
            if not clause.carried:
                part = part[0] & _all_known(contents, board), part[1]
        else:
            part = _settled(clause, brief, form)
        if part is None:
            return None
        certain, possible = certain & part[0], possible & part[1]
    return certain, possible if possible != certain else certain, shown


def _set(
    clause: Set,
    contents: Contents,
    board: Board,
    carrying: Carrying,
    shown: Mask,
    blind: bool,
) -> Both | None:
    mask = contents.mask(clause.alternatives)
    if clause.added:
        own = [None if m is None else fold(m.inci) for m in contents.materials]
        mask &= np.array([[name == held for held in contents.substances] for name in own])
    if not mask.any():
        return (_all_known(contents, board), always) if clause.absent else None
    if not clause.absent:
        shown |= mask
    if clause.above_window and not blind:
        return carrying.above_window(mask, clause.threshold)
    column = board.term((contents.share * mask).sum(axis=1))
    figure = clause.threshold + (EDGE if clause.strict else -EDGE)
    held = Test((Atom(column, figure, -1 if clause.absent else 1),))
    return (held & _all_known(contents, board) if clause.absent else held), held


def _all_known(contents: Contents, board: Board) -> Test:
    """Nothing can be said to be missing while a line's material is not known."""
    if not contents.unknown.any():
        return always
    return Test((Atom(board.term(contents.unknown), EDGE, -1),))


def _ph(clause: Ph) -> Both:
    below = clause.sign in ("<", "<=")
    nudge = 0.0 if clause.sign in ("<", ">") else EDGE
    figure = clause.value + (nudge if below else -nudge)
    near, far = (PH_HIGH, PH_LOW) if below else (PH_LOW, PH_HIGH)
    sign = -1 if below else 1
    certain, possible = Test((Atom(near, figure, sign),)), Test((Atom(far, figure, sign),))
    if clause.negated:
        return test(lambda s: ~possible(s)), test(lambda s: ~certain(s))
    return certain, possible


def _water(clause: Water, contents: Contents, board: Board) -> Both:
    column = board.term(contents.water)
    if clause.more_than is not None:
        held = Test((Atom(column, clause.more_than),))
    else:
        held = Test((Atom(column, clause.less_than or 0.0, -1),))
    return held, held


def _settled(clause: Clause, brief: Brief, form: str) -> Both | None:
    """Clauses that the brief answers once for all percentages."""
    if isinstance(clause, Form):
        holds = (form in clause.forms) != clause.negated
    elif isinstance(clause, Market):
        holds = clause.market in brief.market
    elif isinstance(clause, Wet):
        holds = brief.used_wet
    else:
        holds = isinstance(clause, Bench)
    return (always, always) if holds else None


def _own(rule: Rule, contents: Contents) -> Mask:
    """Substances the rule is about, which do not count as another preservative."""
    own = np.zeros(contents.share.shape, dtype=bool)
    for clause in rule.clauses:
        if isinstance(clause, Set) and not clause.absent and not clause.above_window:
            own |= contents.mask(clause.alternatives)
    return own


def _candidate(
    rule: Rule, contents: Contents, certain: Test, possible: Test, shown: Mask
) -> Candidate:
    def tell(state: State, sure: bool) -> Finding:
        lines = contents.lines_with(shown, state.percent) if shown.any() else _whole(rule, contents)
        severity = rule.severity if sure or rule.severity != "stop" else "check"
        return Finding(
            code=rule.id,
            severity=severity,
            what=_what(rule, contents, lines, shown, state, sure),
            lines=lines,
            names=contents.line_names(lines),
            why=_why(rule, contents, lines, shown),
            do=_do(rule, sure, contents),
            source=rule.source,
            facts={"kind": rule.kind, "certain": sure},
        )

    return Candidate(
        code=rule.id, severity=rule.severity, certain=certain, possible=possible, tell=tell
    )


def _whole(rule: Rule, contents: Contents) -> tuple[int, ...]:
    """Lines of a finding that is about what is missing: what brings the water, else all."""
    if any(isinstance(c, Water) and c.more_than is not None for c in rule.clauses):
        plain = [m is not None and m.inci.casefold() == "aqua" for m in contents.materials]
        wet = [i for i in range(contents.n_lines) if contents.water[i] > 0.3]
        food = [i for i in wet if not plain[i]]
        return tuple(food or wet)
    return tuple(range(contents.n_lines))


def _what(
    rule: Rule,
    contents: Contents,
    lines: tuple[int, ...],
    shown: Mask,
    state: State,
    sure: bool,
) -> str:
    happens = rule.happens[:1].upper() + rule.happens[1:]
    if not shown.any():
        return f"{happens}: {'; '.join(contents.line_names(lines))}."
    parts = [_line_words(i, contents, shown, state) for i in lines]
    joined = " with ".join(parts) if len(parts) == 2 else "; ".join(parts)
    may = "" if sure else " (at the edge)"
    return f"{happens}{may}: {joined}."


def _line_words(i: int, contents: Contents, shown: Mask, state: State) -> str:
    name = contents.formula.lines[i].material
    inside = [j for j in np.flatnonzero(shown[i]) if contents.share[i, j] > 0]
    amounts = [
        f"{state.percent[i] * contents.share[i, j]:.3g} % {contents.names[j]}" for j in inside
    ]
    return f"{name} ({', '.join(amounts)})"


def _why(rule: Rule, contents: Contents, lines: tuple[int, ...], shown: Mask) -> str:
    text = rule.why[:1].upper() + rule.why[1:] + "."
    if any((shown[i] & contents.assumed[i]).any() for i in lines):
        text += " Only the order inside the blend is known: judged on the worst case."
    return text


def _do(rule: Rule, sure: bool, contents: Contents) -> str:
    text = rule.do[:1].upper() + rule.do[1:] + "."
    if not sure:
        unknown = contents.unknown.any()
        first = "Name the unknown materials first. " if unknown else "Measure the pH first. "
        text = first + text
    if rule.exceptions and rule.exceptions != "none known":
        text += f" Exceptions: {rule.exceptions}."
    who = WHO.get(rule.kind) if rule.severity == "stop" else None
    return f"{text} {who}" if who else text
