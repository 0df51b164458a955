"""Bounds of blends are the tightest that figures, order and sum allow."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from labkit.materials.fractions import bounds, typical


@pytest.mark.parametrize("n", range(1, 9))
def test_the_kth_of_n_parts_in_falling_order_is_at_most_one_in_k(n: int) -> None:
    limits = bounds([None] * n, [None] * n)
    assert limits is not None
    assert limits[1] == pytest.approx([1 / k for k in range(1, n + 1)])
    assert limits[0] == pytest.approx([1 / n, *[0.0] * (n - 1)] if n > 1 else [1.0])


def test_figures_that_contradict_falling_order_leave_only_the_sum() -> None:
    limits = bounds([0.0105, None, None], [0.012, None, None])
    assert limits is not None
    assert limits[1][1:] == pytest.approx([0.9895, 0.9895])


@pytest.mark.parametrize(
    ("low", "high"),
    [([0.6, 0.6], [0.7, 0.7]), ([0.1, 0.1], [0.3, 0.3]), ([0.9, None], [1.2, None])],
)
def test_figures_that_cannot_make_a_whole_give_no_bounds(
    low: list[float | None], high: list[float | None]
) -> None:
    limits = bounds(low, high)
    assert limits is None or max(limits[0]) <= 1.0


@st.composite
def blends(draw: st.DrawFn) -> tuple[list[float | None], list[float | None]]:
    """A real mixture in falling order, with some of its shares told as ranges."""
    parts = draw(st.lists(st.floats(0.01, 1.0), min_size=2, max_size=6))
    shares = sorted((p / sum(parts) for p in parts), reverse=True)
    low: list[float | None] = []
    high: list[float | None] = []
    for share in shares:
        if draw(st.booleans()):
            low.append(max(0.0, share - draw(st.floats(0, 0.2))))
            high.append(min(1.0, share + draw(st.floats(0, 0.2))))
        else:
            low.append(None)
            high.append(None)
    return low, high


@settings(deadline=None)
@given(blends())
def test_bounds_are_those_of_linear_programming(
    blend: tuple[list[float | None], list[float | None]],
) -> None:
    """scipy's linear programming gives the same least and greatest shares."""
    low, high = blend
    limits = bounds(low, high)
    assert limits is not None
    n = len(low)
    box = [(a or 0.0, 1.0 if b is None else b) for a, b in zip(low, high, strict=True)]
    order = np.zeros((n - 1, n)) if None in low else np.zeros((0, n))
    for k in range(len(order)):
        order[k, k], order[k, k + 1] = -1.0, 1.0
    for j in range(n):
        for sign, ours in ((1.0, limits[0][j]), (-1.0, limits[1][j])):
            goal = np.zeros(n)
            goal[j] = sign
            best = linprog(goal, order, np.zeros(len(order)), np.ones((1, n)), [1.0], bounds=box)
            assert best.fun is not None
            assert ours == pytest.approx(sign * best.fun, abs=1e-7)


@given(blends())
def test_the_typical_blend_is_whole_and_within_its_bounds(
    blend: tuple[list[float | None], list[float | None]],
) -> None:
    limits = bounds(*blend)
    assert limits is not None
    usual = typical(*limits)
    assert sum(usual) == pytest.approx(1.0, abs=1e-9)
    assert all(
        a - 1e-9 <= x <= b + 1e-9 for a, x, b in zip(limits[0], usual, limits[1], strict=True)
    )


def test_two_parts_of_known_order_are_typically_three_to_one() -> None:
    """The mean of a stick broken once: 3/4 and 1/4 (MacArthur 1957, broken-stick model)."""
    limits = bounds([None, None], [None, None])
    assert limits is not None
    assert typical(*limits) == [0.75, 0.25]
