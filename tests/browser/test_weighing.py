"""The weighing board in real JupyterLab: typing, keys, the hold timer, and a dying kernel."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from labkit.bench import Bench
from tests.browser.lab import Lab, open_notebook, write_notebook

pytestmark = pytest.mark.browser

SETUP = '''
import labkit as lk
from labkit.widgets import weigh
bench = lk.Bench.open("weighing.db")
gel = lk.Formula.parse("""phase,material,percent
A,Aqua,q.s.
A,Glycerin,5
B,Parfum,0.4""", name="Gel")
trial = bench.record(gel, label="G-1")
weigh(bench, trial, "100 g", vessel="50 g")
'''


@pytest.fixture
def page(browser: Any, lab: Lab) -> Iterator[Any]:
    opened = browser.new_page(viewport={"width": 1200, "height": 900})
    opened.set_default_timeout(12_000)
    problems: list[str] = []
    opened.on("pageerror", lambda error: problems.append(str(error)))
    (lab.root / "weighing.db").unlink(missing_ok=True)
    write_notebook(lab.root / "weighing.ipynb", [SETUP])
    open_notebook(opened, lab, "weighing.ipynb")
    opened.locator(".lk-weigh").wait_for()
    yield opened
    opened.close()
    assert problems == []


def box(page: Any, name: str) -> Any:
    return page.get_by_label(f"{name}, grams on the balance")


def put(page: Any, name: str, grams: str) -> None:
    box(page, name).fill(grams)
    box(page, name).press("Enter")


def row(page: Any, name: str) -> Any:
    return page.locator(".lk-weigh tbody tr", has_text=name)


def test_a_batch_is_weighed_logged_and_survives_the_kernel(page: Any, lab: Lab) -> None:
    put(page, "Aqua", "94,60")
    page.locator(".lk-sum", has_text="94.60 of 100.00 g in").wait_for()
    page.wait_for_function("() => document.activeElement?.dataset.line === '1'")

    put(page, "Glycerin", "5.50")
    page.locator(".lk-over", has_text="Glycerin over by 0.50 g").wait_for()
    assert row(page, "Glycerin").get_attribute("data-state") == "over"
    page.get_by_role("button", name="Bring the rest up").click()
    page.locator(".lk-log li", has_text="the rest brought up: +9.46 g Aqua").wait_for()
    assert "104.06" in row(page, "Aqua").inner_text()

    page.get_by_label("°C").fill("72")
    page.locator(".lk-board").focus()
    page.keyboard.press("b")
    page.locator(".lk-log li", has_text="B in, 72 °C").wait_for()

    put(page, "Parfum", "a drop")
    page.locator(".lk-refusal", has_text="Not written down").wait_for()
    assert box(page, "Parfum").input_value() == "a drop"

    page.get_by_label("hold, min").fill("0.03")
    page.get_by_role("button", name="Start", exact=True).click()
    page.locator(".lk-log li", has_text="hold 0.03 min over").wait_for()
    assert page.locator(".lk-clock").inner_text() == "over"

    page.evaluate("() => jupyterapp.shell.currentWidget.sessionContext.session.kernel.shutdown()")
    with Bench.open(lab.root / "weighing.db") as bench:
        batch = bench.batches()[0]
        assert [str(x) for x in batch.weighed_g] == ["94.60", "5.50", "0"]
        assert [x.words for x in batch.log_lines][-2:] == [
            "hold 0.03 min begun",
            "hold 0.03 min over",
        ]
        assert bench.verify().ok


def test_the_board_fits_a_telephone(page: Any) -> None:
    page.set_viewport_size({"width": 430, "height": 900})
    put(page, "Glycerin", "5")
    page.wait_for_function("() => document.querySelector('.lk-weigh tr[data-state=in]') !== null")
    wide = page.evaluate(
        "() => (e => e.scrollWidth - e.clientWidth)(document.querySelector('.lk-board'))"
    )
    assert wide <= 1
