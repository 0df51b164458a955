"""The newcomer's ten minutes: the start notebook, run and used by hand."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from labkit.bench import Bench
from tests.browser.lab import Lab, open_notebook
from tests.browser.sheet_page import SheetPage

pytestmark = pytest.mark.browser

START = Path(__file__).parents[2] / "notebooks" / "00-start-here.ipynb"


@pytest.fixture(scope="module")
def sheet(browser: Any, lab: Lab) -> Iterator[SheetPage]:
    shutil.copyfile(START, lab.root / START.name)
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.set_default_timeout(15_000)
    open_notebook(page, lab, START.name)
    page.wait_for_selector(".lk-sheet", timeout=30_000)
    opened = SheetPage(page)
    opened.settle()
    yield opened
    page.close()


def test_a_slider_moves_another_line_and_the_total_reads_100(sheet: SheetPage) -> None:
    before = sheet.shown("Aqua")
    sheet.drag("Glycerin", 40)
    assert sheet.total() == "100.00"
    assert sheet.shown("Aqua") != before
    assert sum(map(float, sheet.shares().values())) == pytest.approx(100, abs=1e-9)


def test_a_share_is_typed_and_a_line_is_locked(sheet: SheetPage) -> None:
    sheet.type("Cetearyl Alcohol", "3,25")
    assert sheet.shares()["Cetearyl Alcohol"] == "3.2500"
    sheet.row("Glycerin").locator(".lk-lock").click()
    sheet.settle()
    assert sheet.python("sheet.formula.lines[sheet.formula.find('Glycerin')].locked") is True


def test_a_recorded_trial_is_in_the_file(sheet: SheetPage, lab: Lab) -> None:
    sheet.root.get_by_label("Note for the trial").fill("by hand")
    sheet.root.get_by_label("Label of the trial").fill("HC-4")
    sheet.root.get_by_role("button", name="Record as trial").click()
    sheet.root.get_by_text("recorded as HC-4").wait_for()
    with Bench.open(lab.root / "start-here.db") as bench:
        recorded = bench.trial("HC-4")
        assert recorded.note == "by hand"
        assert recorded.formula.total == 100
        assert len(bench.trials()) == 4
