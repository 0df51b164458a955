"""What may be left out or replaced, and what then changes on paper."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite

from labkit.estimates import alternatives, check
from labkit.evaluate import Numbers, compile_formula
from labkit.formula import Brief, Formula
from labkit.materials import Materials

__all__ = ["swaps"]

_SHIFT = {"pH": 0.05, "required HLB": 0.1, "water": 0.5}
"""Smaller shifts than these are not told."""


def swaps(
    formula: Formula,
    mats: Materials,
    brief: Brief,
    replace: Mapping[str, str | None] | Sequence[str],
) -> tuple[str, ...]:
    """Each replacement in words, with what it changes on paper.

    Parameters
    ----------
    formula : Formula
    mats : Materials
    brief : Brief
    replace : mapping or sequence of str
        Line to the material in its place, or None to leave it out; lines alone ask for the
        material that is likest on paper.

    Returns
    -------
    tuple of str

    Raises
    ------
    MoveError
        A line that is not in the formula, or cannot be left out.

    Examples
    --------
    >>> cream = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nB,Squalane,5", name="x")
    >>> told = swaps(cream, Materials.starter(), Brief(product="x"), {"Squalane": None})
    >>> told[0].partition("share. ")[2]
    'On paper: no emollient is left; water 95 to 100 %.'
    """
    if not isinstance(replace, Mapping):
        return tuple(_likest(formula, mats, brief, line) for line in replace)
    before = compile_formula(formula, mats)()
    known = {f.code for f in check(formula, mats, brief)}
    told = []
    for old, new in replace.items():
        changed = formula.remove(old) if new is None else formula.swap(old, new)
        words = (
            f"{old} may be left out; the q.s. line takes its share"
            if new is None
            else f"{old} may be replaced by {new}, the same share"
        )
        if new is not None and mats.resolve(new) is None:
            told.append(f"{words}. {new} is not among the materials: nothing can be said of it.")
            continue
        effects = _lost(formula, changed, mats)
        effects += _effects(before, compile_formula(changed, mats)())
        effects += [
            f.what.rstrip(".").lower() if f.what[:2].islower() else f.what.rstrip(".")
            for f in check(changed, mats, brief)
            if f.severity != "fyi" and f.code not in known
        ]
        seen = "; ".join(effects) or "no number changes; a trial shows the feel"
        told.append(f"{words}. On paper: {seen}.")
    return tuple(told)


def _likest(formula: Formula, mats: Materials, brief: Brief, line: str) -> str:
    found = alternatives(formula, line, mats, brief, n=1)
    if not found:
        return f"{line}: nothing among the materials does its work."
    best = found[0]
    told = [f"{line} may be replaced by {best.material.name}: {'; '.join(best.reasons)}."]
    if best.changes:
        told.append(f"Different: {'; '.join(best.changes)}.")
    told += [f"Then {f.severity}: {f.what}" for f in best.new if f.severity != "fyi"]
    return " ".join(told)


def _lost(formula: Formula, changed: Formula, mats: Materials) -> list[str]:
    """What nothing in the formula does any more."""
    was, now = (_functions(one, mats) for one in (formula, changed))
    return [f"no {name} is left" for name in was if name not in now]


def _functions(formula: Formula, mats: Materials) -> list[str]:
    found = [mats.resolve(x.key or x.material) for x in formula.lines if x.percent]
    return list(dict.fromkeys(f for m in found if m is not None for f in m.functions))


def _effects(before: Numbers, after: Numbers) -> list[str]:
    pairs = (
        ("pH", float(before.ph), float(after.ph), "", ".1f"),
        ("required HLB", _middle(before), _middle(after), "", ".1f"),
        ("water", float(before.water), float(after.water), " %", ".4g"),
    )
    return [
        f"{name} {was:{form}} to {now:{form}}{unit}"
        for name, was, now, unit, form in pairs
        if isfinite(was) and isfinite(now) and abs(now - was) > _SHIFT[name]
    ]


def _middle(numbers: Numbers) -> float:
    return float(numbers.required_low + numbers.required_high) / 2
