from __future__ import annotations

import numpy as np
import pytest

from labkit.errors import ScienceError
from labkit.learning.control import (
    chart_constants,
    ewma,
    individuals,
    prediction_limits,
    xbar_r,
    xbar_s,
)
from labkit.learning.repeatability import (
    box_cox,
    class_spread,
    cv_percent,
    gauge_study,
    nested_variance,
)


def test_constants_agree_with_their_closed_forms() -> None:
    """Range of two and three normal values: d2 = 2/sqrt(pi), 3/sqrt(pi); d3(2)² = 2 - 4/pi."""
    assert chart_constants(2).d2 == pytest.approx(2 / np.sqrt(np.pi), abs=1e-10)
    assert chart_constants(3).d2 == pytest.approx(3 / np.sqrt(np.pi), abs=1e-10)
    assert chart_constants(2).d3 == pytest.approx(np.sqrt(2 - 4 / np.pi), abs=1e-9)
    assert chart_constants(2).c4 == pytest.approx(np.sqrt(2 / np.pi), abs=1e-12)


@pytest.mark.parametrize(
    ("n", "d2", "d3", "c4"), [(5, 2.326, 0.864, 0.9400), (10, 3.078, 0.797, 0.9727)]
)
def test_constants_agree_with_printed_tables(n: int, d2: float, d3: float, c4: float) -> None:
    """ASTM Manual on Presentation of Data, table of factors (three and four digits; memory)."""
    c = chart_constants(n)
    assert (round(c.d2, 3), round(c.d3, 3), round(c.c4, 4)) == (d2, d3, c4)


def test_few_batches_get_prediction_limits_and_say_what_they_can_see() -> None:
    rng = np.random.default_rng(3)
    few = individuals(rng.normal(4.3, 0.05, 8))
    many = individuals(rng.normal(4.3, 0.05, 25))
    assert few.few is not None
    assert "few batches (8)" in few.few.words
    assert few.few.upper > few.values.upper - 0.5
    assert few.shift_seen is not None
    assert few.shift_seen > 3
    assert many.few is None


def test_prediction_limits_keep_their_false_alarms_rare_from_few_batches() -> None:
    """Simulated: nominal 0.27 % of next batches outside; plug-in limits do far worse."""
    rng = np.random.default_rng(11)
    outside, plug_in = 0, 0
    for _ in range(4000):
        x = rng.normal(size=9)
        limits, chart = prediction_limits(x[:8]), individuals(x[:8])
        outside += int(limits.outside(x[8:])[0])
        plug_in += int(chart.values.outside(x[8:])[0])
    assert outside / 4000 < 0.008
    assert plug_in / 4000 > 0.015


def test_ewma_follows_by_hand() -> None:
    z, limits = ewma([1.0, 2.0], target=0.0, sigma=1.0, weight=0.5)
    assert z.tolist() == [0.5, 1.25]
    assert limits.upper == pytest.approx(3 * np.sqrt(1 / 3))


def test_charts_of_subgroups_find_a_shifted_one() -> None:
    rng = np.random.default_rng(4)
    groups = rng.normal(0, 1, (25, 4))
    groups[20] += 4
    for chart in (xbar_r(groups), xbar_s(groups)):
        assert chart.means.outside(groups.mean(axis=1))[20]
        assert chart.sigma == pytest.approx(1.0, abs=0.2)


def test_reading_and_batch_spread_are_told_apart() -> None:
    rng = np.random.default_rng(5)
    groups = [m + rng.normal(0, 0.03, rng.integers(2, 5)) for m in rng.normal(4.3, 0.08, 400)]
    found = nested_variance(groups)
    assert found.reading_sd == pytest.approx(0.03, rel=0.08)
    assert found.batch_sd == pytest.approx(0.08, rel=0.08)


def test_spread_of_a_class_is_told_apart_into_operators_batches_and_readings() -> None:
    rng = np.random.default_rng(10)
    groups = {
        f"group {g}": [
            o + b + rng.normal(0, 0.03, rng.integers(1, 4))
            for b in rng.normal(0, 0.05, rng.integers(1, 4))
        ]
        for g, o in enumerate(rng.normal(4.3, 0.1, 1500))
    }
    found = class_spread(groups)
    assert found.operator_sd == pytest.approx(0.10, rel=0.08)
    assert found.batch_sd == pytest.approx(0.05, rel=0.08)
    assert found.reading_sd == pytest.approx(0.03, rel=0.08)


def test_a_balanced_class_agrees_with_sums_by_hand() -> None:
    """Two operators, two batches, two readings: mean squares 18, 1 and 0.5 by hand."""
    found = class_spread({"a": [[0.0, 1.0], [1.0, 2.0]], "b": [[3.0, 4.0], [4.0, 5.0]]})
    assert found.reading_sd**2 == pytest.approx(0.5)
    assert found.batch_sd**2 == pytest.approx((1.0 - 0.5) / 2)
    assert found.operator_sd**2 == pytest.approx((18.0 - 1.0) / 4)


def test_coefficient_of_variation_is_that_of_a_log_normal() -> None:
    rng = np.random.default_rng(6)
    draws = 10 ** rng.normal(0, 0.08, 400_000)
    assert cv_percent(0.08) == pytest.approx(100 * draws.std() / draws.mean(), rel=0.01)
    assert np.asarray(cv_percent(np.array([0.02, 0.08]))).tolist() == [
        cv_percent(0.02),
        cv_percent(0.08),
    ]


def test_box_cox_keeps_the_log_of_log_normal_values() -> None:
    rng = np.random.default_rng(7)
    assert box_cox(10 ** rng.normal(4, 0.3, 60)).keep_log
    assert not box_cox(rng.normal(10, 1, 4000)).keep_log


def test_a_perfect_gauge_has_no_spread_of_its_own() -> None:
    parts = np.arange(5.0)
    study = gauge_study(np.broadcast_to(parts, (2, 3, 5)))
    assert study.grr == 0.0
    assert study.ss_part > 0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: chart_constants(1), "2 to 100"),
        (lambda: individuals([1.0]), "2 or more plain numbers"),
        (lambda: individuals([1.0, np.nan]), "plain numbers"),
        (lambda: xbar_r([[1.0, 2.0]]), "two or more subgroups"),
        (lambda: ewma([1.0], 0.0, 1.0, weight=0.0), "weight above 0"),
        (lambda: nested_variance([[1.0], [2.0]]), "Complete repeats"),
        (lambda: class_spread({"a": [[1.0, 2.0]]}), "1 operators, 1 batches"),
        (lambda: gauge_study([[1.0, 2.0]]), "Complete repeats"),
        (lambda: box_cox([1.0, -1.0, 2.0]), "some not above 0"),
    ],
)
def test_charts_that_mean_nothing_are_refused(call, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ScienceError, match=words):
        call()
