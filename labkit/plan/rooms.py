"""What may move in the next trial, and how far."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from labkit.errors import BriefError
from labkit.learning.bench_table import column_of
from labkit.learning.learner import Learner
from labkit.learning.posterior import Array
from labkit.plan.candidates import LEAST_FILL, Room, weighing_step

FIXED_WORDS = ("water", "preservative", "preservative salt", "fragrance", "active")
LOWER, UPPER = 0.5, 2.0  # bounds as shares of the present amount, common practice
ROOM_FOR_ABSENT = 1.0  # % when a material named in vary is not in the formula yet


def room_of(
    learner: Learner,
    base: Array,
    vary: Sequence[str] | None,
    bounds: Mapping[str, tuple[float, float]] | None,
    mats: Any,
) -> Room:
    """What may move around ``base``, from names and bounds or by common practice."""
    names, words = list(learner.data.names), learner.data.words
    filler = max(
        (j for j, w in enumerate(words) if w == "water"), key=lambda j: base[j], default=-1
    )
    if filler < 0:
        filler = int(np.argmax(base))
    if vary is None:
        chosen = [
            j
            for j, w in enumerate(words)
            if j != filler and w not in FIXED_WORDS and (base[j] > 0 or w in ("acid", "base"))
        ]
    else:
        chosen = [_position(name, names, mats) for name in vary]
    if not chosen:
        raise _no_room()
    low, high = LOWER * base, UPPER * base
    high = np.where(base > 0, high, ROOM_FOR_ABSENT)
    acid = np.array([w in ("acid", "base") for w in words])
    low, high = np.where(acid, 0.0, low), np.where(acid, np.maximum(high, 0.4), high)
    for name, (lo, hi) in (bounds or {}).items():
        at = _position(name, names, mats)
        if not 0 <= lo <= hi <= 100:
            raise BriefError(
                where=f"Bounds of {name}",
                found=f"{lo:g} to {hi:g} %",
                allowed="0 to 100 %, the lower first",
                cause="The ends are swapped, or a share of 1 was meant",
                do="Give % w/w of the batch",
            )
        low[at], high[at] = lo, hi
    free = np.array([j for j in chosen if j != filler and high[j] > low[j]], dtype=np.intp)
    if not free.size:
        raise _no_room()
    return Room(
        vary=free, low=low, high=high, filler=filler, step=weighing_step(np.maximum(base, low))
    )


def _no_room() -> BriefError:
    return BriefError(
        where="Next trial",
        found="nothing that may change",
        allowed="At least one material with room between its bounds",
        cause="Every material is fixed, or its bounds leave no room",
        do=f"Name materials in vary, or widen bounds; {LEAST_FILL:g} % of water must remain",
    )


def _position(name: str, names: Sequence[str], mats: Any) -> int:
    for candidate in (name, column_of(name, mats)):
        if candidate in names:
            return names.index(candidate)
    same = [j for j, known in enumerate(names) if column_of(known, mats) == column_of(name, mats)]
    if same:
        return same[0]
    raise BriefError(
        where="Next trial",
        found=f"'{name}'",
        allowed=", ".join(names),
        cause="No trial contains that material, or it is spelt differently",
        do="Name a material of the trials; try a new one by hand first",
    )


def prices(names: Sequence[str], mats: Any) -> Array | None:
    """Price per kg of each material, None unless every one but water is known."""
    out = np.zeros(len(names))
    for j, name in enumerate(names):
        material = mats.resolve(name) if mats is not None else None
        price = getattr(material, "price", None)
        if price is None:
            if material is not None and (material.inci or "").lower() == "aqua":
                continue
            return None
        out[j] = price.per_kg
    return out
