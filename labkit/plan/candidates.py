"""Compositions worth trying: a few changes around the best trial, within bounds, water fills."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labkit.learning.posterior import Array

Whole = NDArray[np.intp]
REACHES = (0.25, 0.6, 1.0)  # of the way to a bound
LEAST_FILL = 5.0  # % of filler that must remain, common practice


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """What may move, and how far.

    Attributes
    ----------
    vary : ndarray of int
        Positions of the materials that may change.
    low, high : ndarray, shape (n,)
        Bounds of every material [% w/w]; only those of ``vary`` are used.
    filler : int
        Position of the material that takes the rest.
    step : ndarray, shape (n,)
        Smallest change that is weighed [% w/w].
    """

    vary: Whole
    low: Array
    high: Array
    filler: int
    step: Array


def weighing_step(percent: Array) -> Array:
    """Step to which a share is rounded: 0.01 % below 1, 0.05 below 5, else 0.1 (common practice).

    Examples
    --------
    >>> weighing_step(np.array([0.3, 2.0, 20.0])).tolist()
    [0.01, 0.05, 0.1]
    """
    size = np.abs(np.asarray(percent, float))
    return np.where(size < 1, 0.01, np.where(size < 5, 0.05, 0.1))


def around(base: Array, room: Room, count: int, at_most: int, rng: np.random.Generator) -> Array:
    """``count`` compositions, each with one to ``at_most`` changes from ``base`` (n,).

    Rows that would leave too little filler are left out, so fewer may come back.
    """
    width = room.vary.size
    changes = rng.integers(1, min(at_most, width) + 1, count)
    rank = np.argsort(rng.random((count, width)), axis=1)
    chosen = np.argsort(rank, axis=1) < changes[:, None]
    reach = rng.choice(REACHES, size=(count, width))
    way = rng.uniform(-1, 1, (count, width)) * reach
    start = base[room.vary]
    span = np.where(way > 0, room.high[room.vary] - start, start - room.low[room.vary])
    value = np.where(chosen, start + way * np.maximum(span, 0.0), start)
    return _filled(base, room, value, chosen)


def refined(points: Array, base: Array, room: Room, count: int, rng: np.random.Generator) -> Array:
    """Small variations of ``points`` (k, n) that keep their unchanged materials unchanged."""
    source = points[rng.integers(0, len(points), count)][:, room.vary]
    moved = np.abs(source - base[room.vary]) > 1e-9
    span = (room.high - room.low)[room.vary]
    value = source + np.where(moved, rng.normal(0, 0.08, source.shape) * span, 0.0)
    return _filled(base, room, value, moved)


def _filled(base: Array, room: Room, value: Array, moved: NDArray[np.bool_]) -> Array:
    step = room.step[room.vary]
    rounded = np.round(np.round(value / step) * step, 4)
    inside = np.clip(rounded, room.low[room.vary], room.high[room.vary])
    out = np.tile(base, (len(value), 1))
    out[:, room.vary] = np.where(moved, inside, base[room.vary])
    rest = out.sum(axis=1) - out[:, room.filler]
    out[:, room.filler] = np.round(100.0 - rest, 4)
    return np.asarray(out[out[:, room.filler] >= min(LEAST_FILL, base[room.filler])])
