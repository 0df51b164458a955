"""What is known of the shares in a blend: exact, a range, or only their order."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["bounds", "typical"]

_TINY = 1e-9


def bounds(
    low: Sequence[float | None], high: Sequence[float | None]
) -> tuple[list[float], list[float]] | None:
    """The least and greatest share each part of a blend can have.

    Parameters
    ----------
    low, high : sequence of float or None
        Stated fractions (0 to 1), in the order in which the parts are listed;
        ``None`` where the supplier states no figure.

    Returns
    -------
    (list of float, list of float) or None
        Bounds that every mixture summing to 1 must keep; ``None`` when no mixture
        can meet the stated figures.

    Notes
    -----
    Parts without figures are taken in falling order, as ingredient lists are
    (Regulation (EC) No 1223/2009, Article 19): then the k-th part is at most 1/k.
    Where the stated figures contradict falling order, the order tells nothing and
    only the sum limits the parts.

    Examples
    --------
    >>> bounds([None, None, None], [None, None, None])
    ([0.3333333333333333, 0.0, 0.0], [1.0, 0.5, 0.3333333333333333])
    >>> bounds([0.9, None], [0.95, None])
    ([0.9, 0.050000000000000044], [0.95, 0.09999999999999998])
    """
    least = [0.0 if value is None else value for value in low]
    most = [1.0 if value is None else value for value in high]
    if sum(least) > 1 + _TINY or sum(most) < 1 - _TINY:
        return None
    if None in low:
        falling = _falling(least, most)
        if falling is not None:
            return falling
    return _box(least, most)


def typical(low: Sequence[float], high: Sequence[float]) -> list[float]:
    """A mixture between its bounds, every part the same way up from its least share.

    Parameters
    ----------
    low, high : sequence of float
        From `bounds`.

    Returns
    -------
    list of float
        Fractions that sum to 1 exactly to rounding.

    Examples
    --------
    >>> typical([0.5, 0.0], [1.0, 0.5])
    [0.75, 0.25]
    """
    room = sum(high) - sum(low)
    step = 0.0 if room < _TINY else (1.0 - sum(low)) / room
    return [a + step * (b - a) for a, b in zip(low, high, strict=True)]


def _box(least: list[float], most: list[float]) -> tuple[list[float], list[float]]:
    total_least, total_most = sum(least), sum(most)
    low = [max(a, 1 - (total_most - b)) for a, b in zip(least, most, strict=True)]
    high = [min(b, 1 - (total_least - a)) for a, b in zip(least, most, strict=True)]
    return low, high


def _falling(least: list[float], most: list[float]) -> tuple[list[float], list[float]] | None:
    """Bounds under falling order, or None when the figures contradict it."""
    low, high = list(least), list(most)
    for k in range(1, len(high)):
        high[k] = min(high[k], high[k - 1])
    for k in range(len(low) - 2, -1, -1):
        low[k] = max(low[k], low[k + 1])
    crossed = any(a > b + _TINY for a, b in zip(low, high, strict=True))
    if crossed or sum(low) > 1 + _TINY or sum(high) < 1 - _TINY:
        return None
    greatest = [min(high[k], _level(low[: k + 1], 1 - sum(low[k + 1 :]))) for k in range(len(low))]
    smallest = [max(low[k], _floor(high[k:], 1 - sum(high[:k]))) for k in range(len(low))]
    return smallest, greatest


def _level(floors: list[float], budget: float) -> float:
    """Largest t with sum(max(floor, t)) <= budget; floors fall."""
    kept = 0.0
    for j, floor in enumerate(floors):
        t = (budget - kept) / (len(floors) - j)
        if t >= floor:
            return t
        kept += floor
    return floors[-1]


def _floor(caps: list[float], need: float) -> float:
    """Smallest t with sum(min(cap, t)) >= need; caps fall."""
    if need <= 0:
        return 0.0
    rest = need
    for j in range(len(caps) - 1, -1, -1):
        t = rest / (j + 1)
        if t <= caps[j]:
            return t
        rest -= caps[j]
    return caps[0]
