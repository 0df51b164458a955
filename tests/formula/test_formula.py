"""The formula as a formulator uses it; worked numbers are plain mass balance."""

from __future__ import annotations

from decimal import Decimal

import pytest

from labkit.errors import FormulaError, MoveError, QuantityError
from labkit.formula import Formula, Line, Move, Phase

CREAM = """phase;material;percent;note
A;Aqua;q.s.;
A;Glycerin;4,0;
B;Butyrospermum Parkii Butter;5;
B;Cetearyl Alcohol;3;flakes
C;Phenoxyethanol;0,9;below 40 °C
"""


@pytest.fixture
def cream() -> Formula:
    return Formula.parse(CREAM, name="Hand cream")


def percents(formula: Formula) -> dict[str, str]:
    return {x.material: f"{x.percent:f}" for x in formula.lines}


def test_thirds_that_add_to_100_pass_exactly() -> None:
    text = "phase,material,percent\nA,Squalane,33.3\nA,Glycerin,33.3\nA,Urea,33.4"
    assert Formula.parse(text).total == 100


@pytest.mark.parametrize(("last", "words"), [("33.39", "0.01 % short of"), ("33.41", "more than")])
def test_totals_next_to_100_are_refused(last: str, words: str) -> None:
    text = f"phase,material,percent\nA,Squalane,33.3\nA,Glycerin,33.3\nA,Urea,{last}"
    with pytest.raises(FormulaError, match=words):
        Formula.parse(text)


def test_the_q_s_line_takes_the_rest(cream: Formula) -> None:
    assert cream.qs_line is not None
    assert percents(cream)["Aqua"] == "87.1000"
    assert percents(cream.move("glycerin", "6 %"))["Aqua"] == "85.1000"


def test_plain_water_gives_way_when_no_line_says_q_s() -> None:
    formula = Formula.parse("phase,material,percent\nA,Purified water,90\nB,Squalane,10")
    assert percents(formula.move("squalane", by="+3 %"))["Purified water"] == "87.0000"


def test_another_line_can_give_way(cream: Formula) -> None:
    moved = cream.move("Butyrospermum Parkii Butter", by=-2, give=["glycerin"])
    assert percents(moved)["Glycerin"] == "6.0000"
    assert percents(moved)["Aqua"] == "87.1000"


def test_the_phase_gives_way_in_proportion() -> None:
    text = "phase,material,percent\nA,Aqua,80\nB,Squalane,8\nB,Cetyl Alcohol,4\nB,Tocopherol,8"
    moved = Formula.parse(text).move("tocopherol", "5 %", give="phase")
    assert percents(moved)["Squalane"] == "10.0000"
    assert percents(moved)["Cetyl Alcohol"] == "5.0000"


def test_bounds_pin_a_line_and_the_rest_is_shared_again() -> None:
    text = "phase,material,percent,high\nA,Aqua,80,\nB,Squalane,10,11\nB,Cetyl Alcohol,10,"
    moved = Formula.parse(text).move("aqua", "60 %", give="all")
    assert percents(moved)["Squalane"] == "11.0000"
    assert percents(moved)["Cetyl Alcohol"] == "29.0000"


def test_a_line_that_cannot_be_reached_is_refused_with_its_range(cream: Formula) -> None:
    with pytest.raises(MoveError, match="It can reach 0.00 to 91.10 %") as refusal:
        cream.move("glycerin", 95)
    assert refusal.value.facts["high"] == Decimal("91.1000")


def test_a_locked_line_is_not_moved(cream: Formula) -> None:
    with pytest.raises(MoveError, match="the line is locked.*Unlock it"):
        cream.lock("glycerin").move("glycerin", 5)


def test_the_q_s_line_has_no_amount_of_its_own(cream: Formula) -> None:
    with pytest.raises(MoveError, match="takes the rest.*give='all'"):
        cream.move("aqua", 80)


def test_a_formula_without_a_q_s_line_asks_who_gives_way() -> None:
    bar = Formula.parse("phase,material,percent\nA,Cetyl Alcohol,60\nA,Cocoa butter,40")
    with pytest.raises(MoveError, match="no q.s. line is named"):
        bar.move("cetyl alcohol", 50)
    assert percents(bar.move("cetyl alcohol", 50, give="all"))["Cocoa butter"] == "50.0000"


def test_nothing_left_to_give_way_is_refused(cream: Formula) -> None:
    with pytest.raises(MoveError, match="no line is left that can give way"):
        cream.lock("glycerin").move("Cetearyl Alcohol", 4, give=["glycerin"])


