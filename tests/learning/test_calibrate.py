from __future__ import annotations

import numpy as np
import pytest

from labkit.errors import MeasurementError
from labkit.learning.calibrate import Forecast, calibrate, interval_score, pit, surprise
from labkit.learning.posterior import Mixture


def stored(values: list[float], level: float = 0.8) -> list[Forecast]:
    return [Forecast(low=-1.0, high=1.0, level=level, value=v) for v in values]


def test_the_count_is_told_in_words() -> None:
    found = calibrate(stored([0.0] * 11 + [2.0] * 3))[0]
    assert found.words == "of 14 forecasts with an 80 % band, 11 came true"
    assert found.verdict == "as sure as it should be"


def test_bands_that_are_too_narrow_or_too_wide_are_called_so() -> None:
    assert calibrate(stored([2.0] * 10 + [0.0] * 10))[0].verdict == "too sure"
    assert calibrate(stored([0.0] * 40))[0].verdict == "too unsure"
    assert calibrate(stored([0.0] * 3))[0].verdict == "too few to tell"


def test_levels_are_scored_apart() -> None:
    found = calibrate(stored([0.0] * 3) + stored([0.0] * 4, 0.95))
    assert [(c.level, c.forecasts) for c in found] == [(0.8, 3), (0.95, 4)]


def test_the_interval_score_of_arrays_is_that_of_elements() -> None:
    low, high, y = np.array([0.0, 0, 0]), np.array([1.0, 2, 1]), np.array([0.5, 3, -1])
    each = [float(interval_score(a, b, c, 0.95)) for a, b, c in zip(low, high, y, strict=True)]
    assert interval_score(low, high, y, 0.95).tolist() == pytest.approx(each)
    assert each == pytest.approx([1.0, 42.0, 41.0])


def test_results_drawn_from_the_forecast_are_uniform_in_it_and_surprise_little() -> None:
    rng = np.random.default_rng(8)
    n = 4000
    mean = rng.normal(size=(n, 2))
    mixture = Mixture(weight=np.full((n, 2), 0.5), mean=mean, sd=np.full((n, 2), 0.3))
    value = np.where(rng.random(n) < 0.5, mean[:, 0], mean[:, 1]) + 0.3 * rng.normal(size=n)
    places = pit(mixture, value)
    assert np.histogram(places, 10, (0, 1))[0] == pytest.approx(n / 10, abs=5 * np.sqrt(n / 10))
    assert surprise(mixture, value).std() == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize(("low", "high", "level"), [(1.0, 0.0, 0.8), (0.0, 1.0, 80.0)])
def test_bands_that_are_none_are_refused(low: float, high: float, level: float) -> None:
    with pytest.raises(MeasurementError, match="level between 0 and 1"):
        calibrate([Forecast(low=low, high=high, level=level, value=0.5)])
