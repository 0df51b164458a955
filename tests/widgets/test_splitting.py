"""It split, why? The board without a page."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from labkit import tables
from labkit.bench import Bench
from labkit.errors import MeasurementError, QuantityError, RecordError
from labkit.formula import Formula
from labkit.materials import Materials
from labkit.widgets import SplitBoard, asking_why

WASH = """phase,material,percent
A,Aqua,q.s.
A,Sodium Laureth Sulfate,20
A,Cetrimonium Chloride,3
A,Phenoxyethanol,0.9"""


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with Bench.open(tmp_path / "bench.db") as opened:
        opened.record(Formula.parse(WASH, name="Wash"), label="W-1")
        yield opened


@pytest.fixture
def board(bench: Bench) -> SplitBoard:
    return asking_why("W-1", Materials.starter(), bench)


def press(board: Any, **content: Any) -> dict[str, Any]:
    answers: list[dict[str, Any]] = []
    board.send = answers.append
    board._hear(board, {"client": "c", "seq": 1, **content}, [])
    state: dict[str, Any] = answers[-1]["state"]
    return state


def test_every_answer_moves_the_suspects_at_once(board: SplitBoard) -> None:
    press(board, do="answer", question="look", answer="curds")
    state = press(board, do="answer", question="when", answer="at once")
    first = state["suspects"][0]
    assert (first["name"], first["word"]) == ("Opposite charges", "likely")
    assert "Cetrimonium Chloride" in first["next"]
    assert state["next"] == board.triage.open_questions[0].id
    state = press(board, do="answer", question="when", answer="")
    assert next(q for q in state["questions"] if q["id"] == "when")["answer"] == ""


def test_temperatures_of_the_phases_count_as_an_answer(board: SplitBoard) -> None:
    press(board, do="read", name="water_c", text="75 °C")
    before = board.triage
    press(board, do="read", name="oil_c", text="58")
    assert board.triage != before
    assert "temperatures" not in {q.id for q in board.triage.open_questions}
    press(board, do="read", name="oil_c", text="")
    assert board.triage == before


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("ph", "41", "0 to 14"),
        ("ph", "acid", "number"),
        ("water_c", "300", "0 to 100"),
        ("mood", "5", "ph, water_c, oil_c"),
    ],
)
def test_a_reading_that_cannot_be_changes_nothing(
    board: SplitBoard, name: str, text: str, words: str
) -> None:
    before = board.triage
    assert words in press(board, do="read", name=name, text=text)["trouble"]
    assert board.triage == before
    with pytest.raises((MeasurementError, QuantityError), match=words):
        board.read(**{name: text})


def test_an_unknown_answer_changes_nothing(board: SplitBoard) -> None:
    board.answer(look="curds")
    with pytest.raises(MeasurementError, match="'pink' as the answer"):
        board.answer(look="pink")
    assert next(q for q in board._state["questions"] if q["id"] == "look")["answer"] == "curds"


def test_charge_and_dose_are_read_from_the_formula(board: SplitBoard) -> None:
    paper = " ".join(board._state["paper"])
    assert "anionic: Sodium Laureth Sulfate" in paper
    assert "cationic: Cetrimonium Chloride" in paper
    assert "oil to emulsifier" in paper


def test_it_can_be_kept_as_a_note_with_a_photo(board: SplitBoard, bench: Bench) -> None:
    board.answer({"look": "curds"})
    board.read(ph=5.2)
    state = press(board, do="note")
    assert state["kept"] == "noted on W-1"
    (note,) = bench.records("note", about=bench.trial("W-1"))
    assert note.body["tags"] == ["split"]
    assert "curds" in note.body["text"]
    assert "Opposite charges" in note.body["text"]
    picture = io.BytesIO()
    Image.new("RGB", (40, 30), "white").save(picture, "PNG")
    state = press(board, do="photo", data=base64.b64encode(picture.getvalue()).decode())
    assert state["kept"] == "photo kept with W-1"
    assert len(bench.records("photo", about=bench.trial("W-1"))) == 1
    assert "did not arrive whole" in press(board, do="photo", data="%%%")["trouble"]


def test_a_formula_alone_can_be_asked_about_but_not_noted() -> None:
    board = asking_why(Formula.parse(WASH, name="Wash"))
    assert board._state["can_note"] is False
    with pytest.raises(RecordError, match="a formula without a trial"):
        board.note()
    with pytest.raises(RecordError, match="a label without a bench"):
        asking_why("W-1")


def test_no_suspect_and_no_next_trial_says_more_emulsifier() -> None:
    told = [str(v).casefold() for r in tables.rows("triage_suspects") for v in r.values()]
    told += [str(r["words"]).casefold() for r in tables.rows("triage_evidence")]
    wrong = ("more emulsifier", "add emulsifier", "raise the emulsifier")
    assert not [text for text in told if any(w in text for w in wrong)]


def test_the_board_has_a_picture_and_a_stable_repr(board: SplitBoard) -> None:
    board.answer(look="curds")
    bundle: Any = board._repr_mimebundle_()
    assert "curds" in bundle[0]["text/html"]
    assert "Opposite charges" in bundle[0]["text/html"]
    count = len(board.triage.suspects)
    assert repr(board) == f"<SplitBoard of 'Wash': {count} suspects>"
