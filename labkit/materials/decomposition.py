"""From lines of raw materials to the substances they are made of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from labkit.materials.model import Constituent, Material

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Decomposition", "decompose"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Decomposition:
    """Fractions of substances in the lines of a formula.

    Attributes
    ----------
    inci : tuple of str
        The substances, in the order in which they first appear.
    low, typical, high : ndarray, shape (n_lines, n_substances)
        Fraction of each line's material (0 to 1). Each row of ``typical`` sums to 1.
    roles : ndarray of object, shape (n_lines, n_substances)
        Role of the substance in that line's material, ``""`` where it is absent.
    within_low, within_high : ndarray, shape (n_lines, n_substances)
        What natural materials hold inside (such as methyl eugenol in rose oil): it
        counts for limits and is not added to the sum.
    """

    inci: tuple[str, ...]
    low: NDArray[np.float64]
    typical: NDArray[np.float64]
    high: NDArray[np.float64]
    roles: NDArray[np.object_]
    within_low: NDArray[np.float64]
    within_high: NDArray[np.float64]

    def percent(self, lines: Any) -> NDArray[np.float64]:
        """Typical percentage of each substance in the product.

        Parameters
        ----------
        lines : array-like, shape (..., n_lines)
            Percentages of the lines [% w/w of the batch].

        Returns
        -------
        ndarray, shape (..., n_substances)
            [% w/w of the batch]
        """
        return np.asarray(lines, dtype=float) @ self.typical

    def range(self, lines: Any) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Least and greatest percentage of each substance, as `percent`."""
        amounts = np.asarray(lines, dtype=float)
        return amounts @ self.low, amounts @ self.high

    def lines_of(self, inci: str) -> tuple[int, ...]:
        """Indices of the lines that bring in a substance, also from within."""
        if inci not in self.inci:
            return ()
        column = self.inci.index(inci)
        held = (self.high[:, column] > 0) | (self.within_high[:, column] > 0)
        return tuple(int(i) for i in np.flatnonzero(held))


def decompose(
    materials: Sequence[Material | None], names: Sequence[str] | None = None
) -> Decomposition:
    """What the materials of a formula are made of, as matrices.

    Parameters
    ----------
    materials : sequence of Material or None
        One per line; ``None`` for a material that is not known.
    names : sequence of str, optional
        Names of the lines, used for materials that are not known.

    Returns
    -------
    Decomposition
        Constant for a formula: percentages of substances are one matrix product.

    Notes
    -----
    A material without constituents is the substance its INCI names. Where the strength
    is below 100 % and the rest is not stated, the rest is kept as ``not stated``.

    Examples
    --------
    >>> from labkit.materials import Materials
    >>> mats = Materials.starter()
    >>> parts = decompose([mats.resolve("Sodium hydroxide 10 % solution")])
    >>> [(name, round(float(share), 3)) for name, share in zip(parts.inci, parts.percent([2.0]))]
    [('Sodium Hydroxide', 0.2), ('Aqua', 1.8)]
    """
    shown = names or [""] * len(materials)
    rows = [_shares(m, name) for m, name in zip(materials, shown, strict=True)]
    held = [_within(m) for m in materials]
    order = {part.inci: None for row in rows for part, *_ in row}
    order |= {part.inci: None for row in held for part in row}
    column = {inci: j for j, inci in enumerate(order)}
    shape = (len(rows), len(column))
    low, typical, high, within_low, within_high = (np.zeros(shape) for _ in range(5))
    roles = np.full(shape, "", dtype=object)
    for i, row in enumerate(rows):
        for part, least, usual, most in row:
            j = column[part.inci]
            low[i, j] += least
            typical[i, j] += usual
            high[i, j] = min(1.0, high[i, j] + most)
            roles[i, j] = roles[i, j] or part.role
        for part in held[i]:
            within_low[i, column[part.inci]] = part.low or 0.0
            within_high[i, column[part.inci]] = 1.0 if part.high is None else part.high
    return Decomposition(
        inci=tuple(column),
        low=low,
        typical=typical,
        high=high,
        roles=roles,
        within_low=within_low,
        within_high=within_high,
    )


_Shares = list[tuple[Constituent, float, float, float]]


def _shares(material: Material | None, name: str) -> _Shares:
    if material is None:
        return [(Constituent(inci=name), 1.0, 1.0, 1.0)]
    if material.listed:
        return list(zip(material.listed, *material.shares(), strict=True))
    strength = material.strength
    if strength is None or strength == 1.0:
        return [(Constituent(inci=material.inci), 1.0, 1.0, 1.0)]
    rest = 1.0 - strength
    return [
        (Constituent(inci=material.inci), strength, strength, strength),
        (Constituent(inci="not stated", order=2, role="carrier"), rest, rest, rest),
    ]


def _within(material: Material | None) -> list[Constituent]:
    if material is None:
        return []
    return [part for part in material.constituents if part.role == "within"]
