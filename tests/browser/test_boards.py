"""The trend board and the recording slip in real JupyterLab."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.browser.lab import Lab, open_notebook, run_code, write_notebook

pytestmark = pytest.mark.browser

SETUP = '''
import labkit as lk
from labkit.widgets import measuring, watch
bench = lk.Bench.open("boards.db")
gel = lk.Formula.parse("""phase,material,percent
A,Aqua,q.s.
A,Glycerin,4
A,Xanthan Gum,0.5""", name="Gel")
first = bench.record(gel, label="G-1", note="the first")
second = bench.record(gel.move("Xanthan Gum", "0.8 %"), parent=first, label="G-2")
for trial, value in ((first, "4 Pa*s"), (second, "9 Pa*s")):
    reading = bench.measure(trial, "viscosity", value, temperature="25 °C")
'''


@pytest.fixture(scope="module")
def page(browser: Any, lab: Lab) -> Iterator[Any]:
    opened = browser.new_page(viewport={"width": 1280, "height": 900})
    opened.set_default_timeout(12_000)
    opened.problems = []
    opened.on("pageerror", lambda error: opened.problems.append(str(error)))
    write_notebook(lab.root / "boards.ipynb", [SETUP, "measuring(bench, 'G-2')", "watch(bench)"])
    open_notebook(opened, lab, "boards.ipynb")
    opened.locator(".lk-chart-point").first.wait_for()
    yield opened
    assert opened.problems == []
    opened.close()


def test_a_reading_written_on_the_slip_appears_in_the_chart(page: Any) -> None:
    before = page.locator(".lk-chart-point").count()
    page.get_by_label("quantity").first.select_option("viscosity")
    page.get_by_label("value").fill("12 Pa*s")
    page.get_by_label("temperature").fill("20 °C")
    page.get_by_role("button", name="Record").click()
    page.locator(".lk-saved", has_text="viscosity 12 Pa*s on G-2 (20 °C)").wait_for()
    page.wait_for_function(
        "n => document.querySelectorAll('.lk-chart-point').length === n + 1", arg=before
    )
    told = run_code(page, "print(len(lk.Bench.open('boards.db').readings('viscosity')))")
    assert told.strip() == "3"


def test_a_value_without_a_unit_is_refused_and_stays_in_the_box(page: Any) -> None:
    page.get_by_label("value").fill("12000")
    page.get_by_label("value").press("Enter")
    page.locator(".lk-refusal", has_text="no unit").wait_for()
    assert page.get_by_label("value").input_value() == "12000"


def test_a_pressed_trial_opens_its_card_and_can_be_tuned_from(page: Any) -> None:
    point = page.locator(".lk-chart-point").first
    point.focus()
    page.keyboard.press("Enter")
    card = page.locator(".lk-card")
    card.wait_for()
    assert "the first" in card.inner_text()
    card.get_by_role("button", name="Tune from here").click()
    sheet = page.locator(".lk-sheet:not(.lk-board)")
    sheet.locator(".lk-total", has_text="100.00").wait_for()
    assert "from G-1" in sheet.inner_text()


def test_nothing_serious_on_the_boards_for_a_screen_reader(page: Any) -> None:
    from axe_playwright_python.sync_playwright import Axe

    told = Axe().run(page, context=".lk-board").response["violations"]
    assert [v["id"] for v in told if v["impact"] in {"serious", "critical"}] == []
