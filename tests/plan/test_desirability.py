from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import BriefError
from labkit.learning.posterior import Mixture
from labkit.plan.desirability import Desire, overall, searchable, weigh_up

PH = Desire(kind="target", low=4.5, high=6.0, target=5.2)
THICK = Desire(kind="larger", low=3.5, high=4.5)


def normal(mean: list[float], sd: float) -> Mixture:
    centre = np.array(mean)[:, None]
    return Mixture(weight=np.ones_like(centre), mean=centre, sd=np.full_like(centre, sd))


@given(st.lists(st.floats(3, 8), min_size=1, max_size=20))
def test_desirability_of_an_array_is_that_of_its_elements(values: list[float]) -> None:
    together = np.asarray(PH(np.array(values)))
    assert together.tolist() == [PH(v) for v in values]
    assert ((together >= 0) & (together <= 1)).all()


def test_a_target_is_best_at_its_target_and_worthless_at_its_ends() -> None:
    assert PH(5.2) == 1.0
    assert PH(4.5) == PH(6.0) == PH(9.0) == 0.0


def test_one_worthless_answer_makes_the_whole_worthless() -> None:
    assert overall([0.9, 0.0, 1.0]) == 0.0
    assert overall([[0.5, 0.5], [1.0, 0.0]]).tolist() == pytest.approx([0.5, 0.0])  # type: ignore[union-attr]


def test_weights_pull_towards_the_important_answer() -> None:
    assert overall([0.2, 0.9], [3, 1]) < overall([0.2, 0.9], [1, 3])


def test_expected_desirability_counts_the_doubt() -> None:
    """d has a corner at the target: a sure hit is worth more than an unsure one."""
    sure, unsure = PH.expected(normal([5.2], 0.01))[0], PH.expected(normal([5.2], 0.4))[0]
    assert sure > 0.97
    assert unsure < 0.75
    rng = np.random.default_rng(0)
    assert unsure == pytest.approx(float(np.mean(PH(rng.normal(5.2, 0.4, 200_000)))), abs=0.01)


def test_the_binding_target_is_named_and_the_chance_of_all_is_shown() -> None:
    predictions = {"pH": normal([5.2, 4.6], 0.05), "thick": normal([3.6, 4.4], 0.05)}
    found = weigh_up(predictions, {"pH": PH, "thick": THICK})
    assert found.binds == ("thick", "pH")
    assert ((found.inside > 0.9) & (found.inside <= 1)).all()
    narrow = weigh_up(predictions, {"pH": PH, "thick": THICK}, {"pH": (5.15, 5.25)})
    assert narrow.inside[0] < found.inside[0]


def test_the_search_has_a_slope_where_desirability_is_zero() -> None:
    far, near = searchable([[0.0, 0.5], [0.0, 0.5]], [5.0, 1.0])
    assert near > far


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "largest", "low": 0, "high": 1},
        {"kind": "larger", "low": 1, "high": 0},
        {"kind": "target", "low": 0, "high": 1},
        {"kind": "target", "low": 0, "high": 1, "target": 2},
        {"kind": "larger", "low": 0, "high": 1, "weight": 0},
    ],
)
def test_wishes_that_contradict_themselves_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(BriefError, match="larger, smaller or target"):
        Desire(**wrong)  # type: ignore[arg-type]


def test_a_wish_for_something_never_measured_is_refused() -> None:
    with pytest.raises(BriefError, match="no prediction for gloss"):
        weigh_up({"pH": normal([5.0], 0.1)}, {"gloss": THICK})
