"""Creaming: Stokes by hand, no guess without a droplet size."""

from __future__ import annotations

import pytest

from labkit.errors import ScienceError
from labkit.science import creaming as c


def test_without_a_droplet_size_nothing_is_said() -> None:
    with pytest.raises(ScienceError, match=r"no droplet size.*Measure the drops"):
        c.velocity(None, -80.0, 100.0)


def test_stokes_by_hand() -> None:
    # 10 µm drop, 80 kg/m3 lighter, in water of 1 mPa*s: 2 r^2 drho g / (9 eta) = 4.36e-6 m/s
    by_hand = -2.0 * (5e-6) ** 2 * 80.0 * 9.80665 / (9.0 * 1e-3) * 86400.0 * 1e3
    assert c.velocity(10.0, -80.0, 1.0) == pytest.approx(by_hand)


def test_half_the_droplet_creams_at_a_quarter_of_the_speed() -> None:
    ratio = float(c.velocity(2.0, -80.0, 50.0)) / float(c.velocity(1.0, -80.0, 50.0))
    assert ratio == pytest.approx(4.0)


def test_neighbours_hinder() -> None:
    alone, crowded = (float(c.velocity(2.0, -80.0, 50.0, phi)) for phi in (0.0, 0.3))
    assert 0.2 * alone < crowded < 0.0


def test_the_pull_of_a_bench_centrifuge() -> None:
    # usual relation 1.118e-5 r rpm^2 (centrifuge handbooks)
    assert c.centrifuge_pull(3000, 10) == pytest.approx(1.118e-5 * 10 * 3000**2, rel=1e-3)


def test_a_gel_of_a_pascal_holds_a_half_millimetre_bead_and_water_does_not() -> None:
    assert c.held_by_yield_stress([500.0, 500.0], 100.0, [1.0, 0.0]).tolist() == [True, False]


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: c.velocity(0.0, -80.0, 1.0), "Droplet diameter: 0 µm"),
        (lambda: c.velocity(1.0, -80.0, 1.0, 30.0), "Volume fraction of drops: 30"),
        (lambda: c.centrifuge_pull(3000, -1), "Radius: -1 cm"),
    ],
)
def test_impossible_inputs_are_refused(call: object, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        call()  # type: ignore[operator]
