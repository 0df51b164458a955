"""pH of mixtures: closed forms, species, charge, refusals in words."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from labkit.errors import ScienceError
from labkit.science.acidbase import (
    Solution,
    charge,
    compile_system,
    solve_ph,
    undissociated_fraction,
    water_pkw,
)

SIX = {"citrate": 0.02, "lactate": 0.03, "benzoate": 0.035, "sorbate": 0.01, "phosphate": 0.01,
       "gluconate": 0.02, "Na": 0.08}  # fmt: skip


def test_pure_water_is_half_its_ionisation() -> None:
    assert solve_ph({}) == pytest.approx(water_pkw(25.0) / 2, abs=1e-9)
    assert solve_ph({}, temperature_c=60.0) == pytest.approx(water_pkw(60.0) / 2, abs=1e-9)


def test_ideal_weak_acid_is_the_closed_form() -> None:
    # h² + K h - K C = 0 (water neglected), K = 10^-4.756, C = 0.1
    k, c = 10**-4.756, 0.1
    h = (-k + math.sqrt(k * k + 4 * k * c)) / 2
    assert solve_ph({"acetate": c}, activity="ideal") == pytest.approx(-math.log10(h), abs=1e-6)


def test_ideal_strong_acid_and_base_are_their_amounts() -> None:
    assert solve_ph({"Cl": 0.01}, activity="ideal") == pytest.approx(2.0, abs=1e-9)
    assert solve_ph({"Na": 0.01}, activity="ideal") == pytest.approx(
        water_pkw(25.0) - 2.0, abs=1e-9
    )


def test_neutral_salt_leaves_water_neutral() -> None:
    d = 0.511 * (math.sqrt(0.1) / (1 + math.sqrt(0.1)) - 0.03)
    assert solve_ph({"Na": 0.1, "Cl": 0.1}) == pytest.approx(water_pkw(25.0) / 2, abs=1e-6)
    detail = solve_ph({"Na": 0.1, "Cl": 0.1}, detail=True)
    assert detail.ionic_strength == pytest.approx(0.1, abs=1e-5)
    assert d > 0


def test_species_add_up_and_balance_the_charge() -> None:
    found = solve_ph(SIX, detail=True)
    assert isinstance(found, Solution)
    for name, amounts in found.species.items():
        assert amounts.sum() == pytest.approx(SIX[name], rel=1e-12)
        assert len(found.charges[name]) == len(amounts)
    carried = sum(
        float(amounts @ np.array(found.charges[name])) for name, amounts in found.species.items()
    )
    assert carried + SIX["Na"] == pytest.approx(0.0, abs=1e-3)
    assert found.ph_half_width == pytest.approx(0.03, abs=0.02)


def test_an_ampholyte_rests_near_its_isoelectric_point() -> None:
    # glycine: mean of its two constants, 2.35 and 9.778 (minteq.v4.dat)
    assert solve_ph({"glycine": 0.5}, activity="ideal") == pytest.approx(6.07, abs=0.02)


@pytest.mark.parametrize("level", [0.0, 25.0, 100.0])
@pytest.mark.parametrize("name", ["Na", "Cl", "phytate", "triethanolamine"])
def test_the_strongest_and_the_faintest_solutions_still_solve(name: str, level: float) -> None:
    amounts = [20.0, 1e-12, 5e-324, 0.0]
    found = solve_ph({name: amounts}, temperature_c=level)
    assert np.all(np.isfinite(found))
    for index, amount in enumerate(amounts):
        single = solve_ph({name: amount}, temperature_c=level)
        assert single == pytest.approx(found[index], abs=1e-9)  # type: ignore[index]
    assert found[-1] == pytest.approx(water_pkw(level) / 2, abs=1e-9)  # type: ignore[index]


def test_a_table_without_components_is_water() -> None:
    assert np.allclose(compile_system([]).solve(np.zeros((3, 0))), solve_ph({}))


def test_a_component_may_be_charged_on_both_sides_or_carry_twelve_protons() -> None:
    assert 0.5 < float(solve_ph({"phytate": 0.02})) < 2.0
    assert 9.5 < float(solve_ph({"phytate": 0.02, "Na": 0.24})) < 13.0


def test_arrays_keep_their_shape_and_give_the_single_values() -> None:
    sodium = np.linspace(0.0, 0.2, 6).reshape(2, 3)
    together = solve_ph({"citrate": 0.05, "Na": sodium})
    assert isinstance(together, np.ndarray)
    assert together.shape == (2, 3)
    for index, amount in np.ndenumerate(sodium):
        single = solve_ph({"citrate": 0.05, "Na": float(amount)})
        assert isinstance(single, float)
        assert together[index] == pytest.approx(single, abs=1e-9)


def test_temperatures_may_be_an_array_too() -> None:
    levels = np.array([15.0, 25.0, 40.0])
    together = solve_ph({"tromethamine": 0.05, "Cl": [[0.02], [0.03]]}, temperature_c=levels)
    assert isinstance(together, np.ndarray)
    assert together.shape == (2, 3)
    assert together[1, 2] == pytest.approx(
        float(solve_ph({"tromethamine": 0.05, "Cl": 0.03}, temperature_c=40.0)), abs=1e-9
    )


def test_an_empty_array_gives_an_empty_answer() -> None:
    assert np.shape(solve_ph({"citrate": np.zeros((0, 4))})) == (0, 4)


def test_detail_of_an_array_has_the_shape_of_the_totals() -> None:
    found = solve_ph({"citrate": [0.01, 0.05], "Na": 0.02}, detail=True)
    assert np.shape(found.ph) == (2,)
    assert np.shape(found.ionic_strength) == (2,)
    assert found.species["citrate"].shape == (2, 4)


def test_a_compiled_system_gives_the_same_as_the_mapping() -> None:
    system = compile_system(list(SIX))
    rows = np.array([list(SIX.values()), [0.01] * 7])
    assert system.solve(rows)[0] == pytest.approx(solve_ph(SIX), abs=1e-9)  # type: ignore[index]
    assert system.solve(rows[0]) == solve_ph(SIX)


def test_constants_may_be_given_for_a_new_acid() -> None:
    mine = {"mine": {"pKa25": [4.756], "charge_fully_deprotonated": -1}}
    assert solve_ph({"mine": 0.1, "Na": 0.05}, mine) == pytest.approx(
        solve_ph({"acetate": 0.1, "Na": 0.05}), abs=1e-9
    )


def test_a_given_ion_without_constants_of_its_own_is_a_strong_one() -> None:
    ion = {"choline": {"pKa25": [], "charge_fully_deprotonated": 1}}
    assert solve_ph({"choline": 0.01}, ion) == solve_ph({"Na": 0.01})


def test_charge_is_zero_at_the_ph_of_the_mixture_and_falls_with_ph() -> None:
    level = solve_ph(SIX)
    assert charge(level, SIX) == pytest.approx(0.0, abs=1e-10)
    grid = charge(np.linspace(2.0, 12.0, 101), SIX)
    assert isinstance(grid, np.ndarray)
    assert np.all(np.diff(grid) < 0)


def test_charge_is_the_strong_base_that_a_measured_ph_asks_for() -> None:
    missing = -float(charge(6.0, SIX))
    filled = SIX | {"Na": SIX["Na"] + missing}
    assert solve_ph(filled) == pytest.approx(6.0, abs=1e-6)


def test_charge_of_arrays_is_the_single_values() -> None:
    sodium = np.array([[0.0], [0.1]])
    levels = np.array([4.0, 7.0, 9.0])
    together = charge(levels, {"citrate": 0.05, "Na": sodium})
    single = [
        [float(charge(float(p), {"citrate": 0.05, "Na": float(s[0])})) for p in levels]
        for s in sodium
    ]
    assert np.allclose(together, single, atol=1e-12, rtol=0)


@pytest.mark.parametrize(
    ("ph", "ionic_strength", "share"),
    # Henderson-Hasselbalch for benzoic acid pKa 4.20: 13.7 % ideal; about 11 % at I 0.1
    [(5.0, 0.0, 0.137), (5.0, 0.1, 0.110), (4.20, 0.0, 0.5)],
)
def test_undissociated_benzoic_acid(ph: float, ionic_strength: float, share: float) -> None:
    found = undissociated_fraction(ph, 4.20, ionic_strength)
    assert found == pytest.approx(share, abs=5e-4)


def test_undissociated_fraction_agrees_with_the_species_of_the_solver() -> None:
    found = solve_ph({"benzoate": 0.05, "Na": 0.03}, detail=True)
    share = undissociated_fraction(found.ph, 4.202, found.ionic_strength)
    assert found.species["benzoate"][0] / 0.05 == pytest.approx(share, rel=1e-6)


def test_undissociated_fraction_of_an_amine_counts_the_charged_form() -> None:
    found = solve_ph({"tromethamine": 0.05, "Cl": 0.03}, detail=True)
    share = undissociated_fraction(found.ph, 8.072, found.ionic_strength, charge_of_acid=1)
    assert found.species["tromethamine"][0] / 0.05 == pytest.approx(share, rel=1e-6)


def test_undissociated_fraction_of_arrays_is_the_single_values() -> None:
    levels = np.array([3.0, 4.2, 9.0])
    together = undissociated_fraction(levels, 4.2, 0.05)
    assert np.array_equal(
        together, [float(undissociated_fraction(float(p), 4.2, 0.05)) for p in levels]
    )


@pytest.mark.parametrize(
    ("totals", "words"),
    [
        ({"citrate": -0.01}, r"citrate: -0.01 mol/kg.*A sign went wrong"),
        ({"citrate": 25.0}, r"citrate: 25 mol/kg.*Grams or percent"),
        ({"citrate": math.nan}, "citrate: no number"),
        ({"citrate": math.inf}, "citrate: inf mol/kg"),
        ({"citrate": "0.05"}, r"A number in mol per kg water"),
        ({"citrate": None}, r"A number in mol per kg water"),
        ({"citrate": True}, r"A number in mol per kg water"),
        ({"citrate": 1 + 2j}, r"A number in mol per kg water"),
        ({"citrat": 0.05}, r"Near names: citrate"),
        ({"sodium citrate": 0.05}, r"Name the acid part and the ion apart"),
        ({"citrate": 0.05, "Cit": 0.05}, r"name the same component"),
        ({"citrate": [0.05, 0.1], "Na": [0.1, 0.1, 0.1]}, r"arrays that do not fit"),
        ([0.05], r"names with amounts"),
    ],
)
def test_impossible_amounts_are_refused_in_words(totals: Any, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        solve_ph(totals)


@pytest.mark.parametrize("bad", [-1.0, 100.5, math.nan])
def test_a_temperature_outside_liquid_water_is_refused(bad: float) -> None:
    with pytest.raises(ScienceError, match="0 to 100 °C"):
        solve_ph({"citrate": 0.05}, temperature_c=bad)
    with pytest.raises(ScienceError, match="0 to 100 °C"):
        solve_ph({"citrate": 0.05}, temperature_c=[25.0, bad])


def test_detail_of_many_temperatures_is_refused() -> None:
    with pytest.raises(ScienceError, match="One temperature when species are asked for"):
        solve_ph({"citrate": 0.05}, temperature_c=[25.0, 30.0], detail=True)


def test_an_unknown_activity_model_is_refused() -> None:
    with pytest.raises(ScienceError, match="davies, bates-guggenheim or ideal"):
        solve_ph({"citrate": 0.05}, activity="pitzer")


def test_a_matrix_of_the_wrong_width_or_kind_is_refused() -> None:
    system = compile_system(["citrate", "Na"])
    with pytest.raises(ScienceError, match=r"2 columns are expected: citrate, Na"):
        system.solve([[0.1, 0.1, 0.1]])
    with pytest.raises(ScienceError, match="no table of numbers"):
        system.solve([[0.1], [0.1, 0.2]])


@pytest.mark.parametrize("bad", [math.nan, 55.0, -9.0])
def test_a_ph_that_no_solution_has_is_refused(bad: float) -> None:
    with pytest.raises(ScienceError, match="decimal point"):
        charge(bad, SIX)
    with pytest.raises(ScienceError, match="decimal point"):
        undissociated_fraction(bad, 4.2)
    with pytest.raises(ScienceError, match="decimal point"):
        undissociated_fraction([5.0, bad], 4.2)
