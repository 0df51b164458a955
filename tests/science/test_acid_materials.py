"""Hydrates, salts and solutions against molar masses worked out from the formula."""

from __future__ import annotations

import math
import re

import pytest

from labkit import tables
from labkit.errors import ScienceError
from labkit.science.acid_constants import shipped_components
from labkit.science.acidbase import acid_material, acid_materials, solve_ph, totals_from_grams

# Standard atomic weights 2021, abridged (IUPAC)
WEIGHTS = {"H": 1.008, "B": 10.81, "C": 12.011, "N": 14.007, "O": 15.999, "Na": 22.990,
           "Mg": 24.305, "P": 30.974, "S": 32.06, "Cl": 35.45, "K": 39.098, "Ca": 40.078,
           "Zn": 65.38}  # fmt: skip


def _molar_mass(formula: str) -> float:
    total = 0.0
    for part in formula.split("·"):
        count, rest = re.fullmatch(r"(\d*)(.*)", part).groups()  # type: ignore[union-attr]
        mass = sum(
            WEIGHTS[atom] * int(number or 1)
            for atom, number in re.findall(r"([A-Z][a-z]?)(\d*)", rest)
        )
        total += int(count or 1) * mass
    return total


def test_every_row_follows_from_its_formula_count_and_strength() -> None:
    for row in tables.rows("acid_base_materials"):
        mass = _molar_mass(str(row["formula"]))
        assert float(str(row["molar_mass_g_mol"])) == pytest.approx(mass, abs=2e-3), row
        stated = float(str(row["mol_per_g"]))
        by_hand = float(str(row["count"])) * float(str(row["strength"])) / mass
        assert stated == pytest.approx(by_hand, rel=1e-4), row


@pytest.mark.parametrize(
    ("name", "molar_mass"),
    # Merck Index and CRC Handbook, molar masses, from memory
    [
        ("Citric acid", 192.12),
        ("Citric acid monohydrate", 210.14),
        ("Trisodium citrate dihydrate", 294.10),
        ("EDTA disodium dihydrate", 372.24),
        ("EDTA tetrasodium", 380.17),
        ("Sodium benzoate", 144.10),
        ("Potassium sorbate", 150.22),
        ("Ascorbic acid 2-glucoside", 338.26),
        ("L-Arginine", 174.20),
        ("Tris", 121.14),
        ("Borax", 381.37),
        ("Vitamin B3 amide", 122.12),
    ],
)
def test_molar_masses_are_the_handbook_values(name: str, molar_mass: float) -> None:
    rows = [row for row in tables.rows("acid_base_materials") if row["material"] == name]
    assert float(str(rows[0]["molar_mass_g_mol"])) == pytest.approx(molar_mass, abs=0.02)


def test_every_component_is_known_and_every_source_named() -> None:
    known = tables.sources()
    for row in tables.rows("acid_base_materials"):
        assert row["component"] in shipped_components(), row
        assert row["source_id"] in known, row
    for row in tables.rows("acid_base_apparent"):
        assert row["source_id"] in known, row


def test_every_salt_can_be_neutral() -> None:
    """Between no acid proton and all of them the charge of a material passes through zero."""
    free = {"Sodium Hydroxide", "Potassium Hydroxide", "Hydrochloric Acid"}  # OH and H are water's
    for material in acid_materials().values():
        parts = [(amount, shipped_components()[n]) for n, amount in material.contents.items()]
        least = sum(amount * part.charge for amount, part in parts)
        most = sum(amount * (part.charge + len(part.pka25)) for amount, part in parts)
        assert material.inci in free or least - 1e-8 <= 0.0 <= most + 1e-8, material.name


def test_hydrate_and_anhydrous_acid_give_the_same_water_phase() -> None:
    dry = totals_from_grams({"Citric acid": 1.0}, 100.0)
    wet = totals_from_grams(
        {"Citric acid monohydrate": 210.138 / 192.123}, 100.0 - 18.015 / 192.123
    )
    assert wet["citrate"] == pytest.approx(dry["citrate"], rel=1e-4)


