"""From the questions of a sheet to a formula of exactly 100 %."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from labkit.errors import FormulaError
from labkit.formula import Formula
from labkit.reading import read_recipe

SAMPLES = Path(__file__).parents[1] / "reference" / "messy_sheets"


def _percents(formula: Formula) -> dict[str, str]:
    return {x.material: f"{x.percent:.4f}" for x in formula.lines}


def test_open_questions_are_listed_in_the_refusal() -> None:
    report = read_recipe(SAMPLES / "03_phase_heading_rows.csv")
    with pytest.raises(FormulaError, match=r"'row 15: amount' Lactic Acid is added until pH 4.2"):
        report.formula()


def test_the_amount_to_reserve_comes_out_of_the_rest() -> None:
    report = read_recipe(SAMPLES / "03_phase_heading_rows.csv")
    formula = report.formula({"row 15: amount": "0.2 %"})
    assert formula.total == 100
    assert formula.qs_line is not None
    assert (formula.qs_line.material, formula.qs_line.percent) == ("Aqua", Decimal("86.7"))
    assert [p.title for p in formula.phases] == ["heat to 75 C", "heat to 75 C", "under 40 C"]


def test_grams_become_percent_exactly() -> None:
    formula = read_recipe(SAMPLES / "02_grams_merged_phases.xlsx").formula()
    shares = [f"{x.percent:.2f}" for x in formula.lines]
    assert shares == ["58.50", "5.00", "5.00", "12.00", "5.00", "4.00", "8.50", "1.00", "1.00"]


def test_ranges_become_bounds_of_the_chosen_amount() -> None:
    report = read_recipe(SAMPLES / "04_ranges_and_limits.csv")
    chosen = {3: "3", 4: "0.3", 5: "2.5", 6: "5", 8: "0.2", 9: "0.9"}
    formula = report.formula({f"row {r}: amount": x for r, x in chosen.items()}, name="Lotion")
    line = formula.lines[formula.find("Propanediol")]
    assert (line.percent, line.low, line.high) == (3, 2, 4)
    assert formula.lines[formula.find("Cetyl Alcohol")].note == "approximate"


def test_twice_the_same_material_is_kept_or_joined() -> None:
    report = read_recipe(SAMPLES / "05_duplicate_names.xlsx")
    answers = {"sheet": "Leave-in", "row 7: twice": "join", "row 11: twice": "keep"}
    formula = report.formula(answers)
    alcohol = [x.percent for x in formula.lines if x.material.casefold() == "cetearyl alcohol"]
    panthenol = [x.percent for x in formula.lines if x.material.casefold() == "panthenol"]
    assert alcohol == [Decimal("1.5")]
    assert panthenol == [1, Decimal("0.5")]


def test_another_sheet_can_be_meant() -> None:
    report = read_recipe(SAMPLES / "05_duplicate_names.xlsx")
    formula = report.formula({"sheet": "old", "total": "scale to 100"})
    assert _percents(formula) == {"Aqua": "100.0000"}
    assert read_recipe(SAMPLES / "05_duplicate_names.xlsx", sheet="old").recipes[0].total == 50


def test_a_missing_amount_that_fills_the_gap_settles_the_total() -> None:
    report = read_recipe(SAMPLES / "06_total_does_not_agree.ods")
    assert report.formula({"row 6: amount": "4.4"}).total == 100


def test_a_gap_is_a_question_of_its_own() -> None:
    report = read_recipe(SAMPLES / "06_total_does_not_agree.ods")
    with pytest.raises(FormulaError, match=r"'row 13: total'.*95\.6: 4\.4 are missing"):
        report.formula({"row 6: amount": "leave out"})
    water = report.formula({"row 6: amount": "4", "row 13: total": "difference to Aqua"})
    assert _percents(water)["Aqua"] == "61.9000"
    scaled = report.formula({"row 6: amount": "4", "row 13: total": "scale to 100"})
    assert scaled.total == 100
    assert _percents(scaled)["Squalane"] == "12.0482"


def test_columns_that_disagree_are_decided() -> None:
    report = read_recipe(SAMPLES / "07_percent_cells_and_grams.xlsx")
    by_percent = report.formula({"row 11: column": "percent column"})
    assert _percents(by_percent)["Coco-Caprylate/Caprate"] == "3.0000"
    with pytest.raises(FormulaError, match="row 14: total"):
        report.formula({"row 11: column": "grams column"})
    answers = {"row 11: column": "grams column", "row 14: total": "scale to 100"}
    assert report.formula(answers).total == 100


def test_trials_side_by_side_are_formulas_each() -> None:
    report = read_recipe(SAMPLES / "08_trials_side_by_side.csv")
    first, second, third = report.formulas()
    assert third == report.formula(which="T3")
    assert (len(first.lines), len(third.lines)) == (7, 7)
    assert _percents(second)["Cetyl Alcohol"] == "28.0000"
    trial, reading = report.measurements[0]
    assert (trial, reading.quantity, reading.value) == ("T1", "pH (10 % in water)", "4.9")


def test_thirds_are_rounded_by_largest_remainder_and_that_is_told() -> None:
    report = read_recipe("Ingredient,Parts\nWax,1\nOil,1\nButter,1\n")
    assert [f"{x.percent}" for x in report.formula().lines] == ["33.3334", "33.3333", "33.3333"]
    assert "rounded" in [x.code for x in report.findings]


def test_exact_decimals_are_not_rounded() -> None:
    report = read_recipe("Ingredient,%\nA1,33.333\nA2 x,33.333\nA3 x,33.334\n")
    assert report.formula().total == 100
    assert "rounded" not in [x.code for x in report.findings]


def test_two_lines_that_take_the_rest_are_asked_about() -> None:
    report = read_recipe("Ingredient;%\nAqua;ad 100\nSunflower oil;rest\nWax;10")
    (question,) = report.questions
    assert (question.code, question.question) == ("several_balances", "row 3: rest")
    with pytest.raises(FormulaError, match="row 3: amount"):
        report.formula({"row 3: rest": "row 2"})
    formula = report.formula({"row 3: rest": "row 2", "row 3: amount": "20 %"})
    assert _percents(formula) == {
        "Aqua": "70.0000",
        "Sunflower oil": "20.0000",
        "Wax": "10.0000",
    }


def test_hidden_lines_are_kept_or_left_out() -> None:
    from tests.reading.building import xlsx

    rows = [["Material", "%"], ["Aqua", "q.s."], ["Retinol", 2], ["Oil", 10]]
    report = read_recipe(xlsx(rows, hidden_rows=[3]))
    assert len(report.formula({"row 3: hidden": "keep"}, name="x").lines) == 3
    assert len(report.formula({"row 3: hidden": "leave out"}, name="x").lines) == 2
    with pytest.raises(FormulaError, match="neither keep nor leave out"):
        report.formula({"row 3: hidden": "perhaps"})


def test_drops_need_a_weight() -> None:
    report = read_recipe("Body oil\nSunflower oil q.s.\nLavandula oil 2 drops")
    formula = report.formula({"row 3: amount": "0.1 %"})
    assert _percents(formula)["Sunflower oil"] == "99.9000"


def test_grams_answer_a_percent_sheet_only_with_a_batch() -> None:
    bare = read_recipe("Ingredient;%\nAqua;rest\nSalt;?\n")
    with pytest.raises(FormulaError, match="grams say nothing without the batch size"):
        bare.formula({"row 3: amount": "5 g"})
    sized = read_recipe("Gel, batch size 200 g\nIngredient;%\nAqua;rest\nSalt;?\n")
    assert _percents(sized.formula({"row 4: amount": "5 g"}))["Salt"] == "2.5000"


def test_answers_that_cannot_be_understood_are_refused() -> None:
    report = read_recipe("Ingredient;%\nAqua;rest\nSalt;?\n")
    with pytest.raises(FormulaError, match="'a pinch' is no amount"):
        report.formula({"row 3: amount": "a pinch"})
    with pytest.raises(FormulaError, match="belongs to no question of this sheet"):
        report.formula({"row 3: amount": "1", "row 99: amount": "2"})


def test_a_name_can_be_typed_again() -> None:
    report = read_recipe("Ingredient;%\nAqua\u202ex;97\nSalt;3\n")
    assert _percents(report.formula({"row 2: name": "Aqua"}))["Aqua"] == "97.0000"


def test_a_day_that_can_be_two_is_asked_about() -> None:
    report = read_recipe("Gel\nDate;03/04/2026\nIngredient;%\nAqua;97\nSalt;3\n")
    (question,) = report.questions
    assert (question.code, question.offers) == ("date_ambiguous", ("day first", "month first"))
    assert report.recipes[0].day is None


def test_a_sheet_without_a_recipe_says_so() -> None:
    report = read_recipe("hello world")
    assert [x.code for x in report.questions] == ["no_recipe"]
    with pytest.raises(FormulaError, match="no recipe was read"):
        report.formula()


def test_the_original_is_kept() -> None:
    path = SAMPLES / "01_semicolon_decimal_comma.csv"
    report = read_recipe(path)
    assert report.original == path.read_bytes()
    assert len(report.sha256) == 64


def test_the_words_begin_with_the_questions() -> None:
    shown = str(read_recipe(SAMPLES / "06_total_does_not_agree.ods"))
    assert shown.index("2 to answer") < shown.index("Niacinamide") < shown.index("To know")
    assert "no amount" in shown


def test_the_table_for_the_notebook_shows_words_as_words() -> None:
    shown = read_recipe("Ingredient;%\n<script>x</script>;97\nSalt;3")._repr_html_()
    assert "<script>" not in shown
    assert "&lt;script&gt;" in shown


def test_a_report_is_named_in_one_line() -> None:
    report = read_recipe("Aqua 90\nGlycerin\nSqualane 5\n")
    assert repr(report) == ("<Recipe report on 'pasted text': 1 recipe, 3 lines, 1 open question>")
