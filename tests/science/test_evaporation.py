"""Evaporation and dry-down: mass balances and limits known by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.errors import ScienceError
from labkit.science import evaporation as e


def test_neat_water_dries_in_the_time_of_its_own_rate() -> None:
    rate = float(e.rate(e.vapour_pressure("water"), e.molar_mass("water")))
    minutes = 60.0 * 0.6 / rate  # 0.6 mg/cm2
    film = e.dry_down(
        ["water"], [100.0], 0.6, [0.0, 0.5 * minutes, 1.02 * minutes], relative_humidity=0.0
    ).film[:, 0]
    assert film.tolist() == pytest.approx([0.6, 0.3, 0.0], abs=0.005)


def test_in_a_humid_room_glycerin_keeps_water_by_its_water_activity() -> None:
    # ideal film: mole fraction of water = relative humidity
    run = e.dry_down(["water", "glycerin"], [80.0, 20.0], 1.0, [600.0], relative_humidity=0.5)
    moles = run.film[0] / [e.molar_mass("water"), e.molar_mass("glycerin")]
    assert moles[0] / moles.sum() == pytest.approx(0.5, abs=0.01)


@settings(max_examples=25, deadline=None)
@given(
    parts=st.lists(st.floats(0.1, 50.0), min_size=4, max_size=4),
    dose=st.floats(0.1, 3.0),
    air=st.floats(0.05, 1.0),
)
def test_volatiles_only_leave_and_oils_only_stay(
    parts: list[float], dose: float, air: float
) -> None:
    run = e.dry_down(
        ["ethanol", "D5", "isododecane", "some ester"],
        parts,
        dose,
        [0.0, 1.0, 5.0, 30.0, 300.0],
        air_m_s=air,
    )
    assert run.film[0].sum() == pytest.approx(dose)
    assert np.all(np.diff(run.film, axis=0) <= 1e-12)
    assert np.all(run.film >= 0.0)
    assert run.film[:, 3].tolist() == pytest.approx([run.film[0, 3]] * 5)
    assert np.all(run.slow >= run.film - 1e-9)
    assert np.all(run.fast <= run.film + 1e-9)


def test_the_band_is_a_factor_of_two_in_time() -> None:
    times = np.array([2.0, 8.0, 20.0])
    run = e.dry_down(["ethanol", "D5"], [60.0, 40.0], 1.0, times)
    later = e.dry_down(["ethanol", "D5"], [60.0, 40.0], 1.0, times * 2.0)
    assert run.fast == pytest.approx(later.film, abs=0.01)


def test_times_may_come_in_any_order() -> None:
    run = e.dry_down(["ethanol"], [100.0], 1.0, [5.0, 0.0, 1.0]).film[:, 0]
    assert run[1] == 1.0
    assert run[0] < run[2] < 1.0


def test_published_pressures_of_d5_lie_inside_its_band() -> None:
    # 20.4 (saturation study), 33.2 (registration dossier), 40 Pa (static method) at 25 °C
    low, high = e.vapour_pressure_band("D5", 25.0)
    assert low < 20.4 < 33.2 < 40.0 < high


def test_siloxanes_leave_in_the_order_of_their_rings() -> None:
    rates = [float(e.rate(e.vapour_pressure(x), e.molar_mass(x))) for x in ("D4", "D5", "D6")]
    assert rates == sorted(rates, reverse=True)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: e.dry_down(["water"], [50.0, 50.0], 1.0, [0.0]), "2 amounts for 1 components"),
        (lambda: e.dry_down(["water"], [0.0], 1.0, [0.0]), "not all zero"),
        (lambda: e.dry_down(["water"], [100.0], 0.0, [0.0]), "Dose: 0"),
        (lambda: e.dry_down(["water"], [100.0], 1.0, [-1.0]), "Time: -1 min"),
        (lambda: e.dry_down(["water"], [100.0], 1.0, [1.0], relative_humidity=45.0), "45"),
        (lambda: e.rate(100.0, 18.0, air_m_s=0.0), "Speed of the air: 0 m/s"),
        (lambda: e.vapour_pressure("moonshine"), "no vapour pressure"),
    ],
)
def test_impossible_inputs_are_refused(call: object, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        call()  # type: ignore[operator]
