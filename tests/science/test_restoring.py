"""Restoring, bringing up, diluting: mass balances that come back to where they began."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import ScienceError
from labkit.science import batch
from labkit.science.restoring import from_weighed, to_bring_up, to_dilute, to_restore

SHARES = st.lists(st.floats(0.1, 10.0), min_size=1, max_size=6)


def test_the_preservative_after_four_grams_of_water_asks_for_0_036_grams() -> None:
    # trade practice, worked by hand: 96 g at 0.90 % hold 0.864 g; 0.864 = 0.9 % of 96
    assert to_restore(100.0, [0.864], [0.9])[0] == pytest.approx(0.0363, abs=5e-5)
    alone = batch.to_reach(100.0, 0.864, 0.9)
    assert to_restore(100.0, [0.864], [0.9])[0] == pytest.approx(alone)


@given(SHARES, st.floats(10.0, 500.0), st.floats(0.5, 50.0))
def test_after_restoring_every_level_is_the_one_wanted(
    shares: list[float], mass: float, water: float
) -> None:
    wanted = np.array(shares)
    now = wanted * mass / (mass + water)
    x = to_restore(mass + water, now, wanted)
    after = (now / 100.0 * (mass + water) + x) / (mass + water + x.sum()) * 100.0
    np.testing.assert_allclose(after, wanted, rtol=1e-9)


def test_a_stock_brings_its_water_along() -> None:
    x = to_restore(100.0, [0.4], [0.5], [20.0])
    after = (0.4 + 0.2 * x[0]) / (100.0 + x[0]) * 100.0
    assert after == pytest.approx(0.5)


@given(SHARES, st.integers(0, 5), st.floats(1.01, 1.5))
def test_bringing_up_gives_the_planned_recipe(shares: list[float], at: int, over: float) -> None:
    planned = np.array([*shares, 50.0])
    weighed = planned.copy()
    weighed[at % len(planned)] *= over
    whole = weighed + to_bring_up(planned, weighed)
    np.testing.assert_allclose(whole / whole.sum(), planned / planned.sum(), rtol=1e-9)


def test_diluting_undoes_a_dilution() -> None:
    assert to_dilute(100.0, 1.0, 0.8) == pytest.approx(25.0)


def test_steam_is_taken_from_the_water_line() -> None:
    share = from_weighed([80.0, 20.0], 95.0, 0)
    np.testing.assert_allclose(share, [100 * 75 / 95, 100 * 20 / 95])


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: to_restore(100.0, [0.9], [0.5]), "below the present one"),
        (lambda: to_restore(100.0, [1.0, 1.0], [4.0, 4.0], 8.0), "too weak"),
        (lambda: to_bring_up([10.0, 0.0], [10.0, 1.0]), "the plan does not have"),
        (lambda: to_dilute(100.0, 0.5, 0.9), "above the present one"),
        (lambda: from_weighed([0.0, 0.0]), "nothing weighed"),
        (lambda: from_weighed([1.0, 99.0], 90.0, 0), "water cannot explain"),
        (lambda: from_weighed([1.0, 99.0], 101.0, 0), "water cannot explain"),
        (lambda: to_bring_up([1.0], [np.nan]), "Weighed"),
    ],
)
def test_what_cannot_be_is_refused(call: object, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        call()  # type: ignore[operator]


def test_arrays_give_what_their_rows_give() -> None:
    m = np.array([80.0, 100.0, 250.0])
    now, wanted = np.array([[0.5, 0.1], [0.6, 0.2], [0.1, 0.0]]), np.array([0.9, 0.3])
    np.testing.assert_allclose(
        to_restore(m, now, wanted),
        [to_restore(a, b, wanted) for a, b in zip(m, now, strict=True)],
    )
    weighed = np.array([[80.0, 18.0, 5.0], [81.0, 15.0, 5.0]])
    planned = [80.0, 15.0, 5.0]
    np.testing.assert_allclose(
        to_bring_up(planned, weighed), [to_bring_up(planned, row) for row in weighed]
    )
    np.testing.assert_allclose(
        from_weighed(weighed, [100.0, 99.0], 0),
        [from_weighed(row, f, 0) for row, f in zip(weighed, [100.0, 99.0], strict=True)],
    )
    np.testing.assert_allclose(
        np.asarray(to_dilute(m, 0.9, [0.5, 0.6, 0.7])),
        np.asarray([to_dilute(a, 0.9, t) for a, t in zip(m, [0.5, 0.6, 0.7], strict=True)]),
    )
