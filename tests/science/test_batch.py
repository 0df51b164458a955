"""Mass balances of a batch: nothing is created, impossible additions are refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import ScienceError
from labkit.science import batch as b
from labkit.science import weighing as w

LEVEL = st.floats(0.0, 40.0)


@given(m=st.floats(1.0, 1e4), p=LEVEL, up=st.floats(0.0, 20.0), extra=st.floats(1.0, 40.0))
def test_the_addition_gives_the_wanted_level(m: float, p: float, up: float, extra: float) -> None:
    target, strength = p + up, p + up + extra
    x = float(b.to_reach(m, p, target, strength))
    reached = (m * p + x * strength) / (m + x)
    assert x >= 0.0
    assert reached == pytest.approx(target)


@given(st.lists(st.floats(0.1, 50.0), min_size=2, max_size=6), st.floats(0.0, 30.0))
def test_after_an_addition_the_jar_holds_a_hundred_percent(
    parts: list[float], added: float
) -> None:
    percent = [100.0 * part / sum(parts) for part in parts]
    after = b.after_addition(percent, [added] + [0.0] * (len(parts) - 1), 250.0)
    assert after.sum() == pytest.approx(100.0)
    assert after[0] >= percent[0] - 1e-9


def test_four_grams_of_water_take_phenoxyethanol_to_0_864() -> None:
    # hand calculation: 0.9 % of 96 g in 100 g
    after = b.after_addition([0.9, 99.1], [0.0, 4.0], 96.0)
    assert after[0] == pytest.approx(0.864)
    assert b.to_reach(100.0, 0.864, 0.9) == pytest.approx(0.0363, abs=1e-4)


@given(s=st.floats(50.0, 100.0), weaker=st.floats(0.0, 40.0), share=st.floats(0.0, 1.0))
def test_two_stocks_mixed_have_the_wanted_strength(s: float, weaker: float, share: float) -> None:
    target = weaker + share * (s - weaker)
    strong, weak = map(float, b.blend_to(s, weaker, min(max(target, weaker), s), 200.0))
    assert strong + weak == pytest.approx(200.0)
    assert (strong * s + weak * weaker) / 200.0 == pytest.approx(target)


def test_what_is_filled_is_what_is_left() -> None:
    assert float(w.to_make(500.0, 5.0)) * 0.95 == pytest.approx(500.0)


def test_arrays_give_what_their_elements_give() -> None:
    targets = [0.3, 0.45, 2.0]
    assert b.to_reach(96.0, 0.3, targets).tolist() == pytest.approx(  # type: ignore[union-attr]
        [b.to_reach(96.0, 0.3, target) for target in targets]
    )
    table = b.after_addition([[50.0, 50.0], [90.0, 10.0]], [[1.0, 0.0], [0.0, 2.0]], [100.0, 50.0])
    assert table[1].tolist() == b.after_addition([90.0, 10.0], [0.0, 2.0], 50.0).tolist()


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: b.to_reach(100.0, 0.3, 5.0, 5.0), "a stock not stronger than the target"),
        (lambda: b.to_reach(100.0, 0.9, 0.6), "cannot lower its own percentage"),
        (lambda: b.water_lost(212.4, 100.0, 313.0), "0.6 g heavier than what was weighed in"),
        (lambda: b.water_lost(212.4, 100.0, 200.0), "Vessel and batch: 200 g"),
        (lambda: b.blend_to(20.0, 0.0, 30.0, 100.0), "outside the two stocks"),
        (lambda: b.blend_to(20.0, 20.0, 20.0, 100.0), "outside the two stocks"),
        (lambda: w.grams(101.0, 100.0), "Percentage: 101 %"),
        (lambda: b.dose_for_batch(0.0, 0.18, 86.5), "Sample: 0 g"),
        (lambda: w.with_overage(2.0, 0.0), "Assay: 0 %"),
        (lambda: w.to_make(500.0, 100.0), "Loss: 100 %"),
        (lambda: b.oil_to_emulsifier(18.0, 0.0), "Emulsifier: 0 %"),
        (lambda: b.on_basis(0.6, 0.0), "Factor to the basis: 0"),
        (lambda: w.smallest_weighing(-0.1), "Standard deviation of the balance: -0.1 g"),
        (lambda: b.after_addition([100.0], [1.0], 0.0), "Batch: 0 g"),
    ],
)
def test_impossible_inputs_are_refused(call: object, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        call()  # type: ignore[operator]
