"""The whole reachable range of one line as rows of shares, for the range preview."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labkit.errors import MoveError
from labkit.formula import Formula
from labkit.formula.grid import units_of
from labkit.formula.moves import Give, givers_of, rank_of
from labkit.formula.rebalance import reach, share_out

__all__ = ["Along", "along", "rows_at"]

Units = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Along:
    """Positions of one line, shape (points,), and all lines there, shape (points, n).

    Both in grid units of 0.0001 % w/w; ``low`` and ``high`` are the reachable ends.
    """

    positions: Units
    rows: Units
    low: int
    high: int


def along(
    formula: Formula,
    line: int,
    give: Give,
    points: int = 49,
    window: tuple[int, int] | None = None,
) -> Along:
    """Every line's share while one line walks through its reachable range.

    Parameters
    ----------
    formula : Formula
        Where the walk begins.
    line : int
        The line that walks.
    give : str or tuple
        Which lines give way.
    points : int
        How many positions.
    window : (int, int), optional
        The part of the range, in grid units, that is on the slider; most positions
        lie there, so that curves are smooth where they are looked at.

    Returns
    -------
    Along
        A locked line, or one that no other can make room for, has one position.

    Examples
    --------
    >>> gel = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,4")
    >>> walk = along(gel, 1, "qs", points=3)
    >>> walk.positions.tolist(), walk.rows[:, 0].tolist()
    ([0, 40000, 500000, 1000000], [1000000, 960000, 500000, 0])
    """
    here = units_of(formula.lines[line].percent)
    givers = _givers(formula, line, give)
    if not givers:
        return Along(np.array([here]), np.array([_amounts(formula)[0]]), here, here)
    lowest, highest = reach(*_amounts(formula), line, givers)
    positions = _spread(lowest, highest, here, points, window)
    return Along(positions, rows_at(formula, line, give, positions), lowest, highest)


def rows_at(formula: Formula, line: int, give: Give, positions: Units) -> Units:
    """All lines where one of them stands at these positions, shape (points, n).

    Parameters
    ----------
    formula, line, give
        As in :func:`along`.
    positions : ndarray of int, shape (points,)
        Inside the reachable range [grid units].
    """
    units, low, high = _amounts(formula)
    givers = _givers(formula, line, give)
    rank = rank_of(formula.lines)
    picked = [[values[i] for i in givers] for values in (units, low, high, rank)]
    free = sum(picked[0]) + units[line]
    rows = np.tile(np.array(units, dtype=np.int64), (len(positions), 1))
    for k, position in enumerate(positions):
        rows[k, line] = position
        rows[k, list(givers)] = share_out(
            picked[0], picked[1], picked[2], free - int(position), picked[3]
        )
    return rows


def _amounts(formula: Formula) -> tuple[list[int], list[int], list[int]]:
    lines = formula.lines
    return (
        [units_of(x.percent) for x in lines],
        [units_of(x.bounds[0]) for x in lines],
        [units_of(x.bounds[1]) for x in lines],
    )


def _givers(formula: Formula, line: int, give: Give) -> tuple[int, ...]:
    if formula.lines[line].locked:
        return ()
    try:
        return givers_of(formula.lines, line, give, formula.qs)
    except MoveError:
        return ()


def _spread(low: int, high: int, here: int, points: int, window: tuple[int, int] | None) -> Units:
    """Three quarters of the positions inside the window, the ends and the present one."""
    first, last = (low, high) if window is None else window
    first, last = max(low, min(first, high)), min(high, max(last, low))
    inside = points if (first, last) == (low, high) else max(2, 3 * points // 4)
    parts = [np.linspace(first, last, inside)]
    if inside < points:
        parts.append(np.linspace(low, high, points - inside))
    walked: Units = np.unique(np.rint(np.concatenate([*parts, [here]])).astype(np.int64))
    return walked
