"""A picture or a paper is written whole, or the older one stays."""

from __future__ import annotations

from pathlib import Path

import pytest

import labkit as lk
from labkit.charts.saving import save_text
from labkit.errors import ShareError

GEL = lk.Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,5")


def test_a_file_is_written_as_told_and_nothing_else_is_left(tmp_path: Path) -> None:
    assert save_text("é\r\n", tmp_path / "a.svg").read_bytes() == b"\xc3\xa9\r\n"
    assert save_text("new", tmp_path / "a.svg").read_text() == "new"
    assert [p.name for p in tmp_path.iterdir()] == ["a.svg"]


def test_a_place_that_cannot_be_written_is_told_in_words(tmp_path: Path) -> None:
    with pytest.raises(ShareError, match=r"card.html: it could not be written.*Choose another"):
        lk.paperwork.weigh_sheet(GEL, "100 g").save(tmp_path / "not there" / "card.html")
    (tmp_path / "taken.svg").mkdir()
    with pytest.raises(ShareError, match=r"taken.svg: it could not be written"):
        save_text("x", tmp_path / "taken.svg")
    assert [p.name for p in tmp_path.iterdir()] == ["taken.svg"]
