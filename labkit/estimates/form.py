"""What a formula is made as, where the brief does not say."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from labkit.estimates.contents import Contents
from labkit.formula.brief import Brief

__all__ = ["form_of"]

Array = NDArray[np.float64]

_PAIRED = frozenset({"emulsifier", "co-emulsifier"})
_LITTLE_WATER = 5.0
_CLEANSING = 5.0
_OIL = 3.0
_SALT_OR_SUGAR = 30.0


def form_of(contents: Contents, brief: Brief, percent: Array) -> str:
    """The form that the brief names, else the one the materials suggest.

    Parameters
    ----------
    contents : Contents
    brief : Brief
    percent : ndarray, shape (n_lines,)
        % w/w of the batch.

    Returns
    -------
    str
        One of the forms a brief can name.

    Notes
    -----
    Under 5 % water: anhydrous (a scrub with 30 % or more of an exfoliant). 5 % or more of
    anionic, amphoteric or glucoside surfactant and little oil: surfactant. 3 % oil or more
    beside an emulsifier: emulsion, w/o where the emulsifiers' mean HLB is below 7. Else gel
    with a thickener and lotion without (common practice).
    """
    if brief.form is not None:
        return brief.form
    water = float(percent @ contents.water)
    found = contents.materials

    def total(test: object) -> float:
        assert callable(test)
        flags = [m is not None and bool(test(m)) for m in found]
        return float(percent @ np.array(flags, dtype=float))

    if total(lambda m: "exfoliant" in m.functions) >= _SALT_OR_SUGAR:
        return "scrub"
    if water < _LITTLE_WATER:
        return "anhydrous"
    oil = total(lambda m: m.phase == "oil" and "emulsifier" not in m.functions)
    wash = contents.mask([frozenset({("class", "surfactant"), ("function", "surfactant")})])
    cleansing = float(percent @ (contents.share * wash).sum(axis=1))
    if cleansing >= _CLEANSING and oil < cleansing:
        return "surfactant"
    emulsifier = total(lambda m: "emulsifier" in m.functions)
    if oil >= _OIL and emulsifier > 0:
        return "w/o emulsion" if _mean_hlb(contents, percent) < 7.0 else "o/w emulsion"
    return "gel" if total(lambda m: "thickener" in m.functions and m.phase == "water") else "lotion"


def _mean_hlb(contents: Contents, percent: Array) -> float:
    pairs = [
        (float(p), m.hlb[1])
        for p, m in zip(percent, contents.materials, strict=True)
        if m is not None and m.hlb is not None and _PAIRED & set(m.functions)
    ]
    total = sum(p for p, _ in pairs)
    return sum(p * h for p, h in pairs) / total if total else 10.0
