"""Mixture designs on shares that sum to 1: lattice, centroid, vertices, optimal choices."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, product

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labkit.errors import BriefError
from labkit.learning.posterior import Array
from labkit.learning.regression import scheffe_design

MOST_COMPONENTS = 12
SAME = 1e-9
EXCHANGES = 40
STARTS = 12


def simplex_lattice(components: int, degree: int) -> Array:
    """All blends whose shares are multiples of 1/degree.

    Returns
    -------
    ndarray, shape ((q+m-1)! / (m! (q-1)!), q)

    Notes
    -----
    Scheffé 1958; NIST/SEMATECH e-Handbook 5.5.4.2.

    Examples
    --------
    >>> simplex_lattice(3, 2).tolist()[:2]
    [[0.0, 0.0, 1.0], [0.0, 0.5, 0.5]]
    """
    _check_counts(components, degree)
    rows = [r for r in product(range(degree + 1), repeat=components - 1) if sum(r) <= degree]
    return np.array([[*r, degree - sum(r)] for r in rows]) / degree


def simplex_centroid(components: int) -> Array:
    """Pure components and every equal blend of some of them: 2^q - 1 points.

    Examples
    --------
    >>> len(simplex_centroid(4))
    15
    """
    _check_counts(components, 1)
    rows = []
    for size in range(1, components + 1):
        for part in combinations(range(components), size):
            row = np.zeros(components)
            row[list(part)] = 1.0 / size
            rows.append(row)
    return np.array(rows)


def extreme_vertices(lower: ArrayLike, upper: ArrayLike, total: float = 1.0) -> Array:
    """Corners of the region ``lower <= x <= upper`` with ``sum(x) = total``.

    Parameters
    ----------
    lower, upper : array-like, shape (q,)
        Bounds, in the unit of ``total``.
    total : float
        1 for shares, or the % w/w that the varied part takes.

    Returns
    -------
    ndarray, shape (vertices, q)
        Sorted.

    Raises
    ------
    BriefError
        Bounds that no blend can meet.

    Notes
    -----
    All but one component at a bound, the last fills (McLean & Anderson, Technometrics 8 (1966)
    447); cost q 2^(q-1).

    Examples
    --------
    >>> len(extreme_vertices([0, 0.1, 0.05], [0.8, 0.95, 0.5]))
    5
    """
    low, high = _bounds(lower, upper, total)
    q = low.size
    signs = np.array(list(product((0, 1), repeat=q - 1)), dtype=bool)
    found = []
    for free in range(q):
        others = [j for j in range(q) if j != free]
        points = np.empty((len(signs), q))
        points[:, others] = np.where(signs, high[others], low[others])
        points[:, free] = total - points[:, others].sum(axis=1)
        inside = (points[:, free] >= low[free] - SAME) & (points[:, free] <= high[free] + SAME)
        found.append(points[inside])
    every = np.round(np.concatenate(found), 9)
    return np.unique(every + 0.0, axis=0)


def region_candidates(lower: ArrayLike, upper: ArrayLike, total: float = 1.0) -> Array:
    """Vertices, middles between pairs of them, overall middle: candidates for optimal designs."""
    corners = extreme_vertices(lower, upper, total)
    pairs = [(a + b) / 2 for a, b in combinations(corners[:40], 2)]
    middle = corners.mean(axis=0)
    inner = (corners + middle) / 2
    every = np.concatenate([corners, np.array(pairs).reshape(-1, corners.shape[1]), inner])
    return np.unique(np.round(np.concatenate([every, middle[None]]), 9), axis=0)


def d_criterion(design: ArrayLike) -> float:
    """``|X'X/n|^(1/p)`` of a design matrix (n, p); larger is better."""
    x = np.asarray(design, float)
    sign, log_det = np.linalg.slogdet(x.T @ x / len(x))
    return float(np.exp(log_det / x.shape[1])) if sign > 0 else 0.0


def d_bound(candidates: ArrayLike, rounds: int = 2000) -> float:
    """``|M|^(1/p)`` of the best design with free weights: no exact design can be better.

    Notes
    -----
    Multiplicative algorithm, weights times leverage over p (Silvey, Optimal Design, 1980).

    Examples
    --------
    >>> round(d_bound(np.eye(2)), 6)
    0.5
    """
    x = np.asarray(candidates, float)
    n, p = x.shape
    weight = np.full(n, 1 / n)
    for _ in range(rounds):
        information = x.T @ (weight[:, None] * x)
        leverage = np.einsum("np,pq,nq->n", x, np.linalg.inv(information), x)
        weight = weight * leverage / p
        if leverage.max() < p * (1 + 1e-9):
            break
    return float(np.exp(np.linalg.slogdet(x.T @ (weight[:, None] * x))[1] / p))


