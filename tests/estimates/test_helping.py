"""Instead of…, why three humectants, and it split — why?"""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from labkit import tables
from labkit.bench import Bench
from labkit.errors import MaterialError, MeasurementError
from labkit.estimates.alternatives import alternatives, likeness
from labkit.estimates.catalogue import catalogue
from labkit.estimates.check import check
from labkit.estimates.forecast import Forecaster
from labkit.estimates.limits import ceilings
from labkit.estimates.reminders import reminders
from labkit.estimates.roles import roles
from labkit.estimates.rules import rules
from labkit.estimates.triage import questions, triage
from labkit.estimates.weighing import stock_for
from labkit.formula import Brief
from tests.estimates.cases import DAY, formula, materials

CREAM = formula(
    "A: Aqua qs | A: Glycerin 3 | B: Mineral oil 8 | B: Acid-stable GMS 4 | B: Cetyl alcohol 2 | "
    "C: Phenoxyethanol blend 90/10 1"
)
BRIEF = Brief(product="hand cream", as_of=DAY)


# --- instead of -----------------------------------------------------------------------


def test_a_replacement_shares_a_function_and_can_be_tried() -> None:
    for found in alternatives(CREAM, "Mineral oil", materials(), BRIEF, ph=5.5):
        assert "emollient" in found.material.functions
        tried = CREAM.apply(found.move)
        assert tried.total == 100
        assert tried.lines[2].material == found.material.name


def test_what_is_on_the_shelf_comes_first_among_equals() -> None:
    plain = [a.material.key for a in alternatives(CREAM, "Mineral oil", materials(), BRIEF, n=8)]
    last = plain[-1]
    moved = alternatives(CREAM, "Mineral oil", materials(), BRIEF, n=8, in_house=(last,))
    names = [a.material.key for a in moved]
    assert names.index(last) < plain.index(last)
    assert "on the shelf" in moved[names.index(last)].reasons


def test_what_the_brief_excludes_is_not_offered() -> None:
    brief = BRIEF.with_(must_not=("nut", "silicone-free"))
    found = alternatives(CREAM, "Mineral oil", materials(), brief, n=15)
    assert all("nut" not in a.material.allergy for a in found)
    assert all("silicone" not in a.material.groups for a in found)


def test_a_replacement_that_brings_a_stop_sinks_and_says_so() -> None:
    mask = formula("Aqua qs | Behentrimonium Methosulfate 2 | Cetearyl Alcohol 4 | HEC 0.5")
    found = alternatives(mask, "HEC", materials(), Brief(product="hair conditioner"), ph=4.5, n=15)
    clash = [a for a in found if any(f.severity == "stop" for f in a.new)]
    assert all("stop" not in {f.severity for f in a.new} for a in found[:5])
    for a in clash:
        assert found.index(a) >= 5


def test_a_replacement_that_ends_a_stop_rises() -> None:
    wash = formula(
        "Aqua qs | Sodium Laureth Sulfate 30 | Cetrimonium Chloride 3 | Phenoxyethanol 0.9"
    )
    brief = Brief(product="shampoo", as_of=DAY)
    best = alternatives(wash, "Cetrimonium Chloride", materials(), brief, ph=5.5, n=15)
    relieved = [a for a in best if "INC01" in {f.code for f in a.gone}]
    assert relieved
    assert all(a.material.charge != "cationic" or a.material.charge_class != "surfactant"
               for a in relieved)  # fmt: skip


def test_another_strength_names_the_share_of_the_same_active() -> None:
    paste = formula("Aqua qs | SLES 70 % paste 10")
    found = alternatives(paste, "SLES 70 % paste", materials(), Brief(product="shampoo"), n=15)
    weaker = next(a for a in found if a.material.strength == 0.28)
    assert weaker.same_active == pytest.approx(25.0)


def test_what_moves_in_the_forecast_is_told() -> None:
    look = Forecaster(materials(), BRIEF)
    found = alternatives(CREAM, "Mineral oil", materials(), BRIEF, n=15, look=look)
    assert any("cost" in change for a in found for change in a.changes)


def test_likeness_is_highest_for_the_material_itself() -> None:
    mats = materials()
    for key in ("mineral-oil", "acid-stable-gms", "xanthan", "phenoxyethanol"):
        own = likeness(mats[key], mats[key])
        assert all(likeness(m, mats[key]) <= own + 1e-9 for m in mats.values())


def test_an_unknown_material_cannot_be_replaced() -> None:
    strange = formula("Aqua qs | Moonlight extract 3")
    with pytest.raises(MaterialError, match="Moonlight extract: the material is not known"):
        alternatives(strange, "Moonlight extract", materials())


