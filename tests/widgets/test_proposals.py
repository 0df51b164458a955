"""The proposal board and what was tried, without a page."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from labkit.bench import Bench
from labkit.errors import BriefError, RecordError
from labkit.formula import Brief, Formula
from labkit.materials import Materials
from labkit.plan.proposals import REPEAT
from labkit.quantities import parse
from labkit.widgets import MixingSheet, ProposalBoard, proposing, tune
from labkit.widgets.proposals import outside_words

GEL = "phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,4\nA,Xanthan Gum,0.5"
GUM = ((0.3, "2 Pa*s"), (0.5, "4.5 Pa*s"), (0.8, "9.6 Pa*s"), (0.6, "6 Pa*s"))
BRIEF = Brief(product="gel", leave_on=True, viscosity=(parse("7 Pa*s"), parse("9 Pa*s")))


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with Bench.open(tmp_path / "bench.db") as opened:
        gel, parent = Formula.parse(GEL, name="Gel"), None
        for number, (share, value) in enumerate(GUM, 1):
            made = gel.move("Xanthan Gum", f"{share} %")
            parent = opened.record(made, parent=parent, label=f"G-{number}")
            opened.measure(parent, "viscosity", value, temperature="25 °C")
        yield opened


@pytest.fixture
def board(bench: Bench) -> ProposalBoard:
    return proposing(bench, BRIEF, Materials.starter(), n=2)


def press(board: ProposalBoard, **content: Any) -> dict[str, Any]:
    answers: list[dict[str, Any]] = []
    cards: Any = board.cards
    cards.send = answers.append
    cards._hear(cards, {"client": "c", "seq": 1, **content}, [])
    state: dict[str, Any] = answers[-1]["state"]
    return state


def test_each_card_says_moves_chances_reasons_and_how_far_out(board: ProposalBoard) -> None:
    cards = board.cards._state["proposals"]
    assert [c["kind"] for c in cards][-1] == "teaches most"
    assert len(cards) == len(board.proposals)
    for card, proposal in zip(cards, board.proposals, strict=True):
        assert card["chances"][0]["label"] == "viscosity 7 to 9 Pa·s"
        assert card["chance"] == proposal.chance
        assert card["outside"].split(":")[0] in (
            "inside what you have tried",
            "outside what you have tried",
        )
        assert card["words"]
    assert any("Xanthan" in move for move in cards[0]["moves"])


def test_a_pressed_proposal_stands_on_a_sheet_built_on_its_trial(board: ProposalBoard) -> None:
    state = press(board, do="choose", i=0)
    sheet = board.children[1]
    assert isinstance(sheet, MixingSheet)
    assert state["chosen"] == 0
    first = board.proposals[0]
    base = board.bench.trial(first.label)
    assert sheet.parent is not None
    assert sheet.parent.id == base.id
    assert sheet.formula == first.apply(base.formula, board.mats)
    assert sheet.undo() == base.formula
    assert "proposal 1, towards the brief" in sheet.state.redo_words


def test_the_same_from_python(board: ProposalBoard) -> None:
    sheet = board.choose(1)
    assert sheet is board.sheet
    trial = sheet.record(label="G-9")
    assert list(trial.parents) == [str(board.proposals[1].base)]
    with pytest.raises(RecordError, match="proposal 17"):
        board.choose(17)
    assert "proposal 17" in press(board, do="choose", i=17)["trouble"]


def test_proposing_again_counts_what_was_recorded_since(board: ProposalBoard) -> None:
    before = board.proposals
    trial = board.bench.record(
        Formula.parse(GEL.replace("0.5", "0.7"), name="Gel"), parent="G-4", label="G-5"
    )
    board.bench.measure(trial, "viscosity", "12 Pa*s", temperature="25 °C")
    press(board, do="again")
    assert board.proposals != before


def test_a_brief_without_a_window_is_refused(bench: Bench) -> None:
    with pytest.raises(BriefError, match="window"):
        proposing(bench, Brief(product="gel", leave_on=True))


def test_the_board_has_a_picture_for_viewers_without_widgets(board: ProposalBoard) -> None:
    html = board._repr_mimebundle_()[0]["text/html"]
    assert "towards the brief, from" in html
    assert html.count("<svg") == 2 * len(board.proposals)
    assert repr(board) == f"<ProposalBoard: {len(board.proposals)} proposals for 'gel'>"


def test_a_repeat_is_marked_in_words_and_opens_the_same_recipe(board: ProposalBoard) -> None:
    again = replace(board.proposals[0], kind=REPEAT, moves=())
    board.proposals = (again,)
    base = board.bench.trial(str(again.base)).formula
    assert board.choose(0).formula == base
    (card,) = board.cards._state["proposals"]
    assert (card["kind"], card["moves"]) == ("repeat this batch", ["nothing moves"])
    assert "differ by chance" in card["words"]


def test_far_out_is_said_by_name() -> None:
    assert outside_words([]) == "inside what you have tried"
    assert outside_words(["Glycerin", "Glycerin"]) == "outside what you have tried: Glycerin"


def test_a_sheet_shows_what_was_tried_and_says_where_it_is_left(bench: Bench) -> None:
    sheet = tune("G-4", Materials.starter(), bench=bench)
    tried = {x["material"]: x["tried"] for x in sheet._state["lines"]}
    assert tried["Xanthan Gum"] == [3000, 8000]
    assert tried["Glycerin"] == [40_000, 40_000]
    assert said(sheet)["text"] == "inside"
    sheet.put(sheet.formula.move("Xanthan Gum", "1.6 %"), "much more gum")
    assert said(sheet)["text"] == "outside"
    assert "Xanthan" in said(sheet)["words"]
    sheet.put(sheet.formula.add("Squalane", "1 %", give="qs"), "an oil")
    assert sheet._state["lines"][-1]["tried"] is None


def test_nothing_is_called_tried_without_measured_trials(tmp_path: Path) -> None:
    sheet = tune(Formula.parse(GEL, name="Gel"), Materials.starter())
    assert "tried" not in sheet._state["lines"][0]
    assert "tried" not in {r["id"] for r in sheet._state["readouts"]}


def said(sheet: MixingSheet) -> dict[str, Any]:
    found: dict[str, Any] = next(r for r in sheet._state["readouts"] if r["id"] == "tried")
    return found


def test_the_server_reads_the_accelerator_without_the_widgets() -> None:
    code = (
        "import sys, labkit.widgets.nodelay; print(*[m for m in ('pandas', 'numpy', 'scipy',"
        " 'anywidget', 'ipywidgets', 'labkit.widgets.sheet') if m in sys.modules])"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == ""


def test_the_door_names_what_it_has() -> None:
    import labkit.widgets as room

    assert all(callable(getattr(room, name)) for name in room.__all__)
    assert dir(room) == sorted(room.__all__)
    with pytest.raises(AttributeError, match="no 'tweak'; it has MixingSheet"):
        _ = room.tweak
