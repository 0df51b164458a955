"""Exposure arithmetic: inverse use agrees, impossible percentages are refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import ScienceError
from labkit.science import exposure as x


@given(pod=st.floats(1.0, 1e3), product=st.floats(0.1, 300.0), da=st.floats(1.0, 100.0))
def test_the_concentration_at_a_margin_has_that_margin(
    pod: float, product: float, da: float
) -> None:
    percent = float(x.concentration_at_margin(pod, product, da, 250.0))
    if percent <= 100.0:
        dose = x.systemic_dose(product, percent, da)
        assert x.margin(pod, dose, 1.0) == pytest.approx(250.0)


def test_the_shower_gel_of_the_guidance() -> None:
    # SCCS/1647/22 table 3A: 279.2 mg/kg/day applied, retention 0.01, exposure 2.79
    assert x.product_exposure(279.2, 0.01) == pytest.approx(2.79, abs=0.005)


def test_a_face_cream_is_spread_at_a_milligram_and_a_quarter_per_square_centimetre() -> None:
    # SCCS/1647/22 table 3A: 1.54 g a day; 565 cm2, 2.14 times a day
    assert x.application_dose("Face cream") == pytest.approx(1540 / (565 * 2.14))


def test_a_product_without_skin_has_no_dose_on_it() -> None:
    with pytest.raises(ScienceError, match="no amount on an area of skin"):
        x.application_dose("Mouthwash")
    with pytest.raises(ScienceError, match="moonshine"):
        x.application_dose("moonshine")


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: x.systemic_dose(123.2, 0.5, 130.0), "Absorption through the skin: 130 %"),
        (lambda: x.systemic_dose(123.2, 101.0), "Concentration: 101 %"),
        (lambda: x.margin(100.0, 0.0), "Systemic exposure dose: 0"),
        (lambda: x.margin(100.0, 1.0, 1.5), "Oral bioavailability: 1.5"),
        (lambda: x.product_exposure(10.0, 1.2), "Retention factor: 1.2"),
        (lambda: x.systemic_dose_by_area(0.2, 565, 2, 0.0), "Body weight: 0 kg"),
        (lambda: x.concentration_at_margin(50.0, 24.0, 0.0), "above 0"),
    ],
)
def test_impossible_inputs_are_refused(call: object, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        call()  # type: ignore[operator]
