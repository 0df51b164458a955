"""Dye stocks and the pale emulsion."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import ScienceError
from labkit.science import colour as c

COLOURS = st.lists(st.floats(0.0, 1.0), min_size=3, max_size=3)


def test_a_fifth_of_a_gram_of_a_one_percent_stock_is_20_ppm_in_100_g() -> None:
    assert c.ppm(1.0, 0.2, 100.0) == pytest.approx(20.0)
    assert c.stock_for(20.0, 1.0, 100.0) == pytest.approx(0.2)


def test_drops_without_a_weight_are_refused() -> None:
    with pytest.raises(ScienceError, match="Weigh twenty drops"):
        c.drops_to_grams(3, None)


@given(COLOURS)
def test_screen_and_light_are_inverse(rgb: list[float]) -> None:
    assert c.screen_colour(c.linear_light(rgb)).tolist() == pytest.approx(rgb, abs=1e-9)


def test_middle_grey_of_the_screen_is_a_fifth_of_the_light() -> None:
    # IEC 61966-2-1: sRGB 0.5 is linear 0.21404
    assert c.linear_light([0.5])[0] == pytest.approx(0.21404, abs=1e-5)


@given(k=st.floats(1e-6, 1e3), s=st.floats(0.1, 1e3))
def test_reflectance_gives_back_its_kubelka_munk_ratio(k: float, s: float) -> None:
    r = float(c.thick_reflectance(k, s))
    assert (1.0 - r) ** 2 / (2.0 * r) == pytest.approx(k / s, rel=1e-6)


@given(COLOURS, st.floats(1.0, 20.0), st.floats(0.3, 1.0))
def test_an_emulsion_looks_paler_than_its_water_phase(
    rgb: list[float], depth: float, share: float
) -> None:
    pale = c.emulsion_colour(rgb, depth, share)
    light = np.maximum(c.linear_light(rgb), c.DARKEST)
    faint = light < np.exp(-8.0 * depth / c.SCATTERING_PER_CM)  # strong dye: scattering wins
    assert np.all(pale[faint] >= c.screen_colour(light)[faint] - 1e-9)
    assert np.all((pale >= 0.0) & (pale <= 1.0))


def test_a_colourless_water_phase_gives_a_white_emulsion() -> None:
    assert c.emulsion_colour([1.0, 1.0, 1.0], 5.0, 0.8).tolist() == pytest.approx([1.0] * 3)


def test_more_dye_makes_a_deeper_emulsion() -> None:
    weak, strong = (c.emulsion_colour([x, x, 1.0], 5.0, 0.8) for x in (0.6, 0.1))
    assert strong[0] < weak[0] < 1.0
    assert strong[2] == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: c.ppm(1.0, 20.0, 10.0), "more stock than batch"),
        (lambda: c.stock_for(20_000.0, 1.0, 100.0), "stock weaker than the level wanted"),
        (lambda: c.emulsion_colour([255, 0, 0], 5.0, 0.8), "Colour channel: 255"),
        (lambda: c.emulsion_colour([0.1, 0.1, 0.1], 0.0, 0.8), "Depth in the beaker: 0 cm"),
        (lambda: c.thick_reflectance(1.0, 0.0), "Scattering: 0"),
        (lambda: c.screen_colour([1.2, 0.0, 0.0]), "Linear light: 1.2"),
        (lambda: c.drops_to_grams(3, 5.0), "Weight of one drop: 5 g"),
    ],
)
def test_impossible_inputs_are_refused(call: object, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        call()  # type: ignore[operator]
