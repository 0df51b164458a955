"""A sheet at 200 %, in a windowed notebook, and in a notebook that is opened again."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest

from tests.browser.lab import Lab, open_notebook, write_notebook
from tests.browser.sheet_page import SheetPage

pytestmark = pytest.mark.browser

OPEN = """import labkit as lk
from labkit.widgets import asking_why
gel = lk.Formula.parse('phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,4\\n'
                       'A,Xanthan Gum,0.5', name='Paper gel')
sheet = lk.tune(gel)
sheet"""
FULL = """() => {
  const book = jupyterapp.shell.currentWidget.content;
  book.notebookConfig = { ...book.notebookConfig, windowingMode: 'full' };
  return book.notebookConfig.windowingMode; }"""
GO = """n => {
  const book = jupyterapp.shell.currentWidget.content;
  book.activeCellIndex = n;
  return book.scrollToItem(n, 'start'); }"""
KEEP_STATE = """() => jupyterapp.commands.execute(
  '@jupyter-widgets/jupyterlab-manager:saveWidgetState')"""
"""Switches the saving of widget state on, or off again."""
SAVED = "() => !jupyterapp.shell.currentWidget.context.model.dirty"


def fresh(browser: Any, **context: Any) -> Any:
    opened = browser.new_page(**context)
    opened.set_default_timeout(12_000)
    return opened


@pytest.fixture(scope="module")
def zoomed(browser: Any, lab: Lab) -> Iterator[Any]:
    """1280 screen pixels at 200 %: 640 CSS pixels, two device pixels each."""
    opened = fresh(browser, viewport={"width": 640, "height": 450}, device_scale_factor=2)
    write_notebook(lab.root / "zoomed.ipynb", [OPEN, "asking_why(gel)"])
    open_notebook(opened, lab, "zoomed.ipynb")
    SheetPage(opened).settle()
    yield opened
    opened.close()


def test_at_200_percent_nothing_is_cut_off_and_every_control_works(zoomed: Any) -> None:
    sheet = SheetPage(zoomed)
    assert zoomed.evaluate("[devicePixelRatio, innerWidth]") == [2, 640]
    boards = zoomed.locator(".lk-sheet")
    over = boards.evaluate_all("all => all.map(e => e.scrollWidth - e.clientWidth)")
    assert over == [0, 0]
    sheet.drag("Glycerin", 30)
    assert sheet.shares()["Glycerin"] != "4.0000"
    assert sheet.total() == "100.00"
    sheet.type("Xanthan Gum", "0.7")
    assert sheet.shown("Xanthan Gum") == "0.70"
    menu = sheet.menu("Glycerin")
    box = menu.bounding_box()
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 640
    zoomed.keyboard.press("Escape")


def test_a_sheet_survives_being_scrolled_out_of_a_windowed_notebook(browser: Any, lab: Lab) -> None:
    page = fresh(browser, viewport={"width": 1280, "height": 700})
    tall = "from IPython.display import HTML; HTML('<div style=height:400px>x</div>')"
    write_notebook(lab.root / "windowed.ipynb", [OPEN, *[tall] * 14])
    open_notebook(page, lab, "windowed.ipynb")
    sheet = SheetPage(page)
    sheet.settle()
    sheet.type("Glycerin", "5.5")
    assert page.evaluate(FULL) == "full"
    for _ in range(2):
        page.evaluate(GO, 14)
        page.locator(".lk-sheet").wait_for(state="hidden")
        page.evaluate(GO, 0)
        sheet.root.wait_for()
        assert sheet.shown("Glycerin") == "5.50"
    sheet.type("Glycerin", "6.5")
    assert sheet.shares()["Glycerin"] == "6.5000"
    sheet.drag("Glycerin", -40)
    assert float(sheet.shares()["Glycerin"]) < 6.5
    assert sheet.shown("Glycerin") == f"{float(sheet.shares()['Glycerin']):.2f}"
    page.close()


BOARDS = """
import labkit as lk
bench = lk.Bench.open("pictures.db")
gel = lk.Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,5", name="Gel")
trial = bench.record(gel, label=f"G-{len(bench.trials()) + 1}")
slip = lk.measuring(bench, trial)
written = slip.save(trial.label, "pH", "5.31", temperature="25 °C")
board = lk.weigh(bench, trial, "100 g")
"""
HANDS = "board.batch.weigh(1, '5.03'); board._hear(None, {'do': 'look'}, [])"


def test_boards_opened_again_without_a_kernel_show_what_they_held(browser: Any, lab: Lab) -> None:
    page = fresh(browser, viewport={"width": 1280, "height": 900})
    cells = [BOARDS, "slip", "board", "lk.watch(bench, 'pH')", HANDS]
    write_notebook(lab.root / "pictures.ipynb", cells)
    open_notebook(page, lab, "pictures.ipynb")
    page.locator(".lk-board").nth(2).wait_for()
    assert page.locator(".lk-aside:visible").count() == 0
    page.evaluate("() => jupyterapp.commands.execute('docmanager:save')")
    page.wait_for_function(SAVED)
    page.evaluate("() => jupyterapp.shell.currentWidget.sessionContext.shutdown()")
    page.close()

    again = fresh(browser, viewport={"width": 1280, "height": 900})
    open_notebook(again, lab, "pictures.ipynb", run=False)
    again.locator(".lk-aside").nth(2).wait_for()
    told = again.locator(".lk-aside").all_inner_texts()
    assert "pH 5.31 on G-1 (25 °C)" in told[0]
    assert "5.03 of 100.00 g in" in told[1]
    assert again.locator(".lk-aside svg").count() == 1
    again.close()


@pytest.mark.parametrize("with_state", [True, False])
def test_a_notebook_opened_again_shows_its_sheet_as_it_was_saved(
    browser: Any, lab: Lab, with_state: bool
) -> None:
    name = f"again-{with_state}.ipynb"
    page = fresh(browser, viewport={"width": 1280, "height": 900})
    write_notebook(lab.root / name, [OPEN])
    open_notebook(page, lab, name)
    sheet = SheetPage(page)
    sheet.settle()
    sheet.type("Glycerin", "5.5")
    page.wait_for_function(
        "() => document.querySelector('.lk-aside')?.textContent.includes('5.50')"
    )
    if with_state:
        page.evaluate(KEEP_STATE)
    page.evaluate("() => jupyterapp.commands.execute('docmanager:save')")
    page.wait_for_function(SAVED)
    if with_state:
        page.evaluate(KEEP_STATE)
    page.evaluate("() => jupyterapp.shell.currentWidget.sessionContext.shutdown()")
    page.close()
    saved = json.loads((lab.root / name).read_text())
    assert ("widgets" in saved["metadata"]) is with_state

    again = fresh(browser, viewport={"width": 1280, "height": 900})
    open_notebook(again, lab, name, run=False)
    if with_state:
        sheet = SheetPage(again)
        sheet.root.get_by_text("not connected: run the cell again").wait_for()
        assert sheet.shown("Glycerin") == "5.50"
        assert sheet.total() == "100.00"
        assert sheet.slider("Glycerin").is_disabled()
        assert again.locator(".lk-aside").is_hidden()
    else:
        again.locator(".lk-aside").wait_for()
        assert "5.50" in again.locator(".lk-aside").inner_text()
        assert again.locator(".lk-sheet").count() == 0
    again.close()
