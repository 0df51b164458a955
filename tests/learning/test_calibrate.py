from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from labkit.bench import Bench
from labkit.errors import MeasurementError
from labkit.formula.model import Formula
from labkit.learning.calibrate import Forecast, calibrate, interval_score, pit, surprise
from labkit.learning.posterior import Mixture
from labkit.learning.track import stored_forecasts, track
from tests.learning.palette import FUNCTIONS
from tests.learning.simulator import series


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


def test_surprise_across_iterations_is_about_one_and_uses_the_past_only() -> None:
    surprises, places = [], []
    for seed in range(650, 662):
        frame = series(seed, "plain", 12)
        words = {n: w for n, w in FUNCTIONS.items() if n in frame}
        found = track(frame, functions=words)
        assert [t.trial for t in found] == list(range(4, 13))
        shorter = track(frame.iloc[:8], functions=words)
        for a, b in zip(found, shorter, strict=False):
            assert (a.trial, a.value) == (b.trial, b.value)
            assert (a.median, a.surprise) == pytest.approx((b.median, b.surprise), abs=1e-9)
        surprises += [t.surprise for t in found]
        places += [t.place for t in found]
    assert 0.6 < np.std(surprises) < 1.4
    assert 0.35 < np.mean(places) < 0.65
    told = calibrate([t.forecast for t in found])
    assert told[0].forecasts == len(found)


def test_surprise_of_what_was_never_measured_is_refused() -> None:
    with pytest.raises(MeasurementError, match="no drain_s measured"):
        track(series(650, "plain", 5), "drain_s")


def test_forecasts_stored_before_the_result_are_scored_after_it(tmp_path: Path) -> None:
    bench = Bench.open(tmp_path / "bench.db")
    gel = Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Xanthan Gum,0.5")
    told = {"pH": (4.9, 5.7), "viscosity": {"low": 18, "high": 30, "unit": "Pa*s", "level": 0.8}}
    trial = bench.record(gel, forecast=told)
    bench.measure(trial, "pH", "5.31", temperature="25 °C", dilution="neat")
    bench.measure(trial, "viscosity", ["35 Pa*s", "33 Pa*s"], spindle="no. 4", speed="20 rpm")
    bench.record(gel.move("Xanthan Gum", "0.6 %"), forecast={"pH": (5.0, 5.5)})
    found = {s.quantity: s.forecast for s in stored_forecasts(bench)}
    assert set(found) == {"pH", "viscosity"}
    assert found["pH"].true
    assert not found["viscosity"].true
    assert found["viscosity"].high == pytest.approx(np.log10(30_000))
    assert [c.words for c in calibrate(found.values())] == [
        "of 2 forecasts with an 80 % band, 1 came true"
    ]
