"""How the other lines give way when one line moves.

All arithmetic is on whole grid units (0.0001 % each), so that the total stays
exactly 100 and a second program, in another language, gets the same digits.
"""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["reach", "share_out"]


def reach(
    units: Sequence[int],
    low: Sequence[int],
    high: Sequence[int],
    line: int,
    givers: Sequence[int],
) -> tuple[int, int]:
    """The lowest and highest amount that one line can take while ``givers`` make room.

    Parameters
    ----------
    units, low, high : sequence of int, length n
        Present amounts and bounds of all lines, in grid units.
    line : int
        The line that moves.
    givers : sequence of int
        Which lines give way.

    Returns
    -------
    (int, int)
        In grid units.

    Examples
    --------
    >>> reach([700_000, 300_000], [600_000, 0], [1_000_000, 1_000_000], 1, [0])
    (0, 400000)
    """
    room_down = sum(units[i] - low[i] for i in givers)
    room_up = sum(high[i] - units[i] for i in givers)
    lowest = max(low[line], units[line] - room_up)
    highest = min(high[line], units[line] + room_down)
    return lowest, highest


def share_out(
    weights: Sequence[int],
    low: Sequence[int],
    high: Sequence[int],
    total: int,
    rank: Sequence[int],
) -> list[int]:
    """Share a total out in proportion to ``weights``, inside bounds.

    Water-filling: the lines share in proportion; whichever side of the bounds is
    overrun by more is pinned to its bound, and the rest is shared again until no
    line overruns. Units left by rounding go to the largest remainders, ties by
    ``rank``. Lines of zero weight take part only when no other line can.

    Parameters
    ----------
    weights, low, high : sequence of int, length n
        Present amounts and bounds in grid units, ``low <= high``.
    total : int
        Between ``sum(low)`` and ``sum(high)``.
    rank : sequence of int, length n
        Order among equal remainders.

    Returns
    -------
    list of int, length n
        Adds up to ``total``.

    Raises
    ------
    ValueError
        The total cannot be reached within the bounds.

    Examples
    --------
    >>> share_out([60, 30, 10], [0, 0, 10], [100, 100, 100], 50, [0, 1, 2])
    [27, 13, 10]
    """
    if not sum(low) <= total <= sum(high):
        raise ValueError("the total lies outside what the bounds allow")
    result = [0] * len(weights)
    free = list(range(len(weights)))
    left = total
    while free:
        share = {i: weights[i] for i in free}
        whole = sum(share.values())
        if whole == 0:
            share, whole = dict.fromkeys(free, 1), len(free)
        over = [i for i in free if share[i] * left > high[i] * whole]
        under = [i for i in free if share[i] * left < low[i] * whole]
        excess = sum(share[i] * left - high[i] * whole for i in over)
        lack = sum(low[i] * whole - share[i] * left for i in under)
        if not over and not under:
            _round(result, free, share, left, whole, rank)
            return result
        pinned = under if lack > excess else over
        for i in pinned if lack != excess else over + under:
            result[i] = low[i] if i in under else high[i]
            left -= result[i]
            free.remove(i)
    return result


def _round(
    result: list[int],
    free: list[int],
    share: dict[int, int],
    left: int,
    whole: int,
    rank: Sequence[int],
) -> None:
    remainder = {}
    for i in free:
        result[i], remainder[i] = divmod(share[i] * left, whole)
    missing = left - sum(result[i] for i in free)
    for i in sorted(free, key=lambda i: (-remainder[i], rank[i]))[:missing]:
        result[i] += 1
