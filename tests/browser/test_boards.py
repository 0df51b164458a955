"""The boards in real JupyterLab: trend, recording slip, proposals, why it split."""

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


PLANNING = """
import labkit as lk
from labkit.widgets import asking_why, proposing
mats = lk.Materials.starter()
plan_bench = lk.Bench.open("planning.db")
gel = lk.Formula.parse('phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,4\\nA,Xanthan Gum,0.5',
                       name="Gel")
last = None
for n, (share, value) in enumerate((("0.3", 2), ("0.5", 4.5), ("0.8", 9.6), ("0.6", 6)), 1):
    last = plan_bench.record(gel.move("Xanthan Gum", share), parent=last, label=f"P-{n}")
    reading = plan_bench.measure(last, "viscosity", f"{value} Pa*s", temperature="25 °C")
brief = lk.Brief(product="gel", leave_on=True, viscosity=("7 Pa*s", "9 Pa*s"))
board = proposing(plan_bench, brief, mats, n=2)
"""
GUM_NOW = """print(next(f'{x.percent:.2f}' for x in board.sheet.formula.lines
           if 'Xanthan' in x.material))"""
WHY = """
wash = lk.Formula.parse('phase,material,percent\\nA,Aqua,q.s.\\nA,Sodium Laureth Sulfate,20\\n'
                        'A,Cetrimonium Chloride,3\\nA,Phenoxyethanol,0.9', name="Wash")
split = asking_why(plan_bench.record(wash, label="W-1"), mats, plan_bench)
split
"""


@pytest.fixture(scope="module")
def planning(browser: Any, lab: Lab) -> Iterator[Any]:
    opened = browser.new_page(viewport={"width": 1280, "height": 900})
    opened.set_default_timeout(12_000)
    opened.problems = []
    opened.on("pageerror", lambda error: opened.problems.append(str(error)))
    write_notebook(lab.root / "planning.ipynb", [PLANNING, "board", WHY])
    open_notebook(opened, lab, "planning.ipynb")
    opened.locator(".lk-proposal").first.wait_for()
    yield opened
    assert opened.problems == []
    opened.close()


def test_a_pressed_proposal_opens_on_the_mixing_sheet(planning: Any) -> None:
    cards = planning.locator(".lk-proposal")
    assert "all windows" in cards.first.inner_text()
    assert "teaches most" in cards.last.inner_text()
    bar = cards.first.locator(".lk-chance i").last.evaluate(
        "e => e.getBoundingClientRect().width / e.parentElement.clientWidth"
    )
    told = float(run_code(planning, "print(board.proposals[0].chance)"))
    assert bar == pytest.approx(told, abs=0.02)
    cards.first.get_by_role("button").click()
    sheet = planning.locator(".lk-sheet:not(.lk-board)")
    sheet.locator(".lk-total", has_text="100.00").wait_for()
    planning.get_by_text("Proposal 1 is on the mixing sheet below.").wait_for()
    gum = sheet.locator('.lk-row[aria-label^="Xanthan Gum, phase"] .lk-box').input_value()
    assert gum == run_code(planning, GUM_NOW).strip()
    focused = planning.evaluate("document.activeElement.getAttribute('aria-label')")
    assert focused == "Open proposal 1 on the mixing sheet"


def test_the_tried_span_is_drawn_and_leaving_it_is_said(planning: Any) -> None:
    row = planning.locator('.lk-row[aria-label^="Xanthan Gum, phase"]')
    assert row.locator(".lk-tried").bounding_box()["width"] > 3
    row.locator(".lk-box").fill("1.6")
    row.locator(".lk-box").press("Enter")
    planning.locator('[data-read="tried"]', has_text="outside").wait_for()
    said = row.locator(".lk-slider").get_attribute("aria-valuetext")
    assert said.endswith("outside what you have tried, 0.30 to 0.80 %")


def test_proposing_again_by_key(planning: Any) -> None:
    button = planning.get_by_role("button", name="Propose again")
    button.focus()
    planning.keyboard.press("Enter")
    planning.wait_for_function("() => !document.querySelector('.lk-proposal.lk-chosen')")
    assert button.evaluate("e => e === document.activeElement")


def test_answers_move_the_suspects_and_the_note_is_in_the_file(planning: Any) -> None:
    board = planning.get_by_role("group", name="It split, why?")
    board.get_by_label("curds").check()
    board.get_by_label("at once", exact=True).check()
    first = board.locator(".lk-suspects ol > li").first
    first.get_by_text("Opposite charges").wait_for()
    board.locator(".lk-suspects", has_text="(likely)").wait_for()
    assert "Next trial:" in first.inner_text()
    box = board.get_by_label("water phase when combined, °C")
    box.fill("300")
    box.press("Enter")
    board.get_by_role("alert").filter(has_text="0 to 100").wait_for()
    assert box.input_value() == "300"
    box.fill("75")
    board.get_by_label("oil phase when combined, °C").fill("50")
    board.get_by_label("oil phase when combined, °C").press("Enter")
    board.get_by_role("button", name="Note this on W-1").click()
    board.get_by_text("noted on W-1").wait_for()
    noted = run_code(planning, "print(plan_bench.records('note')[-1].body['text'])")
    assert "curds" in noted
    assert "50" in noted


def test_an_answer_is_changed_by_arrow_keys_and_keeps_the_focus(planning: Any) -> None:
    board = planning.get_by_role("group", name="It split, why?")
    board.get_by_label("spreads", exact=True).check()
    planning.wait_for_function("() => document.activeElement?.dataset.at === 'drop|spreads'")
    planning.keyboard.press("ArrowDown")
    planning.wait_for_function("() => document.activeElement?.dataset.at === 'drop|beads'")
    assert "'beads'" in answers_after(planning, "beads")


def answers_after(page: Any, word: str, looks: int = 100) -> str:
    """What Python has been told, as soon as it holds a word."""
    told = ""
    for _ in range(looks):
        told = run_code(page, "print(split._answers)")
        if word in told:
            break
        page.wait_for_timeout(50)
    return told


@pytest.mark.parametrize("theme", ["JupyterLab Dark", "JupyterLab Light"])
@pytest.mark.parametrize("which", ["page", "planning"])
def test_nothing_serious_on_the_boards_for_a_screen_reader(
    which: str, theme: str, request: pytest.FixtureRequest
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    opened = request.getfixturevalue(which)
    opened.evaluate(
        "t => jupyterapp.commands.execute('apputils:change-theme', { theme: t })", theme
    )
    light = str(theme.endswith("Light")).lower()
    opened.wait_for_function(f"() => document.body.dataset.jpThemeLight === '{light}'")
    told = Axe().run(opened, context=".lk-board").response["violations"]
    serious = [v for v in told if v["impact"] in {"serious", "critical"}]
    assert [(v["id"], v["nodes"][0]["html"][:120]) for v in serious] == []


@pytest.mark.parametrize("width", [640, 1280])
def test_the_boards_need_no_sideways_scrolling(planning: Any, width: int) -> None:
    planning.set_viewport_size({"width": width, "height": 800})
    planning.wait_for_function(f"() => window.innerWidth === {width}")
    over = planning.locator(".lk-board").evaluate_all(
        "all => all.map(e => e.scrollWidth - e.clientWidth)"
    )
    assert over == [0, 0]
