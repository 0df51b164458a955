"""Water and activities against handbook values (sources beside each check)."""

from __future__ import annotations

import numpy as np
import pytest

from labkit.errors import ScienceError
from labkit.science import activity


@pytest.mark.parametrize(
    ("temperature_c", "density"),
    # CRC Handbook of Chemistry and Physics, density of air-free water, from memory
    [
        (0.0, 0.99984),
        (4.0, 0.99997),
        (20.0, 0.99821),
        (25.0, 0.99705),
        (50.0, 0.98803),
        (100.0, 0.95836),
    ],
)
def test_water_density_is_the_handbook_value(temperature_c: float, density: float) -> None:
    assert activity.water_density(temperature_c) == pytest.approx(density, abs=2e-5)


@pytest.mark.parametrize(
    ("temperature_c", "permittivity"),
    # Malmberg and Maryott, J. Res. NBS 56 (1956) 1, smoothed table, from memory
    [(0.0, 87.74), (20.0, 80.10), (25.0, 78.30), (100.0, 55.72)],
)
def test_water_permittivity_is_the_printed_value(temperature_c: float, permittivity: float) -> None:
    assert activity.water_permittivity(temperature_c) == pytest.approx(permittivity, abs=0.1)


@pytest.mark.parametrize(
    ("temperature_c", "slope"),
    # Robinson and Stokes, Electrolyte Solutions, Debye-Hückel A per kg water, from memory
    [(0.0, 0.491), (15.0, 0.503), (25.0, 0.511), (40.0, 0.524), (60.0, 0.545)],
)
def test_debye_huckel_slope_is_the_printed_value(temperature_c: float, slope: float) -> None:
    assert activity.debye_huckel_a(temperature_c) == pytest.approx(slope, abs=1e-3)


@pytest.mark.parametrize(
    ("temperature_c", "pkw"),
    # Bandura and Lvov, J. Phys. Chem. Ref. Data 35 (2006) 15, saturated water, from memory
    [(0.0, 14.95), (25.0, 13.995), (50.0, 13.264), (100.0, 12.252)],
)
def test_ionisation_of_water_is_the_accepted_value(temperature_c: float, pkw: float) -> None:
    assert activity.water_pkw(temperature_c) == pytest.approx(pkw, abs=0.02)


def test_davies_is_near_the_mean_activity_coefficient_of_sodium_chloride() -> None:
    # Robinson and Stokes: 0.778 at 0.1 mol/kg, 25 °C
    assert 10 ** -activity.activity_term(0.1) == pytest.approx(0.778, abs=0.005)


def test_models_agree_where_both_are_valid() -> None:
    davies = activity.activity_term(0.05)
    assert activity.activity_term(0.05, activity="bates-guggenheim") == pytest.approx(
        davies, abs=0.005
    )
    assert activity.activity_term(0.05, activity="ideal") == 0.0


def test_activity_is_held_above_the_strength_where_the_model_means_nothing() -> None:
    assert activity.activity_term(7.0) == activity.activity_term(2.0)


def test_uncertainty_widens_with_ionic_strength() -> None:
    assert activity.ph_uncertainty(0.0) == 0.03
    found = activity.ph_uncertainty(np.array([0.1, 0.2, 0.4, 0.8, 1.6]))
    assert np.allclose(found, [0.03, 0.05, 0.10, 0.25, 0.55])


def test_words_warn_above_half_a_mole() -> None:
    assert "trust the meter" in activity.ionic_strength_words(0.8)
    assert "trust the meter" not in activity.ionic_strength_words(0.2)


@pytest.mark.parametrize(
    "function",
    [
        activity.water_density,
        activity.water_permittivity,
        activity.debye_huckel_a,
        activity.water_pkw,
    ],
)
def test_an_array_of_temperatures_gives_the_single_values(function: object) -> None:
    levels = np.array([[0.0, 25.0], [40.0, 100.0]])
    together = function(levels)  # type: ignore[operator]
    single = [[function(float(t)) for t in row] for row in levels]  # type: ignore[operator]
    assert together.shape == levels.shape
    assert np.allclose(together, single, rtol=1e-15, atol=0)
    assert isinstance(single[0][0], float)


@pytest.mark.parametrize("function", [activity.activity_term, activity.ph_uncertainty])
def test_an_array_of_strengths_gives_the_single_values(function: object) -> None:
    strengths = np.array([0.0, 0.05, 0.3, 1.0, 5.0])
    together = function(strengths)  # type: ignore[operator]
    assert np.allclose(together, [function(float(i)) for i in strengths], rtol=1e-15)  # type: ignore[operator]


@pytest.mark.parametrize("bad", [-0.1, 100.1, float("nan"), 298.15])
def test_a_temperature_outside_liquid_water_is_refused(bad: float) -> None:
    with pytest.raises(ScienceError, match="0 to 100 °C"):
        activity.water_pkw(bad)


def test_a_negative_ionic_strength_is_refused() -> None:
    with pytest.raises(ScienceError, match="zero or more"):
        activity.activity_term(-0.1)
    with pytest.raises(ScienceError, match="zero or more"):
        activity.ph_uncertainty(-0.1)


def test_an_unknown_model_is_refused() -> None:
    with pytest.raises(ScienceError, match="davies, bates-guggenheim or ideal"):
        activity.activity_term(0.1, activity="pitzer")
