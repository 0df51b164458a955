from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from labkit.bench.scales import THICKNESS
from labkit.errors import MeasurementError
from labkit.formula.model import Formula
from labkit.learning.features import FeatureMap
from labkit.learning.ordinal import EDGES, WORDS, fit_ordinal, word_number
from labkit.learning.outcomes import fit_outcome, fit_words
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


def test_words_of_a_table_are_learned_and_told_for_formulas() -> None:
    frame = series(660, "plain", 14)
    frame["thickness"] = [
        WORDS[k] for k in np.searchsorted(EDGES, np.log10(frame["viscosity_mPas"]))
    ]
    frame.loc[frame.index[3], "thickness"] = None
    words = {n: w for n, w in FUNCTIONS.items() if n in frame}
    found = fit_words(frame.iloc[:10], functions=words).predict(frame.iloc[10:])
    assert list(found.columns) == list(WORDS)
    assert found.sum(axis=1).to_numpy() == pytest.approx(1.0)
    told = frame["thickness"].iloc[10:]
    chance = [found.loc[i, w] for i, w in told.items()]
    assert np.mean(chance) > 0.35


def test_a_split_in_a_table_is_learned_from_charge() -> None:
    rng = np.random.default_rng(2)
    rows = []
    for _ in range(60):
        anionic, cationic = rng.choice([0.0, 3.0, 6.0]), rng.choice([0.0, 1.0, 2.0])
        split = "split" if anionic > 0 and cationic > 0 else "one phase"
        rows.append(
            {
                "Aqua": 100 - anionic - cationic,
                "Sodium Cocoyl Glutamate": anionic,
                "Cetrimonium Chloride": cationic,
                "outcome": split,
            }
        )
    frame = pd.DataFrame(rows)
    learner = fit_outcome(frame.iloc[:40], "outcome")
    chance = learner.predict(frame.iloc[40:])
    assert np.mean((chance > 0.5) == (frame["outcome"].iloc[40:] == "split")) >= 0.9
    gel = Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Cetrimonium Chloride,1")
    assert learner.predict(gel).iloc[0] < 0.5


def test_columns_without_outcomes_and_other_words_are_refused() -> None:
    frame = pd.DataFrame({"Aqua": [95.0], "Glycerin": [5.0], "outcome": ["perhaps"]})
    with pytest.raises(MeasurementError, match="nothing in the column 'split'"):
        fit_outcome(frame, "split")
    with pytest.raises(MeasurementError, match="'perhaps'. yes or no"):
        fit_outcome(frame, "outcome")
    with pytest.raises(MeasurementError, match="runs, pours"):
        fit_words(frame, "outcome")
