"""Every answer is right, and every way to go wrong is told for its own reason."""

from __future__ import annotations

import inspect
import re
from pathlib import Path

import nbformat
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import labkit as lk
from labkit.errors import RecordError
from labkit.teach.lesson_plans import PLANS
from labkit.teach.lessons import questions_for
from labkit.teach.questions import NameQuestion, NumberQuestion
from labkit.teach.variants import Draw, pseudonym

EXERCISES = [(plan, exercise) for plan in PLANS for exercise in plan.exercises]
LEARNERS = [f"learner-{i}" for i in range(120)]


def typed(value: float, unit: str) -> str:
    return f"{value:.10f} {unit}".strip()


def everyone(plan, exercise):
    for who in LEARNERS:
        yield exercise(Draw("course", who, str(plan.number), exercise.__name__))


@pytest.mark.parametrize(("plan", "exercise"), EXERCISES, ids=lambda x: getattr(x, "__name__", ""))
class TestEveryExercise:
    def test_the_answer_worked_out_is_right_for_every_learner(self, plan, exercise) -> None:
        for question in everyone(plan, exercise):
            if isinstance(question, NumberQuestion):
                assert question.check(typed(question.answer, question.unit)).right, question
            else:
                assert isinstance(question, NameQuestion)
                assert question.check(", ".join(question.answer)).right, question

    def test_every_slip_is_wrong_and_told_for_its_own_reason(self, plan, exercise) -> None:
        for question in everyone(plan, exercise):
            if not isinstance(question, NumberQuestion):
                continue
            for slip in question.usual_slips():
                verdict = question.check(typed(slip.value, question.unit))
                assert not verdict.right
                assert (verdict.slip, verdict.words) == (slip.name, slip.reason)

    def test_the_slips_named_by_the_exercise_reach_somebody(self, plan, exercise) -> None:
        named, reached = set(), set()
        for question in everyone(plan, exercise):
            if isinstance(question, NumberQuestion):
                named |= {slip.reason for slip in question.slips}
                reached |= {slip.reason for slip in question.usual_slips()}
        generic = {re.sub(r"[\d.]+", "#", reason) for reason in named - reached}
        met = {re.sub(r"[\d.]+", "#", reason) for reason in reached}
        assert generic <= met

    def test_every_wrong_name_has_its_reason(self, plan, exercise) -> None:
        for question in everyone(plan, exercise):
            if not isinstance(question, NameQuestion):
                continue
            for name in question.choices:
                verdict = question.check(name)
                if {name} == question.answer:
                    assert verdict.right
                elif name in question.answer:
                    assert verdict.slip == "part of it"
                else:
                    assert verdict.slip == "another name"
                    assert verdict.words == question.reasons[name]

    def test_learners_have_different_numbers_that_come_again(self, plan, exercise) -> None:
        texts = [question.text for question in everyone(plan, exercise)]
        assert texts == [question.text for question in everyone(plan, exercise)]
        assert len(set(texts)) > 1

    def test_neither_question_nor_verdict_shows_the_answer(self, plan, exercise) -> None:
        for question in everyone(plan, exercise):
            if isinstance(question, NumberQuestion):
                wrong = question.check(typed(question.answer * 1.37 + 11.1, question.unit))
                assert not wrong.right
                said = repr(question) + wrong.words.replace("three quarters", "")
                numbers = {float(x) for x in re.findall(r"\d+(?:\.\d+)?", said)}
                shown = {float(x) for x in re.findall(r"\d+(?:\.\d+)?", question.text)}
                fresh = numbers - shown
                assert not any(question.near(x, question.answer) for x in fresh), (said, question)