# --- why three humectants -------------------------------------------------------------


def test_humectants_serve_at_different_moments() -> None:
    gel = formula("Aqua qs | Glycerin 4 | Propanediol 3 | Sodium Hyaluronate 0.1 | Glycereth-26 1")
    role = next(r for r in roles(gel, materials()) if r.function == "humectant")
    when = {p.material: p.when for p in role.parts}
    assert when["Glycerin"] == "lasting"
    assert when["Propanediol"] == "dry-down"
    assert role.percent == pytest.approx(8.1)
    assert "More than one for dry-down and lasting" in role.words


def test_what_is_not_recorded_stays_unknown() -> None:
    role = roles(formula("Aqua qs | Cetyl alcohol 2"), materials())[0]
    assert role.parts[0].when is None
    assert "not known" in role.words


# --- it split, why --------------------------------------------------------------------

WASH = formula("Aqua qs | Sodium Laureth Sulfate 20 | Cetrimonium Chloride 3 | Phenoxyethanol 0.9")
LOTION = formula(
    "A: Aqua qs | B: Caprylic/Capric Triglyceride 15 | B: Acid-stable GMS 4 | B: Cetyl alcohol 3 | "
    "C: Phenoxyethanol 0.9 | C: Caprylyl Glycol 0.5"
)


def suspects(recipe, answers=None, **readings):  # type: ignore[no-untyped-def]
    return triage(recipe, materials(), BRIEF, answers, **readings).suspects


@pytest.mark.parametrize(
    ("recipe", "answers", "readings", "first"),
    [
        (WASH, {"look": "curds", "when": "at once"}, {}, "charge"),
        (LOTION, {"look": "grains"}, {"water_c": 74, "oil_c": 58}, "temperature"),
        (LOTION, {"drop": "beads", "order": "water into oil"}, {}, "type"),
        (LOTION, {"shear": "hand only", "look": "oil on top"}, {}, "shear"),
        (LOTION, {"look": "layer that shakes in again", "when": "after weeks"}, {}, "creaming"),
        (LOTION, {"when": "after frost"}, {}, "frost"),
        (LOTION, {"look": "gas or smell"}, {}, "microbes"),
        (LOTION, {"cold shear": "yes", "look": "thin"}, {}, "network"),
        (LOTION, {"lot": "yes"}, {}, "grade"),
        (LOTION, {"mass": "yes"}, {}, "water"),
        (LOTION, {"ph": "lower", "look": "thin"}, {}, "ph"),
        (
            formula("Aqua qs | Caprylic/Capric Triglyceride 20 | Ceteareth-20 1"),
            {"look": "oil on top"}, {}, "dose",
        ),
        (
            formula("Aqua qs | Carbomer 0.4 | Triethanolamine 0.4 | Sodium PCA 3"),
            {"look": "thin"}, {}, "salt",
        ),
        (
            formula("Aqua qs | Polysorbate 20 4 | Paraffinum Liquidum 15 | Phenoxyethanol 0.9"),
            {"when": "next day"}, {}, "hlb",
        ),
        (LOTION, {"when": "after the cool-down additions"}, {}, "solvent"),
    ],
    ids=lambda x: x if isinstance(x, str) else "",
)  # fmt: skip
def test_the_evidence_names_the_suspect(recipe, answers, readings, first) -> None:  # type: ignore[no-untyped-def]
    found = suspects(recipe, answers, **readings)
    assert found[0].id == first, [str(s) for s in found]
    assert found[0].speaks_for
    assert found[0].next_trial.strip()


def test_every_suspect_can_be_named() -> None:
    marks = test_the_evidence_names_the_suspect.pytestmark  # type: ignore[attr-defined]
    named = {row[3] for mark in marks if mark.name == "parametrize" for row in mark.args[1]}
    assert named == {row["suspect"] for row in tables.rows("triage_suspects")}


def test_what_speaks_against_a_suspect_is_told_too() -> None:
    found = suspects(
        LOTION, {"look": "grains", "temperatures": "within 5 °C", "when": "on cooling"}
    )
    heat = next(s for s in found if s.id == "temperature")
    assert heat.speaks_against == ("phases were within 5 °C",)


def test_readings_answer_questions_by_themselves() -> None:
    found = suspects(LOTION, {"look": "thin"}, ph=4.2, forecast_ph=5.5)
    assert "lower than forecast" in next(s for s in found if s.id == "ph").speaks_for


def test_no_advice_ends_in_more_emulsifier() -> None:
    texts = [row["next_trial"] or "" for row in tables.rows("triage_suspects")]
    assert not [t for t in texts if re.search(r"(add|more|raise)[^.]*emulsifier", t, re.IGNORECASE)]


