"""Viscometer conversions and the viscosity of suspensions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import ScienceError
from labkit.science import flow_models, rheology, suspensions, viscometer

PHI = st.floats(0.0, 0.6)


def test_the_dial_of_an_rv_4_at_20_rpm_ends_at_ten_pascal_seconds() -> None:
    assert viscometer.full_scale(*viscometer.constants("RV-04"), 20.0) == pytest.approx(1e4)


def test_a_low_reading_is_a_poor_reading() -> None:
    value, error = viscometer.viscosity(12.0, 1e4)
    assert float(error) / float(value) == pytest.approx(1.0 / 12.0)


def test_heavier_springs_carry_the_same_spindles() -> None:
    assert viscometer.constants("HB5") == (8.0, 40.0)


def test_readings_of_a_power_law_cream_come_back_as_its_index() -> None:
    rpm = np.array([2.0, 4.0, 10.0, 20.0, 50.0])
    curve = viscometer.disc_curve(rpm, 12.0 * (rpm / 2.0) ** 0.4, 5)
    assert curve.index == pytest.approx(0.4)
    found = rheology.fit("power law", curve.shear_rate, stress_pa=curve.stress_pa)
    assert found.parameters["n"] == pytest.approx(0.4)


def test_the_rate_factor_falls_smoothly_from_thin_to_thick() -> None:
    n = np.linspace(0.1, 1.0, 91)
    k = np.asarray(viscometer.mitschka_rate_factor(n))
    assert np.all(np.diff(k) < 0.0)
    assert k[40] == pytest.approx(0.499, rel=1e-6)


def test_a_narrow_gap_has_the_shear_rate_of_parallel_plates() -> None:
    # speed of the bob over the gap, 1 % gap
    rate = float(viscometer.coaxial_shear_rate(60.0, 20.0, 20.2))
    assert rate == pytest.approx(2.0 * np.pi * 20.1 / 0.2, rel=0.02)


@given(phi=PHI)
def test_all_laws_start_from_the_liquid_and_grow_in_the_known_order(phi: float) -> None:
    einstein, brinkman = float(suspensions.einstein(phi)), float(suspensions.brinkman(phi))
    crowded = float(suspensions.krieger_dougherty(phi, 0.64))
    assert 1.0 <= einstein <= brinkman + 1e-12 <= crowded + 2e-12
    assert suspensions.taylor(phi, 1e9) == pytest.approx(einstein, rel=1e-6)


@given(phi=st.floats(1e-4, 0.01), ratio=st.floats(0.01, 100.0))
def test_few_drops_follow_taylor(phi: float, ratio: float) -> None:
    concentrated = float(suspensions.pal(phi, ratio)) - 1.0
    dilute = float(suspensions.taylor(phi, ratio)) - 1.0
    assert concentrated == pytest.approx(dilute, rel=0.06)


@given(phi=PHI, ratio=st.floats(0.01, 100.0))
def test_pals_root_satisfies_pals_equation(phi: float, ratio: float) -> None:
    eta = float(suspensions.pal(phi, ratio))
    left = eta * ((2.0 * eta + 5.0 * ratio) / (2.0 + 5.0 * ratio)) ** 1.5
    assert left == pytest.approx((1.0 - phi / 0.637) ** (-2.5 * 0.637), rel=1e-9)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: viscometer.constants("RV 9"), "Spindle: 'RV 9'"),
        (lambda: viscometer.constants("T-bar"), "LV 1-4"),
        (lambda: viscometer.viscosity(104.0, 1e4), r"Dial reading: 104 %.*change spindle"),
        (lambda: viscometer.full_scale(1.0, 20.0, 0.0), "Speed: 0 rpm"),
        (lambda: viscometer.mitschka_rate_factor(1.4), "Flow index: 1.4"),
        (lambda: viscometer.mitschka_stress_factor(9), "spindle 9"),
        (lambda: viscometer.disc_curve([10.0], [50.0], 4), "Three or more different speeds"),
        (lambda: viscometer.coaxial_shear_rate(60, 13.8, 9.42), "not wider than its bob"),
        (lambda: suspensions.krieger_dougherty(0.7, 0.64), "densest packing of 0.64"),
        (lambda: suspensions.pal(0.2, 0.0), "Viscosity of drop over liquid: 0"),
        (lambda: suspensions.brinkman(1.0), "densest packing of 1"),
        (lambda: suspensions.einstein(30.0), "A percentage was typed"),
        (lambda: flow_models.viscosity("mayonnaise", {}, 1.0), "Flow model: 'mayonnaise'"),
        (lambda: flow_models.viscosity("Casson", {"tau0": 1.0}, 1.0), "no value for eta_p"),
        (lambda: flow_models.viscosity("power law", {"K": 1, "n": 0.3}, 0.0), "Shear rate: 0 1/s"),
    ],
)
def test_impossible_inputs_are_refused(call: object, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        call()  # type: ignore[operator]
