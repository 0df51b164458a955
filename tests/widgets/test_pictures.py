"""The still pictures that boards leave in a notebook, and how they are kept up to date."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from labkit.bench import Bench
from labkit.formula import Formula
from labkit.widgets import measuring, watch, weigh
from labkit.widgets.showing import MOST_PICTURES, WithPicture

GEL = Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,5\nB,<b>Parfum</b>,0.4", "Gel")


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with Bench.open(tmp_path / "bench.db") as opened:
        opened.record(GEL, label="G-1")
        yield opened


class Place:
    """Where a picture was put."""

    def __init__(self) -> None:
        self.told: list[str] = []

    def update(self, html: Any) -> None:
        self.told.append(html.data)


@pytest.fixture
def places(monkeypatch: pytest.MonkeyPatch) -> list[Place]:
    found: list[Place] = []

    def put(html: Any, **_: Any) -> Place:
        found.append(Place())
        found[-1].told.append(html.data)
        return found[-1]

    monkeypatch.setattr("labkit.widgets.showing.display", put)
    monkeypatch.setattr("labkit.widgets.showing.publish_display_data", lambda **_: None)
    return found


def picture(widget: WithPicture) -> str:
    bundle = widget._repr_mimebundle_()
    assert bundle is not None
    return str(bundle[0]["text/html"])


def test_the_weighing_board_leaves_its_lines_and_its_log(bench: Bench) -> None:
    board = weigh(bench, "G-1", "100 g")
    board._hear(None, {"do": "weigh", "line": 1, "grams": "5,03"}, [])
    told = picture(board)
    for words in ("Phase A", "Glycerin", "5.00", "5.03", "+0.03", "5.03 of 100.00 g in"):
        assert words in told
    assert "<b>Parfum" not in told
    assert "&lt;b&gt;Parfum" in told


def test_the_slip_leaves_what_was_written(bench: Bench) -> None:
    slip = measuring(bench, "G-1")
    assert "Run the cell" in picture(slip)
    slip.save("G-1", "pH", "5.31", temperature="25 °C")
    assert "pH 5.31 on G-1 (25 °C)" in picture(slip)
    assert slip._state["saved"] == ["pH 5.31 on G-1 (25 °C)"]


@pytest.mark.parametrize("name", ["weigh", "slip", "watch"])
def test_a_picture_follows_its_widget(bench: Bench, places: list[Place], name: str) -> None:
    slip = measuring(bench, "G-1")
    slip.save("G-1", "pH", "5.31")
    if name == "weigh":
        board: Any = weigh(bench, "G-1", "100 g")
        change = lambda: board._hear(None, {"do": "weigh", "line": 1, "grams": "4.98"}, [])  # noqa: E731
        words = "4.98"
    elif name == "slip":
        board, words = slip, "6.02"
        change = lambda: slip.save("G-1", "pH", "6.02")  # noqa: E731
    else:
        board, words = watch(bench, "pH"), "6.44"

        def change() -> None:
            slip.save("G-1", "pH", "6.44")
            board.refresh()

    board._ipython_display_()
    assert words not in places[0].told[0]
    change()
    assert words in places[0].told[-1]
    assert f'data-sheet="{board.picture_id}"' in places[0].told[-1]


def test_only_the_latest_places_are_kept(bench: Bench, places: list[Place]) -> None:
    slip = measuring(bench, "G-1")
    for _ in range(MOST_PICTURES + 2):
        slip._ipython_display_()
    slip.save("G-1", "pH", "5.31")
    assert [len(p.told) for p in places] == [1, 1, *[2] * MOST_PICTURES]
