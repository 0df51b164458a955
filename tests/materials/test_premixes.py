"""A formula becomes a material with exact parts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.errors import MaterialError
from labkit.formula import Formula
from labkit.materials import Material, Materials, decompose

MATS = Materials.starter()


@dataclass
class Line:
    material: str
    percent: Decimal


@dataclass
class Recipe:
    name: str
    lines: list[Line]


def recipe(name: str, **shares: str) -> Recipe:
    return Recipe(name, [Line(k.replace("_", " "), Decimal(v)) for k, v in shares.items()])


SLURRY = recipe("Gum in glycerol", Glycerol="90", Xanthan="10")


def test_the_parts_of_a_premix_are_exact_and_in_falling_order() -> None:
    mix = MATS.premix(SLURRY)
    assert [(p.inci, p.low, p.high) for p in mix.constituents] == [
        ("Glycerin", 0.9, 0.9),
        ("Xanthan Gum", 0.1, 0.1),
    ]
    assert mix.inci == "Glycerin (and) Xanthan Gum"
    assert mix.recipe == (("glycerol", 0.9), ("xanthan", 0.1))
    assert mix.functions == ("premix",)


def test_a_formula_of_the_bench_makes_a_premix() -> None:
    """18 % caustic: 18 g of sodium hydroxide made up to 100 g with water."""
    lye = Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Sodium Hydroxide,18")
    mix = MATS.premix(lye, "Lye 18")
    assert {p.inci: p.low for p in mix.constituents} == {"Aqua": 0.82, "Sodium Hydroxide": 0.18}
    reference = MATS["sodium-hydroxide-18-solution"]
    assert dict(mix.acid_base or ()) == pytest.approx(dict(reference.acid_base or ()), rel=1e-5)


def test_date_lot_and_expiry_travel_with_it() -> None:
    mix = MATS.premix(
        SLURRY, "Slurry 7", made_on=date(2026, 3, 1), lot="S7", expires=date(2026, 9, 1)
    )
    assert (mix.name, mix.lot, mix.expires) == ("Slurry 7", "S7", date(2026, 9, 1))
    assert MATS.add(mix).resolve("slurry 7") == mix


def test_a_premix_inside_a_premix_is_taken_apart() -> None:
    more = MATS.add(MATS.premix(SLURRY, "Slurry"))
    outer = more.premix(recipe("Base", Water="80", Slurry="20"))
    assert {p.inci: p.low for p in outer.constituents} == {
        "Aqua": 0.8,
        "Glycerin": pytest.approx(0.18),
        "Xanthan Gum": pytest.approx(0.02),
    }
    whole = decompose([outer]).percent([50.0])
    assert whole.sum() == pytest.approx(50.0)


def test_ranges_of_blends_stay_ranges() -> None:
    lines = [Line("Purified water", Decimal(50)), Line("SLES 28 %", Decimal(50))]
    mix = MATS.premix(Recipe("Wash", lines))
    sles = next(p for p in mix.constituents if p.inci == "Sodium Laureth Sulfate")
    assert sles.low == pytest.approx(0.135)
    assert sles.high == pytest.approx(0.145)


def test_acid_price_caution_and_heat_limit_are_those_of_the_lines() -> None:
    """0.1 g of sodium hydroxide holds 0.1/39.997 mol."""
    lye = MATS.premix(recipe("Lye 10", Water="90", NaOH="10"))
    assert dict(lye.acid_base or ()) == pytest.approx({"Na": 0.1 / 39.997}, rel=1e-4)
    assert lye.price is not None
    assert lye.price.per_kg == pytest.approx(0.9 * 0.05 + 0.1 * 5)
    assert any("goggles" in words for words in lye.hazards)
    assert lye.heat_limit_c == 60.0
    assert lye.heat_sensitive is False
    assert lye.source("price") is not None


def test_what_one_line_does_not_tell_the_premix_does_not_claim() -> None:
    some = MATS.add(name="Own acid", inci="Own Acid", charge="acid")
    mix = some.premix(Recipe("Mix", [Line("Own acid", Decimal(50)), Line("Water", Decimal(50))]))
    assert mix.price is None
    assert mix.acid_base is None
    assert mix.heat_sensitive is None
    assert mix.density_g_ml is None


def test_what_a_natural_oil_holds_is_thinned_with_it() -> None:
    mix = MATS.premix(Recipe("Scent", [Line("Rose oil", Decimal(10)), Line("MCT", Decimal(90))]))
    inner = next(p for p in mix.constituents if p.role == "within")
    assert inner.inci == "Methyl Eugenol"
    assert inner.high == pytest.approx(0.003)
    assert "Methyl Eugenol" not in mix.inci


@settings(deadline=None)
@given(st.lists(st.sampled_from(list(MATS.values())), min_size=1, max_size=8, unique=True))
def test_a_premix_of_anything_is_whole(materials: list[Material]) -> None:
    share = (Decimal(100) / len(materials)).quantize(Decimal("0.0001"))
    lines = [Line(m.name, share) for m in materials]
    lines[0].percent += Decimal(100) - share * len(materials)
    mix = MATS.premix(Recipe("Everything", lines))
    parts = decompose([mix])
    assert parts.typical.sum() == pytest.approx(1.0)
    assert (parts.low <= parts.high + 1e-9).all()


def test_unknown_materials_are_named() -> None:
    with pytest.raises(MaterialError, match="not known: Unobtainium, Moon dust"):
        MATS.premix(Recipe("M", [Line("Unobtainium", Decimal(50)), Line("Moon dust", Decimal(50))]))


def test_an_empty_formula_is_no_premix() -> None:
    with pytest.raises(MaterialError, match="no lines"):
        MATS.premix(Recipe("M", []))


def test_dates_the_wrong_way_round_are_refused() -> None:
    with pytest.raises(MaterialError, match="made on 2026-09-01"):
        MATS.premix(SLURRY, made_on=date(2026, 9, 1), expires=date(2026, 3, 1))
