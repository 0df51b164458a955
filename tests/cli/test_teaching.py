"""``labkit gather`` and ``labkit wall`` in the words of the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from labkit.cli import main
from labkit.teach import Classroom, Desk, master
from tests.teach.simulating import GEL


@pytest.fixture
def handed_in(tmp_path: Path) -> Path:
    """A class whose one desk has handed in; its folder."""
    with Classroom.open(tmp_path) as room:
        made = master(GEL, {"Xanthan gum": ("0.3 %", "0.8 %")})
        room.set_up(made, title="Gels", measures=["pH"])
        handout = room.hand_out(tmp_path / "out.eln")
    (tmp_path / "in").mkdir()
    with Desk.open(tmp_path / "desk", handout=handout) as one:
        one.measure(one.fork(), "pH", 5.4, temperature="25 °C", dilution="neat")
        one.hand_in(tmp_path / "in")
    return tmp_path


def test_hand_ins_are_gathered_and_odd_ones_are_told(
    handed_in: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["gather", str(handed_in), str(handed_in / "in")]) == 0
    assert "1 file from 1 desk: 3 new records" in capsys.readouterr().out
    (handed_in / "in" / "words.eln").write_text("no history")
    assert main(["gather", str(handed_in), str(handed_in / "in"), "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert (told["new"], told["flags"][0]["sort"]) == (0, "left out")


def test_a_folder_without_hand_ins_ends_with_two(
    handed_in: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["gather", str(handed_in), str(handed_in / "nowhere")]) == 2
    assert "no such folder" in capsys.readouterr().err


def test_the_wall_is_written_and_gathers_before_each_look(
    handed_in: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = handed_in / "wall.html"
    words = ["wall", str(handed_in), str(page), "--from", str(handed_in / "in"), "--looks", "1"]
    assert main(words) == 0
    assert "Open" in capsys.readouterr().out
    assert "1 desk has handed in" in page.read_text(encoding="utf-8")