def test_a_single_name_for_give_is_refused_with_the_spelling(cream: Formula) -> None:
    with pytest.raises(MoveError, match="Write give=\\['Glycerin'\\]"):
        cream.move("Cetearyl Alcohol", 4, give="Glycerin")


def test_an_ambiguous_name_is_refused_with_both_lines_shown() -> None:
    text = "phase,material,percent\nA,Aqua,90\nA,Glycerin,6\nB,glycerin,4"
    formula = Formula.parse(text)
    with pytest.raises(MoveError, match="stands on 2 lines: line 2 .phase A.*line 3 .phase B"):
        formula.move("glycerin", 5)
    assert percents(formula.move(("B", "glycerin"), 5))["Aqua"] == "89.0000"
    assert percents(formula.move(2, 5))["Aqua"] == "89.0000"


def test_an_unknown_name_is_refused_with_the_lines_there_are(cream: Formula) -> None:
    with pytest.raises(MoveError, match="no line for 'zinc'.*Lines: A Aqua; A Glycerin"):
        cream.move("zinc", 1)
    with pytest.raises(MoveError, match="no line for line 10"):
        cream.find(9)


@pytest.mark.parametrize(
    ("percent", "error", "words"),
    [
        ("250", FormulaError, "Grams may have been typed"),
        ("4.00001", FormulaError, "finer than the grid.*4.0000 %"),
        ("-1", QuantityError, "is below 0"),
        ("four", QuantityError, "is not a percentage"),
    ],
)
def test_a_share_that_cannot_be_is_refused(
    cream: Formula, percent: str, error: type[Exception], words: str
) -> None:
    with pytest.raises(error, match=words):
        cream.move("glycerin", percent)


def test_a_swap_keeps_the_share_and_drops_the_old_key(cream: Formula) -> None:
    swapped = cream.swap("Butyrospermum Parkii Butter", "Squalane")
    assert percents(swapped)["Squalane"] == "5.0000"
    assert swapped.total == 100


def test_lines_are_added_removed_and_placed(cream: Formula) -> None:
    more = cream.add("Panthenol", "1 %", phase="C")
    assert percents(more)["Aqua"] == "86.1000"
    assert more.lines[-1].material == "Panthenol"
    assert more.remove("panthenol").compare(cream).differences == ()
    placed = more.apply(Move(kind="place", material="Panthenol", line=5, phase="A", position=0))
    assert [x.material for x in placed.phase("A")] == ["Panthenol", "Aqua", "Glycerin"]
    assert placed.qs_line is not None
    assert placed.qs_line.material == "Aqua"


def test_the_q_s_line_is_neither_removed_nor_locked(cream: Formula) -> None:
    with pytest.raises(MoveError, match="cannot be removed"):
        cream.remove("Aqua")
    with pytest.raises(MoveError, match="cannot be locked"):
        cream.lock("Aqua")
    assert cream.rest("Glycerin").remove("Aqua", give="qs").total == 100


def test_a_move_is_not_applied_to_a_line_it_was_not_made_for(cream: Formula) -> None:
    move = Move(kind="set", line=1, material="Urea", percent=Decimal(3))
    with pytest.raises(MoveError, match="no line for 'Urea'"):
        cream.apply(move)


def test_moves_survive_their_plain_values() -> None:
    moves = [
        Move(kind="set", line=0, material="Aqua", percent=Decimal(0), give=("Urea", ("B", "Oil"))),
        Move(kind="lock", line=3, material="Urea", locked=True),
        Move(kind="bound", line=3, material="Urea", low=Decimal(0), high=Decimal("2.5")),
        Move(kind="swap", line=3, material="Urea", to="Betaine", key="betaine"),
        Move(kind="place", line=3, material="Urea", phase="B", position=0),
    ]
    assert [Move.from_dict(m.as_dict()) for m in moves] == moves
    assert [m.words for m in moves] == [
        "Aqua to 0.00 %",
        "Urea locked",
        "Urea bounded 0.00 to 2.50 %",
        "Urea replaced by Betaine",
        "Urea moved to phase B",
    ]


def test_only_the_differences_are_shown(cream: Formula) -> None:
    other = cream.move("glycerin", 6).add("Panthenol", 1, phase="C")
    assert str(cream.compare(other)) == (
        "Aqua 87.10 → 84.10 %; Glycerin 4.00 → 6.00 %; Panthenol added, 1.00 %"
    )
    assert str(cream.compare(cream)) == "no difference"


def test_the_table_holds_exact_decimals(cream: Formula) -> None:
    table = cream.table()
    assert list(table.columns) == ["phase", "material", "percent", "note"]
    assert table["percent"].sum() == Decimal(100)


