"""Droplet sizing on pictures drawn with known sizes."""

from __future__ import annotations

import numpy as np
import pytest

from labkit.errors import ScienceError
from labkit.science.droplets import Array, bar_length_px, find_droplets

UM = 0.2


def drawn(
    circles: list[tuple[float, float, float]],
    size: int = 600,
    ring: bool = False,
    noise: float = 0.0,
    seed: int = 1,
) -> Array:
    """Dark background 0.2, droplets 0.8 with soft rims; as rings where asked."""
    y, x = np.mgrid[:size, :size].astype(float)
    picture = np.full((size, size), 0.2)
    for cx, cy, r in circles:
        d = np.hypot(x - cx, y - cy)
        level = np.clip(r - d + 0.5, 0.0, 1.0)
        if ring:
            level = level * np.clip(d - (r - 3.0) + 0.5, 0.0, 1.0)
        picture = np.maximum(picture, 0.2 + 0.6 * level)
    return picture + np.random.default_rng(seed).normal(0.0, noise, picture.shape)


def grid(radii: list[float], step: float = 60.0) -> list[tuple[float, float, float]]:
    side = int(600 // step)
    return [
        (step / 2 + step * (i % side), step / 2 + step * (i // side), r)
        for i, r in enumerate(radii)
    ]


@pytest.mark.parametrize("ring", [False, True])
@pytest.mark.parametrize("noise", [0.0, 0.03])
@pytest.mark.parametrize("radius", [4.0, 8.0, 20.0])
def test_circles_of_one_size_are_found_with_their_diameter(
    radius: float, noise: float, ring: bool
) -> None:
    found = find_droplets(drawn(grid([radius] * 64), ring=ring, noise=noise), UM)
    assert found.diameters_um.size == 64
    assert found.d50_um == pytest.approx(2 * radius * UM, abs=0.7 * UM)
    assert found.span < 0.1


def test_a_known_distribution_comes_back() -> None:
    rng = np.random.default_rng(11)
    radii = [float(r) for r in np.clip(rng.lognormal(2.2, 0.35, 100), 3.0, 26.0)]
    found = find_droplets(drawn(grid(radii), noise=0.02), UM)
    true = 2 * np.array(radii) * UM
    assert found.diameters_um.size == 100
    assert found.d50_um == pytest.approx(float(np.median(true)), rel=0.05)
    assert found.mean_um == pytest.approx(float(true.mean()), rel=0.04)
    assert found.d32_um == pytest.approx((true**3).sum() / (true**2).sum(), rel=0.04)
    assert found.d43_um == pytest.approx((true**4).sum() / (true**3).sum(), rel=0.04)


def test_dark_droplets_on_a_light_field_are_the_same() -> None:
    picture = drawn(grid([9.0] * 30))
    one, two = find_droplets(picture, UM), find_droplets(1.0 - picture, UM)
    np.testing.assert_allclose(one.diameters_um, two.diameters_um, rtol=0.03)


def test_touching_droplets_are_parted() -> None:
    pairs: list[tuple[float, float, float]] = [
        c
        for i in range(25)
        for c in (
            (46.0 + 110 * (i % 5), 60.0 + 110 * (i // 5), 15.0),
            (74.0 + 110 * (i % 5), 60.0 + 110 * (i // 5), 15.0),
        )
    ]
    found = find_droplets(drawn(pairs), UM)
    assert found.diameters_um.size == 50
    assert found.d50_um == pytest.approx(30 * UM, rel=0.05)


def test_what_the_edge_cuts_and_what_is_too_small_is_counted_and_left_out() -> None:
    circles = [*grid([10.0] * 20), (0.0, 550.0, 18.0), (560.0, 598.0, 18.0), (500.0, 560.0, 1.2)]
    found = find_droplets(drawn(circles), UM)
    assert (found.diameters_um.size, found.at_edge, found.too_small) == (20, 2, 1)
    assert any("cut by the edge" not in note for note in found.notes)
    assert "20 droplets" in str(found)


def test_few_droplets_are_told_to_be_few() -> None:
    assert any("200 and more" in n for n in find_droplets(drawn(grid([9.0] * 10)), UM).notes)
    many = [(15.0 + 30 * (i % 19), 15.0 + 30 * (i // 19), 7.0) for i in range(300)]
    assert not any("200 and more" in n for n in find_droplets(drawn(many), UM).notes)


def test_the_scale_bar_is_measured_light_or_dark() -> None:
    picture = drawn(grid([9.0] * 60), noise=0.02)
    picture[570:576, 430:530] = 1.2
    assert bar_length_px(picture) == 100
    picture[570:576, 430:530] = -0.4
    assert bar_length_px(picture) == 100


def test_no_bar_or_two_of_them_is_said() -> None:
    picture = drawn(grid([9.0] * 20))
    with pytest.raises(ScienceError, match="no bar"):
        bar_length_px(picture)
    picture[570:576, 430:530] = 1.2
    picture[540:546, 430:520] = 1.2
    with pytest.raises(ScienceError, match="bars of 100 and 90"):
        bar_length_px(picture)


@pytest.mark.parametrize(
    ("picture", "words"),
    [
        (np.zeros((20, 20)), "one brightness"),
        (np.zeros((20, 20, 3)), "rows and columns"),
        (np.full((20, 20), np.nan), "without gaps"),
        (drawn([(0.0, 0.0, 40.0)], size=100), "no whole droplet"),
    ],
)
def test_what_is_no_picture_of_droplets_is_refused(picture: Array, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        find_droplets(picture, UM)
