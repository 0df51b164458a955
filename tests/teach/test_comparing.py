"""The class's line, distances and spreads against figures worked elsewhere."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.teach.comparing import class_line, distances, spread_of


def test_without_a_blank_the_line_is_the_median() -> None:
    assert class_line(np.zeros((5, 0)), [5.1, 5.2, 5.3, 5.4, 9.0]).tolist() == [5.3] * 5
    assert class_line([[1.0]] * 5, [5.1, 5.2, 5.3, 5.4, 9.0]).tolist() == [5.3] * 5


def test_a_third_of_wild_readings_does_not_move_the_line() -> None:
    x = np.linspace(0.3, 0.8, 21)
    y = 2.0 + 3.0 * x
    y[::3] += 3.0
    assert class_line(x[:, None], y) == pytest.approx(2.0 + 3.0 * x, abs=1e-4)


def test_least_absolute_deviations_agree_with_quantile_regression() -> None:
    """The line of a peer: statsmodels QuantReg at the median."""
    regression = pytest.importorskip("statsmodels.regression.quantile_regression")
    rng = np.random.default_rng(4)
    x = rng.uniform(0, 1, (41, 2))
    y = 1.0 + x @ [2.0, -1.0] + rng.standard_t(2, 41)
    peer = regression.QuantReg(y, np.column_stack([np.ones(41), x])).fit(q=0.5, max_iter=5000)
    assert class_line(x, y) == pytest.approx(peer.fittedvalues, abs=5e-3)


@given(st.permutations(range(12)))
def test_the_order_of_the_readings_does_not_matter(order: list[int]) -> None:
    x = np.array([0.3, 0.4, 0.5, 0.6] * 3)[:, None]
    y = np.arange(12.0) ** 1.5
    assert class_line(x[order], y[order]) == pytest.approx(class_line(x, y)[order], abs=1e-4)


def test_few_readings_are_not_judged() -> None:
    assert distances([0.0, 0.0, 0.0, 9.0]).tolist() == [0.0] * 4


def test_the_spread_is_no_smaller_than_the_instruments() -> None:
    assert distances([0.0, 0.001, -0.001, 0.0, 0.1], 0.05)[-1] == pytest.approx(2.0)


def test_the_spread_of_a_worked_example() -> None:
    """One-way analysis by hand: desk means 1, 2, 3, pairs ± 0.1.

    Within mean square 0.02; between mean square 2; (2 - 0.02) / 2 = 0.99.
    """
    means = {"a": 1.0, "b": 2.0, "c": 3.0}
    desks = {name: [np.array([m - 0.1, m + 0.1])] for name, m in means.items()}
    spread = spread_of("pH", "", desks, {name: [False] for name in desks})
    assert spread.between == pytest.approx(0.99**0.5)
    assert spread.repeat == pytest.approx(0.02**0.5)
    assert spread.batch is None
    assert spread.ratio == pytest.approx((0.99 / 0.02) ** 0.5)


def test_flagged_trials_count_and_are_told_apart() -> None:
    means = {"a": 1.0, "b": 1.1, "c": 0.9, "d": 9.0}
    desks = {name: [np.array([m - 0.1, m + 0.1])] for name, m in means.items()}
    flagged = {name: [name == "d"] for name in desks}
    spread = spread_of("pH", "", desks, flagged)
    assert spread.between > 3
    assert spread.between_without < 0.1
    assert "without the 1 flagged" in str(spread)


def test_several_batches_of_a_desk_have_a_spread_of_their_own() -> None:
    rng = np.random.default_rng(7)
    desks = {
        str(i): [rng.normal(a + b, 0.02, 3) for b in rng.normal(0, 0.2, 6)]
        for i, a in enumerate(rng.normal(0, 1.0, 40))
    }
    spread = spread_of("pH", "", desks, {name: [False] * 6 for name in desks})
    assert spread.repeat == pytest.approx(0.02, rel=0.1)
    assert spread.batch == pytest.approx(0.2, rel=0.2)
    assert spread.between == pytest.approx(1.0, rel=0.35)
