"""Buffer capacity, titration curves and the bench titration."""

from __future__ import annotations

import math

import numpy as np
import pytest

from labkit.errors import ScienceError
from labkit.science.acidbase import (
    buffer_capacity,
    scale_bench_titration,
    solve_ph,
    titration_curve,
)


def test_ideal_buffer_capacity_is_van_slykes_closed_form() -> None:
    # beta = ln10 (h + oh + C a (1 - a)), Van Slyke 1922
    ph = float(solve_ph({"acetate": 0.02, "Na": 0.01}, activity="ideal"))
    h, oh = 10**-ph, 10 ** (ph - 13.9948)
    a = 1 / (1 + 10 ** (4.756 - ph))
    by_hand = math.log(10) * (h + oh + 0.02 * a * (1 - a))
    found = buffer_capacity({"acetate": 0.02, "Na": 0.01}, activity="ideal")
    assert found == pytest.approx(by_hand, rel=1e-5)


def test_borax_has_the_capacity_that_the_definition_gives() -> None:
    # 0.04 mol/kg borate, half neutralised: ln10 x 0.04/4 = 0.0230 mol/kg per pH
    found = buffer_capacity({"borate": 0.04, "Na": 0.02})
    assert found == pytest.approx(math.log(10) * 0.01, rel=0.03)


def test_buffer_capacity_is_the_slope_of_the_titration_curve() -> None:
    mixture = {"citrate": 0.05, "Na": 0.08}
    step = 1e-5
    up, down = (float(solve_ph(mixture | {"Na": 0.08 + sign * step})) for sign in (1.0, -1.0))
    assert buffer_capacity(mixture) == pytest.approx(2 * step / (up - down), rel=0.02)


def test_buffer_capacity_of_arrays_is_the_single_values() -> None:
    sodium = np.array([0.02, 0.05, 0.12])
    together = buffer_capacity({"citrate": 0.05, "Na": sodium})
    single = [float(buffer_capacity({"citrate": 0.05, "Na": float(s)})) for s in sodium]
    assert np.allclose(together, single, rtol=1e-6)
    assert isinstance(buffer_capacity({"citrate": 0.05}), float)


def test_buffer_capacity_can_be_asked_at_another_ph_and_is_never_negative() -> None:
    grid = buffer_capacity({"citrate": 0.05}, ph=np.linspace(2, 12, 41))
    assert np.all(np.asarray(grid) > 0.0)


def test_a_titration_curve_rises_with_base_and_falls_with_acid() -> None:
    doses = np.linspace(0.0, 0.2, 41)
    assert np.all(np.diff(titration_curve({"citrate": 0.05}, {"Na": 1.0}, doses)) > 0)
    salt = {"citrate": 0.05, "Na": 0.15}
    assert np.all(np.diff(titration_curve(salt, {"Cl": 1.0}, doses)) < 0)


def test_a_titration_curve_is_its_single_points() -> None:
    doses = np.array([0.0, 10.0, 30.0])
    reagent = "Sodium hydroxide 10 % solution"
    together = titration_curve({"citrate": 0.05}, reagent, doses)
    single = [float(titration_curve({"citrate": 0.05}, reagent, float(d))) for d in doses]
    assert np.allclose(together, single, atol=1e-9, rtol=0)
    # water of the solution dilutes: 30 g bring 27 g of water to 1 kg
    by_hand = {"citrate": 0.05 / 1.027, "Na": 3.0 / 39.997 / 1.027}
    assert single[2] == pytest.approx(solve_ph(by_hand), abs=1e-4)


def test_a_negative_dose_is_refused() -> None:
    with pytest.raises(ScienceError, match="cannot be taken out"):
        titration_curve({"citrate": 0.05}, {"Na": 1.0}, [-0.1])
    with pytest.raises(ScienceError, match="cannot be taken out"):
        titration_curve({"citrate": 0.05}, {"Na": 1.0}, math.nan)


def test_a_bench_titration_scales_by_weight_with_three_quarters_first() -> None:
    # 0.50 g on 25 g is 2 %; 475 g left want 9.5 g, of which 7.125 g first
    plan = scale_bench_titration(0.5, 25.0, 475.0)
    assert plan.total_g == pytest.approx(9.5)
    assert plan.first_g == pytest.approx(7.125)
    assert plan.first_g + plan.rest_g == pytest.approx(plan.total_g)
    assert "read the pH" in plan.words


@pytest.mark.parametrize("weights", [(0.0, 50.0, 950.0), (0.4, -1.0, 950.0), (0.4, 50.0, math.nan)])
def test_a_weight_that_is_none_is_refused(weights: tuple[float, float, float]) -> None:
    with pytest.raises(ScienceError, match="More than 0 g"):
        scale_bench_titration(*weights)


@pytest.mark.parametrize("share", [0.0, 75.0, -0.1])
def test_a_first_share_that_is_no_share_is_refused(share: float) -> None:
    with pytest.raises(ScienceError, match=r"Write 0\.75 for three quarters"):
        scale_bench_titration(0.4, 50.0, 950.0, first_share=share)
