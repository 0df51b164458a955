from __future__ import annotations

import numpy as np
import pytest

from labkit.learning.chemistry import ChargeTable
from labkit.learning.learner import charge_table
from labkit.learning.ph import PH_GRID, RESIDUAL, fit_empirical, fit_engine, invert
from labkit.materials import Materials
from labkit.science.acidbase import solve_ph

NAMES = ("Aqua", "Citric Acid", "Sodium Benzoate", "Sodium Hydroxide")
WORDS = ("water", "acid", "preservative salt", "base")


@pytest.fixture(scope="module")
def table() -> ChargeTable:
    made = charge_table(NAMES, WORDS, Materials.starter())
    assert made is not None
    return made


def percents(acid: list[float], base: float = 0.0) -> np.ndarray:
    return np.array([[100 - a - 0.5 - base, a, 0.5, base] for a in acid])


def test_the_inverted_curve_gives_the_ph_of_a_direct_solve(table: ChargeTable) -> None:
    """Two ways to one number: the curve on the grid, and the charge balance solved directly."""
    percent = percents([0.05, 0.1, 0.3, 0.6], 0.02)
    charge, polyacid = table.curves(percent)
    assert polyacid is None
    got = invert(charge, np.array([0.0]))[:, 0]
    water = percent[:, 0] / 1000.0
    molal = percent @ table.per_percent / (water[:, None] * 10.0)
    expected = [solve_ph(dict(zip(table.system.names, row, strict=True))) for row in molal]
    assert got == pytest.approx(expected, abs=0.02)


def test_more_acid_never_raises_and_more_base_never_lowers_the_ph(table: ChargeTable) -> None:
    acid = invert(table.curves(percents([0.02, 0.1, 0.2, 0.5]))[0], np.zeros(1))[:, 0]
    assert (np.diff(acid) < 0).all()
    base = [invert(table.curves(percents([0.2], b))[0], np.zeros(1))[0, 0] for b in (0, 0.05, 0.1)]
    assert (np.diff(base) > 0).all()


def test_a_positive_residual_charge_raises_the_ph(table: ChargeTable) -> None:
    found = invert(table.curves(percents([0.1]))[0], RESIDUAL)[0]
    assert (np.diff(found) > 0).all()


def test_curves_of_many_rows_are_those_of_each_row(table: ChargeTable) -> None:
    percent = percents([0.05, 0.2, 0.4])
    whole = table.curves(percent)[0]
    assert whole.shape == (3, PH_GRID.size)
    each = np.concatenate([table.curves(row[None])[0] for row in percent])
    assert whole == pytest.approx(each, abs=1e-12)


def test_a_meter_that_reads_high_is_learned(table: ChargeTable) -> None:
    percent = percents([0.05, 0.1, 0.2, 0.4])
    engine = invert(table.curves(percent)[0], np.zeros(1))[:, 0]
    model = fit_engine(table, percent, engine + 0.15)
    new = percents([0.3])
    expected = invert(table.curves(new)[0], np.zeros(1))[0, 0] + 0.15
    band = model.predict(new).quantile(np.array([0.1, 0.5, 0.9]))[0]
    assert band[1] == pytest.approx(expected, abs=0.04)
    assert band[0] < expected < band[2]


def test_a_blunder_on_the_meter_hardly_moves_the_rest(table: ChargeTable) -> None:
    percent = percents([0.05, 0.08, 0.12, 0.2, 0.3, 0.4])
    engine = invert(table.curves(percent)[0], np.zeros(1))[:, 0]
    read = engine.copy()
    read[3] += 1.5
    model = fit_engine(table, percent, read)
    median = model.predict(percent).quantile(np.array([0.5]))[:, 0]
    assert np.delete(median - engine, 3) == pytest.approx(0.0, abs=0.12)


def test_before_any_reading_the_band_is_wide(table: ChargeTable) -> None:
    none = fit_engine(table, np.zeros((0, 4)), np.zeros(0)).predict(percents([0.1]))
    some = fit_engine(
        table,
        percents([0.1, 0.2]),
        invert(table.curves(percents([0.1, 0.2]))[0], np.zeros(1))[:, 0],
    ).predict(percents([0.1]))
    ends = np.array([0.1, 0.9])
    assert np.ptp(none.quantile(ends)[0]) > 1.5 * np.ptp(some.quantile(ends)[0])


def test_a_base_without_known_chemistry_is_learned_from_the_readings_alone() -> None:
    words = ("water", "acid", "base", "humectant")
    base = [0.1, 0.2, 0.4, 0.3, 0.15, 0.25]
    percent = np.array([[95 - b, 0.5, b, 4.5] for b in base])
    ph = 5.0 + 1.2 * np.log10(np.array(base) / 0.1)
    model = fit_empirical(words, percent, ph, percent[0])
    got = model.predict(np.array([[94.65, 0.5, 0.35, 4.5]])).quantile(np.array([0.5]))[0, 0]
    assert got == pytest.approx(5.0 + 1.2 * np.log10(3.5), abs=0.15)
    assert charge_table(("Aqua", "Mystery alkali"), ("water", "base"), Materials.starter()) is None


def test_a_polyacid_counts_as_an_acid_that_resists() -> None:
    names, words = ("Aqua", "Carbomer", "Sodium Hydroxide"), ("water", "polyacid", "base")
    table = charge_table(names, words, Materials.starter())
    assert table is not None
    with_it, without = np.array([[99.4, 0.5, 0.1]]), np.array([[99.9, 0.0, 0.1]])
    charge, polyacid = table.curves(np.concatenate([with_it, without]))
    assert polyacid is not None
    ph = invert(charge + polyacid, np.zeros(1))[:, 0]
    assert ph[0] < 8 < 11 < ph[1]