def test_the_water_of_a_solution_joins_the_water() -> None:
    solution = totals_from_grams({"Sodium hydroxide 10 % solution": 10.0}, 91.0)
    assert solution["Na"] == pytest.approx(10.0 * 0.1 / 39.997 / 0.1, rel=1e-4)


@pytest.mark.parametrize(
    ("grams", "low", "high"),
    # pH of 1 % solutions as data sheets print it, from memory
    [
        ({"Citric acid": 1.0}, 2.1, 2.4),
        ({"Trisodium citrate dihydrate": 1.0}, 7.5, 9.2),
        ({"EDTA disodium dihydrate": 1.0}, 4.0, 5.5),
        ({"EDTA tetrasodium": 1.0}, 10.5, 11.8),
        ({"Baking soda": 1.0}, 8.0, 8.6),
        ({"Borax": 1.0}, 9.0, 9.4),
        ({"Tris": 1.0}, 10.0, 10.8),
        ({"TEA": 1.0}, 9.8, 10.7),
        ({"L-Arginine": 1.0}, 10.3, 11.3),
        ({"SAP": 1.0}, 8.5, 10.5),
        ({"Sodium benzoate": 1.0}, 7.0, 8.8),
        ({"Vitamin C": 1.0}, 2.5, 3.0),
        ({"Ascorbic acid 2-glucoside": 1.0}, 2.0, 2.6),
    ],
    ids=lambda value: next(iter(value)) if isinstance(value, dict) else str(value),
)
def test_one_per_cent_solutions_have_the_ph_of_the_data_sheets(
    grams: dict[str, float], low: float, high: float
) -> None:
    assert low <= float(solve_ph(totals_from_grams(grams, 99.0))) <= high


@pytest.mark.parametrize(
    ("grams", "water_g", "low", "high"),
    [
        # carbomer dispersions of 0.2 to 0.5 %: pH 2.8 to 3.3, supplier sheets, from memory
        ({"Carbomer": 0.2}, 99.8, 2.8, 3.35),
        ({"Carbomer": 0.5}, 99.5, 2.8, 3.3),
        # a stearate cream and an acidified conditioner: common practice
        ({"Stearic acid (triple-pressed)": 3.0, "TEA": 0.9}, 80.0, 7.4, 8.5),
        ({"SAPDMA": 2.0, "Lactic acid 88 %": 0.7}, 90.0, 3.8, 4.8),
    ],
    ids=["carbomer 0.2 %", "carbomer 0.5 %", "stearate cream", "amidoamine conditioner"],
)
def test_apparent_constants_give_the_ph_seen_at_the_bench(
    grams: dict[str, float], water_g: float, low: float, high: float
) -> None:
    assert low <= float(solve_ph(totals_from_grams(grams, water_g))) <= high


def test_an_inci_name_of_one_grade_is_enough_and_of_several_is_refused() -> None:
    assert acid_material("Sodium Benzoate").name == "Sodium benzoate"
    with pytest.raises(ScienceError, match=r"comes in \d grades.*Name the grade on the label"):
        acid_material("Triethanolamine")


def test_an_unknown_material_is_refused_with_near_names() -> None:
    with pytest.raises(ScienceError, match="Near names: .*Sorbic"):
        acid_material("Sorbik acid")


def test_impossible_weights_are_refused() -> None:
    with pytest.raises(ScienceError, match="A weight is 0 g or more"):
        totals_from_grams({"Citric acid": -1.0}, 100.0)
    with pytest.raises(ScienceError, match="A weight is 0 g or more"):
        totals_from_grams({"Citric acid": 1.0}, math.nan)
    with pytest.raises(ScienceError, match="0 g of water"):
        totals_from_grams({"Citric acid": 1.0}, 0.0)