def plain(**other: object) -> NumberQuestion:
    fields = {"key": "k", "text": "t", "unit": "g", "answer": 12.5, "way": "w"} | other
    return NumberQuestion(**fields)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("given", "slip", "words"),
    [
        ("12.5", "no unit", r"12.5 of what\? Write the unit too"),
        ("12,5", "no unit", "of what"),
        ("125 g", "factor ten", "ten times too large. Look at the decimal sign"),
        ("1.25 g", "factor ten", "ten times too small"),
        ("1250 g", "factor a hundred", "parts in a hundred"),
        ("0.125 g", "factor a hundred", "a hundred times too small"),
        ("12.5 kg", "factor a thousand", "a thousand times too large.*milli and kilo"),
        ("12.5 mg", "factor a thousand", "a thousand times too small"),
        ("-12.5 g", "sign", "the sign is turned round"),
        ("−12.5 g", "sign", "the sign is turned round"),
        ("12.5 %", "other unit", "not a mass. The question asks for g"),
        ("12.5 mPa*s", "other unit", "not a mass"),
        ("a spoonful", "unreadable", "cannot be read. Write one number and its unit"),
        ("", "unreadable", "cannot be read"),
        ("NaN g", "unreadable", "cannot be read"),
        ("1e400 g", "unreadable", "cannot be read"),
        ("20 g", "unknown", "20 g is too high, and no slip that is usual here leads to it"),
        ("9 g", "unknown", "9 g is too low"),
    ],
)
def test_a_wrong_answer_is_told_for_its_reason(given: str, slip: str, words: str) -> None:
    verdict = plain().check(given)
    assert not verdict.right
    assert verdict.slip == slip
    assert re.search(words, verdict.words)
    assert str(verdict).startswith("Not yet: ")


@pytest.mark.parametrize("given", ["12.5 g", "12,5 g", "12500 mg", "0.0125 kg", "12.54 g"])
def test_the_same_mass_in_another_spelling_is_right(given: str) -> None:
    assert plain().check(given).right


@pytest.mark.parametrize("given", ["12.4 g", "12.6 g"])
def test_half_a_percent_is_the_tolerance(given: str) -> None:
    assert not plain().check(given).right


def test_a_bare_number_is_asked_where_nothing_has_a_unit() -> None:
    bare = plain(unit="")
    assert bare.check("12.5").right
    assert bare.check(12.5).right
    assert bare.check("12.5 g").slip == "unreadable"


def test_a_name_that_is_no_choice_is_sent_back_with_the_choices() -> None:
    asked = NameQuestion(
        key="k", text="t", choices=("quat", "wax"), answer=frozenset({"quat"}), way="because"
    )
    assert asked.check("gum").words == "'gum' is not one of them. Choose from: quat, wax."
    assert "Nothing was named" in asked.check("").words
    assert asked.check(["QUAT"]).right
    assert asked.check("wax").words == "wax has no part in it."


@given(st.text(max_size=40))
@settings(max_examples=150, deadline=None)
def test_no_text_at_all_brings_a_question_down(text: str) -> None:
    assert plain().check(text).words
    plain(unit="").check(text)
    questions_for(PLANS[4], "x", "c")["fault"].check(text)


def test_the_course_has_six_lessons_of_ninety_minutes() -> None:
    assert [plan.number for plan in PLANS] == [1, 2, 3, 4, 5, 6]
    assert all(sum(minutes for minutes, _ in plan.timetable) == 90 for plan in PLANS)


@pytest.mark.parametrize("plan", PLANS, ids=lambda p: str(p.number))
class TestLesson:
    def test_the_formula_comes_after_the_prediction(self, plan) -> None:
        one = lk.teach.lesson(plan.number)
        with pytest.raises(RecordError, match="no prediction yet"):
            one.formula  # noqa: B018
        with pytest.raises(RecordError, match="the slider comes after the guess|after the guess"):
            one.outcome()
        one.predict(plan.prediction.choices[0].upper())
        assert one.formula.total == 100

    def test_the_prediction_is_decided_by_computation(self, plan) -> None:
        came, numbers = plan.prediction.decide(plan.formula, lk.Materials.starter())
        assert came in plan.prediction.choices
        assert re.search(r"\d", numbers)
        one = lk.teach.lesson(plan.number)
        one.predict(came)
        assert one.outcome().endswith("as you said.")
        other = next(c for c in plan.prediction.choices if c != came)
        one.predict(other)
        assert one.outcome().endswith(f"you said '{other}'.")

    def test_another_guess_is_refused_with_the_choices(self, plan) -> None:
        with pytest.raises(RecordError, match=re.escape(plan.prediction.choices[0])):
            lk.teach.lesson(plan.number).predict("blue")

    def test_every_material_is_in_the_starter_set(self, plan) -> None:
        mats = lk.Materials.starter()
        assert all(mats.resolve(line.material) for line in plan.formula.lines)

    def test_the_station_card_has_each_line_step_and_caution(self, plan) -> None:
        words = " ".join(lk.teach.lesson(plan.number).station_card().text.split())
        for line in plan.formula.lines:
            assert line.material in words
        for step in plan.station.steps:
            assert " ".join(step.split()) in words
        assert "As supplied:" in words

    def test_the_teachers_page_works_out_each_learners_answers(self, plan) -> None:
        page = lk.teach.teachers_page(plan.number, ["heron", "knot"], groups=12).html
        assert "heron" in page
        assert "knot" in page
        assert "90 minutes" in page
        one = lk.teach.lesson(plan.number, learner="heron")
        for question in one.questions.values():
            if isinstance(question, NumberQuestion):
                assert f"{question.answer:.0f}"[:1] in page


