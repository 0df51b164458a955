"""The weigh sheet and the stickers: exact grams, marks, lots, and what a printer makes of them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.bench import Bench
from labkit.bench.demo import demo_formulas, record_demo
from labkit.errors import BriefError, FormulaError
from labkit.formula import Formula
from labkit.materials import Materials
from labkit.paperwork import Document, batch_record, stickers, weigh_sheet
from tests.formula.strategies import formulas

MATS = Materials.starter()
CREAM = demo_formulas()["HC-02"]


def csv_rows(sheet: Document) -> list[list[str]]:
    return [row.split(",") for row in sheet.csv.splitlines()[1:]]


@settings(max_examples=150, deadline=None)
@given(
    formulas(),
    st.sampled_from(["0.001", "0.01", "0.05", "0.1", "0.5", "1", "2"]),
    st.integers(1, 400_000),
)
def test_rounded_grams_sum_to_exactly_the_batch(formula: Formula, step: str, n: int) -> None:
    batch, digit = Decimal(step) * n, Decimal(step)
    grams = formula.grams(f"{batch} g", f"{step} g")
    assert sum(grams) == batch
    for line, mass in zip(formula.lines, grams, strict=True):
        assert mass % digit == 0
        assert abs(mass - line.percent * batch / 100) < digit


@settings(max_examples=25, deadline=None)
@given(formulas(bounded=False), st.integers(500, 90_000))
def test_the_sheet_prints_those_grams(formula: Formula, n: int) -> None:
    batch = Decimal(n) / 10
    sheet = weigh_sheet(formula, f"{batch} g", balance="0.1 g", mats=MATS)
    rows = csv_rows(sheet)
    assert sum(Decimal(row[3]) for row in rows) == batch
    assert [row[1] for row in rows] == [x.material for x in formula.lines]


def test_lines_stand_phase_by_phase_with_their_steps() -> None:
    told = weigh_sheet(CREAM, "500 g", mats=MATS).text
    order = ["Phase A", "Disodium EDTA", "Heat to 75", "Phase B", "Sorbitan", "Phase C", "Phase D"]
    places = [told.index(word) for word in order]
    assert places == sorted(places)
    assert "Phase B · Oil phase · 105.00 g" in told


def test_small_weighings_are_marked_with_a_stock_that_keeps_the_water_right() -> None:
    told = " ".join(weigh_sheet(CREAM, "100 g", balance="0.01 g", mats=MATS).text.split())
    # 0.05 g on 0.01 g: one digit is a fifth of it; 1 g of a 5 % stock holds 0.05 g
    assert "Citric Acid: one digit is 20 % of it; or 1.00 g of a 5 % stock in water" in told
    assert "0.95 g less of that" in told
    assert "(!)" not in weigh_sheet(CREAM, "5 kg", balance="0.01 g", mats=MATS).text


def test_lots_are_printed_at_their_lines() -> None:
    sheet = weigh_sheet(CREAM, mats=MATS, lots={"glycerin": "G-17", "shea butter": "SB 3"})
    lots = {row[1]: row[4] for row in csv_rows(sheet)}
    assert lots["Glycerin"] == "G-17"
    assert lots["Butyrospermum Parkii Butter"] == "SB 3"
    with pytest.raises(BriefError, match="a lot of squalane"):
        weigh_sheet(CREAM, mats=MATS, lots={"squalane": "S-1"})


def test_a_batch_finer_than_the_balance_is_refused() -> None:
    with pytest.raises(FormulaError, match="whole number of balance steps"):
        weigh_sheet(CREAM, "100.005 g", balance="0.01 g", mats=MATS)


def test_cautions_and_stops_are_on_the_sheet() -> None:
    caustic = CREAM.add("Sodium hydroxide 10 % solution", "0.3", phase="D")
    told = " ".join(weigh_sheet(caustic, mats=MATS).text.split())
    assert "burns skin and eyes" in told
    assert "Not above" in told
    clash = CREAM.add("Behentrimonium Chloride", 2).add("Sodium Laureth Sulfate", 5)
    assert "STOP" in weigh_sheet(clash, mats=MATS).text
    strange = CREAM.swap("Tocopherol", "Neighbour's berry oil")
    assert "No cautions known of Neighbour" in weigh_sheet(strange, mats=MATS).text


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with Bench.open(tmp_path / "bench.db") as made:
        record_demo(made, product="Harbour")
        yield made


def test_a_stickers_code_finds_its_trial(bench: Bench) -> None:
    trial = bench.trial("HC-03")
    told = stickers(trial, conditions=("40 °C",), day=date(2026, 3, 2), mats=MATS).text
    assert "HC-03" in told
    assert "made 2026-03-02" in told
    assert "kept at 40 °C" in told
    assert "not for sale" in told
    code = re.search(r"· ([0-9a-f]{6})", told)
    assert code is not None
    assert bench.trial(code[1]).id == trial.id


def test_used_places_stay_empty_and_copies_are_counted(bench: Bench) -> None:
    sheet = stickers([bench.trial("HC-01")], copies=2, skip=4, mats=MATS)
    assert sheet.under.startswith("2 stickers")
    for copies, skip in ((0, 0), (1, -1)):
        with pytest.raises(BriefError, match="copies"):
            stickers(bench.trial("HC-01"), copies=copies, skip=skip, mats=MATS)


def printed(browser: Any, paper: Document, folder: Path) -> pypdf.PdfReader:
    page = browser.new_page()
    page.goto(paper.save(folder / "paper.html").as_uri())
    page.pdf(path=str(folder / "paper.pdf"), prefer_css_page_size=True, print_background=False)
    page.close()
    return pypdf.PdfReader(folder / "paper.pdf")


def letters(text: str) -> str:
    return re.sub(r"[\W_]+", "", text)


@pytest.mark.browser
@pytest.mark.parametrize(("paper", "width"), [("A4", 595), ("Letter", 612)])
@pytest.mark.parametrize("label", ["HC-02", "GS-03", "RC-02"])
def test_a_usual_formula_prints_on_one_page_with_every_line(
    browser: Any, tmp_path: Path, paper: str, width: int, label: str
) -> None:
    formula = demo_formulas()[label]
    made = printed(browser, weigh_sheet(formula, "500 g", mats=MATS, paper=paper), tmp_path)
    assert len(made.pages) == 1
    assert abs(float(made.pages[0].mediabox.width) - width) < 1
    told = letters(made.pages[0].extract_text())
    for line, grams in zip(formula.lines, formula.grams("500 g", "0.01 g"), strict=True):
        assert letters(line.material) in told
        assert letters(f"{grams:f}") in told
    for step in (step for phase in formula.phases for step in phase.steps):
        assert letters(step) in told


@pytest.mark.browser
def test_a_long_formula_loses_no_line_at_the_page_break(browser: Any, tmp_path: Path) -> None:
    rows = "\n".join(f"A,Plant water {n},1.25" for n in range(40))
    long = Formula.parse(f"phase,material,percent\nA,Aqua,q.s.\n{rows}")
    made = printed(browser, weigh_sheet(long, "1 kg", mats=MATS, paper="A4"), tmp_path)
    told = letters("".join(page.extract_text() for page in made.pages))
    assert len(made.pages) > 1
    for n in range(40):
        assert letters(f"Plant water {n} 1.25 12.50") in told


@pytest.mark.browser
def test_a_sheet_of_stickers_has_three_across_and_seven_down(
    browser: Any, bench: Bench, tmp_path: Path
) -> None:
    one, two = (stickers(bench.trial("HC-01"), copies=n, mats=MATS) for n in (21, 22))
    assert len(printed(browser, one, tmp_path).pages) == 1
    assert len(printed(browser, two, tmp_path).pages) == 2


@pytest.mark.browser
def test_a_telephone_shows_the_sheet_without_scrolling_sideways(
    browser: Any, tmp_path: Path
) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.goto(weigh_sheet(CREAM, "500 g", mats=MATS).save(tmp_path / "sheet.html").as_uri())
    root = "document.documentElement"
    assert page.evaluate(f"{root}.scrollWidth - {root}.clientWidth") <= 0
    page.screenshot(path=str(tmp_path / "sheet.png"), full_page=True)
    page.close()


def test_the_batch_record_holds_what_was_weighed_from_which_lot_and_the_log(bench: Bench) -> None:
    trial = bench.trial("HC-03")
    empty = " ".join(batch_record(trial, MATS, batch="200 g", bench=bench).text.split())
    batch = bench.start_batch(trial, "200 g")
    lot = bench.stock(MATS).receive("Glycerin", "1 kg", lot="G-17")
    batch.weigh("Glycerin", "10.07 g", lot=lot)
    batch.log("B in", temperature="72 °C")
    told = " ".join(batch_record(trial, MATS, bench=bench).text.split())
    assert "10.07" in told
    assert "G-17" in told
    assert "B in, 72 °C" in told
    assert "10.07" not in empty
    planned = " ".join(batch_record(trial, MATS, batch="500 g", bench=bench).text.split())
    assert "10.07" not in planned