def optimal_design(
    candidates: ArrayLike, runs: int, criterion: str = "D", seed: int = 1
) -> NDArray[np.intp]:
    """Rows of ``candidates`` (m, p) that make the best design of ``runs``, by exchange.

    Parameters
    ----------
    candidates : array-like, shape (m, p)
        Design rows (already expanded into model terms).
    runs : int
        At least p.
    criterion : {"D", "I"}
        D: smallest joint uncertainty of the coefficients. I: smallest average variance of
        prediction over the candidates.
    seed : int
        Starting designs are drawn with it.

    Returns
    -------
    ndarray of int, shape (runs,)
        Positions, sorted; a position may repeat.

    Notes
    -----
    Fedorov exchange from several random starts (Fedorov, Theory of Optimal Experiments, 1972).
    """
    x = np.asarray(candidates, float)
    if criterion not in ("D", "I"):
        raise _wrong(f"criterion '{criterion}'", "D or I")
    if runs < x.shape[1]:
        raise _wrong(
            f"{runs} runs for a model with {x.shape[1]} terms", f"{x.shape[1]} runs or more"
        )
    rng = np.random.default_rng(seed)
    moments = x.T @ x / len(x)
    best: tuple[float, NDArray[np.intp]] | None = None
    for _ in range(STARTS):
        chosen = rng.integers(0, len(x), runs)
        value, chosen = _exchange(x, chosen, criterion, moments)
        if best is None or value > best[0] + 1e-12:
            best = (value, chosen)
    assert best is not None
    return np.sort(best[1])


def _exchange(
    x: Array, chosen: NDArray[np.intp], criterion: str, moments: Array
) -> tuple[float, NDArray[np.intp]]:
    ridge = 1e-9 * np.eye(x.shape[1])
    for _ in range(EXCHANGES):
        changed = False
        for i in range(chosen.size):
            kept = np.delete(chosen, i)
            inverse = np.linalg.inv(x[kept].T @ x[kept] + ridge)
            spread = np.einsum("mp,pq,mq->m", x, inverse, x)
            if criterion == "D":
                gain = spread
            else:
                reach = x @ inverse
                gain = np.einsum("mp,pq,mq->m", reach, moments, reach) / (1 + spread)
            new = int(np.argmax(gain))
            if gain[new] > gain[chosen[i]] * (1 + 1e-9) + 1e-15:
                chosen = chosen.copy()
                chosen[i], changed = new, True
        if not changed:
            break
    information = x[chosen].T @ x[chosen] + ridge
    if criterion == "D":
        return float(np.linalg.slogdet(information)[1]), chosen
    return -float(np.trace(np.linalg.inv(information) @ moments)), chosen


def blocks_of(rows: Array, blocks: int, model: str = "linear") -> NDArray[np.intp]:
    """Block (0, 1, ...) of each run, so that every block spans the region: who makes which batch.

    Notes
    -----
    Runs are swapped between blocks while the means of the blocks come closer together, in the
    terms of ``model``; sizes differ by at most one.
    """
    if not 1 <= blocks <= len(rows):
        raise _wrong(f"{blocks} groups for {len(rows)} batches", "at least one batch a group")
    x = scheffe_design(rows / rows.sum(axis=1, keepdims=True), model)
    order = np.lexsort(x.T[::-1])
    block = np.empty(len(rows), dtype=np.intp)
    block[order] = np.arange(len(rows)) % blocks
    for _ in range(EXCHANGES):
        before = _imbalance(x, block, blocks)
        for i, j in combinations(range(len(rows)), 2):
            if block[i] == block[j]:
                continue
            block[i], block[j] = block[j], block[i]
            after = _imbalance(x, block, blocks)
            if after < before - 1e-12:
                before = after
            else:
                block[i], block[j] = block[j], block[i]
        if before == _imbalance(x, block, blocks):
            break
    return block


def _imbalance(x: Array, block: NDArray[np.intp], blocks: int) -> float:
    means = np.stack([x[block == b].mean(axis=0) for b in range(blocks)])
    return float(((means - means.mean(axis=0)) ** 2).sum())


def _check_counts(components: int, degree: int) -> None:
    if not (2 <= components <= MOST_COMPONENTS and degree >= 1):
        raise _wrong(
            f"{components} components at degree {degree}",
            f"2 to {MOST_COMPONENTS} components, degree 1 or more",
        )


def _bounds(lower: ArrayLike, upper: ArrayLike, total: float) -> tuple[Array, Array]:
    low, high = np.asarray(lower, float), np.asarray(upper, float)
    _check_counts(low.size, 1)
    if low.shape != high.shape or (low < 0).any() or (low > high).any():
        raise _wrong("a lower bound above its upper bound, or below 0", "0 <= lower <= upper")
    if low.sum() > total + SAME or high.sum() < total - SAME:
        raise _wrong(
            f"bounds from {low.sum():g} to {high.sum():g} in all", f"room for a total of {total:g}"
        )
    return low, high


def _wrong(found: str, allowed: str) -> BriefError:
    return BriefError(
        where="Mixture design",
        found=found,
        allowed=allowed,
        cause="Too few runs, or bounds that leave no blend",
        do="Widen a bound, vary fewer materials, or add runs",
    )


def names_of(vary: Sequence[str]) -> tuple[str, ...]:
    """Names, each once; refuses repeats."""
    if len(set(vary)) != len(vary):
        raise _wrong("a material named twice", "each varied material once")
    return tuple(vary)
