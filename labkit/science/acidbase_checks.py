"""Amounts and pH values that no solution can have are refused here, in words."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from labkit.errors import ScienceError
from labkit.science.activity import Array

MOST_MOL_PER_KG = 20.0
PH_LIMITS = (-3.5, 20.0)


def check_amounts(names: Sequence[str], matrix: Array) -> None:
    """Refuse amounts that no solution can have, naming the component."""
    good = (matrix >= 0.0) & (matrix <= MOST_MOL_PER_KG)
    if good.all():
        return
    where = np.argwhere(~good)[0]
    value = float(matrix[tuple(where)])
    allowed = f"0 to {MOST_MOL_PER_KG:g} mol per kg water"
    name = names[int(where[-1])]
    if math.isnan(value):
        raise bad_amounts(f"{name}: no number (NaN)", allowed)
    cause = "A sign went wrong" if value < 0.0 else "Grams or percent in place of mol per kg water"
    raise ScienceError(
        where="Amounts",
        found=f"{name}: {value:g} mol/kg",
        allowed=f"An amount is {allowed}",
        cause=cause,
        do="Divide grams per kg of water by the molar mass",
        component=name,
        value=value,
    )


def bad_amounts(found: str, detail: str) -> ScienceError:
    """A refusal of amounts that are no table of numbers."""
    return ScienceError(
        where="Amounts",
        found=found,
        allowed=detail,
        cause="A cell is empty or the columns are in another order",
        do="Give one number per component, in mol per kg water",
    )


def check_ph(ph: ArrayLike) -> Array:
    """Refuse a pH that no solution has; give it back as an array."""
    level = np.asarray(ph, dtype=float)
    low, high = PH_LIMITS
    if not np.all((level >= low) & (level <= high)):
        bad = level[~((level >= low) & (level <= high))].flat[0]
        raise ScienceError(
            where="pH",
            found=f"pH {float(bad):g}",
            allowed="A pH lies between 0 and 14, in extreme solutions a little beyond",
            cause="A decimal point may be missing",
            do="Give the pH as read on the meter",
        )
    return level
