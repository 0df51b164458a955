"""Preservation arithmetic: balances that must close, and refusals."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import ScienceError
from labkit.science import preservation as p

PH = st.floats(2.0, 10.0)
PHI = st.floats(0.0, 4.0)


def test_half_is_un_ionised_at_the_pka() -> None:
    assert p.un_ionised_fraction(4.2, 4.2) == 0.5


@given(ph=PH, more=st.floats(0.01, 3.0))
def test_a_higher_ph_leaves_less_of_the_acid(ph: float, more: float) -> None:
    assert p.un_ionised_fraction(ph + more, 4.2) < p.un_ionised_fraction(ph, 4.2)


@given(c=st.floats(0.01, 2.0), k=st.floats(0.0, 300.0), phi=PHI, r=st.floats(1.0, 5.0), ph=PH)
def test_the_mass_of_an_acid_is_found_again(
    c: float, k: float, phi: float, r: float, ph: float
) -> None:
    free = float(p.free_acid(c, k, phi, ph, 4.2, r))
    ionised = free * 10.0 ** (ph - 4.2)
    found = free * k * phi + free * r + ionised
    assert found == pytest.approx(c * (phi + 1.0), rel=1e-9)


def test_without_ionisation_an_acid_behaves_as_a_neutral_preservative() -> None:
    assert p.free_acid(0.9, 2.6, 0.43, -2.0, 20.0, 1.3) == pytest.approx(
        float(p.in_water(0.9, 2.6, 0.43, 1.3))
    )


def test_more_oil_leaves_less_of_what_the_oil_prefers() -> None:
    assert p.in_water(0.2, 7.5, 0.5) < p.in_water(0.2, 7.5, 0.1)
    assert p.in_water(0.2, 0.02, 0.5) > p.in_water(0.2, 0.02, 0.1)


def test_the_lowest_dose_at_the_top_of_its_window_has_the_ratio_one() -> None:
    free = 0.2 * float(p.un_ionised_fraction(5.5, 4.76))
    assert p.working_ratio(free, 0.2, 5.5, 4.76) == pytest.approx(1.0)


def test_one_oil_is_no_substitute_for_another() -> None:
    # J. Soc. Cosmet. Chem. 23 (1972) 703: methylparaben 0.02 in paraffin, 7.5 in soya oil
    assert p.oil_water("Methylparaben", "soya oil") / p.oil_water(
        "methylparaben", "liquid paraffin"
    ) == pytest.approx(375.0)


def test_a_pair_that_nobody_measured_is_refused() -> None:
    with pytest.raises(ScienceError, match="Sorbic Acid: no partition between jojoba and water"):
        p.oil_water("Sorbic Acid", "jojoba")
    with pytest.raises(ScienceError, match="no partition between octanol"):
        p.log_kow("moonshine")


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: p.un_ionised_fraction(55.0, 4.2), "pH: 55"),
        (lambda: p.in_water(-0.1, 1.0, 0.5), "Preservative: -0.1 %"),
        (lambda: p.in_water(0.1, 1.0, 0.5, 0.9), "Total over free in water: 0.9"),
        (lambda: p.working_ratio(0.1, 0.0, 5.0, 4.2), "above 0"),
        (lambda: p.oil_to_water_ratio(20.0, 0.0), "Water phase: 0 %"),
    ],
)
def test_impossible_inputs_are_refused(call: object, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        call()  # type: ignore[operator]
