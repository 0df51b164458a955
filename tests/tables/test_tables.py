"""The dataset loader refuses damaged tables in words and reads each table once."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from labkit import tables
from labkit.errors import DataFileError


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.setattr(tables, "_PACKAGED", tmp_path)
    tables.rows.cache_clear()
    tables.sources.cache_clear()
    yield tmp_path
    tables.rows.cache_clear()
    tables.sources.cache_clear()


def test_a_blank_cell_is_none_and_a_zero_stays_a_zero(folder: Path) -> None:
    (folder / "t.csv").write_text("a,b,c\n1, ,0\n", encoding="utf-8")
    assert [dict(row) for row in tables.rows("t")] == [{"a": "1", "b": None, "c": "0"}]


def test_a_byte_order_mark_is_not_part_of_the_first_column_name(folder: Path) -> None:
    (folder / "t.csv").write_bytes("\ufeffa,b\n1,2\n".encode())
    assert tables.rows("t")[0]["a"] == "1"


def test_a_table_is_read_once(folder: Path) -> None:
    (folder / "t.csv").write_text("a\n1\n", encoding="utf-8")
    first = tables.rows("t")
    (folder / "t.csv").write_text("a\n2\n", encoding="utf-8")
    assert tables.rows("t") is first


def test_rows_cannot_be_changed(folder: Path) -> None:
    (folder / "t.csv").write_text("a\n1\n", encoding="utf-8")
    with pytest.raises(TypeError):
        tables.rows("t")[0]["a"] = "2"  # type: ignore[index]


def test_without_a_packaged_folder_the_repository_serves(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tables, "_PACKAGED", tmp_path / "absent")
    assert tables.path("sources") == Path(tables.__file__).parents[1] / "datasets" / "sources.csv"


@pytest.mark.parametrize("name", ["", "../secrets", "/etc/passwd", "..\\x", "a/../../b"])
def test_a_path_is_no_table_name(name: str) -> None:
    with pytest.raises(DataFileError, match="no plain table name"):
        tables.path(name)


def test_a_missing_table_is_told(folder: Path) -> None:
    with pytest.raises(DataFileError, match="no such file"):
        tables.rows("absent")


def test_a_row_of_the_wrong_length_is_told_with_its_number(folder: Path) -> None:
    (folder / "t.csv").write_text("a,b\n1,2\n3\n", encoding="utf-8")
    with pytest.raises(DataFileError, match="1 cells in row 3"):
        tables.rows("t")


@pytest.mark.parametrize("head", ["a,a", "a,", ""])
def test_column_names_are_present_and_different(folder: Path, head: str) -> None:
    (folder / "t.csv").write_text(head + "\n1,2\n", encoding="utf-8")
    with pytest.raises(DataFileError, match="the column names"):
        tables.rows("t")


def test_an_empty_file_is_damaged(folder: Path) -> None:
    (folder / "t.csv").write_text("", encoding="utf-8")
    with pytest.raises(DataFileError, match="the column names"):
        tables.rows("t")


@pytest.mark.parametrize("content", [b"a,b\n\xff,1\n", b'a,b\n"x,1\n', b'a,b\n"x"y,1\n'])
def test_text_that_is_no_utf8_csv_is_told(folder: Path, content: bytes) -> None:
    (folder / "t.csv").write_bytes(content)
    with pytest.raises(DataFileError, match="cannot be read"):
        tables.rows("t")


def test_sources_of_all_files_are_merged(folder: Path) -> None:
    head = "source_id,citation,licence,url,note\n"
    (folder / "sources.csv").write_text(head + "a,Book A,,,\n", encoding="utf-8")
    (folder / "sources.d").mkdir()
    (folder / "sources.d" / "b.csv").write_text(
        head + "b,Book B,CC0,,\na,Book A,,,\n", encoding="utf-8"
    )
    merged = tables.sources()
    assert {key: source.citation for key, source in merged.items()} == {
        "a": "Book A",
        "b": "Book B",
    }
    assert merged["b"].licence == "CC0"


def test_one_id_with_two_citations_is_refused(folder: Path) -> None:
    head = "source_id,citation\n"
    (folder / "sources.csv").write_text(head + "a,Book A\na,Book B\n", encoding="utf-8")
    with pytest.raises(DataFileError, match="a second time, with other words"):
        tables.sources()


@pytest.mark.parametrize(("row", "lack"), [(",Book", "id"), ("a,", "citation")])
def test_a_source_without_id_or_citation_is_refused(folder: Path, row: str, lack: str) -> None:
    (folder / "sources.csv").write_text(f"source_id,citation\n{row}\n", encoding="utf-8")
    with pytest.raises(DataFileError, match=f"a source without {lack}"):
        tables.sources()