def test_without_evidence_there_is_no_suspect_but_a_question() -> None:
    found = triage(LOTION, materials(), BRIEF)
    assert not found.suspects
    assert found.open_questions[0].asks in str(found)


def test_every_piece_of_evidence_names_a_question_an_answer_or_a_finding() -> None:
    answers = {q.id: set(q.answers) for q in questions()}
    codes = {e.code for e in catalogue()}
    names = {row["suspect"] for row in tables.rows("triage_suspects")}
    for row in tables.rows("triage_evidence"):
        assert row["suspect"] in names
        if row["question"] == "finding":
            assert row["answer"] in codes
        else:
            assert row["answer"] in answers[row["question"] or ""]


def test_answers_in_other_words_are_refused_with_the_known_ones() -> None:
    with pytest.raises(MeasurementError, match="'milky' as the answer.*spreads; beads; strings"):
        triage(LOTION, materials(), answers={"drop": "milky"})
    with pytest.raises(MeasurementError, match="a question 'moon' is not known"):
        triage(LOTION, materials(), answers={"moon": "full"})


# --- at the bench ---------------------------------------------------------------------

WORKS = {
    "INC11": "Aqua qs | Carbomer 0.4",
    "INC12": "Aqua qs | Carbomer 0.4",
    "INC24": "Aqua qs | DMDM Hydantoin 0.4",
    "INC44": "Aqua qs | Ascorbic Acid 5",
    "INC45": "Caprylic/Capric Triglyceride qs | Lavandula Angustifolia Oil 2",
    "INC46": "Aqua qs | Sodium Hydroxide 0.2",
    "INC47": "Aqua qs | Citric Acid 0.5 | Sodium Hydroxide 0.2",
}


def test_every_rule_that_needs_eyes_at_the_bench_is_a_reminder_and_no_finding() -> None:
    asked = {r.id for r in rules().values() if r.bench is not None}
    assert asked == set(WORKS)
    for code, text in WORKS.items():
        recipe = formula(text)
        assert code in reminders(recipe, materials(), BRIEF, day=DAY).codes
        assert code not in check(recipe, materials(), BRIEF, ph=5.5, day=DAY).codes


def test_a_recipe_without_such_materials_has_no_reminders() -> None:
    assert not reminders(formula("Aqua qs | Glycerin 3"), materials(), BRIEF)


def test_the_last_ph_that_the_bench_measured_on_the_formula_is_taken(tmp_path) -> None:  # type: ignore[no-untyped-def]
    gel = formula("Aqua qs | Carbomer 0.4 | Triethanolamine 0.2 | Phenoxyethanol 0.9", "gel")
    with Bench.open(tmp_path) as bench:
        trial = bench.record(gel, mats=materials())
        assert not check(gel, materials(), BRIEF, bench=bench, day=DAY).of("INC09")
        bench.measure(trial, "pH", 6.1, temperature="25 °C")
        bench.measure(trial, "pH", 4.6, temperature="25 °C")
        other = gel.move("Phenoxyethanol", "0.8 %")
        bench.measure(bench.record(other, mats=materials()), "pH", 6.4, temperature="25 °C")
        found = check(gel, materials(), BRIEF, bench=bench, day=DAY)
        assert [f.severity for f in found.of("INC09")] == ["stop"]
        record = bench.accept(found.of("INC09")[0], "thin on purpose, see note", about=trial)
        assert record.body["finding"]["materials"] == ["Carbomer"]


# --- small numbers --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("grams", "digit", "strength", "weighed"),
    [
        ("0.05", "0.01", "5", "1"),
        ("0.5", "0.01", "50", "1"),
        ("0.002", "0.01", "0.1", "2"),
        ("0.05", "0.001", "50", "0.1"),
    ],
)
def test_a_stock_brings_the_weighing_to_a_hundred_digits(
    grams: str, digit: str, strength: str, weighed: str
) -> None:
    """Rule of 100 readings: process practice PR60; worked by hand."""
    stock = stock_for(Decimal(grams), Decimal(digit))
    assert stock is not None
    assert (stock.strength, stock.grams) == (Decimal(strength), Decimal(weighed))


def test_no_stock_where_the_balance_is_fine_enough_or_nothing_helps() -> None:
    assert stock_for(Decimal("1.0"), Decimal("0.01")) is None
    assert stock_for(Decimal("0.00001"), Decimal("0.01")) is None
    assert stock_for(Decimal("0.05"), Decimal("0.01"), thickens=True).strength <= 1  # type: ignore[union-attr]


def test_a_substance_without_an_entry_has_no_ceiling() -> None:
    assert ceilings("Glycerin", BRIEF) == []