def test_grams_follow_the_batch(cream: Formula) -> None:
    assert [str(g) for g in cream.grams("250 g", "0.01 g")] == [
        "217.75", "10.00", "12.50", "7.50", "2.25",
    ]  # fmt: skip
    with pytest.raises(FormulaError, match="whole number of balance steps"):
        cream.grams("100.005 g", "0.01 g")
    with pytest.raises(QuantityError, match="counted, not weighed"):
        cream.grams("3 cups")
    with pytest.raises(QuantityError, match="batch size: '0 g'. More than 0 g"):
        cream.grams("0 g")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no text"),
        ("Aqua 90\nOil 10", "is not a heading"),
        ("phase,material,percent", "heading without rows"),
        ("phase,material,percent,colour\nA,Aqua,100,red", "column 'colour' is not known"),
        ("phase,material,percent\nA,Aqua,", "no share for 'Aqua'"),
        ("phase,material,percent\nA,,5", "no name"),
        ("phase,material,percent\nA,Aqua,q.s.\nA,Lactic Acid,q.s.", "both take the rest"),
        ("phase,material,percent\nA,Aqua,q.s.\nA,Squalane,60\nA,Urea,50", "Nothing is left"),
        ("phase,material,percent\nA,Aqua,90\nA,Glycerin,8,6", "4 cells under 3 headings"),
        ("phase,material,percent,locked\nA,Aqua,100,maybe", "locked is 'maybe'"),
        ("phase,material,percent\nA,Aqua\u202e,100", "signs that cannot be seen .U.202E"),
        ("phase,material,percent,low\nA,Aqua,90,95\nA,Urea,10,", "outside its bounds"),
    ],
)
def test_a_table_that_cannot_be_a_formula_is_refused_by_its_line(text: str, words: str) -> None:
    with pytest.raises(FormulaError, match=words):
        Formula.parse(text)


def test_a_table_from_a_markdown_page_is_read() -> None:
    text = "| phase | material | percent |\n|---|---|---:|\n| A | Aqua | q.s. |\n| A | Urea | 5 |"
    assert percents(Formula.parse(text))["Aqua"] == "95.0000"


def test_two_spellings_of_one_name_give_one_fingerprint() -> None:
    text = "phase,material,percent\nA,{},100"
    composed, joined = (
        Formula.parse(text.format(n)) for n in ("Cr\u00e8me base", "Cre\u0300me base")
    )
    assert composed.fingerprint == joined.fingerprint
    assert composed.lines[0].material == "Cr\u00e8me base"


def test_impossible_formulas_cannot_be_made() -> None:
    line = Line(phase="A", material="Aqua", percent=Decimal(50))
    with pytest.raises(FormulaError, match="50.00 % short of 100"):
        Formula("Half", (line,))
    with pytest.raises(FormulaError, match="no lines"):
        Formula("Empty", ())
    with pytest.raises(FormulaError, match="0 to 100 %"):
        Line(phase="A", material="Aqua", percent=Decimal("NaN"))
    with pytest.raises(FormulaError, match="cannot take the rest"):
        Formula("Odd", (Line(phase="A", material="Aqua", percent=Decimal(100)),), qs=3)


def test_phases_keep_their_titles_and_steps(cream: Formula) -> None:
    phases = (Phase(key="B", title="Oil", steps=("Melt at 75 °C",)),)
    titled = Formula(cream.name, cream.lines, phases, cream.qs)
    assert titled.move("glycerin", 5).phases[0].steps == ("Melt at 75 °C",)
    with pytest.raises(FormulaError, match="no phase 'Z'"):
        titled.phase("Z")


def test_the_table_in_a_notebook_escapes_what_was_typed() -> None:
    formula = Formula.parse('phase,material,percent\nA,"<img src=x onerror=alert(1)>",100')
    assert "<img" not in formula._repr_html_()
    assert "&lt;img" in formula._repr_html_()


def test_reading_needs_the_reading_room(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Formula, "reader", None)
    with pytest.raises(FormulaError, match="use lk.Formula.read"):
        Formula.read("x.csv")


def test_names_in_any_script_are_told_apart() -> None:
    one = Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Масло ши,5\nB,Мел,3\nB,שמן,2")
    other = one.swap("Мел", "Воск")
    assert str(one.compare(other)) == "Мел left out (was 3.00 %); Воск added, 3.00 %"
    assert one.fingerprint != other.fingerprint
    assert (
        str(one.compare(one.move("Масло ши", "3")))
        == "Aqua 90.00 → 92.00 %; Масло ши 5.00 → 3.00 %"
    )
    accents = Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Glycérine,5")
    assert accents.find("glycerine") == 1
