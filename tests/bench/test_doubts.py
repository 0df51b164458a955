"""Doubtful readings are flagged with a reason and stay where they are."""

from __future__ import annotations

import math

import numpy as np
import pytest

from labkit.bench import Bench
from labkit.bench.doubts import outlier
from labkit.errors import MeasurementError
from labkit.formula import Formula

GEL = Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,5")


def test_the_critical_value_is_the_published_one() -> None:
    # Grubbs' table, two-sided 5 %: n = 5 1.715, n = 10 2.290 (NIST/SEMATECH e-Handbook 1.3.5.17.1
    # gives the formula; values computed there to three decimals)
    for n, critical in ((5, 1.715), (10, 2.290)):
        base = np.array([-1.0, 1.0] * (n // 2) + [0.0] * (n % 2))[: n - 1]

        def ratio(far: float, base: np.ndarray = base) -> float:
            read = np.append(base, far)
            return float((far - read.mean()) / read.std(ddof=1))

        low, high = 1.0, 50.0
        for _ in range(60):
            middle = 0.5 * (low + high)
            if outlier([*base, middle]) is None:
                low = middle
            else:
                high = middle
        assert ratio(high) == pytest.approx(critical, abs=0.002)


def test_good_readings_are_rarely_flagged() -> None:
    rng = np.random.default_rng(2)
    flagged = sum(outlier(list(rng.normal(5.3, 0.05, 5))) is not None for _ in range(4000))
    assert flagged / 4000 == pytest.approx(0.05, abs=0.012)


def test_fewer_than_three_and_equal_readings_are_left_alone() -> None:
    assert outlier([5.3, 9.9]) is None
    assert outlier([5.3, 5.3, 5.3, 5.3]) is None
    with pytest.raises(MeasurementError, match="no number"):
        outlier([5.3, math.nan, 5.3])


def test_a_flag_names_the_reading_and_the_reading_stays(bench: Bench) -> None:
    trial = bench.record(GEL)
    bench.measure(trial, "viscosity", ["20 Pa*s", "20.4 Pa*s", "19.8 Pa*s", "20.1 Pa*s", "41 Pa*s"])
    frame = bench.doubts(trial)
    assert frame.doubt.tolist() == ["41 Pa*s stands apart from the other 4"]
    assert frame.label.tolist() == ["T1"]
    assert len(bench.readings("viscosity")) == 5


@pytest.mark.parametrize(
    ("quantity", "value", "how", "words"),
    [
        ("viscosity", "20 Pa*s", {"torque": "4 %"}, "torque 4 %"),
        ("pH", 5.3, {"calibration": "4.01 and 7.00, slope 88 %"}, "slope 88 %"),
        ("pH", 3.2, {"calibration": "4.01 and 7.00, slope 98 %"}, "outside the buffers"),
        ("pH", 5.3, {"calibration": "7.00"}, "one buffer"),
    ],
)
def test_instruments_outside_their_range_are_flagged(
    bench: Bench, quantity: str, value: object, how: dict[str, str], words: str
) -> None:
    trial = bench.record(GEL)
    reading = bench.measure(trial, quantity, value, **how)
    assert words in bench.doubts().doubt.tolist()[0]
    bench.withdraw(reading, reason="again with a clean electrode")
    assert bench.doubts().empty


def test_a_careful_reading_raises_no_doubt(bench: Bench) -> None:
    trial = bench.record(GEL)
    bench.measure(trial, "pH", 5.3, calibration="4.01 and 7.00 today, slope 98.5 %")
    bench.measure(trial, "viscosity", ["20 Pa*s", "20.4 Pa*s", "19.8 Pa*s"], torque="52 %")
    bench.measure(trial, "appearance", "white, smooth")
    bench.measure(trial, "thickness", "mounds")
    assert bench.doubts().empty
