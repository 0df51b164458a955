"""The button that neutralises: one step, undone in one step, refused in words."""

from __future__ import annotations

import pytest

import labkit as lk
from labkit.materials import Materials
from labkit.widgets import MixingSheet, tune

GEL = """phase,material,percent
A,Aqua,q.s.
A,Carbomer,0.4
A,Glycerin,3
B,Phenoxyethanol,0.9
"""


@pytest.fixture
def mats() -> Materials:
    return Materials.starter()


def press(sheet: MixingSheet, name: str) -> None:
    line = sheet.state.ids[sheet.formula.find(name)]
    sheet._hear(None, {"do": "neutralise", "id": line, "client": "c", "seq": 1}, None)


def test_a_gel_is_brought_to_its_window_in_one_step(mats: Materials) -> None:
    brief = lk.Brief(product="gel", ph=(5.8, 6.2))
    sheet = tune(lk.Formula.parse(GEL, name="Gel"), mats, brief=brief)
    before = sheet.formula
    press(sheet, "Carbomer")
    assert sheet.formula.total == 100
    assert any("hydroxide" in x.material for x in sheet.formula.lines)
    assert sheet.forecast is not None
    assert sheet.forecast.ph.value == pytest.approx(6.0, abs=0.1)
    assert "check by titration" in sheet.state.undo_words
    assert "eye and hand protection" in sheet.state.undo_words
    assert sheet.undo() == before


def test_a_base_that_is_there_already_is_used(mats: Materials) -> None:
    formula = lk.Formula.parse(GEL + "C,Arginine,0.1\n", name="Gel")
    sheet = tune(formula, mats)
    press(sheet, "Carbomer")
    arginine = sheet.formula.lines[sheet.formula.find("Arginine")].percent
    assert arginine > formula.lines[formula.find("Arginine")].percent
    assert len(sheet.formula.lines) == len(formula.lines)


def test_the_button_is_offered_only_where_it_does_something(mats: Materials) -> None:
    sheet = tune(lk.Formula.parse(GEL, name="Gel"), mats)
    offered = sheet._page()["neutralise"]
    assert offered == [sheet.state.ids[sheet.formula.find("Carbomer")]]


def test_a_line_that_cannot_be_neutralised_is_refused_and_nothing_changes(mats: Materials) -> None:
    toner = lk.Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,3", name="Toner")
    sheet = tune(toner, mats)
    press(sheet, "Glycerin")
    assert sheet.formula == toner
    assert sheet.state.refusal is not None
