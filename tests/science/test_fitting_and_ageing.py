"""Least squares, ageing and extrapolation, against certified values and simulation."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import ScienceError
from labkit.science import ageing, fitting, kinetics


def test_quantiles_of_students_t_are_those_of_the_tables() -> None:
    # any table of t: 12.706 (1), 2.571 (5), 1.984 (100), 97.5 %
    for degrees, expected in ((1, 12.706), (5, 2.571), (100, 1.984)):
        assert fitting.t_quantile(0.975, degrees) == pytest.approx(expected, abs=5e-4)


def test_a_straight_line_has_the_textbook_errors() -> None:
    x, y = np.array([1.0, 2.0, 3.0, 4.0]), np.array([2.1, 3.9, 6.2, 7.8])
    fit = fitting.fit_curve(lambda x, a, b: a + b * x, x, y, (0.0, 1.0), ("a", "b"))
    slope = ((x - 2.5) * (y - 5.0)).sum() / 5.0
    error = np.sqrt(((y - 5.0 - slope * (x - 2.5)) ** 2).sum() / 2.0 / 5.0)
    assert fit.parameters["b"] == pytest.approx(slope, rel=1e-14)
    assert fit.standard_errors[1] == pytest.approx(error, rel=1e-12)


@pytest.mark.parametrize("start", [(1.0, 1.0), (100.0, 0.75)])
def test_a_hard_certified_curve_is_met_from_both_of_its_starts(start: tuple[float, float]) -> None:
    # NIST StRD BoxBOD, certified 213.80940889 ± 12.354515176, 0.54723748542 ± 0.10455993237
    x = np.array([1.0, 2.0, 3.0, 5.0, 7.0, 10.0])
    y = np.array([109.0, 149.0, 149.0, 191.0, 213.0, 224.0])
    fit = fitting.fit_curve(lambda x, a, b: a * (1.0 - np.exp(-b * x)), x, y, start, ("a", "b"))
    assert fit.values.tolist() == pytest.approx([213.80940889, 0.54723748542], rel=1e-10)
    assert fit.standard_errors.tolist() == pytest.approx([12.354515176, 0.10455993237], rel=1e-9)


def test_restarts_find_the_deeper_valley() -> None:
    # NIST StRD MGH09: from its far start one descent ends at 9.3e-4, certified 3.0750560385e-4
    x = np.array([4, 2, 1, 0.5, 0.25, 0.167, 0.125, 0.1, 0.0833, 0.0714, 0.0625])
    y = np.array(
        [0.1957, 0.1947, 0.1735, 0.16, 0.0844, 0.0627, 0.0456, 0.0342, 0.0323, 0.0235, 0.0246]
    )
    fit = fitting.fit_curve(
        lambda x, a, b, c, d: a * (x**2 + x * b) / (x**2 + x * c + d),
        x,
        y,
        (25.0, 39.0, 41.5, 39.0),
        ("a", "b", "c", "d"),
        restarts=20,
    )
    assert fit.residual_ss == pytest.approx(3.0750560385e-4, rel=1e-9)


def test_points_that_cannot_tell_parameters_apart_are_refused() -> None:
    x = np.array([1.0, 2.0, 3.0, 4.0])
    with pytest.raises(ScienceError, match="cannot tell the parameters apart"):
        fitting.fit_curve(lambda x, a, b: (a + b) * x, x, 2.0 * x, (1.0, 0.5), ("a", "b"))
    with pytest.raises(ScienceError, match="cannot tell the parameters apart"):
        fitting.fit_curve(lambda x, a, b: a * x + 0.0 * b, x, 2.0 * x, (1.0, 0.5), ("a", "b"))


def test_too_few_points_are_refused() -> None:
    with pytest.raises(ScienceError, match="2 points for 2 parameters"):
        fitting.fit_curve(lambda x, a, b: a + b * x, [1.0, 2.0], [1.0, 2.0], (0, 1), ("a", "b"))


@given(ea=st.floats(20.0, 200.0), low=st.floats(0.0, 30.0), gap=st.floats(1.0, 40.0))
def test_q10_and_energy_are_inverse(ea: float, low: float, gap: float) -> None:
    q10 = float(kinetics.q10_from_energy(ea, low, low + gap))
    if q10 <= 20.0:
        assert kinetics.energy_from_q10(q10, low, low + gap) == pytest.approx(ea)
    ratio = float(kinetics.rate_ratio(ea, low, low + gap))
    assert kinetics.energy_from_two(1.0, low, ratio, low + gap) == pytest.approx(ea)


@given(k=st.floats(1e-4, 1.0), loss=st.floats(0.01, 0.9))
def test_the_time_to_a_loss_loses_that_much(k: float, loss: float) -> None:
    for order, start, unit in (("first", 1.0, 1.0), ("zero", 1.0, 1.0)):
        t = float(kinetics.time_to_loss(k, loss, order))  # type: ignore[arg-type]
        left = float(kinetics.amount_left(start, k, t, order))  # type: ignore[arg-type]
        assert left == pytest.approx((1.0 - loss) * unit)


def test_ninety_days_at_forty_degrees_are_no_two_years() -> None:
    assert kinetics.storage_days(90, 2, 40, 25) == pytest.approx(254.6, abs=0.1)


def _series(rng: np.random.Generator, energy: float) -> tuple[Any, Any, Any]:
    c = np.repeat([40.0, 45.0, 50.0], 6)
    days = np.tile([0.0, 15.0, 30.0, 60.0, 90.0, 120.0], 3)
    k = 0.002 * np.asarray(kinetics.rate_ratio(energy, 45.0, c))
    return days, c, 100.0 * np.exp(-k * days) * (1.0 + 0.03 * rng.standard_normal(c.size))


def test_the_interval_of_a_one_step_fit_covers_the_true_time() -> None:
    # simulated: 40/45/50 °C, six times, 3 %; time to 10 % loss at 25 °C, 95 % interval
    rng, inside, width = np.random.default_rng(11), 0, []
    for _ in range(120):
        energy = rng.uniform(60.0, 110.0)
        fit = ageing.arrhenius_fit(*_series(rng, energy))
        k = 0.002 * float(kinetics.rate_ratio(energy, 45.0, 25.0))
        true = float(kinetics.time_to_loss(k, 0.1))
        _, low, high = fit.time_to_loss(0.1, 25.0)
        inside += low <= true <= high
        width.append(np.log(high / low))
    assert inside / 120 >= 0.90
    assert np.median(width) < 8.0


def test_zero_order_readings_give_their_energy_back() -> None:
    days, c = np.tile([0.0, 30.0, 60.0, 90.0], 3), np.repeat([30.0, 40.0, 50.0], 4)
    loss = 0.05 * np.asarray(kinetics.rate_ratio(70.0, 40.0, c)) * days
    wobble = 0.02 * np.tile([1.0, -1.0, -1.0, 1.0], 3)
    fit = ageing.arrhenius_fit(days, c, 100.0 - loss + wobble, "zero")
    assert fit.energy_kj_mol == pytest.approx(70.0, abs=2.0)
    centre, low, high = fit.time_to_loss(5.0, 25.0)
    assert low < 5.0 / (0.05 * float(kinetics.rate_ratio(70.0, 40.0, 25.0))) < high
    assert low < centre < high


def test_an_unusual_energy_is_pointed_out() -> None:
    line = ageing.arrhenius_line([25, 35, 45, 55], 1e-3 * np.exp([0.0, 0.11, 0.19, 0.31]))
    assert any("outside the usual 40 to 130" in note for note in line.notes)


def test_one_oven_gives_no_arrhenius() -> None:
    with pytest.raises(ScienceError, match=r"one temperature only.*q10_factor"):
        ageing.arrhenius_fit([0, 30, 60, 90], [40] * 4, [100, 98, 96, 94])
    with pytest.raises(ScienceError, match="one temperature only"):
        ageing.arrhenius_line([40, 40, 40], [0.1, 0.11, 0.12])


def test_readings_that_do_not_fall_give_no_rate() -> None:
    with pytest.raises(ScienceError, match="no loss over time"):
        ageing.arrhenius_fit([0, 30, 0, 30], [40, 40, 50, 50], [98.0, 99.0, 98.5, 99.5])


def test_a_rate_is_not_carried_across_a_melting_point() -> None:
    with pytest.raises(ScienceError, match="change of the product at 43 °C"):
        ageing.check_extrapolation([40.0, 45.0, 50.0], 25.0, [43.0])
    ageing.check_extrapolation([40.0, 45.0], 25.0, [62.0])


def test_a_trend_meets_its_limit_as_in_the_textbook_line() -> None:
    t = np.array([0.0, 3.0, 6.0, 9.0, 12.0, 18.0])
    y = np.array([100.2, 99.3, 98.9, 97.8, 97.1, 95.6])
    found = ageing.time_to_limit(t, y, 90.0)
    slope, start = np.polyfit(t, y, 1)
    assert found.point == pytest.approx((90.0 - start) / slope)
    sd, mean = found.residual_sd, t.mean()
    reach = fitting.t_quantile(0.95, 4) * sd
    spread = np.sqrt(1.0 / 6.0 + (found.bound - mean) ** 2 / ((t - mean) ** 2).sum())
    assert start + slope * found.bound - reach * spread == pytest.approx(90.0, abs=1e-6)
    assert any("longest time measured" in note for note in found.notes)


def test_a_rising_reading_meets_an_upper_limit() -> None:
    found = ageing.time_to_limit([0, 1, 2, 3, 4], [5.0, 5.11, 5.19, 5.31, 5.4], 6.0)
    assert 0.0 < found.bound < found.point


def test_a_trend_away_from_the_limit_is_refused() -> None:
    with pytest.raises(ScienceError, match="towards the limit of 90"):
        ageing.time_to_limit([0, 1, 2, 3], [95.0, 95.6, 96.1, 96.4], 90.0)


def test_scatter_up_to_the_limit_is_refused() -> None:
    with pytest.raises(ScienceError, match="scatter that reaches the limit at the start already"):
        ageing.time_to_limit([0, 1, 2, 3], [91.5, 90.2, 91.4, 89.8], 90.0)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: kinetics.cabinet_days(365, 2, 25, 25), "factor of 1: the test is not accelerated"),
        (lambda: kinetics.storage_days(90, 2, 4, 25), "not accelerated"),
        (lambda: kinetics.q10_factor(0.0, 40, 25), "Q10: 0"),
        (lambda: kinetics.q10_from_energy(80.0, 25, 25), "twice the same temperature"),
        (lambda: kinetics.energy_from_two(0.0, 25, 1.0, 35), "Rate constant: 0"),
        (lambda: kinetics.time_to_loss(0.01, 20.0), "A percentage was typed"),
        (lambda: kinetics.amount_left(1.0, 1.0, 1.0, "second"), "'zero' or 'first'"),  # type: ignore[arg-type]
    ],
)
def test_impossible_inputs_are_refused(call: object, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        call()  # type: ignore[operator]
