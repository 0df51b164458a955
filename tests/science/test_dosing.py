"""A dose brings the mixture to the pH that was asked for."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from labkit.errors import ScienceError
from labkit.science.acidbase import dose_for_ph, solve_ph, titration_curve

PRESERVED = {"benzoate": 0.035, "sorbate": 0.02, "Na": 0.035, "K": 0.02}


@pytest.mark.parametrize(
    ("start", "reagent", "target"),
    [
        ({"lactate": 0.1}, {"Na": 1.0}, 4.0),
        ({"lactate": 0.1}, {"triethanolamine": 1.0}, 6.5),
        (PRESERVED, {"citrate": 1.0}, 5.0),
        (PRESERVED, "Lactic acid 80 %", 4.8),
        ({"citrate": 0.05}, "Sodium hydroxide 10 % solution", 5.5),
        ({"citrate": 0.05}, "L-Arginine", 5.5),
        ({"citrate": 0.05, "Na": 0.15}, "Citric acid", 5.0),
        ({"carbonate": 0.05, "Na": 0.1}, "Hydrochloric acid 10 % solution", 7.0),
        ({}, {"Na": 1.0}, 9.0),
    ],
)
def test_the_dosed_mixture_has_the_wanted_ph(
    start: dict[str, float], reagent: str | dict[str, float], target: float
) -> None:
    dose = dose_for_ph(start, reagent, target)
    assert titration_curve(start, reagent, dose.amount) == pytest.approx(target, abs=1e-6)
    assert dose.low <= dose.amount <= dose.high


@settings(max_examples=100, deadline=None)
@given(
    acid=st.floats(0.001, 0.3),
    target=st.floats(3.2, 9.5),
    level=st.floats(5.0, 60.0),
)
def test_citric_acid_reaches_any_ph_with_sodium_hydroxide(
    acid: float, target: float, level: float
) -> None:
    assume(float(solve_ph({"citrate": acid}, temperature_c=level)) < target)
    dose = dose_for_ph({"citrate": acid}, {"Na": 1.0}, target, temperature_c=level)
    mixed = {"citrate": acid, "Na": float(dose.amount)}
    assert solve_ph(mixed, temperature_c=level) == pytest.approx(target, abs=1e-6)


def test_a_given_constant_is_used_for_the_dose_too() -> None:
    mine = {"mine": {"pKa25": [5.0], "charge_fully_deprotonated": -1}}
    dose = dose_for_ph({"mine": 0.1}, {"Na": 1.0}, 5.0, mine)
    assert solve_ph({"mine": 0.1, "Na": dose.amount}, mine) == pytest.approx(5.0, abs=1e-6)


def test_half_neutralised_acetic_acid_by_hand() -> None:
    # at pH = pKa - D the acid is half neutralised; the base is C/2 minus the free H+
    dose = dose_for_ph({"acetate": 0.02}, {"Na": 1.0}, 4.756, activity="ideal")
    assert dose.amount == pytest.approx(0.01 - 10**-4.756, rel=1e-6)


def test_an_array_of_targets_gives_the_single_doses() -> None:
    targets = np.array([[4.0, 5.0], [6.0, 7.0]])
    together = dose_for_ph(PRESERVED, "Citric acid", targets)
    assert np.shape(together.amount) == (2, 2)
    assert together.words == ""
    for index, target in np.ndenumerate(targets):
        single = dose_for_ph(PRESERVED, "Citric acid", float(target))
        assert isinstance(single.amount, float)
        assert together.amount[index] == pytest.approx(single.amount, rel=1e-9)  # type: ignore[index]


def test_a_mixture_that_is_there_already_wants_nothing() -> None:
    level = float(solve_ph(PRESERVED))
    dose = dose_for_ph(PRESERVED, "Citric acid", level)
    assert dose.amount == 0.0
    assert "nothing to add" in dose.words


def test_a_caustic_reagent_brings_its_caution() -> None:
    dose = dose_for_ph({"citrate": 0.05}, "Sodium hydroxide 18 % solution", 5.0)
    assert "Goggles" in dose.caution
    assert "data sheet" in dose.caution
    assert "read the pH" in dose.words
    assert "g per kg water" in dose.words


@pytest.mark.parametrize(
    ("reagent", "target"),
    [({"Na": 1.0}, 2.0), ("TEA", 12.5), ("Citric acid", 6.0), ("Baking soda", 11.0)],
)
def test_an_unreachable_ph_is_refused_with_the_range(
    reagent: str | dict[str, float], target: float
) -> None:
    with pytest.raises(ScienceError, match=r"This reagent reaches pH \d+\.\d+ to") as refusal:
        dose_for_ph({"lactate": 0.1}, reagent, target)
    low, high = refusal.value.facts["reachable"]
    assert not low <= target <= high


@pytest.mark.parametrize("bad", [-1.0, 55.0, math.nan])
def test_a_target_that_is_no_ph_is_refused(bad: float) -> None:
    with pytest.raises(ScienceError, match="decimal point"):
        dose_for_ph({"lactate": 0.1}, {"Na": 1.0}, bad)


@pytest.mark.parametrize("reagent", [{}, {"Na": -1.0}, {"Na": math.inf}])
def test_a_reagent_of_nothing_is_refused(reagent: dict[str, float]) -> None:
    with pytest.raises(ScienceError, match="the moles each brings"):
        dose_for_ph({"lactate": 0.1}, reagent, 4.0)


def test_many_mixtures_at_once_are_refused() -> None:
    with pytest.raises(ScienceError, match="one mixture at a time"):
        dose_for_ph({"lactate": [0.1, 0.2]}, {"Na": 1.0}, 4.0)  # type: ignore[dict-item]
