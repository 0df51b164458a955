"""A formula that is written and read again is the same formula."""

from __future__ import annotations

import csv
import io
import json
import tempfile
import zipfile
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.errors import FormulaError, ReadingError
from labkit.formula import Formula, Line, Phase
from labkit.formula.grid import percent_of
from labkit.reading import (
    formula_text,
    plain_file_name,
    read_recipe,
    write_csv,
    write_markdown,
    write_xlsx,
)
from labkit.reading.cells import neutralise, restore

HOSTILE = Path(__file__).parents[1] / "reference" / "hostile_inputs.json"
WRITERS = [write_csv, write_xlsx, write_markdown]


def _hostile(prefix: str) -> list[str]:
    items = json.loads(HOSTILE.read_text(encoding="utf-8"))["items"]
    return [x["give"]["text"] for x in items if x["id"].startswith(prefix) and "text" in x["give"]]


names = st.text(st.characters(exclude_categories=["C", "Z"]), min_size=1, max_size=12).filter(
    lambda x: bool(x.strip())
)
texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)


@st.composite
def formulas(draw: st.DrawFn) -> Formula:
    """Any formula: odd names, notes with line ends, bounds, locks, titles, steps."""
    count = draw(st.integers(1, 6))
    cuts = sorted(draw(st.lists(st.integers(0, 1_000_000), min_size=count - 1, max_size=count - 1)))
    units = [b - a for a, b in zip([0, *cuts], [*cuts, 1_000_000], strict=True)]
    keys = draw(st.lists(names, min_size=1, max_size=3))
    lines = []
    for n in units:
        low = draw(st.none() | st.integers(0, n))
        high = draw(st.none() | st.integers(n, 1_000_000))
        lines.append(
            Line(
                phase=draw(st.sampled_from(keys)),
                material=draw(names),
                percent=percent_of(n),
                locked=draw(st.booleans()),
                low=None if low is None else percent_of(low),
                high=None if high is None else percent_of(high),
                note=draw(texts),
            )
        )
    free = [i for i, x in enumerate(lines) if not x.locked]
    qs = draw(st.none() | st.sampled_from(free)) if free else None
    steps = st.lists(texts.filter(bool), max_size=2).map(tuple)
    phases = tuple(Phase(key=k, title=draw(texts), steps=draw(steps)) for k in dict.fromkeys(keys))
    return Formula(draw(names), tuple(lines), phases, qs)


@pytest.mark.parametrize("write", WRITERS)
@given(formula=formulas())
@settings(max_examples=60, deadline=None)
def test_what_is_written_is_read_back_to_the_last_digit(write, formula: Formula) -> None:  # type: ignore[no-untyped-def]
    with tempfile.TemporaryDirectory() as folder:
        path = write(formula, Path(folder))
        assert read_recipe(path).formula() == formula
        assert Formula.read(path) == formula
        assert [x.name for x in Path(folder).iterdir()] == [path.name]


@pytest.mark.parametrize("write", WRITERS)
@pytest.mark.parametrize("text", [*_hostile("csv-"), *_hostile("html-"), "＝1+1", "'x", "''=x"])
def test_hostile_words_come_back_unchanged(write, text: str, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    line = Line(phase="A", material="Aqua", percent=Decimal(60), note=text)
    other = Line(phase="A", material=" ".join(text.split()), percent=Decimal(40))
    formula = Formula("Gel", (line, other), (Phase(key="A", title=text),), 0)
    assert Formula.read(write(formula, tmp_path)) == formula


def test_no_cell_of_a_csv_begins_with_a_sign_that_a_spreadsheet_runs(tmp_path: Path) -> None:
    for text in _hostile("csv-"):
        line = Line(phase="A", material=" ".join(text.split()), percent=Decimal(100), note=text)
        path = write_csv(Formula("Gel", (line,)), tmp_path)
        rows = list(csv.reader(io.StringIO(path.read_text("utf-8-sig"), newline="")))
        assert not [x for row in rows for x in row if x[:1] in tuple("=+-@\t\r\n＝＋－＠")]


def test_cells_of_a_workbook_are_typed_as_text(tmp_path: Path) -> None:
    (text,) = _hostile("csv-11")
    line = Line(phase="A", material=text, percent=Decimal(100), note="=1+1")
    path = write_xlsx(Formula("Gel", (line,)), tmp_path)
    kinds = {c.data_type for row in openpyxl.load_workbook(path).worksheets[0] for c in row}
    assert kinds <= {"s", "n"}
    assert b"<f>" not in zipfile.ZipFile(path).read("xl/worksheets/sheet1.xml")


def test_numbers_stay_numbers() -> None:
    assert neutralise("=1") == "'=1"
    assert restore(neutralise("'quoted'")) == "'quoted'"
    assert restore("'Breakwater'") == "'Breakwater'"


@given(texts)
def test_neutralising_is_undone_exactly(text: str) -> None:
    assert restore(neutralise(text)) == text


def test_a_formula_as_text_is_read_back() -> None:
    gel = Formula.parse("phase,material,percent\nA,Aqua,q.s.\nB,Glycerin,4", name="Gel")
    assert Formula.parse(formula_text(gel), name="Gel") == gel
    assert read_recipe(formula_text(gel)).formula(name="Gel") == gel


@pytest.mark.parametrize(
    ("name", "expected"),
    [("../../etc/x", "etc-x.csv"), ("C:\\a|b?", "C-a-b.csv"), ("con", "recipe-con.csv"),
     ("...", "recipe.csv"), ("Crème\u202e 7", "Crème-7.csv")],
)  # fmt: skip
def test_file_names_are_made_plain(name: str, expected: str) -> None:
    assert plain_file_name(name, ".csv") == expected


def test_a_title_never_leaves_the_folder(tmp_path: Path) -> None:
    formula = Formula("../../etc/x", (Line(phase="A", material="Aqua", percent=Decimal(100)),))
    path = write_csv(formula, tmp_path)
    assert path.parent == tmp_path


def test_a_file_that_cannot_be_written_leaves_the_old_one_whole(tmp_path: Path) -> None:
    gel = Formula.parse("phase,material,percent\nA,Aqua,100")
    path = tmp_path / "gel.csv"
    path.write_text("older")
    bad = Formula("Gel", (Line(phase="A", material="Aqua", percent=Decimal(100), note="\ud800"),))
    with pytest.raises(ReadingError, match="an older file of that name is unchanged"):
        write_csv(bad, path)
    assert path.read_text() == "older"
    with pytest.raises(ReadingError, match="could not be written"):
        write_csv(gel, tmp_path / "missing" / "gel.csv")
    assert [x.name for x in tmp_path.iterdir()] == ["gel.csv"]


def test_a_written_file_changed_by_hand_is_read_with_its_questions(tmp_path: Path) -> None:
    gel = Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,4")
    path = write_csv(gel, tmp_path / "gel.csv")
    path.write_text(path.read_text("utf-8-sig").replace("q.s.", "90"))
    report = read_recipe(path)
    assert [x.code for x in report.questions] == ["total_not_100"]
    with pytest.raises(FormulaError, match=r"6\.0000 are missing"):
        Formula.read(path)
