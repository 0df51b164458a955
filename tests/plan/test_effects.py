from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.errors import MeasurementError
from labkit.learning.learner import fit
from labkit.plan.effects import effects, path_shares
from tests.learning.palette import FUNCTIONS, NAMES
from tests.learning.simulator import Bench, series

ACTING = ("acid", "base", "polyacid", "buffer salt", "preservative salt")


def learned(seed: int, n: int):  # type: ignore[no-untyped-def]
    frame = series(seed, "plain", n)
    return fit(frame, functions={k: v for k, v in FUNCTIONS.items() if k in frame}), frame


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.floats(0, 5), min_size=3, max_size=3),
    st.lists(st.floats(0, 5), min_size=3, max_size=3),
)
def test_shares_add_up_to_the_change_whatever_the_function(a: list[float], b: list[float]) -> None:
    def f(x: np.ndarray) -> np.ndarray:
        return np.stack([np.log10(x.sum(axis=1) + 0.1), x[:, 0] * x[:, 1]], axis=1)

    start, end = np.array(a), np.array(b)
    share = path_shares(f, start, end)
    assert share.sum(axis=0) == pytest.approx((f(end[None]) - f(start[None]))[0], abs=1e-8)
    assert (share[start == end] == 0).all()


def test_a_product_is_shared_as_shapley_would() -> None:
    """x*y from (1, 1) to (2, 3): by hand 0.5 (3-1) + 0.5 (6-3) = ... = 2 for x, 3 for y."""
    share = path_shares(lambda v: v[:, :1] * v[:, 1:], np.array([1.0, 1.0]), np.array([2.0, 3.0]))
    assert share[:, 0] == pytest.approx([2.0, 3.0], abs=1e-6)


def test_contributions_and_the_remainder_make_the_measured_change() -> None:
    learner, _ = learned(610, 12)
    for step in effects(learner):
        assert step.measured is not None
        assert step.not_explained is not None
        total = sum(c.effect for c in step.contributions) + step.not_explained
        assert total == pytest.approx(step.measured, abs=1e-6)


def test_only_what_moved_is_credited() -> None:
    learner, frame = learned(611, 12)
    at = {t: i for i, t in enumerate(learner.data.trials)}
    for step in effects(learner):
        p, q = at[step.parent], at[step.trial]
        for c in step.contributions:
            if c.before is not None:
                assert frame[c.what].iloc[p] != frame[c.what].iloc[q]


def test_the_water_that_made_room_is_told() -> None:
    learner, frame = learned(612, 12)
    for step in effects(learner):
        at = [list(learner.data.trials).index(t) for t in (step.parent, step.trial)]
        assert step.water == pytest.approx(float(np.diff(frame["Aqua"].iloc[at])[0]))
        if abs(step.water) >= 0.01:
            assert any("water moved" in words for words in step.words)


def test_effects_have_the_right_sign_and_their_bands_hold_the_truth() -> None:
    """True effect of each change: Shapley value of the noiseless truth of the simulated bench."""
    signs, inside = [], []
    for seed in range(700, 712):
        learner, _ = learned(seed, 12)
        truth = Bench(seed, "plain").truth
        where = [NAMES.index(n) for n in learner.data.names]
        for step in effects(learner):
            p, q = (list(learner.data.trials).index(t) for t in (step.parent, step.trial))
            real = shapley(truth, learner.data.percent[p], learner.data.percent[q], where)
            told = {c.what: c for c in step.contributions}
            if "pH" in told:  # the acid acts through the pH, which is told as a line of its own
                continue
            for name, value in real.items():
                if name in told and abs(value) > 0.05:
                    signs.append(np.sign(told[name].effect) == np.sign(value))
                    inside.append(told[name].low80 <= value <= told[name].high80)
    assert len(signs) > 60
    assert np.mean(signs) >= 0.90
    assert 0.68 <= np.mean(inside) <= 0.95


def shapley(truth, a: np.ndarray, b: np.ndarray, where: list[int]) -> dict[str, float]:  # type: ignore[no-untyped-def]
    moved = [j for j in np.flatnonzero(a != b) if NAMES[where[j]] != "Aqua"]
    out = dict.fromkeys((NAMES[where[j]] for j in moved), 0.0)
    rng = np.random.default_rng(0)
    orders = [rng.permutation(moved) for _ in range(12)]

    def level(x: np.ndarray) -> float:
        full = np.zeros(len(NAMES))
        full[where] = x
        return float(truth.log10_viscosity(full, truth.ph(full)))

    for order in orders:
        x, last = a.copy(), level(a)
        for j in order:
            x[j] = b[j]
            now = level(x)
            out[NAMES[where[j]]] += (now - last) / len(orders)
            last = now
    return out


def test_two_materials_that_always_moved_together_cannot_be_told_apart() -> None:
    gum = [0.2, 0.4, 0.2, 0.5, 0.3, 0.6, 0.25, 0.45, 0.2]
    frame = pd.DataFrame(
        {
            "trial": range(1, 10),
            "parent": [None, *range(1, 9)],
            "Aqua": [90 - 11 * g for g in gum],
            "Glycerin": 4.0,
            "Cetearyl Alcohol": 6.0,
            "Xanthan Gum": gum,
            "Glyceryl Stearate": [10 * g for g in gum],
        }
    )
    frame["viscosity_mPas"] = 10 ** (2.6 + 4.0 * np.array(gum))
    words = {
        "Aqua": "water",
        "Glycerin": "humectant",
        "Cetearyl Alcohol": "fatty alcohol",
        "Xanthan Gum": "thickener",
        "Glyceryl Stearate": "co-emulsifier",
    }
    steps = effects(fit(frame, functions=words))
    assert any({"Xanthan Gum", "Glyceryl Stearate"} == set(pair) for pair in steps[-1].cannot_tell)
    assert any("cannot be told apart" in words for words in steps[-1].words)


def test_effects_on_ph_come_from_the_acids_and_bases() -> None:
    biggest = []
    for seed in range(615, 623):
        learner, _ = learned(seed, 14)
        active = {n for n, w in FUNCTIONS.items() if w in ACTING}
        for step in effects(learner, "pH"):
            if step.contributions and abs(step.contributions[0].effect) > 0.2:
                biggest.append(step.contributions[0].what in active)
    assert len(biggest) >= 10
    assert np.mean(biggest) >= 0.8


def test_an_effect_on_what_was_never_measured_is_refused() -> None:
    learner, _ = learned(614, 4)
    with pytest.raises(MeasurementError, match=r"no drain time measured\. viscosity, pH"):
        effects(learner, "drain time")


def test_a_step_is_told_in_sentences_and_named_in_one_line() -> None:
    learner, _ = learned(614, 4)
    step = effects(learner)[0]
    assert str(step).splitlines()[0] == f"{step.parent_label} → {step.label}"
    assert all(words in str(step) for words in step.words)
    assert "\n" not in repr(step)
    assert repr(learner) == (
        f"<Learner: 4 trials, {len(learner.data.names)} materials; viscosity_mPas, pH>"
    )
