"""Corrections before bottling: grams, percentages, what fell, and what cannot be saved."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.bench import Bench
from labkit.errors import BriefError, FormulaError, LabkitError, MoveError, ScienceError
from labkit.formula import Brief, Formula
from labkit.materials import Materials
from labkit.plan.correct import TROUBLES, correct
from labkit.plan.correction import Addition, mixed
from labkit.plan.making_up import batch_to_fill, stock_solution

MATS = Materials.starter()
CREAM = Formula.parse(
    """phase,material,percent
A,Aqua,q.s.
A,Glycerin,4
A,Xanthan Gum,0.3
A,Disodium EDTA,0.1
B,Caprylic/Capric Triglyceride,12
B,Cetearyl Alcohol,3
B,Polysorbate 60,2
C,Phenoxyethanol,0.9
C,Parfum,0.4
D,Citric Acid,0.1""",
    name="cream",
)


def test_four_grams_of_water_take_phenoxyethanol_to_0_864_and_0_036_grams_bring_it_back() -> None:
    # the bench's own example, worked by hand: 0.90 x 96/100 = 0.864
    thinner = correct(CREAM, "too thick", MATS, batch="96 g", water="4 g")
    fall = next(f for f in thinner.fell if f.material == "Phenoxyethanol")
    assert fall.after == Decimal("0.8640")
    assert float(fall.restore_g) == pytest.approx(0.036, abs=0.0015)
    assert not fall.weighable
    assert [f.material for f in thinner.fell] == ["Disodium EDTA", "Phenoxyethanol", "Parfum"]


def test_restoring_brings_every_watched_line_back_to_the_grid() -> None:
    thinner = correct(CREAM, "too thick", MATS, batch="96 g", water="4 g").restored()
    assert thinner.fell == ()
    made = thinner.fold("cream, thinner")
    for name, share in (("Disodium EDTA", 0.1), ("Phenoxyethanol", 0.9), ("Parfum", 0.4)):
        assert float(made.lines[made.find(name)].percent) == pytest.approx(share, abs=2e-4)
    assert made.total == 100
    assert made.name == "cream, thinner"


def test_xanthan_to_0_45_asks_for_0_1447_grams() -> None:
    thicker = correct(CREAM, "too thin", MATS, batch="96 g", material="xanthan gum", to="0.45 %")
    assert thicker.additions[0].grams == Decimal("0.1447")
    assert "Pre-wet" in " ".join(thicker.steps)


def test_a_titrated_sample_scales_to_the_batch_and_the_acid_goes_on_the_label() -> None:
    # 0.18 g of 20 % on 10 g: 1.557 g for 86.5 g, of which 0.311 g is acid
    lower = correct(
        CREAM,
        "pH high",
        MATS,
        batch="86.5 g",
        material="Citric Acid",
        strength="20 %",
        sample="10 g",
        dose="0.18 g",
    )
    assert lower.additions[0].grams == Decimal("1.56")
    acid = lower.after.lines[lower.after.find("Citric Acid")].percent
    assert float(acid) == pytest.approx((0.0865 + 0.312) / 88.06 * 100, abs=1e-4)
    water = lower.after.lines[0].percent * lower.mass_after_g / 100
    assert float(water) == pytest.approx(0.772 * 86.5 + 0.8 * 1.56, abs=1e-3)
    assert any("add 1.17 g" in step for step in lower.steps)
    assert "goggles" in lower.steps[0]


def test_a_caustic_stock_says_its_cautions_first() -> None:
    up = correct(
        CREAM,
        "pH low",
        MATS,
        material="Sodium hydroxide 10 % solution",
        sample="10 g",
        dose="0.1 g",
    )
    assert "goggles" in " ".join(up.steps[:2])


def test_steam_is_replaced_and_what_happens_otherwise_is_shown() -> None:
    lost = correct(CREAM, "evaporated", MATS, batch="100 g", vessel="212.4 g", gross="307.15 g")
    assert str(lost.additions[0]) == "5.25 g Aqua"
    assert [x.percent for x in lost.after.lines] == [x.percent for x in CREAM.lines]
    assert float(lost.before.lines[1].percent) == pytest.approx(4 / 0.9475, abs=1e-4)
    assert lost.fell == ()


def test_an_overpoured_line_brings_the_rest_up() -> None:
    more = correct(CREAM, "overpoured", MATS, material="Cetearyl Alcohol", by="0.30 g")
    assert float(more.mass_after_g) == pytest.approx(110.0, abs=0.02)
    for a, b in zip(more.after.lines, CREAM.lines, strict=True):
        assert float(a.percent) == pytest.approx(float(b.percent), abs=0.006)


def test_an_overpour_beyond_the_vessel_cannot_be_saved() -> None:
    much = correct(CREAM, "overpoured", MATS, material="Glycerin", by="2 g", room="120 g")
    assert not much.possible
    assert "150 g" in much.why
    assert "cannot be saved" in str(much)
    with pytest.raises(FormulaError, match="cannot be saved by an addition"):
        much.fold()


def test_a_forgotten_line_goes_in_at_its_planned_share() -> None:
    late = correct(CREAM, "forgotten", MATS, batch="99.1 g", material="phenoxyethanol")
    assert late.additions[0].grams == Decimal("0.90")
    assert late.before.lines[late.before.find("Phenoxyethanol")].percent == 0
    assert late.after == CREAM


def test_a_percentage_cannot_be_lowered_by_adding_the_same_material() -> None:
    lower = correct(CREAM, "too little", MATS, material="Phenoxyethanol", to="0.6 %")
    assert not lower.possible
    assert "cannot lower its own percentage" in lower.why


def test_a_stock_not_stronger_than_the_target_is_refused() -> None:
    with pytest.raises(ScienceError, match="not stronger than the target"):
        correct(CREAM, "too little", MATS, material="Xanthan Gum", to="5 %", strength="5 %")


def test_a_scent_stops_at_the_suppliers_limit() -> None:
    over = correct(CREAM, "weak scent", MATS, material="Parfum", to="0.9 %", ceiling="0.8 %")
    assert not over.possible
    assert "0.80 %" in over.why
    unknown = correct(CREAM, "weak scent", MATS, material="Parfum", to="0.7 %")
    assert "certificate" in unknown.steps[0]


def test_a_split_batch_is_not_glued_and_names_what_to_look_at() -> None:
    clash = CREAM.add("Behentrimonium Chloride", 2).add("Sodium Laureth Sulfate", 5)
    gone = correct(clash, "curdled", MATS)
    assert not gone.possible
    assert gone.findings.stops
    assert "No more emulsifier" in str(gone)


def test_too_much_is_diluted_and_the_rest_restored_while_there_is_room() -> None:
    less = correct(CREAM, "too much", MATS, material="Glycerin", to="3.6 %")
    assert float(less.after.lines[1].percent) == pytest.approx(3.6, abs=0.005)
    assert not correct(CREAM, "too much", MATS, material="Glycerin", to="1 %").possible


def test_raising_a_preservative_over_the_legal_limit_is_a_new_finding() -> None:
    over = correct(
        CREAM,
        "too little",
        MATS,
        material="Phenoxyethanol",
        to="1.4 %",
        brief=Brief(product="hand cream"),
    )
    assert over.findings.stops
    assert not correct(CREAM, "too thick", MATS, water="1 g").findings.stops


def test_a_new_material_gets_a_line_of_its_own() -> None:
    scented = correct(CREAM, "too little", MATS, material="Tocopherol", to="0.2 %")
    assert scented.after.lines[-1].material == "Tocopherol"
    assert scented.after.total == 100


def test_a_correction_is_a_record_with_grams_readings_and_the_new_formula(tmp_path: Path) -> None:
    with Bench.open(tmp_path) as bench:
        trial = bench.record(CREAM)
        fix = correct(trial, "too thick", MATS, batch="96 g", water="4 g").restored()
        record = fix.record(bench, trial, before={"ph": "5.10"}, decided_by="bench 3")
        assert record.body["additions"][0]["grams"] == "4"
        assert record.body["before"] == {"ph": "5.10"}
        assert "bench 3" in record.body["note"]
        following = bench.record(fix.fold(), parent=trial)
        assert Formula.from_dict(dict(record.body["formula"])) == following.formula
        assert bench.verify().ok


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 9), st.integers(1, 2000)), min_size=1, max_size=5),
    st.integers(2000, 50000),
)
def test_mass_is_neither_made_nor_lost(adds: list[tuple[int, int]], mass: int) -> None:
    size = Decimal(mass) / 100
    extra = [Addition(material=CREAM.lines[i].material, grams=Decimal(g) / 1000) for i, g in adds]
    after = mixed(CREAM, size, extra, MATS)
    whole = Fraction(size) + sum(Fraction(x.grams) for x in extra)
    assert after.total == 100
    for i, line in enumerate(CREAM.lines):
        grams = Fraction(line.percent) * Fraction(size) / 100
        grams += sum((Fraction(x.grams) for x in extra if x.material == line.material), Fraction(0))
        assert abs(Fraction(after.lines[i].percent) - 100 * grams / whole) <= Fraction(1, 10_000)


@pytest.mark.parametrize(
    ("kind", "call", "words"),
    [
        (BriefError, {"trouble": "sticky"}, "Another word for the trouble"),
        (BriefError, {"trouble": "too thick"}, "no water="),
        (BriefError, {"trouble": "too thin", "to": "1 %"}, "Xanthan Gum or Cetearyl"),
        (BriefError, {"trouble": "too thick", "water": "4 g", "dose": "1 g"}, "dose"),
        (MoveError, {"trouble": "forgotten", "material": "Squalane"}, "no line"),
        (
            FormulaError,
            {"trouble": "evaporated", "vessel": "10 g", "gross": "20 g"},
            "than the water",
        ),
        (LabkitError, {"trouble": "too thick", "water": "a little"}, "water"),
        (LabkitError, {"trouble": "too thick", "water": "4 mL"}, "mass"),
    ],
)
def test_what_cannot_be_worked_out_is_said(
    kind: type[LabkitError], call: dict[str, Any], words: str
) -> None:
    asked = dict(call)
    with pytest.raises(kind, match=words):
        correct(CREAM, asked.pop("trouble"), MATS, **asked)


def test_every_trouble_has_a_case() -> None:
    assert len(TROUBLES) == 13
    for trouble in ("split", "air"):
        assert correct(CREAM, trouble, MATS).after == CREAM


def test_a_formula_of_one_line_cannot_have_forgotten_it() -> None:
    with pytest.raises(ScienceError, match="all of the formula"):
        correct(Formula.parse("phase,material,percent\nA,Aqua,100"), "forgotten", material="Aqua")


def test_a_stock_is_a_formula_and_becomes_a_material() -> None:
    stock = stock_solution("Citric acid", "20 %")
    assert [str(g) for g in stock.grams("50 g", "0.01 g")] == ["10.00", "40.00"]
    known = MATS.add(MATS.premix(stock, lot="S-1")) if hasattr(MATS, "premix") else MATS
    assert known.resolve("Citric acid 20 % stock") is not None
    for strength in ("0", "100"):
        with pytest.raises(FormulaError, match="Above 0 and below 100"):
            stock_solution("Citric acid", strength)


def test_the_batch_covers_the_fill_after_its_loss() -> None:
    assert float(batch_to_fill("50 g", 10, "5 %")) * 0.95 >= 500
    with pytest.raises(FormulaError, match="One unit or more"):
        batch_to_fill("50 g", 0)
