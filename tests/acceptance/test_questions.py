"""Questions of a picky practitioner, each answered yes; others stand beside their rooms.

Question 14 is answered in tests/paperwork/test_weigh_sheet.py, 16 in tests/bench/test_batches.py,
19 in tests/charts/test_over_trials.py, 20 in tests/estimates/test_forecast.py, 22 and 23 in
tests/estimates/test_declaration.py, 24 in tests/paperwork/test_papers.py.
"""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

import labkit as lk

HEADING = "phase,material,percent\n"
MATS = lk.Materials.starter()
CREAM = lk.Formula.parse(
    HEADING + "A,Aqua,q.s.\nA,Glycerin,5\nB,Squalane,8\nB,Cetearyl Alcohol,3\nB,Polysorbate 60,2\n"
    "C,Sodium Benzoate,0.4\nC,Citric Acid,0.1",
    name="Cream",
)


def test_question_01_the_total_refuses_a_hundredth_too_little_or_too_much() -> None:
    with pytest.raises(lk.LabkitError, match=r"add up to 99\.99 %, 0\.01 % short of 100 %"):
        lk.Formula.parse(HEADING + "A,Aqua,70\nA,Glycerin,29.99")
    with pytest.raises(lk.LabkitError, match=r"add up to 100\.01 %, 0\.01 % more than 100 %"):
        lk.Formula.parse(HEADING + "A,Aqua,70\nA,Glycerin,30.01")
    thirds = lk.Formula.parse(HEADING + "A,Aqua,33.3\nA,Glycerin,33.3\nA,Squalane,33.4")
    assert thirds.total == Decimal(100)
    assert [x.percent for x in thirds.lines] == [Decimal("33.3"), Decimal("33.3"), Decimal("33.4")]


def test_question_02_the_water_gives_way_by_default_and_another_line_on_request() -> None:
    more = CREAM.move("Squalane", "11 %")
    assert more.find("Aqua") == 0
    assert [str(d) for d in CREAM.compare(more).differences] == [
        "Aqua 81.50 → 78.50 %",
        "Squalane 8.00 → 11.00 %",
    ]
    chosen = CREAM.move("Squalane", "11 %", give=["Glycerin"])
    assert chosen.lines[1].percent == Decimal(2)
    assert chosen.lines[0].percent == CREAM.lines[0].percent
    assert chosen.total == more.total == Decimal(100)


def test_question_15_the_sheet_goes_in_making_order_with_tare_lot_and_boxes_to_tick() -> None:
    sheet = lk.paperwork.weigh_sheet(CREAM, "500 g", balance="0.01 g", mats=MATS)
    text, page = sheet.text, sheet.html.casefold()
    order = [text.index(word) for word in ("Phase A", "Glycerin", "Phase B", "Squalane", "Phase C")]
    assert order == sorted(order)
    for word in ("vessel empty, g", "weighed, g", "lot"):  # the vessel's empty mass is the tare
        assert word in page
    assert text.count("[ ]") >= len(CREAM.lines)
    grams = CREAM.grams("500 g", "0.01 g")
    assert all(f"{g:.2f}" in text for g in grams)


def test_question_17_a_trial_cannot_be_changed_only_added_to(tmp_path: Path) -> None:
    bench = lk.Bench.open(tmp_path / "b.db")
    trial = bench.record(CREAM, label="T7", note="first")
    with pytest.raises(AttributeError):
        trial.label = "T8"  # type: ignore[misc]
    with pytest.raises(lk.LabkitError, match="Label T7: another trial is called that already"):
        bench.record(CREAM.move("Squalane", "9 %"), label="T7")
    note = bench.note(trial, "smelled of wax on day 3")
    signed = [record.body["author"] for record in (note, *bench.records("trial"))]
    assert signed[0] == signed[1] != ""
    assert note.created
    assert note.about == (trial.id,)
    assert bench.trial("T7").id == trial.id
    assert bench.verify().ok


def test_question_18_two_trials_side_by_side_show_only_what_differs(tmp_path: Path) -> None:
    bench = lk.Bench.open(tmp_path / "b.db")
    four = bench.record(CREAM, label="T4")
    seven = bench.record(CREAM.move("Cetearyl Alcohol", "4 %"), parent=four, label="T7")
    for trial, value in ((four, "10 Pa*s"), (seven, "25 Pa*s")):
        bench.measure(trial, "viscosity", value, temperature="25 °C", spindle="6", speed="10 rpm")
    told = str(bench.compare("T4", "T7"))
    assert "Aqua 81.50 → 80.50 %; Cetearyl Alcohol 3.00 → 4.00 %" in told
    assert "Glycerin" not in told
    assert "10 Pa*s → 25 Pa*s (× 2.50)" in told


def test_question_21_blends_split_equal_parts_add_ties_hold_colours_last_one_percent() -> None:
    mats = MATS.add(name="Blend", composition="Glycerin 50 %; Aqua 30 %; Panthenol 20 %")
    made = lk.Formula.parse(
        HEADING + "A,Aqua,q.s.\nA,Blend,10\nA,Glycerin,2\nA,Iron oxide yellow,3\n"
        "B,Squalane,7\nB,Cetearyl Alcohol,1\nC,Sodium Benzoate,0.4"
    )
    names = {
        market: lk.estimates.declare(made, mats, market=market).text.split(", ")
        for market in ("EU", "US")
    }
    eu = names["EU"]
    assert eu[:4] == ["Aqua", "Glycerin", "Squalane", "Panthenol"]  # 5 + 2 ties with 7
    assert eu.index("Cetearyl Alcohol") == 4
    assert eu[-1] == "CI 77492"
    placed = {
        market: {x.name: x.block for x in lk.estimates.declare(made, mats, market=market).entries}[
            "Cetearyl Alcohol"
        ]
        for market in ("EU", "US")
    }
    assert placed == {"EU": "ordered", "US": "free"}


def test_question_25_a_pasted_sheet_loses_nothing() -> None:
    pasted = "Phase\tIngredient\t%\n\nA\tAqua\tq.s.\nA\tGlycérine\t5,0 %\n\n\tPhase B\t\n"
    pasted += "B\tSqualane\t8,25%\nB\tCetearyl Alcohol\t3\n\nTotal\t\t100 %\nstir slowly"
    report = lk.read_recipe(pasted)
    assert [(x.name, str(x.amount)) for x in report.recipes[0].lines[1:]] == [
        ("Glycérine", "5.0"), ("Squalane", "8.25"), ("Cetearyl Alcohol", "3"),
    ]  # fmt: skip
    assert report.formula().lines[0].percent == Decimal("83.75")
    written = {n for n, row in enumerate(pasted.splitlines(), 1) if row.strip()}
    assert written <= {x.row for x in report.rows}
