from __future__ import annotations

import numpy as np
import pytest

from labkit.bench.scales import THICKNESS
from labkit.errors import MeasurementError
from labkit.learning.features import FeatureMap
from labkit.learning.ordinal import EDGES, WORDS, fit_ordinal, word_number
from labkit.learning.passfail import fit_passfail
from tests.learning.palette import FUNCTIONS
from tests.learning.simulator import series


def test_the_five_words_are_those_the_bench_records() -> None:
    assert WORDS == THICKNESS


def test_words_are_learned_from_words_alone() -> None:
    """Simulated viscosities told as words: better than always saying the commonest word."""
    right, base, brier = [], [], []
    for seed in range(630, 660):
        frame = series(seed, "plain", 16)
        names = [n for n in FUNCTIONS if n in frame]
        percent = frame[names].to_numpy(float)
        at = np.searchsorted(EDGES, np.log10(frame["viscosity_mPas"].to_numpy()))
        form = FeatureMap.build(names, [FUNCTIONS[n] for n in names], percent[0], 5.5)
        rows = form.rows(percent, np.zeros((16, 3)), frame["pH"].to_numpy())
        model = fit_ordinal(rows[:10], [WORDS[k] for k in at[:10]], form.prior())
        chance = model.predict(rows[10:])
        assert chance.sum(axis=1) == pytest.approx(1.0)
        right += (chance.argmax(axis=1) == at[10:]).tolist()
        base += (np.bincount(at[:10]).argmax() == at[10:]).tolist()
        brier.append(((chance - np.eye(5)[at[10:]]) ** 2).sum(axis=1).mean())
    assert np.mean(right) > np.mean(base) + 0.05
    assert np.mean(brier) < 0.5


def test_each_row_is_predicted_alike_alone_and_together() -> None:
    rng = np.random.default_rng(1)
    rows = rng.normal(size=(9, 3))
    from labkit.learning.posterior import Prior

    prior = Prior(mean=np.zeros(3), covariance=0.1 * np.eye(3))
    model = fit_ordinal(rows, [WORDS[int(k)] for k in rng.integers(0, 5, 9)], prior)
    together = model.predict(rows)
    assert together == pytest.approx(np.concatenate([model.predict(r[None]) for r in rows]))


def test_an_unknown_word_is_refused() -> None:
    with pytest.raises(MeasurementError, match="runs, pours, drops, mounds, peaks"):
        word_number("gloopy")


def test_a_split_that_follows_from_two_charges_is_learned_with_honest_chances() -> None:
    rng = np.random.default_rng(9)
    percent = np.where(rng.random((240, 4)) < 0.5, rng.uniform(1, 6, (240, 4)), 0.0)
    split = percent[:, 0] * percent[:, 1] > 4
    flipped = rng.random(240) < 0.08
    split = split ^ flipped
    charges = ["anionic surfactant", "cationic surfactant", None, None]
    model = fit_passfail(percent[:120], split[:120].tolist(), charges)
    chance = model.predict(percent[120:])
    base = max(split[120:].mean(), 1 - split[120:].mean())
    assert np.mean((chance >= 0.5) == split[120:]) > base + 0.08
    sure = (chance > 0.85) | (chance < 0.15)
    assert sure.sum() > 30
    assert np.mean((chance[sure] >= 0.5) == split[120:][sure]) > 0.85
    assert model.predict(percent[120:121])[0] == pytest.approx(chance[0])


def test_before_much_is_known_the_chance_stays_near_the_middle() -> None:
    model = fit_passfail(np.array([[5.0, 0.0]]), [True])
    assert 0.5 < model.predict(np.array([[5.0, 0.0]]))[0] < 0.95
    assert 0.25 < model.predict(np.array([[0.0, 5.0]]))[0] < 0.85


def test_outcomes_without_trials_are_refused() -> None:
    with pytest.raises(MeasurementError, match="One outcome a trial"):
        fit_passfail(np.zeros((3, 2)), [True])
