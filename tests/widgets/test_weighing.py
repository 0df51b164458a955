"""The weighing board hears the page, writes at once, and says what it could not write."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from labkit.bench import Bench
from labkit.formula import Formula
from labkit.widgets.weighing import WeighingBoard, weigh

GEL = Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,5\nB,Parfum,0.4", name="gel")


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with Bench.open(tmp_path / "b.db") as made:
        yield made


@pytest.fixture
def board(bench: Bench) -> WeighingBoard:
    return weigh(bench, bench.record(GEL, label="G-1"), "100 g", vessel="50 g")


def hear(board: WeighingBoard, **content: Any) -> dict[str, Any]:
    board._hear(None, content, [])
    return dict(board._state)


def test_what_the_balance_says_is_on_disk_with_its_deviation(board: WeighingBoard) -> None:
    told = hear(board, do="weigh", line=1, grams="5,03")
    assert told["lines"][1]["off"] == "+0.03"
    assert told["lines"][1]["state"] == "in"
    assert told["next"] == 0
    assert told["weighed"] == "5.03"
    again = board.batch.bench.batches()[0]
    assert again.weighed_g[1] == Decimal("5.03")


def test_an_overpoured_line_offers_two_ways_and_each_is_logged(board: WeighingBoard) -> None:
    hear(board, do="weigh", line=0, grams="94.60")
    told = hear(board, do="weigh", line=1, grams="5.50")
    assert told["over"]["words"] == "Glycerin over by 0.50 g"
    raised = hear(board, do="raise")
    assert raised["over"] is None
    assert raised["lines"][0]["target"] == "104.06"
    assert raised["lines"][2]["target"] == "0.44"
    assert "the rest brought up: +9.46 g Aqua; +0.44 g Parfum" in raised["log"][0]


def test_taking_it_as_it_is_is_logged_too_and_not_asked_again(board: WeighingBoard) -> None:
    hear(board, do="weigh", line=1, grams="6")
    told = hear(board, do="accept")
    assert told["over"] is None
    assert "taken as it is: Glycerin over by 1.00 g" in told["log"][0]
    assert hear(board, do="hello")["over"] is None


def test_one_key_writes_the_time_and_the_temperature(board: WeighingBoard) -> None:
    told = hear(board, do="log", words="B in", warm="72")
    assert told["log"][0].endswith("B in, 72 °C")
    assert told["phases"] == ["A", "B"]


def test_steam_and_the_end_are_worked_out_from_the_vessel(board: WeighingBoard) -> None:
    for line, grams in enumerate(("94.60", "5.00", "0.40")):
        hear(board, do="weigh", line=line, grams=grams)
    assert hear(board, do="steam", gross="147.5")["steam"] == "add 2.50 g hot water"
    told = hear(board, do="finish", gross="147.5")
    assert told["steam"] == "batch 97.5 g"
    assert told["lines"][1]["made"] == "5.1282"


def test_the_last_entry_can_be_taken_back(board: WeighingBoard) -> None:
    hear(board, do="weigh", line=1, grams="5")
    told = hear(board, do="undo")
    assert told["lines"][1]["weighed"] == ""
    assert not told["can_undo"]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ({"do": "weigh", "line": 1, "grams": "five"}, "five"),
        ({"do": "weigh", "line": 1, "grams": "-5"}, "-5"),
        ({"do": "log", "words": ""}, "nothing was written"),
        ({"do": "log", "words": "x", "warm": "hot"}, "hot"),
        ({"do": "steam", "gross": ""}, ""),
        ({"do": "finish", "gross": "10"}, "lighter"),
    ],
)
def test_a_slip_of_the_pen_is_said_and_nothing_is_written(
    board: WeighingBoard, content: dict[str, Any], words: str
) -> None:
    told = hear(board, **content)
    assert told["refusal"] is not None
    assert words in told["refusal"]["found"]
    assert board.batch.weighings == ()
    assert board.batch.log_lines == ()


def test_an_unknown_request_changes_nothing(board: WeighingBoard) -> None:
    before = dict(board._state)
    assert hear(board, do="burn") == before


def test_a_batch_goes_on_where_it_stopped(board: WeighingBoard, bench: Bench) -> None:
    hear(board, do="weigh", line=1, grams="5")
    again = weigh(bench, bench.batches()[0])
    assert again._state["lines"][1]["weighed"] == "5"


def test_lots_are_taken_from_the_shelf(bench: Bench) -> None:
    stock = bench.stock()
    lot = stock.receive("Glycerin", "100 g", lot="G-9")
    board = weigh(bench, GEL, "100 g", lots=stock.lots_for(GEL))
    hear(board, do="weigh", line=1, grams="5")
    assert stock.remaining(lot) == 95
    assert board._state["lines"][1]["lot"] == "G-9"
