"""The trend board and the recording slip, without a page."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from labkit.bench import Bench
from labkit.errors import MeasurementError, QuantityError, RecordError
from labkit.formula import Brief, Formula
from labkit.widgets import MixingSheet, measuring, watch
from labkit.widgets.recording import RecordingSlip
from labkit.widgets.trend import TrendBoard

GEL = "phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,4\nA,Xanthan Gum,0.5"


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with Bench.open(tmp_path / "bench.db") as opened:
        gel = Formula.parse(GEL, name="Gel")
        first = opened.record(gel, label="G-1", note="the first")
        second = opened.record(gel.move("Xanthan Gum", "0.8 %"), parent=first, label="G-2")
        third = opened.record(gel.move("Glycerin", "6 %"), parent=first, label="G-3")
        for trial, values in ((first, ["4 Pa*s", "4.4 Pa*s"]), (second, "9 Pa*s")):
            opened.measure(trial, "viscosity", values, temperature="25 °C", speed="20 rpm")
        opened.measure(third, "viscosity", "3 Pa*s", temperature="20 °C", speed="20 rpm")
        opened.measure(first, "pH", 5.31, temperature="25 °C")
        opened.note(first, "stringy")
        yield opened


@pytest.fixture
def board(bench: Bench) -> TrendBoard:
    brief = Brief(product="gel", leave_on=True, viscosity=("3 Pa*s", "8 Pa*s"))
    return watch(bench, brief=brief)


def panel(board: TrendBoard) -> dict[str, Any]:
    found: dict[str, Any] = board.chart._state["panel"]
    return found


def ask(widget: Any, **content: Any) -> dict[str, Any]:
    answers: list[dict[str, Any]] = []
    widget.send = answers.append
    widget._hear(widget, {"client": "c", "seq": 1, **content}, [])
    state: dict[str, Any] = answers[-1].get("state", {})
    return state


def test_points_carry_their_trial_and_conditions_are_never_joined(board: TrendBoard) -> None:
    told = panel(board)
    assert len(told["points"]) == 3
    assert {p["series"] for p in told["points"]} == {0, 1}
    assert len(told["links"]) == 1
    assert told["bands"][0]["low"] == 3000
    labels = {p["trial"]: p["hover"][0] for p in told["points"]}
    assert labels[board.bench.trial("G-2").id].startswith("G-2: ")


def test_a_branch_shows_only_its_own_trials(board: TrendBoard) -> None:
    state = ask(board.chart, do="show", branch=board.bench.trial("G-3").id)
    shown = {p["trial"] for p in state["panel"]["points"]}
    assert shown == {board.bench.trial(x).id for x in ("G-1", "G-3")}


def test_one_set_of_conditions_can_be_picked(board: TrendBoard) -> None:
    name = panel(board)["series"][1]["name"]
    state = ask(board.chart, do="show", conditions=name)
    assert [p["trial"] for p in state["panel"]["points"]] == [board.bench.trial("G-3").id]


def test_another_quantity_is_shown_and_a_missing_one_is_said(board: TrendBoard) -> None:
    assert len(ask(board.chart, do="show", quantity="pH")["panel"]["points"]) == 1
    state = ask(board.chart, do="show", quantity="spread")
    assert state["panel"] is None
    assert "no number was measured" in state["trouble"]


def test_a_pressed_trial_opens_its_card(board: TrendBoard) -> None:
    picture = io.BytesIO()
    Image.new("RGB", (40, 30), "white").save(picture, "PNG")
    board.bench.photo(board.bench.trial("G-1"), picture.getvalue(), caption="at the window")
    card = ask(board.chart, do="card", trial=board.bench.trial("G-1").id)["card"]
    assert (card["label"], card["note"], card["notes"]) == ("G-1", "the first", ["stringy"])
    assert card["lines"][2] == {"phase": "A", "material": "Xanthan Gum", "percent": "0.50"}
    assert any(text.startswith("pH 5.31") for text in card["readings"])
    assert card["photo"]["src"].startswith("data:image/png;base64,")
    card = ask(board.chart, do="card", trial=board.bench.trial("G-2").id)["card"]
    assert card["differences"][0]["parent"] == "G-1"
    assert "Xanthan Gum 0.50 → 0.80 %" in card["differences"][0]["changes"]
    assert ask(board.chart, do="close")["card"] is None


def test_tune_from_here_opens_a_sheet_with_the_trial_as_parent(board: TrendBoard) -> None:
    ask(board.chart, do="tune", trial=board.bench.trial("G-2").id)
    sheet = board.children[1]
    assert isinstance(sheet, MixingSheet)
    assert sheet.parent is not None
    assert sheet.parent.label == "G-2"


def test_an_unknown_trial_is_said_on_the_board(board: TrendBoard) -> None:
    assert "G-9" in ask(board.chart, do="card", trial="G-9")["trouble"]
    with pytest.raises(RecordError, match="G-9"):
        board.card("G-9")


def test_what_is_recorded_later_appears_by_itself(board: TrendBoard) -> None:
    assert board.refresh() is False
    assert ask(board.chart, do="look") == {}
    board.bench.measure(board.bench.trial("G-3"), "viscosity", "2 Pa*s", temperature="25 °C")
    state = ask(board.chart, do="look")
    assert len(state["panel"]["points"]) == 4


def test_an_empty_bench_says_so(tmp_path: Path) -> None:
    with Bench.open(tmp_path / "empty.db") as empty:
        board = watch(empty)
        assert board.chart._state["panel"] is None
        assert "no number was measured" in board.chart._state["trouble"]
        assert "no number was measured" in board._repr_mimebundle_()[0]["text/html"]


def test_the_board_has_a_picture_for_viewers_without_widgets(board: TrendBoard) -> None:
    assert "<svg" in board._repr_mimebundle_()[0]["text/html"]
    assert repr(board).startswith("<TrendBoard of viscosity: <Bench ")


@pytest.fixture
def slip(bench: Bench) -> RecordingSlip:
    return measuring(bench, "G-2")


def test_a_measurement_is_recorded_with_its_conditions(slip: RecordingSlip) -> None:
    state = ask(
        slip, do="save", trial=slip._state["trial"], quantity="viscosity",
        value="18.2 Pa*s; 18900 cps", conditions={"temperature": "25 °C", "speed": "20 rpm"},
    )  # fmt: skip
    assert state["refusal"] is None
    assert state["saved"][0].startswith("viscosity 18.2 Pa*s, 18900")
    frame = slip.bench.readings("viscosity", trial=slip.bench.trial("G-2"))
    assert sorted(frame["value"]) == [9000.0, 18200.0, 18900.0]


@pytest.mark.parametrize(
    ("quantity", "value", "words"),
    [("viscosity", "12000", "no unit"), ("pH", "55", "0"), ("viskosity", "1 Pa*s", "viscosity")],
)
def test_a_slip_that_cannot_be_recorded_is_refused_in_words(
    slip: RecordingSlip, quantity: str, value: str, words: str
) -> None:
    before = len(slip.bench.readings())
    state = ask(slip, do="save", trial=slip._state["trial"], quantity=quantity, value=value)
    assert words in " ".join(str(x) for x in state["refusal"].values())
    assert state["saved"] == []
    assert len(slip.bench.readings()) == before


def test_the_same_from_python_raises(slip: RecordingSlip) -> None:
    with pytest.raises((MeasurementError, QuantityError), match="no unit"):
        slip.save("G-2", "viscosity", "12000")
    assert slip.save("G-2", "thickness", "pours") == "thickness pours on G-2"
    assert repr(slip).startswith("<RecordingSlip: <Bench ")
