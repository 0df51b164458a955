"""Water activity against handbook values and rules of mixing."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import ScienceError
from labkit.science import humidity as h


def test_a_saturated_salt_solution_holds_the_air_at_75_percent() -> None:
    # Greenspan, J. Res. NBS 81A (1977) 89: 75.29 % RH at 25 °C over saturated NaCl
    assert h.sodium_chloride(6.144) == pytest.approx(0.7529, abs=0.001)


@pytest.mark.parametrize(("m", "expected"), [(1.0, 0.9669), (3.0, 0.8932), (6.0, 0.7598)])
def test_salt_agrees_with_robinson_and_stokes(m: float, expected: float) -> None:
    # Robinson & Stokes, Electrolyte Solutions, appendix 8.3, from memory
    assert h.sodium_chloride(m) == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize(("m", "osmotic"), [(1.0, 1.088), (2.0, 1.189), (5.0, 1.450)])
def test_sugar_agrees_with_robinson_and_stokes_within_norrish(m: float, osmotic: float) -> None:
    # Robinson & Stokes, Electrolyte Solutions, appendix 8.6, sucrose at 25 °C, from memory
    measured = math.exp(-osmotic * m * 0.018015)
    assert h.norrish([m], [6.47]) == pytest.approx(measured, abs=0.001)


def test_five_percent_glycerin_preserves_nothing() -> None:
    assert h.solution({"glycerin": 5.0}, 95.0) == pytest.approx(0.990, abs=0.001)


@given(m=st.floats(0.0, 8.0), k=st.floats(0.0, 7.0))
def test_for_one_solute_both_mixing_rules_are_norrish(m: float, k: float) -> None:
    assert h.ross([m], [k]) == pytest.approx(float(h.norrish([m], [k])), rel=1e-12)
    assert h.norrish([m], [k]) <= h.raoult([m]) + 1e-15


@given(m=st.floats(0.0, 5.0), more=st.floats(0.01, 3.0))
def test_more_humectant_means_less_water_activity(m: float, more: float) -> None:
    assert h.norrish([m + more], [1.16]) < h.norrish([m], [1.16])


def test_splitting_a_solute_in_two_changes_nothing() -> None:
    assert h.norrish([1.0, 1.0], [1.65, 1.65]) == pytest.approx(float(h.norrish([2.0], [1.65])))


def test_salt_and_humectant_lower_each_other() -> None:
    both = h.solution({"Sorbitol": 10.0, "sodium chloride": 2.0}, 88.0)
    assert both < h.solution({"Sorbitol": 10.0}, 88.0)
    assert both == pytest.approx(0.9879 * h.sodium_chloride(0.3889), abs=0.002)


def test_a_solute_without_a_norrish_constant_counts_as_ideal() -> None:
    assert h.constants()["urea"][1] is None
    assert h.solution({"urea": 10.0}, 90.0) == pytest.approx(0.9677, abs=0.0005)


def test_an_unknown_solute_is_refused() -> None:
    with pytest.raises(ScienceError, match="xanthan gum: no data for its water activity"):
        h.solution({"xanthan gum": 0.5}, 99.5)


def test_impossible_solutions_are_refused() -> None:
    with pytest.raises(ScienceError, match=r"Sodium chloride: 9 mol/kg"):
        h.sodium_chloride(9.0)
    with pytest.raises(ScienceError, match=r"Water: 0 %"):
        h.molality(100.0, 92.0)
    with pytest.raises(ScienceError, match=r"Norrish constant: -1"):
        h.norrish([1.0], [-1.0])
