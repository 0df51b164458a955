"""Files and texts that mean harm, or are merely very odd, are read calmly or refused."""

from __future__ import annotations

import io
import pickle
import zipfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.errors import FormulaError, ReadingError
from labkit.reading import RecipeReport, read_recipe
from tests.reading.building import changed, number, ods, row, words, xlsx

PLAIN = xlsx([["Ingredient", "%"], ["Aqua", 97], ["Glycerin", 3]])
BOMB = b'<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;">]>'
PIECES = [
    "Aqua", "Glycerin", "3,5", "4.0", "q.s.", "ad 100", "%", "g", "Phase A", "Total", "|", "\t",
    ";",
    ",", "\n", "\n\n", " ", "  ", "1,234", "2-4", "pH 5", "INCI", "Phase", "Ingredient", "T1", "T2",
    "-", "?", '"', "'", "=1+1", "12.03.2026", "3/4/26", "2 drops", "aa", "Sum", "remarks",
    "|---|---|",
    "(x)", "100", "Polysorbate 20", "\u202e", "\x00", "\ud800", "½", "1/2", "max", "NaN", "A", "B:",
    "subtotal", "#", "Batch size 20 g", "Note", "formula", "phase,material,percent",
]  # fmt: skip


def _formula_or_refusal(report: RecipeReport, which: int) -> bool:
    try:
        return report.formula(which=which).total == 100
    except FormulaError as refusal:
        return bool(refusal.found and refusal.do)


def _report_or_refusal(source: str | bytes) -> bool:
    try:
        return bool(str(read_recipe(source)))
    except ReadingError as refusal:
        return bool(refusal.found and refusal.do)


@given(st.lists(st.sampled_from(PIECES), max_size=60).map("".join))
@settings(max_examples=400, deadline=None)
def test_no_text_makes_the_reader_fail(text: str) -> None:
    report = read_recipe(text + "\n")
    assert str(report)
    assert report._repr_html_()
    assert report.as_dict()["findings"] is not None
    assert [x.row for x in report.rows] == list(range(1, len(report.rows) + 1))
    for which in range(len(report.recipes)):
        assert _formula_or_refusal(report, which)


@given(st.text(max_size=200).map(lambda x: x + "\n") | st.binary(max_size=300))
@settings(max_examples=300, deadline=None)
def test_no_bytes_make_the_reader_fail(source: str | bytes) -> None:
    assert _report_or_refusal(source)


def test_an_entity_bomb_is_refused() -> None:
    bad = changed(PLAIN, "sheet1.xml", lambda x: x.replace(b"<worksheet", BOMB + b"<worksheet"))
    with pytest.raises(ReadingError, match="declares entities"):
        read_recipe(bad)
    with pytest.raises(ReadingError, match="declares entities"):
        read_recipe(ods("", BOMB.decode()))


def test_a_packed_bomb_is_refused_while_it_is_counted() -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as target:
        target.writestr("xl/worksheets/sheet1.xml", bytes(40 << 20))
    with pytest.raises(ReadingError, match="unpacks to far more than its size"):
        read_recipe(stream.getvalue())


def test_too_many_parts_are_refused() -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as target:
        for i in range(10_001):
            target.writestr(f"part{i}", "")
    with pytest.raises(ReadingError, match="10001 parts inside"):
        read_recipe(stream.getvalue())


def test_a_sheet_that_claims_to_be_endless_is_read_by_its_cells() -> None:
    claimed = changed(
        PLAIN, "sheet1.xml", lambda x: x.replace(b'ref="A1:B3"', b'ref="A1:XFD1048576"')
    )
    assert [x.name for x in read_recipe(claimed).recipes[0].lines] == ["Aqua", "Glycerin"]


def test_a_cell_far_away_is_not_followed_but_told() -> None:
    far = b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData>'
    report = read_recipe(changed(PLAIN, "sheet1.xml", lambda x: x.replace(b"</sheetData>", far)))
    assert [x.code for x in report.questions] == ["too_large"]
    assert report.formula({"file": "go on"}, name="Gel").total == 100


def test_merged_cells_over_the_whole_sheet_are_refused() -> None:
    merged = b'</sheetData><mergeCells count="1"><mergeCell ref="A1:XFD1048576"/></mergeCells>'
    with pytest.raises(ReadingError, match="merged cells cover the whole sheet"):
        read_recipe(changed(PLAIN, "sheet1.xml", lambda x: x.replace(b"</sheetData>", merged)))


def test_a_million_repeats_are_cut_short_and_told() -> None:
    body = f'<table:table table:name="S">{row(words("Ingredient"), words("%"))}' + row(
        words("Aqua"), number("1", "1"), attributes='table:number-rows-repeated="1000000"'
    )
    report = read_recipe(ods(body + "</table:table>"))
    assert "too_large" in [x.code for x in report.questions]
    assert len(report.rows) == 2000


def test_links_to_other_files_are_not_followed() -> None:
    rows = [["Ingredient", "%"], ["Aqua", "=[1]Other!A1"], ["Salt", "=cmd|'/C calc'!A0"]]
    report = read_recipe(xlsx(rows))
    assert [x.code for x in report.questions] == ["amount_not_calculated"] * 2


@pytest.mark.parametrize(
    ("data", "words_"),
    [
        (PLAIN[:-200], "damaged"),
        (PLAIN[: len(PLAIN) * 7 // 10], "damaged"),
        (pickle.dumps({"a": 1}, 4), "pickle"),
        (b"%PDF-1.7", "PDF"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "old xls"),
    ],
)
def test_files_of_another_kind_are_refused(data: bytes, words_: str) -> None:
    with pytest.raises(ReadingError, match=words_):
        read_recipe(data)


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match=r"gone\.csv: there is no file of that name here"):
        read_recipe(tmp_path / "gone.csv")
    with pytest.raises(ReadingError, match="there is no file"):
        read_recipe("gone.csv")
    with pytest.raises(ReadingError, match="cannot be opened"):
        read_recipe(tmp_path)


def test_a_file_of_another_size_is_refused() -> None:
    with pytest.raises(ReadingError, match="20,000,001 bytes"):
        read_recipe(bytes(20_000_001))


def test_a_sheet_that_is_not_there_is_refused_with_the_names() -> None:
    with pytest.raises(ReadingError, match="no sheet 'x'. One of: recipe"):
        read_recipe(PLAIN, sheet="x")


@pytest.mark.parametrize(
    "text",
    [" " * 200_000 + "1", "1 to " * 20_000, "a " * 50_000 + "\n", '"' * 100_001, "|-" * 50_000,
     "Ingredient,%\nAqua," + "1 000 " * 20_000, "Aqua " + "1" * 100_000, "Aqua 1\n" * 20_000],
)  # fmt: skip
def test_long_texts_are_read_without_running_away(text: str) -> None:
    assert read_recipe(text + "\n").rows


@pytest.mark.parametrize("text", ["NUL\x00 in text", "\ud800", "Aqua\u202ex"])
def test_signs_that_cannot_be_seen_are_shown(text: str) -> None:
    report = read_recipe(f"Ingredient;%\n{text};97\nSalt;3\n")
    assert "⟨U+" in report.recipes[0].lines[0].name
    assert "hidden_signs" in [x.code for x in report.questions]


def test_one_name_in_two_forms_is_one_material() -> None:
    report = read_recipe("Ingredient;%\nCr\u00e8me base;50\nCre\u0300me base;50\n")
    assert [x.code for x in report.questions] == ["duplicate_in_phase"]
