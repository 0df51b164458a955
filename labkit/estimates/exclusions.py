"""What the brief wants and excludes: allergies of people in the room, faith, vegan, free-from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from labkit import tables
from labkit.estimates.catalogue import finding
from labkit.estimates.contents import Contents
from labkit.estimates.finding import Finding, Severity
from labkit.estimates.state import Atom, Board, Candidate, State, Test, always
from labkit.formula.brief import Brief
from labkit.formula.names import fold
from labkit.materials import Material

__all__ = ["Exclusion", "exclusion_candidates", "exclusions"]

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Exclusion:
    """One word that a brief may use, and what breaks it.

    ``sure`` and ``maybe`` are (kind, tag) pairs of materials; ``allergy`` says that a person
    can be hurt.
    """

    word: str
    allergy: bool
    sure: frozenset[tuple[str, str]]
    maybe: frozenset[tuple[str, str]]
    groups: frozenset[str]
    incis: frozenset[str]


@cache
def exclusions() -> dict[str, Exclusion]:
    """Every exclusion by its word and its other names, folded.

    Examples
    --------
    >>> exclusions()["gluten"].word
    'wheat'
    """
    found: dict[str, Exclusion] = {}
    for row in tables.rows("exclusions"):
        entry = Exclusion(
            word=row["word"] or "",
            allergy=row["kind"] == "allergy",
            sure=_tags(row["sure"]),
            maybe=_tags(row["maybe"]),
            groups=frozenset((row["groups"] or "").split()),
            incis=frozenset(fold(x) for x in (row["incis"] or "").split(";") if x.strip()),
        )
        for name in (entry.word, *(row["aliases"] or "").split(";")):
            if name.strip():
                found.setdefault(fold(name), entry)
    return found


def _tags(text: str | None) -> frozenset[tuple[str, str]]:
    pairs = (part.strip().partition(":") for part in (text or "").split("|") if part.strip())
    return frozenset((kind, tag) for kind, _, tag in pairs)


def exclusion_candidates(contents: Contents, brief: Brief, board: Board) -> list[Candidate]:
    """Wishes of the brief that this formula breaks or forgets."""
    found = []
    for word in brief.must_not:
        entry = exclusions().get(fold(word))
        rows = [_breaks(entry, word, m, contents, i) for i, m in enumerate(contents.materials)]
        sure = np.array([r == "sure" for r in rows])
        maybe = np.array([r == "maybe" for r in rows])
        if sure.any() or maybe.any():
            found.append(_broken(word, entry, sure, maybe, contents, board))
    return [*found, *(_missing(w, contents) for w in brief.must_have if _lacks(w, contents))]


def _breaks(
    entry: Exclusion | None, word: str, material: Material | None, contents: Contents, i: int
) -> str | None:
    held = {n for j, n in enumerate(contents.substances) if contents.most[i, j] > 0}
    if entry is None:
        named = {fold(contents.formula.lines[i].material)} | held
        named |= set() if material is None else {fold(material.name), material.key}
        return "sure" if fold(word) in named else None
    if material is None:
        return None
    tags = {("allergy", t) for t in material.allergy} | {("origin", t) for t in material.origin}
    groups = {v for words in contents.words[i] for k, v in words if k == "group"}
    if tags & entry.sure or groups & entry.groups or held & entry.incis:
        return "sure"
    return "maybe" if tags & entry.maybe else None


def _broken(
    word: str, entry: Exclusion | None, sure: Mask, maybe: Mask, contents: Contents, board: Board
) -> Candidate:
    allergy = entry is not None and entry.allergy
    severity: Severity = "stop" if allergy else "check"

    certain = Test((Atom(board.term(sure), 0.0),))
    possible = Test((Atom(board.term(sure | maybe), 0.0),))

    def tell(state: State, definite: bool) -> Finding:
        flags = sure if definite else sure | maybe
        lines = tuple(int(i) for i in np.flatnonzero(flags & (state.percent > 0)))
        names = ", ".join(contents.line_names(lines))
        may = "" if definite else "may "
        if allergy:
            what = f"The brief excludes {word}; {names} {may}bring{'' if may else 's'} it in."
            why = "Someone who must not meet it may make or use this product."
            do = "Choose another material; the supplier's allergen statement decides."
        else:
            what = f"The brief asks for {word}; {names} {may}break{'' if may else 's'} that."
            why = "Origin and kind as listed for the material; grades differ."
            do = "Choose another material or ask the supplier for its origin."
        return finding(
            "EXC01" if allergy else "EXC02",
            contents,
            lines,
            what,
            why,
            do,
            severity=severity if definite else "check",
            word=word,
        )

    return Candidate(
        code="EXC01" if allergy else "EXC02",
        severity=severity,
        certain=certain,
        possible=possible,
        tell=tell,
    )


def _lacks(word: str, contents: Contents) -> bool:
    """Whether a wished material is in no line; words that exclude are never lacking."""
    if fold(word) in exclusions():
        return False
    names = {fold(line.material) for line in contents.formula.lines}
    names |= {fold(m.name) for m in contents.materials if m is not None}
    names |= {m.key for m in contents.materials if m is not None} | set(contents.substances)
    jobs = {fold(j) for m in contents.materials if m is not None for j in m.functions}
    return fold(word) not in names | jobs


def _missing(word: str, contents: Contents) -> Candidate:
    def tell(state: State, sure: bool) -> Finding:
        return finding(
            "EXC03",
            contents,
            (),
            f"The brief wants {word}; no line has that name or function.",
            "Compared with names, ingredient names and functions of the lines.",
            "Add it, or take it out of the brief.",
            word=word,
        )

    return Candidate(code="EXC03", severity="check", certain=always, possible=always, tell=tell)
