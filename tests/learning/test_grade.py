"""The learner on simulated benches: the future left out, honest thresholds.

A smaller set than the report (``python -m tests.learning.grade --series 200``): the margins on
coverage allow for its size (80 % of 240 predictions has a standard error of about 3 points).
"""

from __future__ import annotations

import pytest

from tests.learning.grade import Score, grade
from tests.learning.simulator import REPORT_SEEDS, TUNING_SEEDS, WORLDS

SERIES = 60


@pytest.fixture(scope="module", params=list(WORLDS))
def scores(request: pytest.FixtureRequest) -> dict[tuple[str, int], Score]:
    graded = grade(request.param, REPORT_SEEDS[:SERIES], counts=(3, 6, 12, 20))
    return {(s.quantity, s.trials): s for s in graded}


def test_tuning_and_report_use_other_benches() -> None:
    assert not set(TUNING_SEEDS) & set(REPORT_SEEDS)


def test_the_world_is_neither_too_easy_nor_hopeless(scores: dict[tuple[str, int], Score]) -> None:
    for n in (3, 6, 12, 20):
        assert 0.27 < scores["viscosity_mPas", n].last_rmse < 0.50


def test_the_bands_hold_what_they_promise(scores: dict[tuple[str, int], Score]) -> None:
    for n in (3, 6, 12, 20):
        score = scores["viscosity_mPas", n]
        assert 80 - 8 <= score.covered80 <= 80 + 10, score
        assert score.covered95 >= 95 - 5, score


def test_six_trials_beat_the_last_value(scores: dict[tuple[str, int], Score]) -> None:
    score = scores["viscosity_mPas", 6]
    assert score.rmse <= 0.30
    assert score.gain >= 0.20


def test_more_trials_teach_more(scores: dict[tuple[str, int], Score]) -> None:
    assert scores["viscosity_mPas", 20].width80 < scores["viscosity_mPas", 3].width80


def test_ph_is_near_after_six_trials(scores: dict[tuple[str, int], Score]) -> None:
    score = scores["pH", 6]
    allowed = {"plain": 0.07, "rough": 0.10, "hostile": 0.14}[score.world]
    assert score.median_error <= allowed
    assert score.median_error < score.last_median