def test_an_unknown_lesson_or_question_is_refused() -> None:
    with pytest.raises(RecordError, match="1 to 6"):
        lk.teach.lesson(7)
    with pytest.raises(RecordError, match="grams, rest, phase, stock"):
        lk.teach.lesson(1).check("gramm", "1 g")


def test_worked_examples_of_the_trade_come_out() -> None:
    """0.18 g of stock on 10 g, 86.5 g left: 1.557 g; 4 g water on 96 g asks for 0.036 g.

    Both from the trade's own arithmetic (mass balances worked by hand).
    """
    from labkit.science import batch

    assert round(float(batch.dose_for_batch(10, 0.18, 86.5)[1]), 3) == 1.557
    found = [
        q
        for who in range(400)
        if (q := questions_for(PLANS[4], str(who), "c")["restore"]).text.startswith("4 g water")
        and " 96 g " in q.text
        and "0.9 %" in q.text
    ]
    assert found
    assert all(q.check("0.0363 g").right for q in found)  # type: ignore[union-attr]


def test_the_constants_of_the_exercises_are_those_of_the_tables() -> None:
    """`datasets/` rows with their sources, and molar masses from IUPAC atomic weights."""
    from labkit import tables
    from labkit.teach import acids, oils

    required = {
        str(row["inci"]).casefold(): float(str(row["value"]))
        for row in tables.rows("hlb_required")
        if row["property"] == "required_hlb_ow"
    }
    for name, value in oils.REQUIRED.items():
        found = next(v for k, v in required.items() if name.split()[0] in k)
        assert value == found, name
    emulsifiers = {str(r["inci"]).casefold(): r["value"] for r in tables.rows("hlb_emulsifiers")}
    for name, value in (oils.HIGH, oils.LOW):
        assert float(str(emulsifiers[name])) == value
    pka = {
        row["component"]: float(str(row["value"]))
        for row in tables.rows("acid_base_constants")
        if row["property"] == "pKa25"
    }
    assert acids.ACIDS["benzoic acid"] == round(pka["benzoate"], 2)
    assert acids.ACIDS["sorbic acid"] == round(pka["sorbate"], 2)
    carbon, hydrogen, oxygen, sodium = 12.011, 1.008, 15.999, 22.990
    acid = 7 * carbon + 6 * hydrogen + 2 * oxygen
    assert round(acid, 2) == acids.BENZOIC
    assert round(acid - hydrogen + sodium, 2) == acids.BENZOATE


NOTEBOOKS = sorted((Path(__file__).parents[2] / "notebooks" / "lessons").glob("*.ipynb"))


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_no_notebook_stores_an_answer(path: Path) -> None:
    number = int(path.stem[0])
    one = lk.teach.lesson(number, learner="example")
    code = [c for c in nbformat.read(path, as_version=4).cells if c.cell_type == "code"]
    asked = [m for c in code for m in re.findall(r'lesson\.check\("(.+?)", "(.+?)"\)', c.source)]
    assert len(asked) >= 4
    assert not any(one.check(key, given).right for key, given in asked)
    stored = [str(o.get("text") or o.get("data")) for c in code for o in c.outputs]
    assert not any("Right:" in text for text in stored)
    for question in one.questions.values():
        assert not any(question.worked() in text for text in stored)


def test_the_source_of_the_lessons_holds_no_random_state() -> None:
    from labkit.teach import acids, amounts, faults, flow, oils, planning, variants

    for module in (acids, amounts, faults, flow, oils, planning, variants):
        assert not re.search(r"\bimport random\b|np\.random", inspect.getsource(module))


def test_desks_have_different_words() -> None:
    from uuid import UUID

    names = {pseudonym(str(UUID(int=i))) for i in range(200)}
    assert len(names) == 200
    assert all(re.fullmatch(r"[a-z]+-[0-9a-f]{5}", name) for name in names)
