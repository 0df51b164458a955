"""Carriers between the points of the reference table, and their refusals."""

from __future__ import annotations

import numpy as np
import pytest

from labkit.errors import ScienceError
from labkit.science import carriers, liquids, water


def test_without_a_carrier_there_is_water() -> None:
    for name, room in (("glycerin", 0.01), ("propylene glycol", 0.02), ("ethanol", 0.02)):
        assert carriers.viscosity(name, 0.0, 25.0) == pytest.approx(
            float(water.viscosity(25.0)), rel=room
        )


@pytest.mark.parametrize("name", ["propylene glycol", "ethanol"])
def test_at_a_hundred_percent_there_is_the_pure_liquid(name: str) -> None:
    assert carriers.viscosity(name, 100.0, 25.0) == pytest.approx(
        float(liquids.value(name, "viscosity", 25.0)), rel=0.01
    )


def test_water_and_ethanol_are_thickest_in_between() -> None:
    # handbook: 2.9 mPa*s near 40-45 wt% at 20 °C, pure liquids 1.0 and 1.2
    w = np.linspace(0.0, 100.0, 201)
    eta = np.asarray(carriers.viscosity("ethanol", w, 20.0))
    assert 40.0 <= w[eta.argmax()] <= 47.0
    assert eta.max() == pytest.approx(2.9, abs=0.03)


def test_glycol_thickens_all_the_way() -> None:
    w = np.linspace(0.0, 100.0, 101)
    for celsius in (10.0, 22.0, 40.0):
        assert np.all(np.diff(carriers.viscosity("propylene glycol", w, celsius)) > 0.0)


def test_glycerin_at_half_agrees_with_the_handbook() -> None:
    # Segur & Oberstar, Ind. Eng. Chem. 43 (1951) 2117: 6.00 mPa*s at 50 wt% and 20 °C
    assert carriers.water_glycerin(50.0, 20.0) == pytest.approx(6.00, rel=0.035)


def test_a_blend_lies_between_its_oils_and_two_equal_oils_stay() -> None:
    assert 5.0 < float(carriers.oil_blend([1.0, 1.0], [5.0, 500.0])) < 500.0
    assert carriers.oil_blend([2.0, 3.0], [42.0, 42.0]) == pytest.approx(42.0)


def test_another_carrier_is_refused() -> None:
    with pytest.raises(ScienceError, match=r"squalane: no data for it in water.*Glycerin"):
        carriers.viscosity("squalane", 10.0, 25.0)


def test_a_temperature_outside_the_grid_is_refused() -> None:
    with pytest.raises(ScienceError, match=r"Temperature of the mixture: 75 °C.*from 10 up to 40"):
        carriers.viscosity("propylene glycol", 20.0, 75.0)


def test_a_syrup_has_a_density_at_twenty_degrees_only() -> None:
    assert carriers.mixture_density("sucrose", 65.0, 20.0) == pytest.approx(1316.5, rel=1e-3)
    with pytest.raises(ScienceError, match="from 19.5 up to 20.5"):
        carriers.mixture_density("sucrose", 65.0, 40.0)


def test_a_syrup_has_no_specific_heat_in_the_table() -> None:
    with pytest.raises(ScienceError, match="Sucrose in water: no specific heat"):
        carriers.specific_heat("sucrose", 20.0, 20.0)


def test_an_empty_oil_blend_is_refused() -> None:
    with pytest.raises(ScienceError, match="Oil blend: nothing in it"):
        carriers.oil_blend([0.0], [10.0])
