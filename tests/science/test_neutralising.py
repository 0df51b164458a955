"""Base for carbomers, acrylates and fatty acids; acid for fatty amines."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit import tables
from labkit.errors import ScienceError
from labkit.science.acidbase import apparent_acids, neutralise


@pytest.mark.parametrize(
    ("material", "reagent", "aim", "grams_per_gram"),
    # common practice at the bench, parts of reagent for one part of material
    [
        ("Carbomer", "Sodium hydroxide 18 % solution", {"ph": 7.0}, 2.3),
        ("Carbomer", "TEA", {"ph": 7.0}, 1.5),
        ("Carbomer", "L-Arginine", {"ph": 6.0}, 1.15),
        ("Acrylates Copolymer", "Sodium hydroxide 10 % solution", {"ph": 7.0}, 0.35),
        ("Stearamidopropyl Dimethylamine", "Lactic acid 88 %", {"ph": 4.5}, 0.32),
    ],
)
def test_the_band_holds_what_the_bench_uses(
    material: str, reagent: str, aim: dict[str, float], grams_per_gram: float
) -> None:
    answer = neutralise(material, 1.0, reagent, **aim)
    assert answer.low_g <= grams_per_gram <= answer.high_g
    assert answer.low_g <= answer.reagent_g <= answer.high_g


def test_half_neutralised_stearic_acid_by_its_acid_value() -> None:
    # acid value 205 mg KOH/g: 10 g want 10 x 0.205/2 = 1.02 g KOH, 2.28 g as 45 %
    answer = neutralise("Stearic Acid", 10.0, "Potassium hydroxide 45 % solution", degree=0.5)
    assert answer.reagent_g == pytest.approx(10 * 0.205 / 2 / 0.45, rel=0.02)
    assert answer.ph is None
    assert answer.degree == 0.5


def test_a_weak_base_counts_as_used_up_when_a_degree_is_wanted() -> None:
    # 3 g x 3.65 mmol x 0.5 = 5.48 mmol x 149.19 g/mol / 0.99
    answer = neutralise("Stearic Acid", 3.0, "TEA", degree=0.5)
    assert answer.reagent_g == pytest.approx(5.475e-3 * 149.19 / 0.99, rel=0.01)


def test_the_answer_says_that_it_must_be_checked_and_what_can_hurt() -> None:
    answer = neutralise("Carbomer", 2.0, "Caustic soda", ph=6.5)
    assert "check by titration" in answer.words
    assert "apparent" in answer.words
    assert "Caustic" in answer.caution
    assert answer.first_g == pytest.approx(0.75 * answer.low_g)
    assert set(answer.source_ids) <= set(tables.sources())


@settings(max_examples=60, deadline=None)
@given(grams=st.floats(0.01, 1000.0), ph=st.floats(4.5, 7.5), more=st.floats(0.05, 0.5))
def test_more_polymer_or_a_higher_ph_wants_more_base(grams: float, ph: float, more: float) -> None:
    base = "Sodium hydroxide 10 % solution"
    one = neutralise("Carbomer", grams, base, ph=ph)
    assert neutralise("Carbomer", 2 * grams, base, ph=ph).reagent_g == pytest.approx(
        2 * one.reagent_g
    )
    assert neutralise("Carbomer", grams, base, ph=ph + more).reagent_g > one.reagent_g


def test_a_lower_ph_wants_more_acid_for_an_amine() -> None:
    high = neutralise("SAPDMA", 2.0, "Citric acid", ph=6.0).reagent_g
    assert neutralise("SAPDMA", 2.0, "Citric acid", ph=4.0).reagent_g > high


def test_equivalents_follow_from_molar_masses() -> None:
    # stearamidopropyl dimethylamine 368.6 g/mol, stearic acid 284.5, acrylic acid 72.06
    assert apparent_acids()["SAPDMA"].equivalents_mmol_g.value == pytest.approx(
        1000 / 368.6, rel=0.03
    )
    assert apparent_acids()["Stearic acid (triple-pressed)"].equivalents_mmol_g.value == (
        pytest.approx(1000 / 284.5, rel=0.06)
    )
    assert apparent_acids()["Carbomer"].equivalents_mmol_g.high <= 1000 / 72.06 + 0.1


def test_bands_hold_their_typical_value() -> None:
    for one in apparent_acids().values():
        for band in (one.equivalents_mmol_g, one.pka_apparent, one.steepness):
            assert band.low <= band.value <= band.high, one.name


def test_an_acid_for_an_acid_is_refused() -> None:
    with pytest.raises(ScienceError, match="wants a base"):
        neutralise("Carbomer", 1.0, "Citric acid", ph=6.0)
    with pytest.raises(ScienceError, match="wants an acid"):
        neutralise("SAPDMA", 1.0, "Caustic soda", ph=5.0)


def test_a_base_too_weak_for_the_ph_is_refused() -> None:
    with pytest.raises(ScienceError, match="gives next to nothing"):
        neutralise("Carbomer", 1.0, "TEA", ph=10.0)


@pytest.mark.parametrize(
    ("aim", "words"),
    [
        ({}, "neither a pH nor a degree"),
        ({"ph": 6.0, "degree": 0.5}, "both a pH and a degree"),
        ({"ph": 65.0}, "decimal point"),
        ({"ph": math.nan}, "decimal point"),
        ({"degree": 50.0}, r"Write 0\.5"),
        ({"degree": 0.0}, r"Write 0\.5"),
    ],
)
def test_an_unclear_aim_is_refused(aim: dict[str, float], words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        neutralise("Carbomer", 1.0, "Caustic soda", **aim)


@pytest.mark.parametrize("grams", [0.0, -1.0, math.nan])
def test_a_weight_that_is_none_is_refused(grams: float) -> None:
    with pytest.raises(ScienceError, match="More than 0 g"):
        neutralise("Carbomer", grams, "Caustic soda", ph=6.0)


def test_a_material_without_acid_or_amine_value_is_refused() -> None:
    with pytest.raises(ScienceError, match="Near names: Carbomer"):
        neutralise("Carbomere", 1.0, "Caustic soda", ph=6.0)
    with pytest.raises(ScienceError, match="has no acid or amine value"):
        neutralise("Water", 1.0, "Caustic soda", ph=6.0)
