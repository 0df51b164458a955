"""Instead of…: what else could do the work of one line, ranked, with what would change."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from labkit.errors import MaterialError
from labkit.estimates.check import Checker
from labkit.estimates.exclusions import exclusions
from labkit.estimates.finding import LEVELS, Finding, Findings
from labkit.estimates.state import PhLike
from labkit.formula import Formula, Move
from labkit.formula.brief import Brief
from labkit.formula.moves import Ref
from labkit.formula.names import fold, is_water
from labkit.materials import Material, Materials

__all__ = ["Alternative", "alternatives", "likeness"]

_TRIED = 15
"""So many of the likest materials are put into the formula and checked."""
_ON_THE_SHELF = 1.5
_NEW = {"stop": -6.0, "check": -1.0, "fyi": -0.1}
_FAMILIES = frozenset({"silicone", "ethoxylate", "acrylate-polymer", "soap", "essential-oil"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """One material in the place of another.

    Attributes
    ----------
    material : Material
    score : float
        For the order only.
    reasons, changes : tuple of str
        What speaks for it, and what would be different.
    new, gone : tuple of Finding
        Findings that would come and go.
    move : Move
        The swap; ``formula.apply(move)`` tries it.
    same_active : float or None
        Share [%] that brings as much active matter as before, where strengths differ.
    """

    material: Material
    score: float
    reasons: tuple[str, ...]
    changes: tuple[str, ...]
    new: tuple[Finding, ...]
    gone: tuple[Finding, ...]
    move: Move
    same_active: float | None = None

    def __str__(self) -> str:
        parts = [f"{self.material.name}: {'; '.join(self.reasons)}."]
        if self.changes:
            parts.append(f"Different: {'; '.join(self.changes)}.")
        if self.new:
            parts.append("New: " + "; ".join(f"{f.severity} {f.what}" for f in self.new))
        if self.gone:
            parts.append("Gone: " + "; ".join(f"{f.severity} {f.what}" for f in self.gone))
        return " ".join(parts)


def alternatives(
    formula: Formula,
    line: Ref,
    mats: Materials,
    brief: Brief | None = None,
    *,
    in_house: Iterable[str] = (),
    ph: PhLike = None,
    n: int = 5,
    look: Callable[[Formula], Any] | None = None,
) -> list[Alternative]:
    """Replacements for one line, best first.

    Parameters
    ----------
    formula : Formula
    line : str, (phase, material) or int
        What is to be replaced.
    mats : Materials
        Where to look.
    brief : Brief, optional
        Materials it excludes are left out.
    in_house : iterable of str
        Names or keys of what is on the shelf; preferred.
    ph : float or (value, low, high), optional
        For the findings.
    n : int
        How many.
    look : callable, optional
        A forecast of a formula, such as a Forecaster; what moves in it is told.

    Returns
    -------
    list of Alternative

    Raises
    ------
    MaterialError
        The material of the line is not known, so nothing can be compared.

    Examples
    --------
    >>> mats = Materials.starter()
    >>> cream = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... B,Mineral oil,8
    ... B,Acid-stable GMS,4''')
    >>> best = alternatives(cream, "Mineral oil", mats, Brief(product="hand cream"), n=1)[0]
    >>> cream.apply(best.move).total
    Decimal('100.0000')
    """
    i = formula.find(line)
    old = mats.resolve(formula.lines[i].key or formula.lines[i].material)
    if old is None:
        raise _unknown(formula, i)
    shelf = {m.key for m in (mats.resolve(x) for x in in_house) if m is not None}
    words = brief.must_not if brief is not None else ()
    others = [m for m in mats.values() if m.key != old.key and _fits(m, old, words)]
    ranked = sorted(others, key=lambda m: (-likeness(m, old) - _house(m, shelf), m.key))
    before = Checker(formula, mats, brief).findings(ph=ph)
    seen = None if look is None else look(formula)
    found = [
        _tried(formula, i, m, old, mats, brief, ph, before, shelf, look, seen)
        for m in ranked[:_TRIED]
    ]
    return sorted(found, key=lambda a: (-a.score, a.material.key))[:n]


def likeness(new: Material, old: Material) -> float:
    """How alike two materials are in their work: larger is closer.

    Parameters
    ----------
    new, old : Material

    Returns
    -------
    float
        Shared functions, phase, charge, HLB, volatility, feel and family, each with a weight
        of common practice.

    Examples
    --------
    >>> mats = Materials.starter()
    >>> oil = mats["mineral-oil"]
    >>> likeness(mats["squalane"], oil) > likeness(mats["beeswax"], oil)
    True
    """
    a, b = set(new.functions), set(old.functions)
    score = 4.0 * len(a & b) / max(len(a | b), 1)
    score += 2.0 * (new.functions[:1] == old.functions[:1])
    score += 2.0 * (new.phase == old.phase)
    score += 2.0 * (new.charge == old.charge) + 1.5 * (new.charge_class == old.charge_class)
    score += _near(new.hlb, old.hlb, 2.0, 2.0) + _near(new.required_hlb, old.required_hlb, 2.0, 1.0)
    score += -2.0 * (bool(new.volatile) != bool(old.volatile))
    score += 1.0 * (new.feel is not None and new.feel == old.feel)
    score += 0.5 * (new.spreading is not None and new.spreading == old.spreading)
    score += 0.5 * len(new.groups & old.groups) - 0.5 * len(_FAMILIES & (new.groups ^ old.groups))
    if new.use_high is not None and old.use_high is not None and old.use_high > 0:
        ratio = new.use_high / old.use_high
        score -= 1.0 * (ratio < 0.3 or ratio > 3.0)
    return score


def _near(
    a: tuple[float, float, float] | None,
    b: tuple[float, float, float] | None,
    width: float,
    weight: float,
) -> float:
    if a is None or b is None:
        return 0.0
    return weight * max(-1.0, 1.0 - abs(a[1] - b[1]) / width)


def _house(material: Material, shelf: set[str]) -> float:
    return _ON_THE_SHELF if material.key in shelf else 0.0


def _fits(new: Material, old: Material, words: tuple[str, ...]) -> bool:
    shared = set(new.functions) & set(old.functions)
    if not shared or is_water(new.inci) or "prohibited-eu" in new.groups:
        return False
    if fold(new.inci) == fold(old.inci) and new.strength == old.strength:
        return False
    return not any(_excluded(new, word) for word in words)


def _excluded(material: Material, word: str) -> bool:
    entry = exclusions().get(fold(word))
    if entry is None:
        return fold(word) in {fold(material.name), fold(material.inci), material.key}
    tags = {("allergy", t) for t in material.allergy} | {("origin", t) for t in material.origin}
    held = {fold(material.inci)} | {fold(p.inci) for p in material.constituents}
    return bool(
        tags & (entry.sure | entry.maybe) or material.groups & entry.groups or held & entry.incis
    )


def _tried(
    formula: Formula,
    i: int,
    new: Material,
    old: Material,
    mats: Materials,
    brief: Brief | None,
    ph: PhLike,
    before: Findings,
    shelf: set[str],
    look: Callable[[Formula], Any] | None,
    seen: Any,
) -> Alternative:
    here = formula.lines[i].material
    move = Move(kind="swap", line=i, material=here, to=new.name, key=new.key)
    swapped = formula.apply(move)
    after = Checker(swapped, mats, brief).findings(ph=ph)
    fresh, gone = _coming(after, before), _going(after, before)
    score = likeness(new, old) + _house(new, shelf)
    score += sum(_NEW[f.severity] for f in fresh) - sum(_NEW[f.severity] for f in gone) / 2
    moved = () if look is None else _moved(seen, look(swapped))
    return Alternative(
        material=new,
        score=score,
        reasons=tuple(_reasons(new, old, shelf)),
        changes=(*_changes(new, old), *moved),
        new=fresh,
        gone=gone,
        move=move,
        same_active=_same_active(formula, i, new, old),
    )


def _coming(after: Findings, before: Findings) -> tuple[Finding, ...]:
    """Findings that were not there for the same lines, or were less grave."""
    return tuple(
        f
        for f in after
        if not any(
            g.code == f.code
            and LEVELS[g.severity] >= LEVELS[f.severity]
            and set(f.lines) <= set(g.lines)
            for g in before
        )
    )


def _going(after: Findings, before: Findings) -> tuple[Finding, ...]:
    """Findings of which nothing is left on any of their lines."""
    return tuple(
        f
        for f in before
        if not any(g.code == f.code and (set(f.lines) & set(g.lines) or not f.lines) for g in after)
    )


def _reasons(new: Material, old: Material, shelf: set[str]) -> list[str]:
    shared = [f for f in new.functions if f in old.functions]
    found = [f"also {', '.join(shared)}"]
    if new.phase == old.phase and new.phase is not None:
        found.append(f"same phase ({new.phase})")
    if new.charge == old.charge and new.charge is not None:
        found.append(f"same charge ({new.charge})")
    if new.hlb is not None and old.hlb is not None and abs(new.hlb[1] - old.hlb[1]) <= 1:
        found.append(f"HLB {new.hlb[1]:g} beside {old.hlb[1]:g}")
    if new.feel is not None and new.feel == old.feel:
        found.append(f"same feel ({new.feel})")
    if new.key in shelf:
        found.append("on the shelf")
    return found


def _changes(new: Material, old: Material) -> list[str]:
    found = []
    for words, a, b in (
        ("phase", new.phase, old.phase),
        ("charge", new.charge, old.charge),
        ("feel", new.feel, old.feel),
        ("spreading", new.spreading, old.spreading),
    ):
        if a != b and a is not None and b is not None:
            found.append(f"{words} {a} in place of {b}")
    if new.hlb is not None and old.hlb is not None and abs(new.hlb[1] - old.hlb[1]) > 1:
        found.append(f"HLB {new.hlb[1]:g} in place of {old.hlb[1]:g}")
    if bool(new.volatile) != bool(old.volatile):
        found.append("evaporates" if new.volatile else "does not evaporate")
    if (new.strength or 1.0) != (old.strength or 1.0):
        found.append(
            f"strength {100 * (new.strength or 1):g} %, was {100 * (old.strength or 1):g} %"
        )
    lost = [f for f in old.functions if f not in new.functions]
    return found + ([f"no {', '.join(lost)}"] if lost else [])


def _same_active(formula: Formula, i: int, new: Material, old: Material) -> float | None:
    a, b = new.strength or 1.0, old.strength or 1.0
    return None if a == b else round(float(formula.lines[i].percent) * b / a, 4)


def _moved(before: Any, after: Any) -> tuple[str, ...]:
    """What moves in the forecast by more than can be seen."""
    found = []
    for name, words, least in (("ph", "pH", 0.1), ("hlb", "HLB", 0.3), ("cost", "cost", 0.05)):
        old, new = getattr(before, name, None), getattr(after, name, None)
        a, b = getattr(old, "value", None), getattr(new, "value", None)
        if a is not None and b is not None and abs(b - a) >= least:
            found.append(f"{words} {a:.2f} to {b:.2f} {getattr(new, 'unit', '')}".strip())
    return tuple(found)


def _unknown(formula: Formula, i: int) -> MaterialError:
    return MaterialError(
        where=f"{formula.name}, {formula.lines[i].where}",
        found="the material is not known",
        allowed="A material of the list: without its data nothing can be compared",
        cause="Its name is spelled otherwise, or it was never added",
        do="Choose it from the list or add it, then ask again",
    )
