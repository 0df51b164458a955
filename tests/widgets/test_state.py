"""The mixing sheet's state: moves, gestures, named steps, refusals."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.formula import Formula, Move
from labkit.widgets.page import page_dict
from labkit.widgets.ranges import along
from labkit.widgets.state import SheetState

CREAM = """phase,material,percent
A,Aqua,q.s.
A,Glycerin,4
B,Shea Butter,5
B,Cetyl Alcohol,2.5
C,Phenoxyethanol,0.9
"""


@pytest.fixture
def sheet() -> SheetState:
    cream = Formula.parse(CREAM, name="Hand cream")
    return SheetState.opened(cream, marks=cream, marks_label="HC-07")


def to(percent: str) -> Move:
    return Move(kind="set", percent=Decimal(percent))


def shares(state: SheetState) -> list[str]:
    return [str(x.percent.normalize()) for x in state.formula.lines]


def test_a_gesture_is_one_step_computed_from_where_it_began(sheet: SheetState) -> None:
    dragged = sheet
    for position in ("6", "50.1234", "0.3333", "9"):
        dragged = dragged.moved(to(position), line_id=1, gesture="g1", final=False)
        assert dragged.formula.total == 100
    dragged = dragged.moved(to("8"), line_id=1, gesture="g1", final=True)
    assert [x.words for x in dragged.steps] == ["as HC-07", "Glycerin to 8.00 %"]
    assert dragged.undone().formula == sheet.formula


def test_out_and_back_gives_the_same_formula_and_no_step(sheet: SheetState) -> None:
    sheet = sheet.giving("all")
    dragged = sheet
    for position in ("4.1", "77.7777", "0", "4"):
        dragged = dragged.moved(to(position), line_id=1, gesture="g1", final=position == "4")
    assert dragged.formula == sheet.formula
    assert dragged.undo_words == ""


def test_a_new_gesture_settles_the_one_before(sheet: SheetState) -> None:
    first = sheet.moved(to("6"), line_id=1, gesture="a", final=False)
    second = first.moved(to("7"), line_id=2, gesture="b", final=True)
    assert [x.words for x in second.steps[1:]] == [
        "Glycerin to 6.00 %",
        "Shea Butter to 7.00 %",
    ]


def test_a_cancelled_gesture_leaves_nothing(sheet: SheetState) -> None:
    moved = sheet.moved(to("6"), line_id=1, gesture="a", final=False)
    assert moved.cancelled().formula == sheet.formula


def test_undo_and_redo_name_their_steps(sheet: SheetState) -> None:
    done = sheet.moved(to("6"), line_id=1).moved(Move(kind="lock", locked=True), line_id=2)
    assert (done.undo_words, done.redo_words) == ("Shea Butter locked", "")
    back = done.undone()
    assert (back.undo_words, back.redo_words) == ("Glycerin to 6.00 %", "Shea Butter locked")
    assert back.redone().formula == done.formula
    assert back.undone().undone() == back.undone()


def test_a_change_after_undo_drops_the_steps_that_were_undone(sheet: SheetState) -> None:
    done = sheet.moved(to("6"), line_id=1).undone().moved(to("3"), line_id=2)
    assert [x.words for x in done.steps] == ["as HC-07", "Shea Butter to 3.00 %"]


def test_ids_follow_lines_through_adding_placing_and_removing(sheet: SheetState) -> None:
    grown = sheet.moved(Move(kind="add", material="Squalane", phase="B", percent=Decimal(2)))
    assert grown.ids == (0, 1, 2, 3, 5, 4)
    placed = grown.moved(Move(kind="place", phase="A", position=0), line_id=5)
    assert placed.ids == (5, 0, 1, 2, 3, 4)
    assert placed.formula.lines[0].material == "Squalane"
    assert placed.formula.qs == 1
    less = placed.moved(Move(kind="remove"), line_id=2)
    assert less.ids == (5, 0, 1, 3, 4)
    assert less.undone().undone().undone().ids == sheet.ids


def test_a_move_out_of_reach_is_refused_with_its_range_and_changes_nothing(
    sheet: SheetState,
) -> None:
    refused = sheet.moved(to("99"), line_id=1)
    assert refused.formula == sheet.formula
    assert refused.refusal is not None
    assert refused.refusal.line == 1
    assert refused.refusal.allowed == "It can reach 0.00 to 91.60 %"
    assert refused.moved(to("5"), line_id=1).refusal is None


def test_a_line_that_is_gone_is_refused_in_words(sheet: SheetState) -> None:
    gone = sheet.moved(Move(kind="remove"), line_id=3).moved(to("1"), line_id=3)
    assert gone.refusal is not None
    assert "no longer in the sheet" in gone.refusal.found


def test_chosen_lines_give_way(sheet: SheetState) -> None:
    chosen = sheet.giving("chosen", (2, 3)).moved(to("5"), line_id=1)
    assert shares(chosen) == ["87.6", "5", "4.3333", "2.1667", "0.9"]


def test_unknown_give_mode_is_refused(sheet: SheetState) -> None:
    refused = sheet.giving("water")
    assert refused.refusal is not None
    assert refused.give == "qs"


@pytest.mark.parametrize("text", ["-5 g", "0", "1e9 kg", "two spoons", "12 °C"])
def test_a_batch_that_is_no_mass_is_refused(sheet: SheetState, text: str) -> None:
    refused = sheet.weighing(batch=text)
    assert refused.refusal is not None
    assert refused.batch_g == 100


def test_batch_and_balance_tell_which_weighings_are_too_small(sheet: SheetState) -> None:
    assert sheet.weighing("250", "0.01 g").too_small() == ()
    small = sheet.weighing("50 g", "0.01 g")
    assert [small.formula.lines[i].material for i in small.too_small()] == ["Phenoxyethanol"]


def test_undo_reaches_across_a_recorded_trial(sheet: SheetState) -> None:
    done = sheet.moved(to("6"), line_id=1).noting("softer").recorded_as("HC-08")
    assert (done.parent_label, done.note) == ("HC-08", "")
    assert page_dict(done, done.changes)["differences"] == []
    back = done.undone()
    assert back.formula == sheet.formula
    assert [d["material"] for d in page_dict(back, back.changes)["differences"]] == [
        "Aqua",
        "Glycerin",
    ]


def test_a_formula_without_a_rest_line_opens_with_all_lines_giving() -> None:
    two = Formula.parse("phase,material,percent\nA,Squalane,40\nA,Jojoba,60")
    sheet = SheetState.opened(two)
    assert sheet.give == "all"
    assert shares(sheet.moved(to("50"), line_id=0)) == ["5E+1", "5E+1"]
    assert shares(sheet.giving("qs").moved(Move(kind="remove"), line_id=0)) == ["1E+2"]


def test_a_restored_draft_is_one_step(sheet: SheetState) -> None:
    other = Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Betaine,3")
    restored = sheet.replaced(other, "draft restored")
    assert restored.formula == other
    assert not set(restored.ids) & set(sheet.ids)
    assert restored.undone().formula == sheet.formula


@given(
    st.lists(
        st.tuples(st.integers(0, 4), st.integers(0, 1_000_000), st.sampled_from(["qs", "all"])),
        max_size=8,
    )
)
def test_any_gesture_keeps_the_total_at_100_and_undo_returns(
    positions: list[tuple[int, int, str]],
) -> None:
    start = SheetState.opened(Formula.parse(CREAM))
    state = start
    for number, (line, units, give) in enumerate(positions):
        percent = Decimal(units) / 10_000
        state = state.giving(give).moved(
            Move(kind="set", percent=percent), line_id=line, gesture=str(number // 3), final=False
        )
        assert state.formula.total == 100
    assert state.stepped(0).formula == start.formula


def test_the_walk_along_a_range_meets_every_move(sheet: SheetState) -> None:
    for give in ("all", "phase"):
        state = sheet.giving(give)
        walk = along(state.formula, 1, give, points=21, window=(0, 100_000))
        assert (walk.rows.sum(axis=1) == 1_000_000).all()
        for position, row in zip(walk.positions, walk.rows, strict=True):
            moved = state.moved(to(str(Decimal(int(position)) / 10_000)), line_id=1)
            assert [int(x.percent * 10_000) for x in moved.formula.lines] == row.tolist()


def test_a_locked_line_has_one_position(sheet: SheetState) -> None:
    locked = sheet.moved(Move(kind="lock", locked=True), line_id=1).formula
    assert along(locked, 1, "qs").positions.tolist() == [40_000]


def test_the_page_receives_whole_units_and_the_marked_values(sheet: SheetState) -> None:
    moved = sheet.moved(to("6"), line_id=1)
    page = page_dict(moved, moved.changes)
    glycerin = page["lines"][1]
    assert (glycerin["units"], glycerin["was"], page["undo"]) == (
        60_000,
        40_000,
        "Glycerin to 6.00 %",
    )
    assert sum(x["units"] for x in page["lines"]) == sum(page["units"]) == 1_000_000
    assert page["differences"][1]["change"] == "+2.00"
